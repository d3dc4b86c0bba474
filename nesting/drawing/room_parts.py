"""What is drawn of a room itself: floor, breadths, walls, doors, what stands in it and lies below."""

from __future__ import annotations

from nesting.domain.geometry import Point, Rect
from nesting.domain.job import DoorJoint, EdgeKind
from nesting.domain.layout import AllowanceKind
from nesting.drawing.cut_words import said
from nesting.drawing.flags import LAID, NEW, corner_mark, flag_of
from nesting.drawing.labels import Taken
from nesting.drawing.lengths import figure
from nesting.drawing.metrics import clean
from nesting.drawing.pattern_lines import marks_within
from nesting.drawing.room_dims import led
from nesting.drawing.room_labels import less_trim, middle
from nesting.drawing.room_seams import seam_lines
from nesting.drawing.room_view import Paper, RoomView, floors, inside, lay_runs
from nesting.drawing.room_walls import outward
from nesting.drawing.scene import Group, Item, Polygon, Shape, Spot
from nesting.drawing.sheet import cross

MOST_MARKS = 90
"""More pattern marks than these are not drawn: only the first is."""


def breadth_groups(view: RoomView, paper: Paper) -> list[Group]:
    """Return the floor of every piece, neighbours in two tints."""
    found = []
    for cut, ring in floors(view, paper):
        role = "breadth" if cut.breadth % 2 == 0 else "breadth-other"
        role = "breadth-laid" if flag_of(cut, view.changed) == LAID else role
        shape = Shape(role=role, rings=(ring,), closed=True, piece=cut.id)
        title = said(view.plan, cut, view.source_of(cut), flag_of(cut, view.changed))
        found.append(Group(role="piece drop", id=f"piece-{cut.number}", piece=cut.id, items=(shape,), title=title))
    return found


def below_group(view: RoomView, paper: Paper) -> Group:
    """Return keep-outs and joints below."""
    items: list[Item] = [
        Shape(role="keep-out", rings=(tuple(map(paper.floor, zone.outline)),), closed=True)
        for zone in view.room.keep_outs
    ]
    items += [
        Shape(role="joint", rings=((paper.floor(joint.start), paper.floor(joint.end)),))
        for joint in view.room.joints_below
    ]
    return Group(role="below", id="below", items=tuple(items))


def wall_group(view: RoomView, paper: Paper) -> Group:
    """Return walls, jambs, door lines, coves and what stands in the floor."""
    items: list[Item] = []
    outline = view.room.outline
    for hole in view.room.holes:
        items.append(Shape(role="hole", rings=(tuple(map(paper.floor, hole.outline)),), closed=True))
    for k, edge in enumerate(view.room.edges):
        a, b = paper.floor(outline[k]), paper.floor(outline[(k + 1) % len(outline)])
        if edge.kind is EdgeKind.DOOR:
            door = next((d for d in view.room.doors if d.id == edge.door), None)
            seamed = door is not None and door.joint is DoorJoint.SEAM
            items.append(Shape(role="door-seam" if seamed else "door-line", rings=((a, b),)))
            items.append(Shape(role="jamb", rings=tuple(_stub(p, q) for p, q in ((a, b), (b, a)))))
            continue
        items.append(Shape(role="jamb" if edge.kind is EdgeKind.JAMB else "wall", rings=((a, b),)))
        if edge.cove_nm:
            nx, ny = outward(a, b)
            inner = tuple((p[0] - nx * 1.3, p[1] - ny * 1.3) for p in (a, b))
            items.append(Shape(role="cove", rings=(inner,)))
    for door in view.room.doors:
        if set(door.opening) != set(door.line):
            items.append(Shape(role="dimension", rings=(tuple(map(paper.floor, door.opening)),)))
    return Group(role="walls", id="walls", items=tuple(items))


def _stub(at: Spot, other: Spot) -> tuple[Spot, Spot]:
    """Return the mark at the end of a door line, square to it."""
    nx, ny = outward(at, other)
    return ((at[0] - nx * 1.2, at[1] - ny * 1.2), (at[0] + nx * 1.2, at[1] + ny * 1.2))


def seam_group(view: RoomView, paper: Paper) -> Group:
    """Return seams, cross seams and relief cuts."""
    items: list[Item] = []
    if view.layout is not None:
        for seam in seam_lines(view):
            rings = tuple(
                (paper.lay(seam.point(seam.at_nm, low)), paper.lay(seam.point(seam.at_nm, high)))
                for low, high in seam.runs
            )
            items.append(Shape(role="seam" if seam.axis == 0 else "cross-seam", rings=rings))
        for relief in view.layout.relief_cuts:
            items.append(Shape(role="relief", rings=((paper.lay(relief.start), paper.lay(relief.end)),)))
    return Group(role="seams", id="seams", items=tuple(items))


def changed_marks(taken: Taken, view: RoomView, paper: Paper) -> Group:
    """Return the marks of the pieces that are not as in the plan before."""
    items: list[Item] = []
    for cut, ring in floors(view, paper) if view.changed else ():
        mark = corner_mark(ring)
        if mark and flag_of(cut, view.changed) == NEW:
            taken.add_area(mark)
            items.append(Shape(role="changed", rings=(mark,), closed=True, piece=cut.id))
    return Group(role="changed-marks", id="changed-marks", items=tuple(items))


def trim_notes(view: RoomView) -> list[str]:
    """Return, drop by drop, where trim is less than usual."""
    unit, notes = view.plan.job.unit, []
    for cut in view.cuts:
        parts = []
        for a in less_trim(cut):
            wall = ""
            if a.kind in (AllowanceKind.WALL, AllowanceKind.JAMB, AllowanceKind.DOOR):
                edge = view.room.edges[a.edge]
                wall = f" at {clean(edge.wall) or edge.kind.value}"
            parts.append(f"{figure(a.given_nm, unit)}{wall} instead of {figure(a.full_nm, unit)}")
        if parts:
            notes.append(f"Piece {cut.number} has less trim: {'; '.join(dict.fromkeys(parts))}.")
    return notes


def pattern_marks(view: RoomView, paper: Paper, floor: Polygon) -> list[tuple[Point, Spot]]:
    """Return the pattern marks on a floor, in the lay frame and on paper, the first of them first."""
    if view.layout is None or view.lattice is None:
        return []
    us, vs = [p[0] for p in view.layout.floor], [p[1] for p in view.layout.floor]
    if view.lattice.across_nm is None:
        middle = (min(us) + max(us)) // 2
        low = min(v for v, _ in lay_runs(view.layout.floor, middle + 0.5, 0))
        marks = [(middle, int(low) + (view.lattice.origin[1] - int(low)) % view.lattice.along_nm)]
    else:
        marks = marks_within(view.lattice, Rect(min(us), min(vs), max(us), max(vs)))
    places = [(mark, paper.lay(mark)) for mark in marks]
    return [(mark, spot) for mark, spot in places if inside(floor, spot)]


def first_mark(taken: Taken, view: RoomView, floor: Polygon, mark: Point, spot: Spot) -> Group:
    """Return a pattern mark with how far it is from the walls."""
    assert view.lattice is not None
    words = []
    for axis in (1, 0) if view.lattice.across_nm is not None else (1,):
        wall, distance = _wall_before(view, mark, axis)
        words.append(f"{figure(distance, view.plan.job.unit)} from {wall}")
    away = (spot[0] - middle(floor)[0], spot[1] - middle(floor)[1])
    said = ", ".join(words)
    label = led(taken, spot, away, (f"pattern mark: {said}", said), role="mark-text") or []
    taken.add_area(tuple((spot[0] + x, spot[1] + y) for x, y in ((-2, -2), (2, -2), (2, 2), (-2, 2))))
    items = (*cross(spot, 1.8), *label)
    return Group(role="pattern-marks", id="pattern-marks", items=items, title=f"pattern mark: {said}")


def faint_marks(taken: Taken, places: list[tuple[Point, Spot]]) -> Group:
    """Return the other pattern marks, but for those that texts and lines would hide or that would cross a text out."""
    arm, items = 0.7, list[Item]()
    for _, (x, y) in places[1:] if len(places) <= MOST_MARKS else ():
        box = ((x - arm, y - arm), (x + arm, y - arm), (x + arm, y + arm), (x - arm, y + arm))
        if taken.area_is_free(box):
            arms = (((x - arm, y), (x + arm, y)), ((x, y - arm), (x, y + arm)))
            items.append(Shape(role="mark-faint", rings=arms))
    return Group(role="pattern-marks", id="pattern-marks-faint", items=tuple(items))


def _wall_before(view: RoomView, mark: Point, axis: int) -> tuple[str, int]:
    """Return the wall that lies before a mark along −u (axis 0) or −v (axis 1), and how far off it is."""
    assert view.layout is not None
    floor, best = view.layout.floor, ("the wall", 10**18)
    for k, b in enumerate(floor):
        a = floor[k - 1]
        if (a[1 - axis] <= mark[1 - axis]) != (b[1 - axis] <= mark[1 - axis]):
            share = (mark[1 - axis] - a[1 - axis]) / (b[1 - axis] - a[1 - axis])
            distance = round(mark[axis] - (a[axis] + share * (b[axis] - a[axis])))
            if 0 <= distance < best[1]:
                edge = view.room.edges[k - 1]
                best = (clean(edge.wall) or edge.kind.value, distance)
    return best
