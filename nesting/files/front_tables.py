"""The trade-off of seams against roll as a table and as data."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from nesting.domain.front import Front, FrontRow, TradeOff, one_seam_less, one_width
from nesting.domain.plan import ByHand
from nesting.files.names import slug, unique
from nesting.files.tables import cell
from nesting.units import Rounding, format_length, format_money, half_up

M2_NM2 = 10**18

FRONT_COLUMNS = (
    "material",
    "seams in all",  # seams, cross seams, relief cuts and joins
    "seams",
    "cross seams",
    "relief cuts",
    "joins",
    "ordered mm",  # the lengths stay empty where goods are made in several widths: metres of these are not added
    "ordered ft in",
    "ordered m2",
    "used mm",
    "used ft in",
    "waste m2",
    "seam length mm",
    "seam length ft in",
    "cuts",
    "cost",
    "currency",
    "bound mm",  # no plan with at most so many seams orders less
    "bound ft in",
    "bound m2",
    "proved",  # yes: ordered is the least possible with so many seams
    "one seam less mm",  # what each seam costs that the row above has less
    "one seam less ft in",
    "one seam less m2",
    "one seam less cost",
    "folder",
)
"""Columns of the trade-off."""

Folders = Mapping[tuple[str, int], str]
"""By material and seams, the folder in which a row's plan is written."""


def folders_of(trade_off: TradeOff) -> dict[tuple[str, int], str]:
    """Return a folder's name for every row; with several materials they are told apart."""
    several = len(trade_off.fronts) > 1
    found: dict[tuple[str, int], str] = {}
    for place, front in enumerate(trade_off.fronts):
        before = f"{plain_name(trade_off, place)}-" if several else ""
        found |= {(front.material_id, row.seams): f"{before}seams-{row.seams}" for row in front.rows}
    return found


def plain_name(trade_off: TradeOff, place: int) -> str:
    """Return a name for a front's material that any file system takes and that no other front has."""
    taken: list[str] = []
    for front in trade_off.fronts[: place + 1]:
        taken.append(unique(slug(front.material_id, "material"), taken))
    return taken[place]


def front_csv(trade_off: TradeOff, folders: Folders) -> str:
    """Return the rows of all fronts, see `FRONT_COLUMNS`; `folders`: those that are written."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(FRONT_COLUMNS)
    for front in trade_off.fronts:
        above: FrontRow | None = None
        for row in front.rows:
            cells = _cells(trade_off, front, row, above, folders.get((front.material_id, row.seams), ""))
            writer.writerow([cell(text) for text in cells])
            above = row
    return out.getvalue()


def _cells(trade_off: TradeOff, front: Front, row: FrontRow, above: FrontRow | None, folder: str) -> list[str]:
    job, measures, account = trade_off.job, row.part.measures, row.part.account
    width = one_width(job, front.material_id)
    used = sum(length for _, length in measures.used_nm)
    less = ["", "", "", ""]
    if above is not None:
        step = one_seam_less(row, above)
        less = [*_both(_along(step.roll_nm2, width)), _m2(step.roll_nm2)]
        less.append(format_money(half_up(step.cost), "", job.coin_per_unit))
    return [
        next(material.name for material in job.materials if material.id == front.material_id),
        str(row.seams),
        str(measures.seams),
        str(measures.cross_seams),
        str(measures.relief_cuts),
        str(measures.joins),
        *_both(_along(row.roll_nm2, width), "up"),
        _m2(row.roll_nm2),
        *_both(None if width is None else used, "up"),
        _m2(account.waste_nm2 + account.start_nm2),
        *_both(measures.seam_length_nm),
        str(measures.cuts),
        format_money(measures.total_cost, "", job.coin_per_unit),
        job.currency,
        *_both(_along(row.bound.value, width), "down"),
        _m2(row.bound.value),
        "yes" if row.bound.proved else "no",
        *less,
        folder,
    ]


def _along(nm2: Fraction | int, width_nm: int | None) -> int | None:
    """Return an area of roll as a length of the one width made; None where several are."""
    return None if width_nm is None else half_up(Fraction(nm2) / width_nm)


def _both(nm: int | None, rounding: Rounding = "nearest") -> tuple[str, str]:
    if nm is None:
        return "", ""
    return format_length(nm, "mm", rounding=rounding), format_length(nm, "ft", rounding=rounding)


def _m2(nm2: Fraction | int) -> str:
    hundredths = half_up(Fraction(nm2) * 100 / M2_NM2)
    sign, size = ("-", -hundredths) if hundredths < 0 else ("", hundredths)
    return f"{sign}{size // 100}.{size % 100:02d}"


def front_json(trade_off: TradeOff, folders: Folders) -> str:
    """Return the fronts as JSON text."""
    return json.dumps(front_data(trade_off, folders), indent=2, ensure_ascii=False) + "\n"


def front_data(trade_off: TradeOff, folders: Folders) -> dict[str, Any]:
    """Return the fronts as plain data: lengths in nm, areas in nm², money in the smallest coin."""
    return {
        "job": trade_off.job.name,
        "seed": trade_off.seed,
        "effort": trade_off.effort,
        "refusals": [
            {"owner": item.owner, "rule": item.rule.value, "text": item.text, "by_nm": item.by_nm, "line": item.line}
            for item in trade_off.refusals
        ],
        "materials": [_front_data(front, folders) for front in trade_off.fronts],
    }


def _front_data(front: Front, folders: Folders) -> dict[str, Any]:
    pairs = zip(front.rows, (None, *front.rows), strict=False)
    return {
        "material": front.material_id,
        "rows": [_row_data(row, above, folders.get((front.material_id, row.seams))) for row, above in pairs],
        "at_most": [
            {"seams": item.seams, "known": item.known.value, "bound_nm2": item.bound_nm2} for item in front.known
        ],
        "fewest_seams": {"bound": front.fewest_seams, "proved": front.has_proved_fewest},
        "least_roll": {
            "bound_nm2": front.least_roll.value,
            "proved": front.least_roll.proved,
            "cut": front.least_roll.cut,
        },
        "by_hand": None if front.by_hand is None else _hand_data(front.by_hand),
        "stopped": front.stopped,
    }


def _row_data(row: FrontRow, above: FrontRow | None, folder: str | None) -> dict[str, Any]:
    measures, account, less = row.part.measures, row.part.account, None
    if above is not None:
        step = one_seam_less(row, above)
        less = {"roll_nm2": half_up(step.roll_nm2), "cost": half_up(step.cost)}
    return {
        "seams_in_all": row.seams,
        "seams": measures.seams,
        "cross_seams": measures.cross_seams,
        "relief_cuts": measures.relief_cuts,
        "joins": measures.joins,
        "ordered": [{"width_nm": width, "length_nm": length} for width, length in measures.ordered_nm if length],
        "used": [{"width_nm": width, "length_nm": length} for width, length in measures.used_nm if length],
        "roll_nm2": row.roll_nm2,
        "waste_nm2": account.waste_nm2 + account.start_nm2,
        "seam_length_nm": measures.seam_length_nm,
        "cuts": measures.cuts,
        "cost": measures.total_cost,
        "bound": {"roll_nm2": row.bound.value, "proved": row.bound.proved, "cut": row.bound.cut},
        "one_seam_less": less,
        "stop": row.part.stop,
        "folder": folder,
    }


def _hand_data(hand: ByHand) -> dict[str, Any]:
    return {
        "ordered": [{"width_nm": width, "length_nm": length} for width, length in hand.ordered_nm if length],
        "roll_nm2": sum(width * length for width, length in hand.ordered_nm),
        "seams": hand.seams,
        "cost": hand.cost,
    }
