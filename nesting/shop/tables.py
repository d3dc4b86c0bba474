"""The tables of the rack, the same in both databases; `migrations/` makes them.

Lengths are whole nanometres, money whole coins. Areas pass 64 bits (4 m × 100 m are 4·10²⁰ nm²), so none is stored:
they are computed from rectangles. Text compares byte by byte in both databases ("C" in PostgreSQL).
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, MetaData, Table, Text, text
from sqlalchemy.types import TypeEngine

METADATA = MetaData()
VERSION_TABLE = "rack_version"


def words() -> TypeEngine[str]:
    """Return the type of text that compares byte by byte."""
    return Text().with_variant(Text(collation="C"), "postgresql")


def number() -> TypeEngine[int]:
    """Return the type of a key that counts by itself (SQLite counts INTEGER keys only)."""
    return BigInteger().with_variant(Integer(), "sqlite")


PIECE = Table(
    "rack_piece",
    METADATA,
    Column("id", words(), primary_key=True),
    Column("id_key", words(), nullable=False, unique=True),  # the label as it reads: no case, no double spaces
    Column("material_id", words(), nullable=False),
    Column("kind", words(), nullable=False),
    Column("width_nm", BigInteger, nullable=False),
    Column("length_nm", BigInteger, nullable=False),
    Column("shape", words(), nullable=False),  # JSON: [[x0, y0, x1, y1], …]
    Column("lot", words()),
    Column("lot_orderable", Integer, nullable=False),
    Column("flaws", words(), nullable=False),
    Column("phase_x_nm", BigInteger),
    Column("phase_y_nm", BigInteger),
    Column("phase_known", words(), nullable=False),
    Column("place", words(), nullable=False),
    Column("cost", BigInteger, nullable=False),
    Column("currency", words(), nullable=False),
    Column("coin_per_unit", Integer, nullable=False),
    Column("received_at", words(), nullable=False),
    Column("supplier", words(), nullable=False),
    Column("from_job", words(), nullable=False),
    Column("made_from", words(), ForeignKey("rack_piece.id")),
    Column("note", words(), nullable=False),
    Column("state", words(), nullable=False),
    Column("version", BigInteger, nullable=False),
    Column("search_key", words(), nullable=False),  # what a text is looked for in, without case
    Index("rack_piece_listed", "material_id", "state", "lot"),
    Index("rack_piece_placed", "place", "state"),
    Index("rack_piece_made_from", "made_from"),
)

BOOKING = Table(
    "rack_booking",
    METADATA,
    Column("number", number(), primary_key=True, autoincrement=True),
    Column("plan_key", words(), nullable=False),
    Column("job", words(), nullable=False),
    Column("who", words(), nullable=False),
    Column("at", words(), nullable=False),
    Column("undone", Integer, nullable=False),
    sqlite_autoincrement=True,
)
Index(
    "rack_booking_once",
    BOOKING.c.plan_key,
    unique=True,
    sqlite_where=text("undone = 0"),
    postgresql_where=text("undone = 0"),
)

RESERVATION = Table(
    "rack_reservation",
    METADATA,
    Column("number", number(), primary_key=True, autoincrement=True),
    Column("piece_id", words(), ForeignKey("rack_piece.id"), nullable=False),
    Column("job", words(), nullable=False),
    Column("plan_key", words(), nullable=False),
    Column("who", words(), nullable=False),
    Column("at", words(), nullable=False),
    Column("holds", Integer, nullable=False),
    Column("ended_at", words()),
    Index("rack_reservation_piece", "piece_id"),
    sqlite_autoincrement=True,
)
Index(
    "rack_reservation_once",
    RESERVATION.c.piece_id,
    unique=True,
    sqlite_where=text("holds = 1"),
    postgresql_where=text("holds = 1"),
)
Index(
    "rack_reservation_job",
    RESERVATION.c.job,
    sqlite_where=text("holds = 1"),
    postgresql_where=text("holds = 1"),
)

HISTORY = Table(
    "rack_history",
    METADATA,
    Column("number", number(), primary_key=True, autoincrement=True),
    Column("at", words(), nullable=False),
    Column("who", words(), nullable=False),
    Column("why", words(), nullable=False),
    Column("what", words(), nullable=False),
    Column("piece_id", words(), nullable=False),  # no foreign key: what was undone is not there any more
    Column("before", words()),
    Column("after", words()),
    Column("booking", number(), ForeignKey("rack_booking.number")),
    Column("late", Integer, nullable=False, server_default="0"),
    Index("rack_history_piece", "piece_id", "number"),
    Index("rack_history_booking", "booking"),
    sqlite_autoincrement=True,
)

NUMBERING = Table(
    "rack_numbering",
    METADATA,
    Column("name", words(), primary_key=True),
    Column("next", BigInteger, nullable=False),
)
