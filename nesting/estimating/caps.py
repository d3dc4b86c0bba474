"""Which caps on seams to look at next: those in the middle of the widest step between plans that are known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from nesting.domain.front import Known
from nesting.estimating.bench import Found


@dataclass(kw_only=True)
class Caps:
    """Plans found so far, and the caps on seams that were looked at or settled; `top` stands for every larger one."""

    pool: list[Found] = field(default_factory=list)
    searched: set[int] = field(default_factory=set)
    settled: set[int] = field(default_factory=set)

    def best(self, most_seams: int | None = None) -> Found | None:
        """Return the best plan known with at most so many seams (None: with any number)."""
        lawful = (one for one in self.pool if most_seams is None or one.seams <= most_seams)
        return min(lawful, key=lambda one: one.rank, default=None)

    def front(self) -> list[Found]:
        """Return the plans that no other beats, seams rising and roll falling."""
        rows: list[Found] = []
        for one in sorted(self.pool, key=lambda one: (one.seams, *one.rank)):
            if not rows or one.roll_nm2 < rows[-1].roll_nm2:
                rows.append(one)
        return rows

    def known(self, seams: int) -> Known:
        """Return what is known of plans with at most so many seams.

        A search, or a proof, at a cap speaks for smaller ones too as long as the best plan has no more seams than they
        allow: what many seams do not better, fewer do not either.
        """
        best = self.best(seams)
        if best is not None and best.seams == seams and best in self.front():
            return Known.PLAN
        for caps, known in ((self.settled, Known.SETTLED), (self.searched, Known.SEARCHED)):
            if any(cap >= seams and self._same(best, self.best(cap)) for cap in caps):
                return known
        return Known.NOT_LOOKED_AT

    def open(self) -> list[int]:
        """Return the numbers of seams, between the fewest and the most of the front, of which nothing is known."""
        rows = self.front()
        between = range(rows[0].seams, rows[-1].seams + 1) if rows else range(0)
        return [seams for seams in between if self.known(seams) is Known.NOT_LOOKED_AT]

    def next(self) -> int | None:
        """Return the middle of the gap where most roll falls over most seams; None where no gap is left."""
        gaps = list(_gaps(self.open()))
        if not gaps:
            return None
        low, high = min(gaps, key=lambda gap: (-self._fall(*gap), gap))
        return (low + high) // 2

    def _fall(self, low: int, high: int) -> int:
        above, below = self.best(low), self.best(high + 1)
        return 0 if above is None or below is None else (above.roll_nm2 - below.roll_nm2) * (high - low + 1)

    def _same(self, one: Found | None, other: Found | None) -> bool:
        return one is not None and other is not None and one.roll_nm2 == other.roll_nm2


def _gaps(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield the runs of neighbouring numbers as (first, last)."""
    first: int | None = None
    for place, number in enumerate(numbers):
        first = number if first is None else first
        if place + 1 == len(numbers) or numbers[place + 1] != number + 1:
            yield first, number
            first = None
