"""What a laid room is, before it is known where its cuts lie on the goods."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.layout import Cut, RoomLayout


@dataclass(frozen=True, slots=True, kw_only=True)
class Goods:
    """The sizes of goods that a layout may be made for. Lengths in nm.

    `widths_nm`: made widths that can be ordered; `stock_nm`: (width, length) of every roll and remnant in hand, flaws
    left out of account; `longest_nm`: the longest roll that can be ordered (None: any). `beside_nm`: rough widths of
    other pieces that may come to lie beside a fill, so that "roll less that width" is a breadth worth trying.
    `unnamed`: all goods of the material, where these are only those named for a room.
    """

    widths_nm: tuple[int, ...]
    stock_nm: tuple[tuple[int, int], ...] = ()
    longest_nm: int | None = None
    beside_nm: tuple[int, ...] = ()
    unnamed: Goods | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidRoom:
    """One layout of a room with its cuts (numbers 0, ids `{room}-{n}` with n from 1 in breadth order, then along).

    `insets_nm[i]`: selvedge that cut i must keep off on its left and right. `seam_length_nm` includes relief cuts and
    the run up coves. `dislike` prices the preferences in nm of seam: a smaller one is better. `order_width_nm`: the
    made width the layout needs (every drop fits it); None: some drop fits only goods in hand wider than any made.
    `phase_nm`: φ across and along where a placement or seam lines fix it.
    `sequence`: cut indexes in the order in which they are to come off the roll, for goods cut in sequence; else ().
    """

    layout: RoomLayout
    cuts: tuple[Cut, ...]
    insets_nm: tuple[tuple[int, int], ...]
    seams: int  # seams, cross seams and relief cuts
    seam_length_nm: int
    dislike: int
    order_width_nm: int | None
    phase_nm: tuple[int | None, int | None] = (None, None)
    sequence: tuple[int, ...] = ()
