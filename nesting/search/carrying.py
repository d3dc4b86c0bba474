"""From a scheme to the arrays of the compiled search, and back to schemes and solutions."""

from __future__ import annotations

import numpy as np

from nesting.model.anchoring import let_go
from nesting.model.instance import Solution, Spot
from nesting.model.valuing import phases_of_groups
from nesting.search.arrays import C_FIRST, O_PIECE, P_CHOICE, P_OPTION, P_WAY, Flat, Whole
from nesting.search.kernel import AT_SOURCE, AT_WAY, AT_X, AT_Y, N_FAR, Given, Table, lay, table_of
from nesting.search.placing import Placed
from nesting.search.scheme import Ready, Scheme


def given_of(ready: Ready, flat: Flat, scheme: Scheme) -> Given:
    """Return a scheme in arrays, all but its sequence."""
    first = flat.choices[:, C_FIRST]
    given = Given(
        options=first + np.array(scheme.options, dtype=np.int64),
        lots=np.array([-1 if lot is None else ready.lots.index(lot) for lot in scheme.lots], dtype=np.int64),
        anchored=np.array(scheme.anchored, dtype=np.int64),
        barred=np.zeros((len(flat.choices), len(flat.sources)), dtype=np.int64),
        held=np.full(len(flat.pieces), -1, dtype=np.int64),
        single=np.array([-1 if scheme.order_lot is None else ready.lots.index(scheme.order_lot)], dtype=np.int64),
    )
    for choice, source in scheme.barred:
        given.barred[choice, source] = 1
    for choice, index, way in scheme.held:
        piece = flat.options[given.options[choice], O_PIECE] + index
        given.held[piece] = flat.pieces[piece, P_WAY] + way
    return given


def sequence_of(flat: Flat, given: Given, scheme: Scheme) -> Whole:
    """Return the pieces of a scheme in its placing order."""
    pieces = [flat.options[given.options[choice], O_PIECE] + index for choice, index in scheme.sequence]
    return np.array(pieces, dtype=np.int64)


def scheme_from(ready: Ready, flat: Flat, given: Given, sequence: Whole) -> Scheme:
    """Return the scheme that arrays stand for."""
    held = []
    for piece in np.flatnonzero(given.held >= 0):
        choice, option = int(flat.pieces[piece, P_CHOICE]), flat.pieces[piece, P_OPTION]
        if given.options[choice] == option:
            way = int(given.held[piece] - flat.pieces[piece, P_WAY])
            held.append((choice, int(piece - flat.options[option, O_PIECE]), way))
    order_lot = int(given.single[0])
    return Scheme(
        options=tuple(int(o) for o in given.options - flat.choices[:, C_FIRST]),
        sequence=tuple(
            (int(flat.pieces[piece, P_CHOICE]), int(piece - flat.options[flat.pieces[piece, P_OPTION], O_PIECE]))
            for piece in sequence
        ),
        lots=tuple(None if lot < 0 else ready.lots[lot] for lot in given.lots),
        order_lot=None if order_lot < 0 else ready.lots[order_lot],
        anchored=tuple(bool(kept) for kept in given.anchored),
        barred=frozenset((int(c), int(s)) for c, s in np.argwhere(given.barred)),
        held=frozenset(held),
    )


def solution_from(ready: Ready, flat: Flat, given: Given, spots: Whole) -> Solution:
    """Return the solution of spots per piece, with the sources let go that need not be anchored."""
    options = tuple(int(o) for o in given.options - flat.choices[:, C_FIRST])
    rows = []
    for number, taken in enumerate(options):
        first = int(flat.options[given.options[number], O_PIECE])
        row = []
        for index, ways in enumerate(ready.shapes[number][taken]):
            spot = spots[first + index]
            turn = ways[int(spot[AT_WAY] - flat.pieces[first + index, P_WAY])].turn
            row.append(Spot(piece=index, source=int(spot[AT_SOURCE]), x=int(spot[AT_X]), y=int(spot[AT_Y]), turn=turn))
        rows.append(tuple(row))
    anchored = tuple(bool(kept) for kept in given.anchored)
    return let_go(ready.instance, Solution(options=options, spots=tuple(rows), anchored=anchored))


def place_compiled(ready: Ready, flat: Flat, scheme: Scheme, table: Table | None = None) -> Placed:
    """Return what `placing.place` returns, worked out by the kernel; `fars` are those before sources are let go."""
    if phases_of_groups(ready.instance, scheme.options) is None:
        return Placed(None, len(scheme.sequence), ())
    table = table or table_of(flat)
    given = given_of(ready, flat, scheme)
    missing = 0
    for place, piece in enumerate(sequence_of(flat, given, scheme)):
        missing += not lay(flat, table, given, piece, place)
    fars = tuple(int(far) for far in table.filled[:, N_FAR])
    if missing:
        return Placed(None, missing, fars)
    return Placed(solution_from(ready, flat, given, table.spots), 0, fars)
