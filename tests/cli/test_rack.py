"""`rollwright rack`, `plan --rack` and the audit: what they print, what they book, how they exit."""

from __future__ import annotations

import json
import sqlite3
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from cli.racking import key_of, outside_of
from nesting.files.plan_file import load_plan
from tests.cli.conftest import Run

JOB = """\
job: Hut
unit: m
currency: EUR
materials:
  - {name: Sheet, width: 2, order step: 0.1, price: 10 per m}
rooms:
  - {name: Den, rectangle: 3.0 x 1.5}
"""


@pytest.fixture
def rack(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a rack with a small and a large remnant of the job's goods, and one of others."""
    file = tmp_path / "shop" / "rack.db"
    monkeypatch.setenv("ROLLWRIGHT_RACK", str(file))
    for label, material, size in (
        ("small", "Sheet", "2 x 3.4"),
        ("large", "Sheet", "2 x 9"),
        ("other", "Felt", "2 x 5"),
    ):
        done = run(
            "rack", "receive", label, "--material", material, "--size", size, "--lot", f"lot of {label}", "--by", "Ann"
        )
        assert done.exit_code == 0, done.output
    return file


@pytest.fixture
def job(tmp_path: Path) -> Path:
    file = tmp_path / "hut.yaml"
    file.write_text(JOB)
    return file


def listed(run: Run, *asked: str) -> dict[str, str]:
    """Return the state of the pieces that a list shows, by label."""
    return {row["id"]: row["state"] for row in json.loads(run("rack", "list", "--json", *asked).stdout)}


def planned(run: Run, job: Path, rack: Path, out: Path) -> Path:
    done = run("plan", job, "--rack", rack, "--out", out, "--effort", 1, "--quiet")
    assert done.exit_code == 0, done.output
    return out / "plan.json"


def test_the_life_of_a_plan(run: Run, rack: Path, job: Path, tmp_path: Path) -> None:
    plan = planned(run, job, rack, tmp_path / "out")
    assert [source.stock_id for source in load_plan(plan).materials[0].sources] == ["small"]
    done = run("rack", "reserve", "--plan", plan, "--by", "Ann")
    assert done.stdout == "reserved for Hut: small\n"
    assert listed(run) == {"small": "reserved", "large": "free", "other": "free"}
    done = run("rack", "confirm", plan, "--place", "rack 2", "--by", "Ben")
    assert (done.exit_code, "cut up small" in done.stdout) == (0, True)
    assert "small" not in listed(run)
    again = run("rack", "confirm", plan)
    assert again.exit_code == 2
    assert "[plan-confirmed]" in again.stderr
    done = run("rack", "undo", plan, "--why", "the wrong roll")
    assert done.exit_code == 0
    assert listed(run) == {"small": "reserved", "large": "free", "other": "free"}
    assert run("rack", "undo", plan, "--why", "once more").exit_code == 2
    assert run("rack", "release", "--job", "Hut").stdout == "free again: small\n"
    assert run("check", rack).exit_code == 0


def test_planning_is_offered_what_is_free_and_what_the_job_holds(
    run: Run, rack: Path, job: Path, tmp_path: Path
) -> None:
    assert run("rack", "reserve", "small", "--job", "Another").exit_code == 0
    plan = planned(run, job, rack, tmp_path / "out")
    assert [source.stock_id for source in load_plan(plan).materials[0].sources] == ["large"]
    assert run("rack", "reserve", "--plan", plan).exit_code == 0
    assert run("rack", "release", "small").exit_code == 0
    better = planned(run, job, rack, tmp_path / "better")
    done = run("rack", "reserve", "--plan", better)
    assert done.stdout == "reserved for Hut: small; free again: large\n"
    assert listed(run, "--job", "Hut") == {"small": "reserved"}


def test_a_plan_of_a_rack_that_has_changed_is_refused(run: Run, rack: Path, job: Path, tmp_path: Path) -> None:
    plan = planned(run, job, rack, tmp_path / "out")
    assert run("rack", "correct", "small", "--size", "2 x 3.2", "--why", "measured again").exit_code == 0
    done = run("rack", "reserve", "--plan", plan)
    assert done.exit_code == 2
    assert "small" in done.stderr
    assert "hint:" in done.stderr
    assert listed(run)["small"] == "free"


def test_goods_of_the_job_file_are_not_the_racks(run: Run, rack: Path, job: Path, tmp_path: Path) -> None:
    job.write_text(JOB + "stock:\n  - {id: own, width: 2, length: 3.3}\n")
    plan = load_plan(planned(run, job, rack, tmp_path / "out"))
    assert outside_of(plan) == ("own",)
    job.write_text(JOB + "stock:\n  - {id: Small, width: 2, length: 3.3}\n")
    done = run("plan", job, "--rack", rack, "--out", tmp_path / "twice")
    assert done.exit_code == 2
    assert "[id-twice]" in done.stderr


def test_the_key_of_a_plan_is_that_of_its_file(run: Run, rack: Path, job: Path, tmp_path: Path) -> None:
    one = load_plan(planned(run, job, rack, tmp_path / "out"))
    assert key_of(one) == key_of(load_plan(tmp_path / "out" / "plan.json"))
    run("rack", "scrap", "small", "--why", "torn")
    assert key_of(load_plan(planned(run, job, rack, tmp_path / "next"))) != key_of(one)


def test_list_has_filters_orders_and_both_systems(run: Run, rack: Path) -> None:
    assert listed(run, "--material", "Sheet") == {"small": "free", "large": "free"}
    assert listed(run, "--least", "2 x 4") == {"large": "free", "other": "free"}
    assert listed(run, "--lot", "lot of other") == {"other": "free"}
    assert listed(run, "--with", "LARGE") == {"large": "free"}
    assert list(listed(run, "--order", "length")) == ["large", "other", "small"]
    assert list(listed(run, "--order", "value", "--limit", "2")) == ["large", "other"]
    assert listed(run, "--state", "cut") == {}
    table = run("rack", "list", "--unit", "ft").stdout
    assert "29' 6 5/16\"" in table
    assert "9000 mm" in table
    assert "3 pieces, 34.80 m²" in table


def test_show_draws_a_piece_and_tells_its_history(run: Run, rack: Path, tmp_path: Path) -> None:
    run("rack", "move", "large", "--to", "<rack> & 3", "--by", "Ben")
    run(
        "rack",
        "correct",
        "large",
        "--flaw",
        "0.2 x 0.1 at 1, 2",
        "--first-mark",
        "12 cm across, 30 cm along",
        "--why",
        "seen",
    )
    done = run("rack", "show", "LARGE", "--out", tmp_path / "large.svg")
    for words in (
        "place     <rack> & 3",
        "a mark at 0.120 m across, 0.300 m along (measured)",
        "Ben",
        "correct",
        ": seen",
    ):
        assert words in done.stdout
    root = ET.parse(tmp_path / "large.svg").getroot()
    assert any("<rack> & 3" in (node.text or "") for node in root.iter())
    assert run("rack", "show", "nobody").exit_code == 2


def test_count_says_what_differs_and_books_it(run: Run, rack: Path, tmp_path: Path) -> None:
    for label in ("small", "large"):
        run("rack", "move", label, "--to", "bay 1")
    (tmp_path / "found.txt").write_text("small\nother\nghost\n")
    done = run("rack", "count", "bay 1", "--found", tmp_path / "found.txt")
    assert done.exit_code == 1
    assert done.stdout.splitlines() == [
        "found: small", "missing: large", "elsewhere by the book: other (no place)", "unknown: ghost",
        "shelf and book differ",
    ]  # fmt: skip
    assert run("rack", "count", "bay 1", "small", "--book").exit_code == 2  # a reason is needed
    assert run("rack", "count", "bay 1", "small", "--book", "--why", "yearly").exit_code == 0
    assert listed(run, "--state", "missing") == {"large": "missing"}
    assert run("rack", "count", "bay 1", "small").exit_code == 0


def test_export_and_import_are_whole(run: Run, rack: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run("rack", "reserve", "small", "--job", "Hut")
    for kind in ("json", "csv"):
        assert run("rack", "export", tmp_path / f"all.{kind}").exit_code == 0
    monkeypatch.setenv("ROLLWRIGHT_RACK", str(tmp_path / "new.db"))
    assert run("rack", "import", tmp_path / "all.json").exit_code == 0
    assert run("rack", "export", tmp_path / "again.json").exit_code == 0
    assert (tmp_path / "again.json").read_bytes() == (tmp_path / "all.json").read_bytes()
    assert run("rack", "import", tmp_path / "all.json").exit_code == 2  # it is not empty any more
    monkeypatch.setenv("ROLLWRIGHT_RACK", str(tmp_path / "third.db"))
    assert run("rack", "import", tmp_path / "all.csv").exit_code == 0
    assert listed(run) == {"small": "reserved", "large": "free", "other": "free"}
    assert run("rack", "export", tmp_path / "all.txt").exit_code == 2


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["receive", "x", "--size", "2 x 3"], "missing-key"),
        (["receive", "x", "--material", "Sheet"], "missing-key"),
        (["receive", "x", "--material", "Sheet", "--size", "2"], "bad-size"),
        (["receive", "x", "--material", "Sheet", "--size", "2 x 3", "--flaw", "everywhere"], "bad-rectangle"),
        (["receive", "x", "--material", "Sheet", "--size", "2 x 3", "--first-mark", "left"], "bad-mark"),
        (["receive", "SMALL", "--material", "Sheet", "--size", "2 x 3"], "label-taken"),
        (["move", "nobody", "--to", "bay"], "piece-unknown"),
        (["undo", "99", "--why", "no"], "no-booking"),
    ],
)
def test_bad_input_exits_2_and_changes_nothing(run: Run, rack: Path, arguments: list[str], code: str) -> None:
    before = run("rack", "history", "--json").stdout
    done = run("rack", *arguments)
    assert done.exit_code == 2
    assert f"[{code}]" in done.stderr
    assert "Traceback" not in done.output
    assert run("rack", "history", "--json").stdout == before


def test_check_audits_a_rack(run: Run, rack: Path) -> None:
    done = run("check", rack)
    assert done.exit_code == 0
    assert "sheet: received 24.80 m² = in stock 24.80 m²" in done.stdout
    with sqlite3.connect(rack) as direct:
        direct.execute("UPDATE rack_piece SET length_nm = length_nm + 1 WHERE id = 'small'")
    direct.close()
    done = run("check", rack, "--json")
    assert done.exit_code == 1
    assert json.loads(done.stdout)["violations"]


def test_ids_that_the_rack_cannot_know_are_refused(run: Run, rack: Path, job: Path, tmp_path: Path) -> None:
    job.write_text(JOB.replace("name: Sheet", "name: Sheet, id: SAND"))
    done = run("plan", job, "--rack", rack, "--out", tmp_path / "out")
    assert done.exit_code == 2
    assert "`id: sand`" in done.stderr


def test_what_is_no_rack_is_refused(run: Run, job: Path, tmp_path: Path) -> None:
    (tmp_path / "text.db").write_text("not a database")
    done = run("plan", job, "--rack", tmp_path / "text.db", "--out", tmp_path / "out")
    assert done.exit_code == 2
    assert "hint:" in done.stderr
    assert not (tmp_path / "out").exists()
    assert run("check", tmp_path / "nothing.db").exit_code == 2
