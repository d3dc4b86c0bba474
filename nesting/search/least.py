"""Lower bounds on the first level of the goal over the options given, by dual feasible functions of the width."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from nesting.model.duals import dual_functions
from nesting.model.ground import ground_of, made_width
from nesting.model.instance import Option
from nesting.model.shapes import widths_along
from nesting.search.scheme import Ready

MOST_PRICINGS = 12


@dataclass(frozen=True, slots=True)
class Pricing:
    """One bound: what all choices add at least, and what is taken off once for goods in hand.

    The first level times `scale` is at least `least` less `hand`. `over[c][o]`: by how much that is more when choice c
    takes option o; an option that is missing there can never be taken. `goods` is the part of it that all choices need
    of goods at least.
    """

    least: int
    over: tuple[dict[int, int], ...]
    hand: int = 0
    goods: int = 0
    scale: int = 1

    @property
    def must_order(self) -> bool:
        """Tell whether the goods in hand cannot be enough."""
        return self.goods > self.hand

    @property
    def total(self) -> Fraction:
        """The bound before rounding."""
        return Fraction(self.least - self.hand, self.scale)


def _priced(
    ready: Ready, prices: Sequence[dict[int, int]], *, hand: int = 0, goods: int = 0, scale: int = 1
) -> Pricing:
    """Return the pricing in which option o of choice c adds at least `prices[c][o]`.

    The choices of an arrow group take options of one arrow: the least over all arrows that every one of them has.
    """
    least = 0
    over: list[dict[int, int]] = [{} for _ in prices]
    for members in _sharing_arrows(ready):
        by_arrow = [_least_by_arrow(ready, number, prices[number]) for number in members]
        common = set.intersection(*(set(found) for found in by_arrow))
        sums = {arrow: sum(found[arrow] for found in by_arrow) for arrow in common}
        best = min(sums.values())
        least += best
        for number, found in zip(members, by_arrow, strict=True):
            for o, price in prices[number].items():
                arrow = _arrow_of(ready, number, o)
                if arrow in sums:
                    over[number][o] = sums[arrow] - best + price - found[arrow]
    return Pricing(least, tuple(over), hand, goods, scale)


def _sharing_arrows(ready: Ready) -> list[list[int]]:
    """Return the choices in groups that take one arrow; those of a group with none in common stand alone."""
    groups: dict[object, list[int]] = {}
    for number, choice in enumerate(ready.instance.choices):
        key = ("alone", number) if choice.arrow_group is None else ("group", choice.arrow_group)
        groups.setdefault(key, []).append(number)
    sharing = []
    for members in groups.values():
        arrows = [{_arrow_of(ready, number, o) for o in ready.usable[number]} for number in members]
        sharing += [members] if set.intersection(*arrows) else [[number] for number in members]
    return sharing


def _arrow_of(ready: Ready, number: int, option: int) -> int | None:
    """Return the arrow of an option; None where its choice is bound to no other's."""
    choice = ready.instance.choices[number]
    return None if choice.arrow_group is None else choice.options[option].arrow


def _least_by_arrow(ready: Ready, number: int, prices: Mapping[int, int]) -> dict[int | None, int]:
    """Return the least price of a choice's options for every arrow."""
    found: dict[int | None, int] = {}
    for o, price in prices.items():
        arrow = _arrow_of(ready, number, o)
        found[arrow] = min(price, found.get(arrow, price))
    return found


def pricings(ready: Ready) -> list[Pricing]:
    """Return the pricings of all functions for the widest goods; one that counts no goods if none can be ordered."""
    instance = ready.instance
    orders = [s for s in instance.sources if s.terms is not None]
    sides = [
        {o: _side(instance.weights.levels[0], choice.options[o]) for o in usable}
        for choice, usable in zip(instance.choices, ready.usable, strict=True)
    ]
    bare = _priced(ready, sides)
    roll, run, *_, money, _, _ = instance.weights.levels[0]
    if not orders or roll + run + money == 0:
        return [bare]
    grounds = [ground_of(instance, s, False) for s in range(len(instance.sources))]
    width = max(ground.width for ground in grounds)
    # A piece that may lie a quarter turned counts whichever of its ways weighs less.
    boxes = [[_boxes_of(ready, c, o) for o in usable] for c, usable in enumerate(ready.usable)]
    widths = sorted({w for options in boxes for pieces in options for ways in pieces for way in ways for w, _ in way})
    # The boxes that make up wider stretches set thresholds, too.
    parts = {x1 - x0 for choice in ready.shapes for o in choice for ways in o for s in ways for x0, _, x1, _ in s.boxes}
    found = [bare]
    for f in dual_functions(width, [w for w in sorted(parts.union(widths)) if w <= width]):
        rates = [
            Fraction((roll + run) * made_width(source) + money * source.cost_per_unit, f(ground.width))
            for source, ground in zip(instance.sources, grounds, strict=True)
            if source.terms is not None and f(ground.width) > 0
        ]
        if not rates:
            continue
        weight = {w: f(w) for w in widths}
        weights = [
            [sum(min(sum(weight[w] * h for w, h in way) for way in ways) for ways in pieces) for pieces in options]
            for options in boxes
        ]
        hand = sum(
            f(min(ground.width, width)) * max(0, ground.high - ground.low)
            for source, ground in zip(instance.sources, grounds, strict=True)
            if source.terms is None
        )
        found.append(_pricing(ready, sides, weights, min(rates), hand))
    # A handful of the best is as good as all of them for what follows.
    return [bare, *sorted(found[1:], key=lambda pricing: -pricing.total)[:MOST_PRICINGS]]


def _pricing(ready: Ready, sides: list[dict[int, int]], weights: list[list[int]], rate: Fraction, hand: int) -> Pricing:
    """Return the pricing of one function at `rate` per unit of weight, scaled to whole numbers."""
    top, scale = rate.numerator, rate.denominator
    prices = tuple(
        {o: sides[c][o] * scale + top * weights[c][k] for k, o in enumerate(usable)}
        for c, usable in enumerate(ready.usable)
    )
    goods = top * sum(min(options) for options in weights)
    return _priced(ready, prices, hand=top * hand, goods=goods, scale=scale)


def _boxes_of(ready: Ready, choice: int, option: int) -> list[list[tuple[tuple[int, int], ...]]]:
    """Return per piece of an option, per way it may lie, the widths that it takes and over what lengths."""
    return [[widths_along(shape.boxes) for shape in ways] for ways in ready.shapes[choice][option]]


def _side(weights: tuple[int, ...], option: Option) -> int:
    """Return what an option adds to the first level apart from goods."""
    return (
        weights[2] * option.seams
        + weights[3] * option.seam_length
        + weights[4] * option.cost
        + weights[5] * option.dislike
        + weights[6] * len(option.pieces)
    )


def least_level(ready: Ready, found: list[Pricing]) -> int:
    """Return the best lower bound on the first level that the pricings give, rounded up to what can be attained."""
    bare = found[0].total
    least = max(pricing.total for pricing in found)
    instance = ready.instance
    roll, _, *_, money, _, _ = instance.weights.levels[0]
    orders = [s for s in instance.sources if s.terms is not None]
    if any(pricing.must_order for pricing in found):
        # Something must be ordered, and the first roll of it begins with its start allowance.
        least += min(
            (roll * made_width(s) + money * s.cost_per_unit) * s.terms.start for s in orders if s.terms is not None
        )
    # The money of every roll is rounded half up: it may lie half a coin below the exact price.
    money_slack = Fraction(money * len(orders), 2)
    least = max(least - money_slack, bare)
    rounded = -(-least.numerator // least.denominator)
    return attainable(ready, rounded)


def attainable(ready: Ready, least: int) -> int:
    """Round a bound up to a multiple of what every term of the first level is a multiple of."""
    instance = ready.instance
    roll, run, *_, money, _, _ = instance.weights.levels[0]
    common = 0
    if money and any(s.cost_per_unit or s.cost for s in instance.sources):
        return least
    for source in instance.sources:
        terms = source.terms
        if terms is None:
            continue
        length = source.length if terms.whole else gcd(terms.step, terms.minimum)
        common = gcd(common, roll * made_width(source) * length, run * made_width(source))
    for choice, usable in zip(instance.choices, ready.usable, strict=True):
        for o in usable:
            common = gcd(common, _side(instance.weights.levels[0], choice.options[o]))
    return -(-least // common) * common if common else least


def worthwhile(ready: Ready, found: list[Pricing], level: int) -> tuple[tuple[int, ...], ...]:
    """Return per choice the options with which the first level can still be as low as `level`."""
    menu = ready.usable
    for pricing in _without_rounding(ready, found):
        slack = (level - pricing.total) * pricing.scale
        menu = tuple(
            tuple(o for o in options if o in over and over[o] <= slack)
            for options, over in zip(menu, pricing.over, strict=True)
        )
    return menu


def _without_rounding(ready: Ready, found: list[Pricing]) -> list[Pricing]:
    """Return the pricings that bound the level as they stand; rounded money is left out."""
    money = ready.instance.weights.levels[0][4]
    return found[:1] if money and any(s.cost_per_unit for s in ready.instance.sources) else found
