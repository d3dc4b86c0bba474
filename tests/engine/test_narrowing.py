"""What is screened out or narrowed down of a full rack loses nothing: against brute force on tiny racks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.model.instance import Choice, Instance, Option, Source, Worth
from nesting.model.screening import screened
from nesting.search import engine, narrowing
from nesting.search.engine import solve
from nesting.search.narrowing import narrowed
from nesting.search.scheme import make_ready
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect, tiny_rack
from tests.engine.oracle import least_first_level

BY_SEAMS = ((1, 0, 7, 0, 0, 0, 0),)
FEWEST = ((0, 0, 1, 0, 0, 0, 0),)


def of(tried: Instance, sources: tuple[int, ...]) -> Instance:
    return replace(tried, sources=tuple(tried.sources[s] for s in sources))


def nothing_is_lost_by_screening(seed: int, pattern: bool) -> int:
    """Screen for what is ordered and for the value used up; return how many pieces went."""
    gone = 0
    for levels in (BY_SEAMS, None):
        tried = tiny_rack(seed, pattern=pattern) if levels is None else tiny_rack(seed, levels=levels, pattern=pattern)
        kept = screened(tried)
        gone = len(tried.sources) - len(kept)
        if gone:
            assert least_first_level(of(tried, kept)) == least_first_level(tried), seed
    return gone


def nothing_is_lost_by_narrowing(seed: int, pattern: bool) -> int:
    """Narrow for what comes before the rack; return how many pieces went."""
    gone = 0
    for levels in (BY_SEAMS, FEWEST):
        tried = tiny_rack(seed, levels=levels, pattern=pattern)
        cap = None if seed % 3 else sum(min(o.seams for o in choice.options) for choice in tried.choices) + seed % 2
        tried = replace(tried, weights=replace(tried.weights, most_seams=cap))
        ready = make_ready(tried)
        kept = narrowed(ready) if all(ready.usable) else tuple(range(len(tried.sources)))
        if len(kept) < len(tried.sources):
            gone = max(gone, len(tried.sources) - len(kept))
            assert least_first_level(of(tried, kept)) == least_first_level(tried), seed
    return gone


@pytest.mark.parametrize("pattern", [False, True])
def test_screening_loses_nothing(pattern: bool) -> None:
    assert sum(nothing_is_lost_by_screening(seed, pattern) for seed in range(30)) > 20


@pytest.mark.parametrize("pattern", [False, True])
def test_narrowing_loses_nothing(pattern: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(narrowing, "FEW", 0)
    monkeypatch.setattr(narrowing, "CHOICE", 0)
    assert sum(nothing_is_lost_by_narrowing(seed, pattern) for seed in range(6)) > 4


@pytest.mark.slow
@pytest.mark.parametrize("pattern", [False, True])
def test_nothing_is_lost_on_hundreds(pattern: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(narrowing, "FEW", 0)
    monkeypatch.setattr(narrowing, "CHOICE", 0)
    for seed in range(100, 220):
        nothing_is_lost_by_screening(seed, pattern)
        nothing_is_lost_by_narrowing(seed, pattern)


def test_what_nothing_fits_on_goes_and_what_is_named_stays() -> None:
    room = Choice(id="room", options=(Option(pieces=(rect("a", 5, 6),)),), lot_group=0)
    mat = replace(one_way("mat", rect("m", 2, 2, turns=(0, 1))), sources=frozenset({"named"}))
    sources = [
        hand("short", 5, 5),
        hand("flawed", 6, 8, blocked=((2, 2, 4, 4),)),
        hand("named", 1, 1),
        hand("begun", 1, 1),
        hand("fits", 5, 6),
        order(6, 40),
    ]
    tried = instance([room, mat], sources)
    assert [tried.sources[s].id for s in screened(tried, ["begun"])] == ["named", "begun", "fits", "order"]


def test_a_lot_that_holds_no_whole_room_goes() -> None:
    """Two breadths 3 x 4: one piece of 5 x 5 holds either, never both; two such pieces, or one of 6 x 5, do."""
    room = Choice(id="room", options=(Option(pieces=(rect("a", 3, 4), rect("b", 3, 4)), seams=1),), lot_group=0)
    sources = [hand("one", 5, 5, "A"), hand("two", 5, 5, "B"), hand("more", 5, 5, "B"), hand("wide", 6, 5, "C")]
    tried = instance([room], [*sources, order(6, 40)])
    assert [tried.sources[s].id for s in screened(tried)] == ["two", "more", "wide", "order"]


def test_of_equal_pieces_as_many_stay_as_can_be_used() -> None:
    choices = [one_way(f"{k}", rect(f"{k}", 2, 2)) for k in range(3)]
    sources = [*(hand(f"a{k}", 4, 4, "A") for k in range(9)), *(hand(f"own{k}", 3, 3) for k in range(9))]
    tried = instance(choices, [*sources, order(6, 40)])
    kept = [tried.sources[s].id for s in screened(tried)]
    assert kept == ["a0", "a1", "a2", "own0", "own1", "own2", "order"]


def full_rack(count: int) -> Instance:
    """Five rooms and a mat, and a rack of so many pieces of lots of five."""
    choices = [
        Choice(
            id=f"{k}",
            options=(
                Option(pieces=(rect(f"{k}", 300 + 20 * k, 250 + 30 * k),)),
                Option(
                    pieces=(rect(f"{k}a", 180 + 10 * k, 260 + 30 * k), rect(f"{k}b", 150 + 10 * k, 260 + 30 * k)),
                    seams=1,
                ),
            ),
            lot_group=k,
        )
        for k in range(5)
    ]
    worth = Worth(keep_from=60, small=40_000)
    pieces: list[Source] = []
    for k in range(count):
        width, length = 60 + 37 * k % 340, 80 + 101 * k % 800
        pieces.append(hand(f"{k}", width, length, f"lot {k // 5}", worth=worth, made_width=width))
    goods = [*pieces, order(400, 9000)]
    return instance([*choices, one_way("mat", rect("m", 90, 60))], goods, levels=LEAST_ROLL, rack=3)


def test_a_full_rack_costs_little_more_than_a_short_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted work: of a thousand pieces in hand no more are looked at than of four hundred, give or take a few."""
    looked_at = []

    def counted(ready: object, keep: frozenset[int] = frozenset()) -> tuple[int, ...]:
        found = narrowed(ready, keep)  # type: ignore[arg-type]
        looked_at.append(len(found))
        return found

    monkeypatch.setattr(engine, "narrowed", counted)
    for count in (400, 1000):
        result = solve(full_rack(count), seed=1, effort=0)
        assert result.value is not None and result.value.levels[0] == 0
    short, full = looked_at[0], looked_at[len(looked_at) // 2]
    assert full <= 60 and full <= short + 20


def test_a_start_on_pieces_that_would_go_is_kept() -> None:
    tried = full_rack(200)
    first = solve(tried, seed=1, effort=1)
    assert first.solution is not None and first.value is not None
    again = solve(tried, seed=2, effort=0, start=first.solution)
    assert again.value is not None and again.value.levels <= first.value.levels
