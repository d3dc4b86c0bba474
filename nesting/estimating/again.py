"""Planning again: a job that has begun, with the least new order, and nothing cut ever moved.

First only what cannot stay as it was planned is planned anew, all else being held in its place. If that orders nothing,
it is the plan. Else everything that is not cut is open, and the plan found so is taken if it is better at the goal's
first level by an order step or more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.plan import MaterialPlan, Notice, Outcome, Plan, Refusal, SourceKind
from nesting.domain.state import State
from nesting.estimating.holding import held_job
from nesting.estimating.job_now import JobNow, job_now
from nesting.estimating.meeting import see_that_patterns_meet
from nesting.estimating.on_hand import Lying, lying_on
from nesting.model.extracting import rack_nm2
from nesting.pipeline import Settings, plan_job, proved, with_bounds
from nesting.progress import Portion
from nesting.search.earlier_plan import without_word_of_it

REPAIR_EFFORT = 3
"""Rounds for what cannot stay as it was: mostly a few pieces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """A job planned again. `before`: the plan that was; `remade`: ids of its cuts that were made and are made anew."""

    before: Plan
    plan: Plan | None
    remade: frozenset[str]
    refusals: tuple[Refusal, ...] = ()
    notices: tuple[Notice, ...] = ()


def plan_again(plan: Plan, state: State, job: Job | None = None, settings: Settings | None = None) -> Again:
    """Return the plan for what is left of a job that has begun; `job`: its rooms and wishes as they are today.

    Raises
    ------
    JobError
        The state contradicts itself, the plan, or the rooms as they are measured now.
    UnsoundPlanError
        The checker refused a plan: a bug of the planner.
    """
    settings = replace(settings or Settings(), rule_costs=False)
    now = job_now(plan, state, job)
    if now.job == plan.job:
        return Again(before=plan, plan=plan, remade=now.remade, notices=now.notices)
    portion = Portion(stop=settings.stop, spent=settings.spent, end=1.0)
    repaired = _repaired(plan, now, replace(settings, stop=portion.next_of(4)))
    found = None if repaired is None or _orders(repaired) else _as_it_is(repaired, plan, settings)
    outcome = Outcome(plan=found)
    if found is None:
        outcome = plan_job(now.job, replace(settings, start=repaired or now.start, keep_if_no_order=True))
        found = outcome.plan
        if repaired is not None and (found is None or _is_better(repaired, found)):
            found = _as_it_is(repaired, plan, settings) or found
    if found is not None:
        see_that_patterns_meet(found, now.beside)
        found = proved(without_word_of_it(_numbered_on(plan, _goods_in_order(plan, found))))
    return Again(before=plan, plan=found, remade=now.remade, refusals=outcome.refusals, notices=now.notices)


def _orders(plan: Plan) -> bool:
    return any(part.order for part in plan.materials)


def _is_better(one: Plan, other: Plan) -> bool:
    """Tell whether a plan is better than another of the same goal: at no material's first level worse, and once better.

    Goods in hand can be cut in places that the search does not look at, being off its grid: a plan with cuts held there
    may be better than all that it finds.
    """
    if other.consents:
        return True
    rest = {part.material_id: part.bounds[0].attained for part in other.materials}
    gains = [rest[part.material_id] - part.bounds[0].attained for part in one.materials]
    return min(gains) >= 0 and max(gains) > 0


def _as_it_is(repaired: Plan, before: Plan, settings: Settings) -> Plan | None:
    """Return the repaired plan as a plan of its job; None where it is none, as goods of assumed phases meet others."""
    was = {part.material_id: part for part in before.materials}
    parts = (
        _known_as(part, was[part.material_id], repaired.job) for part in repaired.materials if part.material_id in was
    )
    plan = replace(repaired, materials=tuple(parts))
    return with_bounds(plan, settings) if _is_sound(plan) else None


def _is_sound(plan: Plan) -> bool:
    """Tell whether a plan is by the rules of its job, whatever it says of bounds."""
    return not any(item.rule[:2] != "V6" for item in check_plan(plan))


def _known_as(part: MaterialPlan, before: MaterialPlan, job: Job) -> MaterialPlan:
    """Return the plan of a material with phases that were held for known as unknown as they are."""
    unknown = {piece.id for piece in job.stock if piece.phase_nm is None}
    fixed = {room.id for room in job.rooms if room.pins.phase_nm is not None}
    fixed |= {room for group in before.phase_groups if group.placed for room in group.room_ids}
    was = {source.id: source for source in before.sources if source.kind is not SourceKind.ORDER}
    sources = []
    for source in part.sources:
        if source.stock_id in unknown:
            old = was.get(source.id, source)
            lost = old.phase_loss_nm
            source = replace(source, phase_known=False, anchored=old.anchored, phase_loss_nm=lost)
        sources.append(source)
    return replace(
        part,
        sources=tuple(sources),
        phase_groups=tuple(
            replace(group, placed=group.placed and bool(fixed & set(group.room_ids))) for group in part.phase_groups
        ),
    )


def _repaired(plan: Plan, now: JobNow, settings: Settings) -> Plan | None:
    """Return the plan with all held in its place that can stay, and the rest planned; None if that cannot be."""
    in_hand = {piece.id for piece in plan.job.stock}
    came = any(piece.id not in in_hand for piece in now.job.stock)
    if not came and not now.job.done:
        return None
    held = held_job(plan, now)
    effort = min(settings.effort, REPAIR_EFFORT)
    outcome = plan_job(held, replace(settings, effort=effort, start=now.start, least_gain=1))
    return None if outcome.plan is None or outcome.plan.consents else _of_job(now.job, outcome.plan)


def _of_job(job: Job, plan: Plan) -> Plan:
    """Return a plan with cuts held as one of the job in which they are still to make and take of goods in hand."""
    parts = (
        replace(part, measures=replace(part.measures, rack_nm2=rack_nm2(job, part.sources))) for part in plan.materials
    )
    return replace(plan, job=job, materials=tuple(parts))


def _numbered_on(before: Plan, after: Plan) -> Plan:
    """Return the plan with its cuts numbered on from the plan before: what stays as and where it was keeps its number.

    Where nothing is cut yet no number stands on anything, and the plan's own are kept.
    """
    if not after.job.done:
        return after
    was = {_as_it_lies(item): item.cut.number for part in before.materials for item in _lying(part)}
    highest = max(was.values(), default=0)
    numbers: dict[str, int] = {}
    lying = sorted((item for part in after.materials for item in _lying(part)), key=lambda item: item.cut.number)
    for item in lying:
        known = was.get(_as_it_lies(item))
        highest += known is None
        numbers[item.cut.id] = highest if known is None else known
    materials = tuple(
        replace(part, cuts=tuple(replace(cut, number=numbers[cut.id]) for cut in part.cuts)) for part in after.materials
    )
    return replace(after, materials=materials)


def _goods_in_order(before: Plan, after: Plan) -> Plan:
    """Return the plan with its goods in the order in which the plan before had them, what is new last."""
    places = {source.id: place for part in before.materials for place, source in enumerate(part.sources)}
    parts = (_in_order(part, places) for part in after.materials)
    return replace(after, materials=tuple(parts))


def _in_order(part: MaterialPlan, places: dict[str, int]) -> MaterialPlan:
    sources = sorted(part.sources, key=lambda source: places.get(source.id, len(places)))
    rank = {source.id: number for number, source in enumerate(sources)}
    lies = {place.cut_id: (rank[place.source_id], place.y_nm, place.x_nm) for place in part.placements}
    return replace(
        part,
        sources=tuple(sources),
        cuts=tuple(sorted(part.cuts, key=lambda cut: lies[cut.id])),
        placements=tuple(sorted(part.placements, key=lambda place: lies[place.cut_id])),
        offcuts=tuple(sorted(part.offcuts, key=lambda item: rank[item.source_id])),
        order=tuple(sorted(part.order, key=lambda line: rank[line.source_id])),
    )


def _lying(part: MaterialPlan) -> Iterator[Lying]:
    for source in part.sources:
        yield from lying_on(part, source.id)


def _as_it_lies(item: Lying) -> tuple[object, ...]:
    place = item.place
    return item.cut.id, item.cut.rects, place.source_id, place.x_nm, place.y_nm, place.turn
