"""Bounds over the options given, where rooms must take one arrow."""

from __future__ import annotations

from dataclasses import replace

from nesting.model.instance import Choice, Instance, Option
from nesting.search.engine import solve
from nesting.search.least import least_level, pricings, worthwhile
from nesting.search.scheme import make_ready
from tests.engine.making import LEAST_ROLL, instance, order, rect


def two_rooms(*arrows: tuple[int, int], group: int | None) -> Instance:
    """Rooms that take 10 of the roll with their first arrow and 30 with their second."""
    choices = [
        Choice(
            id=f"room {k}",
            options=(
                Option(pieces=(rect(f"short {k}", 100, 10),), arrow=first),
                Option(pieces=(rect(f"long {k}", 100, 30),), arrow=second),
            ),
            arrow_group=group,
        )
        for k, (first, second) in enumerate(arrows)
    ]
    return instance(choices, [order(100, 500)], levels=LEAST_ROLL)


def test_the_bound_takes_one_arrow_for_all_of_a_group() -> None:
    tied = make_ready(two_rooms((0, 1), (1, 0), group=0))
    free = make_ready(two_rooms((0, 1), (1, 0), group=None))
    assert least_level(tied, pricings(tied)) == 100 * (10 + 30)
    assert least_level(free, pricings(free)) == 100 * (10 + 10)
    found = solve(tied.instance, seed=0, effort=1)
    assert found.value is not None and found.proved and found.value.levels[0] == 100 * (10 + 30)


def test_an_option_is_worth_it_only_with_what_its_arrow_costs_the_others() -> None:
    ready = make_ready(two_rooms((0, 1), (0, 1), group=0))
    found = pricings(ready)
    assert worthwhile(ready, found, 100 * (10 + 10)) == ((0,), (0,))
    assert worthwhile(ready, found, 100 * (10 + 30)) == ((0,), (0,))  # long and short together are not to be had
    assert worthwhile(ready, found, 100 * (30 + 30)) == ((0, 1), (0, 1))


def test_an_arrow_that_another_room_lacks_is_never_taken() -> None:
    drawn = two_rooms((0, 1), (1, 2), group=0)
    ready = make_ready(drawn)
    assert least_level(ready, pricings(ready)) == 100 * (30 + 10)
    assert worthwhile(ready, pricings(ready), 100 * 500) == ((1,), (0,))
    alone = make_ready(replace(drawn, choices=drawn.choices[:1]))
    assert least_level(alone, pricings(alone)) == 100 * 10
