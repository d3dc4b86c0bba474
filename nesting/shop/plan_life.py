"""The life of a plan: its pieces are reserved, its cuts confirmed, and a booking undone; each in one transaction."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from sqlalchemy import Connection, insert, select, update

from nesting.domain.plan import Plan
from nesting.domain.rack import Act, Booking, Delivery, PieceState, RackPiece, Reserved
from nesting.errors import Fault, JobError
from nesting.shop.book import Change, in_words, new_labels, pieces_by_id, put
from nesting.shop.coming_back import new_pieces, ordered_rolls, orders_of
from nesting.shop.listing import bookings, entry_of
from nesting.shop.planned import checked, locked_for, must_be_in_order, must_be_new_plan, rack_sources
from nesting.shop.reserving import freed, taken
from nesting.shop.rows import from_snapshot, utc_text
from nesting.shop.sound import must_be_sound, must_say, refuse
from nesting.shop.tables import BOOKING, HISTORY, RESERVATION


def reserve_plan(
    tx: Connection, plan: Plan, plan_key: str, job: str, act: Act, *, outside: Collection[str] = ()
) -> Reserved:
    """Reserve exactly the pieces that a plan cuts from, all or none.

    What an earlier plan reserved for the job and this one does not need is free again; what was reserved by hand stays.
    """
    must_say(act)
    must_be_in_order(plan, plan_key, job)
    sources = rack_sources(plan, outside)
    needed, pieces = locked_for(tx, sources, _held_ids(tx, job))
    must_be_new_plan(tx, plan_key)
    found = checked(plan, needed, sources, job)
    free = freed(_no_longer_needed(pieces.values(), sources, job))
    put(tx, free, act, "release")
    put(tx, taken([item.piece for item in found], job, plan_key), act, "reserve")
    return Reserved(taken=tuple(item.piece.id for item in found), freed=tuple(change.piece_id for change in free))


def _held_ids(tx: Connection, job: str) -> list[str]:
    asked = select(RESERVATION.c.piece_id).where(RESERVATION.c.job == job, RESERVATION.c.holds == 1)
    return list(tx.execute(asked).scalars())


def _no_longer_needed(pieces: Collection[RackPiece], needed: Collection[str], job: str) -> list[RackPiece]:
    """Return what an earlier plan holds for the job and is not needed."""
    return [
        piece for piece in pieces if piece.id not in needed and piece.reserved_for == job and piece.reserved_by_plan
    ]


def confirm_plan(
    tx: Connection,
    plan: Plan,
    plan_key: str,
    job: str,
    act: Act,
    *,
    delivery: Delivery,
    outside: Collection[str] = (),
) -> Booking:
    """Book the cuts of a plan as made: pieces are cut up, ordered rolls came and were cut, offcuts are on the rack."""
    must_say(act)
    must_be_in_order(plan, plan_key, job)
    sources = rack_sources(plan, outside)
    needed, pieces = locked_for(tx, sources, _held_ids(tx, job))
    must_be_new_plan(tx, plan_key)
    found = checked(plan, needed, sources, job)
    put(tx, freed(_no_longer_needed(pieces.values(), sources, job)), act, "release")
    number = _new_booking(tx, plan_key, job, act)
    at = utc_text(act.now)
    rolls = ordered_rolls(plan, new_labels(tx, len(orders_of(plan))), job, delivery, at)
    coming = new_pieces(plan, found, rolls, job, delivery, at)
    labels = new_labels(tx, len(coming))
    new = [replace(piece, id=label) for piece, label in zip(coming, labels, strict=True)]
    must_be_sound([*rolls.values(), *new])
    put(tx, [Change(before=None, after=roll) for roll in rolls.values()], act, "receive", booking=number)
    whole = [*(item.piece for item in found), *(replace(roll, version=1) for roll in rolls.values())]
    put(tx, [_cut_up(piece) for piece in whole], act, "cut", booking=number)
    put(tx, [Change(before=None, after=piece) for piece in new], act, "make", booking=number)
    return bookings(tx, number=number)[0]


def _cut_up(piece: RackPiece) -> Change:
    after = replace(piece, state=PieceState.CUT, reserved_for="", reserved_by_plan="")
    return Change(before=piece, after=after)


def _new_booking(tx: Connection, plan_key: str, job: str, act: Act) -> int:
    row = {"plan_key": plan_key, "job": job, "who": act.who, "at": utc_text(act.now), "undone": 0}
    key = tx.execute(insert(BOOKING).values(row)).inserted_primary_key
    assert key is not None, "every booking has a number"
    return int(key[0])


def undo(tx: Connection, number: int, act: Act) -> Booking:
    """Put back exactly what was before a plan was confirmed: pieces, reservations, and nothing of what it made.

    Raises
    ------
    JobError
        If there is no such booking, it is undone already, or something has been done since with what it made.
    """
    must_say(act, why=True)
    asked = select(BOOKING.c.number).where(BOOKING.c.number == number, BOOKING.c.undone == 0)
    if tx.execute(asked.with_for_update()).first() is None:
        there = bookings(tx, number=number)
        what = "it is undone already" if there else "there is no such booking"
        raise refuse("no-booking", what, where=f"booking {number}", hint="look at the list of bookings")
    lines = tx.execute(select(HISTORY).where(HISTORY.c.booking == number).order_by(HISTORY.c.number)).mappings()
    was: dict[str, RackPiece | None] = {}  # before the booking
    then: dict[str, RackPiece] = {}  # after it
    for line in map(entry_of, lines):
        assert line.after is not None, "a booking takes nothing away"
        was.setdefault(line.piece_id, None if line.before is None else from_snapshot(line.before))
        then[line.piece_id] = from_snapshot(line.after)
    now = pieces_by_id(tx, then, lock=True)
    _must_be_untouched(then, now)
    changes = [Change(before=now[name], after=was[name]) for name in reversed(then)]
    put(tx, changes, act, "undo")
    tx.execute(update(BOOKING).where(BOOKING.c.number == number).values(undone=1))
    return bookings(tx, number=number)[0]


def _must_be_untouched(then: Mapping[str, RackPiece], now: Mapping[str, RackPiece]) -> None:
    faults = []
    for name, piece in then.items():
        there = now.get(name)
        if there is None or replace(there, version=piece.version) != piece:
            moved = there is not None and there.place != piece.place
            what = "gone" if there is None else f"at {there.place!r}" if moved else in_words(there)
            text = f"it is not as the booking left it: it is {what} now"
            faults.append(Fault(code="offcut-used", where=name, what=text, hint="see its history"))
    if faults:
        raise JobError(faults)
