"""From rooms and goods to the facts that hold for every lawful layout."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import floor

from nesting.bounds.facts import Core, ItemFacts, Lay, RoomFacts
from nesting.domain.geometry import LayDirection, Point, Rect, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import AllowanceKind
from nesting.domain.material import Material, StockPiece, Turning
from nesting.domain.rules import RuleId
from nesting.floor.breadths import merged
from nesting.floor.outlines import LayFloor, Side, lay_floor, twice_area
from nesting.seams.family import allowed_seams, last_allowed

NO_WAY = 10**4  # breadths of a lay direction in which the goods cannot cover the room: never the least
EVERYTHING_NM = 10**15  # more than any allowance: go down to the least that is lawful


def room_facts(
    job: Job,
    material: Material,
    room: Room,
    directions: tuple[LayDirection, ...],
    *,
    group: int,
    arrow: int | None = None,
) -> RoomFacts:
    """Return what the room needs in each lay direction that it may take."""
    goods = _Goods(job, material, room)
    return RoomFacts(
        room_id=room.id,
        lays=_possible(tuple(_lay(goods, direction) for direction in distinct_directions(directions))),
        group=group,
        arrow=arrow,
    )


def item_facts(job: Job, material: Material) -> tuple[ItemFacts, ...]:
    """Return the loose pieces and the runs of strips, each with its least area."""
    free = material.turning is Turning.FREE and material.pattern is None
    step = material.cutting_step_nm
    found = []
    for loose in job.loose:
        if loose.material_id == material.id:
            whole = loose.most_parts == 1 and not free
            area = loose.width_nm * loose.length_nm
            rectangle = (-(-loose.width_nm // step) * step, -(-loose.length_nm // step) * step) if whole else None
            found += [
                ItemFacts(item_id=f"{loose.id}#{number + 1}", area_nm2=area, rectangle_nm=rectangle)
                for number in range(loose.count)
            ]
    for strip in job.strips:
        if strip.material_id == material.id:
            found += [
                ItemFacts(item_id=f"{strip.id}#{number + 1}", area_nm2=strip.width_nm * run, rectangle_nm=None)
                for number, run in enumerate(strip.runs_nm)
            ]
    return tuple(found)


class _Goods:
    """The widest and longest goods that a piece of a room can be cut from, and how far a breadth advances."""

    def __init__(self, job: Job, material: Material, room: Room) -> None:
        stock = [piece for piece in job.stock if piece.material_id == material.id]
        made = material.widths_nm if material.orders_allowed else ()
        self.room, self.material = room, material
        self.widest_nm = max((*made, *(piece.width_nm for piece in stock)), default=1)
        lengths = [piece.length_nm for piece in stock]
        unlimited = material.orders_allowed and material.longest_nm is None
        if material.orders_allowed and material.longest_nm is not None:
            lengths.append(material.longest_nm)
        self.longest_nm = None if unlimited else max(lengths, default=1)
        if room.access.longest_nm is not None and room.rules.holds(RuleId.ACCESS):
            self.longest_nm = min(self.longest_nm or room.access.longest_nm, room.access.longest_nm)

        self.one_phase_a_lot = self._one_phase_a_lot(stock)

    def _one_phase_a_lot(self, stock: list[StockPiece]) -> bool:
        """Tell whether all goods of each lot have one phase across.

        Then neighbouring breadths lie whole repeats apart; from goods of different phase they may lie otherwise. The
        phase of an order, and of goods in hand whose phase is not known, counts as 0 where they are bound at all.
        """
        pattern = self.material.pattern
        if pattern is None or pattern.across_nm is None:
            return True
        phases: dict[str, set[int]] = {}
        for piece in stock:
            if piece.lot is not None:
                found = phases.setdefault(piece.lot, {0} if piece.lot_orderable else set())
                found.add(0 if piece.phase_nm is None else piece.phase_nm[0] % pattern.across_nm)
        return all(len(found) == 1 for found in phases.values())

    def fewest_breadths(self, across_nm: int) -> int:
        """Return how many breadths cover a width: the first takes the goods' width, each other one pitch more."""
        overlap, pattern = self.material.seam_overlap_nm, self.material.pattern
        pitch = self.widest_nm - overlap
        if pattern is not None and pattern.across_nm is not None and not pattern.at_seam and self.one_phase_a_lot:
            pitch = pattern.across_nm * max(1, pitch // pattern.across_nm)
        if across_nm <= self.widest_nm:
            return 1
        return 1 + -(-(across_nm - self.widest_nm) // max(1, pitch))

    def fewest_lawful(self, core: Core, allowed: tuple[tuple[int, int], ...]) -> int | None:
        """Return how many breadths cover the core at least with seams where they may run; None: it cannot be.

        Every breadth goes as far as an allowed seam within reach of the widest goods: no other choice gets farther.
        """
        half = -(-self.material.seam_overlap_nm // 2)
        begun, right = core.left_nm, core.left_nm + core.across_nm
        count = 1
        while begun + self.widest_nm < right:
            seam = last_allowed(allowed, begun + self.widest_nm - half)
            if seam is None or seam - half <= begun:
                return None
            begun, count = seam - half, count + 1
        return count

    def fewest_cross_seams(self, along_nm: int) -> int:
        """Return how many cross seams a breadth of a length has at least."""
        if self.longest_nm is None or along_nm <= self.longest_nm:
            return 0
        return -(-(along_nm - self.longest_nm) // max(1, self.longest_nm - self.material.seam_overlap_nm))


def distinct_directions(directions: tuple[LayDirection, ...]) -> tuple[LayDirection, ...]:
    """Return the directions less those that only point the other way: lengths and widths are the same."""
    kept: list[LayDirection] = []
    for direction in directions:
        if direction.quarter_turned(2) not in kept:
            kept.append(direction)
    return tuple(kept)


def _possible(lays: tuple[Lay, ...]) -> tuple[Lay, ...]:
    """Return the lay directions in which the room can be covered; all of them if there is none."""
    return tuple(lay for lay in lays if lay.fewest_breadths < NO_WAY) or lays


def _lay(goods: _Goods, direction: LayDirection) -> Lay:
    swept = lay_floor(goods.room, goods.material, direction, less_sides_nm=EVERYTHING_NM, less_ends_nm=EVERYTHING_NM)
    straight = all(side.straight for side in swept.sides)
    covered = swept_rectangles(swept) if straight else ()
    area = sum(rect.area_nm2 for rect in covered) if straight else floor_area_nm2(swept)
    core = _core(covered, swept) if straight else None
    across = core.across_nm if core is not None else _widest_chord(swept)
    breadths = goods.fewest_breadths(across)
    overlaps = breadths - 1
    if core is not None:
        allowed = allowed_seams(goods.room, goods.material, direction)
        breadths = max(breadths, goods.fewest_lawful(core, allowed) or NO_WAY)
    cross = goods.fewest_cross_seams(core.along_nm) * breadths if core is not None else 0
    if core is not None and core.whole:
        area += overlaps * goods.material.seam_overlap_nm * core.along_nm
    rules = goods.room.rules
    forced = cross // breadths
    extent = _extent(covered, swept)
    longest_nm = extent[1] + 2 * max(side.full_nm for side in swept.sides)
    # Without a whole core some breadth may be longer than the core, and forced to more cross seams than it.
    short = goods.longest_nm is None or longest_nm <= goods.longest_nm
    known = core is not None and (core.whole or short) and rules.holds(RuleId.CROSS_SEAMS)
    splits = max(rules.cross_seams_per_breadth, forced) if known else None
    fits = extent[0] <= goods.widest_nm and (goods.longest_nm is None or extent[1] <= goods.longest_nm)
    return Lay(
        area_nm2=area,
        fewest_breadths=breadths,
        fewest_cross_seams=cross,
        most_splits=splits,
        core=core,
        extent_nm=extent,
        least_chord_nm=_least_chord(covered),
        one_piece=fits and breadths == 1 and cross == 0,
        direction=direction,
    )


def _extent(covered: tuple[Rect, ...], swept: LayFloor) -> tuple[int, int]:
    """Return the size of the swept floor's bounding rectangle; of the bare floor where it has oblique walls."""
    if covered:
        box = bounding_rect(covered)
        return box.width_nm, box.length_nm
    left, low, right, high = swept.box
    return right - left, high - low


def _least_chord(covered: tuple[Rect, ...]) -> int:
    """Return the least width of the swept floor, all its stretches together, at any place along; 0 if not known."""
    levels = sorted({level for rect in covered for level in (rect.y0_nm, rect.y1_nm)})
    return min(
        (
            sum(rect.width_nm for rect in covered if rect.y0_nm <= low and rect.y1_nm >= high)
            for low, high in pairwise(levels)
        ),
        default=0,
    )


def swept_rectangles(swept: LayFloor) -> tuple[Rect, ...]:
    """Return disjoint rectangles that make up a rectilinear floor with its allowances (DEVELOPERS.md, meaning 3)."""
    pieces = [*_slabs(swept), *(_sweep(side) for side in swept.sides), *_corners(swept)]
    xs = sorted({x for rect in pieces for x in (rect.x0_nm, rect.x1_nm)})
    found = []
    for x0, x1 in pairwise(xs):
        stretches = merged([(rect.y0_nm, rect.y1_nm) for rect in pieces if rect.x0_nm <= x0 and rect.x1_nm >= x1])
        found += [Rect(x0, low, x1, high) for low, high in stretches]
    return tuple(found)


def _slabs(swept: LayFloor) -> list[Rect]:
    """Return the floor itself as rectangles between neighbouring vertex columns."""
    xs = sorted({int(x) for side in swept.sides for x in (side.au, side.bu)})
    found = []
    for x0, x1 in pairwise(xs):
        level = sorted(
            int(side.av)
            for side in swept.sides
            if side.av == side.bv and min(side.au, side.bu) <= x0 and max(side.au, side.bu) >= x1
        )
        found += [Rect(x0, low, x1, high) for low, high in zip(level[::2], level[1::2], strict=True)]
    return found


def _sweep(side: Side) -> Rect:
    """Return the rectangle of an edge's allowance; the floor lies on the left of the edge."""
    out_u, out_v = _outward(side)
    us = sorted((int(side.au), int(side.bu), int(side.au) + out_u, int(side.bu) + out_u))
    vs = sorted((int(side.av), int(side.bv), int(side.av) + out_v, int(side.bv) + out_v))
    return Rect(us[0], vs[0], us[-1], vs[-1])


def _outward(side: Side) -> Point:
    """Return the vector of an edge's allowance: square to it, away from the floor on its left."""
    du, dv = side.bu - side.au, side.bv - side.av
    return side.given_nm * ((dv > 0) - (dv < 0)), -side.given_nm * ((du > 0) - (du < 0))


def _corners(swept: LayFloor) -> list[Rect]:
    """Return the corner fills at the convex vertices."""
    by_start: dict[tuple[int, int, bool], Side] = {}
    for side in swept.sides:
        by_start[int(side.au), int(side.av), side.kind is AllowanceKind.HOLE] = side
    found = []
    for side in swept.sides:
        following = by_start.get((int(side.bu), int(side.bv), side.kind is AllowanceKind.HOLE))
        if following is None:
            continue
        turn = (side.bu - side.au) * (following.bv - following.av) - (side.bv - side.av) * (following.bu - following.au)
        if turn > 0:
            (u1, v1), (u2, v2) = _outward(side), _outward(following)
            us = sorted((int(side.bu), int(side.bu) + u1 + u2))
            vs = sorted((int(side.bv), int(side.bv) + v1 + v2))
            found.append(Rect(us[0], vs[0], us[1], vs[1]))
    return found


def floor_area_nm2(swept: LayFloor) -> int:
    """Return the area of the floor itself, rounded down: what is sure for floors with oblique walls."""
    return (twice_area(swept.outline) - sum(twice_area(hole) for hole in swept.holes)) // 2


def _core(covered: tuple[Rect, ...], swept: LayFloor) -> Core | None:
    """Return the largest rectangle inside the swept floor."""
    box = bounding_rect(covered)
    best: Rect | None = None
    xs = sorted({x for rect in covered for x in (rect.x0_nm, rect.x1_nm)})
    columns = [[rect for rect in covered if rect.x0_nm == x0] for x0 in xs[:-1]]
    for first in range(len(columns)):
        common = [(rect.y0_nm, rect.y1_nm) for rect in columns[first]]
        for last in range(first, len(columns)):
            if last > first:
                common = [
                    (max(low, rect.y0_nm), min(high, rect.y1_nm))
                    for low, high in common
                    for rect in columns[last]
                    if max(low, rect.y0_nm) < min(high, rect.y1_nm)
                ]
            for low, high in common:
                rect = Rect(xs[first], low, xs[last + 1], high)
                if best is None or rect.area_nm2 > best.area_nm2:
                    best = rect
    if best is None:
        return None
    whole = best == box and len(covered) >= 1 and sum(rect.area_nm2 for rect in covered) == best.area_nm2
    return Core(left_nm=best.x0_nm, across_nm=best.width_nm, along_nm=best.length_nm, whole=whole and not swept.holes)


def _widest_chord(swept: LayFloor) -> int:
    """Return the widest stretch across that lies in the floor, at the middles between the levels of its vertices."""
    levels = sorted({Fraction(v) for _, v in swept.outline})
    widest = 0
    for low, high in pairwise(levels):
        middle = (low + high) / 2
        crossing = sorted(
            Fraction(side.at(middle)) for side in swept.sides if min(side.av, side.bv) < middle < max(side.av, side.bv)
        )
        for left, right in zip(crossing[::2], crossing[1::2], strict=True):
            widest = max(widest, floor(right - left))
    return widest
