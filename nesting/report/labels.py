"""The labels: one for every cut, to print, cut apart and stick on the goods."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.plan import Plan
from nesting.drawing.outline import inner_rects
from nesting.floor.rings import union_rings
from nesting.report.cuts import CutRow, cut_rows
from nesting.report.engine import environment
from nesting.report.sentences import lot_text

A_SHEET = 8
"""Labels on a sheet, two beside each other: as many as fit on A4 and on Letter alike."""

PICTURE = 100
"""Width and height of the field in which a cut is drawn on its label, in units of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A cut in the field of its label, the start of the roll below: its outline, and the arrow of the lay in it.

    `arrow`: (x, y of its foot, y of its head).
    """

    path: str
    arrow: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLabel:
    """What stands on one label."""

    row: CutRow
    lot: str
    picture: Picture


def labels(plan: Plan, *, changed: frozenset[str] = frozenset()) -> str:
    """Return the sheet of labels as HTML text: every cut that is still to be made, in cutting order.

    `changed`: ids of the cuts that are not as in the plan before; they are marked as new.
    """
    found = [_label(row) for row in cut_rows(plan, changed) if not row.is_done]
    sheets = [found[at : at + A_SHEET] for at in range(0, len(found), A_SHEET)]
    return environment().get_template("labels.html.j2").render(job=plan.job, plan=plan, sheets=sheets)


def _label(row: CutRow) -> CutLabel:
    return CutLabel(row=row, lot=lot_text(row.lot), picture=picture_of(row.rects))


def picture_of(rects: tuple[Rect, ...]) -> Picture:
    """Return the picture of a cut to scale: it fills the field one way and lies in the middle of it the other way."""
    box = bounding_rect(rects)
    scale = PICTURE / max(box.width_nm, box.length_nm, 1)
    left, bottom = (PICTURE - box.width_nm * scale) / 2, (PICTURE + box.length_nm * scale) / 2

    def at(x: int, y: int) -> tuple[float, float]:
        return left + (x - box.x0_nm) * scale, bottom - (y - box.y0_nm) * scale

    path = " ".join(
        "M" + " ".join(f"{x:.1f},{y:.1f}" for x, y in (at(*p) for p in ring)) + "Z" for ring in union_rings(rects)
    )
    room = inner_rects(rects)[0]
    x, foot = at((room.x0_nm + room.x1_nm) // 2, room.y0_nm)
    head = at(room.x0_nm, room.y1_nm)[1]
    middle, half = (foot + head) / 2, min((foot - head) * 0.4, 28.0)
    return Picture(path=path, arrow=(x, middle + half, middle - half))
