"""What a database can answer instead of doing it, in words and codes of our own."""

from __future__ import annotations

from enum import Enum, auto
from typing import Any

from sqlalchemy.exc import DBAPIError, IntegrityError

from nesting.errors import Fault, JobError


class Trouble(Enum):
    """What kind of answer it is."""

    BUSY = auto()  # somebody else was at it: nothing was done, it may be tried again
    TAKEN = auto()  # a key that is there once only was taken meanwhile: as BUSY, the next try says by whom
    FULL = auto()
    READ_ONLY = auto()
    NO_DATABASE = auto()
    NO_ACCESS = auto()
    DISK = auto()
    LOST = auto()  # the connection broke: what was under way may be done or not
    OTHER = auto()


_SQLITE = {
    5: Trouble.BUSY,  # SQLITE_BUSY
    6: Trouble.BUSY,  # SQLITE_LOCKED
    8: Trouble.READ_ONLY,
    10: Trouble.DISK,  # SQLITE_IOERR
    11: Trouble.NO_DATABASE,  # SQLITE_CORRUPT
    13: Trouble.FULL,
    14: Trouble.NO_ACCESS,  # SQLITE_CANTOPEN
    23: Trouble.NO_ACCESS,  # SQLITE_AUTH
    26: Trouble.NO_DATABASE,
}
"""Primary result code -> trouble. https://www.sqlite.org/rescode.html"""

_POSTGRES = {
    "40001": Trouble.BUSY,  # serialization_failure
    "40P01": Trouble.BUSY,  # deadlock_detected
    "55P03": Trouble.BUSY,  # lock_not_available
    "53300": Trouble.BUSY,  # too_many_connections
    "53100": Trouble.FULL,  # disk_full
    "25006": Trouble.READ_ONLY,  # read_only_sql_transaction
    "42501": Trouble.NO_ACCESS,  # insufficient_privilege
    "28000": Trouble.NO_ACCESS,
    "28P01": Trouble.NO_ACCESS,  # invalid_password
    "3D000": Trouble.NO_ACCESS,  # invalid_catalog_name
    "58030": Trouble.DISK,  # io_error
}
"""SQLSTATE -> trouble. https://www.postgresql.org/docs/15/errcodes-appendix.html"""

_WORDS = {
    Trouble.BUSY: ("rack-busy", "the rack is in use by others and did not come free", "try again in a moment"),
    Trouble.TAKEN: ("rack-busy", "somebody else was quicker, again and again", "try again in a moment"),
    Trouble.FULL: (
        "rack-full",
        "there is no room left where the rack is stored; nothing was changed",
        "make room there",
    ),
    Trouble.READ_ONLY: (
        "rack-read-only",
        "the rack can be read but not written to; nothing was changed",
        "see to the file's and its folder's permissions",
    ),
    Trouble.NO_DATABASE: (
        "not-a-rack",
        "this is not a rack, or it is damaged",
        "check the name, or bring back a copy that was put by",
    ),
    Trouble.NO_ACCESS: (
        "rack-no-access",
        "the rack cannot be opened",
        "check the name, the folder and the permissions",
    ),
    Trouble.DISK: (
        "rack-disk",
        "the disk did not do what was asked; nothing was changed",
        "see whether it is full, or failing",
    ),
    Trouble.LOST: (
        "rack-lost",
        "the connection to the rack broke off; what was under way is done wholly or not at all",
        "look whether it is there before you do it again",
    ),
    Trouble.OTHER: ("rack-failed", "the database refused", ""),
}


def trouble_of(error: BaseException) -> Trouble:
    """Return what kind of trouble an error of a database's driver is, wrapped or not."""
    inner: Any = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(inner, "sqlite_errorcode", None)
    state = getattr(inner, "sqlstate", None)
    if isinstance(error, IntegrityError):
        unique = state == "23505" or (code is not None and code & 0xFF == 19 and "UNIQUE" in str(inner))
        return Trouble.TAKEN if unique else Trouble.OTHER
    if code is not None:
        return _SQLITE.get(code & 0xFF, Trouble.OTHER)
    if state is not None:
        return Trouble.LOST if state[:2] in ("08", "57") else _POSTGRES.get(state, Trouble.OTHER)
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return Trouble.LOST
    unreachable = any(kind.__name__ == "OperationalError" for kind in type(inner).__mro__)
    return Trouble.NO_ACCESS if unreachable else Trouble.OTHER


def fault_of(error: BaseException, where: str) -> JobError:
    """Return the error that says to people what the database answered; `where`: the file or the address of the rack."""
    trouble = trouble_of(error)
    code, what, hint = _WORDS[trouble]
    inner = error.orig if isinstance(error, DBAPIError) else error
    if trouble in (Trouble.OTHER, Trouble.NO_ACCESS, Trouble.DISK):
        first = (str(inner).strip().splitlines() or [""])[0]
        what = f"{what}: {first}" if first else what
    return JobError([Fault(code=code, what=what, hint=hint, file=where)])
