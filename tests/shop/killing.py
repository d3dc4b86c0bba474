"""Kills a booking at every step, one after another, and looks at the rack after each: run as a program.

    python -m tests.shop.killing statements|files WHERE CASE

CASE is a file with a pickled `Case`. For n = 1, 2, … a child does what the case says and is killed (SIGKILL) at its
nth step: before and after every statement, before and after the commit, or, with `files`, at every call that changes a
file (`dying.c`, preloaded). Then the rack is opened again: it must audit clean and be as before, or as the case leaves
it. The first child that gets through ends it; how many were killed is printed. A program of its own has no threads, so
that it may fork.
"""

from __future__ import annotations

import ctypes
import os
import pickle
import shutil
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import event

from nesting.domain.plan import Plan
from nesting.errors import JobError
from nesting.shop import Rack, open_rack
from tests.shop.making import JOB, KEY, act, piece

MOST = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the child does. `start`: a file to begin every time from, instead of the rack as it is."""

    doing: str
    plan: Plan | None = None
    start: str = ""


def confirm(rack: Rack, case: Case) -> None:
    assert case.plan is not None
    rack.confirm_plan(case.plan, KEY, JOB, act())


def reserve(rack: Rack, case: Case) -> None:
    assert case.plan is not None
    rack.reserve_plan(case.plan, KEY, JOB, act())


def undo(rack: Rack, case: Case) -> None:
    rack.undo(rack.bookings()[-1].number, act())


def receive(rack: Rack, case: Case) -> None:
    rack.receive([piece(), piece(), piece()], act())


def opened(rack: Rack, case: Case) -> None:
    """Do nothing: the rack was opened, and with that made or migrated."""


DOINGS: dict[str, Callable[[Rack, Case], None]] = {
    "confirm": confirm, "reserve": reserve, "undo": undo, "receive": receive, "open": opened,
}  # fmt: skip


class Countdown:
    """Kills this process at its nth step."""

    def __init__(self, steps: int) -> None:
        self.left = steps

    def step(self, *_: object, **__: object) -> None:
        self.left -= 1
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)


def by_statements(where: str, case: Case, steps: int) -> None:
    countdown = Countdown(steps)
    with open_rack(where) as rack:
        for name in ("before_cursor_execute", "after_cursor_execute", "commit"):
            event.listen(rack.store.engine, name, countdown.step)
        DOINGS[case.doing](rack, case)
        countdown.step()


def by_files(where: str, case: Case, steps: int) -> None:
    arm = ctypes.CDLL(None).die_at
    if case.doing == "open":
        arm(ctypes.c_long(steps))
    with open_rack(where) as rack:
        if case.doing != "open":
            rack.bookings()  # its journal, if any, is rolled back before it counts
            arm(ctypes.c_long(steps))
        DOINGS[case.doing](rack, case)
    arm(ctypes.c_long(-1))


def killed(work: Callable[[], None]) -> bool:
    """Run `work` in a child; tell whether it was killed. Anything else that goes wrong there ends this program."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException as error:
            os.write(2, repr(error).encode())
            os._exit(1)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL:
        return True
    if status:
        raise SystemExit(f"the child failed: {status}")
    return False


def begin(where: str, case: Case) -> None:
    """Put the file back that every round begins with."""
    if not case.start:
        return
    for path in Path(where).parent.glob(f"{Path(where).name}*"):
        path.unlink()
    if case.start != "nothing":
        shutil.copy(case.start, where)


def state(where: str) -> str:
    """Return everything on the rack, which must audit clean."""
    with open_rack(where) as rack:
        found = rack.audit()
        if found:
            raise SystemExit(f"the audit found {found}")
        return rack.export_json()


def main(way: str, where: str, file: str) -> None:
    case: Case = pickle.loads(Path(file).read_bytes())
    run = {"statements": by_statements, "files": by_files}[way]
    begin(where, case)
    before = "" if case.start else state(where)
    after = ""
    for steps in range(1, MOST):
        begin(where, case)
        was_killed = killed(lambda steps=steps: run(where, case, steps))  # type: ignore[misc]
        now = state(where)
        if case.start:
            before = before or now  # opened again, it is always the same
            if now != before:
                raise SystemExit(f"step {steps}: it was opened as something else")
        elif now != before:
            after = after or now
            if now != after or not whole(where, case):
                raise SystemExit(f"step {steps}: the rack is neither as it was nor as it should be")
            if was_killed:  # it was done, and killed while it was cleaning up
                sys.stdout.write(f"{steps} killed, done before the last\n")
                return
        if not was_killed:
            if not case.start and now == before:
                raise SystemExit("it got through, and nothing was done")
            sys.stdout.write(f"{steps - 1} killed\n")
            return
    raise SystemExit("it never got through")


def whole(where: str, case: Case) -> bool:
    """Tell whether what the case does is done: doing it once more is refused, or would do it again from the start."""
    with open_rack(where) as rack:
        if case.doing == "confirm":
            try:
                confirm(rack, case)
            except JobError as error:
                return error.faults[0].code == "plan-confirmed"
            return False
        if case.doing == "undo":
            return rack.bookings()[-1].undone
        if case.doing == "reserve":
            return {item.reserved_by_plan for item in rack.pieces() if item.reserved_for} == {KEY}
        return len(rack.pieces()) == 3 + 1


if __name__ == "__main__":
    main(*sys.argv[1:])
