"""The shop's rack as data: pieces with their states, who changes them, what a count and an audit find."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Protocol

from nesting.domain.geometry import Point, Rect
from nesting.domain.material import StockKind


class PieceState(StrEnum):
    """What has become of a piece."""

    FREE = "free"
    RESERVED = "reserved"  # for a job
    CUT = "cut"  # cut up: what was kept of it are pieces of their own
    SCRAPPED = "scrapped"
    MISSING = "missing"  # a count did not find it
    CLIENT = "client"  # left with a client for repairs


IN_STOCK = (PieceState.FREE, PieceState.RESERVED)
"""States of what can be taken from the shelf."""


class PhaseKnown(StrEnum):
    """How the pattern's phase of a piece is known."""

    UNKNOWN = "unknown"  # or goods without a pattern
    MEASURED = "measured"
    EXACT = "exact"  # from the plan that it was cut by
    ASSUMED = "assumed"  # the plan's guess of a roll that was never measured: holds beside goods of that roll only


class Moment(Protocol):
    """A point in time that the caller gives: an aware `datetime.datetime` is one. The library reads no clock."""

    def utcoffset(self) -> Any:
        """Return how far its zone is ahead of UTC; None: it knows no zone."""

    def __sub__(self, other: Any, /) -> Any: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Who changes something, when and why."""

    who: str
    now: Moment
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RackPiece:
    """A roll or a remnant of the rack. `id` is the label on it: no two pieces ever have one that reads the same.

    `shape` are the disjoint rectangles that are there, within width and length; (): the whole rectangle. `lot` None: a
    lot of its own. `phase_nm` is the pattern's phase σ at the lower left corner, face up, None where it is not known.
    `cost` is what the shop paid for it, in the smallest coin. Times are UTC, `2024-05-02T09:30:00.000000Z`.
    `version` counts the changes of the piece from 1; 0: it is not on the rack yet.
    """

    id: str
    material_id: str
    kind: StockKind
    width_nm: int
    length_nm: int
    shape: tuple[Rect, ...] = ()
    lot: str | None = None
    lot_orderable: bool = False
    flaws: tuple[Rect, ...] = ()
    phase_nm: Point | None = None
    phase_known: PhaseKnown = PhaseKnown.UNKNOWN
    place: str = ""
    cost: int = 0
    currency: str = ""
    coin_per_unit: int = 100
    received_at: str = ""
    supplier: str = ""
    from_job: str = ""
    made_from: str | None = None  # the piece that it was cut from
    note: str = ""
    state: PieceState = PieceState.FREE
    reserved_for: str = ""  # the job, while it is reserved
    reserved_by_plan: str = ""  # key of the plan that reserved it; "": reserved by hand
    version: int = 0

    @property
    def rects(self) -> tuple[Rect, ...]:
        """The disjoint rectangles that are there."""
        return self.shape or (Rect(0, 0, self.width_nm, self.length_nm),)

    @property
    def area_nm2(self) -> int:
        """The goods that are there."""
        return sum(rect.area_nm2 for rect in self.rects)


class Order(StrEnum):
    """By what a list of pieces is ordered; equals by label."""

    ID = "id"
    PLACE = "place"
    MATERIAL = "material"
    AGE = "age"  # the oldest first
    WIDTH = "width"  # the widest first
    LENGTH = "length"  # the longest first
    COST = "cost"  # the dearest first


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFilter:
    """Which pieces are asked for; all that is said must hold.

    `states` (): any. `text`: words in label, material, lot, place, supplier, job or note, without case.
    """

    material_id: str | None = None
    states: tuple[PieceState, ...] = IN_STOCK
    kind: StockKind | None = None
    lot: str | None = None
    place: str | None = None
    job: str | None = None  # reserved for it
    least_width_nm: int = 0
    least_length_nm: int = 0
    text: str = ""
    order: Order = Order.ID
    limit: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryEntry:
    """One change of one piece. `before` and `after` are the piece as JSON text, None: it was not, or is not, there.

    The order is that of `number`, never that of the time: `late` says that `at` is before the time of an entry that
    was there already (a clock that goes backwards, or another counter's).
    """

    number: int
    at: str
    who: str
    why: str
    what: str
    piece_id: str
    before: str | None
    after: str | None
    booking: int | None
    late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """A plan whose cuts were confirmed. `plan_key`: what tells the plan from all others, such as a digest of its file.

    `taken`: pieces that were cut up; `made`: offcuts that it put on the rack or left with the client; `rolls`: ordered
    rolls, received and cut.
    """

    number: int
    plan_key: str
    job: str
    who: str
    at: str
    undone: bool = False
    taken: tuple[str, ...] = ()
    rolls: tuple[str, ...] = ()
    made: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What only the shop knows when the cuts of a plan are confirmed.

    `place`: where offcuts go; `places` says it for single ones, by the plan's id of the offcut. `lots`: the lots of
    ordered rolls as they stand on them, by the plan's id of the roll. `kept`: offcuts (the plan's ids) that were meant
    for the client and come to the rack all the same.
    """

    supplier: str = ""
    place: str = ""
    places: Mapping[str, str] = field(default_factory=dict)
    lots: Mapping[str, str] = field(default_factory=dict)
    kept: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserved:
    """What reserving for a plan did: pieces now reserved for the job, and those of an earlier plan now free again."""

    taken: tuple[str, ...]
    freed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfCount:
    """A shelf as it was found against the book.

    `missing`: the book has it here, it was not found. `elsewhere`: found, the book has it at another place (label,
    place). `back`: found, but booked as missing. `not_stock`: found, but booked as cut, scrapped or with a client
    (label, state). `unknown`: labels that the book does not have.
    """

    place: str
    found: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    elsewhere: tuple[tuple[str, str], ...] = ()
    back: tuple[str, ...] = ()
    not_stock: tuple[tuple[str, PieceState], ...] = ()
    unknown: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool:
        """Tell whether shelf and book are the same."""
        return not (self.missing or self.elsewhere or self.back or self.not_stock or self.unknown)


@dataclass(frozen=True, slots=True, kw_only=True)
class RackAccount:
    """Where the goods of one material went, in nm²: what came in, corrections included, is the sum of the rest."""

    material_id: str
    received_nm2: int
    in_stock_nm2: int
    cut_away_nm2: int  # of pieces cut up, less what came out of them as pieces of their own
    scrapped_nm2: int
    missing_nm2: int
    client_nm2: int

    @property
    def differs_nm2(self) -> int:
        """What is accounted for beyond what came in: 0 in a sound rack."""
        told = self.in_stock_nm2 + self.cut_away_nm2 + self.scrapped_nm2 + self.missing_nm2 + self.client_nm2
        return told - self.received_nm2


@dataclass(frozen=True, slots=True, kw_only=True)
class RackFinding:
    """Something that an audit found. `rule` is its number, R1 and so on."""

    rule: str
    where: str
    text: str
