"""Outlines of unions: nothing lost, nothing added, corners only."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.drawing.outline import Ring, clipped_rects, inner_rects, sides, turned_rects, union_rings

SMALL = st.integers(0, 9)


@st.composite
def rect(draw: st.DrawFn) -> Rect:
    x, y = draw(SMALL), draw(SMALL)
    return Rect(x, y, x + draw(st.integers(1, 5)), y + draw(st.integers(1, 5)))


RECTS = st.lists(rect(), min_size=1, max_size=7).map(tuple)


def cells(rects: tuple[Rect, ...]) -> set[tuple[int, int]]:
    return {(x, y) for r in rects for x in range(r.x0_nm, r.x1_nm) for y in range(r.y0_nm, r.y1_nm)}


def doubled_area(ring: Ring) -> int:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in sides((ring,)))


@given(RECTS)
@settings(max_examples=200, deadline=None)
def test_rings_bound_the_union(rects: tuple[Rect, ...]) -> None:
    rings = union_rings(rects)
    assert sum(map(doubled_area, rings)) == 2 * len(cells(rects))
    inside = {
        (x, y)
        for x in range(15)
        for y in range(15)
        if sum((a[1] <= y) != (b[1] <= y) and a[0] > x for a, b in sides(rings)) % 2
    }
    assert inside == cells(rects)


@given(RECTS)
@settings(max_examples=100, deadline=None)
def test_rings_turn_at_every_corner(rects: tuple[Rect, ...]) -> None:
    for ring in union_rings(rects):
        for (a, b), (_, c) in zip(sides((ring,)), [*sides((ring,))[1:], sides((ring,))[0]], strict=True):
            assert (a[0] == b[0]) != (b[0] == c[0])
        assert ring[0] == min(ring, key=lambda p: (p[1], p[0]))


@given(RECTS, st.randoms(use_true_random=False))
@settings(max_examples=50, deadline=None)
def test_order_and_cutting_up_do_not_matter(rects: tuple[Rect, ...], chance: object) -> None:
    shuffled = list(rects)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    ones = tuple(Rect(x, y, x + 1, y + 1) for x, y in cells(rects))
    assert union_rings(tuple(shuffled)) == union_rings(rects) == union_rings(ones)


def test_parts_that_touch_at_a_corner_stay_apart() -> None:
    rings = union_rings((Rect(0, 0, 2, 2), Rect(2, 2, 4, 4)))
    assert rings == (((0, 0), (2, 0), (2, 2), (0, 2)), ((2, 2), (4, 2), (4, 4), (2, 4)))


def test_a_hole_is_a_ring_the_other_way_round() -> None:
    frame = (Rect(0, 0, 3, 1), Rect(0, 2, 3, 3), Rect(0, 1, 1, 2), Rect(2, 1, 3, 2))
    outer, hole = union_rings(frame)
    assert doubled_area(outer) == 18 and doubled_area(hole) == -2


@given(RECTS, st.integers(0, 3))
@settings(max_examples=50, deadline=None)
def test_turning_keeps_the_corner_and_the_shape(rects: tuple[Rect, ...], turn: int) -> None:
    once = turned_rects(rects, 3, 4, turn)
    assert min(r.x0_nm for r in once) == 3 and min(r.y0_nm for r in once) == 4
    back = turned_rects(once, min(r.x0_nm for r in rects), min(r.y0_nm for r in rects), -turn)
    assert back == rects


def test_a_quarter_turn_is_counter_clockwise() -> None:
    ell = (Rect(0, 0, 4, 1), Rect(0, 1, 1, 3))  # long along x, its leg up at the left
    assert set(turned_rects(ell, 0, 0, 1)) == {Rect(2, 0, 3, 4), Rect(0, 0, 2, 1)}


@given(RECTS)
@settings(max_examples=100, deadline=None)
def test_inner_rects_are_inside_and_cannot_grow(rects: tuple[Rect, ...]) -> None:
    union = cells(rects)
    found = inner_rects(rects)
    assert [r.area_nm2 for r in found] == sorted((r.area_nm2 for r in found), reverse=True)
    for r in found:
        assert cells((r,)) <= union
        for wider in (Rect(r[0] - 1, *r[1:]), Rect(r[0], r[1] - 1, *r[2:]), Rect(*r[:2], r[2] + 1, r[3]),
                      Rect(*r[:3], r[3] + 1)):  # fmt: skip
            assert not cells((wider,)) <= union


@given(RECTS, SMALL, SMALL)
@settings(max_examples=50, deadline=None)
def test_clipping(rects: tuple[Rect, ...], a: int, b: int) -> None:
    low, high = min(a, b), max(a, b)
    assert cells(clipped_rects(rects, low, high)) == {(x, y) for x, y in cells(rects) if low <= y < high}
