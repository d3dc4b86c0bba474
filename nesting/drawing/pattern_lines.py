"""The pattern's lattice on the goods and on the floor, as lines and marks to draw."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import floor

from nesting.domain.geometry import Point, Rect
from nesting.domain.material import Material

Segment = tuple[Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLattice:
    """The lattice that a drawing shows: marks at origin + m·(across, drop) + (0, n·along)."""

    origin: Point
    along_nm: int
    across_nm: int | None
    drop_nm: Fraction


def lattice_of(material: Material, made_width_nm: int, marks_at: Point) -> DrawnLattice | None:
    """Return the lattice of a material on goods of one width with a mark at `marks_at`; None: plain goods."""
    pattern = material.pattern
    if pattern is None:
        return None
    across = pattern.across_nm
    if pattern.at_seam:
        made = made_width_nm if made_width_nm in material.widths_nm else material.widths_nm[0]
        across = made - 2 * material.selvedge_nm - material.seam_overlap_nm
    return DrawnLattice(origin=marks_at, along_nm=pattern.along_nm, across_nm=across, drop_nm=pattern.drop_nm)


def thinning(repeat_nm: int, least_nm: float) -> int:
    """Return the fewest repeats, of a round number, that are at least `least_nm` long together."""
    return next((n for n in (1, 2, 5, 10, 20, 50, 100, 200, 500) if n * repeat_nm >= least_nm), 1000)


def repeat_lines(lattice: DrawnLattice, area: Rect, least_nm: float) -> tuple[list[Segment], int, int]:
    """Return the repeat lines across and along within `area`, and how many repeats apart (across, along) they are.

    Across the goods a line is drawn column by column, since a drop moves it on from one repeat to the next.
    """
    every_along = thinning(lattice.along_nm, least_nm)
    step = every_along * lattice.along_nm
    lines: list[Segment] = []
    if lattice.across_nm is None:
        lines = [((area.x0_nm, y), (area.x1_nm, y)) for y in _marks(lattice.origin[1], step, area.y0_nm, area.y1_nm)]
        return lines, 1, every_along
    every_across = thinning(lattice.across_nm, least_nm)
    column = every_across * lattice.across_nm
    first = (area.x0_nm - lattice.origin[0]) // column
    last = (area.x1_nm - 1 - lattice.origin[0]) // column
    for k in range(first, last + 1):
        left = lattice.origin[0] + k * column
        x0, x1 = max(left, area.x0_nm), min(left + column, area.x1_nm)
        if left > area.x0_nm:
            lines.append(((left, area.y0_nm), (left, area.y1_nm)))
        start = lattice.origin[1] + floor(k * every_across * lattice.drop_nm)
        lines += [((x0, y), (x1, y)) for y in _marks(start, step, area.y0_nm, area.y1_nm)]
    return lines, every_across, every_along


def _marks(origin: int, step: int, low: int, high: int) -> list[int]:
    """Return the places ≡ origin (mod step) strictly between `low` and `high`."""
    return list(range(low + (origin - low) % step or low + step, high, step))


def marks_within(lattice: DrawnLattice, area: Rect) -> list[Point]:
    """Return the pattern marks in `area`, lowest first, at most 2000; goods that do not vary across have none."""
    found: list[Point] = []
    if lattice.across_nm is None:
        return found
    first = -((lattice.origin[0] - area.x0_nm) // lattice.across_nm)
    for m in range(first, (area.x1_nm - lattice.origin[0]) // lattice.across_nm + 1):
        x = lattice.origin[0] + m * lattice.across_nm
        start = lattice.origin[1] + floor(m * lattice.drop_nm)
        low = area.y0_nm + (start - area.y0_nm) % lattice.along_nm
        found += [(x, y) for y in range(low, area.y1_nm + 1, lattice.along_nm)][: 2000 - len(found)]
    return sorted(found, key=lambda p: (p[1], p[0]))
