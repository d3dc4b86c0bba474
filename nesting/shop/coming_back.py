"""What a plan brings to the rack: rolls that were ordered, offcuts, and what was squared off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from nesting.domain.material import StockKind
from nesting.domain.plan import CutSource, MaterialPlan, Offcut, OffcutUse, Plan, SourceKind
from nesting.domain.rack import Delivery, PhaseKnown, PieceState, RackPiece
from nesting.shop.offering import arms_left, flaws_within, phase_at
from nesting.shop.planned import FromRack, material_of

SourceKey = tuple[str, str]
"""Material and id of a source of a plan."""


def orders_of(plan: Plan) -> list[tuple[MaterialPlan, CutSource]]:
    """Return the rolls that a plan orders."""
    return [(part, source) for part in plan.materials for source in part.sources if source.kind is SourceKind.ORDER]


def ordered_rolls(
    plan: Plan, labels: Sequence[str], job: str, delivery: Delivery, at: str
) -> dict[SourceKey, RackPiece]:
    """Return the rolls that a plan orders, as they came; `labels` are theirs.

    Rolls that the plan has of one lot are of one lot. Its name is the one that was given for any of them, else that of
    the lot in hand that they were ordered to match, else it is made from the label of the first of them.
    """
    orders = orders_of(plan)
    orderable = {(piece.material_id, piece.lot) for piece in plan.job.stock if piece.lot_orderable}
    lots: dict[tuple[str, str], str] = {}
    for part, source in orders:
        if source.id in delivery.lots:
            lots.setdefault((part.material_id, source.lot), delivery.lots[source.id])
    rolls: dict[SourceKey, RackPiece] = {}
    for (part, source), label in zip(orders, labels, strict=True):
        same = (part.material_id, source.lot)
        lot = lots.setdefault(same, source.lot if same in orderable else f"lot of {label}")
        rolls[part.material_id, source.id] = RackPiece(
            id=label,
            material_id=part.material_id,
            kind=StockKind.ROLL,
            width_nm=source.width_nm,
            length_nm=source.length_nm,
            lot=delivery.lots.get(source.id, lot),
            lot_orderable=same in orderable,
            cost=source.cost,
            currency=plan.job.currency,
            coin_per_unit=plan.job.coin_per_unit,
            received_at=at,
            supplier=delivery.supplier,
            from_job=job,
        )
    return rolls


def new_pieces(
    plan: Plan, found: Sequence[FromRack], rolls: Mapping[SourceKey, RackPiece], job: str, delivery: Delivery, at: str
) -> list[RackPiece]:
    """Return what is new on the rack when a plan is cut, in its order, without labels; client's pieces too.

    Offcuts cost nothing: the plan charged the whole of what they were cut from to its job. An offcut of goods that the
    rack does not have is made from nothing that it knows.
    """
    on_rack = {(item.part.material_id, item.source.id): item for item in found}
    pieces = []
    for part in plan.materials:
        sources = {source.id: source for source in part.sources}
        for offcut in part.offcuts:
            key = (part.material_id, offcut.source_id)
            item = on_rack.get(key)
            parent = rolls.get(key) or (item.piece if item is not None else None)
            piece = _offcut(part, sources[offcut.source_id], offcut, parent, delivery)
            pieces.append(_for_job(piece, plan, job, at))
        for item in found:
            if item.part is part:
                pieces += [_for_job(arm, plan, job, at) for arm in _arms(plan, item, delivery)]
    return pieces


def _for_job(piece: RackPiece, plan: Plan, job: str, at: str) -> RackPiece:
    return replace(
        piece, currency=plan.job.currency, coin_per_unit=plan.job.coin_per_unit, received_at=at, from_job=job
    )


def _lot_of(parent: RackPiece) -> str:
    """Return the lot of what is cut from a piece: of an unknown lot, its parts still match one another."""
    return parent.lot if parent.lot is not None else f"lot of {parent.id}"


def _offcut(
    part: MaterialPlan, source: CutSource, offcut: Offcut, parent: RackPiece | None, delivery: Delivery
) -> RackPiece:
    to_client = offcut.use is OffcutUse.CLIENT and offcut.id not in delivery.kept
    return RackPiece(
        id="",
        material_id=part.material_id,
        kind=_kind(source, offcut, parent),
        width_nm=offcut.rect.width_nm,
        length_nm=offcut.rect.length_nm,
        lot=offcut.lot if parent is None else _lot_of(parent),
        lot_orderable=parent is not None and parent.lot_orderable,
        phase_nm=offcut.phase_nm,
        phase_known=_how_known(source, offcut, parent),
        place="" if to_client else delivery.places.get(offcut.id, delivery.place),
        made_from=None if parent is None else parent.id,
        state=PieceState.CLIENT if to_client else PieceState.FREE,
    )


def _kind(source: CutSource, offcut: Offcut, parent: RackPiece | None) -> StockKind:
    """Return what an offcut is: the far end of a roll, whole across and at least as long, is still a roll.

    Common practice; planning makes no difference between the two.
    """
    rect = offcut.rect
    is_rest = rect.width_nm == source.width_nm and rect.y1_nm == source.length_nm and rect.length_nm >= rect.width_nm
    was_roll = parent is not None and parent.kind is StockKind.ROLL
    return StockKind.ROLL if was_roll and is_rest else StockKind.REMNANT


def _how_known(source: CutSource, offcut: Offcut, parent: RackPiece | None) -> PhaseKnown:
    """Return how the phase of an offcut is known.

    Goods that were anchored are cut from their first mark on, as the plan has it. Of goods that were not, and whose
    phase was not known, the plan knows how their parts lie to one another, not to other goods.
    """
    if offcut.phase_nm is None:
        return PhaseKnown.UNKNOWN
    if source.phase_known and parent is not None and parent.phase_known is PhaseKnown.MEASURED:
        return PhaseKnown.MEASURED
    return PhaseKnown.EXACT if source.phase_known or source.anchored else PhaseKnown.ASSUMED


def _arms(plan: Plan, item: FromRack, delivery: Delivery) -> list[RackPiece]:
    """Return what is worth keeping of a piece beside the part that the plan was offered."""
    piece = item.piece
    if not piece.shape or (item.rect.width_nm, item.rect.length_nm) == (piece.width_nm, piece.length_nm):
        return []
    material = material_of(plan, piece.material_id)
    arms = []
    for rect in arms_left(piece, item.rect, plan.job.offcuts.sizes_nm):
        phase = phase_at(piece, material, rect)
        arms.append(
            RackPiece(
                id="",
                material_id=piece.material_id,
                kind=StockKind.REMNANT,
                width_nm=rect.width_nm,
                length_nm=rect.length_nm,
                lot=_lot_of(piece),
                lot_orderable=piece.lot_orderable,
                flaws=flaws_within(piece, rect),
                phase_nm=phase,
                phase_known=PhaseKnown.UNKNOWN if phase is None else piece.phase_known,
                place=delivery.place,
                made_from=piece.id,
            )
        )
    return arms
