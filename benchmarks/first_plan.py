"""How long the first plan takes: jobs of the suite with 5, 12 and 30 rooms, plain and patterned, with remnants.

    python -m benchmarks.first_plan [--profile]

Every row is one job planned with effort 0 (the constructive plan, with bounds, notices and the checker): the seconds
of processor time to the checked outcome, where they went, and how far the roll ordered is above its bound by area.
With `--profile` the slowest job's functions are listed too.
"""

from __future__ import annotations

import cProfile
import pstats
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import process_time

from benchmarks.suite_jobs import PATTERNS, suite_job
from nesting import pipeline
from nesting.domain.job import Job

SIZES = {"flat": 5, "house": 12, "clinic": 30}
"""Kind of job -> so many rooms."""
GOAL_S = 1.0
"""A good plan must exist within a second even for 30 rooms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One job's result. `above`: roll ordered over the bound, less one."""

    name: str
    seconds: float
    layouts_s: float
    search_s: float
    bounds_s: float
    checker_s: float
    above: float


@contextmanager
def _timed(spent: dict[str, float], names: tuple[str, ...]) -> Iterator[None]:
    """Measure the named functions of the pipeline while it runs."""
    kept = {name: getattr(pipeline, name) for name in names}

    def wrapped(name: str) -> Callable[..., object]:
        def call(*args: object, **kwargs: object) -> object:
            start = process_time()
            try:
                return kept[name](*args, **kwargs)
            finally:
                spent[name] = spent.get(name, 0.0) + process_time() - start

        return call

    for name in names:
        setattr(pipeline, name, wrapped(name))
    try:
        yield
    finally:
        for name in names:
            setattr(pipeline, name, kept[name])


def measured(job: Job, effort: int = 0) -> Row:
    """Plan one job and return its row."""
    spent: dict[str, float] = {}
    start = process_time()
    with _timed(spent, ("candidates_of", "solve", "level_bounds", "check_plan")):
        outcome = pipeline.plan_job(job, pipeline.Settings(effort=effort))
    seconds = process_time() - start
    above = float("nan")
    if outcome.plan is not None and outcome.plan.by_the_rules:
        roll = next(bound for bound in outcome.plan.materials[0].bounds if bound.level == "roll")
        above = roll.attained / roll.value - 1 if roll.value else 0.0
    return Row(
        name=job.name,
        seconds=seconds,
        layouts_s=spent.get("candidates_of", 0.0),
        search_s=spent.get("solve", 0.0),
        bounds_s=spent.get("level_bounds", 0.0),
        checker_s=spent.get("check_plan", 0.0),
        above=above,
    )


def table(rows: list[Row]) -> str:
    """Return the rows as text."""
    head = f"{'job':<22}{'seconds':>9}{'layouts':>9}{'search':>9}{'bounds':>9}{'checker':>9}{'above':>8}"
    lines = [
        f"{row.name:<22}{row.seconds:>9.2f}{row.layouts_s:>9.2f}{row.search_s:>9.2f}{row.bounds_s:>9.2f}"
        f"{row.checker_s:>9.2f}{row.above:>8.1%}{'  slow' if row.seconds > GOAL_S else ''}"
        for row in rows
    ]
    return "\n".join([head, *lines])


def main(arguments: list[str]) -> int:
    """Measure all jobs and write the table; 1 if one took longer than the goal."""
    jobs = [suite_job(kind, pattern, rooms=size) for kind, size in SIZES.items() for pattern in PATTERNS]
    rows = [measured(job) for job in jobs]
    sys.stdout.write(table(rows) + "\n")
    if "--profile" in arguments:
        slowest = max(range(len(rows)), key=lambda index: rows[index].seconds)
        profile = cProfile.Profile()
        profile.runcall(pipeline.plan_job, jobs[slowest], pipeline.Settings(effort=0))
        pstats.Stats(profile, stream=sys.stdout).sort_stats("cumulative").print_stats(45)
    return int(any(row.seconds > GOAL_S for row in rows))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
