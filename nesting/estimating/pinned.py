"""What pins cost, each alone and all together; and which of them contradict one another.

Every plan found on the way is lawful for the job without pins, and a plan is taken into account for every pin that it
keeps. So no cost is below nothing, a pin that the best free plan keeps costs nothing, and no pin alone costs more than
all of them together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.checker import check_plan
from nesting.domain.job import Job, Room
from nesting.domain.material import Material
from nesting.domain.pin_list import Pin, pins_of, with_pins_only
from nesting.domain.plan import MaterialPlan, Plan
from nesting.estimating.parting import part_of
from nesting.floor.frames import lay_directions
from nesting.model.building import InstanceBuilder
from nesting.pipeline import Settings, plan_job
from nesting.progress import Step, no_progress
from nesting.seams.candidates import candidates_of
from nesting.search.engine import solve

PIN_RULES = frozenset({"V4a", "V4s", "V4t", "V4u", "V4v", "V4w"})
"""The checker's rules that a plan breaks when it does not keep a pin.

What is cut is no pin: every plan compared here holds it (V4x), with the layout (V4t) and phase (V3b) that it settles.
"""

MOST_PINS = 24
"""With more pins in one material only what they cost together is looked at: the user is waiting."""

LOOKS = 2
"""Effort of a look at whether some pins can be kept together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinCost:
    """What a pin costs, or all of them (`pin` None), against the best plan known without pins.

    `first`: the first level of the goal; it costs at least `first_least` of it by the bounds, whatever plan is found.
    """

    pin: Pin | None
    roll_nm2: int
    money: int
    seams: int
    first: int
    first_least: int
    proved: bool  # both plans attain their bound, so that nothing less was to be had


@dataclass(frozen=True, slots=True, kw_only=True)
class PinCosts:
    """What the pins of one material cost, against the best plan known without pins (`free`).

    `unpriced`: pins that were not looked at, for want of time or for their number.
    """

    material_id: str
    free: MaterialPlan
    each: tuple[PinCost, ...]
    together: PinCost
    unpriced: tuple[Pin, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """Pins that cannot all be kept, while any of them can be let go for the others. `proved`: not only not found."""

    pins: tuple[Pin, ...]
    proved: bool


@dataclass(frozen=True, slots=True)
class _Known:
    """A plan, as the job that it was made for has its first level bounded."""

    plan: Plan
    part: MaterialPlan

    @property
    def rank(self) -> tuple[int, int, int]:
        """The less the better: the goal's first level, then roll, then seams."""
        return self.part.bounds[0].attained, self.part.measures.roll_nm2, _seams(self.part)

    def keeps(self, job: Job) -> bool:
        """Tell whether the plan keeps the pins of another job of the same rooms, as the checker sees it."""
        return not any(found.rule in PIN_RULES for found in check_plan(replace(self.plan, job=job)))


def narrowed_rooms(job: Job) -> frozenset[str]:
    """Return the rooms (ids) whose `lay` leaves out a direction that would be open else."""
    materials = {material.id: material for material in job.materials}
    return frozenset(room.id for room in job.rooms if room.lays and _narrows(room, materials[room.material_id]))


def _narrows(room: Room, material: Material) -> bool:
    return not set(lay_directions(replace(room, lays=()), material)) <= set(room.lays)


def all_pins(job: Job) -> tuple[Pin, ...]:
    """Return the pins of a job, fixed lay directions among them."""
    return pins_of(job, narrowed_rooms(job))


def pin_costs(plan: Plan, settings: Settings) -> tuple[PinCosts, ...]:
    """Return what the pins of a plan's job cost, for every material with pins; `plan` keeps all of them.

    Half the effort is shared among the looks at a material, one at least for each. Nothing is said of a plan that is
    not by the rules, at effort 0, or when there is no time.
    """
    if not plan.by_the_rules or settings.effort < 1:
        return ()
    found = []
    for part in plan.materials:
        job = part_of(plan.job, part.material_id)
        if all_pins(job) and not settings.stop():
            settings.progress(Step(material_id=part.material_id, what="what the pins cost"))
            found.append(_of_material(job, plan, part, settings))
    return tuple(costs for costs in found if costs is not None)


def _of_material(job: Job, plan: Plan, part: MaterialPlan, settings: Settings) -> PinCosts | None:
    narrowed = narrowed_rooms(job)
    pins = pins_of(job, narrowed)
    asked = pins if len(pins) <= MOST_PINS else ()
    looking = replace(
        settings,
        effort=max(1, settings.effort // (2 * (1 + len(asked)))),
        progress=no_progress,
        least_gain=0,
        rule_costs=False,
    )
    mine = _Known(replace(plan, job=job, materials=(part,)), part)
    free = _looked(with_pins_only(job, (), narrowed), mine, looking)
    if free is None:
        return None
    pool = [mine, free]
    bounds: dict[Pin, int] = {}
    for pin in asked:
        alone = with_pins_only(job, (pin,), narrowed)
        if settings.stop():
            break
        bounds[pin] = 0
        if not free.keeps(alone):
            known = _looked(alone, min((item for item in pool if item.keeps(alone)), key=_rank), looking)
            if known is not None:
                pool.append(known)
                bounds[pin] = known.part.bounds[0].value
    best = min(pool, key=_rank)
    floor = free.part.bounds[0].value
    each = []
    for pin, bound in bounds.items():
        alone = with_pins_only(job, (pin,), narrowed)
        kept = min((item for item in pool if item.keeps(alone)), key=_rank)
        each.append(_cost(pin, kept, best, max(bound, floor), floor))
    return PinCosts(
        material_id=part.material_id,
        free=best.part,
        each=tuple(each),
        together=_cost(None, mine, best, max(part.bounds[0].value, floor), floor),
        unpriced=tuple(pin for pin in pins if pin not in bounds),
    )


def _rank(known: _Known) -> tuple[int, int, int]:
    return known.rank


def _looked(job: Job, start: _Known, settings: Settings) -> _Known | None:
    """Return the best plan of a job that a look finds, beginning with a plan that is lawful for it."""
    plan = plan_job(job, replace(settings, start=start.plan)).plan
    return None if plan is None or not plan.by_the_rules else _Known(plan, plan.materials[0])


def _cost(pin: Pin | None, kept: _Known, free: _Known, bound: int, floor: int) -> PinCost:
    """Return what it costs to keep a pin; `bound` and `floor`: no plan with it, and none at all, is below."""
    had, now = free.part, kept.part
    first = kept.rank[0] - free.rank[0]
    return PinCost(
        pin=pin,
        roll_nm2=now.measures.roll_nm2 - had.measures.roll_nm2,
        money=now.measures.total_cost - had.measures.total_cost,
        seams=_seams(now) - _seams(had),
        first=first,
        first_least=max(0, bound - free.rank[0]),
        proved=bound >= kept.rank[0] and floor >= free.rank[0],
    )


def _seams(part: MaterialPlan) -> int:
    measures = part.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins


# --- pins that contradict --------------------------------------------------------------------------------------------


def contradictions(job: Job, settings: Settings) -> tuple[Contradiction, ...]:
    """Return a least set of pins that cannot all be kept: of every room by itself that has one, else of a material.

    () where the pins are not to blame. A set is least in that the others can be kept when any one of it is let go.
    """
    found = []
    for material in job.materials:
        mine = part_of(job, material.id)
        if not mine.rooms or not all_pins(mine):
            continue
        alone = (_of_room(mine, room, material) for room in mine.rooms)
        sets = [item for item in alone if item is not None]
        if not sets:
            whole = _least_set(mine, material, settings, of_room=False)
            sets = [] if whole is None else [whole]
        found += sets
    return tuple(found)


def _of_room(job: Job, room: Room, material: Material) -> Contradiction | None:
    """Return the least set of pins with which a room cannot even be laid by itself."""
    one = replace(room, doors=tuple(replace(door, joined=None) for door in room.doors))
    done = tuple(item for item in job.done if item.cut.owner == room.id)
    alone = replace(job, rooms=(one,), loose=(), strips=(), matches=(), one_lot=(), done=done)
    return _least_set(alone, material, Settings(), of_room=True)


def _least_set(job: Job, material: Material, settings: Settings, *, of_room: bool) -> Contradiction | None:
    """Return the pins left when every one without which the others cannot be kept either has been let go."""
    narrowed = narrowed_rooms(job)

    def can_keep(pins: tuple[Pin, ...]) -> bool | None:
        some = with_pins_only(job, pins, narrowed)
        return _can_be_laid(some, material) if of_room else _can_be_planned(some, material, settings)

    left = pins_of(job, narrowed)
    if not left or settings.stop() or can_keep(left) or not can_keep(()):
        return None
    proved = can_keep(left) is False
    for pin in left:
        fewer = tuple(other for other in left if other != pin)
        kept = can_keep(fewer)
        if not kept and not settings.stop():
            left, proved = fewer, kept is False
    return Contradiction(pins=left, proved=proved)


def _can_be_laid(job: Job, material: Material) -> bool:
    return not candidates_of(job, material).refusals


def _can_be_planned(job: Job, material: Material, settings: Settings) -> bool | None:
    """Tell whether a plan is found; False: there is none with the layouts looked at, None: none was found."""
    candidates = candidates_of(job, material, stop=settings.stop)
    if candidates.refusals:
        return False
    proved = True
    for one_lot in (True, False) if material.sale.lot_limit_nm is not None else (True,):
        built = InstanceBuilder(job, material).build(
            candidates.laid, candidates.anchors, candidates.loose, one_lot=one_lot
        )
        result = solve(built.instance, seed=settings.seed, effort=LOOKS, stop=settings.stop)
        if result.solution is not None:
            return True
        proved = proved and result.impossible
    return False if proved else None
