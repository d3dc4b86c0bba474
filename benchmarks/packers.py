"""General packing libraries on strip files, to compare with: `python -m benchmarks.packers FILE [--packer NAME] ...`.

Both are development tools from the registry, not dependencies. *rectpack* runs in whichever Python has it (that of
`--python`, or this one): the best of all its algorithms and orders, the strip's length found by halving, until all are
tried or the time is over. *packingsolver* needs Python 3.12 and so an environment of its own, again `--python`.
One JSON line per instance goes to stdout: `name`, `length`, `seconds`, `packer`.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

Sizes = list[tuple[int, int]]


def rectpack_lengths(width: int, sizes: Sizes, late: Callable[[], bool]) -> Iterator[int]:
    """Yield ever shorter lengths into which rectpack's algorithms and orders pack everything."""
    import rectpack

    algorithms = [
        getattr(rectpack, name)
        for name in sorted(dir(rectpack))
        if name.startswith(("MaxRects", "Skyline", "Guillotine"))
    ]
    orders = [getattr(rectpack, name) for name in sorted(dir(rectpack)) if name.startswith("SORT_")]
    least = max(-(-sum(w * h for w, h in sizes) // width), max(h for _, h in sizes))
    best = sum(h for _, h in sizes) + 1
    for algorithm in algorithms:
        for order in orders:
            # Below the best: does it pack one shorter? Then the least length that it does is looked for.
            low, high = least, best - 1
            target = high
            while low <= high and not late():
                packer = rectpack.newPacker(pack_algo=algorithm, sort_algo=order, rotation=False)
                packer.add_bin(width, target)
                for w, h in sizes:
                    packer.add_rect(w, h)
                packer.pack()
                if len(packer.rect_list()) == len(sizes):
                    best = max(y + h for _, _, y, _, h, _ in packer.rect_list())
                    yield best
                    high = best - 1
                elif target == best - 1:
                    break
                else:
                    low = target + 1
                target = (low + high) // 2
            if late():
                return


def packingsolver_length(width: int, sizes: Sizes, seconds: float) -> int | None:
    """Return the length that packingsolver reaches within `seconds`; None when it finds no packing."""
    from packingsolver import Objective
    from packingsolver import rectangle as packing

    builder = packing.InstanceBuilder()
    builder.set_objective(Objective.OpenDimensionY)
    builder.add_bin_type(x=width, y=sum(h for _, h in sizes))
    for w, h in sizes:
        builder.add_item_type(x=w, y=h, oriented=True)
    parameters = packing.OptimizeParameters()
    parameters.time_limit = seconds
    parameters.verbosity_level = 0
    solution = packing.optimize(builder.build(), parameters).solution
    return int(solution.y_max()) if solution is not None and solution.full() else None


def run(data: dict[str, Any], packer: str, seconds: float) -> dict[str, Any]:
    """Return the line of one packer for one object of a strip file."""
    sizes = [(w, h) for w, h in data["items"]]
    began = time.monotonic()
    length: int | None = None
    if packer == "rectpack":
        length = min(rectpack_lengths(data["width"], sizes, lambda: time.monotonic() - began >= seconds), default=None)
    else:
        length = packingsolver_length(data["width"], sizes, seconds)
    return {
        "name": data["name"],
        "length": length,
        "seconds": round(time.monotonic() - began, 2),
        "packer": packer,
    }


def lines_of(file: Path, packer: str, seconds: float, python: Path | None, only: list[str]) -> Iterator[dict[str, Any]]:
    """Yield the lines of a packer, run by another Python if one is given."""
    if python is None:
        for data in json.loads(file.read_text(encoding="utf-8")):
            if not only or data["name"] in only:
                yield run(data, packer, seconds)
        return
    command = [str(python), __file__, str(file), "--packer", packer, "--seconds", str(seconds)]
    command += ["--only", *only] if only else []
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for line in process.stdout:
            yield json.loads(line)
    if process.returncode:
        raise RuntimeError(f"{packer} ended with {process.returncode}")


def main(arguments: list[str] | None = None) -> int:
    """Run a packer on the instances of a file and print one JSON line for each."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.packers", description="Pack the instances of a file.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--packer", choices=("rectpack", "packingsolver"), default="rectpack")
    parser.add_argument("--seconds", type=float, default=10.0, help="wall time for each instance")
    parser.add_argument("--python", type=Path, help="the Python that has the packer")
    parser.add_argument("--only", nargs="+", metavar="NAME", default=[], help="only the instances of these names")
    given = parser.parse_args(arguments)
    for line in lines_of(given.file, given.packer, given.seconds, given.python, given.only):
        sys.stdout.write(json.dumps(line) + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
