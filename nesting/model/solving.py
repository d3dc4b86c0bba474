"""Solving the model: level after level, with repeatable limits, and claims that a second run has confirmed."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from ortools.sat.python import cp_model

from nesting.model.hint import add_hint, read_solution
from nesting.model.instance import Instance, Solution, Value
from nesting.model.objective import level_expression
from nesting.model.rules import ALL_RULES
from nesting.model.setting_up import make_variables
from nesting.model.valuing import faults_of, value_of
from nesting.model.variables import Task, Variables
from nesting.progress import Stop, never_stop

_STATUS = cp_model.CpSolverStatus


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the solver found. `bound`: no solution of the task has a lower first level (None: nothing was proved).

    `confirmed`: how many levels of the goal, from the first, are proved least in turn, the first one confirmed by a
    second run under another configuration. `impossible`: proved, and confirmed, that there is no solution at all.
    `spent`: deterministic time.
    """

    solution: Solution | None
    value: Value | None
    bound: int | None
    confirmed: int
    spent: float
    impossible: bool = False


def build(instance: Instance, task: Task) -> Variables:
    """Return the model of `task` with all its rules."""
    v = make_variables(instance, task)
    for rule in ALL_RULES:
        rule(v)
    return v


def solve_model(
    instance: Instance,
    task: Task,
    *,
    seed: int,
    limit: float,
    first: int = 0,
    stop: Stop = never_stop,
) -> Answer:
    """Minimize the levels of the goal one after another within `limit` units of deterministic time.

    Every level is sought no worse than the incumbent and with the better levels at what they have reached; those before
    `first` are known to be least.
    """
    v = build(instance, task)
    best = task.incumbent
    value = None if best is None else value_of(instance, best)
    if value is not None:
        for level in range(max(first, 1)):
            v.model.add(level_expression(v, level) <= value.levels[level])
    spent, confirmed, bound = 0.0, first, None
    for level in range(first, len(instance.weights.levels)):
        wanted = level_expression(v, level)
        if best is not None:
            add_hint(v, best)
        v.model.minimize(wanted)
        solver, status = run_once(v.model, seed, limit - spent, stop)
        spent += solver.response_proto.deterministic_time
        found, found_value = read(v, solver, status)
        if found is not None and found_value is not None and (value is None or found_value.levels < value.levels):
            best, value = found, found_value
        if status == _STATUS.INFEASIBLE and value is None and v.exact:
            sure, more = _none_better(instance, task, None, seed + 1, max(limit - spent, limit / 2), stop)
            return Answer(solution=None, value=None, bound=None, confirmed=0, spent=spent + more, impossible=sure)
        if status != _STATUS.OPTIMAL:
            break
        least = round(solver.objective_value)
        if level == 0:
            sure, more = False, 0.0
            if v.exact:
                sure, more = _none_better(instance, task, least, seed + 1, max(limit - spent, limit / 2), stop)
            spent += more
            if not sure:
                break
            bound = least
        if value is None or value.levels[level] != least:
            break
        confirmed = level + 1
        v.model.add(wanted <= least)
        if spent >= limit or stop():
            break
    return Answer(solution=best, value=value, bound=bound, confirmed=confirmed, spent=spent)


def _none_better(
    instance: Instance, task: Task, value: int | None, seed: int, limit: float, stop: Stop
) -> tuple[bool, float]:
    """Tell whether a first level below `value` (None: any solution) is impossible, asked as a question set up anew.

    The second configuration differs in seed, search and in the probing before it, so that one wrong inference in
    the first run is not simply repeated.
    """
    v = build(instance, task)
    if value is not None:
        v.model.add(level_expression(v, 0) <= value - 1)
    solver, status = run_once(v.model, seed, limit, stop, SECOND_LOOK)
    return status == _STATUS.INFEASIBLE, solver.response_proto.deterministic_time


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How the solver reasons; what is None stays as the solver has it.

    `pairwise`: pairs of boxes compared in full. `rounds`: of making the model simpler before the search.
    """

    linearization: int | None = None
    symmetry: int | None = None
    probing: int | None = None
    pairwise: int | None = None
    rounds: int | None = None
    timetabling: bool = False  # overload checking and edge finding along one axis


SECOND_LOOK = Setting(linearization=0, symmetry=0, probing=0, pairwise=10_000)


def run_once(
    model: cp_model.CpModel, seed: int, limit: float, stop: Stop, setting: Setting = Setting()
) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
    """Run one worker with a fixed seed and a deterministic limit, so that the same model gives the same answer."""
    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1
    parameters.random_seed = seed % (1 << 31)
    parameters.max_deterministic_time = max(limit, 0.001)
    # False infeasibility from this reasoning has been reported.
    parameters.use_area_energetic_reasoning_in_no_overlap_2d = False
    if setting.linearization is not None:
        parameters.linearization_level = setting.linearization
    if setting.symmetry is not None:
        parameters.symmetry_level = setting.symmetry
    if setting.probing is not None:
        parameters.cp_model_probing_level = setting.probing
    if setting.pairwise is not None:
        parameters.max_pairs_pairwise_reasoning_in_no_overlap_2d = setting.pairwise
    if setting.rounds is not None:
        parameters.max_presolve_iterations = setting.rounds
    if setting.timetabling:
        parameters.use_overload_checker_in_cumulative = True
        parameters.use_timetable_edge_finding_in_cumulative = True
        parameters.use_timetabling_in_no_overlap_2d = True
        parameters.use_energetic_reasoning_in_no_overlap_2d = True
    with stopping(solver, stop):
        status = solver.solve(model)
    return solver, status


@contextmanager
def stopping(solver: cp_model.CpSolver, stop: Stop) -> Iterator[None]:
    """Ask `stop` twenty times a second while the solver runs, and end the search when it says so.

    Ctrl-C is left to whoever listens to it: the solver would else take it for itself.
    """
    solver.parameters.catch_sigint_signal = False
    if stop is never_stop:
        yield
        return
    over = threading.Event()

    def watch() -> None:
        while not over.wait(0.05):
            if stop():
                solver.stop_search()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()


def read(
    v: Variables, solver: cp_model.CpSolver, status: cp_model.CpSolverStatus
) -> tuple[Solution | None, Value | None]:
    """Return the solver's solution if the status says that there is one, and if it keeps the engine's own check."""
    if status not in (_STATUS.OPTIMAL, _STATUS.FEASIBLE):
        return None, None
    solution = read_solution(v, solver.value)
    if faults_of(v.instance, solution):
        return None, None
    return solution, value_of(v.instance, solution)
