"""The floor cut into slabs, and the stretches of lines that lie on it."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from nesting.floor.outlines import Exact, LayFloor, Side, ratio


class Slab(NamedTuple):
    """A trapezoid of floor between the levels v0 and v1, from its left side to its right side."""

    v0: Exact
    v1: Exact
    left: Side
    right: Side


def slabs_of(floor_: LayFloor) -> tuple[Slab, ...]:
    """Return the floor as trapezoids between the levels of its vertices, bottom up and left to right."""
    levels = sorted({v for _, v in floor_.outline} | {v for hole in floor_.holes for _, v in hole})
    slanted = [side for side in floor_.sides if side.av != side.bv]
    slabs = []
    for v0, v1 in pairwise(levels):
        here = [side for side in slanted if min(side.av, side.bv) <= v0 and max(side.av, side.bv) >= v1]
        here.sort(key=lambda side: side.at(v0) + side.at(v1))
        for left, right in zip(here[::2], here[1::2], strict=True):
            if left.au != right.au or left.bu != left.au or right.bu != right.au:
                slabs.append(Slab(v0, v1, left, right))
    return tuple(slabs)


def runs_along(slabs: tuple[Slab, ...], u: int) -> tuple[tuple[Exact, Exact], ...]:
    """Return the stretches (v from, v to) where the line at u lies inside the floor."""
    stretches: list[list[Exact]] = []
    for slab in slabs:
        v0, v1 = inside_levels(slab, u, u)
        if v0 >= v1:
            continue
        if stretches and stretches[-1][1] == v0:
            stretches[-1][1] = v1
        else:
            stretches.append([v0, v1])
    return tuple((v0, v1) for v0, v1 in stretches)


def inside_levels(slab: Slab, low: int, high: int) -> tuple[Exact, Exact]:
    """Return the levels of the slab between which left < low and high < right (none if the first is not less)."""
    v0, v1 = slab.v0, slab.v1
    for side, u, sign in ((slab.left, low, 1), (slab.right, high, -1)):
        below, above = (side.at(slab.v0) - u) * sign, (side.at(slab.v1) - u) * sign
        if below >= 0 and above >= 0:
            return slab.v1, slab.v0
        if below > 0:
            v0 = max(v0, level_at(side, u))
        elif above > 0:
            v1 = min(v1, level_at(side, u))
    return v0, v1


def runs_across(slabs: tuple[Slab, ...], v: int, u_lo: int, u_hi: int) -> tuple[tuple[int, int], ...]:
    """Return the stretches (u from, u to) of the level v inside the floor between two lines, nearest nanometre."""
    below, above = [], []
    for slab in slabs:
        if slab.v0 <= v <= slab.v1:
            chord = (max(u_lo, slab.left.at(v)), min(u_hi, slab.right.at(v)))
            if chord[0] < chord[1]:
                if v > slab.v0:
                    below.append(chord)
                if v < slab.v1:
                    above.append(chord)
    out = []
    for a0, a1 in below:
        for b0, b1 in above:
            low, high = max(a0, b0), min(a1, b1)
            if low < high:
                out.append((round(low), round(high)))
    return merged(out)


def merged(stretches: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Return stretches in rising order, those that touch made one."""
    out: list[tuple[int, int]] = []
    for low, high in sorted(stretches):
        if out and out[-1][1] >= low:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((low, high))
    return tuple(out)


def level_at(side: Side, u: Exact) -> Exact:
    """Return v where a side that does not run along the lay crosses the line at u."""
    return side.av + ratio((side.bv - side.av) * (u - side.au), side.bu - side.au)
