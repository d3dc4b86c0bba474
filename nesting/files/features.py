"""What changes or marks a floor: alcoves, cut-outs, doors, keep-outs, joints below."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from nesting.domain.geometry import Point
from nesting.domain.job import Door, DoorJoint, Edge, EdgeKind, Hole, HoleKind, JointBelow, KeepOut
from nesting.files.faults import Faults
from nesting.files.fields import nearest
from nesting.files.outline import (
    Ring,
    Segment,
    apart,
    beside,
    clip_line,
    cross,
    first_crossing,
    is_convex,
    length_of,
    lies_within,
    segments,
    twice_area,
)
from nesting.files.room_entries import (
    AlcoveEntry,
    CutOutEntry,
    DoorEntry,
    FromEnd,
    JointEntry,
    KeepOutEntry,
    SpotEntry,
)
from nesting.files.yaml_tree import Loc
from nesting.units import format_length

BRIDGEABLE_NM = 1_200_000_000
"""Openings up to this width can be bridged by the goods, unless the door says otherwise (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorPlan:
    """What is known of a door beside its place on the wall, once the joined doors are paired."""

    id: str
    depth_nm: int = 0
    joint: DoorJoint = DoorJoint.TRANSITION
    joined: tuple[str, str] | None = None


@dataclass(slots=True)
class Floor:
    """A floor while its features are being added."""

    ring: Ring
    unit: str
    faults: Faults
    walls: dict[str, Segment] = field(default_factory=dict)  # by lower-case name, as measured
    groups: dict[str, str] = field(default_factory=dict)  # name of an edge -> lower-case name of its feature
    holes: list[Hole] = field(default_factory=list)
    doors: list[Door] = field(default_factory=list)
    keep_outs: list[KeepOut] = field(default_factory=list)
    joints: list[JointBelow] = field(default_factory=list)

    @classmethod
    def of(cls, ring: Ring, unit: str, faults: Faults) -> Floor:
        """Return the floor as measured."""
        walls = {edge.wall.lower(): ring.segment(i) for i, edge in enumerate(ring.edges)}
        return cls(ring=ring, unit=unit, faults=faults, walls=walls)

    def shown(self, nm: int) -> str:
        """Return a length for messages."""
        return format_length(nm, self.unit, with_unit=True)

    # --- places on walls ---------------------------------------------------------------------------------------------

    def wall(self, name: str, loc: Loc) -> Segment | None:
        """Return the wall called `name`."""
        plain = name.lower().removeprefix("the ").strip()
        for known in (plain, plain.removesuffix(" wall")):
            if known in self.walls:
                return self.walls[known]
        self.faults.add(loc, "unknown-name", f"there is no wall {name!r} in this room", nearest(plain, self.walls))
        return None

    def stretch(self, entry: FromEnd, width: int, wall: Segment, loc: Loc) -> tuple[int, int] | None:
        """Return (from, to) along `wall`, measured from its start; the start is at the right as seen from inside."""
        length = length_of(wall)
        given = [name for name in ENDS if getattr(entry, name) is not None and getattr(entry, name) is not False]
        if len(given) != 1:
            what = "its place on the wall is missing" if not given else "its place on the wall is given twice"
            self.faults.add(loc, "no-place", what, "give one of from left, from right, centred, from north …")
            return None
        name = given[0]
        if name == "centred":
            start = (length - width) // 2
            return start, start + width
        distance = getattr(entry, name)
        (x0, y0), (x1, y1) = wall
        ahead = {"from_left": 1, "from_right": -1, "from_east": x1 - x0, "from_west": x0 - x1,
                 "from_north": y1 - y0, "from_south": y0 - y1}[name]  # fmt: skip
        if ahead == 0:
            what = f"this wall has no {name.removeprefix('from_')} end"
            self.faults.add((*loc, name.replace("_", " ")), "no-place", what, "use from left or from right")
            return None
        return (length - distance - width, length - distance) if ahead > 0 else (distance, distance + width)

    def on_wall(
        self, entry: FromEnd, name: str, width: int, loc: Loc, what: str, code: str
    ) -> tuple[Segment, tuple[int, int], int] | None:
        """Return (wall, stretch, edge of the ring that holds it) or None with the fault noted."""
        wall = self.wall(name, (*loc, "wall"))
        stretch = self.stretch(entry, width, wall, loc) if wall else None
        if wall is None or stretch is None:
            return None
        length = length_of(wall)
        off = max(-stretch[0], stretch[1] - length)
        if off > 0:
            text = f"{what} reaches {self.shown(off)} beyond the end of {name}, which is {self.shown(length)} long"
            self.faults.add(loc, code, text, "check the wall, the width and the distance")
            return None
        index = self.ring.find(wall, *stretch)
        if index is None:
            text = f"{what} meets another door, alcove or cut-out on {name}"
            self.faults.add(loc, code, text, "check the widths and the distances along this wall")
            return None
        return wall, stretch, index

    # --- the outline -------------------------------------------------------------------------------------------------

    def _step(
        self,
        place: tuple[Segment, tuple[int, int], int],
        out: int,
        name: str,
        what: tuple[Loc, str, str],
        kind: HoleKind | None = None,
    ) -> bool:
        """Add (`out` > 0) or cut away a rectangle on a wall; its edges are named after it."""
        wall, stretch, index = place
        sides = (f"{name} right", f"{name} left")  # the start of a wall is at the right as one faces it
        edges = tuple(Edge(wall=side, cut_out=kind) for side in (sides[0], name, sides[1]))
        ring = self.ring.with_step(index, wall, stretch, out, edges)
        if not ring.simple():
            loc, code, text = what
            self.faults.add(loc, code, text, "check its size and its place")
            return False
        self.ring = ring
        for edge in edges:
            self.groups[edge.wall] = name.lower()
        right, left = beside(wall, stretch[0], out), beside(wall, stretch[1], out)
        self.walls[name.lower()] = (right, left)
        self.walls[sides[0].lower()] = (beside(wall, stretch[0], 0), right)
        self.walls[sides[1].lower()] = (left, beside(wall, stretch[1], 0))
        return True

    def _new_name(self, given: str | None, default: str, taken: set[str], loc: Loc) -> str | None:
        name = given or default
        if name.lower() in taken:
            self.faults.add(loc, "name-twice", f"{name!r} is used twice in this room", "give each a name of its own")
            return None
        return name

    def add_alcove(self, entry: AlcoveEntry, number: int, loc: Loc) -> None:
        """Add a rectangle of floor beyond a wall."""
        name = self._new_name(entry.name, f"alcove {number}", set(self.walls), loc)
        place = self.on_wall(entry, entry.wall, entry.width, loc, "the alcove", "alcove-off-wall")
        if name and place:
            self._step(
                place, entry.depth, name, (loc, "alcove-overlaps", "the alcove runs into another part of the room")
            )

    def add_cut_out(self, entry: CutOutEntry, number: int, loc: Loc) -> None:
        """Cut a column, island or fixture out: from the outline where it touches a wall, else as a hole."""
        kind = HoleKind(entry.kind or HoleKind.COLUMN)
        taken = {*self.walls, *(hole.id.lower() for hole in self.holes)}
        name = self._new_name(entry.name, f"{kind} {number}", taken, loc)
        if name is None:
            return
        outside = (loc, "cut-out-outside", "the cut-out does not lie inside its room")
        if entry.wall is not None and not entry.off_the_wall:
            if entry.width is None or entry.depth is None:
                self.faults.add(loc, "missing-key", "a cut-out at a wall needs `width` and `depth`")
                return
            place = self.on_wall(entry, entry.wall, entry.width, loc, "the cut-out", "cut-out-outside")
            if place:
                self._step(place, -entry.depth, name, outside, kind)
            return
        polygon = self.spot(entry, loc, "the cut-out", "cut-out-outside")
        if polygon is None:
            return
        touching = self._touching(polygon)
        if touching is not None:
            self._step(*touching, name, outside, kind)
        elif not lies_within(polygon, self.ring.points):
            self.faults.add(*outside, "give its lower left corner from the room's origin; at a wall use `wall`")
        elif not all(apart(polygon, hole.outline) for hole in self.holes):
            self.faults.add(
                loc, "cut-outs-overlap", "the cut-out meets another one", "give them as one, by its corners"
            )
        else:
            self.holes.append(Hole(id=name, kind=kind, outline=polygon))

    def _touching(self, polygon: tuple[Point, ...]) -> tuple[tuple[Segment, tuple[int, int], int], int] | None:
        """Return the place of a rectangle that stands against a wall, and how far it moves the outline (inward)."""
        if len(polygon) != 4:
            return None
        for i, side in enumerate(segments(polygon)):
            for index, edge in enumerate(self.ring.edges):
                wall = self.ring.segment(index)
                if edge.kind is not EdgeKind.WALL or any(cross(*wall, point) for point in side):
                    continue
                length = length_of(side)
                start, end = self._along(wall, side[0]), self._along(wall, side[1])
                if 0 <= start < end <= length_of(wall) and end - start == length:
                    depth = length_of((polygon[(i + 1) % 4], polygon[(i + 2) % 4]))
                    return (wall, (start, end), index), -depth
        return None

    @staticmethod
    def _along(wall: Segment, point: Point) -> int:
        """Return how far `point`, on the line of `wall`, lies from its start; below zero before it."""
        ahead = (point[0] - wall[0][0]) * (wall[1][0] - wall[0][0]) + (point[1] - wall[0][1]) * (
            wall[1][1] - wall[0][1]
        )
        length = length_of((wall[0], point))
        return length if ahead >= 0 else -length

    # --- doors -------------------------------------------------------------------------------------------------------

    def add_door(self, entry: DoorEntry, plan: DoorPlan, loc: Loc) -> None:
        """Put a door into a wall: its line becomes part of the outline, its recess part of the floor."""
        place = self.on_wall(entry, entry.wall, entry.width, loc, "the door", "door-off-wall")
        if place is None:
            return
        wall, stretch, index = place
        line_edge = Edge(kind=EdgeKind.DOOR, wall=self.ring.edges[index].wall, door=plan.id)
        jamb = replace(line_edge, kind=EdgeKind.JAMB)
        edges = (jamb, line_edge, jamb) if plan.depth_nm else (line_edge,)
        ring = self.ring.with_step(index, wall, stretch, plan.depth_nm, edges)
        if not ring.simple():
            what = "the door's recess runs into another part of the room"
            self.faults.add(loc, "door-off-wall", what, "check its depth and its place")
            return
        self.ring = ring
        opening = (beside(wall, stretch[0], 0), beside(wall, stretch[1], 0))
        line = (beside(wall, stretch[0], plan.depth_nm), beside(wall, stretch[1], plan.depth_nm))
        bridgeable = entry.bridgeable if entry.bridgeable is not None else entry.width <= BRIDGEABLE_NM
        self.doors.append(
            Door(id=plan.id, opening=opening, line=line, joint=plan.joint, joined=plan.joined, bridgeable=bridgeable)
        )
        if entry.swing == "in":
            depth = -entry.width
            swing = (beside(wall, stretch[0], depth), opening[0], opening[1], beside(wall, stretch[1], depth))
            self.keep_outs.append(KeepOut(id=f"swing of {plan.id}", outline=swing))

    # --- zones and joints --------------------------------------------------------------------------------------------

    def spot(self, entry: SpotEntry, loc: Loc, what: str, code: str) -> tuple[Point, ...] | None:
        """Return the polygon of a place in the room, counter-clockwise."""
        by_size = entry.at is not None and entry.size is not None
        if [by_size, entry.corners is not None, entry.wall is not None].count(True) != 1:
            self.faults.add(loc, "no-place", f"{what} needs one place", "give at and size, or corners, or wall …")
            return None
        if entry.at is not None and entry.size is not None:
            (x, y), (w, h) = entry.at, entry.size
            return (x, y), (x + w, y), (x + w, y + h), (x, y + h)
        if entry.corners is not None:
            points = tuple(entry.corners)
            if not 3 <= len(points) <= 100 or first_crossing(points) is not None:
                self.faults.add((*loc, "corners"), "self-crossing", f"{what} is no simple outline", "check the corners")
                return None
            return points if twice_area(points) > 0 else points[::-1]
        assert entry.wall is not None
        if entry.width is None or entry.depth is None:
            self.faults.add(loc, "missing-key", f"{what} at a wall needs `width` and `depth`")
            return None
        wall = self.wall(entry.wall, (*loc, "wall"))
        stretch = self.stretch(entry, entry.width, wall, loc) if wall else None
        if wall is None or stretch is None:
            return None
        off = max(-stretch[0], stretch[1] - length_of(wall))
        if off > 0:
            text = f"{what} reaches {self.shown(off)} beyond the end of {entry.wall}"
            self.faults.add(loc, code, text, "check the wall, the width and the distance")
            return None
        near = -(entry.off_the_wall or 0)
        far = near - entry.depth
        corners = ((stretch[0], far), (stretch[0], near), (stretch[1], near), (stretch[1], far))
        polygon = tuple(beside(wall, along, out) for along, out in corners)
        return polygon if twice_area(polygon) > 0 else polygon[::-1]

    def add_keep_out(self, entry: KeepOutEntry, number: int, loc: Loc) -> None:
        """Add a zone without seams."""
        taken = {zone.id.lower() for zone in self.keep_outs}
        name = self._new_name(entry.name, f"keep out {number}", taken, loc)
        polygon = self.spot(entry, loc, "the keep-out", "keep-out-off-wall")
        if name is None or polygon is None:
            return
        if not is_convex(polygon):
            self.faults.add(loc, "not-convex", "a corner of the keep-out points inward", "give it as two zones")
            return
        if apart(self.ring.points, polygon):
            self.faults.add(loc, "keep-out-outside", "the keep-out does not lie in its room", "check its place")
            return
        self.keep_outs.append(KeepOut(id=name, outline=polygon))

    def add_joint(self, entry: JointEntry, number: int, loc: Loc) -> None:
        """Add a joint below."""
        by_wall = entry.parallel_to is not None
        if by_wall == (entry.from_ is not None or entry.to is not None):
            self.faults.add(loc, "no-place", "a joint needs one place", "give from and to, or parallel to and distance")
            return
        if entry.parallel_to is not None:
            wall = self.wall(entry.parallel_to, (*loc, "parallel to"))
            if wall is None:
                return
            out = -(entry.distance or 0)
            line = (beside(wall, 0, out), beside(wall, length_of(wall), out))
            parts = clip_line(self.ring.points, line)
            if not parts:
                self.faults.add(loc, "joint-outside", "the joint does not lie in its room", "check the distance")
        elif entry.from_ is None or entry.to is None or entry.from_ == entry.to:
            self.faults.add(loc, "no-place", "a joint runs from one point to another", "give both from and to")
            return
        else:
            parts = [(entry.from_, entry.to)]
        for i, (start, end) in enumerate(parts):
            name = f"joint {number}" + (f".{i + 1}" if len(parts) > 1 else "")
            self.joints.append(JointBelow(id=name, start=start, end=end))


ENDS = ("from_left", "from_right", "from_north", "from_east", "from_south", "from_west", "centred")
"""The keys that say where on a wall something is."""
