"""Labels of a roll map's row: inside what they name where they fit, else below the roll with a leader."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.domain.geometry import Rect
from nesting.domain.layout import CutKind
from nesting.domain.plan import Offcut
from nesting.drawing.blocks import Caption, fitted
from nesting.drawing.callouts import LONGEST_MM, Callout
from nesting.drawing.labels import Taken
from nesting.drawing.lengths import figure, size_text
from nesting.drawing.metrics import LINE_HEIGHT, shortened, text_width_mm
from nesting.drawing.outline import clipped_rects, inner_rects, union_rings
from nesting.drawing.roll_frame import RowFrame
from nesting.drawing.roll_rows import cut_key, flaw_key, offcut_key
from nesting.drawing.roll_view import PlacedCut, offcut_fate
from nesting.drawing.scene import Group, Item, Label, Shape, Spot
from nesting.drawing.style import SMALL

_HEADINGS: tuple[Spot, ...] = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))
_ARROWS = ("→", "↑", "←", "↓")


def offcut_size(frame: RowFrame, offcut: Offcut) -> str:
    """Return the size of an offcut."""
    return size_text(offcut.rect.width_nm, offcut.rect.length_nm, frame.view.plan.job.unit)


def piece_label(frame: RowFrame, piece: PlacedCut) -> Group:
    """Return a piece's label inside it, or note a callout."""
    parts = clipped_rects(piece.rects, frame.row.y0_nm, frame.row.y1_nm)
    if not parts:
        return Group(role="label", items=())
    main = cut_key(piece) in frame.mains
    way = frame.heading(piece.turn)
    caption = Caption(
        number=str(piece.cut.number),
        name=piece.name,
        size=piece.size if main else f"{piece.size} in all",
        heading=_HEADINGS[way],
        end=f"to {piece.end}" if piece.end else "",
        note=_less_trim(frame, piece) if main else "goes on over the break",
        flag=piece.flag,
    )
    rooms = inner_rects(parts)
    suffix = "" if main else f"-part{frame.suffix}"
    for rect in () if cut_key(piece) in frame.beside else rooms[:4]:
        items = fitted(caption, frame.box(rect), piece.cut.id)
        if items and _set_within(frame, cut_key(piece), items):
            return Group(role="label", id=f"label-{piece.cut.number}{suffix}", piece=piece.cut.id, items=items)
    note = f" · {caption.note}" if caption.note else ""
    flag = f" · {piece.flag}" if piece.flag else ""
    tail = f"{flag} · {caption.size} {_ARROWS[way]}{note}"
    room = LONGEST_MM - text_width_mm(f"{piece.cut.number} {tail}", SMALL)
    text = f"{piece.cut.number} {shortened(piece.name, SMALL, room)}{tail}"
    frame.callouts.append(Callout(text=text, box=frame.box(rooms[0]), piece=piece.cut.id))
    return Group(role="label", items=())


def _set_within(frame: RowFrame, key: str, items: tuple[Item, ...]) -> bool:
    """Take the room of a label in its own place if it is free; tell whether it is."""
    labels = tuple(item for item in items if isinstance(item, Label))
    if not all(frame.taken.is_free(label, 0.0) for label in labels):
        return False
    frame.taken.add(labels)
    frame.within.append((key, labels))
    return True


def _less_trim(frame: RowFrame, piece: PlacedCut) -> str:
    """Return a note on a drop that has less trim than usual."""
    if piece.cut.kind is not CutKind.DROP:
        return ""
    return "less trim" if any(a.given_nm < a.full_nm for a in piece.cut.allowances) else ""


def offcut_label(frame: RowFrame, offcut: Offcut) -> Group:
    """Return an offcut's label inside it, or note a callout."""
    shown = frame.clip(offcut.rect)
    if shown is None or offcut_key(offcut) not in frame.mains:
        return Group(role="label", items=())
    caption = Caption(number="Offcut", name=offcut_fate(offcut), size=offcut_size(frame, offcut), keep_name=True)
    items = None if offcut_key(offcut) in frame.beside else fitted(caption, frame.box(shown), "")
    if items and _set_within(frame, offcut_key(offcut), items):
        return Group(role="label", items=items)
    frame.callouts.append(Callout(text=f"Offcut, {caption.name} · {caption.size}", box=frame.box(shown)))
    return Group(role="label", items=())


def flaw_labels(frame: RowFrame) -> Group:
    """Note a callout per flaw: where it lies along and across."""
    unit = frame.view.plan.job.unit
    for flaw in frame.view.source.flaws:
        shown = frame.clip(flaw)
        if shown and flaw_key(flaw) in frame.mains:
            text = (f"Flaw · along {figure(flaw.y0_nm, unit)} to {figure(flaw.y1_nm, unit)}"
                    f" · across {figure(flaw.x0_nm, unit)} to {figure(flaw.x1_nm, unit)}")  # fmt: skip
            frame.callouts.append(Callout(text=text, box=frame.box(shown)))
    return Group(role="label", items=())


def lengthwise_labels(frame: RowFrame, *, late: bool) -> Group:
    """Return, on every lengthwise cut, how far it is from the left edge, where there is room.

    `late`: of the cuts whose figures have to make way for leaders, after these; else of the others, before them.
    The figure stands beside its line, on it with paper below only where there is no room; and then not at its end, for
    what would be left of the line there looks like a sign before the figure.
    """
    items: list[Item] = []
    edges = _cut_edges(frame)
    for x, low, high in frame.view.lengthwise():
        part, key = frame.clip(Rect(x, low, x + 1, high)), f"line {x} {low}"
        if part is None or (key in frame.beside) != late:
            continue
        (start, y), (end, _) = frame.at((x, part.y0_nm)), frame.at((x, part.y1_nm))
        for shift, label in _figures_at(figure(x, frame.view.plan.job.unit), start, end, y):
            if not frame.top < y + shift - 1.6 < frame.bottom - 3.2:
                continue
            if frame.taken.is_free(label, 0.2) and (not shift or edges.is_free(label)):
                frame.taken.add((label,))
                frame.within.append((key, (label,)))
                items += [label] if shift else [_plate(label), label]
                break
    return Group(role="lengthwise", id=f"lengthwise{'-late' if late else ''}{frame.suffix}", items=tuple(items))


def _figures_at(text: str, start: float, end: float, y: float) -> Iterator[tuple[float, Label]]:
    """Give places for the figure of a lengthwise cut, each with how far below the line it is; 0: on it."""
    width, drop = text_width_mm(text, SMALL), 0.28 * SMALL * LINE_HEIGHT
    free = end - start - width
    near, middle = (1.0, free - 1.0), (free / 2, 0.25 * free, 0.75 * free)
    for shifts, spots in (((-2.0, 2.0), (*near, *middle)), ((0.0,), middle)):
        for shift in shifts:
            for spot in spots:
                if 0 <= spot <= free:
                    at = (start + spot + width / 2, y + shift + drop)
                    yield shift, Label(role="text", text=text, at=at, size_mm=SMALL, anchor="middle")


def _cut_edges(frame: RowFrame) -> Taken:
    """Return the sides of all pieces and offcuts of the row as lines."""
    edges = Taken(area=frame.taken.area)
    shapes = [piece.rects for piece in frame.view.placed] + [(offcut.rect,) for offcut in frame.view.offcuts]
    for rects in shapes:
        for ring in union_rings(clipped_rects(rects, frame.row.y0_nm, frame.row.y1_nm)):
            edges.add_line(*frame.ring((*ring, ring[0])))
    return edges


def _plate(label: Label) -> Shape:
    """Return paper under a label that stands on a line."""
    (x0, y0), (x1, y1) = label.box[0], label.box[2]
    rim, slack = (y1 - y0) * 0.15, 0.07 * (x1 - x0)  # most faces run narrower than the estimate
    box = ((x0 + slack, y0 + rim), (x1 - slack, y0 + rim), (x1 - slack, y1 - rim), (x0 + slack, y1 - rim))
    return Shape(role="plate", rings=(box,), closed=True)


def start_label(frame: RowFrame) -> Group:
    """Return the label of the start allowance."""
    source, unit = frame.view.source, frame.view.plan.job.unit
    shown = frame.clip(Rect(0, 0, source.width_nm, source.start_allowance_nm)) if source.start_allowance_nm else None
    if shown is None or frame.row.y0_nm > 0:
        return Group(role="label", items=())
    words = "start allowance with the way to the first mark" if source.anchored else "start allowance"
    text = f"{words} {figure(source.start_allowance_nm, unit)}"
    x0, y0, x1, y1 = frame.box(shown)
    if x1 - x0 >= SMALL * LINE_HEIGHT and text_width_mm(text, SMALL) <= y1 - y0 - 2.0:
        spot = ((x0 + x1) / 2 + 0.28 * SMALL * LINE_HEIGHT, (y0 + y1) / 2)
        label = Label(role="text", text=text, at=spot, size_mm=SMALL, anchor="middle", turned=90.0)
        if frame.taken.is_free(label, 0.0):
            frame.taken.add((label,))
            return Group(role="label", items=(label,))
    frame.callouts.append(Callout(text=text[0].upper() + text[1:], box=(x0, max(y0, y1 - 6.0), x1, y1)))
    return Group(role="label", items=())
