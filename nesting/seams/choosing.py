"""Which drafts are kept: none that another beats in every way, and as unlike one another as the limit allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
    if patterned:  # where a seam runs decides what its pieces leave room for: their place across is bound
        queues = [_other_seams_first(queue) for queue in queues]
    firsts = _first_turns(queues, patterned)
    chosen: list[Draft] = []
    turn = 0
    while len(chosen) < limit and any(len(queue) > turn - first for queue, first in zip(queues, firsts, strict=True)):
        due = [
            queue[turn - first] for queue, first in zip(queues, firsts, strict=True) if 0 <= turn - first < len(queue)
        ]
        chosen += due[: limit - len(chosen)]
        turn += 1
    return chosen


def _first_turns(queues: Sequence[Sequence[Draft]], patterned: bool) -> list[int]:
    """Return the turn from which drafts of every queue are taken: the first.

    Patterned drafts with cross seams wait a turn for every lower number of seams: more seams cost more there than they
    save, and where the few run matters more.
    """
    met: dict[object, int] = {}
    firsts = []
    for queue in queues:
        direction = queue[0].bench.floor.direction
        key = (queue[0].width_nm, queue[0].phase, direction.dx, direction.dy)
        firsts.append(met.get(key, 0) if patterned and any(queue[0].crossings) else 0)
        met[key] = met.get(key, 0) + 1
    return firsts


def _other_seams_first(drafts: Sequence[Draft]) -> list[Draft]:
    """Return the drafts with those that differ from an earlier one in their cross seams alone after the others."""
    met: dict[object, int] = {}
    turns = []
    for draft in drafts:
        key = (draft.seams, _trim(draft))
        turns.append(met.get(key, 0))
        met[key] = turns[-1] + 1
    return [drafts[i] for i in sorted(range(len(drafts)), key=lambda i: (turns[i], i))]


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


@dataclass(frozen=True, slots=True)
class _Sized:
    """What a draft is compared by: its seams, the trim left on, and its pieces' sizes in rising order."""

    count: int
    trim: tuple[int, ...]
    sizes: list[tuple[int, int]] | None

    def beats(self, other: _Sized) -> bool:
        """Tell whether it serves at least as well as another of as many pieces in every way."""
        if self.sizes is None or other.sizes is None or self.count > other.count or self.trim < other.trim:
            return False
        return all(a <= b and c <= d for (a, c), (b, d) in zip(self.sizes, other.sizes, strict=True))


def _undominated(drafts: list[Draft]) -> list[Draft]:
    """Return the drafts of plain goods that no other makes needless.

    One is needless beside another of the same width, phase and arrow with no more seams whose pieces, all
    rectangles, are each no larger, piece by piece in order of size.
    """
    sized = [_Sized(draft.count, _trim(draft), _sizes(draft)) for draft in drafts]
    alike: dict[object, list[int]] = {}
    for i, (draft, one) in enumerate(zip(drafts, sized, strict=True)):
        if one.sizes is not None:
            key = (draft.width_nm, draft.phase, draft.bench.floor.direction, len(one.sizes))
            alike.setdefault(key, []).append(i)
    beaten = set()
    for group in alike.values():
        for i in group:
            if any(j != i and sized[j].beats(sized[i]) and (j < i or not sized[i].beats(sized[j])) for j in group):
                beaten.add(i)
    return [draft for i, draft in enumerate(drafts) if i not in beaten]


def _sizes(draft: Draft) -> list[tuple[int, int]] | None:
    """Return the sizes of the pieces in rising order; None where some piece is no rectangle."""
    if any(len(item.piece.rects) > 1 for item in draft.pieces):
        return None
    return sorted((item.piece.box.width_nm, item.piece.box.length_nm) for item in draft.pieces)
