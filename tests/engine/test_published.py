"""Published optima and worked tables that the engine must reach."""

from __future__ import annotations

import pytest

from nesting.model.instance import Lattice
from nesting.model.valuing import faults_of
from nesting.search.engine import solve
from tests.engine.making import instance, one_way, order, rect, strip

# Cutting lengths (cm) for n equal drops of a full width, whatever order they are cut in: worked by brute force over
# all orders for L in {255, 215, 200}, repeat 64, set match, half-drop and quarter-drop. (length, drop, n, least).
DROPS = [
    (255, 0, 2, 511), (255, 0, 4, 1023), (255, 0, 5, 1279),
    (255, 32, 2, 543), (255, 32, 4, 1055), (255, 32, 5, 1311),
    (255, 16, 2, 527), (255, 16, 4, 1071), (255, 16, 5, 1327),
    (215, 0, 2, 471), (215, 0, 4, 983), (215, 0, 5, 1239),
    (215, 32, 2, 439), (215, 32, 4, 887), (215, 32, 5, 1111),
    (215, 16, 2, 455), (215, 16, 4, 903), (215, 16, 5, 1127),
    (200, 0, 2, 456), (200, 0, 4, 968), (200, 0, 5, 1224),
    (200, 32, 2, 424), (200, 32, 4, 872), (200, 32, 5, 1096),
    (200, 16, 2, 408), (200, 16, 4, 824), (200, 16, 5, 1032),
]  # fmt: skip


@pytest.mark.parametrize(("length", "drop", "count", "least"), DROPS)
def test_the_order_of_cutting_is_found(length: int, drop: int, count: int, least: int) -> None:
    pitch = 400
    drops = [rect(f"{k}", pitch, length, group=0, offset=(k * pitch, 0)) for k in range(count)]
    room = instance([one_way("room", *drops)], [order(pitch, 3000)], Lattice(along=64, across=pitch, drop=drop))
    result = solve(room, seed=1, effort=2)
    assert result.value is not None and result.solution is not None
    assert faults_of(room, result.solution) == []
    assert result.value.used == (least,)
    assert result.proved


# Optima of strip packing without turning: the SCP set, BENG (Bengtsson 1982), C1_1 (Hopper and Turton 2001), as
# collected in github.com/Oscar-Oliveira/OR-Datasets, Cutting-and-Packing/2D/Datasets.
# (roll width, [(length, across, how many)], least).
STRIPS = {
    "SCP1": (5, [(3, 1, 4), (2, 2, 2), (3, 4, 2), (2, 3, 1), (5, 3, 1)], 13),
    "SCP2": (4, [(7, 2, 2), (3, 1, 2), (8, 3, 1), (11, 2, 4), (3, 2, 2)], 40),
    "SCP3": (6, [(3, 1, 4), (2, 3, 2), (1, 2, 4), (7, 2, 2), (8, 1, 3)], 14),
    "SCP4": (6, [(2, 2, 1), (3, 3, 4), (5, 2, 2), (6, 2, 1), (3, 4, 2), (5, 3, 1)], 20),
    "SCP5": (20, [(1, 9, 3), (16, 3, 1), (18, 3, 1), (20, 2, 1), (3, 1, 2)], 20),
    "SCP7": (15, [(4, 5, 3), (6, 4, 3), (10, 3, 1), (5, 2, 1)], 14),
    "SCP8": (15, [(4, 5, 4), (6, 4, 3), (10, 3, 2), (5, 2, 3)], 17),
    "BENG1": (
        25,
        [(6, 8, 2), (4, 11, 1), (3, 10, 1), (7, 4, 1), (6, 12, 1), (6, 11, 1), (8, 12, 1), (6, 3, 1), (3, 4, 1),
         (8, 3, 1), (1, 9, 2), (3, 1, 1), (3, 11, 1), (1, 11, 1), (8, 9, 1), (5, 11, 1), (7, 1, 1), (8, 7, 1)],
        30,
    ),
    "C1_1": (
        20,
        [(12, 2, 1), (12, 7, 1), (6, 8, 1), (6, 3, 1), (5, 3, 1), (5, 5, 1), (12, 3, 1), (7, 3, 1), (7, 5, 1),
         (6, 2, 1), (2, 3, 1), (2, 4, 1), (4, 3, 1), (4, 4, 1), (2, 9, 1), (2, 11, 1)],
        20,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(STRIPS))
def test_strips_are_packed_as_tightly_as_published(name: str) -> None:
    width, items, least = STRIPS[name]
    result = solve(
        strip(width, [(across, long) for long, across, many in items for _ in range(many)]), seed=1, effort=4
    )
    assert result.value is not None
    assert result.value.used == (least,)
    assert result.bound_considered <= least * width


def test_whole_rolls_are_counted() -> None:
    """Stock 10, items 7 ×2, 5 ×2, 3 ×4: four rolls (MiniZinc handbook, cutting stock)."""
    from nesting.model.instance import OrderTerms

    terms = OrderTerms(whole=True)
    choices = [one_way(f"{k}", rect(f"{k}", 5, length)) for k, length in enumerate((7, 7, 5, 5, 3, 3, 3, 3))]
    rolls = [order(5, 10, f"roll {k}", terms=terms) for k in range(8)]
    result = solve(instance(choices, rolls, levels=((1, 0, 0, 0, 0, 0, 0),)), seed=1, effort=4)
    assert result.value is not None
    assert sum(length > 0 for length in result.value.ordered) == 4
