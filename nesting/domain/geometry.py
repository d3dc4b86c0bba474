"""Points, rectangles and lay directions as whole numbers."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import NamedTuple

Point = tuple[int, int]
"""(across, along) or (X, Y), whole nanometres."""


class Rect(NamedTuple):
    """A rectangle parallel to the axes; x across, y along; whole nanometres."""

    x0_nm: int
    y0_nm: int
    x1_nm: int
    y1_nm: int

    @property
    def width_nm(self) -> int:
        """Extent across."""
        return self.x1_nm - self.x0_nm

    @property
    def length_nm(self) -> int:
        """Extent along."""
        return self.y1_nm - self.y0_nm

    @property
    def area_nm2(self) -> int:
        """Width times length."""
        return self.width_nm * self.length_nm


@dataclass(frozen=True, slots=True)
class LayDirection:
    """Where the roll's length (+v of the lay frame) points, as a primitive whole vector in the floor frame.

    A floor point (X, Y) has lay coordinates u = (X·dy − Y·dx)/n and v = (X·dx + Y·dy)/n with n = √(dx² + dy²),
    each rounded to the nearest nanometre: +u is 90° clockwise of +v, seen face up, so nothing is mirrored.
    `LayDirection(0, 1)` leaves the floor frame as it is.
    """

    dx: int
    dy: int

    @property
    def axis(self) -> LayDirection:
        """Return the direction or its opposite, the same for both."""
        return max(self, LayDirection(-self.dx, -self.dy), key=lambda lay: (lay.dy, lay.dx))

    @classmethod
    def towards(cls, dx: int, dy: int) -> LayDirection:
        """Return the direction of (dx, dy) in lowest terms; both zero is a ValueError."""
        if dx == 0 and dy == 0:
            raise ValueError("a lay direction needs a vector that is not zero")
        common = gcd(dx, dy)
        return cls(dx // common, dy // common)

    def quarter_turned(self, times: int) -> LayDirection:
        """Return the direction turned by `times` quarter turns counter-clockwise."""
        dx, dy = self.dx, self.dy
        for _ in range(times % 4):
            dx, dy = -dy, dx
        return LayDirection(dx, dy)


def bounding_rect(rects: tuple[Rect, ...]) -> Rect:
    """Return the smallest rectangle round `rects` (at least one)."""
    return Rect(
        min(r.x0_nm for r in rects),
        min(r.y0_nm for r in rects),
        max(r.x1_nm for r in rects),
        max(r.y1_nm for r in rects),
    )
