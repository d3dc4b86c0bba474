"""What a plan costs of which something is done: what is gone is no goods, what is cut is held, intervals are sound."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DataObject

from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.pin_list import PinKind, with_pins_only
from nesting.domain.pins import RoomPins
from nesting.domain.plan import MaterialPlan, Plan
from nesting.domain.rules import RuleId
from nesting.domain.state import Spoiled, State
from nesting.errors import JobError
from nesting.estimating.account import IN_PIECES, Reason, account_of, empty_places
from nesting.estimating.again import plan_again
from nesting.estimating.parting import part_of
from nesting.estimating.pinned import all_pins, contradictions, pin_costs
from nesting.estimating.questions import questions_about
from nesting.estimating.why import MaterialWhy, why
from nesting.pipeline import Settings, plan_job
from tests import strategies
from tests.estimating.begun_jobs import begun_states, jobs_of_today
from tests.making import ALONG_Y, GOODS, MM, M, goods, job, loose, pattern, planned_whole, rectangle, room

TRIM = 50 * MM


def house(**changes: object) -> Job:
    """Three rooms 2 m wide on plain goods of 2 m: 3, 4 and 5 m of roll."""
    sizes = {"a": 3 * M, "b": 4 * M, "c": 5 * M}
    rooms = [room(rectangle(2 * M, along), name, lays=(ALONG_Y,)) for name, along in sizes.items()]
    return replace(job(rooms, goods(2 * M)), **changes)  # type: ignore[arg-type]


def after(a_job: Job, state: State) -> Plan:
    """Return the plan of what is left of a job."""
    found = plan_again(planned_whole(a_job, effort=0), state, settings=Settings(effort=0)).plan
    assert found is not None and check_plan(found) == ()
    return found


SPOILED = State(cut=("a-1", "b-1"), spoiled=(Spoiled(cut_id="b-1"),))


# --- worked by hand --------------------------------------------------------------------------------------------------


def test_what_is_left_to_do_is_asked_about_and_what_is_cut_is_not() -> None:
    # 12 m were ordered; 3 m are cut for a, 4 m for b are spoiled, the last 5 m are for c: 4 m more for b. Without b
    # nothing is ordered; nor without c, whose 5 m then give b. To leave out a, which is cut, would save nothing.
    plan = after(house(), SPOILED)
    (found,) = why(plan, Settings(effort=0))
    assert found.roll_nm2 == 4 * M * 2 * M
    assert {item.id: (item.least_nm2, item.most_nm2) for item in found.owners} == {
        "room:b": (8 * M * M, 8 * M * M),
        "room:c": (8 * M * M, 8 * M * M),
    }
    roll, order = found.accounts
    assert (roll.gone_nm2, order.gone_nm2) == (4 * M * 2 * M, 0)
    assert {part.reason: part.nm2 for part in roll.parts if part.nm2} == {Reason.FLOOR: 8 * M * 2 * M}


def test_pieces_of_which_something_is_cut_are_not_asked_about_either() -> None:
    mats = loose(M, M, count=2, loose_id="mat"), loose(M, 2 * M, loose_id="runner")
    plan = after(house(loose=mats), State(cut=("mat-1-1",)))
    ids = {question.id for question in questions_about(part_of(plan.job, GOODS))}
    assert {name for name in ids if ":" in name} == {"room:a", "room:b", "room:c", "loose:runner"}


def test_allowances_are_lifted_where_nothing_is_cut_alone() -> None:
    rooms = tuple(replace(item, trim_nm=TRIM, out_of_square_nm=TRIM) for item in house().rooms)
    trimmed = replace(house(), rooms=rooms, materials=(goods(2 * M + 3 * TRIM),))
    plan = after(trimmed, SPOILED)
    asked = {question.id: question.job for question in questions_about(part_of(plan.job, GOODS))}
    assert [item.trim_nm for item in asked["trim"].rooms] == [TRIM, 0, 0]
    assert [item.out_of_square_nm for item in asked["out-of-square"].rooms] == [TRIM, 0, 0]
    done = after(trimmed, State(cut=("a-1", "b-1", "c-1")))
    assert not {"trim", "out-of-square"} & {question.id for question in questions_about(part_of(done.job, GOODS))}


def test_every_question_holds_what_is_cut() -> None:
    its = goods(2 * M, pattern=pattern(640 * MM, 500 * MM))
    tied = replace(house(), materials=(its,), matches=(("a", "b"),))
    plan = after(tied, State(cut=("a-1",)))
    pinned = {item.id: item.pins for item in plan.job.rooms}
    assert pinned["a"].layout is not None
    assert pinned["a"].phase_nm == pinned["b"].phase_nm is not None
    assert pinned["c"].phase_nm is None
    questions = {question.id: question for question in questions_about(part_of(plan.job, GOODS))}
    assert "pins" not in questions  # nobody has pinned anything
    for question in questions.values():
        assert question.job.done == plan.job.done
        kept = {item.id: item.pins for item in question.job.rooms}
        assert kept["a"].layout == pinned["a"].layout
        assert kept["a"].phase_nm == (None if question.id == "pattern" else pinned["a"].phase_nm)
    assert next(item for item in questions["matches"].job.rooms if item.id == "b").pins.phase_nm is None


def test_the_users_pins_are_asked_about_beside_what_is_cut() -> None:
    rooms = tuple(replace(item, pins=RoomPins(most_seams=0)) for item in house().rooms)
    plan = after(house(rooms=rooms), SPOILED)
    (asked,) = [item for item in questions_about(part_of(plan.job, GOODS)) if item.id == RuleId.PINS.value]
    found = {item.id: item for item in asked.job.rooms}
    assert found["a"].pins == RoomPins(layout=plan.job.rooms[0].pins.layout) and found["a"].pinned.layout is not None
    assert not found["b"].pinned.any and not found["c"].pinned.any


def test_what_is_cut_of_one_material_is_not_asked_about_another() -> None:
    other = replace(goods(3 * M), id="other")
    rooms = (*house().rooms, room(rectangle(3 * M, 2 * M), "d", material_id="other", lays=(ALONG_Y,)))
    plan = after(house(rooms=rooms, materials=(goods(2 * M), other)), SPOILED)
    assert part_of(plan.job, "other").done == () and len(part_of(plan.job, GOODS).done) == 1
    found = {item.material_id: item for item in why(plan, Settings(effort=0))}
    assert [item.id for item in found["other"].owners] == ["room:d"]
    assert found["other"].roll_nm2 == 3 * M * 2 * M


def test_what_is_cut_is_no_pin() -> None:
    rooms = tuple(replace(item, lays=(), pins=RoomPins(most_seams=0)) for item in house().rooms)
    plan = after(house(rooms=rooms), SPOILED)
    assert [(pin.kind, pin.rooms) for pin in all_pins(plan.job)] == [
        (PinKind.MOST_SEAMS, ("a",)), (PinKind.MOST_SEAMS, ("b",)), (PinKind.MOST_SEAMS, ("c",)),
    ]  # fmt: skip
    free = with_pins_only(plan.job, (), frozenset())
    assert free.rooms[0].pins == RoomPins(layout=plan.job.rooms[0].pins.layout)
    assert free.rooms[1].pins == free.rooms[2].pins == RoomPins()
    (costs,) = pin_costs(plan, Settings(effort=1, rule_costs=False))
    assert {cost.pin.kind for cost in costs.each if cost.pin} == {PinKind.MOST_SEAMS}
    assert all(cost.roll_nm2 == 0 for cost in costs.each) and costs.unpriced == ()
    assert contradictions(plan.job, Settings(effort=1)) == ()


def test_a_pin_that_what_is_cut_does_not_allow_is_named_and_what_is_cut_is_not() -> None:
    plan = after(house(), SPOILED)
    first = replace(plan.job.rooms[0], pins=replace(plan.job.rooms[0].pins, sources=("nothing",)))
    (found,) = contradictions(replace(plan.job, rooms=(first, *plan.job.rooms[1:])), Settings(effort=1))
    assert [pin.kind for pin in found.pins] == [PinKind.GOODS]


# --- of every job that has begun -------------------------------------------------------------------------------------

small_jobs = st.one_of(strategies.ell_jobs(), strategies.patterned_jobs(), strategies.stock_jobs())


def begun(data: DataObject, a_job: Job) -> Plan | None:
    """Return a plan of a job that has begun, None where there is none."""
    before = plan_job(a_job, Settings(effort=0)).plan
    if before is None or not before.by_the_rules:
        return None
    state = data.draw(begun_states(before))
    today = data.draw(jobs_of_today(a_job)) if data.draw(st.booleans()) else None
    try:
        return plan_again(before, state, today, Settings(effort=0)).plan
    except JobError:
        return None


def the_account_is_exact(job: Job, part: MaterialPlan) -> None:
    accounts = account_of(job, part)
    places = empty_places(job, part)
    for account, source in zip(accounts, part.sources, strict=True):
        gone = sum(rect.area_nm2 for rect in source.gone)
        assert account.gone_nm2 == gone
        assert sum(item.nm2 for item in account.parts) == account.goods_nm2 == source.width_nm * source.length_nm - gone
        assert all(0 <= item.kept_nm2 <= item.nm2 for item in account.parts)
        drawn = {reason: sum(rect.area_nm2 for rect in rects) for reason, rects in places[source.id].items()}
        assert {reason: nm2 for reason, nm2 in drawn.items() if nm2} == {
            item.reason: item.nm2 for item in account.parts if item.nm2 and item.reason not in IN_PIECES
        }
    assert sum(account.goods_nm2 for account in accounts) == part.account.goods_nm2
    floor = sum(item.nm2 for account in accounts for item in account.parts if item.reason is Reason.FLOOR)
    assert floor == part.account.floor_nm2


def the_answers_are_sound(plan: Plan, found: MaterialWhy) -> None:
    if found.as_it_is is None:
        assert found.roll_nm2 == 0
        return
    assert 0 <= found.as_it_is.least_nm2 <= found.as_it_is.most_nm2 <= found.roll_nm2
    base = found.as_it_is.roll_nm2
    for answer in (*found.rules, *found.owners):
        assert 0 <= answer.least_nm2 <= answer.most_nm2 <= base
        assert answer.roll_nm2 == base - answer.least_nm2
        assert answer.seams >= 0
    made = {item.cut.owner for item in plan.job.done}
    assert not made & {owner for answer in found.owners for owner in answer.owners}
    assert found.unasked == ()


@pytest.mark.parametrize(("examples", "effort"), [(8, 0), pytest.param(8, 1, marks=pytest.mark.slow)])
def test_of_any_job_that_has_begun(examples: int, effort: int) -> None:
    @settings(max_examples=examples, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def check(data: DataObject) -> None:
        a_job = data.draw(small_jobs)
        plan = begun(data, a_job)
        if plan is None:
            return
        assert check_plan(plan) == ()
        for part in plan.materials:
            the_account_is_exact(plan.job, part)
        for found in why(plan, Settings(effort=effort)):
            the_answers_are_sound(plan, found)
        anew = plan_job(a_job, Settings(effort=0, start=plan)).plan
        assert anew is not None and check_plan(anew) == ()
        assert {cut.state for part in anew.materials for cut in part.cuts} <= {"planned"}

    check()
