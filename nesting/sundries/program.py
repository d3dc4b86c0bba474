"""The least stock for pieces of given lengths: columns generated for a linear program, then a whole-number program.

Gilmore and Gomory, "A linear programming approach to the cutting-stock problem", Operations Research 9 (1961): the
program over all patterns is solved with the few that price out. Its prices, made whole and scaled so that no pattern
is worth more than its stock length, give a bound in exact arithmetic: Σ demand × price, whatever the solver rounded.
What a better answer could use are patterns whose reduced cost is within the gap; they are listed and decided.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, gcd

from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.sundries.patterns import MOST_CELLS, Pattern, Task, cells, first_fit, most_valuable, within

MOST_WORK = 60_000_000
"""Entries of pricing tables that are filled in all; a bound is there after each table."""

MOST_PATTERNS = 10_000
"""Patterns within the gap that are still decided."""

MOST_RUNS = 12
"""Spans of weights, from the bound up, that are decided one after another."""

MOST_SUMS = 200_000
"""Steps of weight up to which a bound is raised to what stock lengths can add up to."""

EFFORT = 1.0
"""Deterministic time of one run of the whole-number program, in the solver's own count of work."""

_FINE = 1 << 24
"""Steps that a price is rounded to, per unit of weight."""

Column = tuple[int, Pattern]
"""A stock and the pattern cut from it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Columns with how often each is cut, what they weigh together, and what no answer can be below."""

    cut: tuple[tuple[Column, int], ...]
    weight: int
    bound: int

    @property
    def proved(self) -> bool:
        """Tell whether nothing lighter is possible."""
        return self.weight == self.bound


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A cut that the whole-number program found, () for none; `over`: the search came to its end."""

    cut: tuple[tuple[Column, int], ...]
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prices:
    """Whole prices of the kinds, of which `scale` make one unit of weight: no pattern is worth more than its stock."""

    values: tuple[int, ...]
    scale: Fraction

    def total(self, task: Task) -> int:
        return sum(value * demand for value, demand in zip(self.values, task.demands, strict=True))

    def bound(self, task: Task) -> int:
        return ceil(Fraction(self.total(task)) / self.scale)

    def least(self, task: Task, weight: int) -> list[int]:
        """Return what a pattern of each stock must be worth to be of use in a cut of at most `weight`.

        Σ (weight of the stock · scale − worth of the pattern) over a cut is at most weight · scale − Σ demand · price.
        """
        slack = weight * self.scale - self.total(task)
        return [ceil(each * self.scale - slack) for each in task.weights]


class _Sums:
    """What some stock lengths together can weigh."""

    def __init__(self, weights: Sequence[int]) -> None:
        self.weights = weights

    def from_(self, least: int) -> int:
        """Return the least sum of weights, each taken any number of times, that is `least` or more."""
        step = gcd(*self.weights)
        least = -(-least // step) * step
        if least // step > MOST_SUMS:
            return least
        reached = [True] + [False] * (least // step + min(self.weights) // step)
        for weight in sorted({weight // step for weight in self.weights}):
            for total in range(weight, len(reached)):
                reached[total] = reached[total] or reached[total - weight]
        return next(total for total in range(least // step, len(reached)) if reached[total]) * step


def solve(task: Task) -> Answer:
    """Return the lightest cut that was found for `task`, every piece of which fits some stock, and its bound.

    From the bound up it is decided, a span of weights at a time, whether there is a cut that light, with all patterns
    that one can use: a "no" raises the bound, the lightest of a span is the answer.
    """
    cut = _first(task)
    columns, prices = _priced(task, cut)
    sums = _Sums(task.weights)
    bound = sums.from_(prices.bound(task))
    cut = _run(task, columns, cut, (bound, weight_of(task, cut) - 1)).cut or cut
    width, total = 0, weight_of(task, cut)
    for _ in range(MOST_RUNS):
        if bound >= total:
            break
        aim = min(bound + width, total - 1)
        usable = within(task, prices.values, prices.least(task, aim), MOST_PATTERNS)
        if usable is None:
            break
        run = _run(task, usable, (), (bound, aim))
        if run.cut:
            cut, total = run.cut, weight_of(task, run.cut)
        if not run.over:
            break
        bound = total if run.cut else sums.from_(aim + 1)
        width = max(2 * width, (total - bound) // 8, 1)
    return Answer(cut=cut, weight=total, bound=min(bound, total))


def weight_of(task: Task, cut: Sequence[tuple[Column, int]]) -> int:
    """Return what a cut weighs."""
    return sum(task.weights[stock] * times for (stock, _), times in cut)


def _first(task: Task) -> tuple[tuple[Column, int], ...]:
    """Return the lightest cut that takes the longest pieces first, each stock tried for all and for what is left."""
    best: tuple[tuple[Column, int], ...] = ()
    for stock in range(len(task.capacities)):
        cut = tuple(Counter(_smaller(task, [(stock, pattern) for pattern in first_fit(task, stock)])).items())
        if cut and (not best or weight_of(task, cut) < weight_of(task, best)):
            best = cut
    return best


def _smaller(task: Task, bins: Sequence[Column]) -> list[Column]:
    """Return the columns, each on the lightest stock that it fits."""
    out = []
    for stock, pattern in bins:
        used = task.used(pattern)
        fits = [other for other, capacity in enumerate(task.capacities) if used <= capacity]
        out.append((min(fits, key=lambda other: (task.weights[other], other), default=stock), pattern))
    return out


def _priced(task: Task, start: Sequence[tuple[Column, int]]) -> tuple[list[Column], _Prices]:
    """Return the columns that the linear program was solved with, and the best prices found."""
    program = pywraplp.Solver.CreateSolver("GLOP")
    rows = [program.Constraint(demand, program.infinity()) for demand in task.demands]
    goal = program.Objective()
    goal.SetMinimization()
    columns: dict[Column, None] = {}

    def add(column: Column) -> None:
        if column in columns:
            return
        columns[column] = None
        share = program.NumVar(0, program.infinity(), "")
        goal.SetCoefficient(share, task.weights[column[0]])
        for kind, count in column[1]:
            rows[kind].SetCoefficient(share, count)

    for column, _ in start:
        add(column)
    best = _by_size(task)
    for _ in range(max(4, MOST_WORK // min(cells(task), MOST_CELLS))):
        if program.Solve() != pywraplp.Solver.OPTIMAL:
            break
        values = tuple(max(0, int(row.dual_value() * _FINE)) for row in rows)
        offers = most_valuable(task, values)
        scale = max(Fraction(worth, weight) for (worth, _), weight in zip(offers, task.weights, strict=True))
        if scale:
            prices = _Prices(values=values, scale=scale)
            if prices.total(task) / prices.scale > best.total(task) / best.scale:
                best = prices
        new = [
            (stock, pattern)
            for stock, (_, patterns) in enumerate(offers)
            for pattern in patterns
            if (stock, pattern) not in columns and _worth(values, pattern) > task.weights[stock] * (_FINE + len(rows))
        ]
        if not new:
            break
        for column in new:
            add(column)
    return list(columns), best


def _worth(values: Sequence[int], pattern: Pattern) -> int:
    return sum(values[kind] * count for kind, count in pattern)


def _by_size(task: Task) -> _Prices:
    """Return prices by size alone, to begin with."""
    scale = max(Fraction(capacity, weight) for capacity, weight in zip(task.capacities, task.weights, strict=True))
    return _Prices(values=task.sizes, scale=scale)


def _run(task: Task, columns: Sequence[Column], start: Sequence[tuple[Column, int]], between: tuple[int, int]) -> _Run:
    """Return the lightest cut with `columns` that weighs between two weights, as far as the effort goes."""
    if not columns or between[0] > between[1]:
        return _Run(cut=(), over=between[0] > between[1])
    model = cp_model.CpModel()
    times = [model.new_int_var(0, _most_times(task, pattern), "") for _, pattern in columns]
    cover: list[list[tuple[cp_model.IntVar, int]]] = [[] for _ in task.demands]
    for (_, pattern), count in zip(columns, times, strict=True):
        for kind, pieces in pattern:
            cover[kind].append((count, pieces))
    for demand, terms in zip(task.demands, cover, strict=True):
        model.add(cp_model.LinearExpr.weighted_sum(*map(list, zip(*terms, strict=True))) >= demand if terms else False)
    weight = cp_model.LinearExpr.weighted_sum(times, [task.weights[stock] for stock, _ in columns])
    model.add_linear_constraint(weight, *between)
    if between[0] < between[1]:
        model.minimize(weight)
        known = dict(start)
        for column, count in zip(columns, times, strict=True):
            model.add_hint(count, known.get(column, 0))
    engine = cp_model.CpSolver()
    engine.parameters.num_workers = 1
    engine.parameters.random_seed = 0
    engine.parameters.linearization_level = 2
    engine.parameters.max_deterministic_time = EFFORT
    engine.parameters.catch_sigint_signal = False  # Ctrl-C is left to whoever listens to it
    status = engine.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return _Run(cut=(), over=status == cp_model.INFEASIBLE)
    found = [(column, engine.value(count)) for column, count in zip(columns, times, strict=True)]
    return _Run(cut=tuple((column, count) for column, count in found if count), over=status == cp_model.OPTIMAL)


def _most_times(task: Task, pattern: Pattern) -> int:
    """Return how often a pattern is cut at most: until the last of its kinds is covered."""
    return max(-(-task.demands[kind] // count) for kind, count in pattern)
