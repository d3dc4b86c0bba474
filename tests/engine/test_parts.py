"""Big instances part by part: lawful, never worse, repeatable, and work that grows with the number of rooms."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest

from benchmarks.suite_jobs import suite_job
from nesting.checker import check_plan
from nesting.model.building import InstanceBuilder
from nesting.model.instance import Instance
from nesting.model.ordering import in_fixed_order
from nesting.model.valuing import faults_of, value_of
from nesting.pipeline import Settings, plan_job
from nesting.progress import never_stop
from nesting.seams.candidates import candidates_of
from nesting.search import dealing
from nesting.search.blocks import stacked, taken_apart
from nesting.search.dealing import joined_start
from nesting.search.engine import solve
from nesting.search.errands import Errand, Kind
from nesting.search.improving import Found
from nesting.search.parts import is_big
from nesting.search.placing import place
from nesting.search.regions import divided, run_region, with_reworked
from nesting.search.scheme import Ready, make_ready


@cache
def built(pattern: str, rooms: int = 100) -> Instance:
    """Return the instance of a hotel with so many rooms."""
    job = in_fixed_order(suite_job("hotel", pattern, rooms=rooms))
    candidates = candidates_of(job, job.materials[0])
    return InstanceBuilder(job, job.materials[0]).build(candidates.laid, candidates.anchors, candidates.loose).instance


@cache
def begun(pattern: str) -> tuple[Ready, Found]:
    """Return the instance made ready with its first solution."""
    ready = make_ready(built(pattern))
    found = joined_start(ready, never_stop)
    assert found is not None
    return ready, found


PATTERNS = ("plain", "half-drop")


@pytest.mark.parametrize("pattern", PATTERNS)
def test_the_first_solution_is_lawful(pattern: str) -> None:
    ready, found = begun(pattern)
    assert is_big(ready)
    assert faults_of(ready.instance, found.solution) == []
    assert found.value == value_of(ready.instance, found.solution)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_taking_apart_and_stacking_again_loses_nothing(pattern: str) -> None:
    ready, found = begun(pattern)
    again = stacked(ready, found.solution.options, taken_apart(ready, found.solution))
    assert again is not None
    assert faults_of(ready.instance, again) == []
    assert value_of(ready.instance, again).used == found.value.used


@pytest.mark.parametrize("pattern", PATTERNS)
def test_regions_hold_every_piece_and_all_goods_in_hand_once(pattern: str) -> None:
    ready, found = begun(pattern)
    regions = divided(ready, found.solution, random.Random(3))
    lying = sorted((choice, spot.piece) for region in regions for choice, spot in region.lying)
    placed = sorted((choice, spot.piece) for choice, spots in enumerate(found.solution.spots) for spot in spots)
    assert lying == placed
    in_hand = [number for number, source in enumerate(ready.instance.sources) if source.terms is None]
    assert sorted(source for region in regions for source in region.sources) == in_hand
    assert len(regions) > 2


@pytest.mark.parametrize("pattern", PATTERNS)
def test_reworked_regions_are_lawful_and_add_up(pattern: str) -> None:
    ready, found = begun(pattern)
    errands = [
        Errand(kind=Kind.REGION, seed=5 + place, effort=10, region=region)
        for place, region in enumerate(divided(ready, found.solution, random.Random(1)))
    ]
    outcomes = [run_region(ready, errand, None, None, never_stop).reworked for errand in errands]
    reworked = [item for item in outcomes if item is not None]
    assert reworked
    better = with_reworked(ready, found, reworked)
    assert faults_of(ready.instance, better.solution) == []
    assert better.value.levels < found.value.levels
    half = with_reworked(ready, found, reworked[: len(reworked) // 2])
    assert better.value.levels <= half.value.levels


def test_what_does_not_go_together_is_left_out() -> None:
    ready, found = begun("plain")
    regions = divided(ready, found.solution, random.Random(1))
    errands = [Errand(kind=Kind.REGION, seed=9, effort=10, region=region) for region in regions]
    reworked = [run_region(ready, errand, None, None, never_stop).reworked for errand in errands]
    good = [item for item in reworked if item is not None]
    blocks = good[0].heap.blocks
    # One piece of the first region put on top of another: that region must be left out, the others must not.
    (choice, spot), *rest = blocks[0].pieces
    moved = replace(blocks[0], pieces=((choice, replace(spot, y=spot.y + 10**6)), *rest))
    spoiled = replace(good[0], heap=replace(good[0].heap, blocks=(moved, *blocks[1:])))
    result = with_reworked(ready, found, [spoiled, *good[1:]])
    assert faults_of(ready.instance, result.solution) == []
    assert result.value.levels < found.value.levels


def test_the_same_seed_gives_the_same_solution() -> None:
    first, second = (solve(built("plain"), seed=4, effort=1) for _ in range(2))
    assert first.solution == second.solution
    assert first.solution is not None


def test_the_work_of_a_first_solution_grows_with_the_rooms(monkeypatch: pytest.MonkeyPatch) -> None:
    pieces = []

    def counted(ready: Ready, scheme: object) -> object:
        pieces.append(len(scheme.sequence) * len(ready.instance.sources))  # type: ignore[attr-defined]
        return place(ready, scheme)  # type: ignore[arg-type]

    monkeypatch.setattr(dealing, "place", counted)
    counts = []
    for rooms in (100, 300):
        pieces.clear()
        assert joined_start(make_ready(built("plain", rooms)), never_stop) is not None
        counts.append(sum(pieces))
    assert counts[1] < 4.5 * counts[0]


def test_a_hotel_of_150_rooms_is_planned_and_checked() -> None:
    outcome = plan_job(suite_job("hotel", "plain", rooms=150), Settings(effort=0))
    assert outcome.plan is not None
    assert outcome.plan.by_the_rules
    assert check_plan(outcome.plan) == ()
