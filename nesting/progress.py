"""Progress and stopping come from outside: two one-method protocols with do-nothing defaults."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One event of a run: what is being worked on, the best so far and the bound, level 1 of the goal."""

    material_id: str
    what: str
    best: int | None = None
    bound: int | None = None


class Progress(Protocol):
    """Told of every step."""

    def __call__(self, step: Step) -> None:
        """Take note of one step."""


class Stop(Protocol):
    """Asked between pieces of work whether to stop."""

    def __call__(self) -> bool:
        """Tell whether to stop now and hand over the best so far."""


class Spent(Protocol):
    """Asked how much of the time allowed has passed."""

    def __call__(self) -> float:
        """Return the share of the time that has passed: 0 at the beginning, 1 and more when it is over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """A stop that comes, at the latest, when the time spent has reached a share: the rest is for what follows."""

    stop: Stop
    spent: Spent
    end: float

    def __call__(self) -> bool:
        """Tell whether to stop now and hand over the best so far."""
        return self.stop() or self.spent() >= self.end

    def next_of(self, left: int) -> Portion:
        """Return the portion of the next of so many parts that are done one after another."""
        now = self.spent()
        return replace(self, end=now + max(0.0, self.end - now) / left)


def no_progress(step: Step) -> None:
    """Ignore the step."""


def never_stop() -> bool:
    """Never stop."""
    return False


def no_limit() -> float:
    """Return 0: there is no limit to spend."""
    return 0.0
