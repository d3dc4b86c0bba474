"""The engine: from an instance to the best solution that the effort finds, with a bound over the options given."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from itertools import chain

from nesting.model.instance import Instance, Solution, Value
from nesting.model.valuing import faults_of, value_of
from nesting.progress import Progress, Step, Stop, never_stop, no_progress
from nesting.search.apart import Apart, Together, joined, parts_of
from nesting.search.by_hand import by_hand
from nesting.search.dealing import joined_start
from nesting.search.earlier import Taken, scheme_from
from nesting.search.errands import View, better
from nesting.search.handing_out import Hands
from nesting.search.improving import Found, scheme_of, standing_of
from nesting.search.infeasible import reasons_of
from nesting.search.least import Pricing, least_level, pricings
from nesting.search.narrowing import narrowed
from nesting.search.parts import comes_in_parts, is_big
from nesting.search.placing import place
from nesting.search.regions import with_reworked
from nesting.search.rounds import errands_of
from nesting.search.scheme import Ready, Scheme, make_ready
from nesting.search.side_by_side import side_by_side
from nesting.search.skyline import is_settled, packed_at_once
from nesting.search.starting import starting_schemes

STARTS = 24


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
    impossible: bool = False  # proved: no effort would find a solution
    by_hand: Solution | None = None  # the hand method's


@dataclass(slots=True, kw_only=True)
class _Run:
    """What is known as the rounds go on."""

    ready: Ready
    seed: int
    effort: int
    stop: Stop
    hands: Hands
    prices: list[Pricing] = field(default_factory=list)
    bound: int = 0
    by_hand: Solution | None = None
    best: Found | None = None
    base: Scheme | None = None  # the least bad of the starting schemes
    handed_on: dict[str, Scheme] = field(default_factory=dict)  # per slot, from round to round
    all_levels: bool = False
    impossible: bool = False
    stopped: bool = False
    idle: int = field(default=0)  # rounds since the last improvement

    @property
    def proved(self) -> bool:
        """Tell whether the first level attains its bound."""
        return self.best is not None and self.best.value.levels[0] <= self.bound


def solve(
    instance: Instance,
    *,
    seed: int,
    effort: int,
    stop: Stop = never_stop,
    progress: Progress = no_progress,
    start: Solution | Taken | None = None,
    executor: Executor | None = None,
    narrow: bool = True,
) -> EngineResult:
    """Return the best solution of `instance` that `effort` rounds find, beginning with `start` if there is one.

    `narrow`: a full rack is narrowed down first (see `narrowing`), once. The same instance, seed, effort and start give
    the same result, with an executor or without, as long as `stop` does not end the run.
    """
    if not instance.choices:
        return _nothing_to_place(instance)

    def again(
        part: Instance, begin: Solution | Taken | None, stop: Stop, progress: Progress, *, narrow: bool
    ) -> EngineResult:
        return solve(
            part,
            seed=seed,
            effort=effort,
            stop=stop,
            progress=progress,
            start=begin,
            executor=executor,
            narrow=narrow,
        )

    ready = make_ready(instance)
    reasons = reasons_of(ready)
    if reasons:
        return EngineResult(
            solution=None,
            value=None,
            bound_considered=0,
            proved=False,
            stop="effort spent",
            unplaced=reasons,
            impossible=True,
        )
    parts = parts_of(ready)
    if len(parts) > 1:
        together = Together(len(parts), progress)

        def of_part(number: int, stop: Stop) -> EngineResult:
            part, own = parts[number].instance(instance), parts[number].start(start)
            begin = own if own is None else own.solution(part) or own
            tell = together.of(number)
            return again(part, begin, stop, tell, narrow=narrow)

        return _put_together(instance, parts, side_by_side(of_part, range(len(parts)), executor, stop))
    looked_at = narrowed(ready, _lain_on(start)) if narrow else range(len(instance.sources))
    if len(looked_at) < len(instance.sources):
        few = Apart(choices=tuple(range(len(instance.choices))), sources=tuple(looked_at))
        part, own = few.instance(instance), few.start(start)
        begin = own if own is None else own.solution(part) or own
        return _put_together(instance, [few], [again(part, begin, stop, progress, narrow=False)])
    run = _Run(ready=ready, seed=seed, effort=effort, stop=stop, hands=Hands(ready, executor))
    run.prices = pricings(ready)
    run.bound = max(0, least_level(ready, run.prices))
    _start(run, start)
    _tell(run, progress, "first solution")
    number = 0
    while number < effort and not _finished(run):
        before = run.best.value.levels if run.best else None
        _round(run, number)
        number += 1
        run.idle = 0 if run.best and run.best.value.levels != before else run.idle + 1
        _tell(run, progress, f"round {number}")
    best = run.best
    why = "proved" if run.proved else "stopped" if run.stopped else "effort spent"
    return EngineResult(
        solution=best.solution if best else None,
        value=best.value if best else None,
        bound_considered=run.bound,
        proved=run.proved,
        stop=why,
        unplaced=() if best else (_no_place(run),),
        impossible=run.impossible and best is None,
        by_hand=run.by_hand,
    )


def _lain_on(start: Solution | Taken | None) -> frozenset[int]:
    """Return the sources on which something of a start lies."""
    return frozenset() if start is None else frozenset(spot.source for spots in start.spots for spot in spots)


def _nothing_to_place(instance: Instance) -> EngineResult:
    """Return the one solution of an instance without choices: everything was cut before."""
    solution = Solution(options=(), spots=(), anchored=(False,) * len(instance.sources))
    return EngineResult(
        solution=solution, value=value_of(instance, solution), bound_considered=0, proved=True, stop="proved"
    )


def _put_together(instance: Instance, parts: Sequence[Apart], results: Sequence[EngineResult]) -> EngineResult:
    """Return what was found for parts that share nothing as the result for the whole."""
    solution = joined(instance, parts, [result.solution for result in results])
    proved = all(result.proved for result in results)
    stopped = any(result.stop == "stopped" for result in results)
    return EngineResult(
        solution=solution,
        value=None if solution is None else value_of(instance, solution),
        bound_considered=sum(result.bound_considered for result in results),
        proved=proved,
        stop="proved" if proved else "stopped" if stopped else "effort spent",
        unplaced=tuple(reason for result in results for reason in result.unplaced),
        impossible=any(result.impossible for result in results),
        by_hand=joined(instance, parts, [result.by_hand for result in results]),
    )


def _no_place(run: _Run) -> str:
    """Say why no solution was found although every piece by itself fits."""
    if run.impossible:
        return "the pieces do not all go into the goods together"
    return "no place was found for all pieces together"


def _tell(run: _Run, progress: Progress, what: str) -> None:
    """Report what is known."""
    progress(Step(material_id="", what=what, best=run.best.value.levels[0] if run.best else None, bound=run.bound))


def _start(run: _Run, start: Solution | Taken | None) -> None:
    """Find the best of the starting schemes, of the hand method and of `start`: a lawful solution, or a part of one."""
    ready = run.ready
    run.by_hand = _lawful_by_hand(ready)
    if run.by_hand is not None:
        run.best = Found(run.by_hand, value_of(ready.instance, run.by_hand), scheme_of(ready, run.by_hand))
    if isinstance(start, Solution) and not faults_of(ready.instance, start):
        run.best = better(Found(start, value_of(ready.instance, start), scheme_of(ready, start)), run.best)
    least = None
    given = scheme_from(ready, start) if isinstance(start, Taken) else None
    run.best = better(run.best, packed_at_once(ready))
    if is_big(ready):
        run.best = better(run.best, None if is_settled(ready) else joined_start(ready, run.stop))
        run.base = run.best.scheme if run.best else None
    others = () if run.base else starting_schemes(ready)
    complete = run.base is not None
    for count, scheme in enumerate(chain([given] if given else [], others)):
        if count >= STARTS or (count and run.best is not None and run.stop()):
            break
        placed = place(ready, scheme)
        standing, value = standing_of(ready, placed)
        if placed.solution is not None and value is not None:
            run.best = better(run.best, Found(placed.solution, value, scheme))
            complete = True
        if least is None or standing < least:
            least, run.base = standing, scheme
    if not complete and comes_in_parts(ready):  # phase groups that want a roll each: parts see to that
        run.best = better(run.best, joined_start(ready, run.stop))


def _lawful_by_hand(ready: Ready) -> Solution | None:
    """Return the hand method's solution, judged like any other."""
    found = by_hand(ready.instance)
    return None if found is None or faults_of(ready.instance, found) else found


def _finished(run: _Run) -> bool:
    """Tell whether there is nothing left to gain, or the run is stopped."""
    if run.stop():
        run.stopped = True
    if run.stopped or run.impossible or (run.proved and run.all_levels):
        return True
    # With the first level proved the later ones are worth a few more rounds only.
    return run.proved and run.idle >= 2


def _view(run: _Run, number: int) -> View:
    """Return what is known at the start of round `number`."""
    return View(
        ready=run.ready,
        prices=run.prices,
        number=number,
        seed=run.seed,
        bound=run.bound,
        best=run.best,
        base=run.base,
        proved=run.proved,
        handed_on=dict(run.handed_on),
    )


def _round(run: _Run, number: int) -> None:
    """Run the errands of one round; all see what was best at its start."""
    reworked = []
    before = run.best
    errands = errands_of(_view(run, number))
    for errand, outcome in run.hands.outcomes(errands, run.best, run.base, run.stop):
        if outcome.reworked is not None:
            reworked.append(outcome.reworked)
        if outcome.scheme is not None:
            run.handed_on[errand.slot] = outcome.scheme
        if outcome.bound is not None and outcome.bound > run.bound:
            run.bound = outcome.bound
        run.impossible = run.impossible or outcome.impossible
        found = outcome.found
        if found is not None and (run.best is None or found.value.levels < run.best.value.levels):
            run.best = found
            run.all_levels = False
        if outcome.all_levels and found is not None and run.best is not None:
            run.all_levels = run.all_levels or found.value.levels == run.best.value.levels
    if reworked and before is not None:
        run.best = better(run.best, with_reworked(run.ready, before, reworked))
