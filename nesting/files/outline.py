"""Outlines in whole nanometres: built from measures, taken apart at walls, tested.

Everything is exact whole-number arithmetic; along an oblique wall points are rounded to the nearest nanometre.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isqrt

from nesting.domain.geometry import Point
from nesting.domain.job import Edge, EdgeKind

Segment = tuple[Point, Point]

OBLIQUE_SLACK_NM = 2
"""Points along an oblique wall are rounded, so they may lie so far beside it."""


def cross(a: Point, b: Point, c: Point) -> int:
    """Return twice the signed area of the triangle abc: above zero when c lies left of a → b."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def twice_area(points: tuple[Point, ...]) -> int:
    """Return twice the signed area: above zero when counter-clockwise."""
    return sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(points, (*points[1:], points[0]), strict=True))


def length_of(segment: Segment) -> int:
    """Return the length, to the nearest nanometre."""
    (x0, y0), (x1, y1) = segment
    square = (x1 - x0) ** 2 + (y1 - y0) ** 2
    root = isqrt(square)
    return root + (square - root * root > root)


def beside(segment: Segment, along: int, out: int) -> Point:
    """Return the point `along` the segment from its start and `out` to its right, to the nearest nanometre."""
    (x0, y0), (x1, y1) = segment
    dx, dy = x1 - x0, y1 - y0
    if dx == 0 or dy == 0:
        tx, ty = (dx > 0) - (dx < 0), (dy > 0) - (dy < 0)
        return x0 + along * tx + out * ty, y0 + along * ty - out * tx
    scaled = isqrt((dx * dx + dy * dy) << 128)  # the length times 2^64
    return (
        x0 + _nearest((along * dx + out * dy) << 64, scaled),
        y0 + _nearest((along * dy - out * dx) << 64, scaled),
    )


def _nearest(top: int, bottom: int) -> int:
    return (2 * top + bottom) // (2 * bottom)


def position_along(segment: Segment, point: Point) -> tuple[int, int]:
    """Return (along, out) of `point` in the frame of the segment, to the nearest nanometre."""
    (x0, y0), (x1, y1) = segment
    dx, dy = x1 - x0, y1 - y0
    px, py = point[0] - x0, point[1] - y0
    scaled = isqrt((dx * dx + dy * dy) << 128)
    return _nearest((px * dx + py * dy) << 64, scaled), _nearest((px * dy - py * dx) << 64, scaled)


def touch(first: Segment, second: Segment) -> bool:
    """Tell whether two segments share a point."""
    (a, b), (c, d) = first, second
    if max(a[0], b[0]) < min(c[0], d[0]) or max(c[0], d[0]) < min(a[0], b[0]):
        return False
    if max(a[1], b[1]) < min(c[1], d[1]) or max(c[1], d[1]) < min(a[1], b[1]):
        return False
    return _sign(cross(a, b, c)) * _sign(cross(a, b, d)) <= 0 and _sign(cross(c, d, a)) * _sign(cross(c, d, b)) <= 0


def _sign(value: int) -> int:
    return (value > 0) - (value < 0)


def segments(points: tuple[Point, ...]) -> list[Segment]:
    """Return the edges of a polygon."""
    return list(zip(points, (*points[1:], points[0]), strict=True))


def first_crossing(points: tuple[Point, ...]) -> tuple[int, int] | None:
    """Return two edges (by their first vertex) that meet where they must not, None for a simple polygon."""
    edges = segments(points)
    count = len(edges)
    for i, (a, b) in enumerate(edges):
        if a == b:
            return i, (i + 1) % count
        c = edges[(i + 1) % count][1]
        if cross(a, b, c) == 0 and (c[0] - b[0]) * (b[0] - a[0]) + (c[1] - b[1]) * (b[1] - a[1]) < 0:
            return i, (i + 1) % count  # the next edge runs back over this one
    order = sorted(range(count), key=lambda i: min(edges[i][0][0], edges[i][1][0]))
    for place, i in enumerate(order):
        far = max(edges[i][0][0], edges[i][1][0])
        for j in order[place + 1 :]:
            if min(edges[j][0][0], edges[j][1][0]) > far:
                break
            if (i - j) % count not in (1, count - 1) and touch(edges[i], edges[j]):
                return min(i, j), max(i, j)
    return None


def contains(points: tuple[Point, ...], point: Point) -> bool:
    """Tell whether `point` lies strictly inside the simple polygon."""
    inside = False
    for a, b in segments(points):
        turn = cross(a, b, point)
        if (
            turn == 0
            and min(a[0], b[0]) <= point[0] <= max(a[0], b[0])
            and min(a[1], b[1]) <= point[1] <= max(a[1], b[1])
        ):
            return False
        if (a[1] > point[1]) != (b[1] > point[1]) and (turn > 0) == (b[1] > a[1]):
            inside = not inside
    return inside


def lies_within(inner: tuple[Point, ...], outer: tuple[Point, ...]) -> bool:
    """Tell whether a polygon lies inside another without touching it."""
    rim = segments(outer)
    return contains(outer, inner[0]) and not any(touch(edge, other) for edge in segments(inner) for other in rim)


def apart(first: tuple[Point, ...], second: tuple[Point, ...]) -> bool:
    """Tell whether two polygons share no point."""
    if any(touch(edge, other) for edge in segments(first) for other in segments(second)):
        return False
    return not contains(first, second[0]) and not contains(second, first[0])


def is_convex(points: tuple[Point, ...]) -> bool:
    """Tell whether a simple polygon, counter-clockwise, is convex."""
    around = (*points, *points[:2])
    return all(cross(*around[i : i + 3]) >= 0 for i in range(len(points)))


@dataclass(frozen=True, slots=True)
class Ring:
    """An outline, counter-clockwise, with what bounds it along each edge."""

    points: tuple[Point, ...]
    edges: tuple[Edge, ...]

    def segment(self, index: int) -> Segment:
        """Return edge number `index`."""
        return self.points[index], self.points[(index + 1) % len(self.points)]

    def find(self, base: Segment, start: int, end: int) -> int | None:
        """Return the wall edge that lies on the line of `base` and holds the stretch from `start` to `end` of it."""
        slack = 0 if base[0][0] == base[1][0] or base[0][1] == base[1][1] else OBLIQUE_SLACK_NM
        for index, edge in enumerate(self.edges):
            if edge.kind is not EdgeKind.WALL:
                continue
            first, last = (position_along(base, point) for point in self.segment(index))
            on_line = abs(first[1]) <= slack and abs(last[1]) <= slack
            if on_line and first[0] <= start + slack and end <= last[0] + slack and first[0] < last[0]:
                return index
        return None

    def with_step(self, index: int, base: Segment, stretch: tuple[int, int], out: int, edges: tuple[Edge, ...]) -> Ring:
        """Return the ring with a rectangle added (`out` > 0), cut away (< 0) or marked (0) along one edge.

        Parameters
        ----------
        index
            The edge that holds the stretch.
        base
            The segment that `stretch`, (from, to), is measured along.
        out
            How far the middle part moves outward.
        edges
            What the new parts are: (middle,) if `out` is 0, else (first side, middle, last side).
        """
        before, after = self.segment(index)
        foot0, foot1 = beside(base, stretch[0], 0), beside(base, stretch[1], 0)
        corners = [beside(base, along, out) for along in stretch] if out else []
        new = [foot0, *corners, foot1]
        kinds = [self.edges[index], *edges, self.edges[index]]
        points = [before, *new]
        if foot0 == before:
            del points[0], kinds[0]
        if foot1 == after:
            del points[-1], kinds[-1]
        return Ring(
            (*self.points[:index], *points, *self.points[index + 1 :]),
            (*self.edges[:index], *kinds, *self.edges[index + 1 :]),
        ).without_spikes()

    def without_spikes(self) -> Ring:
        """Return the ring without edges that run back over their neighbour."""
        points, edges = list(self.points), list(self.edges)
        index = 0
        while index < len(points) and len(points) > 3:
            a, b, c = points[index - 1], points[index], points[(index + 1) % len(points)]
            back = (c[0] - b[0]) * (b[0] - a[0]) + (c[1] - b[1]) * (b[1] - a[1])
            if b == c or (cross(a, b, c) == 0 and back < 0):
                longer = edges[index - 1] if length_of((a, b)) > length_of((b, c)) else edges[index]
                edges[index - 1] = edges[index - 1] if b == c else longer
                del points[index], edges[index]
                index = max(0, index - 2)
            else:
                index += 1
        return Ring(tuple(points), tuple(edges))

    def simple(self) -> bool:
        """Tell whether the outline is a simple polygon, counter-clockwise."""
        return len(self.points) > 2 and twice_area(self.points) > 0 and first_crossing(self.points) is None

    def moved(self, by: Point) -> Ring:
        """Return the ring moved."""
        return replace(self, points=tuple((x + by[0], y + by[1]) for x, y in self.points))


def clip_line(outline: tuple[Point, ...], line: Segment) -> list[Segment]:
    """Return the stretches of the straight line through `line` that lie inside the outline.

    A line through a vertex or along an edge counts as lying a hair to its left.
    """
    length = length_of(line)
    cuts: list[int] = []
    for a, b in segments(outline):
        side_a, side_b = cross(*line, a) > 0, cross(*line, b) > 0
        if side_a != side_b:
            ca, cb = cross(*line, a), cross(*line, b)
            top, bottom = abs(ca), abs(ca) + abs(cb)
            point = (a[0] + _nearest((b[0] - a[0]) * top, bottom), a[1] + _nearest((b[1] - a[1]) * top, bottom))
            cuts.append(position_along(line, point)[0])
    cuts.sort()
    pairs = zip(cuts[::2], cuts[1::2], strict=True)
    return [(beside(line, start, 0), beside(line, end, 0)) for start, end in pairs if end > start and length]
