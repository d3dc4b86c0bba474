"""Plans by hand for the checker's tests: straightforward code of their own, sharing nothing with planner or checker."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from nesting.domain.done import DoneCut
from nesting.domain.geometry import LayDirection, Point, Rect, bounding_rect
from nesting.domain.job import Door, DoorJoint, Edge, EdgeKind, Job, Room, Unit
from nesting.domain.layout import Allowance, AllowanceKind, CrossSeam, Cut, CutKind, RoomLayout, Seam
from nesting.domain.material import Material, Pattern, Sale, StockKind, StockPiece
from nesting.domain.pins import PinnedLayout, RoomPins
from nesting.domain.plan import (
    Account,
    Bound,
    Certificate,
    CutSource,
    MaterialPlan,
    Measures,
    OrderLine,
    PhaseGroup,
    Placement,
    Plan,
    SourceKind,
)
from nesting.domain.rules import Goal, GoalKind, SeamRules

MM = 1_000_000
M = 1_000 * MM
UP = LayDirection(0, 1)
TRIM, OUT_OF_SQUARE, OVERLAP = 50 * MM, 10 * MM, 20 * MM
FULL = TRIM + OUT_OF_SQUARE // 2
WALLS = ("south", "east", "north", "west")


def goods(**changes: Any) -> Material:
    """Return plain goods 3 m wide."""
    settings: dict[str, Any] = {
        "name": "Goods",
        "widths_nm": (3 * M,),
        "seam_overlap_nm": OVERLAP,
        "weight_g_per_m2": Fraction(2_500),
        "sale": Sale(order_step_nm=100 * MM, cut_charge=500, price_per_m=(Fraction(12_345, 10),)),
    }
    return Material(id="goods", **(settings | changes))


def box_room(name: str, width: int, length: int, at: Point = (0, 0), **changes: Any) -> Room:
    """Return a rectangular room with four walls, its lower left corner at `at`."""
    x, y = at
    settings: dict[str, Any] = {
        "name": name.capitalize(),
        "material_id": "goods",
        "outline": ((x, y), (x + width, y), (x + width, y + length), (x, y + length)),
        "edges": tuple(Edge(wall=wall) for wall in WALLS),
        "trim_nm": TRIM,
        "out_of_square_nm": OUT_OF_SQUARE,
    }
    return Room(id=name, **(settings | changes))


def with_door(room: Room, start: int, end: int, **changes: Any) -> Room:
    """Return a rectangular room with a door in its south wall between two places across."""
    y = room.outline[0][1]
    line = ((start, y), (end, y))
    settings: dict[str, Any] = {"id": "door", "opening": line, "line": line}
    door = Door(**(settings | changes))
    wall = room.edges[0]
    return replace(
        room,
        outline=(room.outline[0], *line, *room.outline[1:]),
        edges=(wall, Edge(kind=EdgeKind.DOOR, door=door.id), wall, *room.edges[1:]),
        doors=(door,),
    )


def full_of(room: Room, edge: int, material: Material) -> int:
    """Return the full allowance of an edge of the outline."""
    item = room.edges[edge]
    if item.kind is EdgeKind.DOOR and any(d.id == item.door and d.joint is DoorJoint.SEAM for d in room.doors):
        return -(-material.seam_overlap_nm // 2)
    return room.trim_nm + item.cove_nm + -(-room.out_of_square_nm // 2)


EDGE_KINDS = {EdgeKind.WALL: AllowanceKind.WALL, EdgeKind.JAMB: AllowanceKind.JAMB, EdgeKind.DOOR: AllowanceKind.DOOR}


def wall_allowance(room: Room, edge: int, material: Material, given: int | None = None) -> Allowance:
    """Return the allowance along an edge of the outline."""
    full = full_of(room, edge, material)
    kind = EDGE_KINDS[room.edges[edge].kind]
    return Allowance(kind=kind, edge=edge, full_nm=full, given_nm=full if given is None else given)


def seam_allowance(kind: AllowanceKind, number: int, material: Material) -> Allowance:
    """Return the allowance at a seam or cross seam."""
    half = -(-material.seam_overlap_nm // 2)
    return Allowance(kind=kind, edge=number, full_nm=half, given_nm=half)


@dataclass(frozen=True)
class Laid:
    """A room as laid, with its cuts."""

    room: Room
    layout: RoomLayout
    cuts: tuple[Cut, ...]


def boxed(room: Room, material: Material, seams: Sequence[int] = (), crosses: Sequence[tuple[int, int]] = ()) -> Laid:
    """Return a room whose floor is a rectangle as laid along +Y, with seams across and cross seams (breadth, v)."""
    xs, ys = [x for x, _ in room.outline], [y for _, y in room.outline]
    west, east, south, north = min(xs), max(xs), min(ys), max(ys)
    lines = [west, *seams, east]
    cuts = []
    for breadth in range(len(lines) - 1):
        levels: list[tuple[int, int | None]] = [(south, None)]
        levels += sorted((v, number) for number, (own, v) in enumerate(crosses) if own == breadth)
        levels.append((north, None))
        for (low, under), (high, over) in pairwise(levels):
            cell = (lines[breadth], low, lines[breadth + 1], high)
            marks = []
            if breadth > 0:
                marks.append(seam_allowance(AllowanceKind.SEAM_LEFT, breadth - 1, material))
            if breadth < len(seams):
                marks.append(seam_allowance(AllowanceKind.SEAM_RIGHT, breadth, material))
            if under is not None:
                marks.append(seam_allowance(AllowanceKind.CROSS_LOW, under, material))
            if over is not None:
                marks.append(seam_allowance(AllowanceKind.CROSS_HIGH, over, material))
            walls = [wall_allowance(room, edge, material) for edge in _edges_on(room, cell)]
            cuts.append(_boxed_drop(room, cell, breadth, under, over, [*walls, *marks], len(cuts) + 1))
    layout = RoomLayout(
        room_id=room.id,
        direction=UP,
        floor=room.outline,
        seams=tuple(Seam(at_nm=seam, runs=((south, north),)) for seam in seams),
        cross_seams=tuple(CrossSeam(breadth=b, at_nm=v, runs=((lines[b], lines[b + 1]),)) for b, v in crosses),
    )
    return Laid(room, layout, tuple(cuts))


def _edges_on(room: Room, cell: tuple[int, int, int, int]) -> list[int]:
    """Return the edges of the outline that a cell of the floor lies against, over some length."""
    found = []
    x0, y0, x1, y1 = cell
    for index, (ax, ay) in enumerate(room.outline):
        bx, by = room.outline[(index + 1) % len(room.outline)]
        along_x = ay == by and ay in (y0, y1) and min(ax, bx) < x1 and max(ax, bx) > x0
        along_y = ax == bx and ax in (x0, x1) and min(ay, by) < y1 and max(ay, by) > y0
        if along_x or along_y:
            found.append(index)
    return found


def _boxed_drop(
    room: Room,
    cell: tuple[int, int, int, int],
    breadth: int,
    low: int | None,
    high: int | None,
    allowances: list[Allowance],
    number: int,
) -> Cut:
    x0, y0, x1, y1 = cell
    out = {"left": 0, "right": 0, "low": 0, "high": 0}
    for item in allowances:
        side = _side_of(room, item, cell)
        out[side] = max(out[side], item.given_nm)
    rect = Rect(x0 - out["left"], y0 - out["low"], x1 + out["right"], y1 + out["high"])
    return drop(f"{room.id}-{number}", room.id, (rect,), allowances, breadth, low, high)


def _side_of(room: Room, item: Allowance, cell: tuple[int, int, int, int]) -> str:
    names = {
        AllowanceKind.SEAM_LEFT: "left",
        AllowanceKind.SEAM_RIGHT: "right",
        AllowanceKind.CROSS_LOW: "low",
        AllowanceKind.CROSS_HIGH: "high",
    }
    if item.kind in names:
        return names[item.kind]
    (ax, ay), (bx, by) = room.outline[item.edge], room.outline[(item.edge + 1) % len(room.outline)]
    if ax == bx:
        return "left" if by < ay else "right"
    return "low" if bx > ax else "high"


def drop(
    name: str,
    owner: str,
    rects: tuple[Rect, ...],
    allowances: Iterable[Allowance],
    breadth: int = 0,
    low: int | None = None,
    high: int | None = None,
) -> Cut:
    """Return a drop; its number is given when the plan is put together."""
    return Cut(
        id=name,
        number=0,
        kind=CutKind.DROP,
        owner=owner,
        label=name,
        rects=rects,
        breadth=breadth,
        low=low,
        high=high,
        allowances=tuple(allowances),
    )


def piece(name: str, kind: CutKind, owner: str, width: int, length: int, of_item: int = 1) -> Cut:
    """Return a loose piece, strip or insert."""
    return Cut(
        id=name, number=0, kind=kind, owner=owner, label=name, rects=(Rect(0, 0, width, length),), of_item=of_item
    )


def ordered(name: str = "roll-1", width: int = 3 * M, **changes: Any) -> CutSource:
    """Return a roll to order; its lengths and cost are settled with the plan."""
    settings: dict[str, Any] = {
        "kind": SourceKind.ORDER,
        "width_nm": width,
        "length_nm": 1,
        "lot": "new lot",
        "start_allowance_nm": 50 * MM,
    }
    return CutSource(id=name, **(settings | changes))


def in_hand(stock: StockPiece, lot: str = "", **changes: Any) -> CutSource:
    """Return a piece of stock as a source."""
    settings: dict[str, Any] = {
        "kind": SourceKind.ROLL if stock.kind is StockKind.ROLL else SourceKind.REMNANT,
        "width_nm": stock.width_nm,
        "length_nm": stock.length_nm,
        "lot": stock.lot or lot or f"lot of {stock.id}",
        "flaws": stock.flaws,
        "gone": stock.gone,
        "stock_id": stock.id,
        "cost": stock.book_value,
    }
    return CutSource(id=stock.id, **(settings | changes))


def stacked(cuts: Sequence[Cut], source: CutSource, x: int = 0, turn: int = 0) -> list[Placement]:
    """Return the cuts one behind the other from the start of a source."""
    y, places = source.start_allowance_nm, []
    for cut in cuts:
        box = bounding_rect(cut.rects)
        places.append(Placement(cut_id=cut.id, source_id=source.id, x_nm=x, y_nm=y, turn=turn))
        y += box.width_nm if turn % 2 else box.length_nm
    return places


def in_phase(
    cuts: Sequence[Cut], source: CutSource, pattern: Pattern, phase: Point, across: int | None = None
) -> list[Placement]:
    """Return the cuts one behind the other, each at the first place where the pattern has the phase wanted."""
    y, places = source.start_allowance_nm, []
    sigma = source.phase_nm or (0, 0)
    for cut in cuts:
        corner = bounding_rect(cut.rects)
        wanted_x, wanted_y = corner.x0_nm + phase[0] - sigma[0], corner.y0_nm + phase[1] - sigma[1]
        x, repeats = 0, 0
        if across is not None:
            x = wanted_x % across
            repeats = (x - wanted_x) // across
            wanted_y += (repeats * pattern.drop_nm).__floor__()
        y += (wanted_y - y) % pattern.along_nm
        places.append(Placement(cut_id=cut.id, source_id=source.id, x_nm=x, y_nm=y))
        y += corner.length_nm
    return places


def plan_of(
    job: Job,
    laid: Sequence[Laid],
    sources: Sequence[CutSource],
    places: Iterable[Placement],
    *,
    others: Sequence[Cut] = (),
    groups: Sequence[PhaseGroup] = (),
    **changes: Any,
) -> Plan:
    """Put a plan of one material together and settle its figures."""
    cuts = [cut for item in laid for cut in item.cuts] + list(others)
    part = MaterialPlan(
        material_id=job.materials[0].id,
        layouts=tuple(item.layout for item in laid),
        cuts=tuple(replace(cut, number=number) for number, cut in enumerate(cuts, start=1)),
        sources=tuple(sources),
        placements=tuple(places),
        phase_groups=tuple(groups),
        offcuts=(),
        order=(),
        account=Account(goods_nm2=0, pieces_nm2=0, offcuts_nm2=0, start_nm2=0, waste_nm2=0, floor_nm2=0),
        measures=_NOTHING,
        bounds=(),
        bound_considered=0,
    )
    plan = Plan(job=job, materials=(replace(part, **changes),), seed=0, effort=0, versions=())
    return settled(plan)


def begun(plan: Plan, states: Mapping[str, str], *, gone: tuple[Rect, ...] = ()) -> Plan:
    """Return a plan as it is once the cuts named are in the states given, its figures settled again.

    The goods that they lie on are in hand and their phase is known; what was at the start of an order is gone, and so
    is what `gone` says of the first of them. The rooms have their layout pinned, and their phase with all that match.
    """
    (part,) = plan.materials
    spots = {place.cut_id: place for place in part.placements}
    used = [source for source in part.sources if source.id in {spots[name].source_id for name in states}]
    stock = {item.id: item for item in plan.job.stock}
    for source in used:
        start = Rect(0, 0, source.width_nm, source.start_allowance_nm)
        known = StockPiece(
            id=source.id,
            material_id=part.material_id,
            kind=StockKind.ROLL,
            width_nm=source.width_nm,
            length_nm=source.length_nm,
            lot=source.lot,
            lot_orderable=True,
        )
        lost = (*([start] if start.length_nm else []), *(gone if source is used[0] else ()))
        stock[source.id] = replace(stock.get(source.id, known), gone=lost, phase_nm=source.phase_nm)
    in_use = {
        source.id: in_hand(
            stock[source.id],
            lot=source.lot,
            phase_nm=source.phase_nm,
            phase_known=source.phase_nm is not None,
        )
        for source in used
    }
    cuts = tuple(replace(cut, state=states.get(cut.id, cut.state)) for cut in part.cuts)
    done = tuple(
        DoneCut(cut=cut, source_id=spots[cut.id].source_id, x_nm=spots[cut.id].x_nm, y_nm=spots[cut.id].y_nm)
        for cut in cuts
        if cut.id in states
    )
    done = tuple(replace(item, turn=spots[item.cut.id].turn) for item in done)
    owners = {item.cut.owner for item in done}
    pinned = [group for group in part.phase_groups if owners & {*group.room_ids}]
    phases = {room: group.phase_nm for group in pinned for room in group.room_ids}
    layouts = {layout.room_id: layout for layout in part.layouts if layout.room_id in owners}
    rooms = tuple(
        replace(room, pins=_as_begun(room.pins, layouts.get(room.id), phases.get(room.id))) for room in plan.job.rooms
    )
    part = replace(
        part,
        cuts=cuts,
        sources=tuple(in_use.get(source.id, source) for source in part.sources),
        phase_groups=tuple(replace(group, placed=group.placed or group in pinned) for group in part.phase_groups),
    )
    job = replace(plan.job, rooms=rooms, stock=tuple(stock.values()), done=done)
    return settled(replace(plan, job=job, materials=(part,)))


def _as_begun(pins: RoomPins, layout: RoomLayout | None, phase: Point | None) -> RoomPins:
    if layout is not None:
        cross = tuple(sorted((seam.breadth, seam.at_nm) for seam in layout.cross_seams))
        seams = tuple(seam.at_nm for seam in layout.seams)
        pin = PinnedLayout(direction=layout.direction, seams_nm=seams, cross_seams_nm=cross)
        pins = replace(pins, layout=pin)
    return replace(pins, phase_nm=phase)


_NOTHING = Measures(
    ordered_nm=(),
    used_nm=(),
    roll_nm2=0,
    seams=0,
    cross_seams=0,
    relief_cuts=0,
    seam_length_nm=0,
    joins=0,
    cuts=0,
    goods_cost=0,
    total_cost=0,
    leftover_nm2=0,
)


def job_of(rooms: Sequence[Room], material: Material, **changes: Any) -> Job:
    """Return a job of one material whose goal is the least roll."""
    settings: dict[str, Any] = {"goal": Goal(kind=GoalKind.LEAST_ROLL)}
    return Job(name="test", unit=Unit.MM, materials=(material,), rooms=tuple(rooms), **(settings | changes))


def rules(**changes: Any) -> SeamRules:
    """Return seam rules that differ from the defaults."""
    return replace(SeamRules(), **changes)


# ---- figures: each step computes what the next builds on, so that a test can plant a fault at any of them ----


def settled(plan: Plan) -> Plan:
    """Return the plan with lengths, costs, order, account, measures and bounds computed from its pieces."""
    return summed(costed(lengthened(measured_off(plan))))


def _on_sources(plan: Plan, change: Any) -> Plan:
    (part,) = plan.materials
    return replace(plan, materials=(replace(part, sources=tuple(change(plan, part, s) for s in part.sources)),))


def measured_off(plan: Plan) -> Plan:
    """Return the plan with the used lengths of its sources."""

    def used(_: Plan, part: MaterialPlan, source: CutSource) -> CutSource:
        cuts = {cut.id: cut for cut in part.cuts}
        ends = [0]
        for place in part.placements:
            if place.source_id == source.id:
                box = bounding_rect(cuts[place.cut_id].rects)
                ends.append(place.y_nm + (box.width_nm if place.turn % 2 else box.length_nm))
        return replace(source, used_nm=max(ends) - source.start_allowance_nm)

    return _on_sources(plan, used)


def lengthened(plan: Plan) -> Plan:
    """Return the plan with the ordered lengths of its orders."""

    def length(plan: Plan, _: MaterialPlan, source: CutSource) -> CutSource:
        material = plan.job.materials[0]
        if source.kind is not SourceKind.ORDER:
            return source
        if material.sale.whole_rolls and material.longest_nm is not None:
            return replace(source, length_nm=material.longest_nm)
        step = material.sale.order_step_nm
        steps = -(-(source.start_allowance_nm + source.used_nm) // step)
        return replace(source, length_nm=max(material.sale.minimum_cut_nm, steps * step))

    return _on_sources(plan, length)


def costed(plan: Plan) -> Plan:
    """Return the plan with what its sources cost."""

    def cost(plan: Plan, _: MaterialPlan, source: CutSource) -> CutSource:
        material = plan.job.materials[0]
        sale = material.sale
        if source.kind is not SourceKind.ORDER:
            return source
        exact = Fraction(0)
        if sale.price_per_m is not None:
            price = dict(zip(material.widths_nm, sale.price_per_m, strict=True)).get(source.width_nm, Fraction(0))
            exact = price * source.length_nm / 10**9
        elif sale.price_per_m2 is not None:
            exact = sale.price_per_m2 * source.length_nm * source.width_nm / 10**18
        return replace(source, cost=int(exact * 2 + 1) // 2 + sale.cut_charge)

    return _on_sources(plan, cost)


def summed(plan: Plan) -> Plan:
    """Return the plan with order, account, measures and bounds computed from its sources and cuts."""
    job, (part,) = plan.job, plan.materials
    material = job.materials[0]
    orders = [source for source in part.sources if source.kind is SourceKind.ORDER]
    lines = tuple(
        OrderLine(
            source_id=source.id,
            width_nm=source.width_nm,
            length_nm=source.length_nm,
            lot=source.lot,
            cost=source.cost,
            repeat_tolerance_nm=-(-source.used_nm // 100) if material.pattern else 0,
        )
        for source in orders
    )
    measures = _measures(job, part, orders)
    account = _account(part)
    bounds, considered = _bounds(job, part, measures)
    part = replace(
        part,
        order=() if plan.consents else lines,
        measures=measures,
        account=account,
        bounds=bounds,
        bound_considered=considered,
    )
    return replace(plan, materials=(part,))


def _account(part: MaterialPlan) -> Account:
    goods_nm2 = sum(source.width_nm * source.length_nm for source in part.sources)
    goods_nm2 -= sum(rect.area_nm2 for source in part.sources for rect in source.gone)
    pieces = sum(rect.area_nm2 for cut in part.cuts for rect in cut.rects)
    offcuts = sum(offcut.rect.area_nm2 for offcut in part.offcuts)
    start = sum(source.width_nm * source.start_allowance_nm for source in part.sources)
    return Account(
        goods_nm2=goods_nm2,
        pieces_nm2=pieces,
        offcuts_nm2=offcuts,
        start_nm2=start,
        waste_nm2=goods_nm2 - pieces - offcuts - start,
        floor_nm2=sum(floor_nm2(layout) for layout in part.layouts),
    )


def floor_nm2(layout: RoomLayout) -> int:
    """Return the area of a floor less its holes."""
    return (_double(layout.floor) - sum(map(_double, layout.holes))) // 2


def _double(points: tuple[Point, ...]) -> int:
    total = 0
    for (ax, ay), (bx, by) in zip(points, (*points[1:], points[0]), strict=True):
        total += ax * by - bx * ay
    return total


def _measures(job: Job, part: MaterialPlan, orders: list[CutSource]) -> Measures:
    widths = sorted({source.width_nm for source in orders})
    parts: dict[tuple[str, int], int] = {}
    for cut in part.cuts:
        if cut.kind in (CutKind.LOOSE, CutKind.STRIP):
            parts[cut.owner, cut.of_item] = parts.get((cut.owner, cut.of_item), 0) + 1
    cost = sum(source.cost for source in part.sources)
    length = sum(_seam_length(job, layout) for layout in part.layouts)
    crosses = sum(len(layout.cross_seams) for layout in part.layouts)
    charges = 0
    if job.goal.kind is GoalKind.LEAST_COST:
        charges = int(Fraction(job.goal.charge_per_seam_m * length, 10**9) * 2 + 1) // 2
        charges += job.goal.charge_per_cross_seam * crosses + job.goal.charge_per_cut * len(part.cuts)
    return Measures(
        ordered_nm=tuple((w, sum(s.length_nm for s in orders if s.width_nm == w)) for w in widths),
        used_nm=tuple((w, sum(s.used_nm for s in orders if s.width_nm == w)) for w in widths),
        roll_nm2=sum(source.width_nm * source.length_nm for source in orders),
        seams=sum(len(layout.seams) for layout in part.layouts),
        cross_seams=crosses,
        relief_cuts=sum(len(layout.relief_cuts) for layout in part.layouts),
        seam_length_nm=length,
        joins=sum(count - 1 for count in parts.values()),
        cuts=len(part.cuts),
        goods_cost=cost,
        total_cost=cost + charges,
        leftover_nm2=sum(offcut.rect.area_nm2 for offcut in part.offcuts),
    )


def _seam_length(job: Job, layout: RoomLayout) -> int:
    (room,) = (room for room in job.rooms if room.id == layout.room_id)
    runs = [((seam.at_nm, low), (seam.at_nm, high)) for seam in layout.seams for low, high in seam.runs]
    runs += [((low, seam.at_nm), (high, seam.at_nm)) for seam in layout.cross_seams for low, high in seam.runs]
    total = sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in runs)
    for end in (end for run in runs for end in run):
        for edge, (ax, ay) in zip(room.edges, layout.floor, strict=True):
            bx, by = layout.floor[(layout.floor.index((ax, ay)) + 1) % len(layout.floor)]
            inside = min(ax, bx) <= end[0] <= max(ax, bx) and min(ay, by) <= end[1] <= max(ay, by)
            total += edge.cove_nm if inside else 0
    for relief in layout.relief_cuts:
        total += abs(relief.end[0] - relief.start[0]) + abs(relief.end[1] - relief.start[1])
    return total


def _bounds(job: Job, part: MaterialPlan, measures: Measures) -> tuple[tuple[Bound, ...], int]:
    """Return an area bound by the floors alone less what is cut, and what the goal's first level attains."""
    material = job.materials[0]
    made = {layout.room_id: 0 for layout in part.layouts}
    stock = sum(item.width_nm * item.length_nm - sum(rect.area_nm2 for rect in item.gone) for item in job.stock)
    for item in job.done:
        area = sum(rect.area_nm2 for rect in item.cut.rects)
        stock -= area
        if item.cut.kind is CutKind.DROP and item.cut.owner in made:
            made[item.cut.owner] += area
    terms = [(f"room:{layout.room_id}", max(0, floor_nm2(layout) - made[layout.room_id])) for layout in part.layouts]
    terms += [("stock", -stock)] if stock else []
    value = max(0, sum(value for _, value in terms))
    roll = Bound(
        level="roll",
        value=value,
        attained=measures.roll_nm2,
        certificate=Certificate(kind="area", value=value, terms=tuple(terms)),
    )
    seams = measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
    first = {
        GoalKind.BALANCED: (
            "balanced-roll",
            measures.roll_nm2 + job.goal.seam_worth_nm * max(material.widths_nm) * seams,
        ),
        GoalKind.LEAST_ROLL: ("roll", measures.roll_nm2),
        GoalKind.FEWEST_SEAMS: ("seams", seams),
        GoalKind.LEAST_COST: ("cost", measures.total_cost),
    }[job.goal.kind]
    if first[0] == "roll":
        return (roll,), measures.roll_nm2
    return (Bound(level=first[0], value=0, attained=first[1], by_search=True), roll), first[1]
