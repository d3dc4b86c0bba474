"""The trade-off of seams against roll: for each number of seams the least roll with at most so many.

The two ends come first: the fewest seams, and the least roll with any number. Between them the widest step is halved
again and again. A plan with fewer seams is lawful where more are allowed, so every search begins with the best one
known; what no plan with so many seams can beat, none with fewer can beat either.
"""

from __future__ import annotations

from dataclasses import replace

from nesting.bounds.capped import CappedBounds, Proved
from nesting.bounds.levels import level_bounds
from nesting.domain.front import AtMost, Front, FrontRow, TradeOff
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Bound, ByHand, MaterialPlan, Refusal
from nesting.domain.rules import Goal, GoalKind
from nesting.estimating.bench import Bench, Found, candidates_for
from nesting.estimating.caps import Caps
from nesting.estimating.parting import part_of
from nesting.pipeline import SEARCH_SHARE, Settings, as_listed, materials_in_use
from nesting.progress import Portion, Stop
from nesting.seams.earlier import with_earlier
from nesting.seams.stock_refusals import stock_refusals
from nesting.search.side_by_side import side_by_side

BETWEEN = 3
"""Rounds spent between the two ends, together, for every round of effort that each end may have."""

MOST_AT_ONCE = 8
"""Numbers of seams looked at between the ends at effort 0, where a look is a first plan."""

BOUND_EFFORT = 3
"""A unit of effort for the bound at one number of seams for so many of the run: there are many to prove."""

NEAR = 50
"""A bound is sought before a search where what is known is within one part in so many of what is attained."""


def trade_off(job: Job, settings: Settings | None = None) -> TradeOff:
    """Return the front of every material of the job; every row is a checked plan with its bound.

    A plan to begin with (`Settings.start`) of this very job is one of the plans that are weighed against each other.

    Raises
    ------
    UnsoundPlanError
        The checker refused a plan: a bug of the planner.
    """
    settings = settings or Settings()
    found = side_by_side(
        lambda material, stop: _front(part_of(job, material.id), material, settings, stop),
        materials_in_use(job),
        settings.executor,
        Portion(stop=settings.stop, spent=settings.spent, end=1.0),
    )
    return TradeOff(
        job=job,
        fronts=tuple(front for front, _ in found if front is not None),
        seed=settings.seed,
        effort=settings.effort,
        refusals=tuple(refusal for _, refused in found for refusal in as_listed(job, refused)),
    )


def _front(job: Job, material: Material, settings: Settings, stop: Stop) -> tuple[Front | None, tuple[Refusal, ...]]:
    """Return the front of a job of one material, or the reasons why there is none."""
    whole = stop if isinstance(stop, Portion) else Portion(stop=stop, spent=settings.spent, end=1.0)
    searching = replace(settings, stop=_share(whole, SEARCH_SHARE))
    candidates = candidates_for(job, material, searching)
    if candidates.refusals:
        return None, candidates.refusals
    start = settings.start.materials if settings.start is not None else ()
    earlier = next((part for part in start if part.material_id == material.id), None)
    if earlier is not None:
        candidates = with_earlier(candidates, job, material, earlier)
    front = _Making(Bench(job, material, candidates), replace(searching, start=None))
    if not front.with_fewest():
        return None, stock_refusals(job, material, candidates)
    if earlier is not None:
        front.with_earlier(earlier)
    front.with_least()
    front.between()
    return front.finished(replace(settings, stop=whole)), ()


def _share(stop: Portion, share: float) -> Portion:
    """Return the portion that ends when a share of the time left has passed."""
    now = stop.spent()
    return replace(stop, end=now + max(0.0, stop.end - now) * share)


class _Making:
    """A front in the making."""

    def __init__(self, bench: Bench, settings: Settings) -> None:
        self._bench, self._settings = bench, settings
        self._material = bench.material
        self._most = bench.job.goal.most_seams  # the user's own cap
        self._caps = Caps()
        self._hand: ByHand | None = None
        self._stopped = False

    def with_fewest(self) -> bool:
        """Look for the fewest seams, and for the least roll with these; tell whether there is a plan at all."""
        goal = self._goal(self._most, GoalKind.FEWEST_SEAMS)
        settings = self._looking("fewest seams", self._settings.effort, share=0.25)
        found = self._bench.found(goal, settings)
        if found is None and self._material.sale.lot_limit_nm is not None:
            self._bench = self._bench.of_several_lots()
            found = self._bench.found(goal, settings)
        if found is None:
            return False
        self._caps.pool.append(found)
        by_hand = self._bench.found_by_hand()
        if by_hand is not None:
            self._caps.pool.append(by_hand[0])
            self._hand = by_hand[1]
        job, effort = self._bench.job, self._settings.effort
        self._bounds = CappedBounds(
            job,
            self._material,
            most_nm2=self._caps.front()[0].roll_nm2,
            effort=-(-effort // BOUND_EFFORT),
            seed=self._settings.seed,
        )
        self._note(found.seams, settings)  # the roll was its second level
        return True

    def with_earlier(self, part: MaterialPlan) -> None:
        """Take a plan that was made before into those that are weighed against each other, if it still fits."""
        found = self._bench.found_earlier(part)
        if found is not None and found not in self._caps.pool:
            self._caps.pool.append(found)

    def with_least(self) -> None:
        """Look for the least roll with any number of seams that the job allows."""
        self._search(self._most, self._settings.effort, share=0.4)

    def between(self) -> None:
        """Look at the numbers of seams between the ends, as many as the effort allows."""
        effort = self._settings.effort
        left = BETWEEN * effort
        each = max(1, min(effort, left // max(1, len(self._caps.open()))))
        if effort == 0:
            left, each = MOST_AT_ONCE, 0
        while left > 0 and (cap := self._caps.next()) is not None:
            if self._settings.stop():
                self._stopped = True
                return
            if self._is_settled(cap):
                continue
            self._search(cap, each)
            left -= max(1, each)

    def finished(self, settings: Settings) -> Front:
        """Return the front: its rows with their bounds, from the most seams to the fewest, and what lies between."""
        rows = self._caps.front()
        least = self._bounds.sought(self._most, rows[-1].roll_nm2, settings.stop)
        following = rows[-1].seams + 1
        for row in reversed(rows):
            proved = self._bounds.sought(row.seams, row.roll_nm2, settings.stop)
            if proved.value_nm2 >= row.roll_nm2 or self._bounds.is_small:
                self._settle(following - 1, settings.stop)
            following = row.seams
        between = range(rows[0].seams, rows[-1].seams + 1)
        return Front(
            material_id=self._material.id,
            rows=tuple(self._row(row, settings) for row in rows),
            known=tuple(self._at_most(seams) for seams in between),
            fewest_seams=self._bounds.fewest_seams,
            least_roll=_bound(least, rows[-1].roll_nm2),
            by_hand=self._hand,
            stopped=self._stopped or settings.stop(),
        )

    def _at_most(self, seams: int) -> AtMost:
        return AtMost(seams=seams, known=self._caps.known(seams), bound_nm2=self._bounds.known(seams).value_nm2)

    def _goal(self, most_seams: int | None, kind: GoalKind = GoalKind.LEAST_ROLL) -> Goal:
        return replace(self._bench.job.goal, kind=kind, most_seams=most_seams)

    def _looking(self, what: str, effort: int, share: float = 1.0) -> Settings:
        """Return the settings of one search, which may take a share of the time that is left for searching."""
        settings = self._settings
        stop = settings.stop
        return replace(
            settings,
            effort=effort,
            stop=_share(stop, share) if isinstance(stop, Portion) else stop,
            progress=lambda step: settings.progress(replace(step, what=f"{what}, {step.what}")),
        )

    def _search(self, cap: int | None, effort: int, share: float = 1.0) -> None:
        """Look for the least roll with at most so many seams, and note that it was looked at."""
        what = "any seams" if cap is None else f"at most {cap} seam{'s' if cap != 1 else ''}"
        settings = self._looking(what, effort, share)
        found = self._bench.found(self._goal(cap), settings, self._caps.best(cap))
        if found is not None and found not in self._caps.pool:
            self._caps.pool.append(found)
        self._note(cap, settings)

    def _note(self, cap: int | None, settings: Settings) -> None:
        """Note that a search is over: only one that was not cut short has looked at its cap."""
        if settings.stop():
            self._stopped = True
        elif cap is not None:
            self._caps.searched.add(cap)

    def _is_settled(self, cap: int) -> bool:
        """Tell whether the best plan known with at most so many seams is proved to be the least; note it."""
        best = self._caps.best(cap)
        if best is None:
            return False
        missing = best.roll_nm2 - self._bounds.known(cap).value_nm2
        if 0 < missing * NEAR <= best.roll_nm2:
            self._bounds.sought(cap, best.roll_nm2, self._settings.stop)
        return self._settle(cap)

    def _settle(self, cap: int, stop: Stop | None = None) -> bool:
        """Note whether what is known at a cap is proved; with `stop` the proof is sought first."""
        best = self._caps.best(cap)
        if best is None:
            return False
        proved = self._bounds.known(cap) if stop is None else self._bounds.sought(cap, best.roll_nm2, stop)
        if proved.value_nm2 < best.roll_nm2:
            return False
        self._caps.settled.add(cap)
        return True

    def _row(self, found: Found, settings: Settings) -> FrontRow:
        """Return a row: the plan under the cap that is its own number of seams, with what is proved of that."""
        goal = self._goal(found.seams)
        bounds, considered = level_bounds(
            replace(self._bench.job, goal=goal),
            self._material,
            found.part,
            considered=found.considered,
            effort=0,
            seed=settings.seed,
        )
        proved = self._bounds.known(found.seams)
        if proved.value_nm2 > bounds[0].value:
            bounds = (_bound(proved, found.roll_nm2), *bounds[1:])
        hand = self._hand if self._hand is not None and self._hand.seams <= found.seams else None
        why = found.part.stop if found.part.stop.startswith("stopped") else "effort spent"
        part = replace(found.part, by_hand=hand, stop="proved" if bounds[0].proved else why)
        found = replace(found, part=part)
        return FrontRow(plan=self._bench.plan(found, goal, settings, bounds, max(considered, bounds[0].value)))


def _bound(proved: Proved, attained_nm2: int) -> Bound:
    """Return a proved bound as a plan carries it; one that no certificate recomputes says so."""
    return Bound(
        level="roll",
        value=proved.value_nm2,  # above what is attained the checker would refuse it
        attained=attained_nm2,
        by_search=True,
        cut=proved.cut,
    )
