"""Pins in the job file and in words: what they become, where they lie, and what is said of bad ones."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Job
from nesting.domain.pins import OneLot, RoomPins
from nesting.errors import JobError
from nesting.files.job_file import parse_job
from nesting.files.plan_file import dump_plan
from nesting.pipeline import Settings, plan_job

MM = 1_000_000
M = 1_000 * MM

JOB = """\
job: Flat
unit: m
materials:
  - {name: Sheet, width: 2}
  - {name: Lino, width: 2}
stock:
  - {id: R-1, material: Sheet, width: 2, length: 4.2, lot: A}
  - {id: L-1, material: Lino, width: 2, length: 4.2, lot: A}
rooms:
  - name: Den
    material: Sheet
    rectangle: 5 x 4
    keep out:
      - {name: sink, wall: north, from west: 1, width: 1, depth: 0.6}
  - {name: Hall, material: Sheet, rectangle: 1.4 x 3}
  - {name: Bath, material: Lino, rectangle: 2 x 2}
"""


def job_with(*pins: str) -> Job:
    return parse_job(JOB, file="job.yaml", pins=pins).job


def in_file(*lines: str) -> Job:
    """Return the job with pins of the first room written into the file."""
    block = "".join(f"      {line}\n" for line in lines)
    text = JOB.replace("    rectangle: 5 x 4\n", f"    rectangle: 5 x 4\n    pins:\n{block}")
    return parse_job(text, file="job.yaml").job


def without_lines(pins: RoomPins) -> RoomPins:
    return replace(
        pins,
        seams=tuple(replace(seam, line=0) for seam in pins.seams),
        layout=None if pins.layout is None else replace(pins.layout, line=0),
        most_seams_line=0,
        sources_line=0,
        lay_line=0,
    )


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["seams: {parallel to: south, distance: 1.25}"], ["Den: seam 1.25 from south"]),
        (["seams:", "  - {from: '0, 1.5', to: '5, 1.5'}"], ["den: Seam from 0, 1.5 to 5, 1.5"]),
        (["most seams: 0"], ["Den: no seam"]),
        (["most seams: 2"], ["Den: at most 2 seams"]),
        (["cut from: R-1"], ["Den: cut from r-1"]),
        (
            [
                "seams:",
                "  - {parallel to: west, distance: 2.5}",
                "  - {parallel to: west, distance: 4}",
                "most seams: 3",
            ],
            ["Den: seam 2.5 from the west", "Den: seam at 4 m from west", "Den: at most 3 seams"],
        ),
    ],
)
def test_file_and_words_say_the_same(lines: list[str], words: list[str]) -> None:
    assert without_lines(in_file(*lines).rooms[0].pins) == without_lines(job_with(*words).rooms[0].pins)


def test_a_seam_lies_where_it_is_said() -> None:
    (seam,) = in_file("seams: {parallel to: south, distance: 1.25}").rooms[0].pins.seams
    assert (seam.start, seam.end) == ((0, 1250 * MM), (5 * M, 1250 * MM))
    assert seam.line == 14 and seam.name == "a seam 1.250 m from south"


def test_a_word_counts_instead_of_the_file_and_a_seam_is_added() -> None:
    text = JOB.replace("    rectangle: 5 x 4\n", "    rectangle: 5 x 4\n    pins: {most seams: 4}\n    lay: free\n")
    read = parse_job(text, pins=["Den: at most 1 seam", "Den: lay north-south"]).job
    assert read.rooms[0].pins.most_seams == 1
    assert set(read.rooms[0].lays) == {LayDirection(0, 1), LayDirection(0, -1)}


def test_rooms_of_one_lot() -> None:
    assert job_with("Hall, Den: one lot").one_lot == (OneLot(rooms=("hall", "den")),)
    assert parse_job(JOB + "one lot: [[Den, Hall]]\n").job.one_lot == (OneLot(rooms=("den", "hall"), line=17),)


def test_a_pinned_seam_goes_with_a_room_that_is_placed() -> None:
    text = JOB.replace("    rectangle: 5 x 4\n", "    rectangle: 5 x 4\n    at: '10, 20'\n")
    (seam,) = parse_job(text, pins=["Den: seam 1 from west"]).job.rooms[0].pins.seams
    assert {seam.start, seam.end} == {(11 * M, 20 * M), (11 * M, 24 * M)}


def test_a_seam_along_an_oblique_wall_runs_just_along_it() -> None:
    text = JOB.replace("rectangle: 5 x 4", "corners: [[0, 0], [4, 0], [5, 4], [0, 4]]").replace("north,", "wall 3,")
    (seam,) = parse_job(text, pins=["Den: seam 1.1 from wall 2"]).job.rooms[0].pins.seams
    assert LayDirection.towards(seam.end[0] - seam.start[0], seam.end[1] - seam.start[1]) == LayDirection(1, 4)


@pytest.mark.parametrize(
    ("pin", "code", "part"),
    [
        ("Den no seam", "bad-pin", "no room stands before a colon"),
        ("Den: tidy", "bad-pin", "does not say what is fixed"),
        ("Dan: no seam", "unknown-name", "there is no room 'Dan'"),
        ("Den: seam 1 from nort", "unknown-name", "there is no wall"),
        ("Den: seam 7 from west", "pin-outside", "does not lie on the floor"),
        ("Den: seam from 6, 0 to 6, 4", "pin-outside", "does not lie on the floor"),
        ("Den: seam 1.5 from west", "pin-in-keep-out", "runs through sink"),
        ("Den: seam from 1, 0 to 1, 0.2", "no-place", "do not say which way"),
        ("Den: seam soon from west", "bad-length", "soon"),
        ("Den: cut from R-7", "unknown-name", "there is no roll or remnant 'R-7'"),
        ("Den: cut from L-1", "pin-differs", "L-1 is of lino, and Den gets sheet"),
        ("Den: at most some seams", "wrong-type", "not a whole number"),
        ("Den: layout from gone.json", "no-file", "gone.json: there is no such plan file"),
        ("Den: one lot", "lot-of-one", "two or more"),
        ("Den, Bath: one lot", "lot-differs", "one material"),
        ("Den, Attic: one lot", "unknown-name", "there is no room 'Attic'"),
        ("Den: lay sideways", "bad-direction", "sideways"),
    ],
)
def test_a_bad_pin_is_named_as_it_was_typed(pin: str, code: str, part: str) -> None:
    with pytest.raises(JobError) as refused:
        job_with(pin)
    (fault,) = refused.value.faults
    assert (fault.code, fault.file, fault.line) == (code, f'--pin "{pin}"', 0)
    assert part in fault.what


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("seams: {parallel to: nort, distance: 1}", "unknown-name"),
        ("seams: {parallel to: north}", "missing-key"),
        ("seams: {distance: 1}", "no-place"),
        ("seams: {from: '1, 0'}", "no-place"),
        ("seams: {parallel to: west, distance: 1, from: '1, 0'}", "no-place"),
        ("seams: {parallel to: west, distance: 0}", "zero-size"),
        ("seams: {parallel to: west, distance: 1.5}", "pin-in-keep-out"),
        ("seam: {parallel to: west, distance: 1}", "unknown-key"),
        ("most seams: -1", "too-small"),
        ("cut from: [R-1, R-2]", "unknown-name"),
        ("layout from: gone.json", "no-file"),
    ],
)
def test_a_bad_pin_of_the_file_has_its_line(line: str, code: str) -> None:
    with pytest.raises(JobError) as refused:
        in_file(line)
    (fault,) = refused.value.faults
    assert (fault.code, fault.file, fault.line) == (code, "job.yaml", 14), fault


def test_a_seam_on_the_edge_of_a_zone_or_through_one_that_is_waived_is_no_fault() -> None:
    assert job_with("Den: seam 1 from west").rooms[0].pins.seams
    assert job_with("Den: seam 2 from west").rooms[0].pins.seams
    text = JOB.replace("    rectangle: 5 x 4\n", "    rectangle: 5 x 4\n    rules: {waive: keep-out}\n")
    assert parse_job(text, pins=["Den: seam 1.5 from west"]).job.rooms[0].pins.seams


def test_all_bad_pins_are_said_at_once() -> None:
    with pytest.raises(JobError) as refused:
        job_with("Den: tidy", "Hall: neat")
    assert len(refused.value.faults) == 2


# --- a layout of an earlier plan -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def earlier(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("old") / "plan.json"
    plan = plan_job(job_with(), Settings(effort=0)).plan
    assert plan is not None
    path.write_text(dump_plan(plan), encoding="utf-8")
    return path


def _layout_from(path: Path, text: str, file: str = "job.yaml") -> Job:
    block = f"    rectangle: 5 x 4\n    pins: {{layout from: {path.name}}}\n"
    return parse_job(text.replace("    rectangle: 5 x 4\n", block), file=str(path.parent / file)).job


def test_a_layout_is_looked_for_beside_the_job(earlier: Path) -> None:
    pin = _layout_from(earlier, JOB).rooms[0].pins.layout
    assert pin is not None and (pin.plan, pin.line) == ("plan.json", 13)
    plan = plan_job(job_with(), Settings(effort=0)).plan
    assert plan is not None
    (layout,) = (item for part in plan.materials for item in part.layouts if item.room_id == "den")
    assert (pin.direction, pin.seams_nm) == (layout.direction, tuple(seam.at_nm for seam in layout.seams))


def test_a_layout_goes_with_its_room(earlier: Path) -> None:
    pin = _layout_from(earlier, JOB).rooms[0].pins.layout
    moved = _layout_from(earlier, JOB.replace("    rectangle: 5 x 4\n", "    at: '10, 20'\n    rectangle: 5 x 4\n"))
    other = moved.rooms[0].pins.layout
    assert pin is not None and other is not None and pin.seams_nm
    by = {new - old for new, old in zip(other.seams_nm, pin.seams_nm, strict=True)}
    turned = {LayDirection(0, 1): 10 * M, LayDirection(1, 0): -20 * M}
    assert by == {turned[pin.direction]}


@pytest.mark.parametrize(
    ("old", "new", "code", "part"),
    [
        ("name: Den", "name: Nook", "unknown-name", "plan.json has no room 'Nook'"),
        ("rectangle: 5 x 4\n    pins", "rectangle: 5.01 x 4\n    pins", "pin-differs", "is another one"),
    ],
)
def test_a_layout_that_is_not_there_or_does_not_fit(earlier: Path, old: str, new: str, code: str, part: str) -> None:
    text = JOB.replace("    rectangle: 5 x 4\n", "    rectangle: 5 x 4\n    pins: {layout from: plan.json}\n")
    with pytest.raises(JobError) as refused:
        parse_job(text.replace(old, new), file=str(earlier.parent / "job.yaml"))
    (fault,) = refused.value.faults
    assert fault.code == code and part in fault.what


def test_a_plan_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text("{}", encoding="utf-8")
    with pytest.raises(JobError) as refused:
        _layout_from(tmp_path / "plan.json", JOB)
    assert refused.value.faults[0].code == "bad-plan" and refused.value.faults[0].line == 13
