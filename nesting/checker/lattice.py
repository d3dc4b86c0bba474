"""V3a to V3d and V3f: the pattern agrees at every seam, phases are known or allowed for, seams keep to seam lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from nesting.checker.clipping import Interval, common
from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import Stretch
from nesting.checker.whole import Mesh, Number, mesh_of
from nesting.domain.geometry import Point
from nesting.domain.job import PlacementWish, Room
from nesting.domain.layout import AllowanceKind, Cut, CutKind
from nesting.domain.plan import CutSource, SourceKind
from nesting.domain.rules import RuleId

JOINTS = (
    (AllowanceKind.SEAM_RIGHT, AllowanceKind.SEAM_LEFT),
    (AllowanceKind.CROSS_HIGH, AllowanceKind.CROSS_LOW),
)


def shift_of(view: View, cut: Cut) -> Point:
    """Return q + σ − o: what takes a lay-frame point of a drop to its place in the pattern."""
    place, source, corner = view.places[cut.id], view.source_of(cut), view.corners[cut.id]
    sigma = source.phase_nm or (0, 0)
    return place.x_nm + sigma[0] - corner.x0_nm, place.y_nm + sigma[1] - corner.y0_nm


def mesh_for(view: View, cut: Cut) -> Mesh:
    """Return the lattice of the goods that a drop lies on."""
    mesh = mesh_of(view.material, view.source_of(cut).width_nm)
    assert mesh is not None
    return mesh


def check_seams(view: View) -> Iterator[Finding]:
    """V3a: at every seam and cross seam both sides show the same spot of the pattern."""
    for floor in view.floors.values():
        yield from _broken_joints(view, floor)


def _broken_joints(view: View, floor: LaidFloor) -> Iterator[Finding]:
    if view.material.pattern is None or not floor.room.rules.holds(RuleId.PATTERN):
        return
    for one, other, point in joints_of(floor):
        mesh, next_mesh = mesh_for(view, one), mesh_for(view, other)
        if mesh != next_mesh:
            continue  # goods of two pitches meet at their recorded phase only: V3b holds each to it
        here, there = (
            (point[0] + shift[0], point[1] + shift[1]) for shift in (shift_of(view, one), shift_of(view, other))
        )
        if not mesh.same(here, there):
            text = f"the pattern of {one.id} and {other.id} does not agree at ({point[0]}, {point[1]})"
            yield Finding(
                rule="V3a", where=f"room {floor.room.id}", text=text, breaks=RuleId.PATTERN, owners=(floor.room.id,)
            )


def joints_of(floor: LaidFloor) -> Iterator[tuple[Cut, Cut, Point]]:
    """Yield the drops that meet at a seam or cross seam, with a point of the joint (whole nanometres)."""
    cuts = {cut.id: cut for cut in floor.drops}
    ends: dict[tuple[AllowanceKind, int], list[tuple[Cut, Stretch]]] = defaultdict(list)
    for name, part in floor.part_of.items():
        for stretch in part.stretches:
            ends[stretch.key].append((cuts[name], stretch))
    for near, far in JOINTS:
        for kind, index in sorted(key for key in ends if key[0] is near):
            axis = 1 if near is AllowanceKind.SEAM_RIGHT else 0
            for one, stretch in ends[kind, index]:
                for other, across in ends[far, index]:
                    meeting = common(
                        [_ordered(stretch.start[axis], stretch.end[axis])],
                        [_ordered(across.start[axis], across.end[axis])],
                    )
                    if meeting:
                        at = (int(stretch.start[0]), int(stretch.start[1]))
                        spot = int(meeting[0][0])
                        yield one, other, (at[0], spot) if axis else (spot, at[1])


def _ordered(one: Number, other: Number) -> Interval:
    return (one, other) if one <= other else (other, one)


def check_phases(view: View) -> Iterator[Finding]:
    """V3b: a room of patterned goods is in a phase group with just the rooms it matches, at its phase and as pinned."""
    if view.material.pattern is None:
        return
    families = matching_rooms(view)
    for name, room in view.rooms.items():
        if not room.rules.holds(RuleId.PATTERN):
            continue
        group = view.group_of.get(name)
        if group is not None and len({view.rooms[other].plan_id for other in group.room_ids}) > 1:
            yield Finding(rule="V3b", where=f"room {name}", text="shares a phase with a room of another floor plan")
        if group is None or set(group.room_ids) != families[name]:
            yield Finding(
                rule="V3b", where=f"room {name}", text="is not in a phase group with just the rooms it matches"
            )
            continue
        floor = view.floors.get(name)
        yield from _off_the_pin(view, room, group.phase_nm)
        if floor is None or any(True for _ in _broken_joints(view, floor)):
            continue  # no one phase to compare with
        for drop in floor.drops:
            shift = shift_of(view, drop)
            if not mesh_for(view, drop).reaches(shift[0] - group.phase_nm[0], shift[1] - group.phase_nm[1]):
                text = f"{drop.id} does not lie at the phase of its group"
                yield Finding(rule="V3b", where=f"room {name}", text=text, breaks=RuleId.PATTERN, owners=(name,))


def _off_the_pin(view: View, room: Room, phase: Point) -> Iterator[Finding]:
    """Yield that the phase differs from the pinned one, seen on any goods that the room is cut from."""
    pinned, floor = pinned_phase(room), view.floors.get(room.id)
    if pinned is None or floor is None:
        return
    if not all(mesh.same(phase, pinned) for mesh in {mesh_for(view, drop) for drop in floor.drops}):
        # Consent to let go of the pins of the room, or of its pattern, is consent to this.
        yield Finding(
            rule="V3b",
            where=f"room {room.id}",
            text=f"has phase {phase}, not {pinned} as pinned",
            breaks=RuleId.PINS,
            breaks_too=RuleId.PATTERN,
            owners=(room.id,),
        )


def matching_rooms(view: View) -> dict[str, set[str]]:
    """Return for every room of the material the rooms whose pattern runs through, itself included."""
    families = {name: {name} for name in view.rooms}
    for match in view.job.matches:
        members = [name for name in match if name in families]
        for one, other in pairwise(members):
            joined = families[one] | families[other]
            for name in joined:
                families[name] = joined
    return families


def check_anchoring(view: View) -> Iterator[Finding]:
    """V3c: goods of unknown phase that a placed pattern or another source binds lose a repeat, as the rules say."""
    if view.material.pattern is None:
        return
    needed = bound_sources(view)
    for source in view.part.sources:
        where = f"source {source.id}"
        if source.anchored and source.phase_known:
            yield Finding(rule="V3c", where=where, text="is anchored though its phase is known")
        if source.id in needed and not source.anchored:
            yield Finding(rule="V3c", where=where, text="has an unknown phase that other goods or a placement bind")
        if source.phase_loss_nm != phase_loss(view, source):
            yield Finding(rule="V3c", where=where, text=f"loses {source.phase_loss_nm}, not {phase_loss(view, source)}")
        if source.anchored and source.kind is SourceKind.ORDER and view.material.starting_allowance_nm == 0:
            owners = tuple(sorted({cut.owner for cut in view.on_source[source.id]}))
            yield Finding(
                rule="V3c",
                where=where,
                text="has no starting allowance and cannot be bound",
                breaks=RuleId.PATTERN,
                breaks_too=RuleId.STOCK,
                owners=owners,
            )


def bound_sources(view: View) -> set[str]:
    """Return the sources of unknown phase that some phase group binds: placed, or on another source too."""
    found: set[str] = set()
    for group in view.part.phase_groups:
        drops = [cut for cut in view.part.cuts if cut.kind is CutKind.DROP and cut.owner in group.room_ids]
        used = {view.places[cut.id].source_id for cut in drops}
        if len(used) > 1 or group.placed or any(_fixed(view, name) for name in group.room_ids):
            found |= {name for name in used if not view.sources[name].phase_known}
    return found


def _fixed(view: View, name: str) -> bool:
    """Tell whether a room's phase is not free: placed, pinned by what is cut, or held to seam lines by a seam.

    Goods that repeat at the pitch of their breadths have their seam lines where the edges are.
    """
    pattern, material, layout = view.material.pattern, view.material, view.layouts[name]
    varied = pattern is not None and pattern.across_nm is not None and not pattern.at_seam
    held_across = bool(layout.seams and material.seam_lines_across_nm) and varied
    held_along = bool(layout.cross_seams and material.seam_lines_along_nm)
    on_lines = (held_across or held_along) and view.rooms[name].rules.holds(RuleId.SEAM_LINES)
    return wishes(view.rooms[name]) or on_lines or pinned_phase(view.rooms[name]) is not None


def pinned_phase(room: Room) -> Point | None:
    """Return the phase that is pinned because something is cut; None: none, or the rules that hold it are waived."""
    held = room.rules.holds(RuleId.PINS) and room.rules.holds(RuleId.PATTERN)
    return room.pins.phase_nm if held else None


def wishes(room: Room) -> bool:
    """Tell whether the user places the pattern in the room."""
    placement = room.placement
    fixed = (placement.across, placement.along) != (PlacementWish.FREE, PlacementWish.FREE)
    return fixed or placement.least_at_walls_nm > 0


def phase_loss(view: View, source: CutSource) -> Point:
    """Return what an unknown phase that is bound takes off the right and far sides."""
    pattern = view.material.pattern
    if pattern is None or not source.anchored:
        return 0, 0
    across = 0 if pattern.at_seam or pattern.across_nm is None else pattern.across_nm
    return across, (0 if source.kind is SourceKind.ORDER else pattern.along_nm)


def check_source_phases(view: View) -> Iterator[Finding]:
    """V3d: a source's phase is that of the piece in hand, or the one assumed for goods not seen yet."""
    for source in view.part.sources:
        mesh = mesh_of(view.material, source.width_nm)
        where = f"source {source.id}"
        if mesh is None:
            if source.phase_nm is not None or source.phase_known or source.anchored or source.phase_loss_nm != (0, 0):
                yield Finding(rule="V3d", where=where, text="has a phase though the goods have no pattern")
            continue
        known = view.stock[source.stock_id].phase_nm if source.kind is not SourceKind.ORDER else None
        assumed = (0, -source.start_allowance_nm if source.kind is SourceKind.ORDER else 0)
        sigma = known if known is not None else assumed
        if source.phase_known != (known is not None):
            yield Finding(rule="V3d", where=where, text="is wrong about whether its phase is known")
        elif source.phase_nm is None or not mesh.same(source.phase_nm, sigma):
            yield Finding(rule="V3d", where=where, text=f"has phase {source.phase_nm}, not {sigma}")


def check_seam_lines(view: View) -> Iterator[Finding]:
    """V3f: where the material has seam lines, seams and cross seams run on them only."""
    material = view.material
    for name, floor in view.floors.items():
        group = view.group_of.get(name)
        if group is None or not floor.room.rules.holds(RuleId.SEAM_LINES) or not floor.drops:
            continue
        mesh = mesh_for(view, floor.drops[0])
        lines = [(seam.at_nm, 0, mesh.across, material.seam_lines_across_nm) for seam in floor.layout.seams]
        lines += [(seam.at_nm, 1, mesh.along, material.seam_lines_along_nm) for seam in floor.layout.cross_seams]
        for at, axis, period, offsets in lines:
            if not offsets or period is None:
                continue
            if all((at + group.phase_nm[axis] - offset) % period for offset in offsets):
                text = f"the {'cross ' if axis else ''}seam at {at} lies on no seam line"
                yield Finding(rule="V3f", where=f"room {name}", text=text, breaks=RuleId.SEAM_LINES, owners=(name,))
