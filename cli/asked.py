"""What the user asks of the commands that plan, and who does the work; nothing heavy is imported here."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from cli.running import ctrl_c_held

PATIENCE_SECONDS = 2.0
"""Processes are started for searches that take longer than this: about what their start takes of a processor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """The options of every command that searches."""

    out: Path | None
    effort: int
    seed: int
    seconds: float | None
    workers: int | None
    scheduler: str | None
    as_json: bool
    quiet: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Search):
    """The arguments and options of `plan`."""

    job: Path
    earlier: Path | None
    gain: int
    pins: tuple[str, ...]
    rack: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedFront(Search):
    """The arguments and options of `trade-off`; `seams`: only the plan with at most so many is kept."""

    job: Path
    seams: int | None


def cores() -> int:
    """Return how many processors this program may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def hands(workers: int | None, scheduler: str | None) -> Iterator[Executor | None]:
    """Yield who runs the errands of the search: a cluster, local processes, or nobody but this process."""
    if scheduler is not None:
        from nesting.search.cluster import cluster_executor

        with cluster_executor(scheduler) as executor:
            yield executor
        return
    count = workers or cores()
    if count < 2:
        yield None
        return
    from nesting.search.workers import Workers

    began = time.monotonic()

    def worth() -> bool:
        return time.monotonic() - began >= PATIENCE_SECONDS

    with Workers(count, worth=worth, starting=ctrl_c_held) as executor:
        yield executor
