"""The command that trades seams off against roll: what it prints, what it writes, how it exits."""

from __future__ import annotations

import csv
import json
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from cli.main import main
from nesting.checker import check_plan
from nesting.files.front_tables import FRONT_COLUMNS
from nesting.files.plan_file import load_plan
from tests.cli.conftest import TOO_LITTLE, Run
from tests.cli.test_stopping import HOSTEL, ROOT

JOB = """\
job: Annexe
unit: m
currency: EUR
trim: 0
out of square: 0
materials:
  - {name: Sheet, width: 12 ft, price: 10.00 per ft, squaring: 0, cutting step: 1 in, order step: 1 in}
rooms:
  - {name: Den, rectangle: 14 ft x 16 ft, rules: {cross seams: 2}}
"""

TWO = """\
job: Two kinds
unit: m
currency: EUR
materials:
  - {name: Sheet, width: 2, price: 12.50 per m}
  - {name: Carpet, widths: [2, 3], prices: [20.00 per m, 31.00 per m]}
rooms:
  - {name: Den, material: Sheet, rectangle: 3.0 x 2.5}
  - {name: Nook, material: Carpet, rectangle: 3.2 x 2.5}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a job of three rows and what comes out of it; not to be changed."""
    folder = tmp_path_factory.mktemp("traded")
    (folder / "annexe.yaml").write_text(JOB)
    arguments = ["trade-off", str(folder / "annexe.yaml"), "--out", str(folder / "out"), "--effort", "3"]
    done = CliRunner().invoke(main, [*arguments, "--workers", "1"])
    assert done.exit_code == 0, done.output
    (folder / "stdout").write_text(done.stdout)
    return folder


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "front.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


def folders(out: Path) -> set[str]:
    return {path.name for path in out.iterdir() if path.is_dir()}


def test_every_row_is_written_with_its_plan(made: Path) -> None:
    rows = rows_of(made / "out")
    assert list(rows[0]) == list(FRONT_COLUMNS)
    assert [row["seams in all"] for row in rows] == ["1", "2", "3"]
    assert [row["ordered ft in"] for row in rows] == ["28'", "21'", "18' 8\""]
    assert [row["cost"] for row in rows] == ["280.00", "210.00", "186.67"]
    assert [row["one seam less cost"] for row in rows] == ["", "70.00", "23.33"]
    assert [row["one seam less ft in"] for row in rows] == ["", "7'", "2' 4\""]
    assert folders(made / "out") == {row["folder"] for row in rows} == {"seams-1", "seams-2", "seams-3"}
    for row in rows:
        folder = made / "out" / row["folder"]
        plan = load_plan(folder / "plan.json")
        assert not check_plan(plan)
        assert plan.job.goal.most_seams == int(row["seams in all"])
        (line,) = plan.materials[0].order
        assert f"{line.length_nm // 10**6}" in row["ordered mm"]
        names = {path.name for path in folder.iterdir()}
        assert {"cut-list.csv", "remnants.csv", "order.csv", "room-den.svg"} < names
        assert any(name.startswith("roll-") for name in names)


def test_json_says_the_same(made: Path) -> None:
    data = json.loads((made / "out" / "front.json").read_text())
    (material,) = data["materials"]
    for row, cells in zip(material["rows"], rows_of(made / "out"), strict=True):
        assert str(row["seams_in_all"]) == cells["seams in all"] and row["folder"] == cells["folder"]
        assert row["seams"] + row["cross_seams"] + row["relief_cuts"] + row["joins"] == row["seams_in_all"]
        assert row["roll_nm2"] == sum(one["width_nm"] * one["length_nm"] for one in row["ordered"])
        assert row["bound"]["proved"] is (row["bound"]["roll_nm2"] == row["roll_nm2"]) is (cells["proved"] == "yes")
    assert [item["known"] for item in material["at_most"]] == ["plan"] * 3
    assert material["fewest_seams"] == {"bound": 1, "proved": True}
    assert material["by_hand"]["seams"] >= 1 and material["stopped"] is False


def test_the_table_and_what_the_steps_cost_are_said(made: Path) -> None:
    text = (made / "stdout").read_text()
    assert re.search(r"^ +1 +0 +8\.534\d? m .*280\.00 EUR +proved$", text, re.M)
    assert "no plan needs less than" in text and "relief" not in text.split("No plan")[0]
    assert "No plan has fewer than 1 seam: proved." in text
    assert re.search(r"1 seam instead of 2 \(half as many\): 2\.133\d? m more roll, 70\.00 EUR more\.", text)
    assert "With more than 3 seams no roll is saved: proved." in text
    assert re.search(r"By hand: [\d.]+ m with \d seams?", text)


def test_the_chart_has_every_row_and_the_hand_method(made: Path) -> None:
    text = (made / "out" / "front.svg").read_text()
    for ident in ("row-1", "row-2", "row-3", "by-hand", "bound", "front"):
        assert f'id="{ident}"' in text
    assert "by hand 6.4" in text


def test_it_goes_to_a_folder_named_after_the_job(
    run: Run, tiny: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = run("trade-off", "hut.yaml", "--effort", 0, "--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "hut-trade-off" / "front.csv").exists()


def test_only_the_plan_with_at_most_so_many_seams_is_kept(made: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run("trade-off", made / "annexe.yaml", "--out", out, "--effort", 1, "--seams", 2, "--json")
    assert done.exit_code == 0, done.output
    assert folders(out) == {"seams-2"}
    (material,) = json.loads(done.stdout)["materials"]
    assert [row["folder"] for row in material["rows"]] == [None, "seams-2", None]
    assert [row["folder"] for row in rows_of(out)] == ["", "seams-2", ""]


def test_fewer_seams_than_any_plan_has_is_no_plan(made: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run("trade-off", made / "annexe.yaml", "--out", out, "--effort", 0, "--seams", 0)
    assert done.exit_code == 3
    assert "no plan with at most 0 seams was found: the fewest are 1" in done.stderr
    assert folders(out) == set() and (out / "front.csv").exists()


def test_rows_of_an_earlier_run_are_taken_away_and_nothing_else(made: Path, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("trade-off", made / "annexe.yaml", "--out", out, "--effort", 1)
    (out / "seams-1" / "mine.txt").write_text("a note")
    (out / "seams-of-my-own").mkdir()
    assert folders(out) == {"seams-1", "seams-2", "seams-3", "seams-of-my-own"}
    run("trade-off", made / "annexe.yaml", "--out", out, "--effort", 1, "--seams", 2)
    assert folders(out) == {"seams-1", "seams-2", "seams-of-my-own"}
    assert [path.name for path in (out / "seams-1").iterdir()] == ["mine.txt"]


def test_a_limit_of_no_time_still_gives_a_sound_front(made: Path, run: Run, tmp_path: Path) -> None:
    done = run("trade-off", made / "annexe.yaml", "--out", tmp_path / "out", "--limit", 0)
    assert done.exit_code == 0, done.output
    assert "stopped" in done.stdout
    for row in rows_of(tmp_path / "out"):
        assert not check_plan(load_plan(tmp_path / "out" / row["folder"] / "plan.json"))


def test_several_materials_have_a_front_each(run: Run, tmp_path: Path) -> None:
    job, out = tmp_path / "two.yaml", tmp_path / "out"
    job.write_text(TWO)
    done = run("trade-off", job, "--out", out, "--effort", 1)
    assert done.exit_code == 0, done.output
    assert {"front-sheet.svg", "front-carpet.svg"} <= {path.name for path in out.iterdir()}
    rows = rows_of(out)
    assert {row["material"] for row in rows} == {"Sheet", "Carpet"}
    for row in rows:
        assert (out / row["folder"] / "plan.json").exists() and row["folder"].startswith(row["material"].lower())
        several = row["material"] == "Carpet"
        assert (row["ordered mm"] == "") is several and row["ordered m2"]
    assert "m²" in done.stdout
    ends = re.findall(r"^(Fewest seams|Least roll) of all materials: (\d+) seams?, ([\d.]+) EUR\.$", done.stdout, re.M)
    assert [name for name, _, _ in ends] == ["Fewest seams", "Least roll"]
    first = {row["material"]: row for row in reversed(rows)}
    assert int(ends[0][1]) == sum(int(row["seams in all"]) for row in first.values())
    assert float(ends[0][2]) == pytest.approx(sum(float(row["cost"]) for row in first.values()))


def test_no_plan_by_the_rules_says_why(run: Run, tmp_path: Path) -> None:
    job = tmp_path / "short.yaml"
    job.write_text(TOO_LITTLE)
    done = run("trade-off", job, "--out", tmp_path / "out", "--effort", 1)
    assert done.exit_code == 3
    assert re.search(rf"^no plan by the rules: {re.escape(str(job))}:\d+: den: .+ \[[a-z-]+\]$", done.stderr, re.M)


def test_workers_and_a_cluster_are_refused_together(made: Path, run: Run) -> None:
    done = run("trade-off", made / "annexe.yaml", "--workers", 1, "--scheduler", "tcp://nowhere:1")
    assert done.exit_code == 2 and "not both" in done.stderr


def test_a_file_where_the_folder_should_be_is_refused(made: Path, run: Run, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("")
    done = run("trade-off", made / "annexe.yaml", "--out", tmp_path / "out")
    assert done.exit_code == 2 and "[not-a-folder]" in done.stderr


def test_ctrl_c_hands_over_the_rows_so_far(tmp_path: Path) -> None:
    job, out = tmp_path / "hostel.yaml", tmp_path / "out"
    job.write_text(HOSTEL)
    arguments = ["trade-off", str(job), "--out", str(out), "--effort", "1000", "--workers", "1"]
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
        if "first solution" in line:
            process.send_signal(signal.SIGINT)
            break
    said, _ = process.communicate(timeout=120)
    assert process.returncode == 130
    assert "The run was stopped" in said
    assert all(not check_plan(load_plan(out / row["folder"] / "plan.json")) for row in rows_of(out))
    assert json.loads((out / "front.json").read_text())["materials"][0]["stopped"] is True
