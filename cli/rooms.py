"""What `rollwright rooms` does: rooms of another program's file become a job file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from nesting.domain.plan import Notice
from nesting.errors import Fault, JobError
from nesting.files.rooms_job import ReadRooms, job_of_rooms
from nesting.files.writing import write_new


def write_rooms(source: Path, job: Path | None, *, unit: str, layers: Sequence[str], quiet: bool) -> int:
    """Write the job of the rooms in `source`, or print it; return the exit code."""
    read = _read(source, unit, layers)
    text = job_of_rooms(read, source.stem, str(source))
    if job is not None:
        write_new(job, text)
    for notice in () if quiet else read.notices:
        click.echo(f"note: {notice.text}", err=True)
    if job is None:
        click.echo(text, nl=False)
    elif not quiet:
        rooms = f"{len(read.rooms)} room{'s' if len(read.rooms) > 1 else ''}"
        click.echo(f"{rooms} written to {job}: fill in the goods, then plan")
    return 0


def _read(source: Path, unit: str, layers: Sequence[str]) -> ReadRooms:
    """Return the rooms of a drawing or a table, by the ending of its name."""
    kind = source.suffix.lower()
    if kind == ".dxf":
        from nesting.files.dxf_rooms import read_dxf_rooms

        return read_dxf_rooms(source, unit, layers)
    if kind != ".csv":
        what = "only files that end in .dxf or .csv are read"
        raise JobError([Fault(code="unknown-kind", what=what, hint="save it as one of these", file=str(source))])
    from nesting.files.csv_rooms import read_csv_rooms

    read = read_csv_rooms(source, unit)
    if layers:
        told = Notice(code="no-layers", text="a table has no layers: `--layer` changes nothing")
        return ReadRooms(unit=read.unit, rooms=read.rooms, notices=(told, *read.notices))
    return read
