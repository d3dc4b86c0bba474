"""The bound by width: it holds for all lay directions, all seam positions and all pieces side by side."""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

import numpy as np
from numpy.typing import NDArray

from nesting.bounds.choosing import Choices, ChoosingModel, Terms, terms_of
from nesting.bounds.counting import Room, counted, least_of_lay
from nesting.bounds.kernels import NONE
from nesting.bounds.kinds import FINEST, LayArrays, items_of, kinds_of
from nesting.bounds.lots import MOST_LOTS, Lot, as_one, least_area, lots_of, most_for_items, served_by
from nesting.bounds.mixing import Goods, best_values
from nesting.bounds.sequence import bound_in_sequence
from nesting.bounds.widths import SCALE, capacity, families
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.rules import RuleId
from nesting.progress import Stop
from nesting.seams.clusters import cluster_rooms, directions_of

Whole = NDArray[np.int64]

WORK_OF_EFFORT = 1_000_000_000
"""What a unit of effort looks at: steps across × widest breadth × runs, over all rooms and turns."""

MOST_TURNS, LEAST_TURNS = 80, 12
LEAST_SAMPLED, MOST_SAMPLED = 10, 40
"""Kinds of rooms for which the best value is looked for; it then counts for all."""

MORE_THAN_ANY_NM = 10**15
"""A length that no order reaches: a thousand kilometres."""

SIDE_BY_SIDE = "widths side by side"
IN_SEQUENCE = "pieces in sequence"
REPEAT_SEQUENCE = "repeat sequence"
"""What a bound comes from, in words."""

FEW = 30
"""Kinds of rooms up to which values are made for the choices in any case."""

MOST_CHOOSING = 160
"""Kinds of rooms up to which ways are chosen together."""


class WidthBounds:
    """The bound by width of one material on its roll and seams."""

    def __init__(self, job: Job, material: Material, *, seam_worth_nm: int) -> None:
        self.job, self.material, self.seam_worth_nm = job, material, seam_worth_nm
        rooms = [room for room in job.rooms if room.material_id == material.id]
        groups = cluster_rooms(job, material, [room.id for room in rooms])
        lays = dict(directions_of(job, material))
        self.kinds = kinds_of(job, material, rooms, lays, dict(groups.lot), groups.arrow)
        self.items = items_of(job, material)
        stock = [piece for piece in job.stock if piece.material_id == material.id]
        mixed = any(not room.rules.holds(RuleId.ONE_LOT) for room in rooms)
        self.pool, lots = lots_of(stock, material, mixed=mixed)
        self.areas = tuple(tuple(least_area(lay) for lay in kind.lays) for kind in self.kinds)
        held = self._held(lots)
        if sum(any(served) for served in held.values()) > MOST_LOTS:
            self.pool, lots = as_one([*self.pool, *(piece for lot in lots for piece in lot.pieces)]), ()
        # a lot that holds no room may still hold a loose piece
        self.lots = tuple(lot for lot in lots if self.items or any(held[lot]))
        self.served = tuple(held[lot] for lot in self.lots)
        step = material.cutting_step_nm
        self.made = tuple(width // step for width in material.widths_nm)
        self.widest = max([*self.made, *(int(lay.limits[0]) for kind in self.kinds for lay in kind.lays)])
        self.widest = max([self.widest, *(width for width, _ in self.pool), *(lot.widest for lot in self.lots)])
        self.seam_price = seam_worth_nm * max(material.widths_nm) * SCALE // (step * 1000)

    def _held(self, lots: Sequence[Lot]) -> dict[Lot, tuple[tuple[LayArrays, ...], ...]]:
        """Return for every lot how it could hold the rooms; no further than lots that do are too many to look at."""
        held: dict[Lot, tuple[tuple[LayArrays, ...], ...]] = {}
        for lot in lots:
            rooms = zip(self.kinds, self.areas, strict=True)
            held[lot] = tuple(served_by(kind, lot, areas) for kind, areas in rooms)
            if sum(any(served) for served in held.values()) > MOST_LOTS:
                break
        return held

    def bound_nm2(self, *, effort: int, seed: int, attained_nm2: int, stop: Stop) -> tuple[int, str] | None:
        """Return the bound on roll and seams, nm², and what made it; None where nothing is sure."""
        weighed = self.weighed(effort, stop)
        if weighed is None:
            return None
        best, totals = weighed
        if best < attained_nm2 and len(self.kinds) <= MOST_CHOOSING and not stop():
            kinds = self.choices(totals[0], attained_nm2)
            chosen, cut = self._chosen_nm2(kinds, [value for _, value in totals], effort, seed, attained_nm2, stop)
            if chosen > best:
                return min(chosen, attained_nm2), cut
        return best, SIDE_BY_SIDE

    def weighed(self, effort: int, stop: Stop) -> tuple[int, list[tuple[int, Whole]]] | None:
        """Return the bound by single values, nm², and these with their totals, the best first; None: nothing is sure.

        They hold for any number of seams.
        """
        rooms = [Room(lays=kind.lays, count=len(kind.room_ids)) for kind in self.kinds]
        values = self._values(rooms, effort, stop)
        if not values:
            return None
        best = 0
        totals: list[tuple[int, Whole]] = []
        for value in values[: self._affordable(effort, 3, least=2, most=6)]:
            if totals and stop():
                break
            result = counted(rooms, self.items, value, self.seam_price)
            if max(result.least, default=0) >= NONE:
                return None
            totals.append((result.total - self._most_in_hand(value), value))
            best = max(best, self._rounded_nm2(totals[-1][0], rooms))
        return best, sorted(totals, key=lambda pair: -pair[0])

    def _work(self) -> int:
        """Return what looking at all rooms once takes."""
        lays = (lay for kind in self.kinds for lay in kind.lays)
        return sum(lay.across * int(lay.limits[0]) * (len(lay.runs) + 1) for lay in lays) or 1

    def _affordable(self, effort: int, each: int, *, least: int, most: int) -> int:
        """Return how often something may be done that takes `each` looks at all rooms."""
        return max(least, min(most, WORK_OF_EFFORT * effort // (each * self._work())))

    def _most_in_hand(self, value: Whole) -> int:
        """Return the most that goods in hand can count under a value."""
        most = capacity(value)
        pooled = sum(int(most[width]) * length for width, length in self.pool)
        return pooled + sum(
            lot.holds(most) if any(served) else most_for_items(lot, self.items, value, most)
            for lot, served in zip(self.lots, self.served, strict=True)
        )

    def choices(self, best: tuple[int, Whole], attained_nm2: int) -> list[Choices]:
        """Return what the rooms may choose in a better plan than the one there is.

        A lay direction is no good if the best total with it instead of the room's least is above what is attained.
        """
        total, value = best
        slack = attained_nm2 * SCALE // (self.material.cutting_step_nm * 1000) + 1 - total
        found = []
        for number, kind in enumerate(self.kinds):
            least = [least_of_lay(lay, value, self.seam_price)[0] for lay in kind.lays]
            found.append(
                Choices(
                    count=len(kind.room_ids),
                    lays=kind.lays,
                    in_lots=tuple(served[number] for served in self.served),
                    worth=tuple(amount - min(least) <= slack for amount in least),
                    arrow=kind.arrow,
                )
            )
        return found

    def _values(self, rooms: Sequence[Room], effort: int, stop: Stop) -> list[Whole]:
        """Return values of widths, the best first: those that the program gives for a sample, and known families."""
        afford = WORK_OF_EFFORT * effort * len(rooms) // (LEAST_TURNS * self._work())
        kept = min(len(rooms), max(LEAST_SAMPLED, min(MOST_SAMPLED, afford)))
        places = [len(rooms) * i // kept for i in range(kept)]
        sample = [rooms[place] for place in places]
        share = max(1, sum(room.count for room in sample))
        pieces = [
            piece for lot, served in zip(self.lots, self.served, strict=True) if any(served) for piece in lot.pieces
        ]
        parts = [
            (width, length * share // max(1, sum(room.count for room in rooms)))
            for width, length in (*self.pool, *pieces)
        ]
        goods = Goods(made=self.made, in_hand=tuple(parts), widest=self.widest, seam_price=self.seam_price)
        work = sum(lay.across * int(lay.limits[0]) * (len(lay.runs) + 1) for room in sample for lay in room.lays)
        turns = max(LEAST_TURNS, min(MOST_TURNS, WORK_OF_EFFORT * effort // max(1, work)))
        found = best_values(sample, self.items, goods, turns=turns, stop=stop)
        return [value for _, value in found[:8]] + families(self.widest, self.made)[1:]

    def _rounded_nm2(self, total: int, rooms: Sequence[Room]) -> int:
        """Return the least of the goal for a total of roll and seams, value·µm, over the numbers of seams there can be.

        With one width made: so much roll as the seams leave, ordered as orders round.
        """
        if len(self.made) > 1:
            return max(0, total * self.material.cutting_step_nm * 1000 // SCALE)
        terms = self._terms()
        in_hand = sum(width * length * SCALE for width, length in self.pool)
        in_hand += sum(width * length * SCALE for lot in self.lots for width, length in lot.pieces)
        least = sum(min(areas) * room.count for areas, room in zip(self.areas, rooms, strict=True)) - in_hand
        best: int | None = None
        seams = 0
        while best is None or terms.seam_price * seams < best:
            roll = max(least, total - self.seam_price * seams)
            goal = terms.least_order(terms.counted(roll)) * terms.weights[0] + terms.seam_price * seams
            best = goal if best is None else min(best, goal)
            if roll <= least or self.seam_price == 0:
                break
            seams += 1
        return self._nm2(best or 0, terms)

    def _terms(self) -> Terms:
        goods = Goods(made=self.made, in_hand=self.pool, widest=self.widest, seam_price=self.seam_price)
        return terms_of(
            self.material,
            goods,
            seam_worth_nm=self.seam_worth_nm,
            most_seams=self.job.goal.most_seams,
            most_nm=MORE_THAN_ANY_NM,
        )

    def choosing(self, kinds: Sequence[Choices]) -> ChoosingModel:
        """Return the program that chooses the ways of all rooms, with no values yet."""
        goods = Goods(made=self.made, in_hand=self.pool, widest=self.widest, seam_price=self.seam_price)
        return ChoosingModel(kinds, self.items, goods, self.lots, self._terms())

    def _chosen_nm2(
        self,
        kinds: Sequence[Choices],
        values: Sequence[Whole],
        effort: int,
        seed: int,
        attained_nm2: int,
        stop: Stop,
    ) -> tuple[int, str]:
        """Return the bound with every room laid in one way, and with its pieces in sequence where that is more."""
        terms = self._terms()
        model = self.choosing(kinds)
        enough = -(-attained_nm2 // (terms.unit_nm * gcd(*self.material.widths_nm)))
        time = min(effort, 60) * 0.2
        found = model.bound(
            values,
            rounds=self._affordable(effort, 10, least=2 * min(effort, 4) if len(self.kinds) <= FEW else 1, most=12),
            turns=25,
            deterministic_time=time,
            seed=seed,
            enough=enough,
            stop=stop,
        )
        if found >= enough or stop():
            return self._nm2(found, terms), SIDE_BY_SIDE
        placed = bound_in_sequence(
            model,
            self.job,
            self.material,
            self.kinds,
            known=found,
            enough=enough,
            deterministic_time=2 * time,
            seed=seed,
            stop=stop,
        )
        if placed <= found:
            return self._nm2(found, terms), SIDE_BY_SIDE
        return self._nm2(placed, terms), IN_SEQUENCE if self.material.pattern is None else REPEAT_SEQUENCE

    def _nm2(self, found: int, terms: Terms) -> int:
        return found * terms.unit_nm * gcd(*self.material.widths_nm)


def applies(job: Job, material: Material) -> bool:
    """Tell whether widths can be weighed: goods that can be ordered, cut in steps that are not too fine for them."""
    widest = max([*material.widths_nm, *(piece.width_nm for piece in job.stock if piece.material_id == material.id)])
    return material.orders_allowed and widest // material.cutting_step_nm <= FINEST


def bound_by_width(
    job: Job, material: Material, *, seam_worth_nm: int, effort: int, seed: int, attained_nm2: int, stop: Stop
) -> tuple[int, str] | None:
    """Return the bound by width on roll and seams, nm², and what made it; None where it does not apply.

    Parameters
    ----------
    seam_worth_nm
        The roll of the widest goods that a seam counts for; 0: none.
    attained_nm2
        What the plan attains: no more is asked for.
    """
    if effort < 1 or not applies(job, material):
        return None
    bounds = WidthBounds(job, material, seam_worth_nm=seam_worth_nm)
    return bounds.bound_nm2(effort=effort, seed=seed, attained_nm2=attained_nm2, stop=stop)
