"""The `rollwright` command. Every command is thin: parse, one call, echo; heavy imports happen inside."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from cli.options import asking, comparing, refuse_two_places, searching
from cli.rack import rack
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
@searching
@click.option("--earlier", type=click.Path(path_type=Path), metavar="PLAN", help="Begin with an earlier plan.json.")
@click.option(
    "--gain",
    type=click.IntRange(0, 1000),
    default=1,
    show_default=True,
    help="Order steps that a new plan must save to replace the earlier one (0: anything).",
)
@click.option("--pin", "pins", multiple=True, metavar="PIN", help="Fix something: 'Hall: seam 1.2 m from north'.")
@click.option("--rack", metavar="WHERE", help="Plan with what is free on the shop's rack, a file or postgresql://….")
@guarded
def plan(**given: Any) -> int:
    """Plan JOB and write the plan, cut maps, room plans, cut list and remnants to a folder."""
    refuse_two_places(given)
    with Stopper(given["seconds"], quiet=given["quiet"]) as stopper:
        from cli.asked import Asked
        from cli.planning import plan_to_folder

        return plan_to_folder(Asked(**given), stopper)


@main.command("plan-again")
@asking
@click.option("--state", type=click.Path(path_type=Path), metavar="FILE", help="How far the job is: a state file.")
@click.option("--job", type=click.Path(path_type=Path), metavar="JOB", help="The job as it is now, if it changed.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the results (default: beside the plan's).")
@guarded
def plan_again(**given: Any) -> int:
    """Plan what is left of PLAN (a plan.json) that has begun: what to do now, and the least new order."""
    refuse_two_places(given)
    with Stopper(given["seconds"], quiet=given["quiet"]) as stopper:
        from cli.planning_again import AskedAgain, plan_again_to_folder

        return plan_again_to_folder(AskedAgain(**given), stopper)


@main.command("trade-off")
@searching
@click.option("--seams", type=click.IntRange(0), help="Keep only the plan with at most so many seams.")
@guarded
def trade_off(**given: Any) -> int:
    """Show for JOB what fewer seams cost in roll: a table, a chart, and the plan of every row."""
    refuse_two_places(given)
    with Stopper(given["seconds"], quiet=given["quiet"]) as stopper:
        from cli.asked import AskedFront
        from cli.trading_off import trade_off_to_folder

        return trade_off_to_folder(AskedFront(**given), stopper)


@main.command()
@asking
@click.option("--out", type=click.Path(path_type=Path), help="Folder for maps of the goods (default: none are drawn).")
@guarded
def why(**given: Any) -> int:
    """Show for PLAN (a plan.json) where the goods go, and which rules and rooms cost the most roll."""
    refuse_two_places(given)
    with Stopper(given["seconds"], quiet=given["quiet"]) as stopper:
        from cli.why import AskedWhy, say_why

        return say_why(AskedWhy(**given), stopper)


@main.command("what-if")
@comparing
@click.option(
    "--if", "changes", multiple=True, metavar="CHANGES", help="A variant: 'Narrow: rolls 3 m wide; trim 2 in'."
)
@guarded
def what_if(**given: Any) -> int:
    """Show every JOB, and the first with other settings, side by side: the same measures, and what differs."""
    refuse_two_places(given)
    with Stopper(given["seconds"], quiet=given["quiet"]) as stopper:
        from cli.what_if import AskedWhatIf, compare

        return compare(AskedWhatIf(**given), stopper)


@main.command()
@click.argument("plan_file", metavar="PLAN|RACK")
@click.option("--json", "as_json", is_flag=True, help="Print the violations as JSON.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@guarded
def check(plan_file: str, as_json: bool, quiet: bool) -> int:
    """Prove PLAN (a plan.json) again, with the independent checker; or audit a rack, a file or postgresql://…."""
    from cli.planning import check_file, is_rack

    if is_rack(plan_file):
        from cli.racking import audit_rack

        return audit_rack(plan_file, as_json=as_json, quiet=quiet)
    return check_file(Path(plan_file), as_json=as_json, quiet=quiet)


@main.command()
@click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the drawings (default: beside the plan).")
@click.option("--mirrored", is_flag=True, help="Roll maps seen from the back, for goods that are marked there.")
@click.option("--packet", is_flag=True, help="Also write packet, labels and lists again.")
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@guarded
def draw(plan_file: Path, out: Path | None, mirrored: bool, packet: bool, quiet: bool) -> int:
    """Draw PLAN (a plan.json) again: roll maps and room plans, cut maps for a cutting table."""
    from cli.planning import draw_file

    return draw_file(plan_file, out or plan_file.parent, mirrored=mirrored, packet=packet, quiet=quiet)


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


@main.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "in", "ft"]),
    help="What bare numbers in SOURCE are in (default: as a drawing's header says).",
)
@click.option(
    "--layer", "layers", multiple=True, metavar="NAME", help="Take outlines from this layer; can be repeated."
)
@click.option("--quiet", is_flag=True, help="Say nothing but errors: not what was left out either.")
@guarded
def rooms(source: Path, job: Path | None, unit: str | None, layers: tuple[str, ...], quiet: bool) -> int:
    """Make a job of the rooms in SOURCE, a .dxf or a .csv, and write it to JOB, or print it.

    The goods are for you to fill in. An existing file is never overwritten. What was not read is said on stderr.
    """
    from cli.rooms import write_rooms

    return write_rooms(source, job, unit=unit or "", layers=layers, quiet=quiet)


main.add_command(rack)


if __name__ == "__main__":
    sys.exit(main())
