"""The suite's runner, its baselines and the stored best plans."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from benchmarks.baselines import METHODS, bare_of, plan_of
from benchmarks.suite import main
from benchmarks.suite_best import BEST_KINDS, FOLDER, SEED, entry_of, keep, stored, table_of
from benchmarks.suite_jobs import job_names, suite_job
from benchmarks.suite_run import Question, answer
from benchmarks.suite_table import README, RESULTS, in_readme, markdown
from nesting.checker import check_plan
from nesting.files.plan_file import dump_plan
from nesting.pipeline import Settings, plan_job

BEST = [f"{kind}-{pattern}" for kind, pattern in job_names(BEST_KINDS)]


@pytest.mark.parametrize("name", BEST)
def test_a_stored_best_plan_is_sound_and_worth_what_the_table_says(name: str) -> None:
    plan = stored(name, FOLDER)
    assert check_plan(plan) == ()
    assert table_of(FOLDER)[name] == entry_of(plan)
    kind, pattern = name.split("-", 1)
    assert plan.job == suite_job(kind, pattern, SEED), "the generator makes another job now: run --keep-best again"


def test_every_stored_plan_is_in_the_table() -> None:
    assert sorted(table_of(FOLDER)) == sorted(path.name.removesuffix(".json.gz") for path in FOLDER.glob("*.gz"))


def test_only_better_plans_are_kept(tmp_path: Path) -> None:
    plan = plan_job(suite_job("flat", "plain", rooms=4), Settings(effort=0)).plan
    assert plan is not None
    assert keep("flat-plain", dump_plan(plan), tmp_path)
    assert not keep("flat-plain", dump_plan(plan), tmp_path)
    assert stored("flat-plain", tmp_path) == plan and table_of(tmp_path)["flat-plain"] == entry_of(plan)
    other = plan_job(suite_job("flat", "plain", 2, rooms=4), Settings(effort=0)).plan
    assert other is not None
    assert keep("flat-plain", dump_plan(other), tmp_path)  # another job: the old plan is of no use


@pytest.mark.parametrize("pattern", ["plain", "half-drop"])
def test_baselines_give_lawful_plans(pattern: str) -> None:
    bare = bare_of(suite_job("flat", pattern, rooms=4))
    values = {}
    for name in ("by hand", "each room"):
        solution, said = METHODS[name](bare, 0.0, 1, 0)
        assert solution is not None, said
        values[name] = plan_of(bare, solution).materials[0]
    assert values["by hand"].measures.roll_nm2 > 0
    bounds = values["each room"].bounds
    assert bounds and all(bound.value <= bound.attained for bound in bounds)


def test_the_plain_model_says_what_came_of_it() -> None:
    bare = bare_of(suite_job("flat", "plain", rooms=4))
    solution, said = METHODS["plain model"](bare, 2.0, 1, 0)
    assert said
    if solution is not None:
        plan_of(bare, solution)


def test_a_plan_never_loses_to_the_hand_method() -> None:
    for kind, pattern, rooms in (("flat", "plain", 4), ("flat", "straight", 4), ("house", "half-drop", 8)):
        asked = Question(kind=kind, pattern=pattern, seed=2, method="first plan", seconds=1, workers=1, rooms=rooms)
        row = answer(asked)
        assert row["value_m"] <= row["hand_m"] + 0.5 * row["hand_seams"] + 0.001


def test_the_runner_writes_a_table_with_its_head(tmp_path: Path) -> None:
    out = tmp_path / "suite.json"
    done = CliRunner().invoke(
        main, ["--kinds", "flat", "--patterns", "straight", "--seconds", "1", "--workers", "1", "--out", str(out)]
    )
    assert done.exit_code == 0, done.output
    data = json.loads(out.read_text())
    assert {"commit", "versions", "seed", "limit", "cores"} <= data["head"].keys()
    first, ours = data["rows"]
    assert first["method"] == "first plan" and ours["method"] == "ours"
    assert ours["bound_m"] <= ours["value_m"] and first["bound_m"] <= first["value_m"]
    assert 0 <= ours["gap_ordered"] < 1 and ours["peak_mib"] > 20
    text = out.with_suffix(".md").read_text()
    assert text == markdown(data["head"], data["rows"])
    for word in ("commit", "flat, straight", "first plan s", "area below", "active bound", "on used"):
        assert word in text


def test_a_job_that_fails_has_its_row_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("benchmarks.suite.ROOT", tmp_path)  # there the measuring module is not found
    out = tmp_path / "suite.json"
    done = CliRunner().invoke(
        main, ["--kinds", "flat", "--patterns", "plain", "--seconds", "1", "--workers", "1", "--out", str(out)]
    )
    assert done.exit_code == 0, done.output
    assert all(row["said"].startswith("failed") for row in json.loads(out.read_text())["rows"])


def test_the_readme_has_the_table_of_the_stored_results() -> None:
    results = json.loads(RESULTS.read_text(encoding="utf-8"))
    text = README.read_text(encoding="utf-8")
    assert in_readme(text, results) == text, "run python -m benchmarks.suite_table"
    assert "python -m benchmarks.suite --baselines" in text
    assert RESULTS.with_suffix(".md").read_text(encoding="utf-8") == markdown(results["head"], results["rows"])
