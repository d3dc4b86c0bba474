"""The one way in which a piece changes: its row, its reservation and its line in the history, in one transaction.

Every operation locks the pieces it touches, works out what they become, and hands both to `put`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Connection, RowMapping, bindparam, delete, insert, select, update

from nesting.domain.rack import Act, PieceState, RackPiece
from nesting.errors import Fault, JobError
from nesting.shop.rows import label_key, piece_of, row_of, snapshot, utc_text
from nesting.shop.sound import can_be_kept
from nesting.shop.tables import HISTORY, NUMBERING, PIECE, RESERVATION

T = TypeVar("T")

_MANY = 500
"""So many values go into one statement: databases have a limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What becomes of one piece. `before` None: it is new; `after` None: it is taken out, as if it had never been."""

    before: RackPiece | None
    after: RackPiece | None

    @property
    def piece_id(self) -> str:
        """Its label."""
        piece = self.after or self.before
        assert piece is not None, "a change of nothing"
        return piece.id


def chunks(items: Iterable[T], size: int = _MANY) -> Iterable[list[T]]:
    """Yield the items in lists of at most `size`."""
    left = iter(items)
    while part := list(islice(left, size)):
        yield part


def held(tx: Connection, ids: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Return job and plan key of the reservations that hold, by piece."""
    columns = (RESERVATION.c.piece_id, RESERVATION.c.job, RESERVATION.c.plan_key)
    found: dict[str, tuple[str, str]] = {}
    for part in chunks(ids):
        asked = select(*columns).where(RESERVATION.c.piece_id.in_(part), RESERVATION.c.holds == 1)
        found |= {piece_id: (job, key) for piece_id, job, key in tx.execute(asked)}
    return found


def pieces_by_id(tx: Connection, ids: Iterable[str], *, lock: bool = False) -> dict[str, RackPiece]:
    """Return the pieces of these labels that are there, by label, locked in the order of their labels if asked.

    Reservations are read after the locks are held, so that they are those of the locked rows.
    """
    wanted = sorted(set(ids))
    rows: list[RowMapping] = []
    for part in chunks(wanted):
        asked = select(PIECE).where(PIECE.c.id.in_(part)).order_by(PIECE.c.id)
        rows += tx.execute(asked.with_for_update() if lock else asked).mappings().all()
    reserved = held(tx, [row["id"] for row in rows if row["state"] == PieceState.RESERVED])
    return {row["id"]: piece_of(row, reserved.get(row["id"])) for row in rows}


def known(tx: Connection, labels: Iterable[str]) -> dict[str, str]:
    """Return the labels as they stand on the rack, by the labels as they were given; unknown ones are left out."""
    keys: dict[str, list[str]] = {}
    for label in filter(can_be_kept, labels):
        keys.setdefault(label_key(label), []).append(label)
    found: dict[str, str] = {}
    for part in chunks(keys):
        for piece_id, key in tx.execute(select(PIECE.c.id, PIECE.c.id_key).where(PIECE.c.id_key.in_(part))):
            found |= dict.fromkeys(keys[key], piece_id)
    return found


def locked(tx: Connection, labels: Sequence[str], seen: Mapping[str, int] | None = None) -> list[RackPiece]:
    """Return the pieces of these labels, locked; labels are read without case.

    Parameters
    ----------
    tx
        The transaction.
    labels
        What stands on the pieces.
    seen
        Versions that the caller has read, by label: a piece that changed since is refused.

    Raises
    ------
    JobError
        If a label is unknown, or a piece has changed; all are named.
    """
    names = known(tx, labels)
    faults = [
        Fault(code="piece-unknown", where=label, what="no piece of the rack has this label", hint="check the label")
        for label in dict.fromkeys(labels)
        if label not in names
    ]
    found = pieces_by_id(tx, names.values(), lock=True)
    for label, version in (seen or {}).items():
        piece = found.get(names.get(label, label))
        if piece is not None and piece.version != version:
            what = f"it has changed since it was read: it is {in_words(piece)} now"
            faults.append(Fault(code="piece-changed", where=piece.id, what=what, hint="look at it again"))
    if faults:
        raise JobError(faults)
    return [found[name] for name in dict.fromkeys(names[label] for label in labels)]


def in_words(piece: RackPiece) -> str:
    """Return what state a piece is in, as people say it."""
    if piece.state is PieceState.RESERVED:
        return f"reserved for {piece.reserved_for!r}"
    return {PieceState.CLIENT: "left with a client", PieceState.CUT: "cut up"}.get(piece.state, piece.state.value)


def new_labels(tx: Connection, count: int) -> list[str]:
    """Return labels that no piece has: S-000001 and on."""
    if not count:
        return []
    asked = select(NUMBERING.c.next).where(NUMBERING.c.name == "piece").with_for_update()
    number = tx.execute(asked).scalar_one()
    labels: list[str] = []
    while len(labels) < count:
        tried = [f"S-{n:06d}" for n in range(number, number + count - len(labels))]
        number += len(tried)
        taken = known(tx, tried)
        labels += [label for label in tried if label not in taken]
    tx.execute(update(NUMBERING).where(NUMBERING.c.name == "piece").values(next=number))
    return labels


def put(tx: Connection, changes: Sequence[Change], act: Act, what: str, *, booking: int | None = None) -> None:
    """Write changes of locked pieces, each piece once, with their history in the order given.

    The versions of what comes after are counted here.
    """
    at = utc_text(act.now)
    counted = [
        change
        if change.after is None
        else replace(change, after=replace(change.after, version=(change.before.version if change.before else 0) + 1))
        for change in changes
    ]
    _write_rows(tx, counted)
    _write_reservations(tx, counted, act.who, at)
    _write_history(tx, counted, act, at, what, booking)


def _write_rows(tx: Connection, changes: Sequence[Change]) -> None:
    new = [row_of(change.after) for change in changes if change.before is None and change.after is not None]
    if new:
        tx.execute(insert(PIECE), new)
    changed = [
        {f"new_{name}": value for name, value in row_of(change.after).items()} | {"old_version": change.before.version}
        for change in changes
        if change.before is not None and change.after is not None
    ]
    if changed:
        columns: dict[str, Any] = {
            column.name: bindparam(f"new_{column.name}") for column in PIECE.c if column.name != "id"
        }
        statement = update(PIECE).where(PIECE.c.id == bindparam("new_id"), PIECE.c.version == bindparam("old_version"))
        done = tx.execute(statement.values(**columns), changed).rowcount
        assert done == len(changed), "a locked piece has changed"
    gone = [change.piece_id for change in changes if change.after is None]
    for part in chunks(gone):
        tx.execute(delete(RESERVATION).where(RESERVATION.c.piece_id.in_(part)))
        tx.execute(delete(PIECE).where(PIECE.c.id.in_(part)))


def _claim(piece: RackPiece | None) -> tuple[str, str] | None:
    if piece is None or piece.state is not PieceState.RESERVED:
        return None
    return piece.reserved_for, piece.reserved_by_plan


def _write_reservations(tx: Connection, changes: Sequence[Change], who: str, at: str) -> None:
    moved = [change for change in changes if _claim(change.before) != _claim(change.after)]
    ended = [change.piece_id for change in moved if _claim(change.before) is not None and change.after is not None]
    for part in chunks(ended):
        holding = (RESERVATION.c.piece_id.in_(part), RESERVATION.c.holds == 1)
        tx.execute(update(RESERVATION).where(*holding).values(holds=0, ended_at=at))
    begun = [
        {"piece_id": change.piece_id, "job": claim[0], "plan_key": claim[1], "who": who, "at": at, "holds": 1}
        for change in moved
        if (claim := _claim(change.after)) is not None
    ]
    if begun:
        tx.execute(insert(RESERVATION), begun)


def _write_history(
    tx: Connection, changes: Sequence[Change], act: Act, at: str, what: str, booking: int | None
) -> None:
    last = tx.execute(select(HISTORY.c.at).order_by(HISTORY.c.number.desc()).limit(1)).scalar()
    lines = [
        {
            "at": at,
            "who": act.who,
            "why": act.why,
            "what": what,
            "piece_id": change.piece_id,
            "before": None if change.before is None else snapshot(change.before),
            "after": None if change.after is None else snapshot(change.after),
            "booking": booking,
            "late": int(number == 0 and last is not None and at < last),
        }
        for number, change in enumerate(changes)
    ]
    if lines:
        tx.execute(insert(HISTORY), lines)
