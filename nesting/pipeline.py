"""Job in, checked outcome out. Touches no disk, prints nothing, reads no clock."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from typing import TypeVar

from nesting import __version__
from nesting.bounds.levels import level_bounds
from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Bound, Consent, MaterialPlan, Notice, Outcome, Plan, Refusal
from nesting.errors import UnsoundPlanError
from nesting.model.building import Built, InstanceBuilder
from nesting.model.extracting import material_plan, what_it_orders
from nesting.model.instance import Solution
from nesting.model.notices import notices_of
from nesting.model.ordering import in_fixed_order
from nesting.model.valuing import value_of
from nesting.progress import Portion, Progress, Spent, Step, Stop, never_stop, no_limit, no_progress
from nesting.rule_costs import rule_cost_notices
from nesting.seams.candidates import Candidates, candidates_of
from nesting.seams.earlier import with_earlier
from nesting.seams.relaxing import relaxed_candidates
from nesting.seams.stock_refusals import stock_refusals
from nesting.search.earlier import Taken, is_kept
from nesting.search.earlier_plan import Since, goods_in_hand, since_earlier, taken_over
from nesting.search.engine import EngineResult, solve
from nesting.search.side_by_side import side_by_side

_Owned = TypeVar("_Owned", Refusal, Consent)

DEFAULT_EFFORT = 10
SECOND_LOOKS = (4, 12)  # efforts at which a job without a plan so far is looked at again before it is refused
SEARCH_SHARE = 0.6  # of a time limit; the rest is for the bounds and for what the rules cost
COMPUTED_WITH = ("ortools",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How hard to look: same job, seed, effort and start give the same plan, whatever the executor.

    `stop` is asked, from any thread, whether to hand over the best plan so far. `progress` is told, from any thread,
    how it goes. `executor`: where the errands of the search are run, any `concurrent.futures.Executor` (None: here).
    `start`: an earlier plan of this job, or of one like it. Where it is complete and still lawful it is kept, unless
    the new one is better at the goal's first level by `least_gain` order steps (0: better at any level by anything);
    with `keep_if_no_order` it is also kept, and nothing else looked for, where it orders nothing.
    `rule_costs`: whether to look, after the plan is there, at what its rules cost, and with `lay_costs` at what fixed
    lay directions do (who asks what the pins cost need not hear it twice).
    """

    seed: int = 0
    effort: int = DEFAULT_EFFORT
    stop: Stop = never_stop
    spent: Spent = no_limit
    progress: Progress = no_progress
    executor: Executor | None = None
    start: Plan | None = None
    least_gain: int = 1
    keep_if_no_order: bool = False
    rule_costs: bool = True
    lay_costs: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    """One material solved, with what it needs consent for."""

    material: Material
    built: Built
    result: EngineResult
    solution: Solution
    candidates: Candidates
    consents: tuple[Consent, ...]
    since: Since | None = None  # what became of the earlier plan


def plan_job(job: Job, settings: Settings | None = None) -> Outcome:
    """Return a checked plan for the job, or the reasons why there is none with the nearest plan.

    Raises
    ------
    UnsoundPlanError
        The checker refused the plan: a bug of the planner.
    """
    settings = settings or Settings()
    ordered = in_fixed_order(job)
    materials = materials_in_use(job)
    found = side_by_side(
        lambda material, stop: _solve_material(ordered, material, replace(settings, stop=stop)),
        materials,
        settings.executor,
        Portion(stop=settings.stop, spent=settings.spent, end=SEARCH_SHARE),
    )
    refusals = [refusal for _, refused in found for refusal in as_listed(job, refused)]
    all_solved = [solved for solved, _ in found if solved is not None]
    if len(all_solved) < len(found):
        return Outcome(plan=None, refusals=tuple(refusals))
    consents = [consent for solved in all_solved for consent in as_listed(job, solved.consents)]
    drafts: list[tuple[_Solved, MaterialPlan]] = []
    for solved in all_solved:
        drafts.append((solved, _material_plan(ordered, solved, [plan for _, plan in drafts], len(materials) > 1)))
    plans = side_by_side(
        lambda draft, stop: _bounded(ordered, *draft, replace(settings, stop=stop)),
        drafts,
        settings.executor,
        Portion(stop=settings.stop, spent=settings.spent, end=1.0),
    )
    plan = Plan(
        job=job,
        materials=tuple(with_layouts_as_listed(job, plan) for plan in plans),
        seed=settings.seed,
        effort=settings.effort,
        versions=versions(),
        consents=tuple(consents),
    )
    plan = _without_orders(plan) if consents else plan
    return Outcome(plan=proved(plan), refusals=tuple(refusals))


def proved(plan: Plan) -> Plan:
    """Return the plan if the checker finds nothing, else raise UnsoundPlanError with what it found."""
    violations = check_plan(plan)
    if violations:
        raise UnsoundPlanError("\n".join(f"{item.rule} {item.where}: {item.text}" for item in violations))
    return plan


def as_listed(job: Job, found: Sequence[_Owned]) -> list[_Owned]:
    """Return what was found in the order of its owners in the job."""
    places = {owner.id: place for place, owner in enumerate(job.owners)}
    return sorted(found, key=lambda item: places.get(item.owner, -1))


def with_layouts_as_listed(job: Job, plan: MaterialPlan) -> MaterialPlan:
    """Return the plan with its layouts in the order of the rooms in the job."""
    places = {room.id: place for place, room in enumerate(job.rooms)}
    return replace(plan, layouts=tuple(sorted(plan.layouts, key=lambda layout: places[layout.room_id])))


def materials_in_use(job: Job) -> list[Material]:
    """Return the materials that something of the job is cut from, in the order of the job."""
    used = {owner.material_id for owner in job.owners}
    return [material for material in job.materials if material.id in used]


def _solve_material(job: Job, material: Material, settings: Settings) -> tuple[_Solved | None, tuple[Refusal, ...]]:
    """Return the material solved by the rules if that can be, else the nearest to it with the refusals."""
    settings.progress(Step(material_id=material.id, what="layouts"))
    at_once = settings.effort == 0  # no search will follow: few layouts a room are as good
    candidates = candidates_of(job, material, stop=_at_once if at_once else settings.stop)
    refusals = candidates.refusals
    if not refusals:
        solved = _searched(job, material, candidates, (), settings)
        if solved is None and at_once:
            candidates = candidates_of(job, material)
            solved = _searched(job, material, candidates, (), settings)
        if solved is not None:
            return solved, ()
        refusals = stock_refusals(job, material, candidates)
    if _has_done(job, material):
        return None, refusals  # no nearest plan: consent cannot change what is cut
    for step in relaxed_candidates(job, material, refusals):
        solved = _searched(step.job, step.material, step.candidates, step.consents, settings)
        if solved is not None:
            return solved, refusals
    return None, refusals


def _has_done(job: Job, material: Material) -> bool:
    """Tell whether anything of a material is cut."""
    mine = {piece.id for piece in job.stock if piece.material_id == material.id}
    return any(item.source_id in mine for item in job.done)


def _at_once() -> bool:
    """Stop at the first occasion."""
    return True


def _searched(
    job: Job, material: Material, candidates: Candidates, consents: tuple[Consent, ...], settings: Settings
) -> _Solved | None:
    """Return the best that the engine finds: one lot ordered, or several where a lot's supply is too short."""
    if candidates.refusals:
        return None
    earlier = None if consents else _earlier(settings, material)
    if earlier is not None:
        candidates = with_earlier(candidates, job, material, earlier)
    for one_lot in (True, False) if material.sale.lot_limit_nm is not None else (True,):
        built = InstanceBuilder(job, material).build(
            candidates.laid, candidates.anchors, candidates.loose, one_lot=one_lot, keep=goods_in_hand(earlier)
        )
        taken = None if earlier is None else taken_over(built, earlier)
        before = None if taken is None else taken.solution(built.instance)
        free = settings.keep_if_no_order and before is not None and not any(value_of(built.instance, before).ordered)
        result = engine_result(built, material, replace(settings, effort=0) if free else settings, before or taken)
        if result.solution is not None:
            solution = result.solution
            kept = free or (before is not None and is_kept(built.instance, before, solution, settings.least_gain))
            return _Solved(
                material=material,
                built=built,
                result=result,
                solution=before if kept and before is not None else solution,
                candidates=candidates,
                consents=consents,
                since=None if taken is None else since_earlier(built, taken, before, kept),
            )
    return None


def _earlier(settings: Settings, material: Material) -> MaterialPlan | None:
    """Return what the earlier plan has of a material."""
    plans = settings.start.materials if settings.start is not None else ()
    return next((plan for plan in plans if plan.material_id == material.id), None)


def engine_result(built: Built, material: Material, settings: Settings, start: Solution | Taken | None) -> EngineResult:
    """Return what the engine finds; where it found no place but may not have looked long enough, it looks again.

    It does so with all the time that is left: without a plan there is nothing that a bound could be for.
    """
    efforts = (settings.effort, *(effort for effort in SECOND_LOOKS if effort > settings.effort))
    stop = settings.stop
    for effort in efforts:
        result = solve(
            built.instance,
            seed=settings.seed,
            effort=effort,
            stop=stop,
            progress=lambda step: settings.progress(replace(step, material_id=material.id)),
            start=start,
            executor=settings.executor,
        )
        stop = stop.stop if isinstance(stop, Portion) else stop
        if result.solution is not None or result.impossible or stop():
            break
    return result


def _material_plan(job: Job, solved: _Solved, before: Sequence[MaterialPlan], several: bool) -> MaterialPlan:
    """Return the plan of one material, its cuts numbered on from those before, with no bounds yet."""
    plan = material_plan(
        job,
        solved.built,
        solved.solution,
        first_number=1 + sum(len(other.cuts) for other in before),
        source_prefix=f"{solved.material.id}-" if several else "",
        stop=solved.result.stop,
        notices=(),
    )
    return replace(plan, notices=notices_of(job, plan))


def _bounded(job: Job, solved: _Solved, plan: MaterialPlan, settings: Settings) -> MaterialPlan:
    """Return the plan with its bounds, and with what its rules cost; a plan that was stopped says so."""
    if solved.since is not None:
        plan = replace(plan, notices=(*plan.notices, solved.since.notice(job, plan, settings.least_gain)))
    if solved.consents:
        return plan  # no bound holds for a plan that is not by the rules
    bounds, considered = _level_bounds(job, solved.material, plan, solved.result.bound_considered, settings)
    costs: tuple[Notice, ...] = ()
    if settings.effort > 0 and settings.rule_costs:
        costs = rule_cost_notices(
            job, solved.material, plan, seed=settings.seed, stop=settings.stop, lay=settings.lay_costs
        )
    stop = "stopped" if settings.stop() and not bounds[0].proved else plan.stop
    hand = solved.result.by_hand
    return replace(
        plan,
        bounds=bounds,
        bound_considered=considered,
        notices=(*plan.notices, *costs),
        stop=stop,
        by_hand=None if hand is None else what_it_orders(job, solved.built, hand),
    )


def _level_bounds(
    job: Job, material: Material, plan: MaterialPlan, considered: int, settings: Settings
) -> tuple[tuple[Bound, ...], int]:
    """Return the bounds of a plan's levels and what holds for the layouts looked at, as far as there is time."""
    return level_bounds(
        job,
        material,
        plan,
        considered=considered,
        effort=0 if settings.stop() else settings.effort,  # asked to stop: only what is known at once
        seed=settings.seed,
        stop=settings.stop,
    )


def with_bounds(plan: Plan, settings: Settings) -> Plan:
    """Return a plan, made for a job like its own, with the bounds of its own; no search stands behind it."""
    job = in_fixed_order(plan.job)
    materials = {material.id: material for material in job.materials}
    parts = []
    for part in plan.materials:
        bounds, considered = _level_bounds(job, materials[part.material_id], part, 0, settings)
        stop = "proved" if bounds[0].proved else "effort spent"
        parts.append(replace(part, bounds=bounds, bound_considered=considered, stop=stop, by_hand=None))
    return replace(plan, materials=tuple(parts))


def _without_orders(plan: Plan) -> Plan:
    """Return the plan with nothing to order: it is not by the rules."""
    return replace(plan, materials=tuple(replace(item, order=()) for item in plan.materials))


def versions() -> tuple[tuple[str, str], ...]:
    """Return the versions of the program and of what it computes with, for the plan."""

    def of(name: str) -> str:
        try:
            return version(name)
        except PackageNotFoundError:
            return "unknown"

    return (("rollwright", __version__), *((name, of(name)) for name in COMPUTED_WITH))
