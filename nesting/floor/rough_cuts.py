"""Rough cuts: a part of the floor swept outward by its allowances and closed to rectangles on the cutting step."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, hypot

from nesting.domain.geometry import Point, Rect
from nesting.floor.outlines import Side
from nesting.floor.parts import Part

SAFETY_NM = 3
"""Added round what is computed with an oblique side in floating point; axis-parallel sides are exact."""

Box = tuple[int, int, int, int]
"""u0, v0, u1, v1 in nm, or in cutting steps from the anchor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutGrid:
    """How rough cuts are closed.

    `anchor_nm` and `step_nm` are the cutting step's grid; oblique sides become steps no finer than `oblique_step_nm`.
    A notch or hole is kept where it holds a rectangle of one of `useful_nm`, either way round; `whole`: none is.
    """

    anchor_nm: Point
    step_nm: int
    oblique_step_nm: int
    useful_nm: tuple[tuple[int, int], ...]
    whole: bool = False


def swept_boxes(ring: Sequence[Side], oblique_step_nm: int) -> list[Box]:
    """Return boxes that hold all that is swept outside a ring: beside its sides, and at its convex corners."""
    boxes = []
    for i, side in enumerate(ring):
        boxes += _side_boxes(side, oblique_step_nm)
        corner = _corner_box(ring[i - 1], side)
        if corner is not None:
            boxes.append(corner)
    return boxes


def swept_corner(rings: Sequence[Sequence[Side]]) -> Box:
    """Return the bounding box, in nm, of all that is swept: its lower corner anchors the cutting step of a room."""
    boxes = [box for ring in rings for box in swept_boxes(ring, 1 << 62)]
    return min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)


def rough_cut(part: Part, grid: CutGrid) -> tuple[Rect, ...]:
    """Return the rough cut of a part as disjoint rectangles on the cutting step.

    The union holds the swept part: outer sides are rounded outward and notches inward, oblique sides become steps,
    and notches and holes that are of no use are filled.
    """
    plain = _rectangle(part, grid)
    if plain is not None:
        return (plain,)
    boxes = [_rounded(box, grid) for ring in part.rings for box in swept_boxes(ring, grid.oblique_step_nm)]
    across = sorted({u for box in boxes for u in (box[0], box[2])})
    along = sorted({v for box in boxes for v in (box[1], box[3])})
    if grid.whole:
        return (_rect((across[0], along[0], across[-1], along[-1]), grid),)
    rows = _covered_rows(part, boxes, across, along, grid)
    full = (1 << (len(across) - 1)) - 1
    if any(row != full for row in rows):
        rows = _without_small_notches(rows, across, along, grid)
    return tuple(_rect(box, grid) for box in _as_boxes(rows, across, along))


def _rectangle(part: Part, grid: CutGrid) -> Rect | None:
    """Return the rough cut of a rectangular part with no useful notch in its margins, None for any other part."""
    if len(part.rings) != 1:
        return None
    depths: dict[int, set[int]] = {0: set(), 1: set(), 2: set(), 3: set()}
    for side in part.rings[0]:
        if side.av == side.bv and side.av in (part.v0, part.v1):
            depths[1 if side.av == part.v0 else 3].add(side.given_nm)
        elif side.au == side.bu and side.au in (part.u0, part.u1):
            depths[0 if side.au == part.u0 else 2].add(side.given_nm)
        else:
            return None
    least = min(length for size in grid.useful_nm for length in size)
    if any(max(deep) - min(deep) + 2 * grid.step_nm > least for deep in depths.values()):
        return None
    outer = (
        floor(part.u0 - max(depths[0])),
        floor(part.v0 - max(depths[1])),
        ceil(part.u1 + max(depths[2])),
        ceil(part.v1 + max(depths[3])),
    )
    return _rect(_rounded(outer, grid), grid)


def _side_boxes(side: Side, oblique_step_nm: int) -> list[Box]:
    """Return the boxes beside a side: exact along the axes, else one for every step of an oblique side."""
    depth = side.given_nm
    if side.straight:
        low_u, high_u = min(side.au, side.bu), max(side.au, side.bu)
        low_v, high_v = min(side.av, side.bv), max(side.av, side.bv)
        if side.av == side.bv:
            low_v, high_v = (low_v - depth, high_v) if side.bu > side.au else (low_v, high_v + depth)
        elif side.bv > side.av:
            high_u += depth
        else:
            low_u -= depth
        return [(floor(low_u), floor(low_v), ceil(high_u), ceil(high_v))]
    au, av, bu, bv = float(side.au), float(side.av), float(side.bu), float(side.bv)
    length = hypot(bu - au, bv - av)
    nu, nv = (bv - av) / length * depth, -(bu - au) / length * depth
    count = max(1, int(max(abs(bu - au), abs(bv - av)) // oblique_step_nm))
    boxes = []
    for i in range(count):
        us = [au + (bu - au) * j / count for j in (i, i + 1)]
        vs = [av + (bv - av) * j / count for j in (i, i + 1)]
        boxes.append(_outer([*us, us[0] + nu, us[1] + nu], [*vs, vs[0] + nv, vs[1] + nv]))
    return boxes


def _corner_box(before: Side, after: Side) -> Box | None:
    """Return the box round what fills a convex corner, None where the ring goes straight on or turns away."""
    du, dv = before.bu - before.au, before.bv - before.av
    eu, ev = after.bu - after.au, after.bv - after.av
    if du * ev - dv * eu <= 0:
        return None
    a, b = before.given_nm, after.given_nm
    if before.straight and after.straight:
        u = after.au + (a if dv > 0 else -a if dv < 0 else b if ev > 0 else -b)
        v = after.av + (a if du < 0 else -a if du > 0 else b if eu < 0 else -b)
        return (
            floor(min(u, after.au)),
            floor(min(v, after.av)),
            ceil(max(u, after.au)),
            ceil(max(v, after.av)),
        )
    fu, fv, gu, gv = float(du), float(dv), float(eu), float(ev)
    one, two = hypot(fu, fv), hypot(gu, gv)
    n1, n2 = (fv / one, -fu / one), (gv / two, -gu / two)
    pu, pv = float(after.au), float(after.av)
    us, vs = [pu, pu + a * n1[0], pu + b * n2[0]], [pv, pv + a * n1[1], pv + b * n2[1]]
    if du * eu + dv * ev >= 0:  # an interior angle of 90° or more is filled to the mitre point
        turn = n1[0] * n2[0] + n1[1] * n2[1]
        sine = n1[0] * n2[1] - n1[1] * n2[0]
        if a == b:
            p = q = a / (1 + turn)
        else:
            p, q = (a - b * turn) / sine**2, (b - a * turn) / sine**2
        if p < 0 or q < 0:
            return None  # depths so different on a wall so little bent that the two bands do not meet outside
        us.append(pu + p * n1[0] + q * n2[0])
        vs.append(pv + p * n1[1] + q * n2[1])
    box = _outer(us, vs)
    cosine = n1[0] * n2[0] + n1[1] * n2[1]
    for side, depth, other in ((before, a, b), (after, b, a)):
        if side.straight and other * cosine + SAFETY_NM <= depth:
            box = _no_deeper(box, side, (floor(after.au), floor(after.av), ceil(after.au), ceil(after.av)), depth)
    return box


def _no_deeper(box: Box, side: Side, corner: Box, depth: int) -> Box:
    """Return the box of a corner's fill, which ends exactly `depth` outside an axis-parallel side of the corner.

    The safety of floating point would cost a whole cutting step there.
    """
    u0, v0, u1, v1 = box
    if side.au == side.bu:
        right = side.bv > side.av
        return (u0, v0, corner[2] + depth, v1) if right else (corner[0] - depth, v0, u1, v1)
    below = side.bu > side.au
    return (u0, corner[1] - depth, u1, v1) if below else (u0, v0, u1, corner[3] + depth)


def _outer(us: Sequence[float], vs: Sequence[float]) -> Box:
    """Return the whole box round points computed in floating point, with a safety."""
    return (
        floor(min(us)) - SAFETY_NM,
        floor(min(vs)) - SAFETY_NM,
        ceil(max(us)) + SAFETY_NM,
        ceil(max(vs)) + SAFETY_NM,
    )


def _rounded(box: Box, grid: CutGrid) -> Box:
    """Return a box in cutting steps from the anchor, rounded outward."""
    (u, v), step = grid.anchor_nm, grid.step_nm
    return (box[0] - u) // step, (box[1] - v) // step, -((u - box[2]) // step), -((v - box[3]) // step)


def _rect(box: Box, grid: CutGrid) -> Rect:
    (u, v), step = grid.anchor_nm, grid.step_nm
    return Rect(u + box[0] * step, v + box[1] * step, u + box[2] * step, v + box[3] * step)


def _covered_rows(part: Part, boxes: Sequence[Box], across: list[int], along: list[int], grid: CutGrid) -> list[int]:
    """Return, for each row between neighbouring levels, the columns covered as bits.

    Every side lies in boxes whose edges are all among the lines, so a field between lines is in a box, or wholly
    inside the part, or wholly outside: its middle tells. It is at least half a cutting step from every oblique side,
    so floating point will do.
    """
    column = {u: i for i, u in enumerate(across)}
    row = {v: i for i, v in enumerate(along)}
    rows = [0] * (len(along) - 1)
    for u0, v0, u1, v1 in boxes:
        bits = (1 << column[u1]) - (1 << column[u0])
        for j in range(row[v0], row[v1]):
            rows[j] |= bits
    full = (1 << (len(across) - 1)) - 1
    (anchor_u, anchor_v), step = grid.anchor_nm, grid.step_nm
    middles = [anchor_u + (u0 + u1) * step / 2 for u0, u1 in pairwise(across)]
    slanted = [
        (float(side.au), float(side.av), float(side.bu), float(side.bv)) for side in part.sides if side.av != side.bv
    ]
    for j, bits in enumerate(rows):
        if bits == full:
            continue
        level = anchor_v + (along[j] + along[j + 1]) * step / 2
        crossings = sorted(
            au if au == bu else au + (bu - au) * (level - av) / (bv - av)
            for au, av, bu, bv in slanted
            if (av <= level) != (bv <= level)
        )
        for left, right in zip(crossings[::2], crossings[1::2], strict=True):
            bits |= (1 << bisect_right(middles, right)) - (1 << bisect_left(middles, left))
        rows[j] = bits
    return rows


def _without_small_notches(rows: list[int], across: list[int], along: list[int], grid: CutGrid) -> list[int]:
    """Return the rows with every notch and hole filled that holds no useful rectangle."""
    full = (1 << (len(across) - 1)) - 1
    kept = [0] * len(rows)
    sizes = [size for w, h in grid.useful_nm for size in ((w, h), (h, w))]
    least = min(length for size in sizes for length in size)
    for first in range(len(rows)):
        free = full & ~rows[first]
        if first and free & rows[first - 1] == 0:
            continue  # a rectangle that starts here can start a row lower
        for last in range(first, len(rows)):
            following = free & ~rows[last + 1] if last + 1 < len(rows) else 0
            length = (along[last + 1] - along[first]) * grid.step_nm
            if following != free and length >= least:
                for start, end in _runs(free):
                    width = (across[end] - across[start]) * grid.step_nm
                    if any(width >= w and length >= h for w, h in sizes):
                        bits = (1 << end) - (1 << start)
                        for j in range(first, last + 1):
                            kept[j] |= bits
            free = following
            if not free:
                break
    return [full & ~free for free in kept]


def _runs(bits: int) -> list[tuple[int, int]]:
    """Return the runs of set bits: (first, one past the last)."""
    runs = []
    position = 0
    while bits:
        zeros = (bits & -bits).bit_length() - 1
        bits >>= zeros
        position += zeros
        ones = (~bits & (bits + 1)).bit_length() - 1
        runs.append((position, position + ones))
        bits >>= ones
        position += ones
    return runs


def _as_boxes(rows: list[int], across: list[int], along: list[int]) -> list[Box]:
    """Return covered rows as disjoint boxes: runs that go on unchanged from row to row are one box."""
    boxes: list[Box] = []
    growing: dict[tuple[int, int], int] = {}
    for j, bits in enumerate([*rows, 0]):
        runs = set(_runs(bits))
        for run in [run for run in growing if run not in runs]:
            start = growing.pop(run)
            boxes.append((across[run[0]], along[start], across[run[1]], along[j]))
        for run in runs:
            growing.setdefault(run, j)
    return sorted(boxes, key=lambda box: (box[1], box[0]))
