"""V4s to V4w: what the user has fixed stands in the plan as it was fixed, judged by the job's data alone."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.supply import ROOM_CUTS
from nesting.checker.whole import turned
from nesting.domain.job import Job, Room
from nesting.domain.layout import RoomLayout
from nesting.domain.rules import RuleId


def _laid(view: View) -> Iterator[tuple[Room, RoomLayout]]:
    """Yield the rooms whose pins hold, with their layouts."""
    for name, room in view.rooms.items():
        if room.rules.holds(RuleId.PINS):
            yield room, view.layouts[name]


def _broken(rule: str, room: Room, text: str) -> Finding:
    return Finding(rule=rule, where=f"room {room.id}", text=text, breaks=RuleId.PINS, owners=(room.id,))


def check_pinned_seams(view: View) -> Iterator[Finding]:
    """V4s: for every pinned seam there is a seam from which both ends of it are at most half a cutting step."""
    for room, layout in _laid(view):
        for pin in room.pins.seams:
            ends = [turned(point, layout.direction)[0] for point in (pin.start, pin.end)]
            apart = [max(abs(seam.at_nm - end) for end in ends) for seam in layout.seams]
            if not any(2 * far <= view.material.cutting_step_nm for far in apart):
                yield _broken("V4s", room, f"no seam lies where {pin.name} is pinned")


def check_pinned_layout(view: View) -> Iterator[Finding]:
    """V4t: a pinned layout has the direction, the seams and the cross seams that were pinned, and no others."""
    for room, layout in _laid(view):
        pin = room.pins.layout
        if pin is None:
            continue
        if layout.direction != pin.direction:
            yield _broken("V4t", room, "is not laid in the direction that was pinned")
        if [seam.at_nm for seam in layout.seams] != list(pin.seams_nm):
            yield _broken("V4t", room, "has not the seams that were pinned")
        cross = sorted((seam.breadth, seam.at_nm) for seam in layout.cross_seams)
        if cross != sorted(pin.cross_seams_nm):
            yield _broken("V4t", room, "has not the cross seams that were pinned")


def check_seams_of_room(view: View) -> Iterator[Finding]:
    """V4u: a room has no more seams, cross seams and relief cuts than were allowed it."""
    for room, layout in _laid(view):
        count = len(layout.seams) + len(layout.cross_seams) + len(layout.relief_cuts)
        most = room.pins.most_seams
        if most is not None and count > most:
            yield _broken("V4u", room, f"has {count} seams, at most {most} were allowed it")


def check_pinned_goods(view: View) -> Iterator[Finding]:
    """V4v: a room for which goods in hand were named is cut from these and nothing else."""
    for room, _ in _laid(view):
        if not room.pins.sources:
            continue
        for cut in view.cuts_of(room.id):
            source = view.source_of(cut)
            if cut.kind in ROOM_CUTS and source.stock_id not in room.pins.sources:
                yield _broken("V4v", room, f"{cut.id} is cut from {source.id}, not from what was named for the room")


def check_one_lot(view: View) -> Iterator[Finding]:
    """V4w: rooms that the user wants of one lot are cut from one lot, less those that may do without by consent."""
    let_go = {item.owner for item in view.plan.consents if item.rule in (RuleId.PINS, RuleId.ONE_LOT)}
    for pin in view.job.one_lot:
        wanted = (name for name in pin.rooms if name in view.rooms and _wants_one_lot(view.rooms[name]))
        rooms = [name for name in wanted if name not in let_go]
        cuts = [cut for name in rooms for cut in view.cuts_of(name) if cut.kind in ROOM_CUTS]
        lots = sorted({view.source_of(cut).lot for cut in cuts})
        if len(lots) > 1:
            text = f"are wanted of one lot and cut from lots {', '.join(lots)}"
            where = f"room {' and '.join(rooms)}"
            yield Finding(
                rule="V4w", where=where, text=text, breaks=RuleId.PINS, breaks_too=RuleId.ONE_LOT, owners=tuple(rooms)
            )


def _wants_one_lot(room: Room) -> bool:
    return room.rules.holds(RuleId.PINS) and room.rules.holds(RuleId.ONE_LOT)


def insane_pins(job: Job, room: Room) -> Iterator[str]:
    """Yield what is pinned in a room that cannot be meant: goods that are not there, or not of its material."""
    stock = {piece.id: piece.material_id for piece in job.stock}
    for name in room.pins.sources:
        if stock.get(name) != room.material_id:
            yield f"is to be cut from {name}, which is no piece of its material in hand"
    for seam in room.pins.seams:
        if seam.start == seam.end:
            yield f"has {seam.name} pinned, which has no direction"
