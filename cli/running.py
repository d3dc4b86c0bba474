"""What every command shares: errors to exit codes, and stopping by hand or by time."""

from __future__ import annotations

import functools
import os
import signal
import socket
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType, TracebackType
from typing import ParamSpec

import click

from nesting.errors import JobError, UnsoundPlanError

P = ParamSpec("P")
EXIT_VIOLATIONS, EXIT_INPUT, EXIT_NO_PLAN, EXIT_BUG, EXIT_STOPPED = 1, 2, 3, 70, 130
GRACE_SECONDS = 0.5  # after a second Ctrl-C, before the program is ended the hard way


class Stopper:
    """Tells the search to stop: after so many seconds, or when the user presses Ctrl-C.

    The first Ctrl-C asks for the best plan so far, a second one ends the program at once. They are heard by a thread
    of their own, even while the solver works and the main thread cannot listen.
    """

    def __init__(self, seconds: float | None = None, *, quiet: bool = True) -> None:
        self.by_hand = False
        self.by_time = False
        self._begun, self._seconds = time.monotonic(), seconds
        self._quiet = quiet
        self._handled = False
        self._over = threading.Event()

    def __call__(self) -> bool:
        """Tell whether to stop now."""
        self.by_time = self.by_time or self.spent() >= 1
        return self.by_hand or self.by_time

    def spent(self) -> float:
        """Return what share of the time has passed."""
        if self._seconds is None:
            return 0.0
        return (time.monotonic() - self._begun) / self._seconds if self._seconds > 0 else 1.0

    def __enter__(self) -> Stopper:
        """Start listening for Ctrl-C."""
        hear, self._tell = socket.socketpair()
        self._tell.setblocking(False)
        self._fd_before = signal.set_wakeup_fd(self._tell.fileno(), warn_on_full_buffer=False)
        self._before = signal.signal(signal.SIGINT, self._handle)
        threading.Thread(target=self._listen, args=(hear,), name="Ctrl-C", daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop listening; after a second Ctrl-C the thread sees to it that the program ends soon."""
        signal.signal(signal.SIGINT, self._before)
        signal.set_wakeup_fd(self._fd_before)
        if kind is not KeyboardInterrupt:
            self._over.set()
        self._tell.close()

    def _handle(self, number: int, frame: FrameType | None) -> None:
        """Take note of Ctrl-C in the main thread, when it is back from whatever it was doing."""
        if self._handled:
            raise KeyboardInterrupt
        self.by_hand = self._handled = True

    def _listen(self, hear: socket.socket) -> None:
        """Take note of Ctrl-C at once; end the program if the main thread has not done so soon after a second one."""
        asked = 0
        with hear:
            while heard := hear.recv(1):
                asked += heard[0] == signal.SIGINT
                if asked == 1 and not self._quiet:
                    click.echo("stopping with the best plan so far; Ctrl-C again ends at once", err=True)
                self.by_hand = self.by_hand or asked > 0
                if asked > 1 and not self._over.wait(GRACE_SECONDS):
                    _end_at_once()


def _end_at_once() -> None:
    """End this process and its workers, whatever they are doing."""
    import multiprocessing

    for child in multiprocessing.active_children():
        child.terminate()
    os._exit(EXIT_STOPPED)


@contextmanager
def ctrl_c_held() -> Iterator[None]:
    """Keep Ctrl-C from processes that are started meanwhile: they are told to stop in another way."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


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
