"""Drafts: seams and cross seams of a room with the pieces they make, held against every rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.rules import RuleId
from nesting.seams.coves import shared_cove_nm
from nesting.seams.crossings import Levels, broken_by_crossings
from nesting.seams.family import Family
from nesting.seams.laid import Goods
from nesting.seams.phases import Phase, have_common_phase, repeat_across_nm
from nesting.seams.pieces import Bench, Bounds, Piece
from nesting.seams.pinned import keeps_pins
from nesting.seams.positions import Seams
from nesting.seams.relief import Slit, slits_of
from nesting.seams.rules import broken_by_seams


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftPiece:
    """A piece with its place: breadth number and the cross seams (counted within the breadth) it lies between."""

    piece: Piece
    breadth: int
    low: int | None
    high: int | None
    slits: tuple[Slit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A layout that keeps the rules, before it is written out. `width_nm`: made width of its orders, None: any."""

    bench: Bench
    seams: Seams
    crossings: tuple[Levels, ...]
    pieces: tuple[DraftPiece, ...]
    width_nm: int | None
    phase: Phase
    rank: int

    @property
    def count(self) -> int:
        """Seams, cross seams and relief cuts."""
        return len(self.seams) + sum(map(len, self.crossings)) + sum(len(item.slits) for item in self.pieces)


@dataclass(slots=True, kw_only=True)
class Faults:
    """The rules that tried layouts broke, each with the least by which it was missed."""

    missing_nm: dict[RuleId, int] = field(default_factory=dict)

    def add(self, rule: RuleId, by_nm: int = 0) -> None:
        """Take note of a broken rule."""
        self.missing_nm[rule] = min(by_nm, self.missing_nm.get(rule, by_nm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """All that a set of seams is held against."""

    room: Room
    material: Material
    goods: Goods
    family: Family
    bench: Bench
    faults: Faults
    along_phase_nm: int | None = None  # φ along, where seam lines bind cross seams by it

    @property
    def order_length_nm(self) -> int | None:
        """The longest piece that an ordered roll is sure to give; None: no limit, 0: nothing can be ordered."""
        if not self.goods.widths_nm:
            return 0
        longest = self.goods.longest_nm
        return None if longest is None else max(0, longest - self.material.squaring_nm)

    @property
    def forcing_nm(self) -> int | None:
        """The length beyond which a breadth is forced to have cross seams, whatever goods are named for the room."""
        every = self.goods.unnamed
        return self.longest_nm if every is None else replace(self, goods=every).longest_nm

    @property
    def longest_nm(self) -> int | None:
        """The longest piece that the goods give, made or in hand; None: no limit."""
        order = self.order_length_nm
        return None if order is None else max([order, *(length for _, length in self.goods.stock_nm)])

    @property
    def anchor_loss_nm(self) -> int:
        """What a roll of unknown phase loses along as soon as another one serves the same room."""
        pattern, given = self.material.pattern, self.material.starting_allowance_nm
        return 0 if pattern is None else pattern.along_nm if given is None else given


def bounds_of(seams: Sequence[int]) -> tuple[Bounds, ...]:
    """Return the breadths between seams."""
    return tuple(pairwise((None, *seams, None)))


def drafted(
    trial: Trial, seams: Seams, crossings: tuple[Levels, ...], width_nm: int | None, phase: Phase, rank: int
) -> Draft | None:
    """Return the draft with these seams, or None, with the rule it broke noted in the trial's faults.

    `width_nm` is the made width that the room would order, None where there is only stock.
    """
    rule = broken_by_seams(trial.family.ground, trial.family.forbidden, seams)
    breadths = bounds_of(seams)
    if rule is None and any(crossings):
        rule = broken_by_crossings(trial.bench, breadths, crossings)
    if rule is not None:
        trial.faults.add(rule)
        return None
    if not keeps_pins(trial.room, trial.material, trial.family.ground.floor.direction, seams, crossings):
        trial.faults.add(RuleId.PINS)
        return None
    pieces: list[DraftPiece] = []
    for breadth, (across, levels) in enumerate(zip(breadths, crossings, strict=True)):
        for number, along in enumerate(pairwise((None, *levels, None))):
            for piece in trial.bench.pieces(across, along):
                slits = slits_of(piece.part, trial.family.ground) if trial.room.holes else ()
                if slits is None:
                    trial.faults.add(RuleId.KEEP_OUT)
                    return None
                low = number - 1 if piece.part.v0 == along[0] else None
                high = number if piece.part.v1 == along[1] else None
                pieces.append(DraftPiece(piece=piece, breadth=breadth, low=low, high=high, slits=slits))
    found = [item.piece for item in pieces]
    most = trial.room.pinned.most_seams
    if most is not None and len(seams) + sum(map(len, crossings)) + sum(len(item.slits) for item in pieces) > most:
        trial.faults.add(RuleId.PINS)
        return None
    if not (_fit(trial, found, width_nm) and _get_in(trial, found) and _share_no_cove(trial, found)):
        return None
    if not _match(trial, found, width_nm, phase):
        trial.faults.add(RuleId.PATTERN)
        return None
    made = trial.goods.widths_nm
    if len(made) == 1 and any(piece.box.width_nm + sum(piece.inset_nm) > made[0] for piece in found):
        width_nm = None
    return Draft(
        bench=trial.bench,
        seams=seams,
        crossings=crossings,
        pieces=tuple(pieces),
        width_nm=width_nm,
        phase=phase,
        rank=rank,
    )


def too_wide_nm(pieces: Sequence[Piece], width_nm: int) -> int:
    """Return by how much the widest of some pieces is too wide for goods."""
    return max(piece.box.width_nm + sum(piece.inset_nm) - width_nm for piece in pieces)


def fits_order(trial: Trial, piece: Piece, width_nm: int | None) -> bool:
    """Tell whether a piece can be cut from goods ordered in a width."""
    longest = trial.order_length_nm
    if width_nm is None or (longest is not None and piece.box.length_nm > longest):
        return False
    return piece.box.width_nm + sum(piece.inset_nm) <= width_nm


def _fit(trial: Trial, pieces: Sequence[Piece], width_nm: int | None) -> bool:
    """Tell whether every piece fits the ordered width or something in hand; note by how much one does not."""
    for piece in pieces:
        width, length = piece.box.width_nm + sum(piece.inset_nm), piece.box.length_nm
        if fits_order(trial, piece, width_nm):
            continue
        if any(width <= w and length <= n for w, n in trial.goods.stock_nm):
            continue
        goods = [(w, n) for w, n in trial.goods.stock_nm]
        if width_nm is not None:
            longest = trial.order_length_nm
            goods.append((width_nm, length if longest is None else longest))
        short = min((max(width - w, 0) + max(length - n, 0) for w, n in goods), default=width)
        trial.faults.add(RuleId.STOCK, short)
        return False
    in_hand = sum(w * n for w, n in trial.goods.stock_nm)
    if trial.room.pinned.sources and sum(piece.area_nm2 for piece in pieces) > in_hand:
        trial.faults.add(RuleId.STOCK)  # each fits by itself, all together never
        return False
    return True


def _get_in(trial: Trial, pieces: Sequence[Piece]) -> bool:
    """Tell whether every piece gets into the room."""
    access, weight = trial.room.access, trial.material.weight_g_per_m2
    if not trial.room.rules.holds(RuleId.ACCESS):
        return True
    for piece in pieces:
        over = 0
        if access.widest_nm is not None:
            over = max(over, piece.box.width_nm - access.widest_nm)
        if access.longest_nm is not None:
            over = max(over, piece.box.length_nm - access.longest_nm)
        heavy = (
            access.heaviest_g is not None
            and weight is not None
            and Fraction(piece.area_nm2, 10**18) * weight > access.heaviest_g
        )
        if over > 0 or heavy:
            trial.faults.add(RuleId.ACCESS, over)
            return False
    return True


def _share_no_cove(trial: Trial, pieces: Sequence[Piece]) -> bool:
    """Tell whether no two coved walls of a piece want the same goods."""
    for piece in pieces:
        shared = shared_cove_nm(piece.part)
        if shared and trial.room.rules.holds(RuleId.TRIM):
            trial.faults.add(RuleId.TRIM, shared)
            return False
    return True


def _match(trial: Trial, pieces: Sequence[Piece], width_nm: int | None, phase: Phase) -> bool:
    """Tell whether one phase across lets all pieces lie in the goods (those in hand may be wider).

    Where something of the room is cut, that lies in its goods already, and the search sees to the rest.
    """
    if trial.room.pinned.phase_nm is not None and trial.room.pinned.layout is not None:
        return True
    width = max([width_nm or 0, *(w for w, _ in trial.goods.stock_nm)])
    repeat = repeat_across_nm(trial.material, width_nm or width)
    return repeat is None or have_common_phase(pieces, width, repeat, phase[0])
