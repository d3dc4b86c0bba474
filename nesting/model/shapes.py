"""Pieces as they lie: turned, moved back to the corner, with the insets of their sides."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.model.instance import Box, Piece


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
