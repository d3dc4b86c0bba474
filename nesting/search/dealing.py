"""The first solution of a big instance: its choices dealt out to parts, each solved by itself, and the parts joined.

Every part is a small likeness of the whole, with some of each size, so that what lies well beside one another comes
together. The work grows with the number of parts.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

from nesting.model.anchoring import let_go
from nesting.model.instance import Solution
from nesting.model.valuing import faults_of, value_of
from nesting.progress import Stop
from nesting.search.blocks import Block, Lying, blocks_of, stacked
from nesting.search.improving import Found, scheme_of, standing_of
from nesting.search.parts import PART_PIECES, Part, bound_together, kind_of, least_pieces, part_of
from nesting.search.placing import place
from nesting.search.scheme import Ready
from nesting.search.starting import likely_arrows, ranked_options, starting_schemes

PART_STARTS = 12
"""Starting schemes tried for a part."""


def joined_start(ready: Ready, stop: Stop) -> Found | None:
    """Return a solution of a big instance, or None where some part finds no place for its pieces."""
    arrows = likely_arrows(ready, ranked_options(ready, True))
    parts = dealt(ready, arrows)
    solved: list[tuple[Part, Solution]] = []
    for part in parts:
        solution = _first_of(part, stop)
        if solution is None:
            return None
        solved.append((part, solution))
    return joined(ready, solved)


def joined(ready: Ready, solved: list[tuple[Part, Solution]]) -> Found | None:
    """Return the solution that puts those of the parts together, which must hold every choice once."""
    options = [0] * len(ready.instance.choices)
    in_hand: list[Lying] = []
    anchored: set[int] = set()
    blocks: list[Block] = []
    for part, solution in solved:
        for number, taken in zip(part.choices, solution.options, strict=True):
            options[number] = taken
        anchored.update(part.sources[s] for s, bound in enumerate(solution.anchored) if bound and _in_hand(part, s))
        for number, spots in zip(part.choices, solution.spots, strict=True):
            in_hand += [
                (number, replace(spot, source=part.sources[spot.source]))
                for spot in spots
                if _in_hand(part, spot.source)
            ]
        blocks += [
            replace(
                block,
                source=part.sources[block.source],
                pieces=tuple((part.choices[choice], spot) for choice, spot in block.pieces),
            )
            for block in blocks_of(part.ready, solution)
        ]
    whole = any(source.terms is not None and source.terms.whole for source in ready.instance.sources)
    if whole:
        blocks.sort(key=lambda block: -block.length)  # the number of rolls counts: first fit decreasing
    together = stacked(ready, tuple(options), in_hand, frozenset(anchored), blocks)
    return None if together is None else found_of(ready, let_go(ready.instance, together))


def found_of(ready: Ready, solution: Solution) -> Found | None:
    """Return a solution with its value and scheme, or None where it breaks a rule."""
    if faults_of(ready.instance, solution):
        return None
    return Found(solution, value_of(ready.instance, solution), scheme_of(ready, solution))


def _in_hand(part: Part, source: int) -> bool:
    return part.ready.instance.sources[source].terms is None


def _first_of(part: Part, stop: Stop) -> Solution | None:
    """Return the best of a part's starting schemes."""
    best: Solution | None = None
    least: tuple[int, ...] = ()
    for count, scheme in enumerate(islice(starting_schemes(part.ready), PART_STARTS)):
        if count and best is not None and stop():
            break
        placed = place(part.ready, scheme)
        standing, value = standing_of(part.ready, placed)
        if placed.solution is not None and value is not None and (best is None or standing < least):
            best, least = placed.solution, standing
    return best


def dealt(ready: Ready, arrows: dict[int, int | None]) -> list[Part]:
    """Return the parts that the choices of an instance are dealt out to, with the goods that each may use."""
    groups = bound_together(ready)
    likely = ranked_options(ready, True)
    total = sum(least_pieces(ready, number) for number in range(len(ready.instance.choices)))
    count = min(len(groups), max(1, round(total / PART_PIECES)))
    hands: list[list[int]] = [[] for _ in range(count)]
    ordered = sorted(groups, key=lambda group: (*_size(ready, group, likely), group))
    for place_, group in enumerate(ordered):
        turn, seat = divmod(place_, count)
        hands[seat if turn % 2 == 0 else count - 1 - seat] += group
    goods = _goods(ready, [tuple(sorted(hand)) for hand in hands], likely)
    return [part_of(ready, tuple(sorted(hand)), sources, arrows) for hand, sources in zip(hands, goods, strict=True)]


def _size(ready: Ready, group: tuple[int, ...], likely: tuple[tuple[int, ...], ...]) -> tuple[int, int]:
    """Return what groups are sorted by before they are dealt out: their widest piece, then their area."""
    pieces = [p for number in group for p in ready.instance.choices[number].options[likely[number][0]].pieces]
    return -max(piece.width for piece in pieces), -sum(piece.area for piece in pieces)


def _goods(ready: Ready, hands: list[tuple[int, ...]], likely: tuple[tuple[int, ...], ...]) -> list[tuple[int, ...]]:
    """Return the sources of every part: goods in hand dealt out lot by lot, and enough rolls of every kind."""
    instance = ready.instance
    lots: dict[str, list[int]] = {}
    for number, source in enumerate(instance.sources):
        if source.terms is None:
            lots.setdefault(source.lot, []).append(number)
    area = sum(
        piece.area
        for number in range(len(instance.choices))
        for piece in instance.choices[number].options[likely[number][0]].pieces
    ) // len(hands)
    sized = {
        number: instance.sources[number].width * instance.sources[number].length
        for lot in lots.values()
        for number in lot
    }
    lumps = []
    for lot in lots.values():
        together = 2 * sum(sized[number] for number in lot) <= area
        lumps += [lot] if together else [[number] for number in lot]
    lumps.sort(key=lambda lump: (-sum(sized[number] for number in lump), lump))
    dealt_goods: list[list[int]] = [[] for _ in hands]
    for place_, lump in enumerate(lumps):
        turn, seat = divmod(place_, len(hands))
        dealt_goods[seat if turn % 2 == 0 else len(hands) - 1 - seat] += lump
    return [tuple(sorted([*goods, *_rolls(ready, hand)])) for hand, goods in zip(hands, dealt_goods, strict=True)]


def _rolls(ready: Ready, choices: tuple[int, ...]) -> list[int]:
    """Return enough rolls to order of every kind for some choices, all of one lot where only one may be ordered."""
    instance = ready.instance
    repeat = instance.lattice.along if instance.lattice else 0
    needed = sum(
        max(sum(max(p.length, p.width) + repeat for p in option.pieces) for option in instance.choices[number].options)
        for number in choices
    )
    lot = _order_lot(ready)
    rolls: list[int] = []
    have: dict[tuple[object, ...], int] = {}
    counts: dict[tuple[object, ...], int] = {}
    for number, source in enumerate(instance.sources):
        if source.terms is None or (instance.orders_of_one_lot and source.lot != lot):
            continue
        kind = kind_of(instance, number)
        # Half a roll may be lost on every roll, and goods with a placed pattern may want a roll of their own.
        if have.get(kind, 0) < 2 * needed or counts.get(kind, 0) < 2:
            have[kind] = have.get(kind, 0) + source.length
            counts[kind] = counts.get(kind, 0) + 1
            rolls.append(number)
    return rolls


def _order_lot(ready: Ready) -> str:
    """Return the lot to order: the one with most goods in hand, the first among equals."""

    def in_hand(lot: str) -> int:
        return sum(s.width * s.length for s in ready.instance.sources if s.terms is None and s.lot == lot)

    return min(ready.order_lots, key=lambda lot: (-in_hand(lot), lot))
