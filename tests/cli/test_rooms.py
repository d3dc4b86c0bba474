"""`rollwright rooms`: from a drawing or a table to a job that plans."""

from __future__ import annotations

from pathlib import Path

import pytest

from nesting.files.job_file import read_job
from tests.cli.conftest import Run
from tests.files.r12 import drawing, line, polyline, text

SQUARE = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2500.0), (0.0, 2500.0)]


@pytest.fixture
def plan_of_floor(tmp_path: Path) -> Path:
    path = tmp_path / "Ground floor.dxf"
    path.write_text(drawing([polyline(SQUARE), text("Den", (9, 9)), line((0, 0), (1, 1))]))
    return path


def test_a_drawing_becomes_a_job_that_plans_as_it_stands(run: Run, plan_of_floor: Path, tmp_path: Path) -> None:
    done = run("rooms", plan_of_floor, tmp_path / "job.yaml")
    assert done.exit_code == 0, done.output
    assert "1 room written to" in done.stdout and "note: not read: LINE (layer 0" in done.stderr
    assert read_job(tmp_path / "job.yaml").job.name == "Ground floor"
    planned = run("plan", tmp_path / "job.yaml", "--out", tmp_path / "out", "--effort", 0, "--quiet")
    assert planned.exit_code == 0, planned.output
    again = run("rooms", plan_of_floor, tmp_path / "job.yaml")
    assert again.exit_code == 2 and "file-exists" in again.stderr


def test_a_table_is_printed_as_a_job(run: Run, tmp_path: Path) -> None:
    table = tmp_path / "rooms.csv"
    table.write_text("name;east-west;north-south\nDen;3,5;2\n")
    done = run("rooms", table, "--unit", "m", "--layer", "A")
    assert done.exit_code == 0 and "rectangle: 3.500 x 2.000" in done.stdout
    assert "no layers" in done.stderr
    (tmp_path / "job.yaml").write_text(done.stdout)
    assert read_job(tmp_path / "job.yaml").job.rooms[0].name == "Den"


def test_quiet_says_nothing(run: Run, plan_of_floor: Path, tmp_path: Path) -> None:
    done = run("rooms", plan_of_floor, tmp_path / "job.yaml", "--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")


def test_layers_and_unit_are_handed_on(run: Run, plan_of_floor: Path) -> None:
    assert run("rooms", plan_of_floor, "--layer", "nowhere").exit_code == 2
    done = run("rooms", plan_of_floor, "--layer", "rooms", "--unit", "cm")
    assert done.exit_code == 0 and "rectangle: 3000.0 x 2500.0" in done.stdout and "unit: cm" in done.stdout


@pytest.mark.parametrize("name", ["plan.pdf", "plan", "none.dxf", "none.csv"])
def test_what_cannot_be_read_is_refused(run: Run, tmp_path: Path, name: str) -> None:
    done = run("rooms", tmp_path / name)
    assert done.exit_code == 2 and done.stderr.startswith("error: ") and done.stdout == ""
