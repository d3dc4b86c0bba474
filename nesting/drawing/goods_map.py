"""A map of where one roll or remnant goes: its pieces, and what is empty hatched by its reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.domain.geometry import Rect
from nesting.domain.job import Unit
from nesting.drawing.blocks import Box, Caption, fitted
from nesting.drawing.callouts import Below, Callout, crossed, set_callouts
from nesting.drawing.labels import Taken
from nesting.drawing.metrics import clean, composed, text_width_mm
from nesting.drawing.outline import clipped_rects, inner_rects, outside, union_rings
from nesting.drawing.scene import EITHER, Group, Item, Label, Page, Polygon, Scene, Shape, Spot
from nesting.drawing.sheet import SCALES, Key, footer, heading, mm_per_nm
from nesting.drawing.style import SMALL
from nesting.units import format_length

ABOVE_MM, GAP_MM = 4.0, 2.0  # of a row: for the figures above it, and below it
FINER = 1.7


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPiece:
    """A piece on the goods: its number, and what it is, read out and shown on hovering."""

    number: str
    name: str
    rects: tuple[Rect, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MapArea:
    """What is empty for one reason; `role` says how it is hatched, `text` stands in the legend."""

    role: str
    text: str
    rects: tuple[Rect, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodsMap:
    """What is drawn, in the roll frame. `pieces_text`: of all pieces, in the legend; `kept`: the offcuts.

    `gone`: what is not there any more.
    """

    title: str
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    unit: Unit
    width_nm: int
    length_nm: int
    pieces: tuple[MapPiece, ...]
    pieces_text: str
    areas: tuple[MapArea, ...]
    kept: tuple[Rect, ...]
    gone: tuple[Rect, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A stretch of the roll on paper: the start at the left, the left edge above."""

    left: float
    top: float
    y0_nm: int
    y1_nm: int
    per_nm: float
    bottom: float  # of the goods, then of the callouts below them
    labels: tuple[Group, ...] = ()

    def at(self, point: tuple[int, int]) -> Spot:
        return self.left + (point[1] - self.y0_nm) * self.per_nm, self.top + point[0] * self.per_nm

    def box(self, rect: Rect) -> Box:
        """Return a rectangle on paper as (x0, y0, x1, y1)."""
        return (*self.at((rect.x0_nm, rect.y0_nm)), *self.at((rect.x1_nm, rect.y1_nm)))

    def rings(self, rects: Sequence[Rect]) -> tuple[Polygon, ...]:
        """Return what lies of rectangles on the row as rings on paper."""
        here = clipped_rects(tuple(rects), self.y0_nm, self.y1_nm)
        return tuple(tuple(self.at(point) for point in ring) for ring in union_rings(here)) if here else ()


def goods_scene(goods: GoodsMap, page: Page = EITHER) -> Scene:
    """Return the map on one sheet, in as many rows as show it largest."""
    goods = _tidy(goods)
    head, top = heading(page, goods.title, goods.lines, "", ())
    keys = [Key(role="drop", text=goods.pieces_text), *(Key(role=area.role, text=area.text) for area in goods.areas)]
    keys += [Key(role="kept", text="kept as an offcut")] if goods.kept else []
    keys += [Key(role="gone", text="gone: cut away before")] if goods.gone else []
    fitting: list[tuple[int, int, list[_Row], Group]] = []  # rows, scale
    for scale in SCALES:
        foot, bottom = footer(page, keys, goods.notes, scale, goods.unit)
        rows = _rows(goods, page, top, scale, bottom)
        if rows[-1].bottom + GAP_MM <= bottom and (not fitting or scale <= FINER * fitting[0][1]):
            fitting.append((len(rows), scale, rows, foot))
    if fitting:  # in few rows, if that makes it no smaller by more than so much
        _, _, rows, foot = min(fitting, key=lambda fit: fit[:2])
    labels = [group for row in rows for group in row.labels]
    return Scene(
        page=page,
        title=goods.title,
        description="; ".join([goods.pieces_text, *(area.text for area in goods.areas)]),
        groups=(head, *_gone(goods, rows), *_areas(goods, rows), *_pieces(goods, rows), *_outlines(goods, rows),
                *labels, foot),
    )  # fmt: skip


def _tidy(goods: GoodsMap) -> GoodsMap:
    """Return the map with every text as one line that may stand on a sheet."""
    return replace(
        goods,
        title=composed(goods.title),
        pieces=tuple(replace(piece, name=clean(piece.name)) for piece in goods.pieces),
        pieces_text=composed(goods.pieces_text),
        areas=tuple(replace(area, text=composed(area.text)) for area in goods.areas),
    )


def _rows(goods: GoodsMap, page: Page, top: float, scale: int, lowest: float) -> list[_Row]:
    """Return the roll in rows as long as the sheet is wide, at a scale; below `lowest` they go without callouts."""
    per_nm = mm_per_nm(scale)
    room_nm = int((page.width_mm - 2 * page.margin_mm) / per_nm)
    rows: list[_Row] = []
    for number, start in enumerate(range(0, goods.length_nm, room_nm)):
        row = _Row(
            left=page.margin_mm,
            top=top + ABOVE_MM,
            y0_nm=start,
            y1_nm=min(start + room_nm, goods.length_nm),
            per_nm=per_nm,
            bottom=top + ABOVE_MM + goods.width_nm * per_nm,
        )
        rows.append(_labelled(goods, row, page, f"-row-{number + 1}") if row.bottom <= lowest else row)
        top = rows[-1].bottom + GAP_MM
    return rows


def _labelled(goods: GoodsMap, row: _Row, page: Page, suffix: str) -> _Row:
    """Return a row with what its pieces are called, inside them or below with a leader; numbers before names."""
    below = Below(left=page.margin_mm, right=page.width_mm - page.margin_mm, bottom=row.bottom, suffix=suffix)
    in_the_way: frozenset[str] = frozenset()  # what a leader would run through is named below the row too
    while True:
        taken = Taken(area=(page.margin_mm, 0.0, page.width_mm - page.margin_mm, page.height_mm))
        labels, callouts = _named(goods, row, in_the_way)
        taken.add(item for group in labels for item in group.items if isinstance(item, Label))
        hung = set_callouts(callouts, taken, below) if callouts else None
        if hung is None:
            return replace(row, labels=tuple(labels))
        leaders, beside, deepest = hung
        found = (group for group in labels if crossed(leaders, (i for i in group.items if isinstance(i, Label))))
        more = frozenset(group.piece for group in found)
        if not more:
            return replace(row, labels=(leaders, *labels, beside), bottom=deepest)
        in_the_way |= more


def _named(goods: GoodsMap, row: _Row, beside: frozenset[str]) -> tuple[list[Group], list[Callout]]:
    """Return the labels inside pieces of a row and the callouts of those too small for them, and of `beside`."""
    labels: list[Group] = []
    callouts: list[Callout] = []
    for piece in goods.pieces:
        here = clipped_rects(piece.rects, row.y0_nm, row.y1_nm)
        if not here:
            continue
        box = row.box(inner_rects(here)[0])
        items = () if piece.number in beside else _inside(piece, box)
        if items:
            labels.append(Group(role="label", piece=piece.number, items=items))
        else:
            callouts.append(Callout(text=f"{piece.number} {piece.name}".strip(), box=box, piece=piece.number))
    return labels, callouts


def _inside(piece: MapPiece, box: Box) -> tuple[Item, ...]:
    """Return the number and the name of a piece in its largest rectangle, the number alone if there is no more room."""
    for name in (piece.name, ""):
        items = fitted(Caption(number=piece.number, name=name, size=""), box, piece.number)
        if items:
            return items
    return ()


def _gone(goods: GoodsMap, rows: Sequence[_Row]) -> Iterator[Group]:
    """Yield what is not there any more, as the paper with a dashed outline."""
    rings = tuple(ring for row in rows for ring in row.rings(goods.gone))
    if rings:
        shape = Shape(role="gone", rings=rings, closed=True)
        yield Group(role="goods-gone", id="gone", items=(shape,), title="gone: cut away before")


def _areas(goods: GoodsMap, rows: Sequence[_Row]) -> Iterator[Group]:
    for area in goods.areas:
        rings = tuple(ring for row in rows for ring in row.rings(area.rects))
        shape = Shape(role=area.role, rings=rings, closed=True)
        yield Group(role=area.role, id=area.role, items=(shape,), title=area.text)


def _pieces(goods: GoodsMap, rows: Sequence[_Row]) -> Iterator[Group]:
    for piece in goods.pieces:
        rings = tuple(ring for row in rows for ring in row.rings(piece.rects))
        items = (Shape(role="drop", rings=rings, closed=True),) if rings else ()
        yield Group(role="drop", id=f"piece-{piece.number}", piece=piece.number, items=items, title=piece.name)


def _outlines(goods: GoodsMap, rows: Sequence[_Row]) -> Iterator[Group]:
    """Yield the offcuts kept, the edges of the goods, and from where to where every row runs."""
    if goods.kept:
        shapes = (Shape(role="kept", rings=row.rings([rect]), closed=True) for rect in goods.kept for row in rows)
        yield Group(role="kept", id="kept", items=tuple(item for item in shapes if item.rings))
    items: list[Item] = []
    for row in rows:
        items += _edges(goods, row)
        start, end = (format_length(nm, goods.unit.value, with_unit=True) for nm in (row.y0_nm, row.y1_nm))
        right = row.at((0, row.y1_nm))[0]
        items.append(Label(role="note", text=start, at=(row.left, row.top - 1.0), size_mm=SMALL))
        if right - row.left > text_width_mm(start, SMALL) + text_width_mm(end, SMALL) + 3.0:
            items.append(Label(role="note", text=end, at=(right, row.top - 1.0), size_mm=SMALL, anchor="end"))
    yield Group(role="edge", id="goods", items=tuple(items))


def _edges(goods: GoodsMap, row: _Row) -> list[Item]:
    """Return the edges of the goods on a row, as far as the goods are there."""
    whole = Rect(0, row.y0_nm, goods.width_nm, row.y1_nm)
    if not goods.gone:
        return [Shape(role="edge", rings=row.rings([whole]), closed=True)]
    x0, y0, x1, y1 = whole
    sides = (((x0, y0), (x0, y1)), ((x1, y0), (x1, y1)), ((x0, y0), (x1, y0)), ((x0, y1), (x1, y1)))
    rings = tuple((row.at(p), row.at(q)) for a, b in sides for p, q in outside(a, b, goods.gone))
    return [Shape(role="edge", rings=rings)] if rings else []
