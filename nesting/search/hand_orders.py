"""The orders in which a room's pieces are cut: as they are laid, long ones first, and as the pattern loses least."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.search.hand_packing import Bed, Item, phase_across

MOST_STATES = 400
"""Of wide drops cut and still to cut, looked at for the best order of a room's drops."""


def orders_of(items: Sequence[Item], bed: Bed) -> Iterator[tuple[Item, ...]]:
    """Yield the orders worth trying: in lay order both ways, long drops first, and the best for the pattern."""
    if any(item.after for item in items):
        yield _in_sequence(items)
        return
    long_first = tuple(sorted(items, key=lambda item: (2 * item.ways[0].width <= bed.width, -item.ways[0].length)))
    yield long_first
    laid = tuple(sorted(items, key=lambda item: (item.choice, item.x, item.y)))
    if len(items) > 1:
        yield laid
        yield laid[::-1]
    if bed.along > 1:
        yield from _by_pattern(long_first, bed)


def _in_sequence(items: Sequence[Item]) -> tuple[Item, ...]:
    """Return the pieces so that each comes after those that it must follow."""
    left, done = list(items), []
    while left:
        names = {(item.choice, item.piece) for item in left}
        first = next((i for i in left if not any((i.choice, before) in names for before in i.after)), left[0])
        left.remove(first)
        done.append(first)
    return tuple(done)


def _by_pattern(items: tuple[Item, ...], bed: Bed) -> Iterator[tuple[Item, ...]]:
    """Yield the order of the wide drops that loses least between repeats, the narrow ones after them.

    Drop j after drop i loses (ρ_j − ρ_i − L_i) mod Ry, where ρ is where the pattern wants a drop to begin; alike drops
    are exchangeable, so that what matters is how many of each kind are cut and which was last.
    """
    wide = [item for item in items if item.bound and 2 * item.ways[0].width > bed.width]
    across = phase_across(items, bed)
    if len(wide) < 3 or (across is None and bed.across is not None):
        return
    kinds: dict[tuple[int, int], list[Item]] = {}
    for item in wide:
        start = item.y
        if bed.across is not None and across is not None:
            least = item.ways[0].left
            x = least + (item.x + across - bed.sigma[0] - least) % bed.across
            start += (x + bed.sigma[0] - item.x - across) // bed.across * bed.drop
        kinds.setdefault((start % bed.along, item.ways[0].length), []).append(item)
    states = len(kinds)
    for alike in kinds.values():
        states *= len(alike) + 1
    if len(kinds) == 1 or states > MOST_STATES:
        return
    keys = sorted(kinds)
    order = _least_lost(keys, tuple(len(kinds[key]) for key in keys), bed.along)
    supply = {key: iter(alike) for key, alike in kinds.items()}
    rest = [item for item in items if item not in wide]
    yield (*(next(supply[keys[kind]]) for kind in order), *rest)


def _least_lost(keys: list[tuple[int, int]], counts: tuple[int, ...], along: int) -> list[int]:
    """Return the kinds in the order that loses least; `keys` are (start modulo the repeat, length)."""
    best: dict[tuple[tuple[int, ...], int], tuple[int, list[int]]] = {}
    for kind in range(len(keys)):
        left = tuple(count - (k == kind) for k, count in enumerate(counts))
        best[left, kind] = (0, [kind])
    for _ in range(sum(counts) - 1):
        after: dict[tuple[tuple[int, ...], int], tuple[int, list[int]]] = {}
        for (left, last), (lost, order) in best.items():
            for kind, count in enumerate(left):
                if not count:
                    continue
                more = lost + (keys[kind][0] - keys[last][0] - keys[last][1]) % along
                key = (tuple(c - (k == kind) for k, c in enumerate(left)), kind)
                if key not in after or more < after[key][0]:
                    after[key] = (more, [*order, kind])
        best = after
    return min(best.values())[1]
