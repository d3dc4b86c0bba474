"""A rack carried from one store to another: JSON of everything, CSV of the pieces; nothing is lost on the way."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select, text, update

from nesting.domain.geometry import Rect
from nesting.domain.material import StockKind
from nesting.domain.rack import Act, PhaseKnown, PieceFilter, PieceState, RackPiece
from nesting.errors import Fault, JobError
from nesting.shop.auditing import audit
from nesting.shop.book import Change, chunks, known, put
from nesting.shop.handling import must_be_new
from nesting.shop.listing import pieces
from nesting.shop.rows import data_of, piece_from, row_of, utc_text
from nesting.shop.sound import can_be_kept, must_be_sound, must_say, refuse
from nesting.shop.tables import BOOKING, HISTORY, NUMBERING, PIECE, RESERVATION

EXPORT_FORMAT = 1
_TABLES: tuple[tuple[str, Table], ...] = (("bookings", BOOKING), ("reservations", RESERVATION), ("history", HISTORY))
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z")

# --- JSON ------------------------------------------------------------------------------------------------------------


def export_json(tx: Connection) -> str:
    """Return everything that a rack holds, a record a line: the same rack, the same text."""
    every = pieces(tx, PieceFilter(states=()))
    parts = {"pieces": [data_of(piece) for piece in every]}
    for name, table in _TABLES:
        parts[name] = [dict(row) for row in tx.execute(select(table).order_by(table.c.number)).mappings()]
    parts["numbering"] = [dict(row) for row in tx.execute(select(NUMBERING).order_by(NUMBERING.c.name)).mappings()]
    blocks = [f'"rack": {EXPORT_FORMAT}']
    for name, records in parts.items():
        lines = [json.dumps(record, sort_keys=True, ensure_ascii=False) for record in records]
        blocks.append(f'"{name}": [' + ",".join(f"\n{line}" for line in lines) + "\n]")
    return "{\n" + ",\n".join(blocks) + "\n}\n"


def import_json(tx: Connection, content: str) -> int:
    """Fill an empty rack with what `export_json` wrote, and return how many pieces it has.

    Raises
    ------
    JobError
        If the rack is not empty, the text is no export, or what it holds does not pass the audit.
    """
    if tx.execute(select(func.count()).select_from(HISTORY)).scalar():
        raise refuse("rack-not-empty", "only an empty rack can be filled", hint="name a new file or database")
    try:
        data = json.loads(content)
        if data["rack"] != EXPORT_FORMAT:
            raise ValueError(f"it is of format {data['rack']}, this program reads {EXPORT_FORMAT}")
        found = [piece_from(item) for item in data["pieces"]]
        must_be_sound(found)
        rows = {name: [_row(table, item) for item in data[name]] for name, table in _TABLES}
        numbering = {item["name"]: int(item["next"]) for item in data["numbering"]}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise refuse("bad-export", f"this is no export of a rack: {error}", hint="export it again") from None
    by_id = {piece.id: piece for piece in found}
    for part in chunks(_parents_first(by_id)):
        tx.execute(insert(PIECE), [row_of(piece) for piece in part])
    for name, table in _TABLES:
        for some in chunks(rows[name]):
            tx.execute(insert(table), some)
        _count_on(tx, table)
    for name, number in numbering.items():
        tx.execute(update(NUMBERING).where(NUMBERING.c.name == name).values(next=number))
    findings = audit(tx)
    if findings:
        raise JobError([Fault(code=f"audit-{item.rule}", where=item.where, what=item.text) for item in findings])
    return len(found)


def _row(table: Table, item: Mapping[str, Any]) -> dict[str, Any]:
    """Return a record as the columns of its table, refusing what is not of their types."""
    if set(item) != {column.name for column in table.c}:
        raise ValueError(f"a record of {table.name} has other fields: {sorted(item)}")
    for column in table.c:
        value, kind = item[column.name], column.type.python_type
        if not (type(value) is kind or (value is None and column.nullable)):
            raise ValueError(f"{column.name} of {table.name} is {value!r}")
        if (kind is int and value is not None and not 0 <= value < 2**63) or (
            kind is str and not can_be_kept(value or "")
        ):
            raise ValueError(f"{column.name} of {table.name} cannot be kept")
    return dict(item)


def _count_on(tx: Connection, table: Table) -> None:
    """Let the numbers of a table go on after the last; SQLite does so by itself."""
    if tx.dialect.name == "postgresql":
        asked = f"SELECT setval(pg_get_serial_sequence('{table.name}', 'number'), max(number)) FROM {table.name}"
        tx.execute(text(asked))


def _parents_first(by_id: Mapping[str, RackPiece]) -> list[RackPiece]:
    """Return pieces in the order of their labels, but what a piece was made from before it."""
    done: dict[str, RackPiece] = {}
    for name in sorted(by_id):
        line: list[str] = []
        at: str | None = name
        while at is not None and at in by_id and at not in done and at not in line:
            line.append(at)
            at = by_id[at].made_from
        done |= {each: by_id[each] for each in reversed(line)}
    return list(done.values())


# --- CSV -------------------------------------------------------------------------------------------------------------

COLUMNS = (
    "id", "material_id", "kind", "width_nm", "length_nm", "shape", "lot", "lot_orderable", "flaws", "phase_nm",
    "phase_known", "place", "cost", "currency", "coin_per_unit", "received_at", "supplier", "from_job", "made_from",
    "note", "state", "reserved_for", "reserved_by_plan",
)  # fmt: skip


def export_csv(tx: Connection, wanted: PieceFilter) -> str:
    """Return pieces as CSV, exactly: lengths in nanometres, rectangles as `x0 y0 x1 y1; …`."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    for piece in pieces(tx, wanted):
        writer.writerow([_cell(getattr(piece, name)) for name in COLUMNS])
    return stream.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        if value and isinstance(value[0], Rect):
            return "; ".join(" ".join(map(str, rect)) for rect in value)
        return " ".join(map(str, value))
    return str(value)


def import_csv(tx: Connection, content: str, act: Act) -> list[str]:
    """Put the pieces of a CSV of `export_csv` on the rack, in the states that it says, and return their labels.

    A column that is not there takes its default; a blank `received_at` is now.

    Raises
    ------
    JobError
        If anything in it cannot be; all is named, with its line.
    """
    must_say(act)
    at = utc_text(act.now)
    reader = csv.DictReader(io.StringIO(content.removeprefix("\ufeff")), strict=True)
    found: list[RackPiece] = []
    faults: list[Fault] = []
    try:
        unknown = sorted(set(reader.fieldnames or ()) - set(COLUMNS))
        missing = sorted({"id", "material_id", "width_nm", "length_nm"} - set(reader.fieldnames or ()))
        if unknown or missing:
            raise refuse("bad-columns", f"columns not known: {unknown}, missing: {missing}", hint=", ".join(COLUMNS))
        for row in reader:
            try:
                found.append(_piece_of(row, at))
            except (ValueError, TypeError, AttributeError) as error:
                faults.append(Fault(code="bad-row", what=str(error), line=reader.line_num))
    except csv.Error as error:
        faults.append(Fault(code="bad-csv", what=f"this is no CSV: {error}", line=reader.line_num))
    if faults:
        raise JobError(faults)
    must_be_sound(found)
    must_be_new(tx, found)
    _must_have_parents(tx, found)
    ordered = _parents_first({piece.id: piece for piece in found})
    put(tx, [Change(before=None, after=piece) for piece in ordered], act, "import")
    return [piece.id for piece in found]


def _piece_of(row: Mapping[str, str | None], at: str) -> RackPiece:
    """Return the piece in a line; a cell that says nothing of the kind is a ValueError that names it."""
    cells = {name: value for name, value in row.items() if value}
    if None in row or any(value is None for value in row.values()):
        raise ValueError("the line has more or fewer cells than the header")

    def number(name: str, default: int) -> int:
        value = cells.get(name)
        if value is not None and not re.fullmatch(r"-?[0-9]{1,18}", value):
            raise ValueError(f"{name}: {value!r} is not a whole number")
        return default if value is None else int(value)

    def numbers(name: str, count: int) -> list[tuple[int, ...]]:
        parts = [part.split() for part in cells.get(name, "").split(";") if part.strip()]
        if any(len(part) != count or not all(re.fullmatch(r"-?[0-9]{1,18}", one) for one in part) for part in parts):
            raise ValueError(f"{name}: {count} whole numbers each are expected in {cells[name]!r}")
        return [tuple(map(int, part)) for part in parts]

    phase = numbers("phase_nm", 2)
    if len(phase) > 1:
        raise ValueError("phase_nm: there is one")
    received = cells.get("received_at", at)
    if not _TIME.fullmatch(received):
        raise ValueError(f"received_at: {received!r} is not a time such as 2024-05-02T09:30:00.000000Z")
    if cells.get("lot_orderable", "no") not in ("yes", "no"):
        raise ValueError("lot_orderable: yes or no")
    return RackPiece(
        id=cells.get("id", ""),
        material_id=cells.get("material_id", ""),
        kind=StockKind(cells.get("kind", "remnant")),
        width_nm=number("width_nm", 0),
        length_nm=number("length_nm", 0),
        shape=tuple(Rect(*part) for part in numbers("shape", 4)),
        lot=cells.get("lot"),
        lot_orderable=cells.get("lot_orderable") == "yes",
        flaws=tuple(Rect(*part) for part in numbers("flaws", 4)),
        phase_nm=(phase[0][0], phase[0][1]) if phase else None,
        phase_known=PhaseKnown(cells.get("phase_known", "unknown")),
        place=cells.get("place", ""),
        cost=number("cost", 0),
        currency=cells.get("currency", ""),
        coin_per_unit=number("coin_per_unit", 100),
        received_at=received,
        supplier=cells.get("supplier", ""),
        from_job=cells.get("from_job", ""),
        made_from=cells.get("made_from"),
        note=cells.get("note", ""),
        state=PieceState(cells.get("state", "free")),
        reserved_for=cells.get("reserved_for", ""),
        reserved_by_plan=cells.get("reserved_by_plan", ""),
    )


def _must_have_parents(tx: Connection, found: Sequence[RackPiece]) -> None:
    """Refuse pieces made from something that is not cut up, here or on the rack."""
    here = {piece.id: piece.state for piece in found}
    others = {piece.made_from for piece in found if piece.made_from and piece.made_from not in here}
    there = known(tx, [name for name in others if name is not None])
    states = {name: PieceState(state) for name, state in _states(tx, list(there.values()))} | here
    faults = [
        Fault(code="bad-row", where=piece.id, what=f"it is made from {piece.made_from!r}, which is not cut up")
        for piece in found
        if piece.made_from is not None and states.get(piece.made_from) is not PieceState.CUT
    ]
    if faults:
        raise JobError(faults)


def _states(tx: Connection, names: Sequence[str]) -> list[tuple[str, str]]:
    return [
        (name, state)
        for part in chunks(names)
        for name, state in tx.execute(select(PIECE.c.id, PIECE.c.state).where(PIECE.c.id.in_(part)))
    ]
