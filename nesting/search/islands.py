"""Annealing as the rounds use it: from a scheme to the best solution that a run of counted work meets."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

import numpy as np

from nesting.model.ground import may_anchor
from nesting.model.objective import side_cost
from nesting.model.valuing import faults_of, phases_of_groups, value_of
from nesting.progress import Stop
from nesting.search.annealing import E_COLD, E_HEAT, E_MISSING, E_MIX, E_OVER, anneal
from nesting.search.arrays import F_LEVELS, F_SOURCES, Real, Whole, flat_of
from nesting.search.compiling import make_ready
from nesting.search.improving import Found
from nesting.search.moves import MOVE_ROW, MOVES
from nesting.search.scheme import Ready, Scheme
from nesting.search.state import BEST, M_FOUND, M_LOOKS, M_STEPS, NOW, Desk, desk_of, scheme_from, solution_from

LOOKS_PER_UNIT = 150_000_000
"""Looks at boxes that take about a second."""
SLICE = 3_000_000
"""Looks between two questions whether to stop: about a twentieth of a second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Where the temperature of a run begins and ends, in millionths of what all pieces take of the goods."""

    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Annealed:
    """What a run found: the best complete solution, and the scheme that it held at its end."""

    found: Found | None
    scheme: Scheme
    steps: int


def annealed(ready: Ready, scheme: Scheme, seed: int, looks: int, heat: Heat, stop: Stop) -> Annealed:
    """Return what a run of `looks` of counted work from `scheme` finds; the same arguments find the same."""
    if phases_of_groups(ready.instance, scheme.options) is None or not scheme.sequence:
        return Annealed(found=None, scheme=scheme, steps=0)
    desk = desk_of(ready, flat_of(ready), scheme, seed)
    real = energies_of(ready, desk.flat, scheme)
    goods = goods_of_scheme(ready, scheme)
    real[E_HEAT], real[E_COLD] = heat.start * goods / 1e6, heat.end * goods / 1e6
    moves = _moves(ready)
    desk.state[MOVE_ROW, : len(moves)] = moves
    if not make_ready(anneal, stop):
        return Annealed(found=None, scheme=scheme, steps=0)
    while desk.state[0, M_LOOKS] < looks and not stop():
        anneal(*desk, real, looks, min(looks, int(desk.state[0, M_LOOKS]) + SLICE))
    return Annealed(
        found=_best_of(ready, desk), scheme=scheme_from(ready, desk, NOW), steps=int(desk.state[0, M_STEPS])
    )


def _best_of(ready: Ready, desk: Desk) -> Found | None:
    """Return the best solution that a search met, if it is lawful."""
    if not desk.state[0, M_FOUND]:
        return None
    solution = solution_from(ready, desk, BEST)
    if faults_of(ready.instance, solution):
        return None
    return Found(solution, value_of(ready.instance, solution), scheme_from(ready, desk, BEST))


def _moves(ready: Ready) -> list[int]:
    """Return the weight of every move, 0 for those that can change nothing in this instance."""
    instance = ready.instance
    turning = any(len(ways) > 1 for options in ready.shapes for pieces in options for ways in pieces)
    weights = (
        4,
        6,
        1,
        6 * any(len(usable) > 1 for usable in ready.usable),
        any(choice.arrow_group is not None for choice in instance.choices),
        3 * (len(ready.lots) > 1 and any(choice.lot_group is not None for choice in instance.choices)),
        len(instance.sources) > 1,
        len(ready.order_lots) > 1 and instance.orders_of_one_lot,
        instance.lattice is not None and any(may_anchor(source) for source in instance.sources),
        3,
        2 * turning,
    )
    listed = [int(weight) for weight in weights]
    assert len(listed) == MOVES
    return [*listed, sum(listed)]


def goods_of_scheme(ready: Ready, scheme: Scheme) -> float:
    """Return about what the pieces of a scheme cost in the first level that counts goods, at the orders' prices."""
    area = sum(
        piece.area
        for choice, taken in zip(ready.instance.choices, scheme.options, strict=True)
        for piece in choice.options[taken].pieces
    )
    return max(1.0, area * rate_of(ready))


def rate_of(ready: Ready) -> float:
    """Return what a square unit of goods costs at least when it is ordered; 1 where nothing is, or it is free."""
    sources = ready.instance.sources
    rates = [rate / source.width for rate, source in zip(ready.rates, sources, strict=True) if source.terms is not None]
    return min(rates, default=1.0) or 1.0


def energies_of(ready: Ready, flat: Whole, scheme: Scheme) -> Real:
    """Return what everything adds to the energy, beside the rows of `flat` (see `annealing`).

    A piece without a place costs three times what the longest takes of the widest goods.
    """
    goods = goods_of_scheme(ready, scheme)
    factors = factors_of(ready, goods)
    options = (option for choice in ready.instance.choices for option in choice.options)
    longest = max(max(piece.length, piece.width) for option in options for piece in option.pieces)
    largest = longest * max(source.width for source in ready.instance.sources)
    real = np.zeros(len(flat), dtype=np.float64)
    real[E_MISSING], real[E_OVER], real[E_MIX] = 3.0 * largest * rate_of(ready), goods / 10, 0.5
    real[flat[0, F_LEVELS] : flat[0, F_LEVELS] + len(factors)] = factors
    slopes = _slopes(ready, factors)
    real[flat[0, F_SOURCES] : flat[0, F_SOURCES] + len(slopes)] = slopes
    return real


def factors_of(ready: Ready, goods: float) -> list[float]:
    """Return what a unit of every level adds to the energy.

    The first level that counts goods counts in full, a step of a level before it a tenth of all goods, and all later
    levels together little: they choose among equals. The level of the rack counts in quarters of a square unit.
    """
    weights, rack = ready.instance.weights.levels, ready.instance.weights.rack
    counting = [level for level, row in enumerate(weights) if row[0] or row[1] or row[4]]
    first = counting[0] if counting else len(weights) - 1
    factors = []
    for level, row in enumerate(weights):
        sides = [abs(side) for side in side_column(ready, level)]
        if level == first:
            factors.append(1.0)
        elif level < first:
            factors.append(goods / 10 / max(1, gcd(*sides)))
        else:
            most = max(sides) * len(ready.instance.choices) + (goods if row[0] or row[1] or row[4] else 0)
            most += 4 * goods / rate_of(ready) if level == rack else 0
            factors.append(goods / 500 / max(1, most))
    return factors


def side_column(ready: Ready, level: int) -> list[int]:
    """Return what every option adds to a level apart from goods."""
    weights = list(ready.instance.weights.levels[level][2:])
    return [side_cost(option, weights) for choice in ready.instance.choices for option in choice.options]


def _slopes(ready: Ready, factors: list[float]) -> list[float]:
    """Return what a unit of every source's length adds to the energy at least."""
    slopes = []
    for source in ready.instance.sources:
        slope = 0.0
        if source.terms is not None and not source.terms.whole:
            made = source.made_width or source.width
            for factor, row in zip(factors, ready.instance.weights.levels, strict=True):
                slope += factor * float((row[0] + row[1]) * made + row[4] * source.cost_per_unit)
        slopes.append(slope)
    return slopes
