"""Lay frames: outlines turned once into them, and the directions that a room may be laid in."""

from __future__ import annotations

from math import atan2, hypot, isqrt, pi

from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import Room
from nesting.domain.material import Material, Turning

SNAP_NM = 2
"""How far a turned vertex may be moved so that edges meant to be parallel to an axis are."""

_SAME_ANGLE = 0.001  # radians; walls nearer than this run the same way


def turn_point(point: Point, direction: LayDirection) -> Point:
    """Return a floor point in the lay frame, nearest nanometre."""
    x, y = point
    square = direction.dx * direction.dx + direction.dy * direction.dy
    return (
        _nearest(x * direction.dy - y * direction.dx, square),
        _nearest(x * direction.dx + y * direction.dy, square),
    )


def back_point(point: Point, direction: LayDirection) -> Point:
    """Return a point of the lay frame in the floor frame, nearest nanometre."""
    u, v = point
    square = direction.dx * direction.dx + direction.dy * direction.dy
    return (
        _nearest(u * direction.dy + v * direction.dx, square),
        _nearest(v * direction.dy - u * direction.dx, square),
    )


def turn_outline(outline: tuple[Point, ...], direction: LayDirection) -> tuple[Point, ...]:
    """Return an outline in the lay frame; edges within 2 nm of parallel to an axis become so."""
    turned = [turn_point(point, direction) for point in outline]
    across = _snapped([u for u, _ in turned])
    along = _snapped([v for _, v in turned])
    return tuple(zip(across, along, strict=True))


def lay_directions(room: Room, material: Material) -> tuple[LayDirection, ...]:
    """Return the directions that the room may be laid in: its own list, else those worth trying.

    The dominant direction of the walls comes first (the longest total length of wall, counted modulo a quarter turn),
    then the one across it. The opposite arrows follow where the goods tell them apart and the floor does too: half a
    turn of a floor that is symmetric about its middle, or of a plain piece that may be turned by itself, gives
    nothing new.
    """
    if room.lays:
        return room.lays
    along = _dominant(room)
    directions = [along, _upward(along.quarter_turned(1))]
    plain_free = material.pattern is None and material.turning is Turning.FREE and not material.directed
    symmetric = _point_symmetric(room.outline, tuple(hole.outline for hole in room.holes)) and not room.pinned.seams
    if not plain_free and not symmetric:
        directions += [direction.quarter_turned(2) for direction in directions]
    return tuple(directions)


def _nearest(numerator: int, square: int) -> int:
    """Return numerator / √square rounded to the nearest whole number, halves away from zero."""
    size = (isqrt(4 * numerator * numerator // square) + 1) // 2
    return size if numerator >= 0 else -size


def _snapped(values: list[int]) -> list[int]:
    """Return coordinates of a ring's vertices with neighbours that differ by at most 2 nm made equal."""
    count = len(values)
    joined = [abs(values[i] - values[(i + 1) % count]) <= SNAP_NM for i in range(count)]
    if all(joined) or not any(joined):
        return values
    out = list(values)
    start = next(i for i in range(count) if not joined[i - 1])
    chain = [start]
    for step in range(1, count + 1):
        here = (start + step) % count
        if joined[here - 1] and step < count:
            chain.append(here)
            continue
        _level(out, chain)
        chain = [here]
    return out


def _level(values: list[int], chain: list[int]) -> None:
    """Give all vertices of a chain one value, if none moves by more than 2 nm for it."""
    low, high = min(values[i] for i in chain), max(values[i] for i in chain)
    middle = (low + high) // 2
    if high - middle <= SNAP_NM:
        for i in chain:
            values[i] = middle


def _upward(direction: LayDirection) -> LayDirection:
    """Return the direction or its opposite, whichever points up (or to the right)."""
    if direction.dy < 0 or (direction.dy == 0 and direction.dx < 0):
        return direction.quarter_turned(2)
    return direction


def _dominant(room: Room) -> LayDirection:
    """Return the direction of the walls that are longest in all, modulo a quarter turn."""
    groups: list[tuple[float, float, float, LayDirection]] = []  # (angle mod 90°, total, longest, direction)
    count = len(room.outline)
    for i, (x0, y0) in enumerate(room.outline):
        x1, y1 = room.outline[(i + 1) % count]
        length = hypot(x1 - x0, y1 - y0)
        angle = atan2(y1 - y0, x1 - x0) % (pi / 2)
        direction = _upward(LayDirection.towards(x1 - x0, y1 - y0))
        for number, (other, total, longest, found) in enumerate(groups):
            if min(abs(angle - other), pi / 2 - abs(angle - other)) < _SAME_ANGLE:
                kept = (angle, direction) if length > longest else (other, found)
                groups[number] = (kept[0], total + length, max(longest, length), kept[1])
                break
        else:
            groups.append((angle, length, length, direction))
    return max(groups, key=lambda group: group[1])[3]


def _point_symmetric(outline: tuple[Point, ...], holes: tuple[tuple[Point, ...], ...]) -> bool:
    """Tell whether half a turn about the middle of its bounding rectangle leaves a floor as it is."""
    across = min(x for x, _ in outline) + max(x for x, _ in outline)
    along = min(y for _, y in outline) + max(y for _, y in outline)
    points = {*_corners(outline), *(point for hole in holes for point in _corners(hole))}
    near = range(-SNAP_NM, SNAP_NM + 1)
    return all(any((across - x + i, along - y + j) in points for i in near for j in near) for x, y in points)


def _corners(ring: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return the vertices where the ring turns."""
    corners = []
    for i, (x, y) in enumerate(ring):
        (px, py), (qx, qy) = ring[i - 1], ring[(i + 1) % len(ring)]
        if (x - px) * (qy - y) != (y - py) * (qx - x):
            corners.append((x, y))
    return tuple(corners)
