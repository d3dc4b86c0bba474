"""The job file: read, checked, and turned into a `Job`; its schema; a starter job."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from nesting.domain.job import Job, Unit
from nesting.domain.plan import Notice
from nesting.errors import JobError
from nesting.files.faults import Faults
from nesting.files.job_entries import JobEntry
from nesting.files.job_reader import JobReader
from nesting.files.pin_words import with_pins
from nesting.files.reading import read_text
from nesting.files.what_if_words import named_changes, option, with_changes
from nesting.files.yaml_tree import LARGEST_JOB_BYTES, Tree, read_tree


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadJob:
    """A job as read, with what its user should know although nothing is wrong."""

    job: Job
    notices: tuple[Notice, ...] = ()


def read_job(path: Path, pins: Sequence[str] = ()) -> ReadJob:
    """Return the job in the file at `path`; `pins` in words are added to those that it has.

    Raises
    ------
    JobError
        With every fault found, each with its line.
    """
    return parse_job(read_text(path, most_bytes=LARGEST_JOB_BYTES, what="job"), file=str(path), pins=pins)


def parse_job(text: str, *, file: str = "", pins: Sequence[str] = ()) -> ReadJob:
    """Return the job that `text` describes; `file` is named in faults, and other files are looked for beside it.

    Raises
    ------
    JobError
        With every fault found, each with its line.
    """
    return _read(with_pins(read_tree(text, file), pins), file)


def _read(tree: Tree, file: str) -> ReadJob:
    """Return the job that the values of a file say."""
    faults = Faults(tree, file)
    if not isinstance(tree.data, dict):
        faults.add((), "not-a-job", "this is not a job file: keys such as `job:` and `rooms:` are expected")
        raise JobError(faults.found)
    job = JobReader(tree, faults, Path(file).parent).job()
    if faults.found or job is None:
        raise JobError(faults.found)
    return ReadJob(job=job, notices=tuple(faults.notices))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadVariant:
    """A job with changes as read, and what they are called."""

    name: str
    read: ReadJob


def read_variants(path: Path, changes: Sequence[str], taken: Sequence[str] = ()) -> tuple[ReadVariant, ...]:
    """Return the job in the file at `path` under each of the changes, `NAME: CHANGE; CHANGE`.

    `taken`: names that are not free. A variant's notices are those that the job as it is does not have.

    Raises
    ------
    JobError
        With every fault found, of the file, or else of the changes.
    """
    return parse_variants(read_text(path, most_bytes=LARGEST_JOB_BYTES, what="job"), changes, taken, file=str(path))


def parse_variants(
    text: str, changes: Sequence[str], taken: Sequence[str] = (), *, file: str = ""
) -> tuple[ReadVariant, ...]:
    """Return the job that `text` describes under each of the changes; see `read_variants`."""
    tree = read_tree(text, file)
    base = _read(tree, file)
    found: list[ReadVariant] = []
    names, faults = named_changes(changes, taken)
    for change, name in names.items():
        try:
            read = _changed(tree, change, file)
            own = tuple(notice for notice in read.notices if notice not in base.notices)
            found.append(ReadVariant(name=name, read=replace(read, notices=own)))
        except JobError as error:
            faults += error.faults
    if faults:
        raise JobError(faults)
    return tuple(found)


def _changed(tree: Tree, change: str, file: str) -> ReadJob:
    """Return a sound job with changes; what is wrong then in other parts of its file is a fault of these too."""
    changed = with_changes(tree, change)
    if isinstance(changed, list):
        raise JobError(changed)
    try:
        read = _read(changed.tree, file)
    except JobError as error:
        by = option(change)
        faults = [one if one.file == by else replace(one, what=f"{one.what}, with {by}") for one in error.faults]
        raise JobError(faults) from None
    own = tuple(Notice(code="what-if", text=text) for text in changed.notices)
    return replace(read, notices=(*read.notices, *own))


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the job file, for editors that complete and check.

    Keys are written with spaces; the reader takes hyphens and underscores for spaces as well.
    """
    schema = _without_null(JobEntry.model_json_schema(by_alias=True, mode="validation"))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "Job file"}


def _without_null(part: Any) -> Any:
    """Return a schema in which a key that may be left out is not one that may be null."""
    if isinstance(part, list):
        return [_without_null(item) for item in part]
    if not isinstance(part, dict):
        return part
    out = {name: _without_null(value) for name, value in part.items() if not (name == "default" and value is None)}
    arms = out.get("anyOf")
    if isinstance(arms, list) and {"type": "null"} in arms:
        rest = [arm for arm in arms if arm != {"type": "null"}]
        del out["anyOf"]
        out = {**rest[0], **out} if len(rest) == 1 else {"anyOf": rest, **out}
    return out


def starter_job(unit: str = "m") -> str:
    """Return a commented job to begin with; bare numbers are in `unit`: mm, cm, m, in or ft.

    Raises
    ------
    ValueError
        If there is no such unit.
    """
    kind = Unit(unit)
    name = "starter-metric.yaml" if kind in (Unit.MM, Unit.CM, Unit.M) else "starter-feet.yaml"
    text = files("nesting.files").joinpath(name).read_text(encoding="utf-8")
    return re.sub(r"^unit: \w+", f"unit: {kind}", text, count=1, flags=re.MULTILINE)
