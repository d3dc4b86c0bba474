"""The levels of the goal as linear expressions over the model's variables."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.ground import made_width
from nesting.model.instance import Option
from nesting.model.variables import Variables

Terms = list[tuple[cp_model.IntVar, int]]


def level_expressions(v: Variables) -> list[cp_model.LinearExpr]:
    """Return one expression per level of the goal, in order: see `level_terms`."""
    return [expression(terms) for terms in level_terms(v)]


def expression(terms: Terms) -> cp_model.LinearExpr:
    """Return the sum of terms."""
    return cp_model.LinearExpr.weighted_sum([variable for variable, _ in terms], [factor for _, factor in terms])


def level_terms(v: Variables) -> list[Terms]:
    """Return the terms of every level of the goal, in order.

    level = w1·Σ ordered·made + w2·Σ run·made + Σ over options taken of (w3·seams + w4·seam length + w5·cost +
    w6·dislike + w7·pieces) + w5·Σ money of sources. All weights are at least 0, so minimizing makes every measure
    that is only bounded from below tight.
    """
    sources = v.instance.sources
    orders = [s for s, source in enumerate(sources) if source.terms is not None]
    money = _money(v) if any(level[4] for level in v.instance.weights.levels) else []
    levels = []
    for roll, run, *of_options in v.instance.weights.levels:
        terms: Terms = [(variable, of_options[2] * factor) for variable, factor in money]
        for s in orders:
            terms.append((v.ordered[s], roll * made_width(sources[s])))
            terms.append((v.run[s], run * made_width(sources[s])))
        for number, options in enumerate(v.taken):
            for taken, literal in options.items():
                terms.append((literal, side_cost(v.instance.choices[number].options[taken], of_options)))
        levels.append([(variable, factor) for variable, factor in terms if factor])
    return levels


def side_cost(option: Option, weights: list[int]) -> int:
    """Return what an option adds to a level apart from goods; `weights` from seams on."""
    seams, seam_length, money, dislike, pieces = weights
    return (
        seams * option.seams
        + seam_length * option.seam_length
        + money * option.cost
        + dislike * option.dislike
        + pieces * len(option.pieces)
    )


def _money(v: Variables) -> Terms:
    """Return the money for the goods: per source ordered × price rounded half up, and its fixed cost if it is used."""
    terms: Terms = []
    for s, source in enumerate(v.instance.sources):
        terms.append((v.used[s], source.cost))
        price = source.cost_per_unit
        if source.terms is None or price == 0:
            continue
        most = int(price * source.length) + 1
        rounded = v.model.new_int_var(0, most, f"money {s}")
        # ⌊(2·p·ordered + q) / 2q⌋ for a price of p/q is the least whole number with 2q·money ≥ 2p·ordered − q + 1.
        p, q = price.numerator, price.denominator
        v.model.add(2 * q * rounded >= 2 * p * v.ordered[s] - q + 1)
        terms.append((rounded, 1))
    return terms
