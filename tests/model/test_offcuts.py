"""Offcuts: every largest empty rectangle is found, and nothing that is not empty."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.layout import Cut, CutKind
from nesting.model.finishing import disjoint_rects, turned_rects, with_notches_filled
from nesting.model.offcuts import best_rectangles, empty_rectangles, keepable

SIDE = 7
REGION = Rect(0, 0, SIDE, SIDE)


@st.composite
def rects(draw: st.DrawFn) -> Rect:
    x, y = draw(st.integers(-1, SIDE - 1)), draw(st.integers(-1, SIDE - 1))
    return Rect(x, y, x + draw(st.integers(1, 4)), y + draw(st.integers(1, 4)))


def cells(rect: Rect) -> set[tuple[int, int]]:
    return {(x, y) for x in range(rect.x0_nm, rect.x1_nm) for y in range(rect.y0_nm, rect.y1_nm)}


def empty_by_hand(taken: list[Rect]) -> set[Rect]:
    occupied = set().union(*map(cells, taken)) if taken else set()
    spans = [(low, high) for low in range(SIDE) for high in range(low + 1, SIDE + 1)]
    return {Rect(x0, y0, x1, y1) for x0, x1 in spans for y0, y1 in spans if not cells(Rect(x0, y0, x1, y1)) & occupied}


def inside(one: Rect, other: Rect) -> bool:
    return one != other and cells(one) <= cells(other)


@given(st.lists(rects(), max_size=5))
def test_every_largest_empty_rectangle_is_found(taken: list[Rect]) -> None:
    empty = empty_by_hand(taken)
    largest = {one for one in empty if not any(inside(one, other) for other in empty)}
    found = set(empty_rectangles(REGION, taken))
    assert largest <= found <= empty


@given(st.lists(rects(), max_size=5))
def test_offcuts_are_disjoint_empty_and_leave_nothing_wanted(taken: list[Rect]) -> None:
    found = best_rectangles(REGION, taken, lambda rect: rect.area_nm2 >= 4)
    for number, one in enumerate(found):
        assert not any(cells(one) & cells(other) for other in [*taken, *found[:number]])
    assert not any(rect.area_nm2 >= 4 for rect in empty_by_hand([*taken, *found]))


def test_an_offcut_is_worth_keeping_either_way_round() -> None:
    sizes = ((6, 6), (3, 20))
    assert keepable(Rect(0, 0, 20, 3), sizes)
    assert keepable(Rect(0, 0, 3, 20), sizes)
    assert not keepable(Rect(0, 0, 5, 19), sizes)


@given(st.lists(rects(), min_size=1, max_size=6))
def test_disjoint_rects_cover_the_same(given_rects: list[Rect]) -> None:
    made = disjoint_rects(given_rects)
    assert set().union(*map(cells, made)) == set().union(*map(cells, given_rects))
    assert sum(rect.area_nm2 for rect in made) == len(set().union(*map(cells, made)))


def test_turning_keeps_the_corner_and_the_area() -> None:
    ell = (Rect(0, 0, 2, 6), Rect(2, 0, 5, 1))
    once = turned_rects(ell, 1, 10, 20)
    assert set(once) == {Rect(10, 20, 16, 22), Rect(15, 22, 16, 25)}
    assert set(turned_rects(ell, 4, 0, 0)) == set(ell)


def test_a_notch_is_filled_only_when_nothing_uses_it() -> None:
    ell = Cut(id="a", number=1, kind=CutKind.DROP, owner="r", label="R 1", rects=(Rect(0, 0, 2, 6), Rect(2, 0, 5, 1)))
    assert with_notches_filled(ell, 0, 0, 0, [], ((9, 9),)).rects == (Rect(0, 0, 5, 6),)
    assert with_notches_filled(ell, 0, 0, 0, [Rect(3, 3, 4, 4)], ((9, 9),)) == ell
    assert with_notches_filled(ell, 0, 0, 0, [], ((3, 5),)) == ell
    # After half a turn the notch lies lower left on the goods.
    assert with_notches_filled(ell, 2, 0, 0, [Rect(1, 1, 2, 2)], ((9, 9),)) == ell
    assert with_notches_filled(ell, 2, 0, 0, [Rect(5, 0, 6, 6)], ((9, 9),)).rects == (Rect(0, 0, 5, 6),)
