"""Rooms that were read from another program's file, and the job file that is written from them."""

from __future__ import annotations

import json
import re
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace

from nesting.domain.geometry import Point
from nesting.domain.job import HoleKind
from nesting.domain.plan import Notice
from nesting.errors import Fault, JobError
from nesting.files.job_file import parse_job
from nesting.units import METRIC, MM_NM, format_length, parse_length

LONGEST_NAME = 80
"""Letters of a name, as the job file takes them."""

_SAFE = re.compile(r"[A-Za-z][A-Za-z0-9]*(?:[ _./-][A-Za-z0-9]+)*")
_WORDS_OF_YAML = {"null", "yes", "no", "true", "false", "on", "off"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadCutOut:
    """A column, island or fixture of a room that was read; outline in the room's own frame, nm."""

    name: str
    kind: HoleKind
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadRoom:
    """A room that was read. `outline`: counter-clockwise from the room's own lower left, nm; `place`: where it stands.

    `material` and `lay` are as the job file takes them; "" for none.
    """

    name: str
    outline: tuple[Point, ...]
    place: str
    cut_outs: tuple[ReadCutOut, ...] = ()
    material: str = ""
    lay: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadRooms:
    """All rooms of a file, the unit that their job is written in, and what its user should know."""

    unit: str
    rooms: tuple[ReadRoom, ...]
    notices: tuple[Notice, ...] = ()


def plain_name(text: str) -> str:
    """Return a name on one line without signs that cannot be printed; it may be too long."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def free_name(name: str, taken: Container[str]) -> str:
    """Return `name`, or with a number behind it one that is not in `taken` (lower case), at most 80 letters long."""
    found, number = name[:LONGEST_NAME].strip(), 1
    while found.lower() in taken:
        number += 1
        found = f"{name[: LONGEST_NAME - len(str(number)) - 1].strip()} {number}"
    return found


def job_of_rooms(read: ReadRooms, name: str, file: str = "") -> str:
    """Return the text of a job file with these rooms and goods to be filled in.

    Every length reads back as exactly the nanometres that it has here.

    Parameters
    ----------
    read
        The rooms, at least one.
    name
        The job's name.
    file
        Where they come from, for the faults.

    Raises
    ------
    JobError
        If the job file's own reader refuses a room; the faults say where the room stands in its own file.
    """
    text, lines = _written(read, plain_name(name)[:LONGEST_NAME].strip() or "Rooms")
    try:
        parse_job(text)
    except JobError as error:
        raise JobError([_at_home(fault, read, lines, file) for fault in error.faults]) from None
    return text


def _written(read: ReadRooms, name: str) -> tuple[str, list[int]]:
    """Return the text, and the line on which each room begins."""
    metric = read.unit in METRIC
    materials = list(dict.fromkeys(room.material for room in read.rooms if room.material)) or ["Goods"]
    lines = [
        "# Rooms read from another file. Fill in the goods below, then plan.",
        "# A bare number is in the job's unit.",
        "",
        f"job: {_quoted(name)}",
        f"unit: {read.unit}",
        "",
        "# The goods: what stands here only holds the place of what you lay.",
        "materials:",
    ]
    for material in materials:
        lines += [
            f"  - name: {_quoted(material)}",
            f"    width: {'2 m' if metric else _FEET}  # fill in: the roll's width",
            f"    order step: {'10 cm' if metric else '6 in'}  # ordered lengths are rounded up to this",
            f"    # longest: {'30 m' if metric else _HUNDRED_FEET}  # the longest roll made",
            f"    # price: {'24.50 per m' if metric else '26.40 per ft'}",
        ]
    lines += ["", "rooms:"]
    starts = []
    for room in read.rooms:
        starts.append(len(lines) + 1)
        named = room.material if len(materials) > 1 else ""
        lines += _room_lines(replace(room, material=named), read.unit)
    return "\n".join(lines).rstrip("\n") + "\n", starts


_FEET, _HUNDRED_FEET = "12'", "100'"


def _room_lines(room: ReadRoom, unit: str) -> list[str]:
    lines = [f"  - name: {_quoted(room.name)}", f"    # {plain_name(room.place)}"]
    if room.material:
        lines.append(f"    material: {_quoted(room.material)}")
    size = _size_of(room.outline)
    if size:
        lines.append(f"    rectangle: {pair_text(*size, unit, ' x ')}  # east-west x north-south")
    else:
        lines += ["    corners:  # east, north of the room's lower left", *_corners(room, unit)]
    if room.lay:
        lines.append(f"    lay: {room.lay}")
    if room.cut_outs:
        lines.append("    cut out:")
    for cut_out in room.cut_outs:
        lines += [f"      - name: {_quoted(cut_out.name)}", f"        kind: {cut_out.kind}"]
        size = _size_of(cut_out.outline)
        if size:
            lines.append(f"        at: {pair_text(*cut_out.outline[0], unit, ', ')}")
            lines.append(f"        size: {pair_text(*size, unit, ' x ')}")
        else:
            lines += ["        corners:", *(f"      {line}" for line in _corners(cut_out, unit))]
    return [*lines, ""]


def _corners(of: ReadRoom | ReadCutOut, unit: str) -> list[str]:
    return [f"      - {pair_text(x, y, unit, ', ')}" for x, y in of.outline]


def _size_of(outline: tuple[Point, ...]) -> tuple[int, int] | None:
    """Return (east-west, north-south) of a rectangle parallel to the axes, from its lower left corner; else None."""
    if len(outline) != 4:
        return None
    (x0, y0), _, (x1, y1), _ = outline
    return (x1 - x0, y1 - y0) if outline == ((x0, y0), (x1, y0), (x1, y1), (x0, y1)) else None


def pair_text(first_nm: int, second_nm: int, unit: str, between: str) -> str:
    """Return two lengths that read back exactly: bare if both can be, else each with its unit."""
    bare = [format_length(nm, unit) for nm in (first_nm, second_nm)]
    if all(parse_length(text, unit) == nm for text, nm in zip(bare, (first_nm, second_nm), strict=True)):
        return between.join(bare)
    # A bare number beside one with a unit would be read in that unit.
    return between.join(_exact(nm, unit) for nm in (first_nm, second_nm))


def _exact(nm: int, unit: str) -> str:
    """Return a length with its unit that reads back exactly: in the job's unit, else as a decimal of millimetres."""
    text = format_length(nm, unit, with_unit=True)
    if parse_length(text, unit) == nm:
        return text
    whole, part = divmod(abs(nm), MM_NM)
    decimals = f"{part:06d}".rstrip("0")
    return f"{'-' if nm < 0 else ''}{whole}{'.' if decimals else ''}{decimals} mm"


def _quoted(name: str) -> str:
    """Return a name as YAML takes it."""
    if _SAFE.fullmatch(name) and name.lower() not in _WORDS_OF_YAML:
        return name
    return json.dumps(name, ensure_ascii=False)


def _at_home(fault: Fault, read: ReadRooms, lines: Sequence[int], file: str) -> Fault:
    """Return a fault of the job that would be written as one of the file that the rooms come from."""
    number = sum(line <= fault.line for line in lines)
    if not number:
        return replace(fault, file=file, line=0)
    room = read.rooms[number - 1]
    return replace(fault, file=file, line=room.line, where=f"{room.name} ({plain_name(room.place)})")
