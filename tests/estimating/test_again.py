"""Properties of planning again: nothing changed changes nothing, nothing cut moves, what follows is always sound."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.domain.done import CutState
from nesting.domain.job import (
    Door,
    DoorJoint,
    Edge,
    EdgeKind,
    Hole,
    HoleKind,
    Job,
    LoosePiece,
    PatternPlacement,
    PlacementWish,
    Room,
    Strip,
)
from nesting.domain.layout import CutKind
from nesting.domain.material import Sale, Turning
from nesting.domain.plan import Plan
from nesting.domain.rules import Goal, GoalKind, OffcutRules, SeamRules
from nesting.domain.state import Delivered, Spoiled, State
from nesting.errors import JobError
from nesting.estimating.again import Again, plan_again
from nesting.estimating.changes import changes_of
from nesting.estimating.job_now import job_now
from nesting.files.plan_file import dump_plan, parse_plan
from nesting.pipeline import Settings, plan_job
from tests import strategies as jobs
from tests.estimating.begun_jobs import (
    begun_states,
    cuts_of,
    jobs_of_today,
    see_that_it_is_sound,
    see_that_nothing_made_moved,
)
from tests.making import (
    ALONG_X,
    ALONG_Y,
    CM,
    GOODS,
    MM,
    M,
    at_seam,
    ell,
    goods,
    job,
    loose,
    pattern,
    rectangle,
    remnant,
    room,
)

QUICK = Settings(effort=0, rule_costs=False)
FEW = settings(max_examples=6, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=150, suppress_health_check=list(HealthCheck))

ANY_JOB = st.one_of(jobs.stock_jobs(), jobs.patterned_jobs(), jobs.ell_jobs(loose=True))


def plan_of(a_job: Job) -> Plan | None:
    """Return the plan of a job, None where there is none by the rules."""
    plan = plan_job(a_job, QUICK).plan
    return plan if plan is not None and plan.by_the_rules else None


def orders(plan: Plan) -> list[tuple[str, int]]:
    return [(line.source_id, line.length_nm) for part in plan.materials for line in part.order]


def see_that_nothing_changes(plan: Plan, state: State) -> None:
    found = plan_again(plan, state, None, QUICK)
    assert found.plan is not None
    see_that_it_is_sound(found)
    see_that_nothing_made_moved(plan, state, found)
    assert changes_of(plan, found.plan, found.remade).nothing
    assert plan_again(found.plan, state, None, QUICK).plan == found.plan  # told twice
    if state.cut:
        begun = {part.material_id for part in plan.materials if any(cut.id in state.cut for cut in part.cuts)}
        assert not any(part.order for part in found.plan.materials if part.material_id in begun)
        before = {cut.id: cut.number for cut in cuts_of(plan)}
        assert {cut.id: cut.number for cut in cuts_of(found.plan)} == before


def planned_again(plan: Plan, state: State, today: Job | None = None) -> Again | None:
    """Plan again and see what is always true; None where the state is refused with a reason."""
    try:
        found = plan_again(plan, state, today, QUICK)
    except JobError as error:
        assert all(fault.code and fault.what and fault.hint for fault in error.faults)
        return None
    if found.plan is None:
        assert found.refusals and all(refusal.text for refusal in found.refusals)
        return None
    see_that_it_is_sound(found)
    see_that_nothing_made_moved(plan, state, found)
    if found.plan.by_the_rules:
        twice = plan_again(found.plan, State(), None, QUICK)
        assert twice.plan == found.plan and twice.remade == frozenset()
    return found


# --- small jobs, any state ---


def no_more_is_ordered(data: st.DataObject) -> None:
    """See that keeping what is planned costs an order step at most against planning all that is not cut anew."""
    a_job = replace(data.draw(ANY_JOB), goal=Goal(kind=GoalKind.LEAST_ROLL))
    plan = plan_of(a_job)
    if plan is None:
        return
    state = data.draw(begun_states(plan))
    looking = replace(QUICK, effort=1)
    try:
        found = plan_again(plan, state, None, looking).plan
        anew = plan_job(job_now(plan, state).job, looking).plan
    except JobError:
        return
    if anew is None or not anew.by_the_rules:
        return
    assert found is not None
    (material,) = a_job.materials
    step = material.sale.order_step_nm * max(material.widths_nm)
    assert found.materials[0].measures.roll_nm2 <= anew.materials[0].measures.roll_nm2 + step


def nothing_changed(data: st.DataObject) -> None:
    plan = plan_of(data.draw(ANY_JOB))
    if plan is None:
        return
    assert plan_again(plan, State(), None, QUICK).plan is plan
    names = tuple(cut.id for cut in cuts_of(plan))
    some = tuple(name for name in names if data.draw(st.booleans()))
    rolls = tuple(line.source_id for part in plan.materials for line in part.order)
    for state in (State(cut=names), State(cut=some), State(cut=names, laid=some), State(ordered=rolls)):
        see_that_nothing_changes(plan, state)


def anything_changed(data: st.DataObject) -> None:
    """Three times over: the state of the plan as it was planned, and of what came of it."""
    plan = plan_of(data.draw(ANY_JOB))
    for _ in range(3):
        if plan is None or not plan.by_the_rules:
            return
        state = data.draw(begun_states(plan))
        today = data.draw(st.one_of(st.none(), st.none(), jobs_of_today(plan.job)))
        found = planned_again(plan, state, today)
        if found is None or found.plan is None:
            return
        assert parse_plan(dump_plan(found.plan)) == found.plan
        plan = found.plan


@FEW
@given(st.data())
def test_nothing_changed_changes_nothing(data: st.DataObject) -> None:
    nothing_changed(data)


@FEW
@given(st.data())
def test_whatever_happens_nothing_cut_is_moved(data: st.DataObject) -> None:
    anything_changed(data)


@pytest.mark.slow
@MANY
@given(st.data())
def test_nothing_changed_changes_nothing_in_many_jobs(data: st.DataObject) -> None:
    nothing_changed(data)


@pytest.mark.slow
@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_no_more_is_ordered_than_by_planning_anew(data: st.DataObject) -> None:
    no_more_is_ordered(data)


@pytest.mark.slow
@MANY
@given(st.data())
def test_whatever_happens_nothing_cut_is_moved_in_many_jobs(data: st.DataObject) -> None:
    anything_changed(data)


# --- every kind of job ---

QUARTER = pattern(640 * MM, 500 * MM, 160 * MM)
THIRD = pattern(700 * MM, 500 * MM, Fraction(700 * MM, 3))
LOOSE_RULES = SeamRules(cross_seams_per_breadth=1, least_length_nm=300 * MM, cross_seam_stagger_nm=0)


def box(across_nm: int, along_nm: int, name: str = "kitchen", **changes: object) -> Room:
    return room(rectangle(across_nm, along_nm), name, **({"lays": (ALONG_Y,)} | changes))


def coved() -> Room:
    """An L with a cove of 100 mm all round: its outer corners need inserts."""
    outline = ell(5 * M, 4 * M, 2 * M, 1 * M)
    return room(outline, "hall", edges=(Edge(cove_nm=100 * MM),) * len(outline), trim_nm=20 * MM)


def with_column() -> Room:
    """A column in the middle of a breadth: the sheet is slit to pass round it."""
    low, high = 900 * MM, 1_100 * MM
    outline = ((low, low), (high, low), (high, high), (low, high))
    return box(4 * M, 3 * M, "hall", holes=(Hole(id="column", kind=HoleKind.COLUMN, outline=outline),))


def joined() -> tuple[Room, Room]:
    """Two rooms side by side, a door of 800 mm between them, the goods running through."""
    west, east = rectangle(3 * M, 3 * M), tuple((x + 3_100 * MM, y) for x, y in rectangle(2 * M, 3 * M))
    found = []
    for name, other, outline, wall, x in (("west", "east", west, 1, 3 * M), ("east", "west", east, 3, 3_100 * MM)):
        low, high = 1 * M, 1_800 * MM
        ends = ((x, low), (x, high)) if wall == 1 else ((x, high), (x, low))
        walls = [Edge()] * 4
        edge = Edge(kind=EdgeKind.DOOR, wall="", door="door")
        points = (*outline[: wall + 1], *ends, *outline[wall + 1 :])
        edges = (*walls[: wall + 1], edge, *walls[wall:])
        door = Door(id="door", opening=ends, line=ends, joint=DoorJoint.TRANSITION, joined=(other, "door"))
        found.append(room(points, name, edges=edges, doors=(door,), plan_id="floor"))
    return found[0], found[1]


def matched(**changes: object) -> Job:
    rooms = (box(4 * M, 3 * M, plan_id="p"), box(2 * M, 2_500 * MM, "bath", plan_id="p"))
    return job(rooms, goods(2 * M, pattern=at_seam(1 * M, 0, 2 * M)), matches=(("kitchen", "bath"),), **changes)


def two_materials() -> Job:
    tiles = replace(goods(3 * M), id="other", name="Other")
    return replace(
        job([box(4 * M, 3 * M), box(3 * M, 2 * M, "bath", material_id="other")], goods(2 * M)),
        materials=(goods(2 * M), tiles),
    )


KITCHEN = (box(6 * M, 2_550 * MM),)
ROLLS = Sale(order_step_nm=1, whole_rolls=True)
CASES: dict[str, Job] = {
    "plain, with squaring off the cutting step": job(
        [box(5 * M, 3 * M), box(1_500 * MM, 1 * M, "bath")], goods(2 * M, squaring_nm=50 * MM, cutting_step_nm=7 * MM)
    ),
    "straight": job(KITCHEN, goods(2 * M, pattern=at_seam(640 * MM, 0, 2 * M))),
    "half-drop": job(KITCHEN, goods(2 * M, pattern=at_seam(640 * MM, 320 * MM, 2 * M))),
    "quarter-drop": job([box(4 * M, 2_550 * MM)], goods(3 * M, pattern=QUARTER)),
    "a third, not whole nanometres": job([box(4 * M, 2_550 * MM)], goods(3 * M, pattern=THIRD)),
    "along only": job(KITCHEN, goods(2 * M, pattern=pattern(640 * MM))),
    "rooms that match": matched(),
    "a placed pattern": job(
        [box(4 * M, 2 * M, placement=PatternPlacement(along=PlacementWish.MOTIF_CENTRED)), box(2 * M, 2 * M, "bath")],
        goods(3 * M, pattern=pattern(640 * MM)),
    ),
    "rooms joined by a door": job(joined(), goods(2 * M, directed=True)),
    "coves with inserts": job([coved()], goods(3 * M)),
    "relief cuts": job([with_column()], goods(2 * M)),
    "cross seams": job([box(2 * M, 9 * M, "corridor", rules=LOOSE_RULES)], goods(2 * M, longest_nm=6 * M)),
    "loose pieces in parts, and strips": job(
        [box(3 * M, 2 * M)],
        goods(2 * M, turning=Turning.FREE, directed=False),
        loose=(
            LoosePiece(
                id="mat", name="Mat", material_id=GOODS, width_nm=900 * MM, length_nm=1_500 * MM, count=2, most_parts=2
            ),
        ),
        strips=(Strip(id="skirt", name="Skirting", material_id=GOODS, width_nm=10 * CM, runs_nm=(3 * M, 1_300 * MM)),),
    ),
    "turned alternately": job(KITCHEN, goods(2 * M, turning=Turning.ALTERNATE, directed=False)),
    "in sequence": job([box(5 * M, 3 * M)], goods(2 * M, in_sequence=True)),
    "bench cuts": job(
        [box(5 * M, 3 * M), box(900 * MM, 1 * M, "bath")], goods(2 * M), offcuts=OffcutRules(bench_cuts=True)
    ),
    "whole rolls": job([box(5 * M, 3 * M)], goods(2 * M, longest_nm=12 * M, sale=ROLLS)),
    "several widths": job([box(5 * M, 3 * M), box(3 * M, 2 * M, "bath")], goods(2 * M, 3 * M)),
    "least cost": job(
        [box(5 * M, 3 * M)],
        goods(2 * M, sale=Sale(order_step_nm=10 * CM, price_per_m2=Fraction(3_000), cut_charge=500)),
        goal=Goal(kind=GoalKind.LEAST_COST, charge_per_seam_m=300),
    ),
    "fewest seams": job([box(5 * M, 3 * M)], goods(2 * M), goal=Goal(kind=GoalKind.FEWEST_SEAMS)),
    "at most so many seams": job(
        [box(5 * M, 3 * M), box(3 * M, 2 * M, "bath")], goods(2 * M), goal=Goal(kind=GoalKind.BALANCED, most_seams=3)
    ),
    "nothing may be ordered": job(
        [box(4 * M, 3 * M)],
        goods(2 * M, orders_allowed=False),
        stock=(remnant("R-1", 2 * M, 10 * M, lot="A"), remnant("R-2", 2 * M, 4 * M, lot="A")),
    ),
    "two materials": two_materials(),
    "any lay": job([room(rectangle(5 * M, 3 * M)), box(2 * M, 4 * M, "hall", lays=(ALONG_X,))], goods(2 * M)),
}


@pytest.fixture(scope="module", params=list(CASES))
def case(request: pytest.FixtureRequest) -> Plan:
    plan = plan_of(CASES[request.param])
    assert plan is not None
    return plan


def test_cases_show_what_they_are_called() -> None:
    plans = {name: plan_of(CASES[name]) for name in ("coves with inserts", "relief cuts", "cross seams")}
    coves, relief, cross = (plan.materials[0] for plan in plans.values() if plan is not None)
    assert any(cut.kind is CutKind.INSERT for cut in coves.cuts)
    assert relief.measures.relief_cuts and cross.measures.cross_seams


def test_in_every_case_nothing_changed_changes_nothing(case: Plan) -> None:
    names = tuple(cut.id for cut in sorted(cuts_of(case), key=lambda cut: cut.number))
    see_that_nothing_changes(case, State(cut=names))
    see_that_nothing_changes(case, State(cut=names[:1], laid=names[:1]))
    see_that_nothing_changes(case, State(cut=names[: len(names) // 2 + 1]))


def test_in_every_case_a_spoiled_cut_is_made_again(case: Plan) -> None:
    """All rolls came with 12 m to spare, their first marks measured: nothing is ordered."""
    names = tuple(cut.id for cut in sorted(cuts_of(case), key=lambda cut: cut.number))
    came = tuple(
        Delivered(
            source_id=line.source_id, length_nm=line.length_nm + 12 * M, first_mark_nm=_mark(case, line.source_id)
        )
        for part in case.materials
        for line in part.order
    )
    made = names[: len(names) // 2 + 1]
    state = State(delivered=came, cut=made, spoiled=(Spoiled(cut_id=made[-1]),))
    found = planned_again(case, state)
    assert found is not None and found.plan is not None and found.remade == {made[-1]}
    assert found.plan.by_the_rules and orders(found.plan) == []
    states = {cut.id: cut.state for cut in cuts_of(found.plan)}
    assert all(states[name] == CutState.CUT for name in made[:-1]) and states[made[-1]] == CutState.PLANNED
    assert found.plan == parse_plan(dump_plan(found.plan))
    assert dump_plan(plan_again(case, state, None, QUICK).plan or case) == dump_plan(found.plan)


def _mark(plan: Plan, source_id: str) -> tuple[int, int] | None:
    """Return the first mark of a roll where the plan took it to be, None for goods without a pattern."""
    source = next(item for part in plan.materials for item in part.sources if item.id == source_id)
    return None if source.phase_nm is None else (-source.phase_nm[0], -source.phase_nm[1])


def test_what_is_not_begun_is_planned_as_it_was() -> None:
    plan = plan_of(CASES["two materials"])
    assert plan is not None
    begun = tuple(cut.id for cut in cuts_of(plan) if cut.owner == "kitchen")
    found = planned_again(plan, State(cut=begun))
    assert found is not None and found.plan is not None
    other = {part.material_id: part for part in found.plan.materials}["other"]
    assert other.order == next(part for part in plan.materials if part.material_id == "other").order


def test_no_more_is_ordered_than_for_what_is_not_made_alone() -> None:
    """4 of 5 drops are cut, one of them spoiled: two drops of 3 m are ordered, side by side with nothing."""
    plan = plan_of(job([box(10 * M, 3 * M)], goods(2 * M)))
    assert plan is not None
    names = tuple(cut.id for cut in sorted(cuts_of(plan), key=lambda cut: cut.number))
    came = Delivered(source_id="order-1", length_nm=12 * M)  # 15 m were ordered: the last drop is not on it
    found = planned_again(plan, State(delivered=(came,), cut=names[:4], spoiled=(Spoiled(cut_id=names[1]),)))
    assert found is not None and found.plan is not None
    assert [length for _, length in orders(found.plan)] == [6 * M]


def test_loose_pieces_that_came_beside_what_is_made() -> None:
    plan = plan_of(job([box(2 * M, 3 * M)], goods(2 * M), loose=(loose(1 * M, 1 * M, count=2),)))
    assert plan is not None
    today = replace(plan.job, loose=(loose(1 * M, 1 * M, count=3),))
    made = tuple(cut.id for cut in cuts_of(plan))
    found = planned_again(plan, State(cut=made), today)
    assert found is not None and found.plan is not None and found.remade == frozenset()
    assert [length for _, length in orders(found.plan)] == [1 * M]


# --- the same bytes ---

SCRIPT = """
from tests.estimating.test_again import CASES, QUICK, cuts_of, dump_plan, plan_again, plan_of
from nesting.domain.state import Spoiled, State
for name in ("half-drop", "several widths", "loose pieces in parts, and strips"):
    plan = plan_of(CASES[name])
    made = tuple(cut.id for cut in sorted(cuts_of(plan), key=lambda cut: cut.number))[:2]
    state = State(cut=made, spoiled=(Spoiled(cut_id=made[1]),)) if name != "half-drop" else State(cut=made)
    print(dump_plan(plan_again(plan, state, None, QUICK).plan))
"""


@pytest.mark.slow
def test_the_hash_seed_changes_nothing() -> None:
    root = Path(__file__).parents[2]
    texts = [
        subprocess.run(
            [sys.executable, "-c", SCRIPT],
            cwd=root,
            env=os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert texts[0] == texts[1] != ""
