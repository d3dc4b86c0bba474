"""Runs of the compiled skyline kernel on one job: which targets are aimed at, from which order, in which direction."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.progress import Stop
from nesting.search import skyline_beam as beam
from nesting.search import skyline_kernel as kernel
from nesting.search.arrays import Whole
from nesting.search.skyline import Job

MOST_SUMS = 200_000
"""Up to such lengths it is worth knowing which sums of pieces there are."""
MOST_BYTES = 60_000_000
"""Memory of a beam."""
FEW = 120
"""Up to so many pieces a second slot is beams."""
HEAT, COLD = 0.1, 0.003
"""Of annealing, in mean areas of a piece."""
TASTES = (
    (4000, 300, 1000),
    (4000, 100, 300),
    (4000, 300, 100),
    (10000, 100, 1000),
    (10000, 30, 1000),
    (10000, 10, 100),
    (1000, 300, 1000),
    (1000, 1000, 100),
)
"""What waste, area laid and a segment of the skyline count in a beam (its T_WASTE, T_LAID, T_SEGMENT)."""


Way = tuple[bool, tuple[int, int, int]]
"""Whether a beam fills from the roll's side, and its taste."""


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

        Slot 0 is beams, and so is slot 3 while the pieces are few. The others anneal: slot 2 mostly goes on from the
        order handed on, the rest begin with an order by size.
        """
        n = len(self.w)
        beams = slot == "0" or (slot == "3" and n <= FEW)
        order = self.lead if slot == "2" and self.chance.random() < 0.75 else self._by_size()
        share = self.chance.choice((0.0, 0.0, 0.5, 1.0) if beams else (0.0, 0.0, 0.0, 0.5))
        across = self.chance.random() < 0.5
        whole = work
        ways: list[Way] = []
        while work > whole // 20 and far > self.least and not stop():
            target = max(self.least, far - 1 - int(share * (far - 1 - self.least)))
            target = max(self.least, reachable(self.lengths, target))
            if beams:
                if not ways:
                    spent, length, ways = self._probe(target, whole // 4, slice_work, stop)
                else:
                    way = ways.pop(0)
                    spent, length, _ = self._beam(target, way, min(work, whole // 3), slice_work, stop)
            else:
                spent, length, order = self._aim(target, across, order, work, slice_work, stop)
            work -= spent
            if 0 <= length < far:
                far = length
            share = share / 2 if share > 0.1 else 0.0
        self.order = order

    def _probe(self, target: int, work: int, slice_work: int, stop: Stop) -> tuple[int, int, list[Way]]:
        """Try narrow beams of every way; return (work spent, length of a packing found or −1, some of the best ways).

        The better a way, the more area its narrow beam lays. For many pieces there is work for a few ways only.
        """
        n = len(self.w)
        ways = [(across, taste) for across in (False, True) for taste in TASTES]
        self.chance.shuffle(ways)
        ways = ways[: max(2, work // (16 * n * n))]
        each = work // len(ways)
        spent = 0
        tried: list[tuple[int, int, Way]] = []
        for place, way in enumerate(ways):
            used, length, laid = self._beam(target, way, each, slice_work, stop)
            spent += used
            if length >= 0:
                return spent, length, [way]
            tried.append((-laid, place, way))
            if stop():
                break
        best = [way for _, _, way in sorted(tried)[:4]]
        best.pop(self.chance.randrange(len(best)))
        return spent, -1, best

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
                int(HEAT * area) + 1,
                int(COLD * area) + 1,
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

    def _beam(self, target: int, way: Way, work: int, slice_work: int, stop: Stop) -> tuple[int, int, int]:
        """Search with a beam as broad as `work` allows.

        Returns (work spent, length of the packing found or −1, the most area laid).
        """
        across, taste = way
        sizes = (self.h, self.w) if across else (self.w, self.h)
        order = sorted(
            range(len(self.w)),
            key=lambda i: (-int(self.w[i] * self.h[i]), int(self.w[i]), int(self.h[i]), int(self.turns[i]), i),
        )
        n = len(order)
        # A filling costs about so many looks at each piece a level; more where goods may be left below.
        looks = 4 if target * self.job.width == self.job.area else 7
        breadth = max(4, min(work // (looks * n * n), MOST_BYTES // beam.beam_bytes(n, beam.segments_for(n))))
        made = beam.make_beam(
            target if across else self.job.width,
            self.job.width if across else target,
            sizes[0][order],
            sizes[1][order],
            self.turns[order],
            breadth,
            taste,
            self.state,
        )
        state = 0
        while state == 0 and not stop():
            state = beam.advance(made, slice_work)
        laid = int(made.numbers[beam.MOST])
        spent = max(work // 8 + 1, int(made.numbers[beam.WORK]))  # few pieces: a beam is soon over, and no better again
        if state != 1:
            return spent, -1, laid
        x, y, turned = (np.empty(n, dtype=np.int64) for _ in range(3))
        beam.trace(made, x, y, turned)
        if across:
            x, y = y, x
        places = {i: (int(x[k]), int(y[k]), int(turned[k])) for k, i in enumerate(order)}
        self.places = [places[i] for i in range(n)]
        return spent, self._length(), laid

    def _length(self) -> int:
        """Return the length of the packing that is kept."""
        return max(y + ways[way].length for (_, y, way), ways in zip(self.places, self.job.ways, strict=True))

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
        return self._length()
