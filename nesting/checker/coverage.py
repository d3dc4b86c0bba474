"""V1f to V1h, V1j: every part of a floor has one drop, with the right allowances, inside its rough cut, on the step."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.checker.clipping import Side, sides_of
from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import Key, Part
from nesting.checker.sweeps import holds, name, swept_shapes
from nesting.domain.job import DoorJoint, Room
from nesting.domain.layout import AllowanceKind, Cut
from nesting.domain.material import Material
from nesting.domain.rules import RuleId

SEAMS = {
    AllowanceKind.SEAM_LEFT,
    AllowanceKind.SEAM_RIGHT,
    AllowanceKind.CROSS_LOW,
    AllowanceKind.CROSS_HIGH,
}


def check_parts(view: View) -> Iterator[Finding]:
    """V1f: every connected part of every cell is covered by exactly one drop, and every drop covers one."""
    for floor in view.floors.values():
        covered = {id(part) for part in floor.part_of.values()}
        for part in floor.cells.parts:
            if id(part) not in covered:
                where = f"room {floor.room.id}"
                yield Finding(rule="V1f", where=where, text=f"{_place(part)} is covered by no drop")
        for drop in floor.drops:
            if drop.id not in floor.part_of:
                yield Finding(rule="V1f", where=f"cut {drop.id}", text="covers no part of the floor by itself")


def _place(part: Part) -> str:
    first = part.slices[0]
    return f"a part of breadth {part.breadth} at ({int(first.u0)}, {int(first.b0)})"


def seam_allowance_nm(material: Material) -> int:
    """Return half the seam overlap, rounded up: what either piece leaves on at a seam."""
    return -(-material.seam_overlap_nm // 2)


def full_allowance_nm(room: Room, material: Material, key: Key) -> int:
    """Return the full allowance of a boundary edge."""
    kind, index = key
    if kind in SEAMS:
        return seam_allowance_nm(material)
    if kind is AllowanceKind.HOLE:
        return room.trim_nm
    if _seamed_door(room, key):
        return seam_allowance_nm(material)
    cove = room.edges[index].cove_nm if kind is AllowanceKind.WALL else 0
    return room.trim_nm + cove + -(-room.out_of_square_nm // 2)


def least_allowance_nm(room: Room, material: Material, key: Key, side: Side | None) -> int:
    """Return the least lawful allowance of a boundary edge; `side` is the floor's side it lies on."""
    full = full_allowance_nm(room, material, key)
    kind, index = key
    if kind in SEAMS or kind is AllowanceKind.HOLE or _seamed_door(room, key) or side is None:
        return full
    least = room.least_trim_nm if side.with_lay else room.least_end_trim_nm
    if least is None:
        return full
    cove = room.edges[index].cove_nm if kind is AllowanceKind.WALL else 0
    return min(full, least + cove)


def _seamed_door(room: Room, key: Key) -> bool:
    if key[0] is not AllowanceKind.DOOR:
        return False
    door = room.edges[key[1]].door
    return any(item.id == door and item.joint is DoorJoint.SEAM for item in room.doors)


def check_allowances(view: View) -> Iterator[Finding]:
    """V1g: a drop records every edge of its part, no other, with the full allowance and one full or lawfully less."""
    for floor in view.floors.values():
        sides = {(side.loop, side.index): side for side in sides_of(floor.layout.floor, floor.layout.holes)}
        for drop in floor.drops:
            if drop.id in floor.part_of:
                yield from _wrong_allowances(view.material, floor.room, drop, floor.part_of[drop.id], sides)


def _wrong_allowances(
    material: Material, room: Room, drop: Cut, part: Part, sides: dict[tuple[int, int], Side]
) -> Iterator[Finding]:
    where = f"cut {drop.id}"
    recorded = {(item.kind, item.edge): item for item in drop.allowances}
    if len(recorded) != len(set(drop.allowances)):
        yield Finding(rule="V1g", where=where, text="records two allowances for one edge")
    for key in sorted(part.keys - recorded.keys()):
        yield Finding(rule="V1g", where=where, text=f"records no allowance at {name(key)}")
    for key in sorted(recorded.keys() - part.keys):
        yield Finding(rule="V1g", where=where, text=f"records an allowance at {name(key)}, which does not bound it")
    for key in sorted(recorded.keys() & part.keys):
        item, full = recorded[key], full_allowance_nm(room, material, key)
        if item.full_nm != full:
            yield Finding(rule="V1g", where=where, text=f"the full allowance at {name(key)} is {full} nm")
        side = sides.get((-1, key[1])) if key[0] not in SEAMS and key[0] is not AllowanceKind.HOLE else None
        least = least_allowance_nm(room, material, key, side)
        if item.given_nm > item.full_nm or item.given_nm < 0:
            yield Finding(
                rule="V1g", where=where, text=f"the allowance at {name(key)} is more than the full one or none"
            )
        elif item.given_nm < least and room.rules.holds(RuleId.TRIM):
            text = f"the allowance at {name(key)} is {item.given_nm} nm, less than the least lawful {least} nm"
            yield Finding(rule="V1g", where=where, text=text, breaks=RuleId.TRIM, owners=(room.id,))


def given_of(drop: Cut) -> dict[Key, int]:
    """Return the allowances that a drop gives, by edge."""
    return {(item.kind, item.edge): item.given_nm for item in drop.allowances}


def check_sweeps(view: View) -> Iterator[Finding]:
    """V1h: the rough cut holds the part, the allowance given along every edge and the corners between them."""
    for floor in view.floors.values():
        for drop in floor.drops:
            part = floor.part_of.get(drop.id)
            if part is None:
                continue
            short = {what for what, shape in swept_shapes(part, given_of(drop)) if not holds(shape, drop.rects)}
            for what in sorted(short):
                yield Finding(rule="V1h", where=f"cut {drop.id}", text=f"the rough cut does not hold {what}")


def check_step(view: View) -> Iterator[Finding]:
    """V1j: all borders of the drops of a room, or of rooms of one phase group, lie on one grid of cutting steps."""
    step = view.material.cutting_step_nm
    members: dict[str, list[LaidFloor]] = {}
    for name_, floor in view.floors.items():
        group = view.group_of.get(name_)
        members.setdefault(group.room_ids[0] if group else name_, []).append(floor)
    for floors in members.values():
        drops = [drop for floor in floors for drop in floor.drops]
        if not drops:
            continue
        first = drops[0].rects[0]
        for drop in drops:
            off = any(
                (rect.x0_nm - first.x0_nm) % step
                or (rect.x1_nm - first.x0_nm) % step
                or (rect.y0_nm - first.y0_nm) % step
                or (rect.y1_nm - first.y0_nm) % step
                for rect in drop.rects
            )
            if off:
                yield Finding(rule="V1j", where=f"cut {drop.id}", text="does not lie on the cutting step")
