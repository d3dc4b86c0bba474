"""Runs along walls cut from stock lengths: which length is bought how often, and what is cut from each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import gcd

from nesting.domain.sundries import StockLength
from nesting.sundries.patterns import Task
from nesting.sundries.program import Column, solve


class Least(StrEnum):
    """What is least about a cutting."""

    COST = "cost"  # all lengths have a price
    LENGTH = "length"  # of stock bought


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLength:
    """One way to cut a stock length, done `count` times: pieces from the longest, and what is left over of each."""

    count: int
    stock_nm: int
    pieces_nm: tuple[int, ...]
    left_nm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """What is bought in stock lengths and how it is cut.

    `value` and `bound` count coins or nanometres, as `least` says: no cutting of these pieces can be below the bound.
    """

    lengths: tuple[CutLength, ...]
    least: Least
    value: int
    bound: int
    cost: int | None

    @property
    def proved(self) -> bool:
        """Tell whether the cutting is proved the least."""
        return self.value == self.bound

    @property
    def bought(self) -> tuple[tuple[int, int], ...]:
        """Return (stock length, how many), the longest first."""
        counts: Counter[int] = Counter()
        for way in self.lengths:
            counts[way.stock_nm] += way.count
        return tuple(sorted(counts.items(), reverse=True))

    @property
    def stock_nm(self) -> int:
        """Return how much stock is bought, all lengths together."""
        return sum(way.stock_nm * way.count for way in self.lengths)

    @property
    def left_nm(self) -> int:
        """Return what is left over in all, without what the saw takes."""
        return sum(way.left_nm * way.count for way in self.lengths)


def in_pieces(run_nm: int, longest_nm: int, least_nm: int) -> tuple[int, ...]:
    """Return the pieces of a run: itself, or whole longest lengths and the rest where it is longer than these.

    A rest shorter than `least_nm` is lengthened at the cost of the last whole length (common practice). `longest_nm`
    is at least twice `least_nm`.
    """
    whole, rest = divmod(run_nm, longest_nm)
    if not whole or (whole == 1 and not rest):
        return (run_nm,)
    if not rest:
        return (longest_nm,) * whole
    if rest >= least_nm:
        return (*(longest_nm,) * whole, rest)
    return (*(longest_nm,) * (whole - 1), longest_nm + rest - least_nm, least_nm)


def cut_from(pieces_nm: Sequence[int], stock: Sequence[StockLength], kerf_nm: int = 0) -> Cutting:
    """Return the least stock that the pieces can be cut from.

    Parameters
    ----------
    pieces_nm
        Above zero and no longer than the longest stock length.
    stock
        The lengths that can be bought, any number of each: at the least cost if all have a price above zero, else
        of the least length.
    kerf_nm
        What the saw takes between two pieces.

    Raises
    ------
    ValueError
        If there is no stock length, or a piece is longer than all of them.
    """
    if not stock or max(pieces_nm, default=0) > max(length.length_nm for length in stock):
        raise ValueError("a piece is longer than every stock length")
    by_cost = all(length.price for length in stock)
    costs = [length.price or 0 for length in stock]
    least = Least.COST if by_cost else Least.LENGTH
    if not pieces_nm:
        return Cutting(lengths=(), least=least, value=0, bound=0, cost=0)
    weights = costs if by_cost else [length.length_nm for length in stock]
    demand = sorted(Counter(pieces_nm).items(), reverse=True)
    step = gcd(kerf_nm, *(size for size, _ in demand), *(length.length_nm for length in stock))
    per = gcd(*weights)
    task = Task(
        sizes=tuple((size + kerf_nm) // step for size, _ in demand),
        demands=tuple(count for _, count in demand),
        capacities=tuple((length.length_nm + kerf_nm) // step for length in stock),
        weights=tuple(weight // per for weight in weights),
    )
    answer = solve(task)
    ways = _ways(task, answer.cut, [size for size, _ in demand], [length.length_nm for length in stock], kerf_nm)
    price = {length.length_nm: length.price for length in stock}
    known = [price[way.stock_nm] for way in ways]
    paid = sum((price[way.stock_nm] or 0) * way.count for way in ways)
    return Cutting(
        lengths=ways,
        least=least,
        value=paid if by_cost else sum(way.stock_nm * way.count for way in ways),
        bound=answer.bound * per,
        cost=None if None in known else paid,
    )


def _ways(
    task: Task, cut: Sequence[tuple[Column, int]], sizes_nm: Sequence[int], stock_nm: Sequence[int], kerf_nm: int
) -> tuple[CutLength, ...]:
    """Return a cut in lengths, without pieces that are too many, each way on the shortest stock that is no dearer."""
    left = list(task.demands)
    ways: Counter[tuple[int, tuple[int, ...]]] = Counter()
    for (stock, pattern), times in sorted(cut, key=lambda item: (-task.used(item[0][1]), item[0])):
        for _ in range(times):
            taken = tuple((kind, min(count, left[kind])) for kind, count in pattern)
            for kind, count in taken:
                left[kind] -= count
            pieces = tuple(sizes_nm[kind] for kind, count in taken for _ in range(count))
            if pieces:
                ways[_shortest(task, stock, task.used(taken), stock_nm), pieces] += 1
    return tuple(
        CutLength(count=count, stock_nm=stock, pieces_nm=pieces, left_nm=left_of(stock, pieces, kerf_nm))
        for (stock, pieces), count in sorted(ways.items(), key=lambda item: (-item[0][0], [-nm for nm in item[0][1]]))
    )


def _shortest(task: Task, stock: int, used: int, stock_nm: Sequence[int]) -> int:
    fits = [other for other, capacity in enumerate(task.capacities) if used <= capacity]
    fits = [other for other in fits if task.weights[other] <= task.weights[stock]]
    return min(stock_nm[other] for other in fits)


def left_of(stock_nm: int, pieces_nm: Sequence[int], kerf_nm: int) -> int:
    """Return what is left over of a stock length; the last cut is none where the pieces end with it."""
    return max(0, stock_nm - sum(pieces_nm) - kerf_nm * len(pieces_nm))
