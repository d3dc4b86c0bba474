"""The floor in its lay frame: sides with what is left on along each."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import DoorJoint, Edge, EdgeKind, Room
from nesting.domain.layout import AllowanceKind
from nesting.domain.material import Material
from nesting.floor.frames import turn_outline

Exact = int | Fraction
"""A coordinate: whole except where a line crosses an oblique edge."""

_EDGE_KINDS = {
    EdgeKind.WALL: AllowanceKind.WALL,
    EdgeKind.JAMB: AllowanceKind.JAMB,
    EdgeKind.DOOR: AllowanceKind.DOOR,
}


@dataclass(frozen=True, slots=True)
class Side:
    """A stretch of boundary from a to b with the floor on its left, and what is left on beyond it.

    `edge` is the index that `Allowance.edge` wants; for the sides of seams and cross seams it is not known yet (−1).
    """

    au: Exact
    av: Exact
    bu: Exact
    bv: Exact
    kind: AllowanceKind
    edge: int
    full_nm: int
    given_nm: int
    cove_nm: int = 0

    def at(self, v: Exact) -> Exact:
        """Return u where the side crosses the level v (the side is not level)."""
        if self.au == self.bu:
            return self.au
        return self.au + ratio((self.bu - self.au) * (v - self.av), self.bv - self.av)

    @property
    def with_lay(self) -> bool:
        """Tell whether the side runs with the lay rather than across it."""
        du, dv = self.bu - self.au, self.bv - self.av
        return dv * dv >= du * du

    @property
    def straight(self) -> bool:
        """Tell whether the side is parallel to an axis."""
        return self.au == self.bu or self.av == self.bv


@dataclass(frozen=True, slots=True, kw_only=True)
class LayFloor:
    """A room's floor turned into a lay frame, outline and holes as `RoomLayout` records them."""

    direction: LayDirection
    outline: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...]
    sides: tuple[Side, ...]

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Return the bounding rectangle of the floor: u0, v0, u1, v1."""
        across, along = [u for u, _ in self.outline], [v for _, v in self.outline]
        return min(across), min(along), max(across), max(along)


def ratio(numerator: Exact, denominator: Exact) -> Exact:
    """Return a quotient, as a whole number where it is one."""
    value = Fraction(numerator) / Fraction(denominator)
    return value.numerator if value.denominator == 1 else value


def twice_area(outline: tuple[Point, ...]) -> int:
    """Return twice the area of a polygon (shoelace formula)."""
    pairs = zip(outline, (*outline[1:], *outline[:1]), strict=True)
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs))


def half_up(length_nm: int) -> int:
    """Return half of a length, rounded up."""
    return (length_nm + 1) // 2


def full_allowance_nm(edge: Edge, room: Room, material: Material) -> int:
    """Return the full allowance along an edge of the outline: what common practice leaves on in rough cutting."""
    if edge.kind is EdgeKind.DOOR and door_is_seamed(edge, room):
        return half_up(material.seam_overlap_nm)
    cove = edge.cove_nm if edge.kind is EdgeKind.WALL else 0
    return room.trim_nm + cove + half_up(room.out_of_square_nm)


def door_is_seamed(edge: Edge, room: Room) -> bool:
    """Tell whether a door edge is seamed to the goods beyond it."""
    return any(door.id == edge.door and door.joint is DoorJoint.SEAM for door in room.doors)


def lay_floor(
    room: Room, material: Material, direction: LayDirection, *, less_sides_nm: int = 0, less_ends_nm: int = 0
) -> LayFloor:
    """Return the floor in the lay frame with its allowances.

    Parameters
    ----------
    less_sides_nm, less_ends_nm
        By how much to go below the full allowance at side walls and at drop ends; never below the room's least trim,
        and not at all where the room has none.
    """
    outline = turn_outline(room.outline, direction)
    holes = tuple(turn_outline(hole.outline, direction) for hole in room.holes)
    sides = []
    for i, edge in enumerate(room.edges):
        (au, av), (bu, bv) = outline[i], outline[(i + 1) % len(outline)]
        full = full_allowance_nm(edge, room, material)
        with_lay = abs(bv - av) >= abs(bu - au)
        least = room.least_trim_nm if with_lay else room.least_end_trim_nm
        given = full
        if least is not None and not (edge.kind is EdgeKind.DOOR and door_is_seamed(edge, room)):
            floor_nm = min(full, least + (edge.cove_nm if edge.kind is EdgeKind.WALL else 0))
            given = max(floor_nm, full - (less_sides_nm if with_lay else less_ends_nm))
        cove = edge.cove_nm if edge.kind is EdgeKind.WALL else 0
        sides.append(Side(au, av, bu, bv, _EDGE_KINDS[edge.kind], i, full, given, cove))
    for number, hole in enumerate(holes):
        # holes are listed counter-clockwise; walked the other way round the floor lies on the left
        ring = hole[::-1]
        for i, (au, av) in enumerate(ring):
            bu, bv = ring[(i + 1) % len(ring)]
            sides.append(Side(au, av, bu, bv, AllowanceKind.HOLE, number, room.trim_nm, room.trim_nm))
    return LayFloor(direction=direction, outline=outline, holes=holes, sides=tuple(sides))
