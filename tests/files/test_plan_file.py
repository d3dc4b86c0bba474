"""The plan file carries every value through, the same bytes every time, and refuses whatever is not a plan."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.job import Job
from nesting.domain.plan import PLAN_FORMAT, MaterialPlan, Plan
from nesting.errors import JobError
from nesting.files.codec import CodecError, dump_json, from_data, load_json, to_data
from nesting.files.plan_file import dump_plan, load_plan, migrate, parse_plan
from tests.files.small_plan import small_plan as a_plan
from tests.strategies import anything, stock_jobs

slow_to_draw = settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], max_examples=25)


# --- round trips -----------------------------------------------------------------------------------------------------


@slow_to_draw
@given(stock_jobs())
def test_jobs_come_back(job: Job) -> None:
    assert from_data(Job, load_json(dump_json(to_data(job)))) == job


@slow_to_draw
@given(anything(MaterialPlan))
def test_any_plan_of_a_material_comes_back(part: MaterialPlan) -> None:
    text = dump_json(to_data(part))
    again = from_data(MaterialPlan, load_json(text))
    assert again == part
    assert dump_json(to_data(again)) == text


@slow_to_draw
@given(anything(Job))
def test_any_job_comes_back(job: Job) -> None:
    assert from_data(Job, load_json(dump_json(to_data(job)))) == job


def test_a_plan_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text(dump_plan(a_plan()), encoding="utf-8")
    assert load_plan(path) == a_plan()


def test_rectangles_stay_named_tuples() -> None:
    rect = Rect(1, 2, 3, 4)
    assert to_data(rect) == [1, 2, 3, 4]
    assert isinstance(from_data(Rect, [1, 2, 3, 4]), Rect)


# --- the text --------------------------------------------------------------------------------------------------------


def test_the_text_is_ascii_ends_with_a_line_and_begins_with_the_format() -> None:
    text = dump_plan(a_plan())
    assert text.isascii() and text.endswith("}\n") and text.startswith('{\n  "format": 1,\n')
    assert json.loads(text)["job"]["name"] == a_plan().job.name


def test_no_line_is_longer_than_needed() -> None:
    lines = dump_plan(a_plan()).splitlines()
    assert max(map(len, lines)) <= 140
    assert any('"outline": [[' in line for line in lines)  # short lists stay on a line


@given(
    st.recursive(
        st.integers() | st.text() | st.none() | st.booleans(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
def test_the_layout_changes_no_value(data: Any) -> None:
    assert json.loads(dump_json(data)) == data


def test_the_text_is_as_kept(golden: Callable[[str, str], None]) -> None:
    golden("files/plan.json", dump_plan(a_plan()))


def test_a_float_is_never_written() -> None:
    with pytest.raises(TypeError):
        to_data((1, 2.5))
    with pytest.raises(TypeError):
        from_data(float, 2.5)


# --- refusals --------------------------------------------------------------------------------------------------------


def changed(change: Callable[[Any], None]) -> str:
    data = json.loads(dump_plan(a_plan()))
    change(data)
    return json.dumps(data)


def put(path: tuple[Any, ...], value: Any) -> str:
    """Return the plan with one value replaced."""

    def change(data: Any) -> None:
        for part in path[:-1]:
            data = data[part]
        data[path[-1]] = value

    return changed(change)


BAD: dict[str, tuple[str, str]] = {
    "nothing": ("", "not JSON"),
    "prose": ("Kitchen", "not JSON"),
    "a list": ("[]", "no object"),
    "no format": (changed(lambda data: data.pop("format")), "no format number"),
    "a format of text": (put(("format",), "1"), "no format number"),
    "a later format": (put(("format",), PLAN_FORMAT + 1), "reads up to"),
    "a lost format": (put(("format",), 0), "can no longer be read"),
    "an unknown field": (put(("colour",), 1), "unknown field 'colour'"),
    "a missing field": (changed(lambda data: data.pop("seed")), "seed: the field is missing"),
    "text for a number": (put(("seed",), "7"), "seed: a whole number is expected"),
    "true for a number": (put(("seed",), True), "seed: a whole number is expected"),
    "a number for text": (put(("job", "name"), 7), "job.name: text is expected"),
    "a float": (put(("seed",), 1.0), "is not a whole number"),
    "not a number": (put(("seed",), float("nan")), "is not a whole number"),
    "a number without end": (put(("seed",), 10**80), "digits is too long"),
    "an unknown name": (put(("job", "unit"), "furlong"), "is not one of mm, cm, m, in, ft"),
    "a list for an object": (put(("job", "goal"), []), "an object is expected"),
    "text for a list": (put(("job", "rooms"), "none"), "a list is expected"),
    "a point of three": (put(("job", "rooms", 0, "outline", 0), [1, 2, 3]), "a list of 2 is expected"),
    "a fraction not in lowest terms": (put(("job", "materials", 0, "repeat_tolerance"), "2/100"), "in lowest terms"),
    "a fraction over nothing": (put(("job", "materials", 0, "repeat_tolerance"), "1/0"), "in lowest terms"),
    "a key twice": ('{"format": 1, "format": 1}', "stands twice"),
    "half a character": (put(("job", "name"), "\ud800"), "half of a character"),
    "lists without end": ("[" * 100_000, "without end"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_plan_is_refused(name: str) -> None:
    text, words = BAD[name]
    with pytest.raises(JobError) as refused:
        parse_plan(text, file="plan.json")
    (fault,) = refused.value.faults
    assert fault.code == "bad-plan" and fault.file == "plan.json"
    assert words in str(fault)


@settings(max_examples=150)
@given(st.data())
def test_a_plan_with_any_value_spoiled_is_refused_or_read_but_never_raises(data: st.DataObject) -> None:
    plan = json.loads(dump_plan(a_plan()))
    here: Any = plan
    while isinstance(here, (dict, list)) and here:
        keys = sorted(here) if isinstance(here, dict) else list(range(len(here)))
        key = data.draw(st.sampled_from(keys))
        if not isinstance(here[key], (dict, list)) or not here[key] or data.draw(st.booleans()):
            here[key] = data.draw(
                st.none() | st.booleans() | st.integers() | st.text(max_size=3) | st.just([]) | st.just({})
            )
            break
        here = here[key]
    try:
        assert isinstance(parse_plan(json.dumps(plan)), Plan)
    except JobError as error:
        assert error.faults[0].code == "bad-plan"


def test_files_that_are_no_plan(tmp_path: Path) -> None:
    binary = tmp_path / "a.json"
    binary.write_bytes(b"\xff\xfe\x00")
    for path, code in ((binary, "not-text"), (tmp_path / "none.json", "no-file"), (tmp_path, "is-a-folder")):
        with pytest.raises(JobError) as refused:
            load_plan(path)
        assert refused.value.faults[0].code == code


# --- formats ---------------------------------------------------------------------------------------------------------


def test_a_field_with_a_default_may_be_missing() -> None:
    assert parse_plan(changed(lambda data: data.pop("consents"))) == dataclasses.replace(a_plan(), consents=())


def test_migrations_run_one_after_the_other() -> None:
    steps = {
        1: lambda data: {**data, "trail": [*data.get("trail", []), "one"]},
        2: lambda data: {**data, "trail": [*data["trail"], "two"]},
    }
    assert migrate({"format": 1}, steps, to=3) == {"format": 3, "trail": ["one", "two"]}
    assert migrate({"format": 3}, steps, to=3) == {"format": 3}
    with pytest.raises(CodecError, match="can no longer be read"):
        migrate({"format": 1}, {2: steps[2]}, to=3)
