"""Deciding whether a first level of at most so much is possible: the same model, asked as a question.

The answer "no" closes the gap where minimizing only creeps along, because every limit that the level sets (the end of
every roll, the places worth looking at, the options that can be worth it) binds from the start.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from nesting.model.instance import Instance, Solution, Value
from nesting.model.normal import c12_normal_places
from nesting.model.objective import level_expression
from nesting.model.rules import ALL_RULES, boxes_on_axis, c3_no_overlap
from nesting.model.setting_up import make_variables
from nesting.model.solving import Setting, read, run_once
from nesting.model.variables import Task, Variables
from nesting.progress import Stop, never_stop

_STATUS = cp_model.CpSolverStatus


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a question is asked: what of the goods the model sees, and how the solver goes about it.

    `plane`: pieces may not overlap; without it only their widths add up at every point along the goods, and a "yes"
    means nothing. `across`: their lengths add up at every point across, too. `from_right`: pieces are pushed to the
    right instead of to the left.
    """

    plane: bool = True
    across: bool = True
    from_right: bool = False
    setting: Setting = Setting()


FIRST = Way()
SECOND = Way(from_right=True, setting=Setting(linearization=0, symmetry=0, probing=0, pairwise=10_000))
"""The second opinion: another model (pushed to the other side), another seed, other reasoning."""
STACKED = Way(plane=False, across=False, setting=Setting(timetabling=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The answer. `possible`: True with a `solution` that shows it, False when proved twice, None: not known.

    `spent`: deterministic time.
    """

    possible: bool | None
    spent: float
    solution: Solution | None = None
    value: Value | None = None


def decide(
    instance: Instance,
    task: Task,
    level: int,
    *,
    way: Way,
    second: Way = SECOND,
    seed: int,
    limit: float,
    stop: Stop = never_stop,
) -> Verdict:
    """Ask whether a first level of at most `level` is possible with the options and caps of `task`.

    A "no" is asked again `second` way, within what is left of `limit` or twice what the first took.
    """
    if not all(task.menu):
        return Verdict(possible=False, spent=0.0)  # a choice without an option
    first = ask(instance, task, level, way=way, seed=seed, limit=limit, stop=stop)
    if first.possible is not False:
        return first
    left = max(limit - first.spent, 2 * first.spent)
    again = ask(instance, task, level, way=second, seed=seed + 1, limit=left, stop=stop)
    return replace(again, spent=first.spent + again.spent)


def ask(
    instance: Instance, task: Task, level: int, *, way: Way, seed: int, limit: float, stop: Stop = never_stop
) -> Verdict:
    """Ask once, one way."""
    v = question(instance, task, level, way)
    solver, status = run_once(v.model, seed, limit, stop, way.setting)
    spent = solver.response_proto.deterministic_time
    if status == _STATUS.INFEASIBLE and v.exact:
        return Verdict(possible=False, spent=spent)
    if way.plane:
        solution, value = read(v, solver, status)
        if solution is not None and value is not None and value.levels[0] <= level:
            return Verdict(possible=True, spent=spent, solution=solution, value=value)
    return Verdict(possible=None, spent=spent)


def question(instance: Instance, task: Task, level: int, way: Way) -> Variables:
    """Return the model of `task` with its first level held at `level` or less."""
    v = make_variables(instance, task)
    for rule in ALL_RULES:
        if rule is c3_no_overlap:
            _goods(v, way)
        else:
            rule(v)
    c12_normal_places(v, from_right=way.from_right)
    v.model.add(level_expression(v, 0) <= level)
    return v


def _goods(v: Variables, way: Way) -> None:
    """C3 and C4 as far as `way` sees them: see `c3_no_overlap`; across, lengths add up to the axis at most."""
    boxes = boxes_on_axis(v)
    v.model.add_cumulative(boxes.along, boxes.widths, v.axis.width)
    if way.across:
        top = max(max(s.up + s.high, s.up + s.low) for s in v.axis.stretches)
        v.model.add_cumulative(boxes.across, boxes.lengths, max(top, 0))
    if way.plane:
        v.model.add_no_overlap_2d(boxes.across, boxes.along)
