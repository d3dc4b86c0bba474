"""Time shared between what is done one after another."""

from __future__ import annotations

import pytest

from benchmarks.suite_jobs import suite_job
from nesting.bounds.levels import Wanted
from nesting.domain.plan import MaterialPlan
from nesting.pipeline import SEARCH_SHARE, Settings, plan_job
from nesting.progress import Portion, Step, never_stop
from nesting.search.side_by_side import side_by_side


def test_parts_one_after_another_share_what_is_left() -> None:
    passed = 0.1

    def work(cost: float, stop: object) -> float:
        nonlocal passed
        assert isinstance(stop, Portion)
        assert not stop()
        passed += cost
        return stop.end

    whole = Portion(stop=never_stop, spent=lambda: passed, end=0.7)
    ends = side_by_side(work, [0.1, 0.3, 0.0], None, whole)
    # A third of the 0.6 that are left, half of 0.5, all of 0.2.
    assert [round(end, 6) for end in ends] == [0.3, 0.45, 0.7]


def test_a_portion_that_is_spent_stops_and_gives_nothing_on() -> None:
    spent = Portion(stop=never_stop, spent=lambda: 0.8, end=0.7)
    assert spent()
    assert spent.next_of(2)()
    assert Portion(stop=lambda: True, spent=lambda: 0.0, end=0.7)()


def test_a_search_that_has_had_its_share_leaves_the_rest_to_the_bounds() -> None:
    ended, searched_only = _planned(SEARCH_SHARE), _planned(1.0)
    assert ended.stop == searched_only.stop == "stopped"
    assert ended.bounds[0].value > searched_only.bounds[0].value
    assert searched_only.bounds[0].cut == "area and fewest seams"
    # What holds for every layout holds for the layouts looked at.
    assert all(plan.bound_considered >= plan.bounds[0].value for plan in (ended, searched_only))


def _planned(share: float) -> MaterialPlan:
    """Return the plan of a flat with so much of the time spent as soon as there is a solution."""
    spent = 0.0

    def told(step: Step) -> None:
        nonlocal spent
        spent = share if step.best is not None else spent

    def over() -> bool:
        return spent >= 1

    settings = Settings(effort=2, stop=over, spent=lambda: spent, progress=told)
    plan = plan_job(suite_job("flat", "plain"), settings).plan
    assert plan is not None
    return plan.materials[0]


def test_one_bound_does_not_use_up_the_time_of_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    ends = []

    def told(wanted: Wanted) -> None:
        assert isinstance(wanted.stop, Portion)
        ends.append(wanted.stop.end)

    monkeypatch.setattr("nesting.bounds.levels.SHARPER", ((told, 4), (told, 1)))
    assert plan_job(suite_job("cottage", "half-drop"), Settings(effort=1, spent=lambda: 0.2)).plan is not None
    assert [round(end, 6) for end in ends] == [0.4, 1.0]
