"""Rooms that share a lay direction: no bound lets every one run as it likes best."""

from __future__ import annotations

import pytest

from nesting.bounds.by_width import WidthBounds
from nesting.bounds.levels import MaterialBounds
from nesting.bounds.lots import lots_of, served_by
from nesting.domain.geometry import LayDirection
from nesting.domain.job import Job
from nesting.domain.rules import Goal
from tests.bounds.test_by_width import bound_nm2
from tests.making import MM, M, goods, job, planned, rectangle, remnant, room

WORTH = Goal(seam_worth_nm=500 * MM)


def two_rooms(*matches: tuple[str, ...]) -> Job:
    """Return two rooms of 3.9 × 6 m on goods 4 m wide, one of them turned."""
    rooms = (room(rectangle(3900 * MM, 6 * M), "one"), room(rectangle(6 * M, 3900 * MM), "other"))
    return job(rooms, goods(4 * M, cutting_step_nm=50 * MM), matches=matches, goal=WORTH)


def test_each_by_itself_takes_its_length_and_together_one_is_seamed() -> None:
    free, tied = two_rooms(), two_rooms(("one", "other"))
    # Free: 6 + 6 m. Tied: three breadths of 3.9 m beside two of 6 m take 12 m too, and three seams.
    assert [planned(each).bounds[0].attained for each in (free, tied)] == [48 * 10**18, 54 * 10**18]
    counted = [MaterialBounds(each, each.materials[0]) for each in (free, tied)]
    assert [bounds.fewest_seams() for bounds in counted] == [0, 1]


@pytest.mark.parametrize("by", ["width", "stacking"])
def test_the_bounds_on_roll_and_seams_know_it(by: str) -> None:
    found = []
    for each in (two_rooms(), two_rooms(("one", "other"))):
        searched = MaterialBounds(each, each.materials[0]).searched(effort=1, seed=0)
        assert searched is not None
        found.append(bound_nm2(each, effort=1) if by == "width" else searched)
    free, tied = found
    attained = 54 * 10**18
    assert free <= 48 * 10**18 < tied <= attained


def test_an_axis_is_the_same_both_ways() -> None:
    for dx, dy in ((0, 1), (1, 0), (3, 4), (-3, 4)):
        lay = LayDirection(dx, dy)
        assert lay.axis == lay.quarter_turned(2).axis != lay.quarter_turned(1).axis


def test_breadths_longer_than_half_a_remnant_lie_side_by_side_in_it() -> None:
    # 3.7 × 2.6 m is less than the 3 × 3.3 m of the remnant by area, but its breadths do not lie one behind the other.
    for across, long_enough in ((3700, False), (2900, True)):
        only = room(rectangle(across * MM, 2600 * MM))
        a_job = job((only,), goods(4 * M), stock=(remnant("R-1", 3 * M, 3300 * MM),))
        bounds = WidthBounds(a_job, a_job.materials[0], seam_worth_nm=0)
        _, lots = lots_of(a_job.stock, a_job.materials[0], mixed=False)
        assert bool(served_by(bounds.kinds[0], lots[0], bounds.areas[0])) is long_enough
