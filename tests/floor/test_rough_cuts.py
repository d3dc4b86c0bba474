from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import LayDirection, Point, Rect, bounding_rect
from nesting.domain.job import Edge
from nesting.floor.breadths import slabs_of
from nesting.floor.outlines import lay_floor
from nesting.floor.parts import Part, levels_of, parts_between
from nesting.floor.rough_cuts import CutGrid, rough_cut, swept_corner
from tests.seams.floors import M, column, goods_of, oblique_outlines, rectangle, room_of, rough, stepped_outlines, swept

MM = 1_000_000
STEP = 5 * MM
DIRECTIONS = [LayDirection(0, 1), LayDirection(1, 0), LayDirection(0, -1), LayDirection(3, 4)]


def grid_at(anchor: Point, useful_nm: int = 600 * MM, **changes: object) -> CutGrid:
    grid = CutGrid(anchor_nm=anchor, step_nm=STEP, oblique_step_nm=300 * MM, useful_nm=((useful_nm, useful_nm),))
    return replace(grid, **changes)  # type: ignore[arg-type]


def cut_parts(
    points: tuple[Point, ...],
    direction: LayDirection = DIRECTIONS[0],
    seams: tuple[int, ...] = (),
    useful_nm: int = 600 * MM,
    **room_changes: object,
) -> list[tuple[Part, tuple[Rect, ...], CutGrid]]:
    floor = lay_floor(room_of(points, **room_changes), goods_of(4 * M), direction)
    grid = grid_at(swept_corner((floor.sides[: len(floor.outline)],))[:2], useful_nm)
    lines = [None, *seams, None]
    return [
        (part, rough_cut(part, grid), grid)
        for across in pairwise(lines)
        for part in parts_between(slabs_of(floor), levels_of(floor), across, (None, None), 10 * MM)
    ]


def check_cut(part: Part, rects: tuple[Rect, ...], grid: CutGrid) -> None:
    """The cut holds the swept part, its rectangles are disjoint, and all its coordinates lie on the step."""
    shape, needed = rough(rects), swept(part)
    assert needed.difference(shape).area <= 1e-9 * needed.area
    assert shape.area == pytest.approx(sum(rect.area_nm2 for rect in rects), rel=1e-9)
    for rect in rects:
        assert all((rect[i] - grid.anchor_nm[i % 2]) % grid.step_nm == 0 for i in range(4))


@given(stepped_outlines(), st.sampled_from(DIRECTIONS[:3]), st.integers(0, 9000), st.integers(100, 900))
@settings(deadline=None, max_examples=60)
def test_rectilinear_rough_cuts_hold_the_swept_part(
    points: tuple[Point, ...], direction: LayDirection, at: int, useful: int
) -> None:
    low = min(-y if direction.dx else x * direction.dy for x, y in points)
    for part, rects, grid in cut_parts(points, direction, ((low + at) * MM,), useful * MM):
        check_cut(part, rects, grid)
        # nothing is added beyond one step outside the swept part's own bounding rectangle
        u0, v0, u1, v1 = swept(part).bounds
        box = bounding_rect(rects)
        assert u0 - box.x0_nm < STEP and v0 - box.y0_nm < STEP
        assert box.x1_nm - u1 < STEP and box.y1_nm - v1 < STEP


@given(oblique_outlines(), st.sampled_from(DIRECTIONS), st.integers(-1500, 1500))
@settings(deadline=None, max_examples=60)
def test_oblique_rough_cuts_hold_the_swept_part(points: tuple[Point, ...], direction: LayDirection, at: int) -> None:
    for part, rects, grid in cut_parts(points, direction, (at * MM,)):
        check_cut(part, rects, grid)


@given(stepped_outlines(), st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6))
@settings(deadline=None, max_examples=30)
def test_shifting_a_floor_changes_no_size(points: tuple[Point, ...], right: int, up: int) -> None:
    here = cut_parts(points)
    there = cut_parts(tuple((x + right, y + up) for x, y in points))
    for (_, rects, _), (_, moved, _) in zip(here, there, strict=True):
        by = (right * MM, up * MM, right * MM, up * MM)
        assert [Rect(*(a + b for a, b in zip(rect, by, strict=True))) for rect in rects] == list(moved)


def test_a_rectangle_gets_trim_on_all_sides_and_rounds_up() -> None:
    [(_, rects, _)] = cut_parts(rectangle(3001, 4000), trim_nm=50 * MM, out_of_square_nm=0)
    assert [(rect.width_nm, rect.length_nm) for rect in rects] == [(3105 * MM, 4100 * MM)]


def test_depths_are_exact_at_coordinates_of_50_metres() -> None:
    """A fit to the nanometre: 3.9 m and 50 mm of trim on either side are 4.0 m, wherever the room lies."""
    points = tuple((x + 46_000_000_000, y + 46_000_000_000) for x, y in rectangle(3_900_000_000, 4_000_000_000))
    floor = lay_floor(room_of(points, 1, trim_nm=50 * MM, out_of_square_nm=0), goods_of(4 * M), DIRECTIONS[0])
    anchor = swept_corner((floor.sides,))[:2]
    [part] = parts_between(slabs_of(floor), levels_of(floor), (None, None), (None, None), 0)
    [rect] = rough_cut(part, grid_at(anchor))
    assert rect.width_nm == 4 * M


def test_the_corner_missing_from_an_l_is_kept_when_useful_and_filled_when_not() -> None:
    ell = ((0, 0), (3000, 0), (3000, 2000), (2400, 2000), (2400, 4000), (0, 4000))
    [(_, small, _)] = cut_parts(ell, useful_nm=605 * MM)
    assert len(small) == 1
    [(_, kept, _)] = cut_parts(ell, useful_nm=500 * MM)
    assert len(kept) == 2
    notch = bounding_rect(kept).area_nm2 - sum(rect.area_nm2 for rect in kept)
    assert notch == pytest.approx(600e6 * 2000e6, rel=0.01)


def test_whole_rectangles_have_no_notch() -> None:
    ell = ((0, 0), (3000, 0), (3000, 1000), (1000, 1000), (1000, 4000), (0, 4000))
    [(part, _, grid)] = cut_parts(ell)
    assert len(rough_cut(part, replace(grid, whole=True))) == 1


def test_the_inside_of_an_island_is_goods_when_useful() -> None:
    holes = (column(1500, 1500, 3000, 3500),)
    [(part, rects, grid)] = cut_parts(rectangle(5000, 5000), holes=holes, trim_nm=50 * MM)
    check_cut(part, rects, grid)
    free = bounding_rect(rects).area_nm2 - sum(rect.area_nm2 for rect in rects)
    assert free == pytest.approx(1400e6 * 1900e6, rel=0.01)


def test_a_cove_on_one_wall_is_left_on_there_alone() -> None:
    edges = (Edge(cove_nm=100 * MM), Edge(), Edge(), Edge())
    [(_, [rect], _)] = cut_parts(rectangle(3000, 4000), edges=edges, trim_nm=50 * MM, out_of_square_nm=0)
    assert (rect.width_nm, rect.length_nm) == (3100 * MM, 4200 * MM)


def test_parts_of_a_u_between_lines_are_separate_pieces() -> None:
    u_shape = ((0, 0), (6000, 0), (6000, 4000), (4000, 4000), (4000, 2000), (2000, 2000), (2000, 4000), (0, 4000))
    turned = cut_parts(u_shape, LayDirection(1, 0), (-3000 * MM,))
    assert len(turned) == 3
    assert sum(swept(part).area > 0 for part, _, _ in turned) == 3
