"""What the maps need of unions of rectangles beside their rings."""

from __future__ import annotations

from itertools import pairwise

from nesting.domain.geometry import Point, Rect
from nesting.floor.rings import Ring as Ring
from nesting.floor.rings import covered_cells as covered_cells
from nesting.floor.rings import sides as sides
from nesting.floor.rings import turned_rects as turned_rects
from nesting.floor.rings import union_rings as union_rings


def clipped_rects(rects: tuple[Rect, ...], y0_nm: int, y1_nm: int) -> tuple[Rect, ...]:
    """Return what of `rects` lies between two positions along the roll."""
    cut = (Rect(r.x0_nm, max(r.y0_nm, y0_nm), r.x1_nm, min(r.y1_nm, y1_nm)) for r in rects)
    return tuple(r for r in cut if r.y0_nm < r.y1_nm)


def outside(a: Point, b: Point, rects: tuple[Rect, ...]) -> list[tuple[Point, Point]]:
    """Return what of an axis-parallel segment lies outside all `rects`, borders included, from its lower end on."""
    axis = 0 if a[1] == b[1] else 1
    at, (low, high) = a[1 - axis], sorted((a[axis], b[axis]))
    inside = sorted((r[axis], r[axis + 2]) for r in rects if r[1 - axis] <= at <= r[3 - axis])
    runs = []
    for start, end in inside:
        if low < min(start, high):
            runs.append((low, min(start, high)))
        low = max(low, end)
    if low < high:
        runs.append((low, high))
    return [((x, at), (y, at)) if axis == 0 else ((at, x), (at, y)) for x, y in runs]


def inner_rects(rects: tuple[Rect, ...]) -> list[Rect]:
    """Return the rectangles inside the union of `rects` that cannot grow, the largest first."""
    xs, ys, cells = covered_cells(rects)
    columns, found = len(xs) - 1, set()
    for low in range(len(ys) - 1):
        full = [True] * columns
        for high in range(low, len(ys) - 1):
            full = [was and cells[i][high] for i, was in enumerate(full)]
            edges = [-1, *(i for i, ok in enumerate(full) if not ok), columns]
            found |= {Rect(xs[a + 1], ys[low], xs[b], ys[high + 1]) for a, b in pairwise(edges) if b - a > 1}
    whole = sorted(found, key=lambda r: (-r.area_nm2, r))
    return [r for k, r in enumerate(whole) if not any(_holds(other, r) for other in whole[:k])]


def _holds(a: Rect, b: Rect) -> bool:
    """Tell whether `a` contains `b`."""
    return a.x0_nm <= b.x0_nm and a.y0_nm <= b.y0_nm and a.x1_nm >= b.x1_nm and a.y1_nm >= b.y1_nm
