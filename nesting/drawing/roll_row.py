"""One row of a roll map: a stretch of the roll running left to right with its labels and running dimensions."""

from __future__ import annotations

from dataclasses import dataclass, field

from nesting.domain.geometry import Point, Rect
from nesting.domain.layout import CutKind
from nesting.domain.plan import Offcut, OffcutUse
from nesting.drawing.blocks import Box, Caption, fitted
from nesting.drawing.labels import Taken, spread
from nesting.drawing.lengths import figure, length_text, size_text
from nesting.drawing.metrics import LINE_HEIGHT, shortened, text_width_mm
from nesting.drawing.outline import Ring, clipped_rects, inner_rects, union_rings
from nesting.drawing.pattern_lines import repeat_lines
from nesting.drawing.roll_rows import Row
from nesting.drawing.roll_view import PlacedCut, RollView, offcut_fate
from nesting.drawing.scene import Dot, Group, Item, Label, Shape, Spot
from nesting.drawing.sheet import mm_per_nm
from nesting.drawing.style import BODY, SMALL

GUTTER_MM = 9.0
"""Room left of a row for the roll's width."""

LEAST_PATTERN_MM = 4.0
"""Repeat lines are not drawn closer than this."""

_HEADER = 4.6
_HEADINGS: tuple[Spot, ...] = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))
_ARROWS = ("→", "↑", "←", "↓")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRow:
    """A row in its own coordinates (y from 0 down) and the height it takes."""

    groups: tuple[Group, ...]
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A label beside the roll with a leader from somewhere on the middle line of `box`."""

    text: str
    box: Box
    piece: str = ""

    @property
    def middle(self) -> Spot:
        """The middle of the box."""
        return ((self.box[0] + self.box[2]) / 2, (self.box[1] + self.box[3]) / 2)


@dataclass(slots=True)
class RowFrame:
    """Where a row lies on paper. `mirrored`: seen from the back, the left edge below."""

    view: RollView
    row: Row
    left: float
    right: float  # of the page, not of the row
    scale: int
    mirrored: bool
    name: str  # "Row 2 of 3"
    suffix: str  # of element ids, unique to the row
    mains: frozenset[str]  # ids of the cuts labelled in full here
    top: float = 0.0
    taken: Taken = field(default_factory=lambda: Taken(area=(-1e9, -1e9, 1e9, 1e9)))
    callouts: list[Callout] = field(default_factory=list)

    def at(self, point: Point) -> Spot:
        """Return the place on paper of a point of the roll: along runs right, across runs down (face up)."""
        k = mm_per_nm(self.scale)
        across = self.view.source.width_nm - point[0] if self.mirrored else point[0]
        return (self.left + (point[1] - self.row.y0_nm) * k, self.top + across * k)

    def ring(self, ring: Ring) -> tuple[Spot, ...]:
        """Return a ring on paper."""
        return tuple(self.at(point) for point in ring)

    def box(self, rect: Rect) -> Box:
        """Return a rectangle on paper as (x0, y0, x1, y1)."""
        (x0, ya), (x1, yb) = self.at((rect.x0_nm, rect.y0_nm)), self.at((rect.x1_nm, rect.y1_nm))
        return (x0, min(ya, yb), x1, max(ya, yb))

    def area(self, role: str, rect: Rect, ident: str = "") -> Shape:
        """Return a rectangle of the roll as a shape."""
        x0, y0, x1, y1 = self.box(rect)
        return Shape(role=role, rings=(((x0, y0), (x1, y0), (x1, y1), (x0, y1)),), closed=True, id=ident)

    def heading(self, turn: int) -> int:
        """Return which way (index into the headings) the lay of a piece turned so points on paper."""
        return turn if not self.mirrored or turn % 2 == 0 else 4 - turn

    @property
    def bottom(self) -> float:
        """The y below the roll."""
        return self.top + self.view.source.width_nm * mm_per_nm(self.scale)

    def clip(self, rect: Rect) -> Rect | None:
        """Return the part of a rectangle in this row."""
        cut = clipped_rects((rect,), self.row.y0_nm, self.row.y1_nm)
        return cut[0] if cut else None


def drawn_row(frame: RowFrame) -> DrawnRow | None:
    """Return the row, or None if its running dimensions or labels do not fit side by side (the row is too long)."""
    chain = _chain(frame)
    if chain is None:
        return None
    areas = [_ground(frame), *_offcut_areas(frame), *_piece_areas(frame), _flaws(frame)]
    labels = [_piece_label(frame, piece) for piece in frame.view.placed]
    labels += [_offcut_label(frame, offcut) for offcut in frame.view.offcuts]
    labels += [_flaw_labels(frame), _lengthwise_labels(frame), _other_labels(frame)]
    callouts = _set_callouts(frame)
    if callouts is None:
        return None
    group, bottom = callouts
    marks = [_pattern(frame), _edges(frame)]
    shown = tuple(g for g in (*areas, *marks, chain, *labels, group) if g is not None and g.items)
    return DrawnRow(groups=shown, height_mm=bottom + 2.5)


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
    shown = shortened(text, BODY, frame.right - frame.left + GUTTER_MM - 45.0)
    items: list[Item] = [Label(role="text", text=shown, at=(frame.left - GUTTER_MM, y), size_mm=BODY, bold=False)]
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
    items: list[Item] = [frame.area("goods", Rect(0, row.y0_nm, source.width_nm, row.y1_nm))]
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
    return Group(role="goods", id=f"goods{frame.suffix}", items=tuple(items), title="goods; what is left blank is waste")


def _offcut_areas(frame: RowFrame) -> list[Group]:
    """Return the offcuts."""
    found = []
    for offcut in frame.view.offcuts:
        shown = frame.clip(offcut.rect)
        if shown:
            role = "offcut-shop" if offcut.use is OffcutUse.SHOP else "offcut-client"
            title = f"offcut {_offcut_size(frame, offcut)}, {offcut_fate(offcut)}"
            found.append(Group(role=f"offcut {role}", id=f"{_slug(offcut.id)}{frame.suffix}", title=title,
                               items=(frame.area(role, shown),)))  # fmt: skip
    return found


def _slug(text: str) -> str:
    """Return an element id for an offcut's id, which may hold anything."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else f"_{ord(c):x}" for c in text)
    return f"offcut-{plain}"


def _offcut_size(frame: RowFrame, offcut: Offcut) -> str:
    """Return the size of an offcut."""
    return size_text(offcut.rect.width_nm, offcut.rect.length_nm, frame.view.plan.job.unit)


def _piece_areas(frame: RowFrame) -> list[Group]:
    """Return the pieces' outlines, cut off where the row ends."""
    found = []
    for piece in frame.view.placed:
        rings = union_rings(clipped_rects(piece.rects, frame.row.y0_nm, frame.row.y1_nm))
        if rings:
            shape = Shape(role=piece.cut.kind.value, rings=tuple(map(frame.ring, rings)), closed=True,
                          piece=piece.cut.id)  # fmt: skip
            title = f"{piece.cut.number} {piece.name}, {piece.size}"
            suffix = "" if piece.cut.id in frame.mains else f"-part{frame.suffix}"
            found.append(Group(role=f"piece {piece.cut.kind.value}", id=f"piece-{piece.cut.number}{suffix}",
                               piece=piece.cut.id, title=title, items=(shape,)))  # fmt: skip
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
    shape = Shape(role="pattern", rings=tuple((frame.at(a), frame.at(b)) for a, b in lines))
    return Group(role="pattern", id=f"pattern{frame.suffix}", items=(shape,) if lines else ())


def _edges(frame: RowFrame) -> Group:
    """Return selvedges, the long edges, the ends or break marks, and the width of the roll."""
    view, row = frame.view, frame.row
    width, items = view.source.width_nm, list[Item]()
    low, high = row.y0_nm, row.y1_nm
    for x in (view.material.selvedge_nm, width - view.material.selvedge_nm) if view.material.selvedge_nm else ():
        items.append(Shape(role="selvedge", rings=((frame.at((x, low)), frame.at((x, high))),)))
    for x in (0, width):
        items.append(Shape(role="edge", rings=((frame.at((x, low)), frame.at((x, high))),)))
    for y, is_end in ((low, low == 0), (high, high == view.source.length_nm)):
        items.append(_end_line(frame.at((0, y))[0], frame.top, frame.bottom, is_end))
    x = frame.left - 2.5
    items.append(Shape(role="dimension", rings=(((x, frame.top), (x, frame.bottom)),
                                                ((x - 0.8, frame.top), (x + 0.8, frame.top)),
                                                ((x - 0.8, frame.bottom), (x + 0.8, frame.bottom)))))  # fmt: skip
    text = length_text(width, view.plan.job.unit)
    if text_width_mm(text, SMALL) > frame.bottom - frame.top:
        text = figure(width, view.plan.job.unit)
    middle = (frame.top + frame.bottom) / 2
    upright = text_width_mm(text, SMALL) <= frame.bottom - frame.top
    spot = (x - 1.0, middle) if upright else (x - 1.2, middle + 0.8)
    if not upright:
        text = shortened(text, SMALL, GUTTER_MM - 3.9)
    if text:
        label = Label(role="text", text=text, at=spot, size_mm=SMALL, anchor="middle" if upright else "end",
                      turned=90.0 if upright else 0.0)  # fmt: skip
        items.append(label)
        frame.taken.add((label,))
    return Group(role="edges", id=f"edges{frame.suffix}", items=tuple(items))


def _end_line(x: float, top: float, bottom: float, is_end: bool) -> Shape:
    """Return the roll's end, or a break mark where it goes on."""
    if is_end:
        return Shape(role="edge", rings=(((x, top), (x, bottom)),))
    middle = (top + bottom) / 2
    zigzag = ((x, top - 1.0), (x, middle - 1.6), (x - 1.2, middle - 0.6), (x + 1.2, middle + 0.6), (x, middle + 1.6),
              (x, bottom + 1.0))  # fmt: skip
    return Shape(role="break", rings=(zigzag,))


def _piece_label(frame: RowFrame, piece: PlacedCut) -> Group:
    """Return a piece's label inside it, or note a callout."""
    parts = clipped_rects(piece.rects, frame.row.y0_nm, frame.row.y1_nm)
    if not parts:
        return Group(role="label", items=())
    main = piece.cut.id in frame.mains
    way = frame.heading(piece.turn)
    caption = Caption(
        number=str(piece.cut.number),
        name=piece.name,
        size=piece.size if main else f"{piece.size} in all",
        heading=_HEADINGS[way],
        end=f"to {piece.end}" if piece.end else "",
        note=_less_trim(frame, piece) if main else "goes on over the break",
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
    text = f"{piece.cut.number} {piece.name} · {caption.size} {_ARROWS[way]}{note}"
    frame.callouts.append(Callout(text=text, box=frame.box(rooms[0]), piece=piece.cut.id))
    return Group(role="label", items=())


def _less_trim(frame: RowFrame, piece: PlacedCut) -> str:
    """Return a note on a drop that has less trim than usual."""
    if piece.cut.kind is not CutKind.DROP:
        return ""
    return "less trim" if any(a.given_nm < a.full_nm for a in piece.cut.allowances) else ""


def _offcut_label(frame: RowFrame, offcut: Offcut) -> Group:
    """Return an offcut's label inside it, or note a callout."""
    shown = frame.clip(offcut.rect)
    whole = frame.clip(offcut.rect) == offcut.rect
    if shown is None or (not whole and shown.length_nm * 2 < min(offcut.rect.length_nm, frame.row.length_nm)):
        return Group(role="label", items=())
    caption = Caption(number="", name=f"Offcut, {offcut_fate(offcut)}", size=_offcut_size(frame, offcut))
    items = fitted(caption, frame.box(shown), "")
    labels = [item for item in items or () if isinstance(item, Label)]
    if items and all(frame.taken.is_free(label, 0.0) for label in labels):
        frame.taken.add(labels)
        return Group(role="label", items=items)
    frame.callouts.append(Callout(text=f"{caption.name} · {caption.size}", box=frame.box(shown)))
    return Group(role="label", items=())


def _flaw_labels(frame: RowFrame) -> Group:
    """Note a callout per flaw: where it lies along and across."""
    unit = frame.view.plan.job.unit
    for flaw in frame.view.source.flaws:
        shown = frame.clip(flaw)
        if shown and (flaw.y0_nm >= frame.row.y0_nm or flaw.y1_nm > frame.row.y1_nm):
            text = (f"Flaw · along {figure(flaw.y0_nm, unit)} to {figure(flaw.y1_nm, unit)}"
                    f" · across {figure(flaw.x0_nm, unit)} to {figure(flaw.x1_nm, unit)}")  # fmt: skip
            frame.callouts.append(Callout(text=text, box=frame.box(shown)))
    return Group(role="label", items=())


def _lengthwise_labels(frame: RowFrame) -> Group:
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
    box = ((x0, y0 + rim), (x1, y0 + rim), (x1, y1 - rim), (x0, y1 - rim))
    return Shape(role="plate", rings=(box,), closed=True)


def _other_labels(frame: RowFrame) -> Group:
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


def _set_callouts(frame: RowFrame) -> tuple[Group, float] | None:
    """Return the callouts below the roll with their leaders, and the y below them; None if there are too many.

    From right to left: every label hangs to the right of its leader's foot, so a leader never crosses a label set
    before it, and a label only has to go below the leaders that it would cross.
    """
    items: list[Item] = []
    gap, pitch = 1.0, SMALL * LINE_HEIGHT + 0.5
    first, foot = frame.bottom + 4.2, frame.right
    lanes: list[float] = []  # how far right of the page's left a lane is free
    deepest = frame.bottom
    head_before = frame.right + gap
    for note in sorted(frame.callouts, key=lambda c: (-c.middle[0], -c.middle[1], c.text)):
        text = shortened(note.text, SMALL, 90.0)
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
        items += [Shape(role="leader", rings=(line,), piece=note.piece), Dot(role="dot", at=at, radius_mm=0.4)]
        label = Label(role="text", text=text, at=(foot + 0.6, y), size_mm=SMALL, piece=note.piece)
        items.append(label)
        frame.taken.add((label,))
        deepest = max(deepest, y)
    return Group(role="callouts", id=f"callouts{frame.suffix}", items=tuple(items)), deepest + 0.8


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
