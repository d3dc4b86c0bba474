"""The work behind `what-if`: jobs and settings side by side as table, files, and the plan of every variant."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import click

from cli.asked import Search
from cli.planning import say_notices, see_that_it_can_be_a_folder, settings_of
from cli.results import results_of
from cli.running import EXIT_NO_PLAN, EXIT_STOPPED, Stopper
from cli.what_if_table import what_if_lines
from nesting.domain.what_if import Variant, WhatIf
from nesting.estimating.what_if import what_if
from nesting.files.job_file import read_job, read_variants
from nesting.files.names import unique
from nesting.files.what_if_tables import Folders, folders_named, variant_folders, what_if_csv, what_if_data
from nesting.files.writing import clear_written, write_whole

AS_IT_IS = "as it is"
TABLE = "what-if.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedWhatIf(Search):
    """The arguments and the options of `what-if`."""

    jobs: tuple[Path, ...]
    changes: tuple[str, ...]


def compare(asked: AskedWhatIf, stopper: Stopper) -> int:
    """Plan all variants, show them side by side and write what is asked for; return the exit code."""
    if len(asked.jobs) + len(asked.changes) < 2:
        raise click.UsageError("nothing to compare with: give another JOB, or a change with --if")
    if asked.out is not None:
        see_that_it_can_be_a_folder(asked.out)
    variants = _read(asked)
    with settings_of(asked, stopper) as settings:
        # What rules cost stands in the plans alone.
        found = what_if(variants, replace(settings, rule_costs=asked.out is not None, lay_costs=False))
    folders = {} if asked.out is None else variant_folders(found)
    if asked.out is not None:
        _write(asked.out, found, folders)
    if asked.as_json:
        click.echo(json.dumps(what_if_data(found, folders), indent=2, ensure_ascii=False))
    elif not asked.quiet:
        click.echo("\n".join(what_if_lines(found)))
        click.echo(f"\nchecked; written to {asked.out}" if asked.out is not None else "\nchecked; nothing is written")
    if not any(one.plan is not None for one in found.tried):
        return EXIT_NO_PLAN
    return EXIT_STOPPED if stopper.by_hand else 0


def _read(asked: AskedWhatIf) -> list[Variant]:
    """Return the jobs as they are, then the first with every change, each under a name of its own."""
    reads = [read_job(path) for path in asked.jobs]
    names: list[str] = []
    for path, name in zip(asked.jobs, _names(asked.jobs, [read.job.name for read in reads]), strict=True):
        names.append(unique(name if len(reads) > 1 else AS_IT_IS, names))
        say_notices(reads[len(names) - 1].notices, quiet=asked.quiet or path in asked.jobs[: len(names) - 1])
    changed = read_variants(asked.jobs[0], asked.changes, names) if asked.changes else ()
    for variant in changed:
        say_notices(variant.read.notices, quiet=asked.quiet)
    return [
        *(Variant(name=name, job=read.job) for name, read in zip(names, reads, strict=True)),
        *(Variant(name=variant.name, job=variant.read.job) for variant in changed),
    ]


def _names(paths: Sequence[Path], titles: Sequence[str]) -> list[str]:
    """Return what jobs call themselves, or the names of their files where two have one name."""
    lower = [title.lower() for title in titles]
    return list(titles) if len(set(lower)) == len(lower) else [path.stem for path in paths]


def _write(out: Path, found: WhatIf, folders: Folders) -> None:
    """Write the table and the plans; folders that the table of an earlier run names, and this does not, are cleared."""
    table = out / TABLE
    earlier = folders_named(table.read_text("utf-8", errors="replace")) if table.is_file() else ()
    write_whole(out, {TABLE: what_if_csv(found, folders)})
    for one in found.tried:
        if one.outcome.plan is not None:
            write_whole(out / folders[one.variant.name], results_of(one.outcome.plan))
    for name in earlier:
        if name not in folders.values():
            clear_written(out / name)
