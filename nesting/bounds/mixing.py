"""The best value of widths for a job: the cutting-stock program over all layouts, solved by columns.

The program chooses layouts of rooms (parts of them too) and sets of runs side by side on the goods, so many metres of
each, so that every run of the layouts has a place; the least goods and seams bound every plan from below. Its dual
prices are a value of widths. Layouts and sets join as columns while they would better it: the best layout of a room
under a value by `least_by_seams`, the best set by `most_side_by_side` (Gilmore and Gomory, "A linear programming
approach to the cutting-stock problem", Operations Research 9, 1961). Every value met on the way is made valid and
bounds by itself (Farley, "A note on bounding a class of linear programming problems, including cutting stock
problems", Operations Research 38, 1990); prices are smoothed towards the best so far (Wentges, "Weighted Dantzig–Wolfe
decomposition for linear mixed-integer programming", 1997).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import pywraplp

from nesting.bounds.counting import Counted, Room, counted
from nesting.bounds.kinds import Item
from nesting.bounds.widths import SCALE, by_area, capacity, jumps_of, made_valid
from nesting.progress import Stop, never_stop

Whole = NDArray[np.int64]

SMOOTHED = 0.6
"""Part of the best value so far in the next one."""

CLOSE = 3e-4
"""The program is as good as solved when its best value is so near to its optimum."""

COLUMN_SCALE = 1e6  # micrometres in a metre


@dataclass(frozen=True, slots=True, kw_only=True)
class Goods:
    """The goods in steps across: made widths, and those in hand as (width, length µm); a seam's price in value·µm."""

    made: tuple[int, ...]
    in_hand: tuple[tuple[int, int], ...]
    widest: int
    seam_price: int


@dataclass(slots=True)
class Program:
    """The linear program with the columns found so far."""

    rooms: Sequence[Room]
    items: Sequence[Item]
    goods: Goods
    layouts: list[tuple[int, dict[int, int], int]] = field(default_factory=list)  # room, heights by width, seams
    sets: list[tuple[int, dict[int, int]]] = field(default_factory=list)  # source, runs by width
    known: set[Any] = field(default_factory=set)

    def add_layouts(self, found: Counted) -> None:
        """Add the best layout of every room under a value."""
        for number, layout in enumerate(found.layouts):
            heights, seams = layout
            key = (number, tuple(sorted(heights.items())), seams)
            if key not in self.known:
                self.known.add(key)
                self.layouts.append((number, heights, seams))

    def add_sets(self, value: Whole) -> None:
        """Add the sets of runs that count most under a value on every goods, and for every width that set alone."""
        most = capacity(value)
        for source, width in enumerate([*self.goods.made, *(width for width, _ in self.goods.in_hand)]):
            self._add_set(source, best_set(value, most, width))
        for width in self.widths():
            for source, made in enumerate(self.goods.made):
                if width <= made:
                    self._add_set(source, {width: made // width})

    def _add_set(self, source: int, runs: dict[int, int]) -> None:
        key = (source, tuple(sorted(runs.items())))
        if runs and key not in self.known:
            self.known.add(key)
            self.sets.append((source, runs))

    def widths(self) -> list[int]:
        """Return all widths of runs in the columns, rising."""
        found = {width for _, heights, _ in self.layouts for width in heights}
        found |= {width for _, runs in self.sets for width in runs}
        found |= {width for item in self.items for width, _ in item.ways[:1]}
        return sorted(found)

    def solved(self) -> tuple[float, Whole] | None:
        """Return the optimum with the columns so far, value·µm, and the value of widths that its prices give."""
        solver = pywraplp.Solver.CreateSolver("GLOP")
        most = solver.infinity()
        widths = self.widths()
        needed = dict.fromkeys(widths, 0.0)
        for item in self.items:
            width, height = item.ways[0]
            needed[width] += height / COLUMN_SCALE
        rows = {width: solver.Constraint(needed[width], most) for width in widths}
        taken = [solver.Constraint(room.count, room.count) for room in self.rooms]
        made = len(self.goods.made)
        lengths = [solver.Constraint(-most, length / COLUMN_SCALE) for _, length in self.goods.in_hand]
        goal = solver.Objective()
        for number, heights, seams in self.layouts:
            column = solver.NumVar(0, most, "")
            taken[number].SetCoefficient(column, 1)
            for width, height in heights.items():
                rows[width].SetCoefficient(column, -height / COLUMN_SCALE)
            goal.SetCoefficient(column, seams * self.goods.seam_price / (SCALE * COLUMN_SCALE))
        for source, runs in self.sets:
            column = solver.NumVar(0, most, "")
            for width, count in runs.items():
                rows[width].SetCoefficient(column, count)
            if source < made:
                goal.SetCoefficient(column, self.goods.made[source])
            else:
                lengths[source - made].SetCoefficient(column, 1)
        for narrow, wide in pairwise(widths):
            instead = solver.NumVar(0, most, "")  # a place for a wide run serves a narrower one too
            rows[wide].SetCoefficient(instead, -1)
            rows[narrow].SetCoefficient(instead, 1)
        goal.SetMinimization()
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        value = np.zeros(self.goods.widest + 1, dtype=np.float64)
        for width in widths:
            value[width] = max(0.0, rows[width].dual_value()) * SCALE
        return goal.Value() * SCALE * COLUMN_SCALE, np.floor(np.maximum.accumulate(value)).astype(np.int64)


def best_set(value: Whole, most: Whole, width: int) -> dict[int, int]:
    """Return the runs that count most on goods of a width, by width."""
    jumps = [int(jump) for jump in jumps_of(value)]
    runs: dict[int, int] = {}
    left = width
    while left > 0:
        if most[left] == most[left - 1]:
            left -= 1
            continue
        run = next(w for w in reversed(jumps) if w <= left and most[left - w] + value[w] == most[left])
        runs[run] = runs.get(run, 0) + 1
        left -= run
    return runs


def best_values(
    rooms: Sequence[Room], items: Sequence[Item], goods: Goods, *, turns: int, stop: Stop = never_stop
) -> list[tuple[int, Whole]]:
    """Return valid values of widths met in so many turns with what each bounds, value·µm, the best first."""
    program = Program(rooms, items, goods)
    best: tuple[int, Whole] | None = None
    value = by_area(goods.widest)
    found: list[tuple[int, Whole]] = []
    for _ in range(turns):
        valid = made_valid(value, goods.made)
        result = counted(rooms, items, valid, goods.seam_price)
        most = capacity(valid)
        bound = result.total - sum(int(most[width]) * length for width, length in goods.in_hand)
        found.append((bound, valid))
        if stop():
            break
        if best is None or bound > best[0]:
            best = (bound, valid)
        program.add_layouts(result)
        program.add_sets(value)
        program.add_sets(valid)
        solved = program.solved()
        if solved is None or best[0] >= solved[0] * (1 - CLOSE):
            break
        value = np.floor(SMOOTHED * best[1] + (1 - SMOOTHED) * solved[1]).astype(np.int64)
    return sorted(found, key=lambda pair: -pair[0])
