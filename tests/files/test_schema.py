"""The published schema takes what the reader takes, in so far as a schema can say it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from nesting.files.job_file import json_schema, starter_job

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.yaml"))
TYPES: dict[str, Any] = {
    "object": dict,
    "array": list,
    "string": str,
    "boolean": bool,
    "integer": int,
    "number": (int, float),
}


def complaints(data: Any, schema: dict[str, Any], root: dict[str, Any], where: str = "") -> list[str]:
    """Return what a part of JSON Schema says against `data`: as much of it as the job's schema uses."""
    if "$ref" in schema:
        target = root["$defs"][schema["$ref"].rsplit("/", 1)[-1]]
        return complaints(data, target, root, where)
    if "anyOf" in schema:
        each = [complaints(data, arm, root, where) for arm in schema["anyOf"]]
        return [] if any(not found for found in each) else min(each, key=len)
    out: list[str] = []
    if "enum" in schema and data not in schema["enum"]:
        out.append(f"{where}: {data!r} not in {schema['enum']}")
    kinds = schema.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if kinds and not any(
        isinstance(data, TYPES[kind]) and (kind == "boolean") >= isinstance(data, bool) for kind in kinds
    ):
        return [f"{where}: {data!r} is no {kinds}"]
    if isinstance(data, dict):
        known = schema.get("properties", {})
        out += [f"{where}.{key}: unknown" for key in data if key not in known]
        out += [f"{where}.{key}: missing" for key in schema.get("required", ()) if key not in data]
        for key in set(data) & set(known):
            out += complaints(data[key], known[key], root, f"{where}.{key}")
    if isinstance(data, list):
        for i, item in enumerate(data):
            out += complaints(item, schema.get("items", {}), root, f"{where}[{i}]")
        if not schema.get("minItems", 0) <= len(data) <= schema.get("maxItems", len(data)):
            out.append(f"{where}: {len(data)} items")
    if isinstance(data, int) and not isinstance(data, bool) and data < schema.get("minimum", data):
        out.append(f"{where}: {data} too small")
    return out


def against_schema(text: str) -> list[str]:
    schema = json_schema()
    return complaints(YAML(typ="safe", pure=True).load(text), schema, schema)


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_the_starter_job_validates(unit: str) -> None:
    assert against_schema(starter_job(unit)) == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_the_examples_validate(path: Path) -> None:
    assert against_schema(path.read_text(encoding="utf-8")) == []


def test_single_items_and_short_forms_validate() -> None:
    text = (
        "job: A\nunit: m\ngoal: {kind: least roll, most seams: 2}\nmatch: [[A, B]]\n"
        "rules: {waive: [keep-out]}\noffcuts: {worth keeping: 50 x 50 cm}\n"
        "materials: [{name: C, widths: [2, 4 m], in sequence: yes, directed: true}]\n"
        "rooms: [{name: A, walk: [north 3, {go: east 4, wall: bay}, close], lay: north-south,\n"
        "    coves: [{walls: bay, height: 0}]}]\n"
    )
    assert against_schema(text) == []


@pytest.mark.parametrize(
    "text",
    [
        "job: A\nunit: m\n",
        "job: A\nunit: furlong\nmaterials: [{name: C}]\n",
        "job: A\nunit: m\nmaterials: [{name: C, wdth: 2}]\n",
        "job: A\nunit: m\nmaterials: [{name: C, directed: maybe}]\n",
        "job: A\nunit: m\nmaterials: [{name: C, width: [2]}]\n",
        "job: A\nunit: m\nmaterials: [{name: C}]\nloose pieces: [{name: Mat, size: 1 x 1, count: 0}]\n",
        "job: A\nunit: m\nmaterials: [{name: C}]\nrooms: [{name: A, corners: [[1, 2, 3]]}]\n",
    ],
)
def test_what_is_wrong_does_not_validate(text: str) -> None:
    assert against_schema(text)
