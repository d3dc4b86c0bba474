"""Planning again: a job that has begun, with the least new order, and nothing cut ever moved.

First only what cannot stay as it was planned is planned anew, all else being held in its place. If that orders nothing,
it is the plan. Else everything that is not cut is open, and the plan found so is taken if it is better at the goal's
first level by an order step or more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.domain.done import CutState, DoneCut
from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.material import StockPiece
from nesting.domain.pins import RoomPins
from nesting.domain.plan import CutSource, MaterialPlan, Notice, Plan, Refusal, SourceKind
from nesting.domain.state import State
from nesting.estimating.job_now import JobNow, done_cut, job_now, pinned_as_begun
from nesting.estimating.on_hand import Lying, lying_on
from nesting.pipeline import Settings, plan_job, proved
from nesting.progress import Portion
from nesting.seams.likeness import nameless

REPAIR_EFFORT = 3
"""Rounds for what cannot stay as it was: mostly a few pieces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """A job planned again. `before`: the plan that was; `remade`: ids of its cuts that were made and are made anew."""

    before: Plan
    plan: Plan | None
    remade: frozenset[str]
    refusals: tuple[Refusal, ...] = ()
    notices: tuple[Notice, ...] = ()


def plan_again(plan: Plan, state: State, job: Job | None = None, settings: Settings | None = None) -> Again:
    """Return the plan for what is left of a job that has begun; `job`: its rooms and wishes as they are today.

    Raises
    ------
    JobError
        The state contradicts itself, the plan, or the rooms as they are measured now.
    UnsoundPlanError
        The checker refused a plan: a bug of the planner.
    """
    settings = replace(settings or Settings(), rule_costs=False)
    now = job_now(plan, state, job)
    if now.job == plan.job:
        return Again(before=plan, plan=plan, remade=now.remade, notices=now.notices)
    portion = Portion(stop=settings.stop, spent=settings.spent, end=1.0)
    start = _repaired(plan, now, replace(settings, stop=portion.next_of(4))) or now.start
    outcome = plan_job(now.job, replace(settings, start=start, keep_if_no_order=True))
    found = outcome.plan
    if found is not None:
        found = proved(_without_word_of_it(_numbered_on(plan, _goods_in_order(plan, found))))
    return Again(before=plan, plan=found, remade=now.remade, refusals=outcome.refusals, notices=now.notices)


def _repaired(plan: Plan, now: JobNow, settings: Settings) -> Plan | None:
    """Return the plan with all held in its place that can stay, and the rest planned; None if that cannot be."""
    in_hand = {piece.id for piece in plan.job.stock}
    came = any(piece.id not in in_hand for piece in now.job.stock)
    if not came and not now.job.done:
        return None
    held = _held_job(plan, now)
    effort = min(settings.effort, REPAIR_EFFORT)
    outcome = plan_job(held, replace(settings, effort=effort, start=now.start, least_gain=1))
    return None if outcome.plan is None or outcome.plan.consents else replace(outcome.plan, job=now.job)


def _held_job(plan: Plan, now: JobNow) -> Job:
    """Return the job with everything held that is planned, can stay, and lies on goods in hand.

    Goods of unknown phase that carry a held cut count as of the phase that the plan assumed, so that what joins it must
    meet it. A group that takes goods of another phase so is no plan by today's rules, and is not used.
    """
    stock = {piece.id: piece for piece in now.job.stock}
    held: list[DoneCut] = []
    rooms = {room.id: room for room in now.job.rooms}
    phases: dict[str, Point] = {}
    done = {item.cut.id for item in now.job.done}
    for part in now.start.materials:
        mine = [
            done_cut(item, CutState.PLANNED)
            for source in part.sources
            if source.kind is not SourceKind.ORDER and source.id in stock
            for item in lying_on(part, source.id)
            if item.cut.id not in done and _stays(item, stock[source.id], plan, now)
        ]
        held += mine
        _hold_layouts(part, mine, stock, rooms, phases)
    assumed = {item.source_id for item in held}
    return replace(
        now.job,
        rooms=tuple(_at_phase(rooms[room.id], phases.get(room.id)) for room in now.job.rooms),
        stock=tuple(_as_assumed(piece, now) if piece.id in assumed else piece for piece in now.job.stock),
        done=(*now.job.done, *held),
    )


def _as_assumed(piece: StockPiece, now: JobNow) -> StockPiece:
    patterned = any(item.pattern is not None for item in now.job.materials if item.id == piece.material_id)
    return replace(piece, phase_nm=(0, 0)) if patterned and piece.phase_nm is None else piece


def _hold_layouts(
    part: MaterialPlan,
    held: list[DoneCut],
    stock: dict[str, StockPiece],
    rooms: dict[str, Room],
    phases: dict[str, Point],
) -> None:
    """Pin the layouts of rooms with a held cut, and note the phase of their groups."""
    owners = {item.cut.owner: item for item in held}
    sources = {source.id: source for source in part.sources}
    for layout in part.layouts:
        if layout.room_id in owners and layout.room_id in rooms and rooms[layout.room_id].pins.phase_nm is None:
            rooms[layout.room_id] = pinned_as_begun(rooms[layout.room_id], layout, None)
    for group in part.phase_groups:
        first = next((owners[room] for room in group.room_ids if room in owners), None)
        if first is None:
            continue
        phase = _shifted(group.phase_nm, sources[first.source_id], stock[first.source_id])
        phases |= {room: phase for room in group.room_ids if room in rooms and rooms[room].pins.phase_nm is None}


def _shifted(phase: Point, source: CutSource, piece: StockPiece) -> Point:
    """Return φ as it is on goods whose unknown phase counts as (0, 0); where it is known, φ was moved before."""
    was = source.phase_nm
    if piece.phase_nm is not None or was is None:
        return phase
    return phase[0] - was[0], phase[1] - was[1]


def _at_phase(room: Room, phase: Point | None) -> Room:
    return room if phase is None else replace(room, pins=replace(room.pins, phase_nm=phase))


def _stays(item: Lying, piece: StockPiece, plan: Plan, now: JobNow) -> bool:
    """Tell whether a planned cut can stay where it is: its owner is as it was, and its goods are there and sound."""
    if not _is_as_it_was(item.cut.owner, plan.job, now.job):
        return False
    inside = Rect(0, 0, piece.width_nm, piece.length_nm)
    taken = (*piece.flaws, *piece.gone)
    corner = bounding_rect(item.rects)
    if corner.x0_nm < 0 or corner.y0_nm < 0 or corner.x1_nm > inside.x1_nm or corner.y1_nm > inside.y1_nm:
        return False
    return not any(_meet(rect, other) for rect in item.rects for other in taken)


def _meet(one: Rect, other: Rect) -> bool:
    across = one.x0_nm < other.x1_nm and other.x0_nm < one.x1_nm
    return across and one.y0_nm < other.y1_nm and other.y0_nm < one.y1_nm


def _is_as_it_was(owner: str, before: Job, after: Job) -> bool:
    """Tell whether a room, loose piece or strip is the same in two jobs, but for what was pinned on the way."""

    def found(job: Job) -> Iterator[object]:
        yield from (_bare(room) for room in job.rooms if room.id == owner)
        yield from (replace(piece, line=0) for piece in job.loose if piece.id == owner)
        yield from (replace(strip, line=0) for strip in job.strips if strip.id == owner)

    return next(found(before), None) == next(found(after), None)


def _bare(room: Room) -> Room:
    return replace(nameless(room), pins=RoomPins(), rules=replace(room.rules, waived=()))


def _numbered_on(before: Plan, after: Plan) -> Plan:
    """Return the plan with its cuts numbered on from the plan before: what stays as and where it was keeps its number.

    Where nothing is cut yet no number stands on anything, and the plan's own are kept.
    """
    if not after.job.done:
        return after
    was = {_as_it_lies(item): item.cut.number for part in before.materials for item in _lying(part)}
    highest = max(was.values(), default=0)
    numbers: dict[str, int] = {}
    lying = sorted((item for part in after.materials for item in _lying(part)), key=lambda item: item.cut.number)
    for item in lying:
        known = was.get(_as_it_lies(item))
        highest += known is None
        numbers[item.cut.id] = highest if known is None else known
    materials = tuple(
        replace(part, cuts=tuple(replace(cut, number=numbers[cut.id]) for cut in part.cuts)) for part in after.materials
    )
    return replace(after, materials=materials)


def _goods_in_order(before: Plan, after: Plan) -> Plan:
    """Return the plan with its goods in the order in which the plan before had them, what is new last."""
    places = {source.id: place for part in before.materials for place, source in enumerate(part.sources)}
    parts = (_in_order(part, places) for part in after.materials)
    return replace(after, materials=tuple(parts))


def _in_order(part: MaterialPlan, places: dict[str, int]) -> MaterialPlan:
    sources = sorted(part.sources, key=lambda source: places.get(source.id, len(places)))
    rank = {source.id: number for number, source in enumerate(sources)}
    lies = {place.cut_id: (rank[place.source_id], place.y_nm, place.x_nm) for place in part.placements}
    return replace(
        part,
        sources=tuple(sources),
        cuts=tuple(sorted(part.cuts, key=lambda cut: lies[cut.id])),
        placements=tuple(sorted(part.placements, key=lambda place: lies[place.cut_id])),
        offcuts=tuple(sorted(part.offcuts, key=lambda item: rank[item.source_id])),
        order=tuple(sorted(part.order, key=lambda line: rank[line.source_id])),
    )


def _lying(part: MaterialPlan) -> Iterator[Lying]:
    for source in part.sources:
        yield from lying_on(part, source.id)


def _as_it_lies(item: Lying) -> tuple[object, ...]:
    place = item.place
    return item.cut.id, item.cut.rects, place.source_id, place.x_nm, place.y_nm, place.turn


def _without_word_of_it(plan: Plan) -> Plan:
    """Return the plan without what it says of the one that its search began with: the changes say more."""
    parts = (
        replace(part, notices=tuple(notice for notice in part.notices if notice.code != "earlier-plan"))
        for part in plan.materials
    )
    return replace(plan, materials=tuple(parts))
