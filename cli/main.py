"""The `rollwright` command. Every command is thin: parse, one call, echo; heavy imports happen inside."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from cli.running import Stopper, guarded
from nesting import __version__


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="rollwright")
def main() -> None:
    """Plan sheet floor coverings: the least roll, seams where they belong, every plan proved.

    Exit codes: 0 done; 1 a check found violations; 2 bad input or usage; 3 no plan by the rules; 70 a bug of ours;
    130 stopped by hand, the best plan so far written.
    """


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the results (default: the job's name).")
@click.option("--effort", type=click.IntRange(0, 1000), default=10, show_default=True, help="How hard to look.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Seed of the search.")
@click.option(
    "--limit", "seconds", type=click.FloatRange(min=0), help="Stop after so many seconds with the best so far."
)
@click.option("--workers", type=click.IntRange(1, 256), help="Processes that search (default: one a processor).")
@click.option("--scheduler", metavar="ADDRESS", help="Search on the Dask cluster whose scheduler is there.")
@click.option("--earlier", type=click.Path(path_type=Path), metavar="PLAN", help="Begin with an earlier plan.json.")
@click.option(
    "--gain",
    type=click.IntRange(0, 1000),
    default=1,
    show_default=True,
    help="Order steps that a new plan must save to replace the earlier one (0: anything).",
)
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@guarded
def plan(**given: Any) -> int:
    """Plan JOB and write the plan, cut maps, room plans, cut list and remnants to a folder."""
    if given["workers"] is not None and given["scheduler"] is not None:
        raise click.UsageError("give --workers or --scheduler, not both: a cluster has workers of its own")
    with Stopper(given["seconds"], quiet=given["quiet"]) as stopper:
        from cli.asked import Asked
        from cli.planning import plan_to_folder

        return plan_to_folder(Asked(**given), stopper)


@main.command()
@click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the violations as JSON.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@guarded
def check(plan_file: Path, as_json: bool, quiet: bool) -> int:
    """Prove PLAN (a plan.json) again, with the independent checker."""
    from cli.planning import check_file

    return check_file(plan_file, as_json=as_json, quiet=quiet)


@main.command()
@click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the drawings (default: beside the plan).")
@click.option("--mirrored", is_flag=True, help="Roll maps seen from the back, for goods that are marked there.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@guarded
def draw(plan_file: Path, out: Path | None, mirrored: bool, quiet: bool) -> int:
    """Draw PLAN (a plan.json) again: roll maps and room plans."""
    from cli.planning import draw_file

    return draw_file(plan_file, out or plan_file.parent, mirrored=mirrored, quiet=quiet)


@main.command()
@guarded
def schema() -> int:
    """Print the JSON Schema of the job file, for editors that complete and check."""
    import json

    from nesting.files.job_file import json_schema

    click.echo(json.dumps(json_schema(), indent=2, ensure_ascii=False))
    return 0


@main.command()
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "in", "ft"]),
    default="m",
    show_default=True,
    help="The job's own unit: what bare numbers mean and the maps show.",
)
@guarded
def starter(job: Path | None, unit: str) -> int:
    """Write a commented starter job to JOB, or print it. An existing file is never overwritten."""
    from cli.planning import write_starter

    return write_starter(job, unit)


if __name__ == "__main__":
    sys.exit(main())
