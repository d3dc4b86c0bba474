"""Candidates with the cuts among them that were made: what is cut of a room leaves it only the layouts that use it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from nesting.domain.done import DoneCut
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import Material
from nesting.domain.plan import Refusal
from nesting.domain.rules import RuleId
from nesting.seams.clusters import tied_rooms
from nesting.seams.laid import LaidRoom

if TYPE_CHECKING:
    from nesting.seams.candidates import Candidates


def done_by_owner(job: Job) -> Mapping[str, tuple[DoneCut, ...]]:
    """Return what is cut of every room, loose piece and strip."""
    found: dict[str, list[DoneCut]] = {}
    for item in job.done:
        found.setdefault(item.cut.owner, []).append(item)
    return {owner: tuple(items) for owner, items in found.items()}


def with_done(candidates: Candidates, job: Job, material: Material) -> Candidates:
    """Return the candidates that have every cut that was made, as it was made; refusals name what has none."""
    if not job.done:
        return candidates
    done = done_by_owner(job)
    step = material.cutting_step_nm
    laid = dict(candidates.laid)
    refusals = list(candidates.refusals)
    refused = {refusal.owner for refusal in refusals}
    for room in job.rooms:
        if room.id in laid and room.id in done and room.id not in refused:
            laid[room.id] = _rooms_with(laid[room.id], done[room.id], step)
            refusals += () if laid[room.id] else (_unused(room, done[room.id]),)
    refusals += _turned_as_begun(job, material, laid, done)
    loose = {}
    for item_id, ways in candidates.loose.items():
        owner = item_id.partition("#")[0]
        loose[item_id] = _items_with(item_id, ways, done.get(owner, ()))
        if not loose[item_id] and owner not in refused:
            text = f"{owner}: what is cut of it is not of its size"
            refusals.append(Refusal(owner=owner, rule=RuleId.PINS, text=text))
    return replace(candidates, laid=laid, loose=loose, refusals=tuple(refusals))


def _turned_as_begun(
    job: Job, material: Material, laid: dict[str, tuple[LaidRoom, ...]], done: Mapping[str, tuple[DoneCut, ...]]
) -> list[Refusal]:
    """Leave rooms tied to one of which something is cut the layouts in its direction; return who has none."""
    tied = tied_rooms(job, material)
    begun = {
        tied[room]: ways[0].layout.direction for room, ways in laid.items() if room in tied and room in done and ways
    }
    refusals = []
    for room in job.rooms:
        if room.id not in laid or room.id in done or tied.get(room.id) not in begun:
            continue
        direction = begun[tied[room.id]]
        ways = tuple(way for way in laid[room.id] if way.layout.direction == direction)
        if laid[room.id] and not ways:
            text = f"{room.name}: it must be laid as what is cut beside it, and cannot be"
            refusals.append(Refusal(owner=room.id, rule=RuleId.LAY_DIRECTION, text=text, line=room.line))
        laid[room.id] = ways
    return refusals


def _unused(room: Room, done: tuple[DoneCut, ...]) -> Refusal:
    names = ", ".join(str(item.cut.number) for item in sorted(done, key=lambda item: item.cut.number))
    text = f"{room.name}: no layout by the rules uses what is cut of it (cut {names}) as it is"
    return Refusal(owner=room.id, rule=RuleId.PINS, text=text, line=room.line)


def _rooms_with(ways: Iterable[LaidRoom], done: tuple[DoneCut, ...], step_nm: int) -> tuple[LaidRoom, ...]:
    """Return the layouts that have all cuts that were made."""
    found = (_with_cuts(way, {item.cut.id: item.cut for item in done}, step_nm) for way in ways)
    return tuple(way for way in found if way is not None)


def _with_cuts(way: LaidRoom, done: Mapping[str, Cut], step_nm: int) -> LaidRoom | None:
    """Return a layout with the cuts that were made in it, as they are; None where it cannot use one of them."""
    if not done.keys() <= {cut.id for cut in way.cuts}:
        return None
    cuts = []
    for cut in way.cuts:
        made = done.get(cut.id)
        if made is not None and not serves_as(made, cut, step_nm):
            return None
        cuts.append(_as_made(cut, made))
    return replace(way, cuts=tuple(cuts))


def serves_as(made: Cut, cut: Cut, step_nm: int) -> bool:
    """Tell whether a cut that was made serves as a planned one: in the same cell, on the same grid, no smaller."""
    same = (made.kind, made.breadth, made.low, made.high, made.of_item) == (
        cut.kind,
        cut.breadth,
        cut.low,
        cut.high,
        cut.of_item,
    )
    if not same:
        return False
    if cut.kind is not CutKind.DROP:
        return bounding_rect(made.rects) == bounding_rect(cut.rects)
    one, other = bounding_rect(made.rects), bounding_rect(cut.rects)
    on_grid = (one.x0_nm - other.x0_nm) % step_nm == 0 == (one.y0_nm - other.y0_nm) % step_nm
    return on_grid and all(_is_covered(rect, made.rects) for rect in cut.rects)


def _is_covered(rect: Rect, by: tuple[Rect, ...]) -> bool:
    """Tell whether disjoint rectangles cover a rectangle."""
    area = 0
    for other in by:
        across = min(rect.x1_nm, other.x1_nm) - max(rect.x0_nm, other.x0_nm)
        along = min(rect.y1_nm, other.y1_nm) - max(rect.y0_nm, other.y0_nm)
        area += max(0, across) * max(0, along)
    return area == rect.area_nm2


def _items_with(
    item_id: str, ways: tuple[tuple[Cut, ...], ...], done: tuple[DoneCut, ...]
) -> tuple[tuple[Cut, ...], ...]:
    """Return the ways to cut a loose piece or a run of a strip that have all parts that were made."""
    number = int(item_id.partition("#")[2]) - 1
    made = {item.cut.id: item.cut for item in done if item.cut.of_item == number}
    if not made:
        return ways
    found = []
    for cuts in ways:
        by_id = {cut.id: cut for cut in cuts}
        if made.keys() <= by_id.keys() and all(serves_as(cut, by_id[name], 1) for name, cut in made.items()):
            found.append(tuple(_as_made(cut, made.get(cut.id)) for cut in cuts))
    return tuple(found)


def _as_made(cut: Cut, made: Cut | None) -> Cut:
    return cut if made is None else replace(cut, rects=made.rects, state=made.state)
