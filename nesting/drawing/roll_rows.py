"""How a long roll is broken into rows that fit the paper."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.plan import Offcut
from nesting.drawing.roll_view import PlacedCut, RollView


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A stretch of the roll. `goes_on`: more of the source follows that is not drawn."""

    y0_nm: int
    y1_nm: int
    goes_on: bool = False

    @property
    def length_nm(self) -> int:
        """Length of the stretch."""
        return self.y1_nm - self.y0_nm


def broken_into_rows(view: RollView, longest_nm: int) -> tuple[Row, ...]:
    """Return rows of at most `longest_nm`, broken where no piece crosses if that does not make a row much shorter.

    A rest longer than half a row with nothing on it but one offcut is drawn only in part.
    """
    end, last = view.source.length_nm, view.last_nm()
    spans = [bounding_rect(piece.rects) for piece in view.placed]
    rows: list[Row] = []
    at = 0
    while at < end:
        high = min(end, at + longest_nm)
        nothing_more = end - high > longest_nm // 2 and last < high - longest_nm // 5
        if high < end and not nothing_more:
            high = _good_break(view, spans, at, high)
        rows.append(Row(y0_nm=at, y1_nm=high, goes_on=nothing_more))
        if nothing_more:
            break
        at = high
    return tuple(rows)


def halves(view: RollView, row: Row) -> tuple[Row, Row]:
    """Return a row as two."""
    middle = row.y0_nm + (row.length_nm + 1) // 2
    middle = _good_break(view, [bounding_rect(piece.rects) for piece in view.placed], row.y0_nm, middle)
    return (Row(y0_nm=row.y0_nm, y1_nm=middle), Row(y0_nm=middle, y1_nm=row.y1_nm, goes_on=row.goes_on))


def _good_break(view: RollView, spans: list[Rect], low: int, high: int) -> int:
    """Return the last position in the far 45 % of (low, high] that no piece crosses, else `high`."""
    least = low + (high - low) * 55 // 100
    for y in reversed(view.positions()):
        if least <= y <= high and not any(span.y0_nm < y < span.y1_nm for span in spans):
            return y
    return high


def main_rows(view: RollView, rows: tuple[Row, ...]) -> dict[str, int]:
    """Return, per cut and offcut, the index of the row that shows the most of it: there it is labelled in full."""
    spans = {cut_key(piece): bounding_rect(piece.rects) for piece in view.placed}
    spans |= {offcut_key(offcut): offcut.rect for offcut in view.offcuts}
    spans |= {flaw_key(flaw): flaw for flaw in view.source.flaws}
    return {key: _fullest(span, rows) for key, span in spans.items()}


def _fullest(span: Rect, rows: tuple[Row, ...]) -> int:
    """Return the index of the row that shows the most of `span`, the first of several."""
    shown = [min(span.y1_nm, row.y1_nm) - max(span.y0_nm, row.y0_nm) for row in rows]
    return shown.index(max(shown))


def cut_key(piece: PlacedCut) -> str:
    """Return what names a cut among all that has a label."""
    return f"cut {piece.cut.id}"


def offcut_key(offcut: Offcut) -> str:
    """Return what names an offcut among all that has a label."""
    return f"offcut {offcut.id}"


def flaw_key(flaw: Rect) -> str:
    """Return what names a flaw among all that has a label."""
    return f"flaw {tuple(flaw)}"
