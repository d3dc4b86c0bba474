"""How long the first plan takes: generated jobs of 5, 12 and 30 rooms, plain and patterned, with remnants.

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
from fractions import Fraction
from random import Random
from time import process_time

from nesting import pipeline
from nesting.domain.geometry import Point
from nesting.domain.job import Door, Edge, EdgeKind, Job, Room, Unit
from nesting.domain.material import Material, Pattern, Sale, StockKind, StockPiece

MM = 1_000_000
CM = 10 * MM
SIZES = (5, 12, 30)
PATTERNS: dict[str, Pattern | None] = {
    "plain": None,
    "straight": Pattern(along_nm=640 * MM, across_nm=500 * MM),
    "half-drop": Pattern(along_nm=600 * MM, across_nm=400 * MM, drop_nm=Fraction(300 * MM)),
}
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


def generated_job(rooms: int, pattern: str, seed: int = 1) -> Job:
    """Return a storey of so many rooms: every third an L, most with a door, a remnant for every five rooms."""
    chance = Random(f"{rooms} {pattern} {seed}")
    goods = PATTERNS[pattern]
    material = Material(
        id="goods",
        name="Goods",
        widths_nm=(4_000 * MM,),
        longest_nm=60_000 * MM if goods is None else None,
        sale=Sale(order_step_nm=100 * MM, price_per_m=(Fraction(4500),)),
        pattern=goods,
        seam_overlap_nm=0 if goods is not None else 20 * MM,
    )
    stock = tuple(
        StockPiece(
            id=f"remnant-{number + 1}",
            material_id="goods",
            kind=StockKind.REMNANT,
            width_nm=chance.choice((2_000, 3_000, 4_000)) * MM,
            length_nm=chance.randrange(1_500, 5_000, 50) * MM,
            lot=chance.choice((None, "A", "B")),
            phase_nm=None if goods is None or chance.random() < 0.5 else (100 * MM, 200 * MM),
        )
        for number in range(rooms // 5)
    )
    return Job(
        name=f"{rooms} rooms, {pattern}",
        unit=Unit.MM,
        materials=(material,),
        rooms=tuple(_room(chance, number) for number in range(rooms)),
        stock=stock,
    )


def _room(chance: Random, number: int) -> Room:
    across, along = chance.randrange(180, 720) * CM, chance.randrange(200, 640) * CM
    outline: tuple[Point, ...] = ((0, 0), (across, 0), (across, along), (0, along))
    if number % 3 == 2 and min(across, along) > 260 * CM:
        x, y = (
            across - chance.randrange(80, across // CM - 120) * CM,
            along - chance.randrange(80, along // CM - 120) * CM,
        )
        outline = ((0, 0), (across, 0), (across, y), (x, y), (x, along), (0, along))
    edges = tuple(Edge(wall=f"wall {index + 1}") for index in range(len(outline)))
    doors: tuple[Door, ...] = ()
    if chance.random() < 0.7:
        start = chance.randrange(10, across // CM - 100) * CM
        line = ((start, 0), (start + 90 * CM, 0))
        outline = (outline[0], *line, *outline[1:])
        edges = (edges[0], Edge(kind=EdgeKind.DOOR, wall="wall 1", door="door"), edges[0], *edges[1:])
        doors = (Door(id="door", opening=line, line=line),)
    return Room(
        id=f"room-{number + 1}",
        name=f"Room {number + 1}",
        material_id="goods",
        outline=outline,
        edges=edges,
        doors=doors,
        trim_nm=50 * MM,
    )


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
    jobs = [generated_job(size, pattern) for size in SIZES for pattern in PATTERNS]
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
