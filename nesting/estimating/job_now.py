"""The job as it is now: of a plan, of how far it is, and of the rooms as they are measured today.

What is cut stands in `Job.done`; the rooms of which something is cut have their layout pinned, and the rooms of its
phase group their phase. Goods are what lies on the bench (`on_hand`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from nesting.domain.done import DoneCut
from nesting.domain.job import Job
from nesting.domain.material import Material, Pattern, StockPiece
from nesting.domain.plan import CutSource, MaterialPlan, Notice, PhaseGroup, Plan, SourceKind
from nesting.domain.state import Delivered, State
from nesting.errors import JobError
from nesting.estimating.begun import Begun, mark_made, see_that_goods_agree, see_that_lots_agree, told_of
from nesting.estimating.letting_go import let_go
from nesting.estimating.meeting import as_measured, rolls_of_assumed
from nesting.estimating.on_hand import Lying, Roll, lying_on
from nesting.estimating.rooms_now import room_now
from nesting.model.supplying import NEW_LOT


@dataclass(frozen=True, slots=True, kw_only=True)
class JobNow:
    """The job as it is now. `start`: what of the plan still stands, on the goods as they lie now.

    `remade`: ids of cuts that were made and have to be made again.
    `beside`: of which roll goods come whose phase is only assumed.
    """

    job: Job
    start: Plan
    remade: frozenset[str]
    beside: Mapping[str, str] = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()


def job_now(plan: Plan, state: State, job: Job | None = None) -> JobNow:
    """Return the job as it is now; `job`: the rooms, materials and wishes of today, where they are not the plan's.

    Raises
    ------
    JobError
        The state contradicts itself, the plan or the rooms as they are measured now.
    """
    begun = Begun(plan=plan, state=state, job=job or plan.job)
    if plan.consents:
        what = "a plan that needs consent orders nothing and cannot have begun"
        begun.fault("not-by-the-rules", what, "plan the job by its rules first")
    mark_made(begun)
    see_that_goods_agree(begun)
    if begun.faults:
        raise JobError(begun.faults)
    let_go(begun)
    if begun.faults:
        raise JobError(begun.faults)
    rolls = tuple(roll for part in plan.materials for roll in _rolls(begun, part))
    changed = replace(
        begun.job,
        materials=tuple(_material_now(begun, material) for material in begun.job.materials),
        stock=_stock_now(begun, rolls),
        done=tuple(item for roll in rolls for item in _done(begun, roll)),
    )
    beside = _beside(begun, rolls, changed)
    changed = replace(changed, stock=tuple(as_measured(changed.stock, rolls, beside)))
    start = _start(begun, rolls, changed)
    changed = replace(changed, rooms=tuple(room_now(begun, room, start) for room in changed.rooms))
    see_that_lots_agree(begun, changed)
    if begun.faults:
        raise JobError(begun.faults)
    return JobNow(
        job=changed,
        start=start,
        remade=frozenset(begun.spoiled),
        beside=rolls_of_assumed(changed.stock, beside),
        notices=tuple(begun.notices),
    )


def _beside(begun: Begun, rolls: Sequence[Roll], job: Job) -> dict[str, str]:
    """Return of which roll goods come whose phase was only assumed before the first marks were measured."""
    was = [piece for piece in begun.plan.job.stock if piece.phase_assumed]
    found = rolls_of_assumed(was, {})
    for roll in rolls:
        base = found.get(roll.source.id, roll.source.id)
        found[roll.source.id] = base
        if roll.news:
            found |= {piece.id: base for piece in roll.remnants(begun.state, job.offcuts)}
    return found


def _material_now(begun: Begun, material: Material) -> Material:
    """Return a material with its repeat as measured on what came."""
    mine = told_of(begun, material.id)
    pattern = material.pattern
    along = next((item.along_nm for item in mine if item.along_nm is not None), None)
    across = next((item.across_nm for item in mine if item.across_nm is not None), None)
    if pattern is None or (along is None and across is None):
        return material
    return replace(material, pattern=_measured(pattern, along, across))


def _measured(pattern: Pattern, along_nm: int | None, across_nm: int | None) -> Pattern:
    """Return a pattern with another repeat; its drop stays the same part of the repeat along."""
    along = along_nm or pattern.along_nm
    return replace(
        pattern,
        along_nm=along,
        across_nm=pattern.across_nm if across_nm is None else across_nm,
        drop_nm=pattern.drop_nm * along / pattern.along_nm,
    )


def _ordered(begun: Begun, part: MaterialPlan) -> frozenset[str]:
    """Return which rolls to order are ordered: as told, or all of a material that anything has happened to."""
    rolls = {source.id for source in part.sources if source.kind is SourceKind.ORDER}
    cuts = {cut.id for cut in part.cuts}
    on = {place.cut_id: place.source_id for place in part.placements}
    happened = {item.source_id for item in begun.state.delivered} | {item.source_id for item in begun.state.flaws}
    happened |= {on[name] for name in begun.news() if name in cuts}
    happened &= {source.id for source in part.sources}
    if begun.state.ordered is not None:
        return frozenset(rolls & (set(begun.state.ordered) | happened))
    return frozenset(rolls if happened else ())


def _rolls(begun: Begun, part: MaterialPlan) -> Iterator[Roll]:
    """Yield the sources of a plan that are in hand now: those that were, and those that were ordered."""
    material = next((item for item in begun.job.materials if item.id == part.material_id), None)
    if material is None:
        return
    ordered = _ordered(begun, part)
    stock = {piece.id: piece for piece in begun.plan.job.stock}
    came = {item.source_id: item for item in begun.state.delivered}
    firsts: dict[str, str] = {}
    for source in part.sources:
        if source.kind is SourceKind.ORDER and source.id not in ordered:
            continue
        told = came.get(source.id)
        firsts.setdefault(source.lot, source.id)
        lot = source.lot
        if told is not None and told.lot is not None:
            lot = told.lot
        elif source.kind is SourceKind.ORDER and source.lot.startswith(NEW_LOT):
            lot = _lot_of_others(part, source.lot, came) or f"that of {firsts[source.lot]}"
        made = frozenset(item.cut.id for item in lying_on(part, source.id)) & frozenset(begun.made)
        yield Roll(
            plan=part,
            source=source,
            material=material,
            stock=stock.get(source.stock_id) if source.kind is not SourceKind.ORDER else None,
            delivered=told,
            lot=lot,
            made=made,
            kept=made & begun.kept(),
            news=made & begun.news(),
        )


def _lot_of_others(part: MaterialPlan, ordered_lot: str, came: Mapping[str, Delivered]) -> str | None:
    """Return the lot of the rolls that were ordered as one lot, where just one was told."""
    mine = [source.id for source in part.sources if source.kind is SourceKind.ORDER and source.lot == ordered_lot]
    lots = {came[name].lot for name in mine if name in came and came[name].lot is not None}
    return lots.pop() if len(lots) == 1 else None


def _stock_now(begun: Begun, rolls: Sequence[Roll]) -> tuple[StockPiece, ...]:
    """Return all goods in hand: what there was, as it lies now, what came, and what is left of both."""
    used = {roll.source.id: roll for roll in rolls}
    today = {piece.id: piece for piece in begun.job.stock}
    found: list[StockPiece] = []
    known = {piece.id for piece in begun.plan.job.stock}
    for piece in (*begun.plan.job.stock, *(item for item in begun.job.stock if item.id not in known)):
        if piece.id in begun.state.gone:
            continue
        roll = used.get(piece.id)
        if roll is not None and roll.is_touched:
            found.append(roll.piece(begun.state))
        elif roll is not None:
            found.append(replace(roll, stock=today.get(piece.id, piece)).piece(begun.state))
        else:
            found.append(today.get(piece.id, piece))
    for roll in rolls:
        if roll.stock is None:
            found.append(roll.piece(begun.state))
    taken = {piece.id for piece in found}
    for roll in rolls:
        if roll.news:
            found += [piece for piece in roll.remnants(begun.state, begun.job.offcuts) if piece.id not in taken]
    return tuple(found)


def _done(begun: Begun, roll: Roll) -> Iterator[DoneCut]:
    """Yield what is cut from a roll and still a piece of the plan, with its place."""
    for item in lying_on(roll.plan, roll.source.id):
        if item.cut.id in roll.kept:
            yield done_cut(item, begun.made[item.cut.id])


def done_cut(item: Lying, state: str) -> DoneCut:
    """Return a cut of a plan as one that is done, or held where it lies."""
    place = item.place
    return DoneCut(
        cut=replace(item.cut, state=state),
        source_id=place.source_id,
        x_nm=place.x_nm,
        y_nm=place.y_nm,
        turn=place.turn,
    )


def _start(begun: Begun, rolls: Sequence[Roll], job: Job) -> Plan:
    """Return what of the plan still stands: its cuts less those to be made again, on the goods as they lie now."""
    stock = {piece.id: piece for piece in job.stock}
    parts = []
    for part in begun.plan.materials:
        mine = {roll.source.id: roll for roll in rolls if roll.plan is part}
        cuts = tuple(
            replace(cut, state=begun.made.get(cut.id, cut.state)) for cut in part.cuts if cut.id not in begun.spoiled
        )
        left = {cut.id for cut in cuts}
        first = _first_kept(part, mine)
        parts.append(
            replace(
                part,
                cuts=cuts,
                sources=tuple(
                    _as_in_hand(source, stock[source.id]) if source.id in mine else source for source in part.sources
                ),
                placements=tuple(place for place in part.placements if place.cut_id in left),
                phase_groups=tuple(_group_now(group, first, stock) for group in part.phase_groups),
            )
        )
    return replace(begun.plan, materials=tuple(parts))


def _as_in_hand(source: CutSource, piece: StockPiece) -> CutSource:
    return replace(
        source,
        kind=SourceKind(piece.kind.value),
        width_nm=piece.width_nm,
        length_nm=piece.length_nm,
        lot=piece.lot or source.lot,
        start_allowance_nm=0,
        flaws=piece.flaws,
        gone=piece.gone,
        phase_nm=piece.phase_nm if piece.phase_nm is not None else source.phase_nm,
        anchored=source.anchored and piece.phase_nm is None,
        stock_id=piece.id,
        cost=piece.book_value,
    )


def _first_kept(part: MaterialPlan, rolls: Mapping[str, Roll]) -> dict[str, tuple[int, Roll]]:
    """Return for every room of which a cut is kept its first one's place in the plan, and what that lies on."""
    on = {place.cut_id: rolls.get(place.source_id) for place in part.placements}
    found: dict[str, tuple[int, Roll]] = {}
    for number, cut in enumerate(part.cuts):
        roll = on[cut.id]
        if roll is not None and cut.id in roll.kept:
            found.setdefault(cut.owner, (number, roll))
    return found


def _group_now(group: PhaseGroup, first: Mapping[str, tuple[int, Roll]], stock: Mapping[str, StockPiece]) -> PhaseGroup:
    """Return a phase group at its phase on goods whose own phase is known by now: φ moves with σ."""
    for _, roll in sorted((first[room] for room in group.room_ids if room in first), key=lambda item: item[0]):
        now, was = stock[roll.source.id].phase_nm, roll.source.phase_nm
        if now is not None and was is not None:
            x, y = group.phase_nm
            return replace(group, phase_nm=(x + now[0] - was[0], y + now[1] - was[1]), placed=True)
    return group
