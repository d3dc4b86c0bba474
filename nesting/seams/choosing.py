"""Which drafts are kept: none that another beats in every way, and as unlike one another as the limit allows."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.domain.geometry import Rect
from nesting.seams.drafts import Draft

Shape = tuple[Rect, ...]


def best_drafts(drafts: Sequence[Draft], limit: int, *, patterned: bool) -> list[Draft]:
    """Return at most `limit` drafts: few seams first, by turns from every direction, width and number of seams."""
    kept: dict[object, Draft] = {}
    for draft in sorted(drafts, key=lambda draft: (draft.count, draft.rank)):
        kept.setdefault(_same(draft, patterned), draft)
    plain = list(kept.values()) if patterned else _undominated(list(kept.values()))
    groups: dict[object, list[Draft]] = {}
    for draft in plain:
        direction = draft.bench.floor.direction
        key = (draft.width_nm, draft.phase, direction.dx, direction.dy, draft.count)
        groups.setdefault(key, []).append(draft)
    queues = sorted(groups.values(), key=lambda queue: queue[0].count)
    chosen: list[Draft] = []
    turn = 0
    while len(chosen) < limit and any(len(queue) > turn for queue in queues):
        chosen += [queue[turn] for queue in queues if len(queue) > turn][: limit - len(chosen)]
        turn += 1
    return chosen


def _same(draft: Draft, patterned: bool) -> object:
    """Return a key that is equal for drafts that ask for the same goods."""
    direction = draft.bench.floor.direction
    if patterned:
        return (draft.width_nm, draft.phase, direction, draft.seams, draft.crossings, _trim(draft))
    shapes = sorted(_at_origin(item.piece.rects) for item in draft.pieces)
    arrow = (direction.dx, direction.dy) if draft.bench.material.directed else None
    insets = sorted(item.piece.inset_nm for item in draft.pieces)
    return (draft.width_nm, draft.phase, arrow, tuple(shapes), tuple(insets), draft.count)


def _trim(draft: Draft) -> tuple[int, ...]:
    return tuple(side.given_nm for side in draft.bench.floor.sides)


def _at_origin(rects: Shape) -> Shape:
    u, v = min(rect.x0_nm for rect in rects), min(rect.y0_nm for rect in rects)
    return tuple(Rect(r.x0_nm - u, r.y0_nm - v, r.x1_nm - u, r.y1_nm - v) for r in rects)


def _undominated(drafts: list[Draft]) -> list[Draft]:
    """Return the drafts of plain goods that no other makes needless.

    One is needless beside another of the same width, phase and arrow with no more seams whose pieces, all
    rectangles, are each no larger, piece by piece in order of size.
    """
    sized = [(draft, _sizes(draft)) for draft in drafts]
    out = []
    for i, (draft, sizes) in enumerate(sized):
        beaten = any(
            j != i and _beats(other, theirs, draft, sizes) and (j < i or not _beats(draft, sizes, other, theirs))
            for j, (other, theirs) in enumerate(sized)
        )
        if not beaten:
            out.append(draft)
    return out


def _sizes(draft: Draft) -> list[tuple[int, int]] | None:
    """Return the sizes of the pieces in rising order; None where some piece is no rectangle."""
    if any(len(item.piece.rects) > 1 for item in draft.pieces):
        return None
    return sorted((item.piece.box.width_nm, item.piece.box.length_nm) for item in draft.pieces)


def _beats(one: Draft, sizes: list[tuple[int, int]] | None, other: Draft, theirs: list[tuple[int, int]] | None) -> bool:
    """Tell whether one draft serves at least as well as another in every way."""
    if sizes is None or theirs is None or len(sizes) != len(theirs) or one.count > other.count:
        return False
    if (one.width_nm, one.phase) != (other.width_nm, other.phase) or _trim(one) < _trim(other):
        return False
    if one.bench.floor.direction != other.bench.floor.direction:
        return False
    return all(a[0] <= b[0] and a[1] <= b[1] for a, b in zip(sizes, theirs, strict=True))
