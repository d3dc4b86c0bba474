"""A bound by search: what must lie one after another because it cannot lie side by side.

A relaxation of the whole problem that knows no place across, only widths: at every point along the roll, the widths of
the pieces there add up to at most the roll's (a cumulative resource). The widths of a room's breadths are *variables*
that add up to the room, so that the bound holds for seams anywhere on the cutting step. Rooms that are not
rectangles count by a rectangle inside them and by their area. Patterned goods from one roll keep their phase along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

from ortools.sat.python import cp_model

from nesting.bounds.facts import Core, ItemFacts, Lay, RoomFacts
from nesting.domain.geometry import LayDirection
from nesting.model.solving import stopping
from nesting.progress import Stop, never_stop

MOST_EXTRA_BREADTHS = 2  # breadths beyond the fewest that get pieces of their own; more count by area
MOST_SPLITS = 3  # cross seams a breadth up to which pieces have lengths of their own


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """The goods, whole units: made widths that can be ordered, what is in hand as (width, length), and the terms.

    `along`: the repeat that places along the roll keep, units (None: no pattern, or several rolls of unknown phase).
    All pieces are shorter than `horizon`. What is ordered counts in finer units, `fine` of them in a unit: the order
    step, squaring, least order, and `seam_worth`, the roll that a seam counts for. `prices` are the made widths in
    their own common unit.
    """

    unit_nm: Fraction
    step: int  # the cutting step in units
    overlap_nm: int
    widths: tuple[int, ...]
    prices: tuple[int, ...]
    fine: int
    stock: tuple[tuple[int, int], ...]
    order_step: int
    start: int
    minimum: int
    along: int | None
    seam_worth: Fraction
    longest: int | None  # the longest piece that any goods give, units; None: no limit
    horizon: int
    most_seams: int | None = None  # the goal's cap


class StackingModel:
    """The relaxation as a CP-SAT model; `bound` is the only entry."""

    def __init__(self, rooms: Sequence[RoomFacts], items: Sequence[ItemFacts], supply: Supply) -> None:
        self.rooms, self.items, self.supply = rooms, items, supply
        self.model = cp_model.CpModel()
        self.intervals: list[list[tuple[cp_model.IntervalVar, cp_model.LinearExprT]]] = [[] for _ in supply.widths]
        self.in_hand: list[tuple[cp_model.IntervalVar, cp_model.LinearExprT]] = []
        self.area: list[cp_model.LinearExprT] = []
        self.seams: list[cp_model.LinearExprT] = []
        self.ends = [self.model.new_int_var(0, supply.horizon, f"end{index}") for index in range(len(supply.widths))]
        self.ordered = [self._ordered(index) for index in range(len(supply.widths))]
        self.spans = _spans(supply.stock)
        self.along: dict[tuple[int, LayDirection], cp_model.IntVar] = {}  # (arrow group, axis) -> it runs so
        self.from_hand = True  # whether what is being placed may be cut from goods in hand
        self.only_ordered: list[cp_model.LinearExprT] = []  # areas that may not

    def bound(self, *, deterministic_time: float, seed: int, stop: Stop = never_stop) -> int | None:
        """Return the least value of roll and seams, rounded up safely; None if nothing was proved.

        In fine units times the unit of the prices times the denominator of `seam_worth`.
        """
        for number, room in enumerate(self.rooms):
            self._room(number, room)
        for arrow in {arrow for arrow, _ in self.along}:
            self.model.add_exactly_one(runs for (group, _), runs in self.along.items() if group == arrow)
        self.from_hand = True
        for item in self.items:
            self._item(item)
        self._capacity()
        self._area()
        worth = self.supply.seam_worth
        roll = cp_model.LinearExpr.weighted_sum(self.ordered, [worth.denominator * p for p in self.supply.prices])
        price = worth.numerator * max(self.supply.prices)
        if self.supply.most_seams is not None:
            self.model.add(cp_model.LinearExpr.sum(self.seams) <= self.supply.most_seams)
        self.model.minimize(roll + price * cp_model.LinearExpr.sum(self.seams))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = deterministic_time
        with stopping(solver, stop):
            status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            return None
        value = solver.best_objective_bound
        return ceil(value - 1e-6) if value > 0 else 0

    def _ordered(self, index: int) -> cp_model.IntVar:
        """Return the length ordered of one width in fine units: order steps times the step, 0 if nothing is used."""
        supply = self.supply
        most = supply.fine * supply.horizon + supply.start + supply.minimum + supply.order_step
        ordered = self.model.new_int_var(0, most, f"ordered{index}")
        used = self.model.new_bool_var(f"used{index}")
        steps = self.model.new_int_var(0, most // supply.order_step + 1, f"steps{index}")
        self.model.add(self.ends[index] == 0).only_enforce_if(~used)
        self.model.add(ordered >= supply.fine * self.ends[index] + supply.start).only_enforce_if(used)
        self.model.add(ordered >= supply.minimum).only_enforce_if(used)
        if supply.minimum % supply.order_step == 0:
            self.model.add(ordered == supply.order_step * steps)
        return ordered

    def _room(self, number: int, room: RoomFacts) -> None:
        """One alternative a lay direction and number of breadths; exactly one is taken."""
        taken: list[cp_model.IntVar] = []
        self.from_hand = room.in_hand
        phase = None
        if self.supply.along is not None:
            phase = self.model.new_int_var(0, self.supply.along - 1, f"phase{number}")
        for lay in room.lays:
            core, most = lay.core, lay.most_splits
            before = len(taken)
            shaped = core is not None and most is not None and most <= MOST_SPLITS
            extra = MOST_EXTRA_BREADTHS if shaped else 0
            if lay.one_piece:
                taken.append(self._one_piece(lay))
            for more in range(extra):
                if lay.one_piece and more == 0 and most == 0:
                    continue  # one breadth without cross seams is one piece
                taken.append(self._stacked(lay, lay.fewest_breadths + more, phase))
            seams = max(lay.fewest_breadths - 1 + lay.fewest_cross_seams + extra, 1)
            taken.append(self._poured(lay, seams, extra_overlap=extra))
            if shaped and most == 0:
                self._one_after_another(lay, taken[-1])
            if room.arrow is not None:
                runs = self._runs(room.arrow, lay.direction.axis)
                self.model.add(cp_model.LinearExpr.sum(taken[before:]) == runs)
        self.model.add_exactly_one(taken)

    def _runs(self, arrow: int, axis: LayDirection) -> cp_model.IntVar:
        """Return whether the rooms that share a lay direction run along an axis."""
        if (arrow, axis) not in self.along:
            self.along[arrow, axis] = self.model.new_bool_var(f"runs{len(self.along)}")
        return self.along[arrow, axis]

    def _one_piece(self, lay: Lay) -> cp_model.IntVar:
        """Return the alternative without a seam: one piece as long as the floor, as wide as its core within that."""
        supply, step_nm = self.supply, self.supply.unit_nm * self.supply.step
        literal = self.model.new_bool_var("")
        self._count(literal, lay.area_nm2, 0)
        across, along = (ceil(size / step_nm) * supply.step for size in lay.extent_nm)
        chord = floor(lay.least_chord_nm / supply.unit_nm)
        wider, stretch = 0, along
        if lay.core is not None:
            core = floor(lay.core.across_nm / supply.unit_nm)
            wider, stretch = max(0, core - chord), floor(lay.core.along_nm / supply.unit_nm)
        places: list[cp_model.IntVar] = []
        fitting = [index for index, roll in enumerate(supply.widths) if across <= roll]
        grounds = [(self.intervals[index], self.ends[index], supply.horizon) for index in fitting]
        if self.from_hand and any(across <= width and along <= length for width, length in supply.stock):
            last = self.spans[-1][1]  # what is in hand may reach farther than any order would
            grounds.append((self.in_hand, self.model.new_constant(last), last))
        for intervals, end, most in grounds:
            here = self.model.new_bool_var("")
            start = self.model.new_int_var(0, most, "")
            inner = self.model.new_int_var(0, most, "")
            self.model.add(start + along <= end).only_enforce_if(here)
            self.model.add(inner >= start).only_enforce_if(here)
            self.model.add(inner + stretch <= start + along).only_enforce_if(here)
            intervals.append((self.model.new_optional_fixed_size_interval_var(start, along, here, ""), chord))
            intervals.append((self.model.new_optional_fixed_size_interval_var(inner, stretch, here, ""), wider))
            places.append(here)
        self.model.add(sum(places) == literal)
        return literal

    def _poured(self, lay: Lay, seams: int, *, extra_overlap: int) -> cp_model.IntVar:
        """Return an alternative that counts by its area only, whatever its seams."""
        literal = self.model.new_bool_var("")
        self._count(literal, lay.area_nm2 + self._overlaps_nm2(lay, extra_overlap), seams)
        return literal

    def _overlaps_nm2(self, lay: Lay, seams: int) -> int:
        """Return the area that so many more seams take at least: known only where every seam crosses the core."""
        if lay.core is None or not lay.core.whole:
            return 0
        return seams * self.supply.overlap_nm * lay.core.along_nm

    def _one_after_another(self, lay: Lay, literal: cp_model.IntVar) -> None:
        """Require the length that pieces of equal length need, however many breadths there are.

        Points V apart (the first at L mod V) meet every piece of length V that lies within a length L, and at
        each of the ⌊L/V⌋ points the pieces add up to at most the goods' width W: breadths that add up to U use at
        least ⌈U/W⌉·V. What is in hand takes at most its width as often as V goes into its length. No cross seams.
        """
        assert lay.core is not None
        supply = self.supply
        total, length = self._sizes(lay.core, 1)
        if length <= 0:
            return
        stock = supply.stock if self.from_hand else ()
        left = total - sum(width * (own // length) for width, own in stock)
        if left <= 0:
            return
        for index, width in enumerate(supply.widths):
            if len(supply.widths) == 1:
                self.model.add(self.ends[index] >= -(-left // width) * length).only_enforce_if(literal)

    def _count(self, literal: cp_model.IntVar, area_nm2: int, seams: int) -> None:
        area = literal * floor(area_nm2 / self.supply.unit_nm**2)
        self.area.append(area)
        if not self.from_hand:
            self.only_ordered.append(area)
        self.seams.append(literal * seams)

    def _stacked(self, lay: Lay, breadths: int, phase: cp_model.IntVar | None) -> cp_model.IntVar:
        """Return an alternative with so many breadths: pieces of variable width that add up to the core.

        Where cross seams may be, every breadth has as many pieces as it may have, of variable lengths that add up to
        the core's and the overlaps; a piece of length 0 is none. Seams may also run beside the core, so unless the
        core is the whole floor only its own size counts, not the overlaps.
        """
        assert lay.core is not None and lay.most_splits is not None
        supply, core = self.supply, lay.core
        literal = self.model.new_bool_var("")
        overlap = self._overlaps_nm2(lay, breadths - lay.fewest_breadths)
        self._count(literal, lay.area_nm2 + overlap, breadths - 1)
        if lay.most_splits == 0:
            self._one_after_another(lay, literal)
        total, length = self._sizes(core, breadths)
        widest = max((*supply.widths, *(width for width, _ in supply.stock)))
        widths = [self.model.new_int_var(0, widest, "") for _ in range(breadths)]
        self.model.add(sum(widths) >= total).only_enforce_if(literal)
        for wider, narrower in pairwise(widths):
            self.model.add(wider >= narrower)
        made = [self.model.new_bool_var("") for _ in supply.widths]
        parts: list[cp_model.IntVar] = []
        for width in widths:
            if lay.most_splits == 0:
                self._piece(literal, made, width, length, phase)
            else:
                parts += self._split(literal, made, width, length, lay)
        if breadths == 1 and parts and lay.one_piece:
            self.model.add(cp_model.LinearExpr.sum(parts) >= 2).only_enforce_if(literal)
        self.model.add_at_most_one(made)
        return literal

    def _sizes(self, core: Core, breadths: int) -> tuple[int, int]:
        """Return what the breadths add up to across, and how long each is, units: rounded as far as is sure."""
        supply = self.supply
        if not core.whole:
            return floor(core.across_nm / supply.unit_nm), floor(core.along_nm / supply.unit_nm)
        step_nm = supply.unit_nm * supply.step
        total_nm = core.across_nm + (breadths - 1) * supply.overlap_nm
        return ceil(total_nm / step_nm) * supply.step, ceil(core.along_nm / step_nm) * supply.step

    def _split(
        self,
        literal: cp_model.IntVar,
        made: list[cp_model.IntVar],
        width: cp_model.LinearExprT,
        length: int,
        lay: Lay,
    ) -> list[cp_model.IntVar]:
        """Place one breadth in up to so many pieces, each cross seam counted; return which pieces there are."""
        assert lay.core is not None and lay.most_splits is not None
        parts = lay.most_splits + 1
        overlap = floor(self.supply.overlap_nm / self.supply.unit_nm) if lay.core.whole else 0
        longest = length + overlap * parts
        if self.supply.longest is not None:
            longest = min(longest, self.supply.longest)
        sizes = [self.model.new_int_var(0, longest, "") for _ in range(parts)]
        there = [self.model.new_bool_var("") for _ in range(parts)]
        for size, here in zip(sizes, there, strict=True):
            self.model.add(size == 0).only_enforce_if(~here)
            self.model.add_implication(here, literal)
            self._piece_of(here, made, width, size, longest)
        for longer, shorter in pairwise(sizes):
            self.model.add(longer >= shorter)
        self.model.add_implication(literal, there[0])
        needed = length + overlap * (cp_model.LinearExpr.sum(there) - 1)
        self.model.add(cp_model.LinearExpr.sum(sizes) >= needed).only_enforce_if(literal)
        self.seams.append(cp_model.LinearExpr.sum(there) - literal)
        return there

    def _piece_of(
        self,
        literal: cp_model.IntVar,
        made: list[cp_model.IntVar],
        width: cp_model.LinearExprT,
        size: cp_model.IntVar,
        longest: int,
    ) -> None:
        """Place one piece of variable length along some made width or in hand."""
        supply = self.supply
        places: list[cp_model.IntVar] = []
        for index, roll in enumerate(supply.widths):
            here = self.model.new_bool_var("")
            self.model.add_implication(here, made[index])
            start = self.model.new_int_var(0, supply.horizon, "")
            end = self.model.new_int_var(0, supply.horizon + longest, "")
            self.model.add(width <= roll).only_enforce_if(here)
            self.model.add(end <= self.ends[index]).only_enforce_if(here)
            interval = self.model.new_optional_interval_var(start, size, end, here, "")
            self.intervals[index].append((interval, width))
            places.append(here)
        if self.spans and self.from_hand:
            here = self.model.new_bool_var("")
            start = self.model.new_int_var(0, self.spans[-1][1], "")
            end = self.model.new_int_var(0, self.spans[-1][1], "")
            interval = self.model.new_optional_interval_var(start, size, end, here, "")
            self.in_hand.append((interval, width))
            places.append(here)
        self.model.add(sum(places) == literal)

    def _piece(
        self,
        literal: cp_model.IntVar,
        made: list[cp_model.IntVar],
        width: cp_model.LinearExprT,
        length: int,
        phase: cp_model.IntVar | None,
    ) -> None:
        """Place one piece along some made width or in hand."""
        supply = self.supply
        places: list[cp_model.IntVar] = []
        for index, roll in enumerate(supply.widths):
            here = self.model.new_bool_var("")
            self.model.add_implication(here, made[index])
            start = self.model.new_int_var(0, supply.horizon, "")
            self.model.add(width <= roll).only_enforce_if(here)
            self.model.add(start + length <= self.ends[index]).only_enforce_if(here)
            if phase is not None and supply.along is not None:
                turns = self.model.new_int_var(0, supply.horizon // supply.along + 1, "")
                self.model.add(start == phase + supply.along * turns).only_enforce_if(here)
            interval = self.model.new_optional_fixed_size_interval_var(start, length, here, "")
            self.intervals[index].append((interval, width))
            places.append(here)
        if self.from_hand and self.spans and length <= max(high - low for low, high, _ in self.spans):
            here = self.model.new_bool_var("")
            start = self.model.new_int_var(0, self.spans[-1][1], "")
            interval = self.model.new_optional_fixed_size_interval_var(start, length, here, "")
            self.in_hand.append((interval, width))
            places.append(here)
        self.model.add(sum(places) == literal)

    def _item(self, item: ItemFacts) -> None:
        always = self.model.new_constant(1)
        area = item.area_nm2 if item.rectangle_nm is None else item.rectangle_nm[0] * item.rectangle_nm[1]
        self._count(always, area, 0)
        if item.rectangle_nm is not None:
            across, along = (floor(side / self.supply.unit_nm) for side in item.rectangle_nm)
            made = [self.model.new_bool_var("") for _ in self.supply.widths]
            self._piece(always, made, across, along, None)

    def _capacity(self) -> None:
        """At every point along, the widths of the pieces there add up to at most the goods' width."""
        for width, pieces in zip(self.supply.widths, self.intervals, strict=True):
            if pieces:
                self.model.add_cumulative([piece for piece, _ in pieces], [demand for _, demand in pieces], width)
        if not self.in_hand or not self.spans:
            return
        widest = max(width for _, _, width in self.spans)
        blocks, demands = [], []
        place = 0
        for low, high, width in self.spans:
            blocks.append(self.model.new_fixed_size_interval_var(place, low - place, ""))
            demands.append(widest)
            blocks.append(self.model.new_fixed_size_interval_var(low, high - low, ""))
            demands.append(widest - width)
            place = high
        self.model.add_cumulative(
            [*blocks, *(piece for piece, _ in self.in_hand)],
            [*demands, *(demand for _, demand in self.in_hand)],
            widest,
        )

    def _area(self) -> None:
        """All rough cuts fit into what is used of the orders and what is in hand."""
        stock = sum(width * length for width, length in self.supply.stock)
        used = cp_model.LinearExpr.weighted_sum(self.ends, list(self.supply.widths))
        self.model.add(used + stock >= cp_model.LinearExpr.sum(self.area))
        if self.only_ordered:
            self.model.add(used >= cp_model.LinearExpr.sum(self.only_ordered))


def _spans(stock: Sequence[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """Return the goods in hand one after another on one axis: (from, to, width), a gap of 1 between them."""
    spans = []
    place = 1
    for width, length in stock:
        spans.append((place, place + length, width))
        place += length + 1
    return spans
