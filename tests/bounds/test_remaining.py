"""Bounds of a job in which something is cut: never above any plan, and the best for what is left by brute force."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.bounds.remaining import done_areas, free_nm2, left_to_cut
from nesting.domain.done import CutState, DoneCut
from nesting.domain.geometry import Rect
from nesting.domain.job import Job, Strip
from nesting.domain.layout import Cut, CutKind
from nesting.domain.plan import Plan
from nesting.domain.rules import Goal, GoalKind
from nesting.domain.state import Delivered, Spoiled, State
from nesting.errors import JobError
from nesting.estimating.again import plan_again
from nesting.estimating.job_now import job_now
from nesting.pipeline import Settings, plan_job
from tests import strategies as jobs
from tests.estimating.begun_jobs import begun_states, cuts_of
from tests.making import (
    ALONG_Y,
    GOODS,
    MM,
    UNIT_NM,
    M,
    goods,
    job,
    job_of,
    loose,
    planned_whole,
    rectangle,
    remnant,
    room,
)
from tests.oracle import TinyJob, TinyRoom, TinyStock, least

QUICK = Settings(effort=0, rule_costs=False)


def done(ident: str, owner: str, rect: Rect, y_nm: int, **changes: object) -> DoneCut:
    settings_: dict[str, object] = {"kind": CutKind.DROP, "label": ident, "number": 1, "state": CutState.CUT.value}
    cut = Cut(id=ident, owner=owner, rects=(rect,), **(settings_ | changes))  # type: ignore[arg-type]
    return DoneCut(cut=cut, source_id="R", x_nm=0, y_nm=y_nm)


def test_what_is_left_of_a_job_worked_by_hand() -> None:
    """Kitchen of 4 × 3 m, one of two drops cut at 1 m of a roll; before it 1 m is gone; bath untouched."""
    rooms = [room(rectangle(4 * M, 3 * M), "kitchen", lays=(ALONG_Y,)), room(rectangle(2 * M, 2 * M), "bath")]
    a_job = job(
        rooms,
        goods(2 * M),
        loose=(loose(M, M, count=3, loose_id="mat"),),
        strips=(Strip(id="skirt", name="Skirt", material_id=GOODS, width_nm=100 * MM, runs_nm=(3 * M, 2 * M)),),
    )
    plan = planned_whole(a_job, effort=0).materials[0]
    drop = Rect(0, 0, 2 * M, 3 * M)
    begun = replace(
        a_job,
        stock=(remnant("R", 2 * M, 10 * M, gone=(Rect(0, 0, 2 * M, M),), phase_nm=(0, 5)),),
        done=(
            done("kitchen-1", "kitchen", drop, M),
            done("mat-2-1", "mat", Rect(0, 0, M, M), 5 * M, kind=CutKind.LOOSE, of_item=1),
            done("skirt-1-1", "skirt", Rect(0, 0, 100 * MM, 3 * M), 6 * M, kind=CutKind.STRIP),
        ),
    )
    left, seams = left_to_cut(begun, a_job.materials[0], plan)
    assert seams == 1  # of the kitchen: it is there whatever is planned
    assert [item.id for item in left.rooms] == ["bath"]
    assert {item.id: (item.width_nm, item.length_nm, item.count) for item in left.loose} == {
        "mat": (M, M, 2),
        "drop of kitchen-2": (2 * M, 3 * M, 1),
    }
    assert [strip.runs_nm for strip in left.strips] == [(2 * M,)]
    (roll,) = left.stock
    assert (roll.length_nm, roll.phase_nm, roll.gone) == (6 * M, (0, 5 + 4 * M), ())
    assert done_areas(begun) == {"room:kitchen": 6 * M * M, "item:mat#2": M * M, "item:skirt#1": 300 * MM * M}
    assert free_nm2(begun.stock[0], begun.done) == 20 * M * M - 2 * M * M - 6 * M * M - M * M - 300 * MM * M


def test_nothing_cut_leaves_the_job_as_it_is() -> None:
    a_job = job([room(rectangle(4 * M, 3 * M))], goods(2 * M))
    plan = planned_whole(a_job, effort=0).materials[0]
    assert left_to_cut(a_job, a_job.materials[0], plan) == (a_job, 0)


@pytest.mark.parametrize("change", [{"least_trim_nm": 0}, {"least_end_trim_nm": 0}])
def test_a_drop_that_may_be_cut_smaller_is_not_counted(change: dict[str, int]) -> None:
    a_job = job([room(rectangle(4 * M, 3 * M), trim_nm=50 * MM, lays=(ALONG_Y,), **change)], goods(3 * M))
    plan = planned_whole(a_job, effort=0).materials[0]
    first, *rest = sorted(plan.cuts, key=lambda cut: cut.number)
    assert rest
    begun = replace(a_job, stock=(remnant("R", 3 * M, 4 * M),), done=(done(first.id, "room", first.rects[0], 0),))
    left, _ = left_to_cut(begun, a_job.materials[0], plan)
    assert left.loose == () and left.rooms == ()


def test_the_bound_of_what_is_left_is_proved() -> None:
    """Three drops of 2 × 3 m, one cut and one spoiled, 9 m came: 3 m are ordered, and no plan orders less."""
    plan = planned_whole(job([room(rectangle(6 * M, 3 * M), lays=(ALONG_Y,))], goods(2 * M)), effort=1)
    names = tuple(cut.id for cut in sorted(cuts_of(plan), key=lambda cut: cut.number))
    state = State(cut=names, spoiled=(Spoiled(cut_id=names[1]),))
    found = plan_again(plan, state, None, Settings(effort=1, rule_costs=False)).plan
    assert found is not None
    first = found.materials[0].bounds[0]
    assert (first.value, first.attained) == (6 * M * M, 6 * M * M) and first.proved


# --- against brute force ---

TINY = {
    "a second room": TinyJob(
        rooms=(
            TinyRoom(name="first", outline=rectangle(10, 4), lays=(0,)),
            TinyRoom(name="second", outline=rectangle(8, 6), lays=(0, 1)),
        ),
        widths=(5,),
        most_seams=3,
    ),
    "a second room beside what is left": TinyJob(
        rooms=(
            TinyRoom(name="first", outline=rectangle(6, 6), lays=(0,)),
            TinyRoom(name="second", outline=rectangle(7, 3), lays=(0, 1, 2, 3)),
        ),
        widths=(6,),
        most_seams=2,
    ),
}


@pytest.mark.parametrize("extra", [0, 2, 5])
@pytest.mark.parametrize("name", list(TINY))
def test_the_bound_holds_against_brute_force(name: str, extra: int) -> None:
    """The first room is all cut from the start of a roll; the second is planned on its rest or on new goods."""
    tiny = TINY[name]
    alone = replace(tiny, rooms=tiny.rooms[:1])
    plan = plan_job(job_of(alone), QUICK).plan
    assert plan is not None
    today = job_of(tiny)
    (line,) = plan.materials[0].order
    state = _all_cut(plan, line.source_id, line.length_nm + extra * UNIT_NM)
    found = plan_again(plan, state, today, Settings(effort=1, rule_costs=False)).plan
    assert found is not None
    goods_left = [piece for piece in found.job.stock if piece.id != line.source_id]
    tiny_left = tuple(
        TinyStock(name=piece.id, width=piece.width_nm // UNIT_NM, length=piece.length_nm // UNIT_NM, lot="L")
        for piece in goods_left
    )
    rest = TinyStock(name="rest", width=tiny.widths[0], length=extra, lot="L")
    stock = (*tiny_left, rest) if extra else tiny_left
    seams = tiny.most_seams - plan.materials[0].measures.seams
    best = least(replace(tiny, rooms=tiny.rooms[1:], stock=stock, most_seams=seams))
    first = found.materials[0].bounds[0]
    assert best is not None and first.level == "roll"
    assert first.value <= best * UNIT_NM**2 <= first.attained


def _all_cut(plan: Plan, source_id: str, length_nm: int) -> State:
    came = Delivered(source_id=source_id, length_nm=length_nm, lot="L", lot_orderable=False)
    return State(delivered=(came,), cut=tuple(cut.id for cut in cuts_of(plan)))


# --- against other plans ---


def bounds_hold(data: st.DataObject, efforts: tuple[int, ...]) -> None:
    """No plan of the job as it is now, by whatever seed or effort, is better than the bound of another."""
    a_job: Job = data.draw(st.one_of(jobs.stock_jobs(), jobs.plain_jobs(loose=True), jobs.patterned_jobs()))
    a_job = replace(a_job, goal=Goal(kind=data.draw(st.sampled_from(list(GoalKind)))))
    plan = plan_job(a_job, QUICK).plan
    if plan is None or not plan.by_the_rules:
        return
    state = data.draw(begun_states(plan))
    try:
        today = job_now(plan, state).job
    except JobError:
        return
    found = [plan_job(today, Settings(effort=effort, seed=effort, rule_costs=False)).plan for effort in efforts]
    firsts = [item.materials[0].bounds[0] for item in found if item is not None and item.by_the_rules]
    if firsts:
        assert max(first.value for first in firsts) <= min(first.attained for first in firsts)


@settings(max_examples=4, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_no_plan_is_better_than_the_bound_of_another(data: st.DataObject) -> None:
    bounds_hold(data, (0, 0))


@pytest.mark.slow
@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_no_plan_is_better_than_the_bound_of_another_in_many_jobs(data: st.DataObject) -> None:
    bounds_hold(data, (0, 1, 2))
