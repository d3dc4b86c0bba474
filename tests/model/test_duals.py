"""Dual feasible functions, and what a piece takes of the goods."""

from __future__ import annotations

import random

import pytest

from nesting.model.duals import dual_functions
from nesting.model.shapes import widths_along


@pytest.mark.parametrize("seed", range(6))
def test_widths_side_by_side_weigh_no_more_than_the_goods(seed: int) -> None:
    chance = random.Random(seed)
    width = chance.randint(7, 60)
    widths = sorted({chance.randint(1, width) for _ in range(6)})
    for f in dual_functions(width, widths):
        for a in range(width + 1):
            for b in range(width + 1 - a):
                assert f(a) + f(b) <= f(a + b)


def test_boxes_that_touch_count_as_one() -> None:
    assert widths_along(((0, 0, 5, 2), (0, 2, 2, 6))) == ((2, 4), (5, 2))
    assert widths_along(((0, 0, 2, 6), (2, 1, 5, 3))) == ((2, 1), (2, 3), (5, 2))
    assert widths_along(((0, 0, 2, 3), (0, 3, 2, 6))) == ((2, 6),)
    ring = ((0, 0, 5, 1), (0, 1, 1, 4), (4, 1, 5, 4), (0, 4, 5, 5))
    assert widths_along(ring) == ((1, 3), (1, 3), (5, 1), (5, 1))
