"""Compiled loops of the bounds: the least value of a room over all its seams, and of what lies side by side.

All arguments are whole numbers; `value[w]` is what a run of width w (steps) counts for each micrometre of height.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Whole = NDArray[np.int64]

NONE = np.int64(1) << np.int64(61)
"""No layout: more than anything counts."""


@njit(cache=True)
def least_by_seams(
    across: int,
    overlap: int,
    limits: Whole,
    runs: Whole,
    seams: NDArray[np.bool_],
    forced: Whole,
    more_height: int,
    holes: Whole,
    one_for_all_holes: bool,
    value: Whole,
    price: int,
    most: int,
    beyond: bool,
    before: Whole,
) -> Whole:
    """Return, for 0 … `most` seams, the least value of a room's layouts with so many (`beyond`: the last, or more).

    A breadth goes from `begin` to `end` on the grid; the next begins `overlap` before that end. `limits`: the widest
    breadth by the number of its sides that are seams. `forced`: cross seams of a piece that holds that step, each
    more height by `more_height`. Every seam adds `price`. What lies beyond is worth no more the farther a breadth
    begins, so that a start is left out if one farther on is reached for no more value with no more seams.

    `before` (`most` + 1, across + 1) receives for every start that of the breadth before it, counts and starts packed
    into one number, −1: none; its last column that of the last breadth.
    """
    best = np.full((most + 1, across + 1), NONE, dtype=np.int64)
    total = np.full(most + 1, NONE, dtype=np.int64)
    farther = np.full(across + 2, NONE, dtype=np.int64)
    kept = np.empty(runs.shape[0], dtype=np.int64)
    main, rate, enough = _largest(runs), 0.0, int(NONE)
    if beyond and most == 0 and price > 0:
        rate = _least_rate(runs[main, 5], value, price, limits[0])
        enough = _farthest_first(
            across, overlap, limits, runs, seams, forced, more_height, holes.shape[0], value, price
        )
    best[0, 0] = 0
    for count in range(most + 1):
        for begin in range(across, -1, -1):
            farther[begin] = min(farther[begin], min(farther[begin + 1], best[count, begin]))
        for begin in range(across):
            here = best[count, begin]
            if here >= NONE or farther[begin + 1] <= here or farther[begin] < here:
                continue
            # breadths to come that the largest run counts for hold all of it from here on
            ahead = max(0, runs[main, 4] - max(runs[main, 3], begin))
            if enough < NONE and here + int(rate * ahead * (1 - 1e-9)) - price > enough:
                continue
            if not beyond and ahead > (most - count + 1) * limits[0]:
                continue
            far = _farthest(begin, across, limits[1 if begin > 0 else 0], runs)
            near = _runs_near(begin, far, runs, kept)
            crossings = 0
            for end in range(begin + 1, far + 1):
                crossings = max(crossings, forced[end - 1])
                last = end == across
                if not last and (not seams[end] or end - overlap <= begin):
                    continue
                limit = min(end - begin, limits[(1 if begin > 0 else 0) + (0 if last else 1)])
                fits = _value_of(begin, end, last, limit, runs, kept[:near], value, crossings * more_height)
                if fits < 0:
                    continue  # a breadth to the wall may be wider than one to a seam
                inside = 0
                for number in range(holes.shape[0]):
                    if begin <= holes[number, 0] and end >= holes[number, 1]:
                        inside += 1
                if one_for_all_holes:
                    inside = min(1, inside) if crossings == 0 else 0
                extra = crossings + inside + (0 if last else 1)
                if not beyond and count + extra > most:
                    continue
                place = min(most, count + extra)
                reached = here + fits + price * extra
                if last:
                    if reached < total[place]:
                        total[place] = reached
                        before[place, across] = count * (across + 1) + begin
                elif reached < best[place, end - overlap]:
                    best[place, end - overlap] = reached
                    before[place, end - overlap] = count * (across + 1) + begin
    return total


@njit(cache=True)
def _largest(runs: Whole) -> int:
    """Return the run with the most area."""
    main = 0
    for number in range(runs.shape[0]):
        if runs[number, 2] * runs[number, 5] > runs[main, 2] * runs[main, 5]:
            main = number
    return main


@njit(cache=True)
def _least_rate(height: int, value: Whole, price: int, widest: int) -> float:
    """Return what a step of a run so high counts at least, a seam included for every breadth."""
    rate = float(NONE)
    for width in range(1, min(widest, len(value) - 1) + 1):
        rate = min(rate, (float(value[width]) * height + price) / width)
    return rate


@njit(cache=True)
def _farthest_first(
    across: int,
    overlap: int,
    limits: Whole,
    runs: Whole,
    seams: NDArray[np.bool_],
    forced: Whole,
    more_height: int,
    holes: int,
    value: Whole,
    price: int,
) -> int:
    """Return what the layout counts in which every breadth goes as far as it can; NONE if it does not come through."""
    everything = np.arange(runs.shape[0])
    total, begin = 0, 0
    while True:
        end = min(across, begin + limits[1 if begin > 0 else 0])
        while end > begin and (end < across and not seams[end]):
            end -= 1
        if end < across and end - begin > limits[2 if begin > 0 else 1]:
            end = begin + limits[2 if begin > 0 else 1]
            while end > begin and not seams[end]:
                end -= 1
        if end <= begin or (end < across and end - overlap <= begin):
            return int(NONE)
        crossings = 0
        for step in range(begin, end):
            crossings = max(crossings, forced[step])
        counts = _value_of(begin, end, end == across, end - begin, runs, everything, value, crossings * more_height)
        if counts < 0:
            return int(NONE)
        total += counts + price * (crossings + holes)
        if end == across:
            return int(total)
        total += price
        begin = end - overlap


@njit(cache=True)
def _farthest(begin: int, across: int, limit: int, runs: Whole) -> int:
    """Return how far a breadth from `begin` can go before one of its runs is wider than the limit."""
    far = across
    for number in range(runs.shape[0]):
        start = max(begin, runs[number, 0])
        active = begin <= runs[number, 4] or begin == 0
        if active and runs[number, 1] - start > limit and runs[number, 3] <= start + limit + 1:
            far = min(far, start + limit)
    return far


@njit(cache=True)
def _runs_near(begin: int, reach: int, runs: Whole, kept: Whole) -> int:
    """Write to `kept` which runs a breadth from `begin` to `reach` at most may hold some of; return how many."""
    count = 0
    for number in range(runs.shape[0]):
        if (begin <= runs[number, 4] or begin == 0) and runs[number, 0] < reach and runs[number, 1] > begin:
            kept[count] = number
            count += 1
    return count


@njit(cache=True)
def _value_of(begin: int, end: int, last: bool, limit: int, runs: Whole, near: Whole, value: Whole, more: int) -> int:
    """Return what a breadth counts of the runs near; −1 if one of its runs is wider than the limit."""
    total = 0
    for number in near:
        if end < runs[number, 3] and not last:
            continue
        left, right = runs[number, 0], runs[number, 1]
        whole = begin <= left and end >= right
        width = runs[number, 2] if whole else min(end, right) - max(begin, left)
        if width <= 0:
            continue
        if width > limit:
            return -1
        total += value[width] * (runs[number, 5] + more)
    return total


@njit(cache=True)
def most_side_by_side(widths: Whole, values: Whole, widest: int) -> Whole:
    """Return, for every width of goods up to `widest`, the most value of runs that lie side by side on it."""
    most = np.zeros(widest + 1, dtype=np.int64)
    for width in range(1, widest + 1):
        found = most[width - 1]
        for number in range(widths.shape[0]):
            if widths[number] > width:
                break
            found = max(found, most[width - widths[number]] + values[number])
        most[width] = found
    return most


@njit(cache=True)
def heights_by_width(begin: int, end: int, last: bool, runs: Whole, more: int, heights: Whole) -> None:
    """Add what a breadth holds to `heights`, micrometres by width in steps."""
    for number in range(runs.shape[0]):
        if (end < runs[number, 3] and not last) or (begin > runs[number, 4] and begin > 0):
            continue
        left, right = runs[number, 0], runs[number, 1]
        whole = begin <= left and end >= right
        width = runs[number, 2] if whole else min(end, right) - max(begin, left)
        if width > 0:
            heights[width] += runs[number, 5] + more
