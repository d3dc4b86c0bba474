"""Rooms that are alike in everything but their names and their place in the building: laid out once for all of them."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace

from nesting.domain.geometry import LayDirection, Point, Rect
from nesting.domain.job import PatternPlacement, Room
from nesting.domain.layout import Cut, CutKind, RoomLayout
from nesting.domain.material import Material
from nesting.domain.pins import RoomPins
from nesting.floor.frames import turn_point
from nesting.seams.laid import LaidRoom
from nesting.seams.layouts import Laid


def nameless(room: Room) -> Room:
    """Return the room without what people call it and its parts; walls that its placement names go by their number."""
    walls = {edge.wall: f"{index}" for index, edge in reversed(list(enumerate(room.edges)))}
    doors = {door.id: f"{index}" for index, door in enumerate(room.doors)}
    wishes = room.placement
    return replace(
        room,
        id="",
        name="",
        plan_id="",
        material_id="",
        line=0,
        pins=_nameless(room.pins),
        edges=tuple(replace(edge, wall="", door=doors.get(edge.door, "")) for edge in room.edges),
        holes=tuple(replace(hole, id="") for hole in room.holes),
        doors=tuple(replace(door, id="", joined=None) for door in room.doors),
        keep_outs=tuple(replace(zone, id="") for zone in room.keep_outs),
        joints_below=tuple(replace(joint, id="") for joint in room.joints_below),
        placement=replace(
            wishes,
            across_wall=walls.get(wishes.across_wall, ""),
            along_wall=walls.get(wishes.along_wall, ""),
        ),
    )


def _nameless(pins: RoomPins) -> RoomPins:
    """Return pins without words and lines."""
    layout = pins.layout
    return RoomPins(
        seams=tuple(replace(seam, name="", line=0) for seam in pins.seams),
        layout=None if layout is None else replace(layout, plan="", line=0),
        most_seams=pins.most_seams,
        sources=pins.sources,
        phase_nm=pins.phase_nm,
    )


@dataclass(slots=True)
class LaidOnce:
    """The layouts of one material's rooms; a room like one that was laid before takes over its layouts."""

    material: Material
    times: int = 0  # how often a room was laid out indeed
    known: dict[Hashable, tuple[Room, Laid]] = field(default_factory=dict)

    def laid(
        self,
        room: Room,
        lays: tuple[LayDirection, ...],
        asked: Hashable,
        make: Callable[[tuple[LayDirection, ...]], Laid],
        *,
        pinned: bool,
    ) -> Laid:
        """Return the layouts that `make` gives for the room, or those of a room like it, moved to its place.

        Parameters
        ----------
        lays
            The directions to look at.
        asked
            What else the layouts depend on.
        pinned
            Its place counts: the cutting step is counted from a point outside the room.
        """
        movable = not pinned and self._movable(room, lays)
        key = (_key(room, movable), lays, asked)
        known = self.known.get(key)
        if known is not None:
            return Laid(layouts=tuple(_taken_over(item, known[0], room, movable) for item in known[1].layouts))
        laid = make(lays)
        self.times += 1
        if laid.layouts:  # a refusal speaks of one room
            self.known[key] = (room, laid)
        return laid

    def _movable(self, room: Room, lays: tuple[LayDirection, ...]) -> bool:
        """Tell whether nothing depends on where the room stands: no oblique turning, no place of a pattern."""
        if room.pinned.seams or room.pinned.layout is not None:
            return False
        upright = all(lay.dx == 0 or lay.dy == 0 for lay in lays)
        if self.material.pattern is None:
            return upright
        lines = self.material.seam_lines_across_nm or self.material.seam_lines_along_nm
        return upright and not lines and room.placement == PatternPlacement()


def _key(room: Room, movable: bool) -> Hashable:
    """Return a key that is equal for rooms with the same layouts."""
    if room.placement != PatternPlacement():
        return replace(room, id="", name="", line=0)
    bare = nameless(room)
    if not movable:
        return bare
    x, y = _corner(room)

    def moved(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((px - x, py - y) for px, py in points)

    def ends(pair: tuple[Point, Point]) -> tuple[Point, Point]:
        return (pair[0][0] - x, pair[0][1] - y), (pair[1][0] - x, pair[1][1] - y)

    return replace(
        bare,
        outline=moved(bare.outline),
        holes=tuple(replace(hole, outline=moved(hole.outline)) for hole in bare.holes),
        doors=tuple(replace(door, opening=ends(door.opening), line=ends(door.line)) for door in bare.doors),
        keep_outs=tuple(replace(zone, outline=moved(zone.outline)) for zone in bare.keep_outs),
        joints_below=tuple(
            replace(joint, start=(joint.start[0] - x, joint.start[1] - y), end=(joint.end[0] - x, joint.end[1] - y))
            for joint in bare.joints_below
        ),
    )


def _corner(room: Room) -> Point:
    return min(x for x, _ in room.outline), min(y for _, y in room.outline)


def _taken_over(item: LaidRoom, old: Room, new: Room, movable: bool) -> LaidRoom:
    """Return a layout of the old room as one of the new room."""
    (ox, oy), (nx, ny) = (_corner(old), _corner(new)) if movable else ((0, 0), (0, 0))
    du, dv = turn_point((nx - ox, ny - oy), item.layout.direction)
    layout = item.layout

    def point(p: Point) -> Point:
        return p[0] + du, p[1] + dv

    moved = RoomLayout(
        room_id=new.id,
        direction=layout.direction,
        floor=tuple(map(point, layout.floor)),
        holes=tuple(tuple(map(point, hole)) for hole in layout.holes),
        seams=tuple(
            replace(seam, at_nm=seam.at_nm + du, runs=tuple((a + dv, b + dv) for a, b in seam.runs))
            for seam in layout.seams
        ),
        cross_seams=tuple(
            replace(seam, at_nm=seam.at_nm + dv, runs=tuple((a + du, b + du) for a, b in seam.runs))
            for seam in layout.cross_seams
        ),
        relief_cuts=tuple(
            replace(cut, cut_id=_renamed(cut.cut_id, old.id, new.id), start=point(cut.start), end=point(cut.end))
            for cut in layout.relief_cuts
        ),
    )
    return replace(item, layout=moved, cuts=tuple(_cut(cut, old, new, du, dv) for cut in item.cuts))


def _cut(cut: Cut, old: Room, new: Room, du: int, dv: int) -> Cut:
    """Return a cut of the old room as one of the new room; an insert lies in no room."""
    du, dv = (du, dv) if cut.kind is CutKind.DROP else (0, 0)
    return replace(
        cut,
        id=_renamed(cut.id, old.id, new.id),
        owner=new.id,
        label=_renamed(cut.label, old.name, new.name),
        rects=tuple(Rect(r.x0_nm + du, r.y0_nm + dv, r.x1_nm + du, r.y1_nm + dv) for r in cut.rects),
    )


def _renamed(text: str, old: str, new: str) -> str:
    return new + text[len(old) :]
