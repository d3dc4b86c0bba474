"""The hand method: lawful whatever it is given, and what an estimator would do where that can be said by hand."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from nesting.model.instance import Choice, Instance, Lattice, Option, OrderTerms
from nesting.model.valuing import faults_of, value_of
from nesting.search.by_hand import by_hand
from nesting.search.engine import solve
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect
from tests.engine.test_properties import instances


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(instances())
def test_what_it_finds_is_lawful(tried: Instance) -> None:
    solution = by_hand(tried)
    if solution is not None:
        assert faults_of(tried, solution) == []


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(instances())
def test_the_engine_never_loses_to_it(tried: Instance) -> None:
    solution = by_hand(tried)
    if solution is None:
        return
    result = solve(tried, seed=1, effort=0)
    assert result.value is not None and result.by_hand == solution
    assert result.value.levels[0] <= value_of(tried, solution).levels[0]


def _used(tried: Instance) -> int:
    solution = by_hand(tried)
    assert solution is not None and faults_of(tried, solution) == []
    return sum(value_of(tried, solution).used)


def _quarter_drop(length: int) -> Instance:
    """Four equal drops of goods 4 m wide, repeat 640 mm along, quarter-drop at the side seam."""
    pieces = tuple(rect(f"{k}", 4000, length, group=0, offset=(4000 * k, 0)) for k in range(4))
    return instance(
        [Choice(id="room", options=(Option(pieces=pieces, seams=3),), lot_group=0)],
        [order(4000, 60_000, terms=OrderTerms(anchor_along=640))],
        Lattice(along=640, across=4000, drop=160),
    )


def test_drops_of_a_room_are_cut_in_the_best_order_for_the_pattern() -> None:
    # Worked by hand: in lay order 11.67 and 10.71 m, and 9.35 and 10.31 m.
    assert _used(_quarter_drop(2550)) == 10_710
    assert _used(_quarter_drop(2150)) == 9_030  # drops 1, 3, 4, 2


def test_fills_are_cut_side_by_side_from_one_drop() -> None:
    pieces = (rect("wide", 4000, 3000), *(rect(f"fill {k}", 1000, 1500) for k in range(4)))
    room = Choice(id="room", options=(Option(pieces=pieces, seams=4),), lot_group=0)
    assert _used(instance([room], [order(4000, 60_000)])) == 4_500


def test_the_better_direction_is_taken_for_each_room() -> None:
    along = Option(pieces=(rect("a", 4000, 3000), rect("b", 1000, 3000)), seams=1, arrow=0)
    across = Option(pieces=(rect("c", 3000, 5000),), arrow=1)
    rooms = [Choice(id=f"{k}", options=(along, across), lot_group=k) for k in range(2)]
    assert _used(instance(rooms, [order(4000, 60_000)])) == 10_000


def test_a_remnant_takes_the_largest_room_that_it_holds() -> None:
    rooms = [one_way(f"{k}", rect(f"{k}", 1800, length), lot_group=k) for k, length in enumerate((2000, 2900, 4000))]
    tried = instance(rooms, [hand("small", 2000, 3000), hand("large", 2000, 4100), order(2000, 60_000)])
    solution = by_hand(tried)
    assert solution is not None
    assert [spots[0].source for spots in solution.spots] == [2, 0, 1]


def test_a_wide_room_is_shared_out_among_remnants_of_one_lot() -> None:
    # 13 m wide: remnants 8 m and 5.5 m wide hold it only if the seam lies between 7.5 and 8 m.
    layouts = [(6500, 6500), (7750, 5250), (10_000, 3000)]
    options = tuple(
        Option(pieces=tuple(rect(f"{k}", width, 3000) for k, width in enumerate(widths)), seams=1) for widths in layouts
    )
    room = Choice(id="room", options=options, lot_group=0)
    stock = [hand("a", 8000, 3200, lot="K"), hand("b", 5500, 3200, lot="K")]
    tried = instance([room], [*stock, order(10_000, 60_000)], levels=LEAST_ROLL)
    solution = by_hand(tried)
    assert solution is not None and faults_of(tried, solution) == []
    assert solution.options == (1,) and value_of(tried, solution).ordered == (0, 0, 0)


def test_pieces_longer_than_a_roll_can_hold_go_on_several() -> None:
    pieces = tuple(rect(f"{k}", 3900, 7000, group=0, offset=(3900 * k, 0)) for k in range(3))
    room = Choice(id="room", options=(Option(pieces=pieces, seams=2),), lot_group=0)
    rolls = [order(4000, 16_000, f"roll {k}", terms=OrderTerms(anchor_along=500)) for k in range(3)]
    tried = instance([room], rolls, Lattice(along=500))
    solution = by_hand(tried)
    assert solution is not None and faults_of(tried, solution) == []
    assert sum(solution.anchored) == 2
