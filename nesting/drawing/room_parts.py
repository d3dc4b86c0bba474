"""What is drawn of a room itself: floor, breadths, walls, doors, what stands in it and lies below."""

from __future__ import annotations

from math import hypot

from nesting.domain.geometry import Point, Rect
from nesting.domain.job import DoorJoint, EdgeKind
from nesting.domain.layout import Allowance, AllowanceKind, Cut
from nesting.drawing.blocks import Caption, forms, set_form
from nesting.drawing.flags import LAID, NEW, corner_mark, flag_of, flagged
from nesting.drawing.labels import Taken, bounds
from nesting.drawing.lengths import figure, size_text
from nesting.drawing.metrics import clean
from nesting.drawing.pattern_lines import marks_within
from nesting.drawing.room_dims import Measured, led
from nesting.drawing.room_seams import seam_lines
from nesting.drawing.room_view import Paper, RoomView, inside, lay_runs, piece_floor
from nesting.drawing.scene import Group, Item, Polygon, Shape, Spot
from nesting.drawing.sheet import cross

MOST_MARKS = 90
"""More pattern marks than these are not drawn: only the first is."""


def breadth_groups(view: RoomView, paper: Paper) -> list[Group]:
    """Return the floor of every piece, neighbours in two tints."""
    found = []
    for cut in view.cuts:
        assert view.layout is not None
        ring = tuple(paper.lay(p) for p in piece_floor(view.layout, cut))
        if len(ring) < 3:
            continue
        role = "breadth" if cut.breadth % 2 == 0 else "breadth-other"
        role = "breadth-laid" if flag_of(cut, view.changed) == LAID else role
        shape = Shape(role=role, rings=(ring,), closed=True, piece=cut.id)
        found.append(Group(role="piece drop", id=f"piece-{cut.number}", piece=cut.id, items=(shape,),
                           title=flagged(f"{cut.number} {clean(cut.label)}, {_size(view, cut)}",
                                         flag_of(cut, view.changed))))  # fmt: skip
    return found


def _size(view: RoomView, cut: Cut) -> str:
    """Return the rough size of a drop."""
    low_x, low_y = min(r.x0_nm for r in cut.rects), min(r.y0_nm for r in cut.rects)
    wide, long = max(r.x1_nm for r in cut.rects) - low_x, max(r.y1_nm for r in cut.rects) - low_y
    return size_text(wide, long, view.plan.job.unit)


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


def outward(a: Spot, b: Spot) -> Spot:
    """Return the unit normal on paper that points out of a counter-clockwise outline."""
    length = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    return (-(b[1] - a[1]) / length, (b[0] - a[0]) / length)


def measured_walls(view: RoomView, paper: Paper) -> list[Measured]:
    """Return every edge of the outline with what to write on it."""
    unit, outline, found = view.plan.job.unit, view.room.outline, []
    doors = {door.id: door for door in view.room.doors}
    rooms = {room.id: room.name for room in view.plan.job.rooms}
    for k, edge in enumerate(view.room.edges):
        p, q = outline[k], outline[(k + 1) % len(outline)]
        a, b = paper.floor(p), paper.floor(q)
        size = figure(_length_nm(p, q), unit)
        words = "jamb" if edge.kind is EdgeKind.JAMB else clean(edge.wall)
        texts = [f"{words}: {size}" if words else size, size]
        door = doors.get(edge.door)
        if edge.kind is EdgeKind.DOOR:
            joint = "seam" if door and door.joint is DoorJoint.SEAM else "transition"
            beyond = f" to {clean(rooms[door.joined[0]])}" if door and door.joined and door.joined[0] in rooms else ""
            texts = [f"door{beyond} {size}, {joint}", f"door {size}, {joint}", f"door {size}"]
        elif edge.cove_nm:
            texts = [f"{texts[0]}, cove {figure(edge.cove_nm, unit)}", f"{size}, cove {figure(edge.cove_nm, unit)}"]
        found.append(Measured(start=a, end=b, outward=outward(a, b), texts=tuple(dict.fromkeys(texts))))
    return found


def _length_nm(p: Point, q: Point) -> int:
    """Return the length of an edge to the nearest nanometre."""
    return round(hypot(q[0] - p[0], q[1] - p[1]))


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


def piece_labels(taken: Taken, view: RoomView, paper: Paper, floor: Polygon) -> list[Group]:
    """Return the number, size and lay arrow of every piece, in its breadth or beside it with a leader."""
    found = []
    for cut in view.cuts:
        assert view.layout is not None
        ring = tuple(paper.lay(p) for p in piece_floor(view.layout, cut))
        if len(ring) < 3:
            continue
        note, flag = "less trim" if less_trim(cut) else "", flag_of(cut, view.changed)
        caption = Caption(number=str(cut.number), name="", size=_size(view, cut), heading=paper.heading, note=note,
                          flag=flag)  # fmt: skip
        items = _set_in(taken, caption, ring, cut.id)
        if items is None:
            spot = _spots(ring)[0]
            words = f"{flagged(str(cut.number), flag)} · {caption.size}" + (f" · {note}" if note else "")
            items = tuple(led(taken, spot, (spot[0] - _middle(floor)[0], spot[1] - _middle(floor)[1]), (words,),
                              floor) or ())  # fmt: skip
        found.append(Group(role="label", id=f"label-{cut.number}", piece=cut.id, items=items))
    return found


def changed_marks(taken: Taken, view: RoomView, paper: Paper) -> Group:
    """Return the marks of the pieces that are not as in the plan before."""
    items: list[Item] = []
    for cut in view.cuts if view.changed else ():
        assert view.layout is not None
        mark = corner_mark(tuple(paper.lay(p) for p in piece_floor(view.layout, cut)))
        if mark and flag_of(cut, view.changed) == NEW:
            taken.add_area(mark)
            items.append(Shape(role="changed", rings=(mark,), closed=True, piece=cut.id))
    return Group(role="changed-marks", id="changed-marks", items=tuple(items))


def _middle(polygon: Polygon) -> Spot:
    """Return the middle of the box round a polygon."""
    x0, y0, x1, y1 = bounds(polygon)
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def _set_in(taken: Taken, caption: Caption, ring: Polygon, piece: str) -> tuple[Item, ...] | None:
    """Return a caption set where it is free inside a piece of floor; None if it is nowhere."""
    x0, y0, x1, y1 = bounds(ring)
    spots = _spots(ring)
    for form in forms(caption, (x1 - x0, y1 - y0)):
        wide, high = form.extent
        if (wide > x1 - x0 or high > y1 - y0) and max(wide, high) > hypot(x1 - x0, y1 - y0):
            continue
        for x, y in spots:
            box = ((x - wide / 2, y - high / 2), (x + wide / 2, y - high / 2), (x + wide / 2, y + high / 2),
                   (x - wide / 2, y + high / 2))  # fmt: skip
            if all(inside(ring, corner) for corner in box) and taken.area_is_free(box):
                taken.add_area(box)
                return set_form(form, (x, y), caption.heading, piece)
    return None


def _spots(ring: Polygon) -> list[Spot]:
    """Return points inside a polygon, those farthest from its sides (to the millimetre) first, then the middle ones."""
    x0, y0, x1, y1 = bounds(ring)
    grid = [(x0 + (x1 - x0) * i / 12, y0 + (y1 - y0) * j / 12) for i in range(1, 12) for j in range(1, 12)]
    ranked = [(-min(_distance(p, ring[k - 1], q) for k, q in enumerate(ring)), p) for p in grid if inside(ring, p)]
    mx, my = _middle(ring)
    order = sorted((round(d), round(hypot(p[0] - mx, p[1] - my), 3), p) for d, p in ranked)
    return [p for _, _, p in order] or [(mx, my)]


def _distance(p: Spot, a: Spot, b: Spot) -> float:
    """Return the distance of a point from a segment."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    size = dx * dx + dy * dy
    share = max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / size)) if size else 0.0
    return hypot(p[0] - a[0] - share * dx, p[1] - a[1] - share * dy)


def less_trim(cut: Cut) -> list[Allowance]:
    """Return the allowances of a drop that are less than usual."""
    return [a for a in cut.allowances if a.given_nm < a.full_nm]


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


def pattern_group(taken: Taken, view: RoomView, paper: Paper, floor: Polygon) -> Group | None:
    """Return the pattern marks and, at the first of them, how far it is from the walls."""
    if view.layout is None or view.lattice is None:
        return None
    us, vs = [p[0] for p in view.layout.floor], [p[1] for p in view.layout.floor]
    lattice, unit = view.lattice, view.plan.job.unit
    if lattice.across_nm is None:
        middle = (min(us) + max(us)) // 2
        low = min(v for v, _ in lay_runs(view.layout.floor, middle + 0.5, 0))
        marks = [(middle, int(low) + (lattice.origin[1] - int(low)) % lattice.along_nm)]
    else:
        marks = marks_within(lattice, Rect(min(us), min(vs), max(us), max(vs)))
    places = [(mark, paper.lay(mark)) for mark in marks]
    places = [(mark, spot) for mark, spot in places if inside(floor, spot)]
    if not places:
        return None
    first, spot = places[0]
    items: list[Item] = []
    if 1 < len(places) <= MOST_MARKS:
        arm = 0.7
        items += [
            Shape(role="mark-faint", rings=(((x - arm, y), (x + arm, y)), ((x, y - arm), (x, y + arm))))
            for _, (x, y) in places[1:]
        ]
    items += cross(spot, 1.8)
    words = ["pattern mark"]
    for axis in (1, 0) if lattice.across_nm is not None else (1,):
        wall, distance = _wall_before(view, first, axis)
        words.append(f"{figure(distance, unit)} from {wall}")
    away = (spot[0] - _middle(floor)[0], spot[1] - _middle(floor)[1])
    items += led(taken, spot, away, (f"{words[0]}: {', '.join(words[1:])}",), floor, role="mark-text") or []
    return Group(role="pattern-marks", id="pattern-marks", items=tuple(items))


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
