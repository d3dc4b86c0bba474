"""Labels of a roll map's row: inside what they name where they fit, else below the roll with a leader."""

from __future__ import annotations

from nesting.domain.geometry import Rect
from nesting.domain.layout import CutKind
from nesting.domain.plan import Offcut
from nesting.drawing.blocks import Caption, fitted
from nesting.drawing.lengths import figure, size_text
from nesting.drawing.metrics import LINE_HEIGHT, shortened, text_width_mm
from nesting.drawing.outline import clipped_rects, inner_rects
from nesting.drawing.roll_frame import GUTTER_MM, Callout, RowFrame
from nesting.drawing.roll_rows import cut_key, flaw_key, offcut_key
from nesting.drawing.roll_view import PlacedCut, offcut_fate
from nesting.drawing.scene import Dot, Group, Item, Label, Shape, Spot
from nesting.drawing.style import SMALL

_LONGEST_CALLOUT_MM = 90.0
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
    for rect in rooms[:4]:
        items = fitted(caption, frame.box(rect), piece.cut.id)
        labels = [item for item in items or () if isinstance(item, Label)]
        if items and all(frame.taken.is_free(label, 0.0) for label in labels):
            frame.taken.add(labels)
            return Group(role="label", id=f"label-{piece.cut.number}{suffix}", piece=piece.cut.id, items=items)
    note = f" · {caption.note}" if caption.note else ""
    flag = f" · {piece.flag}" if piece.flag else ""
    tail = f"{flag} · {caption.size} {_ARROWS[way]}{note}"
    room = _LONGEST_CALLOUT_MM - text_width_mm(f"{piece.cut.number} {tail}", SMALL)
    text = f"{piece.cut.number} {shortened(piece.name, SMALL, room)}{tail}"
    frame.callouts.append(Callout(text=text, box=frame.box(rooms[0]), piece=piece.cut.id))
    return Group(role="label", items=())


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
    items = fitted(caption, frame.box(shown), "")
    labels = [item for item in items or () if isinstance(item, Label)]
    if items and all(frame.taken.is_free(label, 0.0) for label in labels):
        frame.taken.add(labels)
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


def lengthwise_labels(frame: RowFrame) -> Group:
    """Return, on every lengthwise cut, how far it is from the left edge, where there is room."""
    unit, items = frame.view.plan.job.unit, list[Item]()
    for x, low, high in frame.view.lengthwise():
        part = frame.clip(Rect(x, low, x + 1, high))
        if part is None:
            continue
        text = figure(x, unit)
        width = text_width_mm(text, SMALL)
        (start, y), (end, _) = frame.at((x, part.y0_nm)), frame.at((x, part.y1_nm))
        spots = [start + 1.0, end - width - 1.0, (start + end - width) / 2, start + (end - start) * 0.25]
        wanted = ((spot, shift) for shift in (0.0, -2.0, 2.0) for spot in spots)
        for spot, shift in wanted:
            base = y + shift + 0.28 * SMALL * LINE_HEIGHT
            label = Label(role="text", text=text, at=(spot, base), size_mm=SMALL)
            inside = start <= spot and spot + width <= end and frame.top < y + shift - 1.6 < frame.bottom - 3.2
            if inside and frame.taken.is_free(label, 0.2):
                frame.taken.add((label,))
                items += [label] if shift else [_plate(label), label]
                break
    return Group(role="lengthwise", id=f"lengthwise{frame.suffix}", items=tuple(items))


def _plate(label: Label) -> Shape:
    """Return paper under a label that stands on a line."""
    (x0, y0), (x1, y1) = label.box[0], label.box[2]
    rim = (y1 - y0) * 0.15
    x1 = x0 + 0.86 * (x1 - x0)  # most faces run narrower than the estimate
    box = ((x0, y0 + rim), (x1, y0 + rim), (x1, y1 - rim), (x0, y1 - rim))
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


def set_callouts(frame: RowFrame) -> tuple[Group, Group, float] | None:
    """Return leaders, the callouts below the roll, and the y below them; None if there are too many.

    From right to left: every label hangs to the right of its leader's foot, so a leader never crosses a label set
    before it, and a label only has to go below the leaders that it would cross.
    """
    lines: list[Item] = []
    labels: list[Item] = []
    gap, pitch = 1.0, SMALL * LINE_HEIGHT + 0.5
    first, foot = frame.bottom + 4.2, frame.right
    lanes: list[float] = []  # how far right of the page's left a lane is free
    deepest = frame.bottom
    head_before = frame.right + gap
    for note in sorted(frame.callouts, key=lambda c: (-c.middle[0], -c.middle[1], c.text)):
        text = shortened(note.text, SMALL, 1.3 * _LONGEST_CALLOUT_MM)
        width = text_width_mm(text, SMALL)
        at = (_clear_x(frame, note, head_before - gap), note.middle[1])
        head_before = at[0]
        foot = min(at[0], frame.right - width - 0.6, foot - gap)
        if foot < frame.left - GUTTER_MM:
            return None
        lane = next((k for k, free in enumerate(lanes) if foot + 0.6 + width <= free - 0.8), len(lanes))
        lanes += [frame.right + 0.8] * (lane + 1 - len(lanes))
        lanes[: lane + 1] = [foot] * (lane + 1)
        y = first + lane * pitch
        line = (at, (at[0], frame.bottom + 0.6), (foot, first - 2.0), (foot, y))
        lines += [Shape(role="leader", rings=(line,), piece=note.piece), Dot(role="dot", at=at, radius_mm=0.4)]
        label = Label(role="text", text=text, at=(foot + 0.6, y), size_mm=SMALL, piece=note.piece)
        labels.append(label)
        frame.taken.add((label,))
        deepest = max(deepest, y)
    leaders = Group(role="leaders", id=f"leaders{frame.suffix}", items=tuple(lines))
    return leaders, Group(role="callouts", id=f"callouts{frame.suffix}", items=tuple(labels)), deepest + 0.8


def _clear_x(frame: RowFrame, note: Callout, highest: float) -> float:
    """Return where the leader of a callout starts: near the middle of its box, below `highest`, off other labels."""
    x0, _, x1, _ = note.box
    middle, y = note.middle
    rim = min(0.6, (x1 - x0) / 3)
    steps = [middle + sign * k for k in range(int((x1 - x0) / 2) + 1) for sign in (1, -1)]
    inside = [x for x in [*steps, x0 + rim, x1 - rim] if x0 + rim <= x <= x1 - rim]
    lower = [x for x in inside if x <= highest]
    clear = [x for x in lower if frame.taken.line_is_clear((x, y), (x, frame.bottom))]
    return next(iter(clear or lower or inside), middle)
