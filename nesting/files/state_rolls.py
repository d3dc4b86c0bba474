"""A roll as it came, and flaws found on it, from their entries in a state file."""

from __future__ import annotations

from nesting.domain.geometry import Rect
from nesting.domain.material import Material
from nesting.domain.plan import CutSource
from nesting.domain.state import Delivered
from nesting.files.faults import Faults
from nesting.files.state_entries import DeliveredEntry, FlawPlace
from nesting.files.stock import first_mark
from nesting.files.yaml_tree import Loc
from nesting.units import format_length

PART_OFF = 4
"""A measured repeat is off by less than this part of the known one: else something else was measured."""


def roll_as_it_came(
    entry: DeliveredEntry, source: CutSource, material: Material, loc: Loc, faults: Faults, unit: str
) -> Delivered:
    """Return a roll as it came, what is wrong with it noted."""
    width, length = entry.width or source.width_nm, entry.length or source.length_nm
    usable = width - 2 * material.selvedge_nm - material.seam_overlap_nm
    if usable <= 0:
        faults.add((*loc, "width"), "roll-eaten", "selvedge and seam overlap take the whole width", "check the width")
    _check_repeats(entry, material, usable, loc, faults, unit)
    at = (*loc, "first mark")
    mark = first_mark(entry.first_mark, material, at, faults, unit)
    if mark is not None and (mark[0] > width or mark[1] > length):
        faults.add(at, "mark-outside", "the first mark does not lie on the roll", "measure to the first mark on it")
    flaws = (flaw_on(flaw, width, length, (*loc, "flaws", i), faults, unit) for i, flaw in enumerate(entry.flaws or ()))
    return Delivered(
        source_id=source.id,
        length_nm=entry.length,
        width_nm=entry.width,
        lot=entry.lot,
        lot_orderable=entry.more_of_this_lot is not False,
        first_mark_nm=mark,
        along_nm=entry.repeat_along,
        across_nm=entry.repeat_across,
        wound_other_way=bool(entry.wound_the_other_way),
        flaws=tuple(flaws),
        line=faults.line_at(loc),
    )


def flaw_on(entry: FlawPlace, width: int, length: int, loc: Loc, faults: Faults, unit: str) -> Rect:
    """Return where a flaw is on goods of that size, the fault noted if it is not on them."""
    left = entry.from_left or 0
    across, along = entry.size or (width, entry.length or 0)
    rect = Rect(left, entry.from_start, left + across, entry.from_start + along)
    if rect.x1_nm > width or rect.y1_nm > length:
        size = " x ".join(format_length(nm, unit, with_unit=True) for nm in (width, length))
        faults.add(loc, "flaw-outside", f"the flaw does not lie on the goods, {size}", "check place and size")
    return rect


def _check_repeats(entry: DeliveredEntry, material: Material, usable: int, loc: Loc, faults: Faults, unit: str) -> None:
    """See that the repeats as measured can be those of the material."""
    pattern = material.pattern
    along = None if pattern is None else pattern.along_nm
    across = None if pattern is None or pattern.at_seam else pattern.across_nm
    for way, measured, known in (("along", entry.repeat_along, along), ("across", entry.repeat_across, across)):
        at = (*loc, f"repeat {way}")
        if measured is None:
            continue
        if known is None:
            what = f"no repeat {way} of {material.name} is known that could have been measured"
            faults.add(at, "no-repeat", what, f"leave `repeat {way}` out, or change the job")
        elif PART_OFF * abs(measured - known) >= known:
            what = f"the repeat {way} is {format_length(known, unit, with_unit=True)} in the plan, which is far off"
            hint = "measure over as much as the plan counts as one repeat; for other goods change the job"
            faults.add(at, "repeat-differs", what, hint)
        elif way == "across" and measured > usable:
            shown = format_length(usable, unit, with_unit=True)
            what = f"the repeat across is wider than what a breadth covers, {shown}"
            faults.add(at, "repeat-too-wide", what, "check it, and the width")
