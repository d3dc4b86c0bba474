"""How much underlay of a width of its own a floor takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from nesting.domain.geometry import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderlayRuns:
    """The runs of underlay in a room: how many, and how much of the roll they take in all."""

    runs: int
    length_nm: int


def underlay_runs(floor: Sequence[Point], width_nm: int) -> UnderlayRuns:
    """Return the runs of underlay under a floor, along it or across it, whichever takes less.

    From one side of the floor to the other lies run beside run; each is as long as the floor is from end to end
    within it. Where the last one is so narrow that several of its kind lie side by side in the width, it is made up of
    such strips, joined end to end. Within a run pieces may be joined, so that the runs are cut one after another from
    any roll. What is cut out of the floor is not taken off.
    """
    turned = [(v, u) for u, v in floor]
    ways = [_along(floor, width_nm), _along(turned, width_nm)]
    return min(ways, key=lambda way: (way.length_nm, way.runs))


def _along(floor: Sequence[Point], width_nm: int) -> UnderlayRuns:
    """Return the runs that lie along v."""
    left, right = min(u for u, _ in floor), max(u for u, _ in floor)
    runs = -((left - right) // width_nm)
    total = 0
    for run in range(runs):
        start, end = left + run * width_nm, min(left + (run + 1) * width_nm, right)
        side_by_side = width_nm // (end - start)
        total += ceil(extent(floor, start, end) / side_by_side)
    return UnderlayRuns(runs=runs, length_nm=total)


def extent(floor: Sequence[Point], start: int, end: int) -> Fraction:
    """Return from where to where, along v, a floor reaches between u = start and u = end."""
    met: list[Fraction] = []
    for i, (bu, bv) in enumerate(floor):
        au, av = floor[i - 1]
        low, high = max(start, min(au, bu)), min(end, max(au, bu))
        if low < high:  # the ends of a side along v are ends of others too
            met += [av + Fraction((bv - av) * (at - au), bu - au) for at in (low, high)]
    return max(met) - min(met)
