"""The skyline kernel: what it packs is lawful, equal for equal seeds, and no longer than what brute force finds."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from nesting.model.instance import Choice, Instance, Option, OrderTerms, Piece, Source, Weights
from nesting.model.valuing import faults_of
from nesting.search.engine import EngineResult, solve
from nesting.search.scheme import make_ready
from nesting.search.skyline import is_plain

USED_LENGTH = Weights(levels=((0, 1, 0, 0, 0, 0, 0),))
Sizes = list[tuple[int, int]]


def strip(width: int, sizes: Sizes, turns: tuple[int, ...] = (0,), **given: int) -> Instance:
    """Return the instance of packing rectangles on one roll whose used length is to be least."""
    choices = tuple(
        Choice(id=f"{k}", options=(Option(pieces=(Piece(id=f"{k}", boxes=((0, 0, w, h),), turns=turns, **given),)),))
        for k, (w, h) in enumerate(sizes)
    )
    roll = Source(
        id="roll", width=width, length=sum(h for _, h in sizes), lot="a", made_width=1, terms=OrderTerms(start=0)
    )
    return Instance(unit_nm=Fraction(1), choices=choices, sources=(roll,), weights=USED_LENGTH)


def cut_up(width: int, length: int, count: int, seed: int) -> Sizes:
    """Return the parts of a rectangle that is cut again and again through its largest part."""
    chance = random.Random(seed)
    parts = [(width, length)]
    while len(parts) < count:
        w, h = parts.pop(max(range(len(parts)), key=lambda i: parts[i][0] * parts[i][1]))
        if w * chance.random() > h * chance.random() and w > 1:
            at = chance.randint(1, w - 1)
            parts += [(at, h), (w - at, h)]
        else:
            at = chance.randint(1, h - 1)
            parts += [(w, at), (w, h - at)]
    chance.shuffle(parts)
    return parts


def searched(instance: Instance, effort: int = 2, seed: int = 1) -> EngineResult:
    """Return what the engine finds, which must be lawful."""
    result = solve(instance, seed=seed, effort=effort)
    assert result.solution is not None
    assert faults_of(instance, result.solution) == []
    return result


def least_length(width: int, sizes: Sizes, turned: bool) -> int:
    """Return the least length by trying every order, turn and lowest left corner."""
    best = sum(max(size) for size in sizes)

    def put(laid: list[tuple[int, int, int, int]], rest: Sizes, far: int) -> None:
        nonlocal best
        if far >= best:
            return
        if not rest:
            best = far
            return
        corners = {(x, y) for x in [0, *(b[2] for b in laid)] for y in [0, *(b[3] for b in laid)]}
        for k, size in enumerate(rest):
            for w, h in {size, size[::-1]} if turned else {size}:
                for x, y in corners:
                    if x + w <= width and not any(
                        x < b[2] and b[0] < x + w and y < b[3] and b[1] < y + h for b in laid
                    ):
                        put([*laid, (x, y, x + w, y + h)], rest[:k] + rest[k + 1 :], max(far, y + h))

    put([], sizes, 0)
    return best


@pytest.mark.parametrize("turned", [False, True])
def test_packs_as_short_as_brute_force(turned: bool) -> None:
    """On tiny instances nothing shorter exists than what is found."""
    chance = random.Random(5)
    for _ in range(6):
        sizes = [(chance.randint(1, 6), chance.randint(1, 6)) for _ in range(4)]
        result = searched(strip(7, sizes, (0, 1) if turned else (0,)), effort=1)
        assert result.value is not None
        assert result.value.levels[0] == least_length(7, sizes, turned)


@pytest.mark.parametrize("seed", range(4))
def test_parts_of_a_rectangle_go_back_together(seed: int) -> None:
    """A rectangle cut into parts is packed without waste, and that is proved."""
    result = searched(strip(30, cut_up(30, 40, 14, seed)), effort=6)
    assert result.value is not None
    assert result.value.levels[0] == 40
    assert result.proved


def test_equal_seeds_give_equal_packings() -> None:
    """The same seed gives the same places; they are lawful for pieces that may turn, too."""
    chance = random.Random(9)
    sizes = [(chance.randint(5, 60), chance.randint(5, 60)) for _ in range(30)]
    instance = strip(101, sizes, (0, 1))
    first, again = (searched(instance, effort=1, seed=3) for _ in range(2))
    assert first.solution == again.solution


def test_insets_of_all_pieces_are_kept() -> None:
    """Pieces that keep off the roll's edges are packed between them."""
    instance = strip(34, cut_up(30, 20, 8, 2), inset_left=3, inset_right=1)
    assert is_plain(make_ready(instance))
    assert searched(instance).proved


def test_stop_ends_a_long_search() -> None:
    """Told to stop, the search hands over what it has."""
    chance = random.Random(2)
    sizes = [(chance.randint(5, 60), chance.randint(5, 60)) for _ in range(120)]
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 40

    instance = strip(101, sizes)
    result = solve(instance, seed=1, effort=10**6, stop=stop)
    assert result.stop == "stopped"
    assert result.solution is not None
    assert faults_of(instance, result.solution) == []
