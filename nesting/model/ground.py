"""What a source offers: where pieces may lie on it, the pattern's phase there, and how an order is rounded."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.model.instance import Instance, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The usable part of one source under given anchoring.

    Pieces lie in 0 ≤ x ≤ `width`, `low` ≤ y ≤ `high`. `sigma` is the pattern's phase σ at (0, 0), `across` the repeat
    across that holds on this source (None: x is free). `loose`: the phase is not known and not bound, so that a
    phase group on this source uses no other and has no placed phase.
    """

    width: int
    low: int
    high: int
    sigma: tuple[int, int]
    across: int | None
    loose: bool


def made_width(source: Source) -> int:
    """Return the width that measures count."""
    return source.made_width or source.width


def may_anchor(source: Source) -> bool:
    """Tell whether a source of unknown phase may be bound to a pattern at all."""
    return source.phase is None and (source.terms is None or source.terms.anchor_along is not None)


def ground_of(instance: Instance, index: int, anchored: bool) -> Ground:
    """Return the ground of source `index`; `high` < `low` when nothing can be cut from it."""
    source = instance.sources[index]
    lattice = instance.lattice
    width, low, high = source.width, 0, source.length
    terms = source.terms
    if terms is None:
        if anchored:
            width, high = width - source.loss[0], high - source.loss[1]
        sigma = source.phase or (0, 0)
    else:
        low = terms.start
        if anchored:
            low += terms.anchor_along or 0
            width -= terms.anchor_across
        if not terms.whole:
            high = source.length // terms.step * terms.step if terms.minimum <= source.length else -1
        sigma = source.phase or (0, -low)
    across = None
    if lattice is not None and lattice.across is not None:
        across = source.across or lattice.across
    return Ground(
        width=width,
        low=low,
        high=high,
        sigma=sigma,
        across=across,
        loose=lattice is not None and source.phase is None and not anchored,
    )


def grounds_of(instance: Instance, anchored: tuple[bool, ...]) -> tuple[Ground, ...]:
    """Return the grounds of all sources under the given anchoring."""
    return tuple(ground_of(instance, index, anchored[index]) for index in range(len(instance.sources)))


def ordered_length(source: Source, far: int) -> int:
    """Return what is ordered when the last piece ends at y = `far` > 0 of the physical roll; 0 for goods in hand.

    max(minimum, ⌈far / step⌉ · step); a whole roll in full.
    """
    terms = source.terms
    if terms is None:
        return 0
    if terms.whole:
        return source.length
    return max(terms.minimum, -(-far // terms.step) * terms.step)


def worth_left(source: Source, far: int) -> int:
    """Return the value of what is left of a piece in hand beyond y = `far`, in quarters of a square unit.

    0 below the length worth keeping, else max(A, 4·A − 3·small) with A = width · length left.
    """
    worth = source.worth
    if worth is None:
        return 0
    left = source.length - max(far, worth.begun)
    if left < worth.keep_from:
        return 0
    area = made_width(source) * left
    return max(area, 4 * area - 3 * worth.small)


def used_up(source: Source, far: int) -> int:
    """Return by how much the value of a piece in hand falls when its last cut ends at `far` (0: it is not used)."""
    return worth_left(source, 0) - worth_left(source, far) if far else 0


def money_of(source: Source, ordered: int) -> int:
    """Return the money for a source that is used: ordered length × price, rounded half up, plus its fixed cost."""
    exact = source.cost_per_unit * ordered
    return (2 * exact.numerator + exact.denominator) // (2 * exact.denominator) + source.cost
