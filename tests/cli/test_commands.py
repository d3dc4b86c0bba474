"""Every command: what it prints, what it writes, how it exits."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

import cli.planning
import nesting.pipeline
from cli.main import main
from cli.results import RECORDS
from nesting.checker import check_plan
from nesting.domain.plan import Plan, Violation
from nesting.estimating.front_pages import AT_ONCE, ELSEWHERE
from nesting.files.job_file import parse_job
from nesting.files.plan_file import load_plan
from tests.cli.conftest import TOO_LITTLE, Run


def _fails_with_a_bug(*_: object, **__: object) -> None:
    raise ZeroDivisionError("division by zero")


def _finds_fault(_: Plan) -> tuple[Violation, ...]:
    return (Violation(rule="V2a", where="cut den-1", text="lies outside its roll"),)


# --- plan ------------------------------------------------------------------------------------------------------------


def test_plan_writes_everything_and_says_what_to_order(run: Run, tiny: Path, tmp_path: Path) -> None:
    done = run("plan", tiny, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    names = {path.name for path in (tmp_path / "out").iterdir() if not path.name.startswith(".")}
    assert {*RECORDS, "room-den.svg"} < names
    assert any(name.startswith("roll-") for name in names)
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert not check_plan(plan)
    (line,) = plan.materials[0].order
    assert f"{line.length_nm / 1e9:.3f} m of 2.000 m wide" in done.stdout
    for word in ("used", "waste", "seams", "bound", "by hand", f"{line.cost / 100:.2f}"):
        assert word in done.stdout
    assert "Den" not in done.stderr and "sheet: layouts" in done.stderr


def test_the_page_has_the_trade_off_with_the_plan_marked(run: Run, tiny: Path, planned: Path, tmp_path: Path) -> None:
    page = (planned / "packet.html").read_text(encoding="utf-8")
    assert "(this plan)" in page
    assert "Den" in page
    assert run("plan", tiny, "--out", tmp_path / "out", "--effort", 0, "--quiet").exit_code == 0
    at_once = (tmp_path / "out" / "packet.html").read_text(encoding="utf-8")
    assert "(this plan)" not in at_once
    assert AT_ONCE in at_once


def test_draw_writes_the_packet_again(run: Run, planned: Path, tmp_path: Path) -> None:
    assert run("draw", planned / "plan.json", "--out", tmp_path / "drawn").exit_code == 0
    assert not (tmp_path / "drawn" / "packet.html").exists()
    assert run("draw", planned / "plan.json", "--out", tmp_path / "drawn", "--packet").exit_code == 0
    for name in RECORDS:
        if name != "packet.html":  # there the trade-off stands instead of the reason why there is none
            assert (tmp_path / "drawn" / name).read_bytes() == (planned / name).read_bytes()
    assert ELSEWHERE in (tmp_path / "drawn" / "packet.html").read_text(encoding="utf-8")
    assert list((tmp_path / "drawn").glob("*.dxf"))


def test_plan_goes_to_a_folder_named_after_the_job(
    run: Run, tiny: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("plan", "hut.yaml", "--effort", 0, "--quiet").exit_code == 0
    assert (tmp_path / "hut" / "plan.json").exists()


def test_quiet_prints_nothing(run: Run, tiny: Path, tmp_path: Path) -> None:
    done = run("plan", tiny, "--out", tmp_path / "out", "--effort", 0, "--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")


def test_json_is_all_that_stdout_holds(run: Run, tiny: Path, tmp_path: Path) -> None:
    done = run("plan", tiny, "--out", tmp_path / "out", "--effort", 1, "--json")
    data = json.loads(done.stdout)
    plan = load_plan(tmp_path / "out" / "plan.json")
    (item,) = data["materials"]
    assert item["order"][0]["length_nm"] == plan.materials[0].order[0].length_nm
    assert item["goods_nm2"] == item["pieces_nm2"] + item["offcuts_nm2"] + item["waste_nm2"]
    assert data["refusals"] == [] and data["by_the_rules"] is True
    assert item["bounds"][0]["bound"] <= item["bounds"][0]["attained"]
    hand = plan.materials[0].by_hand
    assert hand is not None and item["by_hand"]["seams"] == hand.seams
    assert item["by_hand"]["roll_nm2"] == sum(width * length for width, length in hand.ordered_nm) >= item["roll_nm2"]


def test_seed_effort_and_limit_are_taken(run: Run, tiny: Path, tmp_path: Path) -> None:
    done = run("plan", tiny, "--out", tmp_path / "out", "--effort", 2, "--seed", 5, "--limit", 60, "--quiet")
    assert done.exit_code == 0
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert (plan.seed, plan.effort) == (5, 2)


def test_a_limit_of_no_time_still_gives_a_sound_plan(run: Run, tiny: Path, tmp_path: Path) -> None:
    assert run("plan", tiny, "--out", tmp_path / "out", "--limit", 0, "--quiet").exit_code == 0
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert not check_plan(plan) and plan.materials[0].stop != "effort spent"


def test_a_second_plan_leaves_nothing_of_the_first(run: Run, tiny: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("plan", tiny, "--out", out, "--effort", 0)
    (out / "mine.txt").write_text("a note")
    tiny.write_text(tiny.read_text().replace("Den", "Nook"))
    run("plan", tiny, "--out", out, "--effort", 0)
    assert (out / "room-nook.svg").exists() and not (out / "room-den.svg").exists()
    assert (out / "mine.txt").read_text() == "a note"


def test_notices_of_the_reader_are_shown(run: Run, tmp_path: Path) -> None:
    job = tmp_path / "walk.yaml"
    job.write_text(
        "job: Hut\nunit: m\nmaterials: [{name: Sheet, width: 4}]\n"
        "rooms: [{name: Den, walk: [north 3.004 m, east 2 m, south 3 m, west 2 m]}]\n"
    )
    done = run("plan", job, "--out", tmp_path / "out", "--effort", 0)
    assert done.exit_code == 0 and "note: den: the walk closed to within" in done.stderr
    assert "Notice(" not in done.output


def test_no_plan_by_the_rules_says_why_and_orders_nothing(run: Run, tmp_path: Path) -> None:
    job = tmp_path / "short.yaml"
    job.write_text(TOO_LITTLE)
    done = run("plan", job, "--out", tmp_path / "out", "--effort", 1)
    assert done.exit_code == 3, done.output
    assert re.search(rf"^no plan by the rules: {re.escape(str(job))}:\d+: den: .+ \[[a-z-]+\]$", done.stderr, re.M)
    assert "NOT BY THE RULES" in done.stdout
    assert not (tmp_path / "out" / "order.csv").exists()
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert plan.consents and not any(item.order for item in plan.materials)
    assert run("check", tmp_path / "out" / "plan.json").stdout.startswith("sound, but NOT BY THE RULES")
    again = run("plan", job, "--out", tmp_path / "out", "--effort", 1, "--json")
    assert again.exit_code == 3 and json.loads(again.stdout)["refusals"][0]["owner"] == "den"


def test_an_order_of_an_earlier_plan_does_not_stay_beside_a_refused_one(run: Run, tiny: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("plan", tiny, "--out", out, "--effort", 0)
    assert (out / "order.csv").exists()
    tiny.write_text(TOO_LITTLE)
    assert run("plan", tiny, "--out", out, "--effort", 0).exit_code == 3
    assert not (out / "order.csv").exists()


# --- bad input and bugs ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "empty-file"),
        ("- a\n- b\n", "not-a-job"),
        ("job: Hut\nunit: m\n", "materials"),
        ("job: Hut\nunit: m\nmaterials: [{name: S, width: 2}]\nrooms: [{name: A, rectangle: 3 x 0}]\n", "job.yaml:4"),
        ("job: Hut\nunit: m\nmaterials: [{name: S, widht: 2}]\nrooms: [{name: A, rectangle: 3 x 2}]\n", "width"),
        ("job: [\n", "not-yaml"),
        ("\x00\x01", "not-text"),
    ],
)
def test_bad_jobs_exit_2_with_file_and_hint_and_write_nothing(
    run: Run, tmp_path: Path, text: str, expected: str
) -> None:
    job = tmp_path / "job.yaml"
    job.write_text(text)
    done = run("plan", job, "--out", tmp_path / "out")
    assert done.exit_code == 2 and done.stdout == ""
    assert done.stderr.startswith(f"error: {job}") and expected in done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["job.yaml"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("plan",),
        ("plan", "missing.yaml"),
        ("plan", "."),
        ("check", "missing.json"),
        ("draw", "missing.json"),
        ("plan", "x.yaml", "--effort", "-1"),
        ("plan", "x.yaml", "--effort", "lots"),
        ("plan", "x.yaml", "--limit", "-3"),
        ("plan", "x.yaml", "--nonsense"),
        ("starter", "--unit", "cubit"),
        ("nonsense",),
    ],
)
def test_wrong_usage_exits_2(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    done = run(*arguments)
    assert done.exit_code == 2 and "rror" in done.stderr and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"format": 1}', '{"format": 99}', "\x00", "{" * 3000])
def test_check_and_draw_refuse_what_is_no_plan(run: Run, tmp_path: Path, text: str) -> None:
    file = tmp_path / "plan.json"
    file.write_text(text)
    for command in ("check", "draw"):
        done = run(command, file)
        assert done.exit_code == 2 and done.stderr.startswith("error: ") and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_where_the_results_should_go_is_refused(run: Run, tiny: Path, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine")
    for out in (tmp_path / "taken", tmp_path / "taken" / "below"):
        done = run("plan", tiny, "--out", out)
        assert done.exit_code == 2 and "not-a-folder" in done.stderr
    assert (tmp_path / "taken").read_text() == "mine"


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to the superuser")
def test_a_folder_that_cannot_be_written_exits_2(run: Run, tiny: Path, tmp_path: Path) -> None:
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    done = run("plan", tiny, "--out", locked / "out", "--effort", 0)
    assert done.exit_code == 2 and "cannot-write" in done.stderr


def test_a_plan_that_the_checker_refuses_is_never_written(
    run: Run, tiny: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nesting.pipeline, "check_plan", _finds_fault)
    done = run("plan", tiny, "--out", tmp_path / "out", "--effort", 0)
    assert done.exit_code == 70 and "unsound-plan" in done.stderr and "outside its roll" in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_bug_exits_70_without_a_traceback(
    run: Run, tiny: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cli.planning, "plan_job", _fails_with_a_bug)
    done = run("plan", tiny, "--out", tmp_path / "out")
    assert done.exit_code == 70 and "[bug]" in done.stderr and "ZeroDivisionError" in done.stderr
    assert "Traceback" not in done.stderr and not (tmp_path / "out").exists()


# --- check and draw --------------------------------------------------------------------------------------------------


def test_check_passes_what_plan_wrote(run: Run, planned: Path) -> None:
    done = run("check", planned / "plan.json")
    assert (done.exit_code, done.stdout) == (0, "sound\n")
    assert run("check", planned / "plan.json", "--quiet").output == ""
    assert json.loads(run("check", planned / "plan.json", "--json").stdout) == {"violations": [], "by_the_rules": True}


def _spoiled(planned: Path, tmp_path: Path) -> Path:
    """Return the plan with one piece moved by a nanometre."""
    data = json.loads((planned / "plan.json").read_text())
    data["materials"][0]["placements"][0]["x_nm"] -= 1
    file = tmp_path / "plan.json"
    file.write_text(json.dumps(data))
    return file


def test_check_and_draw_exit_1_on_a_spoiled_plan(run: Run, planned: Path, tmp_path: Path) -> None:
    file = _spoiled(planned, tmp_path)
    done = run("check", file)
    assert done.exit_code == 1 and done.stdout.startswith("V")
    assert run("check", file, "--quiet").exit_code == 1
    found = json.loads(run("check", file, "--json").stdout)["violations"]
    assert found and set(found[0]) == {"rule", "where", "text"}
    drawn = run("draw", file)
    assert drawn.exit_code == 1 and "not sound" in drawn.stderr
    assert list(tmp_path.iterdir()) == [file]


def test_draw_can_show_the_back(run: Run, planned: Path, tmp_path: Path) -> None:
    done = run("draw", planned / "plan.json", "--out", tmp_path / "back", "--mirrored")
    assert done.exit_code == 0
    maps = [path.read_text(encoding="utf-8") for path in (tmp_path / "back").glob("roll-*.svg")]
    assert maps and all("FACE UP" not in text for text in maps)


def test_draw_draws_the_same_again(run: Run, planned: Path, tmp_path: Path) -> None:
    done = run("draw", planned / "plan.json", "--out", tmp_path / "drawn")
    first = {path.name: path.read_bytes() for path in planned.glob("ro*.*")}
    assert done.exit_code == 0 and f"{len(first)} drawings" in done.stdout
    assert first == {path.name: path.read_bytes() for path in (tmp_path / "drawn").glob("ro*.*")}
    assert run("draw", planned / "plan.json", "--out", tmp_path / "drawn", "--quiet").output == ""


def test_draw_beside_the_plan_takes_nothing_away(run: Run, tiny: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("plan", tiny, "--out", out, "--effort", 0, "--quiet")
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    assert run("draw", out / "plan.json").exit_code == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


# --- schema, starter, help -------------------------------------------------------------------------------------------


def test_schema_is_a_json_schema(run: Run) -> None:
    done = run("schema")
    data = json.loads(done.stdout)
    assert done.exit_code == 0 and {"job", "unit", "materials", "rooms"} <= set(data["properties"])


@pytest.mark.parametrize("unit", ["mm", "cm", "m", "in", "ft"])
def test_starter_reads(run: Run, unit: str) -> None:
    done = run("starter", "--unit", unit)
    assert done.exit_code == 0
    job = parse_job(done.stdout).job
    assert job.unit.value == unit and job.rooms


def test_starter_writes_a_job_that_plans_and_never_over_another(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "new.yaml"
    done = run("starter", file)
    assert done.exit_code == 0 and str(file) in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["new.yaml"]
    text = file.read_text()
    assert run("plan", file, "--out", tmp_path / "out", "--effort", 0).exit_code == 0
    again = run("starter", file)
    assert again.exit_code == 2 and "file-exists" in again.stderr and file.read_text() == text


def test_every_command_has_help(run: Run) -> None:
    for name, command in main.commands.items():
        done = run(name, "--help")
        assert done.exit_code == 0 and done.stdout.startswith("Usage: ")
        assert command.help
        for parameter in command.params:
            assert parameter.param_type_name != "option" or getattr(parameter, "help", None), (name, parameter.name)
    assert run("-h").exit_code == 0
    assert run("--version").stdout.startswith("rollwright, version ")
