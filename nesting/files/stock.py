"""A roll or remnant in hand, from its entry."""

from __future__ import annotations

import re

from nesting.domain.geometry import Point, Rect
from nesting.domain.lying import reduced
from nesting.domain.material import Material, StockKind, StockPiece
from nesting.files.faults import Faults
from nesting.files.job_entries import StockEntry
from nesting.files.yaml_tree import Loc
from nesting.units import UnitError, parse_length

_MARK = re.compile(r"(?P<x>.+?)\s+across\s*,?\s*(?:and\s+)?(?P<y>.+?)\s+along")


def stock_of(entry: StockEntry, material: Material, loc: Loc, faults: Faults, *, unit: str) -> StockPiece | None:
    """Return the piece in hand, or None with its faults noted."""
    before = len(faults.found)

    flaws = []
    for i, flaw in enumerate(entry.flaws or ()):
        rect = Rect(flaw.from_left, flaw.from_start, flaw.from_left + flaw.size[0], flaw.from_start + flaw.size[1])
        if rect.x1_nm > entry.width or rect.y1_nm > entry.length:
            faults.add((*loc, "flaws", i), "flaw-outside", "the flaw does not lie on the piece", "check place and size")
        flaws.append(rect)
    if 2 * material.selvedge_nm >= entry.width:
        faults.add((*loc, "width"), "roll-eaten", "the selvedge takes the whole width", "check the width")
    if entry.lot_orderable and entry.lot is None:
        faults.add((*loc, "lot orderable"), "missing-key", "a lot to order needs a name", "give `lot`")
    phase = _phase(entry, material, (*loc, "first mark"), faults, unit)
    if len(faults.found) > before:
        return None
    return StockPiece(
        id=entry.id,
        material_id=material.id,
        kind=StockKind(entry.kind or StockKind.REMNANT),
        width_nm=entry.width,
        length_nm=entry.length,
        lot=entry.lot,
        lot_orderable=bool(entry.lot_orderable),
        flaws=tuple(flaws),
        phase_nm=phase,
        book_value=entry.value or 0,
        place=entry.place or "",
    )


def _phase(entry: StockEntry, material: Material, loc: Loc, faults: Faults, unit: str) -> Point | None:
    """Return σ at the piece's origin, reduced: the lattice point next to it lies at the first mark."""
    mark = first_mark(entry.first_mark, material, loc, faults, unit)
    return None if mark is None or material.pattern is None else reduced(material.pattern, -mark[0], -mark[1])


def first_mark(words: str | None, material: Material, loc: Loc, faults: Faults, unit: str) -> Point | None:
    """Return where the first pattern mark lies, across and along; None: unknown, or with its fault noted."""
    text = (words or "unknown").strip().lower()
    if text == "unknown":
        return None
    pattern = material.pattern
    if pattern is None:
        faults.add(loc, "no-repeat", f"{material.name} has no pattern to mark", "leave `first mark` out")
        return None
    found = _MARK.fullmatch(text)
    alone = re.fullmatch(r"(?P<y>.+?)\s+along", text)
    which = found or alone
    if which is None or (not found and pattern.across_nm is not None):
        faults.add(loc, "bad-mark", f"{text!r} is no pattern mark", "write 12 cm across, 30 cm along, or unknown")
        return None
    try:
        x = parse_length(found["x"], unit) if found else 0
        y = parse_length(which["y"], unit)
    except UnitError as error:
        faults.add_unit_error(loc, error)
        return None
    if x < 0 or y < 0:
        faults.add(loc, "negative-size", "a pattern mark lies on the piece", "measure to the first mark on it")
        return None
    return x, y
