"""Pieces as they lie: turned, moved back to the corner, with the insets of their sides."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from nesting.model.instance import Box, Piece, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A piece as it lies after `turn` quarter turns, lower left corner of its bounding box at (0, 0)."""

    boxes: tuple[Box, ...]
    turn: int
    width: int
    length: int
    inset_left: int
    inset_right: int


def turned_boxes(boxes: tuple[Box, ...], turn: int) -> tuple[Box, ...]:
    """Return `boxes` after `turn` quarter turns counter-clockwise, moved back to (0, 0), in rising order."""
    width = max(box[2] for box in boxes)
    length = max(box[3] for box in boxes)
    if turn == 1:
        moved = [(length - y1, x0, length - y0, x1) for x0, y0, x1, y1 in boxes]
    elif turn == 2:
        moved = [(width - x1, length - y1, width - x0, length - y0) for x0, y0, x1, y1 in boxes]
    elif turn == 3:
        moved = [(y0, width - x1, y1, width - x0) for x0, y0, x1, y1 in boxes]
    else:
        moved = list(boxes)
    return tuple(sorted(moved, key=lambda box: (box[1], box[0])))


def shape_of(piece: Piece, turn: int) -> Shape:
    """Return the shape of `piece`; a half turn swaps its insets, a quarter turn keeps the larger on both sides."""
    boxes = turned_boxes(piece.boxes, turn)
    left, right = piece.inset_left, piece.inset_right
    if turn == 2:
        left, right = right, left
    elif turn in (1, 3):
        left = right = max(left, right)
    return Shape(
        boxes=boxes,
        turn=turn,
        width=max(box[2] for box in boxes),
        length=max(box[3] for box in boxes),
        inset_left=left,
        inset_right=right,
    )


def shapes_of(piece: Piece) -> tuple[Shape, ...]:
    """Return the ways `piece` may lie, each once: a turn that changes nothing is left out."""
    shapes: list[Shape] = []
    seen = set()
    for turn in piece.turns:
        shape = shape_of(piece, turn)
        key = (shape.boxes, shape.inset_left, shape.inset_right)
        if key not in seen:
            seen.add(key)
            shapes.append(shape)
    return tuple(shapes)


def widths_along(boxes: tuple[Box, ...]) -> tuple[tuple[int, int], ...]:
    """Return what a piece takes of the goods along them, as (width, length): boxes that touch count as one.

    Cut at every y where a box begins or ends, the piece is a few stretches across at every y; each counts its width
    over the length between two cuts. Stretches as wide as one of the piece below them go on from it.
    """
    going: dict[int, list[int]] = {}
    found: list[tuple[int, int]] = []
    ys = sorted({y for box in boxes for y in (box[1], box[3])})
    for low, high in pairwise(ys):
        here: list[list[int]] = []
        for x0, x1 in sorted((box[0], box[2]) for box in boxes if box[1] <= low and box[3] >= high):
            if here and x0 <= here[-1][1]:
                here[-1][1] = max(here[-1][1], x1)
            else:
                here.append([x0, x1])
        now: dict[int, list[int]] = {}
        for x0, x1 in here:
            old = going.get(x1 - x0)
            now.setdefault(x1 - x0, []).append((old.pop() if old else 0) + high - low)
        found += [(width, length) for width, lengths in going.items() for length in lengths]
        going = now
    found += [(width, length) for width, lengths in going.items() for length in lengths]
    return tuple(sorted(found))


def free_rectangles(source: Source) -> list[Box]:
    """Return the largest rectangles free of flaws on a source."""
    holes: list[Box] = [(0, 0, source.width, source.length)]
    for left, low, right, high in source.blocked:
        parts = []
        for x0, y0, x1, y1 in holes:
            if x1 <= left or x0 >= right or y1 <= low or y0 >= high:
                parts.append((x0, y0, x1, y1))
            else:
                parts += [(x0, y0, left, y1), (right, y0, x1, y1), (x0, y0, x1, low), (x0, high, x1, y1)]
        holes = _largest({part for part in parts if part[0] < part[2] and part[1] < part[3]})
    return holes


def _largest(boxes: set[Box]) -> list[Box]:
    """Return the boxes that lie in no other."""
    return [
        a
        for a in sorted(boxes)
        if not any(a != b and b[0] <= a[0] and b[1] <= a[1] and a[2] <= b[2] and a[3] <= b[3] for b in boxes)
    ]
