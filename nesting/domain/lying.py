"""How cuts and offcuts lie on their goods: sizes as they lie, repeats from cut to cut, the first pattern mark."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.domain.geometry import Point, bounding_rect
from nesting.domain.layout import Cut
from nesting.domain.material import Material, Pattern
from nesting.domain.plan import CutSource, MaterialPlan, Placement
from nesting.units import format_length


def placed_size(cut: Cut, placement: Placement) -> tuple[int, int]:
    """Return (across, along) of a cut as it lies on its source, nm."""
    box = bounding_rect(cut.rects)
    return (box.length_nm, box.width_nm) if placement.turn % 2 else (box.width_nm, box.length_nm)


def has_notches(cut: Cut) -> bool:
    """Tell whether the outline of a cut is not a rectangle."""
    return sum(rect.area_nm2 for rect in cut.rects) < bounding_rect(cut.rects).area_nm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """How a cut of patterned goods is found: `repeats` whole repeats and `rest_nm` on from another.

    `number`: of the cut from which is counted; None: from where the first mark is laid, the end of the start allowance.
    """

    number: int | None
    repeats: int
    rest_nm: int


def counted_repeats(part: MaterialPlan, material: Material) -> dict[str, Counted]:
    """Return for every cut of patterned goods how far along its source it lies from the one before.

    Real repeats run off, so a cut is found by counting repeats from the last one.
    """
    if material.pattern is None:
        return {}
    numbers = {cut.id: cut.number for cut in part.cuts}
    out: dict[str, Counted] = {}
    for source in part.sources:
        on_it = [spot for spot in part.placements if spot.source_id == source.id]
        at, number = source.start_allowance_nm, None
        for spot in sorted(on_it, key=lambda spot: (spot.y_nm, spot.x_nm, spot.cut_id)):
            count, rest = divmod(spot.y_nm - at, material.pattern.along_nm)
            out[spot.cut_id] = Counted(number=number, repeats=count, rest_nm=rest)
            at, number = spot.y_nm, numbers[spot.cut_id]
    return out


def reduced(pattern: Pattern, x: int, y: int) -> Point:
    """Return the phase (x, y) moved into the fundamental domain; x stays where the pitch depends on the width."""
    if pattern.across_nm is None:
        return 0, y % pattern.along_nm
    repeats = 0 if pattern.at_seam else x // pattern.across_nm
    whole_drop = repeats * pattern.drop_nm.numerator // pattern.drop_nm.denominator
    return x - repeats * pattern.across_nm, (y - whole_drop) % pattern.along_nm


def first_mark_nm(material: Material, source: CutSource, phase_nm: Point | None) -> Point | None:
    """Return where the first pattern mark lies on goods of phase σ, across and along; None without a known pattern."""
    pattern = material.pattern
    if pattern is None or phase_nm is None:
        return None
    pitch = source.width_nm - 2 * material.selvedge_nm - material.seam_overlap_nm
    fixed = replace(pattern, across_nm=pitch, at_seam=False) if pattern.at_seam else pattern
    return reduced(fixed, -phase_nm[0], -phase_nm[1])


def mark_text(material: Material, source: CutSource, phase_nm: Point | None, unit: str) -> str:
    """Return where the first pattern mark lies on goods of phase σ, as the job file takes it; "" without a pattern."""
    mark = first_mark_nm(material, source, phase_nm)
    if mark is None or material.pattern is None:
        return ""
    across, along = (format_length(nm, unit, with_unit=True) for nm in mark)
    return f"{along} along" if material.pattern.across_nm is None else f"{across} across, {along} along"
