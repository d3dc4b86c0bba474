"""Pieces come in, move, are corrected and scrapped."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sqlalchemy import Connection

from nesting.domain.rack import IN_STOCK, Act, PieceState, RackPiece
from nesting.errors import Fault, JobError
from nesting.shop.book import Change, in_words, known, locked, new_labels, put
from nesting.shop.rows import utc_text
from nesting.shop.sound import must_be_sound, must_say, refuse

CORRECTABLE = frozenset(
    {
        "material_id", "kind", "width_nm", "length_nm", "shape", "lot", "lot_orderable", "flaws", "phase_nm",
        "phase_known", "cost", "currency", "coin_per_unit", "supplier", "note",
    }
)  # fmt: skip
"""What may have been written down wrongly; everything else changes by what is done with the piece."""


def receive(tx: Connection, pieces: Sequence[RackPiece], act: Act) -> list[str]:
    """Put new pieces on the rack and return their labels; a piece with a blank label is given one.

    They are free, were received now, and were made from nothing that the rack knows.
    """
    must_say(act)
    at = utc_text(act.now)
    labels = iter(new_labels(tx, sum(not piece.id.strip() for piece in pieces)))
    new = [
        replace(
            piece,
            id=piece.id.strip() or next(labels),
            state=PieceState.FREE,
            received_at=at,
            made_from=None,
            reserved_for="",
            reserved_by_plan="",
        )
        for piece in pieces
    ]
    must_be_sound(new)
    must_be_new(tx, new)
    put(tx, [Change(before=None, after=piece) for piece in new], act, "receive")
    return [piece.id for piece in new]


def must_be_new(tx: Connection, pieces: Sequence[RackPiece]) -> None:
    """Refuse labels that a piece has, or ever had.

    Raises
    ------
    JobError
        If there are any; all are named.
    """
    taken = known(tx, [piece.id for piece in pieces])
    if taken:
        raise JobError(
            [
                Fault(
                    code="label-taken",
                    where=label,
                    what=f"a piece has the label {there!r} already",
                    hint="give another label, or none: the rack then makes one",
                )
                for label, there in taken.items()
            ]
        )


def must_be(pieces: Sequence[RackPiece], states: Sequence[PieceState], what: str) -> None:
    """Refuse pieces that are in no state of `states`; `what` is to be done with them: "moved".

    Raises
    ------
    JobError
        If there are any; all are named.
    """
    wrong = [piece for piece in pieces if piece.state not in states]
    if wrong:
        raise JobError(
            [
                Fault(
                    code="piece-not-free",
                    where=piece.id,
                    what=f"it cannot be {what}: it is {in_words(piece)}",
                    hint=hint,
                )
                for piece in wrong
                for hint in ("release it first" if piece.state is PieceState.RESERVED else "",)
            ]
        )


def move(tx: Connection, labels: Sequence[str], place: str, act: Act, seen: Mapping[str, int] | None) -> None:
    """Book pieces as lying at another place."""
    must_say(act)
    pieces = locked(tx, labels, seen)
    must_be(pieces, IN_STOCK, "moved")
    moved = [replace(piece, place=place) for piece in pieces]
    must_be_sound(moved)
    put(tx, _changed(pieces, moved), act, "move")


def correct(tx: Connection, pieces: Sequence[RackPiece], act: Act) -> None:
    """Write down pieces as they really are; their versions say what they were read as."""
    must_say(act, why=True)
    must_be_sound(pieces)
    now = locked(tx, [piece.id for piece in pieces], {piece.id: piece.version for piece in pieces})
    must_be(now, (*IN_STOCK, PieceState.MISSING), "corrected")
    by_id = {piece.id: piece for piece in pieces}
    for piece in now:
        right = by_id.get(piece.id)
        fields = [
            field.name
            for field in dataclasses.fields(RackPiece)
            if right is None or getattr(piece, field.name) != getattr(right, field.name)
        ]
        other = sorted(set(fields) - CORRECTABLE)
        if other:
            what = f"{', '.join(other)} cannot be corrected"
            raise refuse("not-correctable", what, where=piece.id, hint="move, reserve, release or scrap it instead")
    put(tx, _changed(now, [by_id[piece.id] for piece in now]), act, "correct")


def scrap(tx: Connection, labels: Sequence[str], act: Act, seen: Mapping[str, int] | None) -> None:
    """Book pieces as thrown away. One that is reserved must be released first."""
    must_say(act, why=True)
    pieces = locked(tx, labels, seen)
    must_be(pieces, (PieceState.FREE, PieceState.MISSING), "scrapped")
    put(tx, _changed(pieces, [replace(piece, state=PieceState.SCRAPPED) for piece in pieces]), act, "scrap")


def _changed(before: Sequence[RackPiece], after: Sequence[RackPiece]) -> list[Change]:
    """Return the changes of those that do change."""
    return [Change(before=one, after=other) for one, other in zip(before, after, strict=True) if one != other]
