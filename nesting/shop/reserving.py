"""Pieces are taken for a job, all or none, and are free again when it does not need them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sqlalchemy import Connection, select

from nesting.domain.rack import Act, PieceState, RackPiece
from nesting.errors import Fault, JobError
from nesting.shop.book import Change, in_words, locked, pieces_by_id, put
from nesting.shop.sound import must_be_sound, must_be_words, must_say, refuse
from nesting.shop.tables import RESERVATION


def reserve(
    tx: Connection, labels: Sequence[str], job: str, act: Act, *, plan_key: str, seen: Mapping[str, int] | None
) -> None:
    """Take free pieces for a job: all of them, or none.

    A piece that the job holds already stays as it is, but for the plan that it is held for.
    """
    must_say(act)
    must_name(job)
    pieces = locked(tx, labels, seen)
    must_be_free_for(pieces, job)
    put(tx, taken(pieces, job, plan_key), act, "reserve")


def must_name(job: str) -> None:
    """Refuse a job without a name."""
    if not job.strip():
        raise refuse("job-missing", "no job is named", hint="say which job the pieces are for")
    must_be_words(job=job)


def must_be_free_for(pieces: Sequence[RackPiece], job: str) -> None:
    """Refuse pieces that a job may not take.

    Raises
    ------
    JobError
        If a piece is reserved for another job, or not in stock; all are named.
    """
    faults = [
        Fault(
            code="piece-not-free",
            where=piece.id,
            what=f"it is not free: it is {in_words(piece)}",
            hint="see what is free, and plan again",
        )
        for piece in pieces
        if piece.state is not PieceState.FREE and not (piece.state is PieceState.RESERVED and piece.reserved_for == job)
    ]
    if faults:
        raise JobError(faults)


def taken(pieces: Sequence[RackPiece], job: str, plan_key: str) -> list[Change]:
    """Return the changes by which pieces are reserved; none for those that are so already."""
    after = [replace(piece, state=PieceState.RESERVED, reserved_for=job, reserved_by_plan=plan_key) for piece in pieces]
    must_be_sound(after)
    return [Change(before=one, after=other) for one, other in zip(pieces, after, strict=True) if one != other]


def release(tx: Connection, labels: Sequence[str], act: Act, seen: Mapping[str, int] | None) -> None:
    """Make reserved pieces free again."""
    must_say(act)
    pieces = locked(tx, labels, seen)
    wrong = [piece for piece in pieces if piece.state is not PieceState.RESERVED]
    if wrong:
        raise JobError(
            [
                Fault(code="not-reserved", where=piece.id, what=f"it is not reserved: it is {in_words(piece)}")
                for piece in wrong
            ]
        )
    put(tx, freed(pieces), act, "release")


def release_job(tx: Connection, job: str, act: Act) -> list[str]:
    """Make all pieces of a job free again and return their labels."""
    must_say(act)
    must_name(job)
    pieces = held_by(tx, job)
    put(tx, freed(pieces), act, "release")
    return [piece.id for piece in pieces]


def held_by(
    tx: Connection, job: str, *, other_than: Sequence[str] = (), by_plans_only: bool = False
) -> list[RackPiece]:
    """Return the pieces that a job holds, locked, by label; `by_plans_only` leaves out those reserved by hand."""
    asked = select(RESERVATION.c.piece_id).where(RESERVATION.c.job == job, RESERVATION.c.holds == 1)
    ids = set(tx.execute(asked).scalars()) - set(other_than)
    found = pieces_by_id(tx, ids, lock=True).values()
    return [
        piece
        for piece in found
        if piece.state is PieceState.RESERVED
        and piece.reserved_for == job
        and (piece.reserved_by_plan or not by_plans_only)
    ]


def freed(pieces: Sequence[RackPiece]) -> list[Change]:
    """Return the changes by which reserved pieces are free again."""
    return [
        Change(before=piece, after=replace(piece, state=PieceState.FREE, reserved_for="", reserved_by_plan=""))
        for piece in pieces
    ]
