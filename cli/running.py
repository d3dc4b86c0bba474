"""What every command shares: errors to exit codes, and stopping by hand or by time."""

from __future__ import annotations

import functools
import signal
import sys
import time
from collections.abc import Callable
from types import FrameType, TracebackType
from typing import ParamSpec

import click

from nesting.errors import JobError, UnsoundPlanError

P = ParamSpec("P")
EXIT_VIOLATIONS, EXIT_INPUT, EXIT_NO_PLAN, EXIT_BUG, EXIT_STOPPED = 1, 2, 3, 70, 130


class Stopper:
    """Tells the search to stop: after so many seconds, or when the user presses Ctrl-C.

    The first Ctrl-C asks for the best plan so far, a second one ends the program at once.
    """

    def __init__(self, seconds: float | None = None) -> None:
        self.by_hand = False
        self.by_time = False
        self._deadline = None if seconds is None else time.monotonic() + seconds
        self._before: Callable[[int, FrameType | None], object] | int | None = None

    def __call__(self) -> bool:
        """Tell whether to stop now."""
        if self._deadline is not None and time.monotonic() >= self._deadline:
            self.by_time = True
        return self.by_hand or self.by_time

    def __enter__(self) -> Stopper:
        """Start listening for Ctrl-C."""
        self._before = signal.signal(signal.SIGINT, self._asked)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop listening."""
        signal.signal(signal.SIGINT, self._before)

    def _asked(self, number: int, frame: FrameType | None) -> None:
        if self.by_hand:
            raise KeyboardInterrupt
        self.by_hand = True


def guarded(command: Callable[P, int]) -> Callable[P, None]:
    """Turn what a command returns or raises into an exit code; no traceback reaches a user for bad input."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            code = command(*args, **kwargs)
        except JobError as error:
            for fault in error.faults:
                click.echo(f"error: {fault}", err=True)
            code = EXIT_INPUT
        except UnsoundPlanError as error:
            click.echo(
                f"error: the plan did not pass the checker; nothing was written [unsound-plan]\n{error}", err=True
            )
            code = EXIT_BUG
        except KeyboardInterrupt:
            code = EXIT_STOPPED
        except OSError as error:
            click.echo(f"error: {error.filename or ''}: {error.strerror or error} [file-access]", err=True)
            code = EXIT_INPUT
        sys.exit(code)

    return run
