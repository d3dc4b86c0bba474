"""Dual feasible functions: what widths that lie side by side weigh together is at most what the goods' width weighs."""

from __future__ import annotations

from collections.abc import Callable, Iterator

Dual = Callable[[int], int]
"""f with f(a) + f(b) ≤ f(a + b): widths that lie side by side within W weigh at most f(W) together."""


def dual_functions(width: int, widths: list[int]) -> Iterator[Dual]:
    """Yield functions for goods `width` wide and pieces of the given widths.

    The area itself; f0 with its threshold at each width up to half (Lueker 1983); u_k of Fekete and Schepers (2001);
    and the rounding function of Carlier, Clautiaux and Moukrim (2007).
    """
    yield lambda w: w
    thresholds = sorted(
        {w for w in widths if 2 * w <= width} | {width - w for w in widths if width < 2 * w < 2 * width}
    )
    for t in thresholds[:: max(1, len(thresholds) // 40)]:
        yield lambda w, t=t: width if w > width - t else w if w >= t else 0  # type: ignore[misc]
    if any(2 * w > width for w in widths):
        yield lambda w: int(2 * w > width)
    for k in range(1, 6):
        yield lambda w, k=k: (  # type: ignore[misc]
            w * k if (k + 1) * w % width == 0 else (k + 1) * w // width * width
        )
    for t in thresholds[:: max(1, len(thresholds) // 20)]:
        yield lambda w, t=t: (  # type: ignore[misc]
            2 * (width // t - (width - w) // t) if 2 * w > width else width // t if 2 * w == width else 2 * (w // t)
        )
