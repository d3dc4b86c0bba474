"""Jobs side by side: what becomes of each variant, and how it differs from the first."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.job import Job
from nesting.domain.plan import MaterialPlan, Outcome, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """A job under the name that it has in the comparison."""

    name: str
    job: Job


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A variant with what planning it gave."""

    variant: Variant
    outcome: Outcome

    @property
    def plan(self) -> Plan | None:
        """The plan by the rules, None where there is none: the nearest to one is not compared."""
        plan = self.outcome.plan
        return plan if plan is not None and plan.by_the_rules and not self.outcome.refusals else None

    @property
    def cost(self) -> int | None:
        """The total of all materials in the smallest coin; None without a plan."""
        return None if self.plan is None else sum(part.measures.total_cost for part in self.plan.materials)

    def part(self, material_id: str) -> MaterialPlan | None:
        """Return the plan of one material, None where there is none."""
        parts = self.plan.materials if self.plan is not None else ()
        return next((part for part in parts if part.material_id == material_id), None)

    def uses(self, material_id: str) -> bool:
        """Tell whether something of the variant is cut from a material."""
        job = self.variant.job
        return any(owner.material_id == material_id for owner in job.owners)


@dataclass(frozen=True, slots=True, kw_only=True)
class RollMore:
    """How much more roll a plan orders than the first, less where negative.

    `length_nm` only where both order one and the same width, or one of them nothing: metres of different widths are
    never compared.
    """

    roll_nm2: int
    length_nm: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """Variants in the order asked for; each is compared with the first."""

    tried: tuple[Tried, ...]
    seed: int
    effort: int

    @property
    def materials(self) -> tuple[str, ...]:
        """The ids of all materials in use, in the order in which the variants have them."""
        ids = [(one, material.id) for one in self.tried for material in one.variant.job.materials]
        return tuple(dict.fromkeys(ident for one, ident in ids if one.uses(ident)))

    def roll_more(self, tried: Tried, material_id: str) -> RollMore | None:
        """Return how much more roll of a material a variant orders than the first; None where one has no plan."""
        now, first = tried.part(material_id), self.tried[0].part(material_id)
        if now is None or first is None:
            return None
        ordered, had = _ordered(now), _ordered(first)
        same = len({*ordered, *had}) <= 1
        length = sum(ordered.values()) - sum(had.values())
        return RollMore(
            roll_nm2=now.measures.roll_nm2 - first.measures.roll_nm2,
            length_nm=length if same else None,
        )

    def cost_more(self, tried: Tried, material_id: str | None = None) -> int | None:
        """Return how much more a variant costs than the first, one material of it or the whole.

        None where one has no plan, or where they are not reckoned in the same money.
        """
        first, job = self.tried[0], tried.variant.job
        money = first.variant.job.currency, first.variant.job.coin_per_unit
        if (job.currency, job.coin_per_unit) != money:
            return None
        now, had = _cost(tried, material_id), _cost(first, material_id)
        return None if now is None or had is None else now - had


def _cost(tried: Tried, material_id: str | None) -> int | None:
    if material_id is None:
        return tried.cost
    part = tried.part(material_id)
    return None if part is None else part.measures.total_cost


def _ordered(part: MaterialPlan) -> dict[int, int]:
    return {width: length for width, length in part.measures.ordered_nm if length}
