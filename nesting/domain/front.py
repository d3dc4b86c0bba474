"""The trade-off of seams against roll: the plans that no other beats, one a row, and what is known between them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.job import Job
from nesting.domain.plan import Bound, ByHand, MaterialPlan, Plan, Refusal


class Known(StrEnum):
    """What is known of the least roll with at most so many seams."""

    PLAN = "plan"  # a row of the front has exactly so many
    SETTLED = "settled"  # proved: no plan with so many needs less than the row above
    SEARCHED = "searched"  # looked at: none was found that needs less
    NOT_LOOKED_AT = "not looked at"  # the effort, or the time, was spent before


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontRow:
    """A complete, checked plan of one material's part of the job, its goal capped at the seams that it has.

    Its first bound says what no plan with at most so many seams can beat.
    """

    plan: Plan

    @property
    def part(self) -> MaterialPlan:
        """The plan of the material."""
        return self.plan.materials[0]

    @property
    def bound(self) -> Bound:
        """The bound on the roll ordered with at most so many seams, nm²."""
        return self.part.bounds[0]

    @property
    def seams(self) -> int:
        """Seams, cross seams, relief cuts and joins."""
        return seams_of(self.part)

    @property
    def roll_nm2(self) -> int:
        """Σ ordered length × made width."""
        return self.part.measures.roll_nm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """The front of one material: seams rise and roll falls from row to row.

    `fewest_seams`: no plan by the rules has fewer. `least_roll`: what no plan can beat, however many seams it has, its
    `attained` that of the last row. `known`: every number of seams from the first row's to the last's. `stopped`: the
    run ended before everything was looked at that the effort allows.
    """

    material_id: str
    rows: tuple[FrontRow, ...]
    known: tuple[tuple[int, Known], ...]
    fewest_seams: int
    least_roll: Bound
    by_hand: ByHand | None = None
    stopped: bool = False

    @property
    def has_proved_fewest(self) -> bool:
        """Tell whether no plan has fewer seams than the first row."""
        return self.rows[0].seams == self.fewest_seams

    def with_at_most(self, seams: int) -> FrontRow | None:
        """Return the row that orders least with at most so many seams; None if every plan found has more."""
        return next((row for row in reversed(self.rows) if row.seams <= seams), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOff:
    """The fronts of all materials of a job; a material that cannot be laid by the rules has refusals instead."""

    job: Job
    fronts: tuple[Front, ...]
    seed: int
    effort: int
    refusals: tuple[Refusal, ...] = ()


def seams_of(part: MaterialPlan) -> int:
    """Return seams, cross seams, relief cuts and joins together, as a cap on seams counts them."""
    measures = part.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
