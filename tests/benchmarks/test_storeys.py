"""Drawn storeys become jobs, however messy the drawing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from benchmarks.storey_data import DrawnDoor, read_storeys, storey_of
from benchmarks.storeys import GoodsWanted, job_of, main
from nesting.errors import JobError
from nesting.units import MM_NM

HERE = Path(__file__).parent
SMALL = HERE / "small_storey.json"
SQUARE = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


def _storey(*rooms: Any, **more: Any) -> dict[str, Any]:
    return {"name": "Mill", "storey": "ground", "units": "mm", "rooms": list(rooms)} | more


def test_sound_data_pass_without_a_remark() -> None:
    (storey,) = read_storeys(SMALL)
    made = job_of(storey)
    assert storey.name == "Mill cottage ground floor"
    assert made.remarks == ()
    assert made.job is not None
    assert [room.name for room in made.job.rooms] == ["Hall", "Studio", "Pantry"]
    studio = made.job.rooms[1]
    assert len(studio.holes) == 1 and studio.holes[0].kind.value == "column"
    assert [len(room.doors) for room in made.job.rooms] == [3, 1, 1]
    (door,) = studio.doors
    assert {x for x, _ in door.line} == {3_050 * MM_NM} and {y for _, y in door.line} == {1_200 * MM_NM, 2_100 * MM_NM}


def test_the_goods_are_what_was_asked_for() -> None:
    (storey,) = read_storeys(SMALL)
    goods = GoodsWanted(widths=("2 m", "4 m"), longest="", lines=("repeat along: 64 cm", "match: straight"))
    job = job_of(storey, goods).job
    assert job is not None
    (material,) = job.materials
    assert material.widths_nm == (2_000 * MM_NM, 4_000 * MM_NM)
    assert material.longest_nm is None
    assert material.pattern is not None and material.pattern.along_nm == 640 * MM_NM


@pytest.mark.parametrize(
    "outline",
    [
        SQUARE[::-1],
        [*SQUARE, SQUARE[0]],
        [[0, 0], [0, 0], [4000, 0], [4000, 1], [4000, 3000], [1, 3000], [0, 3000]],
        [[0, 0], [2000, 0], [4000, 0], [4000, 3000], [2000, 3000], [0, 3000], [0, 1500]],
        [[0, 0], [4000, 0], [5000, 0], [4000, 0], [4000, 3000], [0, 3000]],
        [[0.2, -0.3], [4000.4, 0], [4000, 2999.8], [0, 3000]],
    ],
    ids=["clockwise", "closed", "doubled", "idle-corners", "spike", "fractions"],
)
def test_a_messy_rectangle_is_the_rectangle(outline: list[list[float]]) -> None:
    storey = storey_of(_storey({"name": "A", "outline": outline}))
    (room,) = storey.rooms
    assert len(room.outline) == 4
    for x, y in SQUARE:
        assert min(abs(x - a) + abs(y - b) for a, b in room.outline) <= 1
    job = job_of(storey).job
    assert job is not None and len(job.rooms) == 1


@pytest.mark.parametrize(
    ("door", "expected"),
    [
        ([1000, 0, 1900, 0], DrawnDoor(wall=1, start_mm=1000, width_mm=900)),
        ([1900, 0, 1000, 0], DrawnDoor(wall=1, start_mm=1000, width_mm=900)),
        ([1000, -120, 1900, -120], DrawnDoor(wall=1, start_mm=1000, width_mm=900)),
        ([3700, 0, 4200, 10], None),  # too little of it lies on the wall
        ([3400, 0, 4200, 0], DrawnDoor(wall=1, start_mm=3400, width_mm=600)),
        ([4010, 2000, 4010, 1100], DrawnDoor(wall=2, start_mm=1100, width_mm=900)),
        ([1000, 1500, 1900, 1500], None),
        ([1000, 0, 1000, 0], None),
        (["a", 0, 1000, 0], None),
        ([1, 2, 3], None),
        ("door", None),
    ],
)
def test_a_door_is_put_onto_its_wall_or_left_out_with_a_remark(door: Any, expected: DrawnDoor | None) -> None:
    storey = storey_of(_storey({"name": "A", "outline": SQUARE, "doors": [door]}))
    (room,) = storey.rooms
    assert room.doors == (() if expected is None else (expected,))
    assert expected is not None or any("left out" in remark for remark in storey.remarks)
    made = job_of(storey)
    assert made.job is not None and len(made.job.rooms[0].doors) == len(room.doors)


def test_doors_over_one_another_and_names_twice_are_said() -> None:
    doors = [[1000, 0, 1900, 0], [1500, 0, 2400, 0]]
    storey = storey_of(
        _storey({"name": "Bath", "outline": SQUARE, "doors": doors}, {"name": "BATH", "outline": SQUARE})
    )
    assert [room.name for room in storey.rooms] == ["Bath", "BATH (2)"]
    assert len(storey.rooms[0].doors) == 1
    assert len(storey.remarks) == 2
    job = job_of(storey).job
    assert job is not None and len({room.id for room in job.rooms}) == 2


@pytest.mark.parametrize(
    "room",
    [
        None,
        "room",
        {},
        {"name": "A", "outline": []},
        {"name": "A", "outline": [[0, 0], [1, 1]]},
        {"name": "A", "outline": [[0, 0], [4000, 0], [8000, 0]]},
        {"name": "A", "outline": [[0, 0], [4000, 3000], [4000, 0], [0, 3000]]},
        {"name": "A", "outline": [[0, 0], [1e300, 0], [0, 4000]]},
        {"name": "A", "outline": [[0, 0], [True, 0], [0, 4000]]},
        {"name": "A", "outline": "0,0 4000,0"},
    ],
)
def test_a_room_that_cannot_be_mended_is_left_out_and_said(room: Any) -> None:
    storey = storey_of(_storey(room, {"name": "Sound", "outline": SQUARE}))
    assert [kept.name for kept in storey.rooms] == ["Sound"]
    assert len(storey.remarks) == 1


def test_a_cut_out_that_the_reader_refuses_is_left_out_and_said() -> None:
    outside = [[9000, 0], [9300, 0], [9300, 300], [9000, 300]]
    inside = [[1000, 1000], [1300, 1000], [1300, 1300], [1000, 1300]]
    storey = storey_of(_storey({"name": "A", "outline": SQUARE, "holes": [outside, inside, "x"]}))
    made = job_of(storey)
    assert made.job is not None and len(made.job.rooms[0].holes) == 1
    assert any("cut-out-outside" in remark for remark in made.remarks)


def test_units_are_heeded_and_unknown_ones_refused() -> None:
    metres = [[x / 1000, y / 1000] for x, y in SQUARE]
    (room,) = storey_of(_storey({"name": "A", "outline": metres}, units="m")).rooms
    assert sorted(room.outline) == sorted((x, y) for x, y in SQUARE)
    assert storey_of(_storey({"name": "A", "outline": SQUARE}, units="cubits")).rooms == ()


@pytest.mark.parametrize("text", ["", "{", "[]", "[1]", '{"rooms": 3}', "[" * 5000])
def test_files_of_another_form_are_refused_with_the_file_named(text: str, tmp_path: Path) -> None:
    file = tmp_path / "other.json"
    file.write_text(text)
    with pytest.raises(JobError) as caught:
        read_storeys(file)
    assert str(file) in str(caught.value)
    done = CliRunner().invoke(main, [str(file), "--out", str(tmp_path / "out")])
    assert done.exit_code == 2 and not (tmp_path / "out").exists()


def test_the_command_writes_jobs_and_plans(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, [str(SMALL), "--out", str(tmp_path), "--plan", "--effort", "1"])
    assert done.exit_code == 0, done.output
    row = json.loads(done.stdout)
    assert row["outcome"] == "planned" and row["rooms"] == 3
    folder = tmp_path / "01-mill-cottage-ground-floor"
    assert {"job.yaml", "plan.json", "room-hall.svg", "cut-list.csv"} <= {path.name for path in folder.iterdir()}
