"""Rooms laid as an earlier plan laid them: found among the candidates, or laid again under the rules of today."""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.geometry import bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.material import Material
from nesting.domain.plan import MaterialPlan
from nesting.seams.again import Lines, laid_again
from nesting.seams.candidates import Candidates, goods_for, useful_nm
from nesting.seams.clusters import directions_of
from nesting.seams.done import with_done
from nesting.seams.drafts import Faults
from nesting.seams.laid import LaidRoom


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
    lays = directions_of(job, material)
    laid = dict(candidates.laid)
    for room in job.rooms:
        layout = layouts.get(room.id)
        if layout is None or room.id not in laid or layout.direction not in lays[room.id]:
            continue
        mine = cuts.get(room.id, ())
        if any(is_laid_as(item, layout, mine) for item in laid[room.id]):
            continue
        again = laid_again(
            room,
            material,
            goods_for(room, job, material),
            Lines.of(layout),
            useful_nm=useful_nm(job, material),
            anchor=candidates.anchors.get(room.id),
            faults=Faults(),
        )
        laid[room.id] += tuple(item for item in again if is_laid_as(item, layout, mine))
    return with_done(replace(candidates, laid=laid), job, material)
