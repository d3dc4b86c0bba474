"""The swept part of a piece, and whether the rough cut holds it: exact for edges along the axes.

Depths of oblique edges are rounded inward by far less than a nanometre, so that a rough cut that holds the true sweep
always passes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from math import isqrt

from nesting.checker.clipping import Slice
from nesting.checker.parts import Key, Part, Stretch, cross, dot
from nesting.checker.whole import XY, Number, ratio, whole
from nesting.domain.geometry import Point, Rect

Shape = tuple[XY, ...]
"""A convex polygon, counter-clockwise or clockwise."""

FINENESS = 1 << 40


def outward(step: Point, depth_nm: int) -> XY:
    """Return the vector of length `depth_nm` square to a side's direction, away from the floor on its left."""
    dx, dy = step
    if dx == 0:
        return (depth_nm if dy > 0 else -depth_nm), 0
    if dy == 0:
        return 0, (-depth_nm if dx > 0 else depth_nm)
    share = whole(Fraction(isqrt(depth_nm * depth_nm * FINENESS * FINENESS // (dx * dx + dy * dy)), FINENESS))
    return share * dy, -share * dx


def moved(point: XY, by: XY) -> XY:
    """Return the point moved by a vector."""
    return point[0] + by[0], point[1] + by[1]


def band(stretch: Stretch, depth_nm: int) -> Shape:
    """Return the rectangle of so much depth outside a stretch."""
    off = outward(stretch.step, depth_nm)
    return stretch.start, stretch.end, moved(stretch.end, off), moved(stretch.start, off)


def corner_fill(before: Stretch, after: Stretch, depth_before: int, depth_after: int) -> Shape | None:
    """Return what fills the corner between two bands at a convex vertex; None where nothing does."""
    d, e = before.step, after.step
    bend = cross(d, e)
    if bend <= 0:
        return None
    point = before.end
    one, other = outward(d, depth_before), outward(e, depth_after)
    if dot(d, e) < 0:
        return point, moved(point, one), moved(point, other)
    gap = (other[0] - one[0], other[1] - one[1])
    ahead = ratio(gap[0] * e[1] - gap[1] * e[0], bend)
    back = ratio(gap[0] * d[1] - gap[1] * d[0], bend)
    if ahead < 0 or back > 0:
        return None  # depths so different on a wall so little bent that the two bands do not meet outside
    mitre = moved(moved(point, one), (ahead * d[0], ahead * d[1]))
    return point, moved(point, one), mitre, moved(point, other)


def shape_of(piece: Slice) -> Shape:
    """Return a slice as a polygon."""
    corners = ((piece.u0, piece.b0), (piece.u1, piece.b1), (piece.u1, piece.t1), (piece.u0, piece.t0))
    return tuple(dict.fromkeys(corners))


def swept_shapes(part: Part, given: Mapping[Key, int]) -> Iterator[tuple[str, Shape]]:
    """Yield the convex shapes whose union is the swept part, each with what it is."""
    for piece in part.slices:
        yield "the floor", shape_of(piece)
    for loop in part.loops:
        for stretch in loop:
            if given.get(stretch.key, 0) > 0:
                yield f"the allowance at {name(stretch.key)}", band(stretch, given[stretch.key])
        for before, after in pairwise((*loop, loop[0])):
            fill = corner_fill(before, after, given.get(before.key, 0), given.get(after.key, 0))
            if fill is not None:
                yield f"the corner of {name(before.key)} and {name(after.key)}", fill


def name(key: Key) -> str:
    """Return what a boundary is called in messages."""
    return f"{key[0].value} {key[1]}"


def double_area(shape: Sequence[XY]) -> Number:
    """Return twice the area, never negative."""
    total: Number = 0
    for (x0, y0), (x1, y1) in pairwise((*shape, shape[0])):
        total += x0 * y1 - x1 * y0
    return total if total >= 0 else -total


def clipped(shape: Shape, rect: Rect) -> Shape:
    """Return the part of a convex shape inside a rectangle (one border after another)."""
    for axis, limit, upper in (
        (0, rect.x0_nm, False),
        (0, rect.x1_nm, True),
        (1, rect.y0_nm, False),
        (1, rect.y1_nm, True),
    ):
        shape = _half(shape, axis, limit, upper=upper)
        if len(shape) < 3:
            return ()
    return shape


def _half(shape: Shape, axis: int, limit: int, *, upper: bool) -> Shape:
    kept: list[XY] = []
    for one, other in pairwise((*shape, shape[0])):
        a, b = one[axis] - limit, other[axis] - limit
        if upper:
            a, b = -a, -b
        if a >= 0:
            kept.append(one)
        if (a > 0 and b < 0) or (a < 0 and b > 0):
            share = ratio(a, a - b)
            kept.append(moved(one, ((other[0] - one[0]) * share, (other[1] - one[1]) * share)))
    return tuple(kept)


def uncovered(shape: Shape, rects: Sequence[Rect]) -> Number:
    """Return the area of a convex shape outside disjoint rectangles, square nanometres."""
    xs, ys = [p[0] for p in shape], [p[1] for p in shape]
    x0, x1, y0, y1 = min(xs), max(xs), min(ys), max(ys)
    near = [r for r in rects if r.x0_nm < x1 and r.x1_nm > x0 and r.y0_nm < y1 and r.y1_nm > y0]
    if any(r.x0_nm <= x0 and x1 <= r.x1_nm and r.y0_nm <= y0 and y1 <= r.y1_nm for r in near):
        return 0
    inside: Number = 0
    for rect in near:
        cut = clipped(shape, rect)
        if cut:
            inside += double_area(cut)
    return ratio(double_area(shape) - inside, 2)


def holds(shape: Shape, rects: Sequence[Rect]) -> bool:
    """Tell whether disjoint rectangles hold a convex shape.

    A shape with sides along the axes must be held exactly; of another a border thinner than 1 nm may stand out.
    """
    missing = uncovered(shape, rects)
    if missing <= 0:
        return True
    if all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise((*shape, shape[0]))):
        return False
    xs, ys = [p[0] for p in shape], [p[1] for p in shape]
    return missing <= max(xs) - min(xs) + max(ys) - min(ys)
