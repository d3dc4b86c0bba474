"""A plan held against the rack: which pieces it cuts from, and whether they are still as it has them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from nesting.domain.geometry import Rect
from nesting.domain.material import Material, StockPiece
from nesting.domain.plan import CutSource, MaterialPlan, Plan
from nesting.domain.rack import RackPiece
from nesting.errors import Fault, JobError
from nesting.shop.book import pieces_by_id
from nesting.shop.listing import bookings
from nesting.shop.offering import Money, offers
from nesting.shop.reserving import must_be_free_for, must_name
from nesting.shop.sound import must_be_words, refuse

_AGREES = ("material_id", "kind", "width_nm", "length_nm", "lot", "lot_orderable", "flaws", "gone", "phase_nm")
_WORDS = {
    "material_id": "material", "kind": "kind", "width_nm": "width", "length_nm": "length", "lot": "lot",
    "lot_orderable": "whether more of its lot can be ordered", "flaws": "flaws", "gone": "shape", "phase_nm": "phase",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FromRack:
    """A piece of the rack that a plan cuts from; `rect` is the part of it that the plan was offered."""

    piece: RackPiece
    rect: Rect
    source: CutSource
    part: MaterialPlan


def rack_sources(plan: Plan, outside: Collection[str]) -> dict[str, tuple[MaterialPlan, CutSource]]:
    """Return the sources in hand that a plan cuts from, by label, but for those `outside` the rack."""
    return {
        source.stock_id: (part, source)
        for part in plan.materials
        for source in part.sources
        if source.stock_id and source.stock_id not in outside
    }


def material_of(plan: Plan, material_id: str) -> Material:
    """Return a material of the plan's job."""
    return next(material for material in plan.job.materials if material.id == material_id)


def must_be_in_order(plan: Plan, plan_key: str, job: str) -> None:
    """Refuse what can be neither reserved nor confirmed.

    Raises
    ------
    JobError
        If the plan is not by the rules, or plan or job have no name.
    """
    must_name(job)
    if not plan_key.strip():
        raise refuse("plan-key-missing", "the plan has no key", hint="give a digest of its file")
    must_be_words(plan_key=plan_key)
    if not plan.by_the_rules:
        raise refuse("not-by-the-rules", "the plan is NOT BY THE RULES: nothing is taken for it")


def must_be_new_plan(tx: Connection, plan_key: str) -> None:
    """Refuse a plan that was confirmed; to be asked when its pieces are locked, so that nobody confirms it meanwhile.

    Raises
    ------
    JobError
        If it was, by whom and when.
    """
    for booking in bookings(tx, plan_key=plan_key):
        if not booking.undone:
            what = f"this plan was confirmed already, by {booking.who} at {booking.at} (booking {booking.number})"
            raise refuse("plan-confirmed", what, hint="undo that booking if it was a mistake")


def checked(
    plan: Plan, pieces: Mapping[str, RackPiece], sources: Mapping[str, tuple[MaterialPlan, CutSource]], job: str
) -> list[FromRack]:
    """Return the pieces that a plan cuts from, locked before, if the job may have them and they are as planned.

    Raises
    ------
    JobError
        Naming every piece that is not on the rack, not free for the job, or not as the plan has it.
    """
    faults: list[Fault] = [
        Fault(code="piece-unknown", where=name, what="the plan cuts from it, and the rack does not have it")
        for name in sources
        if name not in pieces
    ]
    there = [pieces[name] for name in sorted(sources) if name in pieces]
    try:
        must_be_free_for(there, job)
    except JobError as error:
        faults += error.faults
    found: list[FromRack] = []
    stock = {piece.id: piece for piece in plan.job.stock}
    for piece in there:
        part, source = sources[piece.id]
        rect, differs = _as_planned(plan, piece, stock.get(piece.id), part.material_id)
        if rect is None:
            what = f"it is not as the plan has it any more: {', '.join(differs)} changed"
            faults.append(Fault(code="piece-changed", where=piece.id, what=what, hint="plan again"))
            continue
        found.append(FromRack(piece=piece, rect=rect, source=source, part=part))
    if faults:
        raise JobError(faults)
    return found


def _as_planned(
    plan: Plan, piece: RackPiece, stock: StockPiece | None, material_id: str
) -> tuple[Rect | None, list[str]]:
    """Return the part of a piece that the plan was offered, or what differs from what it was offered."""
    if stock is None:
        return None, ["everything"]
    free = Money(currency=piece.currency, coin_per_unit=piece.coin_per_unit)  # what it costs decides nothing here
    differs: list[str] = []
    for offer in offers(piece, material_of(plan, material_id), plan.job.offcuts.sizes_nm, free):
        names = [name for name in _AGREES if getattr(offer.stock, name) != getattr(stock, name)]
        if not names:
            return offer.rect, []
        differs = differs or [_WORDS[name] for name in names]
    return None, differs


def locked_for(
    tx: Connection, sources: Mapping[str, object], held: Sequence[str]
) -> tuple[dict[str, RackPiece], dict[str, RackPiece]]:
    """Return the pieces that a plan needs and those held before, locked together in the order of their labels."""
    pieces = pieces_by_id(tx, [*sources, *held], lock=True)
    return {name: pieces[name] for name in pieces if name in sources}, pieces
