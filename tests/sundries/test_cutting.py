"""Runs cut from stock lengths: published optima, brute force on tiny cases, kerf, joints and prices."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.sundries import StockLength
from nesting.sundries.cutting import Cutting, Least, cut_from, in_pieces, left_of
from nesting.sundries.patterns import MOST_CELLS, Task, most_valuable
from nesting.sundries.program import _Run, solve
from tests.making import CM, INCH, MM, M

PUBLISHED = {
    # name: (stock, (length, count) …, fewest stock lengths), the source behind it
    # V. Chvátal, Linear Programming, 1983, p. 195; value of the linear program 452.25
    "thirteen hundred rolls": (100, ((45, 97), (36, 610), (31, 395), (14, 211)), 453),
    # Wikipedia, "Cutting stock problem", the example of a paper machine 5600 mm wide
    "paper machine": (
        5600,
        (
            *((1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18), (1930, 20)),
            *((2000, 10), (2050, 12), (2100, 14), (2140, 16), (2150, 18), (2200, 20)),
        ),
        73,
    ),
    # the Mosel paper on multiple models (multimod), demands reconstructed; value of the linear program 160.952
    "half centimetres": (94, ((17, 150), (21, 96), ("22.5", 48), (24, 108), ("29.5", 227)), 161),
    # a teaching example of bars of 12 m, as collected with the others: 23.9 m left over
    "bars of 12 m": (12, (("3.4", 34), (3, 13), ("2.7", 5)), 16),
    # MiniZinc handbook, cutting stock
    "four lengths": (10, ((7, 2), (5, 2), (3, 4)), 4),
    # two teaching examples of rolls of 100 in; the linear program of the second: 76.25
    "rolls of 100 in": (100, ((50, 20), (40, 40), (30, 120), (20, 100)), 82),
    "reels of 100 in": (100, ((60, 30), (48, 50), (36, 25), (24, 90)), 77),
}


def stock(*lengths_nm: int, prices: tuple[int, ...] = ()) -> tuple[StockLength, ...]:
    each = prices or (None,) * len(lengths_nm)
    return tuple(StockLength(length_nm=nm, price=price) for nm, price in zip(lengths_nm, each, strict=True))


def see_that_it_is_a_cutting(
    cutting: Cutting, pieces_nm: list[int], lengths: tuple[StockLength, ...], kerf: int
) -> None:
    """Every piece is cut once, from lengths that are sold, and the sums are right."""
    cut = Counter[int]()
    for way in cutting.lengths:
        assert way.stock_nm in [length.length_nm for length in lengths]
        assert sum(way.pieces_nm) + kerf * (len(way.pieces_nm) - 1) <= way.stock_nm
        assert way.left_nm == left_of(way.stock_nm, way.pieces_nm, kerf)
        cut.update({nm: count * way.count for nm, count in Counter(way.pieces_nm).items()})
    assert cut == Counter(pieces_nm)
    assert cutting.stock_nm == sum(nm * count for nm, count in cutting.bought)
    assert cutting.bound <= cutting.value
    price = {length.length_nm: length.price or 0 for length in lengths}
    if cutting.least is Least.COST:
        assert cutting.value == cutting.cost == sum(price[nm] * count for nm, count in cutting.bought)
    else:
        assert cutting.value == cutting.stock_nm


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_optima_are_met_and_proved(name: str) -> None:
    length, items, fewest = PUBLISHED[name]
    pieces = [int(Fraction(size) * MM) for size, count in items for _ in range(count)]
    cutting = cut_from(pieces, stock(length * MM))
    see_that_it_is_a_cutting(cutting, pieces, stock(length * MM), 0)
    assert sum(way.count for way in cutting.lengths) == fewest
    assert cutting.proved


def test_the_published_sums() -> None:
    length, items, _ = PUBLISHED["bars of 12 m"]
    pieces = [int(Fraction(size) * M) for size, count in items for _ in range(count)]
    assert cut_from(pieces, stock(length * M)).left_nm == 23_900 * MM
    _, items, _ = PUBLISHED["paper machine"]
    assert sum(int(size) * count for size, count in items) == 407_160


# --- brute force -----------------------------------------------------------------------------------------------------


def least_by_brute_force(pieces: tuple[int, ...], lengths: tuple[tuple[int, int], ...], kerf: int) -> int:
    """Return the least weight of stock for pieces, by trying every set of pieces for the first one."""

    @cache
    def least(left: tuple[int, ...]) -> int:
        if not left:
            return 0
        best = 10**9
        for chosen in product((False, True), repeat=len(left) - 1):
            taken = [left[0], *(piece for piece, is_in in zip(left[1:], chosen, strict=True) if is_in)]
            rest = tuple(piece for piece, is_in in zip(left[1:], chosen, strict=True) if not is_in)
            need = sum(taken) + kerf * (len(taken) - 1)
            fits = [weight for length, weight in lengths if need <= length]
            if fits:
                best = min(best, min(fits) + least(rest))
        return best

    return least(tuple(sorted(pieces, reverse=True)))


@settings(max_examples=60, deadline=None)
@given(
    pieces=st.lists(st.integers(1, 12), min_size=1, max_size=7),
    lengths=st.lists(st.integers(12, 20), min_size=1, max_size=3, unique=True),
    kerf=st.sampled_from([0, 0, 1, 2]),
    data=st.data(),
)
def test_brute_force_agrees(pieces: list[int], lengths: list[int], kerf: int, data: st.DataObject) -> None:
    prices = tuple(data.draw(st.integers(1, 30)) for _ in lengths) if data.draw(st.booleans()) else ()
    sold = stock(*(length * MM for length in lengths), prices=prices)
    cutting = cut_from([piece * MM for piece in pieces], sold, kerf * MM)
    see_that_it_is_a_cutting(cutting, [piece * MM for piece in pieces], sold, kerf * MM)
    weights = tuple(zip(lengths, prices or lengths, strict=True))
    assert cutting.value == least_by_brute_force(tuple(pieces), weights, kerf) * (1 if prices else MM)
    assert cutting.proved


@settings(max_examples=60, deadline=None)
@given(
    sizes=st.lists(st.integers(2, 30), min_size=1, max_size=5, unique=True),
    data=st.data(),
)
def test_the_most_valuable_pattern_by_table_and_by_branching(sizes: list[int], data: st.DataObject) -> None:
    sizes.sort(reverse=True)
    demands = tuple(data.draw(st.integers(1, 3)) for _ in sizes)
    values = tuple(data.draw(st.integers(0, 50)) for _ in sizes)
    capacity = data.draw(st.integers(max(sizes), 60))
    best = max(
        sum(value * count for value, count in zip(values, counts, strict=True))
        for counts in product(*(range(demand + 1) for demand in demands))
        if sum(size * count for size, count in zip(sizes, counts, strict=True)) <= capacity
    )
    far = MOST_CELLS  # steps so fine that no table holds them: it is sought by branching
    for scale in (1, far):
        task = Task(
            sizes=tuple(size * scale for size in sizes),
            demands=demands,
            capacities=(capacity * scale,),
            weights=(1,),
        )
        ((worth, patterns),) = most_valuable(task, values)
        assert worth == best
        assert sum(values[kind] * count for kind, count in patterns[0]) == best
        assert all(task.used(pattern) <= capacity * scale for pattern in patterns)


# --- kerf, prices, joints --------------------------------------------------------------------------------------------


def test_the_last_piece_may_end_with_the_stock() -> None:
    assert cut_from([1_200 * MM, 1_200 * MM], stock(2_400 * MM)).bought == ((2_400 * MM, 1),)
    assert cut_from([1_200 * MM, 1_200 * MM], stock(2_400 * MM), 3 * MM).bought == ((2_400 * MM, 2),)
    assert cut_from([1_200 * MM, 1_197 * MM], stock(2_400 * MM), 3 * MM).bought == ((2_400 * MM, 1),)


def test_the_cheaper_length_is_bought_though_it_is_longer() -> None:
    pieces = [2_000 * MM] * 3
    assert cut_from(pieces, stock(2_400 * MM, 3_000 * MM)).bought == ((2_400 * MM, 3),)
    dear = cut_from(pieces, stock(2_400 * MM, 3_000 * MM, prices=(500, 400)))
    assert dear.bought == ((3_000 * MM, 3),) and dear.cost == 1_200
    assert dear.least is Least.COST


def test_a_missing_price_makes_length_count_and_leaves_the_cost_open() -> None:
    lengths = (StockLength(length_nm=3 * M, price=500), StockLength(length_nm=2 * M))
    both = cut_from([3 * M, 2 * M], lengths)
    assert both.least is Least.LENGTH and both.cost is None
    assert cut_from([3 * M], lengths).cost == 500


def test_exact_in_inches_and_in_millimetres_together() -> None:
    assert cut_from([48 * INCH, 48 * INCH], stock(96 * INCH)).bought == ((96 * INCH, 1),)
    both = cut_from([48 * INCH, 1_219 * MM], stock(96 * INCH))
    assert both.bought == ((96 * INCH, 1),) and both.left_nm == 96 * INCH - 48 * INCH - 1_219 * MM


def test_nothing_to_cut() -> None:
    nothing = cut_from([], stock(3 * M, prices=(500,)))
    assert nothing.lengths == () and nothing.cost == 0 and nothing.proved


def test_a_piece_that_no_length_holds_is_refused() -> None:
    with pytest.raises(ValueError, match="longer than every stock length"):
        cut_from([3 * M + 1], stock(3 * M))


@given(
    run=st.integers(1, 40 * 1_000).map(lambda mm: mm * MM),
    longest=st.integers(600, 5_000).map(lambda mm: mm * MM),
    least=st.integers(1, 300).map(lambda mm: mm * MM),
)
def test_a_run_is_joined_from_the_fewest_pieces_none_too_short(run: int, longest: int, least: int) -> None:
    pieces = in_pieces(run, longest, least)
    assert sum(pieces) == run
    assert len(pieces) == -(-run // longest)
    assert all(piece <= longest for piece in pieces)
    assert len(pieces) == 1 or min(pieces) >= least


def test_a_short_rest_is_lengthened() -> None:
    assert in_pieces(5_200 * MM, 2_500 * MM, 40 * CM) == (2_500 * MM, 2_300 * MM, 400 * MM)


def test_many_walls_and_three_lengths_are_proved() -> None:
    """Twenty walls of a house in millimetres, drawn once: no two alike."""
    walls = (
        1843,
        2917,
        655,
        1208,
        2233,
        3000,
        411,
        978,
        1534,
        2721,
        1999,
        867,
        1342,
        2510,
        733,
        1120,
        589,
        2044,
        1671,
        306,
    )
    sold = stock(2_400 * MM, 3_000 * MM, 5_000 * MM)
    cutting = cut_from([wall * MM for wall in walls], sold, 3 * MM)
    see_that_it_is_a_cutting(cutting, [wall * MM for wall in walls], sold, 3 * MM)
    assert cutting.proved


@settings(max_examples=15, deadline=None)
@given(pieces=st.lists(st.integers(300, 2_400), min_size=1, max_size=25))
def test_order_does_not_matter_and_more_never_takes_less(pieces: list[int]) -> None:
    sold = stock(2_400 * MM)
    whole = cut_from([piece * MM for piece in pieces], sold, 2 * MM)
    assert whole == cut_from([piece * MM for piece in reversed(pieces)], sold, 2 * MM)
    assert cut_from([piece * MM for piece in pieces[1:]], sold, 2 * MM).bound <= whole.value


def test_an_answer_that_is_not_proved_says_how_far_it_may_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without its whole-number program the first fit stays, beside a bound that still holds."""
    task = Task(sizes=(6, 5, 4, 3), demands=(1, 2, 1, 2), capacities=(13,), weights=(1,))
    assert solve(task).weight == 2
    monkeypatch.setattr("nesting.sundries.program._run", lambda *_: _Run(cut=(), over=False))
    answer = solve(task)
    assert (answer.weight, answer.bound, answer.proved) == (3, 2, False)
