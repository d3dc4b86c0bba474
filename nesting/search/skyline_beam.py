"""Compiled beam search on the skyline: many fillings grow side by side, a piece a level, and only the best go on.

A filling is grown at its lowest segment by every piece that fits there, or, at the cost of the goods below, at the next
lowest ones. What has wasted more than the strip has to spare is dropped, and so is what leaves the same pieces under
the same skyline as another. A search this wide finds packings without waste of some dozens of pieces, which annealing
misses. (Beam search with a guide, on rectangles: Libralesso and Fontan 2021; exhaustive search for packings without
waste: Lesh, Marks, McMahon and Mitzenmacher 2004.)
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from nesting.search.arrays import Whole
from nesting.search.compiling import compiled, inner
from nesting.search.skyline_kernel import State, draw, lay, level, lowest

ENDLESS = 1 << 60
SPARE = 3
"""So many of the lowest segments are looked at."""
NOISE = 100
"""Scores differ by less than a tenth of a mean piece at random."""

# facts of a filling: segments of its skyline, waste, area laid, least width of the pieces left
SEGMENTS, WASTE, LAID, LEAST = range(4)
# how a piece is laid: turned, flush to the right, and how often the lowest segment is raised before
TURNED, RIGHT, RAISED = 1, 2, 4
# numbers of the search: pieces laid, fillings, which of the two sides of the tables holds them, candidates, work done,
# the most area laid by any filling
LEVEL, COUNT, SIDE, CANDIDATES, WORK, MOST = range(6)
# taste: what waste, area laid and a segment count in a score, thousandths (of a mean piece's area; a piece)
T_WASTE, T_LAID, T_SEGMENT = range(3)


class Beam(NamedTuple):
    """A search as arrays. The first index of the tables of fillings is one of two sides, used in turn."""

    w: Whole
    h: Whole
    turns: Whole
    twin: Whole  # per piece: the first of those of its size, which stand together
    marks: State  # per piece: a random number for telling fillings apart
    strip: Whole  # width, height, area that may be wasted, mean area of a piece
    taste: Whole
    begin: Whole  # (side, filling, segment)
    height: Whole
    facts: Whole  # (side, filling, fact)
    laid: npt.NDArray[np.uint8]  # (side, filling, piece)
    parent: npt.NDArray[np.int32]  # (level, filling)
    piece: npt.NDArray[np.int32]
    how: npt.NDArray[np.int8]
    score: Whole  # candidates
    c_parent: npt.NDArray[np.int32]
    c_piece: npt.NDArray[np.int32]
    c_how: npt.NDArray[np.int8]
    seen: State  # table of fillings met at a level
    met: npt.NDArray[np.int32]
    state: State
    numbers: Whole
    sx: Whole  # work space for a skyline
    sy: Whole


def beam_bytes(n: int, segments: int) -> int:
    """Return about how much memory a filling of a beam takes for `n` pieces."""
    return 32 * (segments + 3) + 11 * n + 250


def make_beam(
    width: int, high: int, w: Whole, h: Whole, turns: Whole, breadth: int, taste: tuple[int, int, int], state: State
) -> Beam:
    """Return a beam of `breadth` fillings for a strip `width` across and `high` up; pieces of one size together."""
    n = len(w)
    area = int((w * h).sum())
    segments = segments_for(n)
    twin = np.arange(n, dtype=np.int64)
    for i in range(1, n):
        if w[i] == w[i - 1] and h[i] == h[i - 1] and turns[i] == turns[i - 1]:
            twin[i] = twin[i - 1]
    slots = 1 << (4 * breadth - 1).bit_length()
    many = 8 * breadth + 8 * n + 64
    chance = np.random.Generator(np.random.PCG64(7))
    beam = Beam(
        w=w,
        h=h,
        turns=turns,
        twin=twin,
        marks=chance.integers(1, 1 << 63, n, dtype=np.uint64),
        strip=np.array([width, high, width * high - area, max(1, area // n)], dtype=np.int64),
        taste=np.array(taste, dtype=np.int64),
        begin=np.zeros((2, breadth, segments + 3), dtype=np.int64),
        height=np.zeros((2, breadth, segments + 3), dtype=np.int64),
        facts=np.zeros((2, breadth, 4), dtype=np.int64),
        laid=np.zeros((2, breadth, n), dtype=np.uint8),
        parent=np.zeros((n, breadth), dtype=np.int32),
        piece=np.zeros((n, breadth), dtype=np.int32),
        how=np.zeros((n, breadth), dtype=np.int8),
        score=np.zeros(many, dtype=np.int64),
        c_parent=np.zeros(many, dtype=np.int32),
        c_piece=np.zeros(many, dtype=np.int32),
        c_how=np.zeros(many, dtype=np.int8),
        seen=np.zeros(slots, dtype=np.uint64),
        met=np.zeros(slots, dtype=np.int32),
        state=state,
        numbers=np.array([0, 1, 0, 0, 0, 0], dtype=np.int64),
        sx=np.zeros(segments + 4, dtype=np.int64),
        sy=np.zeros(segments + 4, dtype=np.int64),
    )
    beam.begin[0, 0, 1] = width
    beam.facts[0, 0] = (1, 0, 0, int(np.where(turns > 0, np.minimum(w, h), w).min()))
    return beam


def segments_for(n: int) -> int:
    """Return the most segments of a skyline that a beam for `n` pieces keeps."""
    return min(n + 1, 16 + 4 * int(n**0.5))


@inner
def walls(sy: Whole, k: int, j: int, high: int) -> tuple[int, int]:
    """Return how high the walls left and right of segment `j` rise above it."""
    left = sy[j - 1] if j > 0 else high
    right = sy[j + 1] if j + 1 < k else high
    return left - sy[j], right - sy[j]


@inner
def lift(sx: Whole, sy: Whole, k: int, high: int) -> tuple[int, int]:
    """Raise the lowest segment to its lower neighbour; return (number of segments, area lost)."""
    j = lowest(sy, k)
    left, right = walls(sy, k, j, high)
    up = min(left, right)
    lost = up * (sx[j + 1] - sx[j])
    sy[j] += up
    return level(sx, sy, k, j), lost


@inner
def spread(beam: Beam) -> None:
    """Note every way in which a filling of this level can grow by a piece, with its score."""
    side = beam.numbers[SIDE]
    beam.numbers[CANDIDATES] = 0
    high, free = beam.strip[1], beam.strip[2]
    sx, sy = beam.sx, beam.sy
    for b in range(beam.numbers[COUNT]):
        k = beam.facts[side, b, SEGMENTS]
        for i in range(k):
            sx[i] = beam.begin[side, b, i]
            sy[i] = beam.height[side, b, i]
        sx[k] = beam.begin[side, b, k]
        waste = beam.facts[side, b, WASTE]
        for raised in range(SPARE):
            grow(beam, b, k, waste, raised)
            if k == 1:
                break
            k, lost = lift(sx, sy, k, high)
            waste += lost
            if waste > free:
                break


@inner
def grow(beam: Beam, b: int, k: int, waste: int, raised: int) -> None:
    """Note the ways in which filling `b` can grow at the lowest of its `k` segments, which was `raised` so often."""
    side = beam.numbers[SIDE]
    high, free, mean = beam.strip[1], beam.strip[2], beam.strip[3]
    sx, sy = beam.sx, beam.sy
    j = lowest(sy, k)
    left, right = walls(sy, k, j, high)
    gap, room = sx[j + 1] - sx[j], high - sy[j]
    least = beam.facts[side, b, LEAST]
    w, h, turns, twin, laid = beam.w, beam.h, beam.turns, beam.twin, beam.laid[side, b]
    score, c_parent, c_piece, c_how, state = beam.score, beam.c_parent, beam.c_piece, beam.c_how, beam.state
    t_waste, t_laid, t_segment = beam.taste[T_WASTE], beam.taste[T_LAID], beam.taste[T_SEGMENT]
    area = beam.facts[side, b, LAID]
    if beam.numbers[CANDIDATES] + 4 * w.size > score.size:
        thin(beam, (score.size - 4 * w.size) // 2)
    c = beam.numbers[CANDIDATES]
    # With nothing to spare, every packing can be built flush to one side.
    flushes = 1 if free == 0 else 2
    for i in range(w.size):
        if laid[i] or (twin[i] != i and not laid[i - 1]):
            continue
        for turn in range(1 + turns[i]):
            wide, up = (h[i], w[i]) if turn else (w[i], h[i])
            if wide > gap or up > room:
                continue
            for flush in range(1 if wide == gap else flushes):
                lost = 0
                if wide < gap and gap - wide < least:
                    lost = (gap - wide) * min(up, left if flush else right)
                if waste + lost > free:
                    continue
                segments = k + 1
                if wide == gap:
                    segments = k - (up == left and j > 0) - (up == right and j + 1 < k)
                elif up == (right if flush else left):
                    segments = k
                points = (waste + lost) * t_waste - (area + wide * up) * t_laid
                score[c] = points // mean + segments * t_segment + draw(state, int(np.int64(NOISE)))
                c_parent[c] = b
                c_piece[c] = i
                c_how[c] = turn * TURNED + flush * RIGHT + raised * RAISED
                c += 1
    beam.numbers[CANDIDATES] = c
    beam.numbers[WORK] += w.size + k


@inner
def cut_of(score: Whole, count: int, kept: int) -> tuple[int, int]:
    """Return (the `kept`-th lowest of the first `count` scores, how many of those equal to it belong to the lowest).

    Halves the span between the lowest and the highest score, counting, until it is one number.
    """
    low, high = score[0], score[0]
    for c in range(count):
        low, high = min(low, score[c]), max(high, score[c])
    below = 0  # how many are less than `low`
    while low < high:
        middle = (low + high) >> 1
        many = 0
        for c in range(count):
            many += score[c] <= middle
        if many >= kept:
            high = middle
        else:
            low = middle + 1
            below = many
    return low, kept - below


@inner
def thin(beam: Beam, kept: int) -> None:
    """Keep the `kept` best candidates, the earlier ones among equals."""
    count = beam.numbers[CANDIDATES]
    if count <= kept:
        return
    score, c_parent, c_piece, c_how = beam.score, beam.c_parent, beam.c_piece, beam.c_how
    cut, equal = cut_of(score, count, kept)
    to = 0
    for c in range(count):
        if score[c] > cut or (score[c] == cut and equal <= 0):
            continue
        equal -= score[c] == cut
        score[to] = score[c]
        c_parent[to] = c_parent[c]
        c_piece[to] = c_piece[c]
        c_how[to] = c_how[c]
        to += 1
    beam.numbers[CANDIDATES] = to
    beam.numbers[WORK] += count


@inner
def build(beam: Beam, c: int, to: int) -> bool:
    """Make candidate `c` the filling `to` of the next level; False when it is no better than another, or wastes."""
    side = beam.numbers[SIDE]
    b, i, how = beam.c_parent[c], beam.c_piece[c], beam.c_how[c]
    high, free = beam.strip[1], beam.strip[2]
    sx, sy = beam.sx, beam.sy
    n = beam.w.size
    w, h, turns, twin, marks = beam.w, beam.h, beam.turns, beam.twin, beam.marks
    before = beam.laid[side, b]
    k = beam.facts[side, b, SEGMENTS]
    for s in range(k):
        sx[s] = beam.begin[side, b, s]
        sy[s] = beam.height[side, b, s]
    sx[k] = beam.begin[side, b, k]
    waste = beam.facts[side, b, WASTE]
    for _ in range(how // RAISED):
        k, lost = lift(sx, sy, k, high)
        waste += lost
    if k + 4 > beam.begin.shape[2]:
        return False
    wide, up = (h[i], w[i]) if how & TURNED else (w[i], h[i])
    j = lowest(sy, k)
    k = lay(sx, sy, k, j, wide, sy[j] + up, (how & RIGHT) > 0)
    beam.numbers[WORK] += 2 * n + k
    least = ENDLESS
    mark = np.uint64(0)
    for p in range(n):
        if before[p] or p == i:
            mark += marks[twin[p]]
        else:
            least = min(least, w[p], h[p] if turns[p] else w[p])
    while least < ENDLESS and k > 1:
        j = lowest(sy, k)
        if sx[j + 1] - sx[j] >= least or sy[j] >= high:
            break
        k, lost = lift(sx, sy, k, high)
        waste += lost
    if waste > free or known(beam, mark, k):
        return False
    other = 1 - side
    for s in range(k):
        beam.begin[other, to, s] = sx[s]
        beam.height[other, to, s] = sy[s]
    beam.begin[other, to, k] = sx[k]
    after = beam.laid[other, to]
    for p in range(n):
        after[p] = before[p]
    after[i] = 1
    beam.facts[other, to, SEGMENTS] = k
    beam.facts[other, to, WASTE] = waste
    area = beam.facts[side, b, LAID] + wide * up
    beam.facts[other, to, LAID] = area
    beam.numbers[MOST] = max(beam.numbers[MOST], area)
    beam.facts[other, to, LEAST] = least
    at = beam.numbers[LEVEL]
    beam.parent[at, to] = b
    beam.piece[at, to] = i
    beam.how[at, to] = how
    return True


@inner
def known(beam: Beam, mark: np.uint64, k: int) -> bool:
    """Tell whether pieces of this mark under this skyline were met at this level; remember them."""
    for s in range(k):
        mark = (mark ^ np.uint64(beam.sx[s])) * np.uint64(1099511628211)
        mark ^= mark >> np.uint64(29)
        mark = (mark ^ np.uint64(beam.sy[s])) * np.uint64(1099511628211)
        mark ^= mark >> np.uint64(31)
    size = beam.seen.size
    place = np.int64(mark & np.uint64(size - 1))
    now = beam.numbers[LEVEL] + 1
    while beam.met[place] == now:
        if beam.seen[place] == mark:
            return True
        place = (place + 1) & (size - 1)
    beam.met[place] = now
    beam.seen[place] = mark
    return False


@compiled
def advance(beam: Beam, give: int) -> int:
    """Go on level by level until `give` work is done; return 1 when all pieces are laid, −1 at a dead end, else 0."""
    until = beam.numbers[WORK] + give
    breadth = beam.begin.shape[1]
    while beam.numbers[WORK] < until:
        spread(beam)
        # Some more than go on, because alike ones are dropped; not so many that the table of those met fills up.
        thin(beam, breadth + breadth // 2)
        count = int(np.int64(0))
        for c in range(beam.numbers[CANDIDATES]):
            if count < breadth and build(beam, c, count):
                count += 1
        beam.numbers[LEVEL] += 1
        beam.numbers[COUNT] = count
        beam.numbers[SIDE] = 1 - beam.numbers[SIDE]
        if count == 0:
            return -1
        if beam.numbers[LEVEL] == beam.w.size:
            return 1
    return 0


@compiled
def trace(beam: Beam, px: Whole, py: Whole, way: Whole) -> None:
    """Write down where the first filling of the last level has its pieces."""
    n = beam.w.size
    steps = np.empty(n, np.int64)
    b = np.int64(0)
    for at in range(n - 1, -1, -1):
        steps[at] = b
        b = np.int64(beam.parent[at, b])
    sx, sy = np.empty(n + 3, np.int64), np.empty(n + 3, np.int64)
    sx[0], sx[1], sy[0] = 0, beam.strip[0], 0
    k = int(np.int64(1))
    high = beam.strip[1]
    for at in range(n):
        i, how = beam.piece[at, steps[at]], beam.how[at, steps[at]]
        for _ in range(how // RAISED):
            k, _ = lift(sx, sy, k, high)
        wide, up = (beam.h[i], beam.w[i]) if how & TURNED else (beam.w[i], beam.h[i])
        j = lowest(sy, k)
        right = (how & RIGHT) > 0
        px[i] = sx[j + 1] - wide if right else sx[j]
        py[i] = sy[j]
        way[i] = how & TURNED
        k = lay(sx, sy, k, j, wide, sy[j] + up, right)
        least = least_left(beam, at, steps)
        while least < ENDLESS and k > 1:
            j = lowest(sy, k)
            if sx[j + 1] - sx[j] >= least or sy[j] >= high:
                break
            k, _ = lift(sx, sy, k, high)


@inner
def least_left(beam: Beam, at: int, steps: Whole) -> int:
    """Return the least width of the pieces that are laid after level `at`."""
    least = ENDLESS
    for after in range(at + 1, steps.size):
        p = beam.piece[after, steps[after]]
        least = min(least, beam.w[p], beam.h[p] if beam.turns[p] else beam.w[p])
    return least
