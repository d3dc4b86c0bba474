"""Loose pieces and strips, from their entries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.domain.job import EdgeKind, LoosePiece, Room, Strip
from nesting.domain.material import Material
from nesting.domain.rules import MM
from nesting.files.faults import Faults
from nesting.files.fields import nearest
from nesting.files.job_entries import LooseEntry, StripEntry
from nesting.files.outline import length_of, segments
from nesting.files.yaml_tree import Loc


def loose_of(entry: LooseEntry, material: Material, loc: Loc, faults: Faults, *, ident: str) -> LoosePiece:
    """Return the rectangles asked for."""
    least = 300 * MM if entry.least_part is None else entry.least_part
    parts = entry.most_parts or 1
    if parts > 1 and least * 2 > entry.size[1]:
        hint = "check `least part`: parts are joined across the length of the piece"
        faults.add(loc, "too-large", "two of the least parts are longer than the piece", hint)
    return LoosePiece(
        id=ident,
        name=entry.name,
        material_id=material.id,
        width_nm=entry.size[0],
        length_nm=entry.size[1],
        count=entry.count or 1,
        most_parts=parts,
        least_part_nm=least,
        line=faults.tree.line_of(loc),
    )


def strip_of(
    entry: StripEntry, material: Material, wall_lengths_nm: Sequence[int], loc: Loc, faults: Faults, *, ident: str
) -> Strip:
    """Return the strips asked for: the runs given, then those along walls."""
    if not entry.runs and not entry.walls_of:
        faults.add(loc, "missing-key", "the runs of the strip are missing", "give `runs` or `walls of`")
    strip = Strip(
        id=ident,
        name=entry.name,
        material_id=material.id,
        width_nm=entry.width,
        runs_nm=(*(entry.runs or ()), *wall_lengths_nm),
        line=faults.tree.line_of(loc),
    )
    return strip if entry.least_joint is None else replace(strip, least_joint_nm=entry.least_joint)


def wall_runs(
    entry: StripEntry, loc: Loc, faults: Faults, *, rooms: Sequence[Room], listed: Sequence[str]
) -> list[int]:
    """Return the lengths of the walls of the rooms named, stretch by stretch.

    Parameters
    ----------
    entry, loc, faults
        The strip, where it stands, and where faults go.
    rooms
        The rooms that could be read.
    listed
        The names of all rooms in the file: one that is listed but could not be read has its own fault.
    """
    by_name = {name.lower(): room for room in rooms for name in (room.name, room.id)}
    out: list[int] = []
    for name in entry.walls_of or ():
        room = by_name.get(name.lower())
        if room is not None:
            edges = zip(segments(room.outline), room.edges, strict=True)
            out += [length_of(segment) for segment, edge in edges if edge.kind is EdgeKind.WALL]
        elif name.lower() not in (known.lower() for known in listed):
            faults.add((*loc, "walls of"), "unknown-name", f"there is no room {name!r}", nearest(name, listed))
    return out
