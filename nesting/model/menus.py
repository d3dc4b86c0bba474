"""Options that need not be looked at, because another one of the same choice is never worse."""

from __future__ import annotations

from nesting.model.instance import Instance, Option, Piece
from nesting.model.objective import side_cost
from nesting.model.variables import reduced

MOST_PARTS = 12
"""Cuts finer than this are not compared piece by piece: there are too many ways."""


def undominated(instance: Instance, menu: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
    """Return `menu` without the options that another option of the same choice can stand in for at no cost.

    Option b stands in for a if its pieces go into different pieces of a (same turns, phase group and offset modulo
    the lattice), it costs no more in any measure that counts, and it may use all goods that a may use.
    """
    lonely = lonely_groups(instance)
    counting = tuple(any(level[k] for level in instance.weights.levels) for k in range(2, 7))
    kept = []
    for choice, options in zip(instance.choices, menu, strict=True):
        left: list[int] = []
        for taken in options:
            option = choice.options[taken]
            if any(_stands_in(instance, choice.options[other], option, lonely, counting) for other in left):
                continue
            left = [
                other for other in left if not _stands_in(instance, option, choice.options[other], lonely, counting)
            ]
            left.append(taken)
        kept.append(tuple(left))
    return tuple(kept)


def lonely_groups(instance: Instance) -> frozenset[int]:
    """Return the phase groups that never hold more than one piece and are never placed: their pattern is no bond."""
    most: dict[int, int] = {}
    for choice in instance.choices:
        here: dict[int, int] = {}
        for option in choice.options:
            counts: dict[int, int] = {}
            for piece in option.pieces:
                if piece.group is not None:
                    counts[piece.group] = counts.get(piece.group, 0) + (1 if option.phase == (None, None) else 2)
            for group, count in counts.items():
                here[group] = max(here.get(group, 0), count)
        for group, count in here.items():
            most[group] = most.get(group, 0) + count
    return frozenset(group for group, count in most.items() if count <= 1)


def _stands_in(instance: Instance, b: Option, a: Option, lonely: frozenset[int], counting: tuple[bool, ...]) -> bool:
    """Tell whether option b is never worse than option a."""
    costs_b = (b.seams, b.seam_length, b.cost, b.dislike, len(b.pieces))
    costs_a = (a.seams, a.seam_length, a.cost, a.dislike, len(a.pieces))
    if any(counts and x > y for counts, x, y in zip(counting, costs_b, costs_a, strict=True)):
        return False
    if b.seams > a.seams or len(b.pieces) > len(a.pieces) or b.order or b.arrow != a.arrow:
        return False
    if b.order_width not in (None, a.order_width) or b.phase not in ((None, None), a.phase):
        return False
    for key in (lambda p: (-p.width, -p.length), lambda p: (-p.length, -p.width), lambda p: p.offset):
        pairs = zip(sorted(b.pieces, key=key), sorted(a.pieces, key=key), strict=False)
        if all(_goes_into(instance, p, q, lonely) for p, q in pairs):
            return True
    return False


def _goes_into(instance: Instance, p: Piece, q: Piece, lonely: frozenset[int]) -> bool:
    """Tell whether piece p can lie wherever piece q lies."""
    if p.group != q.group or not set(q.turns) <= set(p.turns):
        return False
    if p.inset_left > q.inset_left or p.inset_right > q.inset_right:
        return False
    if p.group is not None and p.group not in lonely and instance.lattice is not None and p.offset != q.offset:
        if any(source.across is not None for source in instance.sources):
            return False
        across = instance.lattice.across
        if reduced(instance, across, p.offset) != reduced(instance, across, q.offset):
            return False
    if p.boxes == q.boxes:
        return True
    # A smaller box lies in the corner of a larger one; turned about, the corner is still one of its corners only
    # when both have the same turns to choose from, so pieces that may be turned must be equal in the other extent.
    if len(q.boxes) > 1 or p.width > q.width or p.length > q.length:
        return False
    return q.turns == (0,) or p.inset_left == p.inset_right == q.inset_left == q.inset_right


def sparing(instance: Instance, menu: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
    """Return `menu` without the options that a finer cut of the same goods can stand in for in the first level.

    Option b stands in for a if its pieces can be laid end to end into the pieces of a, and it costs no more in the
    first level. For questions about that level only: more pieces may well be worse in a later one.
    """
    kept = []
    for choice, options in zip(instance.choices, menu, strict=True):
        left: list[int] = []
        # Those with the most pieces first: they alone can stand in for others, and of equals the first is kept.
        for taken in sorted(options, key=lambda o: (-len(choice.options[o].pieces), o)):
            if not any(_finer(instance, choice.options[other], choice.options[taken]) for other in left):
                left.append(taken)
        kept.append(tuple(sorted(left)))
    return tuple(kept)


def _finer(instance: Instance, b: Option, a: Option) -> bool:
    """Tell whether the pieces of b, laid end to end, go into those of a at no cost in the first level."""
    _, _, *weights = instance.weights.levels[0]
    if b.order or a.order or b.arrow != a.arrow or b.order_width not in (None, a.order_width):
        return False
    if b.seams > a.seams and instance.weights.most_seams is not None:
        return False
    if side_cost(b, weights) > side_cost(a, weights):
        return False
    if instance.lattice is not None and any(p.group is not None for p in (*a.pieces, *b.pieces)):
        return False
    if any(len(p.boxes) > 1 for p in (*a.pieces, *b.pieces)) or len(b.pieces) > MOST_PARTS:
        return False
    parts = sorted(b.pieces, key=lambda p: -p.length)
    return _laid_into(parts, list(a.pieces), [q.length for q in a.pieces])


def _laid_into(parts: list[Piece], places: list[Piece], left: list[int]) -> bool:
    """Tell whether `parts` go end to end into what is `left` of the lengths of `places`: every way is tried."""
    if not parts:
        return True
    first, *rest = parts
    tried = set()
    for number, place in enumerate(places):
        what = (left[number], place.width, place.turns, place.inset_left, place.inset_right)
        if what in tried or left[number] < first.length or not _lies_within(first, place):
            continue
        tried.add(what)
        left[number] -= first.length
        fits = _laid_into(rest, places, left)
        left[number] += first.length
        if fits:
            return True
    return False


def _lies_within(part: Piece, place: Piece) -> bool:
    """Tell whether a part that is short enough may be cut from a piece, whichever way that is turned."""
    return (
        part.width <= place.width
        and set(place.turns) <= set(part.turns)
        and part.inset_left <= place.inset_left
        and part.inset_right <= place.inset_right
    )
