"""Coved walls: flaps that may not share goods, inserts at outside corners, and seams that run up the cove."""

from __future__ import annotations

from itertools import combinations
from math import hypot

from nesting.domain.geometry import Rect
from nesting.domain.layout import Cut, CutKind
from nesting.floor.outlines import LayFloor, Side
from nesting.floor.parts import Part
from nesting.seams.rules import Ground

Polygon = list[tuple[float, float]]

TOUCH_NM = 8.0
"""Overlaps thinner than this are rounding."""


def shared_cove_nm(part: Part) -> int:
    """Return how deep two coved flaps of a part, or a flap and the part's floor, want the same goods (0: nowhere)."""
    coved = [side for side in part.sides if side.cove_nm]
    if not coved:
        return 0
    worst = 0.0
    flaps = [(side, _flap(side)) for side in coved]
    for (one, first), (other, second) in combinations(flaps, 2):
        if not _neighbours(one, other):
            worst = max(worst, _depth(first, second))
    for side, flap in flaps:
        for other in part.sides:
            # a side of the part's own floor that cuts into the flap from beyond it
            if other is not side and not _neighbours(side, other) and _cuts_into(flap, other):
                worst = max(worst, float(side.cove_nm))
    return round(worst) if worst > TOUCH_NM else 0


def outside_corners(floor: LayFloor) -> tuple[int, ...]:
    """Return the cove heights of the floor's outside corners between two coved walls."""
    outer = floor.sides[: len(floor.outline)]
    heights = []
    for i, side in enumerate(outer):
        before = outer[i - 1]
        turn = (before.bu - before.au) * (side.bv - side.av) - (before.bv - before.av) * (side.bu - side.au)
        if turn < 0 and before.cove_nm and side.cove_nm:
            heights.append(max(before.cove_nm, side.cove_nm))
    return tuple(heights)


def inserts(ground: Ground, floor: LayFloor, step_nm: int, first: int) -> tuple[Cut, ...]:
    """Return the inserts for the outside corners of a room's cove, numbered on from its drops."""
    room = ground.room
    cuts = []
    for number, height in enumerate(outside_corners(floor), start=first):
        width = -(-height // step_nm) * step_nm
        length = -(-height * room.rules.insert_factor // step_nm) * step_nm
        cuts.append(
            Cut(
                id=f"{room.id}-{number}",
                number=0,
                kind=CutKind.INSERT,
                owner=room.id,
                label=f"{room.name} insert {number - first + 1}",
                rects=(Rect(0, 0, width, length),),
            )
        )
    return tuple(cuts)


def run_up_nm(floor: LayFloor, point: tuple[float, float]) -> int:
    """Return the height of the cove at the end of a seam (0: none)."""
    best = 0
    for side in floor.sides:
        if side.cove_nm and _distance(point, side) <= TOUCH_NM:
            best = max(best, side.cove_nm)
    return best


def _flap(side: Side) -> Polygon:
    au, av, bu, bv = float(side.au), float(side.av), float(side.bu), float(side.bv)
    length = hypot(bu - au, bv - av)
    nu, nv = (bv - av) / length * side.given_nm, -(bu - au) / length * side.given_nm
    return [(au, av), (au + nu, av + nv), (bu + nu, bv + nv), (bu, bv)]


def _neighbours(one: Side, other: Side) -> bool:
    return (one.bu, one.bv) == (other.au, other.av) or (other.bu, other.bv) == (one.au, one.av)


def _depth(one: Polygon, other: Polygon) -> float:
    """Return how deep two convex polygons overlap (0: they do not), by the axis that parts them best."""
    depth = float("inf")
    for ring in (one, other):
        for i, (bu, bv) in enumerate(ring):
            au, av = ring[i - 1]
            length = hypot(bu - au, bv - av)
            if not length:
                continue
            nu, nv = (bv - av) / length, -(bu - au) / length
            first = [u * nu + v * nv for u, v in one]
            second = [u * nu + v * nv for u, v in other]
            depth = min(depth, min(max(first), max(second)) - max(min(first), min(second)))
    return max(0.0, depth)


def _cuts_into(flap: Polygon, side: Side) -> bool:
    """Tell whether a side runs through the inside of a flap."""
    a, b = (float(side.au), float(side.av)), (float(side.bu), float(side.bv))
    low, high = 0.0, 1.0
    length = hypot(b[0] - a[0], b[1] - a[1])
    for i, (bu, bv) in enumerate(flap):
        au, av = flap[i - 1]
        edge = hypot(bu - au, bv - av)
        if not edge:
            return False
        # a flap is walked clockwise from its wall outward or not: take the side on which its middle lies
        mu, mv = sum(u for u, _ in flap) / 4, sum(v for _, v in flap) / 4
        sign = 1.0 if (bu - au) * (mv - av) - (bv - av) * (mu - au) > 0 else -1.0
        first = ((bu - au) * (a[1] - av) - (bv - av) * (a[0] - au)) / edge * sign - TOUCH_NM
        last = ((bu - au) * (b[1] - av) - (bv - av) * (b[0] - au)) / edge * sign - TOUCH_NM
        if first <= 0 and last <= 0:
            return False
        if first < 0:
            low = max(low, first / (first - last))
        elif last < 0:
            high = min(high, first / (first - last))
    return (high - low) * length > TOUCH_NM


def _distance(point: tuple[float, float], side: Side) -> float:
    """Return the distance of a point from a side."""
    au, av, bu, bv = float(side.au), float(side.av), float(side.bu), float(side.bv)
    du, dv = bu - au, bv - av
    square = du * du + dv * dv
    part = min(1.0, max(0.0, ((point[0] - au) * du + (point[1] - av) * dv) / square))
    return hypot(point[0] - au - part * du, point[1] - av - part * dv)
