"""The rooms as they are now: what is cut of them, or of rooms that match, settles their layout and their phase."""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.geometry import Point
from nesting.domain.job import PatternPlacement, Room
from nesting.domain.layout import RoomLayout
from nesting.domain.pins import PinnedLayout, RoomPins
from nesting.domain.plan import Notice, Plan
from nesting.domain.rules import RuleId
from nesting.estimating.begun import Begun, told_of

WHAT_IS_CUT = "what is cut"
"""Where a layout is pinned from because something of the room is cut."""


def pinned_as_begun(room: Room, layout: RoomLayout, phase: Point | None) -> Room:
    """Return a room with its layout pinned as it is begun."""
    pinned = PinnedLayout(
        direction=layout.direction,
        seams_nm=tuple(seam.at_nm for seam in layout.seams),
        cross_seams_nm=tuple((seam.breadth, seam.at_nm) for seam in layout.cross_seams),
        plan=WHAT_IS_CUT,
    )
    return _with_pins(room, replace(room.pinned, layout=pinned, phase_nm=phase))


def _with_pins(room: Room, pins: RoomPins) -> Room:
    """Return a room with pins that are in force, whatever is waived in it."""
    waived = tuple(rule for rule in room.rules.waived if rule is not RuleId.PINS)
    return replace(room, rules=replace(room.rules, waived=waived), pins=pins)


def _let_loose(room: Room) -> Room:
    """Return a room without what was pinned because something of it was cut."""
    pins = replace(room.pins, phase_nm=None)
    if pins.layout is not None and pins.layout.plan == WHAT_IS_CUT:
        pins = replace(pins, layout=None)
    return replace(room, pins=pins)


def _laid_as_cut(begun: Begun, room: Room) -> Room:
    """Return a room whose phase what is cut decides: where its walls lie elsewhere now, its wish cannot hold."""
    was = next((item for item in begun.plan.job.rooms if item.id == room.id), None)
    if room.placement == PatternPlacement() or (was is not None and was.outline == room.outline):
        return room
    text = f"{room.name}: the pattern lies as in what is cut, no more as it was wanted"
    begun.notices.append(Notice(code="pattern-as-cut", text=text, room_id=room.id))
    return replace(room, placement=PatternPlacement())


def room_now(begun: Begun, given: Room, start: Plan) -> Room:
    """Return a room with what is settled by what is cut of it or of rooms that match; wound goods turn its lay."""
    room = _let_loose(given)
    part = next((item for item in start.materials if item.material_id == room.material_id), None)
    if part is None:
        return room
    kept = begun.kept()
    begun_rooms = {cut.owner for cut in part.cuts if cut.id in kept}
    group = next((item for item in part.phase_groups if room.id in item.room_ids), None)
    phase = group.phase_nm if group is not None and begun_rooms & set(group.room_ids) else None
    if phase is not None:
        room = _laid_as_cut(begun, room)
    if room.id in begun_rooms:
        layout = next(item for item in part.layouts if item.room_id == room.id)
        return pinned_as_begun(room, layout, phase)
    if phase is not None:
        return _with_pins(room, replace(room.pinned, phase_nm=phase))
    turned = any(item.wound_other_way for item in told_of(begun, room.material_id))
    directed = any(item.directed for item in begun.job.materials if item.id == room.material_id)
    if turned and directed and room.lays:
        return replace(room, lays=tuple(lay.quarter_turned(2) for lay in room.lays))
    return room
