"""The candidate layouts of all rooms of one material, and the ways to cut its loose pieces and strips."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from nesting.domain.geometry import LayDirection, Point, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import Material
from nesting.domain.plan import Refusal
from nesting.domain.rules import MM, RuleId
from nesting.progress import Stop, never_stop
from nesting.seams.clusters import directions_to_try, tied_rooms
from nesting.seams.done import with_done
from nesting.seams.laid import Goods, LaidRoom
from nesting.seams.layouts import Laid, layouts_of_room
from nesting.seams.likeness import LaidOnce
from nesting.seams.loose import parts_of_loose, parts_of_strip

MOST_BESIDE = 16  # companion widths tried for fills
LEAST_LAYOUTS, MOST_LAYOUTS = 12, 60  # of a room
LAYOUTS_IN_ALL = 1440  # of all rooms: with many rooms each has fewer, so that memory and time stay bounded
LAYOUTS_AT_FIRST = 6  # of a room in the first pass


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """What the rooms, loose pieces and strips of a material can be; refusals name those that can be nothing."""

    laid: Mapping[str, tuple[LaidRoom, ...]]
    anchors: Mapping[str, Point]
    loose: Mapping[str, tuple[tuple[Cut, ...], ...]]
    refusals: tuple[Refusal, ...]


def goods_of(job: Job, material: Material, beside_nm: tuple[int, ...] = ()) -> Goods:
    """Return the sizes of goods that a layout may be made for."""
    stock = tuple((piece.width_nm, piece.length_nm) for piece in job.stock if piece.material_id == material.id)
    widths = material.widths_nm if material.orders_allowed else ()
    return Goods(widths_nm=widths, stock_nm=stock, longest_nm=material.longest_nm, beside_nm=beside_nm)


def goods_for(room: Room, job: Job, material: Material, beside_nm: tuple[int, ...] = ()) -> Goods:
    """Return the sizes of goods that a room's layout may be made for: of the pinned pieces where there are some."""
    pinned = room.pinned.sources
    goods = goods_of(job, material, beside_nm)
    if not pinned:
        return goods
    stock = tuple((piece.width_nm, piece.length_nm) for piece in job.stock if piece.id in pinned)
    return replace(goods, widths_nm=(), stock_nm=stock, longest_nm=None, unnamed=goods)


def candidates_of(job: Job, material: Material, *, stop: Stop = never_stop) -> Candidates:
    """Return the candidates of one material; what is cut leaves only those that use it.

    Rooms are laid twice: the first pass tells the widths of the pieces that fills may come to lie beside, the
    second tries the seams at which such a pair just fits the goods. Rooms that `stop` keeps from the second pass have
    the few layouts of the first.
    """
    rooms = [room for room in job.rooms if room.material_id == material.id]
    limit = max(LEAST_LAYOUTS, min(MOST_LAYOUTS, LAYOUTS_IN_ALL // max(1, len(rooms))))
    useful = useful_nm(job, material)
    matched = {room for match in job.matches if len(match) > 1 for room in match}
    anchors: dict[str, Point] = {room.id: (0, 0) for room in rooms if room.id in matched}
    loose = _loose_parts(job, material)
    directions = directions_to_try(job, material)
    tied = tied_rooms(job, material)
    once = LaidOnce(material)

    def laid_in(room: Room, beside: tuple[int, ...], most: int) -> Laid:
        """Return the room's layouts; of one tied to others some in every direction: they must find a common one."""
        lays = directions[room.id]
        groups = [(lay,) for lay in lays] if room.id in tied and len(lays) > 1 else [lays]
        each = max(LAYOUTS_AT_FIRST, most // len(groups))
        goods = goods_for(room, job, material, beside)
        anchor = anchors.get(room.id)

        def laid_so(group: tuple[LayDirection, ...]) -> Laid:
            return layouts_of_room(
                room,
                material,
                goods,
                useful_nm=useful,
                anchor=anchor,
                limit=each,
                directions=group,
                unpinned=goods_of(job, material, beside) if room.pinned.sources else None,
            )

        asked = (beside, each)
        found = [once.laid(room, group, asked, laid_so, pinned=anchor is not None) for group in groups]
        layouts = tuple(item for laid in found for item in laid.layouts)
        return Laid(layouts=layouts, refusals=() if layouts else found[0].refusals)

    first = {room.id: laid_in(room, (), LAYOUTS_AT_FIRST) for room in rooms}
    beside = _beside_nm(tuple(laid.layouts for laid in first.values()), loose, max(material.widths_nm))
    laid: dict[str, tuple[LaidRoom, ...]] = {}
    refusals: list[Refusal] = []
    for room in rooms:
        outcome = first[room.id]
        if outcome.layouts and (len(outcome.layouts) > 1 or outcome.layouts[0].seams) and not stop():
            outcome = laid_in(room, beside, limit)
        laid[room.id] = outcome.layouts
        refusals += outcome.refusals if not outcome.layouts else ()
    refusals += () if refusals else _untied(job, laid, tied)
    found = Candidates(laid=laid, anchors=anchors, loose=loose, refusals=tuple(refusals))
    return with_done(found, job, material)


def _untied(job: Job, laid: Mapping[str, tuple[LaidRoom, ...]], tied: Mapping[str, int]) -> tuple[Refusal, ...]:
    """Return a refusal for every room of a group that has no lay direction in common."""
    names = {room.id: room.name for room in job.rooms}
    found: list[Refusal] = []
    for group in sorted(set(tied.values())):
        rooms = [room for room in laid if tied.get(room) == group]
        ways = [{item.layout.direction for item in laid[room]} for room in rooms]
        if not set.intersection(*ways):
            text = f"{', '.join(names[room] for room in rooms)} must be laid in one direction, and none is open to all"
            found += [Refusal(owner=room, rule=RuleId.LAY_DIRECTION, text=text) for room in rooms]
    return tuple(found)


def useful_nm(job: Job, material: Material) -> tuple[int, int]:
    """Return the least width and length of a notch that something of the job, or the rack, could use."""
    sides = [side for size in job.offcuts.sizes_nm for side in size]
    for loose in job.loose:
        if loose.material_id == material.id:
            sides += [loose.width_nm, loose.length_nm]
    sides += [strip.width_nm for strip in job.strips if strip.material_id == material.id]
    least = max(50 * MM, min(sides))
    return least, least


def _loose_parts(job: Job, material: Material) -> dict[str, tuple[tuple[Cut, ...], ...]]:
    parts: dict[str, tuple[tuple[Cut, ...], ...]] = {}
    for loose in job.loose:
        if loose.material_id == material.id:
            for item in range(loose.count):
                parts[f"{loose.id}#{item + 1}"] = _of_item(parts_of_loose(loose, material), item)
    for strip in job.strips:
        if strip.material_id == material.id:
            for run, alternatives in enumerate(parts_of_strip(strip, material, material.longest_nm)):
                parts[f"{strip.id}#{run + 1}"] = _of_item(alternatives, run)
    return parts


def _of_item(alternatives: tuple[tuple[Cut, ...], ...], item: int) -> tuple[tuple[Cut, ...], ...]:
    """Return the alternatives with ids of this item's own."""
    return tuple(
        tuple(
            replace(cut, id=f"{cut.owner}-{item + 1}-{number}", of_item=item)
            for number, cut in enumerate(cuts, start=1)
        )
        for cuts in alternatives
    )


def _beside_nm(
    laid: tuple[tuple[LaidRoom, ...], ...], loose: Mapping[str, tuple[tuple[Cut, ...], ...]], widest_nm: int
) -> tuple[int, ...]:
    """Return the rough widths, narrower than the goods, of pieces that a fill may come to lie beside."""
    counts: dict[int, int] = {}
    for layouts in laid:
        for item in layouts[:12]:
            for cut in item.cuts:
                if cut.kind is CutKind.DROP:
                    width = bounding_rect(cut.rects).width_nm
                    counts[width] = counts.get(width, 0) + (2 if len(item.cuts) == 1 else 1)
    for alternatives in loose.values():
        for cuts in alternatives:
            for cut in cuts:
                width = bounding_rect(cut.rects).width_nm
                counts[width] = counts.get(width, 0) + 2
    useful = [width for width in counts if width < widest_nm - 100 * MM]
    return tuple(sorted(sorted(useful, key=lambda width: (-counts[width], width))[:MOST_BESIDE]))
