"""The parts that seams make of a floor: connected by their interior, each with its boundary in stretches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cmp_to_key, partial
from itertools import pairwise
from typing import Any

from nesting.checker.clipping import (
    OUTLINE,
    Crossings,
    Interval,
    Side,
    Slice,
    common,
    merged,
    sides_of,
    slices_of,
    without,
)
from nesting.checker.whole import XY, Number
from nesting.domain.geometry import Point
from nesting.domain.job import EdgeKind, Room
from nesting.domain.layout import AllowanceKind, RoomLayout

Key = tuple[AllowanceKind, int]
"""What bounds a part: kind and index, as in `Allowance`."""

OF_EDGE = {EdgeKind.WALL: AllowanceKind.WALL, EdgeKind.JAMB: AllowanceKind.JAMB, EdgeKind.DOOR: AllowanceKind.DOOR}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight stretch of a part's boundary, the part on its left; `step` is its exact direction."""

    key: Key
    start: XY
    end: XY
    step: Point


@dataclass(frozen=True, slots=True)
class Part:
    """A connected part of one cell of the layout."""

    breadth: int
    low: int | None
    high: int | None
    slices: tuple[Slice, ...]
    loops: tuple[tuple[Stretch, ...], ...]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """All stretches of all loops."""
        return tuple(stretch for loop in self.loops for stretch in loop)

    @property
    def keys(self) -> frozenset[Key]:
        """What bounds the part."""
        return frozenset(stretch.key for stretch in self.stretches)

    @property
    def extent_along(self) -> Number:
        """How much floor there is along v."""
        tops = max(max(s.t0, s.t1) for s in self.slices)
        return tops - min(min(s.b0, s.b1) for s in self.slices)


@dataclass(frozen=True, slots=True)
class Cells:
    """A floor cut by its seams: the parts, and the runs of every seam and cross seam."""

    sides: tuple[Side, ...]
    parts: tuple[Part, ...]
    seam_runs: tuple[tuple[Interval, ...], ...]
    cross_runs: tuple[tuple[Interval, ...], ...]


def crossings_of(layout: RoomLayout) -> list[Crossings]:
    """Return the cross seams of every breadth as (v, number), rising."""
    found: list[list[tuple[int, int]]] = [[] for _ in range(len(layout.seams) + 1)]
    for number, cross in enumerate(layout.cross_seams):
        found[cross.breadth].append((cross.at_nm, number))
    return [sorted(crossings) for crossings in found]


def cells_of(room: Room, layout: RoomLayout) -> Cells:
    """Return the parts and runs of a room as laid. The layout's floor must be simple, its seams rising."""
    sides = sides_of(layout.floor, layout.holes)
    lines = [seam.at_nm for seam in layout.seams]
    slices = slices_of(sides, lines, crossings_of(layout))
    ending: dict[Number, list[Slice]] = defaultdict(list)
    beginning: dict[Number, list[Slice]] = defaultdict(list)
    for piece in slices:
        ending[piece.u1].append(piece)
        beginning[piece.u0].append(piece)
    parts = []
    for members in _families(slices, ending, beginning, frozenset(lines)):
        stretches = _boundary(room, members, sides, lines, ending, beginning)
        first = members[0]
        loops = _loops(stretches)
        parts.append(Part(first.breadth, first.low, first.high, tuple(members), loops))
    return Cells(
        sides=tuple(sides),
        parts=tuple(parts),
        seam_runs=tuple(tuple(common(_rights(ending[line]), _lefts(beginning[line]))) for line in lines),
        cross_runs=tuple(
            tuple(merged([(s.u0, s.u1) for s in slices if s.above == number]))
            for number in range(len(layout.cross_seams))
        ),
    )


def _rights(slices: Sequence[Slice]) -> list[Interval]:
    return [(s.b1, s.t1) for s in slices]


def _lefts(slices: Sequence[Slice]) -> list[Interval]:
    return [(s.b0, s.t0) for s in slices]


def _families(
    slices: list[Slice],
    ending: dict[Number, list[Slice]],
    beginning: dict[Number, list[Slice]],
    lines: frozenset[int],
) -> list[list[Slice]]:
    """Return the slices of every part: joined across slab lines, never across seams."""
    number = {id(piece): index for index, piece in enumerate(slices)}
    parent = list(range(len(slices)))

    def root(index: int) -> int:
        while parent[index] != index:
            parent[index] = parent[parent[index]]
            index = parent[index]
        return index

    for u, lefts in ending.items():
        if u in lines:
            continue
        for left in lefts:
            for right in beginning.get(u, ()):
                if max(left.b1, right.b0) < min(left.t1, right.t0):
                    parent[root(number[id(right)])] = root(number[id(left)])
    families: dict[int, list[Slice]] = defaultdict(list)
    for index, piece in enumerate(slices):
        families[root(index)].append(piece)
    return list(families.values())


def _boundary(
    room: Room,
    members: list[Slice],
    sides: list[Side],
    lines: list[int],
    ending: dict[Number, list[Slice]],
    beginning: dict[Number, list[Slice]],
) -> list[Stretch]:
    stretches: list[Stretch] = []
    own = {id(piece) for piece in members}
    for piece in members:
        stretches.append(_below(room, piece))
        stretches.append(_above(room, piece))
    for u in {piece.u0 for piece in members} | {piece.u1 for piece in members}:
        ends = _rights([s for s in ending.get(u, ()) if id(s) in own])
        starts = _lefts([s for s in beginning.get(u, ()) if id(s) in own])
        if u in lines:
            line = lines.index(int(u))
            right_of = common(ends, _lefts(beginning.get(u, [])))
            left_of = common(starts, _rights(ending.get(u, [])))
            stretches += [_rising(u, run, (AllowanceKind.SEAM_RIGHT, line)) for run in right_of]
            stretches += [_falling(u, run, (AllowanceKind.SEAM_LEFT, line)) for run in left_of]
            bare_ends, bare_starts = without(ends, right_of), without(starts, left_of)
        else:
            bare_ends, bare_starts = without(ends, starts), without(starts, ends)
        for side in sides:
            if side.a[0] != u or side.b[0] != u:
                continue
            if side.b[1] > side.a[1]:
                upward = common(bare_ends, [(side.a[1], side.b[1])])
                stretches += [_rising(u, run, _key(room, side)) for run in upward]
            else:
                downward = common(bare_starts, [(side.b[1], side.a[1])])
                stretches += [_falling(u, run, _key(room, side)) for run in downward]
    return list(_split([stretch for stretch in stretches if stretch.start != stretch.end]))


def _split(stretches: list[Stretch]) -> Iterator[Stretch]:
    """Yield the stretches, those along v split where another one touches them with an end (a corner of a hole)."""
    ends: dict[Number, set[Number]] = defaultdict(set)
    for stretch in stretches:
        ends[stretch.start[0]].add(stretch.start[1])
        ends[stretch.end[0]].add(stretch.end[1])
    for stretch in stretches:
        (u, low), (_, high) = stretch.start, stretch.end
        if stretch.step[0] != 0:
            yield stretch
            continue
        inner = [v for v in ends[u] if min(low, high) < v < max(low, high)]
        stops = sorted((low, *inner, high), reverse=low > high)
        for start, end in pairwise(stops):
            yield Stretch(stretch.key, (u, start), (u, end), stretch.step)


def _key(room: Room, side: Side) -> Key:
    if side.loop == OUTLINE:
        return OF_EDGE[room.edges[side.index].kind], side.index
    return AllowanceKind.HOLE, side.loop


def _below(room: Room, piece: Slice) -> Stretch:
    start, end = (piece.u0, piece.b0), (piece.u1, piece.b1)
    if isinstance(piece.below, int):
        return Stretch((AllowanceKind.CROSS_LOW, piece.below), start, end, (1, 0))
    return Stretch(_key(room, piece.below), start, end, piece.below.step)


def _above(room: Room, piece: Slice) -> Stretch:
    start, end = (piece.u1, piece.t1), (piece.u0, piece.t0)
    if isinstance(piece.above, int):
        return Stretch((AllowanceKind.CROSS_HIGH, piece.above), start, end, (-1, 0))
    return Stretch(_key(room, piece.above), start, end, piece.above.step)


def _rising(u: Number, run: Interval, key: Key) -> Stretch:
    return Stretch(key, (u, run[0]), (u, run[1]), (0, 1))


def _falling(u: Number, run: Interval, key: Key) -> Stretch:
    return Stretch(key, (u, run[1]), (u, run[0]), (0, -1))


def _loops(stretches: list[Stretch]) -> tuple[tuple[Stretch, ...], ...]:
    """Link the stretches to closed loops; where several leave one point, the part's own wedge decides."""
    leaving: dict[XY, list[Stretch]] = defaultdict(list)
    for stretch in stretches:
        leaving[stretch.start].append(stretch)
    loops = []
    while leaving:
        first = next(iter(leaving.values()))[0]
        loop, current = [], first
        while True:
            loop.append(current)
            options = leaving[current.start]
            options.remove(current)
            if not options:
                del leaving[current.start]
            following = [*leaving.get(current.end, ()), *([first] if current.end == first.start else ())]
            if not following:
                break
            current = min(following, key=clockwise_from((-current.step[0], -current.step[1])))
            if current is first:
                break
        loops.append(tuple(loop))
    return tuple(loops)


def cross(one: Point, other: Point) -> int:
    """Return the cross product: positive when `other` points to the left of `one`."""
    return one[0] * other[1] - one[1] * other[0]


def dot(one: Point, other: Point) -> int:
    """Return the scalar product."""
    return one[0] * other[0] + one[1] * other[1]


def clockwise_from(ray: Point) -> Callable[[Stretch], Any]:
    """Return a sort key: how far a stretch that leaves a point lies clockwise from a ray."""
    return cmp_to_key(partial(_nearer_clockwise, ray))


def _nearer_clockwise(ray: Point, one: Stretch, other: Stretch) -> int:
    sector_one, sector_other = _sector(ray, one.step), _sector(ray, other.step)
    if sector_one != sector_other:
        return sector_one - sector_other
    turn = cross(one.step, other.step)
    return (turn > 0) - (turn < 0)


def _sector(ray: Point, step: Point) -> int:
    side = cross(ray, step)
    if side == 0:
        return 1 if dot(ray, step) < 0 else 3
    return 0 if side < 0 else 2
