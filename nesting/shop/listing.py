"""What is on the rack: lists of pieces, one piece, its history, bookings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, select

from nesting.domain.rack import Booking, HistoryEntry, Order, PieceFilter, PieceState, RackPiece
from nesting.shop.book import known, pieces_by_id
from nesting.shop.rows import label_key, piece_of
from nesting.shop.sound import must_be_words, refuse
from nesting.shop.tables import BOOKING, HISTORY, PIECE, RESERVATION

_ORDERS: dict[Order, tuple[ColumnElement[Any], ...]] = {
    Order.ID: (),
    Order.PLACE: (PIECE.c.place.asc(),),
    Order.MATERIAL: (PIECE.c.material_id.asc(), PIECE.c.lot.is_(None), PIECE.c.lot.asc()),
    Order.AGE: (PIECE.c.received_at.asc(),),
    Order.WIDTH: (PIECE.c.width_nm.desc(), PIECE.c.length_nm.desc()),
    Order.LENGTH: (PIECE.c.length_nm.desc(), PIECE.c.width_nm.desc()),
    Order.COST: (PIECE.c.cost.desc(),),
}


def pieces(tx: Connection, wanted: PieceFilter) -> tuple[RackPiece, ...]:
    """Return the pieces that are asked for, in their order."""
    joined = PIECE.outerjoin(RESERVATION, (RESERVATION.c.piece_id == PIECE.c.id) & (RESERVATION.c.holds == 1))
    asked = select(PIECE, RESERVATION.c.job.label("held_for"), RESERVATION.c.plan_key.label("held_by"))
    asked = _filtered(asked.select_from(joined), wanted).order_by(*_ORDERS[wanted.order], PIECE.c.id)
    if wanted.limit is not None:
        asked = asked.limit(wanted.limit)
    return tuple(piece_of(row, _claim(row)) for row in tx.execute(asked).mappings())


def _claim(row: RowMapping) -> tuple[str, str] | None:
    return None if row["held_for"] is None else (row["held_for"], row["held_by"])


def _filtered(asked: Select[Any], wanted: PieceFilter) -> Select[Any]:
    """Return the question with everything that the filter says."""
    must_be_words(material=wanted.material_id, lot=wanted.lot, place=wanted.place, job=wanted.job, text=wanted.text)
    equal = (
        (PIECE.c.material_id, wanted.material_id),
        (PIECE.c.kind, wanted.kind and wanted.kind.value),
        (PIECE.c.lot, wanted.lot),
        (PIECE.c.place, wanted.place),
        (RESERVATION.c.job, wanted.job),
    )
    for column, value in equal:
        if value is not None:
            asked = asked.where(column == value)
    if wanted.states:
        asked = asked.where(PIECE.c.state.in_([state.value for state in wanted.states]))
    if wanted.least_width_nm > 0:
        asked = asked.where(PIECE.c.width_nm >= wanted.least_width_nm)
    if wanted.least_length_nm > 0:
        asked = asked.where(PIECE.c.length_nm >= wanted.least_length_nm)
    for word in label_key(wanted.text).split():
        asked = asked.where(PIECE.c.search_key.contains(word, autoescape=True))
    return asked


def piece(tx: Connection, label: str) -> RackPiece:
    """Return the piece of a label, whatever has become of it; labels are read without case.

    Raises
    ------
    JobError
        If no piece has it.
    """
    name = known(tx, [label]).get(label)
    if name is None:
        raise refuse("piece-unknown", "no piece of the rack has this label", where=label, hint="check the label")
    return pieces_by_id(tx, [name])[name]


def history(tx: Connection, label: str | None, limit: int | None) -> tuple[HistoryEntry, ...]:
    """Return the changes of a piece, or of all, in the order in which they were written; the last `limit` of them."""
    must_be_words(label=label)
    asked = select(HISTORY).order_by(HISTORY.c.number.desc())
    if label is not None:
        asked = asked.where(HISTORY.c.piece_id == known(tx, [label]).get(label, label.strip()))
    if limit is not None:
        asked = asked.limit(limit)
    found = [entry_of(row) for row in tx.execute(asked).mappings()]
    if label is not None and not found:
        raise refuse("piece-unknown", "no piece of the rack ever had this label", where=label, hint="check the label")
    return tuple(reversed(found))


def entry_of(row: RowMapping) -> HistoryEntry:
    """Return a row of the history."""
    return HistoryEntry(**{**row, "late": bool(row["late"])})


def bookings(tx: Connection, *, plan_key: str | None = None, number: int | None = None) -> tuple[Booking, ...]:
    """Return the plans that were confirmed, in their order; of one plan, or one booking, if asked."""
    must_be_words(plan_key=plan_key)
    asked = select(BOOKING).order_by(BOOKING.c.number)
    if plan_key is not None:
        asked = asked.where(BOOKING.c.plan_key == plan_key)
    if number is not None:
        asked = asked.where(BOOKING.c.number == number)
    return tuple(_booking(tx, row) for row in tx.execute(asked).mappings().all())


def _booking(tx: Connection, row: RowMapping) -> Booking:
    lines = tx.execute(
        select(HISTORY.c.what, HISTORY.c.piece_id).where(HISTORY.c.booking == row["number"]).order_by(HISTORY.c.number)
    ).all()

    def of(what: str) -> tuple[str, ...]:
        return tuple(piece_id for done, piece_id in lines if done == what)

    rolls = of("receive")
    return Booking(
        number=row["number"],
        plan_key=row["plan_key"],
        job=row["job"],
        who=row["who"],
        at=row["at"],
        undone=bool(row["undone"]),
        taken=tuple(piece_id for piece_id in of("cut") if piece_id not in rolls),
        rolls=rolls,
        made=of("make"),
    )


def free_for(tx: Connection, materials: Sequence[str], job: str) -> tuple[RackPiece, ...]:
    """Return the pieces of some materials that a job may take: free ones, and those that it holds, by label."""
    found: list[RackPiece] = []
    for material in materials:
        wanted = PieceFilter(material_id=material, states=(PieceState.FREE, PieceState.RESERVED))
        found += [
            piece
            for piece in pieces(tx, wanted)
            if piece.state is PieceState.FREE or (job and piece.reserved_for == job)
        ]
    return tuple(sorted(found, key=lambda piece: piece.id))
