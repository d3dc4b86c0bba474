"""The map of a very long roll: sheets that can be read, and work that grows with its length."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import pytest

from benchmarks.suite_jobs import suite_job
from nesting.domain.plan import Plan
from nesting.drawing.drawings import roll_maps
from nesting.drawing.roll_frame import RowFrame
from nesting.drawing.roll_row import DrawnRow, drawn_row
from nesting.pipeline import Settings, plan_job


def on_one_roll(rooms: int) -> Plan:
    """Return the plan of a hotel whose goods are made in any length."""
    job = suite_job("hotel", "plain", rooms=rooms)
    job = replace(job, stock=(), materials=tuple(replace(goods, longest_nm=None) for goods in job.materials))
    plan = plan_job(job, Settings(effort=0)).plan
    assert plan is not None
    return plan


def test_a_long_roll_is_drawn_in_proportion_to_its_length(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[int] = []

    def counted(frame: RowFrame) -> DrawnRow | None:
        drawn.append(1)
        return drawn_row(frame)

    monkeypatch.setattr(import_module("nesting.drawing.roll_map"), "drawn_row", counted)
    work, sheets, length_nm = [], [], []
    for rooms in (60, 120):
        plan = on_one_roll(rooms)
        longest = max(plan.materials[0].sources, key=lambda source: source.length_nm)
        drawn.clear()
        sheets.append(len(roll_maps(plan, longest.id)))
        work.append(len(drawn))
        length_nm.append(longest.length_nm)
    assert sheets[1] > sheets[0] > 3  # nothing is made too small to be read
    assert work[1] / work[0] < 1.5 * length_nm[1] / length_nm[0]
