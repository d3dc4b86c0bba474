"""Jobs side by side as a table and as data."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from typing import Any

from nesting.domain.front import seams_of
from nesting.domain.plan import Bound, ByHand, MaterialPlan
from nesting.domain.what_if import Tried, WhatIf
from nesting.files.names import slug, unique
from nesting.files.tables import cell
from nesting.units import Rounding, format_length, format_money

M2_NM2 = 10**18

WHAT_IF_COLUMNS = (
    "variant",
    "material",  # empty: all materials of the variant together, which is money only
    "width mm",  # goods of several widths: one after another with + between, lengths likewise
    "ordered mm",
    "ordered ft in",
    "ordered m2",
    "used mm",
    "used ft in",
    "waste m2",
    "seams",
    "cross seams",
    "relief cuts",
    "joins",
    "seam length mm",
    "seam length ft in",
    "cuts",
    "cost",
    "currency",
    "bound m2",  # no plan by the rules orders less
    "within %",  # no plan is better by more at the first level of the goal
    "proved",
    "offcuts",
    "offcuts m2",
    "by hand mm",
    "by hand ft in",
    "by hand m2",
    "by hand seams",
    "by hand cost",
    "roll more m2",  # than the first variant
    "roll more mm",
    "roll more ft in",
    "cost more",
    "folder",
    "no plan",  # why there is none by the rules
)
"""Columns of the comparison."""

_FOLDER = re.compile(r"\d+-[a-z0-9-]+")

Folders = Mapping[str, str]
"""By the name of a variant, the folder in which its plan is written."""


def variant_folders(found: WhatIf) -> dict[str, str]:
    """Return a folder's name for every variant with something to write, in their order."""
    folders: dict[str, str] = {}
    for number, one in enumerate(found.tried):
        name = unique(f"{number + 1}-{slug(one.variant.name, 'variant')}", folders.values())
        if one.outcome.plan is not None:
            folders[one.variant.name] = name
    return folders


def folders_named(text: str) -> tuple[str, ...]:
    """Return the folders that a table names; what is no table of variants names none."""
    try:
        rows = list(csv.DictReader(io.StringIO(text)))
    except csv.Error:
        return ()
    names = dict.fromkeys(row.get("folder") or "" for row in rows)
    return tuple(name for name in names if _FOLDER.fullmatch(name))


def waste_nm2(part: MaterialPlan) -> int:
    """Return what is wasted, the start of rolls included."""
    return part.account.waste_nm2 + part.account.start_nm2


def gap_of(bound: Bound) -> float:
    """Return by what share of the plan a better one could be better, by the bound."""
    return (bound.attained - bound.value) / max(1, bound.attained)


def roll_bound_nm2(part: MaterialPlan) -> int:
    """Return what no plan by the rules orders less than."""
    return next(bound.value for bound in part.bounds if bound.level == "roll")


def what_if_csv(found: WhatIf, folders: Folders) -> str:
    """Return a row for every variant and material, see `WHAT_IF_COLUMNS`; `folders`: those that are written."""
    out = io.StringIO()
    writer = csv.DictWriter(out, WHAT_IF_COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    for one in found.tried:
        for row in _rows(found, one):
            row |= {"variant": one.variant.name, "folder": folders.get(one.variant.name, "")}
            writer.writerow({name: cell(text) for name, text in row.items()})
    return out.getvalue()


def _rows(found: WhatIf, one: Tried) -> list[dict[str, str]]:
    """Return the rows of one variant: its materials, and all of them together where they are several."""
    job = one.variant.job
    reasons = "; ".join(f"{refusal.owner}: {refusal.text}" for refusal in one.outcome.refusals)
    rows = []
    for ident in (ident for ident in found.materials if one.uses(ident)):
        part = one.part(ident)
        name = next(material.name for material in job.materials if material.id == ident)
        cells = {"no plan": reasons or "none was found"} if part is None else _cells(found, one, part)
        rows.append({"material": name} | cells)
    if len(rows) > 1 and one.cost is not None:
        rows.append(_money(found, one, one.cost, None))
    return rows


def _money(found: WhatIf, one: Tried, cost: int, material_id: str | None) -> dict[str, str]:
    job = one.variant.job
    more = found.cost_more(one, material_id)
    return {
        "cost": format_money(cost, "", job.coin_per_unit),
        "currency": job.currency,
        "cost more": "" if more is None else format_money(more, "", job.coin_per_unit),
    }


def _cells(found: WhatIf, one: Tried, part: MaterialPlan) -> dict[str, str]:
    measures, hand, bound = part.measures, part.by_hand, part.bounds[0]
    ordered = [(width, length) for width, length in measures.ordered_nm if length]
    used = dict(measures.used_nm)
    cells = {
        "width mm": _joined([format_length(width, "mm") for width, _ in ordered]),
        **_both("ordered", [length for _, length in ordered], "up"),
        "ordered m2": _m2(measures.roll_nm2),
        **_both("used", [used.get(width, 0) for width, _ in ordered], "up"),
        "waste m2": _m2(waste_nm2(part)),
        "seams": str(measures.seams),
        "cross seams": str(measures.cross_seams),
        "relief cuts": str(measures.relief_cuts),
        "joins": str(measures.joins),
        **_both("seam length", [measures.seam_length_nm]),
        "cuts": str(measures.cuts),
        "bound m2": _m2(roll_bound_nm2(part)),
        "within %": f"{100 * gap_of(bound):.1f}",
        "proved": "yes" if bound.proved else "no",
        "offcuts": str(len(part.offcuts)),
        "offcuts m2": _m2(measures.leftover_nm2),
        **_money(found, one, measures.total_cost, part.material_id),
    }
    if hand is not None:
        cells |= {
            **_both("by hand", [length for _, length in hand.ordered_nm if length], "up"),
            "by hand m2": _m2(_hand_nm2(hand)),
            "by hand seams": str(hand.seams),
            "by hand cost": format_money(hand.cost, "", one.variant.job.coin_per_unit),
        }
    more = found.roll_more(one, part.material_id)
    if more is not None:
        cells["roll more m2"] = _m2(more.roll_nm2)
        cells |= {} if more.length_nm is None else _both("roll more", [more.length_nm])
    return cells


def _hand_nm2(hand: ByHand) -> int:
    return sum(width * length for width, length in hand.ordered_nm)


def _both(name: str, lengths: list[int], rounding: Rounding = "nearest") -> dict[str, str]:
    return {
        f"{name} {words}": _joined([format_length(nm, unit, rounding=rounding) for nm in lengths])
        for unit, words in (("mm", "mm"), ("ft", "ft in"))
    }


def _joined(texts: list[str]) -> str:
    return " + ".join(texts) or "0"


def _m2(nm2: int) -> str:
    hundredths = (abs(nm2) * 100 + M2_NM2 // 2) // M2_NM2
    return f"{'-' if nm2 < 0 and hundredths else ''}{hundredths // 100}.{hundredths % 100:02d}"


def what_if_data(found: WhatIf, folders: Folders) -> dict[str, Any]:
    """Return the comparison as plain data: lengths in nm, areas in nm², money in the smallest coin."""
    return {
        "seed": found.seed,
        "effort": found.effort,
        "variants": [_variant_data(found, one, folders.get(one.variant.name)) for one in found.tried],
    }


def _variant_data(found: WhatIf, one: Tried, folder: str | None) -> dict[str, Any]:
    return {
        "name": one.variant.name,
        "job": one.variant.job.name,
        "by_the_rules": one.plan is not None,
        "refusals": [
            {"owner": item.owner, "rule": item.rule.value, "text": item.text, "by_nm": item.by_nm, "line": item.line}
            for item in one.outcome.refusals
        ],
        "materials": [] if one.plan is None else [_part_data(found, one, part) for part in one.plan.materials],
        "total_cost": one.cost,
        "cost_more": found.cost_more(one),
        "folder": folder,
    }


def _part_data(found: WhatIf, one: Tried, part: MaterialPlan) -> dict[str, Any]:
    measures, bound, hand = part.measures, part.bounds[0], part.by_hand
    more = found.roll_more(one, part.material_id)
    return {
        "material": part.material_id,
        "ordered": _lengths_data(measures.ordered_nm),
        "used": _lengths_data(measures.used_nm),
        "roll_nm2": measures.roll_nm2,
        "waste_nm2": waste_nm2(part),
        "seams_in_all": seams_of(part),
        "seams": measures.seams,
        "cross_seams": measures.cross_seams,
        "relief_cuts": measures.relief_cuts,
        "joins": measures.joins,
        "seam_length_nm": measures.seam_length_nm,
        "cuts": measures.cuts,
        "cost": measures.total_cost,
        "bound": {
            "level": bound.level,
            "bound": bound.value,
            "attained": bound.attained,
            "proved": bound.proved,
            "roll_nm2": roll_bound_nm2(part),
        },
        "offcuts": {"count": len(part.offcuts), "area_nm2": measures.leftover_nm2},
        "by_hand": None
        if hand is None
        else {
            "ordered": _lengths_data(hand.ordered_nm),
            "roll_nm2": _hand_nm2(hand),
            "seams": hand.seams,
            "cost": hand.cost,
        },
        "more": None
        if more is None
        else {
            "roll_nm2": more.roll_nm2,
            "length_nm": more.length_nm,
            "cost": found.cost_more(one, part.material_id),
        },
        "stop": part.stop,
    }


def _lengths_data(lengths: tuple[tuple[int, int], ...]) -> list[dict[str, int]]:
    return [{"width_nm": width, "length_nm": length} for width, length in lengths if length]
