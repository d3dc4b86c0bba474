"""Parts that share nothing are solved by themselves: the best of each is the best of the whole."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

import nesting.search.engine as engine
from nesting.model.instance import Instance, Lattice, Weights
from nesting.model.valuing import faults_of, value_of
from nesting.progress import Step
from nesting.search.apart import Apart, parts_of
from nesting.search.scheme import make_ready
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect


def _instance(**more: object) -> Instance:
    """Return three wide rooms for a wide roll and two narrow ones for rolls that hold no wide one."""
    wide = [one_way(f"w{n}", rect("p", 8, 4 + n), rect("q", 3, 5), order_width=9) for n in range(3)]
    narrow = [one_way(f"n{n}", rect("p", 5, 3 + n), order_width=6) for n in range(2)]
    choices = [wide[0], narrow[0], wide[1], narrow[1], wide[2]]
    return instance(choices, [order(9, 60, "a"), order(6, 40, "b"), hand("h", 2, 90)], levels=LEAST_ROLL, **more)


def _parts(tried: Instance) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    return [(part.choices, part.sources) for part in parts_of(make_ready(tried))]


def test_rooms_that_share_no_roll_are_apart() -> None:
    assert _parts(_instance()) == [((0, 2, 4), (0,)), ((1, 3), (1,))]


def test_what_ties_them_together() -> None:
    base = _instance()
    together = [(tuple(range(5)), (0, 1, 2))]
    tied = [
        replace(base, weights=Weights(levels=base.weights.levels, most_seams=4)),
        replace(base, sources=(*base.sources[:2], replace(base.sources[2], width=9))),  # holds all of them
        replace(base, choices=tuple(replace(choice, lot_group=7) for choice in base.choices)),
        replace(base, choices=tuple(replace(choice, arrow_group=7) for choice in base.choices)),
        replace(base, sources=(base.sources[0], replace(base.sources[1], lot="other"), base.sources[2])),
    ]
    for one in tied:
        assert _parts(one) == together
    several_lots = replace(tied[-1], orders_of_one_lot=False)
    assert len(_parts(several_lots)) == 2
    pattern = Lattice(along=3)
    phased = [one_way(f"c{n}", rect("p", 8 if n else 5, 4, group=n // 2), order_width=9 if n else 6) for n in range(2)]
    tried = instance(phased, [order(9, 60, "a"), order(6, 40, "b")], pattern, LEAST_ROLL)
    assert len(_parts(tried)) == 1


def test_the_parts_together_are_as_good_as_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = _instance()
    steps: list[Step] = []
    apart = engine.solve(tried, seed=1, effort=2, progress=steps.append)
    with ThreadPoolExecutor(2) as executor:
        assert engine.solve(tried, seed=1, effort=2, executor=executor) == apart
    assert apart.solution is not None and not faults_of(tried, apart.solution)
    assert apart.value == value_of(tried, apart.solution)
    assert steps[-1].best == apart.value.levels[0] and steps[-1].bound == apart.bound_considered
    assert engine.solve(tried, seed=1, effort=0, start=apart.solution).value == apart.value
    monkeypatch.setattr(engine, "parts_of", lambda ready: (Apart(choices=(0, 1, 2, 3, 4), sources=(0, 1, 2)),))
    whole = engine.solve(tried, seed=1, effort=2)
    assert whole.value is not None and whole.value.levels == apart.value.levels
    assert (whole.proved, apart.proved) == (True, True)


def test_a_part_without_room_leaves_the_whole_without_a_solution() -> None:
    tried = _instance()
    short = replace(tried, sources=(tried.sources[0], replace(tried.sources[1], length=5), tried.sources[2]))
    result = engine.solve(short, seed=1, effort=2)
    assert result.solution is None and result.unplaced and not result.proved
