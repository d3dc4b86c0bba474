"""The first tables: pieces, reservations, history, bookings, numbering.

The history is append-only: triggers refuse that a row of it is changed or taken away.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def _words() -> sa.types.TypeEngine[str]:
    return sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def _number() -> sa.types.TypeEngine[int]:
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables of version 1."""
    _pieces()
    _bookings()
    _reservations()
    _history()
    numbering = op.create_table(
        "rack_numbering",
        sa.Column("name", _words(), primary_key=True),
        sa.Column("next", sa.BigInteger, nullable=False),
    )
    op.bulk_insert(numbering, [{"name": "piece", "next": 1}])


def _pieces() -> None:
    op.create_table(
        "rack_piece",
        sa.Column("id", _words(), primary_key=True),
        sa.Column("id_key", _words(), nullable=False, unique=True),
        sa.Column("material_id", _words(), nullable=False),
        sa.Column("kind", _words(), nullable=False),
        sa.Column("width_nm", sa.BigInteger, nullable=False),
        sa.Column("length_nm", sa.BigInteger, nullable=False),
        sa.Column("shape", _words(), nullable=False),
        sa.Column("lot", _words()),
        sa.Column("lot_orderable", sa.Integer, nullable=False),
        sa.Column("flaws", _words(), nullable=False),
        sa.Column("phase_x_nm", sa.BigInteger),
        sa.Column("phase_y_nm", sa.BigInteger),
        sa.Column("phase_known", _words(), nullable=False),
        sa.Column("place", _words(), nullable=False),
        sa.Column("cost", sa.BigInteger, nullable=False),
        sa.Column("currency", _words(), nullable=False),
        sa.Column("coin_per_unit", sa.Integer, nullable=False),
        sa.Column("received_at", _words(), nullable=False),
        sa.Column("supplier", _words(), nullable=False),
        sa.Column("from_job", _words(), nullable=False),
        sa.Column("made_from", _words(), sa.ForeignKey("rack_piece.id")),
        sa.Column("note", _words(), nullable=False),
        sa.Column("state", _words(), nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("search_key", _words(), nullable=False),
        sa.CheckConstraint("width_nm > 0 AND length_nm > 0", name="rack_piece_size"),
        sa.CheckConstraint(
            "state IN ('free', 'reserved', 'cut', 'scrapped', 'missing', 'client')", name="rack_piece_state"
        ),
    )
    op.create_index("rack_piece_listed", "rack_piece", ["material_id", "state", "lot"])
    op.create_index("rack_piece_placed", "rack_piece", ["place", "state"])
    op.create_index("rack_piece_made_from", "rack_piece", ["made_from"])


def _bookings() -> None:
    op.create_table(
        "rack_booking",
        sa.Column("number", _number(), primary_key=True, autoincrement=True),
        sa.Column("plan_key", _words(), nullable=False),
        sa.Column("job", _words(), nullable=False),
        sa.Column("who", _words(), nullable=False),
        sa.Column("at", _words(), nullable=False),
        sa.Column("undone", sa.Integer, nullable=False),
        sqlite_autoincrement=True,
    )
    _partial("rack_booking_once", "rack_booking", "plan_key", "undone = 0", unique=True)


def _reservations() -> None:
    op.create_table(
        "rack_reservation",
        sa.Column("number", _number(), primary_key=True, autoincrement=True),
        sa.Column("piece_id", _words(), sa.ForeignKey("rack_piece.id"), nullable=False),
        sa.Column("job", _words(), nullable=False),
        sa.Column("plan_key", _words(), nullable=False),
        sa.Column("who", _words(), nullable=False),
        sa.Column("at", _words(), nullable=False),
        sa.Column("holds", sa.Integer, nullable=False),
        sa.Column("ended_at", _words()),
        sqlite_autoincrement=True,
    )
    op.create_index("rack_reservation_piece", "rack_reservation", ["piece_id"])
    _partial("rack_reservation_once", "rack_reservation", "piece_id", "holds = 1", unique=True)
    _partial("rack_reservation_job", "rack_reservation", "job", "holds = 1", unique=False)


def _partial(name: str, table: str, column: str, where: str, *, unique: bool) -> None:
    condition = sa.text(where)
    op.create_index(name, table, [column], unique=unique, sqlite_where=condition, postgresql_where=condition)


def _history() -> None:
    op.create_table(
        "rack_history",
        sa.Column("number", _number(), primary_key=True, autoincrement=True),
        sa.Column("at", _words(), nullable=False),
        sa.Column("who", _words(), nullable=False),
        sa.Column("why", _words(), nullable=False),
        sa.Column("what", _words(), nullable=False),
        sa.Column("piece_id", _words(), nullable=False),
        sa.Column("before", _words()),
        sa.Column("after", _words()),
        sa.Column("booking", _number(), sa.ForeignKey("rack_booking.number")),
        sqlite_autoincrement=True,
    )
    op.create_index("rack_history_piece", "rack_history", ["piece_id", "number"])
    op.create_index("rack_history_booking", "rack_history", ["booking"])
    if op.get_bind().dialect.name == "sqlite":
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER rack_history_no_{change.lower()} BEFORE {change} ON rack_history "
                "BEGIN SELECT RAISE(ABORT, 'the history is append-only'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION rack_history_kept() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the history is append-only'; END $$"
    )
    op.execute(
        "CREATE TRIGGER rack_history_no_change BEFORE UPDATE OR DELETE ON rack_history "
        "FOR EACH ROW EXECUTE FUNCTION rack_history_kept()"
    )
    op.execute(
        "CREATE TRIGGER rack_history_no_truncate BEFORE TRUNCATE ON rack_history "
        "FOR EACH STATEMENT EXECUTE FUNCTION rack_history_kept()"
    )
