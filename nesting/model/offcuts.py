"""What is left of the goods: rectangles worth keeping, and the piece that stays for repairs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from nesting.domain.geometry import Rect


def empty_rectangles(region: Rect, taken: Sequence[Rect]) -> Iterator[Rect]:
    """Yield every largest empty rectangle of `region` that touches no interior of `taken`.

    A rectangle is yielded when it cannot grow along; those that can still grow across may come too. Work grows with
    the product of the distinct edges across and along (histogram of free run lengths per row, one stack a row).
    """
    xs = sorted({region.x0_nm, region.x1_nm, *_edges(taken, region, across=True)})
    ys = sorted({region.y0_nm, region.y1_nm, *_edges(taken, region, across=False)})
    column_of = {x: column for column, x in enumerate(xs)}
    start_of = [ys[0]] * (len(xs) - 1)  # where the free run of each column begins
    waiting = sorted((rect for rect in taken if _meets(rect, region)), key=lambda rect: rect.y0_nm, reverse=True)
    active: list[Rect] = []
    for low, high in pairwise(ys):
        while waiting and waiting[-1].y0_nm < high:
            active.append(waiting.pop())
        active = [rect for rect in active if rect.y1_nm > low]
        for rect in active:
            left = column_of[max(rect.x0_nm, region.x0_nm)]
            right = column_of[min(rect.x1_nm, region.x1_nm)]
            start_of[left:right] = [high] * (right - left)
        yield from _rows_of_histogram(xs, start_of, high)


def _meets(rect: Rect, region: Rect) -> bool:
    across = rect.x0_nm < region.x1_nm and rect.x1_nm > region.x0_nm
    return across and rect.y0_nm < region.y1_nm and rect.y1_nm > region.y0_nm


def _edges(taken: Sequence[Rect], region: Rect, *, across: bool) -> Iterator[int]:
    for rect in taken:
        low, high = (rect.x0_nm, rect.x1_nm) if across else (rect.y0_nm, rect.y1_nm)
        least, most = (region.x0_nm, region.x1_nm) if across else (region.y0_nm, region.y1_nm)
        for edge in (low, high):
            if least < edge < most:
                yield edge


def _rows_of_histogram(xs: list[int], start_of: list[int], high: int) -> Iterator[Rect]:
    """Yield the maximal rectangles that end at `high`, widest for each depth."""
    stack: list[tuple[int, int]] = []  # (left column, start)
    for column in range(len(start_of) + 1):
        start = start_of[column] if column < len(start_of) else high
        left = column
        while stack and stack[-1][1] < start:
            left, begun = stack.pop()
            yield Rect(xs[left], begun, xs[column], high)
        if start < high and (not stack or stack[-1][1] > start):
            stack.append((left, start))


def keepable(rect: Rect, sizes_nm: Sequence[tuple[int, int]]) -> bool:
    """Tell whether a rectangle reaches one of the sizes, either way round."""
    short, long = sorted((rect.width_nm, rect.length_nm))
    return any(short >= min(size) and long >= max(size) for size in sizes_nm)


def best_rectangles(region: Rect, taken: Sequence[Rect], wanted: Callable[[Rect], bool]) -> list[Rect]:
    """Return disjoint empty rectangles that are wanted, the largest first, each the largest of what the others left."""
    occupied = list(taken)
    found: list[Rect] = []
    while True:
        candidates = [rect for rect in empty_rectangles(region, occupied) if wanted(rect)]
        if not candidates:
            return found
        best = max(candidates, key=lambda rect: (rect.area_nm2, -rect.y0_nm, -rect.x0_nm))
        found.append(best)
        occupied.append(best)
