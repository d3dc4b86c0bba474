"""The command `plan-again`: what it says first, what it writes and how it exits; the other commands on its plan."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from cli.results import RECORDS
from cli.why_maps import why_maps
from nesting.checker import check_plan
from nesting.domain.plan import Plan, SourceKind
from nesting.estimating.why import why
from nesting.files.plan_file import dump_plan, load_plan
from nesting.pipeline import Settings
from tests.cli.conftest import Run
from tests.cli.test_stopping import HOSTEL, ended, running

HOUSE = """\
job: House
unit: m
materials:
  - {name: Sheet, width: 2, price: 12.50 per m, order step: 0.1}
rooms:
  - {name: Den, rectangle: 1.8 x 3.0}
  - {name: Hall, rectangle: 1.8 x 4.0}
  - {name: Nook, rectangle: 1.8 x 1.2}
"""
# The hall's drop, 1.915 x 4.115 m, is spoiled, and what is left of it is too short for the hall: one more roll.
STATE = """\
delivered: {roll: order-1, lot: L 7}
cut: all
laid: Den
spoiled: {cut: Hall, left: 1.9 x 2.0}
"""
QUICK = "--effort", 0


@pytest.fixture
def house(run: Run, tmp_path: Path) -> Path:
    """Return the plan of a house, in the folder `out`."""
    (tmp_path / "house.yaml").write_text(HOUSE)
    done = run("plan", tmp_path / "house.yaml", "--out", tmp_path / "out", *QUICK, "--quiet")
    assert done.exit_code == 0, done.output
    return tmp_path / "out" / "plan.json"


@pytest.fixture
def state(tmp_path: Path) -> Path:
    """Return the state of the house."""
    file = tmp_path / "state.yaml"
    file.write_text(STATE)
    return file


@pytest.fixture
def again(run: Run, house: Path, state: Path, tmp_path: Path) -> Path:
    """Return the plan of what is left of the house."""
    done = run("plan-again", house, "--state", state, *QUICK, "--quiet")
    assert done.exit_code == 0, done.output
    return tmp_path / "out-again" / "plan.json"


def files_in(folder: Path) -> Mapping[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def rows(file: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8-sig"))))


# --- what comes out --------------------------------------------------------------------------------------------------


def test_it_says_first_what_to_do_and_then_the_summary(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    done = run("plan-again", house, "--state", state, *QUICK)
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert lines[:5] == [
        "What to do now",
        "  1. order 4.200 m more of lot L 7, 2.000 m wide",
        "  2. re-cut Hall 1 (cut 4) from order-2: 1.915 × 4.115 m at 0.050 m from the start, 0 from the left",
        "",
        "House",
    ]
    assert "  order    4.200 m of 2.000 m wide, lot L 7: 52.50" in lines
    assert lines[-1] == f"checked; written to {tmp_path / 'out-again'}"
    assert "sheet: layouts" in done.stderr


def test_everything_is_written_beside_the_plans_folder_which_stays_as_it_was(
    run: Run, house: Path, state: Path, tmp_path: Path
) -> None:
    before = files_in(house.parent)
    assert run("plan-again", house, "--state", state, *QUICK, "--quiet").exit_code == 0
    assert files_in(house.parent) == before
    page = (tmp_path / "out-again" / "packet.html").read_text(encoding="utf-8")
    assert "re-cut Hall 1 (cut 4) from order-2" in page
    out = tmp_path / "out-again"
    assert {path.name for path in out.iterdir() if not path.name.startswith(".")} == {
        "what-now.txt", *RECORDS, "roll-order-1.svg", "roll-order-1.dxf",
        "roll-order-2.svg", "roll-order-2.dxf", "room-den.svg", "room-hall.svg", "room-nook.svg",
    }  # fmt: skip
    steps = (out / "what-now.txt").read_text(encoding="utf-8").splitlines()
    assert [step[:11] for step in steps] == ["1. order 4.", "2. re-cut H"]
    plan = load_plan(out / "plan.json")
    assert check_plan(plan) == ()
    assert {(item.cut.owner, item.cut.state) for item in plan.job.done} == {("den", "laid"), ("nook", "cut")}


def test_the_cut_list_says_what_is_done_and_what_changed(again: Path) -> None:
    found = [(row["owner"], row["source"], row["state"], row["change"]) for row in rows(again.parent / "cut-list.csv")]
    assert found == [
        ("Den", "order-1", "laid", ""),
        ("Nook", "order-1", "cut", ""),
        ("Hall", "order-2", "planned", "new"),
    ]
    (order,) = rows(again.parent / "order.csv")
    assert (order["source"], order["length mm"], order["lot"]) == ("order-2", "4200", "L 7")


def test_the_maps_mark_what_changed_what_is_done_and_what_is_gone(again: Path) -> None:
    def drawn(name: str) -> str:
        return (again.parent / f"{name}.svg").read_text(encoding="utf-8")

    assert "LAID" in drawn("roll-order-1") and "gone" in drawn("roll-order-1") and "NEW" not in drawn("roll-order-1")
    assert "NEW" in drawn("roll-order-2") and "NEW" in drawn("room-hall")
    assert "LAID" in drawn("room-den") and "NEW" not in drawn("room-den")


def test_json_is_all_that_stdout_holds(run: Run, house: Path, state: Path) -> None:
    done = run("plan-again", house, "--state", state, *QUICK, "--json")
    data = json.loads(done.stdout)
    assert [(step["kind"], step["cuts"]) for step in data["steps"]] == [("order", []), ("re-cut", ["hall-1"])]
    assert data["steps"][0]["text"] == "order 4.200 m more of lot L 7, 2.000 m wide"
    (item,) = data["materials"]
    assert item["order"][0]["length_nm"] == 4_200_000_000
    assert item["goods_nm2"] == item["pieces_nm2"] + item["offcuts_nm2"] + item["waste_nm2"]


def test_quiet_prints_nothing(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    done = run("plan-again", house, "--state", state, "--out", tmp_path / "here", *QUICK, "--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "here" / "what-now.txt").exists()


def test_without_a_state_nothing_changes(run: Run, house: Path, tmp_path: Path) -> None:
    done = run("plan-again", house, *QUICK)
    assert done.exit_code == 0
    assert done.stdout.startswith("What to do now\n  Nothing changes: go on as planned.\n")
    assert (tmp_path / "out-again" / "plan.json").read_bytes() == house.read_bytes()
    assert {row["change"] for row in rows(tmp_path / "out-again" / "cut-list.csv")} == {""}


def test_rooms_measured_again_come_from_the_job_of_today(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    state.write_text("cut: Hall\n")
    (tmp_path / "now.yaml").write_text(HOUSE.replace("1.8 x 1.2", "1.8 x 1.5"))
    done = run("plan-again", house, "--state", state, "--job", tmp_path / "now.yaml", *QUICK)
    assert done.exit_code == 0, done.output
    assert "Nook" in done.stdout.split("House\n")[0]
    plan = load_plan(tmp_path / "out-again" / "plan.json")
    assert max(y for _, y in plan.job.rooms[2].outline) == 1_500_000_000


# --- what cannot be --------------------------------------------------------------------------------------------------


def test_a_fault_names_file_and_line_and_nothing_is_written(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    state.write_text("cut: 1-3\nlaid: [Den, Cellar]\nspoiled: {cut: 9, left: nothing}\n")
    done = run("plan-again", house, "--state", state, *QUICK)
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"error: {state}:2: laid[1]: there is no room, piece, roll or cut 'Cellar' in the plan" in done.stderr
    assert f"error: {state}:3: spoiled" in done.stderr
    assert not (tmp_path / "out-again").exists()


def test_what_contradicts_the_plan_is_a_fault_of_the_state(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    state.write_text("cut: Den\nflaws:\n  - {on: order-1, from start: 4.5, length: 0.2}\n")
    done = run("plan-again", house, "--state", state, *QUICK)
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"error: {state}:3: the flaw of order-1 lies in cut 2, which was made [flaw-in-cut]" in done.stderr
    assert not (tmp_path / "out-again").exists()


@pytest.mark.parametrize("missing", ["--state", "--job"])
def test_a_file_that_is_not_there_is_named(run: Run, house: Path, tmp_path: Path, missing: str) -> None:
    done = run("plan-again", house, missing, tmp_path / "no.yaml", *QUICK)
    assert done.exit_code == 2 and "no.yaml" in done.stderr and "Traceback" not in done.output
    assert not (tmp_path / "out-again").exists()


def test_results_cannot_go_where_a_file_is(run: Run, house: Path, state: Path) -> None:
    done = run("plan-again", house, "--state", state, "--out", state, *QUICK)
    assert done.exit_code == 2 and "[not-a-folder]" in done.stderr
    assert state.read_text() == STATE


def test_no_plan_can_be_where_the_lot_is_sold_out(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    """The hall has a seam: one of its drops is laid, the other spoiled, and no more of its lot can be had."""
    (tmp_path / "house.yaml").write_text(HOUSE.replace("Hall, rectangle: 1.8 x 4.0", "Hall, rectangle: 3.6 x 4.0"))
    run("plan", tmp_path / "house.yaml", "--out", tmp_path / "out", *QUICK)
    (first, second) = [row["number"] for row in rows(tmp_path / "out" / "cut-list.csv") if row["owner"] == "Hall"]
    state.write_text(
        "delivered: {roll: order-1, lot: L 7, more of this lot: no}\n"
        f"cut: all\nlaid: [{first}]\nspoiled: {{cut: {second}, left: nothing}}\n"
    )
    done = run("plan-again", house, "--state", state, *QUICK)
    assert done.exit_code == 3, done.output
    assert "no plan by the rules: " in done.stderr and "hall" in done.stderr.lower()
    assert done.stdout == "" and not (tmp_path / "out-again").exists()


def test_an_unsound_plan_is_not_planned_again(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    house.write_text(dump_plan(moved(load_plan(house))))
    done = run("plan-again", house, "--state", state, *QUICK)
    assert (done.exit_code, done.stdout) == (1, "")
    assert "error: the plan is not sound: V2" in done.stderr
    assert not (tmp_path / "out-again").exists()


def moved(plan: Plan) -> Plan:
    """Return the plan with its cuts off their rolls."""
    part = plan.materials[0]
    places = tuple(replace(place, x_nm=place.x_nm + 10**9) for place in part.placements)
    return replace(plan, materials=(replace(part, placements=places),))


def test_what_is_cut_and_was_moved_is_unsound(run: Run, again: Path) -> None:
    again.write_text(dump_plan(moved(load_plan(again))))
    done = run("check", again)
    assert done.exit_code == 1 and "V4x cut den-1: does not lie where it was cut from order-1" in done.stdout


# --- stopping --------------------------------------------------------------------------------------------------------


def test_a_limit_of_no_time_gives_a_sound_plan(run: Run, house: Path, state: Path, tmp_path: Path) -> None:
    done = run("plan-again", house, "--state", state, "--limit", 0, "--effort", 1000)
    assert done.exit_code == 0, done.output
    assert "round" not in done.stderr
    assert check_plan(load_plan(tmp_path / "out-again" / "plan.json")) == ()


@pytest.mark.slow
def test_ctrl_c_writes_the_best_plan_so_far(run: Run, tmp_path: Path) -> None:
    (tmp_path / "hostel.yaml").write_text(HOSTEL)
    run("plan", tmp_path / "hostel.yaml", "--out", tmp_path / "out", *QUICK, "--quiet")
    (tmp_path / "state.yaml").write_text("cut: 1-3\nspoiled: {cut: 3, left: nothing}\n")
    plan = tmp_path / "out" / "plan.json"
    more = "--state", str(tmp_path / "state.yaml"), "--workers", "1"
    process = running(plan, tmp_path / "again", *more, command="plan-again", until="round 1")
    os.killpg(process.pid, signal.SIGINT)
    out, err = ended(process)
    assert process.returncode == 130, err
    assert "Traceback" not in err and out.startswith("What to do now")
    after = load_plan(tmp_path / "again" / "plan.json")
    assert check_plan(after) == () and len(after.job.done) == 2


# --- the other commands on a plan of which something is done ---------------------------------------------------------


def test_it_checks_and_is_drawn_again_without_the_marks_of_what_changed(run: Run, again: Path, tmp_path: Path) -> None:
    assert run("check", again).stdout == "sound\n"
    done = run("draw", again, "--out", tmp_path / "drawn", "--quiet")
    assert done.exit_code == 0, done.output
    drawn = {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "drawn").glob("*.svg")}
    assert drawn.keys() == {path.name for path in again.parent.glob("*.svg")}
    assert not any("NEW" in text for text in drawn.values())
    assert drawn["room-den.svg"] == (again.parent / "room-den.svg").read_text(encoding="utf-8")


def test_it_can_be_planned_again_in_its_turn(run: Run, again: Path, tmp_path: Path) -> None:
    (tmp_path / "state.yaml").write_text("ordered: yes\nlaid: Nook\n")
    done = run("plan-again", again, "--state", tmp_path / "state.yaml", *QUICK)
    assert done.exit_code == 0, done.output
    plan = load_plan(tmp_path / "out-again-again" / "plan.json")
    assert {item.cut.state for item in plan.job.done} == {"laid"}
    assert sorted(cut.number for cut in plan.materials[0].cuts) == [2, 3, 4]


def test_planning_anew_from_it_says_that_the_work_has_begun(run: Run, again: Path, tmp_path: Path) -> None:
    asked = "plan", tmp_path / "house.yaml", "--out", tmp_path / "anew", "--earlier", again, *QUICK
    done = run(*asked)
    assert done.exit_code == 0, done.output
    assert "note: 2 cuts of the earlier plan are made, and here all is planned anew: `plan-again` plans" in done.stderr
    plan = load_plan(tmp_path / "anew" / "plan.json")
    assert check_plan(plan) == () and plan.job.done == ()
    assert {cut.state for cut in plan.materials[0].cuts} == {"planned"}
    assert run(*asked, "--quiet").stderr == ""


def test_why_accounts_for_what_is_there(run: Run, again: Path) -> None:
    """Of 8.6 m of 2 m there are the den and the nook, 1.915 x (3.115 + 1.315) m; the hall's 4.115 m are gone."""
    (found,) = json.loads(run("why", again, "--json", *QUICK).stdout)["materials"]
    roll, order = found["sources"]
    assert (roll["source"], roll["kind"], order["source"]) == ("order-1", "roll", "order-2")
    assert roll["goods_nm2"] == 2 * 8_600 * 10**15 - roll["gone_nm2"] == sum(part["nm2"] for part in roll["account"])
    pieces = 1_915 * (3_115 + 1_315) * 10**12
    rest = 2_000 * (8_600 - 8_595) * 10**12
    assert roll["goods_nm2"] == pieces + rest
    assert {item["id"] for item in found["rooms_and_pieces"]} == {"room:hall"}
    for answer in (found["as_it_is"], *found["rules"], *found["rooms_and_pieces"]):
        assert 0 <= answer["saves_at_least_nm2"] <= answer["saves_at_most_nm2"] <= found["roll_nm2"]
    text = run("why", again, *QUICK).stdout
    assert "order-1 (roll in hand): 8.600 m of 2.000 m wide, 8.71 m² of it gone" in text


def test_the_maps_of_why_leave_out_what_is_gone(again: Path) -> None:
    plan = load_plan(again)
    maps = why_maps(plan, why(plan, Settings(stop=lambda: True)))
    assert "gone: cut away before" in maps["goods-order-1.svg"]
    assert "gone" not in maps["goods-order-2.svg"]
    (roll,) = [source for source in plan.materials[0].sources if source.kind is SourceKind.ROLL]
    assert sum(rect.area_nm2 for rect in roll.gone) == 2 * 8_595 * 10**15 - 1_915 * (3_115 + 1_315) * 10**12
