"""Runs of the compiled skyline kernel on one job: which targets are aimed at, from which order, in which direction."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.progress import Stop
from nesting.search import skyline_kernel as kernel
from nesting.search.arrays import Whole
from nesting.search.skyline import COLD, HEAT, Job


@dataclass(frozen=True, slots=True)
class Strip:
    """What is to be filled: the container along and across the skyline, and the pieces in it."""

    width: int
    high: int
    w: Whole
    h: Whole


def reachable(lengths: Sequence[int], most: int) -> int:
    """Return the greatest sum of some of `lengths` that is at most `most`: no packing ends between it and `most`."""
    if most > MOST_SUMS:
        return most
    sums = 1
    mask = (1 << (most + 1)) - 1
    for length in lengths:
        sums |= (sums << length) & mask
    return sums.bit_length() - 1


MOST_SUMS = 200_000


class Run:
    """One errand's search. `places` are those of the best packing met, `order` the order that it ended with."""

    def __init__(self, job: Job, chance: random.Random, *, least: int, lead: list[int]) -> None:
        self.job = job
        self.chance = chance
        self.w = np.array([ways[0].width for ways in job.ways], dtype=np.int64)
        self.h = np.array([ways[0].length for ways in job.ways], dtype=np.int64)
        self.turns = np.array([len(ways) - 1 for ways in job.ways], dtype=np.int64)
        self.state = np.array([chance.getrandbits(63) | 1], dtype=np.uint64)
        self.lengths = [shape.length for ways in job.ways for shape in ways]
        lasting = max((min(shape.length for shape in ways) for ways in job.ways), default=0)
        self.least = max(least, -(-job.area // job.width), lasting)
        self.order: list[int] = lead
        self.lead = lead
        self.places: list[tuple[int, int, int]] = []

    def search(self, slot: str, far: int, work: int, slice_work: int, stop: Stop) -> None:
        """Look for packings shorter than `far` while `work` lasts; `slot` chooses how.

        Slots 0 and 1 go on from the order handed on, filling from the roll's start and from its side; the others
        begin anew with an order by size, at a target halfway to the least length or at that itself.
        """
        across = slot in ("1", "3")
        order = self.lead if slot in ("0", "1") and self.chance.random() < 0.75 else self._by_size()
        share = {"2": 0.5, "3": 1.0}.get(slot, 0.0) * self.chance.choice((0.0, 1.0, 1.0))
        while work > 0 and far > self.least and not stop():
            target = max(self.least, far - 1 - int(share * (far - 1 - self.least)))
            target = max(self.least, reachable(self.lengths, target))
            spent, length, order = self._aim(target, across, order, work, slice_work, stop)
            work -= spent
            if 0 <= length < far:
                far = length
            elif length < 0:
                break
            share = share / 2
        self.order = order

    def _by_size(self) -> list[int]:
        """Return the pieces by falling area, length, width or half their outline."""
        keys: list[Callable[[int], int]] = [
            lambda i: int(self.w[i] * self.h[i]),
            lambda i: int(self.h[i]),
            lambda i: int(self.w[i]),
            lambda i: int(self.w[i] + self.h[i]),
        ]
        key = self.chance.choice(keys)
        return sorted(range(len(self.w)), key=lambda i: (-key(i), -int(self.w[i] * self.h[i]), i))

    def _aim(
        self, target: int, across: bool, lead: list[int], work: int, slice_work: int, stop: Stop
    ) -> tuple[int, int, list[int]]:
        """Anneal at one target; return (work spent, length of the packing found or −1, the best order)."""
        strip = (
            Strip(target, self.job.width, self.h, self.w) if across else Strip(self.job.width, target, self.w, self.h)
        )
        order = np.array(lead, dtype=np.int64)
        best = order.copy()
        found = np.array([-1, -1, 0], dtype=np.int64)
        area = self.job.area / len(self.w)
        spent = 0
        while spent < work and not stop():
            give = min(slice_work, work - spent)
            kernel.anneal(
                strip.width,
                strip.high,
                strip.w,
                strip.h,
                self.turns,
                order,
                best,
                1,
                HEAT * area,
                COLD * area,
                work,
                spent,
                give,
                self.state,
                found,
            )
            spent += int(found[2])
            if found[0] == 0:
                return spent, self._take(strip, best, across), best.tolist()
        return spent, -1, best.tolist()

    def _take(self, strip: Strip, order: Whole, across: bool) -> int:
        """Keep the places of a packing that leaves nothing over and return its length."""
        n = len(order)
        x, y, way, after = (np.empty(n + 1, dtype=np.int64) for _ in range(4))
        sx, sy = np.empty(n + 3, dtype=np.int64), np.empty(n + 3, dtype=np.int64)
        most = 1 << 60
        kernel.fill(strip.width, strip.high, strip.w, strip.h, self.turns, order, 1, most, sx, sy, after, x, y, way)
        if across:
            x, y = y, x
        self.places = [(int(x[i]), int(y[i]), int(way[i])) for i in range(n)]
        return max(b + ways[way].length for (_, b, way), ways in zip(self.places, self.job.ways, strict=True))
