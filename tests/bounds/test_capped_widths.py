"""Bounds by width under one cap on seams after another, from one program: they hold, in whatever order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.bounds.capped_widths import WidthsByCap
from nesting.domain.job import Job
from nesting.domain.rules import Goal, GoalKind
from nesting.progress import never_stop
from tests import oracle
from tests.making import BARE_RULES, FT, INCH, UNIT_NM, goods, job, job_of, rectangle, room
from tests.tiny_jobs import tiny_job

ENOUGH = 10**24


def widths_of(a_job: Job, most_nm2: int = ENOUGH) -> WidthsByCap:
    uncapped = replace(a_job, goal=Goal(kind=GoalKind.LEAST_ROLL))
    return WidthsByCap(uncapped, a_job.materials[0], most_nm2=most_nm2, effort=1, seed=0, stop=never_stop)


def at_feet(widths: WidthsByCap, cap: int | None, attained_ft: int = 40) -> float:
    value, _ = widths.bound_nm2(cap, attained_ft * FT * 12 * FT, never_stop, placed=False)
    return value / (12 * FT * FT)


def test_a_cap_that_came_before_binds_no_other() -> None:
    """14 × 16 ft on 12 ft goods: one seam wants more roll than the area, whichever cap was asked about first."""
    floor = room(rectangle(14 * FT, 16 * FT), rules=replace(BARE_RULES, cross_seams_per_breadth=2))
    a_job = job([floor], goods(12 * FT, cutting_step_nm=INCH))
    for order in ((1, 3, None), (None, 3, 1), (3, 1, None)):
        widths = widths_of(a_job)
        found = {cap: at_feet(widths, cap) for cap in order}
        assert found[1] > 56 / 3 - 0.01 >= found[3] - 0.02, order
        assert found[None] <= 56 / 3 and found[3] <= 56 / 3 and found[1] <= 28


@pytest.mark.parametrize("features", [("cross",), ("overlap", "cross"), ("stock",), ("widths",)], ids="-".join)
@pytest.mark.parametrize("seed", [1000, 1001, 1002])
def test_no_bound_is_above_what_can_be_done(seed: int, features: tuple[str, ...]) -> None:
    tiny = tiny_job(seed, *features)
    least = {cap: oracle.least(replace(tiny, most_seams=cap, seam_worth=0)) for cap in range(tiny.most_seams + 1)}
    widths = widths_of(job_of(tiny))
    for cap in (*sorted(least, reverse=True), *sorted(least)):
        value, _ = widths.bound_nm2(cap, ENOUGH, never_stop, placed=cap % 2 == 0)
        best = least[cap]
        assert best is None or value <= best * UNIT_NM**2


def test_what_is_left_out_says_nothing_of_plans_that_order_more() -> None:
    """Ways that no plan of so much roll takes are left out: bounds hold up to that roll, and none is above it."""
    tiny = tiny_job(1001, "cross")
    rows = [(seams, roll * UNIT_NM**2) for seams, roll in oracle.front(tiny)]
    for _, most in rows:
        widths = widths_of(job_of(tiny), most_nm2=most)
        for seams, roll in reversed(rows):
            value, _ = widths.bound_nm2(seams, max(most, roll), never_stop, placed=True)
            assert value <= min(most, roll)
