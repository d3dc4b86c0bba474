"""What the user must know about a plan: less trim, forced cross seams, seams in wide openings, shared trim."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.domain.geometry import Point
from nesting.domain.job import Job, Room
from nesting.domain.layout import AllowanceKind, Cut, CutKind, RoomLayout
from nesting.domain.plan import MaterialPlan, Notice
from nesting.floor.frames import turn_point
from nesting.units import format_length


def notices_of(job: Job, plan: MaterialPlan) -> tuple[Notice, ...]:
    """Return the notices of one material's plan, room by room, in a fixed order."""
    rooms = {room.id: room for room in job.rooms}
    found: list[Notice] = []
    for cut in plan.cuts:
        found += _less_trim(job, cut)
    for layout in plan.layouts:
        room = rooms[layout.room_id]
        found += _forced_cross_seams(room, layout)
        found += _wide_openings(room, layout)
        found += _relief_cuts(room, layout)
    for cut in plan.cuts:
        if cut.kind is CutKind.DROP:
            found += _shared_trim(job, rooms[cut.owner], cut, plan)
    return tuple(found)


def _less_trim(job: Job, cut: Cut) -> Iterator[Notice]:
    less = [allowance for allowance in cut.allowances if allowance.given_nm < allowance.full_nm]
    if less:
        given = format_length(min(allowance.given_nm for allowance in less), job.unit.value, with_unit=True)
        text = f"{cut.label} (no. {cut.number}) has less trim than usual: walls must be straight within {given}"
        yield Notice(code="less-trim", room_id=cut.owner, text=text)


def _forced_cross_seams(room: Room, layout: RoomLayout) -> Iterator[Notice]:
    by_breadth: dict[int, int] = {}
    for seam in layout.cross_seams:
        by_breadth[seam.breadth] = by_breadth.get(seam.breadth, 0) + 1
    over = sum(1 for count in by_breadth.values() if count > room.rules.cross_seams_per_breadth)
    if over:
        text = (
            f"{room.name}: {over} breadth(s) longer than the longest goods have cross seams that they cannot do without"
        )
        yield Notice(code="forced-cross-seam", room_id=room.id, text=text)


def _wide_openings(room: Room, layout: RoomLayout) -> Iterator[Notice]:
    for door in room.doors:
        if door.bridgeable:
            continue
        one, other = (turn_point(point, layout.direction) for point in door.line)
        for seam in layout.seams:
            if any(_strictly_within((seam.at_nm, end), one, other) for run in seam.runs for end in run):
                text = f"{room.name}: a seam ends in the opening {door.id}, which is too wide for the goods to bridge"
                yield Notice(code="seam-in-opening", room_id=room.id, text=text)


def _strictly_within(point: Point, one: Point, other: Point) -> bool:
    """Tell whether a point on the line of a segment, to within 2 nm, lies strictly between its ends."""
    du, dv = other[0] - one[0], other[1] - one[1]
    pu, pv = point[0] - one[0], point[1] - one[1]
    along, square = pu * du + pv * dv, du * du + dv * dv
    return 0 < along < square and (pu * dv - pv * du) ** 2 <= 4 * square


def _relief_cuts(room: Room, layout: RoomLayout) -> Iterator[Notice]:
    for relief in layout.relief_cuts:
        text = f"{room.name}: a relief cut to {room.holes[relief.hole].id}, sealed like a seam"
        yield Notice(code="relief-cut", room_id=room.id, text=text)


def _shared_trim(job: Job, room: Room, cut: Cut, plan: MaterialPlan) -> Iterator[Notice]:
    """Tell where two walls of one piece stand so near that the trim between them is shared."""
    layout = next(item for item in plan.layouts if item.room_id == cut.owner)
    outline = layout.floor
    walls = [item for item in cut.allowances if item.kind in (AllowanceKind.WALL, AllowanceKind.JAMB)]
    for number, one in enumerate(walls):
        for other in walls[number + 1 :]:
            gap = _gap_between(outline, one.edge, other.edge)
            if gap is not None and gap < one.given_nm + other.given_nm:
                width = format_length(gap, job.unit.value, with_unit=True)
                text = f"{cut.label} (no. {cut.number}): a wall only {width} thick shares its trim between both sides"
                yield Notice(code="shared-trim", room_id=room.id, text=text)


def _gap_between(outline: tuple[Point, ...], one: int, other: int) -> int | None:
    """Return the thickness of wall between two parallel edges that face away from each other; None: no such wall."""
    (a0, a1), (b0, b1) = (_ends(outline, edge) for edge in (one, other))
    for axis in (0, 1):
        across = 1 - axis
        if a0[axis] == a1[axis] and b0[axis] == b1[axis]:
            # The floor lies on the left of an edge: a wall is between them if each has the other on its right.
            way_a, way_b = a1[across] - a0[across], b1[across] - b0[across]
            low, high = (
                max(min(a0[across], a1[across]), min(b0[across], b1[across])),
                min(max(a0[across], a1[across]), max(b0[across], b1[across])),
            )
            gap = b0[axis] - a0[axis]
            right = (way_a if axis == 0 else -way_a) > 0
            facing = (way_a > 0) != (way_b > 0) and right == (gap > 0)
            return abs(gap) if facing and low < high and gap else None
    return None


def _ends(outline: tuple[Point, ...], edge: int) -> tuple[Point, Point]:
    return outline[edge], outline[(edge + 1) % len(outline)]
