"""Stopping: by hand, by time, twice by hand; workers never outlive the program; the options that go with it."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from nesting.checker import check_plan
from nesting.files.plan_file import load_plan
from tests.cli.conftest import Run

ROOT = Path(__file__).parents[2]
HOSTEL = (
    "job: Hostel\nunit: m\nmaterials:\n"
    "  - {name: Fern, width: 4, repeat along: 0.915, repeat across: 0.8, match: half-drop}\n"
    "  - {name: Reed, width: 3.2, repeat along: 0.5, repeat across: none, match: straight}\nrooms:\n"
) + "".join(
    f"  - {{name: Room {number}, material: {'Reed' if number % 3 else 'Fern'}, "
    f"rectangle: {3 + number % 5 * 0.37:.2f} x {2.4 + number % 7 * 0.29:.2f}}}\n"
    for number in range(1, 13)
)


@pytest.fixture
def hostel(tmp_path: Path) -> Path:
    """Return the file of a job that a thousand rounds do not finish."""
    file = tmp_path / "hostel.yaml"
    file.write_text(HOSTEL)
    return file


def running(
    file: Path, out: Path, *more: str, command: str = "plan", until: str = "first solution"
) -> subprocess.Popen[str]:
    """Return the running command, in a process group of its own, once it has said `until`."""
    arguments = [command, str(file), "--out", str(out), "--effort", "1000", *more]
    process = subprocess.Popen(
        [sys.executable, "-m", "cli.main", *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stderr is not None
    for line in process.stderr:
        if until in line:
            return process
    raise AssertionError(f"it ended with {process.wait()} before it said {until}")


def ended(process: subprocess.Popen[str]) -> tuple[str, str]:
    """Return what it has said; nothing of its process group may be left soon after."""
    out, err = process.communicate(timeout=60)
    for _ in range(100):
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return out, err
        time.sleep(0.1)
    raise AssertionError("a worker has outlived the program")


def test_ctrl_c_reaches_everybody_and_the_best_plan_is_written(hostel: Path, tmp_path: Path) -> None:
    process = running(hostel, tmp_path / "out", "--workers", "2")
    time.sleep(4)  # the workers are at work by now, or about to be
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does
    out, err = ended(process)
    assert process.returncode == 130, err
    assert "Traceback" not in err and "Ctrl-C again ends at once" in err
    assert out.count("stopped: a longer run may find less") == 2
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert not check_plan(plan)
    assert [material.stop for material in plan.materials] == ["stopped"] * 2
    assert all(bound.value for material in plan.materials for bound in material.bounds if bound.level == "roll")


def test_a_second_ctrl_c_ends_at_once_and_writes_nothing(hostel: Path, tmp_path: Path) -> None:
    process = running(hostel, tmp_path / "out", "--workers", "2")
    for _ in range(2):
        os.killpg(process.pid, signal.SIGINT)
        time.sleep(0.05)
    _, err = ended(process)
    assert process.returncode == 130 and "Traceback" not in err
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_workers_go_when_the_program_is_killed(hostel: Path, tmp_path: Path) -> None:
    process = running(hostel, tmp_path / "out", "--workers", "2", until="round 2")
    time.sleep(4)
    process.kill()
    ended(process)


def test_a_limit_of_no_time_gives_the_first_plan(run: Run, hostel: Path, tmp_path: Path) -> None:
    done = run("plan", hostel, "--out", tmp_path / "out", "--limit", 0, "--effort", 1000)
    assert done.exit_code == 0, done.output
    assert done.stdout.count("stopped: a longer run may find less") == 2
    assert "round" not in done.stderr
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert not check_plan(plan) and [material.stop for material in plan.materials] == ["stopped"] * 2


# --- an earlier plan -------------------------------------------------------------------------------------------------


def test_an_earlier_plan_is_kept_and_the_summary_says_so(run: Run, tiny: Path, planned: Path, tmp_path: Path) -> None:
    done = run("plan", tiny, "--out", tmp_path / "out", "--effort", 0, "--earlier", planned / "plan.json", "--gain", 3)
    assert done.exit_code == 0, done.output
    assert "note     the earlier plan is kept: none was found that is better by 3 order steps or more" in done.stdout
    assert load_plan(planned / "plan.json").materials[0].stop != "stopped"
    before, now = (load_plan(folder / "plan.json") for folder in (planned, tmp_path / "out"))
    assert [m.placements for m in now.materials] == [m.placements for m in before.materials]
    for file in planned.glob("*.csv"):
        assert (tmp_path / "out" / file.name).read_bytes() == file.read_bytes()


def test_an_earlier_plan_that_is_none_is_refused(run: Run, tiny: Path, tmp_path: Path) -> None:
    missing = run("plan", tiny, "--out", tmp_path / "out", "--earlier", tmp_path / "none.json")
    assert missing.exit_code == 2 and "none.json" in missing.stderr
    wrong = run("plan", tiny, "--out", tmp_path / "out", "--earlier", tiny)
    assert wrong.exit_code == 2 and "[bad-plan]" in wrong.stderr and str(tiny) in wrong.stderr
    assert not (tmp_path / "out").exists()


def test_workers_and_a_cluster_are_not_asked_for_together(run: Run, tiny: Path, tmp_path: Path) -> None:
    done = run("plan", tiny, "--out", tmp_path / "out", "--workers", 2, "--scheduler", "tcp://127.0.0.1:1")
    assert done.exit_code == 2 and "give --workers or --scheduler, not both" in done.stderr


# --- the solver ------------------------------------------------------------------------------------------------------


def test_every_solver_can_be_stopped_and_leaves_ctrl_c_alone() -> None:
    """Each run of the solver stands inside `stopping`, which takes care of both."""
    for path in (ROOT / "nesting").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        runs = re.findall(r"^( *)(?:.* = )?(\w*solver)\.solve\(", text, re.MULTILINE)
        inside = re.findall(
            r"^ *with stopping\((\w*solver), \w+(?:\.\w+)?\):\n(?: +.*\n)?? *(?:.* = )?\1\.solve\(", text, re.MULTILINE
        )
        assert len(runs) == len(inside), f"{path.relative_to(ROOT)}: a solver outside `with stopping(solver, stop):`"
