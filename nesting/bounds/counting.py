"""What the rooms and pieces of a job count at least under a value of widths, over all their layouts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.bounds.kernels import NONE, heights_by_width, least_by_seams
from nesting.bounds.kinds import Item, LayArrays

Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A kind of room, so many times. `exact`: only with so many seams (`last`: or more), in its only lay direction."""

    lays: tuple[LayArrays, ...]
    count: int = 1
    exact: int | None = None
    last: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The least value of every room, seams included, and the layout that has it: heights by width, and its seams."""

    least: tuple[int, ...]
    layouts: tuple[tuple[dict[int, int], int], ...]
    items: tuple[int, ...]
    total: int


def counted(rooms: Sequence[Room], items: Sequence[Item], value: Whole, seam_price: int) -> Counted:
    """Return the least value·µm of all rooms (seams at their price) and pieces."""
    least, layouts = [], []
    for room in rooms:
        if room.exact is None:
            found = [least_of_lay(lay, value, seam_price) for lay in room.lays]
            number = min(range(len(found)), key=lambda place: found[place][0])
            amount, before = found[number]
            count = 0
        else:
            number = 0
            most = room.exact if room.last else room.exact + 1
            before = np.full((most + 1, room.lays[0].across + 1), -1, dtype=np.int64)
            amount = int(_least(room.lays[0], value, 0, most, before)[room.exact])
            count = room.exact
        least.append(amount)
        layouts.append(_layout(room.lays[number], before, amount, value, seam_price, count))
    pieces = tuple(least_of_item(item, value) for item in items)
    total = sum(amount * room.count for amount, room in zip(least, rooms, strict=True)) + sum(pieces)
    return Counted(least=tuple(least), layouts=tuple(layouts), items=pieces, total=total)


def least_of_lay(lay: LayArrays, value: Whole, seam_price: int) -> tuple[int, Whole]:
    """Return the least value·µm of a lay direction with its seams, and how it came about."""
    before = np.full((1, lay.across + 1), -1, dtype=np.int64)
    return int(_least(lay, value, seam_price, 0, before)[0]), before


def least_by_count(lay: LayArrays, value: Whole, most: int) -> tuple[int | None, ...]:
    """Return the least value·µm of a lay direction with 0 … `most` seams (the last: or more); None: there is none."""
    before = np.full((most + 1, lay.across + 1), -1, dtype=np.int64)
    return tuple(int(amount) if amount < NONE else None for amount in _least(lay, value, 0, most, before))


def _least(lay: LayArrays, value: Whole, seam_price: int, most: int, before: Whole) -> Whole:
    found: Whole = least_by_seams(
        lay.across,
        lay.overlap,
        lay.limits,
        lay.runs,
        lay.seams,
        lay.forced,
        lay.more_height,
        lay.holes,
        lay.crossable,
        value,
        seam_price,
        most,
        before,
    )
    return found


def _layout(
    lay: LayArrays, before: Whole, amount: int, value: Whole, seam_price: int, count: int
) -> tuple[dict[int, int], int]:
    """Return the runs of the layout that counts least: heights by width, and its number of seams."""
    heights = np.zeros(len(value), dtype=np.int64)
    end = place = lay.across
    while place >= 0 and before[count, place] >= 0:
        count, begin = divmod(int(before[count, place]), lay.across + 1)
        crossings = int(lay.forced[begin:end].max()) if end > begin else 0
        heights_by_width(begin, end, end == lay.across, lay.runs, crossings * lay.more_height, heights)
        if begin == 0:
            break
        place, end = begin, begin + lay.overlap
    found = {int(width): int(heights[width]) for width in np.nonzero(heights)[0]}
    roll = sum(int(value[width]) * height for width, height in found.items())
    return found, (amount - roll) // seam_price if seam_price else 0


def least_of_item(item: Item, value: Whole) -> int:
    """Return the least value·µm of a loose piece or strip."""
    if item.free:
        width, height = item.ways[0]
        rate = min(int(value[w]) / w for w in range(1, len(value)))
        return int(rate * width * height * (1 - 1e-9))
    return min(int(value[min(width, len(value) - 1)]) * height for width, height in item.ways)
