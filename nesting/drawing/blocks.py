"""Label blocks: a few lines of text and an arrow that fit into a box, or do not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.drawing.flags import flagged
from nesting.drawing.metrics import LINE_HEIGHT, shortened, text_width_mm, wrapped
from nesting.drawing.scene import Item, Label, Shape, Spot
from nesting.drawing.style import LARGE, SMALL, TITLE

_RIM = 0.8
"""Clear space between a block and the sides of its box, mm."""

_MOST_LINES = 3
"""A name is broken into no more lines than these."""

_SHORTEST_NAME = 5
"""A name is not cut down to fewer characters than these, ellipsis included."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a block: text, then an arrow of `arrow_mm` length (0: none), then `after`."""

    text: str = ""
    size_mm: float = SMALL
    bold: bool = False
    arrow_mm: float = 0.0
    after: str = ""
    tall_mm: float = 0.0  # the line is at least so high: an arrow that stands upright in it

    @property
    def width_mm(self) -> float:
        """Width of all that stands on the line."""
        parts = [text_width_mm(t, self.size_mm, bold=self.bold) for t in (self.text, self.after) if t]
        parts += [self.arrow_mm] if self.arrow_mm else []
        return sum(parts) + 1.0 * (len(parts) - 1)

    @property
    def height_mm(self) -> float:
        """Height of the line."""
        return max(self.size_mm * LINE_HEIGHT, self.tall_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """What a piece's label says. `heading`: where the arrow points on paper, a unit vector (x right, y down)."""

    number: str
    name: str
    size: str
    heading: Spot | None = None
    end: str = ""  # what lies at the arrow's end in the room
    note: str = ""
    keep_name: bool = False  # the name says what must not be lost: never shortened
    flag: str = ""  # CUT, LAID, NEW: stands beside the number in every form


Box = tuple[float, float, float, float]
"""(x0, y0, x1, y1) on paper, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """One way to set a caption: its lines, and whether they read upwards."""

    lines: tuple[Line, ...]
    upright: bool = False

    @property
    def extent(self) -> Spot:
        """Width and height on paper with the clear space round it."""
        wide = max(line.width_mm for line in self.lines) + 2 * _RIM
        high = sum(line.height_mm for line in self.lines) + 2 * _RIM
        return (high, wide) if self.upright else (wide, high)


def fitted(caption: Caption, box: Box, piece: str) -> tuple[Item, ...] | None:
    """Return the fullest form of `caption` that fits into `box`, centred; None if none does."""
    for form in forms(caption, (box[2] - box[0], box[3] - box[1])):
        wide, high = form.extent
        if wide <= box[2] - box[0] and high <= box[3] - box[1]:
            return set_form(form, ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), caption.heading, piece)
    return None


def forms(caption: Caption, room: Spot) -> Iterator[Form]:
    """Give the forms of a caption from the fullest to the scantest; `room`: width and height that names are cut to."""
    title = flagged(f"{caption.number} {caption.name}".strip(), caption.flag)
    head = flagged(caption.number, caption.flag)
    note = (Line(text=caption.note, size_mm=SMALL),) if caption.note else ()
    size = (Line(text=caption.size, size_mm=LARGE),) if caption.size else ()
    number = (Line(text=head, size_mm=TITLE, bold=True),) if head else ()
    name = (Line(text=caption.name, size_mm=LARGE),) if caption.name else ()
    two = (Line(text=title, size_mm=LARGE, bold=True), *size)
    short = 4.5 if caption.heading else 0.0
    under = (Line(text=caption.size, arrow_mm=short),) if caption.size or short else ()
    small = (Line(text=title, bold=True), *under, *note)
    yield Form(lines=(*number, *name, *size, *_arrow_line(caption, caption.end), *note))
    broken = _broken_name(caption, room[0] - 2 * _RIM)
    if broken:
        yield Form(lines=(*number, *broken, *size, *_arrow_line(caption, caption.end), *note))
    yield Form(lines=(*two, *_arrow_line(caption, caption.end), *note))
    yield Form(lines=(*two, *_arrow_line(caption, ""), *note))
    yield Form(lines=small)
    yield Form(lines=(*two, *_arrow_line(caption, "", upright=True), *note), upright=True)
    yield Form(lines=small, upright=True)
    plain = (Line(text=caption.size),) if caption.size else ()
    if number and name:
        stacked = (Line(text=head, bold=True), Line(text=caption.name), *plain)
        yield Form(lines=(*stacked, *_arrow_line(caption, ""), *note))
        yield Form(lines=(*stacked, *_arrow_line(caption, "", upright=True), *note), upright=True)
    width, times, long = caption.size.partition(" × ")
    if number and times:
        narrow = (Line(text=head, size_mm=LARGE, bold=True), *((Line(text=caption.name),) if caption.name else ()))
        sides = (Line(text=width + times.rstrip()), Line(text=long))
        yield Form(lines=(*narrow, *sides, *_arrow_line(caption, ""), *note))
    tail = " · ".join(part for part in (title, caption.size, caption.note) if part)
    for upright in (False, True):
        yield Form(lines=(Line(text=tail, size_mm=SMALL, arrow_mm=short),), upright=upright)
    for upright in () if caption.keep_name else (False, True):
        kept = flagged(f"{caption.number} ", caption.flag)
        length = room[1 if upright else 0] - 2 * _RIM - text_width_mm(kept, SMALL, bold=True)
        cut = shortened(caption.name, SMALL, length, bold=True)
        if len(cut) >= min(_SHORTEST_NAME, len(caption.name)):
            words = flagged(f"{caption.number} {cut}".strip(), caption.flag)
            yield Form(lines=(Line(text=words, bold=True), *small[1:]), upright=upright)


def _broken_name(caption: Caption, room_mm: float) -> tuple[Line, ...]:
    """Return a long name on two or three lines, the last one shortened; () if that says too little or too much."""
    lines = wrapped(caption.name, LARGE, room_mm)
    if len(lines) > _MOST_LINES:
        lines = [*lines[: _MOST_LINES - 1], shortened(" ".join(lines[_MOST_LINES - 1 :]) + " …", LARGE, room_mm)]
    whole = " ".join(lines) == caption.name
    enough = all(len(line) >= _SHORTEST_NAME or line in caption.name for line in lines)
    if lines == [caption.name] or not all(lines) or not enough or (caption.keep_name and not whole):
        return ()
    return tuple(Line(text=line, size_mm=LARGE) for line in lines)


def _arrow_line(caption: Caption, end: str, *, upright: bool = False) -> tuple[Line, ...]:
    """Return the line with the arrow, none if the caption has none; high enough if the arrow stands up in it."""
    if caption.heading is None:
        return ()
    along = abs(caption.heading[1 if upright else 0])
    if along > 0.9:
        return (Line(arrow_mm=8.0, size_mm=SMALL, after=end),)
    slot = 2.2 if along < 0.1 else 6.0
    return (Line(arrow_mm=slot, size_mm=SMALL, after=end, tall_mm=6.0),)


def set_form(form: Form, middle: Spot, heading: Spot | None, piece: str) -> tuple[Item, ...]:
    """Return the items of a form set round `middle`."""
    items: list[Item] = []
    down = -sum(line.height_mm for line in form.lines) / 2
    turned = 90.0 if form.upright else 0.0
    for line in form.lines:
        centre = down + line.height_mm / 2
        base = centre + 0.28 * line.size_mm * LINE_HEIGHT
        down += line.height_mm
        if not line.arrow_mm or not heading:  # set from its middle: the estimate of its width does not show
            items.append(Label(role="text", text=line.text, at=_page(middle, (0.0, base), form.upright),
                               size_mm=line.size_mm, anchor="middle", bold=line.bold, turned=turned,
                               piece=piece))  # fmt: skip
            continue
        at = -line.width_mm / 2
        if line.text:
            items.append(Label(role="text", text=line.text, at=_page(middle, (at, base), form.upright),
                               size_mm=line.size_mm, bold=line.bold, turned=turned, piece=piece))  # fmt: skip
            at += text_width_mm(line.text, line.size_mm, bold=line.bold) + 1.0
        spot = _page(middle, (at + line.arrow_mm / 2, centre), form.upright)
        items += arrow(spot, heading, line.arrow_mm, line.height_mm, piece, upright=form.upright)
        if line.after:
            items.append(Label(role="text", text=line.after, at=_page(middle, (at + line.arrow_mm + 1.0, base),
                               form.upright), size_mm=line.size_mm, turned=turned, piece=piece))  # fmt: skip
    return tuple(items)


def _page(middle: Spot, local: Spot, upright: bool) -> Spot:
    """Return the place on paper of a place in a block (right, down from its middle)."""
    if upright:
        return (middle[0] + local[1], middle[1] - local[0])
    return (middle[0] + local[0], middle[1] + local[1])


def arrow(centre: Spot, heading: Spot, length_mm: float, across_mm: float, piece: str = "", *,
          upright: bool = False) -> list[Item]:  # fmt: skip
    """Return an arrow within a slot of `length_mm` along the text and `across_mm` square to it."""
    along = abs(heading[1]) if upright else abs(heading[0])
    square = abs(heading[0]) if upright else abs(heading[1])
    reach = min(length_mm / along if along > 1e-6 else 99.0, across_mm / square if square > 1e-6 else 99.0, 8.0) / 2
    head = min(2.0, 0.8 * reach)
    half = 0.4 * head
    hx, hy = heading
    tip = (centre[0] + hx * reach, centre[1] + hy * reach)
    tail = (centre[0] - hx * reach, centre[1] - hy * reach)
    neck = (tip[0] - hx * head, tip[1] - hy * head)
    wings = ((neck[0] - hy * half, neck[1] + hx * half), (neck[0] + hy * half, neck[1] - hx * half))
    return [
        Shape(role="arrow", rings=((tail, neck),), piece=piece),
        Shape(role="arrow-head", rings=((tip, *wings),), closed=True, piece=piece),
    ]
