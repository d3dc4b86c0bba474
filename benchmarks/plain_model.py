"""The plain joint model: all rooms with their layouts in one CP-SAT model, no start, no hint, no decomposition."""

from __future__ import annotations

import time

from ortools.sat.python import cp_model

from nesting.model.hint import read_solution
from nesting.model.instance import Instance, Solution
from nesting.model.objective import level_expressions
from nesting.model.solving import build
from nesting.model.valuing import faults_of
from nesting.model.variables import Task
from nesting.search.scheme import Ready, make_ready
from nesting.search.starting import ranked_options
from nesting.search.windows import open_caps

MOST_PIECES = {False: 800, True: 240}
"""Of all layouts together, for plain and for patterned goods: the time to set the model up grows with the square."""
LAYOUTS = (99, 40, 20, 12, 8, 6, 4, 3, 2)
"""Layouts a room: as many of the likeliest as the model can hold."""


def plain_solution(instance: Instance, *, seconds: float, workers: int, seed: int) -> tuple[Solution | None, str]:
    """Return what minimizing the goal's first level gives within the limit, and what the solver says.

    Setting up the model counts. Only the first level is sought: what is compared is the roll.
    """
    begun = time.monotonic()
    ready = make_ready(instance)
    menu, layouts = _menu(ready)
    if not menu:
        return None, "too large to set up"
    v = build(instance, Task(menu=menu, caps=open_caps(instance)))
    left = seconds - (time.monotonic() - begun)
    if left <= 0:
        return None, "the limit ran out while it was set up"
    v.model.minimize(level_expressions(v)[0])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = left
    solver.parameters.use_area_energetic_reasoning_in_no_overlap_2d = False
    status = solver.solve(v.model)
    name = solver.status_name(status).lower()
    if layouts < LAYOUTS[0]:
        name += f", {layouts} likeliest layouts a room"
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, name.replace("unknown", "nothing found")
    solution = read_solution(v, solver.value)
    return (None, "not lawful") if faults_of(instance, solution) else (solution, name)


def _menu(ready: Ready) -> tuple[tuple[tuple[int, ...], ...], int]:
    """Return the layouts of every room that the model holds, and how many of the likeliest those are; () for none."""
    ranked = ranked_options(ready, True)
    most = MOST_PIECES[ready.instance.lattice is not None]
    for count in LAYOUTS:
        menu = tuple(tuple(sorted(options[:count])) for options in ranked)
        pieces = sum(
            len(choice.options[o].pieces)
            for choice, options in zip(ready.instance.choices, menu, strict=True)
            for o in options
        )
        if pieces <= most:
            return menu, count
    return (), 0
