"""What holds of every plan, and what changing the job in ways that do not matter must not change."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.geometry import Point, Rect
from nesting.domain.job import Door, Edge, Job, Room
from nesting.domain.material import Pattern, StockPiece
from nesting.domain.plan import MaterialPlan, Outcome
from nesting.domain.rules import Goal, GoalKind, RuleId
from nesting.files.job_file import parse_job
from nesting.files.plan_file import dump_plan
from nesting.pipeline import Settings, plan_job
from tests import strategies
from tests.making import MM, goods, job, planned, rectangle, remnant, room

A_FEW, MANY = 2, 30


def property_of(*strategies_: st.SearchStrategy[Any], few: int = A_FEW, many: int = MANY) -> Callable[..., Any]:
    """Make a test of a check over given data: a few examples at once, many among the slow tests."""

    def test_of(check: Callable[..., None]) -> Callable[[int], None]:
        @pytest.mark.parametrize("examples", [few, pytest.param(many, marks=pytest.mark.slow)])
        def test(examples: int) -> None:
            settings(max_examples=examples, suppress_health_check=list(HealthCheck))(given(*strategies_)(check))()

        test.__doc__ = check.__doc__
        return test

    return test_of


roll_goals = st.sampled_from([Goal(), Goal(kind=GoalKind.LEAST_ROLL)])


def counting_roll(jobs: st.SearchStrategy[Job]) -> st.SearchStrategy[Job]:
    """Jobs whose goal's first level is roll, and whose stock costs nothing."""

    def changed(pair: tuple[Job, Goal]) -> Job:
        a_job, goal = pair
        return replace(a_job, goal=goal, stock=tuple(replace(piece, book_value=0) for piece in a_job.stock))

    return st.tuples(jobs, roll_goals).map(changed)


def outcome_of(a_job: Job, *, effort: int = 1) -> Outcome:
    return plan_job(a_job, Settings(effort=effort))


def plan_of(a_job: Job, *, effort: int = 1) -> MaterialPlan | None:
    """Return the plan of the job's one material if there is one by the rules."""
    plan = outcome_of(a_job, effort=effort).plan
    return plan.materials[0] if plan is not None and plan.by_the_rules else None


def first_level(plan: MaterialPlan | None) -> int | None:
    """Return the first level of the goal if it is proved least."""
    return plan.bounds[0].attained if plan is not None and plan.bounds[0].proved else None


def holds_true(a_job: Job, effort: int) -> None:
    outcome = outcome_of(a_job, effort=effort)
    assert outcome.plan is not None or outcome.refusals
    if outcome.plan is None:
        return
    assert check_plan(outcome.plan) == ()
    for plan in outcome.plan.materials:
        account = plan.account
        parts = account.pieces_nm2 + account.offcuts_nm2 + account.start_nm2 + account.waste_nm2
        assert parts == account.goods_nm2
        assert account.goods_nm2 == sum(source.width_nm * source.length_nm for source in plan.sources)
        assert account.waste_nm2 >= 0
        assert all(bound.value <= bound.attained for bound in plan.bounds)
        if not outcome.plan.by_the_rules:
            assert plan.order == ()


@property_of(strategies.stock_jobs(), st.integers(0, 2), few=4, many=80)
def test_everything_planned_checks(a_job: Job, effort: int) -> None:
    holds_true(a_job, effort=effort)


@property_of(strategies.patterned_jobs(most_rooms=3, most_stock=2), st.integers(0, 2), few=3, many=50)
def test_everything_patterned_checks(a_job: Job, effort: int) -> None:
    holds_true(a_job, effort=effort)


# --- what does not matter --------------------------------------------------------------------------------------------


def renamed(a_job: Job) -> Job:
    """Return the job with other names for everything, in the opposite order of the alphabet."""
    goods = {material.id: f"z{number}" for number, material in enumerate(reversed(a_job.materials))}
    rooms = {room.id: f"r{99 - number}" for number, room in enumerate(a_job.rooms)}
    lots = {piece.lot: f"lot {99 - number}" for number, piece in enumerate(a_job.stock) if piece.lot is not None}
    return replace(
        a_job,
        materials=tuple(replace(item, id=goods[item.id], name="Other") for item in a_job.materials),
        rooms=tuple(
            replace(item, id=rooms[item.id], name="Other", material_id=goods[item.material_id]) for item in a_job.rooms
        ),
        stock=tuple(
            replace(item, id=f"s{99 - n}", material_id=goods[item.material_id], lot=lots.get(item.lot))
            for n, item in enumerate(a_job.stock)
        ),
        loose=tuple(
            replace(item, id=f"l{n}", material_id=goods[item.material_id]) for n, item in enumerate(a_job.loose)
        ),
        matches=tuple(tuple(rooms[name] for name in match) for match in a_job.matches),
    )


def reordered(a_job: Job) -> Job:
    return replace(
        a_job,
        rooms=tuple(reversed(a_job.rooms)),
        stock=tuple(reversed(a_job.stock)),
        loose=tuple(reversed(a_job.loose)),
    )


def lengths(plan: MaterialPlan | None) -> object:
    return None if plan is None else (plan.measures.ordered_nm, plan.measures.used_nm)


@property_of(strategies.stock_jobs(most_rooms=3))
def test_names_change_no_length(a_job: Job) -> None:
    assert lengths(plan_of(a_job)) == lengths(plan_of(renamed(a_job)))


@property_of(strategies.stock_jobs(most_rooms=3))
def test_their_order_in_the_job_changes_no_length(a_job: Job) -> None:
    assert lengths(plan_of(a_job)) == lengths(plan_of(reordered(a_job)))


def moved(point: Point, dx: int, dy: int) -> Point:
    return point[0] + dx, point[1] + dy


def shifted(a_job: Job) -> Job:
    """Return the job with every room elsewhere in its plan, by an odd number of nanometres."""

    def of_room(room: Room) -> Room:
        dx, dy = 1_234_567_891, -987_654_321
        return replace(
            room,
            outline=tuple(moved(p, dx, dy) for p in room.outline),
            doors=tuple(
                replace(
                    door,
                    opening=(moved(door.opening[0], dx, dy), moved(door.opening[1], dx, dy)),
                    line=(moved(door.line[0], dx, dy), moved(door.line[1], dx, dy)),
                )
                for door in room.doors
            ),
        )

    return replace(a_job, rooms=tuple(of_room(room) for room in a_job.rooms))


def mirrored(a_job: Job) -> Job:
    """Return the job seen in a mirror beside it: rooms, goods in hand with flaws and phases, and the drop."""

    def point(p: Point) -> Point:
        return -p[0], p[1]

    def of_room(room: Room) -> Room:
        count = len(room.outline)
        edges: tuple[Edge, ...] = tuple(room.edges[(count - 2 - i) % count] for i in range(count))
        doors: tuple[Door, ...] = tuple(
            replace(
                door,
                opening=(point(door.opening[1]), point(door.opening[0])),
                line=(point(door.line[1]), point(door.line[0])),
            )
            for door in room.doors
        )
        return replace(
            room,
            outline=tuple(point(p) for p in reversed(room.outline)),
            edges=edges,
            doors=doors,
            lays=tuple(replace(lay, dx=-lay.dx) for lay in room.lays),
        )

    material = a_job.materials[0]
    pattern = material.pattern

    def of_piece(piece: StockPiece) -> StockPiece:
        flaws = tuple(Rect(piece.width_nm - f.x1_nm, f.y0_nm, piece.width_nm - f.x0_nm, f.y1_nm) for f in piece.flaws)
        if pattern is None or piece.phase_nm is None:
            return replace(piece, flaws=flaws)
        x, y = -piece.width_nm - piece.phase_nm[0], Fraction(piece.phase_nm[1])
        if pattern.across_nm is None:
            x = 0
        else:
            repeats, x = divmod(x, pattern.across_nm)
            y += repeats * pattern.drop_nm  # the mirrored lattice drops the other way
        return replace(piece, flaws=flaws, phase_nm=(x, int(y % pattern.along_nm)))

    if pattern is not None:
        pattern = replace(pattern, drop_nm=-pattern.drop_nm % pattern.along_nm)
        stock = tuple(of_piece(piece) for piece in a_job.stock)
    else:
        stock = tuple(of_piece(piece) for piece in a_job.stock)
    return replace(
        a_job,
        materials=(replace(material, pattern=pattern),),
        rooms=tuple(of_room(room) for room in a_job.rooms),
        stock=stock,
    )


MIRRORED = ("none", "straight", "half-drop", "drop", "along-only")


def change_nothing(a_job: Job, changed: Job) -> None:
    """Check that two jobs have the same first level when both are proved."""
    one, other = first_level(plan_of(a_job)), first_level(plan_of(changed))
    if one is not None and other is not None:
        assert one == other


@property_of(counting_roll(strategies.stock_jobs(matches=MIRRORED)))
def test_the_place_of_rooms_changes_no_length(a_job: Job) -> None:
    change_nothing(a_job, shifted(a_job))


@property_of(counting_roll(strategies.stock_jobs(matches=MIRRORED)))
def test_a_mirror_changes_no_length(a_job: Job) -> None:
    change_nothing(a_job, mirrored(a_job))


LAYING = """
job: {name}
unit: {unit}
goal: least roll
materials:
  - name: Goods
    width: {width}
    cutting step: {step}
    order step: {step}
    squaring: 0
    seam overlap: {overlap}
rooms:
  - name: One
    rectangle: {a} x {b}
    trim: {trim}
    out of square: 0
  - name: Two
    rectangle: {c} x {d}
    trim: {trim}
    out of square: 0
"""


@property_of(*(st.integers(100, 220) for _ in range(4)), st.sampled_from([144, 158]), st.sampled_from([0, 1]))
def test_units_change_no_length(a: int, b: int, c: int, d: int, width: int, overlap: int) -> None:
    """The same job in inches, in feet and inches, in millimetres and in metres."""
    inches = {"a": a, "b": b, "c": c, "d": d, "width": width, "trim": 2, "overlap": overlap, "step": 1}
    texts = {
        "in": {key: f"{value} in" for key, value in inches.items()},
        "ft": {key: f"{value // 12}' {value % 12}\"" for key, value in inches.items()},
        "mm": {key: f"{value * 254 / 10:g} mm" for key, value in inches.items()},
        "m": {key: f"{value * 254 / 10000:g} m" for key, value in inches.items()},
    }
    plans = {}
    for unit, values in texts.items():
        a_job = parse_job(LAYING.format(name=f"in {unit}", unit=unit, **values)).job
        plans[unit] = plan_of(a_job)
    assert all(plan is not None for plan in plans.values())
    assert len({str(lengths(plan)) for plan in plans.values()}) == 1


# --- what may only help ----------------------------------------------------------------------------------------------


def never_raises(a_job: Job, eased: Job) -> None:
    """Check that an eased job's first level is no higher when both are proved."""
    before, after = first_level(plan_of(a_job)), first_level(plan_of(eased))
    if before is not None and after is not None:
        assert after <= before


@property_of(counting_roll(strategies.stock_jobs(most_stock=2)), strategies.steps(100, 5_000))
def test_a_longer_remnant_never_costs_more(a_job: Job, more: int) -> None:
    longer = tuple(replace(piece, length_nm=piece.length_nm + more) for piece in a_job.stock)
    never_raises(a_job, replace(a_job, stock=longer))


@property_of(counting_roll(strategies.stock_jobs(most_stock=2)), st.data())
def test_more_stock_never_costs_more(a_job: Job, data: st.DataObject) -> None:
    more = data.draw(strategies.stock_pieces(a_job.materials[0], 9))
    never_raises(a_job, replace(a_job, stock=(*a_job.stock, replace(more, book_value=0))))


@property_of(counting_roll(strategies.stock_jobs()), st.integers(1, 4))
def test_less_trim_never_costs_more(a_job: Job, steps: int) -> None:
    less = steps * a_job.materials[0].cutting_step_nm
    rooms = tuple(replace(room, trim_nm=max(room.trim_nm % 1, room.trim_nm - less)) for room in a_job.rooms)
    if all(room.trim_nm >= less for room in a_job.rooms):
        never_raises(a_job, replace(a_job, rooms=rooms))


@property_of(
    counting_roll(strategies.ell_jobs(doors=True)), st.sampled_from([RuleId.DOOR_OPENING, RuleId.LEAST_BREADTH])
)
def test_a_dropped_rule_never_costs_more(a_job: Job, rule: RuleId) -> None:
    rooms = tuple(replace(room, rules=room.rules.without(rule)) for room in a_job.rooms)
    never_raises(a_job, replace(a_job, rooms=rooms))


# --- the same in, the same out ---------------------------------------------------------------------------------------

SCRIPT = """
import sys
from nesting.files.job_file import parse_job
from nesting.files.plan_file import dump_plan
from nesting.pipeline import Settings, plan_job
plan = plan_job(parse_job(sys.stdin.read()).job, Settings(seed=7, effort=2)).plan
sys.stdout.buffer.write(dump_plan(plan).encode())
"""

A_JOB = """
job: The same twice
unit: m
materials:
  - {name: Goods, width: 4.00, repeat along: 0.64, repeat across: 0.50, match: half-drop, drop counts: per repeat}
  - {name: Plain, width: 2.00}
stock:
  - {id: R1, material: Goods, width: 2.10, length: 4.40, lot: A}
  - {id: R2, material: Plain, width: 2.00, length: 6.00, lot: B}
rooms:
  - {name: One, material: Goods, rectangle: 5.30 x 3.90}
  - {name: Two, material: Goods, rectangle: 1.80 x 2.60}
  - {name: Three, material: Plain, rectangle: 3.10 x 2.70}
  - {name: Four, material: Plain, rectangle: 1.30 x 2.20}
"""


def test_the_same_bytes_twice_and_in_other_processes() -> None:
    a_job = parse_job(A_JOB).job
    plans = [plan_job(a_job, Settings(seed=7, effort=2)).plan for _ in range(2)]
    assert plans[0] is not None and plans[1] is not None
    bytes_here = {dump_plan(plan).encode() for plan in plans if plan is not None}
    for hash_seed in ("1", "4711"):
        done = subprocess.run(
            [sys.executable, "-c", SCRIPT],
            input=A_JOB.encode(),
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
        )
        bytes_here.add(done.stdout)
    assert len(bytes_here) == 1


@pytest.mark.parametrize("width_mm", [2_700, 3_000])
def test_a_room_from_goods_of_two_pitches(width_mm: int) -> None:
    """Goods known by their match at the seam: a remnant repeats like a width that is made; both meet at one phase."""
    match = Pattern(along_nm=760 * MM, across_nm=2_000 * MM, at_seam=True)
    material = goods(2_000 * MM, 3_000 * MM, cutting_step_nm=5 * MM, directed=False, pattern=match)
    floor = room(rectangle(5_000 * MM, 3_850 * MM), trim_nm=30 * MM, out_of_square_nm=10 * MM)
    stock = (remnant("R-1", width_mm * MM, 4_700 * MM, lot="B", lot_orderable=True),)
    plan = planned(job([floor], material, stock=stock), effort=1)
    assert {source.width_nm for source in plan.sources} >= {width_mm * MM}
