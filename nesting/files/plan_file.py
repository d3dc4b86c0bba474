"""`plan.json`: the whole plan, enough to draw, check, price and plan again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, cast

from nesting.domain.plan import PLAN_FORMAT, Plan
from nesting.errors import Fault, JobError
from nesting.files.codec import CodecError, dump_json, from_data, load_json, to_data
from nesting.files.reading import read_text

LARGEST_PLAN_BYTES = 64_000_000

Migration = Callable[[dict[str, Any]], dict[str, Any]]

MIGRATIONS: Mapping[int, Migration] = {}
"""From format n to n + 1, by n. Empty as long as there is one format."""


def dump_plan(plan: Plan) -> str:
    """Return the plan as text: the same plan, the same bytes."""
    data = to_data(plan)
    return dump_json({"format": data.pop("format"), **data})


def load_plan(path: Path) -> Plan:
    """Return the plan in the file at `path`.

    Raises
    ------
    JobError
        If the file is missing or anything in it is malformed.
    """
    return parse_plan(read_text(path, most_bytes=LARGEST_PLAN_BYTES, what="plan"), file=str(path))


def parse_plan(text: str, *, file: str = "") -> Plan:
    """Return the plan that `text` holds; `file` is named in faults."""
    try:
        data = migrate(load_json(text))
        return cast(Plan, from_data(Plan, data))
    except CodecError as error:
        hint = "plan.json is written by the program; make it again from the job file"
        fault = Fault(code="bad-plan", what=error.what, where=error.where, hint=hint, file=file)
        raise JobError([fault]) from None


def migrate(data: Any, migrations: Mapping[int, Migration] = MIGRATIONS, to: int = PLAN_FORMAT) -> dict[str, Any]:
    """Return the plan's data in format `to`, one step after the other.

    Raises
    ------
    CodecError
        If there is no format number, or no way from it to `to`.
    """
    if not isinstance(data, dict):
        raise CodecError("", "not a plan: the file holds no object")
    number = data.get("format")
    if type(number) is not int:
        raise CodecError("format", "not a plan: there is no format number")
    if number > to:
        raise CodecError("format", f"the plan is of format {number}, this program reads up to {to}")
    while number < to:
        step = migrations.get(number)
        if step is None:
            raise CodecError("format", f"plans of format {number} can no longer be read")
        number += 1
        data = {**step(data), "format": number}
    return cast("dict[str, Any]", data)
