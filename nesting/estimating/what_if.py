"""What if: several jobs, or one job with other settings, planned alike and compared with the first.

A variant that allows every plan of another one begins its search with the best such plan known, so that it is never
worse than the other at any level of the goal, whatever the search finds. The first variant is planned by itself, as
`plan` does; only where a stricter one turns out to be better is it planned again from that one's plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from nesting.domain.job import Job, Room
from nesting.domain.plan import MaterialPlan, Outcome, Plan
from nesting.domain.what_if import Tried, Variant, WhatIf
from nesting.pipeline import Settings, plan_job, proved
from nesting.progress import Portion
from nesting.search.earlier_plan import without_word_of_it


def what_if(variants: Sequence[Variant], settings: Settings | None = None) -> WhatIf:
    """Return what planning each variant gives, with the same seed and effort; under a limit they share the time.

    Every variant has a name of its own.

    Raises
    ------
    UnsoundPlanError
        The checker refused a plan: a bug of the planner.
    """
    settings = settings or Settings()
    trying = _Trying(variants, settings)
    first = variants[0]
    trying.plan(first)
    stricter = [one for one in variants[1:] if allows(first.job, one.job)]
    for variant in _strictest_first(stricter, variants):
        trying.plan(variant)
    if trying.is_beaten(first):
        trying.plan_again(first)
        for twin in (one for one in stricter if allows(one.job, first.job)):
            trying.plan(twin)
    for variant in _strictest_first([one for one in variants[1:] if one not in stricter], variants):
        trying.plan(variant)
    tried = tuple(Tried(variant=one, outcome=trying.outcomes[one.name]) for one in variants)
    return WhatIf(tried=tried, seed=settings.seed, effort=settings.effort)


def allows(job: Job, other: Job) -> bool:
    """Tell whether `job` is `other`, or that job less constrained: every plan of `other` is lawful for it.

    Less constrained: more cross seams in a breadth, a rule less, a higher cap on seams or none, more goods in hand.
    """
    if _frame(job) != _frame(other) or len(job.rooms) != len(other.rooms):
        return False
    most, others = job.goal.most_seams, other.goal.most_seams
    if most is not None and (others is None or others > most):
        return False
    rooms = zip(job.rooms, other.rooms, strict=True)
    return all(_room_allows(room, its) for room, its in rooms) and _has_the_goods(job, other)


def _frame(job: Job) -> Job:
    """Return the job without what can be less constrained, and without what no plan depends on: name and lines."""
    return replace(
        job,
        name="",
        rooms=(),
        stock=(),
        loose=tuple(replace(piece, line=0) for piece in job.loose),
        strips=tuple(replace(strip, line=0) for strip in job.strips),
        goal=replace(job.goal, most_seams=None),
    )


def _room_allows(room: Room, other: Room) -> bool:
    rules, its = room.rules, other.rules
    if rules.cross_seams_per_breadth < its.cross_seams_per_breadth or not set(rules.waived) >= set(its.waived):
        return False
    return _bare(room) == _bare(other)


def _bare(room: Room) -> Room:
    return replace(room, line=0, rules=replace(room.rules, cross_seams_per_breadth=0, waived=()))


def _has_the_goods(job: Job, other: Job) -> bool:
    """Tell whether all goods in hand are there, and those that came to them take nothing away.

    A longer piece would: a breadth longer than the longest source may have the cross seams that it needs. And goods of
    a lot that can be ordered say which lot is ordered.
    """
    more = [piece for piece in job.stock if piece not in other.stock]
    if not set(other.stock) <= set(job.stock) or any(piece.lot_orderable for piece in more):
        return False
    return all(_longest(job, material.id) == _longest(other, material.id) for material in job.materials)


def _longest(job: Job, material_id: str) -> int | None:
    """Return the longest source of a material; None: there is no limit."""
    material = next(one for one in job.materials if one.id == material_id)
    if material.orders_allowed and material.longest_nm is None:
        return None
    made = [material.longest_nm or 0] if material.orders_allowed else []
    return max([*made, *(piece.length_nm for piece in job.stock if piece.material_id == material_id)], default=0)


def _strictest_first(some: Iterable[Variant], variants: Sequence[Variant]) -> list[Variant]:
    """Return variants so that each stands behind all that it allows: it allows whatever these do, and itself."""
    return sorted(some, key=lambda one: sum(allows(one.job, other.job) for other in variants))


class _Trying:
    """The variants planned so far."""

    def __init__(self, variants: Sequence[Variant], settings: Settings) -> None:
        self._variants, self._settings = variants, settings
        self._portion = Portion(stop=settings.stop, spent=settings.spent, end=1.0)
        self.outcomes: dict[str, Outcome] = {}

    def plan(self, variant: Variant) -> None:
        """Plan a variant; one that is the same job as another has the same plan."""
        others = (one for one in self._allowed(variant) if one is not variant)
        twin = next((one for one in others if allows(one.job, variant.job)), None)
        if twin is None:
            self.plan_again(variant)
        else:
            self.outcomes[variant.name] = _renamed(self.outcomes[twin.name], variant.job)

    def plan_again(self, variant: Variant) -> None:
        """Plan a variant, beginning with the best plan of those that it allows."""
        left = len({one.name for one in self._variants} - set(self.outcomes) | {variant.name})
        settings = _within(self._settings, self._portion.next_of(left), variant)
        start = self._start(variant)
        if start is not None:
            settings = replace(settings, start=start, least_gain=0)
        outcome = plan_job(variant.job, settings)
        if start is not None and outcome.plan is not None:
            outcome = replace(outcome, plan=proved(without_word_of_it(outcome.plan)))
        self.outcomes[variant.name] = outcome

    def is_beaten(self, variant: Variant) -> bool:
        """Tell whether a stricter variant has a better plan."""
        mine = {part.material_id: _rank(part) for part in self._parts(variant)}
        others = (part for one in self._allowed(variant) if one is not variant for part in self._parts(one))
        return any(part.material_id not in mine or _rank(part) < mine[part.material_id] for part in others)

    def _allowed(self, variant: Variant) -> list[Variant]:
        """Return the variants planned so far whose plans are lawful for a variant."""
        return [one for one in self._variants if one.name in self.outcomes and allows(variant.job, one.job)]

    def _parts(self, variant: Variant) -> tuple[MaterialPlan, ...]:
        plan = Tried(variant=variant, outcome=self.outcomes[variant.name]).plan
        return () if plan is None else plan.materials

    def _start(self, variant: Variant) -> Plan | None:
        """Return the best plan known of every material: materials share nothing."""
        best: dict[str, MaterialPlan] = {}
        for one in self._allowed(variant):
            for part in self._parts(one):
                had = best.get(part.material_id)
                best[part.material_id] = part if had is None or _rank(part) < _rank(had) else had
        if not best:
            return None
        materials = tuple(best.values())
        return Plan(job=variant.job, materials=materials, seed=self._settings.seed, effort=0, versions=())


def _rank(part: MaterialPlan) -> tuple[int, int, int]:
    """Return what is the less the better: the goal's first level, then roll, then seams."""
    measures = part.measures
    seams = measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
    return part.bounds[0].attained, measures.roll_nm2, seams


def _within(settings: Settings, turn: Portion, variant: Variant) -> Settings:
    """Return the settings for one variant, which has the time of its turn as a whole."""
    begin = turn.spent()
    whole = turn.end - begin

    def spent() -> float:
        return (turn.spent() - begin) / whole if whole > 0 else 1.0

    return replace(
        settings,
        stop=turn,
        spent=spent,
        progress=lambda step: settings.progress(replace(step, what=f"{variant.name}: {step.what}")),
    )


def _renamed(outcome: Outcome, job: Job) -> Outcome:
    """Return the outcome as that of the same job under another name."""
    return outcome if outcome.plan is None else replace(outcome, plan=proved(replace(outcome.plan, job=job)))
