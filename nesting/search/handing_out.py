"""Errands handed out: run here, in local processes or by any other executor, with the same outcomes.

Whoever runs errands elsewhere keeps the latest instances, made ready, at hand; they are sent once and then named by
their digest. Any `concurrent.futures.Executor` will do. One of our own `Workers` can be told to stop; with any other,
what runs when the search is stopped is dropped: errands are short, and what is best so far is known here.
"""

from __future__ import annotations

import hashlib
import pickle
import threading
from collections import OrderedDict
from collections.abc import Sequence
from concurrent.futures import Executor, Future, wait
from dataclasses import dataclass

from nesting.model.instance import Instance
from nesting.progress import Stop
from nesting.search.errands import Errand, Outcome
from nesting.search.improving import Found
from nesting.search.rounds import run_errand
from nesting.search.scheme import Ready, Scheme, make_ready
from nesting.search.workers import Workers, told_to_stop

MOST_READY = 3
"""Instances that a thread of a worker keeps at hand: about as many as materials are searched at a time."""
POLL_SECONDS = 0.05
MOST_POLLS = 20
"""So often workers are polled after they were told to stop, before what they still do is dropped."""


@dataclass(frozen=True, slots=True)
class Packed:
    """An instance as it is sent, and the digest it is known by."""

    digest: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Reply:
    """What comes back from elsewhere: an outcome, an error of the errand, or the wish to be sent the instance."""

    outcome: Outcome | None = None
    error: Exception | None = None


class _Desk(threading.local):
    """The instances that this thread has at hand; the latest used last."""

    def __init__(self) -> None:
        self.ready: OrderedDict[str, Ready] = OrderedDict()


_desk = _Desk()
"""Per thread, because an instance made ready keeps what it has worked out, and threads must not share that."""


def packed(instance: Instance) -> Packed:
    """Return the instance as it is sent."""
    data = pickle.dumps(instance, protocol=pickle.HIGHEST_PROTOCOL)
    return Packed(hashlib.sha256(data).hexdigest(), data)


def _at_hand(digest: str, data: bytes | None) -> Ready | None:
    """Return the instance made ready; None when it is neither at hand nor sent."""
    ready = _desk.ready.get(digest)
    if ready is None:
        if data is None:
            return None
        ready = make_ready(pickle.loads(data))
        while len(_desk.ready) >= MOST_READY:
            _desk.ready.popitem(last=False)
    _desk.ready[digest] = ready
    _desk.ready.move_to_end(digest)
    return ready


def run_elsewhere(digest: str, data: bytes | None, errand: Errand, best: Found | None, base: Scheme | None) -> Reply:
    """Run an errand on the instance with this digest; `data` is the instance if it is sent along."""
    try:
        ready = _at_hand(digest, data)
        if ready is None:
            return Reply()
        return Reply(outcome=run_errand(ready, errand, best, base, told_to_stop))
    except Exception as error:
        error.add_note(f"in an errand of kind {errand.kind.value}, seed {errand.seed}")
        return Reply(error=error)


class Hands:
    """Whoever runs the errands of one search. `lost`: why the executor is no longer used; "" while it is.

    An executor that fails (a worker died, a cluster is gone) is not used again: its errands are run here, and the
    search goes on. An error of an errand itself is raised.
    """

    def __init__(self, ready: Ready, executor: Executor | None) -> None:
        self.ready = ready
        self.executor = executor
        self.lost = ""
        self._packed: Packed | None = None
        self._known = False  # elsewhere: the instance was sent at least once

    def outcomes(
        self, errands: Sequence[Errand], best: Found | None, base: Scheme | None, stop: Stop
    ) -> list[tuple[Errand, Outcome]]:
        """Return the errands with their outcomes, in their order; those that `stop` kept from ending are left out."""
        executor = self.executor
        if executor is None or self.lost or (isinstance(executor, Workers) and not executor.at_hand()):
            return self._here(errands, best, base, stop)
        replies = self._elsewhere(executor, errands, best, base, stop)
        found = []
        for errand, outcome in zip(errands, replies, strict=True):
            if outcome is None and self.lost and not (found and stop()):
                outcome = run_errand(self.ready, errand, best, base, stop)
            if outcome is not None:
                found.append((errand, outcome))
        return found

    def _here(
        self, errands: Sequence[Errand], best: Found | None, base: Scheme | None, stop: Stop
    ) -> list[tuple[Errand, Outcome]]:
        """Run the errands one after another in this thread."""
        outcomes: list[tuple[Errand, Outcome]] = []
        for errand in errands:
            if outcomes and stop():
                break
            outcomes.append((errand, run_errand(self.ready, errand, best, base, stop)))
        return outcomes

    def _elsewhere(
        self, executor: Executor, errands: Sequence[Errand], best: Found | None, base: Scheme | None, stop: Stop
    ) -> list[Outcome | None]:
        """Run the errands in the executor; None for those that were stopped or lost."""
        outcomes: list[Outcome | None] = [None] * len(errands)
        left = list(range(len(errands)))
        known = self._known
        while left and not self.lost:
            futures = self._submitted(executor, [errands[number] for number in left], best, base, known)
            _wait_for(executor, futures, stop)
            unknown = []
            for number, future in zip(left, futures, strict=False):
                reply = self._reply(future, stop)
                if reply is None:
                    continue
                if reply.error is not None:
                    raise reply.error
                outcomes[number] = reply.outcome
                if reply.outcome is None:
                    unknown.append(number)
            left, known = ([] if stop() else unknown), False
        self._known = True
        return outcomes

    def _submitted(
        self, executor: Executor, errands: Sequence[Errand], best: Found | None, base: Scheme | None, known: bool
    ) -> list[Future[Reply]]:
        """Submit errands, the instance with them unless it is `known` there."""
        if self._packed is None:
            self._packed = packed(self.ready.instance)
        digest, data = self._packed.digest, None if known else self._packed.data
        try:
            return [executor.submit(run_elsewhere, digest, data, errand, best, base) for errand in errands]
        except Exception as error:
            self.lost = self.lost or f"{type(error).__name__}: {error}"
            return []

    def _reply(self, future: Future[Reply], stop: Stop) -> Reply | None:
        """Return what came back; None for what did not end, or was lost with its worker."""
        if not future.done() or (future.cancelled() and stop()):
            return None
        try:
            return future.result()
        except Exception as error:  # errors of the errand come as replies: this one is the executor's own
            self.lost = self.lost or f"{type(error).__name__}: {error}"
            return None


def _wait_for(executor: Executor, futures: Sequence[Future[Reply]], stop: Stop) -> None:
    """Wait until all futures are done; when stopped, until those that can be told to stop have ended."""
    waiting = set(futures)
    while waiting and not stop():
        _, waiting = wait(waiting, timeout=POLL_SECONDS)
    if not waiting:
        return
    waiting = {future for future in waiting if not future.cancel()}
    if isinstance(executor, Workers):
        # What the running errands have found by now is worth the moment that it takes them to end.
        executor.stop_errands()
        for _ in range(MOST_POLLS):
            if not waiting:
                break
            _, waiting = wait(waiting, timeout=POLL_SECONDS)
