"""Ways to cut up one stock length: the task in whole steps, the most valuable way, all ways that may be of use."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

MOST_CELLS = 3_000_000
"""Entries of the table that `most_valuable` may fill; beyond it the way is sought by branching."""

OTHERS = 8
"""Patterns that one table gives for each stock."""

MOST_BRANCHES = 20_000
"""Branches after which branching gives up and answers with a bound."""

Pattern = tuple[tuple[int, int], ...]
"""(kind, pieces) cut from one stock length, by rising kind, no kind without pieces."""

Bundle = tuple[int, int, int]
"""Size, pieces and kind of some pieces of one kind that are taken together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A one-dimensional cutting-stock problem in whole steps, the saw's kerf added to every size and capacity.

    n pieces and the n − 1 kerfs between them fit a length L if Σ (size + kerf) ≤ L + kerf. `sizes` fall and differ; a
    kind is the index of a size. `weights` are what one stock length of each capacity counts, above zero.
    """

    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    capacities: tuple[int, ...]
    weights: tuple[int, ...]

    def used(self, pattern: Pattern) -> int:
        """Return how much of a capacity a pattern takes."""
        return sum(self.sizes[kind] * count for kind, count in pattern)


def first_fit(task: Task, stock: int) -> list[Pattern]:
    """Return patterns that cover the demand from one stock, the longest pieces first; [] if a piece is too long."""
    if task.sizes[0] > task.capacities[stock]:
        return []
    left = list(task.demands)
    kinds = list(range(len(task.sizes)))
    falling = [-size for size in task.sizes]  # of the kinds that are not done, as bisection wants them
    bins: list[Pattern] = []
    while kinds:
        room, at, pattern = task.capacities[stock], 0, []
        while (at := bisect_left(falling, -room, lo=at)) < len(kinds):
            kind = kinds[at]
            count = min(left[kind], room // task.sizes[kind])
            left[kind] -= count
            room -= count * task.sizes[kind]
            pattern.append((kind, count))
            if left[kind]:
                at += 1
            else:
                del kinds[at], falling[at]
        bins.append(tuple(pattern))
    return bins


def most_valuable(task: Task, values: Sequence[int]) -> list[tuple[int, list[Pattern]]]:
    """Return for every stock what the most valuable pattern within the demands is worth, that pattern, and others.

    The others are the best that can be made of the first kinds alone, so that they differ. Where branching gives up the
    worth is an upper bound and the pattern the best found.
    """
    if cells(task) <= MOST_CELLS:
        return _by_table(task, values, [bundle for bundle in _bundles(task) if values[bundle[2]] > 0])
    return [_by_branching(task, values, capacity) for capacity in task.capacities]


def cells(task: Task) -> int:
    """Return how many entries a table of the task has: what one call of `most_valuable` costs."""
    return sum(1 for _ in _bundles(task)) * (max(task.capacities) + 1)


def _bundles(task: Task) -> Iterator[Bundle]:
    """Yield bundles of pieces that make up every count of a kind up to its demand."""
    for kind, (size, demand) in enumerate(zip(task.sizes, task.demands, strict=True)):
        left, bundle = min(demand, max(task.capacities) // size), 1
        while left:
            take = min(bundle, left)
            yield size * take, take, kind
            left, bundle = left - take, bundle * 2


def _by_table(task: Task, values: Sequence[int], bundles: Sequence[Bundle]) -> list[tuple[int, list[Pattern]]]:
    """Return the best patterns by dynamic programming over the capacity, bundle after bundle."""
    best = [0] * (max(task.capacities) + 1)
    layers = [best]
    for size, pieces, kind in bundles:
        worth = values[kind] * pieces
        taken = (value + worth for value in best)
        best = [*best[:size], *(a if a >= b else b for a, b in zip(best[size:], taken, strict=False))]
        layers.append(best)
    ends = [len(bundles) - len(bundles) * part // OTHERS for part in range(OTHERS)]
    return [
        (best[capacity], list(dict.fromkeys(_traced(bundles, layers, end, capacity) for end in ends)))
        for capacity in task.capacities
    ]


def _traced(bundles: Sequence[Bundle], layers: Sequence[Sequence[int]], end: int, room: int) -> Pattern:
    """Return the best pattern of the first `end` bundles."""
    pattern: dict[int, int] = {}
    for at in range(end, 0, -1):
        size, pieces, kind = bundles[at - 1]
        if layers[at][room] != layers[at - 1][room]:
            pattern[kind] = pattern.get(kind, 0) + pieces
            room -= size
    return tuple(sorted(pattern.items()))


def _by_branching(task: Task, values: Sequence[int], capacity: int) -> tuple[int, list[Pattern]]:
    """Return the best pattern by depth first over the kinds, the most valuable per length first."""
    order = [kind for kind in range(len(task.sizes)) if values[kind] > 0]
    order.sort(key=lambda kind: (-values[kind] / task.sizes[kind], kind))
    pattern: Pattern = ()
    best, branches = 0, 0
    stack: list[tuple[int, int, int, Pattern]] = [(0, capacity, 0, pattern)]
    while stack:
        at, room, worth, chosen = stack.pop()
        if worth > best:
            best, pattern = worth, chosen
        if at == len(order):
            continue
        kind = order[at]
        if worth + values[kind] * room // task.sizes[kind] <= best:
            continue
        branches += 1
        if branches > MOST_BRANCHES:
            best = max(_most_worth(task, values, range(len(task.sizes)), capacity), best)
            break
        for count in range(min(task.demands[kind], room // task.sizes[kind]) + 1):
            more = ((kind, count), *chosen) if count else chosen
            stack.append((at + 1, room - count * task.sizes[kind], worth + count * values[kind], more))
    return best, [tuple(sorted(pattern))]


def _most_worth(task: Task, values: Sequence[int], kinds: Sequence[int], room: int) -> int:
    """Return at least what any pieces of some kinds can be worth in `room`."""
    return max((-(-values[kind] * room // task.sizes[kind]) for kind in kinds), default=0)


def within(
    task: Task, values: Sequence[int], least: Sequence[int], most_patterns: int
) -> tuple[tuple[int, Pattern], ...] | None:
    """Return (stock, pattern) of all full patterns worth at least `least[stock]`, None if there are too many.

    A pattern is full if no more piece of the demand fits. `most_patterns` limits the patterns; forty times as many
    branches are looked at.
    """
    dearest = _dearest_from(task, values)
    found: list[tuple[int, Pattern]] = []
    branches = 40 * most_patterns
    for stock, capacity in enumerate(task.capacities):
        stack: list[tuple[int, int, int, Pattern]] = [(0, capacity, 0, ())]
        while stack:
            at, room, worth, pattern = stack.pop()
            branches -= 1
            if branches < 0 or len(found) > most_patterns:
                return None
            if at == len(task.sizes):
                if worth >= least[stock] and _full(task, pattern, room):
                    found.append((stock, pattern))
                continue
            if worth + _most_worth(task, values, dearest[at : at + 1], room) < least[stock]:
                continue
            size = task.sizes[at]
            for count in range(min(task.demands[at], room // size) + 1):
                more = (*pattern, (at, count)) if count else pattern
                stack.append((at + 1, room - count * size, worth + count * values[at], more))
    return tuple(found)


def _dearest_from(task: Task, values: Sequence[int]) -> list[int]:
    """Return for every kind which one of it and those behind it is worth most per length."""
    out = [len(task.sizes) - 1]
    for kind in range(len(task.sizes) - 2, -1, -1):
        best = out[-1]
        out.append(kind if values[kind] * task.sizes[best] >= values[best] * task.sizes[kind] else best)
    return out[::-1]


def _full(task: Task, pattern: Pattern, room: int) -> bool:
    counts = dict(pattern)
    return all(
        size > room or counts.get(kind, 0) == demand
        for kind, (size, demand) in enumerate(zip(task.sizes, task.demands, strict=True))
    )
