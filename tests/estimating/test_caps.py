"""Which caps are looked at, what is known at each, and that bounds are carried the right way only."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

import nesting.bounds.capped as capped
from nesting.bounds.capped import CappedBounds, Proved
from nesting.domain.front import Known
from nesting.estimating.bench import Found
from nesting.estimating.caps import Caps
from tests.making import MM, M, goods, job, rectangle, room


def plan(seams: int, roll: int, seam_length: int = 0) -> Found:
    """A plan of which only its measures are looked at."""
    measures = SimpleNamespace(
        seams=seams, cross_seams=0, relief_cuts=0, joins=0, roll_nm2=roll, seam_length_nm=seam_length
    )
    return Found(solution=cast(Any, None), part=cast(Any, SimpleNamespace(measures=measures)), considered=0)


PLANS = st.lists(st.tuples(st.integers(0, 12), st.integers(1, 30)), min_size=1, max_size=12)


@given(PLANS)
def test_no_row_is_beaten_and_every_plan_is_beaten_by_a_row(pairs: list[tuple[int, int]]) -> None:
    rows = [(one.seams, one.roll_nm2) for one in Caps(pool=[plan(*pair) for pair in pairs]).front()]
    assert set(rows) <= set(pairs)
    for seams, roll in pairs:
        assert any(s <= seams and r <= roll for s, r in rows)
    for row in rows:
        assert not any(other != row and other[0] <= row[0] and other[1] <= row[1] for other in rows)


def test_of_equal_seams_and_roll_the_shorter_seam_is_taken() -> None:
    (row,) = Caps(pool=[plan(2, 9, 50), plan(2, 9, 30), plan(2, 9, 40)]).front()
    assert row.part.measures.seam_length_nm == 30


def test_a_search_speaks_for_fewer_seams_only_while_the_best_plan_has_no_more() -> None:
    caps = Caps(pool=[plan(1, 90), plan(4, 60), plan(9, 50)])
    assert caps.open() == [2, 3, 5, 6, 7, 8]
    caps.searched.add(7)  # nothing below 60 with at most 7: so with 5 and 6 as well, not with 2 or 3
    assert caps.open() == [2, 3, 8]
    assert caps.known(6) is Known.SEARCHED and caps.known(3) is Known.NOT_LOOKED_AT
    caps.settled.add(3)
    assert [caps.known(seams) for seams in (1, 2, 3, 4)] == [Known.PLAN, Known.SETTLED, Known.SETTLED, Known.PLAN]


def test_the_steepest_and_widest_gap_comes_first() -> None:
    caps = Caps(pool=[plan(1, 90), plan(4, 60), plan(9, 50)])
    assert caps.next() == 2  # 30 over two seams
    caps.pool[2] = plan(9, 10)
    assert caps.next() == 6  # 50 over four
    caps.searched |= {3, 8}
    assert caps.next() is None


# --- bounds ----------------------------------------------------------------------------------------------------------


def bounds_of(monkeypatch: pytest.MonkeyPatch, values: dict[int | None, int], asked: list[int | None]) -> CappedBounds:
    """Bounds whose proofs are given, by cap, in nm²; `asked` notes for which they were wanted."""
    a_job = job([room(rectangle(3 * M, 2 * M))], goods(2 * M, cutting_step_nm=50 * MM))
    bounds = CappedBounds(a_job, a_job.materials[0], most_nm2=10**20, effort=1, seed=0)

    def given_value(self: CappedBounds, cap: int | None, attained: int, stop: object) -> tuple[int, str]:
        asked.append(cap)
        return values[cap], "given"

    monkeypatch.setattr(capped.CappedBounds, "_stacked", given_value)
    monkeypatch.setattr(capped.CappedBounds, "_by_width", lambda *_: None)
    return bounds


def test_a_bound_holds_for_fewer_seams_and_never_for_more(monkeypatch: pytest.MonkeyPatch) -> None:
    area, asked = 6 * 10**18, list[int | None]()
    bounds = bounds_of(monkeypatch, {3: 9 * 10**18, None: 7 * 10**18}, asked)
    assert bounds.known(5).value_nm2 == area
    assert bounds.sought(3, 10 * 10**18).value_nm2 == 9 * 10**18
    assert [bounds.known(cap).value_nm2 for cap in (1, 2, 3)] == [9 * 10**18] * 3
    assert [bounds.known(cap).value_nm2 for cap in (4, 50, None)] == [area] * 3
    assert bounds.sought(None, 10 * 10**18).value_nm2 == 7 * 10**18
    assert [bounds.known(cap).value_nm2 for cap in (3, 4, None)] == [9 * 10**18, 7 * 10**18, 7 * 10**18]


def test_what_is_settled_is_not_asked_for_again(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = list[int | None]()
    bounds = bounds_of(monkeypatch, {3: 9 * 10**18}, asked)
    assert bounds.sought(3, 9 * 10**18).value_nm2 == 9 * 10**18
    assert bounds.sought(2, 9 * 10**18).value_nm2 == 9 * 10**18  # carried from 3
    assert bounds.sought(3, 9 * 10**18).value_nm2 == 9 * 10**18
    assert asked == [3]


def test_no_bound_is_above_what_is_attained(monkeypatch: pytest.MonkeyPatch) -> None:
    bounds = bounds_of(monkeypatch, {3: 99 * 10**18}, [])
    assert bounds.sought(3, 8 * 10**18).value_nm2 == 8 * 10**18


@given(st.none() | st.integers(0, 9), st.none() | st.integers(0, 9))
def test_caps_that_a_bound_holds_under(proved_at: int | None, cap: int | None) -> None:
    proved = Proved(most_seams=proved_at, value_nm2=1, cut="")
    assert proved.holds_at(cap) == ((99 if cap is None else cap) <= (99 if proved_at is None else proved_at))
