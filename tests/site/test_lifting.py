"""What cuts weigh and who lifts them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.layout import Cut, CutKind
from nesting.site.lifting import lift_words, people_to_lift, weight_of_cut_g
from tests.making import M, goods


@pytest.mark.parametrize(
    ("grams", "people"),
    [
        (0, 1),
        (23_000, 1),  # NIOSH publication 94-110: load constant 23 kg
        (23_001, 2),
        (30_666, 2),  # HSE L23, team handling: two thirds of 2 · 23 kg = 30.67 kg
        (30_667, 3),
        (34_500, 3),  # HSE L23: half of 3 · 23 kg = 34.5 kg
        (34_501, 4),
        (46_000, 4),
        (46_001, 5),
    ],
)
def test_people_by_the_published_numbers(grams: int, people: int) -> None:
    assert people_to_lift(grams) == people


@given(st.fractions(0, 10**6), st.fractions(0, 10**5))
def test_more_weight_never_takes_fewer_people(grams: Fraction, more: Fraction) -> None:
    assert people_to_lift(grams) <= people_to_lift(grams + more)
    assert people_to_lift(grams) * 23_000 >= grams, "nobody lifts more than the load constant"


def test_a_cut_weighs_what_its_rough_cut_weighs() -> None:
    rects = (Rect(0, 0, 2 * M, 3 * M), Rect(0, 3 * M, 1 * M, 4 * M))  # 7 m², the notch is not weighed
    cut = Cut(id="a", number=1, kind=CutKind.DROP, owner="room", label="Room 1", rects=rects)
    sheet = goods(2 * M, weight_g_per_m2=Fraction(2_900))
    assert weight_of_cut_g(cut, sheet) == 20_300
    assert weight_of_cut_g(cut, replace(sheet, weight_g_per_m2=None)) is None


@pytest.mark.parametrize(
    ("grams", "unit", "words"),
    [
        (18_400, "m", "18.4 kg, 1 person"),
        (30_000, "ft", "66.2 lb, 2 people"),
        (60_000, "mm", "60.0 kg: too heavy to lift by hand, use a trolley or a hoist"),
        (None, "m", "weight unknown: weigh it or ask the maker before lifting"),
    ],
)
def test_lifting_in_words(grams: int | None, unit: str, words: str) -> None:
    assert lift_words(grams, unit) == words
