"""Goods in hand as the bounds by width see them: pooled with the orders, or as lots that serve whole rooms only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.bounds.counting import least_by_count, least_of_item, least_of_lay
from nesting.bounds.kinds import Item, Kind, LayArrays, forced_by
from nesting.bounds.widths import SCALE, by_area
from nesting.domain.material import Material, StockPiece

Whole = NDArray[np.int64]

MOST_LOTS = 24
"""Where more lots could hold rooms, all goods in hand are taken as one lot of which more can be ordered."""
MOST_WIDTHS = 24
"""Widths that goods in hand taken as one are told apart in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Pieces in hand of one lot as (width in steps, length in µm)."""

    pieces: tuple[tuple[int, int], ...]

    @property
    def widest(self) -> int:
        """The width of its widest piece."""
        return max(width for width, _ in self.pieces)

    def holds(self, most: Whole) -> int:
        """Return how much its pieces hold together, value·µm; `most`: what goods of every width hold side by side."""
        return sum(int(most[width]) * length for width, length in self.pieces)

    @property
    def longest_um(self) -> int:
        """The length of its longest piece."""
        return max(length for _, length in self.pieces)


def lots_of(
    stock: Sequence[StockPiece], material: Material, *, mixed: bool
) -> tuple[tuple[tuple[int, int], ...], tuple[Lot, ...]]:
    """Return the pieces that may serve together with an order, and the lots that serve whole rooms or none.

    `mixed`: some room may be cut from several lots, so that any piece may serve beside any other.
    """
    pool: list[tuple[int, int]] = []
    lots: dict[str, list[StockPiece]] = {}
    for piece in stock:
        lots.setdefault(f"lot {piece.lot}" if piece.lot is not None else f"piece {piece.id}", []).append(piece)
    apart = []
    for pieces in lots.values():
        sizes = tuple((piece.width_nm // material.cutting_step_nm, -(-piece.length_nm // 1000)) for piece in pieces)
        sizes = tuple(size for size in sizes if size[0] > 0)
        if mixed or any(piece.lot_orderable for piece in pieces):
            pool += sizes
        elif sizes:
            apart.append(Lot(pieces=sizes))
    return tuple(pool), tuple(apart)


def as_one(pieces: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Return many pieces in hand as few that hold no less: a length for every width, widths rounded up to a step.

    A value counts on a piece what goods of its width hold side by side, times its length: lengths of one width add up,
    and wider goods hold no less.
    """
    widest = max((width for width, _ in pieces), default=0)
    step = max(1, -(-widest // MOST_WIDTHS))
    lengths: dict[int, int] = {}
    for width, length in pieces:
        rounded = min(widest, -(-width // step) * step)
        lengths[rounded] = lengths.get(rounded, 0) + length
    return tuple(sorted(lengths.items()))


def lay_in_lot(lay: LayArrays, lot: Lot) -> LayArrays | None:
    """Return a lay direction of a room when it is cut from one lot; None if its pieces are too short for it.

    A piece longer than all of the lot's needs cross seams; there are no more than the rules give.
    """
    forced = forced_by(lay.tall_um, lot.longest_um, lay.overlap_um)
    if lay.most_crossings is not None and int(forced.max()) > lay.most_crossings:
        return None
    return replace(lay, limits=lay.limits.clip(max=lot.widest), forced=forced)


def most_for_items(lot: Lot, items: Sequence[Item], value: Whole, most: Whole) -> int:
    """Return the most that loose pieces and strips cut from a lot can count under a value with its capacities."""
    held = [item for item in items if _fits(lot, item)]
    return min(sum(least_of_item(item, value) for item in held), lot.holds(most))


def _fits(lot: Lot, item: Item) -> bool:
    return any(
        across <= width and (item.parts or along <= length)
        for across, along in item.ways
        for width, length in lot.pieces
    )


def least_area(lay: LayArrays) -> int:
    """Return the least value·µm of a lay direction when every run counts by its width."""
    return least_of_lay(lay, by_area(int(lay.limits.max())), 0)[0]


def served_by(kind: Kind, lot: Lot, areas: Sequence[int]) -> tuple[LayArrays, ...]:
    """Return the lay directions in which a lot could hold a room by itself; () if it surely cannot.

    `areas`: the least area of every lay direction, in whatever goods.
    """
    area = sum(width * length for width, length in lot.pieces) * SCALE
    found = []
    for lay, least in zip(kind.lays, areas, strict=True):
        cut = lay_in_lot(lay, lot) if least <= area else None
        if cut is None or _too_long(cut, lot):
            continue
        needed = [amount for amount in least_by_count(cut, by_area(int(lay.limits.max())), 0) if amount is not None]
        if needed and min(needed) <= area:
            found.append(cut)
    return tuple(found)


def _too_long(lay: LayArrays, lot: Lot) -> bool:
    """Tell whether breadths without cross seams take more width than there is.

    Those longer than half of the lot's longest piece never lie one behind the other: their widths add up.
    """
    if lay.most_crossings != 0:
        return False
    long_ones = int(np.count_nonzero(2 * lay.tall_um > lot.longest_um))
    return long_ones > sum(width for width, length in lot.pieces if 2 * length > lot.longest_um)
