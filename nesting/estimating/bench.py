"""One material on the bench: its layouts and its instance made once, then planned under one goal after another."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.domain.front import seams_of
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Bound, ByHand, MaterialPlan, Plan
from nesting.domain.rules import Goal, GoalKind
from nesting.model.building import Built, InstanceBuilder, weights_of
from nesting.model.extracting import material_plan, what_it_orders
from nesting.model.instance import Solution
from nesting.model.notices import notices_of
from nesting.model.ordering import in_fixed_order
from nesting.model.valuing import faults_of
from nesting.pipeline import Settings, engine_result, proved, versions, with_layouts_as_listed
from nesting.seams.candidates import Candidates, candidates_of
from nesting.search.by_hand import by_hand
from nesting.search.earlier_plan import taken_over


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A solution with the plan that it is, without bounds. `considered`: the engine's bound when it was found."""

    solution: Solution
    part: MaterialPlan
    considered: int

    @property
    def seams(self) -> int:
        """Seams, cross seams, relief cuts and joins."""
        return seams_of(self.part)

    @property
    def roll_nm2(self) -> int:
        """Σ ordered length × made width."""
        return self.part.measures.roll_nm2

    @property
    def rank(self) -> tuple[int, int, int]:
        """The less the better: roll, then seams, then the length of seam."""
        return self.roll_nm2, self.seams, self.part.measures.seam_length_nm


class Bench:
    """What is planned from: a job of one material, its candidate layouts, and its instance.

    `refusals` of the candidates say why nothing can be planned; there is no instance then.
    """

    def __init__(self, job: Job, material: Material, candidates: Candidates, *, one_lot: bool = True) -> None:
        self.job, self.material, self._candidates = job, material, candidates
        # Measures are those of one goal, whatever is looked for, so that they can be compared.
        self._plain = replace(in_fixed_order(job), goal=Goal(kind=GoalKind.LEAST_ROLL))
        self._built: Built = InstanceBuilder(self._plain, material).build(
            candidates.laid, candidates.anchors, candidates.loose, one_lot=one_lot
        )

    def of_several_lots(self) -> Bench:
        """Return the bench on which orders may be of several lots, where a lot's supply is too short."""
        return Bench(self.job, self.material, self._candidates, one_lot=False)

    def found(self, goal: Goal, settings: Settings, start: Found | None = None) -> Found | None:
        """Return the best plan for a goal that the effort finds, beginning with one that is lawful under it."""
        built = self._under(goal)
        result = engine_result(built, self.material, settings, None if start is None else start.solution)
        if result.solution is None:
            return None
        if start is not None and result.solution == start.solution:
            return start
        considered = result.bound_considered if goal.kind is GoalKind.LEAST_ROLL else 0
        return self._of(built, result.solution, considered, result.stop)

    def found_by_hand(self) -> tuple[Found, ByHand] | None:
        """Return the hand method's plan under the job's own goal, and what it orders; None where it finds none."""
        built = self._under(self.job.goal)
        solution = by_hand(built.instance)
        if solution is None or faults_of(built.instance, solution):
            return None
        return self._of(built, solution, 0, "by hand"), what_it_orders(self._plain, built, solution)

    def found_earlier(self, part: MaterialPlan) -> Found | None:
        """Return a plan of this job, made before, as if it had been found here; None where it does not fit as a whole.

        Its layouts must be among the candidates: see `seams.earlier.with_earlier`.
        """
        built = self._under(self.job.goal)
        solution = taken_over(built, part).solution(built.instance)
        if solution is None or faults_of(built.instance, solution):
            return None
        return self._of(built, solution, 0, part.stop)

    def plan(self, found: Found, goal: Goal, settings: Settings, bounds: tuple[Bound, ...], considered: int) -> Plan:
        """Return the whole plan of what was found, under a goal that it obeys, with its bounds, checked.

        Raises
        ------
        UnsoundPlanError
            The checker refused it: a bug of the planner.
        """
        job = replace(self.job, goal=goal)
        part = replace(found.part, bounds=bounds, bound_considered=considered)
        return proved(
            Plan(
                job=job,
                materials=(with_layouts_as_listed(job, part),),
                seed=settings.seed,
                effort=settings.effort,
                versions=versions(),
            )
        )

    def _under(self, goal: Goal) -> Built:
        """Return the instance under a goal: nothing else in it depends on the goal."""
        instance = self._built.instance
        rack = instance.weights.rack is not None
        weights = weights_of(goal, self.material, instance.unit_nm, rack=rack)
        return replace(self._built, instance=replace(instance, weights=weights))

    def _of(self, built: Built, solution: Solution, considered: int, stop: str) -> Found:
        part = material_plan(self._plain, built, solution, stop=stop)
        part = replace(part, notices=notices_of(self._plain, part))
        return Found(solution=solution, part=part, considered=considered)


def candidates_for(job: Job, material: Material, settings: Settings) -> Candidates:
    """Return the candidate layouts of a job of one material."""
    return candidates_of(in_fixed_order(job), material, stop=settings.stop)
