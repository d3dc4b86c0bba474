"""What the rules look at: one material's plan with its parts by name, computed once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nesting.checker.matching import matched
from nesting.checker.parts import Cells, Part, cells_of
from nesting.checker.whole import turned_rects
from nesting.domain.done import DoneCut
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, CutKind, RoomLayout
from nesting.domain.material import Material, StockPiece
from nesting.domain.plan import CutSource, MaterialPlan, PhaseGroup, Placement, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidFloor:
    """A room as laid: its cells, and the part that each drop covers (by cut id)."""

    room: Room
    layout: RoomLayout
    drops: tuple[Cut, ...]
    cells: Cells
    part_of: Mapping[str, Part]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One material's plan. `floors` holds the rooms whose recorded floor is sound, by id, in the plan's order."""

    plan: Plan
    part: MaterialPlan
    material: Material
    rooms: Mapping[str, Room]
    layouts: Mapping[str, RoomLayout]
    floors: Mapping[str, LaidFloor]
    cuts: Mapping[str, Cut]
    corners: Mapping[str, Rect]
    places: Mapping[str, Placement]
    lying: Mapping[str, tuple[Rect, ...]]
    on_source: Mapping[str, tuple[Cut, ...]]
    sources: Mapping[str, CutSource]
    stock: Mapping[str, StockPiece]
    group_of: Mapping[str, PhaseGroup]
    done: Mapping[str, DoneCut]

    @property
    def job(self) -> Job:
        """The job of the plan."""
        return self.plan.job

    def source_of(self, cut: Cut) -> CutSource:
        """Return the source that a cut lies on."""
        return self.sources[self.places[cut.id].source_id]

    def cuts_of(self, owner: str) -> tuple[Cut, ...]:
        """Return the cuts of a room, loose piece or strip."""
        return tuple(cut for cut in self.part.cuts if cut.owner == owner)


def laid_floor(room: Room, layout: RoomLayout, part: MaterialPlan) -> LaidFloor:
    """Return a room's cells with its drops matched to them. The floor must be simple, its seams rising."""
    drops = tuple(cut for cut in part.cuts if cut.owner == room.id and cut.kind is CutKind.DROP)
    cells = cells_of(room, layout)
    return LaidFloor(room=room, layout=layout, drops=drops, cells=cells, part_of=matched(drops, cells.parts))


def view_of(plan: Plan, part: MaterialPlan, floors: Mapping[str, LaidFloor]) -> View:
    """Return the facts of a material plan whose references and sizes are sound."""
    job = plan.job
    cuts = {cut.id: cut for cut in part.cuts}
    places = {place.cut_id: place for place in part.placements}
    corners = {cut.id: bounding_rect(cut.rects) for cut in part.cuts}
    lying = {
        name: turned_rects(cut.rects, corners[name], places[name].turn, places[name].x_nm, places[name].y_nm)
        for name, cut in cuts.items()
    }
    on_source: dict[str, list[Cut]] = {source.id: [] for source in part.sources}
    for cut in part.cuts:
        on_source[places[cut.id].source_id].append(cut)
    owners = {
        item.id
        for items in (job.rooms, job.loose, job.strips)
        for item in items
        if item.material_id == part.material_id
    }
    return View(
        plan=plan,
        part=part,
        material=next(material for material in job.materials if material.id == part.material_id),
        rooms={room.id: room for room in job.rooms if room.material_id == part.material_id},
        layouts={layout.room_id: layout for layout in part.layouts},
        floors=floors,
        cuts=cuts,
        corners=corners,
        places=places,
        lying=lying,
        on_source={name: tuple(items) for name, items in on_source.items()},
        sources={source.id: source for source in part.sources},
        stock={piece.id: piece for piece in job.stock if piece.material_id == part.material_id},
        group_of={room: group for group in part.phase_groups for room in group.room_ids},
        done={item.cut.id: item for item in job.done if item.cut.owner in owners},
    )
