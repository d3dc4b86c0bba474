"""Whatever stands in a job file, it is read or refused: nothing else happens, and soon."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import JobError
from nesting.files.job_file import ReadJob, parse_job, starter_job

JOINED = """\
job: A
unit: m
match: [[Den, Hall]]
materials:
  - {name: C, width: 4 m, selvedge: 1 cm, repeat along: 64 cm, repeat across: 50 cm, match: straight}
stock:
  - {id: R-1, width: 1 m, length: 5 m, first mark: '12 cm across, 30 cm along', lot: A,
     flaws: [{from start: 1, from left: 0, size: 1 x 1}]}
rooms:
  - name: Den
    sides: {south: 3, east: 4, north: 3, west: 4, diagonal: 5}
    alcoves: [{wall: south, centred: yes, width: 1, depth: 50 cm}]
    cut out: [{wall: east, from left: 0, width: 50 cm, depth: 50 cm}, {at: '1, 1', size: 30 x 30 cm}]
    doors: [{wall: west, from south: 1, width: 1, joins: Hall / door 1, wall thickness: 10 cm}]
    coves: [{walls: [south], height: 10 cm}]
    lay: [along south wall, 30°]
    pattern: {across: balanced, along: whole at north}
  - name: Hall
    corners: ['0, 0', '3, 0', '3, 3', '0, 3']
    doors: [{wall: wall 2, from south: 1, width: 1}]
    keep out: [{at: '1, 1', size: 1 x 1}]
    joints below: [{parallel to: wall 1, distance: 1}]
loose pieces: [{name: Mat, size: 50 x 50 cm, count: 2}]
strips: [{name: Cove, width: 10 cm, walls of: [Den]}]
"""
TEXTS = [starter_job("m"), starter_job("ft"), JOINED]
WORDS = [
    "0",
    "-1",
    "1e9",
    "nan",
    "~",
    "[]",
    "{}",
    "x",
    "yes",
    "1 x 1",
    "close",
    "north",
    "1/0",
    "'",
    '"',
    "10000 m",
    "\t",
    "&a",
    "*a",
    "9" * 50,
]


def test_the_jobs_to_spoil_are_sound() -> None:
    for text in TEXTS:
        assert isinstance(parse_job(text), ReadJob)


def read_or_refused(text: str) -> None:
    try:
        assert isinstance(parse_job(text, file="x.yaml"), ReadJob)
    except JobError as error:
        assert error.faults
        assert all(fault.code and fault.what for fault in error.faults)


@settings(max_examples=250)
@given(st.sampled_from(TEXTS), st.data())
def test_spoiled_values(text: str, data: st.DataObject) -> None:
    lines = text.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        head, colon, _ = lines[at].partition(": ")
        lines[at] = head + colon + data.draw(st.sampled_from(WORDS))
    read_or_refused("\n".join(lines))


@settings(max_examples=150)
@given(st.sampled_from(TEXTS), st.data())
def test_lines_lost_doubled_and_moved(text: str, data: st.DataObject) -> None:
    lines = text.splitlines()
    at, to = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
    line = lines[at]
    if data.draw(st.booleans()):
        del lines[at]
    lines[to:to] = [line] * data.draw(st.integers(0, 1))
    read_or_refused("\n".join(lines))


@settings(max_examples=150)
@given(st.sampled_from(TEXTS), st.data())
def test_signs_changed(text: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(text) - 1))
    sign = data.draw(st.sampled_from(list("0123456789.-x/:,[]{}'\"#&*!|>%@` \n\t")) | st.characters())
    read_or_refused(text[:at] + sign + text[at + 1 :])


@given(st.text(max_size=60))
def test_any_text(text: str) -> None:
    read_or_refused(text)


HEAD = "job: A\nunit: m\nmaterials: [{name: C, width: 2}]\n"


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "rooms: [{name: A, rectangle: '" + " " * 1_500_000 + "'}]\n",
        HEAD + "rooms: [{name: A, walk: ['" + "north " * 300_000 + "']}]\n",
        HEAD + "rooms:\n" + "  - {name: A!, rectangle: 1 x 1}\n" * 10_000,
        HEAD + "rooms:\n" + "".join(f"  - {{name: A{'!' * (n % 70)}{n}, rectangle: 1 x 1}}\n" for n in range(900)),
        HEAD + "rooms: [{name: A, corners: [" + "'0, 0', " * 12_000 + "]}]\n",
        HEAD + "rooms: [{name: A, corners: [" + ", ".join(f"'{n}, {n * n % 97}'" for n in range(1_900)) + "]}]\n",
        "a: " + "{b: " * 500_000,
        "%YAML 1.1\n---\n" + HEAD,
        "? " * 500_000,
        "- " * 500_000,
        "a: |\n" + "  x\n" * 400_000,
        "#" * 1_900_000,
        "&" * 1_900_000,
        "'" * 1_900_000,
    ],
)
def test_bombs_are_refused_soon(text: str) -> None:
    began = time.process_time()
    read_or_refused(text)
    assert time.process_time() - began < 10
