"""How quick the rack is: a rack of many pieces in a file, and in PostgreSQL where a URL of an empty database is given.

    python -m benchmarks.rack [--pieces N] [--seconds S] [--processes P] [--postgres URL] [--out FILE]

Every operation is timed a few times on the full rack, and the median stands in the table. At last so many processes
reserve pieces for so many seconds, every one for a job of its own; how many were reserved a second in all is the last
line. The table goes to the screen, and with `--out` to a Markdown file with commit, versions and the machine's cores.
"""

from __future__ import annotations

import os
import platform
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from random import Random

import click

from benchmarks.suite import head_of as suite_head
from nesting import __version__
from nesting.domain.job import Job, LoosePiece, Unit
from nesting.domain.material import Material, StockKind
from nesting.domain.plan import Plan
from nesting.domain.rack import Act, Order, PieceFilter, PieceState, RackPiece
from nesting.errors import JobError
from nesting.pipeline import Settings, plan_job
from nesting.shop import Rack, open_rack

CM = 10_000_000
MATERIALS = 40
PLANNED = "material-00"
"""The material of the plan that is confirmed: it has few pieces, so that planning is no part of what is measured."""
FEW = 3
LOTS = 25
PLACES = 500
TIMES = 7
"""So often an operation is timed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One operation: seconds, or how many a second."""

    name: str
    value: float
    unit: str = "ms"


def made_up(count: int, seed: int = 1) -> list[RackPiece]:
    """Return so many remnants and rolls of our own invention, without labels."""
    chance = Random(seed)
    pieces = []
    for number in range(count):
        material = PLANNED if number < FEW else f"material-{chance.randint(1, MATERIALS - 1):02d}"
        pieces.append(
            RackPiece(
                id="",
                material_id=material,
                kind=StockKind.REMNANT,
                width_nm=200 * CM if number < FEW else chance.randint(6, 40) * 10 * CM,
                length_nm=chance.randint(6, 90) * 10 * CM,
                lot=f"lot {chance.randrange(LOTS)}",
                place=f"bay {chance.randrange(PLACES)}",
                cost=chance.randrange(20_000),
                currency="EUR",
                supplier="Weaver & Daughter",
            )
        )
    return pieces


def act() -> Act:
    """Return an act of the measuring, now."""
    return Act(who="measuring", why="measuring", now=datetime.now(UTC))


def timed(work: Callable[[int], object], times: int = TIMES) -> float:
    """Return the median of the seconds that `work` takes; it is told which time it is."""
    spent = []
    for number in range(times):
        start = time.perf_counter()
        work(number)
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def plan_from(rack: Rack) -> Plan:
    """Return a plan of one loose piece that is cut from what the rack has."""
    material = Material(id=PLANNED, name="Measured", widths_nm=(200 * CM,))
    loose = LoosePiece(id="mat", name="Mat", material_id=PLANNED, width_nm=100 * CM, length_nm=50 * CM)
    stock = rack.stock_pieces([material])
    job = Job(
        name="Measured", unit=Unit.CM, materials=(material,), rooms=(), loose=(loose,), stock=stock, currency="EUR"
    )
    outcome = plan_job(job, Settings(effort=0))
    assert outcome.plan is not None, outcome.refusals
    return outcome.plan


def measured(where: str, count: int, seconds: float, processes: int) -> list[Row]:
    """Return the rows of one empty store, filled with so many pieces."""
    with open_rack(where) as rack:
        start = time.perf_counter()
        labels = rack.receive(made_up(count), act())
        rows = [Row(name=f"receive {count} pieces at once", value=time.perf_counter() - start, unit="s")]
        single = made_up(FEW + TIMES)[FEW:]
        rows += [
            Row(name=name, value=value * 1000)
            for name, value in (
                ("receive one piece", timed(lambda n: rack.receive([single[n]], act()))),
                *_lists(rack, labels),
                *_reservations(rack, labels),
                *_plans(rack),
            )
        ]
        rows.append(Row(name="audit of the whole rack", value=timed(lambda _: rack.audit(), 1), unit="s"))
        rows.append(Row(name="export of the whole rack", value=timed(lambda _: rack.export_json(), 1), unit="s"))
    per_second = crowd(where, len(labels), seconds, processes)
    return [*rows, Row(name=f"reservations with {processes} processes", value=per_second, unit="a second")]


def _lists(rack: Rack, labels: Sequence[str]) -> list[tuple[str, float]]:
    asked = {
        "list a lot of a material": PieceFilter(material_id="material-07", lot="lot 3"),
        "list the 50 longest pieces at least 3 m wide": PieceFilter(
            least_width_nm=300 * CM, order=Order.LENGTH, limit=50
        ),
        "list a place": PieceFilter(place="bay 42"),
        "list by a text": PieceFilter(text="bay 77 lot 3"),
    }
    material = Material(id="material-07", name="Offered", widths_nm=(400 * CM,))
    return [
        ("one piece", timed(lambda n: rack.piece(labels[n]))),
        *((name, timed(partial(_listed, rack, wanted))) for name, wanted in asked.items()),
        (
            f"offer a material to a plan ({len(labels) // MATERIALS} pieces)",
            timed(lambda _: rack.stock_pieces([material])),
        ),
    ]


def _listed(rack: Rack, wanted: PieceFilter, number: int) -> None:
    rack.pieces(wanted)


def _reservations(rack: Rack, labels: Sequence[str]) -> list[tuple[str, float]]:
    few = [labels[FEW + n :: len(labels) // 12 + 1] for n in range(TIMES)]
    return [
        ("reserve one piece", timed(lambda n: rack.reserve([labels[FEW + n]], "one", act()))),
        ("release one piece", timed(lambda n: rack.release([labels[FEW + n]], act()))),
        ("reserve about ten pieces", timed(lambda n: rack.reserve(few[n], f"job {n}", act()))),
        ("count a place and book it", timed(lambda n: rack.book_count(f"bay {n}", _there(rack, n), act()))),
    ]


def _there(rack: Rack, number: int) -> list[str]:
    return [piece.id for piece in rack.pieces(PieceFilter(place=f"bay {number}"))]


def _plans(rack: Rack) -> list[tuple[str, float]]:
    plan = plan_from(rack)
    bookings: list[int] = []

    def confirm(number: int) -> None:
        if bookings:
            rack.undo(bookings[-1], act())
        bookings.append(rack.confirm_plan(plan, f"plan {number}", "measured", act()).number)

    reserving = timed(lambda n: rack.reserve_plan(plan, f"reserved {n}", "measured", act()))
    rack.release_job("measured", act())
    first = timed(confirm, 1)
    undoing_too = timed(lambda n: confirm(n + 1))
    return [
        ("reserve for a plan", reserving),
        ("confirm a plan", first),
        ("undo a booking and confirm again", undoing_too),
    ]


def _reserving(where: str, number: int, pieces: int, start: float, seconds: float) -> int:
    """Reserve pieces for so many seconds, and return how many; runs in a process of its own."""
    chance, done = Random(number), 0
    with open_rack(where) as rack:
        time.sleep(max(0.0, start - time.time()))
        while time.time() < start + seconds:
            try:
                rack.reserve([f"S-{chance.randint(1, pieces):06d}"], f"process {number}", act())
                done += 1
            except JobError as error:
                if error.faults[0].code != "piece-not-free":
                    raise
    return done


def crowd(where: str, pieces: int, seconds: float, processes: int) -> float:
    """Return how many pieces so many processes reserve a second, all together, and see that they are reserved."""
    with open_rack(where) as rack:
        before = len(rack.pieces(PieceFilter(states=(PieceState.RESERVED,))))
    start = time.time() + 2 + processes  # time enough for all of them to be there
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(_reserving, where, number, pieces, start, seconds) for number in range(processes)]
        done = sum(item.result() for item in waiting)
    with open_rack(where) as rack:
        assert len(rack.pieces(PieceFilter(states=(PieceState.RESERVED,)))) <= before + done
        assert not rack.audit(), "the rack is not sound after the rush"
    return done / seconds


def table(columns: dict[str, list[Row]]) -> str:
    """Return the rows of every store side by side, as Markdown."""
    lines = [f"| operation | {' | '.join(columns)} |", "| --- |" + " ---: |" * len(columns)]
    for rows in zip(*columns.values(), strict=True):
        cells = [f"{row.value:.3g} {row.unit}" if row.value < 100 else f"{row.value:.0f} {row.unit}" for row in rows]
        lines.append(f"| {rows[0].name} | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def head_of(pieces: int, seconds: float) -> str:
    """Return what a reader must know to run it again."""
    packages = [f"{name} {version(name)}" for name in ("sqlalchemy", "psycopg")]
    return (
        "# The rack\n\n"
        f"- commit: {suite_head(0, None, 0)['commit']}\n"
        f"- versions: rollwright {__version__}, python {platform.python_version()}, {', '.join(packages)}\n"
        f"- cores: {os.cpu_count()}\n"
        f"- pieces: {pieces}; the rush lasts {seconds:g} s\n\n"
        f"Median of {TIMES} times each. Both stores are on one disk, every commit written through.\n\n"
    )


@click.command()
@click.option("--pieces", type=click.IntRange(1_000), default=100_000, show_default=True)
@click.option("--seconds", type=click.FloatRange(0.1), default=10.0, show_default=True, help="Length of the rush.")
@click.option("--processes", type=click.IntRange(1, 64), default=8, show_default=True)
@click.option("--postgres", help="URL of an empty database; without it only the file is measured.")
@click.option("--out", type=click.Path(path_type=Path), help="Markdown file.")
def main(pieces: int, seconds: float, processes: int, postgres: str | None, out: Path | None) -> None:
    """Measure the rack."""
    columns: dict[str, list[Row]] = {}
    with tempfile.TemporaryDirectory() as folder:
        columns["SQLite"] = measured(str(Path(folder) / "rack.db"), pieces, seconds, processes)
    if postgres is not None:
        columns["PostgreSQL"] = measured(postgres, pieces, seconds, processes)
    told = table(columns)
    click.echo(told)
    if out is not None:
        out.write_text(head_of(pieces, seconds) + told, encoding="utf-8")


if __name__ == "__main__":
    main()
