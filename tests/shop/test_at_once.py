"""Several counters at one rack at the same time: every piece goes to exactly one."""

from __future__ import annotations

import json
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, text

from nesting.domain.plan import Plan
from nesting.domain.rack import PieceFilter, PieceState
from nesting.errors import JobError
from nesting.shop import Rack, open_rack
from nesting.shop.book import locked
from tests.making import M
from tests.shop.making import JOB, act, piece, planned_for, sound, with_pieces

ROOT = Path(__file__).parents[2]


def crowd(*arguments: str) -> list[tuple[list[str], dict[str, int]]]:
    command = [sys.executable, "-m", "tests.shop.crowd", *arguments]
    done = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return [(taken, refused) for taken, refused in map(json.loads, done.stdout.splitlines())]


@pytest.mark.parametrize("seconds", ["2", pytest.param("60", marks=pytest.mark.slow)])
def test_eight_processes_that_reserve_the_same_pieces_get_each_exactly_once(where: str, seconds: str) -> None:
    told = crowd("reserve", where, seconds, "8")
    with open_rack(where) as rack:
        held = {item.id: item.reserved_for for item in rack.pieces(PieceFilter(states=(PieceState.RESERVED,)))}
        taken = {label: f"job {number}" for number, (labels, _) in enumerate(told) for label in labels}
        assert held == taken
        assert sum(len(labels) for labels, _ in told) == len(taken) > 8
        assert {code for _, refused in told for code in refused} <= {"piece-not-free"}
        assert sound(rack)


@pytest.mark.parametrize("rounds", [1, pytest.param(8, marks=pytest.mark.slow)])
def test_one_plan_that_is_confirmed_at_once_is_confirmed_once(where: str, tmp_path: Path, rounds: int) -> None:
    with open_rack(where) as rack:
        orders = planned_for(rack)
        with_pieces(rack, piece("R-1", 2 * M, 2 * M))
        pieces = planned_for(rack)
        for number in range(rounds):
            for name, plan in (("orders", orders), ("pieces", pieces)):
                told = _confirmed(where, tmp_path, [(f"{name} {number}", plan)])
                assert [refused for done, refused in told if not done] == [{"plan-confirmed": 1}] * 3
                (booking,) = [item for item in rack.bookings() if not item.undone]
                assert sound(rack)
                rack.undo(booking.number, act())


def test_two_plans_that_are_confirmed_at_once_share_no_piece(where: str, tmp_path: Path) -> None:
    with open_rack(where) as rack:
        with_pieces(rack, piece("R-1", 2 * M, 2 * M))
        plan = planned_for(rack)
        told = _confirmed(where, tmp_path, [("mine", plan), ("yours", plan)])
        assert sum(len(done) for done, _ in told) == 1
        assert {code for _, refused in told for code in refused} <= {"piece-not-free", "plan-confirmed"}
        assert [entry.what for entry in rack.history("R-1")] == ["receive", "cut"]
        assert sound(rack)


def _confirmed(where: str, folder: Path, plans: list[tuple[str, Plan]]) -> list[tuple[list[str], dict[str, int]]]:
    file = folder / "plans"
    file.write_bytes(pickle.dumps(plans))
    told = crowd("confirm", where, str(file), "4")
    assert sum(len(done) for done, _ in told) == 1
    return told


# --- what is tried again ---------------------------------------------------------------------------------------------


def test_a_rack_that_others_hold_is_tried_as_often_as_is_said(where: str) -> None:
    paused: list[int] = []
    with open_rack(where, attempts=3, pause=paused.append) as rack, open_rack(where) as other:
        with_pieces(rack, piece("R-1"))
        with other.store.engine.execution_options(writing=True).begin() as tx:
            locked(tx, ["R-1"])
            with pytest.raises(JobError, match="the rack is in use by others"):
                rack.store.write(lambda mine: _impatient(mine, rack))
        assert paused == [0, 1]
        rack.move(["R-1"], "bay 2", act())
        assert sound(rack)


def _impatient(tx: Connection, rack: Rack) -> None:
    if not rack.store.is_sqlite:
        tx.execute(text("SET LOCAL lock_timeout = 50"))
    locked(tx, ["R-1"])


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """Let SQLite wait for a moment only where a test wants it to be busy."""
    if "tried_as_often" in request.node.name:
        monkeypatch.setattr("nesting.shop.store.BUSY_MS", 50)


def test_a_deadlock_is_tried_again(where: str) -> None:
    if "://" not in where:
        pytest.skip("SQLite has one writer")
    paused: list[int] = []
    with open_rack(where, pause=paused.append) as rack, open_rack(where) as other:
        with_pieces(rack, piece("R-1"), piece("R-2"))
        tries: list[int] = []

        def work(tx: Connection) -> str:
            tries.append(len(tries))
            if len(tries) == 1:
                _fail(tx, "40P01")
            return "done"

        assert rack.store.write(work) == "done"
        assert paused == [0]
        assert sound(other)


def _fail(tx: Connection, state: str) -> None:
    tx.execute(text(f"DO $$ BEGIN RAISE EXCEPTION 'planted' USING ERRCODE = '{state}'; END $$"))


@pytest.mark.parametrize(
    ("state", "code"),
    [
        ("40001", "rack-busy"),
        ("53100", "rack-full"),
        ("25006", "rack-read-only"),
        ("42501", "rack-no-access"),
        ("58030", "rack-disk"),
        ("57P01", "rack-lost"),
        ("XX000", "rack-failed"),
    ],
)
def test_what_a_server_answers_is_said_in_our_words(where: str, state: str, code: str) -> None:
    if "://" not in where:
        pytest.skip("SQLSTATEs are PostgreSQL's")
    with open_rack(where, attempts=2) as rack:
        with_pieces(rack, piece("R-1"))

        def work(tx: Connection) -> None:
            tx.execute(text("UPDATE rack_piece SET place = 'x'"))
            _fail(tx, state)

        with pytest.raises(JobError) as caught:
            rack.store.write(work)
        assert [fault.code for fault in caught.value.faults] == [code]
        assert rack.piece("R-1").place == ""


def test_a_server_that_goes_away_is_said_and_found_again(where: str) -> None:
    if "://" not in where:
        pytest.skip("a file does not go away")

    def leave(rack: Rack) -> Callable[[Connection], Any]:
        def work(tx: Connection) -> None:
            me = tx.execute(text("SELECT pg_backend_pid()")).scalar()
            with open_rack(where) as other, other.store.engine.begin() as link:
                link.execute(text("SELECT pg_terminate_backend(:me)"), {"me": me})
            tx.execute(text("UPDATE rack_piece SET place = 'x'"))

        return work

    with open_rack(where) as rack:
        with_pieces(rack, piece("R-1"))
        with pytest.raises(JobError, match="rack-lost"):
            rack.store.write(leave(rack))
        assert rack.piece("R-1").place == ""
        assert sound(rack)


def test_a_plan_made_from_a_rack_that_changed_since_takes_nothing(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 2 * M))
    plan = planned_for(rack)
    rack.correct([replace(rack.piece("R-1"), length_nm=1 * M)], act("torn"))
    before = rack.export_json()
    with pytest.raises(JobError, match="length changed"):
        rack.confirm_plan(plan, "key", JOB, act())
    assert rack.export_json() == before
