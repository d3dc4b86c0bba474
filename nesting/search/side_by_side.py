"""Independent parts of a job side by side: each in a thread of its own that hands its errands to one executor.

Threads never wait for one another and errands hand out nothing themselves, so that nothing can come to a standstill,
however few workers there are. What a part finds does not depend on the others.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, Executor, ThreadPoolExecutor, wait
from typing import TypeVar

from nesting.progress import Portion, Stop

Part = TypeVar("Part")
Result = TypeVar("Result")

MOST_AT_A_TIME = 4
"""Parts worked at together; each has its candidates and its instance in memory."""
POLL_SECONDS = 0.1


def side_by_side(
    work: Callable[[Part, Stop], Result], parts: Sequence[Part], executor: Executor | None, stop: Stop
) -> list[Result]:
    """Return `work(part, stop)` for all parts, in their order; one after another unless there is an executor.

    One after another they share the time that is allowed; what one leaves is the others'.

    Raises
    ------
    Exception
        What the work on the first part that failed raised; the work on the others is stopped then.
    """
    if executor is None or len(parts) < 2:
        return [work(part, _portion(stop, len(parts) - done)) for done, part in enumerate(parts)]
    failed = threading.Event()

    def over() -> bool:
        return failed.is_set() or stop()

    threads = ThreadPoolExecutor(min(len(parts), MOST_AT_A_TIME), thread_name_prefix="part")
    try:
        futures = [threads.submit(work, part, over) for part in parts]
        waiting = set(futures)
        while waiting:  # in short turns, so that a second Ctrl-C gets through
            done, waiting = wait(waiting, timeout=POLL_SECONDS, return_when=FIRST_EXCEPTION)
            if any(future.exception() is not None for future in done):
                break
        raised = [error for future in futures if future.done() and (error := future.exception()) is not None]
        if raised:
            raise raised[0]
        return [future.result() for future in futures]
    finally:
        failed.set()
        threads.shutdown(wait=False, cancel_futures=True)


def _portion(stop: Stop, left: int) -> Stop:
    """Return when to stop the next of so many parts."""
    return stop.next_of(left) if isinstance(stop, Portion) else stop
