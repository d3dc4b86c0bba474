"""Compiled skyline packing: rectangles into a strip of given width and height, by order or by best fit.

The skyline is the upper edge of what is placed, a row of level segments. Filling takes the lowest segment and puts
that piece on it which fits best (Burke, Kendall and Whitwell 2004; Leung, Zhang and Sim 2011; Wei, Hu, Leung and Zhang
2017), the order of the pieces deciding among equals; where none fits, the segment is raised to its lower neighbour and
what lies below is waste. Annealing changes the order.

Everything here is whole numbers in plain arrays; random numbers come from a generator of its own, so that results are
the same on every machine. "Across" is the side along the skyline, "up" the other one; which of them is the roll's width
is the caller's affair.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from nesting.search.arrays import Whole
from nesting.search.compiling import compiled, inner

State = npt.NDArray[np.uint64]
ENDLESS = 1 << 60


@inner
def draw(state: State, below: int) -> np.int64:
    """Return a random whole number in 0 … below − 1 and advance `state` (xorshift64*, Vigna 2016).

    Constants are handed over as np.int64 here and elsewhere, lest numba compiles a function again for each.
    """
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    return np.int64(((x * np.uint64(2685821657736338717)) >> np.uint64(33)) % np.uint64(below))


@inner
def lowest(sy: Whole, k: int) -> int:
    """Return the lowest of `k` segments, the leftmost among equals."""
    low = 0
    for i in range(1, k):
        if sy[i] < sy[low]:
            low = i
    return low


@inner
def lay(sx: Whole, sy: Whole, k: int, j: int, wide: int, top: int, right: bool) -> int:
    """Put a piece `wide` across with its upper edge at `top` on segment `j` of `k`; return the new number of segments.

    `sx[i]` is where segment i begins, `sx[k]` the strip's width, `sy[i]` its height; `right`: flush to the right.
    """
    gap = sx[j + 1] - sx[j]
    if wide == gap:
        sy[j] = top
        return level(sx, sy, k, j)
    if not right:
        if j > 0 and sy[j - 1] == top:
            sx[j] += wide
            return k
        for i in range(k, j, -1):
            sx[i + 1] = sx[i]
            sy[i] = sy[i - 1]
        sx[j + 1] = sx[j] + wide
        sy[j] = top
        return k + 1
    if j + 1 < k and sy[j + 1] == top:
        sx[j + 1] -= wide
        return k
    for i in range(k, j, -1):
        sx[i + 1] = sx[i]
        sy[i] = sy[i - 1]
    sx[j + 1] = sx[j + 2] - wide
    sy[j + 1] = top
    return k + 1


@inner
def level(sx: Whole, sy: Whole, k: int, j: int) -> int:
    """Join segment `j` with neighbours of its height; return the new number of segments."""
    first, last = j, j
    if j > 0 and sy[j - 1] == sy[j]:
        first = j - 1
    if j + 1 < k and sy[j + 1] == sy[j]:
        last = j + 1
    gone = last - first
    if gone:
        for i in range(first + 1, k - gone):
            sx[i] = sx[i + gone]
            sy[i] = sy[i + gone]
        sx[k - gone] = sx[k]
    return k - gone


@compiled
def fill(
    width: int,
    high: int,
    w: Whole,
    h: Whole,
    turns: Whole,
    order: Whole,
    style: int,
    most: int,
    sx: Whole,
    sy: Whole,
    after: Whole,
    px: Whole,
    py: Whole,
    way: Whole,
) -> tuple[int, int]:
    """Fill a strip `width` across and `high` up in `order`; return (area left over, work done).

    `w`, `h`: the pieces as given; `turns[i]`: 1 when piece i may lie a quarter turned. `style` 0: the order alone
    decides which of the pieces that fit is next; 1: best fit first. `px`, `py`, `way` take where each piece lies (−1:
    it was left over) and whether it is turned. As soon as more than `most` of the strip is waste, the filling is
    given up and `ENDLESS` returned. `after` (one longer than the pieces) and `sx`, `sy` (three longer) are work space.
    """
    n = order.size
    left = 0
    least_w = ENDLESS
    least_h = ENDLESS
    for i in range(n):
        px[i] = -1
        after[i] = i + 1
        left += w[i] * h[i]
        least_w = min(least_w, w[i], h[i] if turns[i] else w[i])
        least_h = min(least_h, h[i], w[i] if turns[i] else h[i])
    after[n] = 0  # the first of those not yet placed, as a place in the order
    k = int(np.int64(1))
    sx[0], sx[1], sy[0] = 0, width, 0
    waste = 0
    work = n
    while after[n] < n:
        j = lowest(sy, k)
        work += k
        gap = sx[j + 1] - sx[j]
        base = sy[j]
        room = high - base
        left_wall = (sy[j - 1] if j > 0 else high) - base
        right_wall = (sy[j + 1] if j + 1 < k else high) - base
        tall, short = max(left_wall, right_wall), min(left_wall, right_wall)
        best, best_score, before, turned = -1, -2, n, 0
        if gap >= least_w and room >= least_h:
            fewest = ENDLESS
            last = n
            at = after[n]
            while at < n:
                i = order[at]
                for turn in range(1 + turns[i]):
                    wide, up = (h[i], w[i]) if turn else (w[i], h[i])
                    fewest = min(fewest, wide)
                    if wide > gap or up > room:
                        continue
                    if style == 0:
                        score = 6
                    elif wide == gap:
                        score = 2 + (up == left_wall) + (up == right_wall)
                        if score == 4 or up == tall:
                            score = 5 if score == 4 else 4
                    elif gap - wide < least_w:
                        score = -1
                    else:
                        score = 1 if up in (left_wall, right_wall) else 0
                    if score > best_score:
                        best, best_score, before, turned = at, score, last, turn
                work += 1
                if best_score >= 5:
                    break
                last = at
                at = after[at]
            if at == n:
                least_w = fewest
        if best < 0:
            up = min(short, room)
            waste += gap * up
            if waste > most:
                return ENDLESS, work
            if k == 1 or room == 0:
                break
            sy[j] += up
            k = level(sx, sy, k, j)
            continue
        i = order[best]
        after[before] = after[best]
        wide, up = (h[i], w[i]) if turned else (w[i], h[i])
        left -= w[i] * h[i]
        right = right_wall > left_wall
        if wide < gap and (up == left_wall) != (up == right_wall):
            right = up == right_wall
        px[i] = sx[j + 1] - wide if right else sx[j]
        py[i] = base
        way[i] = turned
        k = lay(sx, sy, k, j, wide, base + up, right)
    return left, work


@inner
def copy(given: Whole, to: Whole) -> None:
    """Copy an array (written out, because to assign a slice drags in numba's strings, for its error)."""
    for i in range(given.size):
        to[i] = given[i]


@inner
def shake(order: Whole, px: Whole, state: State) -> None:
    """Change `order` a little: exchange two pieces, move one, or bring one that was left over forward."""
    n = order.size
    kind = draw(state, int(np.int64(10)))
    a = draw(state, n)
    b = draw(state, n)
    if kind < 3:
        for _ in range(n):
            if px[order[a]] < 0:
                break
            a = np.int64((a + 1) % n)
    if kind < 7:
        order[a], order[b] = order[b], order[a]
        return
    moved = order[a]
    if a < b:
        for i in range(a, b):
            order[i] = order[i + 1]
    else:
        for i in range(a, b, -1):
            order[i] = order[i - 1]
    order[b] = moved


@inner
def often(state: State) -> np.int64:
    """Return a random number, in thousandths, whose chance falls like e^−x: halvings by ln 2, even between them."""
    many = draw(state, int(np.int64(1 << 31)))
    halvings = 0
    while many & 1:
        many >>= 1
        halvings += 1
    return 693 * halvings + draw(state, int(np.int64(693)))


@compiled
def anneal(
    width: int,
    high: int,
    w: Whole,
    h: Whole,
    turns: Whole,
    order: Whole,
    best: Whole,
    style: int,
    heat: int,
    cold: int,
    whole: int,
    spent: int,
    give: int,
    state: State,
    found: Whole,
) -> None:
    """Change `order` step by step so that less area is left over, while `give` of the work lasts.

    `found` holds [least area left over, area left over now, work done here]; `best` takes the order of the least.
    A worse order is accepted with the chance of annealing, at a heat that falls from `heat` to `cold` (areas) as the
    work of the whole schedule goes from 0 to `whole`; `spent` of it is done. How much may be left over is drawn
    before the filling, which can then stop early. Ends when nothing is left over.
    """
    n = order.size
    sx, sy = np.empty(n + 3, np.int64), np.empty(n + 3, np.int64)
    after, px, py = np.empty(n + 1, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    way, kept, seen = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    free = width * high
    for i in range(n):
        free -= w[i] * h[i]
    left, work = fill(width, high, w, h, turns, order, style, int(np.int64(ENDLESS)), sx, sy, after, px, py, way)
    copy(px, seen)
    found[1] = left
    if found[0] < 0 or left < found[0]:
        found[0] = left
        copy(order, best)
    while work < give and found[0] > 0:
        copy(order, kept)
        shake(order, seen, state)
        to_go = 1000 - min(spent + work, whole) * 1000 // whole
        warm = cold + (heat - cold) * to_go * to_go // 1_000_000
        limit = found[1] + warm * often(state) // 1000
        left, looks = fill(width, high, w, h, turns, order, style, free + limit, sx, sy, after, px, py, way)
        work += looks + n
        if left > limit:
            copy(kept, order)
            continue
        found[1] = left
        copy(px, seen)
        if left < found[0]:
            found[0] = left
            copy(order, best)
    found[2] = work
