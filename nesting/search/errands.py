"""Errands: the tasks of a round, what they bring back, and what they are planned from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from nesting.progress import Stop
from nesting.search.blocks import Region, Reworked
from nesting.search.improving import Found
from nesting.search.least import Pricing
from nesting.search.scheme import Ready, Scheme


class Kind(StrEnum):
    """What an errand does."""

    IMPROVE = "improve"  # changes of the scheme, where the goods are cut on the bench
    ANNEAL = "anneal"  # changes of the scheme, compiled
    WINDOW = "window"  # the model over some choices, the others frozen
    REGION = "region"  # a region of a big instance by itself
    WHOLE = "whole"  # the model over all choices and all options that can be worth it
    LATER = "later"  # the later levels of the goal, the first at its proved least
    DECIDE = "decide"  # whether a first level below what is best is possible at all
    PACK = "pack"  # plain rectangles on one roll, packed by the skyline


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """One task of a round. `effort` is in hundredths of what one unit of the run's effort allows.

    `slot` names the errand's place in every round, `scheme` is what the errand of that slot handed on in the round
    before (None: nothing yet).
    """

    kind: Kind
    seed: int
    effort: int
    menu: tuple[tuple[int, ...], ...] = ()  # for models over all choices: the options looked at
    bound: int = 0  # proved when the round starts: no solution has a lower first level
    slot: str = ""
    scheme: Scheme | None = None
    region: Region | None = None  # for errands over a region
    heat: tuple[int, int] = (0, 0)  # for annealing: where the temperature begins and ends, millionths of the goods


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What an errand brings back: the best it knows (never worse than before), and a proved bound if it has one."""

    found: Found | None
    bound: int | None = None
    all_levels: bool = False  # every level of the goal is least in turn
    impossible: bool = False  # the options given have no solution at all
    scheme: Scheme | None = None  # handed on to the errand of the same slot in the next round
    reworked: Reworked | None = None  # a region that became better


Runner = Callable[[Ready, Errand, Found | None, Scheme | None, Stop], Outcome]
"""(ready, errand, best, base, stop) -> outcome. `best` was best at the round's start, `base` is the scheme that
changes start from while there is no solution. Depends on its arguments alone, but for `stop`, which cuts it short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What is known when a round starts: all that its errands may depend on."""

    ready: Ready
    prices: list[Pricing]
    number: int  # of the round, from 0
    seed: int
    bound: int
    best: Found | None
    base: Scheme | None
    proved: bool  # the first level attains its bound
    handed_on: Mapping[str, Scheme] = field(default_factory=dict)  # per slot

    def seed_of(self, place: int) -> int:
        """Return the seed for the errand at `place` in this round."""
        return (self.seed * 1_000_003 + self.number * 101 + place) % (1 << 31)


Planner = Callable[[View], Iterator[Errand]]
"""Yields the errands of one kind or slot for a round: always the same for the same view."""


def better(a: Found | None, b: Found | None) -> Found | None:
    """Return the better one, the first among equals."""
    if a is None or b is None:
        return a or b
    return b if b.value.levels < a.value.levels else a
