"""Doors that join rooms: what the two sides of a door say together, and where that puts the rooms in one plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.domain.geometry import Point
from nesting.domain.job import Door, DoorJoint, Room
from nesting.files.faults import Faults
from nesting.files.features import DoorPlan
from nesting.files.fields import nearest
from nesting.files.outline import Segment, beside, contains, cross, length_of, segments
from nesting.files.room_entries import DoorEntry, RoomEntry
from nesting.files.yaml_tree import Loc
from nesting.units import MM_NM, format_length

WIDTHS_DIFFER_NM = 20 * MM_NM
"""The two sides of one door may be measured so differently (common practice: reveals are rarely true)."""

Side = tuple[int, int]
"""(number of the room, number of the door) in the order of the file."""


@dataclass(frozen=True, slots=True)
class Link:
    """Two doors that are one, with the thickness of the wall between them."""

    first: Side
    second: Side
    thickness_nm: int
    loc: Loc


@dataclass(slots=True)
class DoorBook:
    """All doors of a job."""

    rooms: Mapping[int, RoomEntry]
    ids: Mapping[int, str]
    materials: Mapping[int, str]
    unit: str
    faults: Faults

    def name(self, side: Side) -> str:
        """Return the door's name within its room."""
        return self._entry(side).name or f"door {side[1] + 1}"

    def _entry(self, side: Side) -> DoorEntry:
        return (self.rooms[side[0]].doors or [])[side[1]]

    def _loc(self, side: Side) -> Loc:
        return ("rooms", side[0], "doors", side[1])

    def pair(self) -> tuple[dict[Side, DoorPlan], list[Link]]:
        """Return the plan of every door, and the links between joined ones."""
        plans: dict[Side, DoorPlan] = {}
        for i, room in self.rooms.items():
            seen: set[str] = set()
            for j, entry in enumerate(room.doors or ()):
                name = self.name((i, j))
                if name.lower() in seen:
                    what = f"two doors of {room.name} are called {name!r}"
                    self.faults.add(self._loc((i, j)), "name-twice", what, "give each a name of its own")
                seen.add(name.lower())
                joint = DoorJoint(entry.joint or DoorJoint.TRANSITION)
                plans[i, j] = DoorPlan(id=name, depth_nm=entry.depth or 0, joint=joint)
        links: list[Link] = []
        joined: dict[Side, Side] = {}
        for side in list(plans):
            other = self._other(side)
            if other is None or joined.get(side) == other:
                continue
            clash = next((one for one in (side, other) if one in joined), None)
            if clash is not None:
                what = f"{self.name(clash)} of {self.rooms[clash[0]].name} is joined to two doors"
                self.faults.add((*self._loc(side), "joins"), "joined-twice", what, "a door joins one other door")
                continue
            joined[side], joined[other] = other, side
            link = self._link(side, other, plans)
            if link:
                links.append(link)
        return plans, links

    def _other(self, side: Side) -> Side | None:
        """Return the door that `side` says it joins."""
        text = self._entry(side).joins
        if text is None:
            return None
        loc = (*self._loc(side), "joins")
        room_name, slash, door_name = (part.strip() for part in text.partition("/"))
        if not slash or not door_name:
            self.faults.add(loc, "bad-join", f"{text!r} names no door", "write `Hall / door 2`")
            return None
        names = {name.lower(): i for i, room in self.rooms.items() for name in (self.ids[i], room.name)}
        if room_name.lower() not in names:
            hint = nearest(room_name, [room.name for room in self.rooms.values()])
            self.faults.add(loc, "unknown-name", f"there is no room {room_name!r}", hint)
            return None
        i = names[room_name.lower()]
        doors = {self.name((i, j)).lower(): j for j in range(len(self.rooms[i].doors or ()))}
        if i == side[0]:
            self.faults.add(loc, "bad-join", "a door cannot join a door of its own room", "name the room beyond")
            return None
        if door_name.lower() not in doors:
            hint = nearest(door_name, doors) or "give that room its door on the shared wall, too"
            self.faults.add(loc, "unknown-name", f"{self.rooms[i].name} has no door {door_name!r}", hint)
            return None
        return i, doors[door_name.lower()]

    def _link(self, side: Side, other: Side, plans: dict[Side, DoorPlan]) -> Link | None:
        """Bring the two sides of a door together."""
        one, two = self._entry(side), self._entry(other)
        loc = self._loc(side)
        if one.joint and two.joint and one.joint != two.joint:
            self.faults.add(loc, "doors-differ", "the two sides of the door say different joints", "make them agree")
            return None
        joint = DoorJoint(one.joint or two.joint or DoorJoint.TRANSITION)
        if joint is DoorJoint.SEAM and self.materials.get(side[0]) != self.materials.get(other[0]):
            what = "a seam joins goods of one material; these rooms have two"
            self.faults.add((*loc, "joint"), "doors-differ", what, "use `joint: transition`")
        depths = self._depths(one, two, loc, joint)
        if depths is None:
            return None
        thickness, first, second = depths
        plans[side] = replace(plans[side], depth_nm=first, joint=joint, joined=(self.ids[other[0]], self.name(other)))
        plans[other] = replace(plans[other], depth_nm=second, joint=joint, joined=(self.ids[side[0]], self.name(side)))
        return Link(side, other, thickness, loc)

    def _depths(self, one: DoorEntry, two: DoorEntry, loc: Loc, joint: DoorJoint) -> tuple[int, int, int] | None:
        """Return (thickness of the wall, depth of the first recess, depth of the second)."""
        if one.wall_thickness is not None and two.wall_thickness not in (None, one.wall_thickness):
            self.faults.add(loc, "doors-differ", "the two sides say different wall thicknesses", "make them agree")
            return None
        thickness = one.wall_thickness if one.wall_thickness is not None else two.wall_thickness
        first, second = one.depth, two.depth
        if thickness is None:
            return (first or 0) + (second or 0), first or 0, second or 0
        if first is None and second is None:
            first = thickness // 2
        if first is None:
            first = thickness - (second or 0)
        if second is None:
            second = thickness - first
        over = first + second - thickness
        if over > 0 or first < 0 or second < 0:
            what = f"the recesses are deeper than the wall, {format_length(thickness, self.unit, with_unit=True)}"
            self.faults.add(loc, "doors-differ", what, "check depth and wall thickness on both sides")
            return None
        if over < 0 and joint is DoorJoint.SEAM:
            shown = format_length(-over, self.unit, with_unit=True)
            self.faults.add(loc, "doors-differ", f"a gap of {shown} is left between the goods at a seam", "check depth")
            return None
        return thickness, first, second


def offset_between(first: Door, second: Door, thickness_nm: int) -> Point | None:
    """Return how far the second room moves so that its door stands behind the first; None if the walls do not face."""
    (a0, a1), (b0, b1) = first.opening, second.opening
    ax, ay, bx, by = a1[0] - a0[0], a1[1] - a0[1], b1[0] - b0[0], b1[1] - b0[1]
    if ax * bx + ay * by >= 0 or abs(ax * by - ay * bx) * 1000 > abs(ax * bx + ay * by):
        return None
    slide = (length_of(first.opening) - length_of(second.opening)) // 2
    x, y = beside(first.opening, slide, thickness_nm)
    return x - b1[0], y - b1[1]


@dataclass(slots=True)
class Placing:
    """Puts joined and placed rooms into one plan."""

    rooms: dict[int, Room]
    at: Mapping[int, Point]
    links: Sequence[Link]
    names: Mapping[Side, str]  # of the doors
    unit: str
    tolerance_nm: int
    faults: Faults

    def placed(self) -> dict[int, Room]:
        """Return the rooms in their plans."""
        steps: dict[int, list[tuple[int, Point, Loc]]] = {i: [] for i in self.rooms}
        for link in self.links:
            if link.first[0] in self.rooms and link.second[0] in self.rooms:
                by = self._offset(link)
                if by:
                    steps[link.first[0]].append((link.second[0], by, link.loc))
                    steps[link.second[0]].append((link.first[0], (-by[0], -by[1]), link.loc))
        spots: dict[int, Point] = {i: point for i, point in self.at.items() if i in self.rooms}
        plan_of: dict[int, str] = {}
        fixed = list(spots)
        for group in ([*fixed], *([i] for i in self.rooms)):
            roots = [i for i in group if i not in plan_of]
            if roots:
                plan_id = self.rooms[min(roots)].id
                for i in roots:
                    spots.setdefault(i, (0, 0))
                    plan_of[i] = plan_id
                self._spread(roots, steps, spots, plan_of, plan_id)
        out = {i: moved(room, spots[i], plan_of[i]) for i, room in self.rooms.items()}
        self._note_overlaps(out)
        return out

    def _spread(
        self,
        roots: list[int],
        steps: dict[int, list[tuple[int, Point, Loc]]],
        spots: dict[int, Point],
        plan_of: dict[int, str],
        plan_id: str,
    ) -> None:
        """Place what is joined to `roots`, and see that loops close."""
        queue = list(roots)
        told: set[Loc] = set()
        while queue:
            i = queue.pop(0)
            for j, by, loc in steps[i]:
                spot = (spots[i][0] + by[0], spots[i][1] + by[1])
                if j not in plan_of:
                    spots[j], plan_of[j] = spot, plan_id
                    queue.append(j)
                    continue
                off = length_of((spot, spots[j]))
                if off > self.tolerance_nm and loc not in told:
                    told.add(loc)
                    shown = format_length(off, self.unit, with_unit=True)
                    what = f"the rooms do not meet at this door: {shown} off going round the other way"
                    hint = "check the places of the doors, the thickness of the walls and `at` of these rooms"
                    self.faults.add(loc, "loop-open", what, hint)

    def _door(self, side: Side) -> Door | None:
        """Return the built door of one side, None if it could not be built."""
        return next((door for door in self.rooms[side[0]].doors if door.id == self.names[side]), None)

    def _offset(self, link: Link) -> Point | None:
        first, second = self._door(link.first), self._door(link.second)
        if first is None or second is None:
            return None  # a door that could not be built has its fault already
        differ = abs(length_of(first.opening) - length_of(second.opening))
        if differ > WIDTHS_DIFFER_NM:
            shown = format_length(differ, self.unit, with_unit=True)
            self.faults.add(
                link.loc, "doors-differ", f"the two sides of the door differ by {shown} in width", "check both"
            )
            return None
        by = offset_between(first, second, link.thickness_nm)
        if by is None:
            what = "the walls of the two doors do not face one another"
            hint = "a door in a south wall joins one in a north wall; measure both rooms with the same north"
            self.faults.add(link.loc, "doors-differ", what, hint)
        return by

    def _note_overlaps(self, rooms: dict[int, Room]) -> None:
        order = list(rooms.values())
        for n, room in enumerate(order):
            for other in order[n + 1 :]:
                if room.plan_id == other.plan_id and overlap(room.outline, other.outline):
                    text = (
                        f"{room.name} and {other.name} lie over one another in the plan; check the doors that join them"
                    )
                    self.faults.notice("rooms-overlap", text, other.id)


def overlap(first: tuple[Point, ...], second: tuple[Point, ...]) -> bool:
    """Tell whether two floors share more than a line."""
    boxes = [(*map(min, zip(*points, strict=True)), *map(max, zip(*points, strict=True))) for points in (first, second)]
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = boxes
    if ax1 <= bx0 or bx1 <= ax0 or ay1 <= by0 or by1 <= ay0:
        return False
    if any(contains(first, point) for point in second) or any(contains(second, point) for point in first):
        return True
    return any(_pierce(a, b) for a in segments(first) for b in segments(second))


def _pierce(first: Segment, second: Segment) -> bool:
    (a, b), (c, d) = first, second
    return cross(a, b, c) * cross(a, b, d) < 0 and cross(c, d, a) * cross(c, d, b) < 0


def moved(room: Room, by: Point, plan_id: str) -> Room:
    """Return the room moved within its plan."""

    def line(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((x + by[0], y + by[1]) for x, y in points)

    def pair(segment: Segment) -> Segment:
        start, end = line(segment)
        return start, end

    return replace(
        room,
        plan_id=plan_id,
        outline=line(room.outline),
        holes=tuple(replace(hole, outline=line(hole.outline)) for hole in room.holes),
        doors=tuple(replace(door, opening=pair(door.opening), line=pair(door.line)) for door in room.doors),
        keep_outs=tuple(replace(zone, outline=line(zone.outline)) for zone in room.keep_outs),
        joints_below=tuple(
            replace(joint, start=line((joint.start,))[0], end=line((joint.end,))[0]) for joint in room.joints_below
        ),
        pins=replace(
            room.pins,
            seams=tuple(
                replace(seam, start=line((seam.start,))[0], end=line((seam.end,))[0]) for seam in room.pins.seams
            ),
        ),
    )
