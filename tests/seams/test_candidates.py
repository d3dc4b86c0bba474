"""The candidates of a whole material: laid twice, or once where time is short."""

from __future__ import annotations

import pytest

from benchmarks.suite_jobs import suite_job
from nesting.pipeline import Settings, plan_job
from nesting.progress import never_stop
from nesting.seams.candidates import LAYOUTS_AT_FIRST, candidates_of


@pytest.mark.parametrize("pattern", ["plain", "half-drop"])
def test_rooms_kept_from_the_second_pass_have_the_layouts_of_the_first(pattern: str) -> None:
    job = suite_job("flat", pattern)
    asked = 0

    def soon() -> bool:
        nonlocal asked
        asked += 1
        return asked > 2

    counts = [
        [len(layouts) for layouts in candidates_of(job, job.materials[0], stop=stop).laid.values()]
        for stop in (lambda: True, soon, never_stop)
    ]
    none, some, every = counts
    assert all(0 < few <= 2 * LAYOUTS_AT_FIRST for few in none)
    assert none != some != every
    assert all(few <= many for few, many in zip(none, every, strict=True))


def test_a_plan_at_once_is_made_from_few_layouts(monkeypatch: pytest.MonkeyPatch) -> None:
    stops = []

    def told(job, material, *, stop=never_stop):  # type: ignore[no-untyped-def]
        stops.append(stop())
        return candidates_of(job, material, stop=stop)

    monkeypatch.setattr("nesting.pipeline.candidates_of", told)
    for effort in (0, 1):
        assert plan_job(suite_job("flat", "plain"), Settings(effort=effort)).plan is not None
    assert stops == [True, False]
