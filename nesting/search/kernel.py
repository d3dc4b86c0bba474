"""Compiled placing: the same spots as `placing.place`, piece after piece on a table that can be taken back.

`lay` puts a piece where it costs least, lowest and leftmost; `take` removes the piece laid last. Looks at boxes are
counted: they are what effort is measured in. Pieces are laid by the scheme that is tried.
"""

from __future__ import annotations

from nesting.model.valuing import phases_of_groups
from nesting.search.arrays import (
    C_CLOSED,
    COUNT,
    F_ALONG,
    F_DROP,
    F_LATTICE,
    F_PERIOD,
    F_RANKED,
    F_RANKED_END,
    F_SHAPED,
    F_SOURCES,
    F_SOURCES_END,
    G_ACROSS,
    G_HIGH,
    G_LOOSE,
    G_LOW,
    G_SIGMA_X,
    G_SIGMA_Y,
    G_WIDTH,
    ITEM,
    LIST,
    NONE,
    O_PAIR,
    O_PAIRS,
    O_PHASE_X,
    O_PHASE_Y,
    O_PIECE,
    O_PIECES,
    O_WIDTH,
    P_CHOICE,
    P_GROUP,
    P_LENGTH,
    P_OPTION,
    P_WAY,
    P_WAYS,
    P_WIDTH,
    P_X,
    P_Y,
    S_GROUND,
    S_KIND,
    S_LOT,
    S_MADE,
    S_MINIMUM,
    S_NUMBER,
    S_OPENING,
    S_ORDERED,
    S_RATE,
    S_WHOLE,
    S_WIDTH,
    SECOND,
    W_BOX,
    W_BOXES,
    W_LEFT,
    W_LENGTH,
    W_RIGHT,
    W_WIDTH,
    WORD,
    X0,
    X1,
    Y0,
    Y1,
    Whole,
    flat_of,
)
from nesting.search.compiling import lean, lean_inner, make_ready
from nesting.search.free import cut_holes, lowest, lowest_in_holes, next_good
from nesting.search.placing import Placed
from nesting.search.scheme import Ready, Scheme
from nesting.search.state import (
    AT_SOURCE,
    AT_WAY,
    AT_X,
    AT_Y,
    B_FAR,
    B_GROUP,
    B_HOLE_COUNT,
    B_HOLES,
    B_LOG,
    B_PIECE,
    B_ROOM,
    B_TOP,
    D_BARS,
    D_LOT,
    D_OPTION,
    H_BOUND,
    H_HOME,
    H_LAID,
    H_LOOSE,
    H_MANY,
    H_X,
    H_Y,
    HELD,
    L_LEFT,
    L_LOW,
    L_RIGHT,
    L_TOP,
    M_CLASH,
    M_LOOKS,
    M_ORDER_LOT,
    M_TOP,
    N_ANCHORED,
    N_BASE,
    N_BOXES,
    N_FAR,
    N_HOLE_COUNT,
    N_HOLES,
    TRIAL,
    desk_of,
    solution_from,
)


@lean_inner
def fill_rooms(flat: Whole, state: Whole, line: Whole, piece: int, ground: int) -> int:
    """List where the other pieces of the group of `piece` may lie across on a ground; return how many are bound."""
    rooms = 0
    group = flat[piece, P_GROUP]
    across = flat[ground, G_ACROSS]
    for place in range(flat[group, LIST], flat[group, LIST] + flat[group, COUNT]):
        option = state[flat[place, ITEM], D_OPTION + TRIAL]
        first = flat[option, O_PIECE]
        for other in range(first, first + flat[option, O_PIECES]):
            if other == piece or flat[other, P_GROUP] != group:
                continue
            way = flat[other, P_WAY]
            least = flat[way, W_LEFT]
            most = flat[ground, G_WIDTH] - flat[way, W_WIDTH] - flat[way, W_RIGHT]
            if most < least or most - least >= across:
                continue
            line[rooms, B_ROOM] = flat[other, P_X] - flat[piece, P_X]
            line[rooms, B_ROOM + 1] = least
            line[rooms, B_ROOM + 2] = most
            rooms += 1
    return rooms


@lean_inner
def best_spot(
    flat: Whole, laid: Whole, state: Whole, line: Whole, piece: int, way: int, source: int, floor: int
) -> tuple[int, int]:
    """Return the lowest, then leftmost lawful (y, x) of a way on a source; y = NONE when there is none."""
    ground = flat[source, S_GROUND] + state[source, N_ANCHORED + TRIAL]
    low = flat[way, W_LEFT]
    high = flat[ground, G_WIDTH] - flat[way, W_WIDTH] - flat[way, W_RIGHT]
    top = flat[ground, G_HIGH] - flat[way, W_LENGTH]
    if high < low or top < floor:
        return NONE, 0
    group = flat[piece, P_GROUP]
    first, step, modulus, residue, rooms, classes, drop = low, 1, 1, 0, 0, 1, 0
    if group >= 0 and flat[0, F_LATTICE]:
        phase_x, phase_y = state[group, H_X], state[group, H_Y]
        along, across = flat[0, F_ALONG], flat[ground, G_ACROSS]
        residue = flat[piece, P_Y] - flat[ground, G_SIGMA_Y]
        if phase_y != NONE:
            modulus = along
            residue += phase_y
        if across > 0 and phase_x == NONE:
            # φ across is still free, and so is the number of repeats: y is bound only as far as the drops leave it so.
            if phase_y != NONE:
                modulus = along // flat[0, F_PERIOD]
            rooms = fill_rooms(flat, state, line, piece, ground)
            if rooms and next_good(line, low, high, rooms, across) > high:
                rooms = 0
            if rooms:
                step = across
        elif across > 0:
            first = low + (flat[piece, P_X] + phase_x - flat[ground, G_SIGMA_X] - low) % across
            step = across
            if phase_y != NONE:
                classes, drop = flat[0, F_PERIOD], flat[0, F_DROP]
                step = across * classes
                residue += (first + flat[ground, G_SIGMA_X] - flat[piece, P_X] - phase_x) // across * drop
    best_y, best_x = NONE, 0
    for k in range(classes):
        start = first
        if k:
            start += k * (step // classes)
            residue += drop
        if start > high:
            break
        rest = residue % modulus
        if flat[way, W_BOXES] == 1:
            width, length = flat[way, W_WIDTH], flat[way, W_LENGTH]
            y, x = lowest_in_holes(
                laid, state, line, source, width, length, floor, top, start, high, step, modulus, rest, rooms
            )
        else:
            y, x = lowest(flat, laid, state, line, source, way, floor, top, start, high, step, modulus, rest, rooms)
        if y <= top and (best_y == NONE or y < best_y or x < best_x):
            best_y, best_x = y, x
            top = y
    return best_y, best_x


@lean_inner
def open_group(flat: Whole, state: Whole, group: int) -> None:
    """Set a phase group as the options taken leave it before any of its pieces is laid."""
    phase_x, phase_y = NONE, NONE
    for place in range(flat[group, LIST], flat[group, LIST] + flat[group, COUNT]):
        option = state[flat[place, ITEM], D_OPTION + TRIAL]
        first = flat[option, O_PIECE]
        uses = False
        for other in range(first, first + flat[option, O_PIECES]):
            uses = uses or flat[other, P_GROUP] == group
        if not uses:
            continue
        x, y = flat[option, O_PHASE_X], flat[option, O_PHASE_Y]
        if x != NONE:
            if phase_x != NONE and phase_x != x:
                state[0, M_CLASH] = 1
            phase_x = x
        if y != NONE:
            if flat[0, F_LATTICE] and phase_y != NONE and (phase_y - y) % flat[0, F_ALONG] != 0:
                state[0, M_CLASH] = 1
            phase_y = y
    state[group, H_X], state[group, H_Y] = phase_x, phase_y
    state[group, H_BOUND] = int(phase_x != NONE or phase_y != NONE)
    state[group, H_HOME], state[group, H_MANY], state[group, H_LOOSE] = -1, 0, 0


@lean_inner
def least_y(flat: Whole, state: Whole, piece: int, source: int) -> int:
    """Return the least y for a piece on a source, NONE where lots, widths, bars, phase or sequence do not let it lie.

    y is raised by those pieces that it follows in sequence.
    """
    choice, option = flat[piece, P_CHOICE], flat[piece, P_OPTION]
    lot, number = flat[source, S_LOT], flat[source, S_NUMBER]
    if state[choice, D_LOT + TRIAL] >= 0 and lot != state[choice, D_LOT + TRIAL]:
        return NONE
    if ((state[choice, D_BARS + number // WORD] | flat[choice, C_CLOSED + number // WORD]) >> (number % WORD)) & 1:
        return NONE
    if flat[source, S_ORDERED]:
        if state[0, M_ORDER_LOT + TRIAL] >= 0 and lot != state[0, M_ORDER_LOT + TRIAL]:
            return NONE
        if flat[option, O_WIDTH] != NONE and flat[option, O_WIDTH] != flat[source, S_MADE]:
            return NONE
    group = flat[piece, P_GROUP]
    ground = flat[source, S_GROUND] + state[source, N_ANCHORED + TRIAL]
    if group >= 0 and flat[0, F_LATTICE]:
        home = state[group, H_HOME]
        if flat[ground, G_LOOSE]:
            if state[group, H_BOUND] or (home >= 0 and (home != source or state[group, H_MANY])):
                return NONE
        elif state[group, H_LOOSE]:
            return NONE
    low: int = flat[ground, G_LOW]
    for pair in range(flat[option, O_PAIR], flat[option, O_PAIR] + flat[option, O_PAIRS]):
        before, after = flat[option, O_PIECE] + flat[pair, ITEM], flat[option, O_PIECE] + flat[pair, SECOND]
        if piece != before and piece != after:
            continue
        other = before if piece == after else after
        if state[other, AT_SOURCE] < 0:
            continue
        if state[other, AT_SOURCE] != source or piece == before:
            return NONE
        beside = flat[before, P_WIDTH] + flat[after, P_WIDTH] <= flat[source, S_WIDTH]
        low = max(low, state[other, AT_Y] + (0 if beside else flat[before, P_LENGTH]))
    return low


@lean_inner
def cost_of(flat: Whole, state: Whole, source: int, end: int) -> int:
    """Return what it adds to the goods when a piece ends at `end` on a source."""
    far = state[source, N_FAR]
    cost: int = 0 if far else flat[source, S_OPENING]
    if flat[source, S_ORDERED] and not (flat[source, S_WHOLE] and far):
        if far and end <= far:
            return 0
        minimum = flat[source, S_MINIMUM]
        cost += flat[source, S_RATE] * (max(end, minimum) - (max(far, minimum) if far else 0))
    return cost


@lean
def lay(flat: Whole, laid: Whole, state: Whole, line: Whole, piece: int, place: int) -> bool:
    """Lay a piece, the `place`-th on the table, where it costs least, lowest and leftmost; False: nowhere."""
    group = flat[piece, P_GROUP]
    if group >= 0 and state[group, H_LAID] == 0:
        open_group(flat, state, group)
    first, count = flat[piece, P_WAY], flat[piece, P_WAYS]
    if state[piece, HELD] >= 0:
        first, count = state[piece, HELD], 1
    best_source, best_cost, best_y, best_x, best_way = -1, 0, 0, 0, 0
    unused = -1
    for rank in range(flat[0, F_RANKED], flat[0, F_RANKED_END]):
        if best_source >= 0 and best_cost == 0:
            break
        source = flat[rank, ITEM]
        kind = 2 * flat[source, S_KIND] + state[source, N_ANCHORED + TRIAL]
        if state[source, N_FAR] == 0 and kind == unused:
            continue  # like one that was looked at before it
        floor = least_y(flat, state, piece, source)
        if floor == NONE:
            continue
        if state[source, N_FAR] == 0:
            unused = kind
        for way in range(first, first + count):
            length = flat[way, W_LENGTH]
            # A source tried later only wins by costing less, which it cannot where even its floor costs as much.
            if best_source >= 0 and best_source != source and cost_of(flat, state, source, floor + length) >= best_cost:
                continue
            y, x = best_spot(flat, laid, state, line, piece, way, source, floor)
            if y == NONE:
                continue
            cost = cost_of(flat, state, source, y + length)
            same = best_source == source and cost == best_cost
            if best_source < 0 or cost < best_cost or (same and (y < best_y or (y == best_y and x < best_x))):
                best_source, best_cost, best_y, best_x, best_way = source, cost, y, x, way
    put(flat, laid, state, line, piece, place, best_source, best_x, best_y, best_way)
    return best_source >= 0


@lean_inner
def put(
    flat: Whole,
    laid: Whole,
    state: Whole,
    line: Whole,
    piece: int,
    place: int,
    source: int,
    x: int,
    y: int,
    way: int,
) -> None:
    """Put a piece at a spot (source -1: it has none) and note in the log what undoes it."""
    line[place, B_LOG] = piece
    state[piece, AT_SOURCE], state[piece, AT_X], state[piece, AT_Y], state[piece, AT_WAY] = source, x, y, way
    state[0, M_LOOKS] += 20
    if source < 0:
        return
    group = flat[piece, P_GROUP]
    if group >= 0 and state[group, H_LAID] == 0:
        open_group(flat, state, group)
    line[place, B_FAR] = state[source, N_FAR]
    line[place, B_HOLES], line[place, B_HOLE_COUNT] = state[source, N_HOLES], state[source, N_HOLE_COUNT]
    line[place, B_TOP] = state[0, M_TOP]
    base = state[source, N_BASE]
    end = base + state[source, N_BOXES]
    for box in range(flat[way, W_BOX], flat[way, W_BOX] + flat[way, W_BOXES]):
        left, low, right, high = x + flat[box, X0], y + flat[box, Y0], x + flat[box, X1], y + flat[box, Y1]
        cut_holes(flat, laid, state, source, left, low, right, high)
        if flat[0, F_SHAPED]:
            at = end
            while at > base and laid[at - 1, L_LOW] > low:
                for k in range(4):
                    laid[at, k] = laid[at - 1, k]
                at -= 1
            laid[at, L_LOW], laid[at, L_TOP], laid[at, L_LEFT], laid[at, L_RIGHT] = low, high, left, right
            end += 1
    state[source, N_BOXES] = end - base
    state[source, N_FAR] = max(state[source, N_FAR], y + flat[way, W_LENGTH])
    if group < 0:
        return
    for k in range(7):
        line[place, B_GROUP + k] = state[group, k]
    state[group, H_LAID] += 1
    ground = flat[source, S_GROUND] + state[source, N_ANCHORED + TRIAL]
    if state[group, H_HOME] < 0:
        state[group, H_HOME] = source
    elif state[group, H_HOME] != source:
        state[group, H_MANY] = 1
    if flat[ground, G_LOOSE]:
        state[group, H_LOOSE] = 1
    if flat[0, F_LATTICE]:
        settle_phase(flat, state, group, piece, ground, x, y)


@lean_inner
def settle_phase(flat: Whole, state: Whole, group: int, piece: int, ground: int, x: int, y: int) -> None:
    """Set φ of a group now that one of its pieces lies at (x, y)."""
    lean_x = x + flat[ground, G_SIGMA_X] - flat[piece, P_X]
    lean_y = y + flat[ground, G_SIGMA_Y] - flat[piece, P_Y]
    across, drop = flat[ground, G_ACROSS], flat[0, F_DROP]
    if across == 0:
        if state[group, H_Y] == NONE:
            state[group, H_Y] = lean_y
        return
    times = 0
    if state[group, H_X] != NONE:
        times = (lean_x - state[group, H_X]) // across
    elif state[group, H_Y] != NONE:
        while (lean_y - state[group, H_Y] - times * drop) % flat[0, F_ALONG] != 0:
            times += 1
    if state[group, H_Y] == NONE:
        state[group, H_Y] = lean_y - times * drop
    state[group, H_X] = lean_x - times * across


@lean_inner
def take(flat: Whole, laid: Whole, state: Whole, line: Whole, place: int) -> None:
    """Take back the piece laid last, the `place`-th on the table."""
    piece = line[place, B_LOG]
    source, x, y, way = state[piece, AT_SOURCE], state[piece, AT_X], state[piece, AT_Y], state[piece, AT_WAY]
    state[piece, AT_SOURCE] = -1
    if source < 0:
        return
    state[source, N_HOLES], state[source, N_HOLE_COUNT] = line[place, B_HOLES], line[place, B_HOLE_COUNT]
    state[0, M_TOP] = line[place, B_TOP]
    end = state[source, N_BASE] + state[source, N_BOXES]
    for box in range(flat[way, W_BOX], flat[way, W_BOX] + flat[way, W_BOXES] * flat[0, F_SHAPED]):
        at = end - 1
        while laid[at, L_LOW] != y + flat[box, Y0] or laid[at, L_LEFT] != x + flat[box, X0]:
            at -= 1
        for after in range(at, end - 1):
            for k in range(4):
                laid[after, k] = laid[after + 1, k]
        end -= 1
    state[source, N_BOXES] = end - state[source, N_BASE]
    state[source, N_FAR] = line[place, B_FAR]
    group = flat[piece, P_GROUP]
    if group >= 0:
        for k in range(7):
            state[group, k] = line[place, B_GROUP + k]


def place_compiled(ready: Ready, scheme: Scheme) -> Placed:
    """Return what `placing.place` returns, worked out by the kernel; `fars` are those before sources are let go."""
    if phases_of_groups(ready.instance, scheme.options) is None:
        return Placed(None, len(scheme.sequence), ())
    make_ready(lay)
    desk = desk_of(ready, flat_of(ready), scheme)
    missing = 0
    for place in range(len(scheme.sequence)):
        missing += not lay(*desk, desk.line[place, B_PIECE], place)
    sources = range(int(desk.flat[0, F_SOURCES]), int(desk.flat[0, F_SOURCES_END]))
    fars = tuple(int(desk.state[source, N_FAR]) for source in sources)
    if missing:
        return Placed(None, missing, fars)
    return Placed(solution_from(ready, desk, TRIAL), 0, fars)
