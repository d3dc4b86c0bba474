"""What planning may use of a piece: the whole of it, or squared off.

An L is offered whole, as its bounding rectangle with what is missing marked as gone: that loses nothing, since cuts
may lie in both of its arms. Where the goods have a pattern and the piece's phase is not known, it is squared off, as
its largest rectangle worth keeping: what is gone shifts against the pattern by up to a repeat, so the planner binds no
such piece to other goods, and the notch would cost more than the smaller arm. When the cuts are confirmed, what was
squared off and is worth keeping is on the rack again. A caller may ask for either for all pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.domain.geometry import Point, Rect
from nesting.domain.lying import reduced
from nesting.domain.material import Material, StockPiece
from nesting.domain.rack import PhaseKnown, RackPiece
from nesting.errors import Fault, JobError
from nesting.model.offcuts import best_rectangles, keepable

Sizes = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """The money of a job."""

    currency: str = ""
    coin_per_unit: int = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A piece as planning sees it, and the rectangle of the piece that its frame is."""

    stock: StockPiece
    rect: Rect


def missing_rects(piece: RackPiece) -> tuple[Rect, ...]:
    """Return what of width × length is not there: disjoint rectangles, as long along as they can be."""
    if not piece.shape:
        return ()
    xs = sorted({0, piece.width_nm, *(x for rect in piece.shape for x in (rect.x0_nm, rect.x1_nm))})
    ys = sorted({0, piece.length_nm, *(y for rect in piece.shape for y in (rect.y0_nm, rect.y1_nm))})
    done: list[Rect] = []
    growing: dict[tuple[int, int], int] = {}  # (x from, x to) -> where it begins along
    for low in ys:
        there = [rect for rect in piece.shape if rect.y0_nm <= low < rect.y1_nm]
        runs = _gaps(xs, there) if low < piece.length_nm else []
        for run in [run for run in growing if run not in runs]:
            done.append(Rect(run[0], growing.pop(run), run[1], low))
        for run in runs:
            growing.setdefault(run, low)
    return tuple(sorted(done))


def _gaps(xs: Sequence[int], there: Sequence[Rect]) -> list[tuple[int, int]]:
    """Return the stretches across that none of the rectangles covers."""
    runs: list[tuple[int, int]] = []
    for left, right in pairwise(xs):
        if any(rect.x0_nm <= left < rect.x1_nm for rect in there):
            continue
        if runs and runs[-1][1] == left:
            runs[-1] = (runs[-1][0], right)
        else:
            runs.append((left, right))
    return runs


def flaws_within(piece: RackPiece, rect: Rect) -> tuple[Rect, ...]:
    """Return the flaws of a piece on a rectangle of it, seen from its corner."""
    found = []
    for flaw in piece.flaws:
        part = Rect(
            max(flaw.x0_nm, rect.x0_nm) - rect.x0_nm,
            max(flaw.y0_nm, rect.y0_nm) - rect.y0_nm,
            min(flaw.x1_nm, rect.x1_nm) - rect.x0_nm,
            min(flaw.y1_nm, rect.y1_nm) - rect.y0_nm,
        )
        if part.width_nm > 0 and part.length_nm > 0:
            found.append(part)
    return tuple(found)


def phase_at(piece: RackPiece, material: Material, rect: Rect) -> Point | None:
    """Return the phase at the corner of a rectangle of a piece; None: not known well enough to lie beside other goods.

    An assumed phase holds beside goods of the same roll only, so for planning it is unknown.
    """
    if material.pattern is None or piece.phase_nm is None or piece.phase_known is PhaseKnown.ASSUMED:
        return None
    return reduced(material.pattern, piece.phase_nm[0] + rect.x0_nm, piece.phase_nm[1] + rect.y0_nm)


def squared_rect(piece: RackPiece, sizes_nm: Sizes) -> Rect | None:
    """Return the largest rectangle of a piece, None if none is worth keeping."""
    best = best_rectangles(_whole(piece), missing_rects(piece), lambda rect: keepable(rect, sizes_nm))
    return best[0] if best else None


def arms_left(piece: RackPiece, rect: Rect, sizes_nm: Sizes) -> list[Rect]:
    """Return the rectangles worth keeping that are left of a piece when `rect` is squared off."""
    taken = [*missing_rects(piece), rect]
    return best_rectangles(_whole(piece), taken, lambda arm: keepable(arm, sizes_nm))


def _whole(piece: RackPiece) -> Rect:
    return Rect(0, 0, piece.width_nm, piece.length_nm)


def offers(piece: RackPiece, material: Material, sizes_nm: Sizes, money: Money) -> tuple[Offer, ...]:
    """Return every way in which a piece may be offered: whole, and squared off where that is something else."""
    whole = _offer(piece, material, _whole(piece), money, gone=missing_rects(piece))
    rect = squared_rect(piece, sizes_nm) if piece.shape else None
    return (whole,) if rect is None else (whole, _offer(piece, material, rect, money, gone=()))


def offer(
    piece: RackPiece, material: Material, sizes_nm: Sizes, money: Money, *, squared: bool | None = None
) -> StockPiece | None:
    """Return a piece as planning may use it, None where nothing of it is of use.

    Parameters
    ----------
    piece
        The piece; its state is not looked at.
    material
        Its material, with the pattern.
    sizes_nm
        What is worth keeping, of what is squared off.
    money
        The job's; the piece's cost becomes its book value.
    squared
        Whether an L is squared off; None: only where the goods have a pattern and its phase is not known.

    Raises
    ------
    JobError
        If the piece costs something in other money than the job's.
    """
    if piece.width_nm <= 2 * material.selvedge_nm:
        return None
    if not piece.shape:
        return _offer(piece, material, _whole(piece), money, gone=()).stock
    if squared is None:
        squared = material.pattern is not None and phase_at(piece, material, _whole(piece)) is None
    if not squared:
        return _offer(piece, material, _whole(piece), money, gone=missing_rects(piece)).stock
    rect = squared_rect(piece, sizes_nm)
    return None if rect is None else _offer(piece, material, rect, money, gone=()).stock


def _offer(piece: RackPiece, material: Material, rect: Rect, money: Money, *, gone: tuple[Rect, ...]) -> Offer:
    return Offer(
        rect=rect,
        stock=StockPiece(
            id=piece.id,
            material_id=piece.material_id,
            kind=piece.kind,
            width_nm=rect.width_nm,
            length_nm=rect.length_nm,
            lot=piece.lot,
            lot_orderable=piece.lot_orderable,
            flaws=flaws_within(piece, rect),
            gone=gone,
            phase_nm=phase_at(piece, material, rect),
            book_value=_book_value(piece, money),
            place=piece.place,
            on_rack=True,
        ),
    )


def _book_value(piece: RackPiece, money: Money) -> int:
    """Return the cost of a piece in the job's coins."""
    if not piece.cost:
        return 0
    same = not (piece.currency and money.currency) or piece.currency == money.currency
    value, rest = divmod(piece.cost * money.coin_per_unit, piece.coin_per_unit)
    if same and not rest:
        return value
    what = f"it cost {piece.currency or 'money'}, the job counts in {money.currency or 'other money'}"
    hint = "correct the cost of the piece, or give the job's currency as the piece has it"
    raise JobError([Fault(code="other-money", where=piece.id, what=what, hint=hint)])
