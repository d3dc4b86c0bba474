"""Floors for the tests of seams and rough cuts, and an independent view of what a rough cut must hold."""

from __future__ import annotations

from math import hypot
from typing import Any

from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

from nesting.domain.geometry import Point
from nesting.domain.job import Edge, Hole, HoleKind, Room
from nesting.domain.layout import AllowanceKind
from nesting.domain.material import Material
from nesting.floor.parts import Part
from nesting.seams.laid import LaidRoom

MM = 1_000_000
M = 1_000 * MM
INCH = 25_400_000
FT = 12 * INCH


def room_of(points: tuple[Point, ...], unit_nm: int = MM, **changes: Any) -> Room:
    """Return a room with the usual allowances; points in units, counter-clockwise."""
    outline = tuple((round(x * unit_nm), round(y * unit_nm)) for x, y in points)
    settings: dict[str, Any] = {"id": "room", "name": "Room", "material_id": "goods", "edges": (Edge(),) * len(outline)}
    return Room(outline=outline, **(settings | changes))


def goods_of(*widths_nm: int, **changes: Any) -> Material:
    """Return plain goods."""
    return Material(id="goods", name="Goods", widths_nm=widths_nm, **changes)


def column(u0: int, v0: int, u1: int, v1: int, unit_nm: int = MM, name: str = "column") -> Hole:
    """Return a rectangular column; sides in units."""
    corners = ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    return Hole(id=name, kind=HoleKind.COLUMN, outline=tuple((x * unit_nm, y * unit_nm) for x, y in corners))


def rectangle(x: int, y: int) -> tuple[Point, ...]:
    """Return a rectangular outline from (0, 0)."""
    return ((0, 0), (x, 0), (x, y), (0, y))


@st.composite
def stepped_outlines(draw: st.DrawFn) -> tuple[Point, ...]:
    """Draw rectilinear outlines in millimetres: a level south wall, steps of other heights along the north."""
    count = draw(st.integers(1, 4))
    xs = sorted(draw(st.sets(st.integers(1, 90), min_size=count, max_size=count)))
    ys = draw(st.lists(st.integers(10, 70), min_size=count, max_size=count))
    points: list[Point] = [(0, 0), (xs[-1] * 100, 0)]
    right = xs[-1]
    for i in range(count - 1, -1, -1):
        left = xs[i - 1] if i else 0
        for point in ((right * 100, ys[i] * 100 + 7), (left * 100, ys[i] * 100 + 7)):
            if point != points[-1]:
                points.append(point)
        right = left
    return tuple(points)


@st.composite
def oblique_outlines(draw: st.DrawFn) -> tuple[Point, ...]:
    """Draw outlines with four to seven corners round a middle, in millimetres; not convex as a rule."""
    count = draw(st.integers(4, 7))
    radii = draw(st.lists(st.integers(1200, 5000), min_size=count, max_size=count))
    directions = [(10, 0), (6, 8), (-3, 9), (-10, 1), (-7, -7), (0, -10), (7, -7)][:count]
    return tuple((r * x // 10, r * y // 10) for r, (x, y) in zip(radii, directions, strict=True))


def swept(part: Part) -> Polygon:
    """Return the swept part by its definition, in floating point: the part, its sides swept, its corners filled."""
    rings = [[(float(side.au), float(side.av)) for side in ring] for ring in part.rings]
    rings.sort(key=lambda ring: -abs(Polygon(ring).area))
    shapes = [Polygon(rings[0], rings[1:])]
    for ring in part.rings:
        for before, after in zip((ring[-1], *ring[:-1]), ring, strict=True):
            (n1u, n1v), (n2u, n2v) = _normal(before), _normal(after)
            p = (float(after.au), float(after.av))
            q = (float(after.bu), float(after.bv))
            a, b = before.given_nm, after.given_nm
            if b:
                shapes.append(Polygon([p, q, (q[0] + b * n2u, q[1] + b * n2v), (p[0] + b * n2u, p[1] + b * n2v)]))
            if a and b and n1u * n2v - n1v * n2u > 1e-12:
                corner = [p, (p[0] + a * n1u, p[1] + a * n1v)]
                cosine = n1u * n2u + n1v * n2v
                if cosine >= 0:
                    s, t = (a - b * cosine) / (1 - cosine**2), (b - a * cosine) / (1 - cosine**2)
                    corner.append((p[0] + s * n1u + t * n2u, p[1] + s * n1v + t * n2v))
                corner.append((p[0] + b * n2u, p[1] + b * n2v))
                shapes.append(Polygon(corner))
    return unary_union([shape.buffer(0) for shape in shapes])


def _normal(side: Any) -> tuple[float, float]:
    du, dv = float(side.bu - side.au), float(side.bv - side.av)
    return dv / hypot(du, dv), -du / hypot(du, dv)


def rough(rects: tuple[Any, ...]) -> Polygon:
    """Return a rough cut as a polygon."""
    return unary_union([box(*rect) for rect in rects])


def floor_polygon(laid: LaidRoom) -> Polygon:
    """Return the floor of a laid room."""
    return Polygon(laid.layout.floor, laid.layout.holes)


def chord_lengths(floor: Polygon, v: float) -> list[tuple[float, float]]:
    """Return the chords (u from, u to) of a floor at a level."""
    u0, _, u1, _ = floor.bounds
    common = floor.intersection(LineString([(u0 - 1, v), (u1 + 1, v)]))
    lines = getattr(common, "geoms", [common])
    return sorted((line.bounds[0], line.bounds[2]) for line in lines if line.length > 0)


SEAM_KINDS = {AllowanceKind.SEAM_LEFT, AllowanceKind.SEAM_RIGHT}
