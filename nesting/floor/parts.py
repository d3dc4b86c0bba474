"""The connected parts of the floor between two lines across and two along, with their boundaries."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, pi
from typing import NamedTuple

from nesting.domain.layout import AllowanceKind
from nesting.floor.breadths import Slab, level_at
from nesting.floor.outlines import Exact, LayFloor, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A connected part of the floor: its boundary rings (floor on the left) and its floor's bounding rectangle."""

    rings: tuple[tuple[Side, ...], ...]
    u0: Exact
    v0: Exact
    u1: Exact
    v1: Exact

    @property
    def sides(self) -> tuple[Side, ...]:
        """Return the sides of all rings."""
        return tuple(side for ring in self.rings for side in ring)


class _Cell(NamedTuple):
    """A trapezoid of a part: levels, the u of its sides at either level, and the sides."""

    v0: Exact
    v1: Exact
    l0: Exact
    l1: Exact
    r0: Exact
    r1: Exact
    left: Side
    right: Side


Levels = dict[Exact, tuple[Side, ...]]
"""The sides of the floor that run straight across the lay, by their level."""


def levels_of(floor: LayFloor) -> Levels:
    """Return the sides of the floor that run straight across the lay, by their level."""
    levels: dict[Exact, list[Side]] = {}
    for side in floor.sides:
        if side.av == side.bv:
            levels.setdefault(side.av, []).append(side)
    return {level: tuple(sides) for level, sides in levels.items()}


def parts_between(
    slabs: tuple[Slab, ...],
    levels: Levels,
    across: tuple[int | None, int | None],
    along: tuple[int | None, int | None],
    seam_nm: int,
) -> tuple[Part, ...]:
    """Return the connected parts of the floor between two lines across and two along (None: no line).

    Parts come in rising order of their lowest, then leftmost point. Seams and cross seams become sides of depth
    `seam_nm` with edge −1.
    """
    low, high = (
        None if at is None else Side(at, 0, at, 0, kind, -1, seam_nm, seam_nm)
        for at, kind in zip(across, (AllowanceKind.SEAM_LEFT, AllowanceKind.SEAM_RIGHT), strict=True)
    )
    cells: list[_Cell] = []
    for slab in slabs:
        v0 = slab.v0 if along[0] is None else max(slab.v0, along[0])
        v1 = slab.v1 if along[1] is None else min(slab.v1, along[1])
        if v0 < v1:
            cells += _clipped(slab, v0, v1, low, high)
    parts = [_part(chosen, levels, seam_nm) for chosen in _connected(cells)]
    return tuple(sorted(parts, key=lambda part: (part.v0, part.u0)))


def _clipped(slab: Slab, v0: Exact, v1: Exact, low: Side | None, high: Side | None) -> list[_Cell]:
    """Return what lies of a slab between two levels and two lines."""
    breaks = {v0, v1}
    for line in (low, high):
        if line is not None:
            for side in (slab.left, slab.right):
                if side.au != side.bu:
                    v = level_at(side, line.au)
                    if v0 < v < v1:
                        breaks.add(v)
    levels = sorted(breaks)
    cells = []
    for b0, b1 in pairwise(levels):
        left, l0, l1 = slab.left, slab.left.at(b0), slab.left.at(b1)
        right, r0, r1 = slab.right, slab.right.at(b0), slab.right.at(b1)
        if low is not None:
            if l0 + l1 < 2 * low.au:
                left, l0, l1 = low, low.au, low.au
            if r0 + r1 <= 2 * low.au:
                continue
        if high is not None:
            if r0 + r1 > 2 * high.au:
                right, r0, r1 = high, high.au, high.au
            if l0 + l1 >= 2 * high.au:
                continue
        cells.append(_Cell(b0, b1, l0, l1, r0, r1, left, right))
    return cells


def _connected(cells: list[_Cell]) -> list[list[_Cell]]:
    """Return the trapezoids in groups that are connected through their levels."""
    tops: dict[Exact, list[int]] = {}
    bottoms: dict[Exact, list[int]] = {}
    for i, cell in enumerate(cells):
        tops.setdefault(cell.v1, []).append(i)
        bottoms.setdefault(cell.v0, []).append(i)
    group = list(range(len(cells)))

    def root(i: int) -> int:
        while group[i] != i:
            i = group[i]
        return i

    for level, below in tops.items():
        for i in below:
            for j in bottoms.get(level, ()):
                if max(cells[i].l1, cells[j].l0) < min(cells[i].r1, cells[j].r0):
                    group[root(i)] = root(j)
    members: dict[int, list[_Cell]] = {}
    for i, cell in enumerate(cells):
        members.setdefault(root(i), []).append(cell)
    return list(members.values())


def _part(cells: list[_Cell], levels: Levels, seam_nm: int) -> Part:
    """Return the part that connected trapezoids form."""
    stretches: list[Side] = []
    for cell in cells:
        stretches.append(_stretch(cell.left, cell.l1, cell.v1, cell.l0, cell.v0))
        stretches.append(_stretch(cell.right, cell.r0, cell.v0, cell.r1, cell.v1))
    for level in {v for cell in cells for v in (cell.v0, cell.v1)}:
        below = sorted((cell.l1, cell.r1) for cell in cells if cell.v1 == level)
        above = sorted((cell.l0, cell.r0) for cell in cells if cell.v0 == level)
        sides = levels.get(level, ())
        for low, high in _less(below, above):
            backward = [side for side in sides if side.au > side.bu]
            stretches += _level_stretches(low, high, level, backward, AllowanceKind.CROSS_HIGH, seam_nm)
        for low, high in _less(above, below):
            forward = [side for side in sides if side.au < side.bu]
            stretches += _level_stretches(low, high, level, forward, AllowanceKind.CROSS_LOW, seam_nm)
    return Part(
        rings=_rings(stretches),
        u0=min(min(cell.l0, cell.l1) for cell in cells),
        v0=min(cell.v0 for cell in cells),
        u1=max(max(cell.r0, cell.r1) for cell in cells),
        v1=max(cell.v1 for cell in cells),
    )


def _stretch(side: Side, au: Exact, av: Exact, bu: Exact, bv: Exact) -> Side:
    return Side(au, av, bu, bv, side.kind, side.edge, side.full_nm, side.given_nm, side.cove_nm)


def _level_stretches(
    low: Exact, high: Exact, level: Exact, sides: list[Side], kind: AllowanceKind, seam_nm: int
) -> list[Side]:
    """Return a level stretch of a part's boundary as the floor's own sides, and as cross seam where there are none."""
    backward = kind is AllowanceKind.CROSS_HIGH
    out, taken = [], []
    for side in sides:
        a, b = max(low, min(side.au, side.bu)), min(high, max(side.au, side.bu))
        if a < b:
            taken.append((a, b))
            out.append(_stretch(side, b if backward else a, level, a if backward else b, level))
    for a, b in _less([(low, high)], sorted(taken)):
        ends = (b, a) if backward else (a, b)
        out.append(Side(ends[0], level, ends[1], level, kind, -1, seam_nm, seam_nm))
    return out


def _less(these: list[tuple[Exact, Exact]], those: list[tuple[Exact, Exact]]) -> list[tuple[Exact, Exact]]:
    """Return what is left of stretches when others are taken away; both in rising order."""
    out = []
    for start, end in these:
        low = start
        for other_low, other_high in those:
            if other_high <= low or other_low >= end:
                continue
            if other_low > low:
                out.append((low, other_low))
            low = max(low, other_high)
        if low < end:
            out.append((low, end))
    return out


def _rings(stretches: list[Side]) -> tuple[tuple[Side, ...], ...]:
    """Return stretches of boundary chained into rings, those in line with one another made one."""
    starts: dict[tuple[Exact, Exact], list[Side]] = {}
    for side in stretches:
        if (side.au, side.av) != (side.bu, side.bv):
            starts.setdefault((side.au, side.av), []).append(side)
    rings = []
    while starts:
        point = min(starts)
        ring = [_taken(starts, point, None)]
        while (ring[-1].bu, ring[-1].bv) != (ring[0].au, ring[0].av):
            ring.append(_taken(starts, (ring[-1].bu, ring[-1].bv), ring[-1]))
        rings.append(_straightened(ring))
    return tuple(rings)


def _taken(starts: dict[tuple[Exact, Exact], list[Side]], point: tuple[Exact, Exact], before: Side | None) -> Side:
    """Take the side that goes on from a point: where the boundary touches itself, the one that keeps to this part."""
    sides = starts[point]
    chosen = sides[0] if before is None or len(sides) == 1 else min(sides, key=lambda side: _clockwise(before, side))
    sides.remove(chosen)
    if not sides:
        del starts[point]
    return chosen


def _clockwise(before: Side, after: Side) -> float:
    """Return the angle from the way back along `before`, turning clockwise, to `after`."""
    back = atan2(float(before.av - before.bv), float(before.au - before.bu))
    on = atan2(float(after.bv - after.av), float(after.bu - after.au))
    return (back - on) % (2 * pi) or 2 * pi


def _straightened(ring: list[Side]) -> tuple[Side, ...]:
    """Return a ring with consecutive stretches of one side made one."""
    out: list[Side] = []
    for side in ring:
        if out and _goes_on(out[-1], side):
            out[-1] = _stretch(side, out[-1].au, out[-1].av, side.bu, side.bv)
        else:
            out.append(side)
    if len(out) > 1 and _goes_on(out[-1], out[0]):
        out[0] = _stretch(out[0], out[-1].au, out[-1].av, out[0].bu, out[0].bv)
        out.pop()
    return tuple(out)


def _goes_on(one: Side, other: Side) -> bool:
    """Tell whether a side goes on in line with another of the same kind and edge."""
    if one.kind is not other.kind or one.edge != other.edge or one.given_nm != other.given_nm:
        return False
    return (one.bu - one.au) * (other.bv - other.av) == (one.bv - one.av) * (other.bu - other.au)
