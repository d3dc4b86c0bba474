"""Run the engine on files of packing data: `python -m benchmarks.nest FILE [--only NAME ...] [--seconds S] ...`.

Two forms of file are read. *Strips*: a list of objects with `name`, `width` and `items` [[across, along], …],
rectangles for one roll whose used length is to be least, nothing turned. *Shapes*: a list of objects with `name`,
`roll_width`, `max_roll_len`, `rooms` (rigid pieces of several rectangles, with the turns allowed) and `stairs` (runs of
equal steps that may be cut into several pieces). One JSON line per instance goes to stdout.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

from nesting.model.instance import Box, Choice, Instance, Option, OrderTerms, Piece, Solution, Source, Weights
from nesting.model.shapes import turned_boxes
from nesting.search.engine import EngineResult, solve
from nesting.search.workers import Workers

USED_LENGTH = Weights(levels=((0, 1, 0, 0, 0, 0, 0),))
ENDLESS = 10**6
"""Effort for a run that only its time ends."""


def instance_of(data: dict[str, Any]) -> Instance:
    """Return the instance that an object of either form describes, in the file's own units."""
    if "items" in data:
        choices = [
            Choice(id=f"{k}", options=(Option(pieces=(Piece(id=f"{k}", boxes=((0, 0, w, h),)),)),))
            for k, (w, h) in enumerate(data["items"])
        ]
        return _on_one_roll(choices, data["width"], sum(h for _, h in data["items"]))
    rooms = [Choice(id=f"room {room['id']}", options=_options_of_room(room)) for room in data["rooms"]]
    stairs = [Choice(id=f"stair {stair['id']}", options=tuple(_options_of_stair(stair))) for stair in data["stairs"]]
    return _on_one_roll([*rooms, *stairs], data["roll_width"], data["max_roll_len"])


def _on_one_roll(choices: list[Choice], width: int, length: int) -> Instance:
    """Return the instance whose only goal is the length used of one roll; its made width counts as 1."""
    roll = Source(id="roll", width=width, length=length, lot="roll", made_width=1, terms=OrderTerms())
    return Instance(unit_nm=Fraction(1), choices=tuple(choices), sources=(roll,), weights=USED_LENGTH)


def boxes_of_room(room: dict[str, Any], orientation: int) -> tuple[Box, ...]:
    """Return the boxes (across, along) of a room in one of its orientations."""
    boxes = []
    for rect in room["rects"]:
        along, across = rect["offset_by_ori"][str(orientation)]
        length, width = rect["len"], rect["wid"]
        if orientation in (2, 4):
            length, width = width, length
        boxes.append((across, along, across + width, along + length))
    return tuple(sorted(boxes, key=lambda box: (box[1], box[0])))


def _options_of_room(room: dict[str, Any]) -> tuple[Option, ...]:
    """Return one option with turns if the file's orientations are turns of one shape, else one per orientation."""
    first = boxes_of_room(room, room["orientations"][0])
    by_turn = {turned_boxes(first, turn): turn for turn in (3, 2, 1, 0)}
    shapes = [boxes_of_room(room, orientation) for orientation in room["orientations"]]
    if all(shape in by_turn for shape in shapes):
        turns = tuple(by_turn[shape] for shape in dict.fromkeys(shapes))
        return (Option(pieces=(Piece(id=f"{room['id']}", boxes=first, turns=turns),)),)
    return tuple(Option(pieces=(Piece(id=f"{room['id']}", boxes=shape),)) for shape in dict.fromkeys(shapes))


def _options_of_stair(stair: dict[str, Any]) -> Iterator[Option]:
    """Yield one option per way to cut a run of steps into pieces, longest piece first; the tag holds their steps."""
    for parts in _partitions(stair["steps"], stair["max_breaks"] + 1, max(1, stair["min_steps_per_piece"])):
        pieces = tuple(
            Piece(id=f"{stair['id']}-{k}", boxes=((0, 0, stair["wid"], steps * stair["step_len"]),))
            for k, steps in enumerate(parts)
        )
        yield Option(pieces=pieces, tag=" ".join(map(str, parts)))


def _partitions(total: int, most: int, least: int, largest: int | None = None) -> Iterator[tuple[int, ...]]:
    """Yield the falling sequences of at most `most` numbers, each at least `least`, that add up to `total`."""
    if total == 0:
        yield ()
        return
    if most == 0:
        return
    for first in range(min(total, largest or total), least - 1, -1):
        for rest in _partitions(total - first, most - 1, least, first):
            yield (first, *rest)


def placements_of(data: dict[str, Any], instance: Instance, solution: Solution) -> object:
    """Return the placements in the form that goes with the file's form."""
    if "items" in data:
        return [[k, spots[0].x, spots[0].y] for k, spots in enumerate(solution.spots)]
    rooms, stairs = [], []
    for number, (choice, taken, spots) in enumerate(
        zip(instance.choices, solution.options, solution.spots, strict=True)
    ):
        option = choice.options[taken]
        if number < len(data["rooms"]):
            room, spot = data["rooms"][number], spots[0]
            lies = turned_boxes(option.pieces[0].boxes, spot.turn)
            orientation = next(o for o in room["orientations"] if boxes_of_room(room, o) == lies)
            rooms.append([room["id"], orientation, spot.y, spot.x])
        else:
            stair = data["stairs"][number - len(data["rooms"])]
            parts = [int(steps) for steps in option.tag.split()]
            stairs += [[stair["id"], parts[spot.piece], spot.y, spot.x] for spot in spots]
    return {"rooms": rooms, "stairs": stairs}


def run(data: dict[str, Any], seconds: float, workers: int, seed: int) -> dict[str, Any]:
    """Solve one object within `seconds` and return its line."""
    instance = instance_of(data)
    began = time.monotonic()

    def late() -> bool:
        return time.monotonic() - began >= seconds

    result: EngineResult
    if workers > 1:
        with Workers(workers) as executor:
            result = solve(instance, seed=seed, effort=ENDLESS, stop=late, executor=executor)
    else:
        result = solve(instance, seed=seed, effort=ENDLESS, stop=late)
    line: dict[str, Any] = {"name": data["name"], "length": None, "bound": result.bound_considered, "proved": False}
    if result.solution is not None and result.value is not None:
        length = result.value.levels[0]
        line |= {"length": length, "proved": length == result.bound_considered}
        line["placements"] = placements_of(data, instance, result.solution)
    line["seconds"] = round(time.monotonic() - began, 2)
    return line


def main(arguments: list[str] | None = None) -> int:
    """Run the instances of a file and print one JSON line for each."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.nest", description="Nest the instances of a file.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--only", nargs="+", metavar="NAME", help="only the instances of these names")
    parser.add_argument("--seconds", type=float, default=10.0, help="wall time for each instance")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    for data in json.loads(given.file.read_text(encoding="utf-8")):
        if given.only and data["name"] not in given.only:
            continue
        sys.stdout.write(json.dumps(run(data, given.seconds, given.workers, given.seed)) + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
