"""Where a piece can lie among what lies fixed: the rows of its corner, exactly, before any model is set up."""

from __future__ import annotations

from collections.abc import Iterable

from nesting.model.instance import Box

Rows = list[tuple[int, int]]
"""Disjoint closed intervals of whole numbers, rising."""


def forbidden(boxes: Iterable[Box], obstacles: Iterable[Box]) -> list[Box]:
    """Return the open rectangles in which the corner of a piece made of `boxes` may not lie for what lies fixed."""
    laid = tuple(obstacles)
    return [(o_x0 - x1, o_y0 - y1, o_x1 - x0, o_y1 - y0) for x0, y0, x1, y1 in boxes for o_x0, o_y0, o_x1, o_y1 in laid]


def free_rows(places: list[Box], across: tuple[int, int], along: tuple[int, int]) -> Rows:
    """Return every y of `along` at which some x of `across` lies in none of the open rectangles `places`.

    Between two neighbouring ends of rectangles the same ones count at every y, so one look each is enough.
    """
    (left, right), (low, high) = across, along
    if left > right or low > high:
        return []
    near = sorted(p for p in places if p[0] < right and p[2] > left and p[1] < high and p[3] > low)
    starts = sorted({low, *(y for p in near for y in (p[1] + 1, p[3]) if low < y <= high)})
    rows: Rows = []
    for start, after in zip(starts, [*starts[1:], high + 1], strict=True):
        if not _has_room([p for p in near if p[1] < start < p[3]], left, right):
            continue
        if rows and rows[-1][1] == start - 1:
            rows[-1] = (rows[-1][0], after - 1)
        else:
            rows.append((start, after - 1))
    return rows


def _has_room(places: list[Box], left: int, right: int) -> bool:
    """Tell whether a whole number from `left` to `right` lies in none of the open intervals, given in rising order."""
    x = left
    for x0, _, x1, _ in places:
        if x0 >= x:
            break
        x = max(x, x1)
    return x <= right


def on_residue(rows: Rows, residue: int, step: int) -> Rows:
    """Return the numbers of `rows` that are `residue` modulo `step`, each an interval of its own."""
    return [(y, y) for low, high in rows for y in range(low + (residue - low) % step, high + 1, step)]


def union(parts: Iterable[Rows]) -> Rows:
    """Return the union of sets of rows."""
    joined: Rows = []
    for low, high in sorted(row for rows in parts for row in rows):
        if joined and low <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined
