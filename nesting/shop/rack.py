"""The rack as callers see it: every operation, each one transaction."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from nesting.domain.material import Material, StockPiece
from nesting.domain.plan import Plan
from nesting.domain.rack import (
    Act,
    Booking,
    Delivery,
    HistoryEntry,
    PieceFilter,
    RackAccount,
    RackFinding,
    RackPiece,
    Reserved,
    ShelfCount,
)
from nesting.domain.rules import OffcutRules
from nesting.shop import auditing, carrying, counting, handling, listing, plan_life, reserving
from nesting.shop.offering import Money, Sizes, offer
from nesting.shop.opening import open_store
from nesting.shop.store import ATTEMPTS, Store, no_pause

_EVERYTHING = PieceFilter(states=())
_WORTH_KEEPING = OffcutRules().sizes_nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Rack:
    """An open rack. Everything that changes it is done wholly or not at all, and raises `JobError` if it is not done.

    Labels are read without case and double spaces. `act` says who does it, when and why. `seen` are versions that the
    caller has read, by label: where a piece has changed since, nothing is done.
    """

    store: Store

    def close(self) -> None:
        """Give the connections back."""
        self.store.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    # --- reading ---

    def pieces(self, wanted: PieceFilter | None = None) -> tuple[RackPiece, ...]:
        """Return the pieces that are asked for; without a filter all that are in stock."""
        return self.store.read(lambda tx: listing.pieces(tx, wanted or PieceFilter()))

    def piece(self, label: str) -> RackPiece:
        """Return one piece, whatever has become of it."""
        return self.store.read(lambda tx: listing.piece(tx, label))

    def history(self, label: str | None = None, *, limit: int | None = None) -> tuple[HistoryEntry, ...]:
        """Return the changes of one piece, or of all, in the order in which they were written; the last `limit`."""
        return self.store.read(lambda tx: listing.history(tx, label, limit))

    def bookings(self, *, plan_key: str | None = None) -> tuple[Booking, ...]:
        """Return the plans that were confirmed, undone ones too."""
        return self.store.read(lambda tx: listing.bookings(tx, plan_key=plan_key))

    def stock_pieces(
        self,
        materials: Sequence[Material],
        *,
        job: str = "",
        sizes_nm: Sizes = _WORTH_KEEPING,
        money: Money | None = None,
        squared: bool | None = None,
    ) -> tuple[StockPiece, ...]:
        """Return what planning may use: free pieces, and those that `job` holds already, by label.

        See `offering.offer` for what becomes of an L, and for `money` and `squared`. `sizes_nm`: those of the job's
        offcut rules, since the plan is held against what these offer.
        """
        by_id = {material.id: material for material in materials}
        found = self.store.read(lambda tx: listing.free_for(tx, sorted(by_id), job))
        offered = (offer(item, by_id[item.material_id], sizes_nm, money or Money(), squared=squared) for item in found)
        return tuple(piece for piece in offered if piece is not None)

    # --- pieces ---

    def receive(self, pieces: Sequence[RackPiece], act: Act) -> list[str]:
        """Put new pieces on the rack, free, and return their labels; one with a blank label is given a label."""
        return self.store.write(lambda tx: handling.receive(tx, pieces, act))

    def move(self, labels: Sequence[str], place: str, act: Act, *, seen: Mapping[str, int] | None = None) -> None:
        """Book pieces as lying at another place."""
        self.store.write(lambda tx: handling.move(tx, labels, place, act, seen))

    def correct(self, pieces: Sequence[RackPiece], act: Act) -> None:
        """Write down pieces as they really are, with a reason: `replace` what `piece` returned.

        Material, kind, sizes, shape, lot, flaws, phase, cost, supplier and note can be corrected (`CORRECTABLE`).
        """
        self.store.write(lambda tx: handling.correct(tx, pieces, act))

    def scrap(self, labels: Sequence[str], act: Act, *, seen: Mapping[str, int] | None = None) -> None:
        """Book free or missing pieces as thrown away, with a reason."""
        self.store.write(lambda tx: handling.scrap(tx, labels, act, seen))

    def count_shelf(self, place: str, labels: Sequence[str]) -> ShelfCount:
        """Return the labels found at a place against what the book has there; nothing is changed."""
        return self.store.read(lambda tx: counting.count(tx, place, labels))

    def book_count(self, place: str, labels: Sequence[str], act: Act) -> ShelfCount:
        """Book a count, with a reason: what was not found is missing, what was found is here."""
        return self.store.write(lambda tx: counting.book_count(tx, place, labels, act))

    # --- reservations and plans ---

    def reserve(
        self, labels: Sequence[str], job: str, act: Act, *, plan_key: str = "", seen: Mapping[str, int] | None = None
    ) -> None:
        """Take free pieces for a job: all of them, or none."""
        self.store.write(lambda tx: reserving.reserve(tx, labels, job, act, plan_key=plan_key, seen=seen))

    def release(self, labels: Sequence[str], act: Act, *, seen: Mapping[str, int] | None = None) -> None:
        """Make reserved pieces free again."""
        self.store.write(lambda tx: reserving.release(tx, labels, act, seen))

    def release_job(self, job: str, act: Act) -> list[str]:
        """Make all pieces that a job holds free again and return their labels."""
        return self.store.write(lambda tx: reserving.release_job(tx, job, act))

    def reserve_plan(self, plan: Plan, plan_key: str, job: str, act: Act, *, outside: Collection[str] = ()) -> Reserved:
        """Reserve exactly the pieces that a plan cuts from, if they are free and as the plan has them.

        What an earlier plan of the job holds and this one does not need is free again. `outside`: ids of goods in hand
        that are not the rack's.
        """
        return self.store.write(lambda tx: plan_life.reserve_plan(tx, plan, plan_key, job, act, outside=outside))

    def confirm_plan(
        self,
        plan: Plan,
        plan_key: str,
        job: str,
        act: Act,
        *,
        delivery: Delivery | None = None,
        outside: Collection[str] = (),
    ) -> Booking:
        """Book the cuts of a plan: pieces are cut up, ordered rolls came and were cut, offcuts are on the rack.

        Refused for a plan that was confirmed already; `plan_key` tells it from all others.
        """
        given = delivery or Delivery()
        return self.store.write(
            lambda tx: plan_life.confirm_plan(tx, plan, plan_key, job, act, delivery=given, outside=outside)
        )

    def undo(self, booking: int, act: Act) -> Booking:
        """Put back exactly what was before a plan was confirmed, with a reason."""
        return self.store.write(lambda tx: plan_life.undo(tx, booking, act))

    # --- the whole ---

    def audit(self) -> tuple[RackFinding, ...]:
        """Return everything that is wrong with the rack; see `auditing` for the rules."""
        return self.store.read(auditing.audit)

    def accounts(self) -> tuple[RackAccount, ...]:
        """Return where the goods of every material went, by material."""
        return self.store.read(auditing.accounts)

    def export_json(self) -> str:
        """Return everything, history included: the same rack, the same text."""
        return self.store.read(carrying.export_json)

    def import_json(self, content: str) -> int:
        """Fill an empty rack with an export and return how many pieces it has."""
        return self.store.write(lambda tx: carrying.import_json(tx, content))

    def export_csv(self, wanted: PieceFilter | None = None) -> str:
        """Return pieces as CSV; without a filter all that ever were."""
        return self.store.read(lambda tx: carrying.export_csv(tx, wanted or _EVERYTHING))

    def import_csv(self, content: str, act: Act) -> list[str]:
        """Put the pieces of a CSV on the rack, in the states that it says, and return their labels."""
        return self.store.write(lambda tx: carrying.import_csv(tx, content, act))


def open_rack(
    where: Path | str, *, attempts: int = ATTEMPTS, pause: Callable[[int], None] = no_pause, make: bool = True
) -> Rack:
    """Return the rack at a path (SQLite, made on first use) or a URL (`postgresql://user@host/name`).

    See `opening.open_store` for the rest.
    """
    return Rack(store=open_store(where, attempts=attempts, pause=pause, make=make))
