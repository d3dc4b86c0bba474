"""The suite, run: times, memory, plans, bounds and gaps of generated jobs, and baselines beside them.

    python -m benchmarks.suite [--kinds flat,house] [--patterns plain] [--seconds S] [--workers N] [--seed K]
                               [--baselines] [--keep-best] [--out FILE]

Every job is measured in a process of its own, twice: once for the first checked plan, once with the limit. The results
go to FILE (JSON) and beside it as Markdown, with the commit, the versions, the seed, the limit and the machine's cores
in the head. `--baselines` adds the hand method, each room optimal by itself and the plain joint model. `--keep-best`
stores the plans of the small kinds that are better than those stored.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path
from typing import Any

import click

from benchmarks.baselines import METHODS
from benchmarks.suite_best import BEST_KINDS, FOLDER, SEED, keep
from benchmarks.suite_jobs import PATTERNS, chosen, job_names
from benchmarks.suite_kinds import KINDS
from benchmarks.suite_run import FIRST, OURS, Question
from benchmarks.suite_table import RESULTS, markdown
from nesting import __version__

ROOT = Path(__file__).parents[1]
SECONDS = {"cottage": 10.0, "flat": 10.0, "house": 10.0, "clinic": 30.0, "school": 30.0, "hotel": 60.0, "tower": 60.0}
"""The limit of every kind, unless one is given for all."""
PATIENCE = 20.0
"""A process that takes so many times its limit is given up."""


def measured(question: Question) -> dict[str, Any]:
    """Return one row, worked out in a process of its own."""
    limit = PATIENCE * max(question.seconds, 30.0)
    row: dict[str, Any] = {**asdict(question), "seconds_limit": question.seconds, "seconds": None, "peak_mib": None}
    try:
        done = subprocess.run(
            [sys.executable, "-m", "benchmarks.suite_run"],
            input=json.dumps(asdict(question)),
            capture_output=True,
            check=False,
            text=True,
            cwd=ROOT,
            timeout=limit,
        )
    except subprocess.TimeoutExpired:
        return row | {"said": f"given up after {limit:.0f} s"}
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        return row | {"said": f"failed: {last[:200]}"}
    found: dict[str, Any] = json.loads(done.stdout)
    return row | found


def head_of(seed: int, seconds: float | None, workers: int) -> dict[str, Any]:
    """Return what a reader must know to run it again."""
    packages = [f"{name} {version(name)}" for name in ("ortools", "numpy", "numba")]
    return {
        "commit": _commit(),
        "versions": ", ".join([f"rollwright {__version__}", f"python {platform.python_version()}", *packages]),
        "seed": seed,
        "limit": f"{seconds:g} s" if seconds else ", ".join(f"{kind} {limit:g} s" for kind, limit in SECONDS.items()),
        "workers": workers,
        "cores": os.cpu_count(),
    }


def _commit() -> str:
    def git(*words: str) -> str:
        return subprocess.run(["git", *words], capture_output=True, check=False, text=True, cwd=ROOT).stdout.strip()

    changed = " with changes" if git("status", "--porcelain", "--untracked-files=no") else ""
    return (git("rev-parse", "--short", "HEAD") or "unknown") + changed


@click.command()
@click.option("--kinds", default="", help="Only these kinds, separated by commas.")
@click.option("--patterns", default="", help="Only these patterns, separated by commas.")
@click.option("--seconds", type=click.FloatRange(1), help="Limit of every job (default: by its kind).")
@click.option("--workers", type=click.IntRange(1, 64), default=2, show_default=True)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Seed of the jobs.")
@click.option("--search-seed", type=click.IntRange(0), default=0, show_default=True, help="Seed of the search.")
@click.option("--baselines", is_flag=True, help="The baselines too.")
@click.option("--keep-best", is_flag=True, help="Store the plans that are better than those stored.")
@click.option("--out", type=click.Path(path_type=Path), default=RESULTS, help="JSON file; Markdown beside it.")
def main(
    kinds: str,
    patterns: str,
    seconds: float | None,
    workers: int,
    seed: int,
    search_seed: int,
    baselines: bool,
    keep_best: bool,
    out: Path,
) -> None:
    """Run the suite."""
    names = job_names(chosen(kinds, tuple(KINDS), "kind"), chosen(patterns, PATTERNS, "pattern"))
    head = head_of(seed, seconds, workers)
    rows: list[dict[str, Any]] = []
    for kind, pattern in names:
        for method in (FIRST, OURS, *(METHODS if baselines else ())):
            question = Question(
                kind=kind,
                pattern=pattern,
                seed=seed,
                method=method,
                seconds=seconds or SECONDS[kind],
                workers=workers,
                search_seed=search_seed,
                keep_plan=keep_best and method == OURS and kind in BEST_KINDS and seed == SEED,
            )
            row = measured(question)
            text = row.pop("plan", None)
            if text is not None and keep(f"{kind}-{pattern}", text, FOLDER):
                click.echo(f"{kind}-{pattern}: stored", err=True)
            rows.append({key: value for key, value in row.items() if key != "keep_plan"})
            click.echo(json.dumps(rows[-1]))
            _write(out, head, rows)  # so that a run that is broken off leaves what it has


def _write(out: Path, head: dict[str, Any], rows: list[dict[str, Any]]) -> None:
    data = json.dumps({"head": head, "rows": rows}, indent=1) + "\n"
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(data, encoding="utf-8")
    out.with_suffix(".md").write_text(markdown(head, rows), encoding="utf-8")


if __name__ == "__main__":
    main()
