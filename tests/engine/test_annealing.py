"""Annealing: nothing unlawful, never worse than its start where that is complete, the same for the same arguments."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.model.instance import Choice, Instance, Lattice, Option, Solution
from nesting.model.valuing import faults_of, phases_of_groups, value_of
from nesting.progress import never_stop
from nesting.search.annealing import E_COLD, E_HEAT, anneal
from nesting.search.arrays import F_LEVELS, F_LEVELS_END, flat_of
from nesting.search.cooling import cycle_of
from nesting.search.improving import standing_of
from nesting.search.islands import Heat, annealed, energies_of
from nesting.search.moves import MOVE_ROW, MOVES
from nesting.search.placing import place
from nesting.search.scheme import make_ready
from nesting.search.state import BEST, M_FOUND, desk_of, solution_from
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect
from tests.engine.test_kernel import any_scheme
from tests.engine.test_properties import instances, mixed

MOVES_ALIKE = (*(1 for _ in range(MOVES)), MOVES)
WARM = Heat(start=50_000, end=500)


@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(instances(), st.integers(0, 10**6))
def test_what_is_found_is_lawful_and_no_worse_than_the_start(drawn: Instance, seed: int) -> None:
    ready = make_ready(replace(drawn, bench_cuts=False))
    scheme = any_scheme(ready, random.Random(seed))
    # What any_scheme draws need not keep to the lots, arrows and widths that the rules ask for.
    start = place(ready, scheme).solution
    found = annealed(ready, scheme, seed, 200_000, WARM, never_stop).found
    if found is not None:
        assert faults_of(ready.instance, found.solution) == []
        assert found.value == value_of(ready.instance, found.solution)
        assert place(ready, found.scheme).solution == found.solution
    if start is not None and not faults_of(ready.instance, start) and found is not None:
        assert found.value.levels <= value_of(ready.instance, start).levels


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(instances(), st.integers(0, 10**6))
def test_the_compiled_levels_are_the_engine_s(drawn: Instance, seed: int) -> None:
    """What annealing counts of the best solution it met, goods in hand spared or not, is what that is worth."""
    ready = make_ready(replace(drawn, bench_cuts=False))
    scheme = any_scheme(ready, random.Random(seed))
    if phases_of_groups(ready.instance, scheme.options) is None or not scheme.sequence:
        return
    desk = desk_of(ready, flat_of(ready), scheme, seed)
    real = energies_of(ready, desk.flat, scheme)
    real[E_HEAT], real[E_COLD] = 5.0, 0.1
    desk.state[MOVE_ROW, : len(MOVES_ALIKE)] = MOVES_ALIKE
    anneal(*desk, real, 50_000, 50_000)
    if not desk.state[0, M_FOUND]:
        return
    solution = solution_from(ready, desk, BEST)
    levels = desk.state[desk.flat[0, F_LEVELS] : desk.flat[0, F_LEVELS_END], BEST]
    assert tuple(levels) == value_of(ready.instance, solution).levels


def test_the_scheme_held_at_the_end_is_one_to_go_on_from() -> None:
    ready = make_ready(mixed())
    scheme = any_scheme(ready, random.Random(3))
    first = annealed(ready, scheme, 1, 300_000, WARM, never_stop)
    assert first == annealed(ready, scheme, 1, 300_000, WARM, never_stop)
    placed = place(ready, first.scheme)
    assert placed.solution is None or standing_of(ready, placed)[1] is not None
    again = annealed(ready, first.scheme, 2, 300_000, WARM, never_stop)
    assert again.found is not None and again.steps > 100


def test_a_stop_ends_the_run() -> None:
    ready = make_ready(mixed())
    asked = iter(range(10**6))
    scheme = any_scheme(ready, random.Random(3))
    run = annealed(ready, scheme, 1, 10**12, WARM, lambda: next(asked) > 3)
    assert 0 < run.steps < 10**7


def test_a_better_order_of_patterned_drops_is_found() -> None:
    """Quarter-drop, repeat 640 mm, four drops of 2150 mm: 9.35 m left to right, 10.31 m right to left, 9.03 m best."""
    drops = [rect(f"{k}", 1000, 2150, group=0, offset=(1000 * k, 0)) for k in range(4)]
    tried = instance([one_way("room", *drops)], [order(1000, 20_000)], Lattice(along=640, across=1000, drop=160))
    ready = make_ready(tried)
    scheme = any_scheme(ready, random.Random(1))
    scheme = replace(scheme, sequence=tuple((0, k) for k in range(4)), anchored=(False,), barred=frozenset())
    assert _used(tried, place(ready, scheme).solution) == 9_350
    found = annealed(ready, scheme, 1, 300_000, WARM, never_stop).found
    assert found is not None and _used(tried, found.solution) == 9_030


def _used(tried: Instance, solution: Solution | None) -> int:
    assert solution is not None
    return value_of(tried, solution).used[0]


def test_another_layout_another_lot_and_a_turn_are_found() -> None:
    """One room fits a remnant only in its second layout, another piece only turned: then nothing is ordered."""
    wide = Option(pieces=(rect("wide", 900, 500),))
    long = Option(pieces=(rect("left", 450, 500), rect("right", 450, 500)), seams=1)
    room = Choice(id="room", options=(wide, long), lot_group=0)
    mat = one_way("mat", rect("mat", 300, 800, turns=(0, 1)), lot_group=1)
    sources = [hand("narrow", 500, 1000, lot="a"), hand("low", 800, 300, lot="b"), order(1000, 9000)]
    ready = make_ready(instance([room, mat], sources, levels=LEAST_ROLL))
    scheme = any_scheme(ready, random.Random(1))
    scheme = replace(scheme, options=(0, 0), sequence=((0, 0), (1, 0)), lots=("new", "new"), order_lot="new")
    scheme = replace(scheme, barred=frozenset(), held=frozenset())
    found = annealed(ready, scheme, 1, 500_000, WARM, never_stop).found
    assert found is not None and found.value.levels[0] == 0
    assert found.solution.options == (1, 0)


def test_cycles_grow() -> None:
    places = [cycle_of(number) for number in range(11)]
    assert places == [(0, 1), (0, 3), (1, 3), (2, 3), *((k, 6) for k in range(6)), (0, 12)]
