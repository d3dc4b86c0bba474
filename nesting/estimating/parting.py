"""The part of a job that one material is cut for: materials share nothing."""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.job import Door, Job, Room


def part_of(job: Job, material_id: str) -> Job:
    """Return the job with only what is of one material: rooms, stock, loose pieces, strips, matches, lots, what is cut.

    A door to a room that is left out leads nowhere: how the goods end there stays as it is.
    """
    mine = frozenset(room.id for room in job.rooms if room.material_id == material_id)
    matches = (tuple(room for room in match if room in mine) for match in job.matches)
    one_lot = (replace(item, rooms=tuple(room for room in item.rooms if room in mine)) for item in job.one_lot)
    stock = tuple(piece for piece in job.stock if piece.material_id == material_id)
    in_hand = {piece.id for piece in stock}
    return replace(
        job,
        materials=tuple(material for material in job.materials if material.id == material_id),
        rooms=tuple(_without_others(room, mine) for room in job.rooms if room.id in mine),
        stock=stock,
        loose=tuple(piece for piece in job.loose if piece.material_id == material_id),
        strips=tuple(strip for strip in job.strips if strip.material_id == material_id),
        matches=tuple(match for match in matches if len(match) > 1),
        one_lot=tuple(item for item in one_lot if len(item.rooms) > 1),
        done=tuple(item for item in job.done if item.source_id in in_hand),
    )


def _without_others(room: Room, mine: frozenset[str]) -> Room:
    return replace(room, doors=tuple(_within(door, mine) for door in room.doors))


def _within(door: Door, mine: frozenset[str]) -> Door:
    return door if door.joined is None or door.joined[0] in mine else replace(door, joined=None)
