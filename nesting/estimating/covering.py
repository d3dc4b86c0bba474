"""How the goods of a piece divide: the floor that it covers, and what is left on beyond it, by its reason.

The floor is swept outward in layers, one a reason: seam allowance, cove, trim, out-of-square. What a layer adds to the
union of those before is its own, so that a corner belongs to the later of the two reasons that meet there. Whatever
else is in the rough cut (steps along oblique walls, rounding to the cutting step, notches that were filled) is closing.
Along an oblique wall the bands are as stepped as the rough cut is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import EdgeKind, Room
from nesting.domain.layout import AllowanceKind, Cut, CutKind, RoomLayout
from nesting.estimating.fields import Fields, Rows, common, union
from nesting.floor.breadths import Slab, slabs_of
from nesting.floor.outlines import Exact, LayFloor, Side, door_is_seamed
from nesting.floor.parts import Levels, Part, levels_of, parts_between
from nesting.floor.rough_cuts import swept_boxes

_KINDS = {
    EdgeKind.WALL: AllowanceKind.WALL,
    EdgeKind.JAMB: AllowanceKind.JAMB,
    EdgeKind.DOOR: AllowanceKind.DOOR,
}
_OF_SEAMS = (AllowanceKind.SEAM_LEFT, AllowanceKind.SEAM_RIGHT, AllowanceKind.CROSS_LOW, AllowanceKind.CROSS_HIGH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covering:
    """What the goods of one piece are for; `floor_nm2` may be half a nm², the rest is what lies beyond the floor.

    pieces = floor + seam + cove + trim + out of square + closing + loose, exactly.
    """

    floor_nm2: Fraction = Fraction(0)
    seam_nm2: int = 0
    cove_nm2: int = 0
    trim_nm2: int = 0
    out_of_square_nm2: int = 0
    loose_nm2: int = 0  # what was asked for by size

    @property
    def for_reasons_nm2(self) -> int:
        """Everything but the floor and the closing."""
        return self.seam_nm2 + self.cove_nm2 + self.trim_nm2 + self.out_of_square_nm2 + self.loose_nm2


def coverings_of(room: Room | None, layout: RoomLayout | None, cuts: Sequence[Cut]) -> dict[str, Covering]:
    """Return, by cut, how the goods divide of all cuts of a room, of a loose piece or of a strip (no room)."""
    found = {}
    for cut in cuts:
        area = sum(rect.area_nm2 for rect in cut.rects)
        if room is None or layout is None:
            found[cut.id] = Covering(loose_nm2=area)
        elif cut.kind is not CutKind.DROP:
            found[cut.id] = Covering(cove_nm2=area)  # an insert at an outside corner
    if room is None or layout is None:
        return found
    floor = _bare_floor(room, layout)
    slabs, levels = slabs_of(floor), levels_of(floor)
    cells: dict[tuple[int, int | None, int | None], list[Cut]] = {}
    for cut in cuts:
        if cut.kind is CutKind.DROP:
            cells.setdefault((cut.breadth, cut.low, cut.high), []).append(cut)
    for cell, mine in cells.items():
        for cut, part in _matched(mine, _parts_of(layout, slabs, levels, cell)):
            found[cut.id] = _covering(room, cut, part)
    return found


def _bare_floor(room: Room, layout: RoomLayout) -> LayFloor:
    """Return the floor as the layout records it; its sides say which edge they are, and leave nothing on yet."""
    sides = []
    for index, edge in enumerate(room.edges):
        (au, av), (bu, bv) = layout.floor[index], layout.floor[(index + 1) % len(layout.floor)]
        sides.append(Side(au, av, bu, bv, _KINDS[edge.kind], index, 0, 0))
    for number, hole in enumerate(layout.holes):
        ring = hole[::-1]  # walked so that the floor lies on the left
        for place, (au, av) in enumerate(ring):
            bu, bv = ring[(place + 1) % len(ring)]
            sides.append(Side(au, av, bu, bv, AllowanceKind.HOLE, number, 0, 0))
    return LayFloor(direction=layout.direction, outline=layout.floor, holes=layout.holes, sides=tuple(sides))


def _parts_of(
    layout: RoomLayout, slabs: tuple[Slab, ...], levels: Levels, cell: tuple[int, int | None, int | None]
) -> tuple[Part, ...]:
    """Return the connected parts of the floor in a breadth, between two of its cross seams."""
    breadth, low, high = cell
    seams = layout.seams
    across = (
        seams[breadth - 1].at_nm if breadth > 0 else None,
        seams[breadth].at_nm if breadth < len(seams) else None,
    )
    along = tuple(None if number is None else layout.cross_seams[number].at_nm for number in (low, high))
    return parts_between(slabs, levels, across, (along[0], along[1]), 0)


def _matched(cuts: Sequence[Cut], parts: Sequence[Part]) -> list[tuple[Cut, Part]]:
    """Return every cut of a cell with its part of the floor: the one that it holds with the least beyond it."""
    left = list(parts)
    found = []
    for cut in sorted(cuts, key=lambda cut: (sum(rect.area_nm2 for rect in cut.rects), cut.id)):
        box = bounding_rect(cut.rects)
        held = [
            part
            for part in left
            if box.x0_nm <= part.u0 and box.y0_nm <= part.v0 and part.u1 <= box.x1_nm and part.v1 <= box.y1_nm
        ]
        if not held:
            raise ValueError(f"{cut.id} holds no part of its breadth")  # the checker passes no such plan
        part = max(held, key=lambda part: ((part.u1 - part.u0) * (part.v1 - part.v0), -part.v0, -part.u0))
        left.remove(part)
        found.append((cut, part))
    return found


def _covering(room: Room, cut: Cut, part: Part) -> Covering:
    """Return how the goods of a drop divide, sweeping its part of the floor layer by layer."""
    given = {(item.kind, item.edge): item.given_nm for item in cut.allowances}
    depths = {side: _depths(room, side, given) for side in part.sides}
    layers = []
    for number in range(5):
        swept = [[replace(side, given_nm=depths[side][number]) for side in ring] for ring in part.rings]
        layers.append([Rect(*box) for ring in swept for box in swept_boxes(ring, max(1, room.rules.step_nm))])
    outer = bounding_rect(cut.rects)
    fields = Fields.along_edges(outer, [*cut.rects, *(rect for layer in layers for rect in layer)])
    whole = fields.covered(cut.rects)
    reached = common(whole, fields.between(_crossings(part)))
    areas = []
    for layer in layers:
        reached = union(reached, _within(fields, layer, outer, whole))
        areas.append(fields.area_nm2(reached))
    return Covering(
        floor_nm2=min(_floor_nm2(part), Fraction(areas[0])),
        seam_nm2=areas[1] - areas[0],
        cove_nm2=areas[2] - areas[1],
        trim_nm2=areas[3] - areas[2],
        out_of_square_nm2=areas[4] - areas[3],
    )


def _within(fields: Fields, layer: Sequence[Rect], outer: Rect, whole: Rows) -> Rows:
    """Return the fields of a layer that lie in the rough cut."""
    clipped = (
        Rect(
            max(rect.x0_nm, outer.x0_nm),
            max(rect.y0_nm, outer.y0_nm),
            min(rect.x1_nm, outer.x1_nm),
            min(rect.y1_nm, outer.y1_nm),
        )
        for rect in layer
    )
    return common(whole, fields.covered(rect for rect in clipped if rect.x0_nm < rect.x1_nm))


def _depths(room: Room, side: Side, given: Mapping[tuple[AllowanceKind, int], int]) -> tuple[int, int, int, int, int]:
    """Return how far a side is swept at most in every layer: none, seam, cove, trim, out-of-square.

    Where less is left on than in full the cove stays whole and the trim is counted before the rest.
    """
    if side.kind in _OF_SEAMS:
        depth = next((deep for (kind, _), deep in given.items() if kind is side.kind), 0)
        return (0, depth, depth, depth, depth)
    depth = given.get((side.kind, side.edge), 0)
    if side.kind is AllowanceKind.HOLE:
        return (0, 0, 0, depth, depth)
    edge = room.edges[side.edge]
    if edge.kind is EdgeKind.DOOR and door_is_seamed(edge, room):
        return (0, depth, depth, depth, depth)
    cove = min(depth, edge.cove_nm) if edge.kind is EdgeKind.WALL else 0
    return (0, 0, cove, min(depth, cove + room.trim_nm), depth)


def _crossings(part: Part) -> Callable[[float], list[float]]:
    """Return a function that gives, in rising order, where a level crosses the sides of a part."""
    slanted = [
        (float(side.au), float(side.av), float(side.bu), float(side.bv)) for side in part.sides if side.av != side.bv
    ]

    def at(level: float) -> list[float]:
        return sorted(
            au if au == bu else au + (bu - au) * (level - av) / (bv - av)
            for au, av, bu, bv in slanted
            if (av <= level) != (bv <= level)
        )

    return at


def _floor_nm2(part: Part) -> Fraction:
    """Return the area of a part of the floor (shoelace formula over its rings; holes run the other way round)."""
    twice: Exact = sum(side.au * side.bv - side.bu * side.av for side in part.sides)
    return abs(Fraction(twice)) / 2
