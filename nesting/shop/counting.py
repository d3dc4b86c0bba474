"""A shelf is counted against the book, and what was found is booked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy import Connection, select

from nesting.domain.rack import IN_STOCK, Act, PieceState, RackPiece, ShelfCount
from nesting.shop.book import Change, known, pieces_by_id, put
from nesting.shop.sound import must_be_sound, must_be_words, must_say
from nesting.shop.tables import PIECE


def count(tx: Connection, place: str, labels: Sequence[str]) -> ShelfCount:
    """Return the labels found at a place against what the book has there; nothing is changed."""
    return _compared(tx, place, labels, lock=False)[0]


def book_count(tx: Connection, place: str, labels: Sequence[str], act: Act) -> ShelfCount:
    """Book a count: what was not found is missing, what was found is here, and free again if it was missing.

    A reserved piece that is missing is held by nobody any more; found again it is free. What the book has as cut,
    scrapped or with a client stays so, and unknown labels are left: receive them, if they are pieces.
    """
    must_say(act, why=True)
    found, pieces = _compared(tx, place, labels, lock=True)
    lost = [
        replace(pieces[name], state=PieceState.MISSING, reserved_for="", reserved_by_plan="") for name in found.missing
    ]
    moved = [replace(pieces[name], place=place) for name, _ in found.elsewhere]
    back = [replace(pieces[name], state=PieceState.FREE, place=place) for name in found.back]
    after = [*lost, *moved, *back]
    must_be_sound(after)
    put(tx, [Change(before=pieces[piece.id], after=piece) for piece in after], act, "count")
    return found


def _compared(
    tx: Connection, place: str, labels: Sequence[str], *, lock: bool
) -> tuple[ShelfCount, dict[str, RackPiece]]:
    must_be_words(place=place)
    names = known(tx, labels)
    here = tx.execute(
        select(PIECE.c.id).where(PIECE.c.place == place, PIECE.c.state.in_([state.value for state in IN_STOCK]))
    ).scalars()
    pieces = pieces_by_id(tx, [*names.values(), *here], lock=lock)
    seen = [pieces[name] for name in dict.fromkeys(names[label] for label in labels if label in names)]
    seen_ids = {piece.id for piece in seen}
    in_stock = [piece for piece in seen if piece.state in IN_STOCK]
    return ShelfCount(
        place=place,
        found=tuple(piece.id for piece in in_stock if piece.place == place),
        missing=tuple(
            piece.id
            for piece in pieces.values()
            if piece.id not in seen_ids and piece.place == place and piece.state in IN_STOCK
        ),
        elsewhere=tuple((piece.id, piece.place) for piece in in_stock if piece.place != place),
        back=tuple(piece.id for piece in seen if piece.state is PieceState.MISSING),
        not_stock=tuple(
            (piece.id, piece.state) for piece in seen if piece.state not in (*IN_STOCK, PieceState.MISSING)
        ),
        unknown=tuple(dict.fromkeys(label for label in labels if label not in names)),
    ), pieces
