"""The command `why`: its page adds up, its data are exact, and it says no more than it knows."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from cli.why_maps import ROLES, map_of, why_maps
from cli.why_page import MOST_TABLES, SAID, why_data, why_lines
from nesting.domain.material import Sale
from nesting.domain.plan import Consent, Plan
from nesting.domain.rules import RuleId
from nesting.estimating.account import IN_PIECES, Reason, empty_places
from nesting.estimating.why import why
from nesting.files.plan_file import dump_plan, load_plan
from nesting.pipeline import Settings, plan_job
from tests.cli.conftest import Run
from tests.making import ALONG_X, ALONG_Y, MM, M, goods, job, planned_whole, rectangle, room

HAND = "--effort", 0


def page(plan: Plan, *, effort: int = 0) -> list[str]:
    return why_lines(plan, why(plan, Settings(effort=effort)))


def tables(lines: list[str]) -> list[list[tuple[str, float, float]]]:
    """Return the (words, m², %) of the rows of every account on a page, the last row the sum."""
    found: list[list[tuple[str, float, float]]] = [[]]
    for line in lines:
        row = re.match(r"^ +(\S.*?)  .*?([\d.]+) m² +([\d.]+) %", line)
        if row:
            found[-1].append((row[1], float(row[2]), float(row[3])))
        elif found[-1]:
            found.append([])
    return [table for table in found if table]


def test_the_page_says_what_binds_and_where_the_goods_go(run: Run, planned: Path) -> None:
    done = run("why", planned / "plan.json", *HAND)
    assert done.exit_code == 0, done.output
    for words in (
        "Hut",
        "to order",
        "With every rule kept",
        "the trim at the walls",
        "Roll saved if not in the job",
        "Den",
    ):
        assert words in done.stdout
    (table,) = tables(done.stdout.splitlines())
    assert table[-1][0] == "all goods" and table[-1][2] == 100.0
    assert "sheet: as it is (1 of " in done.stderr


def test_shares_and_areas_of_every_table_add_up(run: Run, planned: Path) -> None:
    # Three rolls of at most 7 m for three rooms: a table for all of them and one for each.
    rooms = [room(rectangle(1_900 * MM, 5 * M + n), f"room {n}", trim_nm=51 * MM) for n in range(3)]
    plan = planned_whole(job(rooms, goods(2_050 * MM, longest_nm=7 * M, squaring_nm=33 * MM)), effort=0)
    lines = page(plan)
    found = tables(lines)
    assert len(found) == 4
    for table in found:
        assert round(sum(share for _, _, share in table[:-1]), 1) == 100.0
        assert round(sum(area for _, area, _ in table[:-1]), 2) == table[-1][1]
    assert "order-3" in "\n".join(lines)
    one = [line.strip() for line in lines if line.startswith("  order-")]
    sizes = [f"{source.length_nm / MM:.7g} mm of 2050 mm wide" for source in plan.materials[0].sources]
    assert one == [f"order-{number}: {size}" for number, size in enumerate(sizes, start=1)]


def test_many_rolls_are_told_in_all_only(planned: Path) -> None:
    rooms = [room(rectangle(2 * M, 3 * M), f"room {n}") for n in range(MOST_TABLES + 2)]
    plan = planned_whole(job(rooms, goods(2 * M, longest_nm=3 * M)), effort=0)
    lines = page(plan)
    assert len(tables(lines)) == 1 + MOST_TABLES
    assert lines[-1] == "  2 more are in the output of --json"


def test_the_data_are_exact(run: Run, planned: Path) -> None:
    done = run("why", planned / "plan.json", "--json", "--quiet", *HAND)
    (item,) = json.loads(done.stdout)["materials"]
    plan = load_plan(planned / "plan.json").materials[0]
    assert sum(part["nm2"] for part in item["account"]) == item["goods_nm2"] == plan.account.goods_nm2
    assert sum(part["per_mille"] for part in item["account"]) == 1000
    assert [part["reason"] for part in item["account"]] == [reason.value for reason in Reason]
    for source in item["sources"]:
        assert sum(part["nm2"] for part in source["account"]) == source["width_nm"] * source["length_nm"]
    assert item["roll_nm2"] == plan.measures.roll_nm2
    for answer in (item["as_it_is"], *item["rules"], *item["rooms_and_pieces"]):
        assert 0 <= answer["saves_at_least_nm2"] <= answer["saves_at_most_nm2"] <= item["roll_nm2"]
    assert item["rooms_and_pieces"][0]["owners"] == ["den"]
    assert item["rooms_and_pieces"][0]["saves_at_least_nm2"] == item["roll_nm2"]
    assert done.stderr == ""


def test_every_reason_has_words() -> None:
    assert list(SAID) == list(Reason)
    assert len(set(SAID.values())) == len(SAID)


def test_a_rule_that_costs_is_named_with_both_numbers() -> None:
    # See the worked answer in tests/estimating: a fixed lay that costs exactly 1 m.
    hall = room(rectangle(2 * M, 5 * M), "hall", lays=(ALONG_X,))
    plan = planned_whole(job([hall], goods(2 * M)), effort=0)
    (line,) = [line for line in page(plan) if "the fixed lay direction" in line]
    assert line.split("  ")[1:] and re.findall(r"\d+ mm", line) == ["1000 mm", "1000 mm"]
    assert line.endswith("2 seams fewer")
    free = replace(plan, job=replace(plan.job, rooms=(replace(hall, lays=()),)))
    lines = page(free)
    assert "looking again found a plan with 1000 mm less" in "\n".join(lines)
    assert "  With every rule kept, no plan orders less: that is proved." in lines


def test_there_is_no_time_to_ask(run: Run, planned: Path) -> None:
    done = run("why", planned / "plan.json", "--limit", 0)
    assert done.exit_code == 0
    assert "No time to ask: as it is, " in done.stdout and "With every rule kept" not in done.stdout
    assert tables(done.stdout.splitlines())


def test_an_unsound_plan_is_not_explained(run: Run, planned: Path, tmp_path: Path) -> None:
    plan = load_plan(planned / "plan.json")
    part = plan.materials[0]
    moved = tuple(replace(place, x_nm=place.x_nm + 10**9) for place in part.placements)
    broken = replace(plan, materials=(replace(part, placements=moved),))
    (tmp_path / "plan.json").write_text(dump_plan(broken))
    done = run("why", tmp_path / "plan.json")
    assert done.exit_code == 1 and done.stdout == ""
    assert "error: the plan is not sound: V2" in done.stderr


def test_a_plan_against_the_rules_says_so(planned: Path) -> None:
    den = room(rectangle(2 * M, 3 * M), "den", lays=(ALONG_Y,))
    plan = planned_whole(job([den], goods(2 * M)), effort=0)
    plan = replace(plan, consents=(Consent(rule=RuleId.ACCESS, owner="den", text=""),))
    lines = page(plan)
    assert lines[3].startswith("NOT BY THE RULES")
    assert tables(lines) and "With every rule kept" not in "\n".join(lines)


@pytest.mark.slow
def test_the_number_of_workers_changes_nothing(run: Run, planned: Path) -> None:
    one = run("why", planned / "plan.json", "--effort", 1, "--json")
    assert one.exit_code == 0
    assert run("why", planned / "plan.json", "--effort", 1, "--json", "--workers", 2).stdout == one.stdout


def test_the_same_plan_has_the_same_data() -> None:
    outcome = plan_job(job([room(rectangle(3 * M, 4 * M))], goods(2 * M)), Settings(effort=0))
    assert outcome.plan is not None
    first, second = (why_data(outcome.plan, why(outcome.plan, Settings(effort=1)), seed=0, effort=1) for _ in range(2))
    assert first == second


def test_rules_that_save_nothing_stand_together() -> None:
    plan = planned_whole(job([room(rectangle(2 * M, 3 * M), trim_nm=0)], goods(2 * M)), effort=0)
    (found,) = why(plan, Settings(effort=0))
    assert found.as_it_is is not None
    text = "\n".join(why_lines(plan, (found,)))
    assert "Nothing can be saved without: the least breadth, the limit on cross seams, not turning" in text
    assert "at least" in text and "not ruled out" not in text
    unsure = replace(found.rules[0], most_nm2=30 * MM * 2 * M, stopped=True)
    lines = why_lines(plan, (replace(found, rules=(unsure, *found.rules[1:])),))
    assert f"  up to 30 mm  {unsure.words}" in lines
    assert "  The time was too short for 1 of these: with more of it they may say more." in lines
    assert all(len(line) <= 100 for line in lines)


def test_maps_are_written_beside_what_is_there(run: Run, planned: Path, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes((planned / "plan.json").read_bytes())
    (tmp_path / ".rollwright-written").write_text("plan.json\n")
    done = run("why", tmp_path / "plan.json", "--out", tmp_path, "--quiet", *HAND)
    assert (done.exit_code, done.stdout) == (0, "")
    names = {path.name for path in tmp_path.iterdir() if not path.name.startswith(".")}
    assert names == {"plan.json", "goods-order-1.svg"}
    assert "floor covered" in (tmp_path / "goods-order-1.svg").read_text(encoding="utf-8")
    taken = tmp_path / "goods-order-1.svg"
    assert run("why", tmp_path / "plan.json", "--out", taken, *HAND).exit_code == 2


def test_the_maps_show_the_account() -> None:
    # One map a roll; what is empty on it is as much as the account says, and lies where no piece does.
    rooms = [room(rectangle(1_900 * MM, 5 * M + n), f"room {n}", trim_nm=51 * MM) for n in range(2)]
    its = goods(2_050 * MM, longest_nm=7 * M, squaring_nm=33 * MM, sale=Sale(order_step_nm=100 * MM))
    plan = planned_whole(job(rooms, its), effort=0)
    found = why(plan, Settings(stop=lambda: True))
    assert list(why_maps(plan, found)) == ["goods-order-1.svg", "goods-order-2.svg"]
    part, places = plan.materials[0], empty_places(plan.job, plan.materials[0])
    for account, source in zip(found[0].accounts, part.sources, strict=True):
        drawn = map_of(plan.job, part, source, account, places[source.id])
        empty = {area.text.rsplit(" ", 2)[0]: sum(rect.area_nm2 for rect in area.rects) for area in drawn.areas}
        assert empty == {SAID[item.reason]: item.nm2 for item in account.parts[7:] if item.nm2}
        pieces = sum(rect.area_nm2 for piece in drawn.pieces for rect in piece.rects)
        assert pieces + sum(empty.values()) == account.goods_nm2
    assert set(ROLES) == set(Reason) - IN_PIECES
