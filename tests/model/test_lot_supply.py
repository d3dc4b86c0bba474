"""What is ordered of a lot against its supply: whole rolls, order steps, one lot where one will do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from nesting.domain.job import Job
from nesting.domain.material import Sale, StockPiece
from nesting.domain.rules import RuleId
from nesting.pipeline import Settings, plan_job
from tests.making import ALONG_Y, MM, M, goods, job, ordered_nm, planned, rectangle, remnant, room


def rooms_of(*lengths_nm: int, sale: Sale, stock: tuple[StockPiece, ...] = (), **of_goods: Any) -> Job:
    """Rooms as wide as the goods."""
    rooms = [room(rectangle(2 * M, length), f"room-{k}", lays=(ALONG_Y,)) for k, length in enumerate(lengths_nm)]
    return job(rooms, goods(2 * M, sale=sale, **of_goods), stock=stock)


def test_whole_rolls_longer_than_a_lot_lasts_are_refused() -> None:
    sale = Sale(whole_rolls=True, lot_limit_nm=15 * M)
    outcome = plan_job(rooms_of(2 * M, longest_nm=30 * M, sale=sale), Settings(effort=0))
    assert [refusal.rule for refusal in outcome.refusals] == [RuleId.STOCK]


def test_no_part_of_a_whole_roll_is_ordered() -> None:
    """A lot of 25 m is two whole rolls of 10 m: of the three that are needed, one is of another lot."""
    plan = planned(
        rooms_of(9 * M, 9 * M, 4 * M, longest_nm=10 * M, sale=Sale(whole_rolls=True, lot_limit_nm=25 * M)), effort=0
    )
    assert sorted(line.length_nm for line in plan.order) == [10 * M] * 3
    assert len({line.lot for line in plan.order}) == 2


def test_orders_that_one_lot_supplies_are_of_one_lot() -> None:
    """10 m in rolls of at most 6 m need not be one of 6 m and one of 4 m."""
    plan = planned(rooms_of(5 * M, 5 * M, longest_nm=6 * M, sale=Sale(lot_limit_nm=10 * M)), effort=0)
    assert ordered_nm(plan) == 10 * M
    assert len({line.lot for line in plan.order}) == 1


def test_one_lot_is_that_of_the_goods_in_hand_for_a_room() -> None:
    """The wide room needs what is in hand and a roll of its lot; so the roll for the other is of that lot too."""
    hand = remnant("R", 1 * M, 5 * M, lot="that in hand", lot_orderable=True)
    a_job = rooms_of(5 * M, longest_nm=6 * M, sale=Sale(lot_limit_nm=10 * M), stock=(hand,))
    wide = room(rectangle(3 * M, 5 * M), "wide", lays=(ALONG_Y,))
    plan = planned(replace(a_job, rooms=(*a_job.rooms, wide)), effort=0)
    assert [(line.length_nm, line.lot) for line in plan.order] == [(5 * M, "that in hand")] * 2


def test_an_order_rounded_up_to_its_step_does_not_pass_the_supply() -> None:
    """4 m are ordered as 4.000 02 m on a step of 0.03 mm: more than the lot has, so a room each is of its own."""
    sale = Sale(order_step_nm=30_000, lot_limit_nm=4 * M)
    plan = planned(rooms_of(2 * M, 2 * M, sale=sale, cutting_step_nm=5 * MM), effort=0)
    assert sorted(line.length_nm for line in plan.order) == [2 * M + 10_000] * 2
    assert len({line.lot for line in plan.order}) == 2
