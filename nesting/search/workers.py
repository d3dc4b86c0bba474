"""Processes on this machine for the errands of a round, which can be told to stop."""

from __future__ import annotations

import multiprocessing
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from importlib import import_module
from multiprocessing.synchronize import Event
from types import TracebackType
from typing import Any

_worker: dict[str, Event] = {}
"""In a worker process, the event that tells it to stop; set once when the process starts."""


def _begin(stop: Event, begun: Any) -> None:
    """Make a new worker process ready: it knows how it is told to stop, and has imported what errands need."""
    _worker["stop"] = stop
    threading.Thread(target=_end_with_parent, daemon=True).start()
    import_module("nesting.search.rounds")
    with begun.get_lock():
        begun.value += 1


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however that ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        signal.raise_signal(signal.SIGTERM)


def _nothing() -> None:
    """Do nothing; the first piece of work given to a process makes it start."""


def told_to_stop() -> bool:
    """Tell whether this process is a worker that has been told to stop."""
    stop = _worker.get("stop")
    return stop is not None and stop.is_set()


def _always() -> bool:
    return True


class Workers(ProcessPoolExecutor):
    """An executor of local processes whose running errands end soon after `stop_errands`.

    Nothing is started before `at_hand` is asked and `worth` says that processes are worth their start (about a second
    each); until they have begun, errands are run by whoever asks. What the running errands have found when they are
    told to stop is handed over. Once told to stop, workers stay stopped.

    Parameters
    ----------
    count
        How many processes.
    worth
        Whether it is worth starting them now; asked until it says so.
    starting
        Entered while the processes are started, for what they are to inherit (held signals).
    """

    def __init__(
        self,
        count: int,
        *,
        worth: Callable[[], bool] = _always,
        starting: Callable[[], AbstractContextManager[object]] = nullcontext,
    ) -> None:
        context = multiprocessing.get_context("spawn")
        self.count = count
        self._worth, self._starting = worth, starting
        self._stop = context.Event()
        self._begun = context.Value("i", 0)
        self._first: list[Future[None]] = []
        super().__init__(count, mp_context=context, initializer=_begin, initargs=(self._stop, self._begun))

    def at_hand(self) -> bool:
        """Tell whether all processes have begun, and start them if that is worth it by now."""
        if not self._first and self._worth():
            with self._starting():
                self._first = [self.submit(_nothing) for _ in range(self.count)]
        return bool(self._first) and self._begun.value >= self.count

    def stop_errands(self) -> None:
        """Tell all running errands to stop."""
        self._stop.set()

    def end(self) -> None:
        """End all processes at once, whatever they are doing."""
        self._stop.set()
        processes = list((self._processes or {}).values())
        self.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End all processes: nobody waits for what they are doing."""
        self.end()
