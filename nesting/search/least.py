"""Lower bounds on the first level of the goal over the options given."""

from __future__ import annotations

from nesting.model.ground import made_width
from nesting.model.instance import Option
from nesting.search.scheme import Ready


def least_level(ready: Ready) -> int:
    """Return a lower bound on the first level: the best of all measures below, each by itself."""
    return max(0, _by_area(ready))


def _by_area(ready: Ready) -> int:
    """Area bound: per choice the option with the least weighted area, seams and money, less all goods in hand."""
    instance = ready.instance
    roll, run, seams, seam_length, money, dislike, pieces = instance.weights.levels[0]
    hand = sum(s.width * s.length for s in instance.sources if s.terms is None)
    orders = [s for s in instance.sources if s.terms is not None]
    area_rate = roll + run
    price = min((s.cost_per_unit / made_width(s) for s in orders), default=0)

    def side(option: Option) -> int:
        return (
            seams * option.seams
            + seam_length * option.seam_length
            + money * option.cost
            + dislike * option.dislike
            + pieces * len(option.pieces)
        )

    total: int = 0
    for choice, usable in zip(instance.choices, ready.usable, strict=True):
        total += min(
            side(choice.options[o]) + int((area_rate + money * price) * sum(p.area for p in choice.options[o].pieces))
            for o in usable
        )
    return max(
        total - int((area_rate + money * price) * hand) - 1,
        sum(
            min(side(choice.options[o]) for o in usable)
            for choice, usable in zip(instance.choices, ready.usable, strict=True)
        ),
    )
