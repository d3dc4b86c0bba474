"""Storeys as drawn, made into jobs: `python -m benchmarks.storeys FILE --out DIR`.

Writes a folder with a job file for every storey of a file of drawn rooms (see `storey_data`). With `--plan` each job is
planned, checked and drawn into it too, and its line of JSON on stdout tells how that went.
"""

from __future__ import annotations

import json
import re
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from benchmarks.storey_data import DrawnRoom, Storey, read_storeys, short_id
from nesting.domain.job import Job
from nesting.domain.plan import Plan
from nesting.errors import Fault, JobError, UnsoundPlanError
from nesting.files.job_file import parse_job
from nesting.files.outline import length_of, segments, twice_area
from nesting.files.writing import write_whole

LARGEST_COLUMN_MM2 = 1_000_000
"""What is larger is called an island."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodsWanted:
    """What every room of a storey gets, as the job file has it."""

    widths: tuple[str, ...] = ("2 m",)
    longest: str = "30 m"
    lines: tuple[str, ...] = ("order step: 10 cm", "seam overlap: 20 mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreyJob:
    """The job made of a storey: its text, what the reader makes of it, and all that was mended or left out."""

    name: str
    text: str
    job: Job | None
    remarks: tuple[str, ...]


def job_of(storey: Storey, goods: GoodsWanted | None = None) -> StoreyJob:
    """Return the job of a storey; what the job file's reader refuses is left out and said."""
    goods = goods or GoodsWanted()
    rooms: list[DrawnRoom] = []
    remarks = list(storey.remarks)
    for room in storey.rooms:
        accepted, said = _accepted(room, goods)
        remarks += [f"{room.name}: {text}" for text in said]
        if accepted is not None:
            rooms.append(accepted)
    text = job_text(storey.name, rooms, goods)
    job = parse_job(text, file=short_id(storey.name)).job if rooms else None
    return StoreyJob(name=storey.name, text=text, job=job, remarks=tuple(remarks))


def _accepted(room: DrawnRoom, goods: GoodsWanted) -> tuple[DrawnRoom | None, list[str]]:
    """Return the room less the doors and cut-outs that the reader refuses; None if it refuses the room itself."""
    said: list[str] = []
    while True:
        try:
            parse_job(job_text("one room", [room], goods), file="storey")
        except JobError as error:
            less = _less(room, error.faults)
            said += [f"{fault.what}: left out [{fault.code}]" for fault in error.faults]
            if less is None:
                return None, said
            room = less
        else:
            return room, said


def _less(room: DrawnRoom, faults: tuple[Fault, ...]) -> DrawnRoom | None:
    """Return the room without the features that the faults name; None if a fault names none."""
    doors: set[int] = set()
    holes: set[int] = set()
    for fault in faults:
        found = re.match(r"rooms\[0\]\.(doors|cut out)\[(\d+)\]", fault.where)
        if not found:
            return None
        (doors if found[1] == "doors" else holes).add(int(found[2]))
    return replace(
        room,
        doors=tuple(door for index, door in enumerate(room.doors) if index not in doors),
        holes=tuple(hole for index, hole in enumerate(room.holes) if index not in holes),
    )


# --- the job file ----------------------------------------------------------------------------------------------------


def job_text(name: str, rooms: Iterable[DrawnRoom], goods: GoodsWanted) -> str:
    """Return the job file of a storey's rooms, all of one material."""
    lines = [f"job: {_quoted(name)}", "unit: mm", "", "materials:", "  - name: Sheet goods"]
    lines.append(f"    {'width' if len(goods.widths) == 1 else 'widths'}: {_flow(goods.widths)}")
    lines += [f"    longest: {goods.longest}"] if goods.longest else []
    lines += [f"    {line}" for line in goods.lines]
    lines += ["", "rooms:"]
    for room in rooms:
        lines += _room_lines(room)
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _flow(items: tuple[str, ...]) -> str:
    return items[0] if len(items) == 1 else f"[{', '.join(items)}]"


def _points(outline: tuple[tuple[int, int], ...]) -> str:
    return "[" + ", ".join(f"[{x}, {y}]" for x, y in outline) + "]"


def _room_lines(room: DrawnRoom) -> list[str]:
    area_m2 = twice_area(room.outline) / 2e6
    lines = [f"  - name: {_quoted(room.name)}  # {area_m2:.2f} m2", f"    corners: {_points(room.outline)}"]
    if room.holes:
        lines.append("    cut out:")
    for hole in room.holes:
        kind = "column" if twice_area(hole) <= 2 * LARGEST_COLUMN_MM2 else "island"
        lines += [f"      - kind: {kind}", f"        corners: {_points(hole)}"]
    if room.doors:
        lines.append("    doors:")
    walls = segments(room.outline)
    for door in room.doors:
        left = length_of(walls[door.wall - 1]) - door.start_mm - door.width_mm
        place = f"from left: {left}" if left < door.start_mm else f"from right: {door.start_mm}"
        lines.append(f"      - {{wall: wall {door.wall}, {place}, width: {door.width_mm}}}")
    return lines


# --- the command -----------------------------------------------------------------------------------------------------


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for the jobs and plans.")
@click.option("--only", type=int, multiple=True, help="Only the storey with this number, from 1; may be repeated.")
@click.option("--width", "widths", multiple=True, help="A roll width made, such as '2 m'; may be repeated.")
@click.option("--longest", default="30 m", show_default=True, help="The longest roll made; '' for no limit.")
@click.option("--set", "lines", multiple=True, help="A line of the material, such as 'repeat along: 64 cm'.")
@click.option("--plan", "planned", is_flag=True, help="Plan, check and draw every job too.")
@click.option("--effort", type=click.IntRange(0, 1000), default=10, show_default=True)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True)
def main(
    file: Path,
    out: Path,
    only: tuple[int, ...],
    widths: tuple[str, ...],
    longest: str,
    lines: tuple[str, ...],
    planned: bool,
    effort: int,
    seed: int,
) -> None:
    """Make a job of every storey in FILE."""
    goods = GoodsWanted(widths=widths or GoodsWanted().widths, longest=longest, lines=lines or GoodsWanted().lines)
    worst = 0
    try:
        for number, storey in enumerate(read_storeys(file), 1):
            if only and number not in only:
                continue
            made = job_of(storey, goods)
            stem = f"{number:02d}-{short_id(storey.name) or 'storey'}"
            row: dict[str, Any] = {"number": number, "name": made.name, "rooms": len(made.job.rooms) if made.job else 0}
            files: dict[str, str] = {}
            if planned and made.job is not None:
                result, files = _planned(made.job, effort=effort, seed=seed)
                row |= result
                worst = max(worst, 0 if row["outcome"] == "planned" else 3)
            write_whole(out / stem, {"job.yaml": made.text, **files})
            click.echo(json.dumps(row | {"remarks": list(made.remarks)}, ensure_ascii=False))
    except JobError as error:
        for fault in error.faults:
            click.echo(f"error: {fault}", err=True)
        worst = 2
    sys.exit(worst)


def _planned(job: Job, *, effort: int, seed: int) -> tuple[dict[str, Any], dict[str, str]]:
    """Plan, check and draw a job; return how it went, and the files."""
    from cli.results import results_of
    from nesting.pipeline import Settings, plan_job

    begun = time.perf_counter()
    try:
        outcome = plan_job(job, Settings(effort=effort, seed=seed))
    except UnsoundPlanError as error:
        return {"outcome": "unsound", "refusals": str(error).splitlines()[:5]}, {}
    row: dict[str, Any] = {
        "outcome": "no plan" if outcome.plan is None else "planned" if not outcome.refusals else "not by the rules",
        "plan_seconds": round(time.perf_counter() - begun, 2),
        "refusals": [f"{refusal.owner}: {refusal.text}" for refusal in outcome.refusals],
    }
    if outcome.plan is None:
        return row, {}
    begun = time.perf_counter()
    files = results_of(outcome.plan)
    row |= {"draw_seconds": round(time.perf_counter() - begun, 2), "files": len(files), **_figures(outcome.plan)}
    return row, files


def _figures(plan: Plan) -> dict[str, Any]:
    first = plan.materials[0]
    return {
        "ordered_m": [[width / 1e9, length / 1e9] for width, length in first.measures.ordered_nm],
        "seams": first.measures.seams,
        "cross_seams": first.measures.cross_seams,
        "relief_cuts": first.measures.relief_cuts,
        "cuts": first.measures.cuts,
        "bounds": [[bound.level, bound.value, bound.attained] for bound in first.bounds[:2]],
        "stop": first.stop,
    }


if __name__ == "__main__":
    main()
