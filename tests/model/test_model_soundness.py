"""The model against brute force on tiny patterned goods: least levels, windows among frozen pieces, free rows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from nesting.model.instance import Choice, Instance, Lattice, Option, OrderTerms, Solution, Worth
from nesting.model.rows import forbidden, free_rows, on_residue, union
from nesting.model.solving import build, solve_model
from nesting.model.valuing import faults_of
from nesting.model.variables import Task
from nesting.search.windows import open_caps
from tests.engine.making import hand, instance, one_way, order, rect
from tests.engine.oracle import least_first_level

quick = {"deadline": None, "derandomize": True, "phases": [Phase.generate], "suppress_health_check": list(HealthCheck)}
spans = st.tuples(st.integers(-3, 9), st.integers(1, 4)).map(lambda item: (item[0], item[0] + item[1]))
laid_boxes = st.tuples(spans, spans).map(lambda item: (item[0][0], item[1][0], item[0][1], item[1][1]))


@settings(max_examples=150, **quick)
@given(st.lists(laid_boxes, max_size=6), st.lists(laid_boxes, min_size=1, max_size=2), spans, spans)
def test_free_rows_are_those_where_a_place_is_free(obstacles, parts, across, along) -> None:
    closed = forbidden(parts, obstacles)
    free = {
        y
        for y in range(along[0], along[1] + 1)
        for x in range(across[0], across[1] + 1)
        if not any(
            x + a < g and e < x + c and y + b < h and f < y + d for a, b, c, d in parts for e, f, g, h in obstacles
        )
    }
    rows = free_rows(closed, across, along)
    assert [y for low, high in rows for y in range(low, high + 1)] == sorted(free)
    assert {y for y, _ in on_residue(rows, 2, 3)} == {y for y in free if y % 3 == 2}
    assert union([rows, rows[:1]]) == rows


@st.composite
def patterned(draw: st.DrawFn, kinds: int = 2, most_pieces: int = 2) -> Instance:
    """A tiny job on patterned goods: rooms of one or two pieces, a roll or two, something in hand."""
    along, across = draw(st.sampled_from([2, 3])), draw(st.sampled_from([None, 2, 3]))
    lattice = Lattice(along=along, across=across, drop=draw(st.integers(0, along - 1)) if across else 0)
    choices = []
    phases = [draw(st.sampled_from([(None, None), (None, None), (0, 1), (None, 0)])) for _ in range(kinds)]
    for number in range(kinds):
        group = draw(st.sampled_from([None, 0, number]))
        options = []
        for _ in range(draw(st.integers(1, 2))):
            pieces = [
                rect(
                    f"{number}{k}",
                    draw(st.integers(1, 3)),
                    draw(st.integers(1, 3)),
                    group=group,
                    offset=(draw(st.integers(0, 3)), draw(st.integers(0, 3))),
                )
                for k in range(draw(st.integers(1, 1 if number else most_pieces)))
            ]
            # What places the pattern of a group places it in one way.
            phase = draw(st.sampled_from([(None, None), phases[group]])) if group is not None else (None, None)
            options.append(Option(pieces=tuple(pieces), seams=len(pieces) - 1, phase=phase))
        choices.append(Choice(id=f"{number}", options=tuple(options), lot_group=draw(st.sampled_from([None, 0]))))
    anchor = draw(st.sampled_from([None, along]))
    terms = OrderTerms(step=draw(st.sampled_from([1, 2])), start=draw(st.integers(0, 1)), anchor_along=anchor)
    sources = [order(4, 7, "roll", terms=terms)]
    more = draw(st.sampled_from(["", "a roll", "old"]))
    if more == "a roll":
        sources.append(order(4, 7, "more", terms=terms))
    if more == "old":
        flaws = ((1, 1, 2, 2),) if draw(st.booleans()) else ()
        known = draw(st.sampled_from([None, (1, 1)]))
        old = hand("old", 3, 5, blocked=flaws, phase=known, loss=(0, along), lot=draw(st.sampled_from(["new", ""])))
        worth = draw(st.sampled_from([None, Worth(keep_from=2, small=4), Worth(begun=1, keep_from=1)]))
        sources.insert(0, replace(old, worth=worth))
    levels = draw(st.sampled_from([((1, 0, 0, 0, 0, 0, 0),), ((0, 1, 1, 0, 0, 0, 0),)]))
    return instance(choices, sources, lattice, levels, rack=draw(st.sampled_from([None, 0])))


def menu_of(tried: Instance) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(range(len(choice.options))) for choice in tried.choices)


@settings(max_examples=40, **quick)
@given(patterned())
def test_the_least_of_the_model_is_the_least_there_is(tried: Instance) -> None:
    the_model_agrees(tried)


@pytest.mark.slow
@settings(max_examples=80, **quick)
@given(patterned())
def test_the_least_of_the_model_is_the_least_there_is_for_long(tried: Instance) -> None:
    the_model_agrees(tried)


def the_model_agrees(tried: Instance) -> None:
    """Solve the model and try everything: both find the same least first level, and the bound is right."""
    least = least_first_level(tried)
    answer = solve_model(tried, Task(menu=menu_of(tried), caps=open_caps(tried)), seed=1, limit=5)
    assert answer.impossible == (least is None)
    if least is not None:
        assert answer.solution is not None and answer.value is not None
        assert faults_of(tried, answer.solution) == []
        assert answer.value.levels[0] == answer.bound == least


def some_solution(tried: Instance, seed: int) -> Solution | None:
    """Whatever comes first."""
    return solve_model(tried, Task(menu=menu_of(tried), caps=open_caps(tried)), seed=seed, limit=0.001).solution


def test_the_model_grows_with_pieces_times_goods_not_with_their_squares() -> None:
    """Rooms of three patterned breadths over twenty orders of unknown phase: a few constraints a piece and order."""
    rooms = [
        one_way(str(k), *(rect(f"{k}{j}", 90, 50, group=k, offset=(100 * j, 0)) for j in range(3))) for k in range(6)
    ]
    rolls = [order(100, 500, f"o{k}", terms=OrderTerms(anchor_along=10)) for k in range(20)]
    tried = instance(rooms, rolls, Lattice(along=10, across=100))
    v = build(tried, Task(menu=((0,),) * 6, caps=open_caps(tried)))
    pieces = 3 * len(rooms)
    assert len(v.model.proto.constraints) < 12 * pieces * len(rolls)
