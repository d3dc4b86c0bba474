"""How long a job takes with a full rack: flats and houses of the suite with 0, 100 and 1,000 remnants in hand.

    python -m benchmarks.full_rack [--effort N]

Every row is one job: the seconds of processor time of the whole run, how many pieces in hand it cuts from, the roll
ordered, and the value of goods in hand that is used up.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from random import Random
from time import process_time

import click

from benchmarks.suite_jobs import suite_job
from nesting.domain.job import Job
from nesting.domain.material import Material, StockKind, StockPiece
from nesting.domain.rules import MM
from nesting.pipeline import Settings, plan_job

KINDS, PATTERNS, COUNTS = ("flat", "house"), ("plain", "straight"), (0, 100, 1_000)
PIECES_A_LOT = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One job with so many remnants. `roll_m2`: ordered; `value_m2`: of goods in hand used up."""

    name: str
    remnants: int
    seconds: float
    used: int
    roll_m2: float
    value_m2: float


def remnants(material: Material, count: int, seed: int) -> tuple[StockPiece, ...]:
    """Return random remnants of the goods, in lots of a few pieces each; the same seed, the same pieces."""
    chance = Random(seed)
    return tuple(
        StockPiece(
            id=f"rack-{number}",
            material_id=material.id,
            kind=StockKind.REMNANT,
            width_nm=chance.choice(material.widths_nm) - chance.choice((0, 0, 100, 400)) * MM,
            length_nm=chance.randrange(600, 6_000, 10) * MM,
            lot=f"lot {number // PIECES_A_LOT}",
        )
        for number in range(count)
    )


def with_rack(job: Job, count: int, seed: int) -> Job:
    """Return a job with so many remnants of its first material in hand, and nothing else."""
    return replace(job, stock=remnants(job.materials[0], count, seed))


def measured(job: Job, effort: int) -> Row:
    """Plan one job and return its row."""
    start = process_time()
    outcome = plan_job(job, Settings(effort=effort))
    seconds = process_time() - start
    assert outcome.plan is not None, outcome.refusals
    parts = outcome.plan.materials
    return Row(
        name=job.name,
        remnants=len(job.stock),
        seconds=seconds,
        used=sum(1 for part in parts for source in part.sources if source.stock_id),
        roll_m2=sum(part.measures.roll_nm2 for part in parts) / 10**18,
        value_m2=sum(part.measures.rack_nm2 or 0 for part in parts) / 10**18,
    )


@click.command()
@click.option("--effort", type=click.IntRange(0, 100), default=2, show_default=True, help="How hard to look.")
def main(effort: int) -> None:
    """Measure all jobs and print the table."""
    sys.stdout.write(f"{'job':<24}{'in hand':>9}{'seconds':>9}{'used':>6}{'roll m2':>10}{'value m2':>10}\n")
    for kind in KINDS:
        for pattern in PATTERNS:
            job = suite_job(kind, pattern)
            for count in COUNTS:
                row = measured(with_rack(job, count, seed=1), effort)
                sys.stdout.write(
                    f"{row.name:<24}{row.remnants:>9}{row.seconds:>9.2f}{row.used:>6}{row.roll_m2:>10.2f}"
                    f"{row.value_m2:>10.2f}\n"
                )
                sys.stdout.flush()


if __name__ == "__main__":
    main()
