"""What changes while the compiled search goes on: schemes, spots, sources as they fill up.

`state` stands row for row beside `flat` (see `arrays`), `laid` holds the boxes on every source, `line` has a row for
every place of the sequence. A search holds three schemes at once, in columns side by side.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nesting.model.anchoring import let_go
from nesting.model.instance import Solution, Spot
from nesting.model.shapes import free_rectangles
from nesting.search.arrays import (
    C_FIRST,
    F_SOURCES,
    F_SOURCES_END,
    F_WORDS,
    FACT_ROWS,
    O_PIECE,
    P_CHOICE,
    P_OPTION,
    P_WAY,
    S_NUMBER,
    WORD,
    Whole,
)
from nesting.search.scheme import Ready, Scheme

NOW, TRIAL, BEST = range(3)
"""The scheme that is held, the one that is tried, the best so far: columns from the named one on."""

# the first row: work done in looks at boxes; whether options disagree about a phase; pieces in the sequences; places of
# the scheme held that lie on the table; pieces of the trial without a place; seams too many; bars; the bar and the way
# held that the trial changed; how often the best was bettered; trials; the random numbers
(
    M_LOOKS,
    M_CLASH,
    M_COUNT,
    _,
    _,
    M_LAID,
    M_MISSING,
    M_OVER,
    M_BARS,
    M_BAR_CHOICE,
    M_BAR_SOURCE,
    M_HELD_PIECE,
    M_HELD_BEFORE,
    M_FOUND,
    M_STEPS,
    M_RANDOM,
) = range(16)
# choices: option and lot of the three schemes, a mark; bars of the scheme held and of the best, a bit a source
D_OPTION, D_LOT, D_MARK, D_BARS = 0, 3, 6, 7
# sources: boxes on it, where the last piece ends, whether it is anchored in the three schemes, first row in `laid`;
# first row and number of its largest holes in `laid`
N_BOXES, N_FAR, N_ANCHORED, N_BASE, N_HOLES, N_HOLE_COUNT = 0, 1, 2, 5, 6, 7
# pieces: spot; the only way in which it may lie (-1: any); spot and way held in the best
AT_SOURCE, AT_X, AT_Y, AT_WAY, HELD, BEST_SPOT, BEST_HELD = 0, 1, 2, 3, 4, 5, 9
# phase groups as their pieces are laid: how many are, φ, whether the options place φ, the first source used, whether
# there are more, whether one of them is loose
H_LAID, H_X, H_Y, H_BOUND, H_HOME, H_MANY, H_LOOSE = range(7)
# boxes on a source, in rising order of L_LOW; L_HIT is scratch. The largest holes come after them, columns as in
# `flat`, each list on top of those before it
L_LOW, L_TOP, L_LEFT, L_RIGHT, L_HIT = range(5)
# places: pieces of the three schemes; spots of the scheme held and of the trial; the log: piece, how far its source
# was used, how its group stood and which its holes were before; scratch
B_PIECE, B_SPOT, B_TRIAL_SPOT, B_LOG, B_FAR, B_GROUP, B_PART, B_ROOM = 0, 3, 7, 11, 12, 13, 20, 21
B_HOLES, B_HOLE_COUNT, B_TOP = 24, 25, 26
B_COLUMNS = 27

# the first row of `state`, lot of all orders in the three schemes; the first row of `laid` that is free for holes
M_ORDER_LOT, M_TOP = 16, 19

MOST_HOLES = 400_000
"""Rows for holes at most, however many pieces there are."""


class Desk(NamedTuple):
    """The arrays of one search."""

    flat: Whole
    laid: Whole
    state: Whole
    line: Whole


def desk_of(ready: Ready, flat: Whole, scheme: Scheme, seed: int = 0) -> Desk:
    """Return the arrays of a search that holds `scheme`, nothing laid yet."""
    facts = flat[0]
    pieces, boxes = _most(ready)
    sources = ready.instance.sources
    room = boxes + max(len(source.blocked) for source in sources) + 1
    holes = min(MOST_HOLES, (boxes + len(sources) + 8) * (24 + 2 * room))
    laid = np.zeros((room * len(sources) + holes, 5), dtype=np.int64)
    line = np.zeros((pieces + 2, B_COLUMNS), dtype=np.int64)
    words = int(facts[F_WORDS])
    state = np.zeros((len(flat), max(20, D_BARS + 2 * words)), dtype=np.int64)
    for number, source in enumerate(sources):
        row, base = state[facts[F_SOURCES] + number], number * room
        row[N_BOXES], row[N_BASE] = len(source.blocked), base
        row[N_ANCHORED : N_ANCHORED + 3] = scheme.anchored[number]
        flaws = sorted((y0, y1, x0, x1) for x0, y0, x1, y1 in source.blocked)
        for place, flaw in enumerate(flaws):
            laid[base + place, :4] = flaw
        free = free_rectangles(source)
        top = int(state[0, M_TOP]) or room * len(sources)
        if free:
            laid[top : top + len(free), :4] = free
        row[N_HOLES], row[N_HOLE_COUNT] = top, len(free)
        state[0, M_TOP] = top + len(free)
    for number, (taken, lot) in enumerate(zip(scheme.options, scheme.lots, strict=True)):
        choice = FACT_ROWS + number
        option = flat[choice, C_FIRST] + taken
        state[choice, D_OPTION : D_OPTION + 3] = option
        state[choice, D_LOT : D_LOT + 3] = -1 if lot is None else ready.lots.index(lot)
        for other in range(flat[choice, C_FIRST], flat[choice, C_FIRST] + len(ready.instance.choices[number].options)):
            first = flat[other, O_PIECE]
            for piece in range(
                first, first + len(ready.instance.choices[number].options[other - flat[choice, C_FIRST]].pieces)
            ):
                state[piece, AT_SOURCE] = state[piece, HELD] = -1
    for number, index, way in scheme.held:
        piece = _piece_row(flat, scheme, number, index)
        state[piece, HELD] = flat[piece, P_WAY] + way
    for number, index in scheme.barred:
        state[FACT_ROWS + number, D_BARS + index // WORD] |= 1 << (index % WORD)
    state[0, M_BARS] = len(scheme.barred)
    state[0, M_ORDER_LOT : M_ORDER_LOT + 3] = -1 if scheme.order_lot is None else ready.lots.index(scheme.order_lot)
    state[0, M_COUNT : M_COUNT + 3] = len(scheme.sequence)
    state[0, M_RANDOM] = _seeded(seed)
    for place, (number, index) in enumerate(scheme.sequence):
        line[place, B_PIECE : B_PIECE + 3] = _piece_row(flat, scheme, number, index)
    return Desk(flat, laid, state, line)


def _most(ready: Ready) -> tuple[int, int]:
    """Return how many pieces and boxes the options of a scheme have at most."""
    pieces = boxes = 0
    for by_option in ready.shapes:
        pieces += max(len(by_piece) for by_piece in by_option)
        boxes += max(sum(len(ways[0].boxes) for ways in by_piece) for by_piece in by_option)
    return pieces, boxes


def _piece_row(flat: Whole, scheme: Scheme, number: int, index: int) -> int:
    """Return the row of a piece of a scheme."""
    option = flat[FACT_ROWS + number, C_FIRST] + scheme.options[number]
    return int(flat[option, O_PIECE] + index)


def _seeded(seed: int) -> int:
    """Return a state of the random numbers for a seed (splitmix64), never 0."""
    z = (seed + 1) * 0x9E3779B97F4A7C15 % (1 << 64)
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9 % (1 << 64)
    z = (z ^ (z >> 27)) * 0x94D049BB133111EB % (1 << 64)
    z = (z ^ (z >> 31)) or 1
    return z - (1 << 64) if z >= 1 << 63 else z


def scheme_from(ready: Ready, desk: Desk, which: int) -> Scheme:
    """Return the scheme held (NOW) or the best (BEST)."""
    flat, state, line = desk.flat, desk.state, desk.line
    facts = flat[0]
    choices = slice(FACT_ROWS, facts[F_SOURCES])
    sources = slice(facts[F_SOURCES], facts[F_SOURCES_END])
    sequence, held = [], []
    for piece in line[: state[0, M_COUNT + which], B_PIECE + which]:
        number = int(flat[piece, P_CHOICE] - FACT_ROWS)
        index = int(piece - flat[flat[piece, P_OPTION], O_PIECE])
        sequence.append((number, index))
        way = int(state[piece, BEST_HELD if which == BEST else HELD])
        if way >= 0:
            held.append((number, index, int(way - flat[piece, P_WAY])))
    words = int(facts[F_WORDS])
    bars = state[choices, D_BARS + (words if which == BEST else 0) :]
    order_lot = int(state[0, M_ORDER_LOT + which])
    return Scheme(
        options=tuple(int(option) for option in state[choices, D_OPTION + which] - flat[choices, C_FIRST]),
        sequence=tuple(sequence),
        lots=tuple(None if lot < 0 else ready.lots[lot] for lot in state[choices, D_LOT + which]),
        order_lot=None if order_lot < 0 else ready.lots[order_lot],
        anchored=tuple(bool(kept) for kept in state[sources, N_ANCHORED + which]),
        barred=frozenset(
            (number, index)
            for number in range(len(ready.instance.choices))
            for index in range(len(ready.instance.sources))
            if int(bars[number, index // WORD]) >> (index % WORD) & 1
        ),
        held=frozenset(held),
    )


def solution_from(ready: Ready, desk: Desk, which: int) -> Solution:
    """Return the solution on the table (NOW, TRIAL) or the best, with sources let go that need not be anchored."""
    flat, state = desk.flat, desk.state
    facts = flat[0]
    first_spot = BEST_SPOT if which == BEST else AT_SOURCE
    options, rows = [], []
    for number, shapes in enumerate(ready.shapes):
        choice = FACT_ROWS + number
        option = state[choice, D_OPTION + which]
        options.append(int(option - flat[choice, C_FIRST]))
        row = []
        for index, ways in enumerate(shapes[options[-1]]):
            piece = flat[option, O_PIECE] + index
            source, x, y, way = (int(number) for number in state[piece, first_spot : first_spot + 4])
            turn = ways[way - int(flat[piece, P_WAY])].turn
            row.append(Spot(piece=index, source=int(flat[source, S_NUMBER]), x=x, y=y, turn=turn))
        rows.append(tuple(row))
    sources = slice(facts[F_SOURCES], facts[F_SOURCES_END])
    anchored = tuple(bool(kept) for kept in state[sources, N_ANCHORED + which])
    return let_go(ready.instance, Solution(options=tuple(options), spots=tuple(rows), anchored=anchored))
