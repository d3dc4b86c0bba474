"""Simple rooms from a table: one line a room, a name and two sizes."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path

from nesting.domain.plan import Notice
from nesting.errors import Fault, JobError
from nesting.files.fields import nearest
from nesting.files.job_reader import MOST_ITEMS
from nesting.files.reading import read_text
from nesting.files.rooms_job import LONGEST_NAME, ReadRoom, ReadRooms, free_name, plain_name
from nesting.files.yaml_tree import LARGEST_JOB_BYTES, normal_key
from nesting.units import LONGEST_NM, UnitError, parse_length, unit_in

ROOM_COLUMNS = (
    "name",
    "east-west",  # clear size, as the job file takes lengths
    "north-south",
    "material",  # may be left out; a material of this name is put into the job
    "lay",  # may be left out: free, north-south or east-west
    "count",  # may be left out: how many such rooms, each with a number behind its name
)
"""Columns of a table of rooms; the first three are needed, the order is free."""

LAYS = ("free", "north-south", "east-west")
_NEEDED = ROOM_COLUMNS[:3]
_SEPARATORS = (",", ";", "\t")
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.,])")
_JOB_UNITS = {"yd": "ft"}


def read_csv_rooms(path: Path, unit: str = "") -> ReadRooms:
    """Return the rooms in the table at `path`; see `parse_csv_rooms`."""
    text = read_text(path, most_bytes=LARGEST_JOB_BYTES, what="table")
    return parse_csv_rooms(text, unit, file=str(path))


def parse_csv_rooms(text: str, unit: str = "", *, file: str = "") -> ReadRooms:
    """Return the rooms of a table with a head line, see `ROOM_COLUMNS`.

    Cells are parted by commas, semicolons or tabs, whichever gives the head line its columns, and may stand in quotes
    (RFC 4180). Where they are not parted by commas, a comma between digits is a decimal comma.

    Parameters
    ----------
    text
        The table.
    unit
        What bare numbers are in: mm, cm, m, in or ft; "": every length has a unit.
    file
        Named in faults.

    Raises
    ------
    JobError
        With every fault found, each with its line and column.
    """
    return _Table(file=file, unit=unit).read(text)


@dataclass(slots=True)
class _Table:
    """Reads one table, and gathers what is wrong with it."""

    file: str
    unit: str
    separator: str = ","
    first_unit: str = ""
    faults: list[Fault] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    rooms: list[ReadRoom] = field(default_factory=list)
    taken: set[str] = field(default_factory=set)

    def fault(self, line: int, column: str, code: str, what: str, hint: str = "") -> None:
        """Note a fault in the column of that name, or in a whole line."""
        where = f"column {column}" if column else ""
        self.faults.append(Fault(code=code, what=what, hint=hint, file=self.file, line=line, where=where))

    def read(self, text: str) -> ReadRooms:
        """Return the rooms of a table."""
        rows = self._rows(text)
        if not rows:
            self.fault(0, "", "empty-file", "the table is empty", f"begin with a head line: {', '.join(_NEEDED)}")
            raise JobError(self.faults)
        columns = self._columns(*rows[0])
        for line, cells in rows[1:]:
            if any(cell.strip() for cell in cells):
                self._row(line, cells, columns)
        if not self.faults and not self.rooms:
            self.fault(0, "", "no-rooms", "the table has no rooms", "write a line for each below the head line")
        if len(self.rooms) > MOST_ITEMS:
            self.fault(0, "", "too-large", f"the table has more than {MOST_ITEMS} rooms", "split it")
        if self.faults:
            raise JobError(self.faults)
        unit = self.unit or _JOB_UNITS.get(self.first_unit, self.first_unit)
        return ReadRooms(unit=unit, rooms=tuple(self.rooms), notices=tuple(self.notices))

    def _rows(self, text: str) -> list[tuple[int, list[str]]]:
        """Return the rows with the line that each begins on; blank lines before the head line are left out."""
        lines = text.splitlines(keepends=True)
        skipped = 0
        while lines and not lines[0].strip():
            del lines[0]
            skipped += 1
        told = re.fullmatch(r"sep=(.)", lines[0].rstrip("\r\n"), re.IGNORECASE) if lines else None
        if told:  # how some spreadsheets say what parts the cells
            del lines[0]
            skipped += 1
        head = lines[0] if lines else ""
        self.separator = told[1] if told else max(_SEPARATORS, key=lambda mark: _known(head, mark))
        reader = csv.reader(io.StringIO("".join(lines), newline=""), delimiter=self.separator, strict=True)
        rows: list[tuple[int, list[str]]] = []
        begun = skipped + 1
        try:
            for cells in reader:
                rows.append((begun, cells))
                begun = skipped + reader.line_num + 1
        except csv.Error as error:
            self.fault(
                begun, "", "not-csv", f"this line cannot be read: {error}", "look for a quote that is not closed"
            )
            raise JobError(self.faults) from None
        return rows

    def _columns(self, line: int, head: list[str]) -> dict[str, int]:
        """Return where each column stands."""
        known = {normal_key(name): name for name in ROOM_COLUMNS}
        columns: dict[str, int] = {}
        for at, cell in enumerate(head):
            name = known.get(normal_key(cell))
            if name is None:
                if cell.strip():
                    what = f"there is no column `{cell.strip()[:40]}`"
                    self.fault(line, str(at + 1), "unknown-column", what, nearest(cell.strip(), ROOM_COLUMNS))
            elif name in columns:
                self.fault(line, str(at + 1), "column-twice", f"the column `{name}` stands twice", "leave one out")
            else:
                columns[name] = at
        for name in _NEEDED:
            if name not in columns:
                hint = f"the head line names the columns: {', '.join(ROOM_COLUMNS)}"
                self.fault(line, name, "missing-column", f"the column `{name}` is missing", hint)
        if self.faults:
            raise JobError(self.faults)
        return columns

    def _row(self, line: int, cells: list[str], columns: dict[str, int]) -> None:
        """Read one room, or so many as its count says."""
        before = len(self.faults)
        found = {name: cells[at].strip() if at < len(cells) else "" for name, at in columns.items()}
        for at, cell in enumerate(cells):
            if cell.strip() and at not in columns.values():
                self.fault(line, str(at + 1), "unknown-column", f"{cell.strip()[:40]!r} stands under no column")
        name = self._name(line, "name", found["name"])
        if not name and not found["name"]:
            self.fault(line, "name", "missing-name", "the room has no name")
        width, length = (self._length(line, column, found[column]) for column in ("east-west", "north-south"))
        material = self._name(line, "material", found.get("material", ""))
        lay = self._lay(line, found.get("lay", ""))
        count = self._count(line, found.get("count", ""))
        if len(self.faults) > before:
            return
        outline = ((0, 0), (width, 0), (width, length), (0, length))
        for number in range(1, count + 1):
            own = self._free(line, f"{name[: LONGEST_NAME - 5]} {number}" if count > 1 else name)
            place = f"line {line} of the table"
            self.rooms.append(ReadRoom(name=own, outline=outline, place=place, material=material, lay=lay, line=line))

    def _free(self, line: int, name: str) -> str:
        """Return a name that no room has yet."""
        own = free_name(name, self.taken)
        if own != name:
            text = f"line {line}: there is a {name!r} already; this one is called {own!r}"
            self.notices.append(Notice(code="name-twice", text=text))
        self.taken.add(own.lower())
        return own

    def _name(self, line: int, column: str, text: str) -> str:
        name = plain_name(text)
        if len(name) > LONGEST_NAME or (text and not name):
            what = f"{text[:20]!r}… is too long or holds signs that cannot be printed"
            self.fault(line, column, "bad-name", what, f"at most {LONGEST_NAME} letters")
        return name

    def _length(self, line: int, column: str, text: str) -> int:
        """Return a length above zero; 1 with a fault noted."""
        plain = text if self.separator == "," else _DECIMAL_COMMA.sub(r"\1.\2", text)
        try:
            own = unit_in(plain) if plain else None
            nm = parse_length(plain, own or self.unit or "m")
        except UnitError as error:
            self.fault(line, column, error.code, error.what, error.hint)
            return 1
        if not own and not self.unit:
            self.fault(line, column, "no-unit", f"{text!r} has no unit", "write one behind it, or give `--unit`")
        elif nm <= 0:
            code = "negative-size" if nm else "zero-size"
            self.fault(line, column, code, f"{text!r} is not longer than nothing", "a room's sizes are above zero")
        elif nm > LONGEST_NM:
            self.fault(line, column, "absurd-size", f"{text!r} is longer than 10 km", "check the unit")
        else:
            self.first_unit = self.first_unit or own or ""
            return nm
        return 1

    def _lay(self, line: int, text: str) -> str:
        lay = "-".join(normal_key(text).split())
        if lay and lay not in LAYS:
            self.fault(line, "lay", "unknown-name", f"{text!r} is no way to lay a room", nearest(lay, LAYS))
        return "" if lay == "free" else lay

    def _count(self, line: int, text: str) -> int:
        if not text:
            return 1
        if not re.fullmatch(r"[0-9]{1,6}", text) or not 0 < int(text) <= MOST_ITEMS:
            what = f"{text[:20]!r} is no number of rooms"
            self.fault(line, "count", "wrong-type", what, f"write a whole number from 1 to {MOST_ITEMS}")
            return 1
        return int(text)


def _known(head: str, separator: str) -> int:
    """Return how many of a head line's cells are known columns if that mark parts them."""
    known = {normal_key(name) for name in ROOM_COLUMNS}
    try:
        cells = next(csv.reader([head], delimiter=separator), [])
    except csv.Error:
        return 0
    return sum(normal_key(cell) in known for cell in cells)
