"""One piece of the rack on a sheet: its outline, what is missing of it, its flaws, its first pattern mark."""

from __future__ import annotations

from nesting.domain.geometry import Rect
from nesting.domain.job import Unit
from nesting.domain.rack import RackPiece
from nesting.drawing.goods_map import GoodsMap, MapArea, MapPiece, goods_scene
from nesting.drawing.lengths import length_text
from nesting.drawing.metrics import clean
from nesting.drawing.scene import EITHER, Page
from nesting.drawing.svg import to_svg


def piece_sheet(piece: RackPiece, unit: Unit, page: Page = EITHER) -> str:
    """Return the drawing of a piece as SVG, face up, its start at the left."""
    lot = f"lot {piece.lot}" if piece.lot else "lot unknown"
    facts = [clean(piece.material_id), clean(lot), clean(piece.place)]
    lines = [" · ".join(part for part in facts if part)]
    size = f"{length_text(piece.width_nm, unit)} across × {length_text(piece.length_nm, unit)} along"
    state = f"{piece.state.value} for {clean(piece.reserved_for)}" if piece.reserved_for else piece.state.value
    lines.append(" · ".join([size, piece.kind.value, state]))
    notes = []
    if piece.phase_nm is not None:
        across, along = (length_text(-nm, unit) for nm in piece.phase_nm)
        known = piece.phase_known.value
        notes.append(f"A pattern mark lies {across} across and {along} along from the lower left corner ({known}).")
    drawn = GoodsMap(
        title=clean(piece.id),
        lines=tuple(lines),
        notes=tuple(notes),
        unit=unit,
        width_nm=piece.width_nm,
        length_nm=piece.length_nm,
        pieces=(
            MapPiece(number=clean(piece.id), name=clean(piece.material_id), rects=without(piece.rects, piece.flaws)),
        ),
        pieces_text="goods",
        areas=(MapArea(role="lost-flaws", text="flaw", rects=piece.flaws),) if piece.flaws else (),
        kept=(),
        gone=without((Rect(0, 0, piece.width_nm, piece.length_nm),), piece.rects),
    )
    return to_svg(goods_scene(drawn, page))


def without(rects: tuple[Rect, ...], holes: tuple[Rect, ...]) -> tuple[Rect, ...]:
    """Return disjoint rectangles that cover what lies in `rects` and in no hole."""
    for hole in holes:
        rects = tuple(part for rect in rects for part in _less(rect, hole))
    return rects


def _less(rect: Rect, hole: Rect) -> tuple[Rect, ...]:
    """Return what is left of a rectangle beside a hole: below and above it, then left and right of it."""
    x0, y0 = max(rect.x0_nm, hole.x0_nm), max(rect.y0_nm, hole.y0_nm)
    x1, y1 = min(rect.x1_nm, hole.x1_nm), min(rect.y1_nm, hole.y1_nm)
    if x0 >= x1 or y0 >= y1:
        return (rect,)
    parts = (
        Rect(rect.x0_nm, rect.y0_nm, rect.x1_nm, y0),
        Rect(rect.x0_nm, y1, rect.x1_nm, rect.y1_nm),
        Rect(rect.x0_nm, y0, x0, y1),
        Rect(x1, y0, rect.x1_nm, y1),
    )
    return tuple(part for part in parts if part.width_nm > 0 and part.length_nm > 0)
