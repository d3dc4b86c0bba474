"""The trade-off in words: what is said is what was found, and no more."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.domain.front import AtMost, Front, Known, TradeOff
from nesting.domain.job import Unit
from nesting.domain.plan import ByHand
from nesting.domain.rules import Goal
from nesting.drawing import front_chart
from nesting.estimating.front_words import chart_of, runs_of, said_of, said_of_all
from nesting.files.front_tables import folders_of, front_csv, plain_name
from tests.estimating.test_trade_off import published, traded
from tests.making import FT


@pytest.fixture(scope="module")
def found() -> TradeOff:
    a_job = published()
    return traded(replace(a_job, unit=Unit.FOOT, currency="EUR"), effort=3)


def text_of(found: TradeOff, front: Front) -> str:
    return "\n".join(said_of(found, front))


def test_what_every_step_takes(found: TradeOff) -> None:
    text = text_of(found, found.fronts[0])
    assert "1 seam instead of 2 (half as many): 7' more roll." in text
    assert "2 seams instead of 3: 2' 4\" more roll." in text
    assert "EUR" not in text  # nothing has a price
    one_to_three = replace(found.fronts[0], rows=(found.fronts[0].rows[0], found.fronts[0].rows[2]))
    assert "1 seam instead of 3: 9' 4\" more roll; 4' 8\" for each seam less." in text_of(found, one_to_three)


def test_the_fewest_are_called_proved_only_where_they_are(found: TradeOff) -> None:
    front = found.fronts[0]
    assert "No plan has fewer than 1 seam: proved." in text_of(found, front)
    unproved = replace(front, fewest_seams=0)
    assert said_of(found, unproved)[0] == "No plan with fewer than 1 seam was found; that there is none is not proved."
    first = said_of(found, replace(front, rows=front.rows[1:]))[0]
    assert first == "No plan with fewer than 2 seams was found; that there is none with fewer than 1 is proved."


def test_more_seams_are_called_useless_only_where_that_is_proved(found: TradeOff) -> None:
    front = found.fronts[0]
    assert "With more than 3 seams no roll is saved: proved." in text_of(found, front)
    least = replace(front.least_roll, value=front.least_roll.value * 3 // 4)
    text = text_of(found, replace(front, least_roll=least))
    assert (
        "With more than 3 seams nothing was found that saves roll; no plan at all orders less than 14' (25.0% less)."
        in text
    )
    capped = replace(found, job=replace(found.job, goal=Goal(most_seams=3)))
    assert "The job's goal allows no more than 3 seams." in text_of(capped, front)
    wider = replace(found, job=replace(found.job, goal=Goal(most_seams=5)))
    assert "With more than 3 seams and up to the 5 that the goal allows no roll is saved: proved." in text_of(
        wider, front
    )


def test_what_lies_between_is_named_by_what_is_known(found: TradeOff) -> None:
    front = found.fronts[0]
    known = (Known.PLAN, Known.SETTLED, Known.SETTLED, Known.SEARCHED, Known.NOT_LOOKED_AT, Known.PLAN)
    items = tuple(AtMost(seams=1 + place, known=one, bound_nm2=1) for place, one in enumerate(known))
    text = text_of(found, replace(front, known=items))
    assert "With 2 to 3 seams no plan orders less than the row before: proved." in text
    assert "With 4 seams nothing was found that orders less than the row before." in text
    assert "Plans with 5 seams were not looked at" in text
    assert "not looked at" not in text_of(found, front)


def test_the_hand_method_stands_beside_the_rows_with_no_more_seams(found: TradeOff) -> None:
    hand = ByHand(ordered_nm=((12 * FT, 28 * FT),), seams=2, cost=0)
    text = text_of(found, replace(found.fronts[0], by_hand=hand))
    assert "By hand: 28' with 2 seams; the plan with 2 seams here orders 7' less (25.0%)." in text
    assert "By hand" not in text_of(found, replace(found.fronts[0], by_hand=None))


def test_the_chart_is_drawn_in_the_jobs_unit(found: TradeOff) -> None:
    front = found.fronts[0]
    chart = chart_of(found, front)
    assert [row.amount for row in chart.rows] == pytest.approx([28, 21, 56 / 3])
    assert chart.axis == "roll ordered, ft" and chart.least == pytest.approx(56 / 3)
    assert [amount for _, amount in chart.bounds] == pytest.approx([28, 21, 56 / 3])
    assert front.by_hand is not None and chart.by_hand is not None
    assert chart.by_hand.seams == front.by_hand.seams
    metric = chart_of(replace(found, job=replace(found.job, unit=Unit.MM)), front)
    assert metric.rows[0].amount == pytest.approx(28 * 0.3048) and metric.axis == "roll ordered, m"
    stopped = chart_of(found, replace(front, stopped=True))
    assert "stopped" in front_chart(stopped) and "stopped" not in front_chart(chart)


def test_goods_of_several_widths_are_areas(found: TradeOff) -> None:
    (material,) = found.job.materials
    wide = replace(found, job=replace(found.job, materials=(replace(material, widths_nm=(12 * FT, 15 * FT)),)))
    assert "7.80 m² more roll" in text_of(wide, found.fronts[0])
    assert chart_of(wide, found.fronts[0]).axis == "roll ordered, m²"
    cells = front_csv(wide, folders_of(wide)).splitlines()[1].split(",")
    assert cells[6:9] == ["", "", "31.22"]


def test_the_ends_of_several_materials_are_added_in_money_alone(found: TradeOff) -> None:
    assert said_of_all(found) == []
    twice = replace(found, fronts=(found.fronts[0], found.fronts[0]))
    assert said_of_all(twice) == []  # nothing has a price


def test_folders_of_materials_that_look_alike_are_told_apart(found: TradeOff) -> None:
    front = found.fronts[0]
    fronts = tuple(replace(front, material_id=name) for name in ("Oak 4 m", "Oak_4/m", "oak 4-m", "木"))
    several = replace(found, fronts=fronts)
    names = [plain_name(several, place) for place in range(4)]
    assert len({name.lower() for name in names}) == 4
    assert all(name.isascii() and name for name in names)
    assert len(set(folders_of(several).values())) == 4 * len(front.rows)


def test_runs() -> None:
    assert list(runs_of([])) == []
    assert list(runs_of([2, 3, 5, 7, 8, 9])) == [(2, 3), (5, 5), (7, 9)]
