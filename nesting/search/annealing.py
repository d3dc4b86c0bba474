"""Compiled annealing over schemes: only what a change moves is placed again, and no longer than it can still be taken.

Simulated annealing (Kirkpatrick, Gelatt, Vecchi, Science 220, 1983): how much worse a trial may be is drawn before it
is placed, so that placing ends as soon as the goods used so far cost more.
"""

from __future__ import annotations

import numpy as np

from nesting.search.arrays import (
    F_LEVELS,
    F_LEVELS_END,
    F_MOST_SEAMS,
    F_SOURCES,
    F_SOURCES_END,
    F_WORDS,
    FACT_ROWS,
    O_SEAMS,
    O_SIDES,
    P_GROUP,
    S_ANCHOR,
    S_BEGUN,
    S_COST,
    S_FLAWS,
    S_KEEP,
    S_LENGTH,
    S_MADE,
    S_MINIMUM,
    S_ORDERED,
    S_PRICE,
    S_PRICE_PER,
    S_SMALL,
    S_START,
    S_STEP,
    S_WHOLE,
    V_MONEY,
    V_RACK,
    V_ROLL,
    V_RUN,
    Real,
    Whole,
)
from nesting.search.chance import below
from nesting.search.compiling import lean, lean_inner
from nesting.search.kernel import lay, put, take
from nesting.search.moves import copy_scheme, first_change, propose, take_back
from nesting.search.state import (
    AT_SOURCE,
    AT_WAY,
    AT_X,
    AT_Y,
    B_FAR,
    B_PIECE,
    B_SPOT,
    B_TRIAL_SPOT,
    BEST,
    BEST_HELD,
    BEST_SPOT,
    D_BARS,
    D_OPTION,
    H_BOUND,
    H_MANY,
    HELD,
    M_CLASH,
    M_COUNT,
    M_FOUND,
    M_LAID,
    M_LOOKS,
    M_MISSING,
    M_OVER,
    M_STEPS,
    N_ANCHORED,
    N_FAR,
    NOW,
    TRIAL,
)

# energies, by row beside `flat`: of the scheme held; of a missing piece, of a seam too many; how much the steps that
# goods are sold in count; where the temperature begins and ends. A level's row: what a unit of it adds. A source's row:
# what a unit of its length adds at least.
E_NOW, E_MISSING, E_OVER, E_MIX, E_HEAT, E_COLD = range(6)


@lean_inner
def let_go_of(flat: Whole, state: Whole, line: Whole, source: int) -> bool:
    """Tell whether an order that is anchored need not be: no group on it has a placed phase or another source."""
    if flat[source, S_FLAWS] > 0:
        return False
    for place in range(state[0, M_COUNT + TRIAL]):
        piece = line[place, B_PIECE + TRIAL]
        group = flat[piece, P_GROUP]
        if group >= 0 and state[piece, AT_SOURCE] == source and (state[group, H_MANY] or state[group, H_BOUND]):
            return False
    return True


@lean_inner
def sides_of(flat: Whole, state: Whole, real: Real) -> float:
    """Set the trial's levels to what its options add apart from goods; return the energy of it."""
    energy = 0.0
    seams = 0
    levels = flat[0, F_LEVELS]
    count = flat[0, F_LEVELS_END] - levels
    for k in range(count):
        state[levels + k, TRIAL] = 0
    for choice in range(FACT_ROWS, flat[0, F_SOURCES]):
        option = state[choice, D_OPTION + TRIAL]
        seams += flat[option, O_SEAMS]
        for k in range(count):
            state[levels + k, TRIAL] += flat[option, O_SIDES + k]
    for k in range(count):
        energy += real[levels + k] * state[levels + k, TRIAL]
    over = max(0, seams - flat[0, F_MOST_SEAMS])
    state[0, M_OVER] = over
    total: float = energy + real[E_OVER] * over
    return total


@lean_inner
def worth_of(flat: Whole, source: int, far: int) -> int:
    """Return the value of what is left of a piece in hand beyond `far`: see `ground.worth_left`."""
    left = flat[source, S_LENGTH] - max(far, flat[source, S_BEGUN])
    if left < flat[source, S_KEEP]:
        return 0
    area = flat[source, S_MADE] * left
    worth: int = max(area, 4 * area - 3 * flat[source, S_SMALL])
    return worth


@lean_inner
def goods_of(flat: Whole, state: Whole, line: Whole, real: Real) -> float:
    """Add the goods to the trial's levels; return their energy.

    Part of what is ordered counts as if it were sold by the unit, so that less is used is seen before a step is saved.
    """
    energy = 0.0
    levels = range(flat[0, F_LEVELS], flat[0, F_LEVELS_END])
    for source in range(flat[0, F_SOURCES], flat[0, F_SOURCES_END]):
        far = state[source, N_FAR]
        if far == 0:
            continue
        least = ordered = used = made = lost = 0
        money = flat[source, S_COST]
        smooth = float(money)
        if flat[source, S_ORDERED]:
            start = flat[source, S_START]
            if state[source, N_ANCHORED + TRIAL]:
                if let_go_of(flat, state, line, source):
                    far -= flat[source, S_ANCHOR]
                else:
                    start += flat[source, S_ANCHOR]
            used, made = far - start, flat[source, S_MADE]
            least = max(far, flat[source, S_MINIMUM])
            ordered = max(-(-far // flat[source, S_STEP]) * flat[source, S_STEP], flat[source, S_MINIMUM])
            if flat[source, S_WHOLE]:
                least = ordered = flat[source, S_LENGTH]
            price, per = flat[source, S_PRICE], flat[source, S_PRICE_PER]
            money += (2 * price * ordered + per) // (2 * per)
            smooth += price * least / per
        else:
            lost = worth_of(flat, source, 0) - worth_of(flat, source, far)
        for level in levels:
            roll, run, priced = flat[level, V_ROLL], flat[level, V_RUN], flat[level, V_MONEY]
            rack = flat[level, V_RACK] * lost
            exact = (roll * ordered + run * used) * made + priced * money + rack
            by_unit = (roll * least + run * used) * made + priced * smooth + rack
            state[level, TRIAL] += exact
            energy += real[level] * (real[E_MIX] * exact + (1.0 - real[E_MIX]) * by_unit)
    return energy


@lean_inner
def rewind(flat: Whole, laid: Whole, state: Whole, line: Whole, to: int) -> None:
    """Bring the table to the first `to` places of the scheme held now."""
    while state[0, M_LAID] > to:
        state[0, M_LAID] -= 1
        take(flat, laid, state, line, state[0, M_LAID])
    while state[0, M_LAID] < to:
        place = state[0, M_LAID]
        piece = line[place, B_PIECE + NOW]
        source, x, y, way = (
            line[place, B_SPOT],
            line[place, B_SPOT + 1],
            line[place, B_SPOT + 2],
            line[place, B_SPOT + 3],
        )
        put(flat, laid, state, line, piece, place, source, x, y, way)
        state[0, M_LAID] += 1


@lean_inner
def lay_trial(
    flat: Whole, laid: Whole, state: Whole, line: Whole, real: Real, first: int, limit: float
) -> tuple[bool, float]:
    """Lay the trial from place `first` on; return whether its energy is at most `limit`, and the energy.

    The table then holds the trial, as far as it was laid, counted in `M_LAID`.
    """
    energy = sides_of(flat, state, real)
    state[0, M_CLASH] = 0
    least = energy
    for source in range(flat[0, F_SOURCES], flat[0, F_SOURCES_END]):
        start = flat[source, S_START] + state[source, N_ANCHORED + TRIAL] * flat[source, S_ANCHOR]
        least += real[source] * max(0, state[source, N_FAR] - start)
    missing = 0
    for place in range(first):
        missing += line[place, B_SPOT + AT_SOURCE] < 0
    for place in range(first, state[0, M_COUNT + TRIAL]):
        if least + real[E_MISSING] * missing > limit or state[0, M_CLASH]:
            return False, limit
        piece = line[place, B_PIECE + TRIAL]
        lay(flat, laid, state, line, piece, place)
        state[0, M_LAID] = place + 1
        for k in range(4):
            line[place, B_TRIAL_SPOT + k] = state[piece, AT_SOURCE + k]
        source = state[piece, AT_SOURCE]
        if source < 0:
            missing += 1
            continue
        start = flat[source, S_START] + state[source, N_ANCHORED + TRIAL] * flat[source, S_ANCHOR]
        least += real[source] * (max(0, state[source, N_FAR] - start) - max(0, line[place, B_FAR] - start))
    state[0, M_MISSING] = missing
    energy += goods_of(flat, state, line, real) + real[E_MISSING] * missing
    return energy <= limit and state[0, M_CLASH] == 0, energy


@lean_inner
def keep_trial(flat: Whole, state: Whole, line: Whole, first: int) -> None:
    """Hold the trial from now on, and note it if it is the best solution met."""
    copy_scheme(flat, state, line, NOW, TRIAL)
    count = state[0, M_COUNT + TRIAL]
    for place in range(first, count):
        for k in range(4):
            line[place, B_SPOT + k] = line[place, B_TRIAL_SPOT + k]
    better = state[0, M_FOUND] == 0
    level, end = flat[0, F_LEVELS], flat[0, F_LEVELS_END]
    while not better and level < end and state[level, TRIAL] <= state[level, BEST]:
        better = state[level, TRIAL] < state[level, BEST]
        level += 1
    if not better or state[0, M_MISSING] > 0 or state[0, M_OVER] > 0:
        return
    state[0, M_FOUND] += 1
    for level in range(flat[0, F_LEVELS], end):
        state[level, BEST] = state[level, TRIAL]
    copy_scheme(flat, state, line, BEST, NOW)
    words = flat[0, F_WORDS]
    for choice in range(FACT_ROWS, flat[0, F_SOURCES]):
        for k in range(words):
            state[choice, D_BARS + words + k] = state[choice, D_BARS + k]
    for place in range(count):
        piece = line[place, B_PIECE + NOW]
        state[piece, BEST_SPOT], state[piece, BEST_SPOT + 1] = state[piece, AT_SOURCE], state[piece, AT_X]
        state[piece, BEST_SPOT + 2], state[piece, BEST_SPOT + 3] = state[piece, AT_Y], state[piece, AT_WAY]
        state[piece, BEST_HELD] = state[piece, HELD]


@lean
def anneal(flat: Whole, laid: Whole, state: Whole, line: Whole, real: Real, budget: int, until: int) -> None:
    """Change the scheme held now until `until` looks are counted of a run of `budget`; the trial is a copy of it first.

    The temperature falls evenly in its logarithm over the run.
    """
    if state[0, M_STEPS] == 0:
        _, real[E_NOW] = lay_trial(flat, laid, state, line, real, 0, np.inf)
        keep_trial(flat, state, line, 0)
    while state[0, M_LOOKS] < until:
        state[0, M_STEPS] += 1
        state[0, M_LOOKS] += 100 + 2 * state[0, M_COUNT + NOW]
        if not propose(flat, state, line):
            continue
        first = first_change(flat, state, line)
        if first == state[0, M_COUNT + NOW] and first == state[0, M_COUNT + TRIAL]:
            take_back(state)
            continue
        share = min(1.0, state[0, M_LOOKS] / budget)
        heat = real[E_HEAT] * (real[E_COLD] / real[E_HEAT]) ** share
        limit = real[E_NOW] - heat * np.log((below(state, 1 << 30) + 1) / float(1 << 30))
        rewind(flat, laid, state, line, first)
        good, energy = lay_trial(flat, laid, state, line, real, first, limit)
        if good:
            real[E_NOW] = energy
            keep_trial(flat, state, line, first)
            continue
        while state[0, M_LAID] > first:
            state[0, M_LAID] -= 1
            take(flat, laid, state, line, state[0, M_LAID])
        take_back(state)
