"""Rooms of one material as the bounds by width count them: every kind of room once, however many there are."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.bounds.measuring import EVERYTHING_NM, distinct_directions
from nesting.bounds.profiles import Profile, profile_of
from nesting.domain.geometry import LayDirection
from nesting.domain.job import Job, Room
from nesting.domain.material import Material, StockPiece, Turning
from nesting.domain.rules import RuleId
from nesting.floor.outlines import LayFloor, lay_floor
from nesting.seams.family import allowed_seams
from nesting.seams.likeness import nameless

Whole = NDArray[np.int64]

FINEST = 16_384
"""Steps across the widest goods up to which rooms are counted by width: with more the cutting step is too fine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayArrays:
    """One lay direction of a room as the compiled loops take it; see `Profile` and `kernels.least_by_seams`.

    `tall_um`: for every step across the least length of a piece there; `most_crossings`: the most cross seams
    that any breadth may have (None: no limit).
    """

    across: int
    overlap: int
    limits: Whole
    runs: Whole
    seams: NDArray[np.bool_]
    forced: Whole
    more_height: int
    holes: Whole
    crossable: bool
    tall_um: Whole
    overlap_um: int
    most_crossings: int | None
    axis: LayDirection | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Rooms that are alike: their ids and lay directions. `groups`: the lot group of each.

    `arrow`: rooms of all kinds with the same number share one lay direction (None: each has its own).
    """

    room_ids: tuple[str, ...]
    groups: tuple[int, ...]
    lays: tuple[LayArrays, ...]
    arrow: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A loose piece or strip run: rectangles (width in steps, height in µm), one of which it is at least."""

    ways: tuple[tuple[int, int], ...]
    parts: bool = False  # may be made up of several parts, one behind the other
    free: bool = False  # the parts may lie any way round: only the least value of a unit of area is sure


def kinds_of(
    job: Job,
    material: Material,
    rooms: Sequence[Room],
    directions: dict[str, tuple[LayDirection, ...]],
    groups: dict[str, int],
    arrows: Mapping[str, int],
) -> tuple[Kind, ...]:
    """Return the rooms of a material as kinds, in the order in which the first of each comes.

    `groups`, `arrows`: numbers of the groups of rooms that share a lot, and a lay direction.
    """
    stock = [piece for piece in job.stock if piece.material_id == material.id]
    matched = {name for match in job.matches if len(match) > 1 for name in match}
    found: dict[Hashable, list[Room]] = {}
    for room in rooms:
        key = (nameless(room), directions[room.id], room.id in matched, arrows.get(room.id))
        found.setdefault(key, []).append(room)
    return tuple(
        Kind(
            room_ids=tuple(room.id for room in alike),
            groups=tuple(groups[room.id] for room in alike),
            lays=tuple(
                _lay_arrays(material, stock, alike[0], direction, anchored=alike[0].id not in matched)
                for direction in distinct_directions(directions[alike[0].id])
            ),
            arrow=arrows.get(alike[0].id),
        )
        for alike in found.values()
    )


def _lay_arrays(
    material: Material, stock: Sequence[StockPiece], room: Room, direction: LayDirection, *, anchored: bool
) -> LayArrays:
    swept = lay_floor(room, material, direction, less_sides_nm=EVERYTHING_NM, less_ends_nm=EVERYTHING_NM)
    straight = all(side.straight for side in swept.sides)
    least = room.least_trim_nm is not None or room.least_end_trim_nm is not None
    profile = profile_of(
        room,
        material,
        swept,
        allowed_seams(room, material, direction),
        anchored=anchored and straight and not least,
    )
    made = material.widths_nm if material.orders_allowed else ()
    widest = max((*made, *(piece.width_nm for piece in stock)), default=1)
    longest = _longest_um(material, stock, room)
    tall = np.array(profile.tall, dtype=np.int64)
    overlap_um = material.seam_overlap_nm // 1000
    forced = forced_by(tall, longest, overlap_um)
    return LayArrays(
        across=profile.across,
        overlap=profile.overlap,
        limits=_limits(material, room, widest),
        runs=np.array(profile.runs, dtype=np.int64).reshape(-1, 6),
        seams=np.array(profile.seams, dtype=np.bool_),
        forced=forced,
        more_height=_more_height(profile, material),
        holes=np.array(profile.holes, dtype=np.int64).reshape(-1, 2),
        crossable=_crossable(room, material, longest is not None),
        tall_um=tall,
        overlap_um=overlap_um,
        most_crossings=_most_crossings(room, material, swept, longest),
        axis=direction.axis,
    )


def _limits(material: Material, room: Room, widest_nm: int) -> Whole:
    """Return the widest breadth, in steps, by the number of its sides that are seams and so keep off the selvedge."""
    step, selvedge = material.cutting_step_nm, material.selvedge_nm
    most = 1 << 62
    if room.access.widest_nm is not None and room.rules.holds(RuleId.ACCESS):
        most = room.access.widest_nm
    return np.array([min(most, widest_nm - selvedge * seams) // step for seams in range(3)], dtype=np.int64)


def _longest_um(material: Material, stock: Sequence[StockPiece], room: Room) -> int | None:
    """Return the longest piece that any goods give and that gets into the room, µm; None: there is no limit."""
    lengths = [piece.length_nm for piece in stock]
    longest: int | None = None
    if not material.orders_allowed:
        longest = max(lengths, default=1)
    elif material.longest_nm is not None:
        longest = max(material.longest_nm - material.squaring_nm, *lengths, 1)
    if room.access.longest_nm is not None and room.rules.holds(RuleId.ACCESS):
        longest = min(longest or room.access.longest_nm, room.access.longest_nm)
    return None if longest is None else -(-longest // 1000)


def forced_by(tall_um: Whole, longest_um: int | None, overlap_um: int) -> Whole:
    """Return how many cross seams pieces of these lengths have at least where none may be longer than that."""
    if longest_um is None:
        return np.zeros(len(tall_um), dtype=np.int64)
    each = max(1, longest_um - overlap_um)
    return np.maximum(0, -(-(tall_um - longest_um) // each))


def _most_crossings(room: Room, material: Material, swept: LayFloor, longest_um: int | None) -> int | None:
    """Return the most cross seams that the rules give any breadth; None: as many as one likes.

    A breadth as long as the whole floor may have the fewest that it needs, its pieces cut a step longer at either end.
    """
    if not room.rules.holds(RuleId.CROSS_SEAMS):
        return None
    _, low, _, high = swept.box
    most = max(side.full_nm for side in swept.sides)
    loose = 2 * (most + material.seam_overlap_nm + 2 * material.cutting_step_nm) // 1000
    length = np.array([(high - low) // 1000 + loose], dtype=np.int64)
    forced = 0 if longest_um is None else int(forced_by(length, max(1, longest_um - loose), 0)[0])
    return max(room.rules.cross_seams_per_breadth, forced)


def _more_height(profile: Profile, material: Material) -> int:
    """Return how much longer a cross seam makes a breadth at least, µm; sure where the floor is one rectangle."""
    return material.seam_overlap_nm // 1000 if len(profile.runs) == 1 else 0


def _crossable(room: Room, material: Material, limited: bool) -> bool:
    """Tell whether a breadth may have cross seams, so that one may run through several holes."""
    rules = room.rules
    return not rules.holds(RuleId.CROSS_SEAMS) or rules.cross_seams_per_breadth > 0 or limited


def items_of(job: Job, material: Material) -> tuple[Item, ...]:
    """Return the loose pieces and strips of a material."""
    step = material.cutting_step_nm
    turnable = material.turning is Turning.FREE and material.pattern is None

    def way(width_nm: int, length_nm: int) -> tuple[int, int]:
        return -(-width_nm // step), length_nm // 1000

    found = []
    for loose in job.loose:
        if loose.material_id == material.id:
            ways = [way(loose.width_nm, loose.length_nm)]
            if turnable:
                ways.append(way(loose.length_nm, loose.width_nm))
            # joined pieces that may be turned can be any widths
            free = turnable and loose.most_parts > 1
            found += [Item(ways=tuple(ways), parts=loose.most_parts > 1, free=free)] * loose.count
    for strip in job.strips:
        if strip.material_id == material.id:
            found += [Item(ways=(way(strip.width_nm, run),), parts=True, free=turnable) for run in strip.runs_nm]
    return tuple(found)
