"""The engine on a strip file against the best known and general packing libraries: `python -m benchmarks.strip_table`.

Runs `benchmarks.nest` on every instance of FILE, and each packer whose Python is given, at the same limit one after
another. Every packing is checked again here. Prints a line per instance, the ratio to the best known (or to the lower
bound, where none is known; those are left out of the mean), and where a packer is better.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from benchmarks.nest import run
from benchmarks.packers import lines_of

MOST_PIECES = 200
"""The mean is over instances of up to so many pieces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What came of one instance; `packed` holds the length of each packer (None: it found no packing)."""

    name: str
    pieces: int
    known: int | None
    lower: int
    length: int
    bound: int
    seconds: float
    packed: dict[str, int | None]

    @property
    def ratio(self) -> float:
        """Length over the best known, or over the file's lower bound."""
        return self.length / (self.known or self.lower)

    @property
    def beaten_by(self) -> list[str]:
        """The packers that are shorter."""
        return [packer for packer, length in self.packed.items() if length is not None and length < self.length]


def faults_of_strip(data: dict[str, Any], line: dict[str, Any]) -> list[str]:
    """Return what is wrong with the placements of a line for one object of a strip file."""
    boxes = []
    for item, x, y in line["placements"]:
        w, h = data["items"][item]
        boxes.append((y, y + h, x, x + w, item))
    faults = [f"{item}: outside" for y, top, x, right, item in boxes if x < 0 or y < 0 or right > data["width"]]
    if sorted(box[4] for box in boxes) != list(range(len(data["items"]))):
        faults.append("not every piece once")
    if max(box[1] for box in boxes) != line["length"]:
        faults.append("the length is not that of the placements")
    boxes.sort()
    for k, (_, top, x, right, item) in enumerate(boxes):
        for y, _, other_x, other_right, other in boxes[k + 1 :]:
            if y >= top:
                break
            if other_x < right and x < other_right:
                faults.append(f"{other} lies on {item}")
    return faults


def row_of(data: dict[str, Any], line: dict[str, Any], packed: dict[str, int | None]) -> Row:
    """Return the row of one instance; raises ValueError when its packing is not sound."""
    faults = faults_of_strip(data, line)
    if faults:
        raise ValueError(f"{data['name']}: {'; '.join(faults)}")
    return Row(
        name=data["name"],
        pieces=len(data["items"]),
        known=data["best_known"],
        lower=data["lower_bound"],
        length=line["length"],
        bound=line["bound"],
        seconds=line["seconds"],
        packed=packed,
    )


def text_of(row: Row) -> str:
    """Return a row as a line of the table."""
    packed = " ".join(f"{packer} {length}" for packer, length in row.packed.items())
    mark = f"  BETTER: {', '.join(row.beaten_by)}" if row.beaten_by else ""
    known = row.known if row.known is not None else f"≥{row.lower}"
    return (
        f"{row.name:16} {row.pieces:5} {known!s:>8} {row.length:8} {row.ratio:7.4f} bound {row.bound:8}"
        f" {'proved' if row.bound == row.length else '':6} {row.seconds:6.1f} s  {packed}{mark}"
    )


def summary_of(rows: list[Row]) -> str:
    """Return mean and worst ratio to the best known, the number proved, and where a packer is better."""
    known = [row for row in rows if row.known is not None and row.pieces <= MOST_PIECES]
    lines = []
    if known:
        worst = max(known, key=lambda row: row.ratio)
        mean = sum(row.ratio for row in known) / len(known)
        lines.append(f"mean ratio {mean:.5f} over {len(known)} instances, worst {worst.ratio:.4f} ({worst.name})")
    lines.append(f"proved {sum(row.bound == row.length for row in rows)} of {len(rows)}")
    beaten = [row.name for row in rows if row.beaten_by]
    lines.append(f"a packer is better on {', '.join(beaten) or 'none'}")
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Print the table of a file."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.strip_table", description="A table of a strip file.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--seconds", type=float, default=10.0, help="wall time for each instance")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", metavar="NAME", default=[], help="only the instances of these names")
    parser.add_argument("--rectpack", type=Path, metavar="PYTHON", help="a Python that has rectpack")
    parser.add_argument("--packingsolver", type=Path, metavar="PYTHON", help="a Python that has packingsolver")
    given = parser.parse_args(arguments)
    pythons = {name: getattr(given, name) for name in ("rectpack", "packingsolver") if getattr(given, name)}
    versions = ", ".join(f"{name} {version(name)}" for name in ("numba", "numpy", "ortools"))
    head = f"{given.seconds:g} s, {given.workers} workers, seed {given.seed}, Python {platform.python_version()}"
    sys.stdout.write(f"{given.file.name}: {head}, {versions}\n")
    rows = []
    for data in json.loads(given.file.read_text(encoding="utf-8")):
        if given.only and data["name"] not in given.only:
            continue
        line = run(data, given.seconds, given.workers, given.seed)
        packed = {
            name: next(lines_of(given.file, name, given.seconds, python, [data["name"]]))["length"]
            for name, python in pythons.items()
        }
        rows.append(row_of(data, line, packed))
        sys.stdout.write(text_of(rows[-1]) + "\n")
        sys.stdout.flush()
    sys.stdout.write(summary_of(rows) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
