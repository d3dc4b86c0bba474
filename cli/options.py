"""Options that commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

Command = Callable[..., Any]


def searching(command: Command) -> Command:
    """Add the argument and the options of every command that plans a job, in the order of the help."""
    path = click.Path(path_type=Path)
    out = click.option("--out", type=path, help="Folder for the results (default: named after the job).")
    return _with((click.argument("job", type=path), out, *_of_a_search("summary")), command)


def comparing(command: Command) -> Command:
    """Add the arguments and the options of every command that plans several jobs side by side."""
    path = click.Path(path_type=Path)
    jobs = click.argument("jobs", metavar="JOB...", type=path, nargs=-1, required=True)
    out = click.option("--out", type=path, help="Folder for the table and every plan (default: nothing is written).")
    return _with((jobs, out, *_of_a_search("comparison")), command)


def asking(command: Command) -> Command:
    """Add the argument and the options of every command that asks about a plan and searches for the answer."""
    plan = click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
    return _with((plan, *_of_a_search("answers")), command)


def _of_a_search(what: str) -> tuple[Callable[[Command], Command], ...]:
    """Return the options of every command that searches; `what` it prints."""
    workers = click.IntRange(1, 256)
    return (
        click.option("--effort", type=click.IntRange(0, 1000), default=10, show_default=True, help="How hard to look."),
        click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Seed of the search."),
        click.option(
            "--limit",
            "seconds",
            type=click.FloatRange(min=0),
            help="Stop after so many seconds with the best so far.",
        ),
        click.option("--workers", type=workers, help="Processes that search (default: one a processor)."),
        click.option("--scheduler", metavar="ADDRESS", help="Search on the Dask cluster whose scheduler is there."),
        click.option("--json", "as_json", is_flag=True, help=f"Print the {what} as JSON."),
        click.option("--quiet", is_flag=True, help="Print nothing but errors."),
    )


def _with(parameters: tuple[Callable[[Command], Command], ...], command: Command) -> Command:
    for parameter in reversed(parameters):
        command = parameter(command)
    return command


def refuse_two_places(given: dict[str, Any]) -> None:
    """Refuse workers of this machine together with a cluster."""
    if given["workers"] is not None and given["scheduler"] is not None:
        raise click.UsageError("give --workers or --scheduler, not both: a cluster has workers of its own")
