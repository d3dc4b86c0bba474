"""What every command shares: errors to exit codes, and stopping by hand or by time."""

from __future__ import annotations

import functools
import os
import signal
import sys
import time
import traceback
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
        except click.exceptions.ClickException:
            raise  # wrong usage: click says so and exits with 2
        except KeyboardInterrupt:
            click.echo("stopped; nothing was written", err=True)
            code = EXIT_STOPPED
        except BrokenPipeError:  # whoever read the output has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            code = 0
        except Exception as error:
            code = _told(error)
        sys.exit(code)

    return run


def _told(error: Exception) -> int:
    """Say on stderr what went wrong; return the exit code."""
    if isinstance(error, JobError):
        click.echo("\n".join(f"error: {fault}" for fault in error.faults), err=True)
        return EXIT_INPUT
    if isinstance(error, OSError):
        named = f"{error.filename}: " if error.filename else ""
        click.echo(f"error: {named}{error.strerror or error} [file-access]", err=True)
        return EXIT_INPUT
    if isinstance(error, UnsoundPlanError):
        click.echo(f"error: the plan did not pass the checker; nothing was written [unsound-plan]\n{error}", err=True)
        return EXIT_BUG
    last = traceback.extract_tb(error.__traceback__)[-1]
    place = f"{os.path.basename(os.path.dirname(last.filename))}/{os.path.basename(last.filename)}:{last.lineno}"  # noqa: PTH119, PTH120
    what = f"{type(error).__name__}: {error}"
    click.echo(f"error: a bug of the program, not of the job; nothing was written [bug]\n  {place}: {what}", err=True)
    return EXIT_BUG
