"""Compiled placing: the same spots as `placing.place`, piece after piece on a table that can be taken back.

`lay` puts a piece where it costs least, lowest and leftmost; `take` removes the piece laid last. Every function counts
its looks at boxes in `table.work`, which is what effort is measured in.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nesting.search.arrays import (
    C_FIRST,
    F_ALONG,
    F_DROP,
    F_LATTICE,
    F_PERIOD,
    G_ACROSS,
    G_HIGH,
    G_LOOSE,
    G_LOW,
    G_SIGMA_X,
    G_SIGMA_Y,
    G_WIDTH,
    NONE,
    O_CHOICE,
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
    S_FLAW,
    S_FLAWS,
    S_LOT,
    S_MADE,
    S_MINIMUM,
    S_OPENING,
    S_ORDERED,
    S_RATE,
    S_WHOLE,
    S_WIDTH,
    W_BOX,
    W_BOXES,
    W_LEFT,
    W_LENGTH,
    W_RIGHT,
    W_WIDTH,
    X0,
    X1,
    Y0,
    Y1,
    Flat,
    Whole,
)
from nesting.search.compiling import compiled

# boxes that lie on a source, in rising order of L_LOW
L_LOW, L_TOP, L_LEFT, L_RIGHT = range(4)
# sources as they fill up
N_BOXES, N_FAR = range(2)
# spots of pieces
AT_SOURCE, AT_X, AT_Y, AT_WAY = range(4)
# phase groups as their pieces are laid: pieces laid, φ, whether the options place φ, the first source used, whether
# there are more, whether one of them is loose
H_LAID, H_X, H_Y, H_BOUND, H_HOME, H_MANY, H_LOOSE = range(7)
# the log: what was laid, and how far and the group stood before
K_PIECE, K_FAR, K_GROUP = 0, 1, 2
# work
LOOKS, CLASH = range(2)


class Table(NamedTuple):
    """The sources as they fill up; `log[k]` is what it takes to undo the k-th piece laid."""

    laid: Whole  # (sources, boxes, 4)
    filled: Whole  # (sources, 2)
    spots: Whole  # (pieces, 4)
    groups: Whole  # (groups, 7)
    log: Whole  # (pieces laid, 9)
    rooms: Whole  # (pieces of a group, 3), scratch
    hits: Whole  # (boxes,), scratch
    work: Whole  # (2,)


class Given(NamedTuple):
    """A scheme in arrays. `held[p]`: the only way in which piece p may lie (-1: any)."""

    options: Whole  # per choice, numbered through the instance
    lots: Whole  # per choice, -1: any
    anchored: Whole  # per source
    barred: Whole  # (choices, sources)
    held: Whole  # per piece
    single: Whole  # (1,): the lot of all orders, -1: any


def table_of(flat: Flat) -> Table:
    """Return an empty table, large enough for any options."""
    boxes = pieces = 0
    for choice in flat.choices:
        most_boxes = most_pieces = 0
        for option in _options_of(flat, int(choice[C_FIRST])):
            first, count = int(option[O_PIECE]), int(option[O_PIECES])
            ways = flat.pieces[first : first + count, P_WAY]
            most_boxes = max(most_boxes, int(flat.ways[ways, W_BOXES].sum()) if count else 0)
            most_pieces = max(most_pieces, count)
        boxes += most_boxes
        pieces += most_pieces
    sources = len(flat.sources)
    room = boxes + int(flat.sources[:, S_FLAWS].max()) + 1
    table = Table(
        laid=np.zeros((sources, room, 4), dtype=np.int64),
        filled=np.zeros((sources, 2), dtype=np.int64),
        spots=np.full((len(flat.pieces), 4), -1, dtype=np.int64),
        groups=np.zeros((max(len(flat.groups), 1), 7), dtype=np.int64),
        log=np.zeros((pieces + 1, 9), dtype=np.int64),
        rooms=np.zeros((pieces + 1, 3), dtype=np.int64),
        hits=np.zeros(room, dtype=np.int64),
        work=np.zeros(2, dtype=np.int64),
    )
    for source, row in enumerate(flat.sources):
        first, count = int(row[S_FLAW]), int(row[S_FLAWS])
        flaws = sorted((int(y0), int(y1), int(x0), int(x1)) for x0, y0, x1, y1 in flat.flaws[first : first + count])
        table.filled[source, N_BOXES] = count
        for place, flaw in enumerate(flaws):
            table.laid[source, place] = flaw
    return table


def _options_of(flat: Flat, first: int) -> Whole:
    """Return the rows of the options of the choice whose first option is `first`."""
    rows: Whole = flat.options[flat.options[:, O_CHOICE] == flat.options[first, O_CHOICE]]
    return rows


@compiled
def next_good(table: Table, x: int, high: int, rooms: int, across: int) -> int:
    """Return the least x from `x` on that leaves every piece in `rooms` a lawful x; more than `high`: none."""
    moved = True
    while moved and x <= high:
        moved = False
        for k in range(rooms):
            over = (x + table.rooms[k, 0] - table.rooms[k, 1]) % across
            if over > table.rooms[k, 2] - table.rooms[k, 1]:
                x += across - over
                moved = True
    return x


@compiled
def lowest(
    flat: Flat,
    table: Table,
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
    """Return the lowest, then leftmost free (y, x) of a way; y > `top` when there is none.

    x ≡ `first` modulo `step` up to `high` (with `rooms`: any good x, `step` being the repeat), y ≡ `residue` modulo
    `modulus`. Where nothing is free at y, the next y to try is where the first of the boxes met there ends.
    """
    laid = table.laid[source]
    hits = table.hits
    count = table.filled[source, N_BOXES]
    width, length = flat.ways[way, W_WIDTH], flat.ways[way, W_LENGTH]
    box, boxes = flat.ways[way, W_BOX], flat.ways[way, W_BOXES]
    y = floor + (residue - floor) % modulus
    begin = 0
    looks = 4
    x = first
    while y <= top:
        while begin < count and laid[begin, L_TOP] <= y:
            begin += 1
        met = 0
        place = begin
        while place < count and laid[place, L_LOW] < y + length:
            if laid[place, L_TOP] > y:
                hits[met] = place
                met += 1
            place += 1
        looks += place - begin + 2
        x = first
        if rooms:
            x = next_good(table, x, high, rooms, step)
        moved = True
        while moved and x <= high:
            moved = False
            looks += met
            for k in range(met):
                hit = hits[k]
                left, right = laid[hit, L_LEFT], laid[hit, L_RIGHT]
                if right <= x or left >= x + width:
                    continue
                to = x
                if boxes == 1:
                    to = right
                else:
                    for b in range(box, box + boxes):
                        if (
                            laid[hit, L_LOW] < y + flat.boxes[b, Y1]
                            and y + flat.boxes[b, Y0] < laid[hit, L_TOP]
                            and left < x + flat.boxes[b, X1]
                            and x + flat.boxes[b, X0] < right
                        ):
                            to = max(to, right - flat.boxes[b, X0])
                if to > x:
                    moved = True
                    x = next_good(table, to, high, rooms, step) if rooms else to + (first - to) % step
                    if x > high:
                        break
        if x <= high:
            break
        after = -NONE
        for k in range(met):
            hit = hits[k]
            if boxes == 1:
                after = min(after, laid[hit, L_TOP])
            else:
                for b in range(box, box + boxes):
                    end = laid[hit, L_TOP] - flat.boxes[b, Y0]
                    if end > y and laid[hit, L_LOW] < y + flat.boxes[b, Y1]:
                        after = min(after, end)
        y = after + (residue - after) % modulus if met else top + 1
    table.work[LOOKS] += looks
    return y, x


@compiled
def fill_rooms(flat: Flat, table: Table, given: Given, piece: int, ground: Whole) -> int:
    """List where the other pieces of the group of `piece` may lie across on a ground; return how many are bound."""
    rooms = 0
    group = flat.pieces[piece, P_GROUP]
    begin, count = flat.groups[group]
    across = ground[G_ACROSS]
    for place in range(begin, begin + count):
        option = given.options[flat.group_choices[place]]
        first = flat.options[option, O_PIECE]
        for other in range(first, first + flat.options[option, O_PIECES]):
            if other == piece or flat.pieces[other, P_GROUP] != group:
                continue
            way = flat.pieces[other, P_WAY]
            least = flat.ways[way, W_LEFT]
            most = ground[G_WIDTH] - flat.ways[way, W_WIDTH] - flat.ways[way, W_RIGHT]
            if most < least or most - least >= across:
                continue
            table.rooms[rooms, 0] = flat.pieces[other, P_X] - flat.pieces[piece, P_X]
            table.rooms[rooms, 1] = least
            table.rooms[rooms, 2] = most
            rooms += 1
    return rooms


@compiled
def best_spot(flat: Flat, table: Table, given: Given, piece: int, way: int, source: int, floor: int) -> tuple[int, int]:
    """Return the lowest, then leftmost lawful (y, x) of a way on a source; y = NONE when there is none."""
    ground = flat.grounds[2 * source + given.anchored[source]]
    low = flat.ways[way, W_LEFT]
    high = ground[G_WIDTH] - flat.ways[way, W_WIDTH] - flat.ways[way, W_RIGHT]
    top = ground[G_HIGH] - flat.ways[way, W_LENGTH]
    if high < low or top < floor:
        return NONE, 0
    group = flat.pieces[piece, P_GROUP]
    first, step, modulus, residue, rooms, classes = low, 1, 1, 0, 0, 1
    phase_x, phase_y, drop = NONE, NONE, 0
    if flat.facts[F_LATTICE] and group >= 0:
        phase_x, phase_y = table.groups[group, H_X], table.groups[group, H_Y]
        along, across = flat.facts[F_ALONG], ground[G_ACROSS]
        residue = flat.pieces[piece, P_Y] - ground[G_SIGMA_Y]
        if phase_y != NONE:
            modulus = along
            residue += phase_y
        if across > 0 and phase_x == NONE:
            # φ across is still free, and so is the number of repeats: y is bound only as far as the drops leave it so.
            if phase_y != NONE:
                modulus = along // flat.facts[F_PERIOD]
            rooms = fill_rooms(flat, table, given, piece, ground)
            step = across
            if rooms and next_good(table, low, high, rooms, across) > high:
                rooms = 0
            if rooms == 0:
                step = 1
        elif across > 0:
            first = low + (flat.pieces[piece, P_X] + phase_x - ground[G_SIGMA_X] - low) % across
            step = across
            if phase_y != NONE:
                classes = flat.facts[F_PERIOD]
                drop = flat.facts[F_DROP]
                step = across * classes
                times = (first + ground[G_SIGMA_X] - flat.pieces[piece, P_X] - phase_x) // across
                residue += times * drop
    best_y, best_x = NONE, 0
    for k in range(classes):
        start = first if classes == 1 else first + k * (step // classes)
        if start > high:
            break
        y, x = lowest(
            flat, table, source, way, floor, top, start, high, step, modulus, (residue + k * drop) % modulus, rooms
        )
        if y <= top and (best_y == NONE or y < best_y or x < best_x):
            best_y, best_x = y, x
            top = y
    return best_y, best_x


@compiled
def open_group(flat: Flat, table: Table, given: Given, group: int) -> None:
    """Set a phase group as the options taken leave it before any of its pieces is laid."""
    begin, count = flat.groups[group]
    phase_x, phase_y = NONE, NONE
    for place in range(begin, begin + count):
        option = given.options[flat.group_choices[place]]
        first = flat.options[option, O_PIECE]
        uses = False
        for other in range(first, first + flat.options[option, O_PIECES]):
            uses = uses or flat.pieces[other, P_GROUP] == group
        if not uses:
            continue
        x, y = flat.options[option, O_PHASE_X], flat.options[option, O_PHASE_Y]
        if x != NONE:
            if phase_x != NONE and phase_x != x:
                table.work[CLASH] = 1
            phase_x = x
        if y != NONE:
            if flat.facts[F_LATTICE] and phase_y != NONE and (phase_y - y) % flat.facts[F_ALONG] != 0:
                table.work[CLASH] = 1
            phase_y = y
    state = table.groups[group]
    state[H_X], state[H_Y] = phase_x, phase_y
    state[H_BOUND] = phase_x != NONE or phase_y != NONE
    state[H_HOME], state[H_MANY], state[H_LOOSE] = -1, 0, 0


@compiled
def least_y(flat: Flat, table: Table, given: Given, piece: int, source: int) -> int:
    """Return the least y for a piece on a source, raised by those it follows in sequence; NONE: not here."""
    option = flat.pieces[piece, P_OPTION]
    first = flat.options[option, O_PIECE]
    low: int = flat.grounds[2 * source + given.anchored[source], G_LOW]
    begin = flat.options[option, O_PAIR]
    for pair in range(begin, begin + flat.options[option, O_PAIRS]):
        before, after = first + flat.pairs[pair, 0], first + flat.pairs[pair, 1]
        if piece != before and piece != after:
            continue
        other = before if piece == after else after
        if table.spots[other, AT_SOURCE] < 0:
            continue
        if table.spots[other, AT_SOURCE] != source or piece == before:
            return NONE
        beside = flat.pieces[before, P_WIDTH] + flat.pieces[after, P_WIDTH] <= flat.sources[source, S_WIDTH]
        low = max(low, table.spots[other, AT_Y] + (0 if beside else flat.pieces[before, P_LENGTH]))
    return low


@compiled
def may_use(flat: Flat, table: Table, given: Given, piece: int, source: int) -> bool:
    """Tell whether lots, widths, bars and the phase group leave a source to a piece."""
    choice = flat.pieces[piece, P_CHOICE]
    if given.lots[choice] >= 0 and flat.sources[source, S_LOT] != given.lots[choice]:
        return False
    if given.barred[choice, source]:
        return False
    if flat.sources[source, S_ORDERED]:
        if given.single[0] >= 0 and flat.sources[source, S_LOT] != given.single[0]:
            return False
        width = flat.options[flat.pieces[piece, P_OPTION], O_WIDTH]
        if width != NONE and width != flat.sources[source, S_MADE]:
            return False
    group = flat.pieces[piece, P_GROUP]
    if group >= 0 and flat.facts[F_LATTICE]:
        state = table.groups[group]
        if flat.grounds[2 * source + given.anchored[source], G_LOOSE]:
            if state[H_BOUND] or (state[H_HOME] >= 0 and (state[H_HOME] != source or state[H_MANY])):
                return False
        elif state[H_LOOSE]:
            return False
    return True


@compiled
def cost_of(flat: Flat, table: Table, source: int, end: int) -> int:
    """Return what it adds to the goods when a piece ends at `end` on a source."""
    row = flat.sources[source]
    far = table.filled[source, N_FAR]
    cost: int = 0 if far else row[S_OPENING]
    if row[S_ORDERED] and not (row[S_WHOLE] and far):
        if far and end <= far:
            return 0
        least = max(far, row[S_MINIMUM]) if far else 0
        cost += row[S_RATE] * (max(end, row[S_MINIMUM]) - least)
    return cost


@compiled
def lay(flat: Flat, table: Table, given: Given, piece: int, place: int) -> bool:
    """Lay a piece, the `place`-th on the table, where it costs least, lowest and leftmost; False: nowhere."""
    group = flat.pieces[piece, P_GROUP]
    if group >= 0 and table.groups[group, H_LAID] == 0:
        open_group(flat, table, given, group)
    first, count = flat.pieces[piece, P_WAY], flat.pieces[piece, P_WAYS]
    if given.held[piece] >= 0:
        first, count = given.held[piece], 1
    best_source, best_cost, best_y, best_x, best_way = -1, 0, 0, 0, 0
    for rank in range(len(flat.ranked)):
        source = flat.ranked[rank]
        if not may_use(flat, table, given, piece, source):
            continue
        floor = least_y(flat, table, given, piece, source)
        if floor == NONE:
            continue
        for way in range(first, first + count):
            length = flat.ways[way, W_LENGTH]
            # A source tried later only wins by costing less, which it cannot where even its floor costs as much.
            if best_source >= 0 and best_source != source and cost_of(flat, table, source, floor + length) >= best_cost:
                continue
            y, x = best_spot(flat, table, given, piece, way, source, floor)
            if y == NONE:
                continue
            cost = cost_of(flat, table, source, y + length)
            same = best_source == source and cost == best_cost
            if best_source < 0 or cost < best_cost or (same and (y < best_y or (y == best_y and x < best_x))):
                best_source, best_cost, best_y, best_x, best_way = source, cost, y, x, way
    put(flat, table, given, piece, place, best_source, best_x, best_y, best_way)
    return best_source >= 0


@compiled
def put(flat: Flat, table: Table, given: Given, piece: int, place: int, source: int, x: int, y: int, way: int) -> None:
    """Put a piece at a spot (source -1: it has none) and note in the log what undoes it."""
    log = table.log[place]
    log[K_PIECE] = piece
    spot = table.spots[piece]
    spot[AT_SOURCE], spot[AT_X], spot[AT_Y], spot[AT_WAY] = source, x, y, way
    if source < 0:
        return
    group = flat.pieces[piece, P_GROUP]
    if group >= 0 and table.groups[group, H_LAID] == 0:
        open_group(flat, table, given, group)
    log[K_FAR] = table.filled[source, N_FAR]
    laid = table.laid[source]
    count = table.filled[source, N_BOXES]
    for box in range(flat.ways[way, W_BOX], flat.ways[way, W_BOX] + flat.ways[way, W_BOXES]):
        low = y + flat.boxes[box, Y0]
        at = count
        while at > 0 and laid[at - 1, L_LOW] > low:
            for k in range(4):
                laid[at, k] = laid[at - 1, k]
            at -= 1
        laid[at, L_LOW], laid[at, L_TOP] = low, y + flat.boxes[box, Y1]
        laid[at, L_LEFT], laid[at, L_RIGHT] = x + flat.boxes[box, X0], x + flat.boxes[box, X1]
        count += 1
    table.filled[source, N_BOXES] = count
    table.filled[source, N_FAR] = max(table.filled[source, N_FAR], y + flat.ways[way, W_LENGTH])
    if group < 0:
        return
    state = table.groups[group]
    for k in range(7):
        log[K_GROUP + k] = state[k]
    state[H_LAID] += 1
    ground = flat.grounds[2 * source + given.anchored[source]]
    if state[H_HOME] < 0:
        state[H_HOME] = source
    elif state[H_HOME] != source:
        state[H_MANY] = 1
    if ground[G_LOOSE]:
        state[H_LOOSE] = 1
    if flat.facts[F_LATTICE]:
        settle_phase(flat, state, piece, ground, x, y)


@compiled
def settle_phase(flat: Flat, state: Whole, piece: int, ground: Whole, x: int, y: int) -> None:
    """Set φ of a group now that one of its pieces lies at (x, y)."""
    lean_x = x + ground[G_SIGMA_X] - flat.pieces[piece, P_X]
    lean_y = y + ground[G_SIGMA_Y] - flat.pieces[piece, P_Y]
    across = ground[G_ACROSS]
    if across == 0:
        if state[H_Y] == NONE:
            state[H_Y] = lean_y
        return
    times = 0
    if state[H_X] != NONE:
        times = (lean_x - state[H_X]) // across
    elif state[H_Y] != NONE:
        while (lean_y - state[H_Y] - times * flat.facts[F_DROP]) % flat.facts[F_ALONG] != 0:
            times += 1
    if state[H_Y] == NONE:
        state[H_Y] = lean_y - times * flat.facts[F_DROP]
    state[H_X] = lean_x - times * across


@compiled
def take(flat: Flat, table: Table, place: int) -> None:
    """Take back the piece laid last, the `place`-th on the table."""
    log = table.log[place]
    piece = log[K_PIECE]
    spot = table.spots[piece]
    source, x, y, way = spot[AT_SOURCE], spot[AT_X], spot[AT_Y], spot[AT_WAY]
    spot[AT_SOURCE] = -1
    if source < 0:
        return
    laid = table.laid[source]
    count = table.filled[source, N_BOXES]
    for box in range(flat.ways[way, W_BOX], flat.ways[way, W_BOX] + flat.ways[way, W_BOXES]):
        at = count - 1
        while laid[at, L_LOW] != y + flat.boxes[box, Y0] or laid[at, L_LEFT] != x + flat.boxes[box, X0]:
            at -= 1
        for after in range(at, count - 1):
            for k in range(4):
                laid[after, k] = laid[after + 1, k]
        count -= 1
    table.filled[source, N_BOXES] = count
    table.filled[source, N_FAR] = log[K_FAR]
    group = flat.pieces[piece, P_GROUP]
    if group >= 0:
        for k in range(7):
            table.groups[group, k] = log[K_GROUP + k]
