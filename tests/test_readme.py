"""The README says what is true: its commands, its options, its keys, its jobs."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest

from cli.main import main
from nesting.checker import check_plan
from nesting.domain.rules import RuleId
from nesting.errors import JobError
from nesting.files.front_tables import FRONT_COLUMNS
from nesting.files.job_file import json_schema, parse_job
from nesting.files.sundry_tables import SUNDRY_COLUMNS
from nesting.files.tables import CUT_COLUMNS, ORDER_COLUMNS, REMNANT_COLUMNS
from nesting.files.what_if_tables import WHAT_IF_COLUMNS
from nesting.pipeline import Settings, plan_job

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", TEXT, re.DOTALL | re.MULTILINE)
JOBS = [body for language, body in BLOCKS if language == "yaml"]

PLAN_COMMAND = (
    "python3 -m venv .venv && .venv/bin/pip install -q -e . && "
    ".venv/bin/rollwright plan examples/clinic/job.yaml --out out/clinic\n"
)
TEST_COMMAND = "python3 -m venv .venv && .venv/bin/pip install -q -e '.[test]' && .venv/bin/pytest -q\n"


def test_it_opens_with_one_paragraph_and_the_two_commands() -> None:
    assert [body for language, body in BLOCKS if language == "sh"] == [PLAN_COMMAND, TEST_COMMAND]
    head, paragraph, first, second = TEXT.split("\n\n")[:4]
    assert head == "# Rollwright" and paragraph.startswith("Rollwright plans ")
    assert first == f"```sh\n{PLAN_COMMAND}```" and second == f"```sh\n{TEST_COMMAND}```"


def test_every_link_and_picture_is_there() -> None:
    targets = re.findall(r"\]\(([^)#]+)\)", TEXT)
    assert any(target.endswith(".svg") for target in targets)
    for target in targets:
        assert (ROOT / target).is_file(), target
    headings = {re.sub(r"[^\w -]", "", line.lstrip("# ").lower()).replace(" ", "-") for line in TEXT.splitlines()}
    assert set(re.findall(r"\]\(#([^)]+)\)", TEXT)) <= headings


@pytest.mark.parametrize("text", JOBS, ids=[job.splitlines()[0].removeprefix("job: ") for job in JOBS])
def test_every_job_reads_and_plans(text: str) -> None:
    read = parse_job(text, file="README.md")
    outcome = plan_job(read.job, Settings(effort=2))
    assert outcome.refusals == () and outcome.plan is not None
    assert not check_plan(outcome.plan)


def test_the_first_job_is_under_ten_lines() -> None:
    assert len(JOBS[0].splitlines()) < 10


def _commands() -> Iterator[tuple[str, click.Command]]:
    assert isinstance(main, click.Group)
    yield from main.commands.items()


def _section(name: str) -> str:
    found = re.search(rf"^### `rollwright {name}\b.*?(?=^### )", TEXT, re.DOTALL | re.MULTILINE)
    assert found, f"README.md has no section on `rollwright {name}`"
    return found[0]


def _rack_commands() -> list[click.Command]:
    group = dict(_commands())["rack"]
    assert isinstance(group, click.Group)
    return list(group.commands.values())


def test_every_command_and_option_of_the_rack_is_documented() -> None:
    section = _section("rack")
    for command in _rack_commands():
        assert f"`rack {command.name}" in section, command.name
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert re.search(rf"{max(parameter.opts, key=len)}\b", section), (command.name, parameter.opts)


@pytest.mark.parametrize("name", [name for name, _ in _commands() if name != "rack"])
def test_every_command_and_option_is_documented(name: str) -> None:
    section = _section(name)
    for parameter in dict(_commands())[name].params:
        if isinstance(parameter, click.Option):
            assert f"`{max(parameter.opts, key=len)}" in section, parameter.opts
        else:
            assert (parameter.metavar or str(parameter.name).upper()) in section.splitlines()[0]


def test_no_option_is_documented_that_is_not_there() -> None:
    commands = [*(command for _, command in _commands()), *_rack_commands()]
    known = {option for command in commands for parameter in command.params for option in parameter.opts}
    assert set(re.findall(r"`(--[a-z-]+)", TEXT)) <= known | {"--version", "--help"}


def test_every_exit_code_is_documented() -> None:
    table = TEXT.split("### Exit codes")[1].split("```")[0]
    assert re.findall(r"^\| (\d+) \|", table, re.MULTILINE) == ["0", "1", "2", "3", "70", "130"]
    assert main.help is not None
    assert {int(code) for code in re.findall(r"\b\d+\b", main.help)} == {0, 1, 2, 3, 70, 130}


def _keys(schema: Any) -> Iterator[str]:
    if isinstance(schema, dict):
        for key, value in schema.items():
            if key == "properties":
                yield from value
            yield from _keys(value)
    elif isinstance(schema, list):
        for item in schema:
            yield from _keys(item)


def test_every_key_of_the_job_file_is_shown() -> None:
    shown = "\n".join(JOBS)
    missing = [
        key
        for key in sorted(set(_keys(json_schema())))
        if not re.search(rf"(?:^|[{{,\s]){re.escape(key)}:", shown, re.MULTILINE)
        and not re.search(rf"`{re.escape(key)}[:`]", TEXT)
    ]
    assert missing == []


def test_every_rule_that_can_be_waived_is_named() -> None:
    assert [rule.value for rule in RuleId if f"`{rule.value}`" not in TEXT] == []


def test_every_column_is_named() -> None:
    for file, columns in (
        ("cut-list.csv", CUT_COLUMNS),
        ("remnants.csv", REMNANT_COLUMNS),
        ("order.csv", ORDER_COLUMNS),
        ("sundries.csv", SUNDRY_COLUMNS),
        ("front.csv", FRONT_COLUMNS),
        ("what-if.csv", WHAT_IF_COLUMNS),
    ):
        (row,) = re.findall(rf"^\| `{file}` \| (`.*`) \|$", TEXT, re.MULTILINE)
        assert re.findall(r"`([^`]+)`", row) == list(columns)


def test_the_error_shown_is_the_error_given() -> None:
    (shown,) = [body for language, body in BLOCKS if language == "text"]
    lines = ["job: Flat", "unit: mm", "materials: [{name: Sheet, width: 2 m}]", "rooms:"]
    lines += ["  - {name: Den, rectangle: 3000 x 2500}", "  - {name: Bath, rectangle: 2100 x 1800}"]
    lines += ["  - name: Kitchen", "    walk: [north 2800, east 3600, south 2890, west 3600]"]
    with pytest.raises(JobError) as caught:
        parse_job("\n".join(lines), file="kitchen.yaml")
    assert f"error: {caught.value}\n" == shown


def test_the_packages_that_are_needed_are_those_declared() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == ">=3.11" and "Python 3.11" in TEXT
    assert project["scripts"] == {"rollwright": "cli.main:main"}
