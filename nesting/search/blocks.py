"""Blocks: stretches of ordered rolls that can be moved along the goods without touching what lies beside them.

A plain roll comes apart wherever no piece lies across a line over its whole width. Patterned goods come apart there
only if no choice and no phase group has pieces on both sides, so that each block may take any phase that its place
gives it. Putting the blocks of several parts of an instance one after another on the real rolls joins the parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from nesting.model.ground import Ground, ground_of
from nesting.model.instance import Solution, Spot
from nesting.model.shapes import shape_of
from nesting.model.valuing import phases_of_groups
from nesting.search.parts import Fixed, kind_of
from nesting.search.scheme import Ready

Lying = tuple[int, Spot]
"""(choice, spot) of one piece."""

Slab = tuple[int, int, list[Lying]]
"""(low, high, pieces) of a stretch of a roll between two lines that no piece lies across."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Pieces that keep their places to one another: y runs from `low` to `high` on the source they come from.

    `width`: the least width of goods that they ask for. `mark`: y from the end of the roll's start allowance to `low`
    where that must stay the same modulo the repeat, on a roll bound to the pattern (None: any place will do).
    """

    source: int
    low: int
    high: int
    width: int
    pieces: tuple[Lying, ...]
    mark: int | None = None

    @property
    def length(self) -> int:
        """Extent along the roll."""
        return self.high - self.low


@dataclass(slots=True)
class _Roll:
    """A roll as it fills up with blocks: `end` is where the last one ends."""

    source: int
    ground: Ground
    anchored: bool
    end: int


def slabs_of(ready: Ready, lying: Iterable[Lying], options: Sequence[int]) -> list[tuple[int, int, list[Lying]]]:
    """Return (low, high, pieces) of the stretches between lines that no piece lies across, all on one source."""
    spans = []
    for choice, spot in lying:
        piece = ready.piece(choice, options[choice], spot.piece)
        length = piece.width if spot.turn in (1, 3) else piece.length
        spans.append((spot.y, spot.y + length, spot.x, choice, spot.piece, spot))
    slabs: list[tuple[int, int, list[Lying]]] = []
    for y0, y1, _, choice, _, spot in sorted(spans, key=lambda span: span[:5]):
        if slabs and y0 < slabs[-1][1]:
            low, high, pieces = slabs[-1]
            pieces.append((choice, spot))
            slabs[-1] = (low, max(high, y1), pieces)
        else:
            slabs.append((y0, y1, [(choice, spot)]))
    return slabs


@dataclass(frozen=True, slots=True, kw_only=True)
class Heap:
    """A solution, or some parts of one, taken apart: what lies on goods in hand, and the blocks of all ordered rolls.

    `anchored`: sources in hand that are bound to the pattern.
    """

    in_hand: tuple[Lying, ...]
    anchored: frozenset[int]
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Some of what is placed, to be searched by itself: blocks, and goods in hand with what lies on them.

    `options`: (choice, option taken) of all choices with pieces here, rising. `fixed`: those that are not open, with
    the pieces that they have here. `sources`: the goods in hand.
    """

    options: tuple[tuple[int, int], ...]
    fixed: tuple[tuple[int, Fixed], ...]
    sources: tuple[int, ...]
    heap: Heap

    @property
    def lying(self) -> Iterator[Lying]:
        """All that is placed here."""
        yield from self.heap.in_hand
        for block in self.heap.blocks:
            yield from block.pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class Reworked:
    """What became of a region: `options` and `heap` stand in for those of `old`."""

    old: Region
    options: tuple[tuple[int, int], ...]
    heap: Heap


def taken_apart(ready: Ready, solution: Solution) -> Heap:
    """Return a solution taken apart, its blocks roll by roll from their starts on."""
    instance = ready.instance
    lying: dict[int, list[Lying]] = {}
    in_hand: list[Lying] = []
    homes: dict[int, set[int]] = {}
    for choice, (taken, spots) in enumerate(zip(solution.options, solution.spots, strict=True)):
        pieces = instance.choices[choice].options[taken].pieces
        for spot in spots:
            ordered = instance.sources[spot.source].terms is not None
            (lying.setdefault(spot.source, []) if ordered else in_hand).append((choice, spot))
            group = pieces[spot.piece].group
            if group is not None:
                homes.setdefault(group, set()).add(spot.source)
    fixed = phases_of_groups(instance, solution.options) or {}
    bound = {g for g, used in homes.items() if len(used) > 1 or fixed.get(g, (None, None)) != (None, None)}
    whole = instance.lattice is not None or any(o.order for c in instance.choices for o in c.options)
    grounds = ready.grounds(solution.anchored)
    blocks: list[Block] = []
    for source in sorted(lying):
        slabs = slabs_of(ready, lying[source], solution.options)
        for low, high, members in _closed(ready, slabs, solution.options) if whole else slabs:
            groups = {ready.piece(choice, solution.options[choice], spot.piece).group for choice, spot in members}
            marked = solution.anchored[source] and bool(groups & bound)
            mark = low - grounds[source].low if marked else None
            width = max(_right_of(ready, solution.options, choice, spot) for choice, spot in members)
            blocks.append(Block(source=source, low=low, high=high, width=width, pieces=tuple(members), mark=mark))
    hand = (s for s, source in enumerate(instance.sources) if source.terms is None and solution.anchored[s])
    return Heap(in_hand=tuple(in_hand), anchored=frozenset(hand), blocks=tuple(blocks))


def _closed(ready: Ready, slabs: list[Slab], options: Sequence[int]) -> list[Slab]:
    """Return the slabs of one roll joined so that no choice and no phase group lies in two of them."""
    first: dict[tuple[str, int | None], int] = {}
    joined: list[tuple[int, Slab]] = []  # with the number of the first slab in it
    for place, (low, high, members) in enumerate(slabs):
        linked = place
        for choice, spot in members:
            group = ready.piece(choice, options[choice], spot.piece).group
            linked = min(linked, first.setdefault(("choice", choice), place))
            if group is not None:
                linked = min(linked, first.setdefault(("group", group), place))
        start, last = place, place - 1
        while joined and linked <= last:
            start, (low, _, before) = joined.pop()
            members = before + members
            last = start - 1
        joined.append((start, (low, high, members)))
    return [slab for _, slab in joined]


def stacked(ready: Ready, options: tuple[int, ...], heap: Heap) -> Solution | None:
    """Return the solution with the blocks one after another on rolls of their kind; None where they do not fit.

    A block goes on the first roll that has room for it; the source that it comes from tells the kind of roll.
    """
    instance = ready.instance
    spots: list[dict[int, Spot]] = [{} for _ in instance.choices]
    for choice, spot in heap.in_hand:
        spots[choice][spot.piece] = spot
    bound = [block for block in heap.blocks if block.mark is not None]
    free = [block for block in heap.blocks if block.mark is None]
    masks = [source in heap.anchored for source in range(len(instance.sources))]
    rolls: dict[tuple[object, ...], list[_Roll]] = {}
    for block in [*bound, *free]:
        kind = kind_of(instance, block.source)
        roll = _roll_for(ready, block, rolls.setdefault(kind, []), kind)
        if roll is None:
            return None
        y = _place_on(ready, roll, block)
        masks[roll.source] = roll.anchored
        roll.end = y + block.length
        for choice, spot in block.pieces:
            spots[choice][spot.piece] = Spot(
                piece=spot.piece, source=roll.source, x=spot.x, y=spot.y + y - block.low, turn=spot.turn
            )
    return Solution(
        options=options,
        spots=tuple(tuple(laid[index] for index in sorted(laid)) for laid in spots),
        anchored=tuple(masks),
    )


def _place_on(ready: Ready, roll: _Roll, block: Block) -> int:
    """Return where a block comes to lie on a roll: at its end, or where its pattern next agrees."""
    if block.mark is None:
        return roll.end
    lattice = ready.instance.lattice
    assert lattice is not None
    return roll.end + (block.mark - (roll.end - roll.ground.low)) % lattice.along


def _roll_for(ready: Ready, block: Block, rolls: list[_Roll], kind: tuple[object, ...]) -> _Roll | None:
    """Return the first roll that has room for a block, a new one where none has; None where there is no other."""
    for roll in rolls:
        if block.mark is not None and not roll.anchored:
            continue
        if roll.anchored and block.mark is None and block.width > roll.ground.width:
            continue
        if _place_on(ready, roll, block) + block.length <= roll.ground.high:
            return roll
    used = {roll.source for roll in rolls}
    for source in range(len(ready.instance.sources)):
        goods = ready.instance.sources[source]
        if goods.terms is None or source in used or kind_of(ready.instance, source) != kind:
            continue
        ground = ground_of(ready.instance, source, block.mark is not None)
        roll = _Roll(source, ground, block.mark is not None, ground.low)
        if _place_on(ready, roll, block) + block.length <= ground.high:
            rolls.append(roll)
            return roll
    return None


def _right_of(ready: Ready, options: Sequence[int], choice: int, spot: Spot) -> int:
    """Return where a piece ends across, with what it keeps off the edge."""
    shape = shape_of(ready.piece(choice, options[choice], spot.piece), spot.turn)
    return spot.x + shape.width + shape.inset_right
