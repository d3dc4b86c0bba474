"""V4a, V4i to V4k: lay direction, access, turning, and the order in which drops come off the roll."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from nesting.checker.asked import turnable
from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import Turning
from nesting.domain.rules import RuleId


def check_direction(view: View) -> Iterator[Finding]:
    """V4a: rooms are laid in a direction they allow; rooms that match, or directed goods through doors, in one."""
    for name, room in view.rooms.items():
        direction = view.layouts[name].direction
        if room.lays and direction not in room.lays and room.rules.holds(RuleId.LAY_DIRECTION):
            yield _turned(name, "is laid in a direction that it does not allow", (name,))
    for one, other in sorted(_tied(view)):
        kept = all(view.rooms[name].rules.holds(RuleId.LAY_DIRECTION) for name in (one, other))
        if kept and view.layouts[one].direction != view.layouts[other].direction:
            yield _turned(one, f"is not laid in the direction of {other}", (one, other))


def _turned(name: str, text: str, owners: tuple[str, ...]) -> Finding:
    return Finding(rule="V4a", where=f"room {name}", text=text, breaks=RuleId.LAY_DIRECTION, owners=owners)


def _tied(view: View) -> set[tuple[str, str]]:
    """Return pairs of rooms that must share a lay direction (those that match, and of directed goods those joined)."""
    pairs = {pair for match in view.job.matches for pair in pairwise([name for name in match if name in view.rooms])}
    if view.material.directed:
        joined = ((name, door.joined[0]) for name, room in view.rooms.items() for door in room.doors if door.joined)
        pairs |= {pair for pair in joined if pair[1] in view.rooms}
    return {(min(pair), max(pair)) for pair in pairs if pair[0] != pair[1]}


def check_access(view: View) -> Iterator[Finding]:
    """V4i: no cut of a room is wider, longer or heavier than what gets into it."""
    for cut in view.part.cuts:
        room = view.rooms.get(cut.owner) if cut.kind in (CutKind.DROP, CutKind.INSERT) else None
        if room is None or not room.rules.holds(RuleId.ACCESS):
            continue
        corner, access = view.corners[cut.id], room.access
        weight = view.material.weight_g_per_m2
        too = []
        if access.widest_nm is not None and corner.width_nm > access.widest_nm:
            too.append("wide")
        if access.longest_nm is not None and corner.length_nm > access.longest_nm:
            too.append("long")
        if access.heaviest_g is not None and weight is not None:
            area = sum(rect.area_nm2 for rect in cut.rects)
            if area * weight > access.heaviest_g * 10**18:
                too.append("heavy")
        if too:
            text = f"is too {' and too '.join(too)} for room {room.id}"
            yield Finding(rule="V4i", where=f"cut {cut.id}", text=text, breaks=RuleId.ACCESS, owners=(room.id,))


def check_turning(view: View) -> Iterator[Finding]:
    """V4j: pieces are turned only as the goods allow, and in alternate goods with every breadth."""
    for cut in view.part.cuts:
        turn = view.places[cut.id].turn
        if turn not in _turns(view, cut):
            yield Finding(rule="V4j", where=f"cut {cut.id}", text=f"must not lie with {turn} quarter turns")
    if view.material.turning is Turning.ALTERNATE and view.material.pattern is None:
        for name, floor in view.floors.items():
            first = {(view.places[drop.id].turn + 2 * drop.breadth) % 4 for drop in floor.drops}
            if len(first) > 1:
                yield Finding(rule="V4j", where=f"room {name}", text="does not turn with every breadth")


def _turns(view: View, cut: Cut) -> tuple[int, ...]:
    material = view.material
    if material.pattern is not None or material.turning is Turning.NEVER:
        return (0,)
    if cut.kind is not CutKind.DROP and turnable(material):
        return (0, 1, 2, 3)
    return (0, 2)


def check_sequence(view: View) -> Iterator[Finding]:
    """V4k: goods laid in sequence come off each roll in the order in which they lie in the room.

    Done cuts are left out: what is cut again, or from another roll, cannot come between them any more.
    """
    if not view.material.in_sequence:
        return
    for name, floor in view.floors.items():
        if not any(_in_order(view, floor, sign) for sign in (1, -1)):
            yield Finding(rule="V4k", where=f"room {name}", text="is not cut in the order in which it is laid")


def _in_order(view: View, floor: LaidFloor, sign: int) -> bool:
    """Tell whether the drops of every source lie along it by breadth, within a breadth along one way."""
    for source in view.sources:
        open_drops = [drop for drop in floor.drops if drop.id in floor.part_of and drop.id not in view.done]
        drops = [drop for drop in open_drops if view.places[drop.id].source_id == source]
        drops.sort(key=lambda drop: (view.places[drop.id].y_nm, sign * drop.breadth))
        if any(sign * one.breadth > sign * other.breadth for one, other in pairwise(drops)):
            return False
        for breadth in {drop.breadth for drop in drops}:
            starts = [view.corners[drop.id].y0_nm for drop in drops if drop.breadth == breadth]
            if starts not in (sorted(starts), sorted(starts, reverse=True)):
                return False
    return True
