"""Many processes at one rack at once: run as a program, which has no threads and so may fork.

    python -m tests.shop.crowd reserve WHERE SECONDS PROCESSES
    python -m tests.shop.crowd confirm WHERE FILE PROCESSES

`reserve`: for so many seconds every process takes what is free, a few pieces at a time, and never gives any back; where
nothing is free more is received. `confirm`: FILE holds pickled pairs of plan key and plan; every process confirms one
of them at the same moment. What every process got is printed as a line of JSON: what it took, and what refused it.
"""

from __future__ import annotations

import json
import os
import pickle
import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nesting.domain.rack import PieceFilter, PieceState
from nesting.errors import JobError
from nesting.shop import open_rack
from tests.shop.making import JOB, act, piece

Told = tuple[list[str], dict[str, int]]


def reserving(where: str, number: int, end: float) -> Told:
    """Take what is free until the time is over."""
    chance, taken, refused = random.Random(number), list[str](), Counter[str]()
    with open_rack(where, pause=lambda attempt: time.sleep(0.02 * (attempt + 1))) as rack:
        while time.monotonic() < end:
            free = rack.pieces(PieceFilter(states=(PieceState.FREE,), limit=12))
            if not free:
                rack.receive([piece() for _ in range(8)], act())
                continue
            wanted = [item.id for item in chance.sample(free, min(len(free), chance.randint(1, 3)))]
            try:
                rack.reserve(wanted, f"job {number}", act())
                taken += wanted
            except JobError as error:
                refused.update({fault.code for fault in error.faults})
    return taken, dict(refused)


def confirming(where: str, number: int, plans: list[tuple[str, Any]]) -> Told:
    """Confirm a plan."""
    key, plan = plans[number % len(plans)]
    with open_rack(where) as rack:
        try:
            return [str(rack.confirm_plan(plan, key, JOB, act()).number)], {}
        except JobError as error:
            return [], dict(Counter(fault.code for fault in error.faults))


def crowd(count: int, work: Callable[[int], Told]) -> None:
    """Let so many children begin at the same moment, and print what each tells."""
    gate_out, gate_in = os.pipe()
    pipes = []
    for number in range(count):
        reader, writer = os.pipe()
        if os.fork() == 0:
            os.close(gate_in)
            os.read(gate_out, 1)  # until the gate is closed on the other side
            told = json.dumps(work(number)).encode()
            while told:
                told = told[os.write(writer, told) :]
            os._exit(0)
        os.close(writer)
        pipes.append(reader)
    os.close(gate_in)
    for reader in pipes:
        with os.fdopen(reader, "rb") as stream:
            sys.stdout.write(stream.read().decode() + "\n")
    for _ in pipes:
        _, status = os.wait()
        if status:
            raise SystemExit(f"a child failed: {status}")


def main(what: str, where: str, given: str, processes: str) -> None:
    open_rack(where).close()
    if what == "reserve":
        end = time.monotonic() + float(given)
        crowd(int(processes), lambda number: reserving(where, number, end))
    else:
        plans = pickle.loads(Path(given).read_bytes())
        crowd(int(processes), lambda number: confirming(where, number, plans))


if __name__ == "__main__":
    main(*sys.argv[1:])
