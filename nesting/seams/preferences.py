"""Preferences for seams, priced in nanometres of seam: along traffic and light, few, short, out of the view."""

from __future__ import annotations

from math import hypot

from nesting.domain.geometry import LayDirection, Point
from nesting.seams.rules import Ground

WIDE_OPENING_NM = 1_000_000_000
"""What a seam that ends inside a wide opening is disliked, in nm of seam."""


def dislike_nm(ground: Ground, along_nm: int, across_nm: int, ends: tuple[Point, ...]) -> int:
    """Return how disliked the seams of a layout are: a smaller number is better.

    Parameters
    ----------
    along_nm, across_nm
        Length of the seams that run along the lay, and of those that run across it.
    ends
        Where the seams end; in a wide door opening that is priced.
    """
    room, lay = ground.room, ground.floor.direction
    total = 0.0
    for wish in (room.traffic, room.light, room.view):
        if wish is not None:
            across = _sine(lay, wish)  # 1 where the lay runs square to the wish
            total += along_nm * across + across_nm * (1 - across)
    for door, (au, av), (bu, bv) in ground.doors:
        if not door.bridgeable:
            for u, v in ends:
                if _between((u, v), (au, av), (bu, bv)):
                    total += WIDE_OPENING_NM
    return round(total)


def _sine(one: LayDirection, other: LayDirection) -> float:
    return abs(one.dx * other.dy - one.dy * other.dx) / (hypot(one.dx, one.dy) * hypot(other.dx, other.dy))


def _between(point: Point, start: Point, end: Point) -> bool:
    """Tell whether a point lies on a segment, strictly between its ends, to within 4 nm."""
    du, dv = end[0] - start[0], end[1] - start[1]
    square = du * du + dv * dv
    along = (point[0] - start[0]) * du + (point[1] - start[1]) * dv
    off = (point[0] - start[0]) * dv - (point[1] - start[1]) * du
    return 0 < along < square and off * off <= 16 * square
