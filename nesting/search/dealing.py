"""The first solution of a big instance: its choices dealt out to parts, each solved by itself, and the parts joined.

Every part is a small likeness of the whole, with some of each size, so that what lies well beside one another comes
together. The work grows with the number of parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import replace
from math import ceil

from nesting.model.anchoring import let_go
from nesting.model.instance import Option, Solution, Spot
from nesting.model.valuing import faults_of, value_of
from nesting.progress import Stop
from nesting.search.blocks import Heap, Lying, stacked, taken_apart
from nesting.search.improving import Found, scheme_of, standing_of
from nesting.search.parts import PART_PIECES, Part, bound_together, kind_of, part_of
from nesting.search.placing import place
from nesting.search.scheme import Ready
from nesting.search.starting import estimate_length, likely_arrows, ranked_options, starting_schemes

PART_STARTS = 12
"""Starting schemes tried for a part."""
ROLL_FILLED = 0.85
"""How much of a roll the pieces of a part, one after another, may take up as guessed."""


def joined_start(ready: Ready, stop: Stop) -> Found | None:
    """Return a solution of a big instance, or None where some part finds no place for its pieces."""
    arrows = likely_arrows(ready, ranked_options(ready, True))
    solved: list[tuple[Part, Solution]] = []
    waiting = dealt(ready, arrows)[::-1]
    while waiting:
        part = waiting.pop()
        solution = first_of(part, stop)
        if solution is not None:
            solved.append((part, solution))
            continue
        halves = _halved(ready, part, arrows)
        if not halves:
            return None
        waiting += halves[::-1]
    return joined(ready, solved)


def _halved(ready: Ready, part: Part, arrows: dict[int, int | None]) -> list[Part]:
    """Return a part that found no place in two, the goods in hand with the first; a single group gets more rolls."""
    groups = bound_together(part.ready)
    rolls = [s for s in part.sources if ready.instance.sources[s].terms is not None]
    if len(groups) < 2 and not rolls:
        return []
    if len(groups) < 2:
        every = _rolls_of_part(ready, part.choices, ready.instance.sources[rolls[0]].length, on_one_roll=False)
        more = tuple(sorted({*part.sources, *every}))
        return [] if more == part.sources else [part_of(ready, part.choices, more, arrows)]
    hands = [tuple(sorted(part.choices[c] for group in groups[k::2] for c in group)) for k in range(2)]
    named = _named(ready, hands[1]) & set(part.sources)
    first = tuple(source for source in part.sources if source not in named)
    second = tuple(sorted({*rolls, *named}))
    return [part_of(ready, hands[0], first, arrows), part_of(ready, hands[1], second, arrows)]


def _named(ready: Ready, choices: Iterable[int]) -> set[int]:
    """Return the goods in hand that are named for any of some choices."""
    names = set().union(*(ready.instance.choices[number].sources or () for number in choices))
    return {index for index, source in enumerate(ready.instance.sources) if source.id in names and source.terms is None}


def joined(ready: Ready, solved: list[tuple[Part, Solution]]) -> Found | None:
    """Return the solution that puts those of the parts together, which must hold every choice once."""
    options: dict[int, int] = {}
    for part, solution in solved:
        options |= options_of(part, solution)
    heaps = [heap_of(part, solution) for part, solution in solved]
    return put_together(ready, tuple(options[number] for number in range(len(ready.instance.choices))), heaps)


def put_together(ready: Ready, options: tuple[int, ...], heaps: Sequence[Heap]) -> Found | None:
    """Return the solution made of several heaps, which must hold every piece once; None where it breaks a rule."""
    blocks = [block for heap in heaps for block in heap.blocks]
    if any(source.terms is not None and source.terms.whole for source in ready.instance.sources):
        blocks.sort(key=lambda block: -block.length)  # the number of rolls counts: first fit decreasing
    heap = Heap(
        in_hand=tuple(lying for heap in heaps for lying in heap.in_hand),
        anchored=frozenset(source for heap in heaps for source in heap.anchored),
        blocks=tuple(blocks),
    )
    together = stacked(ready, options, heap)
    return None if together is None else found_of(ready, let_go(ready.instance, together))


def options_of(part: Part, solution: Solution) -> dict[int, int]:
    """Return the options that a part's solution takes, by the numbers of the whole instance."""
    return {
        number: taken if fixed is None else fixed[0]
        for number, taken, fixed in zip(part.choices, solution.options, part.fixed, strict=True)
    }


def heap_of(part: Part, solution: Solution) -> Heap:
    """Return a part's solution taken apart, by the numbers of the whole instance."""

    def lying(choice: int, spot: Spot) -> Lying:
        fixed = part.fixed[choice]
        piece = spot.piece if fixed is None else fixed[1][spot.piece]
        return part.choices[choice], replace(spot, piece=piece, source=part.sources[spot.source])

    heap = taken_apart(part.ready, solution)
    return Heap(
        in_hand=tuple(lying(choice, spot) for choice, spot in heap.in_hand),
        anchored=frozenset(part.sources[source] for source in heap.anchored),
        blocks=tuple(
            replace(
                block,
                source=part.sources[block.source],
                pieces=tuple(lying(choice, spot) for choice, spot in block.pieces),
            )
            for block in heap.blocks
        ),
    )


def found_of(ready: Ready, solution: Solution) -> Found | None:
    """Return a solution with its value and scheme, or None where it breaks a rule."""
    if faults_of(ready.instance, solution):
        return None
    return Found(solution, value_of(ready.instance, solution), scheme_of(ready, solution))


def first_of(part: Part, stop: Stop) -> Solution | None:
    """Return the best of a part's first starting schemes; where none gives a solution, the first that does."""
    best: Solution | None = None
    least: tuple[int, ...] = ()
    for count, scheme in enumerate(starting_schemes(part.ready)):
        if best is not None and (count >= PART_STARTS or stop()):
            break
        placed = place(part.ready, scheme)
        standing, value = standing_of(part.ready, placed)
        if placed.solution is not None and value is not None and (best is None or standing < least):
            best, least = placed.solution, standing
    return best


def dealt(ready: Ready, arrows: dict[int, int | None]) -> list[Part]:
    """Return the parts that the choices of an instance are dealt out to, with the goods that each may use.

    A phase group lies on one roll as long as that is not bound to the pattern, which costs a repeat. Groups that go on
    one roll are dealt so that one roll is enough for all of a part; those that do not have parts of their own.
    """
    instance = ready.instance
    likely = [
        choice.options[ranked[0]] for choice, ranked in zip(instance.choices, ranked_options(ready, True), strict=True)
    ]
    roll = max(source.length for source in instance.sources if source.terms is not None)
    most = int(roll * ROLL_FILLED)
    lengths = [estimate_length(ready, option) for option in likely]
    short: list[tuple[int, ...]] = []
    long: list[tuple[int, ...]] = []
    for group in bound_together(ready):
        on_one_roll = instance.lattice is not None and sum(lengths[number] for number in group) <= most
        (short if on_one_roll else long).append(group)
    hands = _hands(short, likely, sum(lengths[number] for group in short for number in group) / most)
    one_roll = len(hands)
    hands += _hands(long, likely, 1)
    goods = _goods_in_hand(ready, hands, likely)
    parts = []
    for k, (hand, stock) in enumerate(zip(hands, goods, strict=True)):
        needed = sum(lengths[number] for number in hand)
        rolls = _rolls_of_part(ready, hand, needed, on_one_roll=k < one_roll)
        parts.append(part_of(ready, hand, tuple(sorted([*stock, *rolls])), arrows))
    return parts


def _hands(groups: list[tuple[int, ...]], likely: list[Option], least: float) -> list[tuple[int, ...]]:
    """Return groups of choices dealt out to so many hands that each is small, at least `least`, the largest first.

    They go round and back, so that every hand gets some of each size.
    """
    if not groups:
        return []
    pieces = sum(len(likely[number].pieces) for group in groups for number in group)
    count = min(len(groups), max(1, round(pieces / PART_PIECES), ceil(least)))
    hands: list[list[int]] = [[] for _ in range(count)]
    for place_, group in enumerate(sorted(groups, key=lambda group: (*_size(group, likely), group))):
        turn, seat = divmod(place_, count)
        hands[seat if turn % 2 == 0 else count - 1 - seat] += group
    return [tuple(sorted(hand)) for hand in hands]


def _size(group: tuple[int, ...], likely: list[Option]) -> tuple[int, int]:
    """Return what groups are sorted by before they are dealt out: their widest piece, then their area."""
    pieces = [piece for number in group for piece in likely[number].pieces]
    return -max(piece.width for piece in pieces), -sum(piece.area for piece in pieces)


def _goods_in_hand(ready: Ready, hands: list[tuple[int, ...]], likely: list[Option]) -> list[list[int]]:
    """Return the goods in hand dealt out, the largest first; small ones of one lot stay together.

    Those that are named for a choice go where that is.
    """
    sources = ready.instance.sources
    area = sum(piece.area for option in likely for piece in option.pieces) // len(hands)
    named = [_named(ready, hand) for hand in hands]
    lots: dict[str, list[int]] = {}
    for number, source in enumerate(sources):
        if source.terms is None and not any(number in goods for goods in named):
            lots.setdefault(source.lot, []).append(number)
    lumps: list[tuple[int, list[int]]] = []
    for lot in lots.values():
        sizes = [sources[number].width * sources[number].length for number in lot]
        if 2 * sum(sizes) <= area:
            lumps.append((-sum(sizes), lot))
        else:
            lumps += [(-size, [number]) for size, number in zip(sizes, lot, strict=True)]
    dealt_out: list[list[int]] = [sorted(goods) for goods in named]
    for place_, (_, lump) in enumerate(sorted(lumps)):
        turn, seat = divmod(place_, len(hands))
        dealt_out[seat if turn % 2 == 0 else len(hands) - 1 - seat] += lump
    return dealt_out


def rolls_for(ready: Ready, lots: Set[str], needed: int, *, least: int, spare: bool = True) -> list[int]:
    """Return rolls to order of every kind in some lots: at least so many; more than `needed` if some are to spare."""
    instance = ready.instance
    rolls: list[int] = []
    have: dict[tuple[object, ...], tuple[int, int]] = {}
    for number, source in enumerate(instance.sources):
        if source.terms is None or source.lot not in lots:
            continue
        kind = kind_of(instance, number)
        count, length = have.get(kind, (0, 0))
        if count < least or (spare and ROLL_FILLED * length < needed + source.length):
            have[kind] = (count + 1, length + source.length)
            rolls.append(number)
    return rolls


def _rolls_of_part(ready: Ready, choices: tuple[int, ...], needed: int, *, on_one_roll: bool) -> list[int]:
    """Return rolls for some choices that need so much, all of one lot where only one may be ordered."""
    instance = ready.instance
    options = [option for number in choices for option in instance.choices[number].options]
    # Goods with a placed pattern may want a roll of their own.
    least = 1 if on_one_roll and all(option.phase == (None, None) for option in options) else 2
    lots = {order_lot(ready)} if instance.orders_of_one_lot else set(ready.order_lots)
    return rolls_for(ready, lots, needed, least=least, spare=not on_one_roll)


def order_lot(ready: Ready) -> str:
    """Return the lot to order: the one with most goods in hand, the first among equals."""

    def in_hand(lot: str) -> int:
        return sum(s.width * s.length for s in ready.instance.sources if s.terms is None and s.lot == lot)

    return min(ready.order_lots, key=lambda lot: (-in_hand(lot), lot))
