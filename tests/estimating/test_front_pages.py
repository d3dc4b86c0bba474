"""The quick look at the trade-off beside a plan."""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.done import DoneCut
from nesting.domain.front import seams_of
from nesting.domain.plan import Consent
from nesting.domain.rules import RuleId
from nesting.estimating.front_pages import (
    AT_ONCE,
    HAS_BEGUN,
    MOST_ROOMS,
    NOT_BY_THE_RULES,
    STOPPED,
    TOO_MANY,
    front_pages,
    quick_look,
)
from nesting.estimating.trading_off import trade_off
from nesting.pipeline import Settings
from tests.making import M, goods, job, planned_whole, rectangle, room

TWO_ROOMS = job([room(rectangle(3 * M, 4 * M), "one"), room(rectangle(3 * M, 2 * M), "two")], goods(2 * M))


def test_the_plan_is_one_of_the_plans_weighed_and_is_marked() -> None:
    plan = planned_whole(TWO_ROOMS)
    (page,), why = quick_look(plan, Settings(effort=1))
    assert why == ""
    part = plan.materials[0]
    assert len([row for row in page.rows if row.is_this]) <= 1
    chosen = next(group for group in page.chart.groups if group.id == "chosen")
    assert f"{seams_of(part)} seam" in chosen.title
    best = next(row for row in reversed(page.rows) if int(row.seams) <= seams_of(part))
    assert best.is_this  # nothing found in a quick look beats what the run itself found
    assert page.material == "Goods"


def test_a_plan_to_begin_with_is_never_lost() -> None:
    plan = planned_whole(TWO_ROOMS, effort=3)
    part = plan.materials[0]
    front = trade_off(plan.job, Settings(effort=0, start=plan)).fronts[0]
    row = front.with_at_most(seams_of(part))
    assert row is not None
    assert row.roll_nm2 <= part.measures.roll_nm2


def test_a_plan_of_another_job_is_not_taken() -> None:
    other = planned_whole(job([room(rectangle(5 * M, 4 * M), "one")], goods(2 * M)))
    front = trade_off(TWO_ROOMS, Settings(effort=0, start=other)).fronts[0]
    assert front == trade_off(TWO_ROOMS, Settings(effort=0)).fronts[0]


def test_the_reasons_why_there_is_none() -> None:
    plan = planned_whole(TWO_ROOMS)
    consent = Consent(rule=RuleId.TRIM, owner="one", text="less")
    part = plan.materials[0]
    done = (DoneCut(cut=part.cuts[0], source_id=part.sources[0].id, x_nm=0, y_nm=0),)
    many = tuple(replace(plan.job.rooms[0], id=str(k)) for k in range(MOST_ROOMS + 1))
    assert quick_look(replace(plan, consents=(consent,)), Settings(effort=4)) == ((), NOT_BY_THE_RULES)
    assert quick_look(replace(plan, job=replace(plan.job, done=done)), Settings(effort=4)) == ((), HAS_BEGUN)
    assert quick_look(plan, Settings(effort=0)) == ((), AT_ONCE)
    assert quick_look(replace(plan, job=replace(plan.job, rooms=many)), Settings(effort=4)) == ((), TOO_MANY)
    assert quick_look(plan, Settings(effort=4, stop=lambda: True)) == ((), STOPPED)


def test_the_page_of_a_row_marks_that_row() -> None:
    found = trade_off(TWO_ROOMS, Settings(effort=1))
    for row in found.fronts[0].rows:
        (page,) = front_pages(found, row.plan)
        assert [one.seams for one in page.rows if one.is_this] == [str(row.seams)]
