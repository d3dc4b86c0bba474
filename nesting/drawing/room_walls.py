"""The walls of a room plan as chains of dimensions: edge by edge, and over all of a side."""

from __future__ import annotations

from math import hypot

from nesting.domain.geometry import Point
from nesting.domain.job import DoorJoint, EdgeKind
from nesting.drawing.lengths import figure, shown_chain
from nesting.drawing.metrics import clean
from nesting.drawing.room_dims import Measured
from nesting.drawing.room_view import Paper, RoomView
from nesting.drawing.scene import Spot


def outward(a: Spot, b: Spot) -> Spot:
    """Return the unit normal on paper that points out of a counter-clockwise outline."""
    length = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    return (-(b[1] - a[1]) / length, (b[0] - a[0]) / length)


def chains(outline: tuple[Point, ...], jambs: frozenset[int] = frozenset()) -> list[tuple[int, ...]]:
    """Return the sides of an outline that are made of several edges: their indices, in the order of the outline.

    A side is all edges that run one way, right, up, left or down; only those count that cover the whole extent of the
    floor once, for only those add up to it. Where a recess for a door is in the way, its `jambs` are left out.
    """
    found = []
    for axis, way in ((0, 1), (1, 1), (0, -1), (1, -1)):
        low, high = min(p[axis] for p in outline), max(p[axis] for p in outline)
        runs = []
        for k, a in enumerate(outline):
            b = outline[(k + 1) % len(outline)]
            if a[1 - axis] == b[1 - axis] and (b[axis] - a[axis]) * way > 0:
                runs.append((min(a[axis], b[axis]), max(a[axis], b[axis]), k))
        walls = [run for run in runs if run[2] not in jambs]
        side = next((some for some in (runs, walls) if _cover_once(some, low, high)), [])
        if len(side) > 1:
            found.append(tuple(k for _, _, k in sorted(side)[::way]))
    return found


def _cover_once(runs: list[tuple[int, int, int]], low: int, high: int) -> bool:
    """Tell whether runs (from, to, …) follow one another from `low` to `high` without a gap or an overlap."""
    ends = [low, *sorted(run[1] for run in runs)]
    return ends[-1] == high and all(run[0] == end for run, end in zip(sorted(runs), ends, strict=False))


def measured_walls(view: RoomView, paper: Paper) -> tuple[list[Measured], list[Measured]]:
    """Return every edge of the outline with what to write on it, and every side that is made of several.

    The figures of a side's edges are rounded so that they add up to the figure over all of it.
    """
    unit, outline = view.plan.job.unit, view.room.outline
    lengths = [_length_nm(p, outline[(k + 1) % len(outline)]) for k, p in enumerate(outline)]
    sides = []
    jambs = frozenset(k for k, edge in enumerate(view.room.edges) if edge.kind is EdgeKind.JAMB)
    for chain in chains(outline, jambs):
        shown, total = shown_chain([lengths[k] for k in chain], unit)
        for k, length in zip(chain, shown, strict=True):
            lengths[k] = length
        sides.append(_side(paper, outline, chain, figure(total, unit)))
    found = []
    for k, length in enumerate(lengths):
        a, b = paper.floor(outline[k]), paper.floor(outline[(k + 1) % len(outline)])
        found.append(Measured(start=a, end=b, outward=outward(a, b), texts=_texts(view, k, figure(length, unit))))
    return found, sides


def _texts(view: RoomView, k: int, size: str) -> tuple[str, ...]:
    """Return what to write on an edge, the best first."""
    unit, edge = view.plan.job.unit, view.room.edges[k]
    words = "jamb" if edge.kind is EdgeKind.JAMB else clean(edge.wall)
    texts = [f"{words}: {size}" if words else size, size]
    if edge.kind is EdgeKind.DOOR:
        door = next((door for door in view.room.doors if door.id == edge.door), None)
        rooms = {room.id: room.name for room in view.plan.job.rooms}
        joint = "seam" if door and door.joint is DoorJoint.SEAM else "transition"
        beyond = f" to {clean(rooms[door.joined[0]])}" if door and door.joined and door.joined[0] in rooms else ""
        texts = [f"door{beyond} {size}, {joint}", f"door {size}, {joint}", f"door {size}"]
    elif edge.cove_nm:
        texts = [f"{texts[0]}, cove {figure(edge.cove_nm, unit)}", f"{size}, cove {figure(edge.cove_nm, unit)}"]
    return tuple(dict.fromkeys(texts))


def _side(paper: Paper, outline: tuple[Point, ...], chain: tuple[int, ...], text: str) -> Measured:
    """Return a whole side, level with the edge of it that lies farthest out."""
    first, last = outline[chain[0]], outline[(chain[-1] + 1) % len(outline)]
    axis = 0 if first[1] == outline[(chain[0] + 1) % len(outline)][1] else 1
    way = outward(paper.floor(first), paper.floor(outline[(chain[0] + 1) % len(outline)]))
    out = max if (way[0] if axis else -way[1]) > 0 else min
    level = out(outline[k][1 - axis] for k in chain)
    ends = [(p[0], level) if axis == 0 else (level, p[1]) for p in (first, last)]
    start, end = (paper.floor(p) for p in ends)
    return Measured(start=start, end=end, outward=way, texts=(text,), feet=(paper.floor(first), paper.floor(last)))


def _length_nm(p: Point, q: Point) -> int:
    """Return the length of an edge to the nearest nanometre."""
    return round(hypot(q[0] - p[0], q[1] - p[1]))
