"""The job with everything held in its place that can stay: what is left to plan is what cannot."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from nesting.domain.done import CutState, DoneCut
from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import CutKind
from nesting.domain.material import Material, StockPiece
from nesting.domain.pins import RoomPins
from nesting.domain.plan import CutSource, MaterialPlan, PhaseGroup, Plan, SourceKind
from nesting.domain.rules import RuleId
from nesting.estimating.job_now import JobNow, done_cut
from nesting.estimating.on_hand import Lying, lying_on
from nesting.estimating.rooms_now import pinned_as_begun
from nesting.model.finishing import overlap
from nesting.seams.clusters import cluster_rooms
from nesting.seams.likeness import nameless


def held_job(plan: Plan, now: JobNow) -> Job:
    """Return the job with everything held that is planned, can stay, and lies on goods in hand.

    Goods of unknown phase that carry a held cut count as of the phase that the plan assumed, so that what joins it must
    meet it. A group that takes goods of another phase so is no plan by today's rules, and is not used.
    """
    stock = {piece.id: piece for piece in now.job.stock}
    held: list[DoneCut] = []
    rooms = {room.id: room for room in now.job.rooms}
    phases: dict[str, Point] = {}
    done = now.job.made
    for before, part in zip(plan.materials, now.start.materials, strict=True):
        material = next((item for item in now.job.materials if item.id == part.material_id), None)
        if material is None:
            continue
        mine = [
            item
            for source in part.sources
            if source.kind is not SourceKind.ORDER and source.id in stock
            for item in lying_on(part, source.id)
            if item.cut.id not in done and _stays(item, stock[source.id], plan, now)
        ]
        mine = [item for item in mine if _keeps_its_selvedge(item, before, material, stock)]
        mine = _of_one_lot(mine, material, now.job)
        was = next(item for item in plan.job.materials if item.id == part.material_id)
        remeasured = was.pattern != material.pattern
        drifts = _Drifts(before, stock, done, is_remeasured=remeasured)
        mine = [item for item in mine if drifts.agree(item)]
        held += [done_cut(item, CutState.PLANNED) for item in mine]
        owners = {item.cut.owner for item in mine}
        for layout in part.layouts:
            if layout.room_id in owners & rooms.keys():
                room = rooms[layout.room_id]
                rooms[room.id] = pinned_as_begun(room, layout, room.pins.phase_nm)
        phases |= drifts.phases(owners, rooms)
    assumed = {item.source_id for item in held}
    return replace(
        now.job,
        rooms=tuple(_at_phase(rooms[room.id], phases.get(room.id)) for room in now.job.rooms),
        stock=tuple(_as_assumed(piece, now) if piece.id in assumed else piece for piece in now.job.stock),
        done=(*now.job.done, *held),
    )


class _Drifts:
    """How far the pattern of the goods lies from where the plan had it: what is held of a group must all agree.

    `is_remeasured`: the repeat is another than was planned with.
    """

    def __init__(
        self, before: MaterialPlan, stock: Mapping[str, StockPiece], made: frozenset[str], *, is_remeasured: bool
    ) -> None:
        self._stock, self._is_remeasured = stock, is_remeasured
        sources = {source.id: source for source in before.sources}
        self._source_of = {place.cut_id: sources[place.source_id] for place in before.placements}
        drops: dict[str, list[tuple[int, str]]] = {}
        for number, cut in enumerate(before.cuts):
            if cut.kind is CutKind.DROP:
                drops.setdefault(cut.owner, []).append((number, cut.id))
        self._groups = [(group, self._group(group, drops, made)) for group in before.phase_groups]
        self._of_room = {room: drift for group, drift in self._groups for room in group.room_ids}

    def _of(self, source: CutSource) -> Point:
        """Return σ now less σ as planned; an unknown one counts as (0, 0)."""
        is_now = self._stock[source.id].phase_nm or (0, 0)
        was = source.phase_nm
        return (0, 0) if was is None else (is_now[0] - was[0], is_now[1] - was[1])

    def _group(
        self, group: PhaseGroup, drops: Mapping[str, list[tuple[int, str]]], made: frozenset[str]
    ) -> Point | None:
        """Return by how much the phase of a group moves; None: nothing of it lies on goods in hand."""
        mine = [name for _, name in sorted(drop for room in group.room_ids for drop in drops.get(room, ()))]
        kept = [name for name in mine if name in made]
        if group.placed and not kept:
            return 0, 0
        there = (self._source_of[name] for name in (*kept, *mine))
        return next((self._of(source) for source in there if source.id in self._stock), None)

    def agree(self, item: Lying) -> bool:
        """Tell whether a cut still agrees with its group where it lies."""
        if item.cut.owner not in self._of_room or item.cut.kind is not CutKind.DROP:
            return True
        if self._is_remeasured:
            return False
        return self._of(self._source_of[item.cut.id]) == self._of_room[item.cut.owner]

    def phases(self, owners: set[str], rooms: Mapping[str, Room]) -> dict[str, Point]:
        """Return by room the phase of the groups of which something is held, where it is not pinned before."""
        found: dict[str, Point] = {}
        for group, drift in self._groups:
            if drift is None or not owners & set(group.room_ids):
                continue
            phase = group.phase_nm[0] + drift[0], group.phase_nm[1] + drift[1]
            mine = (room for room in group.room_ids if room in rooms)
            found |= {room: phase for room in mine if rooms[room].pins.phase_nm is None}
        return found


def _of_one_lot(items: Sequence[Lying], material: Material, job: Job) -> list[Lying]:
    """Return the cuts of rooms that are still of one lot, and of that in which they are begun."""
    rooms = [room.id for room in job.rooms if room.material_id == material.id]
    clusters = cluster_rooms(job, material, rooms)
    bound = {room.id for room in job.rooms if room.rules.holds(RuleId.ONE_LOT)} & clusters.lot.keys()
    lots = {piece.id: piece.lot or piece.id for piece in job.stock}
    lying = [(item.cut.owner, lots[item.place.source_id]) for item in items]
    lying += [(item.cut.owner, lots[item.source_id]) for item in job.done]
    of_cluster: dict[int, set[str]] = {}
    for owner, lot in lying:
        if owner in bound:
            of_cluster.setdefault(clusters.lot[owner], set()).add(lot)
    return [item for item in items if item.cut.owner not in bound or len(of_cluster[clusters.lot[item.cut.owner]]) == 1]


def _as_assumed(piece: StockPiece, now: JobNow) -> StockPiece:
    patterned = any(item.pattern is not None for item in now.job.materials if item.id == piece.material_id)
    return replace(piece, phase_nm=(0, 0)) if patterned and piece.phase_nm is None else piece


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
    return not any(overlap(rect, other) for rect in item.rects for other in taken)


def _keeps_its_selvedge(item: Lying, before: MaterialPlan, material: Material, stock: Mapping[str, StockPiece]) -> bool:
    """Tell whether a cut lies as far off the right edge as it did, or by the selvedge, on a roll that came narrower."""
    was = next(source.width_nm for source in before.sources if source.id == item.place.source_id)
    right = bounding_rect(item.rects).x1_nm
    return stock[item.place.source_id].width_nm - right >= min(material.selvedge_nm, was - right)


def _is_as_it_was(owner: str, before: Job, after: Job) -> bool:
    """Tell whether a room, loose piece or strip is the same in two jobs, but for what was pinned on the way."""

    def found(job: Job) -> Iterator[object]:
        yield from (_bare(room) for room in job.rooms if room.id == owner)
        yield from (replace(piece, line=0) for piece in job.loose if piece.id == owner)
        yield from (replace(strip, line=0) for strip in job.strips if strip.id == owner)

    return next(found(before), None) == next(found(after), None)


def _bare(room: Room) -> Room:
    return replace(nameless(room), pins=RoomPins(), rules=replace(room.rules, waived=()))
