"""Outlines as drawn and as measured: arcs as chords, corners that tell nothing left out."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from nesting.domain.geometry import Point
from nesting.files.dxf_entities import DrawnOutline, DrawnText
from nesting.files.outline import cross, segments
from nesting.files.shapes import MOST_CORNERS
from nesting.units import MM_NM

MOST_CHORDS = MOST_CORNERS + 1
"""Of one arc: more make the outline too large in any case."""
NEARLY_NM = 10 * MM_NM
"""A side that leaves an axis by no more than this, and by less than a fiftieth, was hardly meant to."""


@dataclass(slots=True)
class MeasuredOutline:
    """An outline in nm from its own first corner, and where that corner is."""

    drawn: DrawnOutline
    points: tuple[Point, ...]
    at: Point  # of the first corner in the drawing, nm
    texts: list[DrawnText] = field(default_factory=list)
    inside: MeasuredOutline | None = None

    @property
    def placed(self) -> tuple[Point, ...]:
        """The corners in the drawing, nm."""
        return tuple((x + self.at[0], y + self.at[1]) for x, y in self.points)

    @property
    def size(self) -> Point:
        """East-west and north-south."""
        return (
            max(x for x, _ in self.points) - min(x for x, _ in self.points),
            max(y for _, y in self.points) - min(y for _, y in self.points),
        )

    @property
    def outermost(self) -> MeasuredOutline:
        """The outline that it lies in and that lies in no other; itself if it lies in none."""
        return self if self.inside is None else self.inside.outermost

    @property
    def depth(self) -> int:
        """How many outlines it lies in."""
        return 0 if self.inside is None else self.inside.depth + 1


def without_arcs(outline: DrawnOutline, within: float) -> list[tuple[float, float]]:
    """Return the corners of an outline whose arcs are chords that lie `within` so much of them."""
    corners = []
    for (x0, y0, bulge), (x1, y1, _) in zip(
        outline.vertices, (*outline.vertices[1:], outline.vertices[0]), strict=True
    ):
        corners.append((x0, y0))
        chord = math.hypot(x1 - x0, y1 - y0)
        if chord * abs(bulge) / 2 <= within:  # half the chord times the bulge is the height of the arc
            continue
        angle = 4 * math.atan(bulge)
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        widest = 2 * math.acos(max(0.0, 1 - within / radius)) if within < radius else math.pi / 2
        count = min(max(math.ceil(abs(angle) / widest - 1e-9), 2 if abs(bulge) > 0.4 else 1), MOST_CHORDS)
        # the centre lies beside the middle of the chord; a bulge above zero bends to the right of the way
        away = (1 - bulge * bulge) / (4 * bulge)
        cx, cy = (x0 + x1) / 2 - away * (y1 - y0), (y0 + y1) / 2 + away * (x1 - x0)
        for part in range(1, count):
            sine, cosine = math.sin(angle * part / count), math.cos(angle * part / count)
            corners.append((cx + (x0 - cx) * cosine - (y0 - cy) * sine, cy + (x0 - cx) * sine + (y0 - cy) * cosine))
    return corners


def tidy(points: list[Point]) -> tuple[Point, ...]:
    """Return the corners without repeated ones and without those that lie exactly on the way from one to the next."""
    kept: list[Point] = []
    for point in points:
        if not kept or point != kept[-1]:
            kept.append(point)
    while len(kept) > 1 and kept[0] == kept[-1]:
        kept.pop()
    count = len(kept)
    if count < 4:
        return tuple(kept)
    return tuple(b for i, b in enumerate(kept) if not _on_the_way(kept[i - 1], b, kept[(i + 1) % count]))


def _on_the_way(a: Point, b: Point, c: Point) -> bool:
    forward = (c[0] - b[0]) * (b[0] - a[0]) + (c[1] - b[1]) * (b[1] - a[1]) > 0
    return forward and cross(a, b, c) == 0


def from_lower_left(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return the corners beginning with the lowest, then leftmost."""
    first = min(range(len(points)), key=lambda i: (points[i][1], points[i][0]))
    return points[first:] + points[:first]


def askew_nm(points: tuple[Point, ...]) -> int:
    """Return how far the side that leaves an axis most, of those that nearly run along one, leaves it; 0: none does."""
    off = [sorted((abs(b[0] - a[0]), abs(b[1] - a[1]))) for a, b in segments(points)]
    return max((least for least, most in off if least <= NEARLY_NM and 50 * least < most), default=0)
