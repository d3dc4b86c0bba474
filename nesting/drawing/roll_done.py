"""What a row of a roll map shows of what was done before: goods that are gone, and pieces that are not as planned."""

from __future__ import annotations

from nesting.domain.geometry import Rect
from nesting.drawing.flags import NEW, corner_mark
from nesting.drawing.metrics import LINE_HEIGHT, text_width_mm
from nesting.drawing.outline import clipped_rects, union_rings
from nesting.drawing.roll_frame import RowFrame
from nesting.drawing.scene import Group, Item, Label, Shape
from nesting.drawing.style import SMALL

_GONE = "gone"


def gone_areas(frame: RowFrame) -> Group:
    """Return the goods that are not there any more, as the paper with a dashed outline."""
    rings = union_rings(clipped_rects(frame.view.source.gone, frame.row.y0_nm, frame.row.y1_nm))
    shape = Shape(role="gone", rings=tuple(map(frame.ring, rings)), closed=True)
    return Group(role="goods-gone", id=f"gone{frame.suffix}", items=(shape,) if rings else (),
                 title="gone: cut away before")  # fmt: skip


def gone_labels(frame: RowFrame) -> Group:
    """Return the word for it where there is room, once for rectangles that hang together."""
    items: list[Item] = []
    said: set[int] = set()
    parts = clipped_rects(frame.view.source.gone, frame.row.y0_nm, frame.row.y1_nm)
    found = ((rect, number) for number, together in enumerate(_hanging_together(parts)) for rect in together)
    for rect, number in sorted(found, key=lambda item: (-item[0].area_nm2, item[0])):
        x0, y0, x1, y1 = frame.box(rect)
        wide, high = text_width_mm(_GONE, SMALL) + 1.0, SMALL * LINE_HEIGHT + 0.4
        upright = wide > x1 - x0
        if (high if upright else wide) > x1 - x0 or (wide if upright else high) > y1 - y0:
            continue
        if number in said:
            continue
        drop = 0.28 * SMALL * LINE_HEIGHT
        spot = ((x0 + x1) / 2 + (drop if upright else 0.0), (y0 + y1) / 2 + (0.0 if upright else drop))
        label = Label(role="note", text=_GONE, at=spot, size_mm=SMALL, anchor="middle",
                      turned=90.0 if upright else 0.0)  # fmt: skip
        if frame.taken.is_free(label, 0.0):
            frame.taken.add((label,))
            items.append(label)
            said.add(number)
    return Group(role="label", items=tuple(items))


def _hanging_together(rects: tuple[Rect, ...]) -> list[list[Rect]]:
    """Return the rectangles in groups, of which each touches no other group."""
    groups: list[list[Rect]] = []
    for rect in rects:
        joined = [group for group in groups if any(_touch(rect, other) for other in group)]
        groups = [group for group in groups if group not in joined]
        groups.append([rect, *(other for group in joined for other in group)])
    return groups


def _touch(a: Rect, b: Rect) -> bool:
    """Tell whether two rectangles touch."""
    return a.x0_nm <= b.x1_nm and b.x0_nm <= a.x1_nm and a.y0_nm <= b.y1_nm and b.y0_nm <= a.y1_nm


def changed_marks(frame: RowFrame) -> Group:
    """Return the marks of the pieces that are not as in the plan before; takes their room."""
    items: list[Item] = []
    for piece in frame.view.placed:
        if piece.flag != NEW:
            continue
        rings = union_rings(clipped_rects(piece.rects, frame.row.y0_nm, frame.row.y1_nm))
        mark = corner_mark(frame.ring(rings[0])) if rings else ()
        if mark:
            frame.taken.add_area(mark)
            items.append(Shape(role="changed", rings=(mark,), closed=True, piece=piece.cut.id))
    return Group(role="changed-marks", id=f"changed-marks{frame.suffix}", items=tuple(items))
