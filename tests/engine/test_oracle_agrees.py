"""The engine against brute force, kind by kind of goods."""

from __future__ import annotations

import random

import pytest

from nesting.model.instance import Choice, Instance, Lattice, Option, OrderTerms
from nesting.model.valuing import faults_of
from nesting.search.engine import solve
from tests.engine.making import LEAST_ROLL, boxes, hand, instance, one_way, order, rect
from tests.engine.oracle import least_first_level


def agree(tried: Instance) -> None:
    """Solve and try everything: both find the same first level, and the bound is right."""
    least = least_first_level(tried)
    result = solve(tried, seed=3, effort=3)
    if least is None:
        assert result.solution is None
        assert result.unplaced
        return
    assert result.solution is not None and result.value is not None
    assert faults_of(tried, result.solution) == []
    assert result.value.levels[0] == least
    assert result.bound_considered <= least
    assert not result.proved or result.bound_considered == least


def breadths(name: str, group: int, width: int, pitch: int, count: int, length: int, last: int) -> Choice:
    """A patterned room of `count` breadths `pitch` apart, the last one a fill `last` wide."""
    pieces = [
        rect(f"{name}{k}", width if k < count - 1 else last, length, group=group, offset=(k * pitch, 0))
        for k in range(count)
    ]
    return one_way(name, *pieces, seams=count - 1, lot_group=group)


def test_plain_goods() -> None:
    chance = random.Random(1)
    for _ in range(3):
        sizes = [(chance.randint(2, 5), chance.randint(2, 5)) for _ in range(4)]
        agree(instance([one_way(f"{k}", rect(f"{k}", w, h)) for k, (w, h) in enumerate(sizes)], [order(6, 30)]))


def test_options_seams_and_order_steps() -> None:
    room = Choice(
        id="room",
        options=(
            Option(pieces=(rect("a", 5, 4), rect("b", 2, 4)), seams=1, seam_length=4),
            Option(pieces=(rect("a", 4, 4), rect("b", 3, 4)), seams=1, seam_length=4),
            Option(pieces=(rect("a", 4, 7),), seams=0),
        ),
    )
    small = one_way("small", rect("s", 2, 4))
    for step, start, minimum in ((1, 0, 0), (3, 1, 0), (2, 0, 9)):
        roll = order(6, 30, terms=OrderTerms(step=step, start=start, minimum=minimum))
        agree(instance([room, small], [roll], levels=LEAST_ROLL))
        agree(instance([room, small], [roll], levels=((1, 0, 9, 0, 0, 0, 0),)))
        agree(instance([room, small], [roll], levels=LEAST_ROLL, most_seams=0))


def test_half_turned_and_quarter_turned_pieces() -> None:
    notched = boxes("l", (0, 0, 4, 2), (0, 2, 2, 5), turns=(0, 2))
    agree(instance([one_way("l", notched), one_way("m", notched)], [order(4, 20)]))
    agree(instance([one_way("q", rect("q", 2, 5, turns=(0, 1))), one_way("r", rect("r", 5, 2))], [order(5, 20)]))


def test_a_piece_in_the_corner_of_an_l() -> None:
    corner = boxes("l", (0, 0, 5, 2), (0, 2, 2, 6))
    agree(
        instance([one_way("l", corner), one_way("p", rect("p", 3, 4)), one_way("q", rect("q", 4, 2))], [order(5, 20)])
    )


def test_a_hole_that_carries_a_piece() -> None:
    ring = boxes("ring", (0, 0, 5, 1), (0, 1, 1, 4), (4, 1, 5, 4), (0, 4, 5, 5))
    agree(instance([one_way("ring", ring), one_way("p", rect("p", 3, 3))], [order(5, 20)]))


@pytest.mark.parametrize(
    ("along", "across", "drop"), [(5, None, 0), (4, 3, 0), (4, 3, 2), (6, 2, 2), (6, 4, 3), (5, 6, 2)]
)
def test_patterns(along: int, across: int | None, drop: int) -> None:
    """Straight, half-drop, a third; odd and even repeats a breadth; Rx less than the width."""
    lattice = Lattice(along=along, across=across, drop=drop)
    pitch = 6 if across is None else 6 // across * across
    for count, length, last in ((2, 3, 6), (2, 4, 2), (3, 3, 2)):
        agree(instance([breadths("a", 0, 6, pitch, count, length, last)], [order(6, 40)], lattice))


def test_a_fill_lies_at_every_lawful_x() -> None:
    """A fill beside drops of another room must sit where its own pattern lies, not where it is convenient."""
    for drop in (0, 1, 2):
        lattice = Lattice(along=4, across=3, drop=drop)
        room = one_way("a", rect("a0", 7, 5, group=0), rect("a1", 2, 5, group=0, offset=(6, 0)))
        other = one_way("b", rect("b0", 4, 5, group=1))
        agree(instance([room, other], [order(7, 40)], lattice))


def test_two_sources_of_different_phase() -> None:
    for shift in (1, 2, 3):
        lattice = Lattice(along=4, across=None)
        room = one_way("a", *(rect(f"a{k}", 5, 3, group=0, offset=(5 * k, 0)) for k in range(2)))
        stock = [hand("first", 5, 5, lot="one", phase=(0, 0)), hand("second", 5, 6, lot="one", phase=(0, shift))]
        agree(instance([room], [*stock, order(5, 30, lot="one")], lattice))


def test_phase_across_of_two_sources() -> None:
    lattice = Lattice(along=4, across=3, drop=2)
    room = one_way("a", *(rect(f"a{k}", 5, 3, group=0, offset=(3 * k, 0)) for k in range(2)))
    for phase in ((1, 1), (2, 3)):
        stock = [hand("first", 6, 4, lot="one", phase=(0, 0)), hand("second", 6, 6, lot="one", phase=phase)]
        agree(instance([room], [*stock, order(6, 30, lot="one", terms=OrderTerms(anchor_along=4))], lattice))


def test_remnants_of_unknown_phase() -> None:
    """Alone with a free group they serve in full, with another source or a placed pattern they lose a repeat."""
    lattice = Lattice(along=3, across=None)
    alone = one_way("a", rect("a0", 4, 4, group=0))
    two = one_way("b", rect("b0", 4, 4, group=1), rect("b1", 4, 4, group=1, offset=(4, 0)))
    for length in (4, 6, 7):
        stock = hand("old", 4, length, lot="one", loss=(0, 3))
        for anchor in (3, None):
            roll = order(4, 30, lot="one", terms=OrderTerms(anchor_along=anchor, start=1))
            agree(instance([alone], [stock, roll], lattice, LEAST_ROLL))
            agree(instance([two], [stock, roll], lattice, LEAST_ROLL))
    placed = one_way("p", rect("p0", 4, 4, group=0), phase=(None, 1))
    agree(instance([placed], [hand("old", 4, 6, loss=(0, 3)), order(4, 30, terms=OrderTerms(anchor_along=3))], lattice))
    agree(instance([placed], [order(4, 30, terms=OrderTerms(anchor_along=None))], lattice))


def test_placed_phases_across_and_along() -> None:
    lattice = Lattice(along=4, across=3, drop=1)
    for phase in ((1, None), (None, 2), (2, 3)):
        room = one_way("a", rect("a0", 4, 3, group=0), rect("a1", 4, 3, group=0, offset=(3, 0)), phase=phase)
        agree(instance([room], [hand("known", 6, 9, phase=(1, 2)), order(6, 30)], lattice))


def test_flaws() -> None:
    pieces = [one_way("a", rect("a", 4, 4)), one_way("b", rect("b", 2, 5)), one_way("c", rect("c", 3, 3))]
    stock = hand("flawed", 6, 10, blocked=((2, 3, 4, 5), (0, 8, 6, 9)))
    agree(instance(pieces, [stock, order(6, 20)]))


def test_lots() -> None:
    """A room is never cut from two lots, and all orders are of one."""
    room = one_way("a", rect("a0", 4, 4), rect("a1", 4, 3), lot_group=0)
    other = one_way("b", rect("b0", 4, 3), lot_group=1)
    stock = [hand("x", 4, 4), hand("y", 4, 7), hand("z", 4, 3)]
    agree(instance([room, other], [*stock, order(4, 30)]))
    agree(instance([room, other], [stock[0], stock[2], order(4, 30)]))
    agree(instance([room, other], [stock[0], order(4, 7, "n"), order(4, 30, "m", lot="z2", terms=OrderTerms(start=2))]))


def test_two_widths_and_a_layout_for_one() -> None:
    room = Choice(
        id="r",
        options=(
            Option(pieces=(rect("a", 4, 5), rect("b", 3, 5)), seams=1, order_width=4),
            Option(pieces=(rect("a", 6, 5), rect("b", 1, 5)), seams=1, order_width=6),
        ),
    )
    agree(instance([room, one_way("s", rect("s", 2, 3))], [order(4, 20, "n4"), order(6, 20, "n6")], levels=LEAST_ROLL))


def test_drops_in_sequence() -> None:
    run = one_way("r", rect("a", 3, 2), rect("b", 4, 3), rect("c", 3, 3), order=((0, 1), (1, 2)))
    agree(instance([run, one_way("s", rect("s", 2, 5))], [order(6, 20)]))


def test_bench_cuts() -> None:
    sizes = ((2, 4), (4, 2), (2, 3), (3, 2))
    choices = [one_way(f"{k}", rect(f"{k}", w, h)) for k, (w, h) in enumerate(sizes)]
    agree(instance(choices, [order(6, 20)], bench_cuts=True))
    windmill = [(2, 4), (4, 2), (2, 4), (4, 2)]
    choices = [one_way(f"{k}", rect(f"{k}", w, h)) for k, (w, h) in enumerate(windmill)]
    agree(instance(choices, [order(6, 20)], bench_cuts=True))


def test_money_is_rounded_as_the_shop_rounds_it() -> None:
    from fractions import Fraction

    levels = ((0, 0, 0, 0, 1, 0, 0),)
    stock = hand("dear", 4, 5, cost=9)
    roll = order(4, 20, cost_per_unit=Fraction(5, 2), cost=1)
    agree(instance([one_way("a", rect("a", 4, 3)), one_way("b", rect("b", 3, 2))], [stock, roll], levels=levels))


def test_no_solution_is_said_with_its_reasons() -> None:
    agree(instance([one_way("a", rect("a", 7, 3))], [order(6, 20)]))
    agree(instance([one_way("a", rect("a", 4, 3)), one_way("b", rect("b", 4, 3))], [hand("h", 6, 5)]))
    result = solve(instance([one_way("a", rect("wide", 7, 3))], [order(6, 20)]), seed=1, effort=1)
    assert result.unplaced == ("wide: 1 too wide",)
