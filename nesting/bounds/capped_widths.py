"""The bound by width on the roll, under one cap on seams after another: values and program are made once."""

from __future__ import annotations

from dataclasses import replace
from math import gcd

from nesting.bounds.by_width import IN_SEQUENCE, MOST_CHOOSING, REPEAT_SEQUENCE, SIDE_BY_SIDE, WidthBounds
from nesting.bounds.sequence import bound_in_sequence
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.progress import Stop

ROUNDS, TURNS = 3, 25
"""Values made for the choices under one cap, and turns for each; they stay for the caps that follow."""

MANY_SEAMS = 1_000_000


class WidthsByCap:
    """Bounds by width of plans that order no more roll than `most_nm2`."""

    def __init__(self, job: Job, material: Material, *, most_nm2: int, effort: int, seed: int, stop: Stop) -> None:
        self._job, self._material = job, material
        self._effort, self._seed, self._most_nm2 = effort, seed, most_nm2
        self._widths = WidthBounds(job, material, seam_worth_nm=0)
        weighed = self._widths.weighed(effort, stop)
        self._uncapped_nm2, totals = (0, []) if weighed is None else weighed
        self._values = [value for _, value in totals]
        self._waiting = list(self._values)  # values that have not joined the program yet
        # Ways that no plan of at most so much roll takes are left out for every cap.
        self._kinds = self._widths.choices(totals[0], most_nm2) if totals else []
        self._unit_nm2 = gcd(*material.widths_nm)
        self._model = None
        if totals and len(self._widths.kinds) <= MOST_CHOOSING:
            self._model = self._widths.choosing(self._kinds)
            self._unit_nm2 *= self._model.terms.unit_nm
            self._cap = self._model.model.new_int_var(0, MANY_SEAMS, "cap")
            self._model.model.add(self._model.seams <= self._cap)

    def bound_nm2(self, most_seams: int | None, attained_nm2: int, stop: Stop, *, placed: bool) -> tuple[int, str]:
        """Return what no plan with at most so many seams can beat, at most `attained_nm2`, and what it comes from.

        `placed`: the pieces are looked at in their sequence along the roll as well.
        """
        best = self._uncapped_nm2, SIDE_BY_SIDE
        if self._model is None or best[0] >= attained_nm2 or stop():
            return best
        enough = -(-attained_nm2 // self._unit_nm2)
        self._cap.proto.domain[1] = MANY_SEAMS if most_seams is None else most_seams
        time = min(self._effort, 60) * 0.2
        values, self._waiting = self._waiting, []
        found = self._model.bound(
            values, rounds=ROUNDS, turns=TURNS, deterministic_time=time, seed=self._seed, enough=enough, stop=stop
        )
        # Without the ways left out nothing is known of plans that order more than `most_nm2`.
        best = max(best, (min(found * self._unit_nm2, self._most_nm2), SIDE_BY_SIDE), key=lambda pair: pair[0])
        if placed and best[0] < attained_nm2 and not stop():
            placed_units = self._in_sequence(most_seams, found, enough, 2 * time, stop)
            in_sequence = min(placed_units * self._unit_nm2, self._most_nm2)
            if in_sequence > best[0]:
                best = in_sequence, IN_SEQUENCE if self._material.pattern is None else REPEAT_SEQUENCE
        return best

    def _in_sequence(self, most_seams: int | None, known: int, enough: int, time: float, stop: Stop) -> int:
        """Return the bound with the pieces in sequence, in a program of its own: it is of no other use afterwards."""
        model = self._widths.choosing(self._kinds)
        if most_seams is not None:
            model.model.add(model.seams <= most_seams)
        for value in self._values:
            model.add(value)
        return bound_in_sequence(
            model,
            replace(self._job, goal=replace(self._job.goal, most_seams=most_seams)),
            self._material,
            self._widths.kinds,
            known=known,
            enough=enough,
            deterministic_time=time,
            seed=self._seed,
            stop=stop,
        )
