"""The instance as flat arrays of whole numbers, for the compiled search.

Options, pieces, ways (a piece as it lies after one of its turns) and boxes are numbered through the whole instance.
The constants name the columns of the table that they stand above.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from nesting.model.ground import ground_of, made_width, may_anchor
from nesting.model.objective import side_cost
from nesting.search.scheme import Ready

Whole = npt.NDArray[np.int64]

NONE = -(1 << 60)
"""A phase, a width or an arrow that is not given."""

# choices: the options in all, those that are usable (in `usable`), mates in `lot_mates` and `mates`
C_FIRST, C_USABLE, C_USABLES, C_ARROW_GROUP, C_LOT_GROUP, C_LOT_MATES, C_LOT_MATE_COUNT, C_MATES, C_MATE_COUNT = range(
    9
)
# options
O_CHOICE, O_PIECE, O_PIECES, O_WIDTH, O_ARROW, O_PHASE_X, O_PHASE_Y, O_PAIR, O_PAIRS, O_SEAMS = range(10)
# pieces
P_OPTION, P_CHOICE, P_GROUP, P_X, P_Y, P_WAY, P_WAYS, P_WIDTH, P_LENGTH, P_AREA = range(10)
# ways
W_WIDTH, W_LENGTH, W_LEFT, W_RIGHT, W_BOX, W_BOXES = range(6)
# boxes: corner and far corner
X0, Y0, X1, Y1 = range(4)
# sources
(
    S_RATE,
    S_OPENING,
    S_LOT,
    S_MADE,
    S_ORDERED,
    S_STEP,
    S_MINIMUM,
    S_WHOLE,
    S_START,
    S_ANCHOR,
    S_MAY_ANCHOR,
    S_LENGTH,
    S_WIDTH,
    S_FLAW,
    S_FLAWS,
    S_COST,
    S_PRICE,
    S_PRICE_PER,
) = range(18)
# grounds, row 2·source + anchored
G_WIDTH, G_LOW, G_HIGH, G_SIGMA_X, G_SIGMA_Y, G_ACROSS, G_LOOSE = range(7)
# facts
F_ALONG, F_DROP, F_PERIOD, F_MOST_SEAMS, F_ONE_LOT, F_LATTICE, F_PAIRS, F_GROUPS, F_LOTS = range(9)


class Flat(NamedTuple):
    """An instance in arrays.

    `ranked`: the sources in the order in which they are tried. `usable`, `mates`, `lot_mates`, `group_choices`: lists
    laid end to end, found by first place and count. `by_size`: per option its pieces, longest first. `sides[o, l]`:
    what option o adds to level l of the goal apart from goods; `weights[l]`: of roll ordered, roll used and money.
    """

    facts: Whole
    choices: Whole
    options: Whole
    sides: Whole
    weights: Whole
    pieces: Whole
    by_size: Whole
    ways: Whole
    boxes: Whole
    pairs: Whole
    sources: Whole
    grounds: Whole
    flaws: Whole
    ranked: Whole
    usable: Whole
    mates: Whole
    lot_mates: Whole
    groups: Whole  # per group: first place and count in group_choices
    group_choices: Whole
    order_lots: Whole
    arrow_groups: Whole


def _table(rows: Iterable[Sequence[int]], columns: int) -> Whole:
    """Return rows as an array, one row of zeros where there is none, so that no array is empty."""
    listed = list(rows) or [(0,) * columns]
    return np.array(listed, dtype=np.int64).reshape(len(listed), columns)


def _list(items: Iterable[int]) -> Whole:
    return np.array(list(items) or [0], dtype=np.int64)


def flat_of(ready: Ready) -> Flat:
    """Return the arrays of an instance."""
    instance = ready.instance
    lattice = instance.lattice
    rows: dict[str, list[tuple[int, ...]]] = {
        name: [] for name in ("choices", "options", "pieces", "ways", "boxes", "pairs")
    }
    usable: list[int] = []
    mates: list[int] = []
    lot_mates: list[int] = []
    by_size: list[int] = []
    sides: list[list[int]] = []
    arrows: dict[int | None, int] = {}
    numbers = _group_numbers(ready)
    in_group = _choices_of_groups(ready, numbers)
    for number, choice in enumerate(instance.choices):
        first = len(rows["options"])
        near = sorted({c for g in _groups_of(ready, number) for c in in_group[numbers[g]]} | {number})
        rows["choices"].append(
            (
                first,
                len(usable),
                len(ready.usable[number]),
                NONE if choice.arrow_group is None else choice.arrow_group,
                NONE if choice.lot_group is None else choice.lot_group,
                len(lot_mates),
                len(ready.lot_mates[number]),
                len(mates),
                len(near),
            )
        )
        usable += [first + taken for taken in ready.usable[number]]
        lot_mates += ready.lot_mates[number]
        mates += near
        for taken, option in enumerate(choice.options):
            here, first_piece = len(rows["options"]), len(rows["pieces"])
            phase_x, phase_y = option.phase
            rows["options"].append(
                (
                    number,
                    first_piece,
                    len(option.pieces),
                    NONE if option.order_width is None else option.order_width,
                    NONE if option.arrow is None else arrows.setdefault(option.arrow, len(arrows)),
                    NONE if phase_x is None else phase_x,
                    NONE if phase_y is None else phase_y,
                    len(rows["pairs"]),
                    len(option.order),
                    option.seams,
                )
            )
            sides.append([side_cost(option, list(level[2:])) for level in instance.weights.levels])
            rows["pairs"] += option.order
            sizes = [(-piece.length, -piece.width, index) for index, piece in enumerate(option.pieces)]
            by_size += [first_piece + index for _, _, index in sorted(sizes)]
            for index, piece in enumerate(option.pieces):
                ways = ready.shapes[number][taken][index]
                group = -1 if piece.group is None else numbers[piece.group]
                rows["pieces"].append(
                    (
                        here,
                        number,
                        group,
                        *piece.offset,
                        len(rows["ways"]),
                        len(ways),
                        piece.width,
                        piece.length,
                        piece.area,
                    )
                )
                for shape in ways:
                    rows["ways"].append(
                        (
                            shape.width,
                            shape.length,
                            shape.inset_left,
                            shape.inset_right,
                            len(rows["boxes"]),
                            len(shape.boxes),
                        )
                    )
                    rows["boxes"] += shape.boxes
    group_rows: list[tuple[int, int]] = []
    group_choices: list[int] = []
    for members in in_group:
        group_rows.append((len(group_choices), len(members)))
        group_choices += members
    along = lattice.along if lattice else 1
    drop = lattice.drop if lattice else 0
    facts = [0] * 9
    facts[F_ALONG], facts[F_DROP] = along, drop
    facts[F_PERIOD] = along // int(np.gcd(along, drop)) if drop else 1
    most = instance.weights.most_seams
    facts[F_MOST_SEAMS] = -NONE if most is None else most
    facts[F_ONE_LOT] = int(instance.orders_of_one_lot)
    facts[F_LATTICE] = int(lattice is not None)
    facts[F_PAIRS] = len(rows["pairs"])
    facts[F_GROUPS] = len(in_group)
    facts[F_LOTS] = len(ready.lots)
    flaws = [box for source in instance.sources for box in source.blocked]
    return Flat(
        facts=_list(facts),
        choices=_table(rows["choices"], 9),
        options=_table(rows["options"], 10),
        sides=_table(sides, len(instance.weights.levels)),
        weights=_table([(w[0], w[1], w[4]) for w in instance.weights.levels], 3),
        pieces=_table(rows["pieces"], 10),
        by_size=_list(by_size),
        ways=_table(rows["ways"], 6),
        boxes=_table(rows["boxes"], 4),
        pairs=_table(rows["pairs"], 2),
        sources=_table(_source_rows(ready), 18),
        grounds=_table(_ground_rows(ready), 7),
        flaws=_table(flaws, 4),
        ranked=_list(sorted(range(len(instance.sources)), key=lambda s: ready.ranks[s])),
        usable=_list(usable),
        mates=_list(mates),
        lot_mates=_list(lot_mates),
        groups=_table(group_rows, 2),
        group_choices=_list(group_choices),
        order_lots=_list(ready.lots.index(lot) for lot in ready.order_lots),
        arrow_groups=_list(sorted({c.arrow_group for c in instance.choices if c.arrow_group is not None})),
    )


def _groups_of(ready: Ready, number: int) -> set[int]:
    """Return the phase groups that any option of a choice uses."""
    choice = ready.instance.choices[number]
    return {piece.group for option in choice.options for piece in option.pieces if piece.group is not None}


def _group_numbers(ready: Ready) -> dict[int, int]:
    """Return a number from 0 on for every phase group."""
    groups = {group for number in range(len(ready.instance.choices)) for group in _groups_of(ready, number)}
    return {group: number for number, group in enumerate(sorted(groups))}


def _choices_of_groups(ready: Ready, numbers: dict[int, int]) -> list[list[int]]:
    """Return per phase group the choices that may use it."""
    found: list[list[int]] = [[] for _ in numbers]
    for number in range(len(ready.instance.choices)):
        for group in sorted(_groups_of(ready, number)):
            found[numbers[group]].append(number)
    return found


def _source_rows(ready: Ready) -> list[tuple[int, ...]]:
    rows: list[tuple[int, ...]] = []
    flaw = 0
    for index, source in enumerate(ready.instance.sources):
        terms = source.terms
        rows.append(
            (
                ready.rates[index],
                ready.openings[index],
                ready.lots.index(source.lot),
                made_width(source),
                int(terms is not None),
                terms.step if terms else 1,
                terms.minimum if terms else 0,
                int(terms.whole) if terms else 0,
                terms.start if terms else 0,
                (terms.anchor_along or 0) if terms else 0,
                int(may_anchor(source)),
                source.length,
                source.width,
                flaw,
                len(source.blocked),
                source.cost,
                source.cost_per_unit.numerator,
                source.cost_per_unit.denominator,
            )
        )
        flaw += len(source.blocked)
    return rows


def _ground_rows(ready: Ready) -> list[tuple[int, ...]]:
    rows: list[tuple[int, ...]] = []
    for index in range(len(ready.instance.sources)):
        for anchored in (False, True):
            ground = ground_of(ready.instance, index, anchored)
            rows.append((ground.width, ground.low, ground.high, *ground.sigma, ground.across or 0, int(ground.loose)))
    return rows
