"""Rooms laid as an earlier plan laid them: found among the candidates, or drawn up again under the rules of today."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.domain.geometry import Point, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.material import Material
from nesting.domain.plan import MaterialPlan
from nesting.seams.candidates import Candidates, goods_of, useful_nm
from nesting.seams.clusters import directions_of
from nesting.seams.drafts import Faults, Trial, drafted
from nesting.seams.family import family_of, last_allowed
from nesting.seams.laid import Goods, LaidRoom
from nesting.seams.making import Maker
from nesting.seams.writing import written

SENSES = (0, 1, -1)
"""The orders in which the drops of a room may come off the roll."""


def cuts_by_owner(plan: MaterialPlan) -> dict[str, tuple[Cut, ...]]:
    """Return the cuts of every room, loose piece and strip of a plan."""
    found: dict[str, list[Cut]] = {}
    for cut in plan.cuts:
        found.setdefault(cut.owner, []).append(cut)
    return {owner: tuple(cuts) for owner, cuts in found.items()}


def is_laid_as(laid: LaidRoom, layout: RoomLayout, cuts: tuple[Cut, ...]) -> bool:
    """Tell whether a room is laid as in an earlier plan: the same seams on the same floor, and the same cuts.

    The outlines of the cuts may differ within their bounding rectangles, where a plan fills notches that nothing uses.
    """
    if laid.layout != layout or len(laid.cuts) != len(cuts):
        return False
    before = {cut.id: cut for cut in cuts}
    return all(cut.id in before and _is_alike(cut, before[cut.id]) for cut in laid.cuts)


def _is_alike(cut: Cut, other: Cut) -> bool:
    return (
        bounding_rect(cut.rects) == bounding_rect(other.rects)
        and replace(cut, number=other.number, label=other.label, rects=other.rects, state=other.state) == other
    )


def with_earlier(candidates: Candidates, job: Job, material: Material, plan: MaterialPlan) -> Candidates:
    """Return the candidates with the layouts of an earlier plan among them, where today's rules allow these."""
    cuts = cuts_by_owner(plan)
    layouts = {layout.room_id: layout for layout in plan.layouts}
    goods = goods_of(job, material)
    lays = directions_of(job, material)
    laid = dict(candidates.laid)
    for room in job.rooms:
        layout = layouts.get(room.id)
        if layout is None or room.id not in laid or layout.direction not in lays[room.id]:
            continue
        mine = cuts.get(room.id, ())
        if any(is_laid_as(item, layout, mine) for item in laid[room.id]):
            continue
        again = _laid_again(room, material, goods, layout, useful_nm(job, material), candidates.anchors.get(room.id))
        laid[room.id] += tuple(item for item in again if is_laid_as(item, layout, mine))
    return replace(candidates, laid=laid)


def _laid_again(
    room: Room,
    material: Material,
    goods: Goods,
    layout: RoomLayout,
    useful: tuple[int, int],
    anchor: Point | None,
) -> Iterator[LaidRoom]:
    """Yield the room laid with the seams of a layout, for every width of goods, trim and phase that allows it."""
    seams = tuple(seam.at_nm for seam in layout.seams)
    crossings = tuple(
        tuple(sorted(crossing.at_nm for crossing in layout.cross_seams if crossing.breadth == breadth))
        for breadth in range(len(seams) + 1)
    )
    maker = Maker(
        room=room,
        material=material,
        goods=goods,
        family=family_of(room, material, layout.direction),
        useful_nm=useful,
        anchor=anchor,
        faults=Faults(),
        lays=1,
    )
    full = maker.bench()
    senses = SENSES[1:] if material.in_sequence else SENSES[:1]
    for width, order_width in maker.widths():
        less = maker.less_trim(full, width)
        benches = [full, maker.bench(less_sides_nm=less)] if less else [full]
        benches += [maker.bench(less_sides_nm=less, less_ends_nm=ends) for ends in maker.less_ends(full)]
        for bench, phase in ((bench, phase) for phase in maker.phases(width) for bench in benches):
            trial = Trial(
                room=room, material=material, goods=goods, family=maker.family, bench=bench, faults=maker.faults
            )
            for line, bound in maker.on_seam_lines(maker.line(bench, width), width, phase):
                if any(last_allowed(line.allowed, seam) != seam for seam in seams):
                    continue
                draft = drafted(trial, seams, crossings, order_width, bound if seams else phase, 0)
                if draft is not None:
                    yield from (written(draft, sequence=sense) for sense in senses)
