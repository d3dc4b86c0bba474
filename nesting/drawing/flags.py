"""What is said of a piece beside its number: cut, laid, new; and the mark in the corner of a new one."""

from __future__ import annotations

from math import hypot

from nesting.domain.done import CutState
from nesting.domain.layout import Cut
from nesting.drawing.scene import Polygon, Spot

CUT, LAID, NEW = "CUT", "LAID", "NEW"

_LEG_MM, _LEAST_LEG_MM = 3.6, 0.8
"""Legs of the mark of a new piece, and the shortest that can still be seen."""


def flag_of(cut: Cut, changed: frozenset[str]) -> str:
    """Return CUT, LAID or NEW, "" for a piece that is cut as planned before; what is done is never called new."""
    if cut.state != CutState.PLANNED:
        return LAID if cut.state == CutState.LAID else CUT
    return NEW if cut.id in changed else ""


def flagged(text: str, flag: str) -> str:
    """Return a text with the flag after it."""
    return f"{text} · {flag}".lstrip(" ·") if flag else text


def corner_mark(ring: Polygon) -> Polygon:
    """Return a triangle in the uppermost, then leftmost corner of a polygon that has room for it; () for none."""
    count = len(ring)
    area = sum(ring[k - 1][0] * p[1] - p[0] * ring[k - 1][1] for k, p in enumerate(ring))
    found: list[tuple[bool, float, float, Polygon]] = []
    for k, at in enumerate(ring):
        before, after = ring[k - 1], ring[(k + 1) % count]
        turn = (at[0] - before[0]) * (after[1] - at[1]) - (at[1] - before[1]) * (after[0] - at[0])
        leg = min(_LEG_MM, 0.45 * hypot(at[0] - before[0], at[1] - before[1]), 0.45 * hypot(after[0] - at[0],
                  after[1] - at[1]))  # fmt: skip
        if turn * area > 0 and leg >= _LEAST_LEG_MM:
            corners = (at, _towards(at, before, leg), _towards(at, after, leg))
            found.append((leg < _LEG_MM, round(at[1], 3), round(at[0], 3), corners))
    return min(found)[3] if found else ()


def _towards(at: Spot, other: Spot, by_mm: float) -> Spot:
    """Return the point that lies `by_mm` from `at` on the way to `other`."""
    length = hypot(other[0] - at[0], other[1] - at[1])
    return (at[0] + (other[0] - at[0]) * by_mm / length, at[1] + (other[1] - at[1]) * by_mm / length)
