"""Small plans, worked out by hand, that keep every rule; each shows something of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from nesting.domain.geometry import LayDirection, Rect
from nesting.domain.job import (
    Access,
    Door,
    DoorJoint,
    Edge,
    Hole,
    HoleKind,
    JointBelow,
    KeepOut,
    LoosePiece,
    PatternPlacement,
    PlacementWish,
    Strip,
)
from nesting.domain.layout import Allowance, AllowanceKind, CutKind, ReliefCut, RoomLayout, Seam
from nesting.domain.material import Pattern, Sale, StockKind, StockPiece, Turning
from nesting.domain.pins import OneLot, PinnedLayout, PinnedSeam, RoomPins
from nesting.domain.plan import Offcut, OffcutUse, PhaseGroup, Placement, Plan
from nesting.domain.rules import Goal, GoalKind, OffcutRules, ValueRule
from tests.checker.drafting import (
    FULL,
    MM,
    UP,
    Laid,
    M,
    begun,
    box_room,
    boxed,
    drop,
    goods,
    in_hand,
    in_phase,
    job_of,
    ordered,
    piece,
    plan_of,
    rules,
    seam_allowance,
    stacked,
    wall_allowance,
    with_door,
)

HALF_DROP = Pattern(along_nm=640 * MM, across_nm=500 * MM, drop_nm=Fraction(320 * MM))


def plain(seam: int = 2_500 * MM, width: int = 3 * M, goal: Goal | None = None, **changes: Any) -> Plan:
    """A room of 5 × 4 m with a door, a joint below and a keep-out, in two drops; the strip beside them is kept."""
    material = goods(widths_nm=(width,))
    settings: dict[str, Any] = {
        "lays": (UP,),
        "joints_below": (JointBelow(id="joint", start=(2_300 * MM, 0), end=(2_300 * MM, 4 * M)),),
        "keep_outs": (
            KeepOut(
                id="sink",
                outline=((2_600 * MM, M), (2_900 * MM, M), (2_900 * MM, 2 * M), (2_600 * MM, 2 * M)),
            ),
        ),
        "access": Access(widest_nm=3_200 * MM, longest_nm=4_200 * MM, heaviest_g=40_000),
    }
    room = with_door(box_room("hall", 5 * M, 4 * M, **(settings | changes)), 3 * M, 3_900 * MM)
    laid = boxed(room, material, (seam,))
    source = ordered(width=width)
    strip = Rect(seam + 65 * MM, 50 * MM, width, 8_200 * MM)
    offcut = Offcut(id="rest", source_id="roll-1", rect=strip, use=OffcutUse.SHOP, lot="new lot")
    job = job_of([room], material, goal=goal or Goal(kind=GoalKind.LEAST_ROLL))
    return plan_of(job, [laid], [source], stacked(laid.cuts, source), offcuts=(offcut,))


def ell() -> Plan:
    """An L of 5 × 6 m less 3 × 3 m; the first drop is an L too."""
    material = goods()
    outline = ((0, 0), (5 * M, 0), (5 * M, 3 * M), (2 * M, 3 * M), (2 * M, 6 * M), (0, 6 * M))
    room = box_room("hall", 1, 1, outline=outline, edges=tuple(Edge(wall=str(i)) for i in range(6)))
    seam = 2_500 * MM
    layout = RoomLayout(room_id="hall", direction=UP, floor=outline, seams=(Seam(at_nm=seam, runs=((0, 3 * M),)),))
    first = drop(
        "hall-1",
        "hall",
        (Rect(-FULL, -FULL, seam + 10 * MM, 3 * M + FULL), Rect(-FULL, 3 * M + FULL, 2 * M + FULL, 6 * M + FULL)),
        [
            *(wall_allowance(room, edge, material) for edge in (0, 2, 3, 4, 5)),
            seam_allowance(AllowanceKind.SEAM_RIGHT, 0, material),
        ],
    )
    second = drop(
        "hall-2",
        "hall",
        (Rect(seam - 10 * MM, -FULL, 5 * M + FULL, 3 * M + FULL),),
        [
            *(wall_allowance(room, edge, material) for edge in (0, 1, 2)),
            seam_allowance(AllowanceKind.SEAM_LEFT, 0, material),
        ],
        breadth=1,
    )
    source = ordered()
    laid = Laid(room, layout, (first, second))
    return plan_of(job_of([room], material), [laid], [source], stacked(laid.cuts, source))


def half_drop() -> Plan:
    """Half-drop goods on a new roll of free phase; the offcut's phase was worked out by hand."""
    material = goods(pattern=HALF_DROP)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    source = ordered(phase_nm=(0, -50 * MM))
    phase = (55 * MM, 40 * MM)
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase)
    # Five repeats across to x = 2.5 m take 5 × 320 mm off along: −50 + 50 − 1600 ≡ 320 (mod 640).
    offcut = Offcut(
        id="rest",
        source_id="roll-1",
        rect=Rect(2_620 * MM, 50 * MM, 3 * M, 8 * M),
        use=OffcutUse.SHOP,
        lot="new lot",
        phase_nm=(120 * MM, 320 * MM),
    )
    places = in_phase(laid.cuts, source, HALF_DROP, phase, across=500 * MM)
    return plan_of(job_of([room], material), [laid], [source], places, groups=[group], offcuts=(offcut,))


def along_only() -> Plan:
    """Goods that do not vary across, with a repeat along."""
    pattern = Pattern(along_nm=640 * MM)
    material = goods(pattern=pattern)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    source = ordered(phase_nm=(0, -50 * MM))
    group = PhaseGroup(room_ids=("hall",), phase_nm=(0, 77))
    places = in_phase(laid.cuts, source, pattern, (0, 77))
    return plan_of(job_of([room], material), [laid], [source], places, groups=[group])


def third_drop() -> Plan:
    """A drop of a third of the repeat, no whole number of nanometres."""
    pattern = Pattern(along_nm=640 * MM, across_nm=500 * MM, drop_nm=Fraction(640 * MM, 3))
    material = goods(pattern=pattern)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    source = ordered(phase_nm=(0, -50 * MM))
    phase = (55 * MM, 40 * MM)
    places = in_phase(laid.cuts, source, pattern, phase, across=500 * MM)
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase)
    return plan_of(job_of([room], material), [laid], [source], places, groups=[group])


def at_seam() -> Plan:
    """Goods known by their match at the side seam: the pitch is 3.00 m less the overlap."""
    pattern = Pattern(along_nm=640 * MM, across_nm=2_980 * MM, drop_nm=Fraction(320 * MM), at_seam=True)
    material = goods(pattern=pattern)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_935 * MM,))
    source = ordered(phase_nm=(0, -50 * MM))
    phase = (FULL, 0)
    places = in_phase(laid.cuts, source, pattern, phase, across=2_980 * MM)
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase)
    return plan_of(job_of([room], material), [laid], [source], places, groups=[group])


def placed_pattern(
    placement: PatternPlacement | None = None, phase: tuple[int, int] = (0, 560 * MM), drop_nm: int = 320 * MM
) -> Plan:
    """A motif in the middle of the room, so that the roll loses a repeat to its unknown start, and one across."""
    wish = PlacementWish.MOTIF_CENTRED
    pattern = replace(HALF_DROP, drop_nm=Fraction(drop_nm))
    material = goods(widths_nm=(4 * M,), pattern=pattern)
    room = box_room("hall", 5 * M, 4 * M, placement=placement or PatternPlacement(across=wish, along=wish))
    laid = boxed(room, material, (2_500 * MM,))
    start = 690 * MM
    source = ordered(
        width=4 * M,
        start_allowance_nm=start,
        phase_nm=(0, -start),
        anchored=True,
        phase_loss_nm=(500 * MM, 0),
    )
    places = in_phase(laid.cuts, source, pattern, phase, across=500 * MM)
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase, placed=True)
    return plan_of(job_of([room], material), [laid], [source], places, groups=[group])


def two_sources() -> Plan:
    """One drop from a remnant of known phase, the other from a new roll of its lot, which loses a repeat."""
    material = goods(widths_nm=(4 * M,), pattern=HALF_DROP)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    stock = StockPiece(
        id="rest-7",
        material_id="goods",
        kind=StockKind.REMNANT,
        width_nm=3_200 * MM,
        length_nm=5_000 * MM,
        lot="L1",
        lot_orderable=True,
        phase_nm=(120 * MM, 130 * MM),
        book_value=700,
    )
    known = in_hand(stock, phase_nm=stock.phase_nm, phase_known=True)
    start = 690 * MM
    new = ordered(
        width=4 * M,
        lot="L1",
        start_allowance_nm=start,
        phase_nm=(0, -start),
        anchored=True,
        phase_loss_nm=(500 * MM, 0),
    )
    phase = (200 * MM, 0)
    places = in_phase(laid.cuts[:1], known, HALF_DROP, phase, across=500 * MM)
    places += in_phase(laid.cuts[1:], new, HALF_DROP, phase, across=500 * MM)
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase)
    # (120 + 2700, 130 + 200) mm, five repeats across off: (320, 330 − 1600) ≡ (320, 10).
    offcut = Offcut(
        id="rest",
        source_id="rest-7",
        rect=Rect(2_700 * MM, 200 * MM, 3_200 * MM, 5 * M),
        use=OffcutUse.SHOP,
        lot="L1",
        phase_nm=(320 * MM, 10 * MM),
    )
    job = job_of([room], material, stock=(stock,))
    return plan_of(job, [laid], [known, new], places, groups=[group], offcuts=(offcut,))


def unknown_remnants() -> Plan:
    """Two remnants of unknown phase serve one room: both lose a repeat along and one across."""
    material = goods(pattern=HALF_DROP, orders_allowed=False)
    room = box_room("hall", 4 * M, 3 * M)
    laid = boxed(room, material, (2 * M,))
    stock = tuple(
        StockPiece(
            id=f"rest-{number}",
            material_id="goods",
            kind=StockKind.REMNANT,
            width_nm=3_100 * MM,
            length_nm=5 * M,
            lot="L1",
        )
        for number in (1, 2)
    )
    loss = (500 * MM, 640 * MM)
    sources = [in_hand(item, phase_nm=(0, 0), anchored=True, phase_loss_nm=loss) for item in stock]
    phase = (FULL, 0)
    places = [
        place
        for cut, source in zip(laid.cuts, sources, strict=True)
        for place in in_phase([cut], source, HALF_DROP, phase, across=500 * MM)
    ]
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase)
    return plan_of(job_of([room], material, stock=stock), [laid], sources, places, groups=[group])


def matching() -> Plan:
    """Two rooms joined by a door, whose pattern runs through."""
    material = goods(pattern=HALF_DROP)
    hall = with_door(box_room("hall", 2_500 * MM, 4 * M, plan_id="house"), M, 1_900 * MM, joined=("study", "door"))
    study = box_room("study", 2_500 * MM, 3 * M, at=(0, -3_100 * MM), plan_id="house")
    line = ((1_900 * MM, -100 * MM), (M, -100 * MM))
    door = Door(id="door", opening=line, line=line, joined=("hall", "door"))
    study = replace(study, doors=(door,))
    laid = [boxed(room, material) for room in (hall, study)]
    source = ordered(phase_nm=(0, -50 * MM))
    phase = (FULL, 0)
    group = PhaseGroup(room_ids=("hall", "study"), phase_nm=phase)
    places = in_phase([laid[0].cuts[0], laid[1].cuts[0]], source, HALF_DROP, phase, across=500 * MM)
    job = job_of([hall, study], material, matches=(("hall", "study"),))
    return plan_of(job, laid, [source], places, groups=[group])


def seam_lines() -> Plan:
    """Goods with seam lines, kept to by a seam and a cross seam, so that the phase is not free."""
    pattern = Pattern(along_nm=640 * MM, across_nm=500 * MM)
    material = goods(
        widths_nm=(4 * M,), pattern=pattern, seam_lines_across_nm=(55 * MM,), seam_lines_along_nm=(80 * MM, 400 * MM)
    )
    room = box_room("hall", 5 * M, 4 * M, rules=rules(cross_seams_per_breadth=1))
    laid = boxed(room, material, (2_500 * MM,), ((0, 2 * M),))
    start = 690 * MM
    source = ordered(
        width=4 * M, start_allowance_nm=start, phase_nm=(0, -start), anchored=True, phase_loss_nm=(500 * MM, 0)
    )
    phase = (55 * MM, 0)
    places = in_phase(laid.cuts, source, pattern, phase, across=500 * MM)
    group = PhaseGroup(room_ids=("hall",), phase_nm=phase, placed=True)
    return plan_of(job_of([room], material), [laid], [source], places, groups=[group])


def coved() -> Plan:
    """An L with a cove at its outside corner: one insert; goods 4 m wide, no seam."""
    material = goods(widths_nm=(4 * M,))
    outline = ((0, 0), (3 * M, 0), (3 * M, 2 * M), (1_500 * MM, 2 * M), (1_500 * MM, 4 * M), (0, 4 * M))
    edges = tuple(Edge(wall=str(i), cove_nm=100 * MM if i in (2, 3) else 0) for i in range(6))
    room = box_room("hall", 1, 1, outline=outline, edges=edges)
    layout = RoomLayout(room_id="hall", direction=UP, floor=outline)
    high = 2 * M + 155 * MM
    whole = drop(
        "hall-1",
        "hall",
        (Rect(-FULL, -FULL, 3 * M + FULL, high), Rect(-FULL, high, 1_655 * MM, 4 * M + FULL)),
        [wall_allowance(room, edge, material) for edge in range(6)],
    )
    insert = piece("hall-insert", CutKind.INSERT, "hall", 100 * MM, 200 * MM)
    source = ordered(width=4 * M)
    places = stacked([whole], source)
    places.append(Placement(cut_id=insert.id, source_id=source.id, x_nm=2 * M, y_nm=3 * M))
    return plan_of(job_of([room], material), [Laid(room, layout, (whole, insert))], [source], places)


def coved_seam() -> Plan:
    """A seam that ends on a coved wall: it runs up the cove."""
    material = goods()
    room = box_room("hall", 5 * M, 4 * M)
    room = replace(room, edges=(*room.edges[:2], replace(room.edges[2], cove_nm=100 * MM), room.edges[3]))
    laid = boxed(room, material, (2_500 * MM,))
    source = ordered()
    return plan_of(job_of([room], material), [laid], [source], stacked(laid.cuts, source))


def stub(thick: int = 400 * MM) -> Plan:
    """A wall stub in the room, coved on both faces; both coves come out of the goods between them."""
    material = goods(widths_nm=(5 * M,))
    left, right = 2 * M - thick // 2, 2 * M + thick // 2
    outline = (
        (0, 0),
        (4 * M, 0),
        (4 * M, 3 * M),
        (right, 3 * M),
        (right, 2 * M),
        (left, 2 * M),
        (left, 3 * M),
        (0, 3 * M),
    )
    edges = tuple(Edge(wall=str(i), cove_nm=100 * MM if i in (3, 5) else 0) for i in range(8))
    room = box_room("hall", 1, 1, outline=outline, edges=edges)
    whole = drop(
        "hall-1",
        "hall",
        (Rect(-FULL, -FULL, 4 * M + FULL, 3 * M + FULL),),
        [wall_allowance(room, edge, material) for edge in range(8)],
    )
    laid = Laid(room, RoomLayout(room_id="hall", direction=UP, floor=outline), (whole,))
    source = ordered(width=5 * M)
    return plan_of(job_of([room], material), [laid], [source], stacked([whole], source))


def column(columns: int = 1) -> Plan:
    """A free-standing column, or two of which one is slit to the other, in one piece with relief cuts."""
    material = goods()
    corners = ((M, 1_500 * MM), (1_600 * MM, 1_500 * MM))[:columns]
    side = 300 * MM
    holes = tuple(
        Hole(
            id=f"column-{i}", kind=HoleKind.COLUMN, outline=((x, y), (x + side, y), (x + side, y + side), (x, y + side))
        )
        for i, (x, y) in enumerate(corners)
    )
    room = box_room("hall", 2_500 * MM, 4 * M, holes=holes)
    laid = boxed(room, material)
    around = [Allowance(kind=AllowanceKind.HOLE, edge=i, full_nm=TRIM_NM, given_nm=TRIM_NM) for i in range(columns)]
    whole = replace(laid.cuts[0], allowances=(*laid.cuts[0].allowances, *around))
    at = 1_650 * MM
    slits = (
        ReliefCut(hole=0, cut_id=whole.id, start=(M, at), end=(0, at)),
        ReliefCut(hole=1, cut_id=whole.id, start=(1_600 * MM, at), end=(1_300 * MM, at)),
    )
    layout = replace(laid.layout, holes=tuple(hole.outline for hole in holes), relief_cuts=slits[:columns])
    source = ordered()
    return plan_of(job_of([room], material), [Laid(room, layout, (whole,))], [source], stacked([whole], source))


TRIM_NM = 50 * MM


def seamed_column() -> Plan:
    """A column with a seam through it: no relief cut, and a seam in two runs."""
    material = goods()
    hole = Hole(
        id="column",
        kind=HoleKind.COLUMN,
        outline=((2_400 * MM, M), (2_700 * MM, M), (2_700 * MM, 1_300 * MM), (2_400 * MM, 1_300 * MM)),
    )
    room = box_room("hall", 5 * M, 4 * M, holes=(hole,))
    laid = boxed(room, material, (2_500 * MM,))
    mark = Allowance(kind=AllowanceKind.HOLE, edge=0, full_nm=TRIM_NM, given_nm=TRIM_NM)
    cuts = tuple(replace(cut, allowances=(*cut.allowances, mark)) for cut in laid.cuts)
    seam = Seam(at_nm=2_500 * MM, runs=((0, M), (1_300 * MM, 4 * M)))
    layout = replace(laid.layout, holes=(hole.outline,), seams=(seam,))
    source = ordered()
    return plan_of(job_of([room], material), [Laid(room, layout, cuts)], [source], stacked(cuts, source))


def asked_for() -> Plan:
    """Loose pieces whole, turned and in two parts, and a strip in two runs; goods that may be turned."""
    material = goods(turning=Turning.FREE, directed=False)
    mat = LoosePiece(id="mat", name="Mat", material_id="goods", width_nm=600 * MM, length_nm=800 * MM, count=2)
    runner = LoosePiece(
        id="runner", name="Runner", material_id="goods", width_nm=900 * MM, length_nm=3 * M, most_parts=3
    )
    skirting = Strip(
        id="skirting",
        name="Skirting",
        material_id="goods",
        width_nm=98 * MM,
        runs_nm=(2_500 * MM, 3_498 * MM),
    )
    cuts = [
        piece("mat-1", CutKind.LOOSE, "mat", 600 * MM, 800 * MM, 1),
        piece("mat-2", CutKind.LOOSE, "mat", 600 * MM, 800 * MM, 2),
        piece("runner-1", CutKind.LOOSE, "runner", 900 * MM, 1_500 * MM),
        piece("runner-2", CutKind.LOOSE, "runner", 900 * MM, 1_520 * MM),
        piece("skirting-1", CutKind.STRIP, "skirting", 100 * MM, 2_500 * MM, 1),
        piece("skirting-2", CutKind.STRIP, "skirting", 100 * MM, 2_000 * MM, 2),
        piece("skirting-3", CutKind.STRIP, "skirting", 100 * MM, 1_500 * MM, 2),
    ]
    source = ordered()
    places = stacked(cuts[:1], source, turn=1) + [
        replace(place, y_nm=place.y_nm + 600 * MM) for place in stacked(cuts[1:], source)
    ]
    job = job_of([], material, loose=(mat, runner), strips=(skirting,))
    return plan_of(job, [], [source], places, others=cuts)


def bench() -> Plan:
    """Four loose pieces laid so that bench cuts free them."""
    material = goods()
    sizes = ((M, 2 * M), (M, M), (M, M))
    loose = tuple(
        LoosePiece(id=f"mat{i}", name=f"Mat {i}", material_id="goods", width_nm=w, length_nm=h)
        for i, (w, h) in enumerate(sizes)
    )
    cuts = [piece(f"mat{i}-1", CutKind.LOOSE, f"mat{i}", w, h) for i, (w, h) in enumerate(sizes)]
    spots = ((0, 50 * MM), (M, 50 * MM), (M, M + 50 * MM))
    places = [Placement(cut_id=c.id, source_id="roll-1", x_nm=x, y_nm=y) for c, (x, y) in zip(cuts, spots, strict=True)]
    job = job_of([], material, loose=loose, offcuts=OffcutRules(bench_cuts=True))
    return plan_of(job, [], [ordered()], places, others=cuts)


def corridor() -> Plan:
    """Two breadths of 9 m with a cross seam each, from two rolls of one lot."""
    material = goods(longest_nm=10 * M)
    room = box_room("hall", 5 * M, 9 * M, rules=rules(cross_seams_per_breadth=1))
    laid = boxed(room, material, (2_500 * MM,), ((0, 4 * M), (1, 5 * M)))
    rolls = [ordered("roll-1"), ordered("roll-2")]
    places = stacked(laid.cuts[:2], rolls[0]) + stacked(laid.cuts[2:], rolls[1])
    return plan_of(job_of([room], material), [laid], rolls, places)


def forced() -> Plan:
    """A corridor longer than any roll made: one cross seam though none are allowed otherwise."""
    material = goods(widths_nm=(2 * M,), longest_nm=30 * M)
    room = box_room("hall", 1_800 * MM, 38 * M)
    laid = boxed(room, material, (), ((0, 20 * M),))
    rolls = [ordered("roll-1", width=2 * M), ordered("roll-2", width=2 * M)]
    places = stacked(laid.cuts[:1], rolls[0]) + stacked(laid.cuts[1:], rolls[1])
    return plan_of(job_of([room], material), [laid], rolls, places)


def flawed() -> Plan:
    """Both drops from a roll in hand with a flaw between them; what is left goes back and to the client."""
    stock = StockPiece(
        id="shop-roll",
        material_id="goods",
        kind=StockKind.ROLL,
        width_nm=3 * M,
        length_nm=12 * M,
        lot="A",
        flaws=(Rect(100 * MM, 4_200 * MM, 300 * MM, 4_300 * MM),),
        book_value=12_345,
    )
    material = goods(sale=Sale(), orders_allowed=False)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    source = in_hand(stock)
    places = stacked(laid.cuts[:1], source) + [
        replace(place, y_nm=4_300 * MM) for place in stacked(laid.cuts[1:], source)
    ]
    offcuts = (
        Offcut(id="rest", source_id=source.id, rect=Rect(0, 9 * M, 3 * M, 12 * M), use=OffcutUse.SHOP, lot="A"),
        Offcut(
            id="repair",
            source_id=source.id,
            rect=Rect(2_600 * MM, 0, 2_900 * MM, 300 * MM),
            use=OffcutUse.CLIENT,
            lot="A",
        ),
    )
    return plan_of(job_of([room], material, stock=(stock,)), [laid], [source], places, offcuts=offcuts)


def two_remnants(lots: tuple[str | None, str | None] = ("A", "A")) -> Plan:
    """A drop from each of two remnants of one lot."""
    material = goods()
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    stock = tuple(
        StockPiece(
            id=f"rest-{number}",
            material_id="goods",
            kind=StockKind.REMNANT,
            width_nm=3 * M,
            length_nm=5 * M,
            lot=lot,
        )
        for number, lot in enumerate(lots, start=1)
    )
    sources = [in_hand(item) for item in stock]
    places = stacked(laid.cuts[:1], sources[0]) + stacked(laid.cuts[1:], sources[1])
    return plan_of(job_of([room], material, stock=stock), [laid], sources, places)


def valued(rule: ValueRule = ValueRule.BY_SIZE) -> Plan:
    """Two remnants of 3 x 5 m, 0.89 m left of each: by size worth 12 m², then a quarter of 2.67."""
    plan = two_remnants()
    each_nm2 = {
        ValueRule.BY_SIZE: 12 * M**2 - 3 * M * 890 * MM // 4,
        ValueRule.BY_AREA: 15 * M**2 - 3 * M * 890 * MM,
        ValueRule.NONE: 0,
    }
    job = replace(plan.job, offcuts=replace(plan.job.offcuts, value=rule))
    part = plan.materials[0]
    measures = replace(part.measures, rack_nm2=2 * each_nm2[rule])
    return replace(plan, job=job, materials=(replace(part, measures=measures),))


def two_rooms(second_lot: str = "new lot", **sale: Any) -> Plan:
    """Two rooms, each from a roll of its own."""
    material = goods(sale=Sale(order_step_nm=100 * MM, **sale), longest_nm=6 * M)
    rooms = [box_room("hall", 2_500 * MM, 4 * M), box_room("study", 2_500 * MM, 3 * M)]
    laid = [boxed(room, material) for room in rooms]
    rolls = [ordered("roll-1"), ordered("roll-2", lot=second_lot)]
    places = stacked(laid[0].cuts, rolls[0]) + stacked(laid[1].cuts, rolls[1])
    return plan_of(job_of(rooms, material), laid, rolls, places)


def selvedge() -> Plan:
    """Goods whose selvedge is cut away at the seam; at the walls it is trimmed anyway."""
    material = goods(selvedge_nm=10 * MM)
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    mat = LoosePiece(id="mat", name="Mat", material_id="goods", width_nm=600 * MM, length_nm=800 * MM)
    loose = piece("mat-1", CutKind.LOOSE, "mat", 600 * MM, 800 * MM)
    source = ordered()
    places = stacked([*laid.cuts, loose], source)
    places = [places[0], *(replace(place, x_nm=10 * MM) for place in places[1:])]
    job = job_of([room], material, loose=(mat,))
    return plan_of(job, [laid], [source], places, others=[loose])


def turning(kind: Turning = Turning.ALTERNATE, in_sequence: bool = True) -> Plan:
    """Three breadths in sequence, every other one turned."""
    material = goods(turning=kind, in_sequence=in_sequence)
    room = box_room("hall", 8 * M, 4 * M)
    laid = boxed(room, material, (2_700 * MM, 5_400 * MM))
    source = ordered()
    places = stacked(laid.cuts, source)
    if kind is Turning.ALTERNATE:
        places[1] = replace(places[1], turn=2)
    return plan_of(job_of([room], material), [laid], [source], places)


def oblique() -> Plan:
    """A room that stands obliquely in its plan, laid along its own walls (3-4-5: no rounding)."""
    material = goods()
    laid = boxed(box_room("hall", 5 * M, 4 * M), material, (2_500 * MM,))
    outline = tuple(((4 * u + 3 * v) // 5, (4 * v - 3 * u) // 5) for u, v in laid.room.outline)
    room = replace(laid.room, outline=outline)
    layout = replace(laid.layout, direction=LayDirection(3, 4))
    source = ordered()
    return plan_of(job_of([room], material), [Laid(room, layout, laid.cuts)], [source], stacked(laid.cuts, source))


def slanting() -> Plan:
    """A room with an oblique wall, its rough cut in two steps."""
    material = goods(widths_nm=(4 * M,))
    outline = ((0, 0), (3 * M, 0), (2 * M, 4 * M), (0, 4 * M))
    room = box_room("hall", 1, 1, outline=outline)
    whole = drop(
        "hall-1",
        "hall",
        (Rect(-FULL, -FULL, 3 * M + FULL, 2 * M), Rect(-FULL, 2 * M, 2_560 * MM, 4 * M + FULL)),
        [wall_allowance(room, edge, material) for edge in range(4)],
    )
    laid = Laid(room, RoomLayout(room_id="hall", direction=UP, floor=outline), (whole,))
    source = ordered(width=4 * M)
    return plan_of(job_of([room], material), [laid], [source], stacked([whole], source))


def less_trim() -> Plan:
    """A room only just too wide for the goods, laid with less trim at its side walls."""
    material = goods()
    room = box_room("hall", 2_950 * MM, 4 * M, least_trim_nm=20 * MM)
    laid = boxed(room, material)
    given = 25 * MM
    allowances = tuple(
        replace(item, given_nm=given) if item.edge in (1, 3) else item for item in laid.cuts[0].allowances
    )
    whole = replace(laid.cuts[0], allowances=allowances, rects=(Rect(-given, -FULL, 2_950 * MM + given, 4 * M + FULL),))
    source = ordered()
    return plan_of(job_of([room], material), [Laid(room, laid.layout, (whole,))], [source], stacked([whole], source))


def seamed_door() -> Plan:
    """A door line that is seamed to the goods beyond: seam allowance there, trim beside it."""
    material = goods()
    room = with_door(box_room("hall", 2_500 * MM, 4 * M), M, 1_900 * MM, joint=DoorJoint.SEAM)
    laid = boxed(room, material)
    source = ordered()
    return plan_of(job_of([room], material), [laid], [source], stacked(laid.cuts, source))


def whole_rolls() -> Plan:
    """Goods sold by the whole roll and priced by the square metre; the goal is the least cost."""
    material = goods(longest_nm=25 * M, sale=Sale(whole_rolls=True, price_per_m2=Fraction(1_999, 2), cut_charge=250))
    room = box_room("hall", 5 * M, 4 * M)
    laid = boxed(room, material, (2_500 * MM,))
    source = ordered()
    goal = Goal(kind=GoalKind.LEAST_COST, charge_per_seam_m=333, charge_per_cross_seam=100, charge_per_cut=50)
    return plan_of(job_of([room], material, goal=goal), [laid], [source], stacked(laid.cuts, source))


def pinned_seam(by: int = 0) -> Plan:
    """A seam pinned by a line a little askew, within half a cutting step of where the seam lies."""
    line = PinnedSeam(name="a seam by the window", start=(2_502 * MM + by, 4 * M), end=(2_498 * MM + by, 0))
    return plain(pins=RoomPins(seams=(line,), most_seams=1))


def pinned_layout() -> Plan:
    """Two breadths with a cross seam each, laid as an earlier plan laid them."""
    plan = corridor()
    (layout,) = plan.materials[0].layouts
    cross = tuple((seam.breadth, seam.at_nm) for seam in layout.cross_seams)
    seams = tuple(seam.at_nm for seam in layout.seams)
    pins = RoomPins(layout=PinnedLayout(direction=layout.direction, seams_nm=seams, cross_seams_nm=cross))
    (room,) = plan.job.rooms
    return replace(plan, job=replace(plan.job, rooms=(replace(room, pins=pins),)))


def named_goods(sources: tuple[str, ...] = ("rest-1", "rest-2")) -> Plan:
    """A room cut from the two remnants that were named for it."""
    plan = two_remnants()
    (room,) = plan.job.rooms
    return replace(plan, job=replace(plan.job, rooms=(replace(room, pins=RoomPins(sources=sources)),)))


def one_lot(lots: tuple[str | None, str | None] = ("A", "A")) -> Plan:
    """Two rooms that are wanted of one lot, each from a remnant of its own."""
    material = goods()
    rooms = [box_room("hall", 2_500 * MM, 4 * M), box_room("study", 2_500 * MM, 3 * M)]
    laid = [boxed(room, material) for room in rooms]
    stock = two_remnants(lots).job.stock
    sources = [in_hand(item) for item in stock]
    places = stacked(laid[0].cuts, sources[0]) + stacked(laid[1].cuts, sources[1])
    job = job_of(rooms, material, stock=stock, one_lot=(OneLot(rooms=("hall", "study")),))
    return plan_of(job, laid, sources, places)


def begun_rooms() -> Plan:
    """Three rooms: one half laid, one cut, one from a roll still to order; of the roll in hand a corner is gone too."""
    material = goods()
    rooms = [box_room("hall", 5 * M, 4 * M), box_room("study", 2_500 * MM, 3 * M), box_room("den", 2_500 * MM, 3 * M)]
    laid = [boxed(rooms[0], material, (2_500 * MM,)), *(boxed(room, material) for room in rooms[1:])]
    hall, study, den = laid
    rolls = [ordered("roll-1", lot="L1"), ordered("roll-2", lot="L1")]
    places = stacked([hall.cuts[0], study.cuts[0], hall.cuts[1]], rolls[0]) + stacked(den.cuts, rolls[1])
    rest = Rect(2_610 * MM, 50 * MM, 3 * M, 11 * M)
    offcut = Offcut(id="rest", source_id="roll-1", rect=rest, use=OffcutUse.SHOP, lot="L1")
    plan = plan_of(job_of(rooms, material), laid, rolls, places, offcuts=(offcut,))
    corner = Rect(2_800 * MM, 11 * M, 3 * M, 11_400 * MM)
    return begun(plan, {"hall-1": "laid", "study-1": "cut"}, gone=(corner,))


def begun_half_drop() -> Plan:
    """Half-drop goods of which the first drop is laid: the phase of the room is the one it is laid in."""
    return begun(half_drop(), {"hall-1": "laid"})


def begun_sequence(order: tuple[int, ...] = (1, 2, 3, 0)) -> Plan:
    """Four breadths in sequence; the first was spoiled and is cut again behind the others."""
    material = goods(in_sequence=True)
    room = box_room("hall", 10_700 * MM, 4 * M)
    laid = boxed(room, material, (2_700 * MM, 5_400 * MM, 8_100 * MM))
    source = ordered()
    places = stacked([laid.cuts[number] for number in order], source)
    return begun(plan_of(job_of([room], material), [laid], [source], places), {"hall-1": "cut"})


PLANS: dict[str, Callable[[], Plan]] = {
    build.__name__: build
    for build in (
        plain,
        ell,
        half_drop,
        along_only,
        third_drop,
        at_seam,
        placed_pattern,
        two_sources,
        unknown_remnants,
        matching,
        seam_lines,
        coved,
        coved_seam,
        stub,
        column,
        seamed_column,
        asked_for,
        bench,
        corridor,
        forced,
        flawed,
        two_remnants,
        valued,
        two_rooms,
        selvedge,
        turning,
        oblique,
        slanting,
        less_trim,
        seamed_door,
        whole_rolls,
        pinned_seam,
        pinned_layout,
        named_goods,
        one_lot,
        begun_rooms,
        begun_half_drop,
        begun_sequence,
    )
}
