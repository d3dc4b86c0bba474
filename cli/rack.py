"""`rollwright rack`: the shop's rack. Every command is thin: parse, one call, echo; heavy imports happen inside."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from cli.running import guarded

Command = Callable[..., Any]
UNITS = click.Choice(["mm", "cm", "m", "in", "ft"])
STATES = click.Choice(["free", "reserved", "cut", "scrapped", "missing", "client", "any"])
ORDERS = click.Choice(["label", "place", "material", "age", "width", "length", "cost", "value"])


def _with(*options: Callable[[Command], Command]) -> Callable[[Command], Command]:
    def decorate(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


_where = click.option(
    "--rack", "where", metavar="WHERE", envvar="ROLLWRIGHT_RACK", show_envvar=True,
    help="File of the rack, or postgresql://… (default: a file of yours; made on first use).",
)  # fmt: skip
_unit = click.option("--unit", type=UNITS, default="m", show_default=True, help="What bare numbers mean, and is shown.")
_quiet = click.option("--quiet", is_flag=True, help="Print nothing but errors.")
_by = click.option("--by", "who", metavar="NAME", help="Who does it (default: your name on this machine).")
_why = click.option("--why", default="", metavar="TEXT", help="Why: stands in the history.")
_reason = click.option("--why", required=True, metavar="TEXT", help="Why: stands in the history.")
_json = click.option("--json", "as_json", is_flag=True, help="Print it as JSON, lengths in nm.")

reading = _with(_where, _unit, _json)
changing = _with(_where, _by, _why, _quiet)
explained = _with(_where, _by, _reason, _quiet)
goods = _with(
    click.option("--material", metavar="NAME", help="Its material, as in the job file: its id, or its name."),
    click.option("--size", metavar="SIZE", help="Across x along: 2 m x 6.4 m."),
    click.option("--kind", type=click.Choice(["roll", "remnant"]), help="Roll, or remnant (default)."),
    click.option("--lot", metavar="LOT", help="Dye or production lot (default: a lot of its own)."),
    click.option("--lot-orderable", type=click.Choice(["yes", "no"]), help="More of this lot can be ordered."),
    click.option("--shape", multiple=True, metavar="RECT", help="What is there: '2 x 1.5 at 0, 0'. Many times."),
    click.option("--flaw", "flaws", multiple=True, metavar="RECT", help="A flaw: '0.1 x 0.3 at 0.4, 2.1'. Many times."),
    click.option("--first-mark", metavar="MARK", help="First pattern mark: '12 cm across, 30 cm along', or unknown."),
    click.option("--cost", metavar="AMOUNT", help="What it cost the shop."),
    click.option("--currency", metavar="WORD", help="The word behind the cost, such as EUR."),
    click.option("--supplier", metavar="NAME", help="From whom it came."),
    click.option("--note", metavar="TEXT", help="Anything else."),
)  # fmt: skip


@click.group()
def rack() -> None:
    """Keep the shop's rack: rolls and remnants, what is reserved, what was cut, and the history of it all.

    `rollwright plan JOB --rack WHERE` plans with what is free on it.
    """


@rack.command()
@click.argument("label", required=False, default="")
@goods
@click.option("--place", metavar="PLACE", help="Where it lies.")
@_unit
@changing
@guarded
def receive(**given: Any) -> int:
    """Put a piece on the rack. Without LABEL it is given one."""
    from cli.racking import receive_piece

    return receive_piece(given)


@rack.command("list")
@click.option("--material", metavar="NAME", help="Of this material.")
@click.option("--lot", metavar="LOT", help="Of this lot.")
@click.option("--place", metavar="PLACE", help="At this place.")
@click.option("--job", metavar="JOB", help="Reserved for this job.")
@click.option("--state", "states", multiple=True, type=STATES, help="In this state (default: free and reserved).")
@click.option("--least", metavar="SIZE", help="At least so large, across x along.")
@click.option("--with", "text", default="", metavar="WORDS", help="With these words in label, lot, place, note …")
@click.option("--order", type=ORDERS, default="label", show_default=True, help="By what it is ordered.")
@click.option("--limit", type=click.IntRange(1), help="No more than so many.")
@reading
@guarded
def list_pieces(**given: Any) -> int:
    """List pieces, with sizes in both systems, age and value."""
    from cli.racking import list_to_screen

    return list_to_screen(given)


@rack.command()
@click.argument("label")
@click.option("--out", type=click.Path(path_type=Path), metavar="SVG", help="Draw the piece to a file.")
@reading
@guarded
def show(**given: Any) -> int:
    """Show one piece and everything that was done with it."""
    from cli.racking import show_piece

    return show_piece(given)


@rack.command()
@click.argument("labels", metavar="LABEL...", nargs=-1, required=True)
@click.option("--to", "place", required=True, metavar="PLACE", help="Where it lies now.")
@changing
@guarded
def move(**given: Any) -> int:
    """Book pieces as lying at another place."""
    from cli.racking import move_pieces

    return move_pieces(given)


@rack.command()
@click.argument("label")
@goods
@_unit
@explained
@guarded
def correct(**given: Any) -> int:
    """Write a piece down as it really is."""
    from cli.racking import correct_piece

    return correct_piece(given)


@rack.command()
@click.argument("place")
@click.argument("labels", metavar="[LABEL]...", nargs=-1)
@click.option("--found", type=click.Path(path_type=Path), metavar="FILE", help="A file with a label on every line.")
@click.option("--book", is_flag=True, help="Book it: what was not found is missing, what was found is here.")
@_where
@_by
@_why
@_quiet
@guarded
def count(**given: Any) -> int:
    """Hold what was found at PLACE against the book (exit code 1 if they differ)."""
    from cli.racking import count_shelf

    return count_shelf(given)


@rack.command()
@click.argument("labels", metavar="LABEL...", nargs=-1, required=True)
@explained
@guarded
def scrap(**given: Any) -> int:
    """Book pieces as thrown away."""
    from cli.racking import scrap_pieces

    return scrap_pieces(given)


@rack.command()
@click.argument("labels", metavar="[LABEL]...", nargs=-1)
@click.option("--plan", "plan_file", type=click.Path(path_type=Path), metavar="PLAN", help="The pieces of a plan.json.")
@click.option("--job", metavar="JOB", help="For which job (default: the plan's).")
@changing
@guarded
def reserve(**given: Any) -> int:
    """Take pieces for a job: all, or none. What an earlier plan of the job held and this one does not need is free."""
    from cli.racking import reserve_pieces

    return reserve_pieces(given)


@rack.command()
@click.argument("labels", metavar="[LABEL]...", nargs=-1)
@click.option("--job", metavar="JOB", help="Everything that this job holds.")
@changing
@guarded
def release(**given: Any) -> int:
    """Make reserved pieces free again."""
    from cli.racking import release_pieces

    return release_pieces(given)


@rack.command()
@click.argument("plan_file", metavar="PLAN", type=click.Path(path_type=Path))
@click.option("--place", default="", metavar="PLACE", help="Where the offcuts go.")
@click.option("--place-of", "places", multiple=True, metavar="OFFCUT=PLACE", help="Where one goes. Many times.")
@click.option("--lot-of", "lots", multiple=True, metavar="ROLL=LOT", help="The lot on an ordered roll. Many times.")
@click.option("--supplier", default="", metavar="NAME", help="From whom the ordered rolls came.")
@changing
@guarded
def confirm(**given: Any) -> int:
    """Book the cuts of PLAN: its pieces are cut up, its offcuts lie on the rack, all at once."""
    from cli.racking import confirm_cuts

    return confirm_cuts(given)


@rack.command()
@click.argument("booking", metavar="BOOKING|PLAN")
@explained
@guarded
def undo(**given: Any) -> int:
    """Put back exactly what was before a plan was confirmed."""
    from cli.racking import undo_booking

    return undo_booking(given)


@rack.command()
@click.argument("label", required=False)
@click.option("--limit", type=click.IntRange(1), help="The last so many changes.")
@reading
@guarded
def history(**given: Any) -> int:
    """Show every change, of one piece or of all: what, when, who, why."""
    from cli.racking import say_history

    return say_history(given)


@rack.command("export")
@click.argument("file", type=click.Path(path_type=Path))
@_where
@_quiet
@guarded
def export_rack(**given: Any) -> int:
    """Write the whole rack to FILE: .json with its history, or .csv with its pieces."""
    from cli.racking import write_export

    return write_export(given)


@rack.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@changing
@guarded
def import_rack(**given: Any) -> int:
    """Fill an empty rack from a .json, or put the pieces of a .csv on it."""
    from cli.racking import read_import

    return read_import(given)
