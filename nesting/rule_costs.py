"""Which rules cost roll: the same job solved again without one, quickly, and compared."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from nesting.domain.job import Job, Room
from nesting.domain.material import Material
from nesting.domain.plan import MaterialPlan, Notice
from nesting.domain.rules import RuleId
from nesting.model.building import Built, InstanceBuilder
from nesting.model.instance import Solution, Value
from nesting.progress import Stop
from nesting.seams.candidates import candidates_of
from nesting.seams.earlier import with_earlier
from nesting.search.earlier_plan import goods_in_hand, taken_over
from nesting.search.engine import solve
from nesting.units import format_length

MOST_ROOMS = 12  # beyond, asking again for every rule would keep the user waiting
EFFORT = 1
FIXED_LAY = "fixed-lay"

LIFTED: tuple[tuple[RuleId, str, Callable[[Room], bool]], ...] = (
    (RuleId.KEEP_OUT, "keeping seams out of the keep-out zones", lambda room: bool(room.keep_outs)),
    (RuleId.JOINT_CLEARANCE, "keeping seams clear of joints below", lambda room: bool(room.joints_below)),
    (RuleId.DOOR_OPENING, "ending no seam in a door opening", lambda room: any(d.bridgeable for d in room.doors)),
    (RuleId.ACCESS, "keeping to the limits of access", lambda room: room.access != type(room.access)()),
)
"""Rules that a room may have reason to bend, each with its words and whether it can bind there at all."""


def rule_cost_notices(
    job: Job, material: Material, plan: MaterialPlan, *, seed: int, stop: Stop, lay: bool = True
) -> tuple[Notice, ...]:
    """Return a notice for every rule, and with `lay` for a fixed lay, without which a plan with less roll was found.

    The saving is what the quick second look finds: at least so much, perhaps more. None is claimed that was not found.
    """
    rooms = [room for room in job.rooms if room.material_id == material.id]
    if not plan.order or len(rooms) > MOST_ROOMS:
        return ()
    found = []
    for name, words, changed in without_room_rules(job, rooms):
        if stop():
            break
        if name == FIXED_LAY and not lay:
            continue
        text = _saving(job, material, plan, look_again(changed, material, seed=seed, effort=EFFORT, stop=stop))
        if text:
            found.append(Notice(code="rule-costs", text=f"{words} costs {text}"))
    return tuple(found)


def _saving(job: Job, material: Material, plan: MaterialPlan, other: Look | None) -> str:
    """Return in words what another plan saves against this plan; "" for nothing."""
    if other is None:
        return ""
    measures = plan.measures
    length = (measures.roll_nm2 - other.roll_nm2) // max(width for width, ordered in measures.ordered_nm if ordered)
    length -= length % material.cutting_step_nm
    seams = measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins - other.seams
    if length > 0:
        return f"{format_length(length, job.unit.value, with_unit=True)} of roll or more"
    if measures.roll_nm2 >= other.roll_nm2 and seams > 0:
        return f"{seams} seam{'s' if seams > 1 else ''} or more"
    return ""


def without_room_rules(job: Job, rooms: list[Room]) -> Iterator[tuple[str, str, Job]]:
    """Yield the job without each rule that can bind in the rooms, and without a fixed lay, with an id and words."""
    mine = {room.id for room in rooms}
    for rule, words, can_bind in LIFTED:
        bound = {room.id for room in rooms if room.rules.holds(rule) and can_bind(room)}
        if bound:
            yield rule.value, words, with_rooms(job, bound, partial(without_rule, rule))
    fixed = {room.id for room in rooms if room.lays} & mine
    if fixed:
        yield FIXED_LAY, "the fixed lay direction", with_rooms(job, fixed, lambda room: replace(room, lays=()))


def without_rule(rule: RuleId, room: Room) -> Room:
    """Return the room with one more rule waived."""
    return replace(room, rules=room.rules.without(rule))


def with_rooms(job: Job, ids: set[str], change: Callable[[Room], Room]) -> Job:
    """Return the job with some of its rooms changed."""
    return replace(job, rooms=tuple(change(room) if room.id in ids else room for room in job.rooms))


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a look at one material of a job found: a lawful solution of its instance."""

    built: Built
    solution: Solution
    value: Value
    stopped: bool

    @property
    def roll_nm2(self) -> int:
        """Return the roll ordered, nm²."""
        unit = self.built.instance.unit_nm
        pairs = zip(self.value.ordered, self.built.sources, strict=True)
        return int(sum(Fraction(length) * unit * source.width_nm for length, source in pairs))

    @property
    def seams(self) -> int:
        """Return seams, cross seams, relief cuts and joins, those of what is all cut already among them."""
        taken = zip(self.built.instance.choices, self.solution.options, strict=True)
        there = (len(way.held) - 1 if way.laid is None else way.laid.seams for way in self.built.finished)
        return sum(choice.options[number].seams for choice, number in taken) + sum(there)


def look_again(
    job: Job,
    material: Material,
    *,
    seed: int,
    effort: int,
    stop: Stop,
    start: MaterialPlan | None = None,
    executor: Executor | None = None,
) -> Look | None:
    """Return what is found for one material of a job, from a plan of a job like it on if there is one; None: nothing.

    Where the job allows all that `start` does, what is found is no worse at any level of the goal. What is cut stays.
    """
    candidates = candidates_of(job, material, stop=stop if effort else _at_once)
    if candidates.refusals:
        return None
    if start is not None:
        candidates = with_earlier(candidates, job, material, start)
    for one_lot in (True, False) if start is not None and material.sale.lot_limit_nm is not None else (True,):
        built = InstanceBuilder(job, material).build(
            candidates.laid, candidates.anchors, candidates.loose, one_lot=one_lot, keep=goods_in_hand(start)
        )
        taken = None if start is None else taken_over(built, start)
        begin = None if taken is None else taken.solution(built.instance) or taken
        result = solve(built.instance, seed=seed, effort=effort, stop=stop, start=begin, executor=executor)
        if result.value is not None and result.solution is not None:
            stopped = result.stop == "stopped"
            return Look(built=built, solution=result.solution, value=result.value, stopped=stopped)
    return None


def _at_once() -> bool:
    """Stop at the first occasion: no search will follow, and few layouts a room are as good."""
    return True
