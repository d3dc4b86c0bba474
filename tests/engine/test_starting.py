"""Starting schemes: which of them come first, and that their options have room."""

from __future__ import annotations

from itertools import islice

from nesting.model.instance import Choice, Instance, Lattice, Option, OrderTerms
from nesting.search.engine import STARTS
from nesting.search.placing import place
from nesting.search.scheme import make_ready
from nesting.search.starting import starting_schemes
from tests.engine.making import LEAST_ROLL, instance, one_way, order, rect

ROLL, REPEAT = 1000, 50
TERMS = OrderTerms(start=10, anchor_along=REPEAT)


def rooms_over_several_rolls() -> Instance:
    """Rooms of two drops each, one of which is as long as a roll in the option that looks likeliest."""
    whole = Option(pieces=(rect("c1", 100, 990, group=0), rect("c2", 100, 500, group=0)))
    halves = Option(pieces=tuple(rect(f"h{k}", 100, 500, group=0) for k in range(3)), seams=1)
    rooms = [
        one_way(f"room {k}", rect(f"a{k}", 100, 430 + k, group=k), rect(f"b{k}", 100, 330 + k, group=k))
        for k in range(1, 5)
    ]
    choices = [Choice(id="corridor", options=(whole, halves)), *rooms]
    sources = [order(100, ROLL, f"order {k}", terms=TERMS) for k in range(8)]
    return instance(choices, sources, Lattice(along=REPEAT, across=None, drop=0), LEAST_ROLL)


def test_starts_bind_rolls_to_the_pattern_in_turn_with_those_that_do_not() -> None:
    ready = make_ready(rooms_over_several_rolls())
    first = list(islice(starting_schemes(ready), 4))
    assert {any(scheme.anchored) for scheme in first[:2]} == {False, True}


def test_starts_on_bound_rolls_take_options_that_leave_room_for_what_these_lose() -> None:
    """The corridor's long piece fits a roll that loses nothing, but then the other piece has no roll to lie on."""
    ready = make_ready(rooms_over_several_rolls())
    starts = list(islice(starting_schemes(ready), STARTS))
    bound = [scheme for scheme in starts if any(scheme.anchored)]
    assert bound and all(scheme.options[0] == 1 for scheme in bound)
    assert all(scheme.options[0] == 0 for scheme in starts[:1] if not any(scheme.anchored))
    assert any(place(ready, scheme).solution is not None for scheme in bound)
