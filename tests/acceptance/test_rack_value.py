"""Goods in hand are spared: a small remnant serves before a large one, and nothing is ordered for it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from nesting.domain.job import Job
from nesting.domain.material import StockPiece
from nesting.domain.plan import MaterialPlan
from nesting.domain.rules import Goal, GoalKind, OffcutRules, ValueRule
from nesting.pipeline import Settings, plan_job
from tests.making import CM, MM, M, goods, job, ordered_nm, planned, rectangle, remnant, room
from tests.strategies import stock_jobs

SQ_M = M * M
CLOSET = room(rectangle(180 * CM, 100 * CM), "closet", lays=())
BIG, SMALL = remnant("big", 2 * M, 10 * M), remnant("small", 2 * M, 120 * CM)


def of_closet(*stock: StockPiece, **changes: object) -> Job:
    return job([CLOSET], goods(2 * M), stock=stock, **changes)


def used(plan: MaterialPlan) -> list[str]:
    return [source.stock_id for source in plan.sources]


@pytest.mark.parametrize("kind", list(GoalKind))
@pytest.mark.parametrize("stock", [(BIG, SMALL), (SMALL, BIG)])
def test_a_closet_is_cut_from_the_small_remnant(kind: GoalKind, stock: tuple[StockPiece, ...]) -> None:
    """By hand: the small one loses a quarter of 2.4 m², the big one 2 m² of 20."""
    plan = planned(of_closet(*stock, goal=Goal(kind=kind)))
    assert used(plan) == ["small"] and ordered_nm(plan) == 0
    assert plan.measures.rack_nm2 == 60 * SQ_M // 100


def test_a_big_one_is_used_where_the_small_one_does_not_do() -> None:
    plan = planned(of_closet(BIG, replace(SMALL, length_nm=99 * CM)))
    assert used(plan) == ["big"]
    assert plan.measures.rack_nm2 == 2 * SQ_M  # 20 m² less 3/4 of 4 m², and 18 m² less as much


def test_a_narrow_one_goes_before_a_wide_one_of_less_area() -> None:
    """By hand: of 4 x 2 m (worth 5 m²) 4 x 1 m would be left, a quarter of it counted; of 2 x 5 m (7) 2 x 4 m (5)."""
    plan = planned(of_closet(remnant("wide", 4 * M, 2 * M), remnant("narrow", 2 * M, 5 * M)))
    assert used(plan) == ["narrow"] and plan.measures.rack_nm2 == 2 * SQ_M


def test_a_piece_is_used_up_rather_than_two_nibbled() -> None:
    rooms = [room(rectangle(180 * CM, 1 * M), "one"), room(rectangle(180 * CM, 90 * CM), "two")]
    stock = (remnant("A", 2 * M, 3 * M), remnant("B", 2 * M, 3 * M))
    assert used(planned(job(rooms, goods(2 * M), stock=stock))) == ["A"]


def test_what_is_ordered_anyway_is_used_before_the_rack() -> None:
    """A hall takes 4.1 m of roll sold by the metre: a closet goes beside what is paid for, not on the remnant."""
    rooms = [room(rectangle(180 * CM, 410 * CM), "hall"), room(rectangle(180 * CM, 85 * CM), "closet")]
    material = goods(2 * M)
    material = replace(material, sale=replace(material.sale, order_step_nm=1 * M))
    plan = planned(job(rooms, material, stock=(remnant("A", 2 * M, 1 * M),)))
    assert ordered_nm(plan) == 5 * M
    assert used(plan) == [""] and plan.measures.rack_nm2 == 0


def test_the_rule_can_be_set() -> None:
    """By area the big one loses 2 m², the small one, of which nothing is kept, 2.4; with none either will do."""
    by_area = planned(of_closet(SMALL, BIG, offcuts=OffcutRules(value=ValueRule.BY_AREA)))
    assert used(by_area) == ["big"] and by_area.measures.rack_nm2 == 2 * SQ_M
    narrow = planned(of_closet(SMALL, BIG, offcuts=OffcutRules(small_nm2=0)))
    assert used(narrow) == ["big"]
    none = planned(of_closet(SMALL, BIG, offcuts=OffcutRules(value=ValueRule.NONE)))
    assert none.measures.rack_nm2 == 0


def test_a_book_value_stays_money() -> None:
    """Under least cost a free remnant goes before one that costs, whatever is left of it."""
    stock = (BIG, replace(SMALL, book_value=500))
    assert used(planned(of_closet(*stock, goal=Goal(kind=GoalKind.LEAST_COST)))) == ["big"]
    assert used(planned(of_closet(*stock, goal=Goal(kind=GoalKind.LEAST_ROLL)))) == ["small"]


def _levels(plan: MaterialPlan) -> tuple[int, int]:
    return plan.bounds[0].attained, plan.measures.roll_nm2


@pytest.mark.slow
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(stock_jobs(most_stock=4))
def test_no_roll_is_ordered_to_spare_the_rack(a_job: Job) -> None:
    spared = plan_job(a_job, Settings(effort=2)).plan
    other = plan_job(replace(a_job, offcuts=OffcutRules(value=ValueRule.NONE)), Settings(effort=2)).plan
    assert (spared is None) == (other is None)
    if spared is not None and other is not None and spared.by_the_rules and other.by_the_rules:
        assert _levels(spared.materials[0]) <= _levels(other.materials[0])
        assert other.materials[0].measures.rack_nm2 == 0


def test_values_in_fine_units_still_go_into_the_solver() -> None:
    fine = replace(goods(2 * M), cutting_step_nm=1 * MM // 4)
    assert used(planned(job([CLOSET], fine, stock=(BIG, SMALL)))) == ["small"]
