"""The least that rooms and pieces need of the goods whatever their layout: what certificates are held against."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from itertools import pairwise

from nesting.checker.clipping import Side, merged, sides_of, slices_of
from nesting.checker.coverage import least_allowance_nm
from nesting.checker.coves import needed_inserts
from nesting.checker.facts import View
from nesting.checker.parts import cells_of
from nesting.checker.sweeps import Shape, swept_shapes
from nesting.checker.whole import Number, area2, turned
from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import Room
from nesting.domain.layout import AllowanceKind, RoomLayout
from nesting.domain.material import Material
from nesting.domain.rules import RuleId


def least_rooms(view: View) -> dict[str, int]:
    """Return for every room the least area of its rough cuts, over all directions that it may be laid in, nm².

    The rough cuts hold the floor with its allowances at their least lawful. A rectangle also has at least so many
    seams, each with its overlap all along. Floors with oblique walls count with their own area only.
    """
    return {name: min(_least_area(view, layout) for layout in _lays(view, name)) for name in view.floors}


def fewest_seams(view: View) -> int:
    """Return how many seams all rooms have together at least."""
    return sum(min(_breadths(view, _across(layout)) - 1 for layout in _lays(view, name)) for name in view.floors)


def _lays(view: View, name: str) -> Iterator[RoomLayout]:
    """Yield the room without seams in every direction that it allows, else as laid and a quarter turned.

    Where seams or a layout are pinned, only in those that go with them.
    """
    room, laid = view.rooms[name], view.layouts[name]
    plain = replace(laid, seams=(), cross_seams=(), relief_cuts=())
    for direction in _directions(view, room, laid):
        if direction == laid.direction:
            yield plain
            continue
        frame = partial(_turned, direction)
        holes = tuple(frame(hole.outline) for hole in room.holes)
        yield replace(plain, direction=direction, floor=frame(room.outline), holes=holes)


def _directions(view: View, room: Room, laid: RoomLayout) -> tuple[LayDirection, ...]:
    allowed = room.lays or (laid.direction, laid.direction.quarter_turned(1))
    if not room.rules.holds(RuleId.PINS):
        return allowed
    if room.pins.layout is not None:
        return (room.pins.layout.direction,)
    step = view.material.cutting_step_nm

    def along(direction: LayDirection) -> bool:
        ends = ((turned(pin.start, direction)[0], turned(pin.end, direction)[0]) for pin in room.pins.seams)
        return all(abs(one - other) <= step for one, other in ends)

    return tuple(direction for direction in allowed if along(direction)) or (laid.direction,)


def _turned(direction: LayDirection, outline: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return an outline in a lay frame, corners that differ by the rounding only on one line."""
    points = [turned(point, direction) for point in outline]
    columns = [_aligned([point[axis] for point in points]) for axis in (0, 1)]
    return tuple(zip(*columns, strict=True))


def _aligned(values: list[int]) -> list[int]:
    result = list(values)
    for index, value in enumerate(values):
        near = [other for other in (values[index - 1], values[(index + 1) % len(values)]) if abs(other - value) <= 2]
        result[index] = min([value, *near])
    return result


def _least_area(view: View, layout: RoomLayout) -> int:
    room, material = view.rooms[layout.room_id], view.material
    sides = sides_of(layout.floor, layout.holes)
    if any(side.a[0] != side.b[0] and side.a[1] != side.b[1] for side in sides):
        return (area2(layout.floor) - sum(area2(hole) for hole in layout.holes)) // 2
    shapes = _swept(room, material, layout, sides)
    area = _union_area(shapes)
    xs = [x for shape in shapes for x, _ in shape]
    ys = [y for shape in shapes for _, y in shape]
    if area == (max(xs) - min(xs)) * (max(ys) - min(ys)):
        seams = _breadths(view, int(max(xs) - min(xs))) - 1
        area += seams * material.seam_overlap_nm * (max(ys) - min(ys))
    return int(area)


def _swept(room: Room, material: Material, layout: RoomLayout, sides: list[Side]) -> list[Shape]:
    """Return the shapes of the floor with its allowances at their least lawful."""
    given = {}
    by_edge = {(side.loop, side.index): side for side in sides}
    shapes: list[Shape] = []
    for part in cells_of(room, layout).parts:
        for key in part.keys:
            side = None if key[0] is AllowanceKind.HOLE else by_edge[-1, key[1]]
            given[key] = least_allowance_nm(room, material, key, side)
        shapes += [shape for _, shape in swept_shapes(part, given)]
    return shapes


def _union_area(shapes: list[Shape]) -> Number:
    """Return the area of a union of rectangles along the axes."""
    boxes = [
        (min(x for x, _ in shape), max(x for x, _ in shape), min(y for _, y in shape), max(y for _, y in shape))
        for shape in shapes
    ]
    area: Number = 0
    for x0, x1 in pairwise(sorted({x for box in boxes for x in box[:2]})):
        stretches = merged([(box[2], box[3]) for box in boxes if box[0] <= x0 and box[1] >= x1])
        area += (x1 - x0) * sum(high - low for low, high in stretches)
    return area


def _across(layout: RoomLayout) -> int:
    """Return the longest stretch across the floor in any slice of it along v, allowances left out."""
    sides = [Side((s.b[1], s.b[0]), (s.a[1], s.a[0]), s.loop, s.index) for s in sides_of(layout.floor, layout.holes)]
    return int(max((min(p.t0 - p.b0, p.t1 - p.b1) for p in slices_of(sides, ())), default=0))


def _breadths(view: View, across_nm: int) -> int:
    """Return how many breadths cover a width at least: the widest goods, then one pitch more each."""
    material = view.material
    made = material.widths_nm if material.orders_allowed else ()
    widest = max((*made, *(piece.width_nm for piece in view.stock.values())), default=1)
    pitch, pattern = widest - material.seam_overlap_nm, material.pattern
    if pattern is not None and pattern.across_nm is not None and not pattern.at_seam:
        pitch = max(1, pitch // pattern.across_nm) * pattern.across_nm
    return 1 if across_nm <= widest else 1 + -(-(across_nm - widest) // max(1, pitch))


def least_items(view: View) -> dict[str, int]:
    """Return the least area of loose pieces, strips and inserts, by the names that certificates use."""
    found: dict[str, int] = {}
    for item in view.job.loose:
        if item.material_id == view.material.id:
            found[f"loose:{item.id}"] = item.count * item.width_nm * item.length_nm
            cuts = {cut.of_item for cut in view.cuts_of(item.id)}
            found |= {f"item:{item.id}#{number + 1}": item.width_nm * item.length_nm for number in range(len(cuts))}
    for strip in view.job.strips:
        if strip.material_id == view.material.id:
            found[f"strip:{strip.id}"] = strip.width_nm * sum(strip.runs_nm)
            found |= {f"item:{strip.id}#{n}": strip.width_nm * run for n, run in enumerate(strip.runs_nm, start=1)}
    for name, floor in view.floors.items():
        needed, _ = needed_inserts(view, floor)
        found[f"insert:{name}"] = sum(size[0] * size[1] * count for size, count in needed.items())
    return found


def rounded_order_nm2(material: Material, needed_nm2: int) -> int:
    """Return the least roll that an order gives for an area: rounded as orders are where one width is made."""
    if needed_nm2 <= 0:
        return 0
    if len(material.widths_nm) > 1:
        return needed_nm2
    width, sale = material.widths_nm[0], material.sale
    length = -(-needed_nm2 // width) + material.squaring_nm
    if sale.whole_rolls and material.longest_nm is not None:
        return width * material.longest_nm * -(-length // material.longest_nm)
    return width * max(sale.minimum_cut_nm, -(-length // sale.order_step_nm) * sale.order_step_nm)
