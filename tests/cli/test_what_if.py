"""The command that sets jobs and settings side by side: what it prints, what it writes, how it exits."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from cli.main import main
from nesting.checker import check_plan
from nesting.files.plan_file import load_plan
from nesting.files.what_if_tables import WHAT_IF_COLUMNS
from tests.cli.conftest import TOO_LITTLE, Run

HALL = """\
job: Hall
unit: m
currency: EUR
trim: 0
out of square: 0
materials: [{name: Sheet, width: 4, price: 20.00 per m, squaring: 0}]
rooms: [{name: Hall, rectangle: 3.8 x 5}]
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

CHANGES = ("Narrow: 3 m wide; price 15 per m", "Trimmed: trim 5 cm", "Narrow, no seam: 3 m wide; no seams")
IFS = [part for change in CHANGES for part in ("--if", change)]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a job of four variants and what comes out of them; not to be changed."""
    folder = tmp_path_factory.mktemp("compared")
    (folder / "hall.yaml").write_text(HALL)
    arguments = ["what-if", str(folder / "hall.yaml"), *IFS, "--out", str(folder / "out"), "--effort", "1"]
    done = CliRunner().invoke(main, [*arguments, "--workers", "1"])
    assert done.exit_code == 0, done.output
    (folder / "stdout").write_text(done.stdout)
    return folder


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "what-if.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_variant_has_a_row_and_its_plan(made: Path) -> None:
    # The numbers are worked out in tests/estimating/test_what_if.py.
    rows = rows_of(made / "out")
    assert list(rows[0]) == list(WHAT_IF_COLUMNS)
    assert [row["variant"] for row in rows] == ["as it is", "Narrow", "Trimmed", "Narrow, no seam"]
    assert [row["width mm"] for row in rows] == ["4000", "3000", "4000", ""]
    assert [row["ordered mm"] for row in rows] == ["5000", "7600", "5100", ""]
    assert [row["ordered m2"] for row in rows] == ["20.00", "22.80", "20.40", ""]
    assert [row["seams"] for row in rows] == ["0", "1", "0", ""]
    assert [row["seam length mm"] for row in rows] == ["0", "3800", "0", ""]
    assert [row["cost"] for row in rows] == ["100.00", "114.00", "102.00", ""]
    assert [row["roll more m2"] for row in rows] == ["0.00", "2.80", "0.40", ""]
    assert [row["roll more mm"] for row in rows] == ["0", "", "100", ""]
    assert [row["cost more"] for row in rows] == ["0.00", "14.00", "2.00", ""]
    assert [row["proved"] for row in rows] == ["yes", "yes", "yes", ""]
    assert [row["folder"] for row in rows] == ["1-as-it-is", "2-narrow", "3-trimmed", ""]
    assert rows[3]["no plan"].startswith("sheet: no roll of Sheet holds every piece")
    assert {path.name for path in (made / "out").iterdir() if path.is_dir()} == {"1-as-it-is", "2-narrow", "3-trimmed"}
    for row in rows[:3]:
        folder = made / "out" / row["folder"]
        plan = load_plan(folder / "plan.json")
        assert not check_plan(plan)
        assert {"cut-list.csv", "remnants.csv", "order.csv", "room-hall.svg"} < {path.name for path in folder.iterdir()}
        assert sum(line.length_nm for line in plan.materials[0].order) == int(row["ordered mm"]) * 10**6


def test_the_first_variant_is_what_plan_writes(made: Path, tmp_path: Path, run: Run) -> None:
    assert run("plan", made / "hall.yaml", "--out", tmp_path / "out", "--effort", 1).exit_code == 0
    for name in ("plan.json", "cut-list.csv", "order.csv"):
        assert (tmp_path / "out" / name).read_bytes() == (made / "out" / "1-as-it-is" / name).read_bytes()


def test_the_table_stands_side_by_side(made: Path) -> None:
    text = (made / "stdout").read_text()
    assert re.search(r"^ +as it is +Narrow +Trimmed +Narrow, no seam$", text, re.M)
    assert re.search(
        r"^  ordered +5\.000 m of 4\.000 m +7\.600 m of 3\.000 m +5\.100 m of 4\.000 m +no plan$", text, re.M
    )
    assert re.search(r"^  seams +0 +1 +0$", text, re.M)
    assert re.search(r"^  more roll +\+2\.80 m² +\+0\.100 m, \+0\.40 m²$", text, re.M)
    assert re.search(r"^  costs more +\+14\.00 EUR +\+2\.00 EUR$", text, re.M)
    assert re.search(r"^  could be better by +0 \(proved\) +0 \(proved\) +0 \(proved\)$", text, re.M)
    assert "Narrow, no seam: no plan by the rules: sheet: no roll of Sheet" in text
    assert "cross seams" not in text and "relief" not in text  # nothing for any variant
    lines = [line for line in text.splitlines() if line.startswith("  ")]
    assert len({len(line) for line in lines if line.split()[0] in ("roll", "waste", "cuts")}) == 1


def test_json_says_it_exactly_and_the_same_bytes_again(made: Path, run: Run) -> None:
    arguments = ["what-if", made / "hall.yaml", *IFS, "--effort", 1, "--json", "--quiet"]
    done = run(*arguments)
    assert done.exit_code == 0 and done.stderr == ""
    assert run(*arguments).stdout == done.stdout
    data = json.loads(done.stdout)
    first, narrow, trimmed, none = data["variants"]
    assert (data["seed"], data["effort"], first["name"], first["folder"]) == (0, 1, "as it is", None)
    (part,) = narrow["materials"]
    assert part["ordered"] == [{"width_nm": 3 * 10**9, "length_nm": 7_600 * 10**6}]
    assert part["more"] == {"roll_nm2": 28 * 10**17, "length_nm": None, "cost": 1_400}
    assert trimmed["materials"][0]["more"] == {"roll_nm2": 4 * 10**17, "length_nm": 10**8, "cost": 200}
    assert part["by_hand"]["ordered"] == part["ordered"] and part["bound"]["proved"] is True
    assert (narrow["total_cost"], narrow["cost_more"]) == (11_400, 1_400)
    assert none["by_the_rules"] is False and none["materials"] == [] and none["total_cost"] is None
    assert none["refusals"][0]["rule"] == "stock"


def test_jobs_side_by_side_have_their_own_names_and_units(made: Path, tmp_path: Path, run: Run) -> None:
    other = tmp_path / "other.yaml"
    barn = HALL.replace("job: Hall", "job: Barn").replace("unit: m", "unit: ft", 1)
    other.write_text(barn.replace("width: 4", "width: 12 ft").replace("3.8 x 5", "12 ft x 10 ft"))
    done = run("what-if", made / "hall.yaml", other, "--if", "Trimmed: trim 5 cm", "--effort", 0)
    assert done.exit_code == 0, done.output
    assert re.search(r"^ +Hall +Barn +Trimmed$", done.stdout, re.M)
    assert re.search(r"^  ordered +5\.000 m of 4\.000 m +10' of 12' +5\.100 m of 4\.000 m$", done.stdout, re.M)
    twice = run("what-if", made / "hall.yaml", made / "hall.yaml", "--effort", 0)
    assert re.search(r"^ +hall +hall-2$", twice.stdout, re.M)
    assert "nothing is written" in twice.stdout and not (Path.cwd() / "hall-what-if").exists()


def test_materials_stand_apart_and_money_is_added(tmp_path: Path, run: Run) -> None:
    job, out = tmp_path / "two.yaml", tmp_path / "out"
    job.write_text(TWO)
    changes = [f"V{n}: trim {n} cm" for n in range(1, 6)]
    done = run("what-if", job, *(part for text in changes for part in ("--if", text)), "--effort", 0, "--out", out)
    assert done.exit_code == 0, done.output
    assert re.findall(r"^(\w.*)$", done.stdout, re.M)[:3] == ["Sheet", "Carpet", "All materials"]
    heads = re.findall(r"^ +(as it is .*)$", done.stdout, re.M)
    blocks = [["as", "it", "is", *names] for names in (["V1", "V2", "V3"], ["V4", "V5"])]
    assert [head.split() for head in heads] == 3 * blocks
    rows = [row for row in rows_of(out) if row["variant"] == "V1"]
    assert [row["material"] for row in rows] == ["Sheet", "Carpet", ""]
    assert float(rows[2]["cost"]) == pytest.approx(float(rows[0]["cost"]) + float(rows[1]["cost"]))
    assert [name for name, text in rows[2].items() if text] == ["variant", "cost", "currency", "cost more", "folder"]
    (out / "9-mine").mkdir()
    (out / "9-mine" / ".rollwright-written").write_text("")
    (out / "4-v3" / "note.txt").write_text("kept")
    again = run("what-if", job, "--if", "V1: trim 1 cm", "--effort", 0, "--out", out)
    assert again.exit_code == 0
    assert {path.name for path in out.iterdir() if path.is_dir()} == {"1-as-it-is", "2-v1", "4-v3", "9-mine"}
    assert [path.name for path in (out / "4-v3").iterdir()] == ["note.txt"]
    (out / "what-if.csv").write_text('variant,folder\nx,../2-v1\nx,9-mine/..\n"')
    assert run("what-if", job, "--if", "V1: trim 1 cm", "--effort", 0, "--out", out).exit_code == 0
    assert (out / "2-v1" / "plan.json").exists()


def test_no_variant_with_a_plan_is_no_plan(tmp_path: Path, run: Run) -> None:
    job = tmp_path / "hut.yaml"
    job.write_text(TOO_LITTLE)
    done = run("what-if", job, "--if", "Less: trim 0", "--effort", 0, "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert "as it is: no plan by the rules" in done.stdout and "Less: no plan by the rules" in done.stdout
    for row in rows_of(tmp_path / "out"):  # the nearest plan is written, marked as such
        assert row["no plan"] and not row["ordered mm"]
        assert not load_plan(tmp_path / "out" / row["folder"] / "plan.json").by_the_rules


def test_faults_are_said_before_anything_is_planned(made: Path, tmp_path: Path, run: Run) -> None:
    done = run("what-if", made / "hall.yaml", "--if", "Other: drop the other way", "--out", tmp_path / "out")
    assert done.exit_code == 2 and not (tmp_path / "out").exists()
    assert done.stderr == (
        'error: --if "Other: drop the other way": drop the other way: Sheet has no pattern [no-repeat]\n'
        "  hint: leave it out\n"
    )
    assert "layouts" not in done.stderr
    alone = run("what-if", made / "hall.yaml")
    assert alone.exit_code == 2 and "nothing to compare with" in alone.stderr
    both = run("what-if", made / "hall.yaml", *IFS, "--workers", 1, "--scheduler", "tcp://nowhere:1")
    assert both.exit_code == 2 and "not both" in both.stderr
    file = run("what-if", made / "hall.yaml", *IFS, "--out", made / "hall.yaml")
    assert file.exit_code == 2 and "[not-a-folder]" in file.stderr


def test_under_a_limit_every_variant_has_a_plan_and_says_that_it_was_stopped(tmp_path: Path, run: Run) -> None:
    job = tmp_path / "two.yaml"
    job.write_text(TWO)
    done = run("what-if", job, "--if", "Trimmed: trim 5 cm", "--limit", 0)
    assert done.exit_code == 0, done.output
    assert re.search(r"^  ordered +\d.* wide|^  ordered +\d", done.stdout, re.M)
    assert "was stopped: a longer run may find less" in done.stdout
