"""Whole-number and rational arithmetic of the checker: roots, turned points, the lattice of the pattern."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, gcd, isqrt

from nesting.domain.geometry import LayDirection, Point, Rect
from nesting.domain.material import Material

Number = int | Fraction
XY = tuple[Number, Number]

METRE_NM = 1_000_000_000


def whole(value: Fraction) -> Number:
    """Return the number as an int where it is one: ints are much faster than fractions."""
    return value.numerator if value.denominator == 1 else value


def ratio(numerator: Number, denominator: Number) -> Number:
    """Return the exact quotient."""
    return whole(Fraction(numerator) / Fraction(denominator))


def half_up(value: Fraction) -> int:
    """Return the nearest whole number, halves up."""
    return floor(value + Fraction(1, 2))


def up_to(value: int, step: int) -> int:
    """Return the least multiple of `step` that is not below `value`."""
    return value if step <= 1 else -(-value // step) * step


def over_root(a: int, square: int) -> int:
    """Return a/√square, to the nearest whole number."""
    size = (isqrt(4 * a * a // square) + 1) // 2
    return size if a >= 0 else -size


def turned(point: Point, direction: LayDirection) -> Point:
    """Return a floor point in the lay frame, each coordinate to the nearest nanometre."""
    square = direction.dx**2 + direction.dy**2
    x, y = point
    return (
        over_root(x * direction.dy - y * direction.dx, square),
        over_root(x * direction.dx + y * direction.dy, square),
    )


def straight(direction: LayDirection) -> bool:
    """Tell whether the lay frame is the floor frame turned by quarter turns, so that nothing was rounded."""
    return direction.dx == 0 or direction.dy == 0


def turned_rects(rects: tuple[Rect, ...], corner: Rect, turn: int, x_nm: int, y_nm: int) -> tuple[Rect, ...]:
    """Return rectangles with bounding rectangle `corner` as they lie: quarter turns, then lower left at (x, y)."""
    width, length = corner.width_nm, corner.length_nm
    placed = []
    for rect in rects:
        x0, y0 = rect.x0_nm - corner.x0_nm, rect.y0_nm - corner.y0_nm
        x1, y1 = rect.x1_nm - corner.x0_nm, rect.y1_nm - corner.y0_nm
        match turn % 4:
            case 1:
                x0, y0, x1, y1 = length - y1, x0, length - y0, x1
            case 2:
                x0, y0, x1, y1 = width - x1, length - y1, width - x0, length - y0
            case 3:
                x0, y0, x1, y1 = y0, width - x1, y1, width - x0
        placed.append(Rect(x0 + x_nm, y0 + y_nm, x1 + x_nm, y1 + y_nm))
    return tuple(placed)


def overlap(one: Rect, other: Rect) -> bool:
    """Tell whether two rectangles share more than a border."""
    return one.x0_nm < other.x1_nm and other.x0_nm < one.x1_nm and one.y0_nm < other.y1_nm and other.y0_nm < one.y1_nm


def sound(rect: Rect) -> bool:
    """Tell whether a rectangle has a positive size in whole numbers."""
    return all(type(value) is int for value in rect) and rect.width_nm > 0 and rect.length_nm > 0


def disjoint(rects: Iterable[Rect]) -> bool:
    """Tell whether no two rectangles share more than a border."""
    lying: list[Rect] = []
    for rect in sorted(rects, key=lambda rect: rect.y0_nm):
        lying = [other for other in lying if other.y1_nm > rect.y0_nm]
        if any(rect.x0_nm < other.x1_nm and other.x0_nm < rect.x1_nm for other in lying):
            return False
        lying.append(rect)
    return True


def area2(outline: tuple[Point, ...]) -> int:
    """Return twice the area of a polygon, positive when counter-clockwise."""
    ahead = (*outline[1:], *outline[:1])
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(outline, ahead, strict=True))


@dataclass(frozen=True, slots=True)
class Mesh:
    """The lattice that a source's pattern spans: (across, drop) and (0, along); `across` None: x is free."""

    across: int | None
    along: int
    drop: Fraction

    def reduced(self, x: int, y: int) -> tuple[int, Fraction]:
        """Return the coordinates of a pattern point in the fundamental domain 0 ≤ x < across, 0 ≤ y < along."""
        if self.across is None:
            return 0, Fraction(y % self.along)
        repeats = x // self.across
        return x - repeats * self.across, (y - repeats * self.drop) % self.along

    def same(self, one: tuple[int, int], other: tuple[int, int]) -> bool:
        """Tell whether two pattern points show the same spot; a drop that is not whole rounds by less than 1 nm."""
        (x0, y0), (x1, y1) = self.reduced(*one), self.reduced(*other)
        apart = (y0 - y1) % self.along
        apart = min(apart, self.along - apart)
        return x0 == x1 and (apart == 0 if self.drop.denominator == 1 else apart < 1)

    def reaches(self, dx: int, dy: int) -> bool:
        """Tell whether m, n exist with dx = m·across and dy = ⌊m·drop⌋ + n·along."""
        if self.across is None:
            return dy % self.along == 0
        repeats, rest = divmod(dx, self.across)
        return rest == 0 and (dy - floor(repeats * self.drop)) % self.along == 0

    def level(self, dy: int) -> bool:
        """Tell whether some m, n give dy = ⌊m·drop⌋ + n·along: whether a mark of any column lies dy further along."""
        parts = self.drop.denominator
        common = gcd(self.drop.numerator, self.along * parts)
        # The drops of all columns, modulo the repeat along, are the multiples of common / parts.
        return ceil(Fraction(dy * parts, common)) * Fraction(common, parts) < dy + 1


def mesh_of(material: Material, width_nm: int) -> Mesh | None:
    """Return the lattice of goods of one width; None: no pattern.

    Goods known by their match at the side seam only repeat across at the pitch: usable width less overlap. Goods in
    hand of a width that is not made were cut from the first made width, and repeat as it does.
    """
    pattern = material.pattern
    if pattern is None:
        return None
    if pattern.across_nm is None:
        return Mesh(None, pattern.along_nm, Fraction(0))
    across = pattern.across_nm
    if pattern.at_seam:
        made = width_nm if width_nm in material.widths_nm else material.widths_nm[0]
        across = made - 2 * material.selvedge_nm - material.seam_overlap_nm
    return Mesh(across, pattern.along_nm, pattern.drop_nm)
