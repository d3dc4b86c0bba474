"""Big instances are improved region by region: what lies on some stretches of the goods is searched by itself.

A round divides all that is placed into regions of about equal size; no piece and no goods in hand are in two of them,
so that what they save adds up. A region holds blocks that share choices, and some from elsewhere. A choice all of
whose pieces lie in one region is open, one with pieces outside keeps its option and the phase of its pattern.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.model.instance import Instance, Solution, Spot
from nesting.model.valuing import value_of
from nesting.progress import Stop
from nesting.search.blocks import Block, Heap, Lying, Region, Reworked, stacked, taken_apart
from nesting.search.dealing import heap_of, options_of, order_lot, put_together, rolls_for
from nesting.search.errands import Errand, Kind, Outcome, View
from nesting.search.improving import Found, improve, scheme_of
from nesting.search.parts import Fixed, Part, bound_together, is_big, kind_of, part_of
from nesting.search.scheme import Ready, Scheme

REGION_PIECES = 28
"""About so many pieces lie in a region."""
LOOKS_PER_PIECE = 400_000
"""What an errand over a region may spend for each of its pieces, in looks at boxes."""
STEPS_ON_BENCH = 60
"""Changes tried where every roll must come apart on the bench."""
HEATS = ((3000, 30), (800, 10))
"""Where the temperature begins and ends, in millionths of the goods, from one region to the next."""


def regions(view: View) -> Iterator[Errand]:
    """Yield one errand for every region of a big instance."""
    if view.best is None or not is_big(view.ready):
        return
    chance = random.Random(view.seed_of(50))
    for place, region in enumerate(divided(view.ready, view.best.solution, chance)):
        seed = (view.seed_of(50) + 7919 * place) % (1 << 31)
        yield Errand(kind=Kind.REGION, seed=seed, effort=100, region=region)


def divided(ready: Ready, solution: Solution, chance: random.Random) -> list[Region]:
    """Return the regions that everything placed is divided into."""
    heap = taken_apart(ready, solution)
    cells = _cells(ready, heap)
    at: dict[int, list[int]] = {}
    for number, cell in enumerate(cells):
        for choice in sorted({choice for choice, _ in cell.pieces}):
            at.setdefault(choice, []).append(number)
    order = [number for number, cell in enumerate(cells) if cell.pieces]
    empty = [number for number, cell in enumerate(cells) if not cell.pieces]
    chance.shuffle(order)
    chance.shuffle(empty)
    left = set(order)
    waiting = deque(order)
    grown: list[list[int]] = []
    while left:
        members: list[int] = []
        share = REGION_PIECES // 2  # one neighbourhood, then others until the region is full
        while waiting and _size_of(members, cells) < share:
            first = waiting.popleft()
            if first in left:
                _grow(members, first, share, cells, at, left)
                share = REGION_PIECES
                if first in left:
                    waiting.appendleft(first)  # too much for what is left of this region
                    break
        grown.append(members)
    for place, number in enumerate(empty):
        grown[place % len(grown)].append(number)
    home = {who: place for place, members in enumerate(grown) for number in members for who in cells[number].pieces}
    fixed = _fixed(ready, solution, home)
    return [
        _region(ready, solution, [cells[number] for number in members], fixed[place])
        for place, members in enumerate(grown)
    ]


def _region(ready: Ready, solution: Solution, cells: list[_Cell], fixed: dict[int, Fixed]) -> Region:
    """Return the region of some cells."""
    choices = {choice for cell in cells for choice, _ in cell.pieces}
    return Region(
        options=tuple((choice, solution.options[choice]) for choice in sorted(choices)),
        fixed=tuple(sorted(fixed.items())),
        sources=tuple(sorted(source for cell in cells for source in cell.sources)),
        heap=Heap(
            in_hand=tuple(lying for cell in cells for lying in cell.in_hand),
            anchored=frozenset(source for cell in cells for source in cell.sources if solution.anchored[source]),
            blocks=tuple(cell.block for cell in cells if cell.block is not None),
        ),
    )


@dataclass(frozen=True, slots=True)
class _Cell:
    """What is never divided: a block, or the goods in hand of one lot with what lies on them."""

    block: Block | None
    sources: tuple[int, ...] = ()
    in_hand: tuple[Lying, ...] = ()

    @property
    def pieces(self) -> tuple[tuple[int, int], ...]:
        """(choice, piece) of all that lies there."""
        lying = self.in_hand if self.block is None else self.block.pieces
        return tuple((choice, spot.piece) for choice, spot in lying)


def _size_of(members: list[int], cells: Sequence[_Cell]) -> int:
    return sum(len(cells[number].pieces) for number in members)


def _grow(
    members: list[int], first: int, most: int, cells: Sequence[_Cell], at: dict[int, list[int]], left: set[int]
) -> None:
    """Add cells from `first` on, neighbours by their choices, until `most` pieces are reached."""
    queue = deque([first])
    size = _size_of(members, cells)
    while queue:
        number = queue.popleft()
        if number not in left or (members and size + len(cells[number].pieces) > most):
            continue
        left.discard(number)
        members.append(number)
        size += len(cells[number].pieces)
        for choice in sorted({choice for choice, _ in cells[number].pieces}):
            queue.extend(other for other in at[choice] if other in left)


def _cells(ready: Ready, heap: Heap) -> list[_Cell]:
    """Return the cells of a heap; goods in hand of a lot that is ordered too are each a cell of their own."""
    cells = [_Cell(block) for block in heap.blocks]
    on: dict[int, list[Lying]] = {}
    for choice, spot in heap.in_hand:
        on.setdefault(spot.source, []).append((choice, spot))
    lots: dict[object, list[int]] = {}
    for number, source in enumerate(ready.instance.sources):
        if source.terms is None:
            lots.setdefault(number if source.lot in ready.order_lots else source.lot, []).append(number)
    cells += [
        _Cell(None, tuple(lot), tuple(item for number in lot for item in on.get(number, []))) for lot in lots.values()
    ]
    return cells


def run_region(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Search one region from how it is; bring back what becomes of it if that is better.

    Where a choice with pieces outside went to another lot, the region is searched again without the goods of others.
    """
    if errand.region is None:
        return Outcome(found=None)
    reworked, torn = _reworked(ready, errand.region, errand, stop)
    if torn:
        reworked, _ = _reworked(ready, _of_order_lot(ready, errand.region), errand, stop)
    return Outcome(found=None, reworked=reworked)


def _reworked(ready: Ready, region: Region, errand: Errand, stop: Stop) -> tuple[Reworked | None, bool]:
    """Return what becomes of a region if that is better, and whether it tears a choice between two lots."""
    part = _part(ready, region)
    start = _laid_in(part, ready.instance, region)
    if start is None:
        return None, False
    before = value_of(part.ready.instance, start)
    after = _searched(part.ready, scheme_of(part.ready, start), errand, stop)
    if after is None or after.value.levels >= before.levels:
        return None, False
    sources = part.ready.instance.sources
    lots = [
        (choice.lot_group is not None and fixed is not None, sources[spot.source].lot, sources[old.source].lot)
        for choice, fixed, spots, olds in zip(
            part.ready.instance.choices, part.fixed, after.solution.spots, start.spots, strict=True
        )
        for spot, old in zip(spots, olds, strict=False)
    ]
    if any(bound and new != old for bound, new, old in lots):
        return None, True
    options = tuple(sorted(options_of(part, after.solution).items()))
    return Reworked(old=region, options=options, heap=heap_of(part, after.solution)), False


def _searched(ready: Ready, scheme: Scheme, errand: Errand, stop: Stop) -> Found | None:
    """Return the best that a search of a part from `scheme` meets."""
    from nesting.search.islands import Heat, annealed  # what is compiled is not waited for before a first plan

    if ready.instance.bench_cuts:
        return improve(ready, scheme, errand.seed, STEPS_ON_BENCH * errand.effort // 100, stop)
    looks = LOOKS_PER_PIECE * len(scheme.sequence) * errand.effort // 100
    hot, cold = HEATS[errand.seed % len(HEATS)]
    return annealed(ready, scheme, errand.seed, looks, Heat(start=hot, end=cold), stop).found


def _of_order_lot(ready: Ready, region: Region) -> Region:
    """Return a region without the goods in hand of lots that are not ordered, and what lies on them."""
    sources = ready.instance.sources
    kept = frozenset(source for source in region.sources if sources[source].lot in ready.order_lots)
    in_hand = tuple((choice, spot) for choice, spot in region.heap.in_hand if spot.source in kept)
    heap = replace(region.heap, in_hand=in_hand, anchored=region.heap.anchored & kept)
    smaller = replace(region, sources=tuple(sorted(kept)), heap=heap)
    choices = {choice for choice, _ in smaller.lying}
    return replace(smaller, options=tuple(pair for pair in region.options if pair[0] in choices))


def _part(ready: Ready, region: Region) -> Part:
    """Return a region as a part of the instance, with rolls for what it holds and some to spare."""
    instance = ready.instance
    choices = tuple(choice for choice, _ in region.options)
    lots = {instance.sources[block.source].lot for block in region.heap.blocks}
    needed = sum(block.length for block in region.heap.blocks)
    rolls = rolls_for(ready, lots or {order_lot(ready)}, needed, least=1 if instance.lattice is None else 2)
    arrows = {}
    for choice, taken in region.options:
        group = instance.choices[choice].arrow_group
        if group is not None:
            arrows[group] = instance.choices[choice].options[taken].arrow
    return part_of(ready, choices, tuple(sorted([*region.sources, *rolls])), arrows, dict(region.fixed))


def _fixed(ready: Ready, solution: Solution, home: dict[tuple[int, int], int]) -> dict[int, dict[int, Fixed]]:
    """Return by region the choices that are not open there.

    They have pieces outside, or share a phase or lot with some. `home` tells the region of every (choice, piece).
    """
    fixed: dict[int, dict[int, Fixed]] = {place: {} for place in home.values()}
    for group in bound_together(ready):
        pieces = [(choice, spot.piece) for choice in group for spot in solution.spots[choice]]
        if len({home[who] for who in pieces}) == 1:
            continue
        phase = _phase(ready, solution, group)
        inside: dict[tuple[int, int], list[int]] = {}
        for choice, piece in pieces:
            inside.setdefault((home[choice, piece], choice), []).append(piece)
        for (place, choice), members in inside.items():
            fixed[place][choice] = (solution.options[choice], tuple(sorted(members)), phase)
    return fixed


def _phase(ready: Ready, solution: Solution, group: tuple[int, ...]) -> tuple[int | None, int | None]:
    """Return φ of the phase group of some choices as it is in `solution`; (None, None) without a pattern."""
    grounds = ready.grounds(solution.anchored)
    for choice in group:
        option = ready.instance.choices[choice].options[solution.options[choice]]
        if option.phase != (None, None):
            return option.phase
    for choice in group:
        option = ready.instance.choices[choice].options[solution.options[choice]]
        for piece, spot in zip(option.pieces, solution.spots[choice], strict=True):
            if piece.group is not None and ready.instance.lattice is not None:
                ground = grounds[spot.source]
                across = None if ground.across is None else spot.x + ground.sigma[0] - piece.offset[0]
                return across, spot.y + ground.sigma[1] - piece.offset[1]
    return None, None


def _laid_in(part: Part, instance: Instance, region: Region) -> Solution | None:
    """Return the part's solution that has its pieces as they lie in the region; None where they do not fit."""
    places = {number: place for place, number in enumerate(part.choices)}
    sources = {number: place for place, number in enumerate(part.sources)}
    kinds = {kind_of(instance, number): place for number, place in reversed(sources.items())}

    def lying(choice: int, spot: Spot) -> Lying:
        place = places[choice]
        fixed = part.fixed[place]
        index = spot.piece if fixed is None else fixed[1].index(spot.piece)
        return place, replace(spot, piece=index, source=sources.get(spot.source, -1))

    inside = Heap(
        in_hand=tuple(lying(choice, spot) for choice, spot in region.heap.in_hand),
        anchored=frozenset(sources[source] for source in region.heap.anchored),
        blocks=tuple(
            replace(
                block,
                source=kinds[kind_of(instance, block.source)],
                pieces=tuple(lying(choice, spot) for choice, spot in block.pieces),
            )
            for block in region.heap.blocks
        ),
    )
    options = tuple(taken if fixed is None else 0 for (_, taken), fixed in zip(region.options, part.fixed, strict=True))
    return stacked(part.ready, options, inside)


def with_reworked(ready: Ready, best: Found, reworked: Sequence[Reworked]) -> Found:
    """Return `best` with all regions that were reworked; where they do not go together, with as many as do."""
    if not reworked:
        return best
    gone = {(choice, spot.piece) for item in reworked for choice, spot in item.old.lying}
    emptied = {source for item in reworked for source in item.old.sources}
    heap = taken_apart(ready, best.solution)
    kept = Heap(
        in_hand=tuple((choice, spot) for choice, spot in heap.in_hand if (choice, spot.piece) not in gone),
        anchored=heap.anchored - emptied,
        blocks=tuple(b for b in heap.blocks if (b.pieces[0][0], b.pieces[0][1].piece) not in gone),
    )
    options = list(best.solution.options)
    for item in reworked:
        for choice, taken in item.options:
            options[choice] = taken
    found = put_together(ready, tuple(options), [kept, *(item.heap for item in reworked)])
    if found is not None and found.value.levels < best.value.levels:
        return found
    if len(reworked) == 1:
        return best
    half = len(reworked) // 2
    first = with_reworked(ready, best, reworked[:half])
    return with_reworked(ready, first, reworked[half:])
