"""A room's entry becomes domain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Access, EdgeKind, PatternPlacement, PlacementWish, Room
from nesting.domain.material import Material
from nesting.domain.rules import INCH, RuleId, SeamRules
from nesting.files.directions import read_directions
from nesting.files.faults import Faults
from nesting.files.features import DoorPlan, Floor
from nesting.files.fields import nearest
from nesting.files.pins import room_pins
from nesting.files.room_entries import PlacementEntry, RoomEntry, RulesEntry, Settings
from nesting.files.shapes import floor_of
from nesting.files.yaml_tree import Loc
from nesting.units import MM_NM, format_length

TOLERANCE_NM = 10 * MM_NM
"""How far a walk or a loop of rooms may fail to close, unless the job says otherwise (common practice)."""

_RULES = {
    "joint_clearance": "joint_clearance_nm",
    "least_breadth": "least_breadth_nm",
    "cross_seams": "cross_seams_per_breadth",
    "least_length": "least_length_nm",
    "stagger": "cross_seam_stagger_nm",
    "forced_cross_seams": "forced_cross_seams",
    "oblique_step": "step_nm",
    "whole_rectangles": "whole_rectangles",
    "insert_factor": "insert_factor",
}


def seam_rules(*layers: RulesEntry | None) -> SeamRules:
    """Return the rules that hold where the later layers count before the earlier; waivers add up."""
    values: dict[str, Any] = {}
    waived: set[RuleId] = set()
    for layer in layers:
        if layer is None:
            continue
        for name, target in _RULES.items():
            if getattr(layer, name) is not None:
                values[target] = getattr(layer, name)
        if layer.notch is not None:
            values["notch_width_nm"], values["notch_length_nm"] = layer.notch
        waived.update(RuleId(rule) for rule in layer.waive or ())
    return SeamRules(**values, waived=tuple(sorted(waived)))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomReader:
    """Reads rooms; knows what holds for the whole job."""

    unit: str
    tolerance_nm: int
    job: Settings
    faults: Faults

    def read(
        self,
        entry: RoomEntry,
        loc: Loc,
        *,
        ident: str,
        material: Material,
        of_material: Settings,
        doors: Mapping[int, DoorPlan],
    ) -> Room | None:
        """Return the room in its own frame, or None with its faults noted."""
        faults = self.faults
        before = len(faults.found)
        ring = floor_of(entry, loc, faults, unit=self.unit, tolerance_nm=self.tolerance_nm, room_id=ident)
        trims = self._trims(entry, of_material, material, loc)
        if ring is None:
            return None
        floor = Floor.of(ring, self.unit, faults)
        self._add_features(floor, entry, loc, doors)
        edges = self._coved(floor, entry, loc)
        rules = seam_rules(self.job.rules, of_material.rules, entry.rules)
        room = Room(
            id=ident,
            name=entry.name,
            material_id=material.id,
            outline=floor.ring.points,
            edges=edges,
            plan_id=ident,
            holes=tuple(floor.holes),
            doors=tuple(floor.doors),
            keep_outs=tuple(floor.keep_outs),
            joints_below=tuple(floor.joints),
            lays=self._lays(entry, floor, loc),
            traffic=self._one_way(entry.traffic, floor, (*loc, "traffic")),
            light=self._one_way(entry.light, floor, (*loc, "light")),
            view=self._one_way(entry.view, floor, (*loc, "view")),
            access=_access(entry, material, loc, faults),
            placement=self._placement(entry.pattern, material, floor, (*loc, "pattern")),
            rules=rules,
            pins=room_pins(entry, floor, rules, loc, faults),
            line=faults.tree.line_of(loc),
            **trims,
        )
        return room if len(faults.found) == before else None

    def _trims(self, entry: RoomEntry, of_material: Settings, material: Material, loc: Loc) -> dict[str, int]:
        """Return the allowances that are given for the room, its material or the job."""
        values: dict[str, int] = {}
        for name in ("trim", "least_trim", "least_end_trim", "out_of_square"):
            for layer in (entry, of_material, self.job):
                if getattr(layer, name) is not None:
                    values[f"{name}_nm"] = getattr(layer, name)
                    break
        trim = values.setdefault("trim_nm", 2 * INCH)
        for name in ("least_trim", "least_end_trim"):
            if values.get(f"{name}_nm", 0) > trim:
                shown = format_length(trim, self.unit, with_unit=True)
                what = f"{name.replace('_', ' ')} is more than the trim, {shown}"
                self.faults.add((*loc, name.replace("_", " ")), "too-large", what, "leave it out, or raise `trim`")
        if 2 * trim >= max(material.widths_nm):
            shown = format_length(max(material.widths_nm), self.unit, with_unit=True)
            what = f"trim on both sides takes the whole roll, {shown} wide"
            self.faults.add((*loc, "trim"), "roll-eaten", what, "check `trim` and the width of the roll")
        return values

    def _add_features(self, floor: Floor, entry: RoomEntry, loc: Loc, doors: Mapping[int, DoorPlan]) -> None:
        """Add what changes the outline first, in the order alcoves, cut-outs, doors; then what only marks it."""
        for i, alcove in enumerate(entry.alcoves or ()):
            floor.add_alcove(alcove, i + 1, (*loc, "alcoves", i))
        for i, cut_out in enumerate(entry.cut_out or ()):
            floor.add_cut_out(cut_out, i + 1, (*loc, "cut out", i))
        for i, door in enumerate(entry.doors or ()):
            floor.add_door(door, doors[i], (*loc, "doors", i))
        for i, zone in enumerate(entry.keep_out or ()):
            floor.add_keep_out(zone, i + 1, (*loc, "keep out", i))
        for i, joint in enumerate(entry.joints_below or ()):
            floor.add_joint(joint, i + 1, (*loc, "joints below", i))

    def _coved(self, floor: Floor, entry: RoomEntry, loc: Loc) -> tuple[Any, ...]:
        """Return the edges with the coves of their walls."""
        heights: dict[str, int] = {}
        known = {*floor.walls, *floor.groups.values()}
        for i, cove in enumerate(entry.coves or ()):
            for name in cove.walls:
                plain = name.lower() if name.lower() in known else name.lower().removesuffix(" wall")
                if plain not in known:
                    inner = (*loc, "coves", i, "walls")
                    self.faults.add(
                        inner, "unknown-name", f"there is no wall {name!r} in this room", nearest(plain, known)
                    )
                heights[plain] = cove.height
        everywhere = entry.cove or 0
        edges = []
        for edge in floor.ring.edges:
            if edge.kind is EdgeKind.WALL:
                of_feature = heights.get(floor.groups.get(edge.wall, ""), everywhere)
                edge = replace(edge, cove_nm=heights.get(edge.wall.lower(), of_feature))
            edges.append(edge)
        return tuple(edges)

    def _lays(self, entry: RoomEntry, floor: Floor, loc: Loc) -> tuple[LayDirection, ...]:
        out: list[LayDirection] = []
        for text in entry.lay or ():
            if text.strip().lower() != "free":
                out += read_directions(text, floor.walls, (*loc, "lay"), self.faults)
        return tuple(dict.fromkeys(out))

    def _one_way(self, text: str | None, floor: Floor, loc: Loc) -> LayDirection | None:
        found = read_directions(text, floor.walls, loc, self.faults) if text else ()
        return found[0] if found else None

    def _placement(self, entry: PlacementEntry | None, material: Material, floor: Floor, loc: Loc) -> PatternPlacement:
        if entry is None:
            return PatternPlacement()
        pattern = material.pattern
        if pattern is None or (entry.across is not None and pattern.across_nm is None):
            what = f"{material.name} has no pattern{'' if pattern is None else ' across'} to place"
            self.faults.add(loc, "no-repeat", what, "leave it out")
            return PatternPlacement()
        across, across_wall = self._wish(entry.across, floor, (*loc, "across"))
        along, along_wall = self._wish(entry.along, floor, (*loc, "along"))
        return PatternPlacement(
            across=across,
            along=along,
            across_wall=across_wall,
            along_wall=along_wall,
            least_at_walls_nm=entry.least_at_walls or 0,
        )

    def _wish(self, text: str | None, floor: Floor, loc: Loc) -> tuple[PlacementWish, str]:
        """Return where the pattern is wanted along one axis, and at which wall."""
        plain = " ".join((text or "free").lower().replace("-", " ").split())
        words = {
            "free": PlacementWish.FREE,
            "balanced": PlacementWish.BALANCED,
            "motif centred": PlacementWish.MOTIF_CENTRED,
        }
        if plain in words:
            return words[plain], ""
        for head in ("whole at ", "whole motif at "):
            if plain.startswith(head):
                name = plain.removeprefix(head).removeprefix("the ")
                wall = floor.wall(name, loc)
                plain_name = name if name in floor.walls else name.removesuffix(" wall")
                edge = next((e.wall for e in floor.ring.edges if e.wall.lower() == plain_name), plain_name)
                return (PlacementWish.WHOLE_AT_WALL, edge) if wall else (PlacementWish.FREE, "")
        hint = "write free, balanced, motif centred or `whole at north`"
        self.faults.add(loc, "unknown-name", f"{text!r} is no place for a pattern", hint)
        return PlacementWish.FREE, ""


def _access(entry: RoomEntry, material: Material, loc: Loc, faults: Faults) -> Access:
    if entry.access is None:
        return Access()
    if entry.access.heaviest is not None and material.weight_g_per_m2 is None:
        what = f"the weight of {material.name} is not known, so no piece can be weighed"
        faults.add((*loc, "access", "heaviest"), "no-weight", what, "give the material's `weight`")
    return Access(widest_nm=entry.access.widest, longest_nm=entry.access.longest, heaviest_g=entry.access.heaviest)
