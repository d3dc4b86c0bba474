"""The audit of a rack: whether its book holds together.

R1   the history of every piece is a chain: each change begins with what the last one left, versions count up
R2   every history replays to the piece as it is now
R3   areas received and corrected = in stock + cut away + scrapped + missing + with clients, per material, exactly
R4   no more comes out of a piece than was in it, and only out of pieces that are cut up
R5   reservations agree with the states of pieces
R6   no label is there twice, as labels are read
R7   every piece is one that can be
R8   every booking holds together: what it cut is cut, what it made is there, no plan is confirmed twice
R9   the database itself is whole (SQLite's own check; PostgreSQL sees to that itself), references lead somewhere
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from sqlalchemy import Connection, func, select

from nesting.domain.rack import IN_STOCK, HistoryEntry, PieceState, RackAccount, RackFinding, RackPiece
from nesting.shop.listing import entry_of
from nesting.shop.rows import from_snapshot, label_key, piece_of, snapshot
from nesting.shop.sound import faults_of
from nesting.shop.tables import BOOKING, HISTORY, PIECE, RESERVATION

_NOT_READ = (ValueError, KeyError, TypeError, IndexError, AttributeError)


@dataclass(slots=True)
class _Book:
    """What was read, and what the history says of areas: by material in, by piece out of which others came."""

    pieces: dict[str, RackPiece]
    keys: dict[str, str]
    holds: dict[str, list[tuple[str, str]]]
    last: dict[str, str | None] = field(default_factory=dict)
    received: dict[str, int] = field(default_factory=lambda: defaultdict(int))  # and corrected, by material
    came_out: dict[str, int] = field(default_factory=lambda: defaultdict(int))  # by piece
    chain: list[RackFinding] = field(default_factory=list)
    booked: dict[int, list[HistoryEntry]] = field(default_factory=lambda: defaultdict(list))


def audit(tx: Connection) -> tuple[RackFinding, ...]:
    """Return everything that is wrong with a rack, by rule and piece; () for one that is sound."""
    book = _read(tx)
    checks: tuple[Callable[[_Book], Iterator[RackFinding]], ...] = (
        _replays,
        _areas,
        _sources,
        _claims,
        _labels,
        _sound,
    )
    found = [*book.chain, *(finding for check in checks for finding in check(book))]
    found += [*_bookings(tx, book), *_whole(tx)]
    return tuple(sorted(found, key=lambda item: (item.rule, item.where, item.text)))


def _read(tx: Connection) -> _Book:
    holds: dict[str, list[tuple[str, str]]] = defaultdict(list)
    holding = select(RESERVATION.c.piece_id, RESERVATION.c.job, RESERVATION.c.plan_key).where(RESERVATION.c.holds == 1)
    for piece_id, job, plan_key in tx.execute(holding.order_by(RESERVATION.c.number)):
        holds[piece_id].append((job, plan_key))
    rows = tx.execute(select(PIECE).order_by(PIECE.c.id)).mappings().all()
    book = _Book(pieces={}, keys={row["id"]: row["id_key"] for row in rows}, holds=holds)
    for row in rows:
        try:
            book.pieces[row["id"]] = piece_of(row, next(iter(holds.get(row["id"], ())), None))
        except _NOT_READ as error:
            book.chain.append(RackFinding(rule="R7", where=row["id"], text=f"it cannot be read: {error}"))
    lines = tx.execution_options(yield_per=2_000).execute(select(HISTORY).order_by(HISTORY.c.number)).mappings()
    for line in lines:
        _follow(book, entry_of(line))
    return book


def _follow(book: _Book, entry: HistoryEntry) -> None:
    """Take one line of the history into account."""
    name = entry.piece_id
    where = f"{name}, line {entry.number}"
    try:
        before = None if entry.before is None else from_snapshot(entry.before)
        after = None if entry.after is None else from_snapshot(entry.after)
    except _NOT_READ as error:
        book.chain.append(RackFinding(rule="R1", where=where, text=f"it cannot be read: {error!r}"))
        return
    if entry.before != book.last.get(name):
        book.chain.append(RackFinding(rule="R1", where=where, text="it does not begin with what was there before"))
    if after is not None and after.version != (before.version if before is not None else 0) + 1:
        book.chain.append(RackFinding(rule="R1", where=where, text="its versions do not count up one by one"))
    if any(piece is not None and piece.id != name for piece in (before, after)) or before is after is None:
        book.chain.append(RackFinding(rule="R1", where=where, text="it tells of another piece"))
    book.last[name] = entry.after
    _count(book, before, after)
    if entry.booking is not None:
        book.booked[entry.booking].append(entry)


def _count(book: _Book, before: RackPiece | None, after: RackPiece | None) -> None:
    """Count areas that come in, change, or come out of another piece; what is taken out counts backwards."""
    if before is not None and after is not None:
        book.received[before.material_id] -= before.area_nm2
        book.received[after.material_id] += after.area_nm2
        return
    piece, sign = (after, 1) if after is not None else (before, -1)
    if piece is None:
        return
    if piece.made_from is None:
        book.received[piece.material_id] += sign * piece.area_nm2
    else:
        book.came_out[piece.made_from] += sign * piece.area_nm2


def _replays(book: _Book) -> Iterator[RackFinding]:
    for name in sorted(book.pieces.keys() | book.last.keys()):
        piece, told = book.pieces.get(name), book.last.get(name)
        if piece is None and told is not None:
            yield RackFinding(rule="R2", where=name, text="its history tells of it, and it is not there")
        elif piece is not None and told is None:
            yield RackFinding(rule="R2", where=name, text="it is there, and its history does not tell of it")
        elif piece is not None and told != snapshot(piece):
            yield RackFinding(rule="R2", where=name, text="it is not what its history comes to")


def _accounts(book: _Book) -> list[RackAccount]:
    """Return the account of every material, by its id."""
    by_state: dict[tuple[str, PieceState], int] = defaultdict(int)
    for piece in book.pieces.values():
        by_state[piece.material_id, piece.state] += piece.area_nm2
        by_state[piece.material_id, PieceState.CUT] -= book.came_out.get(piece.id, 0)
    materials = sorted({material for material, _ in by_state} | set(book.received))
    return [
        RackAccount(
            material_id=material,
            received_nm2=book.received[material],
            in_stock_nm2=sum(by_state[material, state] for state in IN_STOCK),
            cut_away_nm2=by_state[material, PieceState.CUT],
            scrapped_nm2=by_state[material, PieceState.SCRAPPED],
            missing_nm2=by_state[material, PieceState.MISSING],
            client_nm2=by_state[material, PieceState.CLIENT],
        )
        for material in materials
    ]


def accounts(tx: Connection) -> tuple[RackAccount, ...]:
    """Return where the goods of every material went."""
    return tuple(_accounts(_read(tx)))


def _areas(book: _Book) -> Iterator[RackFinding]:
    found = _accounts(book)
    for account in found:
        differs = account.differs_nm2
        if differs:
            text = f"{abs(differs)} nm2 {'more' if differs > 0 else 'less'} are accounted for than came in"
            yield RackFinding(rule="R3", where=account.material_id, text=text)
    if differs := sum(account.differs_nm2 for account in found):
        yield RackFinding(rule="R3", where="all materials", text=f"{differs} nm2 differ in all")


def _sources(book: _Book) -> Iterator[RackFinding]:
    for name, area in sorted(book.came_out.items()):
        piece = book.pieces.get(name)
        if not area:
            continue
        if piece is None:
            yield RackFinding(rule="R4", where=name, text="pieces were made from it, and it is not there")
        elif piece.state is not PieceState.CUT:
            yield RackFinding(rule="R4", where=name, text=f"pieces were made from it, and it is {piece.state.value}")
        elif area > piece.area_nm2:
            yield RackFinding(rule="R4", where=name, text=f"{area - piece.area_nm2} nm2 more came out than were in it")


def _claims(book: _Book) -> Iterator[RackFinding]:
    for piece in book.pieces.values():
        claims = book.holds.get(piece.id, [])
        if piece.state is PieceState.RESERVED and not claims:
            yield RackFinding(rule="R5", where=piece.id, text="it is reserved, and no reservation holds it")
        if piece.state is not PieceState.RESERVED and claims:
            text = f"it is {piece.state.value}, and a reservation holds it for {claims[0][0]!r}"
            yield RackFinding(rule="R5", where=piece.id, text=text)
        if len(claims) > 1:
            yield RackFinding(rule="R5", where=piece.id, text=f"{len(claims)} reservations hold it at once")
    for name in sorted(book.holds.keys() - book.pieces.keys()):
        yield RackFinding(rule="R5", where=name, text="a reservation holds it, and it is not there")


def _labels(book: _Book) -> Iterator[RackFinding]:
    first: dict[str, str] = {}
    for name in book.pieces:
        key = label_key(name)
        if key in first:
            yield RackFinding(rule="R6", where=name, text=f"its label reads like {first[key]!r}")
        first.setdefault(key, name)
        if book.keys[name] != key:
            yield RackFinding(rule="R6", where=name, text="it is filed under another label")


def _sound(book: _Book) -> Iterator[RackFinding]:
    for piece in book.pieces.values():
        for text in faults_of(piece):
            if piece.state is not PieceState.RESERVED or book.holds.get(piece.id):
                yield RackFinding(rule="R7", where=piece.id, text=text)


def _bookings(tx: Connection, book: _Book) -> Iterator[RackFinding]:
    rows = tx.execute(select(BOOKING.c.number, BOOKING.c.undone)).all()
    for number, undone in rows:
        for entry in book.booked.get(number, ()):
            piece = book.pieces.get(entry.piece_id)
            new = entry.what in ("make", "receive")
            if entry.what == "cut" and not undone and (piece is None or piece.state is not PieceState.CUT):
                text = f"booking {number} cut it up, and it is not cut up"
            elif new and (piece is None) is not bool(undone):
                text = f"booking {number} {'is undone, and it is there' if undone else 'made it, and it is not there'}"
            else:
                continue
            yield RackFinding(rule="R8", where=entry.piece_id, text=text)
    for number in sorted(book.booked.keys() - {number for number, _ in rows}):
        yield RackFinding(rule="R8", where=f"booking {number}", text="the history tells of it, and it is not there")
    twice = select(BOOKING.c.plan_key).where(BOOKING.c.undone == 0).group_by(BOOKING.c.plan_key)
    for (key,) in tx.execute(twice.having(func.count() > 1)):
        yield RackFinding(rule="R8", where=f"plan {key}", text="it is confirmed more than once")


def _whole(tx: Connection) -> Iterator[RackFinding]:
    if tx.dialect.name != "sqlite":
        return
    for (text,) in tx.exec_driver_sql("PRAGMA integrity_check(10)").all():
        if text != "ok":
            yield RackFinding(rule="R9", where="the file", text=str(text))
    for table, row, other, _ in tx.exec_driver_sql("PRAGMA foreign_key_check").all():
        yield RackFinding(rule="R9", where=f"{table}, row {row}", text=f"it refers to a {other} that is not there")
