"""Compiled changes of a scheme: each writes a trial beside the scheme that is held now.

A trial begins as a copy; a move changes its sequence, options, lots or anchors. Bars and ways held are the same for
both, so a move that changes one of them notes in the first row of `state` what takes it back.
"""

from __future__ import annotations

from nesting.search.arrays import (
    C_MATE_COUNT,
    C_MATES,
    F_ALONG,
    F_LATTICE,
    F_PAIRS,
    F_SOURCES,
    F_SOURCES_END,
    FACT_ROWS,
    G_WIDTH,
    ITEM,
    NONE,
    O_PAIR,
    O_PAIRS,
    O_PIECE,
    P_CHOICE,
    P_WAY,
    P_WAYS,
    S_GROUND,
    S_MAY_ANCHOR,
    SECOND,
    W_LENGTH,
    W_WIDTH,
    WORD,
    Whole,
)
from nesting.search.chance import below
from nesting.search.choosing import change_bar, change_lot, change_option, change_order_lot, turn_arrows
from nesting.search.compiling import lean_inner
from nesting.search.state import (
    AT_SOURCE,
    AT_WAY,
    AT_Y,
    B_PART,
    B_PIECE,
    B_SPOT,
    D_BARS,
    D_LOT,
    D_MARK,
    D_OPTION,
    HELD,
    M_BAR_CHOICE,
    M_BAR_SOURCE,
    M_BARS,
    M_COUNT,
    M_HELD_BEFORE,
    M_HELD_PIECE,
    M_ORDER_LOT,
    N_ANCHORED,
    NOW,
    TRIAL,
)

# moves, as places in the array of their weights
SWAP, SHIFT, SHUFFLE, OPTION, ARROW, LOT, BAR, ORDER_LOT, ANCHOR, FOLLOW, WAY = range(11)
MOVES = 11
MOVE_ROW = 1
"""The row of `state` that holds the weights of the moves, their sum at its end."""


@lean_inner
def copy_scheme(flat: Whole, state: Whole, line: Whole, target: int, source: int) -> None:
    """Copy one of the schemes in `state` and `line` to another, but for bars and ways held."""
    count = state[0, M_COUNT + source]
    state[0, M_COUNT + target] = count
    state[0, M_ORDER_LOT + target] = state[0, M_ORDER_LOT + source]
    for place in range(count):
        line[place, B_PIECE + target] = line[place, B_PIECE + source]
    for choice in range(FACT_ROWS, flat[0, F_SOURCES]):
        state[choice, D_OPTION + target] = state[choice, D_OPTION + source]
        state[choice, D_LOT + target] = state[choice, D_LOT + source]
    for row in range(flat[0, F_SOURCES], flat[0, F_SOURCES_END]):
        state[row, N_ANCHORED + target] = state[row, N_ANCHORED + source]


@lean_inner
def move_to(line: Whole, place: int, to: int) -> None:
    """Move the piece at `place` of the trial's sequence to `to`, the others closing up."""
    piece = line[place, B_PIECE + TRIAL]
    while place < to:
        line[place, B_PIECE + TRIAL] = line[place + 1, B_PIECE + TRIAL]
        place += 1
    while place > to:
        line[place, B_PIECE + TRIAL] = line[place - 1, B_PIECE + TRIAL]
        place -= 1
    line[to, B_PIECE + TRIAL] = piece


@lean_inner
def gather(flat: Whole, line: Whole, count: int, choice: int, to: int) -> None:
    """Move all pieces of a choice together, in their order, so that `to` others come before them."""
    own = other = 0
    for k in range(count):
        piece = line[k, B_PIECE + TRIAL]
        if flat[piece, P_CHOICE] == choice:
            line[own, B_PART] = piece
            own += 1
        else:
            line[other, B_PIECE + TRIAL] = piece
            other += 1
    to = min(to, other)
    for k in range(other - 1, to - 1, -1):
        line[k + own, B_PIECE + TRIAL] = line[k, B_PIECE + TRIAL]
    for k in range(own):
        line[to + k, B_PIECE + TRIAL] = line[k, B_PART]


@lean_inner
def shuffle(state: Whole, line: Whole, count: int) -> None:
    """Shuffle a stretch of the trial's sequence, or bring a few pieces to its front."""
    size = min(count, 3 + below(state, 6))
    if below(state, 4):
        at = below(state, count - size + 1)
        for k in range(size - 1, 0, -1):
            move_to(line, at + below(state, k + 1), at + k)
        return
    for k in range(size):
        move_to(line, k + below(state, count - k), k)


@lean_inner
def follow(flat: Whole, state: Whole, line: Whole, count: int) -> bool:
    """Let a piece come right after another that it goes well with.

    On patterned goods: the one of a few whose residue leaves the least gap after the other's end; otherwise the one of
    a few that leaves the least beside it.
    """
    at = below(state, count)
    source, way = line[at, B_SPOT + AT_SOURCE], line[at, B_SPOT + AT_WAY]
    if source < 0:
        return False
    by_end = flat[0, F_LATTICE] and below(state, 3) > 0
    end = line[at, B_SPOT + AT_Y] + flat[way, W_LENGTH]
    beside = flat[flat[source, S_GROUND] + state[source, N_ANCHORED + NOW], G_WIDTH] - flat[way, W_WIDTH]
    least, chosen = -NONE, -1
    for _ in range(6):
        k = below(state, count)
        if k == at or k == at + 1 or line[k, B_SPOT + AT_SOURCE] < 0:
            continue
        if by_end:
            gap = (line[k, B_SPOT + AT_Y] - end) % flat[0, F_ALONG]
        else:
            gap = beside - flat[line[k, B_SPOT + AT_WAY], W_WIDTH]
            if gap < 0:
                gap = beside - gap
        if gap < least:
            least, chosen = gap, k
    if chosen < 0:
        return False
    move_to(line, chosen, at + 1 if chosen > at else at)
    return True


@lean_inner
def change_way(flat: Whole, state: Whole, line: Whole, count: int) -> bool:
    """Hold a piece to one of its ways, or let it choose again."""
    piece = line[below(state, count), B_PIECE + NOW]
    if flat[piece, P_WAYS] < 2:
        return False
    way = below(state, flat[piece, P_WAYS] + 1) - 1
    if way >= 0:
        way += flat[piece, P_WAY]
    if way == state[piece, HELD]:
        return False
    state[0, M_HELD_PIECE], state[0, M_HELD_BEFORE] = piece, state[piece, HELD]
    state[piece, HELD] = way
    return True


@lean_inner
def settle_order(flat: Whole, state: Whole, line: Whole) -> None:
    """Exchange the pieces of every option that fixes their order so that they come in it."""
    count = state[0, M_COUNT + TRIAL]
    for choice in range(FACT_ROWS, flat[0, F_SOURCES]):
        option = state[choice, D_OPTION + TRIAL]
        if flat[option, O_PAIRS] == 0:
            continue
        first = flat[option, O_PIECE]
        left = 0
        for k in range(count):
            if flat[line[k, B_PIECE + TRIAL], P_CHOICE] == choice:
                line[left, B_PART] = line[k, B_PIECE + TRIAL]
                left += 1
        for k in range(count):
            if flat[line[k, B_PIECE + TRIAL], P_CHOICE] != choice:
                continue
            chosen = -1
            for j in range(left):
                free = chosen < 0
                for pair in range(flat[option, O_PAIR], flat[option, O_PAIR] + flat[option, O_PAIRS]):
                    if first + flat[pair, SECOND] == line[j, B_PART]:
                        for i in range(left):
                            free = free and line[i, B_PART] != first + flat[pair, ITEM]
                if free:
                    chosen = j
            chosen = max(chosen, 0)
            line[k, B_PIECE + TRIAL] = line[chosen, B_PART]
            left -= 1
            for j in range(chosen, left):
                line[j, B_PART] = line[j + 1, B_PART]


@lean_inner
def propose(flat: Whole, state: Whole, line: Whole) -> bool:
    """Draw a move and make the trial with it; False when it changes nothing."""
    copy_scheme(flat, state, line, TRIAL, NOW)
    state[0, M_BAR_CHOICE] = state[0, M_HELD_PIECE] = -1
    count = state[0, M_COUNT + NOW]
    draw, kind = below(state, state[MOVE_ROW, MOVES]), 0
    while draw >= state[MOVE_ROW, kind]:
        draw -= state[MOVE_ROW, kind]
        kind += 1
    done = True
    at, to, draw = below(state, count), below(state, count), below(state, 10)
    if kind == SWAP:
        piece = line[at, B_PIECE + TRIAL]
        line[at, B_PIECE + TRIAL] = line[to, B_PIECE + TRIAL]
        line[to, B_PIECE + TRIAL] = piece
    elif kind == SHIFT:
        if draw < 3:
            gather(flat, line, count, flat[line[at, B_PIECE], P_CHOICE], to)
        else:
            if draw < 6:
                to = max(0, min(count - 1, at + to % 9 - 4))
            move_to(line, at, to)
    elif kind == SHUFFLE:
        shuffle(state, line, count)
    elif kind == OPTION:
        done = change_option(flat, state, line)
    elif kind == ARROW:
        done = turn_arrows(flat, state, line)
    elif kind == LOT:
        done = change_lot(flat, state, line)
    elif kind == BAR:
        done = change_bar(flat, state)
    elif kind == ORDER_LOT:
        done = change_order_lot(flat, state)
    elif kind == ANCHOR:
        source = flat[0, F_SOURCES] + below(state, flat[0, F_SOURCES_END] - flat[0, F_SOURCES])
        done = flat[source, S_MAY_ANCHOR] > 0
        state[source, N_ANCHORED + TRIAL] = 1 - state[source, N_ANCHORED + TRIAL]
    elif kind == FOLLOW:
        done = follow(flat, state, line, count)
    else:
        done = change_way(flat, state, line, count)
    if done and flat[0, F_PAIRS]:
        settle_order(flat, state, line)
    return done


@lean_inner
def take_back(state: Whole) -> None:
    """Undo what the trial changed in the bars and in the ways held."""
    choice = state[0, M_BAR_CHOICE]
    if choice >= 0:
        source = state[0, M_BAR_SOURCE]
        state[choice, D_BARS + source // WORD] ^= 1 << (source % WORD)
        barred = (state[choice, D_BARS + source // WORD] >> (source % WORD)) & 1
        state[0, M_BARS] += 1 if barred else -1
    piece = state[0, M_HELD_PIECE]
    if piece >= 0:
        state[piece, HELD] = state[0, M_HELD_BEFORE]


@lean_inner
def first_change(flat: Whole, state: Whole, line: Whole) -> int:
    """Return the first place whose piece may come to lie elsewhere than the scheme held now has it."""
    count = min(state[0, M_COUNT + NOW], state[0, M_COUNT + TRIAL])
    same = 0
    while same < count and line[same, B_PIECE + NOW] == line[same, B_PIECE + TRIAL]:
        same += 1
    if state[0, M_ORDER_LOT + TRIAL] != state[0, M_ORDER_LOT + NOW]:
        return 0
    for source in range(flat[0, F_SOURCES], flat[0, F_SOURCES_END]):
        if state[source, N_ANCHORED + TRIAL] != state[source, N_ANCHORED + NOW]:
            return 0
    choices = range(FACT_ROWS, flat[0, F_SOURCES])
    for choice in choices:
        state[choice, D_MARK] = int(state[choice, D_LOT + TRIAL] != state[choice, D_LOT + NOW])
    if state[0, M_BAR_CHOICE] >= 0:
        state[state[0, M_BAR_CHOICE], D_MARK] = 1
    if state[0, M_HELD_PIECE] >= 0:
        state[flat[state[0, M_HELD_PIECE], P_CHOICE], D_MARK] = 1
    for choice in choices:
        if state[choice, D_OPTION + TRIAL] != state[choice, D_OPTION + NOW]:
            for place in range(flat[choice, C_MATES], flat[choice, C_MATES] + flat[choice, C_MATE_COUNT]):
                state[flat[place, ITEM], D_MARK] = 1
    for place in range(same):
        if state[flat[line[place, B_PIECE + NOW], P_CHOICE], D_MARK]:
            return place
    return same
