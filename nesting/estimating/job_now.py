"""The job as it is now: of a plan, of how far it is, and of the rooms as they are measured today.

What is cut stands in `Job.done`; the rooms of which something is cut have their layout pinned, and the rooms of its
phase group their phase. Goods are what lies on the bench (`on_hand`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.domain.done import CutState, DoneCut
from nesting.domain.geometry import Point
from nesting.domain.job import Job, Room
from nesting.domain.layout import RoomLayout
from nesting.domain.material import Material, Pattern, StockPiece
from nesting.domain.pins import PinnedLayout, RoomPins
from nesting.domain.plan import CutSource, MaterialPlan, Notice, PhaseGroup, Plan, SourceKind
from nesting.domain.rules import RuleId
from nesting.domain.state import Delivered, State
from nesting.errors import JobError
from nesting.estimating.begun import Begun, mark_made, see_that_goods_agree, see_that_patterns_are_known, told_of
from nesting.estimating.on_hand import Lying, Roll, lying_on
from nesting.model.building import NEW_LOT
from nesting.seams.candidates import candidates_of
from nesting.seams.done import with_done

WHAT_IS_CUT = "what is cut"
"""Where a layout is pinned from because something of the room is cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobNow:
    """The job as it is now. `start`: what of the plan still stands, on the goods as they lie now.

    `remade`: ids of cuts that were made and have to be made again.
    """

    job: Job
    start: Plan
    remade: frozenset[str]
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
        begun.fault("not-by-the-rules", "a plan that needs consent orders nothing and cannot have begun")
    mark_made(begun)
    see_that_goods_agree(begun)
    if begun.faults:
        raise JobError(begun.faults)
    _let_go(begun)
    if begun.faults:
        raise JobError(begun.faults)
    rolls = tuple(roll for part in plan.materials for roll in _rolls(begun, part))
    changed = replace(
        begun.job,
        materials=tuple(_material_now(begun, material) for material in begun.job.materials),
        stock=_stock_now(begun, rolls),
        done=tuple(item for roll in rolls for item in _done(begun, roll)),
    )
    start = _start(begun, rolls, changed)
    changed = replace(changed, rooms=tuple(_room_now(begun, room, start) for room in changed.rooms))
    see_that_patterns_are_known(begun, changed, rolls)
    if begun.faults:
        raise JobError(begun.faults)
    return JobNow(job=changed, start=start, remade=frozenset(begun.spoiled), notices=tuple(begun.notices))


def _let_go(begun: Begun) -> None:
    """Let go of cuts whose room is gone or has another shape now: their goods serve again. What is laid stays."""
    owners = {
        *(room.id for room in begun.job.rooms),
        *(piece.id for piece in begun.job.loose),
        *(strip.id for strip in begun.job.strips),
    }
    for part in begun.plan.materials:
        material = next((item for item in begun.job.materials if item.id == part.material_id), None)
        misfits = _misfits(begun, part, material) if material is not None else set()
        names = {room.id: room.name for room in (*begun.plan.job.rooms, *begun.job.rooms)}
        for owner in sorted({cut.owner for cut in part.cuts if cut.id in begun.kept()}):
            if owner in owners and owner not in misfits:
                continue
            mine = [cut for cut in part.cuts if cut.owner == owner and cut.id in begun.kept()]
            numbers = ", ".join(str(cut.number) for cut in mine)
            name = names.get(owner, owner)
            gone = "is not in the job any more" if owner not in owners else "does not use it as it is now"
            if any(begun.made[cut.id] == CutState.LAID for cut in mine):
                what = f"cut {numbers} is laid, and {name} {gone}"
                begun.fault("laid-misfit", what, "check the measurements; what has to come up again is `spoiled`")
                continue
            begun.spoiled |= {cut.id for cut in mine}
            text = f"{name}: cut {numbers} was made and {gone}; the goods serve again"
            begun.notices.append(Notice(code="let-go", text=text, room_id=owner if owner in owners else ""))


def _misfits(begun: Begun, part: MaterialPlan, material: Material) -> set[str]:
    """Return the rooms, loose pieces and strips that cannot use what is cut of them."""
    if begun.job == begun.plan.job:
        return set()
    kept = begun.kept()
    cuts = [cut for cut in part.cuts if cut.id in kept]
    mine = {cut.owner for cut in cuts}
    # Rooms that match lie on one grid: it takes all of them to find it.
    beside = {room for match in begun.job.matches if mine & set(match) for room in match}
    layouts = {layout.room_id: layout for layout in part.layouts}
    rooms = [room for room in begun.job.rooms if room.id in mine | beside and room.material_id == material.id]
    trial = replace(
        begun.job,
        rooms=tuple(pinned_as_begun(room, layouts[room.id], None) for room in rooms if room.id in layouts),
        loose=tuple(piece for piece in begun.job.loose if piece.id in mine and piece.material_id == material.id),
        strips=tuple(strip for strip in begun.job.strips if strip.id in mine and strip.material_id == material.id),
        one_lot=(),
        done=tuple(DoneCut(cut=replace(cut, state=begun.made[cut.id]), source_id="", x_nm=0, y_nm=0) for cut in cuts),
    )
    found = with_done(candidates_of(trial, material), trial, material)
    there = {
        *(room.id for room in trial.rooms),
        *(piece.id for piece in trial.loose),
        *(strip.id for strip in trial.strips),
    }
    return ({refusal.owner for refusal in found.refusals} | (mine - there)) & mine


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
    happened |= {on[name] for name in begun.made if name in cuts}
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
    for piece in (*begun.plan.job.stock, *begun.job.stock):
        if piece.id in {item.id for item in found} or piece.id in begun.state.gone:
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
        if roll.is_touched:
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


def pinned_as_begun(room: Room, layout: RoomLayout, phase: Point | None) -> Room:
    """Return a room with its layout pinned as it is begun."""
    rules = room.rules
    pins = room.pins
    if not rules.holds(RuleId.PINS):
        pins = RoomPins()
        rules = replace(rules, waived=tuple(rule for rule in rules.waived if rule is not RuleId.PINS))
    pinned = PinnedLayout(
        direction=layout.direction,
        seams_nm=tuple(seam.at_nm for seam in layout.seams),
        cross_seams_nm=tuple((seam.breadth, seam.at_nm) for seam in layout.cross_seams),
        plan=WHAT_IS_CUT,
    )
    return replace(room, rules=rules, pins=replace(pins, layout=pinned, phase_nm=phase))


def _let_loose(room: Room) -> Room:
    """Return a room without what was pinned because something of it was cut."""
    pins = replace(room.pins, phase_nm=None)
    if pins.layout is not None and pins.layout.plan == WHAT_IS_CUT:
        pins = replace(pins, layout=None)
    return replace(room, pins=pins)


def _room_now(begun: Begun, given: Room, start: Plan) -> Room:
    """Return a room with what is settled by what is cut of it or of rooms that match; wound goods turn its lay."""
    room = _let_loose(given)
    part = next((item for item in start.materials if item.material_id == room.material_id), None)
    if part is None:
        return room
    kept = begun.kept()
    begun_rooms = {cut.owner for cut in part.cuts if cut.id in kept}
    group = next((item for item in part.phase_groups if room.id in item.room_ids), None)
    phase = group.phase_nm if group is not None and begun_rooms & set(group.room_ids) else None
    if room.id in begun_rooms:
        layout = next(item for item in part.layouts if item.room_id == room.id)
        return pinned_as_begun(room, layout, phase)
    if phase is not None:
        if not room.rules.holds(RuleId.PINS):
            waived = tuple(rule for rule in room.rules.waived if rule is not RuleId.PINS)
            return replace(room, rules=replace(room.rules, waived=waived), pins=RoomPins(phase_nm=phase))
        return replace(room, pins=replace(room.pins, phase_nm=phase))
    turned = any(item.wound_other_way for item in told_of(begun, room.material_id))
    directed = any(item.directed for item in begun.job.materials if item.id == room.material_id)
    if turned and directed and room.lays:
        return replace(room, lays=tuple(lay.quarter_turned(2) for lay in room.lays))
    return room


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
        parts.append(
            replace(
                part,
                cuts=cuts,
                sources=tuple(
                    _as_in_hand(source, stock[source.id]) if source.id in mine else source for source in part.sources
                ),
                placements=tuple(place for place in part.placements if place.cut_id in left),
                phase_groups=tuple(_group_now(group, part, mine, stock) for group in part.phase_groups),
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


def _group_now(
    group: PhaseGroup, part: MaterialPlan, rolls: dict[str, Roll], stock: dict[str, StockPiece]
) -> PhaseGroup:
    """Return a phase group at its phase on goods whose own phase is known by now: φ moves with σ."""
    on = {place.cut_id: place.source_id for place in part.placements}
    for cut in part.cuts:
        roll = rolls.get(on[cut.id])
        if cut.owner not in group.room_ids or roll is None or cut.id not in roll.kept:
            continue
        now, was = stock[roll.source.id].phase_nm, roll.source.phase_nm
        if now is not None and was is not None:
            x, y = group.phase_nm
            return replace(group, phase_nm=(x + now[0] - was[0], y + now[1] - was[1]), placed=True)
    return group
