"""Outlines: what is added and cut away changes the area by just that, and no crossing goes unseen."""

from __future__ import annotations

from itertools import combinations

from hypothesis import assume, given
from hypothesis import strategies as st

from nesting.domain.geometry import Point
from nesting.domain.job import Edge, EdgeKind
from nesting.files.features import Floor
from nesting.files.outline import (
    Ring,
    apart,
    beside,
    clip_line,
    contains,
    first_crossing,
    is_convex,
    length_of,
    lies_within,
    position_along,
    segments,
    touch,
    twice_area,
)
from tests.strategies import MM, ells, rectangle, rectangles, walled

small = st.integers(-6, 6)
points = st.tuples(small, small)
polygons = st.lists(points, min_size=3, max_size=7).map(tuple)


def naive_simple(polygon: tuple[Point, ...]) -> bool:
    """Tell whether no two edges meet but neighbours in their common corner: every pair looked at."""
    edges = segments(polygon)
    if any(a == b for a, b in edges):
        return False
    for (i, (a, b)), (j, (c, d)) in combinations(enumerate(edges), 2):
        if j - i in (1, len(edges) - 1):
            common = b if j - i == 1 else a
            others = ((a, d), (b, c)) if common == b else ((b, c), (a, d))
            first, second = others[0]
            # neighbours may share their common corner only: the far ends are not on one side of one line
            u = (first[0] - common[0], first[1] - common[1])
            v = (second[0] - common[0], second[1] - common[1])
            if u[0] * v[1] - u[1] * v[0] == 0 and u[0] * v[0] + u[1] * v[1] > 0:
                return False
        elif touch((a, b), (c, d)):
            return False
    return True


@given(polygons)
def test_every_crossing_is_seen(polygon: tuple[Point, ...]) -> None:
    assume(len(polygon) > 3 or twice_area(polygon))
    assert (first_crossing(polygon) is None) == naive_simple(polygon)


@given(ells(), st.data())
def test_inside_is_what_a_triangle_count_says(ell: tuple[Point, ...], data: st.DataObject) -> None:
    x = data.draw(st.integers(0, max(p[0] for p in ell) // MM)) * MM
    y = data.draw(st.integers(0, max(p[1] for p in ell) // MM)) * MM
    box = rectangle(max(p[0] for p in ell), max(p[1] for p in ell))
    (gone,) = set(box) - set(ell)  # the corner that the L misses
    inner = next(p for p in ell if 0 < p[0] < box[2][0] and 0 < p[1] < box[2][1])
    (x0, x1), (y0, y1) = sorted((gone[0], inner[0])), sorted((gone[1], inner[1]))
    in_box = 0 < x < box[2][0] and 0 < y < box[2][1]
    assert contains(ell, (x, y)) == (in_box and not (x0 <= x <= x1 and y0 <= y <= y1))


@given(rectangles(), st.integers(0, 3), st.data())
def test_a_step_changes_the_area_by_its_rectangle(outline: tuple[Point, ...], side: int, data: st.DataObject) -> None:
    ring = Ring(outline, walled(outline))
    base = ring.segment(side)
    length = length_of(base)
    start = data.draw(st.integers(0, length - MM))
    end = data.draw(st.integers(start + 1, length))
    out = data.draw(st.integers(-900 * MM, 900 * MM))
    edges = (Edge(wall="s0"), Edge(wall="middle"), Edge(wall="s1")) if out else (Edge(kind=EdgeKind.DOOR),)
    index = ring.find(base, start, end)
    assert index == side
    stepped = ring.with_step(index, base, (start, end), out, edges)
    assert len(stepped.points) == len(stepped.edges)
    assert twice_area(stepped.points) - twice_area(outline) == 2 * (end - start) * out
    assert stepped.simple()
    assert first_crossing(stepped.points) is None


@given(points, points, st.integers(-10, 10), st.integers(-10, 10))
def test_a_place_beside_a_wall_is_found_again(a: Point, b: Point, along: int, out: int) -> None:
    assume(a != b)
    wall = ((a[0] * 10**9, a[1] * 10**9), (b[0] * 10**9, b[1] * 10**9))
    again = position_along(wall, beside(wall, along * 10**8, out * 10**8))
    assert abs(again[0] - along * 10**8) <= 1 and abs(again[1] - out * 10**8) <= 1


@given(polygons, points, points)
def test_the_inner_parts_of_a_line_are_inside(polygon: tuple[Point, ...], a: Point, b: Point) -> None:
    scaled = tuple((x * 10**6, y * 10**6) for x, y in polygon)
    assume(a != b and first_crossing(scaled) is None)
    line = ((a[0] * 10**6, a[1] * 10**6 + 1), (b[0] * 10**6, b[1] * 10**6 + 1))
    for start, end in clip_line(scaled, line):
        middle = ((start[0] + end[0]) // 2, (start[1] + end[1]) // 2)
        assume(length_of((start, end)) > 1000)
        assert contains(scaled, middle)


def test_within_and_apart() -> None:
    outer = rectangle(10, 10)
    inner = ((2, 2), (4, 2), (4, 4), (2, 4))
    assert lies_within(inner, outer) and not lies_within(outer, inner)
    assert not lies_within(((0, 2), (4, 2), (4, 4), (0, 4)), outer)
    assert not apart(inner, outer)
    assert apart(inner, ((5, 2), (6, 2), (6, 4), (5, 4)))
    assert not apart(inner, ((4, 2), (6, 2), (6, 4), (4, 4)))
    assert is_convex(inner) and not is_convex(((0, 0), (4, 0), (4, 4), (3, 1)))


def test_the_walls_of_a_floor_keep_their_lines() -> None:
    outline = rectangle(4_000, 3_000)
    floor = Floor.of(Ring(outline, walled(outline)), "mm", None)  # type: ignore[arg-type]
    assert floor.walls["north"] == ((4_000, 3_000), (0, 3_000))
