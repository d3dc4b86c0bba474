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
    """A kind of room, so many times. `exact`: in its only lay direction with so many seams (`last`: any number)."""

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
            number, count, lay = 0, 0, room.lays[0]
            if room.last:
                amount, before = least_of_lay(lay, value, 0)
            else:
                amount, count, before = least_with(lay, value, room.exact)
        least.append(amount)
        layouts.append(_layout(room.lays[number], before, amount, value, seam_price, count))
    pieces = tuple(least_of_item(item, value) for item in items)
    total = sum(amount * room.count for amount, room in zip(least, rooms, strict=True)) + sum(pieces)
    return Counted(least=tuple(least), layouts=tuple(layouts), items=pieces, total=total)


def least_of_lay(lay: LayArrays, value: Whole, seam_price: int) -> tuple[int, Whole]:
    """Return the least value·µm of a lay direction with its seams, and how it came about."""
    before = _before(1, lay)
    return int(_least(lay, value, seam_price, 0, before, beyond=True)[0]), before


def least_with(lay: LayArrays, value: Whole, seams: int) -> tuple[int, int, Whole]:
    """Return the least value·µm of a lay direction with at most so many seams, their number, and how it came about."""
    before = _before(seams + 1, lay)
    found = _least(lay, value, 0, seams, before, beyond=False)
    count = int(found.argmin())
    return int(found[count]), count, before


def least_by_count(lay: LayArrays, value: Whole, most: int) -> tuple[int | None, ...]:
    """Return the least value·µm of a lay direction with up to 0 … `most` − 1 seams, and with any; None: no layout.

    What fewer seams can do counts for more too: layouts that such a one beats are not looked at.
    """
    found: list[int] = []
    if most > 0:
        exact = _least(lay, value, 0, most - 1, _before(most, lay), beyond=False)
        found = [int(amount) for amount in np.minimum.accumulate(exact)]
    found.append(least_of_lay(lay, value, 0)[0])
    return tuple(amount if amount < NONE else None for amount in found)


def fewest_seams(lay: LayArrays) -> int | None:
    """Return the fewest seams, cross seams and relief cuts of a lay direction; None: the goods cannot cover it."""
    nothing = np.zeros(int(lay.limits[0]) + 1, dtype=np.int64)
    amount = least_of_lay(lay, nothing, 1)[0]
    return amount if amount < NONE else None


def _before(layers: int, lay: LayArrays) -> Whole:
    return np.full((layers, lay.across + 1), -1, dtype=np.int64)


def _least(lay: LayArrays, value: Whole, seam_price: int, most: int, before: Whole, *, beyond: bool) -> Whole:
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
        beyond,
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
