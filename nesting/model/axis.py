"""One axis for all sources, so that one lattice and one model of two dimensions hold for all of them."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.model.ground import ground_of, made_width, may_anchor
from nesting.model.instance import Instance


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Where source `index` lies on the axis: its point (x, y) is at (x + `right`, y + `up`).

    Pieces lie between `low` and `high` (y of the source) when it is not anchored; anchored it loses `loss_low` there,
    `loss_high` at the end and `loss_right` of its width. Grounds of unknown phase have the phase that they would have
    if anchored: unanchored their groups are free and alone, and any phase serves.
    """

    index: int
    right: int
    up: int
    low: int
    high: int
    width: int
    loss_low: int = 0
    loss_high: int = 0
    loss_right: int = 0
    may_anchor: bool = False
    across: int | None = None
    twin: int | None = None  # the source before it that it is interchangeable with


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """All stretches in rising order, the width of the whole, and whether one lattice holds on it."""

    stretches: tuple[Stretch, ...]  # by source index
    width: int
    one_lattice: bool


def axis_of(instance: Instance, highs: tuple[int, ...], offered: frozenset[int] | None = None) -> Axis:
    """Lay the sources one after another, goods in hand first; `highs[s]` caps what is looked at of source s.

    What is not `offered` (None: all is) takes no room on the axis: nothing is laid there, it only has its phase.
    """
    lattice = instance.lattice
    stretches: dict[int, Stretch] = {}
    order = sorted(range(len(instance.sources)), key=lambda s: (instance.sources[s].terms is not None, s))
    up = 0
    for index in order:
        free = ground_of(instance, index, False)
        bound = ground_of(instance, index, True) if free.loose and may_anchor(instance.sources[index]) else free
        right, base = 0, up
        if lattice is not None:
            repeats = 0
            if bound.across is not None:
                repeats, right = divmod(bound.sigma[0], bound.across)
            base = up + (bound.sigma[1] - repeats * lattice.drop - up) % lattice.along
        high = min(free.high, highs[index])
        stretches[index] = Stretch(
            index=index,
            right=right,
            up=base,
            low=free.low,
            high=high,
            width=free.width,
            loss_low=bound.low - free.low,
            loss_high=free.high - bound.high,
            loss_right=free.width - bound.width,
            may_anchor=free.loose and may_anchor(instance.sources[index]),
            across=free.across,
            twin=_twin(instance, index),
        )
        if offered is None or index in offered:
            up = base + max(high, free.low)
    return Axis(
        stretches=tuple(stretches[s] for s in range(len(order))),
        width=max(s.right + s.width for s in stretches.values() if offered is None or s.index in offered),
        one_lattice=len({s.across for s in stretches.values()}) == 1,
    )


def _twin(instance: Instance, index: int) -> int | None:
    """Return the last order before `index` that differs from it in nothing but its id."""
    source = instance.sources[index]
    if source.terms is None:
        return None
    for other in range(index - 1, -1, -1):
        before = instance.sources[other]
        if (
            (before.lot, before.width, before.length, before.terms, before.phase, before.blocked)
            == (source.lot, source.width, source.length, source.terms, source.phase, source.blocked)
            and made_width(before) == made_width(source)
            and (before.cost, before.cost_per_unit, before.across, before.loss)
            == (source.cost, source.cost_per_unit, source.across, source.loss)
        ):
            return other
    return None
