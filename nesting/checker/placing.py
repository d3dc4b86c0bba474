"""V3e: the pattern lies where the user wants it."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.lattice import mesh_for, wishes
from nesting.checker.whole import Mesh
from nesting.domain.geometry import Point
from nesting.domain.job import PlacementWish
from nesting.domain.rules import RuleId


def check_placement(view: View) -> Iterator[Finding]:
    """V3e: a placed pattern is recorded as placed, and its phase puts it where the room's wishes say."""
    for name, floor in view.floors.items():
        group = view.group_of.get(name)
        if group is None or not floor.drops or not wishes(floor.room) or not floor.room.rules.holds(RuleId.PATTERN):
            continue
        where = f"room {name}"
        if not group.placed:
            yield Finding(rule="V3e", where=where, text="wishes for a placed pattern that is not recorded as placed")
        for text in _wrong_place(floor, mesh_for(view, floor.drops[0]), group.phase_nm):
            yield Finding(rule="V3e", where=where, text=text, breaks=RuleId.PATTERN, owners=(name,))


def _wrong_place(floor: LaidFloor, mesh: Mesh, phase: Point) -> Iterator[str]:
    placement = floor.room.placement
    for axis, wish, wall in (
        (0, placement.across, placement.across_wall),
        (1, placement.along, placement.along_wall),
    ):
        if axis == 0 and mesh.across is None:
            continue
        what = "along" if axis else "across"
        ends = [point[axis] for point in floor.layout.floor]
        low, high = min(ends), max(ends)
        match wish:
            case PlacementWish.MOTIF_CENTRED:
                if not any(_mark(mesh, axis, middle + phase[axis]) for middle in _middles(low, high)):
                    yield f"no mark of the pattern lies in the middle {what}"
            case PlacementWish.WHOLE_AT_WALL:
                near, far = _wall(floor, axis, wall)
                if far - near > 2 * TOLERANCE_NM + 1_000_000_000 or not _mark_within(
                    mesh, axis, near, far, phase[axis]
                ):
                    yield f"no mark of the pattern lies at wall {wall}"
            case PlacementWish.BALANCED:
                if not _balanced(mesh, axis, low, high, phase[axis]):
                    yield f"the pattern is not balanced {what}"
            case PlacementWish.FREE:
                pass
        if wish in (PlacementWish.FREE, PlacementWish.BALANCED) and placement.least_at_walls_nm > 0:
            least = min(_at_walls(mesh, axis, low, high, phase[axis]))
            if least < placement.least_at_walls_nm and not (axis and mesh.drop % mesh.along):
                yield f"only {least} nm of a repeat lie at a wall {what}"


TOLERANCE_NM = 2


def _period(mesh: Mesh, axis: int) -> int:
    period = mesh.along if axis else mesh.across
    assert period is not None
    return period


def _mark(mesh: Mesh, axis: int, place: int) -> bool:
    """Tell whether a pattern coordinate is that of a mark: of some column, where they drop."""
    return mesh.level(place) if axis else place % _period(mesh, axis) == 0


def _middles(low: int, high: int) -> tuple[int, int]:
    """Return the middle, both whole numbers next to it where it is not whole."""
    return (low + high) // 2, -(-(low + high) // 2)


def _wall(floor: LaidFloor, axis: int, wall: str) -> tuple[int, int]:
    """Return between which coordinates a named wall lies."""
    corners = floor.layout.floor
    ends = [
        corners[at % len(corners)][axis]
        for index, edge in enumerate(floor.room.edges)
        if edge.wall == wall
        for at in (index, index + 1)
    ]
    if not ends:
        raise ValueError(f"wall {wall} is not there")
    return min(ends), max(ends)


def _mark_within(mesh: Mesh, axis: int, near: int, far: int, phase: int) -> bool:
    """Tell whether a mark lies on a wall; on one out of square anywhere between its ends."""
    if axis and mesh.drop % mesh.along:
        return any(mesh.level(place + phase) for place in {near, far, *_middles(near, far)})
    period = _period(mesh, axis)
    return (-(near + phase)) % period <= far - near


def _at_walls(mesh: Mesh, axis: int, low: int, high: int, phase: int) -> tuple[int, int]:
    """Return how much of a repeat lies at the two walls; a mark on the wall leaves a whole one."""
    period = _period(mesh, axis)
    return (-(low + phase)) % period or period, (high + phase) % period or period


def _balanced(mesh: Mesh, axis: int, low: int, high: int, phase: int) -> bool:
    """Tell whether both walls get equal parts of a repeat, the larger of the two ways, halves of a nanometre apart."""
    period = _period(mesh, axis)
    if axis and mesh.drop % mesh.along:
        return any(
            mesh.level(middle + phase) or mesh.level(middle + phase + period // 2) for middle in _middles(low, high)
        )
    ways = []
    for middle in _middles(low, high):
        for shift in (0, period // 2, -(-period // 2)):
            ways.append((min(_at_walls(mesh, axis, low, high, shift - middle)), shift - middle))
    best = max(part for part, _ in ways)
    return any((phase - way) % period == 0 for part, way in ways if part >= best - 1)
