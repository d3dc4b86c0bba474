"""Stretches across the lay in which something lies: zones, joints and narrow breadths against the floor."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.domain.geometry import Point
from nesting.floor.breadths import Slab, inside_levels
from nesting.floor.outlines import Exact, ratio

Stretch = tuple[Exact, Exact]
"""An open stretch (from, to)."""

Corner = tuple[Exact, Exact]


def stretches_through(slabs: Sequence[Slab], zone: Sequence[Point]) -> list[Stretch]:
    """Return the stretches of u in which a line on the floor runs through the inside of a convex zone."""
    across = [u for u, _ in zone]
    along = [v for _, v in zone]
    out: list[Stretch] = []
    for slab in slabs:
        if min(along) >= slab.v1 or max(along) <= slab.v0:
            continue
        corners: list[Corner] = [
            (slab.left.at(slab.v0), slab.v0),
            (slab.right.at(slab.v0), slab.v0),
            (slab.right.at(slab.v1), slab.v1),
            (slab.left.at(slab.v1), slab.v1),
        ]
        if min(across) >= max(u for u, _ in corners) or max(across) <= min(u for u, _ in corners):
            continue
        common = clipped_convex(corners, zone)
        if len(common) > 2:
            low, high = min(u for u, _ in common), max(u for u, _ in common)
            if low < high and min(v for _, v in common) < max(v for _, v in common):
                out.append((low, high))
    return out


def clipped_convex(corners: Sequence[Corner], zone: Sequence[Point]) -> list[Corner]:
    """Return what a convex polygon and a convex zone (either way round) have in common."""
    count = len(zone)
    area = sum(zone[i - 1][0] * zone[i][1] - zone[i][0] * zone[i - 1][1] for i in range(count))
    ring = list(zone) if area > 0 else list(zone)[::-1]
    out = list(corners)
    for i in range(count):
        (au, av), (bu, bv) = ring[i - 1], ring[i]
        inside = [(bu - au) * (v - av) - (bv - av) * (u - au) for u, v in out]
        kept: list[Corner] = []
        for j, (u, v) in enumerate(out):
            before, here = inside[j - 1], inside[j]
            if (before < 0 < here) or (here < 0 < before):
                pu, pv = out[j - 1]
                part = ratio(before, before - here)
                kept.append((pu + ratio((u - pu) * part, 1), pv + ratio((v - pv) * part, 1)))
            if here >= 0:
                kept.append((u, v))
        out = kept
        if not out:
            break
    return out


def stretches_overlapping(slabs: Sequence[Slab], v_from: int, v_to: int) -> list[Stretch]:
    """Return the stretches of u in which a line on the floor overlaps the levels between two."""
    out: list[Stretch] = []
    for slab in slabs:
        low, high = max(slab.v0, v_from), min(slab.v1, v_to)
        if low < high:
            left = min(slab.left.at(low), slab.left.at(high))
            right = max(slab.right.at(low), slab.right.at(high))
            if left < right:
                out.append((left, right))
    return out


def narrow_stretches(slabs: Sequence[Slab], least_nm: int) -> list[Stretch]:
    """Return the stretches of u in which a line would leave a sliver narrower than `least_nm` beside a wall.

    The sliver is measured at every level along the line, to sides that run with the lay; where the floor itself is
    narrower than that from side to side, nothing is a sliver.
    """
    out: list[Stretch] = []
    for slab in slabs:
        wide = _wide_levels(slab, least_nm)
        if wide is None:
            continue
        v0, v1 = wide
        if slab.left.with_lay:
            ends = (slab.left.at(v0), slab.left.at(v1))
            out.append((min(ends), max(ends) + least_nm))
        if slab.right.with_lay:
            ends = (slab.right.at(v0), slab.right.at(v1))
            out.append((min(ends) - least_nm, max(ends)))
    return out


def _wide_levels(slab: Slab, least_nm: int) -> tuple[Exact, Exact] | None:
    """Return the levels of a slab between which the floor is at least so wide, None where it is nowhere."""
    low = slab.right.at(slab.v0) - slab.left.at(slab.v0) - least_nm
    high = slab.right.at(slab.v1) - slab.left.at(slab.v1) - least_nm
    if low < 0 and high < 0:
        return None
    if low >= 0 and high >= 0:
        return slab.v0, slab.v1
    crossing = slab.v0 + ratio((slab.v1 - slab.v0) * low, low - high)
    levels = (crossing, slab.v1) if low < 0 else (slab.v0, crossing)
    return levels if levels[0] < levels[1] else None


def share_a_chord(slabs: Sequence[Slab], low: int, high: int, least_nm: int) -> bool:
    """Tell whether two lines run side by side on one chord of the floor that is at least so wide."""
    for slab in slabs:
        wide = _wide_levels(slab, least_nm)
        if wide is not None:
            v0, v1 = inside_levels(slab, low, high)
            if max(v0, wide[0]) < min(v1, wide[1]):
                return True
    return False
