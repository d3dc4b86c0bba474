"""Jobs in a few words for the tests: rooms and goods without the usual allowances unless a test asks for them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from nesting.checker import check_plan
from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import Edge, Job, LoosePiece, Room, Unit
from nesting.domain.material import Material, Pattern, Sale, StockKind, StockPiece, Turning
from nesting.domain.plan import MaterialPlan, Plan
from nesting.domain.rules import Goal, GoalKind, OffcutRules, RuleId, SeamRules
from nesting.pipeline import Settings, plan_job
from tests.oracle import LAYS, TinyJob

MM = 1_000_000
CM = 10 * MM
M = 1_000 * MM
INCH = 25_400_000
FT = 12 * INCH
YD = 36 * INCH

ALONG_Y = LayDirection(0, 1)
ALONG_X = LayDirection(1, 0)
ALONG_MINUS_Y = LayDirection(0, -1)

GOODS = "goods"
BARE_RULES = SeamRules(least_breadth_nm=1 * INCH, least_length_nm=300 * MM)


def rectangle(x_nm: int, y_nm: int) -> tuple[Point, ...]:
    """Return a rectangular outline from (0, 0)."""
    return ((0, 0), (x_nm, 0), (x_nm, y_nm), (0, y_nm))


def ell(x_nm: int, y_nm: int, cut_x_nm: int, cut_y_nm: int) -> tuple[Point, ...]:
    """Return an L: the rectangle less its upper right corner of the given size."""
    inner_x, inner_y = x_nm - cut_x_nm, y_nm - cut_y_nm
    return ((0, 0), (x_nm, 0), (x_nm, inner_y), (inner_x, inner_y), (inner_x, y_nm), (0, y_nm))


def room(outline: tuple[Point, ...], room_id: str = "room", **changes: Any) -> Room:
    """Return a room without trim and out-of-square allowance, laid in any direction unless `lays` says so."""
    settings: dict[str, Any] = {
        "name": room_id.capitalize(),
        "material_id": GOODS,
        "edges": (Edge(),) * len(outline),
        "trim_nm": 0,
        "out_of_square_nm": 0,
        "rules": BARE_RULES,
    }
    return Room(id=room_id, outline=outline, **(settings | changes))


def goods(*widths_nm: int, **changes: Any) -> Material:
    """Return goods without allowances and order step, cut to the millimetre unless a test says otherwise."""
    settings: dict[str, Any] = {
        "name": "Goods",
        "cutting_step_nm": 1 * MM,
        "squaring_nm": 0,
        "sale": Sale(order_step_nm=1),
    }
    return Material(id=GOODS, widths_nm=widths_nm, **(settings | changes))


def pattern(along_nm: int, across_nm: int | None = None, drop: Fraction | int = 0, **changes: Any) -> Pattern:
    """Return a pattern; `drop` in nm per repeat across."""
    return Pattern(along_nm=along_nm, across_nm=across_nm, drop_nm=Fraction(drop), **changes)


def at_seam(along_nm: int, drop: Fraction | int, width_nm: int) -> Pattern:
    """Return a pattern known only by its match at the side seam of butted goods."""
    return Pattern(along_nm=along_nm, across_nm=width_nm, drop_nm=Fraction(drop), at_seam=True)


def remnant(stock_id: str, width_nm: int, length_nm: int, **changes: Any) -> StockPiece:
    """Return a remnant of the goods."""
    settings: dict[str, Any] = {"material_id": GOODS, "kind": StockKind.REMNANT}
    return StockPiece(id=stock_id, width_nm=width_nm, length_nm=length_nm, **(settings | changes))


def loose(width_nm: int, length_nm: int, count: int = 1, loose_id: str = "piece") -> LoosePiece:
    """Return loose pieces of the goods."""
    return LoosePiece(
        id=loose_id, name=loose_id, material_id=GOODS, width_nm=width_nm, length_nm=length_nm, count=count
    )


def job(rooms: Sequence[Room], material: Material, **changes: Any) -> Job:
    """Return a job whose goal is the least roll unless a test says otherwise."""
    settings: dict[str, Any] = {"name": "Test", "unit": Unit.MM, "goal": Goal(kind=GoalKind.LEAST_ROLL)}
    return Job(rooms=tuple(rooms), materials=(material,), **(settings | changes))


def planned(a_job: Job, *, effort: int = 3, seed: int = 0) -> MaterialPlan:
    """Return the plan of the job's one material, by the rules and checked once more from outside."""
    return planned_whole(a_job, effort=effort, seed=seed).materials[0]


def planned_whole(a_job: Job, *, effort: int = 3, seed: int = 0) -> Plan:
    """Return the plan of a job, by the rules and checked once more from outside."""
    outcome = plan_job(a_job, Settings(seed=seed, effort=effort))
    assert outcome.plan is not None, outcome.refusals
    assert outcome.plan.by_the_rules, outcome.refusals
    assert check_plan(outcome.plan) == ()
    for material_plan in outcome.plan.materials:
        for bound in material_plan.bounds:
            assert bound.value <= bound.attained, bound
    return outcome.plan


def ordered_nm(plan: MaterialPlan) -> int:
    """Return the length ordered, all widths together."""
    return sum(length for _, length in plan.measures.ordered_nm)


def all_seams(plan: MaterialPlan) -> int:
    """Return seams and cross seams together."""
    return plan.measures.seams + plan.measures.cross_seams


UNIT_NM = 100 * MM
"""What a unit of the oracle's tiny jobs is in the planner's."""


def job_of(tiny: TinyJob) -> Job:
    """Return a tiny job of the oracle as a real one: no rule holds but those that the oracle knows."""
    rooms = tuple(
        room(
            tuple((x * UNIT_NM, y * UNIT_NM) for x, y in small.outline),
            small.name,
            lays=() if small.lays == (0, 1, 2, 3) else tuple(LayDirection(*LAYS[lay]) for lay in small.lays),
            trim_nm=small.trim * UNIT_NM,
            least_trim_nm=None if small.least_trim is None else small.least_trim * UNIT_NM,
            rules=SeamRules(
                cross_seams_per_breadth=small.cross_seams,
                least_length_nm=small.least_length * UNIT_NM,
                cross_seam_stagger_nm=0,
                forced_cross_seams=False,
                notch_width_nm=UNIT_NM,
                notch_length_nm=UNIT_NM,
                waived=(RuleId.LEAST_BREADTH,),
            ),
        )
        for small in tiny.rooms
    )
    its = tiny.pattern
    material = goods(
        *(width * UNIT_NM for width in tiny.widths or (1,)),
        cutting_step_nm=tiny.step * UNIT_NM,
        seam_overlap_nm=tiny.overlap * UNIT_NM,
        squaring_nm=tiny.squaring * UNIT_NM,
        orders_allowed=bool(tiny.widths),
        turning=Turning.FREE if tiny.turning_free else Turning.NEVER,
        directed=False,
        pattern=None
        if its is None
        else pattern(its.along * UNIT_NM, its.across and its.across * UNIT_NM, its.drop * UNIT_NM),
        sale=Sale(order_step_nm=tiny.order_step * UNIT_NM, minimum_cut_nm=tiny.minimum_cut * UNIT_NM),
    )
    stock = tuple(
        remnant(
            piece.name,
            piece.width * UNIT_NM,
            piece.length * UNIT_NM,
            lot=piece.lot or None,
            phase_nm=piece.phase and (piece.phase[0] * UNIT_NM, piece.phase[1] * UNIT_NM),
        )
        for piece in tiny.stock
    )
    kind = GoalKind.BALANCED if tiny.seam_worth else GoalKind.LEAST_ROLL
    return job(
        rooms,
        material,
        stock=stock,
        goal=Goal(kind=kind, seam_worth_nm=tiny.seam_worth * UNIT_NM, most_seams=tiny.most_seams),
        offcuts=OffcutRules(sizes_nm=((UNIT_NM, UNIT_NM),)),
    )
