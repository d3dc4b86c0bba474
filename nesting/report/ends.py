"""What the four sides of a drop lie against in its room, named as the drop lies on its roll."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.domain.geometry import Point, bounding_rect
from nesting.domain.job import EdgeKind, Room
from nesting.domain.layout import Allowance, AllowanceKind, Cut, CutKind, RoomLayout
from nesting.domain.plan import MaterialPlan

MOST_NAMES = 3
"""A side that lies against more than so many things is named by the longest of them."""

_LEFT, _LOW, _RIGHT, _HIGH = range(4)
"""Sides in the lay frame, seen face up: left and right are those of u, low and high those of v."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """What a drop lies against, by its sides on the roll: `far` is the end towards the end of the roll."""

    near: str
    far: str
    left: str
    right: str


def ends_of(part: MaterialPlan, room: Room, cut: Cut, turn: int) -> Ends | None:
    """Return what the sides of a drop lie against in its room; None for a cut that is no drop.

    Parameters
    ----------
    turn
        Quarter turns counter-clockwise of the drop on its source, from its place in the room.
    """
    layout = next((layout for layout in part.layouts if layout.room_id == room.id), None)
    if cut.kind is not CutKind.DROP or layout is None:
        return None
    found: list[list[tuple[int, str]]] = [[], [], [], []]
    for side, length, name in _named(part, room, layout, cut):
        found[side].append((length, name))
    sides = [_joined(names) for names in found]
    # A quarter turn counter-clockwise brings the right side to the far end, the far end to the left, and so on.
    order = {"right": _RIGHT, "far": _HIGH, "left": _LEFT, "near": _LOW}
    ring = ("right", "far", "left", "near")
    placed = {ring[(place + turn) % 4]: sides[order[name]] for place, name in enumerate(ring)}
    return Ends(near=placed["near"], far=placed["far"], left=placed["left"], right=placed["right"])


def _joined(names: list[tuple[int, str]]) -> str:
    """Return what a side lies against, the longest stretch first."""
    lengths: dict[str, int] = {}
    for length, name in names:
        lengths[name] = lengths.get(name, 0) + length
    ranked = sorted(lengths, key=lambda name: (-lengths[name], name))
    return ", ".join(ranked[:MOST_NAMES]) + (" …" if len(ranked) > MOST_NAMES else "")


def _named(part: MaterialPlan, room: Room, layout: RoomLayout, cut: Cut) -> Iterator[tuple[int, int, str]]:
    """Yield (side, length, name) of everything that a drop lies against."""
    box = bounding_rect(cut.rects)
    for item in cut.allowances:
        if item.kind in (AllowanceKind.SEAM_LEFT, AllowanceKind.SEAM_RIGHT):
            side, step = (_LEFT, -1) if item.kind is AllowanceKind.SEAM_LEFT else (_RIGHT, 1)
            for overlap, number in _beside(part, cut, step):
                yield side, overlap, f"seam to no. {number}"
        elif item.kind in (AllowanceKind.CROSS_LOW, AllowanceKind.CROSS_HIGH):
            low = item.kind is AllowanceKind.CROSS_LOW
            for overlap, number in _at_the_end(part, cut, low=low):
                yield (_LOW if low else _HIGH), overlap, f"cross seam to no. {number}"
        elif item.kind is not AllowanceKind.HOLE:
            name = _edge_name(room, item)
            a, b = layout.floor[item.edge], layout.floor[(item.edge + 1) % len(layout.floor)]
            side, length = _facing(a, b, (box.x0_nm, box.x1_nm), (box.y0_nm, box.y1_nm))
            if name and length > 0:
                yield side, length, name


def _edge_name(room: Room, item: Allowance) -> str:
    """Return what people call an edge of the outline; "" for the sides of a door's recess."""
    edge = room.edges[item.edge]
    if edge.kind is EdgeKind.DOOR:
        return edge.door if edge.door.lower().startswith("door") else f"door {edge.door}"
    if edge.kind is EdgeKind.JAMB:
        return ""
    return f"{edge.wall} wall" if edge.wall and "wall" not in edge.wall.lower() else edge.wall or "wall"


def _facing(a: Point, b: Point, us: tuple[int, int], vs: tuple[int, int]) -> tuple[int, int]:
    """Return the side that an edge of a counter-clockwise outline closes, and how much of it lies beside the drop."""
    du, dv = b[0] - a[0], b[1] - a[1]
    if abs(dv) >= abs(du):
        return (_RIGHT if dv > 0 else _LEFT), _shared((a[1], b[1]), vs)
    return (_LOW if du > 0 else _HIGH), _shared((a[0], b[0]), us)


def _shared(one: tuple[int, int], other: tuple[int, int]) -> int:
    return min(max(one), max(other)) - max(min(one), min(other))


def _beside(part: MaterialPlan, cut: Cut, step: int) -> Iterator[tuple[int, int]]:
    """Yield (length beside it, number) of the drops in the next breadth."""
    box = bounding_rect(cut.rects)
    for other in part.cuts:
        if other.owner == cut.owner and other.kind is CutKind.DROP and other.breadth == cut.breadth + step:
            there = bounding_rect(other.rects)
            shared = _shared((box.y0_nm, box.y1_nm), (there.y0_nm, there.y1_nm))
            if shared > 0:
                yield shared, other.number


def _at_the_end(part: MaterialPlan, cut: Cut, *, low: bool) -> Iterator[tuple[int, int]]:
    """Yield (width, number) of the drops beyond the cross seam at one end."""
    box = bounding_rect(cut.rects)
    for other in part.cuts:
        same = other.owner == cut.owner and other.kind is CutKind.DROP and other.breadth == cut.breadth
        if same and (other.high == cut.low if low else other.low == cut.high) and other.id != cut.id:
            there = bounding_rect(other.rects)
            shared = _shared((box.x0_nm, box.x1_nm), (there.x0_nm, there.x1_nm))
            if shared > 0:
                yield shared, other.number
