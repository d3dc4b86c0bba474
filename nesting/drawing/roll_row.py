"""One row of a roll map: a stretch of the roll running left to right with its labels and running dimensions."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.domain.geometry import Point, Rect
from nesting.domain.plan import OffcutUse
from nesting.drawing.callouts import Below, crossed, set_callouts
from nesting.drawing.labels import Taken, spread
from nesting.drawing.lengths import figure, length_text
from nesting.drawing.metrics import LINE_HEIGHT, shortened, text_width_mm
from nesting.drawing.outline import clipped_rects, outside, union_rings
from nesting.drawing.pattern_lines import repeat_lines
from nesting.drawing.roll_done import changed_marks, gone_areas, gone_labels
from nesting.drawing.roll_frame import GUTTER_MM, LEAST_PATTERN_MM, RowFrame
from nesting.drawing.roll_labels import (
    flaw_labels,
    lengthwise_labels,
    offcut_label,
    offcut_size,
    piece_label,
    start_label,
)
from nesting.drawing.roll_rows import cut_key
from nesting.drawing.roll_view import offcut_fate
from nesting.drawing.scene import Group, Item, Label, Shape
from nesting.drawing.sheet import mm_per_nm
from nesting.drawing.style import SMALL

_HEADER = 4.2

ROW_GAP_MM = 2.5
"""Kept free below a row for the next one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRow:
    """A row in its own coordinates (y from 0 down) and the height it takes."""

    groups: tuple[Group, ...]
    height_mm: float


def drawn_row(frame: RowFrame) -> DrawnRow | None:
    """Return the row, or None if its running dimensions or labels do not fit side by side (the row is too long).

    What a leader would have to run through is labelled below the row as well, and the row drawn again.
    """
    while True:
        chain = _chain(frame)
        if chain is None:
            return None
        areas = [_ground(frame), gone_areas(frame), *_offcut_areas(frame), *_piece_areas(frame), _flaws(frame)]
        areas.append(changed_marks(frame))
        marks = [_pattern(frame), _edges(frame)]
        labels = [piece_label(frame, piece) for piece in frame.view.placed]
        labels += [offcut_label(frame, offcut) for offcut in frame.view.offcuts]
        labels += [flaw_labels(frame), lengthwise_labels(frame, late=False), start_label(frame)]
        below = Below(left=frame.left - GUTTER_MM, right=frame.right, bottom=frame.bottom, suffix=frame.suffix)
        callouts = set_callouts(frame.callouts, frame.taken, below)
        if callouts is None:
            return None
        leaders, beside, bottom = callouts
        in_the_way = frozenset(key for key, texts in frame.within if crossed(leaders, texts))
        if not in_the_way:
            break
        frame = replace(
            frame, beside=frame.beside | in_the_way, taken=Taken(area=frame.taken.area), callouts=[], within=[]
        )
    labels += [gone_labels(frame), lengthwise_labels(frame, late=True)]
    shown = tuple(g for g in (*areas, *marks, leaders, chain, *labels, beside) if g is not None and g.items)
    return DrawnRow(groups=shown, height_mm=bottom)


def _chain(frame: RowFrame) -> Group | None:
    """Return the row's header and the running dimensions above the roll; sets where the roll begins below them."""
    row, unit = frame.row, frame.view.plan.job.unit
    k = mm_per_nm(frame.scale)
    shown = sorted({row.y0_nm, row.y1_nm, *(y for y in frame.view.positions() if row.y0_nm <= y <= row.y1_nm)})
    texts = [figure(y, unit) for y in shown]
    wanted = [frame.left + (y - row.y0_nm) * k for y in shown]
    widths = [text_width_mm(text, SMALL) for text in texts]
    level = all(
        b - a >= (wa + wb) / 2 + 1.2 for a, b, wa, wb in zip(wanted, wanted[1:], widths, widths[1:], strict=False)
    )
    pitch = SMALL * LINE_HEIGHT + 0.3
    places = wanted if level else spread(wanted, pitch, frame.left, frame.right - 2.0)
    if places is None:
        return None
    depth = SMALL * LINE_HEIGHT if level else max(widths)
    frame.top = _HEADER + depth + 4.4
    items: list[Item] = list(_header(frame))
    for at, place, text in zip(wanted, places, texts, strict=True):
        tick = ((at, frame.top), (at, frame.top - 1.2), (place, frame.top - 2.8), (place, frame.top - 3.6))
        items.append(Shape(role="dimension", rings=(tick,)))
        if level:
            items.append(Label(role="text", text=text, at=(place, frame.top - 4.4), size_mm=SMALL, anchor="middle"))
        else:
            spot = (place + 0.28 * SMALL * LINE_HEIGHT, frame.top - 4.0)
            items.append(Label(role="text", text=text, at=spot, size_mm=SMALL, turned=90.0))
    if level and len(items) > 1:  # the outermost figures may stand out over the gutter or the margin
        items = [_kept_in(item, frame.left - GUTTER_MM, frame.right) for item in items]
    frame.taken.add(item for item in items if isinstance(item, Label))
    return Group(role="positions", id=f"positions{frame.suffix}", items=tuple(items))


def _kept_in(item: Item, left: float, right: float) -> Item:
    """Return a label set in the middle moved so far that it stays on the sheet."""
    if not isinstance(item, Label) or item.anchor != "middle":
        return item
    half = text_width_mm(item.text, item.size_mm) / 2
    x = min(max(item.at[0], left + half), right - half)
    return Label(role=item.role, text=item.text, at=(x, item.at[1]), size_mm=item.size_mm, anchor="middle")


def _header(frame: RowFrame) -> list[Item]:
    """Return the line above a row: which stretch it is, and the way the roll and its pattern run."""
    row, unit = frame.row, frame.view.plan.job.unit
    text = f"{length_text(row.y0_nm, unit)} to {length_text(row.y1_nm, unit)} from the start of the roll"
    text = f"{frame.name} · {text}" if frame.name else text
    if frame.row.goes_on:
        text += f" · the rest, up to {length_text(frame.view.source.length_nm, unit)}, is not drawn"
    y = 3.0
    shown = shortened(text, SMALL, frame.right - frame.left + GUTTER_MM - 45.0)
    items: list[Item] = [Label(role="text", text=shown, at=(frame.left - GUTTER_MM, y), size_mm=SMALL, bold=False)]
    word = "pattern runs this way" if frame.view.lattice else "roll runs this way"
    items.append(Label(role="note", text=word, at=(frame.right - 8.0, y), size_mm=SMALL, anchor="end"))
    a, tip = frame.right - 7.0, frame.right
    items.append(Shape(role="arrow", rings=(((a, y - 0.9), (tip - 1.8, y - 0.9)),)))
    head = ((tip, y - 0.9), (tip - 2.0, y - 1.7), (tip - 2.0, y - 0.1))
    items.append(Shape(role="arrow-head", rings=(head,), closed=True))
    return items


def _ground(frame: RowFrame) -> Group:
    """Return the goods with the parts that carry no piece: start allowance, what an unknown phase costs."""
    source, row = frame.view.source, frame.row
    whole = Rect(0, row.y0_nm, source.width_nm, row.y1_nm)
    items: list[Item] = [frame.area("goods-left" if source.gone else "goods", whole)]
    across, along = source.phase_loss_nm
    kept = Rect(0, 0, source.width_nm, source.length_nm)
    zones = [
        ("start", Rect(0, 0, source.width_nm, source.start_allowance_nm)),
        ("loss", Rect(kept.x1_nm - across, source.start_allowance_nm, kept.x1_nm, kept.y1_nm)),
        ("loss", Rect(0, kept.y1_nm - along, kept.x1_nm - across, kept.y1_nm)),
    ]
    for role, rect in zones:
        shown = frame.clip(rect) if rect.area_nm2 > 0 else None
        if shown:
            items.append(frame.area(role, shown))
    return Group(role="goods", id=f"goods{frame.suffix}", items=tuple(items), title="goods; the rest is waste")


def _offcut_areas(frame: RowFrame) -> list[Group]:
    """Return the offcuts."""
    found = []
    for offcut in frame.view.offcuts:
        shown = frame.clip(offcut.rect)
        if shown:
            role = "offcut-shop" if offcut.use is OffcutUse.SHOP else "offcut-client"
            title = f"offcut {offcut_size(frame, offcut)}, {offcut_fate(offcut)}"
            found.append(Group(role=f"offcut {role}", id=f"{_slug(offcut.id)}{frame.suffix}", title=title,
                               items=(frame.area(role, shown),)))  # fmt: skip
    return found


def _slug(text: str) -> str:
    """Return an element id for an offcut's id, which may hold anything."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else f"_{ord(c):x}" for c in text)
    return f"offcut-{plain}"


def _piece_areas(frame: RowFrame) -> list[Group]:
    """Return the pieces' outlines, cut off where the row ends."""
    found = []
    for piece in frame.view.placed:
        rings = union_rings(clipped_rects(piece.rects, frame.row.y0_nm, frame.row.y1_nm))
        if rings:
            role = "done" if piece.is_done else piece.cut.kind.value
            shape = Shape(role=role, rings=tuple(map(frame.ring, rings)), closed=True, piece=piece.cut.id)
            suffix = "" if cut_key(piece) in frame.mains else f"-part{frame.suffix}"
            found.append(Group(role=f"piece {piece.cut.kind.value}", id=f"piece-{piece.cut.number}{suffix}",
                               piece=piece.cut.id, title=piece.said, items=(shape,)))  # fmt: skip
    return found


def _flaws(frame: RowFrame) -> Group:
    """Return the flaws."""
    parts = [frame.clip(flaw) for flaw in frame.view.source.flaws]
    shapes = tuple(frame.area("flaw", part) for part in parts if part)
    return Group(role="flaws", id=f"flaws{frame.suffix}", items=shapes, title="flaws")


def _pattern(frame: RowFrame) -> Group:
    """Return thin repeat lines."""
    if frame.view.lattice is None:
        return Group(role="pattern", items=())
    area = Rect(0, frame.row.y0_nm, frame.view.source.width_nm, frame.row.y1_nm)
    lines, _, _ = repeat_lines(frame.view.lattice, area, LEAST_PATTERN_MM / mm_per_nm(frame.scale))
    there = [run for a, b in lines for run in outside(a, b, frame.view.source.gone)]
    shape = Shape(role="pattern", rings=tuple((frame.at(a), frame.at(b)) for a, b in there))
    return Group(role="pattern", id=f"pattern{frame.suffix}", items=(shape,) if there else ())


def _edges(frame: RowFrame) -> Group:
    """Return selvedges, the long edges, the ends or break marks, and the width of the roll."""
    view, row = frame.view, frame.row
    width, items = view.source.width_nm, list[Item]()
    low, high = row.y0_nm, row.y1_nm
    for x in (view.material.selvedge_nm, width - view.material.selvedge_nm) if view.material.selvedge_nm else ():
        items += _lines(frame, "selvedge", (x, low), (x, high))
    for x in (0, width):
        items += _lines(frame, "edge", (x, low), (x, high))
    for y, is_end in ((low, low == 0), (high, high == view.source.length_nm)):
        across = _lines(frame, "edge", (0, y), (width, y)) if is_end and view.source.gone else None
        items += [_end_line(frame.at((0, y))[0], frame.top, frame.bottom, is_end)] if across is None else across
    return Group(role="edges", id=f"edges{frame.suffix}", items=(*items, *_width_dimension(frame)))


def _lines(frame: RowFrame, role: str, a: Point, b: Point) -> list[Item]:
    """Return a line on the goods as far as the goods are there."""
    rings = tuple((frame.at(p), frame.at(q)) for p, q in outside(a, b, frame.view.source.gone))
    return [Shape(role=role, rings=rings)] if rings else []


def _width_dimension(frame: RowFrame) -> list[Item]:
    """Return the width of the roll, left of it."""
    left, width, view = frame.left - 2.5, frame.view.source.width_nm, frame.view
    bars = tuple(((left - 0.8, y), (left + 0.8, y)) for y in (frame.top, frame.bottom))
    line = Shape(role="dimension", rings=(((left, frame.top), (left, frame.bottom)), *bars))
    text = length_text(width, view.plan.job.unit)
    if text_width_mm(text, SMALL) > frame.bottom - frame.top:
        text = figure(width, view.plan.job.unit)
    middle = (frame.top + frame.bottom) / 2
    upright = text_width_mm(text, SMALL) <= frame.bottom - frame.top
    spot = (left - 1.0, middle) if upright else (left - 1.2, middle + 0.8)
    if not upright:
        text = shortened(text, SMALL, GUTTER_MM - 3.9)
    if not text:
        return [line]
    label = Label(role="text", text=text, at=spot, size_mm=SMALL, anchor="middle" if upright else "end",
                  turned=90.0 if upright else 0.0)  # fmt: skip
    frame.taken.add((label,))
    return [line, label]


def _end_line(x: float, top: float, bottom: float, is_end: bool) -> Shape:
    """Return the roll's end, or a break mark where it goes on."""
    if is_end:
        return Shape(role="edge", rings=(((x, top), (x, bottom)),))
    middle = (top + bottom) / 2
    zigzag = ((x, top - 1.0), (x, middle - 1.6), (x - 1.2, middle - 0.6), (x + 1.2, middle + 0.6), (x, middle + 1.6),
              (x, bottom + 1.0))  # fmt: skip
    return Shape(role="break", rings=(zigzag,))
