"""V1d and V1e: the floor recorded in the lay frame is the room, and the seams recorded are those that cut it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from math import gcd

from nesting.checker.clipping import Interval, Side, sides_of
from nesting.checker.facts import LaidFloor
from nesting.checker.findings import Finding
from nesting.checker.parts import cross
from nesting.checker.whole import area2, turned
from nesting.domain.geometry import Point
from nesting.domain.job import Room
from nesting.domain.layout import RoomLayout

WITHIN_NM = 2


def check_lay_frame(room: Room, layout: RoomLayout) -> Iterator[Finding]:
    """V1d: the recorded floor and holes are the room's own, turned into the lay frame to within 2 nm."""
    for text in _wrong_frame(room, layout):
        yield Finding(rule="V1d", where=f"room {room.id}", text=text)


def _wrong_frame(room: Room, layout: RoomLayout) -> Iterator[str]:
    direction = layout.direction
    if gcd(direction.dx, direction.dy) != 1:
        yield "the lay direction is not a vector in lowest terms"
        return
    outlines = [("the floor", room.outline, layout.floor)]
    if len(layout.holes) != len(room.holes):
        yield f"{len(layout.holes)} holes are recorded, the room has {len(room.holes)}"
        return
    outlines += [(f"hole {hole.id}", hole.outline, given) for hole, given in zip(room.holes, layout.holes, strict=True)]
    sound = True
    for what, outline, given in outlines:
        if len(outline) != len(given):
            yield f"{what} has {len(given)} corners, not {len(outline)}"
            sound = False
            continue
        for number, (point, recorded) in enumerate(zip(outline, given, strict=True)):
            exact = turned(point, direction)
            if max(abs(exact[0] - recorded[0]), abs(exact[1] - recorded[1])) > WITHIN_NM:
                yield f"corner {number} of {what} is not where the room has it"
                sound = False
    if sound:
        yield from _tangled(layout)


def _tangled(layout: RoomLayout) -> Iterator[str]:
    """Say what makes an outline no floor: turned the wrong way, crossing itself, a hole not inside."""
    for what, outline in (("the floor", layout.floor), *(("a hole", hole) for hole in layout.holes)):
        if area2(outline) <= 0:
            yield f"{what} does not run counter-clockwise"
    for one, other in combinations(sides_of(layout.floor, layout.holes), 2):
        if _cross(one, other):
            yield "the outlines of floor and holes cross"
            return
    if any(not _inside(hole[0], layout.floor) for hole in layout.holes):
        yield "a hole lies outside the floor"


def _cross(one: Side, other: Side) -> bool:
    """Tell whether two sides cross in a point inside both."""
    if (
        max(one.a[0], one.b[0]) < min(other.a[0], other.b[0])
        or max(other.a[0], other.b[0]) < min(one.a[0], one.b[0])
        or max(one.a[1], one.b[1]) < min(other.a[1], other.b[1])
        or max(other.a[1], other.b[1]) < min(one.a[1], one.b[1])
    ):
        return False
    first, second = _which(one, other.a), _which(one, other.b)
    third, fourth = _which(other, one.a), _which(other, one.b)
    return first * second < 0 and third * fourth < 0


def _which(side: Side, point: Point) -> int:
    return cross(side.step, (point[0] - side.a[0], point[1] - side.a[1]))


def _inside(point: Point, outline: tuple[Point, ...]) -> bool:
    """Tell whether a point lies in a polygon or on its border (crossing number of a ray to the right)."""
    odd = False
    for a, b in pairwise((*outline, outline[0])):
        side = cross((b[0] - a[0], b[1] - a[1]), (point[0] - a[0], point[1] - a[1]))
        within = min(a[1], b[1]) <= point[1] <= max(a[1], b[1]) and min(a[0], b[0]) <= point[0] <= max(a[0], b[0])
        if side == 0 and within:
            return True
        if (a[1] > point[1]) != (b[1] > point[1]) and (side > 0) == (b[1] > a[1]):
            odd = not odd
    return odd


def check_seam_order(room: Room, layout: RoomLayout) -> Iterator[Finding]:
    """V1e, first part: the seams stand in rising order, cross seams of a breadth apart; without it nothing is cut."""
    where = f"room {room.id}"
    if any(one.at_nm >= other.at_nm for one, other in pairwise(layout.seams)):
        yield Finding(rule="V1e", where=where, text="the seams are not in rising order")
    places = {(cross_seam.breadth, cross_seam.at_nm) for cross_seam in layout.cross_seams}
    if len(places) != len(layout.cross_seams):
        yield Finding(rule="V1e", where=where, text="two cross seams lie in one place")


def check_runs(floor: LaidFloor) -> Iterator[Finding]:
    """V1e: the recorded runs of seams and cross seams are those where they lie on the floor, to the nanometre."""
    where = f"room {floor.room.id}"
    for number, seam in enumerate(floor.layout.seams):
        if not _same_runs(seam.runs, floor.cells.seam_runs[number]):
            yield Finding(rule="V1e", where=where, text=f"the runs of seam {number} are not where it lies on the floor")
    for number, cross_seam in enumerate(floor.layout.cross_seams):
        if not _same_runs(cross_seam.runs, floor.cells.cross_runs[number]):
            text = f"the runs of cross seam {number} are not where it lies on the floor"
            yield Finding(rule="V1e", where=where, text=text)


def _same_runs(given: Sequence[Interval], found: Sequence[Interval]) -> bool:
    """Tell whether runs agree; ends on oblique edges are not whole and may be rounded either way."""
    if not found or len(given) != len(found):
        return False
    pairs = zip(sorted(given), found, strict=True)
    return all(-1 < one - other < 1 for run, exact in pairs for one, other in zip(run, exact, strict=True))
