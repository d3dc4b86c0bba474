"""Shares add up to the whole."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nesting.estimating.shares import in_steps


def test_the_largest_remainders_are_rounded_up() -> None:
    assert in_steps([1, 1, 1], 100) == (34, 33, 33)
    assert in_steps([1, 2, 3], 100) == (17, 33, 50)
    assert in_steps([0, 7, 0], 1000) == (0, 1000, 0)
    assert in_steps([], 100) == () and in_steps([0, 0], 100) == (0, 0)


@given(st.lists(st.integers(0, 10**30), min_size=1).filter(any), st.integers(1, 1000))
def test_they_add_up_and_are_off_by_less_than_a_step(amounts: list[int], steps: int) -> None:
    found = in_steps(amounts, steps)
    assert sum(found) == steps
    assert all(
        abs(share * sum(amounts) - amount * steps) < sum(amounts) for share, amount in zip(found, amounts, strict=True)
    )
    assert all(share == 0 for share, amount in zip(found, amounts, strict=True) if amount == 0)
