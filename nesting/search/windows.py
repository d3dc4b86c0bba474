"""Tasks for the model: all choices with the options that can be worth it, or a window of them, the others frozen."""

from __future__ import annotations

import random
from collections.abc import Iterator

from nesting.model.ground import ground_of, made_width
from nesting.model.instance import Instance
from nesting.model.solving import Answer, solve_model
from nesting.model.valuing import placed
from nesting.model.variables import Task
from nesting.model.window import can_gain, solve_window
from nesting.progress import Stop
from nesting.search.errands import Errand, Kind, Outcome, better
from nesting.search.improving import Found, scheme_of
from nesting.search.least import Pricing, worthwhile
from nesting.search.scheme import Ready, Scheme
from nesting.search.starting import ranked_options

SHARES, SET_UP = 3, 0.25
"""One window has an errand's effort at most, all of them so many times as much; setting one up counts as a part."""
TRIES = 40
"""So many windows are drawn at most: those that cannot gain anything cost next to nothing."""
OTHERS = 6
"""Pieces are offered so many sources besides those that the window's lie on, and a roll of each kind not yet used."""


def limit_of(errand: Errand) -> float:
    """Return the deterministic time that an errand's effort allows: one unit of it takes two to eight seconds."""
    return errand.effort / 400


def run_window(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Solve the model over some choices, the others frozen: window after window until the effort is spent."""
    if best is None:
        return run_whole(ready, errand, best, base, stop)
    chance = random.Random(errand.seed)
    limit = limit_of(errand)
    left, drawn = SHARES * limit, 0
    while left > 0 and drawn < TRIES and not stop():
        task = window(ready, best, chance)
        drawn += 1
        if not can_gain(ready.instance, task, best.value):
            continue
        seed = chance.randrange(1 << 31)
        seen = solve_window(ready.instance, task, seed=seed, limit=min(left, limit), stop=stop)
        left -= max(seen.spent, limit * SET_UP)
        if seen.solution is not None and seen.value is not None:
            best = Found(seen.solution, seen.value, scheme_of(ready, seen.solution))
    return Outcome(found=best)


def run_whole(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Solve the model over all choices, from the first level of the goal or from the second."""
    task = whole(ready, errand.menu or ready.usable, best)
    first = 1 if errand.kind is Kind.LATER else 0
    answer = solve_model(ready.instance, task, seed=errand.seed, limit=limit_of(errand), first=first, stop=stop)
    return Outcome(
        found=better(best, found_in(ready, answer)),
        bound=answer.bound,
        all_levels=answer.confirmed == len(ready.instance.weights.levels),
        impossible=answer.impossible,
    )


def found_in(ready: Ready, answer: Answer) -> Found | None:
    """Return the answer's solution with a scheme that places its pieces from the start of every source on."""
    if answer.solution is None or answer.value is None:
        return None
    return Found(answer.solution, answer.value, scheme_of(ready, answer.solution))


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
        menu=tuple(_with_arrows_kept(instance, menu, best.solution.options, free)),
        caps=caps_of(instance, best.value.levels[0]),
        frozen=frozenset(range(len(instance.choices))) - free,
        incumbent=best.solution,
        offered=_offered(instance, best, free, chance),
    )


def _with_arrows_kept(
    instance: Instance, menu: list[tuple[int, ...]], taken: tuple[int, ...], free: set[int]
) -> Iterator[tuple[int, ...]]:
    """Yield the menu without the options that lie another way than a frozen choice of their arrow group."""
    choices = instance.choices
    kept = {
        choice.arrow_group: choice.options[o].arrow
        for number, (choice, o) in enumerate(zip(choices, taken, strict=True))
        if choice.arrow_group is not None and number not in free
    }
    for choice, options in zip(choices, menu, strict=True):
        if choice.arrow_group not in kept:
            yield options
        else:
            yield tuple(o for o in options if choice.options[o].arrow == kept[choice.arrow_group])


def _offered(instance: Instance, best: Found, free: set[int], chance: random.Random) -> frozenset[int]:
    """Return the sources that the pieces of a window may go to: their own, some others, a roll of each kind unused."""
    spots = best.solution.spots
    own = {spot.source for number in free for spot in spots[number]}
    used = {spot.source for of_choice in spots for spot in of_choice}
    fresh: dict[object, int] = {}
    others = []
    for s, source in enumerate(instance.sources):
        if source.terms is not None and s not in used:
            fresh.setdefault((source.lot, made_width(source), source.width, source.length, source.terms), s)
        elif s not in own:
            others.append(s)
    return frozenset({*own, *fresh.values(), *chance.sample(others, min(OTHERS, len(others)))})


def _window_order(ready: Ready, best: Found, chance: random.Random) -> list[int]:
    """Return all choices in the order in which a window takes them in."""
    ends: dict[int, list[tuple[int, int]]] = {}
    for number, piece, spot in placed(ready.instance, best.solution):
        length = piece.width if spot.turn in (1, 3) else piece.length
        ends.setdefault(spot.source, []).append((spot.y + length, number))
    rest = list(range(len(ready.instance.choices)))
    chance.shuffle(rest)
    way = chance.random()
    if not ends or way >= 0.75:
        return rest
    orders = [s for s in sorted(ends) if ready.instance.sources[s].terms is not None]
    at_an_end = way < 0.35 and orders
    source = chance.choice(orders if at_an_end else sorted(ends))
    y = max(ends[source])[0] if at_an_end else chance.choice(ends[source])[0]
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
