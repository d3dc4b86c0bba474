"""Bringing the tables up to date, step by step, inside the transaction of whoever asks."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, inspect, text

from nesting.errors import Fault, JobError
from nesting.shop.tables import METADATA, VERSION_TABLE

APPLICATION_ID = int.from_bytes(b"RwRk")
"""Marks an SQLite file as a rack of ours (https://www.sqlite.org/pragma.html#pragma_application_id)."""
LATEST = 2
"""The version of the tables that this program works with: the number of the last migration."""
_LOCK = int.from_bytes(b"RwRkMigr")
"""PostgreSQL's advisory lock for migrations: only one counter migrates, the others wait."""


def version_of(tx: Connection) -> int:
    """Return the version of the tables, 0 for none.

    Raises
    ------
    ValueError
        If the version is written in no way that we ever wrote.
    """
    if not inspect(tx).has_table(VERSION_TABLE):
        return 0
    found = tx.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()
    return 0 if found is None else int(found)


def bring_up_to_date(tx: Connection, where: str, *, to: int = LATEST) -> None:
    """Make the tables, or change older ones, up to version `to`; nothing if another counter was quicker.

    Raises
    ------
    JobError
        If tables of ours are there that no version belongs to, or of a version that is not known.
    """
    if tx.dialect.name == "postgresql":
        tx.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
    version = version_of(tx)
    if version >= to:
        return
    if not version and set(inspect(tx).get_table_names()) & set(METADATA.tables):
        what = "tables with the rack's names are there, but no version of a rack"
        raise JobError([Fault(code="not-a-rack", what=what, hint="use a database of its own", file=where)])
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = tx
    command.upgrade(config, f"{to:04d}")
    if tx.dialect.name == "sqlite":
        tx.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        tx.exec_driver_sql(f"PRAGMA user_version = {to}")
