"""The plans that the drawings are tried on."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

from nesting.domain.geometry import LayDirection, Rect
from nesting.domain.job import (
    Door,
    DoorJoint,
    Edge,
    EdgeKind,
    Hole,
    HoleKind,
    Job,
    JointBelow,
    KeepOut,
    LoosePiece,
    Room,
    Strip,
    Unit,
)
from nesting.domain.layout import (
    AllowanceKind,
    Cut,
    CutKind,
    ReliefCut,
)
from nesting.domain.material import Material, Pattern, StockKind, StockPiece, Turning
from nesting.domain.plan import (
    Consent,
    CutSource,
    Notice,
    Offcut,
    OffcutUse,
    PhaseGroup,
    Plan,
    SourceKind,
)
from nesting.domain.rules import RuleId
from tests.drawing.building import (
    COMPASS,
    EAST,
    INCH,
    MM,
    NORTH,
    laid,
    loose_cuts,
    material_plan,
    mm,
    order,
    outline,
    packed,
    plan_of,
    rect_mm,
    rectangle,
    strip_cuts,
    tail,
    walls,
)


def clinic() -> Plan:
    """Metric, plain goods: a roll to order, one in hand, a remnant with a flaw; a turned drop, a cross seam."""
    goods = Material(id="lino", name="Linoleum 2.5 mm, sand", widths_nm=mm(2000))
    pts = outline((0, 0), (5200, 0), (5200, 3600), (3100, 3600), (3100, 3750), (2200, 3750), (2200, 3600), (0, 3600))
    door = Door(
        id="d1",
        opening=((3100 * MM, 3600 * MM), (2200 * MM, 3600 * MM)),
        line=((3100 * MM, 3750 * MM), (2200 * MM, 3750 * MM)),
    )
    treatment = Room(
        id="treatment",
        name="Treatment",
        material_id="lino",
        outline=pts,
        edges=walls(
            pts,
            ("south", "east", "north 1"),
            e3=Edge(kind=EdgeKind.JAMB, door="d1"),
            e4=Edge(kind=EdgeKind.DOOR, door="d1"),
            e5=Edge(kind=EdgeKind.JAMB, door="d1"),
            e6=Edge(wall="north 2"),
            e7=Edge(wall="west", cove_nm=100 * MM),
        ),
        doors=(door,),
    )
    hall_pts = rectangle(1800, 9400)
    corridor = Room(
        id="corridor", name="Corridor", material_id="lino", outline=hall_pts, edges=walls(hall_pts, COMPASS)
    )
    store_pts = rectangle(1400, 1750)
    store = Room(id="store", name="Store", material_id="lino", outline=store_pts, edges=walls(store_pts, COMPASS))
    layout1, cuts1 = laid(treatment, NORTH, (1900, 3800))
    layout2, cuts2 = laid(corridor, NORTH, (), ((0, 5200),))
    layout3, cuts3 = laid(store, NORTH)
    new = order("lino-roll-1", 2000, 17_500)
    in_hand = CutSource(
        id="R12",
        kind=SourceKind.ROLL,
        width_nm=2000 * MM,
        length_nm=9000 * MM,
        lot="B7",
        stock_id="R12",
        flaws=(rect_mm(500, 4300, 900, 4550),),
    )
    remnant = CutSource(
        id="R3",
        kind=SourceKind.REMNANT,
        width_nm=1700 * MM,
        length_nm=3100 * MM,
        lot="A1",
        stock_id="R3",
        flaws=(rect_mm(1200, 2000, 1350, 2100),),
    )
    cuts = [*cuts3, *cuts1, *cuts2]
    spots = [
        *packed(cuts3, [remnant]),
        *packed([*cuts1, cuts2[0]], [new], {cuts1[1].id: 2}),
        *packed(cuts2[1:], [in_hand]),
    ]
    offcuts = (
        tail(remnant, cuts, spots),
        tail(new, cuts, spots, OffcutUse.CLIENT),
        Offcut(id="R12-offcut-1", source_id="R12", rect=rect_mm(0, 4550, 2000, 9000), use=OffcutUse.SHOP, lot="B7"),
        Offcut(
            id="lino-roll-1-offcut-2",
            source_id="lino-roll-1",
            rect=rect_mm(1510, 7600, 2000, 11_300),
            use=OffcutUse.SHOP,
            lot="new lot",
        ),
    )
    job = Job(
        name="Small clinic",
        unit=Unit.MM,
        materials=(goods,),
        rooms=(treatment, corridor, store),
        stock=(
            StockPiece(
                id="R12",
                material_id="lino",
                kind=StockKind.ROLL,
                width_nm=2000 * MM,
                length_nm=9000 * MM,
                lot="B7",
                place="rack 2",
            ),
            StockPiece(
                id="R3", material_id="lino", kind=StockKind.REMNANT, width_nm=1700 * MM, length_nm=3100 * MM, lot="A1"
            ),
        ),
    )
    return plan_of(
        job,
        material_plan(
            goods, (layout1, layout2, layout3), cuts, (new, in_hand, remnant), placements=spots, offcuts=offcuts
        ),
    )


def guest_house() -> Plan:
    """Half-drop broadloom, lay east: pattern lines in columns, the first mark known by the start allowance."""
    goods = Material(
        id="broadloom",
        name="Broadloom, trellis",
        widths_nm=mm(4000),
        selvedge_nm=20 * MM,
        pattern=Pattern(along_nm=914_400_000, across_nm=990 * MM, drop_nm=Fraction(457_200_000)),
    )
    pts = outline((0, 0), (6400, 0), (6400, 7200), (0, 7200))
    lounge = Room(
        id="lounge",
        name="Lounge",
        material_id="broadloom",
        outline=pts,
        edges=walls(pts, COMPASS),
        joints_below=(JointBelow(id="j", start=(0, 2000 * MM), end=(6400 * MM, 2000 * MM)),),
    )
    layout, cuts = laid(lounge, EAST, (-3300,), trim=75 * MM, overlap=15 * MM)
    new = order("broadloom-roll-1", 4000, 15_000, 50, phase_nm=(0, -50 * MM), used_nm=14_000 * MM)
    spots = packed(cuts, [new])
    spots = [spots[0], replace(spots[1], y_nm=50 * MM + 8 * 914_400_000)]
    offcut = Offcut(
        id="broadloom-roll-1-offcut-1",
        source_id=new.id,
        lot="new lot",
        use=OffcutUse.CLIENT,
        rect=Rect(0, mm(13_965)[0], 4000 * MM, 15_000 * MM),
        phase_nm=(0, 0),
    )
    job = Job(name="Guest house", unit=Unit.M, materials=(goods,), rooms=(lounge,))
    group = PhaseGroup(room_ids=("lounge",), phase_nm=(7275 * MM, 125 * MM))
    return plan_of(
        job, material_plan(goods, (layout,), cuts, (new,), placements=spots, offcuts=(offcut,), groups=(group,))
    )


def corner() -> Plan:
    """An L whose missing corner carries the whole of another room."""
    goods = Material(id="vinyl", name="Sheet vinyl, oak plank", widths_nm=mm(4000))
    pts = outline((0, 0), (3850, 0), (3850, 2200), (1900, 2200), (1900, 5200), (0, 5200))
    kitchen = Room(id="kitchen", name="Kitchen", material_id="vinyl", outline=pts, edges=walls(pts))
    bath_pts = rectangle(1750, 2700)
    bath = Room(id="bath", name="Bath", material_id="vinyl", outline=bath_pts, edges=walls(bath_pts, COMPASS))
    shape = {0: (rect_mm(-50, -50, 3900, 2250), rect_mm(-50, 2250, 1950, 5250))}
    layout1, cuts1 = laid(kitchen, NORTH, shapes=shape)
    layout2, cuts2 = laid(bath, NORTH)
    new = order("vinyl-roll-1", 4000, 5_400)
    cuts = [*cuts1, *cuts2]
    spots = packed(cuts, [new])
    job = Job(name="Flat over the bakery", unit=Unit.CM, materials=(goods,), rooms=(kitchen, bath))
    return plan_of(job, material_plan(goods, (layout1, layout2), cuts, (new,), placements=spots))


def school() -> Plan:
    """Feet and inches, straight match with a selvedge, a room with a recess, an L and a keep-out; less trim."""
    goods = Material(
        id="sheet",
        name="Sheet vinyl, tile print",
        widths_nm=(144 * INCH,),
        selvedge_nm=INCH // 2,
        pattern=Pattern(along_nm=18 * INCH, across_nm=18 * INCH),
    )
    pts = outline(
        (0, 0),
        (216, 0),
        (216, 100),
        (270.5, 100),
        (270.5, 180),
        (96, 180),
        (96, 176),
        (60, 176),
        (60, 180),
        (0, 180),
        unit_nm=INCH,
    )
    door = Door(
        id="d",
        opening=((96 * INCH, 176 * INCH), (60 * INCH, 176 * INCH)),
        line=((96 * INCH, 176 * INCH), (60 * INCH, 176 * INCH)),
        joint=DoorJoint.SEAM,
        joined=("hall", "d2"),
    )
    nursery = Room(
        id="nursery",
        name="Nursery",
        material_id="sheet",
        outline=pts,
        edges=walls(
            pts,
            ("south", "east 1", "step", "east 2", "north"),
            e6=Edge(kind=EdgeKind.DOOR, door="d"),
            e5=Edge(kind=EdgeKind.JAMB, door="d"),
            e7=Edge(kind=EdgeKind.JAMB, door="d"),
        ),
        doors=(door,),
        keep_outs=(KeepOut(id="sink", outline=outline((150, 0), (190, 0), (190, 24), (150, 24), unit_nm=INCH)),),
        least_trim_nm=INCH,
    )
    layout, cuts = laid(nursery, NORTH, (136 * 25.4,), trim=2 * INCH, overlap=INCH // 2)
    cuts[0] = replace(
        cuts[0],
        allowances=tuple(replace(a, given_nm=INCH) if a.kind is AllowanceKind.WALL else a for a in cuts[0].allowances),
    )
    new = order("sheet-roll-1", 3657.6, 9753.6, 50.8, phase_nm=(0, -round(50.8 * MM)))
    part = material_plan(
        goods,
        (layout,),
        cuts,
        (new,),
        groups=(PhaseGroup(room_ids=("nursery",), phase_nm=(3 * INCH, 5 * INCH)),),
        notices=(
            Notice(
                code="less-trim",
                room_id="nursery",
                text='Nursery 1 has 1" of trim at its side walls: walls must be straight within 1".',
            ),
        ),
    )
    return plan_of(Job(name="Nursery school", unit=Unit.FOOT, materials=(goods,), rooms=(nursery,)), part)


def long_roll() -> Plan:
    """A roll of 30 m in several rows and one of 100 m of which little is used; drops cross the breaks."""
    goods = Material(id="carpet", name="Carpet, plain", widths_nm=mm(4000))
    pts = rectangle(19_500, 5_400)
    hall = Room(id="hall", name="Hall", material_id="carpet", outline=pts, edges=walls(pts, COMPASS))
    layout, cuts = laid(hall, NORTH, (3900, 7800, 11_700, 15_600))
    aisle_pts = rectangle(3600, 14_200)
    aisle = Room(id="aisle", name="Aisle", material_id="carpet", outline=aisle_pts, edges=walls(aisle_pts, COMPASS))
    layout2, cuts2 = laid(aisle, NORTH)
    new = order("carpet-roll-1", 4000, 30_000)
    big = CutSource(
        id="R100", kind=SourceKind.ROLL, width_nm=4000 * MM, length_nm=100_000 * MM, lot="Q", stock_id="R100"
    )
    cuts = [*cuts, *cuts2]
    spots = [*packed(cuts[:5], [new]), *packed(cuts[5:], [big])]
    job = Job(name="Assembly hall", unit=Unit.M, materials=(goods,), rooms=(hall, aisle))
    return plan_of(
        job,
        material_plan(
            goods,
            (layout, layout2),
            cuts,
            (new, big),
            placements=spots,
            offcuts=(tail(new, cuts, spots), tail(big, cuts, spots)),
        ),
    )


def studio() -> Plan:
    """A room with a column, an island, keep-outs, a joint below, an oblique wall, small jogs, laid along that wall."""
    goods = Material(id="rubber", name="Rubber sheet", widths_nm=mm(2000))
    pts = outline(
        (0, 0),
        (7200, 0),
        (8400, 2400),
        (8400, 6000),
        (8100, 6000),
        (8100, 6150),
        (7700, 6150),
        (7700, 6000),
        (4000, 6000),
        (4000, 5880),
        (3880, 5880),
        (3880, 6000),
        (0, 6000),
        (0, 4000),
        (-600, 4000),
        (-600, 3000),
        (0, 3000),
    )
    studio_room = Room(
        id="studio",
        name="Studio",
        material_id="rubber",
        outline=pts,
        edges=walls(pts, e5=Edge(kind=EdgeKind.DOOR, door="d")),
        doors=(
            Door(
                id="d",
                opening=((8100 * MM, 6000 * MM), (7700 * MM, 6000 * MM)),
                line=((8100 * MM, 6150 * MM), (7700 * MM, 6150 * MM)),
            ),
        ),
        holes=(
            Hole(
                id="c1", kind=HoleKind.COLUMN, outline=outline((2600, 2600), (3000, 2600), (3000, 3000), (2600, 3000))
            ),
            Hole(
                id="i1", kind=HoleKind.ISLAND, outline=outline((5200, 3000), (6400, 3000), (6400, 3900), (5200, 3900))
            ),
        ),
        keep_outs=(KeepOut(id="k1", outline=outline((6000, 0), (7200, 0), (7200, 600), (6000, 600))),),
        joints_below=(
            JointBelow(id="j1", start=(0, 4700 * MM), end=(8400 * MM, 4700 * MM)),
            JointBelow(id="j2", start=(1500 * MM, 0), end=(1500 * MM, 6000 * MM)),
        ),
    )
    relief = ReliefCut(hole=0, cut_id="studio-2", start=(2800 * MM, 2600 * MM), end=(2800 * MM, 0))
    layout, cuts = laid(studio_room, NORTH, (1200, 3120, 5040, 6960), ((2, 2000.0),), reliefs=(relief,))
    new = order("rubber-roll-1", 2000, 36_000)
    job = Job(name="Dance studio", unit=Unit.MM, materials=(goods,), rooms=(studio_room,))
    return plan_of(job, material_plan(goods, (layout,), cuts, (new,), placements=packed(cuts, [new])))


def oblique() -> Plan:
    """A room laid along an oblique wall: the lay frame is turned by an angle that is no quarter."""
    goods = Material(id="rubber", name="Rubber sheet", widths_nm=mm(2000))
    pts = outline((0, 0), (4000, 3000), (1600, 6200), (-2400, 3200))
    room = Room(id="wing", name="Oblique wing", material_id="rubber", outline=pts, edges=walls(pts))
    layout, cuts = laid(room, LayDirection(4, 3), (-2000,))
    new = order("rubber-roll-1", 2300, 11_000)
    job = Job(name="Annexe", unit=Unit.MM, materials=(goods,), rooms=(room,))
    return plan_of(job, material_plan(goods, (layout,), cuts, (new,), placements=packed(cuts, [new])))


def small_pieces() -> Plan:
    """Many small pieces: stair treads, mats and skirting strips, some turned by a quarter."""
    goods = Material(id="vinyl", name="Sheet vinyl", widths_nm=mm(2000), turning=Turning.FREE)
    treads = LoosePiece(
        id="tread", name="Stair tread", material_id="vinyl", width_nm=900 * MM, length_nm=300 * MM, count=9
    )
    mats = LoosePiece(id="mat", name="Mat", material_id="vinyl", width_nm=400 * MM, length_nm=250 * MM, count=6)
    skirting = Strip(
        id="skirt",
        name="Skirting",
        material_id="vinyl",
        width_nm=80 * MM,
        runs_nm=mm(2400, 2400, 2400, 2300, 2300, 1800, 1200, 900),
    )
    cuts = [*strip_cuts(skirting), *loose_cuts(treads), *loose_cuts(mats)]
    cuts.append(
        Cut(
            id="insert-1",
            number=0,
            kind=CutKind.INSERT,
            owner="bath",
            label="Bath corner",
            rects=(rect_mm(0, 0, 100, 200),),
        )
    )
    new = order("vinyl-roll-1", 2000, 6_000)
    job = Job(name="Stairs", unit=Unit.MM, materials=(goods,), rooms=(), loose=(treads, mats), strips=(skirting,))
    turns = {"mat-2": 1, "mat-3": 3, "tread-9": 1}
    return plan_of(job, material_plan(goods, (), cuts, (new,), placements=packed(cuts, [new], turns)))


def crowded(seed: int) -> Plan:
    """Pieces of random sizes, many of them tiny, on one roll with flaws, in a random unit."""
    chance = Random(seed)
    width = chance.choice([1200, 2000, 3660, 5000])
    pattern = Pattern(along_nm=chance.randint(100, 900) * MM, across_nm=chance.choice([None, 450 * MM]))
    goods = Material(
        id="g",
        name="Goods",
        widths_nm=mm(width),
        turning=Turning.FREE,
        selvedge_nm=20 * MM,
        pattern=pattern if seed % 2 else None,
    )
    loose = [
        LoosePiece(
            id=f"p{k}",
            name="Piece " + "x" * chance.randint(1, 60),
            material_id="g",
            width_nm=chance.randint(50, width - 1) * MM,
            count=chance.randint(1, 3),
            length_nm=chance.choice([chance.randint(50, 900), chance.randint(50, 9000)]) * MM,
        )
        for k in range(chance.randint(3, 20))
    ]
    cuts = [cut for piece in loose for cut in loose_cuts(piece)]
    spots = [(chance.randint(0, width - 90), chance.randint(60, 20_000)) for _ in range(3)]
    new = order(
        "S",
        width,
        250_000,
        phase_nm=(0, -50 * MM),
        phase_loss_nm=(100 * MM, 0),
        flaws=tuple(rect_mm(x, y, x + 80, y + 60) for x, y in spots),
    )
    placed = packed(cuts, [new])
    far = tail(new, cuts, placed).rect.y0_nm
    new = replace(new, length_nm=far + chance.choice([0, 1000, 60_000]) * MM)
    job = Job(name="Crowd", unit=chance.choice(list(Unit)), materials=(goods,), rooms=(), loose=tuple(loose))
    return plan_of(job, material_plan(goods, (), cuts, (new,), placements=placed))


def ragged(seed: int) -> Plan:
    """A room with many steps in its north wall, a slanting corner and seams at random."""
    chance = Random(seed)
    steps = chance.randint(2, 14)
    xs = sorted(chance.sample(range(300, 9000, 50), steps))
    corners: list[tuple[float, float]] = [(0, 0), (xs[-1] - chance.choice([0, 200]), 0)]
    height = chance.randint(2000, 6000)
    for x in reversed([0, *xs[:-1]]):
        corners += [(corners[-1][0] if len(corners) > 2 else xs[-1], height), (x, height)]
        height += chance.choice([-1, 1]) * chance.randint(40, 700)
    pts = outline(*corners)
    goods = Material(id="g", name="Goods", widths_nm=mm(2000))
    room = Room(id="r", name="Ragged", material_id="g", outline=pts, edges=walls(pts))
    layout, cuts = laid(room, NORTH, range(1500, xs[-1] - 400, 1500))
    new = order("S", 2000, 90_000)
    job = Job(name="Rags", unit=chance.choice(list(Unit)), materials=(goods,), rooms=(room,))
    return plan_of(job, material_plan(goods, (layout,), cuts, (new,)))


STRANGE = (
    '<b>Küche & "Co"</b>',
    "חדר אוכל גדול",
    "Salle à manger 🛋️🪑 très très très longue, côté jardin",
    "a\x00b\u202ec",
)


def strange_names() -> Plan:
    """Names with markup, quotes, pictures, right-to-left letters, control characters, and a plan against the rules."""
    goods = Material(id="g", name='Läufer <blau> & "grün" 🟦', widths_nm=mm(2000))
    rooms, layouts, cuts = [], [], []
    for k, name in enumerate(STRANGE):
        pts = rectangle(1500, 1800 + 100 * k)
        room = Room(
            id=f"r/{k} ä",
            name=name,
            material_id="g",
            outline=pts,
            edges=walls(pts, ("<south>", "מזרח", "north & so on", "west")),
        )
        layout, more = laid(room, NORTH)
        rooms.append(room)
        layouts.append(layout)
        cuts += more
    new = order("g/roll 1", 2000, 9_500)
    job = Job(name='Job "5 < 6" & more', unit=Unit.MM, materials=(goods,), rooms=tuple(rooms))
    consent = Consent(
        rule=RuleId.LEAST_BREADTH,
        owner="r/0 ä",
        by_nm=20 * MM,
        text="breadth 2 of <b>Küche</b> is 20 mm narrower than the least breadth",
    )
    return plan_of(job, material_plan(goods, layouts, cuts, (new,)), consents=(consent,))


ALL = {
    "clinic": clinic,
    "guest-house": guest_house,
    "corner": corner,
    "school": school,
    "long-roll": long_roll,
    "studio": studio,
    "oblique": oblique,
    "small-pieces": small_pieces,
    "strange-names": strange_names,
}
