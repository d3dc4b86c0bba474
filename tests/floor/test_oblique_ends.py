"""A breadth between seams that ends at a slanting wall is no wider than its seams say."""

from __future__ import annotations

import pytest

from nesting.domain.geometry import Point, bounding_rect
from tests.floor.test_rough_cuts import MM, check_cut, cut_parts


@pytest.mark.parametrize("slope_mm", [1, 10, 137, 900])
@pytest.mark.parametrize("turned", [False, True])
def test_a_slanting_end_costs_no_cutting_step_across(slope_mm: int, turned: bool) -> None:
    points: tuple[Point, ...] = ((0, 0), (6_000, slope_mm), (6_000, 5_000), (0, 5_000 - slope_mm))
    if turned:
        points = tuple((x, 5000 - y) for x, y in reversed(points))
    anchor_u = cut_parts(points)[0][2].anchor_nm[0]
    # with the seam allowance both seams lie on the cutting step exactly: a nanometre more costs a whole step
    seams = (anchor_u + 1_900 * MM + 10 * MM, anchor_u + 3_900 * MM - 10 * MM)
    for part, rects, grid in cut_parts(points, seams=seams):
        check_cut(part, rects, grid)
    box = bounding_rect(cut_parts(points, seams=seams)[1][1])
    assert (box.x0_nm - anchor_u, box.x1_nm - anchor_u) == (1_900 * MM, 3_900 * MM)
