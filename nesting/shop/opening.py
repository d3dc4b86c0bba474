"""Opening a rack: a file that is made on first use, or a database by its URL; anything else is refused unchanged."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import URL, Connection, make_url
from sqlalchemy.exc import ArgumentError

from nesting.errors import Fault, JobError
from nesting.shop.migrating import APPLICATION_ID, LATEST, bring_up_to_date, version_of
from nesting.shop.store import ATTEMPTS, Store, no_pause, postgres_engine, sqlite_engine
from nesting.shop.trouble import fault_of

_HEADER = b"SQLite format 3\0"
"""https://www.sqlite.org/fileformat2.html#the_database_header"""
POSTGRES = ("postgresql", "postgres", "postgresql+psycopg")


def open_store(
    where: Path | str, *, attempts: int = ATTEMPTS, pause: Callable[[int], None] = no_pause, make: bool = True
) -> Store:
    """Return the store at a path or URL, brought up to the tables of today.

    Parameters
    ----------
    where
        A path: an SQLite file; it and its folder are made if `make`. Text with `://`: `postgresql://user@host/name`.
    attempts
        How often a change is tried when others are at the same pieces, at least once.
    pause
        Called between two attempts with the number of the one that failed, from 0.
    make
        Whether a rack that is not there is made.

    Raises
    ------
    JobError
        If there is something else, or it cannot be opened; nothing is changed then.
    """
    if attempts < 1:
        raise ValueError("a change must be tried at least once")
    if isinstance(where, str) and "://" in where:
        return _opened_postgres(where, attempts, pause, make=make)
    return _opened_file(Path(where), attempts, pause, make=make)


def _fault(code: str, what: str, where: str, hint: str = "") -> JobError:
    return JobError([Fault(code=code, what=what, hint=hint, file=where)])


# --- a file ----------------------------------------------------------------------------------------------------------


def _opened_file(path: Path, attempts: int, pause: Callable[[int], None], *, make: bool) -> Store:
    where = str(path)
    if "\0" in where:
        raise _fault("rack-no-access", "a name cannot hold a zero byte", where.replace("\0", "?"))
    try:
        new = not path.exists()
        if not new and path.is_dir():
            raise _fault("is-a-folder", "this is a folder, not a rack", where, "name a file in it")
        if not new and not path.is_file():
            raise _fault("not-a-rack", "this is not a file", where)
        if new and not make:
            raise _fault("no-rack", "there is no rack here", where, "receive a piece first, or check the name")
        if new:
            path.parent.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _fault("rack-no-access", f"the rack cannot be opened: {reason}", where) from None
    version = 0 if new else _version_in_file(path)
    store = Store(engine=sqlite_engine(path), where=where, attempts=attempts, pause=pause)
    try:
        if version != LATEST:
            if not new and version:
                _copied_first(store, path)
            else:
                store.write(lambda tx: bring_up_to_date(tx, where))
    except BaseException:
        store.engine.dispose()
        raise
    return store


def _version_in_file(path: Path) -> int:
    """Return the version of the tables in a file, 0 for an empty one; refuse what is no rack, and newer ones."""
    where = str(path)
    try:
        _must_look_like_one(path)
        with contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=30)) as link:
            link.isolation_level = None
            application = link.execute("PRAGMA application_id").fetchone()[0]
            version = int(link.execute("PRAGMA user_version").fetchone()[0])
            tables = link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    except OSError as error:
        raise _fault("rack-no-access", f"the rack cannot be opened: {error.strerror}", where) from None
    except sqlite3.Error as error:
        raise fault_of(error, where) from None
    if not tables and application in (0, APPLICATION_ID):
        return 0
    if application != APPLICATION_ID:
        raise _fault("not-a-rack", "this is a database of another program", where, "name another file")
    refuse_newer(version, where)
    return version


def _must_look_like_one(path: Path) -> None:
    """Refuse a file that does not begin as SQLite's do; SQLite itself would make a database of a very short one.

    A journal beside it means that somebody was interrupted: what is in the file then is for SQLite to say.
    """
    with path.open("rb") as stream:
        head = stream.read(len(_HEADER))
    if head not in (b"", _HEADER) and not path.with_name(f"{path.name}-journal").exists():
        raise _fault("not-a-rack", "this is not a rack", str(path), "check the name")


def refuse_newer(version: int, where: str) -> None:
    """Refuse tables that a later program made.

    Raises
    ------
    JobError
        If they are newer than this program knows.
    """
    if version > LATEST:
        what = f"the rack's tables are of version {version}, this program knows them up to {LATEST}"
        raise _fault("rack-newer", what, where, "use the newer program on every counter")


def _copied_first(store: Store, path: Path) -> None:
    """Bring a file up to date in one transaction, with a copy of it put by while nobody else can write.

    The transaction alone is enough against a crash; the copy is for the day when a migration itself is wrong.
    """

    def work(tx: Connection) -> None:
        version = version_of(tx)
        if version != LATEST:
            copy = path.with_name(f"{path.name}.version-{version}")
            _copy(path, copy)
            bring_up_to_date(tx, str(path))

    store.write(work)


def _copy(path: Path, copy: Path) -> None:
    aside = copy.with_name(f".{copy.name}.{os.getpid()}.part")
    try:
        with (
            contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as old,
            contextlib.closing(sqlite3.connect(aside)) as new,
        ):
            old.backup(new)
        with aside.open("rb+") as stream:
            os.fsync(stream.fileno())
        aside.replace(copy)
    except (OSError, sqlite3.Error) as error:
        what = f"the rack must be brought up to date, and no copy of it could be put by: {error}"
        raise _fault("rack-no-copy", what, str(copy), "make room, or see to the folder's permissions") from None
    finally:
        aside.unlink(missing_ok=True)


# --- a database server -----------------------------------------------------------------------------------------------


def _url_of(text: str) -> URL:
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise _fault("bad-url", "this is no address of a database", text.split("@")[-1]) from None
    if url.drivername not in POSTGRES:
        hint = "give a file, or postgresql://user@host/name"
        raise _fault("bad-url", f"racks on {url.drivername!r} are not known", url.render_as_string(), hint)
    return url.set(drivername="postgresql+psycopg")


def _opened_postgres(text: str, attempts: int, pause: Callable[[int], None], *, make: bool) -> Store:
    url = _url_of(text)
    where = url.set(drivername="postgresql").render_as_string(hide_password=True)
    try:
        engine = postgres_engine(url)
    except ModuleNotFoundError:
        hint = "install rollwright with its extra: pip install 'rollwright[postgres]'"
        raise _fault("no-driver", "the driver for PostgreSQL is not installed", where, hint) from None
    store = Store(engine=engine, where=where, attempts=attempts, pause=pause)
    try:
        version = store.read(version_of)
        refuse_newer(version, where)
        if not version and not make:
            raise _fault("no-rack", "there is no rack in this database", where, "receive a piece first")
        if version != LATEST:
            store.write(lambda tx: bring_up_to_date(tx, where))
    except BaseException:
        engine.dispose()
        raise
    return store
