"""The history notes what is dated before an entry that was there already: a clock that went backwards.

What is in the history is given the note too. That is the one time that rows of it are changed: the triggers that
refuse it are taken away and put back in the same transaction.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_NOTE = (
    "UPDATE rack_history SET late = 1 WHERE EXISTS (SELECT 1 FROM rack_history AS earlier "
    "WHERE earlier.number = (SELECT max(number) FROM rack_history AS last WHERE last.number < rack_history.number) "
    "AND earlier.at > rack_history.at)"
)
_UPDATE_TRIGGER = (
    "CREATE TRIGGER rack_history_no_update BEFORE UPDATE ON rack_history "
    "BEGIN SELECT RAISE(ABORT, 'the history is append-only'); END"
)


def upgrade() -> None:
    """Add the note and give it to what is there."""
    op.add_column("rack_history", sa.Column("late", sa.Integer, nullable=False, server_default="0"))
    if op.get_bind().dialect.name == "sqlite":
        op.execute("DROP TRIGGER rack_history_no_update")
        op.execute(_NOTE)
        op.execute(_UPDATE_TRIGGER)
        return
    op.execute("ALTER TABLE rack_history DISABLE TRIGGER rack_history_no_change")
    op.execute(_NOTE)
    op.execute("ALTER TABLE rack_history ENABLE TRIGGER rack_history_no_change")
