"""What a plan's rooms measure for the sundries: areas, seams, walls, doors and what is cut out, exactly."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

from nesting.domain.geometry import Point
from nesting.domain.job import DoorJoint, EdgeKind, HoleKind, Job, Room
from nesting.domain.layout import RoomLayout
from nesting.domain.plan import Plan

_TOUCH_NM = 8
"""A seam that ends this near a wall ends on it: ends on oblique walls are rounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRun:
    """A stretch of wall without a corner. `cut_out`: a side of what is cut out at a wall. `jamb`: of a door recess."""

    length_nm: int
    cove_nm: int = 0
    cut_out: HoleKind | None = None
    jamb: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Doorway:
    """A door of a room. `first`: it is listed here, not at the room beyond that it is joined to."""

    name: str
    width_nm: int
    seamed: bool
    first: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomMeasures:
    """One room. Lengths round up to the nanometre.

    `floor_nm2`: what is covered, without what is cut out. `cove_nm2`: the coved walls, length × height. `seam_nm`:
    seams, cross seams and relief cuts with their runs up coves, without seamed doors. `inside_nm` and `outside_nm`: the
    heights of the cove's corners. `around`: kind and perimeter of what stands free.
    """

    room: Room
    floor: tuple[Point, ...]
    floor_nm2: Fraction
    cove_nm2: int
    seam_nm: int
    inside_nm: int
    outside_nm: int
    walls: tuple[WallRun, ...]
    doors: tuple[Doorway, ...]
    around: tuple[tuple[HoleKind, int], ...]

    @property
    def cove_nm(self) -> int:
        """Return the length of the coved walls."""
        return sum(run.length_nm for run in self.walls if run.cove_nm)

    @property
    def seamed_nm(self) -> int:
        """Return the seams with the seamed doors that are listed here."""
        return self.seam_nm + sum(door.width_nm for door in self.doors if door.seamed and door.first)


def measured(plan: Plan) -> tuple[RoomMeasures, ...]:
    """Return the measures of every room, in the order of the job."""
    layouts = {layout.room_id: layout for part in plan.materials for layout in part.layouts}
    return tuple(_room(plan.job, room, layouts.get(room.id)) for room in plan.job.rooms)


def _room(job: Job, room: Room, layout: RoomLayout | None) -> RoomMeasures:
    floor = layout.floor if layout else room.outline
    holes = layout.holes if layout else tuple(hole.outline for hole in room.holes)
    twice = twice_area(floor) - sum(abs(twice_area(hole)) for hole in holes)
    edges = list(zip(room.outline, (*room.outline[1:], room.outline[0]), room.edges, strict=True))
    coved = [(length_nm(start, end), edge.cove_nm) for start, end, edge in edges if _is_wall(edge.kind)]
    inside, outside = _corners(room)
    return RoomMeasures(
        room=room,
        floor=floor,
        floor_nm2=Fraction(twice, 2),
        cove_nm2=sum(length * height for length, height in coved),
        seam_nm=_seam_nm(room, layout) if layout else 0,
        inside_nm=inside,
        outside_nm=outside,
        walls=tuple(wall_runs(room)),
        doors=tuple(_doorways(job, room)),
        around=tuple((hole.kind, perimeter_nm(hole.outline)) for hole in room.holes),
    )


def _is_wall(kind: EdgeKind) -> bool:
    return kind is EdgeKind.WALL


def twice_area(points: Sequence[Point]) -> int:
    """Return twice the area inside an outline, above zero if it runs counter-clockwise, nm²."""
    return sum(points[i - 1][0] * points[i][1] - points[i][0] * points[i - 1][1] for i in range(len(points)))


def length_nm(start: Point, end: Point) -> int:
    """Return the distance of two points, rounded up."""
    square = (end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2
    root = isqrt(square)
    return root if root * root == square else root + 1


def perimeter_nm(outline: Sequence[Point]) -> int:
    """Return the length round an outline, each side rounded up."""
    return sum(length_nm(outline[i - 1], outline[i]) for i in range(len(outline)))


# --- walls, doors, corners -------------------------------------------------------------------------------------------


def wall_runs(room: Room, without: Container[str] = ()) -> Iterator[WallRun]:
    """Yield the walls and jambs but those `without`; stretches that go straight on, and are alike, are one run."""
    count = len(room.outline)
    groups: list[list[int]] = []
    for i, edge in enumerate(room.edges):
        if edge.kind is EdgeKind.DOOR or edge.wall in without:
            continue
        if groups and groups[-1][-1] == i - 1 and _goes_on(room, i - 1, i):
            groups[-1].append(i)
        else:
            groups.append([i])
    if len(groups) > 1 and groups[0][0] == 0 and groups[-1][-1] == count - 1 and _goes_on(room, count - 1, 0):
        groups[0] = groups.pop() + groups[0]
    for group in groups:
        edge = room.edges[group[0]]
        yield WallRun(
            length_nm=length_nm(room.outline[group[0]], room.outline[(group[-1] + 1) % count]),
            cove_nm=edge.cove_nm if _is_wall(edge.kind) else 0,
            cut_out=edge.cut_out,
            jamb=edge.kind is EdgeKind.JAMB,
        )


def _goes_on(room: Room, one: int, two: int) -> bool:
    """Tell whether edge `two` goes straight on from edge `one` and is of the same kind."""
    first, second = room.edges[one], room.edges[two]
    alike = (first.kind, first.cove_nm, first.cut_out) == (second.kind, second.cove_nm, second.cut_out)
    return alike and _turn(room.outline, two) == 0


def _turn(outline: Sequence[Point], at: int) -> int:
    """Return the turn at a corner: above zero to the left (a corner that points out of the room), 0 straight on."""
    (ax, ay), (bx, by), (cx, cy) = outline[at - 1], outline[at], outline[(at + 1) % len(outline)]
    return (bx - ax) * (cy - by) - (by - ay) * (cx - bx)


def _corners(room: Room) -> tuple[int, int]:
    """Return the heights of all inside and of all outside corners between two coved walls."""
    inside = outside = 0
    for i, edge in enumerate(room.edges):
        before = room.edges[i - 1]
        if _is_wall(edge.kind) and _is_wall(before.kind) and edge.cove_nm and before.cove_nm:
            turn, height = _turn(room.outline, i), max(edge.cove_nm, before.cove_nm)
            inside += height if turn > 0 else 0
            outside += height if turn < 0 else 0
    return inside, outside


def _doorways(job: Job, room: Room) -> Iterator[Doorway]:
    """Yield the doors; of two that are joined the one of the room that comes first in the job is listed."""
    numbers = {other.id: number for number, other in enumerate(job.rooms)}
    for number, door in enumerate(room.doors):
        first = True
        if door.joined is not None and door.joined[0] in numbers:
            beyond = job.rooms[numbers[door.joined[0]]]
            names = [other.id for other in beyond.doors]
            mine = (numbers[room.id], number)
            first = door.joined[1] not in names or mine < (numbers[beyond.id], names.index(door.joined[1]))
        yield Doorway(name=door.id, width_nm=length_nm(*door.line), seamed=door.joint is DoorJoint.SEAM, first=first)


# --- seams -----------------------------------------------------------------------------------------------------------


def _seam_nm(room: Room, layout: RoomLayout) -> int:
    """Return the length of seams, cross seams and relief cuts, with the cove at each end that lies on a coved wall."""
    total, ends = 0, []
    for seam in layout.seams:
        for low, high in seam.runs:
            total += high - low
            ends += [(seam.at_nm, low), (seam.at_nm, high)]
    for crossing in layout.cross_seams:
        for low, high in crossing.runs:
            total += high - low
            ends += [(low, crossing.at_nm), (high, crossing.at_nm)]
    for slit in layout.relief_cuts:
        total += abs(slit.end[0] - slit.start[0]) + abs(slit.end[1] - slit.start[1])
        ends.append(slit.end)
    return total + sum(_cove_at(room, layout, end) for end in ends)


def _cove_at(room: Room, layout: RoomLayout, point: Point) -> int:
    """Return the height of the cove at a point of the outline, the higher one in a corner."""
    floor = layout.floor
    return max(
        (
            edge.cove_nm
            for i, edge in enumerate(room.edges)
            if _is_wall(edge.kind) and edge.cove_nm and _near(point, floor[i], floor[(i + 1) % len(floor)])
        ),
        default=0,
    )


def _near(point: Point, start: Point, end: Point) -> bool:
    """Tell whether a point is at most `_TOUCH_NM` from a segment."""
    du, dv = end[0] - start[0], end[1] - start[1]
    pu, pv = point[0] - start[0], point[1] - start[1]
    square, along = du * du + dv * dv, pu * du + pv * dv
    if 0 <= along <= square:
        return (pu * dv - pv * du) ** 2 <= _TOUCH_NM**2 * square
    if along < 0:
        return pu * pu + pv * pv <= _TOUCH_NM**2
    return (pu - du) ** 2 + (pv - dv) ** 2 <= _TOUCH_NM**2
