"""Plans put together by hand for the drawings: no planner, and only as sound as a drawing needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.domain.geometry import LayDirection, Point, Rect, bounding_rect
from nesting.domain.job import (
    Edge,
    Job,
    LoosePiece,
    Room,
    Strip,
)
from nesting.domain.layout import (
    Allowance,
    AllowanceKind,
    CrossSeam,
    Cut,
    CutKind,
    ReliefCut,
    RoomLayout,
    Seam,
)
from nesting.domain.material import Material
from nesting.domain.plan import (
    Account,
    Consent,
    CutSource,
    MaterialPlan,
    Measures,
    Notice,
    Offcut,
    OffcutUse,
    PhaseGroup,
    Placement,
    Plan,
    SourceKind,
)

MM = 1_000_000
INCH = 25_400_000
NORTH = LayDirection(0, 1)
EAST = LayDirection(1, 0)


def mm(*values: float) -> tuple[int, ...]:
    return tuple(round(v * MM) for v in values)


def outline(*corners: tuple[float, float], unit_nm: int = MM) -> tuple[Point, ...]:
    return tuple((round(x * unit_nm), round(y * unit_nm)) for x, y in corners)


def walls(points: Sequence[Point], names: Sequence[str] = (), **special: Edge) -> tuple[Edge, ...]:
    """Edges of an outline; `special` by e0, e1, … takes the place of the plain wall."""
    return tuple(
        special.get(f"e{k}", Edge(wall=names[k] if k < len(names) else f"wall {k + 1}")) for k in range(len(points))
    )


def rectangle(width: float, length: float, unit_nm: int = MM) -> tuple[Point, ...]:
    return outline((0, 0), (width, 0), (width, length), (0, length), unit_nm=unit_nm)


COMPASS = ("south", "east", "north", "west")


def lay_point(direction: LayDirection, point: Point) -> Point:
    n = (direction.dx**2 + direction.dy**2) ** 0.5
    return (
        round((point[0] * direction.dy - point[1] * direction.dx) / n),
        round((point[0] * direction.dx + point[1] * direction.dy) / n),
    )


def _runs(floor: Sequence[Point], at: int, axis: int) -> tuple[tuple[int, int], ...]:
    """Where the line (u = at for axis 0, v = at for axis 1) lies inside the floor."""
    hits = []
    for a, b in zip(floor, [*floor[1:], floor[0]], strict=True):
        if (a[axis] < at) != (b[axis] < at):
            share = (at - a[axis]) / (b[axis] - a[axis])
            hits.append(round(a[1 - axis] + share * (b[1 - axis] - a[1 - axis])))
    hits.sort()
    return tuple(zip(hits[::2], hits[1::2], strict=True))


def laid(
    room: Room,
    direction: LayDirection,
    seams_mm: Sequence[float] = (),
    cross_mm: Sequence[tuple[int, float]] = (),
    *,
    trim: int = 50 * MM,
    overlap: int = 10 * MM,
    reliefs: tuple[ReliefCut, ...] = (),
    shapes: dict[int, tuple[Rect, ...]] | None = None,
) -> tuple[RoomLayout, list[Cut]]:
    """A layout with one cut per breadth and stretch between cross seams, rectangles unless `shapes` says else."""
    floor = tuple(lay_point(direction, p) for p in room.outline)
    box = bounding_rect(tuple(Rect(*p, *p) for p in floor))
    lines = [box.x0_nm, *(round(s * MM) for s in seams_mm), box.x1_nm]
    crosses = []
    for breadth, at in cross_mm:
        crosses.append(CrossSeam(breadth=breadth, at_nm=round(at * MM), runs=((lines[breadth], lines[breadth + 1]),)))
    layout = RoomLayout(
        room_id=room.id,
        direction=direction,
        floor=floor,
        holes=tuple(tuple(lay_point(direction, p) for p in hole.outline) for hole in room.holes),
        seams=tuple(Seam(at_nm=at, runs=_runs(floor, at, 0)) for at in lines[1:-1]),
        cross_seams=tuple(crosses),
        relief_cuts=reliefs,
    )
    cuts: list[Cut] = []
    for breadth in range(len(lines) - 1):
        low_u, high_u = lines[breadth], lines[breadth + 1]
        spans = [_span(floor, low_u, high_u)]
        bounds = [(None, None)]
        for k, cross in enumerate(crosses):
            if cross.breadth == breadth:
                (low_v, high_v), (low_c, _) = spans.pop(), bounds.pop()
                spans += [(low_v, cross.at_nm), (cross.at_nm, high_v)]
                bounds += [(low_c, k), (k, None)]
        for (low_v, high_v), (low_c, high_c) in zip(spans, bounds, strict=True):
            left = trim if breadth == 0 else overlap
            right = trim if breadth == len(lines) - 2 else overlap
            rect = Rect(
                low_u - left,
                low_v - (trim if low_c is None else overlap),
                high_u + right,
                high_v + (trim if high_c is None else overlap),
            )
            number = len(cuts)
            allowances = [
                Allowance(kind=AllowanceKind(room.edges[k].kind.value), edge=k, full_nm=trim, given_nm=trim)
                for k in range(len(floor))
                if _touches(floor[k], floor[(k + 1) % len(floor)], low_u, high_u, low_v, high_v)
            ]
            if high_c is not None:
                allowances.append(
                    Allowance(kind=AllowanceKind.CROSS_HIGH, edge=high_c, full_nm=overlap, given_nm=overlap)
                )
            cuts.append(
                Cut(
                    id=f"{room.id}-{number + 1}",
                    number=0,
                    kind=CutKind.DROP,
                    owner=room.id,
                    label=f"{room.name} {number + 1}",
                    rects=(shapes or {}).get(number, (rect,)),
                    breadth=breadth,
                    low=low_c,
                    high=high_c,
                    allowances=tuple(allowances),
                )
            )
    return layout, cuts


def _span(floor: Sequence[Point], low: int, high: int) -> tuple[int, int]:
    found = [v for u, v in floor if low <= u <= high]
    for at in (low, high):
        for run in _runs(floor, at, 0):
            found += run
    return min(found), max(found)


def _touches(a: Point, b: Point, low_u: int, high_u: int, low_v: int, high_v: int) -> bool:
    return (
        min(a[0], b[0]) < high_u + 1
        and max(a[0], b[0]) > low_u - 1
        and min(a[1], b[1]) < high_v + 1
        and max(a[1], b[1]) > low_v - 1
    )


def loose_cuts(piece: LoosePiece) -> list[Cut]:
    return [
        Cut(
            id=f"{piece.id}-{k + 1}",
            number=0,
            kind=CutKind.LOOSE,
            owner=piece.id,
            label=f"{piece.name} {k + 1}",
            rects=(Rect(0, 0, piece.width_nm, piece.length_nm),),
            of_item=k,
        )
        for k in range(piece.count)
    ]


def strip_cuts(strip: Strip) -> list[Cut]:
    return [
        Cut(
            id=f"{strip.id}-{k + 1}",
            number=0,
            kind=CutKind.STRIP,
            owner=strip.id,
            label=f"{strip.name} {k + 1}",
            rects=(Rect(0, 0, strip.width_nm, run),),
            of_item=k,
        )
        for k, run in enumerate(strip.runs_nm)
    ]


def packed(cuts: Sequence[Cut], sources: Sequence[CutSource], turns: dict[str, int] | None = None) -> list[Placement]:
    """First fit: every cut at the lowest free place of the first source that takes it."""
    taken: dict[str, list[Rect]] = {s.id: list(s.flaws) for s in sources}
    spots = []
    for cut in cuts:
        turn = (turns or {}).get(cut.id, 0)
        spot = next(filter(None, (_first_fit(cut, turn, s, taken[s.id]) for s in sources)), None)
        assert spot is not None, f"no room for {cut.id}"
        spots.append(spot)
    return spots


def _turned(rects: Sequence[Rect], turn: int) -> list[Rect]:
    found = list(rects)
    for _ in range(turn % 4):
        found = [Rect(-r.y1_nm, r.x0_nm, -r.y0_nm, r.x1_nm) for r in found]
    box = bounding_rect(tuple(found))
    return [Rect(r.x0_nm - box.x0_nm, r.y0_nm - box.y0_nm, r.x1_nm - box.x0_nm, r.y1_nm - box.y0_nm) for r in found]


def _first_fit(cut: Cut, turn: int, source: CutSource, taken: list[Rect]) -> Placement | None:
    rects = _turned(cut.rects, turn)
    box = bounding_rect(tuple(rects))
    xs = sorted({0, *(r.x1_nm for r in taken), *(max(0, source.width_nm - box.width_nm),)})
    ys = sorted({source.start_allowance_nm, *(r.y1_nm for r in taken), *(r.y0_nm for r in taken)})
    for y in ys:
        for x in xs:
            if x + box.width_nm > source.width_nm or y + box.length_nm > source.length_nm:
                continue
            if y < source.start_allowance_nm:
                continue
            here = [Rect(r.x0_nm + x, r.y0_nm + y, r.x1_nm + x, r.y1_nm + y) for r in rects]
            if not any(_overlap(a, b) for a in here for b in taken):
                taken += here
                return Placement(cut_id=cut.id, source_id=source.id, x_nm=x, y_nm=y, turn=turn)
    return None


def _overlap(a: Rect, b: Rect) -> bool:
    return a.x0_nm < b.x1_nm and b.x0_nm < a.x1_nm and a.y0_nm < b.y1_nm and b.y0_nm < a.y1_nm


def material_plan(
    material: Material,
    layouts: Sequence[RoomLayout],
    cuts: Sequence[Cut],
    sources: Sequence[CutSource],
    *,
    placements: Sequence[Placement] | None = None,
    turns: dict[str, int] | None = None,
    offcuts: Sequence[Offcut] = (),
    groups: Sequence[PhaseGroup] = (),
    notices: Sequence[Notice] = (),
) -> MaterialPlan:
    numbered = [replace(cut, number=k + 1) for k, cut in enumerate(cuts)]
    spots = packed(numbered, sources, turns) if placements is None else placements
    return MaterialPlan(
        material_id=material.id,
        layouts=tuple(layouts),
        cuts=tuple(numbered),
        sources=tuple(sources),
        placements=tuple(spots),
        phase_groups=tuple(groups),
        offcuts=tuple(offcuts),
        order=(),
        account=Account(goods_nm2=0, pieces_nm2=0, offcuts_nm2=0, start_nm2=0, waste_nm2=0, floor_nm2=0),
        measures=Measures(
            ordered_nm=(),
            used_nm=(),
            roll_nm2=0,
            seams=0,
            cross_seams=0,
            relief_cuts=0,
            seam_length_nm=0,
            joins=0,
            cuts=len(numbered),
            goods_cost=0,
            total_cost=0,
            leftover_nm2=0,
        ),
        bounds=(),
        bound_considered=0,
        notices=tuple(notices),
    )


def plan_of(job: Job, *parts: MaterialPlan, consents: tuple[Consent, ...] = ()) -> Plan:
    return Plan(job=job, materials=parts, seed=1, effort=1, versions=(), consents=consents)


def order(ident: str, width: float, length: float, start: float = 50, **more: object) -> CutSource:
    return CutSource(
        id=ident,
        kind=SourceKind.ORDER,
        width_nm=round(width * MM),
        length_nm=round(length * MM),
        lot="new lot",
        start_allowance_nm=round(start * MM),
        **more,
    )  # type: ignore[arg-type]


def rect_mm(x0: float, y0: float, x1: float, y1: float) -> Rect:
    return Rect(*mm(x0, y0, x1, y1))


def tail(
    source: CutSource,
    cuts: Sequence[Cut],
    spots: Sequence[Placement],
    use: OffcutUse = OffcutUse.SHOP,
    phase: Point | None = None,
) -> Offcut:
    """What is left beyond the last piece, as an offcut."""
    by_id = {cut.id: cut for cut in cuts}
    far = max(
        (
            s.y_nm + bounding_rect(tuple(_turned(by_id[s.cut_id].rects, s.turn))).length_nm
            for s in spots
            if s.source_id == source.id
        ),
        default=0,
    )
    return Offcut(
        id=f"{source.id}-offcut-1",
        source_id=source.id,
        use=use,
        lot=source.lot,
        phase_nm=phase,
        rect=Rect(0, far, source.width_nm, source.length_nm),
    )
