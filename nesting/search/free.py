"""Compiled: where on a source a piece is free, lowest and then leftmost.

Rectangles are looked for in the largest holes of a source, pieces of several boxes between the boxes that lie there.
"""

from __future__ import annotations

from nesting.search.arrays import (
    F_LEAST_LENGTH,
    F_LEAST_WIDTH,
    NONE,
    W_BOX,
    W_BOXES,
    W_LENGTH,
    W_WIDTH,
    X0,
    X1,
    Y0,
    Y1,
    Whole,
)
from nesting.search.compiling import lean_inner
from nesting.search.state import (
    B_ROOM,
    L_HIT,
    L_LEFT,
    L_LOW,
    L_RIGHT,
    L_TOP,
    M_CLASH,
    M_LOOKS,
    M_TOP,
    N_BASE,
    N_BOXES,
    N_HOLE_COUNT,
    N_HOLES,
)


@lean_inner
def next_good(line: Whole, x: int, high: int, rooms: int, across: int) -> int:
    """Return the least x from `x` on that leaves every piece in `rooms` a lawful x; more than `high`: none."""
    moved = True
    while moved and x <= high:
        moved = False
        for k in range(rooms):
            over = (x + line[k, B_ROOM] - line[k, B_ROOM + 1]) % across
            if over > line[k, B_ROOM + 2] - line[k, B_ROOM + 1]:
                x += across - over
                moved = True
    return x


@lean_inner
def lowest(
    flat: Whole,
    laid: Whole,
    state: Whole,
    line: Whole,
    source: int,
    way: int,
    floor: int,
    top: int,
    first: int,
    high: int,
    step: int,
    modulus: int,
    residue: int,
    rooms: int,
) -> tuple[int, int]:
    """Return the lowest, then leftmost free (y, x) of a way of several boxes; y > `top` when there is none.

    x ≡ `first` modulo `step` up to `high` (with `rooms`: any good x, `step` being the repeat), y ≡ `residue` modulo
    `modulus`. Where nothing is free at y, the next y to try is where the first of the boxes met there ends.
    """
    begin = state[source, N_BASE]
    base, end = begin, begin + state[source, N_BOXES]
    width, length = flat[way, W_WIDTH], flat[way, W_LENGTH]
    box, boxes = flat[way, W_BOX], flat[way, W_BOXES]
    y = floor
    if modulus > 1:
        y += (residue - floor) % modulus
    looks = 6
    x = first
    while y <= top:
        while begin < end and laid[begin, L_TOP] <= y:
            begin += 1
        met = base
        place = begin
        while place < end and laid[place, L_LOW] < y + length:
            if laid[place, L_TOP] > y:
                laid[met, L_HIT] = place
                met += 1
            place += 1
        looks += place - begin + 2
        x = first
        if rooms:
            x = next_good(line, x, high, rooms, step)
        moved = True
        while moved and x <= high:
            moved = False
            looks += met - base
            for k in range(base, met):
                hit = laid[k, L_HIT]
                right = laid[hit, L_RIGHT]
                left = laid[hit, L_LEFT]
                if right <= x or left >= x + width:
                    continue
                to = x
                looks += boxes
                for b in range(box, box + boxes):
                    if (
                        laid[hit, L_LOW] < y + flat[b, Y1]
                        and y + flat[b, Y0] < laid[hit, L_TOP]
                        and left < x + flat[b, X1]
                        and x + flat[b, X0] < right
                    ):
                        to = max(to, right - flat[b, X0])
                if to > x:
                    moved = True
                    x = to
                    if rooms:
                        x = next_good(line, to, high, rooms, step)
                    elif step > 1:
                        x += (first - to) % step
                    if x > high:
                        break
        if x <= high:
            break
        after = -NONE
        for k in range(base, met):
            hit = laid[k, L_HIT]
            for b in range(box, box + boxes):
                ends = laid[hit, L_TOP] - flat[b, Y0]
                if ends > y and laid[hit, L_LOW] < y + flat[b, Y1]:
                    after = min(after, ends)
        y = after
        if modulus > 1:
            y += (residue - after) % modulus
    state[0, M_LOOKS] += looks
    return y, x


@lean_inner
def lowest_in_holes(
    laid: Whole,
    state: Whole,
    line: Whole,
    source: int,
    width: int,
    length: int,
    floor: int,
    top: int,
    first: int,
    high: int,
    step: int,
    modulus: int,
    residue: int,
    rooms: int,
) -> tuple[int, int]:
    """Return what `lowest` returns for a rectangle: wherever it is free, it lies in one of the largest holes."""
    best_y, best_x = top + 1, first
    start, count = state[source, N_HOLES], state[source, N_HOLE_COUNT]
    for hole in range(start, start + count):
        y, x = max(floor, laid[hole, Y0]), max(first, laid[hole, X0])
        if y > best_y or y + length > laid[hole, Y1] or x + width > laid[hole, X1]:
            continue
        if modulus > 1:
            y += (residue - y) % modulus
        if rooms:
            x = next_good(line, x, high, rooms, step)
        elif step > 1:
            x += (first - x) % step
        if y > top or y + length > laid[hole, Y1] or x > high or x + width > laid[hole, X1]:
            continue
        if y < best_y or (y == best_y and x < best_x):
            best_y, best_x = y, x
    state[0, M_LOOKS] += count + 6
    return best_y, best_x


@lean_inner
def cut_holes(flat: Whole, laid: Whole, state: Whole, source: int, left: int, low: int, right: int, high: int) -> None:
    """Take a box out of the largest holes of a source: the new list goes on top of the old one, which stays.

    Each hole that the box meets leaves up to four parts; those too small for any rectangle, or inside another hole,
    are dropped (the maximal rectangles of Jylänki, A Thousand Ways to Pack the Bin, 2010).
    """
    start, count, begin = state[source, N_HOLES], state[source, N_HOLE_COUNT], state[0, M_TOP]
    if begin + 5 * count > len(laid):
        state[0, M_CLASH] = 1  # no room left to note them: whatever is tried is not taken
        return
    kept = begin
    for hole in range(start, start + count):
        if laid[hole, X1] <= left or laid[hole, X0] >= right or laid[hole, Y1] <= low or laid[hole, Y0] >= high:
            for k in range(4):
                laid[kept, k] = laid[hole, k]
            kept += 1
    made = kept
    for hole in range(start, start + count):
        x0, y0, x1, y1 = laid[hole, X0], laid[hole, Y0], laid[hole, X1], laid[hole, Y1]
        if x1 <= left or x0 >= right or y1 <= low or y0 >= high:
            continue
        for side in range(4):
            a, b, c, d = x0, y0, x1, y1
            if side == 0:
                c = left
            elif side == 1:
                a = right
            elif side == 2:
                d = low
            else:
                b = high
            if c - a >= flat[0, F_LEAST_WIDTH] and d - b >= flat[0, F_LEAST_LENGTH]:
                laid[made, X0], laid[made, Y0], laid[made, X1], laid[made, Y1] = a, b, c, d
                made += 1
    end = kept
    for new in range(kept, made):
        inside = False
        other = begin
        while other < made and not inside:
            if other == end:
                other = new + 1  # what was left between is dropped or has moved down
                if other >= made:
                    break
            if (
                laid[other, X0] <= laid[new, X0]
                and laid[other, Y0] <= laid[new, Y0]
                and laid[new, X1] <= laid[other, X1]
                and laid[new, Y1] <= laid[other, Y1]
            ):
                same = laid[other, X0] == laid[new, X0] and laid[other, Y0] == laid[new, Y0]
                same = same and laid[other, X1] == laid[new, X1] and laid[other, Y1] == laid[new, Y1]
                inside = other < new or not same
            other += 1
        if not inside:
            for k in range(4):
                laid[end, k] = laid[new, k]
            end += 1
    state[0, M_LOOKS] += count + (made - kept) * (end - begin)
    state[source, N_HOLES], state[source, N_HOLE_COUNT] = begin, end - begin
    state[0, M_TOP] = end
