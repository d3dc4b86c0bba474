"""How a room's pieces are cut one after another from a stretch of goods, as one does it by hand.

Pieces are whole rectangles. Each in turn goes to the lowest lawful place above what has been cut before: wide drops
stack, fills lie side by side or in the strip beside them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.model.ground import Ground
from nesting.model.instance import Lattice, Option, Spot
from nesting.model.shapes import shapes_of

Phase = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True)
class Way:
    """A piece as it may lie: its rectangle, and how far it keeps from the sides."""

    width: int
    length: int
    left: int
    right: int
    turn: int


@dataclass(frozen=True, slots=True)
class Item:
    """A piece to cut. `bound`: its pattern must agree with the others of its room; (`x`, `y`) is its corner there.

    `after`: pieces of the same option that come off the roll before it.
    """

    choice: int
    piece: int
    ways: tuple[Way, ...]
    x: int
    y: int
    bound: bool
    after: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Bed:
    """The goods that are cut from: a ground's sides and phase, and the lattice that holds on it."""

    width: int
    low: int
    high: int
    sigma: tuple[int, int]
    across: int | None
    along: int  # 1 without a pattern: then every y agrees
    drop: int


@dataclass(frozen=True, slots=True)
class Packed:
    """Where pieces lie: (item, x, y, way) each; where the last ends; the phase that they have."""

    laid: tuple[tuple[Item, int, int, Way], ...]
    end: int
    phase: Phase
    gaps: tuple[tuple[int, int, int], ...] = ()  # (x from, x to, y from) of what is free up to the end


def bed_of(ground: Ground, lattice: Lattice | None) -> Bed:
    """Return the bed that a ground is."""
    along, drop = (1, 0) if lattice is None else (lattice.along, lattice.drop)
    return Bed(ground.width, ground.low, ground.high, ground.sigma, ground.across, along, drop)


def items_of(number: int, option: Option, patterned: bool) -> tuple[Item, ...]:
    """Return the pieces of an option of choice `number`."""
    items = []
    for index, piece in enumerate(option.pieces):
        ways = tuple(
            Way(shape.width, shape.length, shape.inset_left, shape.inset_right, shape.turn)
            for shape in shapes_of(piece)
        )
        after = tuple(before for before, later in option.order if later == index) if option.order else ()
        bound = patterned and piece.group is not None
        items.append(Item(number, index, ways, piece.offset[0], piece.offset[1], bound, after))
    return tuple(items)


def fits(items: Sequence[Item], bed: Bed) -> bool:
    """Tell whether every piece by itself goes onto the bed."""
    tall = bed.high - bed.low
    return all(
        any(way.left + way.width + way.right <= bed.width and way.length <= tall for way in item.ways) for item in items
    )


def least_length(items: Sequence[Item], width: int) -> int:
    """Return a length that the pieces need at least on goods `width` wide."""
    area = stacked = 0
    for item in items:
        w, length = (item.ways[0].width, item.ways[0].length)
        if len(item.ways) > 1:
            w, length = min((way.width, way.length) for way in item.ways)
        area += w * length
        if 2 * w > width:
            stacked += length
    return max(stacked, -(-area // width))


def phase_across(items: Sequence[Item], bed: Bed) -> int | None:
    """Return a phase across with which every piece has a lawful x on the bed; None: there is none."""
    if bed.across is None:
        return None
    tight = []
    first = None
    for item in items:
        if not item.bound:
            continue
        way = item.ways[0]
        least, most = way.left, bed.width - way.right - way.width
        if most < least:
            return None
        first = least - item.x if first is None else first
        if most - least < bed.across:
            tight.append((item.x, least, most))
    tries = [end - x for x, least, most in tight for end in (least, most)] or [first or 0]
    for lean in tries:
        if all(least + (x + lean - least) % bed.across <= most for x, least, most in tight):
            return lean + bed.sigma[0]
    return None


def pack(
    items: Sequence[Item], bed: Bed, base: int, phase: Phase = (None, None), *, rows: bool = False
) -> Packed | None:
    """Cut the pieces in their order from `base` on; None when one finds no place before the end of the goods.

    `rows`: every cut goes across the whole width first, and the pieces of a row lie side by side.
    """
    lean, rise = phase
    if lean is None and bed.across is not None and any(item.bound for item in items):
        lean = phase_across(items, bed)
        if lean is None:
            return None
    if rows:
        return _pack_rows(items, bed, base, (lean, rise))
    edges, heights = [0], [base]  # stretch k runs from edges[k] to the next edge, free from heights[k] on
    laid: list[tuple[Item, int, int, Way]] = []
    starts: dict[tuple[int, int], tuple[int, int, int]] = {}
    end = base
    for item in items:
        floor = max((_after(starts[item.choice, k], item, bed) for k in item.after), default=base)
        best: tuple[int, int, int, int] | None = None
        for number, way in enumerate(item.ways):
            for x in _places(item, way, bed, edges, lean):
                y = max(floor, _height(edges, heights, bed.width, x, x + way.width))
                if item.bound and rise is not None:
                    y += (item.y + rise + _repeats(item, x, bed, lean) * bed.drop - bed.sigma[1] - y) % bed.along
                if best is None or (y + way.length, x) < best[:2]:
                    best = (y + way.length, x, y, number)
        if best is None or best[0] > bed.high:
            return None
        top, x, y, number = best
        way = item.ways[number]
        if item.bound and rise is None:
            rise = y + bed.sigma[1] - item.y - _repeats(item, x, bed, lean) * bed.drop
        _cover(edges, heights, bed.width, x, x + way.width, top)
        laid.append((item, x, y, way))
        starts[item.choice, item.piece] = (y, item.ways[0].width, item.ways[0].length)
        end = max(end, top)
    ends = [*edges[1:], bed.width]
    gaps = tuple((x0, x1, y) for x0, x1, y in zip(edges, ends, heights, strict=True) if y < end)
    return Packed(tuple(laid), end, (lean, rise), gaps)


def _pack_rows(items: Sequence[Item], bed: Bed, base: int, phase: Phase) -> Packed | None:
    """Cut the pieces in rows: each beside the last one if the row is long enough there, else in a row of its own."""
    lean, rise = phase
    laid: list[tuple[Item, int, int, Way]] = []
    starts: dict[tuple[int, int], tuple[int, int, int]] = {}
    low = end = base
    right = 0
    for item in items:
        floor = max((_after(starts[item.choice, k], item, bed) for k in item.after), default=base)
        for bottom, free, top in ((low, right, end), (end, 0, bed.high)):
            found = None
            for way in item.ways:
                x = next((x for x in _places(item, way, bed, [0, free], lean) if x >= free), None)
                if x is None:
                    continue
                y = max(floor, bottom)
                if item.bound and rise is not None:
                    y += (item.y + rise + _repeats(item, x, bed, lean) * bed.drop - bed.sigma[1] - y) % bed.along
                if y + way.length <= top and (found is None or y + way.length < found[1] + found[2].length):
                    found = (x, y, way)
            if found is not None:
                break
        else:
            return None
        x, y, way = found
        if item.bound and rise is None:
            rise = y + bed.sigma[1] - item.y - _repeats(item, x, bed, lean) * bed.drop
        if top == bed.high:
            low, end = end, y + way.length
        right = x + way.width
        laid.append((item, x, y, way))
        starts[item.choice, item.piece] = (y, item.ways[0].width, item.ways[0].length)
    return Packed(tuple(laid), end, (lean, rise))


def _repeats(item: Item, x: int, bed: Bed, lean: int | None) -> int:
    """Return how many repeats across a piece lies to the right of where the phase has it."""
    if bed.across is None or lean is None:
        return 0
    return (x + bed.sigma[0] - item.x - lean) // bed.across


def _after(before: tuple[int, int, int], item: Item, bed: Bed) -> int:
    """Return where a piece may begin that comes off the roll after one at (y, width, length)."""
    y, width, length = before
    return y + (length if width + item.ways[0].width > bed.width else 0)


def _places(item: Item, way: Way, bed: Bed, edges: list[int], lean: int | None) -> Sequence[int]:
    """Return the x at which a piece may lie: on the lattice, else where it touches a side or another piece."""
    least, most = way.left, bed.width - way.right - way.width
    if most < least:
        return ()
    if item.bound and bed.across is not None and lean is not None:
        return range(least + (item.x + lean - bed.sigma[0] - least) % bed.across, most + 1, bed.across)
    if most == least:
        return (least,)
    right = [edge - way.width for edge in edges[1:]]
    return sorted({least, most, *(x for x in (*edges, *right) if least < x < most)})


def _height(edges: list[int], heights: list[int], width: int, x0: int, x1: int) -> int:
    """Return from where on the goods are free between x0 and x1."""
    high = 0
    for k, height in enumerate(heights):
        if edges[k] >= x1:
            break
        if (edges[k + 1] if k + 1 < len(edges) else width) > x0 and height > high:
            high = height
    return high


def _cover(edges: list[int], heights: list[int], width: int, x0: int, x1: int, top: int) -> None:
    """Take note that the goods between x0 and x1 are cut up to `top`."""
    new_edges: list[int] = []
    new_heights: list[int] = []

    def add(edge: int, height: int) -> None:
        if not new_heights or new_heights[-1] != height:
            new_edges.append(edge)
            new_heights.append(height)

    for k, height in enumerate(heights):
        start = edges[k]
        stop = edges[k + 1] if k + 1 < len(edges) else width
        if stop <= x0 or start >= x1:
            add(start, height)
            continue
        if start < x0:
            add(start, height)
        add(max(start, x0), top)
        if stop > x1:
            add(x1, height)
    edges[:], heights[:] = new_edges, new_heights


def spots_of(packed: Packed, source: int) -> Iterator[tuple[int, Spot]]:
    """Yield (choice, spot) of all pieces that were cut from `source`."""
    for item, x, y, way in packed.laid:
        yield item.choice, Spot(piece=item.piece, source=source, x=x, y=y, turn=way.turn)
