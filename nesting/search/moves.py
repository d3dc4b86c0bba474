"""Compiled changes of a scheme: each writes a trial beside the scheme that is held now.

A trial begins as a copy; a move changes its sequence, options, lots or anchors. Bars and ways held are the same for
both, so a move that changes one of them notes in the first row of `state` what takes it back.
"""

from __future__ import annotations

from nesting.search.arrays import (
    C_ARROW_GROUP,
    C_LOT_GROUP,
    C_LOT_MATE_COUNT,
    C_LOT_MATES,
    C_MATE_COUNT,
    C_MATES,
    C_USABLE,
    C_USABLES,
    F_ALONG,
    F_ARROW_GROUP_COUNT,
    F_ARROW_GROUPS,
    F_LATTICE,
    F_LOTS,
    F_ORDER_LOT_COUNT,
    F_ORDER_LOTS,
    F_PAIRS,
    F_SOURCES,
    F_SOURCES_END,
    FACT_ROWS,
    G_HIGH,
    G_LOW,
    G_WIDTH,
    ITEM,
    NONE,
    O_ARROW,
    O_BY_SIZE,
    O_PAIR,
    O_PAIRS,
    O_PIECE,
    O_PIECES,
    P_CHOICE,
    P_WAY,
    P_WAYS,
    S_GROUND,
    S_LOT,
    S_MAY_ANCHOR,
    SECOND,
    W_LEFT,
    W_LENGTH,
    W_RIGHT,
    W_WIDTH,
    WORD,
    Whole,
)
from nesting.search.compiling import inner
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
    M_RANDOM,
    N_ANCHORED,
    NOW,
    TRIAL,
)

# moves, as places in the array of their weights
SWAP, SHIFT, SHUFFLE, OPTION, ARROW, LOT, BAR, ORDER_LOT, ANCHOR, FOLLOW, WAY = range(11)
MOVES = 11
MOVE_ROW = 1
"""The row of `state` that holds the weights of the moves, their sum at its end."""

_HIGH_52, _HIGH_37, _HIGH_31 = (1 << 52) - 1, (1 << 37) - 1, (1 << 31) - 1
"""Masks that make an arithmetic shift a logical one."""


@inner
def below(state: Whole, count: int) -> int:
    """Return a random whole number in 0 … count − 1 (xorshift64*: Vigna, ACM Trans. Math. Software 42, 2016)."""
    x = state[0, M_RANDOM]
    x ^= (x >> 12) & _HIGH_52
    x ^= x << 25
    x ^= (x >> 27) & _HIGH_37
    state[0, M_RANDOM] = x
    drawn: int = ((x * 2685821657736338717) >> 33 & _HIGH_31) % count
    return drawn


@inner
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


@inner
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


@inner
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


@inner
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


@inner
def take_option(flat: Whole, state: Whole, line: Whole, choice: int, option: int) -> None:
    """Give a choice another option, its pieces where the old ones were, longest first; what is left over goes last."""
    old = state[choice, D_OPTION + TRIAL]
    if old == option:
        return
    state[choice, D_OPTION + TRIAL] = option
    before, size = flat[old, O_PIECES], flat[option, O_PIECES]
    met = taken = made = 0
    for k in range(state[0, M_COUNT + TRIAL]):
        piece = line[k, B_PIECE + TRIAL]
        if flat[piece, P_CHOICE] != choice:
            line[made, B_PART] = piece
            made += 1
            continue
        met += 1
        while taken < size and (taken < met or met == before):
            line[made, B_PART] = flat[flat[option, O_BY_SIZE] + taken, ITEM]
            made += 1
            taken += 1
    for k in range(taken, size):
        line[made, B_PART] = flat[flat[option, O_BY_SIZE] + k, ITEM]
        made += 1
    for k in range(made):
        line[k, B_PIECE + TRIAL] = line[k, B_PART]
    state[0, M_COUNT + TRIAL] = made


@inner
def fits_lot(flat: Whole, state: Whole, option: int, lot: int) -> bool:
    """Tell whether every piece of an option goes into some source of a lot by itself."""
    for piece in range(flat[option, O_PIECE], flat[option, O_PIECE] + flat[option, O_PIECES]):
        fits = False
        for way in range(flat[piece, P_WAY], flat[piece, P_WAY] + flat[piece, P_WAYS]):
            across = flat[way, W_LEFT] + flat[way, W_WIDTH] + flat[way, W_RIGHT]
            for source in range(flat[0, F_SOURCES], flat[0, F_SOURCES_END]):
                ground = flat[source, S_GROUND] + state[source, N_ANCHORED + TRIAL]
                if (
                    flat[source, S_LOT] == lot
                    and across <= flat[ground, G_WIDTH]
                    and flat[way, W_LENGTH] <= flat[ground, G_HIGH] - flat[ground, G_LOW]
                ):
                    fits = True
        if not fits:
            return False
    return True


@inner
def draw_option(flat: Whole, state: Whole, choice: int, arrow: int, lot: int, other: bool) -> int:
    """Draw one of a choice's usable options with an arrow that goes into a lot (each -1: any); -1: there is none.

    `other`: not the one that the trial has.
    """
    found, drawn = 0, -1
    for place in range(flat[choice, C_USABLE], flat[choice, C_USABLE] + flat[choice, C_USABLES]):
        option = flat[place, ITEM]
        if (arrow != -1 and flat[option, O_ARROW] != arrow) or (other and option == state[choice, D_OPTION + TRIAL]):
            continue
        if lot >= 0 and not fits_lot(flat, state, option, lot):
            continue
        found += 1
        if below(state, found) == 0:
            drawn = option
    return drawn


@inner
def change_option(flat: Whole, state: Whole, line: Whole) -> bool:
    """Give one choice another option, with the same arrow where it stands in an arrow group."""
    choice = FACT_ROWS + below(state, flat[0, F_SOURCES] - FACT_ROWS)
    arrow = -1
    if flat[choice, C_ARROW_GROUP] != NONE:
        arrow = flat[state[choice, D_OPTION + TRIAL], O_ARROW]
    option = draw_option(flat, state, choice, arrow, -1, True)
    if option >= 0:
        take_option(flat, state, line, choice, option)
    return option >= 0


@inner
def turn_arrows(flat: Whole, state: Whole, line: Whole) -> bool:
    """Turn a whole arrow group to another arrow that all its choices have."""
    group = flat[flat[0, F_ARROW_GROUPS] + below(state, flat[0, F_ARROW_GROUP_COUNT]), ITEM]
    arrow = -1
    for choice in range(FACT_ROWS, flat[0, F_SOURCES]):
        if flat[choice, C_ARROW_GROUP] != group:
            continue
        if arrow == -1:
            option = draw_option(flat, state, choice, -1, -1, True)
            arrow = flat[max(option, 0), O_ARROW]
            if option < 0 or arrow == NONE or arrow == flat[state[choice, D_OPTION + TRIAL], O_ARROW]:
                return False
        option = draw_option(flat, state, choice, arrow, -1, False)
        if option < 0:
            return False
        take_option(flat, state, line, choice, option)
    return True


@inner
def change_lot(flat: Whole, state: Whole, line: Whole) -> bool:
    """Cut a lot group from another lot, with options that go into it."""
    drawn = FACT_ROWS + below(state, flat[0, F_SOURCES] - FACT_ROWS)
    lot = below(state, flat[0, F_LOTS])
    if flat[drawn, C_LOT_GROUP] == NONE or lot == state[drawn, D_LOT + TRIAL]:
        return False
    for place in range(flat[drawn, C_LOT_MATES], flat[drawn, C_LOT_MATES] + flat[drawn, C_LOT_MATE_COUNT]):
        choice = flat[place, ITEM]
        now = state[choice, D_OPTION + TRIAL]
        if below(state, 10) < 3 or not fits_lot(flat, state, now, lot):
            arrow = -1
            if flat[choice, C_ARROW_GROUP] != NONE:
                arrow = flat[now, O_ARROW]
            option = draw_option(flat, state, choice, arrow, lot, False)
            if option < 0:
                return False
            take_option(flat, state, line, choice, option)
        state[choice, D_LOT + TRIAL] = lot
    return True


@inner
def change_bar(flat: Whole, state: Whole) -> bool:
    """Bar a choice from a source, or lift a bar."""
    choices, sources = flat[0, F_SOURCES] - FACT_ROWS, flat[0, F_SOURCES_END] - flat[0, F_SOURCES]
    lift = state[0, M_BARS] > 0 and below(state, 2) == 0
    at = below(state, choices * sources)
    while True:
        choice, source = FACT_ROWS + at // sources, at % sources
        barred = (state[choice, D_BARS + source // WORD] >> (source % WORD)) & 1
        if barred == lift:
            break
        if not lift:
            return False
        at = (at + 1) % (choices * sources)
    state[choice, D_BARS + source // WORD] ^= 1 << (source % WORD)
    state[0, M_BARS] += -1 if lift else 1
    state[0, M_BAR_CHOICE], state[0, M_BAR_SOURCE] = choice, source
    return True


@inner
def change_order_lot(flat: Whole, state: Whole) -> bool:
    """Order from another lot; what was cut from the old one follows."""
    old = state[0, M_ORDER_LOT + TRIAL]
    lot = flat[flat[0, F_ORDER_LOTS] + below(state, flat[0, F_ORDER_LOT_COUNT]), ITEM]
    if lot == old:
        return False
    state[0, M_ORDER_LOT + TRIAL] = lot
    for choice in range(FACT_ROWS, flat[0, F_SOURCES]):
        if state[choice, D_LOT + TRIAL] == old:
            state[choice, D_LOT + TRIAL] = lot
    return True


@inner
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


@inner
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


@inner
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


@inner
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


@inner
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


@inner
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
