"""Windows: what a few free choices among frozen ones can gain, against trying every place of a free choice."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.model.instance import Instance, Lattice, OrderTerms, Solution, Spot
from nesting.model.solving import build, solve_model
from nesting.model.valuing import faults_of, value_of
from nesting.model.variables import Task
from nesting.model.window import LEVELS, can_gain, solve_window
from nesting.progress import never_stop
from nesting.search.errands import Errand, Kind
from nesting.search.improving import Found, scheme_of
from nesting.search.scheme import make_ready
from nesting.search.windows import run_window, window
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect
from tests.engine.test_properties import mixed
from tests.model.test_model_soundness import menu_of, patterned, quick, some_solution


def every_way(tried: Instance, base: Solution, number: int) -> Iterator[Solution]:
    """Yield the solutions with another option or other spots for one choice, lawful or not, anchored or not."""
    kept = {spot.source for c, spots in enumerate(base.spots) for spot in spots if c != number}
    open_ends = [
        (base.anchored[s],) if s in kept or source.phase is not None else (False, True)
        for s, source in enumerate(tried.sources)
    ]
    for taken, option in enumerate(tried.choices[number].options):
        places = [
            [
                Spot(piece=k, source=s, x=x, y=y)
                for s, source in enumerate(tried.sources)
                for x in range(source.width - piece.width + 1)
                for y in range(source.length - piece.length + 1)
            ]
            for k, piece in enumerate(option.pieces)
        ]
        for spots, anchored in product(product(*places), product(*open_ends)):
            options = tuple(taken if c == number else o for c, o in enumerate(base.options))
            laid = tuple(spots if c == number else old for c, old in enumerate(base.spots))
            yield replace(base, options=options, spots=laid, anchored=anchored)


@settings(max_examples=40, **quick)
@given(patterned(kinds=3, most_pieces=1), st.integers(0, 2), st.integers(0, 9))
def test_a_window_finds_the_best_place_for_a_choice(tried: Instance, number: int, seed: int) -> None:
    tried = replace(tried, weights=replace(tried.weights, levels=LEAST_ROLL))
    base = some_solution(tried, seed)
    assume(base is not None)
    assert base is not None
    value = value_of(tried, base)
    least = min(
        value_of(tried, solution).levels[:LEVELS]
        for solution in every_way(tried, base, number)
        if not faults_of(tried, solution)
    )
    task = Task(
        menu=menu_of(tried),
        caps=tuple(source.length for source in tried.sources),
        frozen=frozenset(range(len(tried.choices))) - {number},
        incumbent=base,
    )
    seen = solve_window(tried, task, seed=seed, limit=5)
    if seen.solution is None or seen.value is None:
        assert least == value.levels[:LEVELS]
        return
    assert can_gain(tried, task, value)
    assert faults_of(tried, seen.solution) == []
    assert seen.value == value_of(tried, seen.solution)
    assert seen.value.levels[:LEVELS] == least < value.levels[:LEVELS]
    assert all(seen.solution.options[c] == base.options[c] for c in task.frozen)


def test_frozen_choices_are_no_variables_and_sources_out_of_reach_constants() -> None:
    rooms = [one_way(str(k), rect(f"{k}", 90, 50)) for k in range(8)]
    tried = instance(rooms, [order(100, 800, f"o{k}") for k in range(12)])
    spots = tuple((Spot(piece=0, source=0, x=0, y=50 * k),) for k in range(8))
    base = Solution(options=(0,) * 8, spots=spots, anchored=(False,) * 12)
    assert faults_of(tried, base) == []
    task = Task(
        menu=((0,),) * 8, caps=(800,) * 12, frozen=frozenset(range(7)), incumbent=base, offered=frozenset({0, 1})
    )
    v = build(tried, task)
    assert [slot.choice for slot in v.slots] == [7]
    assert set(v.open_goods) == {0, 1}
    assert len(v.model.proto.variables) < 20
    # Between and beside the frozen pieces there is no room: the free one lies behind them, or on the other roll.
    assert v.slots[0].limits == {(0, 0): (0, 350, 10, 750), (1, 0): (0, 800, 10, 1550)}


def test_what_frozen_pieces_already_cost_cannot_be_gained() -> None:
    rooms = [one_way("long", rect("long", 2, 9)), one_way("short", rect("short", 2, 3))]
    tried = instance(rooms, [order(4, 20)], levels=LEAST_ROLL)
    spots = ((Spot(piece=0, source=0, x=0, y=0),), (Spot(piece=0, source=0, x=2, y=1),))
    base = Solution(options=(0, 0), spots=spots, anchored=(False,))
    value = value_of(tried, base)
    free_short = Task(menu=((0,), (0,)), caps=(20,), frozen=frozenset({0}), incumbent=base)
    assert not can_gain(tried, free_short, value)
    assert can_gain(tried, replace(free_short, frozen=frozenset({1})), value)


def start_of(tried: Instance) -> Found:
    """A lawful solution with every piece behind the one before it."""
    ready = make_ready(tried)
    base = solve_model(tried, Task(menu=menu_of(tried), caps=(3000,) * len(tried.sources)), seed=1, limit=0.02).solution
    assert base is not None
    return Found(base, value_of(tried, base), scheme_of(ready, base))


def test_an_errand_is_the_same_twice_and_never_worse() -> None:
    tried = mixed()
    ready, best = make_ready(tried), start_of(tried)
    errand = Errand(kind=Kind.WINDOW, seed=4, effort=20)
    first, again = (run_window(ready, errand, best, None, never_stop).found for _ in range(2))
    assert first == again
    assert first is not None and faults_of(tried, first.solution) == []
    assert first.value.levels < best.value.levels
    assert run_window(ready, errand, best, None, lambda: True).found is best


def test_a_window_keeps_the_arrow_and_the_lot_of_frozen_mates() -> None:
    sides = [one_way(str(k), rect(f"{k}", 6, 4), arrow=1, lot_group=0) for k in range(3)]
    choices = [
        replace(c, arrow_group=0, options=(*c.options, replace(c.options[0], arrow=2, tag="other"))) for c in sides
    ]
    tried = instance(choices, [order(8, 40), hand("old", 8, 9)], levels=LEAST_ROLL)
    ready = make_ready(tried)
    spots = tuple((Spot(piece=0, source=0, x=0, y=5 * k),) for k in range(3))
    base = Solution(options=(0, 0, 0), spots=spots, anchored=(False, False))
    best = Found(base, value_of(tried, base), scheme_of(ready, base))
    for seed in range(6):
        task = replace(window(ready, best, random.Random(seed)), frozen=frozenset({0}))
        assert task.offered is not None
        v = build(tried, task)
        assert all(set(slot.on) == {0} for slot in v.slots)
        small = window(ready, best, random.Random(seed), most=1)
        assert small.frozen and all(options == (0,) for options in small.menu)


def test_a_pattern_with_a_drop_is_held_on_frozen_phases() -> None:
    """A half drop: beside the frozen breadth, a second one may only lie half a repeat up."""
    room = [
        one_way("a", rect("a", 4, 4, group=0)),
        one_way("b", rect("b", 4, 4, group=0, offset=(4, 0))),
    ]
    tried = instance(room, [order(8, 40)], Lattice(along=6, across=4, drop=3), LEAST_ROLL)
    base = Solution(
        options=(0, 0),
        spots=((Spot(piece=0, source=0, x=0, y=0),), (Spot(piece=0, source=0, x=4, y=12),)),
        anchored=(False,),
    )
    assert faults_of(tried, base) == []
    task = Task(menu=((0,), (0,)), caps=(40,), frozen=frozenset({0}), incumbent=base)
    seen = solve_window(tried, task, seed=1, limit=5)
    assert seen.solution is not None and seen.solution.spots[1][0].y == 0
    lifted = replace(tried, choices=(room[0], one_way("b", rect("b", 4, 4, group=0))))
    assert faults_of(lifted, base)
    base = replace(base, spots=(base.spots[0], (Spot(piece=0, source=0, x=4, y=9),)))
    seen = solve_window(lifted, replace(task, incumbent=base), seed=1, limit=5)
    assert seen.solution is not None and seen.solution.spots[1][0].y == 3


def test_an_open_anchoring_is_paid_for() -> None:
    """A free group on goods of unknown phase that goes to a second roll anchors both, and each loses its allowance."""
    room = one_way("r", rect("r0", 4, 4, group=0), rect("r1", 4, 4, group=0, offset=(0, 1)))
    for length, lost, level, anchored in ((8, 2, 8, (False, False)), (7, 2, 13, (True, True)), (7, 4, None, ())):
        rolls = [order(4, length, f"o{k}", terms=OrderTerms(anchor_along=lost)) for k in range(2)]
        tried = instance([room], rolls, Lattice(along=5), LEAST_ROLL)
        answer = solve_model(tried, Task(menu=((0,),), caps=(length, length)), seed=1, limit=5)
        assert answer.impossible == (level is None)
        if level is not None:
            assert answer.solution is not None and answer.solution.anchored == anchored
            assert answer.bound == 4 * level
