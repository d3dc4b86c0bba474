"""The runner reads both forms of file and prints placements that hold by arithmetic of their own."""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from benchmarks.nest import instance_of, main

STRIP = {"name": "three", "width": 7, "items": [[4, 5], [3, 2], [3, 3], [7, 1]]}
SHAPES = {
    "name": "corner",
    "roll_width": 6,
    "max_roll_len": 100,
    "rooms": [
        {
            "id": 1,
            "orientations": [1, 2, 3, 4],
            "rects": [
                {"len": 2, "wid": 6, "offset_by_ori": {"1": [0, 0], "2": [0, 3], "3": [3, 0], "4": [0, 0]}},
                {"len": 3, "wid": 2, "offset_by_ori": {"1": [2, 0], "2": [0, 0], "3": [0, 4], "4": [4, 2]}},
            ],
        },
        {"id": 2, "orientations": [1], "rects": [{"len": 3, "wid": 2, "offset_by_ori": {"1": [0, 0]}}]},
    ],
    "stairs": [{"id": 1, "steps": 6, "step_len": 1, "wid": 1, "max_breaks": 1, "min_steps_per_piece": 2}],
}


def lines(tmp_path: Path, capsys: pytest.CaptureFixture[str], *data: dict[str, Any]) -> list[dict[str, Any]]:
    """Run the runner on a file of `data`."""
    file = tmp_path / "data.json"
    file.write_text(json.dumps(list(data)), encoding="utf-8")
    assert main([str(file), "--seconds", "2"]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def assert_disjoint(boxes: list[tuple[int, int, int, int]], width: int, length: int) -> None:
    """Every box lies on the roll, no two overlap, and the last one ends at the length claimed."""
    assert max(box[3] for box in boxes) == length
    assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= width for box in boxes)
    for a, b in combinations(boxes, 2):
        assert a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]


def test_strips(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = lines(tmp_path, capsys, STRIP)
    assert (line["length"], line["bound"], line["proved"]) == (6, 6, True)
    boxes = [
        (x, y, x + STRIP["items"][k][0], y + STRIP["items"][k][1])  # type: ignore[index]
        for k, x, y in line["placements"]
    ]
    assert len(boxes) == 4
    assert_disjoint(boxes, 7, line["length"])


def test_shapes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = lines(tmp_path, capsys, SHAPES)
    # The second room and two halves of the steps go into the corner that the L leaves: 2 + 3 along.
    assert (line["length"], line["proved"]) == (5, True)
    boxes = []
    for number, orientation, along, across in line["placements"]["rooms"]:
        for rect in SHAPES["rooms"][number - 1]["rects"]:  # type: ignore[index]
            up, right = rect["offset_by_ori"][str(orientation)]
            length, width = (rect["len"], rect["wid"]) if orientation in (1, 3) else (rect["wid"], rect["len"])
            boxes.append((across + right, along + up, across + right + width, along + up + length))
    steps = 0
    for _, count, along, across in line["placements"]["stairs"]:
        assert count >= 2
        steps += count
        boxes.append((across, along, across + 1, along + count))
    assert steps == 6
    assert_disjoint(boxes, 6, line["length"])


def test_orientations_that_are_turns_become_turns_of_one_piece() -> None:
    room = instance_of(SHAPES).choices[0]
    assert len(room.options) == 1
    assert sorted(room.options[0].pieces[0].turns) == [0, 1, 2, 3]


def test_a_run_of_steps_is_cut_in_every_lawful_way() -> None:
    stair = instance_of(SHAPES).choices[2]
    assert [option.tag for option in stair.options] == ["6", "4 2", "3 3"]
