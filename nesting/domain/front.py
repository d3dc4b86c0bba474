"""The trade-off of seams against roll: the plans that no other beats, one a row, and what is known between them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from nesting.domain.job import Job
from nesting.domain.plan import Bound, ByHand, MaterialPlan, Plan, Refusal


class Known(StrEnum):
    """What is known of the least roll with at most so many seams."""

    PLAN = "plan"  # a row of the front has exactly so many
    SETTLED = "settled"  # proved: no plan with so many needs less than the row above
    SEARCHED = "searched"  # looked at: none was found that needs less
    NOT_LOOKED_AT = "not looked at"  # the effort, or the time, was spent before


@dataclass(frozen=True, slots=True, kw_only=True)
class AtMost:
    """What is known of plans with at most so many seams; none of them orders less than `bound_nm2`."""

    seams: int
    known: Known
    bound_nm2: int


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
    known: tuple[AtMost, ...]
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


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSeamLess:
    """What the step from a row to the one above costs for every seam that it saves; money in the smallest coin."""

    roll_nm2: Fraction
    cost: Fraction


def one_seam_less(row: FrontRow, above: FrontRow) -> OneSeamLess:
    """Return what every seam costs that the row above has less than a row."""
    seams = row.seams - above.seams
    cost = above.part.measures.total_cost - row.part.measures.total_cost
    return OneSeamLess(roll_nm2=Fraction(above.roll_nm2 - row.roll_nm2, seams), cost=Fraction(cost, seams))


def one_width(job: Job, material_id: str) -> int | None:
    """Return the made width of a material; None if it is made in several: metres of these are never added."""
    (widths,) = (material.widths_nm for material in job.materials if material.id == material_id)
    return widths[0] if len(widths) == 1 else None


def seams_of(part: MaterialPlan) -> int:
    """Return seams, cross seams, relief cuts and joins together, as a cap on seams counts them."""
    measures = part.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
