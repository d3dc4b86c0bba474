"""Which rooms go together: one lot and one phase, or one lay direction; and the directions open to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.rules import RuleId
from nesting.floor.frames import lay_directions


@dataclass(frozen=True, slots=True, kw_only=True)
class Clusters:
    """Numbers of the groups that rooms belong to, by room id."""

    phase: Mapping[str, int | None]
    lot: Mapping[str, int]
    arrow: Mapping[str, int]
    groups: tuple[tuple[str, ...], ...]


def cluster_rooms(job: Job, material: Material, room_ids: list[str]) -> Clusters:
    """Return which of the rooms share a lot and a phase (rooms that match) and which share a lay direction.

    Rooms that match share all three; rooms of directed goods that are connected by joined doors share the direction.
    """
    matches = [tuple(room for room in match if room in room_ids) for match in job.matches]
    together = _union(room_ids, matches)
    connected = [*matches]
    if material.directed:
        doors = ((room.id, door.joined[0]) for room in job.rooms for door in room.doors if door.joined is not None)
        loose = {room.id for room in job.rooms if not room.rules.holds(RuleId.LAY_DIRECTION)}
        connected += [pair for pair in doors if set(pair) <= set(room_ids) and not set(pair) & loose]
    arrows = _union(room_ids, connected)
    firsts = sorted(set(together.values()), key=room_ids.index)
    number = {first: index for index, first in enumerate(firsts)}
    lot = {room: number[together[room]] for room in room_ids}
    return Clusters(
        phase={room: lot[room] if material.pattern is not None else None for room in room_ids},
        lot=lot,
        arrow={
            room: room_ids.index(arrows[room])
            for room in room_ids
            if sum(arrows[other] == arrows[room] for other in room_ids) > 1
        },
        groups=tuple(tuple(room for room in room_ids if together[room] == first) for first in firsts),
    )


def _union(names: list[str], links: list[tuple[str, ...]]) -> dict[str, str]:
    """Return for every name the first name of its connected component."""
    first = {name: name for name in names}
    for link in links:
        for one, other in pairwise(link):
            low, high = sorted((first[one], first[other]), key=names.index)
            first = {name: low if value == high else value for name, value in first.items()}
    return first


def tied_rooms(job: Job, material: Material) -> Mapping[str, int]:
    """Return the rooms of a material that must share their lay direction with others, each with its group's number."""
    return cluster_rooms(job, material, [room.id for room in job.rooms if room.material_id == material.id]).arrow


def directions_of(job: Job, material: Material) -> Mapping[str, tuple[LayDirection, ...]]:
    """Return the lay directions worth trying for every room of a material.

    A room of its own has those of `lay_directions`; rooms that must share a direction try those of all of them, or
    there would be none in common where their walls run differently.
    """
    rooms = [room for room in job.rooms if room.material_id == material.id]
    arrow = tied_rooms(job, material)
    own = {room.id: lay_directions(room, material) for room in rooms}
    found: dict[str, tuple[LayDirection, ...]] = {}
    for room in rooms:
        tied = [other.id for other in rooms if room.id in arrow and arrow.get(other.id) == arrow[room.id]]
        every = dict.fromkeys(direction for name in (room.id, *tied) for direction in own[name])
        found[room.id] = room.lays or tuple(every)
    return found
