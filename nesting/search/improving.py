"""Improving search: one task changes a scheme step by step and keeps what is no worse."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

from nesting.model.ground import may_anchor
from nesting.model.instance import Solution, Value
from nesting.model.valuing import placed as placed_pieces
from nesting.model.valuing import value_of
from nesting.progress import Stop
from nesting.search.placing import Placed, place
from nesting.search.scheme import Ready, Scheme, fits
from nesting.search.starting import in_sequence

Standing = tuple[int, ...]
"""What the search compares: pieces without a place, the first level, goods to the unit, then the other levels."""


@dataclass(frozen=True, slots=True)
class Found:
    """A complete solution with its value and the scheme that gives it."""

    solution: Solution
    value: Value
    scheme: Scheme


def standing_of(ready: Ready, placed: Placed) -> tuple[Standing, Value | None]:
    """Return how a placed scheme stands, and its value if it is complete and keeps the cap on seams."""
    goods = sum(
        rate * far
        for rate, far, source in zip(ready.rates, placed.fars, ready.instance.sources, strict=False)
        if source.terms is not None
    )
    if placed.solution is None:
        return (1 + placed.missing, goods), None
    value = value_of(ready.instance, placed.solution)
    over = 0
    most = ready.instance.weights.most_seams
    if most is not None:
        options = placed.solution.options
        seams = sum(c.options[o].seams for c, o in zip(ready.instance.choices, options, strict=True))
        over = max(0, seams - most)
    return (over, value.levels[0], goods, *value.levels[1:]), (None if over else value)


def scheme_of(ready: Ready, solution: Solution, order_lot: str | None = None) -> Scheme:
    """Return the scheme that places the pieces of `solution` from the start of every source upwards."""
    instance = ready.instance
    lots: list[str | None] = [None] * len(instance.choices)
    spots = []
    for number, _, spot in placed_pieces(instance, solution):
        source = instance.sources[spot.source]
        if instance.choices[number].lot_group is not None:
            lots[number] = source.lot
        if source.terms is not None and instance.orders_of_one_lot:
            order_lot = source.lot
        spots.append((source.terms is not None, spot.source, spot.y, spot.x, number, spot.piece))
    if order_lot is None and instance.orders_of_one_lot and ready.order_lots:
        order_lot = ready.order_lots[0]
    sequence = tuple((number, piece) for *_, number, piece in sorted(spots))
    return Scheme(
        options=solution.options,
        sequence=in_sequence(ready, solution.options, sequence),
        lots=tuple(lots),
        order_lot=order_lot,
        anchored=solution.anchored,
    )


def improve(ready: Ready, scheme: Scheme, seed: int, steps: int, stop: Stop) -> Found | None:
    """Return the best that `steps` changes of `scheme` lead to, or None if nothing complete was met.

    Worse schemes are accepted as long as their first level stays within a margin of the best, which closes in.
    """
    chance = random.Random(seed)
    moves = moves_for(ready)
    now = scheme
    placed = place(ready, now)
    standing, value = standing_of(ready, placed)
    best: Found | None = None
    if placed.solution is not None and value is not None:
        best = Found(placed.solution, value, now)
    best_standing = standing
    for step in range(steps):
        if stop():
            break
        trial = chance.choices([move for move, _ in moves], [weight for _, weight in moves])[0](ready, now, chance)
        if trial is None or trial == now:
            continue
        placed = place(ready, trial)
        new, value = standing_of(ready, placed)
        margin = max(best_standing[1] // 50, 1) * (steps - step) // steps
        if new <= standing or (
            new[0] <= best_standing[0] and new[1] <= best_standing[1] + margin // 4 and chance.random() < 0.2
        ):
            now, standing = trial, new
        best_standing = min(best_standing, new)
        if placed.solution is not None and value is not None and (best is None or value.levels < best.value.levels):
            best = Found(placed.solution, value, trial)
    return best


Move = Callable[[Ready, Scheme, random.Random], Scheme | None]


def moves_for(ready: Ready) -> list[tuple[Move, int]]:
    """Return the moves that can change anything in this instance, with their weights."""
    instance = ready.instance
    moves: list[tuple[Move, int]] = [(_swap, 3), (_shift, 3), (_shuffle, 1)]
    if any(len(usable) > 1 for usable in ready.usable):
        moves.append((_other_option, 5))
    if any(choice.arrow_group is not None for choice in instance.choices):
        moves.append((_other_arrow, 1))
    if len(ready.lots) > 1:
        moves.append((_other_lot, 3))
    if len(instance.sources) > 1:
        moves.append((_bar, 1))
    if len(ready.order_lots) > 1 and instance.orders_of_one_lot:
        moves.append((_other_order_lot, 1))
    if instance.lattice is not None and any(may_anchor(source) for source in instance.sources):
        moves.append((_anchor, 1))
    return moves


def _sorted_in(ready: Ready, scheme: Scheme, sequence: list[tuple[int, int]]) -> Scheme:
    return replace(scheme, sequence=in_sequence(ready, scheme.options, tuple(sequence)))


def _swap(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Swap two pieces of the sequence."""
    if len(scheme.sequence) < 2:
        return None
    sequence = list(scheme.sequence)
    a, b = chance.sample(range(len(sequence)), 2)
    sequence[a], sequence[b] = sequence[b], sequence[a]
    return _sorted_in(ready, scheme, sequence)


def _shift(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Move one piece, or all of one choice, to another place of the sequence."""
    if len(scheme.sequence) < 2:
        return None
    sequence = list(scheme.sequence)
    who = chance.choice(sequence)
    moved = [who] if chance.random() < 0.7 else [other for other in sequence if other[0] == who[0]]
    rest = [other for other in sequence if other not in moved]
    at = chance.randint(0, len(rest))
    return _sorted_in(ready, scheme, rest[:at] + moved + rest[at:])


def _shuffle(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Shuffle a stretch of the sequence, or place some pieces first."""
    sequence = list(scheme.sequence)
    size = min(len(sequence), chance.randint(3, 8))
    if chance.random() < 0.5:
        at = chance.randint(0, len(sequence) - size)
        part = sequence[at : at + size]
        chance.shuffle(part)
        sequence[at : at + size] = part
    else:
        part = chance.sample(sequence, size)
        sequence = part + [who for who in sequence if who not in part]
    return _sorted_in(ready, scheme, sequence)


def with_option(ready: Ready, scheme: Scheme, number: int, taken: int) -> Scheme:
    """Return `scheme` with another option for choice `number`, its pieces placed where the old ones were, by length."""
    old = scheme.options[number]
    if old == taken:
        return scheme
    places = [place_ for place_, who in enumerate(scheme.sequence) if who[0] == number]
    pieces = ready.instance.choices[number].options[taken].pieces
    order = sorted(range(len(pieces)), key=lambda index: (-pieces[index].length, -pieces[index].width, index))
    sequence: list[tuple[int, int]] = []
    for place_, who in enumerate(scheme.sequence):
        if who[0] != number:
            sequence.append(who)
            continue
        last = place_ == places[-1]
        count = len(order) if last else min(1, len(order))
        sequence += [(number, index) for index in order[:count]]
        order = order[count:]
    options = tuple(taken if n == number else o for n, o in enumerate(scheme.options))
    return replace(scheme, options=options, sequence=in_sequence(ready, options, tuple(sequence)))


def _other_option(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Give one choice another option with the same arrow, if it has an arrow group."""
    number = chance.choice([n for n, usable in enumerate(ready.usable) if len(usable) > 1])
    choice = ready.instance.choices[number]
    arrow = choice.options[scheme.options[number]].arrow
    others = [
        taken
        for taken in ready.usable[number]
        if taken != scheme.options[number] and (choice.arrow_group is None or choice.options[taken].arrow == arrow)
    ]
    return with_option(ready, scheme, number, chance.choice(others)) if others else None


def _other_arrow(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Turn a whole arrow group to another arrow that all its choices have."""
    choices = ready.instance.choices
    group = chance.choice(sorted({c.arrow_group for c in choices if c.arrow_group is not None}))
    members = [n for n, choice in enumerate(choices) if choice.arrow_group == group]
    common = set.intersection(*({choices[n].options[o].arrow for o in ready.usable[n]} for n in members))
    common.discard(choices[members[0]].options[scheme.options[members[0]]].arrow)
    if not common:
        return None
    arrow = chance.choice(sorted(common, key=str))
    for number in members:
        options = [o for o in ready.usable[number] if choices[number].options[o].arrow == arrow]
        scheme = with_option(ready, scheme, number, chance.choice(options))
    return scheme


def _other_lot(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Cut a lot group from another lot, with options that go into it."""
    instance = ready.instance
    numbers = [n for n, choice in enumerate(instance.choices) if choice.lot_group is not None]
    if not numbers:
        return None
    mates = ready.lot_mates[chance.choice(numbers)]
    lot = chance.choice([name for name in ready.lots if name != scheme.lots[mates[0]]])
    grounds = ready.grounds(scheme.anchored)
    inside = [grounds[s] for s, source in enumerate(instance.sources) if source.lot == lot]
    for number in mates:
        choice = instance.choices[number]
        arrow = choice.options[scheme.options[number]].arrow
        fitting = [
            taken
            for taken in ready.usable[number]
            if all(
                any(fits(shape, ground) for shape in ways for ground in inside) for ways in ready.shapes[number][taken]
            )
            and (choice.arrow_group is None or choice.options[taken].arrow == arrow)
        ]
        if not fitting:
            return None
        if scheme.options[number] not in fitting or chance.random() < 0.3:
            scheme = with_option(ready, scheme, number, chance.choice(fitting))
    return replace(scheme, lots=tuple(lot if n in mates else old for n, old in enumerate(scheme.lots)))


def _bar(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Bar a choice from a source, or lift a bar."""
    if scheme.barred and chance.random() < 0.5:
        return replace(scheme, barred=scheme.barred - {chance.choice(sorted(scheme.barred))})
    pair = (chance.randrange(len(ready.instance.choices)), chance.randrange(len(ready.instance.sources)))
    return replace(scheme, barred=scheme.barred | {pair})


def _other_order_lot(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Order from another lot; what was cut from the old one follows."""
    lot = chance.choice([name for name in ready.order_lots if name != scheme.order_lot])
    lots = tuple(lot if old == scheme.order_lot else old for old in scheme.lots)
    return replace(scheme, order_lot=lot, lots=lots)


def _anchor(ready: Ready, scheme: Scheme, chance: random.Random) -> Scheme | None:
    """Anchor a source of unknown phase, or let it go."""
    sources = [s for s, source in enumerate(ready.instance.sources) if may_anchor(source)]
    flipped = chance.choice(sources)
    anchored = tuple(old != (s == flipped) for s, old in enumerate(scheme.anchored))
    return replace(scheme, anchored=anchored)
