"""Unions of rectangles as rings, traced on whole numbers."""

from __future__ import annotations

from nesting.domain.geometry import Point, Rect, bounding_rect

Ring = tuple[Point, ...]
"""The corners of a closed outline, whole nanometres."""


def turned_rects(rects: tuple[Rect, ...], x_nm: int, y_nm: int, turn: int) -> tuple[Rect, ...]:
    """Return `rects` turned by quarter turns counter-clockwise, their lower left corner moved to (x, y)."""
    for _ in range(turn % 4):
        rects = tuple(Rect(-r.y1_nm, r.x0_nm, -r.y0_nm, r.x1_nm) for r in rects)
    corner = bounding_rect(rects)
    dx, dy = x_nm - corner.x0_nm, y_nm - corner.y0_nm
    return tuple(Rect(r.x0_nm + dx, r.y0_nm + dy, r.x1_nm + dx, r.y1_nm + dy) for r in rects)


def covered_cells(rects: tuple[Rect, ...]) -> tuple[list[int], list[int], list[list[bool]]]:
    """Return the grid lines of `rects` and which cells (by column, then row) they cover."""
    xs = sorted({x for r in rects for x in (r.x0_nm, r.x1_nm)})
    ys = sorted({y for r in rects for y in (r.y0_nm, r.y1_nm)})
    at_x = {x: i for i, x in enumerate(xs)}
    at_y = {y: i for i, y in enumerate(ys)}
    cells = [[False] * (len(ys) - 1) for _ in range(len(xs) - 1)]
    for r in rects:
        for i in range(at_x[r.x0_nm], at_x[r.x1_nm]):
            for j in range(at_y[r.y0_nm], at_y[r.y1_nm]):
                cells[i][j] = True
    return xs, ys, cells


def union_rings(rects: tuple[Rect, ...]) -> tuple[Ring, ...]:
    """Return the rings that bound the union of `rects`: outer ones counter-clockwise, holes clockwise.

    Corners only, none on a straight side; each ring starts at its lowest, then leftmost corner, and the rings are in
    the order of their first corners. Where two parts touch at a corner they stay apart.
    """
    rects = tuple(r for r in rects if r.x0_nm < r.x1_nm and r.y0_nm < r.y1_nm)
    if not rects:
        return ()
    steps = _boundary_steps(rects)
    rings = []
    while steps:
        start = min(steps)
        ring = [start]
        here, heading = _leave(steps, start, None)
        while here != start:
            ring.append(here)
            here, heading = _leave(steps, here, heading)
        rings.append(_corners(ring))
    return tuple(sorted(rings, key=lambda ring: (ring[0][1], ring[0][0])))


def _boundary_steps(rects: tuple[Rect, ...]) -> dict[Point, list[Point]]:
    """Return, by their start, the unit steps along cell sides that have the union on their left only."""
    xs, ys, cells = covered_cells(rects)
    columns, rows = len(xs) - 1, len(ys) - 1

    def covered(i: int, j: int) -> bool:
        return 0 <= i < columns and 0 <= j < rows and cells[i][j]

    steps: dict[Point, list[Point]] = {}
    for i in range(columns):
        for j in range(rows):
            if not cells[i][j]:
                continue
            x0, x1, y0, y1 = xs[i], xs[i + 1], ys[j], ys[j + 1]
            sides = (
                (covered(i, j - 1), (x0, y0), (x1, y0)),
                (covered(i + 1, j), (x1, y0), (x1, y1)),
                (covered(i, j + 1), (x1, y1), (x0, y1)),
                (covered(i - 1, j), (x0, y1), (x0, y0)),
            )
            for inside, start, end in sides:
                if not inside:
                    steps.setdefault(start, []).append(end)
    return steps


def _leave(steps: dict[Point, list[Point]], here: Point, heading: Point | None) -> tuple[Point, Point]:
    """Take a step from `here`; where two leave, the one to the left keeps parts that touch at a corner apart."""
    ends = steps[here]
    chosen = ends[0]
    if heading is not None and len(ends) > 1:
        chosen = max(ends, key=lambda end: _turn(heading, _sign(here, end)))
    ends.remove(chosen)
    if not ends:
        del steps[here]
    return chosen, _sign(here, chosen)


def _sign(a: Point, b: Point) -> Point:
    """Return the direction of an axis-parallel step."""
    return ((b[0] > a[0]) - (b[0] < a[0]), (b[1] > a[1]) - (b[1] < a[1]))


def _turn(a: Point, b: Point) -> int:
    """Return 1 for a turn to the left, −1 to the right, 0 for none."""
    return a[0] * b[1] - a[1] * b[0]


def _corners(ring: list[Point]) -> Ring:
    """Return the ring without points on straight sides, from its lowest, then leftmost corner."""
    count = len(ring)
    kept = [
        ring[k] for k in range(count) if _turn(_sign(ring[k - 1], ring[k]), _sign(ring[k], ring[(k + 1) % count])) != 0
    ]
    first = min(range(len(kept)), key=lambda k: (kept[k][1], kept[k][0]))
    return tuple(kept[first:] + kept[:first])


def sides(rings: tuple[Ring, ...]) -> list[tuple[Point, Point]]:
    """Return all sides of `rings`."""
    return [(ring[k], ring[(k + 1) % len(ring)]) for ring in rings for k in range(len(ring))]
