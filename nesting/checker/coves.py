"""V1k and V1l: inserts at the outside corners of a cove, and no goods shared by two coved walls."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from nesting.checker.clipping import OUTLINE, sides_of
from nesting.checker.coverage import given_of
from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import Key, Part, Stretch, cross, dot
from nesting.checker.sweeps import Shape, band, double_area, moved, shape_of
from nesting.checker.whole import XY, ratio, up_to
from nesting.domain.job import EdgeKind
from nesting.domain.layout import AllowanceKind, CutKind

BEND = 60  # a corner bent by less than about 1/60 may be a straight wall rounded to whole nanometres


def check_inserts(view: View) -> Iterator[Finding]:
    """V1k: every outside corner between two coved walls has an insert of its size, and there are no others."""
    for floor in view.floors.values():
        needed, doubtful = needed_inserts(view, floor)
        cuts = [cut for cut in view.cuts_of(floor.room.id) if cut.kind is CutKind.INSERT]
        given = Counter((view.corners[cut.id].width_nm, view.corners[cut.id].length_nm) for cut in cuts)
        where = f"room {floor.room.id}"
        for size in sorted((needed - given).keys()):
            yield Finding(rule="V1k", where=where, text=f"an insert of {size[0]} × {size[1]} nm is missing")
        for size in sorted((given - needed - doubtful).keys()):
            yield Finding(rule="V1k", where=where, text=f"an insert of {size[0]} × {size[1]} nm has no corner")
        for cut in cuts:
            corner = view.corners[cut.id]
            if sum(rect.area_nm2 for rect in cut.rects) != corner.area_nm2:
                yield Finding(rule="V1k", where=f"cut {cut.id}", text="is no whole rectangle")


def needed_inserts(view: View, floor: LaidFloor) -> tuple[Counter[tuple[int, int]], Counter[tuple[int, int]]]:
    """Return the sizes of the inserts that the room needs, and those of corners so flat that they need none."""
    needed: Counter[tuple[int, int]] = Counter()
    doubtful: Counter[tuple[int, int]] = Counter()
    factor, step = floor.room.rules.insert_factor, view.material.cutting_step_nm
    sides = [side for side in sides_of(floor.layout.floor, ()) if side.loop == OUTLINE]
    for before, after in pairwise((*sides, sides[0])):
        edges = [floor.room.edges[side.index] for side in (before, after)]
        if factor <= 0 or any(edge.kind is not EdgeKind.WALL or edge.cove_nm <= 0 for edge in edges):
            continue
        height = max(edge.cove_nm for edge in edges)
        bend = cross(before.step, after.step)
        if bend < 0:
            flat = dot(before.step, after.step) > BEND * -bend
            (doubtful if flat else needed)[up_to(height, step), up_to(factor * height, step)] += 1
    return needed, doubtful


def check_cove_goods(view: View) -> Iterator[Finding]:
    """V1l: what runs up two coved walls of a piece is not the same goods, nor goods that lie on its floor."""
    for floor in view.floors.values():
        for drop in floor.drops:
            part = floor.part_of.get(drop.id)
            if part is not None and _shared(floor, part, given_of(drop)):
                yield Finding(
                    rule="V1l", where=f"cut {drop.id}", text="two coves, or a cove and the floor, share goods"
                )


def _shared(floor: LaidFloor, part: Part, given: dict[Key, int]) -> bool:
    flaps: list[tuple[Stretch, Shape]] = []
    for loop in part.loops:
        for before, stretch, after in zip((loop[-1], *loop[:-1]), loop, (*loop[1:], loop[0]), strict=True):
            if stretch.key[0] is AllowanceKind.WALL and floor.room.edges[stretch.key[1]].cove_nm > 0:
                flap = _clear_of_corners(band(stretch, given.get(stretch.key, 0)), before, after)
                flaps.append((stretch, flap))
    for (one, flap), (other, next_flap) in combinations(flaps, 2):
        neighbours = one.end == other.start or other.end == one.start
        if not neighbours and _share(flap, next_flap):
            return True
    return any(_share(flap, shape_of(piece)) for _, flap in flaps for piece in part.slices)


def _clear_of_corners(flap: Shape, before: Stretch, after: Stretch) -> Shape:
    """Return a flap without what lies beyond a sharp outside corner at its ends: there it is cut to the corner."""
    start, end = flap[0], flap[1]
    step = (end[0] - start[0], end[1] - start[1])
    for corner, other, bend in (
        (start, before, before.step[0] * step[1] - before.step[1] * step[0]),
        (end, after, step[0] * after.step[1] - step[1] * after.step[0]),
    ):
        if bend < 0 and len(flap) > 2:
            flap = _outside(flap, corner, other.step)
    return flap


def _outside(shape: Shape, corner: XY, step: tuple[int, int]) -> Shape:
    """Return the part of a convex shape to the right of a line, where there is no floor."""
    kept: list[XY] = []
    for one, other in pairwise((*shape, shape[0])):
        a = (one[0] - corner[0]) * step[1] - (one[1] - corner[1]) * step[0]
        b = (other[0] - corner[0]) * step[1] - (other[1] - corner[1]) * step[0]
        if a >= 0:
            kept.append(one)
        if (a > 0 and b < 0) or (a < 0 and b > 0):
            share = ratio(a, a - b)
            kept.append(moved(one, ((other[0] - one[0]) * share, (other[1] - one[1]) * share)))
    return tuple(kept)


def _share(one: Sequence[XY], other: Sequence[XY]) -> bool:
    """Tell whether two convex shapes have interior points in common (no side of either separates them)."""
    if len(one) < 3 or len(other) < 3 or double_area(one) == 0 or double_area(other) == 0:
        return False
    return not any(_separates(a, b, one, other) for shape in (one, other) for a, b in pairwise((*shape, shape[0])))


def _separates(a: XY, b: XY, one: Sequence[XY], other: Sequence[XY]) -> bool:
    nx, ny = b[1] - a[1], a[0] - b[0]
    if nx == 0 and ny == 0:
        return False
    ours = [nx * (x - a[0]) + ny * (y - a[1]) for x, y in one]
    theirs = [nx * (x - a[0]) + ny * (y - a[1]) for x, y in other]
    return max(ours) <= min(theirs) or max(theirs) <= min(ours)
