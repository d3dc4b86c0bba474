"""Whoever runs the errands, and whatever becomes of them: the same solution; errors of errands come to light."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from typing import Any

import pytest

import nesting.search.handing_out as handing_out
from nesting.model.instance import Lattice
from nesting.progress import Stop, never_stop
from nesting.search.engine import EngineResult, solve
from nesting.search.errands import Errand, Kind, Outcome
from nesting.search.handing_out import Hands, run_elsewhere
from nesting.search.scheme import make_ready
from nesting.search.side_by_side import side_by_side
from nesting.search.starting import starting_schemes
from nesting.search.workers import Workers
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect

INSTANCE = instance(
    [one_way(f"c{n}", rect("p", 3 + n * n % 7, 5 + n * 5 % 11, group=n, offset=(n, 3 * n))) for n in range(8)],
    [order(11, 500), hand("h", 7, 12)],
    Lattice(along=7, across=3, drop=2),
    LEAST_ROLL,
)
READY = make_ready(INSTANCE)
BASE = next(starting_schemes(READY))
ROUNDS = [[Errand(kind=Kind.IMPROVE, seed=10 * n + k, effort=2) for k in range(3)] for n in range(3)]


Outcomes = list[tuple[Errand, Outcome]]


def _rounds(executor: Executor | None, stop: Stop = never_stop) -> Outcomes:
    """Return all errands with their outcomes."""
    hands = Hands(READY, executor)
    return [item for errands in ROUNDS for item in hands.outcomes(errands, None, BASE, stop)]


def _solved(executor: Executor | None, stop: Stop = never_stop) -> EngineResult:
    return solve(INSTANCE, seed=3, effort=2, executor=executor, stop=stop)


@pytest.fixture(scope="module")
def alone() -> Outcomes:
    """Return what this process finds by itself."""
    return _rounds(None)


class Doing(Executor):
    """Runs everything at once in this thread, keeps what it was given, and may do something before."""

    def __init__(self, before: Callable[[int], None] = lambda number: None) -> None:
        self.given: list[tuple[Any, ...]] = []
        self.before = before

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.given.append(args)
        self.before(len(self.given))
        future.set_result(fn(*args, **kwargs))
        return future


def test_the_instance_is_sent_in_the_first_round_only(alone: Outcomes) -> None:
    doing = Doing()
    assert _rounds(doing) == alone
    assert [data is not None for _, data, *_ in doing.given] == [True] * 3 + [False] * 6
    assert len({digest for digest, *_ in doing.given}) == 1


def test_who_does_not_have_the_instance_is_sent_it_again(alone: Outcomes) -> None:
    def forget(number: int) -> None:
        handing_out._desk.ready.clear()

    doing = Doing(forget)
    assert _rounds(doing) == alone
    assert [data is not None for _, data, *_ in doing.given] == [True] * 3 + ([False] * 3 + [True] * 3) * 2


def test_few_instances_are_kept_at_hand() -> None:
    for width in range(8, 8 + 3 * handing_out.MOST_READY):
        sent = handing_out.packed(instance([one_way("a", rect("p", 2, 3))], [order(width, 20)]))
        run_elsewhere(sent.digest, sent.data, ROUNDS[0][0], None, None)
        assert sent.digest in handing_out._desk.ready
        assert len(handing_out._desk.ready) <= handing_out.MOST_READY


@pytest.mark.parametrize("threads", [1, 3])
def test_threads_change_nothing(alone: Outcomes, threads: int) -> None:
    with ThreadPoolExecutor(threads) as executor:
        assert _rounds(executor) == alone
        assert _solved(executor) == _solved(None)


def test_an_error_of_an_errand_comes_to_light(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> Outcome:
        raise ZeroDivisionError("an errand went wrong")

    monkeypatch.setattr(handing_out, "run_errand", fails)
    with ThreadPoolExecutor(2) as executor, pytest.raises(ZeroDivisionError, match="went wrong") as caught:
        _solved(executor)
    assert "in an errand of kind" in caught.value.__notes__[0]


class Breaking(Doing):
    """Breaks down, in one way or another, at the given submission."""

    def __init__(self, at: int, way: str) -> None:
        super().__init__()
        self.at, self.way = at, way

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future = super().submit(fn, *args, **kwargs)
        if len(self.given) < self.at:
            return future
        if self.way == "raises":
            raise BrokenExecutor("all workers are gone")
        broken: Future[Any] = Future()
        if self.way == "fails":
            broken.set_exception(BrokenExecutor("this worker is gone"))
        else:
            broken.cancel()
            broken.set_running_or_notify_cancel()
        return broken


@pytest.mark.parametrize("way", ["raises", "fails", "cancels"])
@pytest.mark.parametrize("at", [1, 5])
def test_when_the_executor_breaks_down_the_search_goes_on_here(alone: Outcomes, way: str, at: int) -> None:
    breaking = Breaking(at, way)
    assert _rounds(breaking) == alone
    assert len(breaking.given) <= (at if way == "raises" else 6), "it was used on"


def test_what_an_executor_never_ends_is_dropped_when_stopped() -> None:
    class Sleeping(Executor):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_running_or_notify_cancel()
            return future

    asked = iter(range(10**6))
    result = _solved(Sleeping(), stop=lambda: next(asked) > 40)
    assert result.stop == "stopped" and result.solution is not None


@pytest.fixture
def workers() -> Iterator[Workers]:
    """Return two processes that have begun."""
    with Workers(2) as executor:
        _await(executor.at_hand)
        yield executor


def _await(happens: Callable[[], bool], seconds: float = 60) -> None:
    for _ in range(round(seconds * 20)):
        if happens():
            return
        time.sleep(0.05)
    raise AssertionError("it did not happen")


def test_processes_change_nothing_stop_when_told_and_may_die(workers: Workers, alone: Outcomes) -> None:
    processes = list(workers._processes.values())
    assert _rounds(workers) == alone
    assert _solved(workers) == _solved(None)
    os.kill(processes[0].pid, signal.SIGKILL)
    assert _rounds(workers) == alone
    _await(lambda: not any(process.is_alive() for process in processes))


def test_processes_hand_over_what_they_have_when_told_to_stop(workers: Workers) -> None:
    asked = iter(range(10**6))
    endless = Errand(kind=Kind.IMPROVE, seed=1, effort=10**9)
    hands = Hands(READY, workers)
    ((_, outcome),) = hands.outcomes([endless], None, BASE, lambda: next(asked) > 10)
    assert outcome.found is not None and hands.lost == ""


def test_processes_are_not_started_before_they_are_worth_it(alone: Outcomes) -> None:
    with Workers(2, worth=lambda: False) as executor:
        assert _rounds(executor) == alone
        assert not executor._processes


def test_processes_are_gone_at_once_when_they_are_no_longer_needed() -> None:
    with Workers(2) as executor:
        executor.at_hand()  # they have hardly begun
        processes = list(executor._processes.values())
    assert processes
    _await(lambda: not any(process.is_alive() for process in processes), seconds=10)


# --- parts side by side ----------------------------------------------------------------------------------------------


def test_parts_come_back_in_their_order_however_few_workers_there_are(alone: Outcomes) -> None:
    def work(part: int, stop: Stop) -> tuple[int, Outcomes]:
        return part, _rounds(executor, stop)

    with ThreadPoolExecutor(1) as executor:
        assert side_by_side(work, range(6), executor, never_stop) == [(part, alone) for part in range(6)]


def test_when_one_part_fails_the_others_are_stopped() -> None:
    stopped = threading.Event()

    def work(part: int, stop: Stop) -> None:
        if part == 1:
            raise ZeroDivisionError("this part went wrong")
        _await(stop)
        stopped.set()

    with ThreadPoolExecutor(1) as executor, pytest.raises(ZeroDivisionError):
        side_by_side(work, range(3), executor, never_stop)
    assert stopped.wait(10)


def test_parts_hear_of_a_stop_from_outside() -> None:
    def work(part: int, stop: Stop) -> bool:
        return stop()

    for executor in (None, Doing()):
        assert side_by_side(work, range(3), executor, lambda: True) == [True] * 3
        assert side_by_side(work, range(3), executor, never_stop) == [False] * 3
