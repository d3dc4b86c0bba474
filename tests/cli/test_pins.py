"""Pins on the command line: kept, priced in the summary, refused in words, and named where they contradict."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from nesting.checker import check_plan
from nesting.files.plan_file import load_plan
from tests.cli.conftest import Run

JOB = """\
job: Hut
unit: m
currency: EUR
out of square: 0
trim: 0
goal: least roll
materials:
  - {name: Sheet, width: 2.5, price: 20.00 per m, squaring: 0, order step: 1 mm}
rooms:
  - name: Hall
    rectangle: 5 x 4
    lay: north-south
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "hut.yaml"
    path.write_text(JOB, encoding="utf-8")
    return path


def test_a_pinned_plan_is_kept_and_priced(job: Path, tmp_path: Path, run: Run) -> None:
    done = run("plan", job, "--out", tmp_path / "out", "--effort", "1", "--pin", "Hall: lay east-west")
    assert done.exit_code == 0, done.output
    assert "pins     Hall: the lay direction costs 2.000 m more roll, 40.00 EUR" in done.stdout
    assert "fixed lay" not in done.stdout  # said once
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert check_plan(plan) == () and plan.materials[0].layouts[0].direction.dy == 0


def test_what_the_plan_would_do_anyway_costs_nothing(job: Path, tmp_path: Path, run: Run) -> None:
    asked = ("--pin", "Hall: seam 2.5 from west", "--pin", "Hall: at most 1 seam")
    done = run("plan", job, "--out", tmp_path / "out", "--effort", "1", *asked)
    assert done.exit_code == 0, done.output
    assert "Hall: a seam 2.500 m from west costs nothing" in done.stdout
    assert "all pins together: costs nothing" in done.stdout


def test_the_costs_as_data(job: Path, tmp_path: Path, run: Run) -> None:
    done = run("plan", job, "--out", tmp_path / "out", "--effort", "1", "--json", "--pin", "Hall: lay east-west")
    pins = json.loads(done.stdout)["pins"]["sheet"]
    assert pins["each"][0]["kind"] == "lay" and pins["each"][0]["cost"] == 40_00
    assert pins["together"]["roll_nm2"] == 2 * 10**9 * 2_500_000_000 and pins["unpriced"] == []


def test_nothing_is_said_of_pins_where_there_are_none(tmp_path: Path, run: Run) -> None:
    path = tmp_path / "hut.yaml"
    path.write_text(JOB.replace("    lay: north-south\n", ""), encoding="utf-8")
    done = run("plan", path, "--out", tmp_path / "out", "--effort", "1")
    assert done.exit_code == 0 and "  pins " not in done.stdout


def test_pins_that_contradict_are_named_with_their_lines(job: Path, tmp_path: Path, run: Run) -> None:
    done = run("plan", job, "--out", tmp_path / "out", "--effort", "1", "--pin", "Hall: seam 1 from south")
    assert done.exit_code == 3
    assert "no layout keeps all of these pins, let one go:" in done.stderr
    assert f"  {job}:12: Hall: the lay direction\n  --pin: Hall: a seam 1.000 m from south" in done.stderr
    assert "NOT BY THE RULES" in done.stdout and "what is pinned cannot be kept" in done.stdout
    assert not load_plan(tmp_path / "out" / "plan.json").by_the_rules


def test_a_bad_pin_is_bad_input(job: Path, tmp_path: Path, run: Run) -> None:
    done = run("plan", job, "--out", tmp_path / "out", "--pin", "Hal: no seam", "--pin", "Hall: tidy")
    assert done.exit_code == 2 and not (tmp_path / "out").exists()
    assert "error: --pin \"Hal: no seam\": there is no room 'Hal' [unknown-name]\n  hint: did you mean `Hall`?" in (
        done.stderr
    )
    assert "--pin \"Hall: tidy\": 'tidy' does not say what is fixed [bad-pin]" in done.stderr
