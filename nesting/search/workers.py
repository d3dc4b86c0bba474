"""Processes for the errands of a round, which can be told to stop."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing.synchronize import Event
from typing import Any

_worker: dict[str, Event] = {}
"""In a worker process, the event that tells it to stop; set once when the process starts."""


def _begin(event: Event) -> None:
    """Remember the event in a new worker process."""
    _worker["stop"] = event


def _told_to_stop() -> bool:
    """Tell whether this worker process has been told to stop."""
    return _worker["stop"].is_set()


def _run(errand: Callable[..., Any], *given: Any) -> Any:
    """Run an errand in a worker process; its last argument is how it learns that it must stop."""
    return errand(*given, _told_to_stop)


class Workers(ProcessPoolExecutor):
    """An executor whose running errands end soon after `stop_errands`; what they had found is handed over."""

    def __init__(self, count: int) -> None:
        context = multiprocessing.get_context("spawn")
        self._stop = context.Event()
        super().__init__(count, mp_context=context, initializer=_begin, initargs=(self._stop,))

    def submit(self, fn: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        """Run `fn(*given, stop)` in a worker process."""
        return super().submit(_run, fn, *given, **named)

    def stop_errands(self) -> None:
        """Tell all running errands to stop."""
        self._stop.set()
