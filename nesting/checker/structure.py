"""V1a to V1c: everything has its place, every reference leads somewhere, sizes are sizes.

The other rules compute with a material only when these three hold for it and for the job.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from nesting.checker.done import insane_done
from nesting.checker.findings import Finding
from nesting.checker.pins import insane_pins
from nesting.checker.whole import disjoint, mesh_of, sound
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, CutKind, RoomLayout
from nesting.domain.material import Material
from nesting.domain.plan import PLAN_FORMAT, MaterialPlan, Plan, SourceKind

OWNERS = {CutKind.DROP: "room", CutKind.INSERT: "room", CutKind.LOOSE: "loose piece", CutKind.STRIP: "strip"}


def twice(names: Iterable[object]) -> list[object]:
    """Return what occurs more than once, in the order of first occurrence."""
    return [name for name, count in Counter(names).items() if count > 1]


def check_job(plan: Plan) -> Iterator[Finding]:
    """V1a: the plan has one part for every material in use; ids are unique and known; the job's data are sane."""
    job = plan.job
    if plan.format != PLAN_FORMAT:
        yield Finding(rule="V1a", where="plan", text=f"format {plan.format} is not known")
    known = {material.id for material in job.materials}
    needed = {item.material_id for items in (job.rooms, job.loose, job.strips) for item in items}
    planned = [part.material_id for part in plan.materials]
    for name in twice(planned):
        yield Finding(rule="V1a", where=f"material {name}", text="has more than one plan")
    for name in sorted(needed - set(planned)):
        yield Finding(rule="V1a", where=f"material {name}", text="has something to cut and no plan")
    for name in sorted(set(planned) - needed):
        yield Finding(rule="V1a", where=f"material {name}", text="has a plan and nothing to cut")
    for name in sorted((needed | {piece.material_id for piece in job.stock}) - known):
        yield Finding(rule="V1a", where=f"material {name}", text="is not in the job")
    ids = [("material", [m.id for m in job.materials]), ("stock piece", [piece.id for piece in job.stock])]
    owners = [*(room.id for room in job.rooms), *(item.id for item in job.loose), *(strip.id for strip in job.strips)]
    ids.append(("room, loose piece or strip", owners))
    for what, names in ids:
        for name in twice(names):
            yield Finding(rule="V1a", where=f"{what} {name}", text="stands more than once in the job")
    for material in job.materials:
        for text in _insane_material(material):
            yield Finding(rule="V1a", where=f"material {material.id}", text=text)
    for room in job.rooms:
        for text in _insane_room(job, room):
            yield Finding(rule="V1a", where=f"room {room.id}", text=text)
    rooms = {room.id: room.material_id for room in job.rooms}
    for pin in job.one_lot:
        materials = {rooms.get(name) for name in pin.rooms}
        if len(materials) != 1 or None in materials:
            text = f"{', '.join(pin.rooms)} are wanted of one lot, and are not rooms of one material"
            yield Finding(rule="V1a", where="plan", text=text)
    for where, sizes in (
        *((item.id, (item.width_nm, item.length_nm)) for item in job.loose),
        *((strip.id, (strip.width_nm, *strip.runs_nm)) for strip in job.strips),
        *((piece.id, (piece.width_nm, piece.length_nm)) for piece in job.stock),
    ):
        if min(sizes) <= 0:
            yield Finding(rule="V1a", where=where, text="has a size that is not positive")
    for where, text in insane_done(job):
        yield Finding(rule="V1a", where=where, text=text)


def _insane_material(material: Material) -> Iterator[str]:
    if not material.widths_nm or any(width <= 0 for width in material.widths_nm):
        yield "is made in no width or in one that is not positive"
    if material.cutting_step_nm <= 0 or material.sale.order_step_nm <= 0:
        yield "has a step that is not positive"
    if min(material.selvedge_nm, material.seam_overlap_nm, material.squaring_nm) < 0:
        yield "has a negative selvedge, overlap or squaring allowance"
    prices = material.sale.price_per_m
    if prices is not None and len(prices) != len(material.widths_nm):
        yield "has not one price for every width"
    pattern = material.pattern
    if pattern is None:
        return
    meshes = [mesh for mesh in (mesh_of(material, width) for width in material.widths_nm) if mesh is not None]
    if pattern.along_nm <= 0 or any(mesh.across is not None and mesh.across <= 0 for mesh in meshes):
        yield "has a repeat that is not positive"


def _insane_room(job: Job, room: Room) -> Iterator[str]:
    if len(room.outline) < 3 or len(room.outline) != len(room.edges):
        yield "has not one edge for every corner"
    if any(len(hole.outline) < 3 for hole in room.holes):
        yield "has a hole without corners"
    doors = {door.id for door in room.doors}
    if len(doors) != len(room.doors):
        yield "has two doors of one name"
    for edge in room.edges:
        if edge.cove_nm < 0:
            yield "has a negative cove"
        if edge.door and edge.door not in doors:
            yield f"has an edge at door {edge.door}, which is not there"
    yield from insane_pins(job, room)


def check_consents(plan: Plan) -> Iterator[Finding]:
    """V4r: whoever a plan needs consent for is a room, loose piece, strip or material of the job."""
    job = plan.job
    known = {item.id for items in (job.rooms, job.loose, job.strips, job.materials) for item in items}
    for consent in plan.consents:
        if consent.owner not in known:
            text = f"needs consent for {consent.owner}, which is not in the job"
            yield Finding(rule="V4r", where="plan", text=text)


@dataclass(frozen=True, slots=True)
class Scope:
    """A material plan with the job it is for."""

    plan: Plan
    part: MaterialPlan


def check_references(scope: Scope) -> Iterator[Finding]:
    """V1b: layouts, cuts, places, sources, phase groups, offcuts and orders refer to what is there, each once."""
    part = scope.part
    for where, text in (*_layouts(scope), *_cuts(scope), *_places(part), *_sources(scope), *_groups(part)):
        yield Finding(rule="V1b", where=where, text=text)


def _rooms(scope: Scope) -> dict[str, Room]:
    return {room.id: room for room in scope.plan.job.rooms if room.material_id == scope.part.material_id}


def _layouts(scope: Scope) -> Iterator[tuple[str, str]]:
    rooms = _rooms(scope)
    laid = [layout.room_id for layout in scope.part.layouts]
    for name in twice(laid):
        yield f"room {name}", "is laid twice"
    for name in rooms:
        if name not in laid:
            yield f"room {name}", "is not laid"
    for layout in scope.part.layouts:
        where = f"room {layout.room_id}"
        if layout.room_id not in rooms:
            yield where, "is no room of this material"
        breadths = range(len(layout.seams) + 1)
        if any(cross.breadth not in breadths for cross in layout.cross_seams):
            yield where, "has a cross seam in a breadth that is not there"
        drops = {cut.id for cut in scope.part.cuts if cut.kind is CutKind.DROP and cut.owner == layout.room_id}
        for relief in layout.relief_cuts:
            if relief.hole not in range(len(layout.holes)) or relief.cut_id not in drops:
                yield where, f"has a relief cut from hole {relief.hole} in {relief.cut_id}, which is not there"


def _cuts(scope: Scope) -> Iterator[tuple[str, str]]:
    job, material = scope.plan.job, scope.part.material_id
    owners = {
        "room": set(_rooms(scope)),
        "loose piece": {item.id for item in job.loose if item.material_id == material},
        "strip": {item.id for item in job.strips if item.material_id == material},
    }
    layouts = {layout.room_id: layout for layout in scope.part.layouts}
    for name in twice(cut.id for plan in scope.plan.materials for cut in plan.cuts):
        yield f"cut {name}", "stands more than once in the plan"
    for cut in scope.part.cuts:
        if cut.owner not in owners[OWNERS[cut.kind]]:
            yield f"cut {cut.id}", f"is for {OWNERS[cut.kind]} {cut.owner}, which is not there"
        elif cut.kind is CutKind.DROP and not _in_layout(cut, layouts.get(cut.owner)):
            yield f"cut {cut.id}", "is for a breadth or between cross seams that are not there"


def _in_layout(cut: Cut, layout: RoomLayout | None) -> bool:
    if layout is None:
        return True  # reported with the room
    crossings = range(len(layout.cross_seams))
    ends = [end for end in (cut.low, cut.high) if end is not None]
    return cut.breadth in range(len(layout.seams) + 1) and all(end in crossings for end in ends)


def _places(part: MaterialPlan) -> Iterator[tuple[str, str]]:
    cuts, sources = {cut.id for cut in part.cuts}, {source.id for source in part.sources}
    placed = [place.cut_id for place in part.placements]
    for name in twice(placed):
        yield f"cut {name}", "is placed twice"
    for cut in part.cuts:
        if cut.id not in placed:
            yield f"cut {cut.id}", "is not placed"
    for place in part.placements:
        if place.cut_id not in cuts:
            yield f"cut {place.cut_id}", "is placed and not in the plan"
        if place.source_id not in sources:
            yield f"cut {place.cut_id}", f"is placed on {place.source_id}, which is not there"
    for what, names in (
        ("offcut", [(item.id, item.source_id) for item in part.offcuts]),
        ("order of", [(line.source_id, line.source_id) for line in part.order]),
    ):
        for name in twice(name for name, _ in names):
            yield f"{what} {name}", "stands more than once"
        for name, source in names:
            if source not in sources:
                yield f"{what} {name}", f"is of source {source}, which is not there"


def _sources(scope: Scope) -> Iterator[tuple[str, str]]:
    part = scope.part
    stock = {piece.id for piece in scope.plan.job.stock if piece.material_id == part.material_id}
    for name in twice(source.id for plan in scope.plan.materials for source in plan.sources):
        yield f"source {name}", "stands more than once in the plan"
    in_hand = [source.stock_id for source in part.sources if source.kind is not SourceKind.ORDER]
    for name in twice(in_hand):
        yield f"stock piece {name}", "is used twice"
    for source in part.sources:
        if source.kind is not SourceKind.ORDER and source.stock_id not in stock:
            yield f"source {source.id}", f"is stock piece {source.stock_id}, which is not in hand"


def _groups(part: MaterialPlan) -> Iterator[tuple[str, str]]:
    laid = {layout.room_id for layout in part.layouts}
    members = [room for group in part.phase_groups for room in group.room_ids]
    for name in twice(members):
        yield f"room {name}", "is in two phase groups"
    for name in members:
        if name not in laid:
            yield f"room {name}", "is in a phase group and not laid"


def check_sizes(scope: Scope) -> Iterator[Finding]:
    """V1c: rough cuts are disjoint rectangles of positive whole sizes; cuts have a number each; offcuts have a size.

    Numbers count from 1 without gaps where nothing is done: else cuts keep theirs, and those of others are not used.
    """
    numbers = [cut.number for plan in scope.plan.materials for cut in plan.cuts]
    if twice(numbers) or any(type(number) is not int or number < 1 for number in numbers):
        yield Finding(rule="V1c", where="plan", text="the cuts have not one whole number from 1 each")
    elif not scope.plan.job.done and max(numbers, default=0) != len(numbers):
        yield Finding(rule="V1c", where="plan", text="the cuts are not numbered from 1 without gaps")
    for cut in scope.part.cuts:
        if not cut.rects:
            yield Finding(rule="V1c", where=f"cut {cut.id}", text="has no rectangles")
        elif not all(sound(rect) for rect in cut.rects):
            yield Finding(rule="V1c", where=f"cut {cut.id}", text="has a rectangle without a positive whole size")
        elif not disjoint(cut.rects):
            yield Finding(rule="V1c", where=f"cut {cut.id}", text="has rectangles that overlap")
    for source in scope.part.sources:
        if source.width_nm <= 0 or source.length_nm <= 0:
            yield Finding(rule="V1c", where=f"source {source.id}", text="has no size")
    for offcut in scope.part.offcuts:
        if not sound(offcut.rect):
            yield Finding(rule="V1c", where=f"offcut {offcut.id}", text="has no positive whole size")
