"""Labels of a room plan's pieces: in their breadths where they fit, else beside the floor with a leader."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from nesting.domain.layout import Allowance, Cut
from nesting.drawing.blocks import Caption, forms, set_form
from nesting.drawing.flags import flag_of, flagged
from nesting.drawing.labels import Taken, bounds
from nesting.drawing.lengths import size_text
from nesting.drawing.room_dims import centred, led
from nesting.drawing.room_view import Paper, RoomView, floors, inside
from nesting.drawing.scene import Group, Item, Polygon, Spot

_FEW_BESIDE = 6
"""So many breadths too small for their labels have them beside the floor; of more the numbers alone are shown."""


def narrow_numbers(taken: Taken, view: RoomView, paper: Paper) -> dict[str, tuple[Item, ...]]:
    """Return, by cut, the numbers of breadths that are too small for anything else, where there are many of those.

    They are set before any leader runs; a few such breadths have their numbers and sizes beside the floor instead.
    """
    empty = Taken(area=taken.area)
    narrow = [
        (cut, ring) for cut, ring in floors(view, paper) if _set_in(empty, _caption(view, cut, paper), ring) is None
    ]
    if len(narrow) <= _FEW_BESIDE:
        return {}
    return {cut.id: _number_in(taken, str(cut.number), ring) for cut, ring in narrow}


def piece_labels(
    taken: Taken, view: RoomView, paper: Paper, floor: Polygon, numbers: dict[str, tuple[Item, ...]]
) -> list[Group]:
    """Return the number, size and lay arrow of every piece, in its breadth or beside it with a leader.

    `numbers`: what was set before. Where there is room for nothing else, the number alone stands in the breadth or
    beside it; a group without items: nowhere.
    """
    found = []
    for cut, ring in floors(view, paper):
        caption = _caption(view, cut, paper)
        items = numbers.get(cut.id) or _set_in(taken, caption, ring) or ()
        if not items:
            spot = _spots(ring)[0]
            words = f"{flagged(caption.number, caption.flag)} · {caption.size}"
            words += f" · {caption.note}" if caption.note else ""
            away = (spot[0] - middle(floor)[0], spot[1] - middle(floor)[1])
            items = tuple(led(taken, spot, away, (words,), floor) or ()) or _number_in(taken, caption.number, ring)
            items = items or tuple(led(taken, spot, away, (caption.number,)) or ())
        items = tuple(replace(item, piece=cut.id) for item in items)
        found.append(Group(role="label", id=f"label-{cut.number}", piece=cut.id, items=items))
    return found


def _caption(view: RoomView, cut: Cut, paper: Paper) -> Caption:
    """Return what a piece's label says."""
    return Caption(
        number=str(cut.number),
        name="",
        size=_size(view, cut),
        heading=paper.heading,
        note="less trim" if less_trim(cut) else "",
        flag=flag_of(cut, view.changed),
    )


def _size(view: RoomView, cut: Cut) -> str:
    """Return the rough size of a drop."""
    low_x, low_y = min(r.x0_nm for r in cut.rects), min(r.y0_nm for r in cut.rects)
    wide, long = max(r.x1_nm for r in cut.rects) - low_x, max(r.y1_nm for r in cut.rects) - low_y
    return size_text(wide, long, view.plan.job.unit)


def middle(polygon: Polygon) -> Spot:
    """Return the middle of the box round a polygon."""
    x0, y0, x1, y1 = bounds(polygon)
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def _set_in(taken: Taken, caption: Caption, ring: Polygon) -> tuple[Item, ...] | None:
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
                return set_form(form, (x, y), caption.heading, "")
    return None


def _number_in(taken: Taken, number: str, ring: Polygon) -> tuple[Item, ...]:
    """Return the number alone where it is free inside a narrow piece of floor; () if it is nowhere."""
    for x, y in _spots(ring):
        label = centred(number, (x, y), 0.0)
        if all(inside(ring, corner) for corner in label.box) and taken.area_is_free(label.box):
            taken.add((label,))
            return (label,)
    return ()


def _spots(ring: Polygon) -> list[Spot]:
    """Return points inside a polygon, those farthest from its sides (to the millimetre) first, then the middle ones."""
    x0, y0, x1, y1 = bounds(ring)
    grid = [(x0 + (x1 - x0) * i / 12, y0 + (y1 - y0) * j / 12) for i in range(1, 12) for j in range(1, 12)]
    ranked = [(-min(_distance(p, ring[k - 1], q) for k, q in enumerate(ring)), p) for p in grid if inside(ring, p)]
    mx, my = middle(ring)
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
