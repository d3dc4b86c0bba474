"""Room plans: where breadths and seams lie on the floor, north up, for the client and the fitter."""

from __future__ import annotations

from nesting.domain.job import DoorJoint, EdgeKind
from nesting.domain.plan import Plan
from nesting.drawing.blocks import arrow
from nesting.drawing.flags import CUT, LAID, NEW, flag_of
from nesting.drawing.labels import Taken
from nesting.drawing.lengths import unit_note
from nesting.drawing.metrics import clean
from nesting.drawing.room_dims import overall_dimensions, wall_dimensions
from nesting.drawing.room_labels import narrow_numbers, piece_labels
from nesting.drawing.room_parts import (
    below_group,
    breadth_groups,
    changed_marks,
    faint_marks,
    first_mark,
    pattern_marks,
    seam_group,
    trim_notes,
    wall_group,
)
from nesting.drawing.room_seams import seam_dimensions, seam_lines
from nesting.drawing.room_view import Paper, RoomView, room_view
from nesting.drawing.room_walls import measured_walls
from nesting.drawing.scene import Group, Item, Label, Page, Scene, Shape
from nesting.drawing.sheet import SCALES, Key, footer, heading, mm_per_nm
from nesting.drawing.style import SMALL

_DIMENSION_ROOM = 13.0
"""Room kept round the floor for its dimensions, mm."""

_COMPASS_ROOM = 5.0
"""Height kept above it for the north and lay arrows."""


def room_scene(plan: Plan, room_id: str, page: Page, changed: frozenset[str] = frozenset()) -> Scene:
    """Return the seam plan of a room; a KeyError if there is no such room. `changed`: ids of cuts marked as new."""
    view = room_view(plan, room_id, changed)
    choices = [(_scale(view, sheet), k, sheet) for k, sheet in enumerate((page, page.turned()))]
    scale, _, sheet = min(choices, key=lambda choice: choice[:2])
    head, top = _heading(view, sheet)
    foot, bottom = footer(sheet, _keys(view), _notes(view), scale, plan.job.unit)
    drawn, missing = _drawn(view, sheet, scale, top, bottom)
    if missing:
        foot, bottom = footer(sheet, _keys(view), [*_notes(view), *missing], scale, plan.job.unit)
        drawn, _ = _drawn(view, sheet, scale, top, bottom)
    words = [f"{len(view.cuts)} pieces"]
    if view.layout is not None:
        words.append(f"{len(view.layout.seams)} seams")
        words.append(f"{len(view.layout.cross_seams)} cross seams")
    return Scene(
        page=sheet,
        title=f"Seam plan, {clean(view.room.name) or clean(view.room.id)}",
        description=f"{clean(view.material.name)}: {', '.join(words)}.",
        groups=(*drawn, head, foot),
    )


def _heading(view: RoomView, page: Page) -> tuple[Group, float]:
    """Return the head of the sheet and the y below it."""
    facts = [clean(view.material.name)]
    if view.layout is None:
        facts.append("not laid")
    else:
        layout = view.layout
        for count, word in (
            (len(view.cuts), "piece"),
            (len(layout.seams), "seam"),
            (len(layout.cross_seams), "cross seam"),
            (len(layout.relief_cuts), "relief cut"),
        ):
            if count:
                facts.append(f"{count} {word}" + ("s" if count != 1 else ""))
    lines = [" · ".join(facts), f"{clean(view.plan.job.name)} · {unit_note(view.plan.job.unit)}"]
    consents = [c.text for c in view.plan.consents]
    return heading(page, clean(view.room.name) or clean(view.room.id), lines, "SEAM PLAN", consents)


def _scale(view: RoomView, page: Page) -> int:
    """Return the largest scale at which floor and dimensions fit on the sheet."""
    _, top = _heading(view, page)
    _, bottom = footer(page, _keys(view), _notes(view), SCALES[0], view.plan.job.unit)
    xs, ys = [p[0] for p in view.room.outline], [p[1] for p in view.room.outline]
    wide = page.width_mm - 2 * page.margin_mm - 2 * _DIMENSION_ROOM
    high = bottom - top - 2 * _DIMENSION_ROOM - _COMPASS_ROOM
    least = max((max(xs) - min(xs)) / 1_000_000 / wide, (max(ys) - min(ys)) / 1_000_000 / max(high, 20.0))
    return next((s for s in SCALES if s >= least), -(-int(least + 1) // 1000) * 1000)


def _drawn(view: RoomView, page: Page, scale: int, top: float, bottom: float) -> tuple[list[Group], list[str]]:
    """Return the groups between head and foot, and what found no place there, in sentences."""
    k = mm_per_nm(scale)
    xs, ys = [p[0] for p in view.room.outline], [p[1] for p in view.room.outline]
    high = (max(ys) - min(ys)) * k
    centre = page.width_mm / 2
    base = (top + _COMPASS_ROOM + bottom + high) / 2
    origin = ((min(xs) + max(xs)) / 2, float(min(ys)))
    paper = Paper(k=k, origin=origin, at=(centre, base), direction=view.layout.direction if view.layout else None)
    floor = tuple(map(paper.floor, view.room.outline))
    taken = Taken(area=(page.margin_mm, top, page.width_mm - page.margin_mm, bottom))
    groups = [Group(role="room", id="room", items=(Shape(role="floor", rings=(floor,), closed=True),))]
    groups += breadth_groups(view, paper)
    fixed = [below_group(view, paper), wall_group(view, paper), seam_group(view, paper)]
    compass = _compass(page, top, paper)
    taken.add(item for item in compass.items if isinstance(item, Label))
    for group in fixed:
        for item in group.items:
            if isinstance(item, Shape):
                for ring in item.rings:
                    taken.add_line(*ring, *(ring[:1] if item.closed else ()))
                if item.role in ("hole", "keep-out"):
                    taken.add_area(item.rings[0])
    fixed.insert(0, changed_marks(taken, view, paper))
    edges, sides = measured_walls(view, paper)
    walls, missing = wall_dimensions(taken, edges, floor)
    overall = overall_dimensions(taken, sides)
    labels: list[Group] = []
    if view.layout is not None:
        numbers = narrow_numbers(taken, view, paper)
        marks = pattern_marks(view, paper, floor)
        first = [first_mark(taken, view, floor, *marks[0])] if marks else []
        for seam in seam_lines(view):
            items = seam_dimensions(taken, view, paper, floor, seam)
            labels.append(Group(role="seam-position", items=items))
        labels += [*piece_labels(taken, view, paper, floor, numbers), *first, faint_marks(taken, marks)]
    unsaid = [group for group in labels if not any(isinstance(item, Label) for item in group.items)]
    labels.append(Group(role="wall-dimensions", id="wall-dimensions", items=tuple(walls)))
    labels.append(Group(role="overall-dimensions", id="overall-dimensions", items=tuple(overall)))
    shown = [group for group in (*groups, *fixed, *labels, compass) if group.items]
    return shown, _missing(missing, unsaid)


def _compass(page: Page, top: float, paper: Paper) -> Group:
    """Return the north arrow and the lay arrow at the upper right."""
    x, y = page.width_mm - page.margin_mm - 4.0, top + 5.0
    items: list[Item] = [*arrow((x, y), (0.0, -1.0), 3.0, 7.0)]
    items.append(Label(role="text", text="N", at=(x - 2.6, y + 1.0), size_mm=SMALL, anchor="end", bold=True))
    if paper.direction is not None:
        x -= 14.0
        items += arrow((x, y), paper.heading, 8.0, 8.0)
        at = (x - 1.6 - 3.4 * abs(paper.heading[0]), y + 1.0)
        items.append(Label(role="text", text="lay", at=at, size_mm=SMALL, anchor="end"))
    return Group(role="compass", id="compass", items=tuple(items))


def _missing(walls: int, unsaid: list[Group]) -> list[str]:
    """Return what found no place, in sentences: walls, and groups of seams, pieces and marks that say nothing."""
    seams = sum(group.role == "seam-position" for group in unsaid)
    numbers = [group.id.removeprefix("label-") for group in unsaid if group.role == "label"]
    counted = ((walls, "short wall", "figure"), (seams, "seam", "distance from a wall"))
    found = [
        f"{count} {what}{' has' if count == 1 else 's have'} no {lacks} here: there is no room for it at this scale."
        for count, what, lacks in counted
        if count
    ]
    if numbers:
        found.append(f"No room here for the numbers of pieces {', '.join(numbers)}: see the roll map.")
    marks = (group.title for group in unsaid if group.role == "pattern-marks" and group.title)
    return [*found, *(f"{title[0].upper()}{title[1:]}." for title in marks)]


def _notes(view: RoomView) -> list[str]:
    """Return what must be said in words."""
    notes = trim_notes(view)
    if view.part is not None:
        notes += [notice.text for notice in view.part.notices if notice.room_id == view.room.id]
    return notes


def _keys(view: RoomView) -> list[Key]:
    """Return the legend: only what is on the plan."""
    room, layout, keys = view.room, view.layout, []
    kinds = {edge.kind for edge in room.edges}
    keys.append(Key(role="wall", text="wall", form="line"))
    joints = {door.joint for door in room.doors}
    if EdgeKind.DOOR in kinds and (DoorJoint.TRANSITION in joints or not joints):
        keys.append(Key(role="door-line", text="door line, transition", form="line"))
    if DoorJoint.SEAM in joints:
        keys.append(Key(role="door-seam", text="door line, seam", form="line"))
    if any(edge.cove_nm for edge in room.edges):
        keys.append(Key(role="cove", text="cove", form="line"))
    if layout is not None:
        if layout.seams:
            keys.append(Key(role="seam", text="seam, with its distance from a wall", form="line"))
        if layout.cross_seams:
            keys.append(Key(role="cross-seam", text="cross seam", form="line"))
        if layout.relief_cuts:
            keys.append(Key(role="relief", text="relief cut", form="line"))
        keys += _keys_of_flags(view)
        keys.append(Key(role="arrow", text="lay, as on the roll map; sizes are rough cuts", form="arrow"))
    if room.keep_outs:
        keys.append(Key(role="keep-out", text="no seam here"))
    if room.joints_below:
        keys.append(Key(role="joint", text="joint below", form="line"))
    if room.holes:
        keys.append(Key(role="hole", text=", ".join(dict.fromkeys(hole.kind.value for hole in room.holes))))
    if layout is not None and view.lattice is not None:
        keys.append(Key(role="mark", text="pattern mark", form="cross"))
    return keys


def _keys_of_flags(view: RoomView) -> list[Key]:
    """Return the legend of what is done and of what is not as in the plan before."""
    flags = {flag_of(cut, view.changed) for cut in view.cuts}
    keys = [
        Key(role="breadth-laid", text="LAID: laid already"),
        Key(role="text", text="CUT: cut already", form="words"),
        Key(role="changed", text="NEW: not as in the plan before", form="corner"),
    ]
    return [key for flag, key in zip((LAID, CUT, NEW), keys, strict=True) if flag in flags]
