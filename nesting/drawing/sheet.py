"""What every sheet carries: title, banner, scale bar, legend, notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

from nesting.domain.job import Unit
from nesting.drawing.metrics import composed, shortened, text_width_mm, wrapped
from nesting.drawing.scene import Dot, Group, Item, Label, Page, Shape
from nesting.drawing.style import LARGE, SMALL, TITLE

BANNER = "NOT BY THE RULES"
SCALES = (5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000)
_SWATCH = (6.0, 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One entry of a legend. `form`: area, line, arrow, cross, corner (a mark in it) or words (the text alone)."""

    role: str
    text: str
    form: str = "area"


def mm_per_nm(scale: int) -> float:
    """Return the millimetres on paper of one nanometre at 1 : scale."""
    return 1.0 / (1_000_000 * scale)


def moved(group: Group, dx: float, dy: float) -> Group:
    """Return a group moved on the paper."""
    return replace(group, items=tuple(_moved_item(item, dx, dy) for item in group.items))


def _moved_item(item: Item, dx: float, dy: float) -> Item:
    """Return an item moved on the paper."""
    if isinstance(item, Shape):
        return replace(item, rings=tuple(tuple((x + dx, y + dy) for x, y in ring) for ring in item.rings))
    return replace(item, at=(item.at[0] + dx, item.at[1] + dy))


def heading(page: Page, title: str, lines: Sequence[str], stamp: str, consents: Sequence[str]) -> tuple[Group, float]:
    """Return title, lines below it and a stamp at the right, and the y where the drawing may begin.

    With `consents` a banner says that the plan is not by the rules, and why.
    """
    left, right, y = page.margin_mm, page.width_mm - page.margin_mm, page.margin_mm
    items: list[Item] = []
    room = right - left
    if stamp:
        wide = text_width_mm(stamp, TITLE, bold=True) + 4.0
        items.append(Label(role="text", text=stamp, at=(right - wide / 2, y + 5.2), size_mm=TITLE, anchor="middle",
                           bold=True, id="stamp"))  # fmt: skip
        frame = ((right - wide, y), (right, y), (right, y + 7.0), (right - wide, y + 7.0))
        items.append(Shape(role="rule", rings=(frame,), closed=True))
        room -= wide + 4.0
    items.append(Label(role="text", text=shortened(composed(title), TITLE, room, bold=True), at=(left, y + 5.0),
                       size_mm=TITLE, bold=True, id="title"))  # fmt: skip
    y += 7.0
    for line in lines:
        for part in wrapped(composed(line), LARGE, right - left if y > page.margin_mm + 7.5 else room)[:2]:
            items.append(Label(role="text", text=part, at=(left, y + 3.4), size_mm=LARGE))
            y += 4.6
    y += 0.8
    items.append(Shape(role="rule", rings=(((left, y), (right, y)),)))
    if consents:
        y = _banner(items, page, consents, y + 1.0)
    return Group(role="heading", id="heading", items=tuple(items)), y + 1.5


def _banner(items: list[Item], page: Page, consents: Sequence[str], y: float) -> float:
    """Add the banner and the reasons, and return the y below it."""
    left, right = page.margin_mm, page.width_mm - page.margin_mm
    box = ((left, y), (right, y), (right, y + 8.0), (left, y + 8.0))
    items.append(Shape(role="banner", rings=(box,), closed=True, id="banner"))
    text = f"{BANNER}: needs consent before anything is ordered or cut"
    size = TITLE if text_width_mm(text, TITLE, bold=True) <= right - left - 4 else LARGE
    items.append(Label(role="banner-text", text=text, at=((left + right) / 2, y + 5.6), size_mm=size, anchor="middle",
                       bold=True))  # fmt: skip
    y += 8.5
    lines = [part for text in consents for part in wrapped(composed(text), SMALL, right - left)]
    for line in lines[:4]:
        items.append(Label(role="text", text=line, at=(left, y + 2.8), size_mm=SMALL))
        y += 3.6
    return y


def footer(page: Page, keys: Sequence[Key], notes: Sequence[str], scale: int, unit: Unit) -> tuple[Group, float]:
    """Return notes, scale bar and legend at the foot of the sheet, and the y where the drawing must end."""
    left, right = page.margin_mm, page.width_mm - page.margin_mm
    bar, bar_width = _scale_bar(left, scale, unit)
    room = right - left - bar_width - 8.0
    keys = [replace(key, text=shortened(key.text, SMALL, room - _SWATCH[0] - 1.2)) for key in keys]
    rows = _set_keys(keys, room)
    text = [part for note in notes for part in wrapped(composed(note), SMALL, right - left)]
    if len(text) > 8:
        text = [*text[:7], f"… and {len(text) - 7} lines more in the list of notices"]
    height = 3.6 * len(text) + (0.6 if text else 0.0) + max(8.0, 4.4 * len(rows)) + 2.0
    y = page.height_mm - page.margin_mm - height
    items: list[Item] = [Shape(role="rule", rings=(((left, y), (right, y)),))]
    y += 1.0
    for line in text:
        items.append(Label(role="text", text=line, at=(left, y + 2.8), size_mm=SMALL))
        y += 3.6
    y += 0.6 if text else 0.0
    items += [_moved_item(item, 0.0, y + 1.0) for item in bar]
    start = left + bar_width + 8.0
    for row in rows:
        for key, at in row:
            items += _key(key, start + at, y + 0.8)
        y += 4.4
    return Group(role="legend", id="legend", items=tuple(items)), page.height_mm - page.margin_mm - height - 1.0


def _key_width(key: Key) -> float:
    """Return the width of a legend entry with the gap after it."""
    swatch = 0.0 if key.form == "words" else _SWATCH[0] + 1.2
    return swatch + text_width_mm(key.text, SMALL) + 4.0


def _set_keys(keys: Sequence[Key], room: float) -> list[list[tuple[Key, float]]]:
    """Return the entries of a legend row by row, each with its place from the left.

    In columns, sentences (long entries of words alone) below them, if that takes no more rows than one after the other.
    """
    flowed = _flowed(keys, room)
    sentences = [key for key in keys if key.form == "words" and _key_width(key) > room / 3]
    rest = [key for key in keys if key not in sentences]
    for high in range(1, len(flowed) - len(sentences) + 1):
        columns = [rest[k : k + high] for k in range(0, len(rest), high)]
        places = [0.0, *accumulate(max(map(_key_width, column)) for column in columns)]
        if places[-1] - 4.0 <= room:
            rows = [[(c[k], at) for c, at in zip(columns, places, strict=False) if k < len(c)] for k in range(high)]
            return [*rows, *([(key, 0.0)] for key in sentences)]
    return flowed


def _flowed(keys: Sequence[Key], room: float) -> list[list[tuple[Key, float]]]:
    """Return the entries one after the other, row by row, each with its place from the left."""
    rows: list[list[tuple[Key, float]]] = [[]]
    used = 0.0
    for key in keys:
        if rows[-1] and used + _key_width(key) - 4.0 > room:
            rows.append([])
            used = 0.0
        rows[-1].append((key, used))
        used += _key_width(key)
    return rows


def _key(key: Key, x: float, y: float) -> list[Item]:
    """Return one legend entry."""
    wide, high = _SWATCH
    middle = y + high / 2
    items: list[Item] = []
    if key.form == "area":
        box = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        items.append(Shape(role=key.role, rings=(box,), closed=True))
    elif key.form == "corner":
        box = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        items.append(Shape(role=key.role, rings=(((x, y), (x + 2.4, y), (x, y + 2.4)),), closed=True))
        items.append(Shape(role="rule", rings=(box,), closed=True))
    elif key.form == "line":
        items.append(Shape(role=key.role, rings=(((x, middle), (x + wide, middle)),)))
    elif key.form == "cross":
        items += cross((x + wide / 2, middle), 1.4)
    elif key.form == "arrow":
        items.append(Shape(role="arrow", rings=(((x, middle), (x + wide - 1.8, middle)),)))
        tip = ((x + wide, middle), (x + wide - 2.0, middle - 0.8), (x + wide - 2.0, middle + 0.8))
        items.append(Shape(role="arrow-head", rings=(tip,), closed=True))
    start = x if key.form == "words" else x + wide + 1.2
    items.append(Label(role="text", text=key.text, at=(start, middle + 0.85), size_mm=SMALL))
    return items


def cross(at: tuple[float, float], arm_mm: float) -> list[Item]:
    """Return a pattern mark."""
    x, y = at
    return [
        Shape(role="mark", rings=(((x - arm_mm, y), (x + arm_mm, y)), ((x, y - arm_mm), (x, y + arm_mm)))),
        Dot(role="dot", at=at, radius_mm=0.35),
    ]


def _scale_bar(left: float, scale: int, unit: Unit) -> tuple[list[Item], float]:
    """Return a scale bar at y = 0 of four parts, 25 to 60 mm long, and its width with its texts."""
    imperial = unit in (Unit.INCH, Unit.FOOT)
    unit_nm = 304_800_000 if imperial else 1_000_000_000
    nice = (Fraction(1, 20), Fraction(1, 10), Fraction(1, 4), Fraction(1, 2), 1, 2, 4, 5, 10, 20, 40, 50, 100, 200)
    whole = next((n for n in nice if float(n) * unit_nm * mm_per_nm(scale) >= 25.0), nice[-1])
    length = float(whole) * unit_nm * mm_per_nm(scale)
    items: list[Item] = []
    for k in range(4):
        x0, x1 = left + length * k / 4, left + length * (k + 1) / 4
        role = "scale-dark" if k % 2 == 0 else "scale-light"
        items.append(Shape(role=role, rings=(((x0, 3.4), (x1, 3.4), (x1, 4.8), (x0, 4.8)),), closed=True))
    name = "ft" if imperial else "m"
    end = f"{float(whole):g} {name}"
    items.append(Label(role="text", text="0", at=(left, 2.6), size_mm=SMALL))
    items.append(Label(role="text", text=end, at=(left + length, 2.6), size_mm=SMALL, anchor="middle"))
    ratio = f"1 : {scale}"
    at = left + length + max(2.0, text_width_mm(end, SMALL) / 2 + 1.0)
    items.append(Label(role="text", text=ratio, at=(at, 4.9), size_mm=SMALL))
    return items, at - left + text_width_mm(ratio, SMALL)
