"""Killed at any step of a booking, a rack is as it was or as it should be: nothing lost, nothing sold twice."""

from __future__ import annotations

import os
import pickle
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from nesting.domain.plan import Plan
from nesting.domain.rack import PieceState
from nesting.shop import Rack, open_rack
from nesting.shop.migrating import bring_up_to_date
from nesting.shop.store import Store, sqlite_engine
from tests.making import M, rectangle, room
from tests.shop.killing import Case
from tests.shop.making import JOB, KEY, act, job_for, piece, plan_of, planned_for, sound, with_pieces

ROOT = Path(__file__).parents[2]


def killed_everywhere(way: str, where: str, case: Case, folder: Path, preload: Path | None = None) -> int:
    """Return how many children were killed before one got through."""
    file = folder / "case"
    file.write_bytes(pickle.dumps(case))
    environment = os.environ | ({"LD_PRELOAD": str(preload)} if preload is not None else {})
    command = [sys.executable, "-m", "tests.shop.killing", way, where, str(file)]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return int(done.stdout.split()[0])


def prepared(rack: Rack, doing: str) -> Plan | None:
    """Put on the rack what a case needs, and return its plan."""
    with_pieces(rack, piece("R-1", 2 * M, 2 * M))
    if doing == "receive":
        return None
    rooms = tuple(room(rectangle(2 * M, 2 * M), name) for name in ("a", "b", "c"))
    plan = plan_of(replace(job_for(rack), rooms=rooms))
    assert plan.materials[0].order
    if doing != "reserve":
        rack.reserve_plan(plan, KEY, JOB, act())
    if doing == "undo":
        rack.confirm_plan(plan, KEY, JOB, act())
    return plan


@pytest.mark.parametrize(
    "doing", ["confirm", *(pytest.param(name, marks=pytest.mark.slow) for name in ("undo", "reserve"))]
)
def test_killed_at_every_statement(where: str, tmp_path: Path, doing: str) -> None:
    with open_rack(where) as rack:
        plan = prepared(rack, doing)
    count = killed_everywhere("statements", where, Case(doing=doing, plan=plan), tmp_path)
    assert count > 15


@pytest.fixture(scope="session")
def preload(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The library that kills at the nth call that changes a file."""
    compiler = shutil.which("cc")
    if compiler is None:
        pytest.skip("no C compiler to make the library with that kills at file calls")
    made = tmp_path_factory.mktemp("preload") / "dying.so"
    source = Path(__file__).with_name("dying.c")
    subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", made, source, "-ldl"], check=True)
    return made


@pytest.mark.parametrize(
    "doing", ["confirm", *(pytest.param(name, marks=pytest.mark.slow) for name in ("undo", "reserve", "receive"))]
)
def test_killed_at_every_call_that_changes_the_file(tmp_path: Path, preload: Path, doing: str) -> None:
    path = tmp_path / "rack.db"
    with open_rack(path) as rack:
        plan = prepared(rack, doing)
    count = killed_everywhere("files", str(path), Case(doing=doing, plan=plan), tmp_path, preload)
    assert count > 10


@pytest.mark.slow
@pytest.mark.parametrize("start", ["nothing", "old"])
def test_killed_while_it_is_made_or_migrated(tmp_path: Path, preload: Path, start: str) -> None:
    (tmp_path / "shop").mkdir()
    if start == "old":
        start = str(tmp_path / "old.db")
        store = Store(engine=sqlite_engine(Path(start)), where="old")
        store.write(lambda tx: bring_up_to_date(tx, "old", to=1))
        store.engine.dispose()
    case = Case(doing="open", start=start)
    assert killed_everywhere("files", str(tmp_path / "shop" / "rack.db"), case, tmp_path, preload) > 10


ENDLESS = """
import itertools, sys
from nesting.shop import open_rack
from tests.shop.making import JOB, act, planned_for
with open_rack(sys.argv[1]) as rack:
    plan = planned_for(rack)
    print("ready", flush=True)
    for number in itertools.count():
        booking = rack.confirm_plan(plan, f"{sys.argv[2]}-{number}", JOB, act())
        rack.undo(booking.number, act())
"""


@pytest.mark.slow
@pytest.mark.parametrize("times", [40])
def test_killed_at_any_moment_many_times_over(where: str, times: int) -> None:
    chance = random.Random(times)
    with open_rack(where) as rack:
        with_pieces(rack, piece("R-1", 2 * M, 5 * M))
        planned_for(rack)
    done = 0
    for number in range(times):
        command = [sys.executable, "-c", ENDLESS, where, str(number)]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as running:
            assert running.stdout is not None
            assert running.stdout.readline() == b"ready\n"
            time.sleep(chance.uniform(0.02, 0.3))
            running.send_signal(signal.SIGKILL)
        with open_rack(where) as rack:
            assert sound(rack)
            booked = rack.bookings()
            assert len(booked) >= done
            done = len(booked)
            open_ones = [item for item in booked if not item.undone]
            cut = rack.piece("R-1").state is PieceState.CUT
            assert len(open_ones) == int(cut)
            if open_ones:
                rack.undo(open_ones[0].number, act())
            assert [item.id for item in rack.pieces()] == ["R-1"]
    assert done
