"""The rules that a layout must keep, and what is to be got out of the goods."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

MM = 1_000_000
INCH = 25_400_000


class RuleId(StrEnum):
    """Every hard rule that a layout or a plan can break."""

    JOINT_CLEARANCE = "joint-clearance"  # a seam keeps clear of parallel joints below
    KEEP_OUT = "keep-out"  # no seam through a keep-out zone
    DOOR_OPENING = "door-opening"  # no seam ends inside a door opening
    LEAST_BREADTH = "least-breadth"
    CROSS_SEAMS = "cross-seams"  # at most so many per breadth
    LEAST_LENGTH = "least-length"  # of a piece between cross seams
    CROSS_SEAM_STAGGER = "cross-seam-stagger"
    SEAM_LINES = "seam-lines"  # seams only on the material's seam lines
    LAY_DIRECTION = "lay-direction"
    ACCESS = "access"
    TRIM = "trim"
    STOCK = "stock"  # no goods are wide or long enough
    ONE_LOT = "one-lot"
    PATTERN = "pattern"
    PINS = "pins"  # what the user has fixed in a room


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamRules:
    """Where seams may run. The defaults are common practice unless a source is named.

    `waived` holds the rules that the user has taken out; `without` gives the same rules less one.
    """

    joint_clearance_nm: int = 6 * INCH
    least_breadth_nm: int = 300 * MM
    cross_seams_per_breadth: int = 0
    least_length_nm: int = 1_000 * MM
    cross_seam_stagger_nm: int = 300 * MM
    forced_cross_seams: bool = True  # a breadth longer than the longest roll gets the fewest it needs
    step_nm: int = 300 * MM  # oblique edges become steps no finer than this
    whole_rectangles: bool = False  # no notches: every rough cut is its bounding rectangle
    notch_width_nm: int = 600 * MM  # a notch is worth keeping from this size on
    notch_length_nm: int = 600 * MM
    insert_factor: int = 2  # a cove insert at an outside corner is h wide and this many times h long
    waived: tuple[RuleId, ...] = ()

    def holds(self, rule: RuleId) -> bool:
        """Tell whether `rule` is in force."""
        return rule not in self.waived

    def without(self, rule: RuleId) -> SeamRules:
        """Return these rules less one."""
        return replace(self, waived=tuple(sorted({*self.waived, rule})))


class GoalKind(StrEnum):
    """What is optimized first."""

    BALANCED = "balanced"
    LEAST_ROLL = "least-roll"
    FEWEST_SEAMS = "fewest-seams"
    LEAST_COST = "least-cost"


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """The goal and its settings. Money in the smallest coin.

    Balanced: one seam more is taken only if it saves at least `seam_worth_nm` of roll of the widest made width.
    Least cost adds the three charges to the price of the goods and the cut charges.
    """

    kind: GoalKind = GoalKind.BALANCED
    seam_worth_nm: int = 500 * MM
    charge_per_seam_m: int = 0
    charge_per_cross_seam: int = 0
    charge_per_cut: int = 0
    most_seams: int | None = None  # a cap: seams, cross seams and relief cuts together


class ValueRule(StrEnum):
    """How goods in hand are valued against one another; their book value is money and another thing."""

    BY_SIZE = "by-size"  # a large piece is worth more per area than a small one
    BY_AREA = "by-area"
    NONE = "none"  # goods in hand are not spared


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutRules:
    """Which offcuts are worth keeping, and what goods in hand are worth (see `domain.worth`).

    An offcut is worth keeping where at least one of the sizes fits, either way round. The sizes, and the area of which
    a quarter counts, are common practice.
    """

    sizes_nm: tuple[tuple[int, int], ...] = ((600 * MM, 600 * MM), (300 * MM, 2_000 * MM))
    bench_cuts: bool = False  # across the whole width first, then splits
    value: ValueRule = ValueRule.BY_SIZE
    small_nm2: int = 4 * (1_000 * MM) ** 2  # by size: of the first so much of a piece only a quarter counts
