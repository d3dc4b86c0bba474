"""The instance as one array of whole numbers, for the compiled search.

Choices, options, pieces, ways (a piece as it lies after one of its turns), boxes, sources and the rest each have a row
of `flat`, and are known by its number; the constants name the columns. What changes while the search goes on stands
in `state`, row for row beside `flat`. Few arrays of one type compile fast and are passed on at no cost.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from nesting.model.ground import ground_of, made_width, may_anchor
from nesting.model.instance import Choice, Source, Worth, may_use
from nesting.model.objective import side_cost
from nesting.search.scheme import Ready

Whole = npt.NDArray[np.int64]
Real = npt.NDArray[np.float64]

NONE = -(1 << 60)
"""A phase, a width or an arrow that is not given."""
FACT_ROWS = 8
"""Rows before the first choice; the first holds the facts."""
WORD = 60
"""Sources whose bars go into one number."""

# facts: the pattern, the cap on seams, and where tables begin and end (sources come right after the choices); whether
# there are pieces of several boxes, the least width and length of the others
(
    F_ALONG,
    F_DROP,
    F_PERIOD,
    F_LATTICE,
    F_MOST_SEAMS,
    F_PAIRS,
    F_LOTS,
    F_SOURCES,
    F_SOURCES_END,
    F_LEVELS,
    F_LEVELS_END,
    F_RANKED,
    F_RANKED_END,
    F_ORDER_LOTS,
    F_ORDER_LOT_COUNT,
    F_ARROW_GROUPS,
    F_ARROW_GROUP_COUNT,
    F_WORDS,
    F_SHAPED,
    F_LEAST_WIDTH,
    F_LEAST_LENGTH,
) = range(21)
# choices: usable options, mates in their lot, choices that share a phase group, as first row of a list and count; from
# C_CLOSED on the sources that they may never be cut from, WORD to a number
(
    C_USABLE,
    C_USABLES,
    C_ARROW_GROUP,
    C_LOT_GROUP,
    C_LOT_MATES,
    C_LOT_MATE_COUNT,
    C_MATES,
    C_MATE_COUNT,
    C_FIRST,
    C_CLOSED,
) = range(10)
# options: from O_SIDES on what it adds to every level apart from goods; O_BY_SIZE: list of its pieces, longest first
(
    O_CHOICE,
    O_PIECE,
    O_PIECES,
    O_BY_SIZE,
    O_WIDTH,
    O_ARROW,
    O_PHASE_X,
    O_PHASE_Y,
    O_PAIR,
    O_PAIRS,
    O_SEAMS,
    O_SIDES,
) = range(12)
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
    S_FLAWS,
    S_COST,
    S_PRICE,
    S_PRICE_PER,
    S_BEGUN,
    S_KEEP,
    S_SMALL,
    S_GROUND,
    S_NUMBER,
    S_KIND,
) = range(23)
# grounds, the free one and after it the anchored one
G_WIDTH, G_LOW, G_HIGH, G_SIGMA_X, G_SIGMA_Y, G_ACROSS, G_LOOSE = range(7)
# levels: weights of roll ordered, roll used, money, the value used up of goods in hand
V_ROLL, V_RUN, V_MONEY, V_RACK = range(4)
# lists and pairs, phase groups (a list of choices)
ITEM, SECOND = range(2)
LIST, COUNT = range(2)


def flat_of(ready: Ready) -> Whole:
    """Return the array of an instance."""
    return _Writer(ready).array()


class _Writer:
    """Writes the rows of one instance, those that others point at first."""

    def __init__(self, ready: Ready) -> None:
        self.ready = ready
        self.words = len(ready.instance.sources) // WORD + 1
        self.columns = max(23, O_SIDES + len(ready.instance.weights.levels), C_CLOSED + self.words)
        choices = len(ready.instance.choices)
        self.rows: list[Sequence[int]] = [()] * (FACT_ROWS + choices)
        self.arrows: dict[int, int] = {}
        self.groups = {
            group: number for number, group in enumerate(sorted(set().union(*map(self._used, range(choices)))))
        }
        self.group_rows: list[int] = []

    def array(self) -> Whole:
        """Write everything."""
        ready, rows = self.ready, self.rows
        instance, lattice = ready.instance, ready.instance.lattice
        choices = range(len(instance.choices))
        sources = self._sources()
        of_group = [[c for c in choices if group in self._used(c)] for group in self.groups]
        lists = [self._list(FACT_ROWS + c for c in members) for members in of_group]
        self.group_rows = self._rows([(first, len(of)) for first, of in zip(lists, of_group, strict=True)])
        facts = [0] * 21
        for number in choices:
            self._choice(number, of_group)
        along, drop = (lattice.along, lattice.drop) if lattice else (1, 0)
        most = instance.weights.most_seams
        facts[F_ALONG], facts[F_DROP], facts[F_PERIOD] = along, drop, along // int(np.gcd(along, drop))
        facts[F_LATTICE] = int(lattice is not None)
        facts[F_MOST_SEAMS] = -NONE if most is None else most
        facts[F_PAIRS] = int(any(option.order for choice in instance.choices for option in choice.options))
        facts[F_LOTS] = len(ready.lots)
        facts[F_SOURCES], facts[F_SOURCES_END] = sources, sources + len(instance.sources)
        rack = instance.weights.rack
        levels = self._rows(
            [
                (level[0], level[1], level[4], int(number == rack))
                for number, level in enumerate(instance.weights.levels)
            ]
        )
        facts[F_LEVELS], facts[F_LEVELS_END] = levels[0], levels[0] + len(levels)
        facts[F_RANKED] = self._list(sources + s for s in sorted(range(len(ready.ranks)), key=ready.ranks.__getitem__))
        facts[F_RANKED_END] = len(rows)
        facts[F_ORDER_LOTS] = self._list(ready.lots.index(lot) for lot in ready.order_lots)
        facts[F_ORDER_LOT_COUNT] = len(ready.order_lots)
        arrow_groups = sorted({c.arrow_group for c in instance.choices if c.arrow_group is not None})
        facts[F_ARROW_GROUPS], facts[F_ARROW_GROUP_COUNT] = self._list(arrow_groups), len(arrow_groups)
        ways = [way for by_option in ready.shapes for pieces in by_option for ways in pieces for way in ways]
        plain = [way for way in ways if len(way.boxes) == 1]
        facts[F_SHAPED] = int(len(plain) < len(ways))
        facts[F_LEAST_WIDTH] = min((way.width for way in plain), default=-NONE)
        facts[F_LEAST_LENGTH] = min((way.length for way in plain), default=-NONE)
        facts[F_WORDS] = self.words
        rows[0] = facts
        flat = np.zeros((len(rows), self.columns), dtype=np.int64)
        for number, row in enumerate(rows):
            flat[number, : len(row)] = row
        return flat

    def _used(self, number: int) -> set[int]:
        """Return the phase groups that any option of a choice uses."""
        choice = self.ready.instance.choices[number]
        return {piece.group for option in choice.options for piece in option.pieces if piece.group is not None}

    def _rows(self, rows: Iterable[Sequence[int]]) -> list[int]:
        """Write rows and return their numbers."""
        first = len(self.rows)
        self.rows += rows
        return list(range(first, len(self.rows)))

    def _list(self, items: Iterable[int]) -> int:
        """Write a list of numbers, a row each, and return its first row."""
        first = len(self.rows)
        self.rows += [(item,) for item in items]
        return first

    def _sources(self) -> int:
        """Write the sources, right after the choices, and their grounds; return the row of the first source."""
        instance = self.ready.instance
        count = range(len(instance.sources))
        sources = self._rows([()] * len(count))
        kinds: dict[Source, int] = {}  # sources that are the same but for their names
        for index, row in enumerate(sources):
            grounds = [ground_of(instance, index, anchored) for anchored in (False, True)]
            written = self._rows([(g.width, g.low, g.high, *g.sigma, g.across or 0, int(g.loose)) for g in grounds])
            kind = kinds.setdefault(replace(instance.sources[index], id=""), index)
            self.rows[row] = (*self._source(index), written[0], index, kind)
        return sources[0]

    def _source(self, index: int) -> tuple[int, ...]:
        """Return a source's row up to S_SMALL; what has no value counts as if nothing left of it were worth keeping."""
        source, terms = self.ready.instance.sources[index], self.ready.instance.sources[index].terms
        worth = source.worth or Worth(keep_from=source.length + 1)
        return (
            self.ready.rates[index],
            self.ready.openings[index],
            self.ready.lots.index(source.lot),
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
            len(source.blocked),
            source.cost,
            source.cost_per_unit.numerator,
            source.cost_per_unit.denominator,
            worth.begun,
            worth.keep_from,
            worth.small,
        )

    def _choice(self, number: int, of_group: list[list[int]]) -> None:
        """Write a choice with its options."""
        ready, choice = self.ready, self.ready.instance.choices[number]
        options = self._rows([()] * len(choice.options))
        for taken, row in enumerate(options):
            self.rows[row] = self._option(number, taken, row)
        mates = sorted({number}.union(*(of_group[self.groups[group]] for group in self._used(number))))
        self.rows[FACT_ROWS + number] = (
            self._list(options[taken] for taken in ready.usable[number]),
            len(ready.usable[number]),
            NONE if choice.arrow_group is None else choice.arrow_group,
            NONE if choice.lot_group is None else choice.lot_group,
            self._list(FACT_ROWS + mate for mate in ready.lot_mates[number]),
            len(ready.lot_mates[number]),
            self._list(FACT_ROWS + mate for mate in mates),
            len(mates),
            options[0],
            *self._closed(choice),
        )

    def _closed(self, choice: Choice) -> list[int]:
        """Return the sources that a choice may not be cut from, as bits."""
        words = [0] * self.words
        for index, source in enumerate(self.ready.instance.sources):
            if not may_use(choice, source):
                words[index // WORD] |= 1 << (index % WORD)
        return words

    def _option(self, number: int, taken: int, row: int) -> tuple[int, ...]:
        """Write the pieces of an option and return its row."""
        option = self.ready.instance.choices[number].options[taken]
        pieces = self._rows([()] * len(option.pieces))
        for index, piece in enumerate(pieces):
            self.rows[piece] = self._piece(number, taken, index, row)
        sizes = [(-piece.length, -piece.width, index) for index, piece in enumerate(option.pieces)]
        pairs = self._rows(option.order)
        levels = self.ready.instance.weights.levels
        return (
            FACT_ROWS + number,
            pieces[0] if pieces else 0,
            len(pieces),
            self._list(pieces[index] for _, _, index in sorted(sizes)),
            NONE if option.order_width is None else option.order_width,
            NONE if option.arrow is None else self.arrows.setdefault(option.arrow, len(self.arrows)),
            *(NONE if phase is None else phase for phase in option.phase),
            pairs[0] if pairs else 0,
            len(pairs),
            option.seams,
            *(side_cost(option, list(level[2:])) for level in levels),
        )

    def _piece(self, number: int, taken: int, index: int, option: int) -> tuple[int, ...]:
        """Write the ways of a piece and return its row."""
        piece = self.ready.piece(number, taken, index)
        ways = []
        for shape in self.ready.shapes[number][taken][index]:
            boxes = self._rows(shape.boxes)
            ways.append((shape.width, shape.length, shape.inset_left, shape.inset_right, boxes[0], len(boxes)))
        first = self._rows(ways)[0]
        group = -1 if piece.group is None else self.group_rows[self.groups[piece.group]]
        sizes = (piece.width, piece.length, piece.area)
        return (option, FACT_ROWS + number, group, *piece.offset, first, len(ways), *sizes)
