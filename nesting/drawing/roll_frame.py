"""Where a row of a roll map lies on paper, and what of it is taken."""

from __future__ import annotations

from dataclasses import dataclass, field

from nesting.domain.geometry import Point, Rect
from nesting.drawing.blocks import Box
from nesting.drawing.callouts import Callout
from nesting.drawing.labels import Taken
from nesting.drawing.outline import Ring, clipped_rects
from nesting.drawing.roll_rows import Row
from nesting.drawing.roll_view import RollView
from nesting.drawing.scene import Label, Shape, Spot
from nesting.drawing.sheet import mm_per_nm

GUTTER_MM = 9.0
"""Room left of a row for the roll's width."""

LEAST_PATTERN_MM = 4.0
"""Repeat lines are not drawn closer than this."""


@dataclass(slots=True)
class RowFrame:
    """Where a row lies on paper. `mirrored`: seen from the back, the left edge below."""

    view: RollView
    row: Row
    left: float
    right: float  # of the page, not of the row
    scale: int
    mirrored: bool
    name: str  # "Row 2 of 3"
    suffix: str  # of element ids, unique to the row
    mains: frozenset[str]  # ids of the cuts labelled in full here
    top: float = 0.0
    taken: Taken = field(default_factory=lambda: Taken(area=(-1e9, -1e9, 1e9, 1e9)))
    callouts: list[Callout] = field(default_factory=list)
    beside: frozenset[str] = frozenset()  # what is labelled below though there is room in it: leaders run there
    within: list[tuple[str, tuple[Label, ...]]] = field(default_factory=list)  # what is labelled in its own place

    def at(self, point: Point) -> Spot:
        """Return the place on paper of a point of the roll: along runs right, across runs down (face up)."""
        k = mm_per_nm(self.scale)
        across = self.view.source.width_nm - point[0] if self.mirrored else point[0]
        return (self.left + (point[1] - self.row.y0_nm) * k, self.top + across * k)

    def ring(self, ring: Ring) -> tuple[Spot, ...]:
        """Return a ring on paper."""
        return tuple(self.at(point) for point in ring)

    def box(self, rect: Rect) -> Box:
        """Return a rectangle on paper as (x0, y0, x1, y1)."""
        (x0, ya), (x1, yb) = self.at((rect.x0_nm, rect.y0_nm)), self.at((rect.x1_nm, rect.y1_nm))
        return (x0, min(ya, yb), x1, max(ya, yb))

    def area(self, role: str, rect: Rect, ident: str = "") -> Shape:
        """Return a rectangle of the roll as a shape."""
        x0, y0, x1, y1 = self.box(rect)
        return Shape(role=role, rings=(((x0, y0), (x1, y0), (x1, y1), (x0, y1)),), closed=True, id=ident)

    def heading(self, turn: int) -> int:
        """Return which way (index into the headings) the lay of a piece turned so points on paper."""
        return turn if not self.mirrored or turn % 2 == 0 else 4 - turn

    @property
    def bottom(self) -> float:
        """The y below the roll."""
        return self.top + self.view.source.width_nm * mm_per_nm(self.scale)

    def clip(self, rect: Rect) -> Rect | None:
        """Return the part of a rectangle in this row."""
        cut = clipped_rects((rect,), self.row.y0_nm, self.row.y1_nm)
        return cut[0] if cut else None
