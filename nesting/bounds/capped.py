"""Bounds on the roll under one cap on seams after another: what serves one cap is made once and serves all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from nesting.bounds.levels import MaterialBounds
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.rules import Goal, GoalKind
from nesting.progress import Stop, never_stop

if TYPE_CHECKING:
    from nesting.bounds.capped_widths import WidthsByCap

FEW = 6
"""Rooms and items up to which stacking and sequence are looked at for every cap: with more they seldom gain."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """A lower bound on the roll, nm², of all plans with at most `most_seams` (None: any number)."""

    most_seams: int | None
    value_nm2: int
    cut: str

    def holds_at(self, most_seams: int | None) -> bool:
        """Tell whether it holds under another cap: what many seams cannot beat, fewer cannot either."""
        if self.most_seams is None:
            return True
        return most_seams is not None and most_seams <= self.most_seams


class CappedBounds:
    """Lower bounds of one material on the roll of plans with at most so many seams.

    Every bound is remembered; it holds for every smaller cap as well, never for a larger one.

    Parameters
    ----------
    most_nm2
        The roll of the plan with the fewest seams: no plan that orders more is of interest.

    Attributes
    ----------
    fewest_seams
        No plan has fewer.
    is_small
        Bounds are quickly sought, so that they may be for caps that no row has as well.
    """

    def __init__(self, job: Job, material: Material, *, most_nm2: int, effort: int, seed: int) -> None:
        self._job = replace(job, goal=Goal(kind=GoalKind.LEAST_ROLL))
        self._material, self._most_nm2, self._effort, self._seed = material, most_nm2, effort, seed
        found = MaterialBounds(self._job, material)
        self._area = found.area()
        self.fewest_seams = found.fewest_seams()
        self.is_small = len(found.rooms) + len(found.items) <= FEW
        self._proved = [Proved(most_seams=None, value_nm2=self._area.value, cut="area")]
        self._widths: WidthsByCap | None = None
        self._sought: dict[int | None, int] = {}  # the least roll for which a cap was asked about

    def known(self, most_seams: int | None) -> Proved:
        """Return the best bound that is known to hold for plans with at most so many seams."""
        return max((one for one in self._proved if one.holds_at(most_seams)), key=lambda one: one.value_nm2)

    def sought(self, most_seams: int | None, attained_nm2: int, stop: Stop = never_stop) -> Proved:
        """Return the best bound for plans with at most so many seams; better ones are sought while one may gain.

        `attained_nm2` is the roll of a plan with no more seams: nothing beyond it is asked for.
        """
        if self._sought.get(most_seams, -1) >= attained_nm2:
            return self.known(most_seams)
        for bound in (self._stacked, self._by_width) if self.is_small else (self._by_width,):
            if self.known(most_seams).value_nm2 >= attained_nm2 or self._effort < 1 or stop():
                break
            found = bound(most_seams, attained_nm2, stop)
            if found is not None:
                value = min(found[0], attained_nm2)
                self._proved.append(Proved(most_seams=most_seams, value_nm2=value, cut=found[1]))
        self._sought[most_seams] = attained_nm2
        return self.known(most_seams)

    def _stacked(self, most_seams: int | None, attained_nm2: int, stop: Stop) -> tuple[int, str] | None:
        """Bound by what must lie one after another because it cannot lie side by side."""
        job = replace(self._job, goal=replace(self._job.goal, most_seams=most_seams))
        value = MaterialBounds(job, self._material).searched(effort=self._effort, seed=self._seed, stop=stop)
        return None if value is None else (value, "stacking")

    def _by_width(self, most_seams: int | None, attained_nm2: int, stop: Stop) -> tuple[int, str] | None:
        """Bound by the widths side by side."""
        from nesting.bounds.by_width import applies  # compiles: not before there is a plan
        from nesting.bounds.capped_widths import WidthsByCap

        if not applies(self._job, self._material):
            return None
        if self._widths is None:
            self._widths = WidthsByCap(
                self._job,
                self._material,
                most_nm2=self._most_nm2,
                effort=self._effort,
                seed=self._seed,
                stop=stop,
            )
        return self._widths.bound_nm2(most_seams, attained_nm2, stop, placed=self.is_small)
