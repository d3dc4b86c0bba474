"""Errands: the tasks of a round, each a function of the instance, its seed, its effort and what was best before."""

from __future__ import annotations

import random
from dataclasses import dataclass
from enum import StrEnum

from nesting.model.ground import ground_of, made_width
from nesting.model.instance import Instance
from nesting.model.solving import Answer, solve_model
from nesting.model.variables import Task
from nesting.progress import Stop, never_stop
from nesting.search.improving import Found, improve, scheme_of
from nesting.search.least import Pricing, worthwhile
from nesting.search.scheme import Ready, Scheme
from nesting.search.starting import ranked_options


class Kind(StrEnum):
    """What an errand does."""

    IMPROVE = "improve"  # changes of the scheme
    WINDOW = "window"  # the model over some choices, the others frozen
    WHOLE = "whole"  # the model over all choices and all options that can be worth it
    LATER = "later"  # the later levels of the goal, the first at its proved least


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """One task of a round. `effort` is in hundredths of what one unit of the run's effort allows."""

    kind: Kind
    seed: int
    effort: int
    menu: tuple[tuple[int, ...], ...] = ()  # for models over all choices: the options looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What an errand brings back: the best it knows (never worse than before), and a proved bound if it has one."""

    found: Found | None
    bound: int | None = None
    all_levels: bool = False  # every level of the goal is least in turn
    impossible: bool = False  # the options given have no solution at all


def run_errand(
    ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop = never_stop
) -> Outcome:
    """Run one errand from `best`; `base` is the scheme that changes start from when there is no solution yet."""
    if errand.kind is Kind.IMPROVE:
        scheme = best.scheme if best else base
        if scheme is None:
            return Outcome(found=None)
        found = improve(ready, scheme, errand.seed, steps_of(ready, errand.effort), stop)
        return Outcome(found=_better(best, found))
    limit = errand.effort / 400  # one unit of deterministic time takes two to eight seconds
    if errand.kind is Kind.WINDOW and best is not None:
        task = window(ready, best, random.Random(errand.seed))
        answer = solve_model(ready.instance, task, seed=errand.seed, limit=limit, levels=2, claims=False, stop=stop)
        return Outcome(found=_better(best, _found(ready, answer)))
    task = whole(ready, errand.menu, best)
    first = 1 if errand.kind is Kind.LATER else 0
    answer = solve_model(ready.instance, task, seed=errand.seed, limit=limit, first=first, stop=stop)
    return Outcome(
        found=_better(best, _found(ready, answer)),
        bound=answer.bound,
        all_levels=answer.confirmed == len(ready.instance.weights.levels),
        impossible=answer.impossible,
    )


def steps_of(ready: Ready, effort: int) -> int:
    """Return how many changes `effort` allows; each costs about the square of the pieces to place."""
    pieces = sum(
        min(len(c.options[o].pieces) for o in usable)
        for c, usable in zip(ready.instance.choices, ready.usable, strict=True)
    )
    return max(10, 1200 * effort // (10 + pieces * (4 + len(ready.instance.sources))))


def _found(ready: Ready, answer: Answer) -> Found | None:
    """Return the answer's solution with a scheme that places its pieces from the start of every source on."""
    if answer.solution is None or answer.value is None:
        return None
    scheme = scheme_of(ready, answer.solution)
    return Found(answer.solution, answer.value, scheme)


def _better(a: Found | None, b: Found | None) -> Found | None:
    """Return the better one, the first among equals."""
    if a is None or b is None:
        return a or b
    return b if b.value.levels < a.value.levels else a


def caps_of(instance: Instance, level: int) -> tuple[int, ...]:
    """Return the greatest y of every source that a first level of at most `level` leaves open."""
    roll, run = instance.weights.levels[0][:2]
    caps = []
    for index, source in enumerate(instance.sources):
        high = ground_of(instance, index, False).high
        if source.terms is not None and roll + run:
            # roll·far + run·(far − start − anchor) ≤ level / made width.
            start = source.terms.start + (source.terms.anchor_along or 0)
            high = min(high, (level // made_width(source) + run * start) // (roll + run))
        caps.append(high)
    return tuple(caps)


def open_caps(instance: Instance) -> tuple[int, ...]:
    """Return the greatest y of every source that any sensible solution reaches: all pieces one after another."""
    repeat = instance.lattice.along if instance.lattice else 0
    total = sum(
        max(sum(max(p.length, p.width if set(p.turns) & {1, 3} else 0) + repeat for p in o.pieces) for o in c.options)
        for c in instance.choices
    )
    caps = []
    for index, source in enumerate(instance.sources):
        high = ground_of(instance, index, False).high
        if source.terms is not None and not source.blocked:
            high = min(high, source.terms.start + (source.terms.anchor_along or 0) + total)
        caps.append(high)
    return tuple(caps)


def whole_menu(ready: Ready, found: list[Pricing], best: Found | None) -> tuple[tuple[int, ...], ...]:
    """Return per choice every option that can still lead to something no worse than `best`, and its own."""
    if best is None:
        return ready.usable
    menu = worthwhile(ready, found, best.value.levels[0])
    return tuple(tuple(sorted({*options, taken})) for options, taken in zip(menu, best.solution.options, strict=True))


def whole(ready: Ready, menu: tuple[tuple[int, ...], ...], best: Found | None) -> Task:
    """Return the task over all choices."""
    if best is None:
        return Task(menu=menu, caps=open_caps(ready.instance))
    menu = tuple(tuple(sorted({*options, taken})) for options, taken in zip(menu, best.solution.options, strict=True))
    return Task(menu=menu, caps=caps_of(ready.instance, best.value.levels[0]), incumbent=best.solution)


def slots_in(ready: Ready, menu: tuple[tuple[int, ...], ...]) -> int:
    """Return about how many pieces a model over `menu` has: those of all options."""
    return sum(
        len(choice.options[o].pieces)
        for choice, options in zip(ready.instance.choices, menu, strict=True)
        for o in options
    )


def window(ready: Ready, best: Found, chance: random.Random, most: int = 36) -> Task:
    """Return a task over some choices: neighbours on the goods, the end of an order among them, or any.

    Every choice looks at the option that it has and a few others, as long as the model stays small.
    """
    instance = ready.instance
    order = _window_order(ready, best, chance)
    ranked = ranked_options(ready, chance.random() < 0.5)
    menu: list[tuple[int, ...]] = [(taken,) for taken in best.solution.options]
    free: set[int] = set()
    left = most
    for number in order:
        options = _some_options(ready, number, best.solution.options[number], ranked[number], chance)
        size = sum(len(instance.choices[number].options[o].pieces) for o in options)
        if size > left and free:
            break
        left -= size
        free.add(number)
        menu[number] = options
    return Task(
        menu=tuple(menu),
        caps=caps_of(instance, best.value.levels[0]),
        frozen=frozenset(range(len(instance.choices))) - free,
        incumbent=best.solution,
    )


def _window_order(ready: Ready, best: Found, chance: random.Random) -> list[int]:
    """Return all choices in the order in which a window takes them in."""
    ends: dict[int, list[tuple[int, int]]] = {}
    for number, spots in enumerate(best.solution.spots):
        for spot in spots:
            ends.setdefault(spot.source, []).append((spot.y, number))
    rest = list(range(len(ready.instance.choices)))
    chance.shuffle(rest)
    way = chance.random()
    if not ends or way >= 0.75:
        return rest
    source = chance.choice(sorted(ends))
    y = max(ends[source])[0] if way < 0.35 else chance.choice(ends[source])[0]
    near = [number for _, number in sorted(ends[source], key=lambda item: (abs(item[0] - y), item))]
    # One stranger among the neighbours, so that pieces can change rolls.
    return list(dict.fromkeys([*near[:2], rest[0], *near[2:], *rest]))


def _some_options(
    ready: Ready, number: int, taken: int, ranked: tuple[int, ...], chance: random.Random
) -> tuple[int, ...]:
    """Return the option taken, the likeliest others and a few at random."""
    others = [o for o in ranked if o != taken]
    likely, unlikely = others[:2], others[2:]
    chance.shuffle(unlikely)
    return tuple(sorted({taken, *likely, *unlikely[:2]}))
