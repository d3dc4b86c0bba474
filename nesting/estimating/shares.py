"""Shares of a whole that add up to it however they are rounded."""

from __future__ import annotations

from collections.abc import Sequence


def in_steps(amounts: Sequence[int], steps: int) -> tuple[int, ...]:
    """Return the amounts as whole steps, so many in all: each rounded down, then the largest remainders up.

    Of equal remainders the first is rounded up first; no amounts at all, or none but 0, have no steps.
    """
    whole = sum(amounts)
    if whole == 0:
        return (0,) * len(amounts)
    pairs = [divmod(amount * steps, whole) for amount in amounts]
    left = steps - sum(floor for floor, _ in pairs)
    up = set(sorted(range(len(pairs)), key=lambda place: (-pairs[place][1], place))[:left])
    return tuple(floor + (place in up) for place, (floor, _) in enumerate(pairs))
