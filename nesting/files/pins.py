"""What is fixed in a room, from its entry: seams by a wall or two points, a layout, goods in hand, a cap on seams."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from nesting.domain.geometry import Point
from nesting.domain.job import Job, Room
from nesting.domain.layout import RoomLayout
from nesting.domain.material import StockPiece
from nesting.domain.pins import OneLot, PinnedLayout, PinnedSeam, RoomPins
from nesting.domain.rules import RuleId, SeamRules
from nesting.errors import JobError
from nesting.files.faults import Faults
from nesting.files.features import Floor
from nesting.files.fields import nearest
from nesting.files.outline import Segment, beside, clip_line, contains, length_of, position_along
from nesting.files.plan_file import load_plan
from nesting.files.room_entries import PinnedSeamEntry, RoomEntry
from nesting.files.yaml_tree import Loc
from nesting.floor.frames import turn_point

SHORTEST_NM = 300_000_000
"""Two points nearer to one another do not say well which way a seam runs."""


def room_pins(entry: RoomEntry, floor: Floor, rules: SeamRules, loc: Loc, faults: Faults) -> RoomPins:
    """Return what can be read of a room's pins before its place, the stock and other plans are known."""
    pins = entry.pins
    lay_line = faults.line_at((*loc, "lay")) if entry.lay else 0
    if pins is None:
        return RoomPins(lay_line=lay_line)
    at = (*loc, "pins")
    found = (_seam(seam, floor, rules, (*at, "seams", i)) for i, seam in enumerate(pins.seams or ()))
    return RoomPins(
        seams=tuple(seam for seam in found if seam is not None),
        most_seams=pins.most_seams,
        most_seams_line=0 if pins.most_seams is None else faults.line_at((*at, "most seams")),
        lay_line=lay_line,
    )


def _seam(entry: PinnedSeamEntry, floor: Floor, rules: SeamRules, loc: Loc) -> PinnedSeam | None:
    """Return a pinned seam in the room's own frame; it lies on the floor and in no keep-out zone."""
    faults = floor.faults
    placed = _line(entry, floor, loc)
    if placed is None:
        return None
    line, name = placed
    parts = [part for part in clip_line(floor.ring.points, line) if contains(floor.ring.points, _middle(part))]
    if not parts:
        faults.add(loc, "pin-outside", f"{name} does not lie on the floor of the room", "check where it is")
        return None
    for zone in floor.keep_outs if rules.holds(RuleId.KEEP_OUT) else ():
        inside = [part for part in clip_line(zone.outline, line) if contains(zone.outline, _middle(part))]
        if any(_overlap(line, one, other) for one in parts for other in inside):
            hint = "move the seam or the zone, or waive `keep-out` in this room"
            faults.add(loc, "pin-in-keep-out", f"{name} runs through {zone.id}, where no seam may run", hint)
            return None
    return PinnedSeam(name=name, start=line[0], end=line[1], line=faults.line_at(loc))


def _line(entry: PinnedSeamEntry, floor: Floor, loc: Loc) -> tuple[Segment, str] | None:
    """Return the line of a pinned seam, with words for it."""
    by_wall = entry.parallel_to is not None
    if by_wall == (entry.from_ is not None or entry.to is not None):
        what = "a pinned seam needs one place"
        floor.faults.add(loc, "no-place", what, "give parallel to and distance, or from and to")
        return None
    if entry.parallel_to is not None:
        wall = floor.wall(entry.parallel_to, (*loc, "parallel to"))
        if wall is None:
            return None
        if entry.distance is None:
            floor.faults.add(loc, "missing-key", "the key `distance` is missing", "give the distance from the wall")
            return None
        foot = beside(wall, 0, -entry.distance)
        by = foot[0] - wall[0][0], foot[1] - wall[0][1]  # one shift for both ends, so that the line is parallel
        (x0, y0), (x1, y1) = wall
        line = (x0 + by[0], y0 + by[1]), (x1 + by[0], y1 + by[1])
        return line, f"a seam {floor.shown(entry.distance)} from {entry.parallel_to}"
    if entry.from_ is None or entry.to is None:
        floor.faults.add(loc, "no-place", "a seam runs from one point to another", "give both from and to")
        return None
    if length_of((entry.from_, entry.to)) < SHORTEST_NM:
        what = f"two points less than {floor.shown(SHORTEST_NM)} apart do not say which way a seam runs"
        floor.faults.add(loc, "no-place", what, "give points at both ends of it")
        return None
    ends = (", ".join(map(floor.shown, point)) for point in (entry.from_, entry.to))
    return (entry.from_, entry.to), f"a seam from {' to '.join(ends)}"


def _middle(part: Segment) -> Point:
    return (part[0][0] + part[1][0]) // 2, (part[0][1] + part[1][1]) // 2


def _overlap(line: Segment, one: Segment, other: Segment) -> bool:
    """Tell whether two stretches of a line have more than a point in common."""
    spans = [sorted(position_along(line, point)[0] for point in part) for part in (one, other)]
    return max(spans[0][0], spans[1][0]) + 1 < min(spans[0][1], spans[1][1])


# --- goods in hand and lots ------------------------------------------------------------------------------------------


def with_sources(
    room: Room, names: list[str], stock: tuple[StockPiece, ...], raw_ids: list[str], loc: Loc, faults: Faults
) -> Room:
    """Return the room with the goods in hand that are named for it; `raw_ids` are those of broken entries too."""
    known = {piece.id.lower(): piece for piece in stock}
    found = []
    for name in names:
        piece = known.get(name.lower())
        if piece is None:
            if name.lower() not in (other.lower() for other in raw_ids):
                hint = nearest(name, raw_ids) or "list what is in hand under `stock`"
                faults.add(loc, "unknown-name", f"there is no roll or remnant {name!r} in hand", hint)
        elif piece.material_id != room.material_id:
            what = f"{piece.id} is of {piece.material_id}, and {room.name} gets {room.material_id}"
            faults.add(loc, "pin-differs", what, "name goods of the room's own material")
        else:
            found.append(piece.id)
    pins = replace(room.pins, sources=tuple(dict.fromkeys(found)), sources_line=faults.line_at(loc))
    return replace(room, pins=pins)


def one_lot(rooms: list[Room], loc: Loc, faults: Faults) -> OneLot | None:
    """Return rooms that are wanted of one lot."""
    if len({room.id for room in rooms}) < 2:
        faults.add(loc, "lot-of-one", "rooms of one lot are two or more", "write [[Lounge, Hall]]")
        return None
    if len({room.material_id for room in rooms}) > 1:
        what = "rooms of one lot have one material"
        faults.add(loc, "lot-differs", what, "leave out the rooms that get other goods")
        return None
    return OneLot(rooms=tuple(dict.fromkeys(room.id for room in rooms)), line=faults.line_at(loc))


# --- a layout of an earlier plan -------------------------------------------------------------------------------------


def with_layout(room: Room, name: str, folder: Path, loc: Loc, faults: Faults) -> Room:
    """Return the room with the layout that it has in a plan.json; the room stands where it will stand."""
    try:
        plan = load_plan(folder / name)
    except JobError as error:
        first = error.faults[0]
        place = f"{name}: {first.where + ': ' if first.where else ''}{first.what}"
        faults.add(loc, first.code, place, first.hint)
        return room
    old = _room_called(plan.job, room)
    if old is None:
        names = [other.name for other in plan.job.rooms]
        faults.add(loc, "unknown-name", f"{name} has no room {room.name!r}", nearest(room.name, names))
        return room
    layouts = (layout for part in plan.materials for layout in part.layouts if layout.room_id == old.id)
    layout, by = next(layouts, None), _moved_by(old, room)
    if by is None or layout is None:
        what = f"the floor of {room.name} in {name} is another one, so that its layout does not fit"
        faults.add(loc, "pin-differs", what, "pin its seams under `seams` instead")
        return room
    pin = _drawn(layout, by, name, faults.line_at(loc))
    return replace(room, pins=replace(room.pins, layout=pin))


def _room_called(job: Job, room: Room) -> Room | None:
    """Return the room of another job with the name of this one, or with its id."""
    named = (other for other in job.rooms if other.name.lower() == room.name.lower())
    return next(named, None) or next((other for other in job.rooms if other.id == room.id), None)


def _moved_by(old: Room, new: Room) -> Point | None:
    """Return by how much a floor has moved in its plan; None where it is not the same floor."""
    if len(old.outline) != len(new.outline):
        return None
    (ox, oy), (nx, ny) = old.outline[0], new.outline[0]
    by = nx - ox, ny - oy
    same = all((x + by[0], y + by[1]) == point for (x, y), point in zip(old.outline, new.outline, strict=True))
    return by if same else None


def _drawn(layout: RoomLayout, by: Point, name: str, line: int) -> PinnedLayout:
    du, dv = turn_point(by, layout.direction)
    cross = sorted((seam.breadth, seam.at_nm + dv) for seam in layout.cross_seams)
    return PinnedLayout(
        direction=layout.direction,
        seams_nm=tuple(seam.at_nm + du for seam in layout.seams),
        cross_seams_nm=tuple(cross),
        plan=name,
        line=line,
    )
