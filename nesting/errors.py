"""What can go wrong, said so that people can act on it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong with the input: where, what, and what to try."""

    code: str  # stable, kebab-case: "walk-open"
    what: str
    where: str = ""  # "rooms[2].walls"
    hint: str = ""
    file: str = ""
    line: int = 0

    def __str__(self) -> str:
        """Return the fault as `file:line: where: what [code]` with its hint on a line of its own."""
        place = ":".join(part for part in (self.file, str(self.line) if self.line else "") if part)
        head = ": ".join(part for part in (place, self.where, self.what) if part)
        return f"{head} [{self.code}]" + (f"\n  hint: {self.hint}" if self.hint else "")


class RollwrightError(Exception):
    """The root of all errors that the library raises on purpose."""


class JobError(RollwrightError):
    """The input is wrong; carries all faults found, in the order of their lines."""

    def __init__(self, faults: tuple[Fault, ...] | list[Fault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.file, fault.line, fault.where)))
        super().__init__("\n".join(map(str, self.faults)))


class UnsoundPlanError(RollwrightError):
    """The checker refused a plan of our own: a bug, never the user's fault."""
