"""Which rules cost roll: the same job solved again without one, quickly, and compared."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import partial

from nesting.domain.job import Job, Room
from nesting.domain.material import Material
from nesting.domain.plan import MaterialPlan, Notice
from nesting.domain.rules import RuleId
from nesting.model.building import InstanceBuilder
from nesting.progress import Stop
from nesting.seams.candidates import candidates_of
from nesting.search.engine import solve
from nesting.units import format_length

MOST_ROOMS = 12  # beyond, asking again for every rule would keep the user waiting
EFFORT = 1

LIFTED: tuple[tuple[RuleId, str, Callable[[Room], bool]], ...] = (
    (RuleId.KEEP_OUT, "keeping seams out of the keep-out zones", lambda room: bool(room.keep_outs)),
    (RuleId.JOINT_CLEARANCE, "keeping seams clear of joints below", lambda room: bool(room.joints_below)),
    (RuleId.DOOR_OPENING, "ending no seam in a door opening", lambda room: any(d.bridgeable for d in room.doors)),
    (RuleId.ACCESS, "keeping to the limits of access", lambda room: room.access != type(room.access)()),
)
"""Rules that a room may have reason to bend, each with its words and whether it can bind there at all."""


def rule_cost_notices(job: Job, material: Material, plan: MaterialPlan, *, seed: int, stop: Stop) -> tuple[Notice, ...]:
    """Return a notice for every rule, and for a fixed lay, without which a plan with less roll was found.

    The saving is what the quick second look finds: at least so much, perhaps more. None is claimed that was not found.
    """
    rooms = [room for room in job.rooms if room.material_id == material.id]
    if not plan.order or len(rooms) > MOST_ROOMS:
        return ()
    found = []
    for words, changed in _eased(job, rooms):
        if stop():
            break
        text = _saving(job, material, plan, _quick_look(changed, material, seed, stop))
        if text:
            found.append(Notice(code="rule-costs", text=f"{words} costs {text}"))
    return tuple(found)


def _saving(job: Job, material: Material, plan: MaterialPlan, other: tuple[int, int] | None) -> str:
    """Return in words what another plan's (roll, seams) save against this plan; "" for nothing."""
    if other is None:
        return ""
    measures = plan.measures
    length = (measures.roll_nm2 - other[0]) // max(width for width, ordered in measures.ordered_nm if ordered)
    length -= length % material.cutting_step_nm
    seams = measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins - other[1]
    if length > 0:
        return f"{format_length(length, job.unit.value, with_unit=True)} of roll or more"
    if measures.roll_nm2 >= other[0] and seams > 0:
        return f"{seams} seam{'s' if seams > 1 else ''} or more"
    return ""


def _eased(job: Job, rooms: list[Room]) -> Iterator[tuple[str, Job]]:
    """Yield the job without each rule that can bind, with words for the rule."""
    mine = {room.id for room in rooms}
    for rule, words, can_bind in LIFTED:
        bound = {room.id for room in rooms if room.rules.holds(rule) and can_bind(room)}
        if bound:
            yield words, _with_rooms(job, bound, partial(_without, rule))
    fixed = {room.id for room in rooms if room.lays} & mine
    if fixed:
        yield "the fixed lay direction", _with_rooms(job, fixed, lambda room: replace(room, lays=()))


def _without(rule: RuleId, room: Room) -> Room:
    return replace(room, rules=room.rules.without(rule))


def _with_rooms(job: Job, ids: set[str], change: Callable[[Room], Room]) -> Job:
    return replace(job, rooms=tuple(change(room) if room.id in ids else room for room in job.rooms))


def _quick_look(job: Job, material: Material, seed: int, stop: Stop) -> tuple[int, int] | None:
    """Return the roll, nm², and the seams of a plan that a quick look at the job finds; None where it finds none."""
    candidates = candidates_of(job, material)
    if candidates.refusals:
        return None
    built = InstanceBuilder(job, material).build(candidates.laid, candidates.anchors, candidates.loose)
    result = solve(built.instance, seed=seed, effort=EFFORT, stop=stop)
    if result.value is None or result.solution is None:
        return None
    pairs = zip(result.value.ordered, built.sources, strict=True)
    roll = int(sum(Fraction(length) * built.instance.unit_nm * source.width_nm for length, source in pairs))
    taken = zip(built.instance.choices, result.solution.options, strict=True)
    return roll, sum(choice.options[number].seams for choice, number in taken)
