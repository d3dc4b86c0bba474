"""A window: a few choices free among frozen ones, and what it can gain at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import gcd

from ortools.sat.python import cp_model

from nesting.model.hint import add_hint
from nesting.model.instance import Instance, Solution, Value
from nesting.model.objective import Terms, expression, level_terms, side_cost
from nesting.model.shapes import shape_of
from nesting.model.solving import Setting, build, read, run_once
from nesting.model.valuing import placed, value_of, value_of_fars
from nesting.model.variables import Task, Variables
from nesting.progress import Stop, never_stop

LEVELS = 2
"""A window looks at so many levels of the goal."""
BRIEF = Setting(probing=0, rounds=1)
"""Probing would spend most of a window's short time before the search begins."""
LARGEST = 1 << 50
"""Two levels are weighed into one number as long as it stays below this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glimpse:
    """What a look at a window took in deterministic time, and a better solution than the incumbent if one was found."""

    spent: float
    solution: Solution | None = None
    value: Value | None = None


def solve_window(instance: Instance, task: Task, *, seed: int, limit: float, stop: Stop = never_stop) -> Glimpse:
    """Look for a better solution than the incumbent within `limit` units of deterministic time."""
    assert task.incumbent is not None
    value = value_of(instance, task.incumbent)
    v = build(instance, task)
    v.model.minimize(_goal(v, value))
    add_hint(v, task.incumbent)
    solver, status = run_once(v.model, seed, limit, stop, BRIEF)
    solution, found = read(v, solver, status)
    spent = solver.response_proto.deterministic_time
    if solution is None or found is None or found.levels >= value.levels:
        return Glimpse(spent=spent)
    return Glimpse(spent=spent, solution=solution, value=found)


def can_gain(instance: Instance, task: Task, value: Value) -> bool:
    """Tell whether what is frozen leaves room for anything better at the levels that a window looks at."""
    return _least(instance, task)[:LEVELS] < value.levels[:LEVELS]


def _least(instance: Instance, task: Task) -> tuple[int, ...]:
    """Return what no solution of a task goes below: goods to the end of what is frozen, and the cheapest options."""
    assert task.incumbent is not None
    return _levels_at(instance, task, _frozen_ends(instance, task), task.incumbent.anchored, min)


def _frozen_ends(instance: Instance, task: Task) -> list[int]:
    """Return per source where the last frozen piece ends."""
    assert task.incumbent is not None
    ends = [0] * len(instance.sources)
    for number, piece, spot in placed(instance, task.incumbent):
        if number in task.frozen:
            ends[spot.source] = max(ends[spot.source], spot.y + shape_of(piece, spot.turn).length)
    return ends


def _levels_at(
    instance: Instance, task: Task, ends: list[int], anchored: tuple[bool, ...], pick: Callable[[list[int]], int]
) -> tuple[int, ...]:
    """Return the levels when the last pieces end at `ends`, with what `pick` takes of the costs of options."""
    assert task.incumbent is not None
    value = value_of_fars(instance, task.incumbent.options, ends, anchored)
    levels = []
    for level, (_, _, *weights) in zip(value.levels, instance.weights.levels, strict=True):
        for number, choice in enumerate(instance.choices):
            if number not in task.frozen:
                taken = task.incumbent.options[number]
                costs = [side_cost(choice.options[o], weights) for o in task.menu[number]]
                level += pick(costs) - side_cost(choice.options[taken], weights)
        levels.append(level)
    return tuple(levels)


def _goal(v: Variables, value: Value) -> cp_model.LinearExpr:
    """Return the first two levels as one number, the first before the second; one alone where that is enough.

    first·K + second, with K above what the second can vary by; both divided by what all their terms share.
    """
    terms = [level_terms(v, level) for level in range(min(LEVELS, len(v.instance.weights.levels)))]
    least = _least(v.instance, v.task)
    v.model.add(expression(terms[0]) <= value.levels[0])
    if len(terms) == 1:
        return expression(terms[0])
    if least[0] == value.levels[0]:
        return expression(terms[1])
    ends = _frozen_ends(v.instance, v.task)
    for source, (_, most_end) in v.open_goods.items():
        ends[source] = most_end
    most = _levels_at(v.instance, v.task, ends, (False,) * len(ends), max)
    first, second = _common(terms[0]), _common(terms[1])
    weight = (most[1] - least[1]) // second + 1
    if most[0] // first * weight > LARGEST:
        return expression(terms[0])
    parts = [(x, f // first * weight) for x, f in terms[0]] + [(x, f // second) for x, f in terms[1]]
    return expression(parts)


def _common(terms: Terms) -> int:
    """Return what all factors are multiples of."""
    return gcd(*(factor for _, factor in terms)) or 1
