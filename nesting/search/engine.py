"""The engine: from an instance to the best solution that the effort finds, with a bound over the options given."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.model.instance import Instance, Solution, Value
from nesting.progress import Progress, Step, Stop, never_stop, no_progress
from nesting.search.improving import Found, improve, scheme_of, standing_of
from nesting.search.infeasible import reasons_of
from nesting.search.least import least_level
from nesting.search.placing import place
from nesting.search.scheme import Ready, make_ready
from nesting.search.starting import starting_schemes


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineResult:
    """What the engine found. `bound_considered` holds for the options given, first level of the goal.

    `proved`: the first level of `value` attains that bound. `stop`: "proved", "effort spent" or "stopped".
    `unplaced`: why there is no solution, one reason each (empty when there is one).
    """

    solution: Solution | None
    value: Value | None
    bound_considered: int
    proved: bool
    stop: str
    unplaced: tuple[str, ...] = ()


def solve(
    instance: Instance,
    *,
    seed: int,
    effort: int,
    stop: Stop = never_stop,
    progress: Progress = no_progress,
    start: Solution | None = None,
) -> EngineResult:
    """Return the best solution of `instance` that `effort` finds.

    The same instance, seed, effort and start give the same result as long as `stop` does not end the run.
    """
    ready = make_ready(instance)
    reasons = reasons_of(ready)
    bound = 0 if reasons else least_level(ready)
    if reasons:
        return EngineResult(
            solution=None, value=None, bound_considered=bound, proved=False, stop="effort spent", unplaced=reasons
        )
    best = _first(ready, start, stop)
    stopped = stop()
    if not stopped and not (best and best.value.levels[0] <= bound):
        base = best.scheme if best else next(starting_schemes(ready))
        best = improve(ready, base, seed, 50 * effort, stop) or best
        stopped = stop()
    progress(Step(material_id="", what="search", best=best.value.levels[0] if best else None, bound=bound))
    proved = best is not None and best.value.levels[0] == bound
    return EngineResult(
        solution=best.solution if best else None,
        value=best.value if best else None,
        bound_considered=bound,
        proved=proved,
        stop="stopped" if stopped else "proved" if proved else "effort spent",
        unplaced=() if best else ("no place was found for all pieces together",),
    )


def _first(ready: Ready, start: Solution | None, stop: Stop) -> Found | None:
    """Return the best of the starting schemes and of `start`."""
    best: Found | None = None
    if start is not None:
        best = Found(start, standing_value(ready, start), scheme_of(ready, start))
    for count, scheme in enumerate(starting_schemes(ready)):
        if count >= 24 or (best is not None and stop()):
            break
        placed = place(ready, scheme)
        _, value = standing_of(ready, placed)
        if placed.solution is not None and value is not None and (best is None or value.levels < best.value.levels):
            best = Found(placed.solution, value, scheme)
    return best


def standing_value(ready: Ready, solution: Solution) -> Value:
    """Return the value of a solution that came from outside."""
    from nesting.model.valuing import value_of

    return value_of(ready.instance, solution)
