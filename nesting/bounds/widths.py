"""Values of widths: how much of the roll a run of each width counts for, whatever lies beside it.

A *value* v of widths is valid for goods of widths W₁, W₂, … if runs that lie side by side on Wᵢ never count more than
Wᵢ together. (Scaled to v(W) = 1 that is a dual feasible function: Fekete and Schepers, "New classes of fast lower
bounds for bin packing problems", Mathematical Programming 91, 2001.) Every valid value bounds the roll from below; the
best one is the dual solution of the cutting-stock linear program over all layouts and all sets of runs side by side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.bounds.kernels import most_side_by_side

Whole = NDArray[np.int64]

SCALE = 1_000
"""What one step of the goods' width counts: values are whole numbers of thousandths of a step."""


def by_area(widest: int) -> Whole:
    """Return the value that counts every run by its own width."""
    return np.arange(widest + 1, dtype=np.int64) * SCALE


def jumps_of(value: Whole) -> Whole:
    """Return the widths at which a rising value rises."""
    return (np.nonzero(np.diff(value))[0] + 1).astype(np.int64)


def capacity(value: Whole) -> Whole:
    """Return, for goods of every width, the most that runs side by side on them count."""
    jumps = jumps_of(value)
    return most_side_by_side(jumps, value[jumps], len(value) - 1)


def made_valid(wanted: Whole, made: Sequence[int]) -> Whole:
    """Return a valid value near the wanted one, a rising one, for goods of the made widths (steps).

    Scaled down as far as needed. With one width made, what is wider than half of it is then raised to all that it
    could count: two such runs never lie side by side.
    """
    most = capacity(wanted)
    value = wanted
    excess = max((most[width] / (width * SCALE) for width in made), default=0.0)
    if excess > 1:
        value = np.floor(wanted / excess).astype(np.int64)
        while any(capacity(value)[width] > width * SCALE for width in made):
            value = np.maximum(0, value - 1)
    if len(made) == 1:
        value = _lifted(value, made[0])
    return value


def _lifted(value: Whole, width: int) -> Whole:
    half = width // 2
    small = value[: width + 1].copy()
    small[half + 1 :] = small[half]
    beside = capacity(small)
    lifted = value.copy()
    lifted[half + 1 : width + 1] = width * SCALE - beside[width - np.arange(half + 1, width + 1)]
    lifted[width + 1 :] = np.maximum(lifted[width + 1 :], lifted[width])
    return np.maximum.accumulate(lifted)


def families(widest: int, made: Sequence[int]) -> list[Whole]:
    """Return values that are known to bound well where pieces are wide: by area, and what is narrow left out.

    For goods W and a width e ≤ W/2: wider than W − e counts W, narrower than e nothing, the rest its width
    (u^(ε) in Fekete and Schepers 2001).
    """
    width = max(made)
    found = [by_area(widest)]
    for part in (20, 10, 6, 5, 4, 3):
        least = max(1, width // part)
        value = by_area(widest)
        value[: least + 1] = 0
        value[width - least :] = np.maximum(value[width - least :], width * SCALE)
        found.append(made_valid(np.maximum.accumulate(value), made))
    return found
