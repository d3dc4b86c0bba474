"""The work behind `trade-off`: the front of every material as table, files and chart, and the plan of every row."""

from __future__ import annotations

import json
from pathlib import Path

import click

from cli.asked import AskedFront
from cli.planning import say_notices, say_refusals, see_that_it_can_be_a_folder, settings_of
from cli.results import results_of
from cli.running import EXIT_NO_PLAN, EXIT_STOPPED, Stopper
from nesting.domain.front import Front, FrontRow, TradeOff
from nesting.drawing import front_chart
from nesting.estimating.front_pages import front_pages
from nesting.estimating.front_words import chart_of, roll_text, said_of, said_of_all, seams_text
from nesting.estimating.trading_off import trade_off
from nesting.files.front_tables import Folders, folders_of, front_csv, front_data, front_json, plain_name
from nesting.files.job_file import read_job
from nesting.files.writing import clear_written, write_whole
from nesting.units import format_length, format_money

M2_NM2 = 10**18
ENDING = "-trade-off"
FOLDER_GLOB = "*seams-*"


def trade_off_to_folder(asked: AskedFront, stopper: Stopper) -> int:
    """Trade seams off against roll and write everything that comes out; return the exit code."""
    out = asked.out or Path(f"{asked.job.stem}{ENDING}")
    see_that_it_can_be_a_folder(out)
    read = read_job(asked.job)
    say_notices(read.notices, quiet=asked.quiet)
    with settings_of(asked, stopper) as settings:
        found = trade_off(read.job, settings)
    kept = _kept(found, asked.seams)
    _write(out, found, kept)
    _say(asked, out, found, kept)
    with_plans = {material for material, _ in kept}
    if found.refusals or any(front.material_id not in with_plans for front in found.fronts):
        return EXIT_NO_PLAN
    return EXIT_STOPPED if stopper.by_hand else 0


def _kept(found: TradeOff, seams: int | None) -> Folders:
    """Return the folders that are written: of all rows, or for every material of the one with at most so many seams."""
    folders = folders_of(found)
    if seams is None:
        return folders
    rows = {front.material_id: front.with_at_most(seams) for front in found.fronts}
    taken = {(material, row.seams) for material, row in rows.items() if row is not None}
    return {key: folder for key, folder in folders.items() if key in taken}


def _write(out: Path, found: TradeOff, kept: Folders) -> None:
    """Write tables, charts and plans; folders of an earlier run that has other rows are taken away."""
    texts = {"front.csv": front_csv(found, kept), "front.json": front_json(found, kept)}
    for place, front in enumerate(found.fronts):
        name = f"front-{plain_name(found, place)}.svg" if len(found.fronts) > 1 else "front.svg"
        texts[name] = front_chart(chart_of(found, front))
    plans = {
        kept[front.material_id, row.seams]: results_of(row.plan, fronts=front_pages(found, row.plan))
        for front in found.fronts
        for row in front.rows
        if (front.material_id, row.seams) in kept
    }
    write_whole(out, texts)
    for folder, files in plans.items():
        write_whole(out / folder, files)
    for earlier in sorted(out.glob(FOLDER_GLOB)):
        if earlier.name not in plans and earlier.is_dir():
            clear_written(earlier)


def _say(asked: AskedFront, out: Path, found: TradeOff, kept: Folders) -> None:
    """Say what came out."""
    say_refusals(asked.job, found.refusals)
    for front in found.fronts:
        if asked.seams is not None and front.with_at_most(asked.seams) is None:
            fewest = front.rows[0].seams
            text = f"no plan with at most {seams_text(asked.seams)} was found: the fewest are {fewest}"
            click.echo(f"{front.material_id}: {text}", err=True)
    if asked.as_json:
        click.echo(json.dumps(front_data(found, kept), indent=2, ensure_ascii=False))
    elif not asked.quiet:
        click.echo("\n".join(front_lines(found)))
        click.echo(f"\nchecked; written to {out}")


def front_lines(found: TradeOff) -> list[str]:
    """Return the fronts as lines of text in the job's own unit."""
    lines = [found.job.name, "=" * len(found.job.name)]
    for front in found.fronts:
        material = next(material for material in found.job.materials if material.id == front.material_id)
        lines += ["", f"{material.name}: seams against roll", "", *_table(found, front), ""]
        lines += [f"  {text}" for text in said_of(found, front)]
        lines += ["  The run was stopped: a longer one may find better plans."] if front.stopped else []
    together = said_of_all(found)
    return [*lines, *(["", *together] if together else [])]


def _table(found: TradeOff, front: Front) -> list[str]:
    """Return the rows as a table; columns that are empty in every row are left out."""
    heads = (
        "seams",
        "cross",
        "relief",
        "joins",
        "ordered",
        "used",
        "seam length",
        "waste",
        "cost",
        "no plan needs less than",
    )
    rows = [_cells(found, front, row) for row in front.rows]
    shown = [place for place in range(len(heads)) if any(row[place] not in ("", "0") for row in rows) or place == 0]
    wide = [max(len(heads[place]), *(len(row[place]) for row in rows)) for place in shown]
    return [
        "  " + "  ".join(f"{row[place]:>{width}}" for place, width in zip(shown, wide, strict=True)).rstrip()
        for row in (heads, *rows)
    ]


def _cells(found: TradeOff, front: Front, row: FrontRow) -> tuple[str, ...]:
    job, measures, account = found.job, row.part.measures, row.part.account
    used = sum(width * length for width, length in measures.used_nm)
    bound = "proved" if row.bound.proved else roll_text(job, front.material_id, row.bound.value, "down")
    if not row.bound.proved:
        bound += f", {(row.roll_nm2 - row.bound.value) / max(1, row.roll_nm2):.1%} less"
    cost = measures.total_cost
    return (
        str(row.seams),
        str(measures.cross_seams),
        str(measures.relief_cuts),
        str(measures.joins),
        roll_text(job, front.material_id, row.roll_nm2),
        roll_text(job, front.material_id, used),
        format_length(measures.seam_length_nm, job.unit.value, with_unit=True),
        f"{(account.waste_nm2 + account.start_nm2) / M2_NM2:.2f} m²",
        format_money(cost, job.currency, job.coin_per_unit) if cost else "",
        bound,
    )
