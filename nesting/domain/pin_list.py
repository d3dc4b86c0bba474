"""The pins of a job one by one, and the job with some of them alone.

Pins are what the user has fixed. A room of which something is cut has its layout pinned, and its group its phase, by
what is cut: nobody can let go of these, so that they are no pins here and stay when pins are lifted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from nesting.domain.job import Job, Room
from nesting.domain.pins import RoomPins
from nesting.domain.rules import RuleId


class PinKind(StrEnum):
    """What is fixed."""

    LAY = "lay"
    SEAM = "seam"
    LAYOUT = "layout"
    MOST_SEAMS = "most-seams"
    GOODS = "goods"
    ONE_LOT = "one-lot"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """One thing that is fixed. `number` tells pins of one kind and room apart; `line` is the job file's, 0: none."""

    kind: PinKind
    rooms: tuple[str, ...]  # ids
    number: int = 0
    words: str = ""
    line: int = 0

    @property
    def key(self) -> tuple[str, tuple[str, ...], int]:
        """What tells it from every other pin of the job."""
        return self.kind.value, self.rooms, self.number


def only_what_is_cut(pins: RoomPins, *, begun: bool) -> RoomPins:
    """Return what stays pinned of a room when the user's pins are lifted; `begun`: something of it is cut."""
    return RoomPins(layout=pins.layout if begun else None, phase_nm=pins.phase_nm)


def pins_of(job: Job, narrowed: frozenset[str]) -> tuple[Pin, ...]:
    """Return all pins in force, room after room as the job has them; lots last.

    `narrowed`: the rooms (ids) whose lay direction was not free anyway.
    """
    begun = job.begun
    found = [pin for room in job.rooms for pin in _of_room(room, room.id in narrowed, room.id in begun)]
    names = {room.id: room.name for room in job.rooms if room.rules.holds(RuleId.PINS)}
    for number, lot in enumerate(job.one_lot):
        bound = [names[room] for room in lot.rooms if room in names]
        if len(bound) < 2:
            continue
        words = f"{' and '.join(bound)}: one lot"
        found.append(Pin(kind=PinKind.ONE_LOT, rooms=lot.rooms, number=number, words=words, line=lot.line))
    return tuple(found)


def _of_room(room: Room, lay: bool, begun: bool) -> list[Pin]:
    pins, found = room.pinned, []

    def add(kind: PinKind, words: str, line: int, number: int = 0) -> None:
        found.append(Pin(kind=kind, rooms=(room.id,), number=number, words=f"{room.name}: {words}", line=line))

    if lay:
        add(PinKind.LAY, "the lay direction", room.pins.lay_line)
    for number, seam in enumerate(pins.seams):
        add(PinKind.SEAM, seam.name, seam.line, number)
    if pins.layout is not None and not begun:
        add(PinKind.LAYOUT, RoomPins(layout=pins.layout).said()[0], pins.layout.line)
    if pins.most_seams is not None:
        add(PinKind.MOST_SEAMS, RoomPins(most_seams=pins.most_seams).said()[0], pins.most_seams_line)
    if pins.sources:
        add(PinKind.GOODS, RoomPins(sources=pins.sources).said()[0], pins.sources_line)
    return found


def with_pins_only(job: Job, kept: Sequence[Pin], narrowed: frozenset[str]) -> Job:
    """Return the job with some of its pins alone, and with what is pinned by what is cut."""
    begun = job.begun
    keys = {pin.key for pin in kept}

    def holds(kind: PinKind, room: Room, number: int = 0) -> bool:
        return (kind.value, (room.id,), number) in keys

    def eased(room: Room) -> Room:
        pins = room.pins
        some = replace(
            pins,
            seams=tuple(seam for n, seam in enumerate(pins.seams) if holds(PinKind.SEAM, room, n)),
            layout=pins.layout if room.id in begun or holds(PinKind.LAYOUT, room) else None,
            most_seams=pins.most_seams if holds(PinKind.MOST_SEAMS, room) else None,
            sources=pins.sources if holds(PinKind.GOODS, room) else (),
        )
        lays = room.lays if room.id not in narrowed or holds(PinKind.LAY, room) else ()
        return replace(room, pins=some, lays=lays)

    lots = tuple(lot for n, lot in enumerate(job.one_lot) if (PinKind.ONE_LOT.value, lot.rooms, n) in keys)
    return replace(job, rooms=tuple(map(eased, job.rooms)), one_lot=lots)
