"""Rooms that match, where the pattern is placed in one of them, at a phase that is no whole number of units."""

from __future__ import annotations

import pytest

from nesting.domain.job import Job, PatternPlacement, PlacementWish
from nesting.domain.rules import RuleId
from nesting.pipeline import Settings, plan_job
from tests.making import ALONG_Y, MM, goods, job, loose, pattern, planned, planned_whole, rectangle, room

FREE = PatternPlacement()
CENTRED = PatternPlacement(across=PlacementWish.MOTIF_CENTRED, along=PlacementWish.MOTIF_CENTRED)


def matching(*lengths_mm: float, placed: tuple[PatternPlacement, ...], across_mm: int | None = None) -> Job:
    """Two rooms as wide as the goods, cut to the centimetre, and a loose piece that goes before or after them."""
    wide = 1_990 * MM if across_mm is not None else 2_000 * MM
    rooms = [
        room(rectangle(wide, int(length * MM)), f"room-{k}", plan_id="plan", lays=(ALONG_Y,), placement=placement)
        for k, (length, placement) in enumerate(zip(lengths_mm, placed, strict=True))
    ]
    its = goods(
        2_000 * MM if across_mm is None else 2_500 * MM,
        pattern=pattern(430 * MM, None if across_mm is None else across_mm * MM),
        cutting_step_nm=10 * MM,
        starting_allowance_nm=430 * MM,
    )
    return job(rooms, its, matches=(("room-0", "room-1"),), loose=(loose(2_000 * MM, 120 * MM, 2),))


@pytest.mark.parametrize("across_mm", [None, 390])
@pytest.mark.parametrize(("free_mm", "centred_mm"), [(2_000, 2_990), (3_000, 2_985), (2_370, 1_510)])
def test_a_room_lies_at_the_phase_placed_in_another(free_mm: int, centred_mm: int, across_mm: int | None) -> None:
    a_job = matching(free_mm, centred_mm, placed=(FREE, CENTRED), across_mm=across_mm)
    (group,) = planned(a_job, effort=0).phase_groups
    assert group.placed and (2 * group.phase_nm[1] + centred_mm * MM) % (430 * MM) == 0


def test_phases_placed_less_than_a_unit_apart_do_not_agree() -> None:
    """The middles of the two rooms lie 2.5 mm apart, within one centimetre: no pattern has a mark in both."""
    along = PatternPlacement(along=PlacementWish.MOTIF_CENTRED)
    outcome = plan_job(matching(3_000, 2_995, placed=(along, along)), Settings(effort=0))
    assert [refusal.rule for refusal in outcome.refusals] == [RuleId.STOCK]


def test_a_plan_at_a_phase_placed_in_another_room_is_taken_over() -> None:
    a_job = matching(2_000, 2_985, placed=(FREE, CENTRED), across_mm=390)
    plan = planned_whole(a_job, effort=0)
    again = plan_job(a_job, Settings(effort=0, start=plan)).plan
    assert again is not None and again.materials[0].placements == plan.materials[0].placements
