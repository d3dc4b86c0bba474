"""A chart of seams against roll: what is ordered as steps, the bound below it, the hand method as a mark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, floor, log10

from nesting.drawing.labels import Taken, first_free
from nesting.drawing.metrics import composed, shortened, text_width_mm
from nesting.drawing.scene import EITHER, Dot, Group, Item, Label, Page, Scene, Shape, Spot
from nesting.drawing.sheet import heading
from nesting.drawing.style import SMALL

DOT_MM, HAND_MM, CHOSEN_MM = 0.9, 1.5, 2.1
KEYS_MM = 5.0
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A plan on the chart: its seams, what it orders in the unit of the axis, and the same in words."""

    seams: int
    amount: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontChart:
    """What is drawn. `bounds`: (seams, what no plan with at most so many orders less than), seams rising by one.

    `rows`: seams rising, amounts falling; the last one's amount and `least`, what no plan at all orders less than,
    run on to the right edge. `unseen`: runs (first, last) of numbers of seams that were not looked at.
    `axis`: what the amounts are, with their unit. `chosen`: the plan that the chart stands beside, ringed.
    """

    title: str
    lines: tuple[str, ...]
    axis: str
    rows: tuple[Mark, ...]
    bounds: tuple[tuple[int, float], ...]
    least: float
    by_hand: Mark | None = None
    unseen: tuple[tuple[int, int], ...] = ()
    chosen: Mark | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """Where the axes lie on paper, and what they begin and end at."""

    left: float
    top: float
    right: float
    bottom: float
    first: float
    last: float
    low: float
    high: float

    def at(self, seams: float, amount: float) -> Spot:
        x = self.left + (self.right - self.left) * (seams - self.first) / (self.last - self.first)
        y = self.bottom - (self.bottom - self.top) * (amount - self.low) / (self.high - self.low)
        return x, y


def front_scene(chart: FrontChart, page: Page = EITHER) -> Scene:
    """Return the chart on one sheet."""
    chart = _tidy(chart)
    head, top = heading(page, chart.title, chart.lines, "", ())
    step = _tick_step(chart)
    frame = _frame(chart, page, top, step)
    taken = Taken((page.margin_mm, top, page.width_mm - page.margin_mm, page.height_mm - page.margin_mm))
    axes = _axes(chart, frame, step)
    taken.add(item for item in axes.items if isinstance(item, Label))
    steps, floor_line = _steps(chart, frame.last), _bound_steps(chart, frame.last)
    drawn = (
        _between(frame, steps, floor_line),
        Group(
            role="front-unseen", id="not-looked-at", items=tuple(_unseen(chart, frame)), title="numbers not looked at"
        ),
        _line(frame, steps, "front-step", "front", "the least found with at most so many seams"),
        _line(frame, floor_line, "front-bound", "bound", "no plan with so many seams orders less"),
    )
    for item in axes.items:
        if isinstance(item, Shape):
            taken.add_thin_line(*item.rings[0])
    for line in (steps, floor_line):
        taken.add_line(*(frame.at(*point) for point in line))
    marks = [_mark(row, frame, f"row-{row.seams}") for row in chart.rows]
    if chart.by_hand is not None:
        marks.append(_hand(chart.by_hand, frame))
    if chart.chosen is not None:
        marks.append(_chosen(chart.chosen, frame))
    for group in marks:
        for item in group.items:
            if isinstance(item, Dot):
                taken.add_area(_box(item.at, item.radius_mm + 0.2))
    return Scene(
        page=page,
        title=chart.title,
        description=f"{len(chart.rows)} plans that no other beats: {'; '.join(_said(row) for row in chart.rows)}",
        groups=(head, axes, *drawn, *marks, _labels(chart, frame, taken), _legend(chart, page)),
    )


def _tidy(chart: FrontChart) -> FrontChart:
    """Return the chart with every text as one line that may stand on a sheet."""

    def tidy(mark: Mark) -> Mark:
        return replace(mark, text=composed(mark.text))

    return replace(
        chart,
        title=composed(chart.title),
        lines=tuple(map(composed, chart.lines)),
        axis=composed(chart.axis),
        rows=tuple(map(tidy, chart.rows)),
        by_hand=chart.by_hand and tidy(chart.by_hand),
        chosen=chart.chosen and tidy(chart.chosen),
    )


def _said(row: Mark) -> str:
    return f"{row.seams} seam{'s' if row.seams != 1 else ''}, {row.text}"


def _amounts(chart: FrontChart) -> list[float]:
    beside = [mark.amount for mark in (chart.by_hand, chart.chosen) if mark is not None]
    return [*(row.amount for row in chart.rows), *(amount for _, amount in chart.bounds), chart.least, *beside]


def _tick_step(chart: FrontChart) -> float:
    """Return a round step of the amounts that gives four to ten ticks."""
    span = max(_amounts(chart)) - min(_amounts(chart)) or max(_amounts(chart)) / 10 or 1.0
    power = 10.0 ** floor(log10(span / 6))
    return next(step * power for step in STEPS if span / (step * power) <= 7)


def _frame(chart: FrontChart, page: Page, top: float, step: float) -> _Frame:
    amounts = _amounts(chart)
    low, high = (ceil(min(amounts) / step) - 1) * step, (floor(max(amounts) / step) + 1) * step
    beside = [mark.seams for mark in (chart.by_hand, chart.chosen) if mark is not None]
    seams = [*(row.seams for row in chart.rows), *beside]
    return _Frame(
        left=page.margin_mm + 18.0,
        top=top + 6.0,
        right=page.width_mm - page.margin_mm - 4.0,
        bottom=page.height_mm - page.margin_mm - 2 * KEYS_MM - 12.0,
        first=min(seams) - 0.6,
        last=max(seams) + 1.6,
        low=max(0.0, low),
        high=high,
    )


def _axes(chart: FrontChart, frame: _Frame, step: float) -> Group:
    """Return the axes with their figures; the one upwards does not begin at nothing, and says so."""
    corner, end, up = (frame.left, frame.bottom), (frame.right, frame.bottom), (frame.left, frame.top - 2.0)
    items: list[Item] = [Shape(role="rule", rings=((up, corner, end),))]
    for number in range(round((frame.high - frame.low) / step) + 1):
        amount = frame.low + number * step
        y = frame.at(0, amount)[1]
        items.append(Shape(role="front-grid", rings=(((frame.left, y), (frame.right, y)),)))
        text = f"{amount:.3f}".rstrip("0").rstrip(".")
        items.append(Label(role="text", text=text, at=(frame.left - 2.0, y + 0.9), size_mm=SMALL, anchor="end"))
    every = max(1, ceil((frame.last - frame.first) * (text_width_mm("000", SMALL) + 2.0) / (frame.right - frame.left)))
    for seams in range(max(0, ceil(frame.first)), floor(frame.last) + 1):
        x = frame.at(seams, frame.low)[0]
        items.append(Shape(role="rule", rings=(((x, frame.bottom), (x, frame.bottom + 1.2)),)))
        if seams % every == 0:
            items.append(
                Label(role="text", text=str(seams), at=(x, frame.bottom + 4.6), size_mm=SMALL, anchor="middle")
            )
    begins = "" if frame.low == 0 else ", not from 0"
    axis = shortened(chart.axis, SMALL, frame.right - frame.left - text_width_mm(begins, SMALL)) + begins
    items.append(Label(role="text", text=axis, at=(frame.left - 18.0, frame.top - 4.0), size_mm=SMALL))
    items.append(
        Label(
            role="text",
            text="seams, cross seams, relief cuts and joins: at most",
            at=(frame.right, frame.bottom + 9.0),
            size_mm=SMALL,
            anchor="end",
        )
    )
    return Group(role="front-axes", id="axes", items=tuple(items))


def _steps(chart: FrontChart, last: float) -> list[tuple[float, float]]:
    """Return the corners of what is ordered with at most so many seams, (seams, amount)."""
    corners: list[tuple[float, float]] = [(chart.rows[0].seams, chart.rows[0].amount)]
    for before, row in pairwise(chart.rows):
        corners += [(row.seams, before.amount), (row.seams, row.amount)]
    return [*corners, (last, chart.rows[-1].amount)]


def _bound_steps(chart: FrontChart, last: float) -> list[tuple[float, float]]:
    """Return the corners of the bound: what holds with at most so many seams holds until there is one more."""
    corners: list[tuple[float, float]] = [chart.bounds[0]]
    for (_, before), (seams, amount) in pairwise((*chart.bounds, (chart.bounds[-1][0] + 1, chart.least))):
        corners += [(seams, before), (seams, amount)]
    return [*corners, (last, chart.least)]


def _line(frame: _Frame, corners: Sequence[tuple[float, float]], role: str, ident: str, title: str) -> Group:
    ring = tuple(frame.at(*corner) for corner in corners)
    return Group(role=role, id=ident, title=title, items=(Shape(role=role, rings=(ring,)),))


def _between(frame: _Frame, steps: Sequence[tuple[float, float]], bound: Sequence[tuple[float, float]]) -> Group:
    """Return the area in which better plans may still lie."""
    ring = (*(frame.at(*corner) for corner in steps), *(frame.at(*corner) for corner in reversed(bound)))
    shape = Shape(role="front-gap", rings=(ring,), closed=True)
    return Group(role="front-gap", id="gap", title="better plans may lie here", items=(shape,))


def _unseen(chart: FrontChart, frame: _Frame) -> Iterator[Shape]:
    """Yield a bar on the axis under every run of numbers of seams that was not looked at."""
    for first, last in chart.unseen:
        (x0, y), (x1, _) = frame.at(first - 0.3, frame.low), frame.at(last + 0.3, frame.low)
        yield Shape(role="front-unseen", rings=(((x0, y - 1.6), (x1, y - 1.6), (x1, y), (x0, y)),), closed=True)


def _mark(row: Mark, frame: _Frame, ident: str) -> Group:
    dot = Dot(role="front-plan", at=frame.at(row.seams, row.amount), radius_mm=DOT_MM)
    return Group(role="front-plan", id=ident, title=_said(row), items=(dot,))


def _hand(hand: Mark, frame: _Frame) -> Group:
    dot = Dot(role="front-hand", at=frame.at(hand.seams, hand.amount), radius_mm=HAND_MM)
    return Group(role="front-hand", id="by-hand", title=f"by hand: {_said(hand)}", items=(dot,))


def _chosen(chosen: Mark, frame: _Frame) -> Group:
    dot = Dot(role="front-chosen", at=frame.at(chosen.seams, chosen.amount), radius_mm=CHOSEN_MM)
    return Group(role="front-chosen", id="chosen", title=f"this plan: {_said(chosen)}", items=(dot,))


def _box(at: Spot, half: float) -> tuple[Spot, ...]:
    (x, y), h = at, half
    return ((x - h, y - h), (x + h, y - h), (x + h, y + h), (x - h, y + h))


def _labels(chart: FrontChart, frame: _Frame, taken: Taken) -> Group:
    """Return the amounts beside their marks, each where it is free of lines and of the others; else it is left out."""
    found: list[Label] = []
    marks = [(row, row.text, DOT_MM) for row in chart.rows]
    if chart.chosen is not None:
        spot = (chart.chosen.seams, chart.chosen.amount)
        marks = [mark for mark in marks if (mark[0].seams, mark[0].amount) != spot]
        marks.insert(0, (chart.chosen, f"this plan {chart.chosen.text}", CHOSEN_MM))
    if chart.by_hand is not None:
        marks.insert(0, (chart.by_hand, f"by hand {chart.by_hand.text}", HAND_MM))
    # The ends and the hand method first: between them a label may find no room.
    marks.sort(key=lambda mark: mark[0] not in (chart.rows[0], chart.rows[-1], chart.by_hand, chart.chosen))
    for mark, text, radius in marks:
        places = tuple(_places(text, frame.at(mark.seams, mark.amount), radius))
        label = first_free(taken, places) or first_free(taken, places, on_thin=True)
        if label is not None:
            found.append(label)
    return Group(role="front-labels", id="labels", items=tuple(found))


def _places(text: str, at: Spot, radius: float) -> Iterator[Label]:
    """Yield places for a label: above its mark, to the right of it first."""
    x, y = at
    near = radius + 0.6
    for away in (0.0, 3.6, 7.2):
        yield Label(role="text", text=text, at=(x + near, y - near - away), size_mm=SMALL)
        yield Label(role="text", text=text, at=(x, y - near - away - 0.4), size_mm=SMALL, anchor="middle")
        yield Label(role="text", text=text, at=(x - near, y + near + 1.6 + away), size_mm=SMALL, anchor="end")
        yield Label(role="text", text=text, at=(x - near, y - near - away), size_mm=SMALL, anchor="end")


def _legend(chart: FrontChart, page: Page) -> Group:
    """Return what the lines and marks mean."""
    keys = [
        ("front-plan", "a plan that no other beats"),
        ("front-step", "the least found with at most so many seams"),
        ("front-bound", "no plan with so many seams orders less"),
        ("front-gap", "better plans may lie here"),
    ]
    keys += [] if chart.by_hand is None else [("front-hand", "by hand")]
    keys += [] if chart.chosen is None else [("front-chosen", "this plan")]
    keys += [] if not chart.unseen else [("front-unseen", "not looked at")]
    x, y = page.margin_mm, page.height_mm - page.margin_mm - 2 * KEYS_MM
    items: list[Item] = [Shape(role="rule", rings=(((x, y), (page.width_mm - page.margin_mm, y)),))]
    y += 3.0
    for role, text in keys:
        wide = 8.5 + text_width_mm(text, SMALL) + 4.0
        if x + wide > page.width_mm - page.margin_mm:
            x, y = page.margin_mm, y + KEYS_MM
        items.append(_swatch(role, x, y))
        items.append(Label(role="text", text=text, at=(x + 8.5, y + 0.9), size_mm=SMALL))
        x += wide
    return Group(role="legend", id="legend", items=tuple(items))


def _swatch(role: str, x: float, y: float) -> Item:
    radii = {"front-plan": DOT_MM, "front-hand": HAND_MM, "front-chosen": CHOSEN_MM}
    if role in radii:
        return Dot(role=role, at=(x + 3.5, y), radius_mm=radii[role])
    if role in ("front-step", "front-bound"):
        return Shape(role=role, rings=(((x, y), (x + 7.0, y)),))
    box = ((x, y - 1.4), (x + 7.0, y - 1.4), (x + 7.0, y + 1.4), (x, y + 1.4))
    return Shape(role=role, rings=(box,), closed=True)
