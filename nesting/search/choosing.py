"""Compiled changes of what choices take: options, arrows, lots, bars. See `moves` for what a trial is."""

from __future__ import annotations

from nesting.search.arrays import (
    C_ARROW_GROUP,
    C_LOT_GROUP,
    C_LOT_MATE_COUNT,
    C_LOT_MATES,
    C_USABLE,
    C_USABLES,
    F_ARROW_GROUP_COUNT,
    F_ARROW_GROUPS,
    F_LOTS,
    F_ORDER_LOT_COUNT,
    F_ORDER_LOTS,
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
    O_PIECE,
    O_PIECES,
    P_CHOICE,
    P_WAY,
    P_WAYS,
    S_GROUND,
    S_LOT,
    W_LEFT,
    W_LENGTH,
    W_RIGHT,
    W_WIDTH,
    WORD,
    Whole,
)
from nesting.search.chance import below
from nesting.search.compiling import lean_inner
from nesting.search.state import (
    B_PART,
    B_PIECE,
    D_BARS,
    D_LOT,
    D_OPTION,
    M_BAR_CHOICE,
    M_BAR_SOURCE,
    M_BARS,
    M_COUNT,
    M_ORDER_LOT,
    N_ANCHORED,
    TRIAL,
)


@lean_inner
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


@lean_inner
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


@lean_inner
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


@lean_inner
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


@lean_inner
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


@lean_inner
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


@lean_inner
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


@lean_inner
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
