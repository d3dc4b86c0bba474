"""The last touch on placed cuts: notches that carry nothing and are not worth keeping are filled."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

from nesting.domain.done import DoneCut
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.layout import Cut
from nesting.floor.breadths import merged
from nesting.model.offcuts import best_rectangles, keepable


def turned_rects(rects: tuple[Rect, ...], turn: int, x_nm: int, y_nm: int) -> tuple[Rect, ...]:
    """Return the rectangles turned by quarter turns counter-clockwise, their bounding corner moved to (x, y)."""
    for _ in range(turn % 4):
        rects = tuple(Rect(-r.y1_nm, r.x0_nm, -r.y0_nm, r.x1_nm) for r in rects)
    corner = bounding_rect(rects)
    dx, dy = x_nm - corner.x0_nm, y_nm - corner.y0_nm
    return tuple(Rect(r.x0_nm + dx, r.y0_nm + dy, r.x1_nm + dx, r.y1_nm + dy) for r in rects)


def rects_made(done: Iterable[DoneCut], source_id: str) -> list[Rect]:
    """Return what is cut from a source, as it lies there."""
    mine = (item for item in done if item.source_id == source_id)
    return [rect for item in mine for rect in turned_rects(item.cut.rects, item.turn, item.x_nm, item.y_nm)]


def with_notches_filled(
    cut: Cut, turn: int, x_nm: int, y_nm: int, others: Sequence[Rect], sizes_nm: Sequence[tuple[int, int]]
) -> Cut:
    """Return the cut with fewer and simpler knife cuts to make.

    A notch is filled when no other piece and no flaw (`others`, on the goods) lies in it and it would not be kept as
    an offcut. The bounding rectangle, and with it the place and the pattern, stays.
    """
    if len(cut.rects) == 1:
        return cut
    outer = bounding_rect(cut.rects)
    filled = list(cut.rects)
    for notch in best_rectangles(outer, cut.rects, lambda rect: True):
        on_goods = turned_rects((outer, notch), turn, x_nm, y_nm)[1]
        if not keepable(notch, sizes_nm) and not any(overlap(on_goods, other) for other in others):
            filled.append(notch)
    return cut if len(filled) == len(cut.rects) else replace(cut, rects=disjoint_rects(filled))


def overlap(one: Rect, other: Rect) -> bool:
    """Tell whether two rectangles share more than a border."""
    across = one.x0_nm < other.x1_nm and other.x0_nm < one.x1_nm
    return across and one.y0_nm < other.y1_nm and other.y0_nm < one.y1_nm


def disjoint_rects(rects: Sequence[Rect]) -> tuple[Rect, ...]:
    """Return as few disjoint rectangles as slabs across give, with the same union."""
    edges = sorted({x for rect in rects for x in (rect.x0_nm, rect.x1_nm)})
    slabs: list[tuple[int, int, tuple[tuple[int, int], ...]]] = []
    for x0, x1 in pairwise(edges):
        stretches = merged([(r.y0_nm, r.y1_nm) for r in rects if r.x0_nm <= x0 and r.x1_nm >= x1])
        if slabs and slabs[-1][1] == x0 and slabs[-1][2] == stretches:
            slabs[-1] = (slabs[-1][0], x1, stretches)
        else:
            slabs.append((x0, x1, stretches))
    return tuple(Rect(x0, low, x1, high) for x0, x1, stretches in slabs for low, high in stretches)
