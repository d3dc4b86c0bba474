"""Memory stays bounded, however many rounds there are."""

from __future__ import annotations

import gc
import tracemalloc
from itertools import product

import pytest

import nesting.search.engine as engine
from nesting.model.instance import Choice, Lattice, Option
from nesting.progress import Step
from nesting.search.scheme import MOST_GROUNDS, make_ready
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect

ROUNDS = 12
MOST_GROWTH = 64 * 1024
"""Bytes by which the later two thirds of the rounds may grow: what comes and goes between two looks."""


def _choice(number: int) -> Choice:
    """Return a choice of three sizes, the smaller with more seams."""
    sizes = [(3 + (number * number + k) % 7, 5 + (number * 5 + 3 * k) % 11) for k in range(3)]
    at = (number, 3 * number)
    pieces = [(rect("p", *size, group=number, offset=at),) for size in sizes]
    return Choice(id=f"c{number}", options=tuple(Option(pieces=found, seams=k) for k, found in enumerate(pieces)))


def test_many_rounds_need_no_more_memory_than_a_few(monkeypatch: pytest.MonkeyPatch) -> None:
    levels = ((100, 0, 37, 0, 0, 0, 0), *LEAST_ROLL)
    goods = [order(11, 900, cost=3), hand("h", 7, 12), hand("g", 6, 20)]
    tried = instance([_choice(number) for number in range(5)], goods, Lattice(along=7, across=3, drop=2), levels)
    monkeypatch.setattr(engine, "_finished", lambda run: False)  # it is proved soon, and goes on all the same
    sizes: list[int] = []

    def look(step: Step) -> None:
        if step.what.startswith("round"):
            gc.collect()
            sizes.append(tracemalloc.get_traced_memory()[0])

    tracemalloc.start()
    try:
        engine.solve(tried, seed=1, effort=ROUNDS, progress=look)
    finally:
        tracemalloc.stop()
    assert len(sizes) == ROUNDS
    early, late = sizes[ROUNDS // 3], max(sizes[ROUNDS // 3 :])
    assert late - early < MOST_GROWTH, [size - early for size in sizes]


def test_the_ways_of_anchoring_kept_at_hand_are_few() -> None:
    goods = [order(9, 50), *(hand(f"h{n}", 7, 12, loss=(1, 4)) for n in range(8))]
    ready = make_ready(instance([one_way("a", rect("p", 3, 4, group=0))], goods, Lattice(along=4, across=3)))
    for mask in product((False, True), repeat=len(goods)):
        assert len(ready.grounds(mask)) == len(goods)
        assert len(ready._grounds) <= MOST_GROUNDS
