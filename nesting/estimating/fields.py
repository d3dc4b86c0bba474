"""Areas of unions of rectangles, exactly: the goods cut into fields along every edge, one bit a field."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.domain.geometry import Rect

Rows = tuple[int, ...]
"""A set of fields: for every row of them, from the lowest, its columns as bits, the leftmost the lowest bit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fields:
    """A region cut into fields by lines across and along; sets of fields have exact areas."""

    xs: tuple[int, ...]  # of the lines, rising
    ys: tuple[int, ...]

    @classmethod
    def along_edges(cls, region: Rect, rects: Iterable[Rect]) -> Fields:
        """Return the fields of a region, cut along every edge of some rectangles."""
        found = list(rects)
        xs = {region.x0_nm, region.x1_nm, *(x for rect in found for x in (rect.x0_nm, rect.x1_nm))}
        ys = {region.y0_nm, region.y1_nm, *(y for rect in found for y in (rect.y0_nm, rect.y1_nm))}
        return cls(
            xs=tuple(sorted(x for x in xs if region.x0_nm <= x <= region.x1_nm)),
            ys=tuple(sorted(y for y in ys if region.y0_nm <= y <= region.y1_nm)),
        )

    def covered(self, rects: Iterable[Rect]) -> Rows:
        """Return the fields that rectangles cover wholly; those whose edges are lines cover no field in part."""
        rows = [0] * (len(self.ys) - 1)
        for rect in rects:
            left, right = bisect_left(self.xs, rect.x0_nm), bisect_right(self.xs, rect.x1_nm) - 1
            low, high = bisect_left(self.ys, rect.y0_nm), bisect_right(self.ys, rect.y1_nm) - 1
            if left < right:
                bits = (1 << right) - (1 << left)
                for row in range(low, high):
                    rows[row] |= bits
        return tuple(rows)

    def between(self, crossings: Callable[[float], Sequence[float]]) -> Rows:
        """Return the fields whose middles lie between the 1st and 2nd, 3rd and 4th, … crossing of their level."""
        middles = [(x0 + x1) / 2 for x0, x1 in pairwise(self.xs)]
        rows = []
        for y0, y1 in pairwise(self.ys):
            bits = 0
            at = crossings((y0 + y1) / 2)
            for left, right in zip(at[::2], at[1::2], strict=True):
                bits |= (1 << bisect_right(middles, right)) - (1 << bisect_left(middles, left))
            rows.append(bits)
        return tuple(rows)

    def rects(self, rows: Rows) -> tuple[Rect, ...]:
        """Return a set of fields as disjoint rectangles: runs of fields that go on unchanged are one."""
        found: list[Rect] = []
        growing: dict[tuple[int, int], int] = {}  # run -> the y where it begins
        for y, bits in zip(self.ys, (*rows, 0), strict=True):
            runs = set(_runs(bits))
            for start, end in sorted(set(growing) - runs):
                found.append(Rect(self.xs[start], growing.pop((start, end)), self.xs[end], y))
            for run in runs:
                growing.setdefault(run, y)
        return tuple(sorted(found, key=lambda rect: (rect.y0_nm, rect.x0_nm)))

    def area_nm2(self, rows: Rows) -> int:
        """Return the area of a set of fields."""
        total = 0
        for (y0, y1), bits in zip(pairwise(self.ys), rows, strict=True):
            total += (y1 - y0) * sum(self.xs[end] - self.xs[start] for start, end in _runs(bits))
        return total


def union(*sets: Rows) -> Rows:
    """Return the fields that are in any of the sets."""
    out = sets[0]
    for other in sets[1:]:
        out = tuple(a | b for a, b in zip(out, other, strict=True))
    return out


def common(one: Rows, other: Rows) -> Rows:
    """Return the fields that are in both sets."""
    return tuple(a & b for a, b in zip(one, other, strict=True))


def less(one: Rows, other: Rows) -> Rows:
    """Return the fields of one set that are not in the other."""
    return tuple(a & ~b for a, b in zip(one, other, strict=True))


def _runs(bits: int) -> Iterable[tuple[int, int]]:
    """Yield the runs of set bits: (first, one past the last)."""
    at = 0
    while bits:
        zeros = (bits & -bits).bit_length() - 1
        bits >>= zeros
        ones = (~bits & (bits + 1)).bit_length() - 1
        bits >>= ones
        yield at + zeros, at + zeros + ones
        at += zeros + ones
