"""Lists for the bench, the shop and the order, as CSV with a fixed list of columns each.

Lengths stand in millimetres (a tenth at the finest) and in feet and inches (1/16 at the coarsest), whatever the job's
unit: what is needed rounds up, what there is rounds down, positions to the nearest. A cell that a spreadsheet would
take for a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence

from nesting.domain.done import CutState
from nesting.domain.layout import Cut
from nesting.domain.lying import Counted, counted_repeats, has_notches, mark_text, placed_size
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, OffcutUse, Plan
from nesting.site.lifting import weight_of_cut_g
from nesting.units import Rounding, format_length, format_money, format_weight

CUT_COLUMNS = (
    "number",  # in cutting order
    "label",
    "owner",  # room, loose piece or strip
    "material",
    "source",
    "kind of source",
    "lot",
    "from start mm",  # from the physical start of the roll to the near end of the cut
    "from start ft in",
    "from left mm",  # from the left edge, face up, start towards you
    "from left ft in",
    "across mm",
    "across ft in",
    "along mm",
    "along ft in",
    "turned",  # degrees counter-clockwise
    "notched",  # yes: the outline is not a rectangle, see the map
    "from",  # patterned goods: where the whole repeats are counted from
    "repeats",
    "and mm",
    "and ft in",
    "weight kg",
    "weight lb",
    "state",
)
"""Columns of the cut list."""

CHANGE_COLUMN = "change"
"""Last column of the cut list of a plan made again: new, moved, or empty for what is as in the plan before."""

REMNANT_COLUMNS = (
    "id",
    "use",  # shop, or client: stays for repairs
    "material",
    "lot",
    "source",
    "across mm",
    "across ft in",
    "along mm",
    "along ft in",
    "from left mm",
    "from left ft in",
    "from start mm",
    "from start ft in",
    "first mark",  # as the job file takes it
)
"""Columns of the list of remnants."""

ORDER_COLUMNS = (
    "material",
    "width mm",
    "width ft in",
    "length mm",
    "length ft in",
    "lot",
    "cost",
    "currency",
    "allow for the repeat mm",
    "allow for the repeat ft in",
    "source",
)
"""Columns of the order."""

_SIGNS = "=＝﹦⁼₌+＋﹢⁺₊-－﹣⁻₋@＠﹫"  # in all widths: some spreadsheets read them alike
_FORMULA = re.compile(rf" *[{re.escape(_SIGNS)}']")
_FORMULA_WITHIN = re.compile(rf"([,;|][ '\"]*)(?=[{re.escape(_SIGNS)}])")
_NUMBER = re.compile(r"-?\d+(\.\d+)?", re.ASCII)


def cell(text: str) -> str:
    """Return `text` as a cell that no spreadsheet takes for a formula, on one line.

    A formula begins with =, +, - or @, behind spaces or not; signs that cannot be printed (tabs, line ends) become
    spaces first. An apostrophe in front keeps it from being one; a text that begins with an apostrophe gets another.
    Since nobody knows what the cells will be parted by when the file is opened, what would begin a formula behind a
    comma, semicolon or bar within the text gets one too. Numbers, negative ones too, stay as they are.

    The signs are those of the published advice on CSV injection (OWASP Foundation; CWE-1236), small and raised ones
    added.
    """
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    if _NUMBER.fullmatch(plain):
        return plain
    guarded = _FORMULA_WITHIN.sub(r"\1'", plain)
    return f"'{guarded}" if _FORMULA.match(plain) else guarded


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([cell(text) for text in row] for row in rows)
    return out.getvalue()


def _both(nm: int, rounding: Rounding = "nearest") -> tuple[str, str]:
    return format_length(nm, "mm", rounding=rounding), format_length(nm, "ft", rounding=rounding)


def _materials(plan: Plan) -> list[tuple[Material, MaterialPlan]]:
    by_id = {material.id: material for material in plan.job.materials}
    return [(by_id[part.material_id], part) for part in plan.materials]


def _owners(plan: Plan) -> dict[str, str]:
    job = plan.job
    names = {room.id: room.name for room in job.rooms}
    names.update({piece.id: piece.name for piece in job.loose})
    names.update({strip.id: strip.name for strip in job.strips})
    return names


def _source_name(source: CutSource) -> str:
    return source.stock_id or source.id


def cut_list_csv(plan: Plan, change: Mapping[str, str] | None = None) -> str:
    """Return the cut list: one line a cut, in cutting order, see `CUT_COLUMNS`.

    `change`: by cut id what `CHANGE_COLUMN` says; None: the list is without it.
    """
    owners = _owners(plan)
    rows: list[tuple[tuple[int, ...], list[str]]] = []
    # What is done keeps its number, so that the numbers of a plan made again are not its cutting order.
    done = any(cut.state != CutState.PLANNED for part in plan.materials for cut in part.cuts)
    for at, (material, part) in enumerate(_materials(plan)):
        sources = {source.id: source for source in part.sources}
        order = {source.id: number for number, source in enumerate(part.sources)}
        spots = {placement.cut_id: placement for placement in part.placements}
        steps = counted_repeats(part, material)
        for cut in part.cuts:
            spot = spots[cut.id]
            source = sources[spot.source_id]
            across, along = placed_size(cut, spot)
            row = [
                str(cut.number),
                cut.label,
                owners.get(cut.owner, cut.owner),
                material.name,
                _source_name(source),
                source.kind.value,
                source.lot,
                *_both(spot.y_nm),
                *_both(spot.x_nm),
                *_both(across, "up"),
                *_both(along, "up"),
                str(spot.turn * 90),
                "yes" if has_notches(cut) else "no",
                *_counted(steps.get(cut.id)),
                *_weights(cut, material),
                cut.state,
            ]
            row += [] if change is None else [change.get(cut.id, "")]
            place = (at, order[source.id], spot.y_nm, spot.x_nm) if done or change is not None else ()
            rows.append(((*place, cut.number), row))
    columns = CUT_COLUMNS if change is None else (*CUT_COLUMNS, CHANGE_COLUMN)
    return _csv(columns, [row for _, row in sorted(rows, key=lambda pair: pair[0])])


def _weights(cut: Cut, material: Material) -> tuple[str, str]:
    """Return the weight in kg and in lb, without their units; empty if it is not known."""
    grams = weight_of_cut_g(cut, material)
    if grams is None:
        return "", ""
    kilos, pounds = format_weight(grams, "mm"), format_weight(grams, "ft")
    return kilos.removesuffix(" kg"), pounds.removesuffix(" lb")


def _counted(counted: Counted | None) -> tuple[str, str, str, str]:
    """Return (from, whole repeats, rest, rest) of a cut of patterned goods."""
    if counted is None:
        return "", "", "", ""
    name = "start" if counted.number is None else f"cut {counted.number}"
    return (name, str(counted.repeats), *_both(counted.rest_nm))


def remnants_csv(plan: Plan) -> str:
    """Return what comes back to the shop and what stays with the client, see `REMNANT_COLUMNS`."""
    rows = []
    for material, part in _materials(plan):
        sources = {source.id: source for source in part.sources}
        for offcut in part.offcuts:
            source = sources[offcut.source_id]
            rows.append(
                [
                    offcut.id,
                    "client" if offcut.use is OffcutUse.CLIENT else "shop",
                    material.name,
                    offcut.lot,
                    _source_name(source),
                    *_both(offcut.rect.width_nm, "down"),
                    *_both(offcut.rect.length_nm, "down"),
                    *_both(offcut.rect.x0_nm),
                    *_both(offcut.rect.y0_nm),
                    mark_text(material, source, offcut.phase_nm, plan.job.unit.value),
                ]
            )
    return _csv(REMNANT_COLUMNS, rows)


def order_csv(plan: Plan) -> str:
    """Return what to order, see `ORDER_COLUMNS`; no lines as long as the plan is not by the rules."""
    rows = []
    for material, part in _materials(plan):
        for line in part.order if plan.by_the_rules else ():
            tolerance = line.repeat_tolerance_nm
            rows.append(
                [
                    material.name,
                    *_both(line.width_nm),
                    *_both(line.length_nm, "up"),
                    line.lot,
                    format_money(line.cost, "", plan.job.coin_per_unit),
                    plan.job.currency,
                    *(_both(tolerance, "up") if tolerance else ("", "")),
                    line.source_id,
                ]
            )
    return _csv(ORDER_COLUMNS, rows)
