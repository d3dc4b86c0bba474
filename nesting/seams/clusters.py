"""Which rooms go together: one lot and one phase, or one lay direction; and the directions open to them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Job, PatternPlacement, Room
from nesting.domain.material import Material
from nesting.domain.rules import RuleId
from nesting.floor.pinned import directions_open

FEW_ROOMS = 12
"""Up to so many rooms of a material, every direction that may gain anything is tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clusters:
    """Numbers of the groups that rooms belong to, by room id."""

    phase: Mapping[str, int | None]
    lot: Mapping[str, int]
    arrow: Mapping[str, int]
    groups: tuple[tuple[str, ...], ...]


def cluster_rooms(job: Job, material: Material, room_ids: list[str]) -> Clusters:
    """Return which of the rooms share a lot and a phase (rooms that match) and which share a lay direction.

    Rooms that match share all three, rooms that the user wants of one lot just that; rooms of directed goods that are
    connected by joined doors share the direction.
    """
    known = set(room_ids)
    matches = [tuple(room for room in match if room in known) for match in job.matches]
    together = _union(room_ids, matches)
    connected = [*matches]
    if material.directed:
        doors = ((room.id, door.joined[0]) for room in job.rooms for door in room.doors if door.joined is not None)
        loose = {room.id for room in job.rooms if not room.rules.holds(RuleId.LAY_DIRECTION)}
        connected += [pair for pair in doors if set(pair) <= known and not set(pair) & loose]
    arrows = _union(room_ids, connected)
    pinned = {room.id for room in job.rooms if room.id in known and room.rules.holds(RuleId.PINS)}
    lots = _union(room_ids, [*matches, *(tuple(room for room in pin.rooms if room in pinned) for pin in job.one_lot)])
    places = {room: place for place, room in enumerate(room_ids)}
    sizes = Counter(arrows.values())
    firsts = sorted(set(together.values()), key=lambda room: places[room])
    members: dict[str, list[str]] = {first: [] for first in firsts}
    for room in room_ids:
        members[together[room]].append(room)
    number = {first: index for index, first in enumerate(firsts)}
    phase = {room: number[together[room]] for room in room_ids}
    return Clusters(
        phase={room: phase[room] if material.pattern is not None else None for room in room_ids},
        lot={room: phase[lots[room]] for room in room_ids},
        arrow={room: places[arrows[room]] for room in room_ids if sizes[arrows[room]] > 1},
        groups=tuple(tuple(members[first]) for first in firsts),
    )


def _union(names: list[str], links: list[tuple[str, ...]]) -> dict[str, str]:
    """Return for every name the first name of its connected component."""
    places = {name: place for place, name in enumerate(names)}
    parent = list(range(len(names)))

    def root(place: int) -> int:
        while parent[place] != place:
            parent[place] = parent[parent[place]]
            place = parent[place]
        return place

    for link in links:
        for one, other in pairwise(link):
            low, high = sorted((root(places[one]), root(places[other])))
            parent[high] = low
    return {name: names[root(place)] for name, place in places.items()}


def tied_rooms(job: Job, material: Material) -> Mapping[str, int]:
    """Return the rooms of a material that must share their lay direction with others, each with its group's number."""
    return cluster_rooms(job, material, [room.id for room in job.rooms if room.material_id == material.id]).arrow


def directions_of(job: Job, material: Material) -> Mapping[str, tuple[LayDirection, ...]]:
    """Return the lay directions worth trying for every room of a material.

    A room of its own has those of `directions_open`; rooms that must share a direction try those of all of them, or
    there would be none in common where their walls run differently.
    """
    rooms = [room for room in job.rooms if room.material_id == material.id]
    arrow = tied_rooms(job, material)
    own = {room.id: directions_open(room, material) for room in rooms}
    of_group: dict[int, dict[LayDirection, None]] = {}
    for room in rooms:
        if room.id in arrow:
            of_group.setdefault(arrow[room.id], {}).update(dict.fromkeys(own[room.id]))
    found: dict[str, tuple[LayDirection, ...]] = {}
    for room in rooms:
        every = {**dict.fromkeys(own[room.id]), **of_group.get(arrow.get(room.id, -1), {})}
        told = room.lays or room.pinned.seams or room.pinned.layout is not None
        found[room.id] = own[room.id] if told else tuple(every)
    return found


def directions_to_try(job: Job, material: Material) -> Mapping[str, tuple[LayDirection, ...]]:
    """Return the directions of `directions_of` less those that can give no better plan, or hardly.

    All rooms of a group turned end for end at once is the same plan with its rolls turned end for end. That holds
    while no roll has a flaw or a phase of its own, no pattern is placed, and drops need not lie in roll order. Where
    there are many rooms, phases of goods in hand and what half a turn of one room gains count less than seeing more
    seams in the time.
    """
    directions = directions_of(job, material)
    arrow = tied_rooms(job, material)
    stock = [piece for piece in job.stock if piece.material_id == material.id]
    many = len(directions) > FEW_ROOMS
    if material.in_sequence or any(piece.flaws or (piece.phase_nm is not None and not many) for piece in stock):
        return directions
    rooms = {room.id: room for room in job.rooms}
    told = [room for room in directions if _is_told(rooms[room])]
    fixed = {arrow[room] for room in told if room in arrow}  # groups whose ends somebody told apart
    return {
        room: _one_way(lays) if (arrow[room] not in fixed if room in arrow else many and room not in told) else lays
        for room, lays in directions.items()
    }


def _is_told(room: Room) -> bool:
    """Tell whether somebody has said something of a room that half a turn changes."""
    pinned = room.pinned.seams or room.pinned.layout is not None
    return bool(room.lays or pinned or room.placement != PatternPlacement())


def _one_way(lays: tuple[LayDirection, ...]) -> tuple[LayDirection, ...]:
    """Return directions without those that only point the other way than an earlier one."""
    kept: list[LayDirection] = []
    for lay in lays:
        if lay.quarter_turned(2) not in kept:
            kept.append(lay)
    return tuple(kept)
