"""Plans of jobs that are begun: what is cut lies where it was cut, and only what is there and still needed counts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.geometry import Rect
from nesting.domain.job import Job
from nesting.domain.pins import RoomPins
from nesting.domain.plan import Bound, Certificate, Consent, Plan
from nesting.domain.rules import RuleId
from nesting.pipeline import Settings, plan_job
from tests.checker import faults
from tests.checker.drafting import MM, M, begun, settled
from tests.checker.plans import PLANS, asked_for, begun_half_drop, begun_rooms, coved, unknown_remnants
from tests.strategies import ell_jobs, patterned_jobs

GOOD = {name: build() for name, build in PLANS.items() if not name.startswith("begun")}
STATES = ("planned", "cut", "laid")


def _rules(plan: Plan) -> set[str]:
    return {found.rule for found in check_plan(plan)}


@st.composite
def begun_plans(draw: st.DrawFn) -> Plan:
    """Return a plan by hand with some of its cuts done, at least one of them cut or laid."""
    plan = GOOD[draw(st.sampled_from(sorted(GOOD)))]
    names = [cut.id for cut in plan.materials[0].cuts]
    states = draw(st.dictionaries(st.sampled_from(names), st.sampled_from(STATES)))
    return begun(plan, states | {draw(st.sampled_from(names)): draw(st.sampled_from(STATES[1:]))})


@given(begun_plans())
def test_a_plan_is_sound_whatever_of_it_is_done(plan: Plan) -> None:
    assert check_plan(plan) == ()


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.data(), begun_plans(), st.sampled_from((-M, -MM, -1, 1, MM, M)))
def test_nothing_done_is_moved(data: st.DataObject, plan: Plan, by: int) -> None:
    """Whatever else is wrong with a plan that moves, turns or lets go of what is done, it is seen that it does."""
    name = data.draw(st.sampled_from([item.cut.id for item in plan.job.done]))
    spot = next(item for item in plan.materials[0].placements if item.cut_id == name)
    mutants = (
        faults.place(plan, name, dx=by),
        faults.place(plan, name, dy=by),
        faults.place(plan, name, turn=spot.turn + 2),
        faults.cut(plan, name, id="another"),
        faults.cut(plan, name, state="sewn"),
    )
    assert check_plan(data.draw(st.sampled_from(mutants))) != ()
    assert "V4x" in _rules(data.draw(st.sampled_from((*mutants[:3], mutants[4]))))


def _by_planner(job: Job, data: st.DataObject) -> None:
    plan = plan_job(job, Settings(effort=0)).plan
    if plan is None:
        return
    names = [cut.id for cut in plan.materials[0].cuts]
    done = data.draw(st.lists(st.sampled_from(names), min_size=1, max_size=2, unique=True))
    plan = begun(plan, dict.fromkeys(done, "cut"))
    assert check_plan(plan) == ()
    assert "V4x" in _rules(faults.place(plan, done[0], dy=MM))
    assert "V4x" in _rules(faults.made(plan, done[0], of={"state": "laid"}))


QUICK = settings(max_examples=4, deadline=None, suppress_health_check=list(HealthCheck))


@QUICK
@given(ell_jobs(), st.data())
def test_what_is_cut_of_a_planned_job_stays(job: Job, data: st.DataObject) -> None:
    _by_planner(job, data)


@QUICK
@given(patterned_jobs(), st.data())
def test_what_is_cut_of_a_planned_patterned_job_stays(job: Job, data: st.DataObject) -> None:
    _by_planner(job, data)


def test_a_done_cut_may_have_another_label_number_and_allowances() -> None:
    plan = begun_rooms()
    allowances = plan.job.done[0].cut.allowances
    more = tuple(replace(item, given_nm=item.given_nm + MM, full_nm=item.full_nm + MM) for item in allowances)
    for changes in ({"label": "Hall, by the window"}, {"number": 77}, {"allowances": more}):
        assert check_plan(faults.made(plan, "hall-1", of=changes)) == ()


def test_the_rectangles_of_a_done_cut_may_stand_in_another_order() -> None:
    plan = begun(PLANS["ell"](), {"hall-1": "cut"})
    rects = plan.job.done[0].cut.rects
    assert len(rects) == 2
    assert check_plan(faults.made(plan, "hall-1", of={"rects": rects[::-1]})) == ()


def test_numbers_may_have_gaps_once_something_is_done() -> None:
    plan = begun_rooms()
    assert check_plan(faults.cut(plan, "hall-2", number=9)) == ()
    assert _rules(faults.job(faults.cut(plan, "hall-2", number=9), done=())) == {"V1c"}


def test_a_cut_that_is_only_held_stays_planned_in_its_place() -> None:
    plan = begun(PLANS["plain"](), {"hall-1": "planned"})
    assert check_plan(plan) == ()
    assert _rules(faults.cut(plan, "hall-1", state="cut")) == {"V4x"}


def test_no_consent_excuses_that_something_cut_is_moved() -> None:
    every = tuple(Consent(rule=rule, owner=owner, text="") for rule in RuleId for owner in ("study", "goods"))
    plan = settled(replace(begun_rooms(), consents=every))
    assert check_plan(plan) == ()
    assert _rules(faults.made(plan, "study-1", x_nm=MM)) == {"V4x"}


@pytest.mark.parametrize("steps", [(0, 0), (1, 0), (-2, 0), (0, 3), (3, -1)])
def test_a_pinned_phase_is_one_of_the_lattice(steps: tuple[int, int]) -> None:
    """One repeat across takes half a repeat along with it."""
    plan = begun_half_drop()
    x, y = plan.materials[0].phase_groups[0].phase_nm
    pin = (x + steps[0] * 500 * MM, y + steps[0] * 320 * MM + steps[1] * 640 * MM)
    assert check_plan(faults.room(plan, pins=RoomPins(phase_nm=pin))) == ()


def test_a_pinned_phase_holds_where_pins_and_pattern_hold() -> None:
    plan = faults.off_the_pinned_phase()
    for rule in (RuleId.PINS, RuleId.PATTERN):
        assert check_plan(faults.room(plan, rules=plan.job.rooms[0].rules.without(rule))) == ()
        consent = Consent(rule=rule, owner="hall", text="")
        assert check_plan(settled(replace(plan, consents=(consent,)))) == ()
    other = Consent(rule=RuleId.SEAM_LINES, owner="hall", text="")
    assert _rules(settled(replace(plan, consents=(other,)))) == {"V3b"}


def test_a_phase_fixed_by_what_is_cut_may_be_called_placed_or_not() -> None:
    plan = begun_half_drop()
    assert plan.materials[0].phase_groups[0].placed
    assert check_plan(faults.first(plan, "phase_groups", placed=False)) == ()


def test_what_is_made_does_not_shift_on_to_what_is_gone() -> None:
    """A mat was cut from goods of unknown phase, and goods beside it are gone; were it only held, it might shift."""
    spot = {"x_nm": 0, "y_nm": 0}
    gone = (Rect(0, 310 * MM, 100 * MM, 400 * MM),)
    plan = faults.mat_in_the_way_of_the_shift()
    plan = faults.made(faults.place(plan, "mat-1", **spot), "mat-1", **spot)
    plan = settled(faults.source(faults.stock(plan, "rest-1", gone=gone), "rest-1", gone=gone))
    assert check_plan(plan) == ()
    held = faults.made(faults.cut(plan, "mat-1", state="planned"), "mat-1", of={"state": "planned"})
    assert _rules(held) == {"V2c"}


def _claiming(plan: Plan, *terms: tuple[str, int]) -> Plan:
    """Return the plan with an area bound of no value that counts something and enough in hand beside it."""
    attained = plan.materials[0].measures.roll_nm2
    terms = (*terms, ("stock", -(10**30)))
    certificate = Certificate(kind="area", value=0, terms=terms)
    bound = Bound(level="roll", value=0, attained=attained, certificate=certificate)
    return faults.part(plan, bounds=(bound,), bound_considered=0)


MAT, RUNNER = 600 * MM * 800 * MM, 900 * MM * 3 * M
RUNS = (98 * MM * 2_500 * MM, 98 * MM * 3_498 * MM)
PARTS = 900 * MM * 1_500 * MM, 100 * MM * 2_000 * MM
"""One part of the runner, and one of the second run of skirting, which is cut 2 mm wider than asked for."""

CLAIMS: tuple[tuple[Callable[[], Plan], str, str, int], ...] = (
    (asked_for, "mat-2", "loose:mat", MAT),
    (asked_for, "mat-2", "item:mat#1", MAT),
    (asked_for, "mat-2", "item:mat#2", 0),
    (asked_for, "mat-2", "loose:runner", RUNNER),
    (asked_for, "runner-1", "loose:runner", RUNNER - PARTS[0]),
    (asked_for, "runner-1", "item:runner#1", RUNNER - PARTS[0]),
    (asked_for, "skirting-2", "strip:skirting", sum(RUNS) - PARTS[1]),
    (asked_for, "skirting-2", "item:skirting#1", RUNS[0]),
    (asked_for, "skirting-2", "item:skirting#2", RUNS[1] - PARTS[1]),
    (asked_for, "skirting-1", "strip:skirting", RUNS[1]),  # its 2 mm more are not taken off the other run
    (asked_for, "skirting-1", "item:skirting#1", 0),
    (coved, "hall-insert", "insert:hall", 0),
    (coved, "hall-1", "insert:hall", 100 * MM * 200 * MM),
    (coved, "hall-1", "room:hall", 0),
    (begun_rooms, "hall-1", "room:hall", faults.HALL),
    (begun_rooms, "hall-1", "room:study", 0),
    (begun_rooms, "hall-1", "room:den", 2_610 * MM * 3_110 * MM),
)
"""What is made of a plan, and the most that a certificate may then count under a name."""


@pytest.mark.parametrize(("build", "name", "term", "most"), CLAIMS)
def test_a_certificate_counts_what_is_still_to_be_cut(
    build: Callable[[], Plan], name: str, term: str, most: int
) -> None:
    plan = build() if build().job.done else begun(build(), {name: "cut"})
    assert check_plan(_claiming(plan, (term, most))) == ()
    assert _rules(_claiming(plan, (term, most + 1))) == {"V6c"}


def test_only_goods_that_are_there_and_not_cut_are_in_hand() -> None:
    plan = begun_rooms()
    net = 3 * M * 11_400 * MM - sum(rect.area_nm2 for rect in plan.job.stock[0].gone)
    net -= sum(rect.area_nm2 for item in plan.job.done for rect in item.cut.rects)
    for in_hand, found in ((net, set()), (net + 1, set()), (net - 1, {"V6c"})):
        certificate = Certificate(kind="area", value=0, terms=(("stock", -in_hand),))
        bound = Bound(level="roll", value=0, attained=plan.materials[0].measures.roll_nm2, certificate=certificate)
        assert _rules(faults.part(plan, bounds=(bound,), bound_considered=0)) == found


def test_goods_of_unknown_phase_hold_no_drop_back() -> None:
    """A remnant that is cut is known by what was cut from it, and so loses nothing to its phase any more."""
    plan = begun(unknown_remnants(), {"hall-1": "cut"})
    known, unknown = plan.materials[0].sources
    assert known.phase_known
    assert known.phase_loss_nm == (0, 0)
    assert unknown.anchored
    assert check_plan(plan) == ()
