"""The levels of the goal as linear expressions over the model's variables."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.ground import made_width, used_up, worth_left
from nesting.model.instance import Option
from nesting.model.variables import Variables

Terms = list[tuple[cp_model.IntVar, int]]


def level_expression(v: Variables, level: int) -> cp_model.LinearExpr:
    """Return a level of the goal as an expression: see `level_terms`."""
    return expression(level_terms(v, level))


def expression(terms: Terms) -> cp_model.LinearExpr:
    """Return the sum of terms."""
    return cp_model.LinearExpr.weighted_sum([variable for variable, _ in terms], [factor for _, factor in terms])


def level_terms(v: Variables, level: int) -> Terms:
    """Return the terms of a level of the goal; what it needs besides is made when it is first asked for.

    level = w1·Σ ordered·made + w2·Σ run·made + Σ over options taken of (w3·seams + w4·seam length + w5·cost +
    w6·dislike + w7·pieces) + w5·Σ money of sources, and at the level of the rack + Σ value used up of goods in hand.
    All weights are at least 0, so minimizing makes every measure that is only bounded from below tight.
    """
    weights, sources = v.instance.weights, v.instance.sources
    roll, run, *of_options = weights.levels[level]
    terms: Terms = []
    if of_options[2]:
        v.money = _money(v) if v.money is None else v.money
        terms += [(variable, of_options[2] * factor) for variable, factor in v.money]
    if level == weights.rack:
        v.rack = _rack(v) if v.rack is None else v.rack
        terms += v.rack
    for s, source in enumerate(sources):
        if source.terms is not None:
            terms.append((v.ordered[s], roll * made_width(source)))
            terms.append((v.run[s], run * made_width(source)))
    for number, options in enumerate(v.taken):
        for taken, literal in options.items():
            terms.append((literal, side_cost(v.instance.choices[number].options[taken], of_options)))
    return [(variable, factor) for variable, factor in terms if factor]


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


def _rack(v: Variables) -> Terms:
    """Return the value used up of every piece in hand: all of it, if it is used, less what is left.

    left ≤ cap · kept, far ≤ length − keep from where kept, and left is at most one of A and 4·A − 3·small with
    A = width · (length − far), whichever is more: see `ground.worth_left`. The cap is the value of all of the piece.
    """
    terms: Terms = []
    model = v.model
    for s, source in enumerate(v.instance.sources):
        worth = source.worth
        cap = worth_left(source, 0)
        if worth is None or not cap:
            continue
        if s not in v.open_goods:
            terms.append((model.new_constant(1), used_up(source, v.settled[s])))
            continue
        used, far, width = v.used[s], v.far[s], made_width(source)
        lost, left = model.new_int_var(0, cap, f"lost {s}"), model.new_int_var(0, cap, f"left {s}")
        kept, large = model.new_bool_var(f"kept {s}"), model.new_bool_var(f"large {s}")
        model.add(lost >= cap * used - left)
        model.add(left <= cap * kept)
        model.add(far <= source.length - worth.keep_from).only_enforce_if(kept)
        model.add(left <= width * (source.length - far)).only_enforce_if(large.negated())
        model.add(left <= 4 * width * (source.length - far) - 3 * worth.small).only_enforce_if(large)
        terms.append((lost, 1))
    return terms
