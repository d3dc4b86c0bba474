"""The checker's own clipping: a floor cut into slices by vertical slabs, exact in rational numbers.

Everything here lies in the lay frame: u across, v along. Outlines run counter-clockwise, holes are taken clockwise, so
that the floor is always on the left of a side.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.checker.whole import Number, ratio
from nesting.domain.geometry import Point

OUTLINE = -1


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the outline (`loop` OUTLINE) or of hole number `loop`, the floor on its left."""

    a: Point
    b: Point
    loop: int
    index: int

    def v_at(self, u: Number) -> Number:
        """Return v where the side crosses the line at u; the side must not be vertical."""
        (u0, v0), (u1, v1) = self.a, self.b
        if v0 == v1:
            return v0
        return v0 + ratio((v1 - v0) * (u - u0), u1 - u0)

    def u_at(self, v: Number) -> Number:
        """Return u where the side crosses the line at v; the side must not be horizontal."""
        (u0, v0), (u1, v1) = self.a, self.b
        if u0 == u1:
            return u0
        return u0 + ratio((u1 - u0) * (v - v0), v1 - v0)

    @property
    def step(self) -> Point:
        """The side's direction and length as a vector."""
        return self.b[0] - self.a[0], self.b[1] - self.a[1]

    @property
    def with_lay(self) -> bool:
        """Tell whether the side runs with the lay, |dv| ≥ |du|."""
        du, dv = self.step
        return abs(dv) >= abs(du)


Bound = Side | int
"""What bounds a slice below or above: a side of the floor, or a cross seam by its number."""


@dataclass(frozen=True, slots=True)
class Slice:
    """A trapezoid of floor between the lines at u0 and u1, in one cell of the layout."""

    breadth: int
    low: int | None
    high: int | None
    u0: Number
    u1: Number
    below: Bound
    above: Bound
    b0: Number
    b1: Number
    t0: Number
    t1: Number


Crossings = Sequence[tuple[int, int]]
"""Cross seams of one breadth as (v, number), rising."""


def sides_of(floor: tuple[Point, ...], holes: Sequence[tuple[Point, ...]]) -> list[Side]:
    """Return all sides with the floor on their left; holes are counter-clockwise as given."""
    sides = [Side(a, b, OUTLINE, i) for i, (a, b) in enumerate(_around(floor))]
    for number, hole in enumerate(holes):
        sides += [Side(b, a, number, i) for i, (a, b) in enumerate(_around(hole))]
    return [side for side in sides if side.a != side.b]


def _around(outline: tuple[Point, ...]) -> Iterator[tuple[Point, Point]]:
    return zip(outline, (*outline[1:], *outline[:1]), strict=True)


def flipped(sides: Sequence[Side]) -> list[Side]:
    """Return the sides with u and v exchanged, the floor again on their left."""
    return [Side((s.b[1], s.b[0]), (s.a[1], s.a[0]), s.loop, s.index) for s in sides]


def slices_of(sides: Sequence[Side], lines: Sequence[int], crossings: Sequence[Crossings] = ()) -> list[Slice]:
    """Return the slices of a floor cut by seams.

    Parameters
    ----------
    sides
        As `sides_of` gives them.
    lines
        Seams u = s, rising.
    crossings
        The cross seams of every breadth, 0 to len(lines); () for none at all.
    """
    corners = {u for side in sides for u in (side.a[0], side.b[0])}
    if not corners:
        return []
    least, most = min(corners), max(corners)
    stops = sorted(corners | {line for line in lines if least < line < most})
    found: list[Slice] = []
    for low, high in pairwise(stops):
        breadth = bisect_right(lines, low)
        across = crossings[breadth] if crossings else ()
        spanning = [s for s in sides if min(s.a[0], s.b[0]) <= low and max(s.a[0], s.b[0]) >= high and s.a[0] != s.b[0]]
        for u0, u1 in pairwise(_stops_within(low, high, spanning, across)):
            found += _stack(breadth, u0, u1, spanning, across)
    return found


def _stops_within(low: int, high: int, spanning: list[Side], across: Crossings) -> list[Number]:
    """Return low, high and every u between them where a side crosses a cross seam."""
    stops: set[Number] = {low, high}
    for side in spanning:
        ends = sorted((side.v_at(low), side.v_at(high)))
        stops |= {side.u_at(v) for v, _ in across if ends[0] < v < ends[1]}
    return sorted(stops)


def _stack(breadth: int, u0: Number, u1: Number, spanning: list[Side], across: Crossings) -> Iterator[Slice]:
    """Yield the slices of one slab, bottom up: pairs of neighbouring sides, cut by the cross seams between them."""
    ends = sorted(((side.v_at(u0), side.v_at(u1), side) for side in spanning), key=lambda end: end[0] + end[1])
    for (b0, b1, below), (t0, t1, above) in zip(ends[::2], ends[1::2], strict=False):
        bounds: list[tuple[Number, Number, Bound]] = [(b0, b1, below)]
        bounds += [(v, v, number) for v, number in across if b0 + b1 < 2 * v < t0 + t1]
        bounds.append((t0, t1, above))
        for (lo0, lo1, lower), (hi0, hi1, upper) in pairwise(bounds):
            if lo0 + lo1 >= hi0 + hi1:
                continue
            beneath = [number for v, number in across if 2 * v <= lo0 + lo1]
            over = [number for v, number in across if 2 * v >= hi0 + hi1]
            yield Slice(
                breadth,
                beneath[-1] if beneath else None,
                over[0] if over else None,
                u0,
                u1,
                lower,
                upper,
                lo0,
                lo1,
                hi0,
                hi1,
            )


Interval = tuple[Number, Number]


def merged(intervals: Sequence[Interval]) -> list[Interval]:
    """Return the union of intervals as disjoint ones, rising; intervals that touch become one."""
    result: list[Interval] = []
    for low, high in sorted(intervals):
        if low >= high:
            continue
        if result and low <= result[-1][1]:
            result[-1] = (result[-1][0], max(result[-1][1], high))
        else:
            result.append((low, high))
    return result


def common(one: Sequence[Interval], other: Sequence[Interval]) -> list[Interval]:
    """Return where both unions of intervals lie, stretches of some length only."""
    pairs = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return merged([(low, high) for low, high in pairs if low < high])


def without(one: Sequence[Interval], other: Sequence[Interval]) -> list[Interval]:
    """Return where the first union of intervals lies and the second does not."""
    result: list[Interval] = []
    for low, high in merged(one):
        for start, end in merged(other):
            if end <= low or start >= high:
                continue
            if start > low:
                result.append((low, start))
            low = max(low, end)
        if low < high:
            result.append((low, high))
    return result
