"""How two outlines of a drawing lie to each other, sloppy drawing allowed for. Whole numbers only."""

from __future__ import annotations

from enum import Enum, auto

from nesting.domain.geometry import Point
from nesting.files.outline import contains, cross, segments
from nesting.units import MM_NM

SLACK_NM = 2 * MM_NM
"""Outlines may run so far into each other, as rooms do that are drawn to one wall line by hand."""

Outline = tuple[Point, ...]
Box = tuple[int, int, int, int]


class Relation(Enum):
    """How one outline lies to another."""

    APART = auto()
    WITHIN = auto()
    AROUND = auto()
    SAME = auto()
    OVERLAP = auto()


def relation_of(one: Outline, other: Outline) -> Relation:
    """Return how `one`, a simple polygon in nm, lies to `other`; points within `SLACK_NM` of an edge tell nothing."""
    # Doubled, so that the middles of sides are whole numbers too.
    one, other = (tuple((2 * x, 2 * y) for x, y in outline) for outline in (one, other))
    ins, outs = _sides_of(one, other)
    other_ins, other_outs = _sides_of(other, one)
    if (ins and outs) or (other_ins and other_outs) or (ins and other_ins) or _cross_deeply(one, other):
        return Relation.OVERLAP
    if ins:
        return Relation.WITHIN
    if other_ins:
        return Relation.AROUND
    return Relation.APART if outs or other_outs else Relation.SAME


def box_of(outline: Outline) -> Box:
    """Return the least and the greatest coordinates: x0, y0, x1, y1."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return min(xs), min(ys), max(xs), max(ys)


def boxes_apart(one: Box, other: Box) -> bool:
    """Tell whether two outlines with these boxes are surely apart, but for the slack."""
    return any(one[axis + 2] - SLACK_NM <= other[axis] or other[axis + 2] - SLACK_NM <= one[axis] for axis in (0, 1))


def _sides_of(one: Outline, other: Outline) -> tuple[bool, bool]:
    """Tell whether corners or middles of sides of `one` lie inside `other`, and whether any lie outside; doubled."""
    middles = [((a[0] + b[0]) // 2, (a[1] + b[1]) // 2) for a, b in segments(one)]
    inside = outside = False
    rim = segments(other)
    for point in (*one, *middles):
        if any(_near(point, a, b) for a, b in rim):
            continue
        if contains(other, point):
            inside = True
        else:
            outside = True
        if inside and outside:
            break
    return inside, outside


def _near(point: Point, a: Point, b: Point) -> bool:
    """Tell whether a point lies within the slack of a side; doubled."""
    most = 2 * SLACK_NM
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    along = (point[0] - a[0]) * dx + (point[1] - a[1]) * dy
    if 0 <= along <= square:
        return cross(a, b, point) ** 2 <= most * most * square
    end = a if along < 0 else b
    return (point[0] - end[0]) ** 2 + (point[1] - end[1]) ** 2 <= most * most


def _cross_deeply(one: Outline, other: Outline) -> bool:
    """Tell whether two sides cross and run on beyond each other by more than the slack; doubled."""
    return any(_through(a, b, c, d) and _through(c, d, a, b) for a, b in segments(one) for c, d in segments(other))


def _through(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Tell whether c and d lie on different sides of the line ab, both farther from it than the slack."""
    first, second = cross(a, b, c), cross(a, b, d)
    most = (2 * SLACK_NM) ** 2 * ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2)
    return (first > 0) != (second > 0) and first * first > most and second * second > most
