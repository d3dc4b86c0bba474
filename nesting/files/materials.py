"""A material's entry becomes domain data; whether its pattern can be laid as it is described is decided here."""

from __future__ import annotations

from fractions import Fraction

from nesting.domain.material import Material, Pattern, Sale, Turning
from nesting.domain.rules import INCH, MM
from nesting.files.faults import Faults
from nesting.files.job_entries import MaterialEntry
from nesting.files.patterns import pattern_of
from nesting.files.yaml_tree import Loc
from nesting.units import UnitError, format_length, parse_length

METRIC = ("mm", "cm", "m")


def material_of(entry: MaterialEntry, loc: Loc, faults: Faults, *, unit: str, ident: str) -> Material | None:
    """Return the material, or None with its faults noted."""
    before = len(faults.found)
    widths = _widths(entry, loc, faults)
    overlap, selvedge = entry.seam_overlap or 0, entry.selvedge or 0
    for width in widths:
        eaten = 2 * selvedge + overlap
        if eaten >= width:
            shown = (format_length(eaten, unit, with_unit=True), format_length(width, unit, with_unit=True))
            what = f"selvedge and seam overlap take {shown[0]} of a roll {shown[1]} wide"
            faults.add(loc, "roll-eaten", what, "check selvedge, seam overlap and width")
    if len(faults.found) > before:
        return None
    usable = tuple(width - 2 * selvedge - overlap for width in widths)
    pattern = pattern_of(entry, usable, loc, faults, unit)
    sale = _sale(entry, widths, loc, faults)
    across, along = _seam_lines(entry, pattern, loc, faults)
    starting = _starting_allowance(entry, loc, faults, unit)
    if entry.whole_rolls and entry.longest is None:
        faults.add(
            (*loc, "whole rolls"), "missing-key", "whole rolls need a length", "give `longest`: the length of a roll"
        )
    if len(faults.found) > before:
        return None
    if pattern and pattern.across_nm and not pattern.at_seam and overlap:
        for width, pitch in zip(widths, usable, strict=True):
            if (pitch + overlap) % pattern.across_nm == 0:
                text = (
                    f"{entry.name}, {format_length(width, unit, with_unit=True)} wide: the repeat across divides the "
                    "usable width exactly, so with a seam overlap every seam costs a whole repeat; does the width "
                    "include a printed overlap?"
                )
                faults.notice("overlap-costs-repeat", text)
    return Material(
        id=ident,
        name=entry.name,
        widths_nm=widths,
        longest_nm=entry.longest,
        sale=sale,
        selvedge_nm=selvedge,
        pattern=pattern,
        turning=Turning(entry.turning or Turning.NEVER),
        directed=True if entry.directed is None else entry.directed,
        in_sequence=bool(entry.in_sequence),
        seam_lines_across_nm=across,
        seam_lines_along_nm=along,
        seam_overlap_nm=overlap,
        cutting_step_nm=entry.cutting_step or (5 * MM if unit in METRIC else INCH // 4),
        weight_g_per_m2=entry.weight,
        squaring_nm=(50 * MM if unit in METRIC else 2 * INCH) if entry.squaring is None else entry.squaring,
        starting_allowance_nm=starting,
        repeat_tolerance=Fraction(1, 100) if entry.repeat_tolerance is None else entry.repeat_tolerance,
        orders_allowed=not entry.stock_only,
    )


def _widths(entry: MaterialEntry, loc: Loc, faults: Faults) -> tuple[int, ...]:
    """Return the made widths in the order given."""
    if (entry.width is None) == (entry.widths is None):
        what = "the roll width is missing" if entry.width is None else "the roll width is given twice"
        faults.add(
            loc, "missing-key" if entry.width is None else "given-twice", what, "give `width`, or a list `widths`"
        )
        return ()
    widths = tuple(entry.widths or ()) if entry.width is None else (entry.width,)
    if not widths:
        faults.add((*loc, "widths"), "missing-key", "at least one width is needed")
    if len(set(widths)) < len(widths):
        faults.add((*loc, "widths"), "given-twice", "a width stands twice", "leave one out")
    return widths


def _sale(entry: MaterialEntry, widths: tuple[int, ...], loc: Loc, faults: Faults) -> Sale:
    per_m: tuple[Fraction, ...] | None = None
    per_m2: Fraction | None = None
    if entry.price is not None and entry.prices is not None:
        faults.add(
            (*loc, "prices"), "given-twice", "the price is given twice", "give `price`, or `prices` for each width"
        )
    elif entry.prices is not None:
        lengths = [price.per_m for price in entry.prices]
        known = [price for price in lengths if price is not None]
        if len(known) < len(lengths) or len(lengths) != len(widths):
            what = "one for each width is needed" if len(lengths) != len(widths) else "they are not per length"
            hint = "one price per m, ft or yd for each width; a price per area is given as `price`"
            faults.add((*loc, "prices"), "bad-price", f"the prices do not fit: {what}", hint)
        per_m = tuple(known)
    elif entry.price is not None and entry.price.per_m is not None:
        per_m = (entry.price.per_m,)
        if len(widths) > 1:
            what = f"one price per length for {len(widths)} widths"
            faults.add((*loc, "price"), "bad-price", what, "give `prices`, one for each width, or a price per area")
    elif entry.price is not None:
        per_m2 = entry.price.per_m2
    if entry.longest is not None and entry.minimum_cut is not None and entry.minimum_cut > entry.longest:
        faults.add((*loc, "minimum cut"), "too-large", "the minimum cut is longer than the longest roll", "check both")
    return Sale(
        order_step_nm=entry.order_step or 1,
        minimum_cut_nm=entry.minimum_cut or 0,
        whole_rolls=bool(entry.whole_rolls),
        cut_charge=entry.cut_charge or 0,
        price_per_m=per_m,
        price_per_m2=per_m2,
        lot_limit_nm=entry.lot_limit,
    )


def _seam_lines(
    entry: MaterialEntry, pattern: Pattern | None, loc: Loc, faults: Faults
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the offsets of seam lines across and along, rising."""
    out = []
    across = pattern.across_nm if pattern else None
    along = pattern.along_nm if pattern else None
    for name, offsets, repeat in (
        ("seam lines across", entry.seam_lines_across, across),
        ("seam lines along", entry.seam_lines_along, along),
    ):
        if offsets and repeat is None:
            faults.add(
                (*loc, name), "no-repeat", "seam lines need a repeat that they lie in", "give the pattern's repeat"
            )
        elif repeat is not None and any(offset >= repeat for offset in offsets or ()):
            faults.add((*loc, name), "too-large", "a seam line lies beyond the repeat", "count from the pattern mark")
        out.append(tuple(sorted(set(offsets or ()))))
    return out[0], out[1]


def _starting_allowance(entry: MaterialEntry, loc: Loc, faults: Faults, unit: str) -> int | None:
    """Return the starting allowance: None for one repeat, 0 for none."""
    text = (entry.starting_allowance or "one repeat").strip().lower()
    if text in ("one repeat", "a repeat"):
        return None
    if text == "none":
        return 0
    try:
        value = parse_length(text, unit)
    except UnitError as error:
        faults.add((*loc, "starting allowance"), error.code, error.what, "write one repeat, none or a length")
        return None
    if value < 0:
        faults.add((*loc, "starting allowance"), "negative-size", f"{text!r} is negative", "write one repeat or none")
    return value
