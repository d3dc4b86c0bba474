"""Which way every room is laid, with how many seams, and whether a lot holds it: a program of whole numbers.

Rooms of a kind choose *ways*: a lay direction with a number of seams, cut from an order or as a whole from one lot in
hand. Every valid value of widths gives one linear cut: what the ways of all rooms count at least is no more than what
the roll counts. Values are made for the choice that the program favours until none changes it (cutting planes, as in
Benders' decomposition). Orders round up as they do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import gcd

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from nesting.bounds.counting import Room, fewest_seams, least_by_count, least_of_item, least_of_lay
from nesting.bounds.kinds import Item, LayArrays
from nesting.bounds.lots import Lot, most_for_items
from nesting.bounds.mixing import Goods, best_values
from nesting.bounds.widths import SCALE, capacity
from nesting.domain.material import Material
from nesting.model.solving import stopping
from nesting.progress import Stop

Whole = NDArray[np.int64]

WAYS = 4
"""Numbers of seams told apart for every lay direction: the fewest and so on, the last stands for all beyond too."""

FINEST_NM = 10_000
"""The unit of lengths is no finer than this: numbers stay small for the solver."""

Way = tuple[int, int, int, bool]
"""(source: −1 an order, else the lot; number among the source's lay directions; seams; or more)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How orders count, in whole units of length.

    `made`: the widths in steps; `weights`: the widths in their own common unit; `seam_price` in that unit times the
    unit of length. `exact`: all terms are whole units, so that an order is a whole number of steps; else a length may
    be less than counted by a unit. `longest`: the longest roll; `roll`: what is ordered where only whole rolls are
    sold.
    """

    unit_nm: int
    made: tuple[int, ...]
    weights: tuple[int, ...]
    seam_price: int
    step: int
    start: int
    minimum: int
    longest: int | None
    roll: int | None
    exact: bool
    most: int
    most_seams: int | None

    def counted(self, amount: int) -> int:
        """Return a value·µm in steps of width times units of length, rounded down."""
        return amount * 1000 // (SCALE * self.unit_nm)

    def price_in_roll(self, seam_price: int) -> int:
        """Return the part of a seam's price, value·µm, for which roll may stand in any order without costing more."""
        if len(self.made) > 1 or self.roll is not None or self.seam_price <= 0:
            return 0
        step = self.step * self.weights[0] if self.exact else 1
        units = self.seam_price // step * step
        if self.longest is not None:
            units = min(units, (self.longest - self.start) * self.weights[0]) - self.start * self.weights[0]
        return max(0, seam_price * units // self.seam_price - 1)

    def ordered(self, model: cp_model.CpModel, used: cp_model.IntVar) -> cp_model.IntVar:
        """Return what is ordered of one width when so much is used: every roll has its start, and orders round up."""
        found = model.new_int_var(0, 4 * self.most, "")
        some = model.new_bool_var("")
        model.add(used == 0).only_enforce_if(~some)
        model.add(found >= self.minimum).only_enforce_if(some)
        if self.longest is None:
            model.add(found >= used + self.start).only_enforce_if(some)
        else:
            rolls = model.new_int_var(0, 2 * self.most // self.longest + 2, "")
            each = max(1, self.longest - self.start)
            model.add(each * rolls >= used)
            model.add(found >= used + self.start * rolls)
            if self.roll is not None:
                model.add(found >= self.roll * rolls)
        if self.exact and self.roll is None:
            steps = model.new_int_var(0, 4 * self.most // self.step + 1, "")
            if self.minimum % self.step == 0:
                model.add(found == self.step * steps)
        return found

    def least_order(self, counted: int) -> int:
        """Return the least that is ordered of the one width made for steps of width times units of length."""
        used = -(-counted // self.made[0]) if self.exact else counted // self.made[0]
        if used <= 0:
            return 0
        rolls = 1 if self.longest is None else -(-used // max(1, self.longest - self.start))
        if self.roll is not None:
            return rolls * self.roll
        needed = used + self.start * rolls
        if self.exact:
            needed = -(-needed // self.step) * self.step
        return max(self.minimum, needed)


def terms_of(material: Material, goods: Goods, *, seam_worth_nm: int, most_seams: int | None, most_nm: int) -> Terms:
    """Return the terms of a material's orders; no roll of `most_nm` or more is ever needed."""
    sale = material.sale
    lengths = [sale.order_step_nm, material.squaring_nm, sale.minimum_cut_nm, seam_worth_nm]
    common = gcd(*lengths)
    unit = common if common >= FINEST_NM else FINEST_NM
    shared = gcd(*material.widths_nm)
    longest = material.longest_nm
    return Terms(
        unit_nm=unit,
        made=goods.made,
        weights=tuple(width // shared for width in material.widths_nm),
        seam_price=seam_worth_nm * (max(material.widths_nm) // shared) // unit,
        step=max(1, sale.order_step_nm // unit),
        start=material.squaring_nm // unit,
        minimum=sale.minimum_cut_nm // unit,
        longest=None if longest is None else -(-longest // unit),
        roll=longest // unit if sale.whole_rolls and longest is not None else None,
        exact=common >= FINEST_NM and sale.order_step_nm > 1,
        most=most_nm // unit + 1,
        most_seams=most_seams,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """A kind of room: so many rooms, their lay directions on order and in every lot that could hold one."""

    count: int
    lays: tuple[LayArrays, ...]
    in_lots: tuple[tuple[LayArrays, ...], ...]
    worth: tuple[bool, ...] = ()  # the lay directions that a better plan may take on order; (): all
    arrow: int | None = None  # kinds with the same number share one lay direction

    def lays_from(self, source: int) -> tuple[LayArrays, ...]:
        """Return the lay directions when cut from an order (−1) or a lot."""
        return self.lays if source < 0 else self.in_lots[source]


class ChoosingModel:
    """The program; values of widths join it by `add`."""

    def __init__(
        self, kinds: Sequence[Choices], items: Sequence[Item], goods: Goods, lots: Sequence[Lot], terms: Terms
    ) -> None:
        self.kinds, self.items, self.goods, self.lots, self.terms = kinds, items, goods, lots, terms
        self.model = cp_model.CpModel()
        self.ways = [self._ways(kind) for kind in kinds]
        self.taken = [
            [self.model.new_int_var(0, kind.count, "") for _ in ways]
            for kind, ways in zip(kinds, self.ways, strict=True)
        ]
        for kind, taken in zip(kinds, self.taken, strict=True):
            self.model.add(cp_model.LinearExpr.sum(taken) == kind.count)
        for arrow in sorted({kind.arrow for kind in kinds if kind.arrow is not None}):
            self._one_direction([number for number, kind in enumerate(kinds) if kind.arrow == arrow])
        self.used = [self.model.new_int_var(0, terms.most, "") for _ in goods.made]
        self.ordered = [terms.ordered(self.model, used) for used in self.used]
        seams = [
            (count, seams)
            for taken, ways in zip(self.taken, self.ways, strict=True)
            for count, (_, _, seams, _) in zip(taken, ways, strict=True)
        ]
        self.seams = cp_model.LinearExpr.weighted_sum([count for count, _ in seams], [number for _, number in seams])
        if terms.most_seams is not None:
            self.model.add(self.seams <= terms.most_seams)
        roll = cp_model.LinearExpr.weighted_sum(self.ordered, list(terms.weights))
        self.goal = roll + terms.seam_price * self.seams
        self.model.minimize(self.goal)

    def _one_direction(self, numbers: Sequence[int]) -> None:
        """Let all rooms of these kinds run along one axis: those that share a lay direction."""
        axes = [
            [self.kinds[number].lays_from(source)[lay].axis for source, lay, _, _ in self.ways[number]]
            for number in numbers
        ]
        runs = {axis: self.model.new_bool_var("") for axis in dict.fromkeys(axis for found in axes for axis in found)}
        self.model.add_exactly_one(runs.values())
        for number, found in zip(numbers, axes, strict=True):
            for axis, along in runs.items():
                so = [taken for taken, lies in zip(self.taken[number], found, strict=True) if lies == axis]
                self.model.add(cp_model.LinearExpr.sum(so) == self.kinds[number].count * along)

    def _ways(self, kind: Choices) -> list[Way]:
        ways: list[Way] = []
        for source in range(-1, len(self.lots)):
            for number, lay in enumerate(kind.lays_from(source)):
                if source < 0 and kind.worth and not kind.worth[number]:
                    continue
                fewest = fewest_seams(lay)
                if fewest is not None:
                    ways += [(source, number, fewest + more, more == WAYS - 1) for more in range(WAYS)]
        return ways

    def add(self, value: Whole) -> None:
        """Add the cuts of a valid value: for the orders with what is pooled with them, and for every lot."""
        terms = self.terms
        most = capacity(value)
        least = [self._least(kind, ways, value) for kind, ways in zip(self.kinds, self.ways, strict=True)]
        for source in range(-1, len(self.lots)):
            counts: list[cp_model.IntVar] = []
            amounts: list[int] = []
            for taken, ways, found in zip(self.taken, self.ways, least, strict=True):
                for count, way, amount in zip(taken, ways, found, strict=True):
                    if way[0] != source:
                        continue
                    if amount is None:
                        self.model.add(count == 0)
                        continue
                    counts.append(count)
                    amounts.append(terms.counted(amount))
            needed = cp_model.LinearExpr.weighted_sum(counts, amounts)
            if source < 0:
                pooled = sum(int(most[width]) * length for width, length in self.goods.in_hand)
                fixed = sum(least_of_item(item, value) for item in self.items) - pooled
                fixed -= sum(most_for_items(lot, self.items, value, most) for lot in self.lots)
                roll = cp_model.LinearExpr.weighted_sum(self.used, list(terms.made))
                slack = 0 if terms.exact else sum(terms.made)
                self.model.add(roll >= needed + terms.counted(fixed) - slack)
            elif counts:
                holds = sum(int(most[width]) * length for width, length in self.lots[source].pieces)
                self.model.add(needed <= terms.counted(holds))

    def _least(self, kind: Choices, ways: Sequence[Way], value: Whole) -> list[int | None]:
        found: dict[tuple[int, int], tuple[int | None, ...]] = {}
        for source, number, seams, _ in ways:
            most = max(seams, *(other[2] for other in ways if other[:2] == (source, number)))
            if (source, number) not in found:
                found[source, number] = least_by_count(kind.lays_from(source)[number], value, most)
        amounts = [found[source, number][seams] for source, number, seams, _ in ways]
        return [self._with_seams_beyond(kind, way, value, one) for way, one in zip(ways, amounts, strict=True)]

    def _with_seams_beyond(self, kind: Choices, way: Way, value: Whole, amount: int | None) -> int | None:
        """Return what a way for so many seams or more counts, seams beyond those that it names included.

        With Δ seams more a layout counts v, and its seams Δ·p more than the goal knows of. Roll for Δ·p′ instead is
        ordered for no more than that: p′ is p in whole order steps, less a start should every one need another roll.
        """
        source, number, seams, more = way
        price = self.terms.price_in_roll(self.goods.seam_price)
        if amount is None or source >= 0 or not more or price <= 0:
            return amount
        lay = kind.lays_from(source)[number]
        return max(amount, least_of_lay(lay, value, price)[0] - price * seams)

    def solved(self, *, deterministic_time: float, seed: int, stop: Stop) -> tuple[int, list[list[int]], int] | None:
        """Return the bound so far, the choice that attains most of it, and that choice's own value; None if none."""
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = deterministic_time
        with stopping(solver, stop):
            status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        bound = -int(-(solver.best_objective_bound - 1e-6) // 1)
        return bound, [[solver.value(count) for count in taken] for taken in self.taken], round(solver.objective_value)

    def chosen(self, choice: list[list[int]]) -> list[Room]:
        """Return the rooms that a choice cuts from orders, each in its way."""
        return [
            Room(lays=(kind.lays_from(-1)[number],), count=count, exact=seams, last=last)
            for kind, ways, counts in zip(self.kinds, self.ways, choice, strict=True)
            for (source, number, seams, last), count in zip(ways, counts, strict=True)
            if count and source < 0
        ]

    def worth(self, choice: list[list[int]], roll: int) -> int | None:
        """Return the goal of a choice whose orders count so much, value·µm; None with several widths."""
        if len(self.goods.made) > 1:
            return None
        seams = sum(
            count * way[2]
            for ways, counts in zip(self.ways, choice, strict=True)
            for way, count in zip(ways, counts, strict=True)
        )
        return self.terms.least_order(self.terms.counted(roll)) * self.terms.weights[0] + self.terms.seam_price * seams

    def bound(
        self,
        values: Sequence[Whole],
        *,
        rounds: int,
        turns: int,
        deterministic_time: float,
        seed: int,
        enough: int,
        stop: Stop,
    ) -> int:
        """Return the bound on the goal, in units times the common unit of the widths; 0 if nothing was proved.

        `enough`: no more is asked for.
        """
        for value in values:
            self.add(value)
        best = 0
        for number in range(rounds):
            found = (
                None if stop() else self.solved(deterministic_time=deterministic_time / rounds, seed=seed, stop=stop)
            )
            if found is None:
                break
            bound, choice, goal = found
            best = max(best, bound)
            if best >= enough or number == rounds - 1:
                break
            rooms = self.chosen(choice)
            goods = replace(self.goods, seam_price=0)
            better = best_values(rooms, self.items, goods, turns=turns, stop=stop) if rooms else []
            if not better:
                break
            worth = self.worth(choice, better[0][0])
            if worth is not None and worth <= goal:
                break
            self.add(better[0][1])
        return best
