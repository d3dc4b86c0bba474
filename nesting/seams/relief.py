"""Relief cuts: slits from a hole inside a piece to the nearest edge of the piece."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import Point
from nesting.domain.layout import AllowanceKind
from nesting.domain.rules import RuleId
from nesting.floor.breadths import level_at
from nesting.floor.outlines import Exact, Side
from nesting.floor.parts import Part
from nesting.seams.rules import Ground


@dataclass(frozen=True, slots=True, kw_only=True)
class Slit:
    """A slit from a hole, straight along or across the lay."""

    hole: int
    start: Point
    end: Point

    @property
    def length_nm(self) -> int:
        """Length of the slit."""
        return abs(self.end[0] - self.start[0]) + abs(self.end[1] - self.start[1])


def slits_of(part: Part, ground: Ground) -> tuple[Slit, ...] | None:
    """Return the shortest lawful slit for every hole inside a part; None where a hole has none."""
    slits = []
    for ring in part.rings:
        if _signed_area(ring) < 0:
            found = [slit for slit in _slits_from(ring, part) if _lawful(slit, ground)]
            if not found:
                return None
            slits.append(min(found, key=lambda slit: (slit.length_nm, slit.start, slit.end)))
    return tuple(slits)


def _signed_area(ring: tuple[Side, ...]) -> Exact:
    return sum(side.au * side.bv - side.bu * side.av for side in ring)


def _slits_from(ring: tuple[Side, ...], part: Part) -> list[Slit]:
    """Return the slits from the outermost points of a hole, in the four directions."""
    outer = [side for other in part.rings if other is not ring for side in other]
    slits = []
    for axis in (0, 1):
        for sign in (-1, 1):
            for start in _outermost(ring, axis, sign):
                hit = _first_hit(start, axis, sign, outer)
                if hit is not None and hit[1].kind is not AllowanceKind.HOLE:
                    end = (round(hit[0]), start[1]) if axis == 0 else (start[0], round(hit[0]))
                    slits.append(Slit(hole=ring[0].edge, start=start, end=end))
    return slits


def _outermost(ring: tuple[Side, ...], axis: int, sign: int) -> list[Point]:
    """Return the outermost vertices of a hole in one direction, and the middle between them."""
    points = [(round(side.au), round(side.av)) for side in ring]
    extreme = max(point[axis] * sign for point in points)
    found = sorted({point for point in points if point[axis] * sign == extreme})
    (au, av), (bu, bv) = found[0], found[-1]
    return list(dict.fromkeys([((au + bu) // 2, (av + bv) // 2), *found]))


def _first_hit(start: Point, axis: int, sign: int, sides: list[Side]) -> tuple[Exact, Side] | None:
    """Return where a ray from a point first meets a side."""
    across = start[1 - axis]
    best: tuple[Exact, Side] | None = None
    for side in sides:
        a, b = (side.av, side.bv) if axis == 0 else (side.au, side.bu)
        if min(a, b) <= across <= max(a, b) and a != b:
            at = side.at(across) if axis == 0 else level_at(side, across)
            if (at - start[axis]) * sign > 0 and (best is None or (at - best[0]) * sign < 0):
                best = (at, side)
    return best


def _lawful(slit: Slit, ground: Ground) -> bool:
    """Tell whether a slit keeps out of keep-out zones and does not end inside a door opening."""
    rules = ground.room.rules
    if rules.holds(RuleId.KEEP_OUT) and any(_passes(slit, zone) for zone in ground.keep_outs):
        return False
    if rules.holds(RuleId.DOOR_OPENING):
        for door, (au, av), (bu, bv) in ground.doors:
            along = (slit.end[0] - au) * (bu - au) + (slit.end[1] - av) * (bv - av)
            off = (slit.end[0] - au) * (bv - av) - (slit.end[1] - av) * (bu - au)
            square = (bu - au) ** 2 + (bv - av) ** 2
            # within 4 nm of the door line and strictly between its ends
            if door.bridgeable and off * off <= 16 * square and 0 < along < square:
                return False
    return True


def _passes(slit: Slit, zone: tuple[Point, ...]) -> bool:
    """Tell whether a slit runs through the inside of a convex zone."""
    area = sum(zone[i - 1][0] * zone[i][1] - zone[i][0] * zone[i - 1][1] for i in range(len(zone)))
    sign = 1 if area > 0 else -1
    low, high = 0.0, 1.0
    (su, sv), (tu, tv) = slit.start, slit.end
    for i, (bu, bv) in enumerate(zone):
        au, av = zone[i - 1]
        first = ((bu - au) * (sv - av) - (bv - av) * (su - au)) * sign
        last = ((bu - au) * (tv - av) - (bv - av) * (tu - au)) * sign
        if first <= 0 and last <= 0:
            return False
        if first < 0:
            low = max(low, first / (first - last))
        elif last < 0:
            high = min(high, first / (first - last))
    return low < high
