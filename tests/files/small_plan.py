"""A plan made by hand for the files: patterned goods on a roll and a remnant; only as sound as a list needs."""

from __future__ import annotations

from fractions import Fraction

from nesting.domain.geometry import LayDirection, Rect
from nesting.domain.job import Job, LoosePiece, Room, Unit
from nesting.domain.layout import Allowance, AllowanceKind, Cut, CutKind, RoomLayout, Seam
from nesting.domain.material import Material, Pattern, StockKind, StockPiece
from nesting.domain.plan import (
    Account,
    Bound,
    Certificate,
    CutSource,
    MaterialPlan,
    Measures,
    Notice,
    Offcut,
    OffcutUse,
    OrderLine,
    PhaseGroup,
    Placement,
    Plan,
    SourceKind,
)
from tests.strategies import rectangle, walled

MM = 1_000_000
DEN = rectangle(3_000 * MM, 2_500 * MM)

CARPET = Material(
    id="carpet",
    name="=Carpet",  # a name that a spreadsheet would take for a formula
    widths_nm=(2_000 * MM,),
    pattern=Pattern(along_nm=640 * MM, across_nm=500 * MM, drop_nm=Fraction(640 * MM, 3)),
    weight_g_per_m2=Fraction(2_500),
    squaring_nm=50 * MM,
)


def small_plan() -> Plan:
    """Return the plan."""
    left = Rect(-50 * MM, -50 * MM, 1_550 * MM, 2_550 * MM)
    right = (Rect(1_550 * MM, -50 * MM, 3_050 * MM, 2_000 * MM), Rect(1_550 * MM, 2_000 * MM, 2_500 * MM, 2_550 * MM))
    wall = Allowance(kind=AllowanceKind.WALL, edge=0, full_nm=50 * MM, given_nm=50 * MM)
    cuts = (
        Cut(id="den-1", number=1, kind=CutKind.DROP, owner="den", label="Den 1", rects=(left,), allowances=(wall,)),
        Cut(id="den-2", number=2, kind=CutKind.DROP, owner="den", label="Den 2", rects=right, breadth=1),
        Cut(
            id="mat-1", number=3, kind=CutKind.LOOSE, owner="mat", label="+Mat", rects=(Rect(0, 0, 400 * MM, 900 * MM),)
        ),
    )
    placements = (
        Placement(cut_id="den-1", source_id="carpet-roll-1", x_nm=0, y_nm=50 * MM),
        Placement(cut_id="den-2", source_id="carpet-roll-1", x_nm=0, y_nm=2_823_333_333),
        Placement(cut_id="mat-1", source_id="R-7", x_nm=100 * MM, y_nm=0, turn=1),
    )
    sources = (
        CutSource(
            id="carpet-roll-1",
            kind=SourceKind.ORDER,
            width_nm=2_000 * MM,
            length_nm=5_500 * MM,
            lot="new lot",
            start_allowance_nm=50 * MM,
            used_nm=5_373_333_333,
            phase_nm=(0, -50 * MM),
            cost=13_475,
        ),
        CutSource(
            id="R-7",
            kind=SourceKind.REMNANT,
            width_nm=1_200 * MM,
            length_nm=1_400 * MM,
            lot="A17",
            phase_nm=(100 * MM, 200 * MM),
            phase_known=True,
            stock_id="R-7",
        ),
    )
    offcuts = (
        Offcut(
            id="carpet-o1",
            source_id="R-7",
            rect=Rect(0, 400 * MM, 1_200 * MM, 1_400 * MM),
            use=OffcutUse.CLIENT,
            lot="A17",
            phase_nm=(100 * MM, 600 * MM),
        ),
    )
    part = MaterialPlan(
        material_id="carpet",
        layouts=(
            RoomLayout(
                room_id="den",
                direction=LayDirection(0, 1),
                floor=DEN,
                seams=(Seam(at_nm=1_550 * MM, runs=((0, 2_500 * MM),)),),
            ),
        ),
        cuts=cuts,
        sources=sources,
        placements=placements,
        phase_groups=(PhaseGroup(room_ids=("den",), phase_nm=(0, 50 * MM)),),
        offcuts=offcuts,
        order=(
            OrderLine(
                source_id="carpet-roll-1",
                width_nm=2_000 * MM,
                length_nm=5_500 * MM,
                lot="new lot",
                cost=13_475,
                repeat_tolerance_nm=53_733_334,
            ),
        ),
        account=Account(
            goods_nm2=10**19, pieces_nm2=9 * 10**18, offcuts_nm2=0, start_nm2=0, waste_nm2=10**18, floor_nm2=1
        ),
        measures=Measures(
            ordered_nm=((2_000 * MM, 5_500 * MM),),
            used_nm=((2_000 * MM, 5_373_333_333),),
            roll_nm2=11 * 10**18,
            seams=1,
            cross_seams=0,
            relief_cuts=0,
            seam_length_nm=2_500 * MM,
            joins=0,
            cuts=3,
            goods_cost=13_475,
            total_cost=13_475,
            leftover_nm2=0,
        ),
        bounds=(
            Bound(
                level="roll",
                value=10**19,
                attained=11 * 10**18,
                certificate=Certificate(kind="area", value=10**19, terms=(("floor", 1),)),
            ),
        ),
        bound_considered=11 * 10**18,
        notices=(Notice(code="less-trim", text="Walls must be straight within 5 mm", room_id="den"),),
    )
    room = Room(id="den", name="Den", material_id="carpet", outline=DEN, edges=walled(DEN), plan_id="den")
    stock = StockPiece(
        id="R-7",
        material_id="carpet",
        kind=StockKind.REMNANT,
        width_nm=1_200 * MM,
        length_nm=1_400 * MM,
        lot="A17",
        phase_nm=(100 * MM, 200 * MM),
    )
    mat = LoosePiece(id="mat", name="Mat\tby the door", material_id="carpet", width_nm=400 * MM, length_nm=900 * MM)
    job = Job(
        name="Small", unit=Unit.M, materials=(CARPET,), rooms=(room,), stock=(stock,), loose=(mat,), currency="EUR"
    )
    return Plan(job=job, materials=(part,), seed=1, effort=2, versions=(("rollwright", "0.1.0"),))
