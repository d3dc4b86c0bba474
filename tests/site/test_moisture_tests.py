"""How many moisture tests a floor needs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.job import Hole, HoleKind
from nesting.domain.site import ReadingKind, RoomSubstrate, Site, SiteReading, Substrate
from nesting.site.testing import count_for_area, floor_area_nm2, needed_tests
from tests.making import FT, GOODS, M, goods, job, rectangle, room

SQ_FT = Fraction(FT**2)


@pytest.mark.parametrize(
    ("square_feet", "tests"),
    # ASTM F2170, 10.1, and F1869 by test kits' instructions: 3 for the first 1000 sq ft, 1 more for each further 1000.
    [(0, 0), (1, 3), (999, 3), (1_000, 3), (1_001, 4), (2_000, 4), (2_001, 5), (10_000, 12)],
)
def test_tests_by_area(square_feet: int, tests: int) -> None:
    assert count_for_area(square_feet * SQ_FT) == tests


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_more_floor_never_needs_fewer_tests(area: int, more: int) -> None:
    assert count_for_area(area * SQ_FT) <= count_for_area((area + more) * SQ_FT)


def test_floor_that_a_column_takes_is_not_counted() -> None:
    column = Hole(id="column", kind=HoleKind.COLUMN, outline=((M, M), (2 * M, M), (2 * M, 2 * M), (M, 2 * M)))
    assert floor_area_nm2([room(rectangle(4 * M, 3 * M), holes=(column,))]) == 11 * M**2


def test_only_what_may_be_concrete_is_tested_and_only_rooms_of_the_material_count() -> None:
    rooms = (
        room(rectangle(40 * FT, 30 * FT), "slab"),  # 1200 sq ft
        room(rectangle(40 * FT, 30 * FT), "loft"),
        room(rectangle(40 * FT, 30 * FT), "hall", material_id="other"),
    )
    readings = tuple(
        SiteReading(kind=ReadingKind.HUMIDITY, value=Fraction(70), room_id=name, place=name or "a bay")
        for name in ("slab", "slab", "loft", "hall", "")
    )
    wood = RoomSubstrate(room_id="loft", substrate=Substrate.WOOD)
    site = Site(substrate=Substrate.CONCRETE, other_substrates=(wood,), readings=readings)
    other = replace(goods(2 * M), id="other")
    two = replace(job(rooms, goods(2 * M)), materials=(goods(2 * M), other), site=site)
    found = needed_tests(two, two.materials[0], ReadingKind.HUMIDITY)
    assert (found.needed, found.made, found.elsewhere, found.area_nm2) == (4, 2, 1, 1_200 * SQ_FT)
    assert needed_tests(two, two.materials[0], ReadingKind.EMISSION).made == 0
    alone = replace(two, rooms=rooms[:2], materials=(goods(2 * M),))
    assert needed_tests(alone, alone.materials[0], ReadingKind.HUMIDITY).made == 3
    assert alone.materials[0].id == GOODS
