"""Transactions on either database: whole or not at all, tried again where somebody else was at it.

SQLite keeps a rollback journal, not a write-ahead log: the rack stays one file that can be copied and lies on a shared
drive as well as any, and a reader needs no right to write beside it. Every writing transaction begins IMMEDIATE, so
that it never finds out at its end that another one wrote; the busy timeout does the waiting. `synchronous = EXTRA` is
FULL, and makes sure that a committed change stays so after a power cut too (https://www.sqlite.org/pragma.html).

PostgreSQL runs READ COMMITTED: pieces are locked in the order of their labels (SELECT … FOR UPDATE), and everything
that a change rests on is read after the lock; the lock timeout does the waiting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from nesting.shop.trouble import Trouble, fault_of, trouble_of

T = TypeVar("T")

BUSY_MS = 10_000
"""How long SQLite waits for another writer."""
LOCK_MS = 10_000
"""How long PostgreSQL waits for a lock."""
ATTEMPTS = 5
"""How often a change is tried when others are at the same pieces."""


def no_pause(attempt: int) -> None:
    """Do not wait between two attempts: the databases wait for their locks by themselves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """A database that holds a rack, opened. `where`: its file or its address without a password, for messages.

    `pause(n)` is called before the attempt after the nth, from 0: a caller that has a clock may wait there, longer each
    time.
    """

    engine: Engine
    where: str
    attempts: int = ATTEMPTS
    pause: Callable[[int], None] = field(default=no_pause)

    @property
    def is_sqlite(self) -> bool:
        """Tell whether the rack is a file."""
        return self.engine.dialect.name == "sqlite"

    def write(self, work: Callable[[Connection], T]) -> T:
        """Return what `work` returns, done in one transaction; when it raises, nothing is changed.

        Raises
        ------
        JobError
            If the database does not do it, and whatever `work` raises.
        """
        engine = self.engine.execution_options(writing=True)
        for attempt in range(self.attempts):
            try:
                with engine.begin() as tx:
                    return work(tx)
            except DBAPIError as error:
                again = trouble_of(error) in (Trouble.BUSY, Trouble.TAKEN)
                if not again or attempt + 1 == self.attempts:
                    raise fault_of(error, self.where) from None
                self.pause(attempt)
        raise AssertionError("a store is tried at least once")

    def read(self, work: Callable[[Connection], T]) -> T:
        """Return what `work` reads, all of it as it was at one moment.

        Raises
        ------
        JobError
            If the database does not do it, and whatever `work` raises.
        """
        options: dict[str, Any] = {} if self.is_sqlite else {"isolation_level": "REPEATABLE READ"}
        try:
            with self.engine.execution_options(**options).begin() as tx:
                return work(tx)
        except DBAPIError as error:
            raise fault_of(error, self.where) from None


def sqlite_engine(path: Path) -> Engine:
    """Return an engine on a file, which is made when something is first written."""
    engine = create_engine(
        URL.create("sqlite", database=str(path.absolute())), connect_args={"timeout": BUSY_MS / 1000}
    )

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, record: object) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves
        for pragma in ("foreign_keys = ON", "synchronous = EXTRA", "journal_mode = DELETE", "trusted_schema = OFF"):
            connection.execute(f"PRAGMA {pragma}").close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def postgres_engine(url: URL) -> Engine:
    """Return an engine on a PostgreSQL database."""
    options = f"-c lock_timeout={LOCK_MS} -c synchronous_commit=on"
    given: dict[str, Any] = {"options": options, "connect_timeout": 10, "client_encoding": "UTF8"}
    return create_engine(
        url.set(drivername="postgresql+psycopg"),
        connect_args=given,
        pool_pre_ping=True,
        isolation_level="READ COMMITTED",
    )
