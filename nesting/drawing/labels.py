"""Where labels go: never on one another, never off the sheet."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field

from nesting.drawing.scene import Label, Polygon, Spot

_TOUCH = 1e-6
"""Polygons that only touch are apart."""


def apart(a: Polygon, b: Polygon) -> bool:
    """Tell whether two convex polygons (or segments) have no inner point in common: some side's normal parts them."""
    for polygon in (a, b):
        count = len(polygon)
        for k in range(count):
            (x0, y0), (x1, y1) = polygon[k], polygon[(k + 1) % count]
            nx, ny = y0 - y1, x1 - x0
            if abs(nx) + abs(ny) < 1e-12:
                continue
            in_a = [nx * x + ny * y for x, y in a]
            in_b = [nx * x + ny * y for x, y in b]
            slack = _TOUCH * (abs(nx) + abs(ny))
            if max(in_a) <= min(in_b) + slack or max(in_b) <= min(in_a) + slack:
                return True
    return False


def bounds(polygon: Polygon) -> tuple[float, float, float, float]:
    """Return (x0, y0, x1, y1) round a polygon."""
    return (
        min(x for x, _ in polygon),
        min(y for _, y in polygon),
        max(x for x, _ in polygon),
        max(y for _, y in polygon),
    )


def grown(polygon: Polygon, by_mm: float) -> Polygon:
    """Return the box of a label with a rim of `by_mm`; for boxes as `Label.box` gives them."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = polygon
    along = _unit((ax, ay), (bx, by))
    down = _unit((ax, ay), (dx, dy))
    shift = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    corners = ((ax, ay), (bx, by), (cx, cy), (dx, dy))
    return tuple(
        (x + by_mm * (s * along[0] + t * down[0]), y + by_mm * (s * along[1] + t * down[1]))
        for (x, y), (s, t) in zip(corners, shift, strict=True)
    )


def _unit(a: Spot, b: Spot) -> Spot:
    """Return the direction from a to b."""
    length = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5 or 1.0
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)


@dataclass(slots=True)
class Taken:
    """What of a sheet is taken already. `area`: (x0, y0, x1, y1) that labels must stay in."""

    area: tuple[float, float, float, float]
    _texts: list[tuple[tuple[float, float, float, float], Polygon]] = field(default_factory=list)
    _lines: list[tuple[tuple[float, float, float, float], Polygon]] = field(default_factory=list)
    _thin: list[tuple[tuple[float, float, float, float], Polygon]] = field(default_factory=list)

    def add(self, labels: Iterable[Label]) -> None:
        """Take the room of labels."""
        for label in labels:
            self._texts.append((bounds(label.box), label.box))

    def add_area(self, polygon: Polygon) -> None:
        """Take a convex area as if it were text."""
        self._texts.append((bounds(polygon), polygon))

    def add_line(self, *points: Spot) -> None:
        """Take a line that labels should not sit on."""
        for a, b in itertools.pairwise(points):
            self._lines.append((bounds((a, b)), (a, b)))

    def add_thin_line(self, *points: Spot) -> None:
        """Take a line that labels should not sit on, but that other lines may cross."""
        for a, b in itertools.pairwise(points):
            self._thin.append((bounds((a, b)), (a, b)))

    def line_is_clear(self, a: Spot, b: Spot) -> bool:
        """Tell whether a line from a to b crosses no text."""
        return self._clear((a, b), self._texts)

    def crosses_no_line(self, line: tuple[Spot, Spot]) -> bool:
        """Tell whether a line crosses none of the lines taken."""
        return self._clear(line, self._lines)

    def runs_alone(self, a: Spot, b: Spot, gap_mm: float = 2.5) -> bool:
        """Tell whether no line taken runs along beside a–b, nearer than `gap_mm`."""
        along = _unit(a, b)
        low, high = sorted(along[0] * x + along[1] * y for x, y in (a, b))
        offset = along[0] * a[1] - along[1] * a[0]
        for _, (c, d) in self._lines:
            other = _unit(c, d)
            if abs(along[0] * other[1] - along[1] * other[0]) > 0.02:
                continue
            start, end = sorted(along[0] * x + along[1] * y for x, y in (c, d))
            if abs(along[0] * c[1] - along[1] * c[0] - offset) < gap_mm and start < high - 1.0 and end > low + 1.0:
                return False
        return True

    def area_is_free(self, area: Polygon) -> bool:
        """Tell whether a convex area is off all texts and lines."""
        return self._clear(area, self._texts) and self._clear(area, self._lines) and self._clear(area, self._thin)

    def is_free(self, label: Label, rim_mm: float = 0.4, *, on_lines: bool = False, on_thin: bool = False) -> bool:
        """Tell whether `label` fits: on the sheet, off other texts, off lines unless `on_lines` (thin: `on_thin`)."""
        x0, y0, x1, y1 = bounds(label.box)
        left, top, right, bottom = self.area
        if x0 < left or y0 < top or x1 > right or y1 > bottom:
            return False
        box = grown(label.box, rim_mm)
        return (self._clear(box, self._texts) and (on_lines or self._clear(label.box, self._lines))
                and (on_lines or on_thin or self._clear(label.box, self._thin)))  # fmt: skip

    @staticmethod
    def _clear(box: Polygon, among: list[tuple[tuple[float, float, float, float], Polygon]]) -> bool:
        """Tell whether `box` is apart from all polygons in `among`."""
        x0, y0, x1, y1 = bounds(box)
        return all(b[0] >= x1 or b[2] <= x0 or b[1] >= y1 or b[3] <= y0 or apart(box, polygon) for b, polygon in among)


def first_free(taken: Taken, candidates: Iterable[Label], *, on_lines: bool = False,
               on_thin: bool = False) -> Label | None:  # fmt: skip
    """Return the first of `candidates` that is free, and take its room; None if there is none."""
    for label in candidates:
        if taken.is_free(label, on_lines=on_lines, on_thin=on_thin):
            taken.add((label,))
            return label
    return None


def spread(wanted: list[float], gap: float, low: float, high: float) -> list[float] | None:
    """Return places in rising order, `gap` apart within [low, high], as near to `wanted` (rising) as can be.

    Neighbours that are too near are pooled and centred on the mean of what they want. None: they do not fit.
    """
    if not wanted:
        return []
    if (len(wanted) - 1) * gap > high - low + 1e-9:
        return None
    pools: list[list[float]] = []  # [number of places, sum of wanted starts]
    for at in wanted:
        pools.append([1.0, at])
        while len(pools) > 1 and _start(pools[-2]) + pools[-2][0] * gap > _start(pools[-1]):
            count, total = pools.pop()
            pools[-1] = [pools[-1][0] + count, pools[-1][1] + total - count * pools[-1][0] * gap]
    places = [_start(pool) + k * gap for pool in pools for k in range(int(pool[0]))]
    places = [max(at, low + k * gap) for k, at in enumerate(places)]
    last = len(places) - 1
    return [min(at, high - (last - k) * gap) for k, at in enumerate(places)]


def _start(pool: list[float]) -> float:
    """Return where a pool's first place goes."""
    return pool[1] / pool[0]
