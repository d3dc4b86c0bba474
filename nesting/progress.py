"""Progress and stopping come from outside: two one-method protocols with do-nothing defaults."""

from __future__ import annotations

from dataclasses import dataclass
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


def no_progress(step: Step) -> None:
    """Ignore the step."""


def never_stop() -> bool:
    """Never stop."""
    return False
