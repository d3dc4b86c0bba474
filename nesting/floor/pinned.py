"""Pinned seams in the lay frame: the directions that run along them, and where they then lie."""

from __future__ import annotations

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.pins import PinnedSeam
from nesting.floor.frames import lay_directions, turn_point

ROUNDING_NM = 2
"""What turning may have moved a point by: kept clear of, so that exact arithmetic finds the same."""


def place_of(seam: PinnedSeam, direction: LayDirection) -> tuple[int, int]:
    """Return the ends of a pinned seam across the lay, the lesser first."""
    one, other = turn_point(seam.start, direction)[0], turn_point(seam.end, direction)[0]
    return min(one, other), max(one, other)


def within_nm(material: Material) -> int:
    """Return how far either end of a pinned seam may lie from the seam: half a cutting step, less the rounding."""
    return max(0, material.cutting_step_nm // 2 - ROUNDING_NM)


def lies_on(at_nm: int, seam: PinnedSeam, direction: LayDirection, material: Material) -> bool:
    """Tell whether a seam at u = `at_nm` lies on a pinned one."""
    low, high = place_of(seam, direction)
    return max(high - at_nm, at_nm - low) <= within_nm(material)


def directions_open(room: Room, material: Material) -> tuple[LayDirection, ...]:
    """Return the directions that a room may be laid in: those of `lay_directions` that keep its pins.

    Seams pinned along none of them are laid along in their own direction, unless the room has a list of its own. Pins
    that no direction keeps narrow nothing: that they contradict shows when the room is laid.
    """
    free = lay_directions(room, material)
    return pinned_directions(room, material, free) or free


def pinned_directions(room: Room, material: Material, free: tuple[LayDirection, ...]) -> tuple[LayDirection, ...]:
    """Return which directions keep the room's pins; () where none does."""
    pins = room.pinned
    if pins.layout is not None:
        free = (pins.layout.direction,) if not room.lays or pins.layout.direction in room.lays else ()
    if not pins.seams:
        return free
    found = tuple(lay for lay in free if _along_all(pins.seams, lay, material))
    if found or room.lays or pins.layout is not None:
        return found
    (x0, y0), (x1, y1) = pins.seams[0].start, pins.seams[0].end
    one = LayDirection.towards(x1 - x0, y1 - y0)
    if one.dy < 0 or (one.dy == 0 and one.dx < 0):
        one = one.quarter_turned(2)
    return tuple(lay for lay in (one, one.quarter_turned(2)) if _along_all(pins.seams, lay, material))


def _along_all(seams: tuple[PinnedSeam, ...], lay: LayDirection, material: Material) -> bool:
    """Tell whether a seam along the lay can lie on each of the lines."""
    ends = (place_of(seam, lay) for seam in seams)
    return all(high - low <= 2 * within_nm(material) for low, high in ends)
