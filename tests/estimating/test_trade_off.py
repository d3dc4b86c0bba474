"""The trade-off of seams against roll: against published answers and the oracle, and what holds of every front."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import strategies as st

from nesting.bounds.capped import Proved
from nesting.checker import check_plan
from nesting.domain.front import Front, Known, TradeOff, one_seam_less, seams_of
from nesting.domain.job import Job
from nesting.domain.rules import Goal, GoalKind
from nesting.errors import UnsoundPlanError
from nesting.estimating.bench import Bench, candidates_for
from nesting.estimating.caps import Caps
from nesting.estimating.trading_off import trade_off
from nesting.files.front_tables import folders_of, front_csv, front_json
from nesting.files.plan_file import dump_plan, parse_plan
from nesting.pipeline import Settings, plan_job
from tests import oracle, strategies
from tests.acceptance.test_oracle import CASES
from tests.acceptance.test_properties import property_of
from tests.making import BARE_RULES, FT, GOODS, INCH, MM, UNIT_NM, M, goods, job, job_of, ordered_nm, rectangle, room
from tests.oracle import TinyJob, TinyRoom
from tests.tiny_jobs import tiny_job


def front_of(a_job: Job, *, effort: int = 1, seed: int = 0) -> Front:
    (front,) = traded(a_job, effort=effort, seed=seed).fronts
    return front


@cache
def traded(a_job: Job, *, effort: int = 1, seed: int = 0) -> TradeOff:
    return trade_off(a_job, Settings(effort=effort, seed=seed))


def is_sound(front: Front) -> None:
    """Hold what is true of every front: rows that no other beats, checked plans, bounds below what they attain."""
    for above, row in pairwise(front.rows):
        assert above.seams < row.seams and above.roll_nm2 > row.roll_nm2
        assert above.bound.value >= row.bound.value  # what many seams cannot beat, fewer cannot either
    for row in front.rows:
        assert not check_plan(row.plan)
        assert row.plan.by_the_rules and row.plan.job.goal.most_seams == row.seams == seams_of(row.part)
        for bound in row.part.bounds:
            assert bound.value <= bound.attained
        assert row.bound.attained == row.roll_nm2 and row.part.bound_considered >= row.bound.value
    assert front.fewest_seams <= front.rows[0].seams
    assert front.least_roll.value <= front.least_roll.attained == front.rows[-1].roll_nm2
    assert [item.seams for item in front.known] == list(range(front.rows[0].seams, front.rows[-1].seams + 1))
    for item in front.known:
        best = front.with_at_most(item.seams)
        assert best is not None and item.bound_nm2 <= best.roll_nm2
        assert (item.known is Known.PLAN) == (best.seams == item.seams)
        assert item.known is not Known.SETTLED or item.bound_nm2 == best.roll_nm2
    for one, other in pairwise(front.known):
        assert one.bound_nm2 >= other.bound_nm2


# --- published and counted out ---------------------------------------------------------------------------------------


def test_14_by_16_feet_on_12_foot_goods() -> None:
    # eHow 6737804: along 14 ft 28 ft, with one cross seam in the fill 21 ft (published), with two 56/3 ft (derived: it
    # is the area). Zero trim, overlap, allowances and order step.
    front = front_of(published(), effort=3)
    is_sound(front)
    rows = [(row.seams, Fraction(ordered_nm(row.part), FT)) for row in front.rows]
    assert rows == [(1, 28), (2, 21), (3, Fraction(56, 3))]
    assert [row.part.measures.cross_seams for row in front.rows] == [0, 1, 2]
    assert all(row.bound.proved for row in front.rows)
    assert front.has_proved_fewest and front.least_roll.proved


def published() -> Job:
    floor = room(rectangle(14 * FT, 16 * FT), rules=replace(BARE_RULES, cross_seams_per_breadth=2))
    return job([floor], goods(12 * FT, cutting_step_nm=INCH))


def test_a_bound_carried_to_more_seams_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Planted: 28 ft hold for one seam; claimed for two as well, they make the checker refuse the plan of 21 ft."""
    monkeypatch.setattr(Proved, "holds_at", lambda *_: True)
    with pytest.raises(UnsoundPlanError, match="bound"):
        trade_off(published(), Settings(effort=3))


def test_a_row_that_is_beaten_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Planted: every plan that was found stays, the hand method's too, which orders more with more seams."""
    monkeypatch.setattr(Caps, "front", lambda self: sorted(self.pool, key=lambda one: (one.seams, one.roll_nm2)))
    with pytest.raises(AssertionError):
        is_sound(trade_off(three_rooms(), Settings(effort=0)).fronts[0])


TRADED = {
    "one cross seam": CASES["one cross seam"],
    "two cross seams": TinyJob(
        rooms=(TinyRoom(name="room", outline=rectangle(7, 8), cross_seams=2),), widths=(6,), most_seams=3
    ),
    "two rooms": TinyJob(
        rooms=(
            TinyRoom(name="one", outline=rectangle(7, 5), cross_seams=1),
            TinyRoom(name="two", outline=rectangle(3, 4)),
        ),
        widths=(6,),
        most_seams=2,
    ),
    "an L and its corner": CASES["an L and its corner"],
    "pattern and overlap": CASES["pattern and overlap"],
    "a seam must save its worth": CASES["a seam must save its worth"],
    "a remnant": CASES["two sources of different phase"],
}


@pytest.mark.parametrize("name", TRADED)
def test_the_whole_front_is_found(name: str) -> None:
    """Every row as the oracle counts it out; no bound is above what the oracle has at that number of seams."""
    tiny = TRADED[name]
    counted, front = oracle.front(tiny), front_of(job_of(tiny), effort=2)
    is_sound(front)
    assert [(row.seams, row.roll_nm2) for row in front.rows] == [(seams, roll * UNIT_NM**2) for seams, roll in counted]


def against_the_oracle(tiny: TinyJob) -> bool:
    """Hold a front against the oracle: never better, no bound above; return whether it is all of the front."""
    counted = oracle.front(tiny)
    found = traded(job_of(tiny), effort=1)
    if not found.fronts:
        assert counted == []
        return True
    (front,) = found.fronts
    is_sound(front)
    assert front.fewest_seams <= counted[0][0] <= front.rows[0].seams
    assert front.least_roll.value <= counted[-1][1] * UNIT_NM**2 <= front.rows[-1].roll_nm2
    for item in front.known:
        best = front.with_at_most(item.seams)
        least = min(roll for seams, roll in counted if seams <= item.seams) * UNIT_NM**2
        assert best is not None and item.bound_nm2 <= least <= best.roll_nm2
    return [(row.seams, row.roll_nm2) for row in front.rows] == [(s, roll * UNIT_NM**2) for s, roll in counted]


@pytest.mark.parametrize("features", [("cross",), ("overlap", "cross"), ("stock",), ("pattern",)], ids="-".join)
def test_random_tiny_rooms(features: tuple[str, ...]) -> None:
    found = [against_the_oracle(tiny_job(seed, *features)) for seed in range(1000, 1003)]
    assert all(found)


@pytest.mark.slow
@pytest.mark.parametrize("features", [("cross",), ("overlap", "cross"), ("widths",), ("rooms", "cross")], ids="-".join)
def test_many_random_tiny_rooms(features: tuple[str, ...]) -> None:
    found = [against_the_oracle(tiny_job(seed, *features)) for seed in range(3000, 3020)]
    assert sum(found) >= 0.95 * len(found)


# --- properties ------------------------------------------------------------------------------------------------------


def _is_sound_whatever(a_job: Job) -> None:
    """Every front of any job is sound, and a job without one has reasons."""
    found = traded(a_job)
    assert bool(found.refusals) == (len(found.fronts) < 1)
    for front in found.fronts:
        is_sound(front)
        for row in front.rows:
            assert parse_plan(dump_plan(row.plan)) == row.plan


test_every_front_is_sound = property_of(
    st.one_of(strategies.plain_jobs(), strategies.patterned_jobs(), strategies.stock_jobs())
)(_is_sound_whatever)


def three_rooms(**changes: object) -> Job:
    rules = replace(BARE_RULES, cross_seams_per_breadth=1)
    rooms = [
        room(rectangle(5200 * MM, 4600 * MM), "lounge", rules=rules),
        room(rectangle(4300 * MM, 3600 * MM), "bedroom", rules=rules),
        room(rectangle(3100 * MM, 6200 * MM), "hall", rules=rules),
    ]
    return job(rooms, goods(4 * M, cutting_step_nm=50 * MM), **changes)


def test_the_same_seed_gives_the_same_bytes() -> None:
    one, other = traded(three_rooms()), trade_off(three_rooms(), Settings(effort=1))
    assert len(one.fronts[0].rows) > 1
    assert one == other
    assert front_csv(one, folders_of(one)) == front_csv(other, folders_of(other))
    assert front_json(one, folders_of(one)) == front_json(other, folders_of(other))


def test_no_row_is_worse_than_what_the_plain_run_finds() -> None:
    """The last row orders no more than a plan for the least roll, and the hand method's plan is beaten or a row."""
    a_job = three_rooms()
    front = front_of(a_job)
    is_sound(front)
    outcome = plan_job(a_job, Settings(effort=1))
    assert outcome.plan is not None
    assert front.rows[-1].roll_nm2 <= outcome.plan.materials[0].measures.roll_nm2
    hand = front.by_hand
    assert hand is not None
    row = front.with_at_most(hand.seams)
    assert row is not None and row.roll_nm2 <= sum(width * length for width, length in hand.ordered_nm)


def test_the_users_own_cap_holds() -> None:
    free = front_of(three_rooms())
    cap = free.rows[-1].seams - 1
    front = front_of(three_rooms(goal=Goal(kind=GoalKind.BALANCED, most_seams=cap)))
    is_sound(front)
    assert cap >= front.rows[-1].seams
    assert front.rows[0].seams == free.rows[0].seams
    assert all(row.plan.job.goal.kind is GoalKind.LEAST_ROLL for row in front.rows)


def test_what_a_seam_less_costs() -> None:
    front = front_of(three_rooms())
    for above, row in pairwise(front.rows):
        step = one_seam_less(row, above)
        assert step.roll_nm2 * (row.seams - above.seams) == above.roll_nm2 - row.roll_nm2 > 0


# --- ends and time ---------------------------------------------------------------------------------------------------


def test_a_run_that_is_stopped_at_once_is_sound_and_says_what_it_did_not_see() -> None:
    found = trade_off(three_rooms(), Settings(effort=5, stop=lambda: True))
    (front,) = found.fronts
    is_sound(front)
    assert front.stopped
    assert not any(item.known is Known.SETTLED for item in front.known if item.bound_nm2 == 0)


def test_without_effort_a_front_is_there_at_once() -> None:
    front = front_of(three_rooms(), effort=0)
    is_sound(front)
    assert not front.stopped


def test_time_is_shared_between_search_and_bounds() -> None:
    """With a time that a counter tells: the search ends before the bounds do."""
    passed = [0]

    def spent() -> float:
        passed[0] += 1
        return passed[0] / 400

    found = trade_off(three_rooms(), Settings(effort=50, spent=spent))
    is_sound(found.fronts[0])
    assert found.fronts[0].stopped


# --- several materials -----------------------------------------------------------------------------------------------


def two_materials() -> Job:
    one = three_rooms()
    other = replace(one.materials[0], id="other", name="Other", widths_nm=(2 * M,))
    bath = room(rectangle(2300 * MM, 1900 * MM), "bath", material_id="other")
    return replace(one, materials=(*one.materials, other), rooms=(*one.rooms, bath))


def test_every_material_has_a_front_of_its_own() -> None:
    found = traded(two_materials())
    assert [front.material_id for front in found.fronts] == [GOODS, "other"]
    for front in found.fronts:
        is_sound(front)
        assert all({item.material_id for item in row.plan.job.rooms} == {front.material_id} for row in front.rows)
    alone = front_of(three_rooms())
    assert [row.part.measures for row in found.fronts[0].rows] == [row.part.measures for row in alone.rows]


def test_a_material_that_cannot_be_laid_has_reasons_and_the_others_a_front() -> None:
    a_job = two_materials()
    none = tuple(replace(one, orders_allowed=one.id == GOODS) for one in a_job.materials)
    found = traded(replace(a_job, materials=none))
    assert [front.material_id for front in found.fronts] == [GOODS]
    assert {refusal.owner for refusal in found.refusals} <= {"bath", "other"} and found.refusals


# --- the bench -------------------------------------------------------------------------------------------------------


def test_measures_do_not_depend_on_the_goal_that_found_them() -> None:
    """A charge that only one goal knows is in no row's cost."""
    goal = Goal(kind=GoalKind.LEAST_COST, charge_per_cut=900, charge_per_cross_seam=900)
    plain, charged = front_of(three_rooms()), front_of(three_rooms(goal=goal))
    assert [row.part.measures.total_cost for row in plain.rows] == [0] * len(plain.rows)
    assert [row.part.measures.total_cost for row in charged.rows] == [0] * len(charged.rows)
    assert charged.by_hand is not None and charged.by_hand.cost == 0


def test_a_start_is_kept_where_nothing_better_is_found() -> None:
    a_job = three_rooms()
    settings = Settings(effort=0)
    bench = Bench(a_job, a_job.materials[0], candidates_for(a_job, a_job.materials[0], settings))
    best = bench.found(Goal(kind=GoalKind.LEAST_ROLL), Settings(effort=2))
    assert best is not None
    again = bench.found(Goal(kind=GoalKind.LEAST_ROLL, most_seams=best.seams), settings, best)
    assert again == best
