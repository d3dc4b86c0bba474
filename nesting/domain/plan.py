"""The plan: everything needed to draw, check, price and plan again, without the solver."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.geometry import Point, Rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.rules import RuleId

PLAN_FORMAT = 1


class SourceKind(StrEnum):
    """Where pieces are cut from."""

    ORDER = "order"  # a roll to order
    ROLL = "roll"  # a roll in hand
    REMNANT = "remnant"


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSource:
    """One roll or remnant that the plan cuts from. Roll frame: x from the left edge, y from the physical start.

    An ordered roll: `length_nm` is what is ordered; its first `start_allowance_nm` (squaring, plus the starting
    allowance where the phase matters) carries no piece. `used_nm` is from the end of the start allowance to the far
    end of the last piece. `phase_nm` is σ at (0, 0): as known, or as assumed for goods not unrolled yet
    (`phase_known` False), None for goods without a pattern. `anchored`: the goods' unknown phase is bound by a placed
    pattern or by another source, so the roll lost a starting allowance along (and `phase_loss_nm` across).
    """

    id: str
    kind: SourceKind
    width_nm: int  # as made, selvedge included
    length_nm: int
    lot: str
    start_allowance_nm: int = 0
    used_nm: int = 0
    phase_nm: Point | None = None
    phase_known: bool = False
    anchored: bool = False
    phase_loss_nm: Point = (0, 0)  # across, along: taken off the right and far sides for an unknown phase
    flaws: tuple[Rect, ...] = ()
    gone: tuple[Rect, ...] = ()  # cut away before
    stock_id: str = ""
    cost: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where a cut lies: lower left corner of its bounding rectangle after `turn` quarter turns counter-clockwise."""

    cut_id: str
    source_id: str
    x_nm: int
    y_nm: int
    turn: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseGroup:
    """Rooms that share one phase φ, in their common lay frame. `placed`: fixed by the user's wish or by what is cut."""

    room_ids: tuple[str, ...]
    phase_nm: Point
    placed: bool = False


class OffcutUse(StrEnum):
    """What becomes of an offcut."""

    SHOP = "shop"  # back to the rack
    CLIENT = "client"  # stays for repairs


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """A rectangle worth keeping, in the roll frame of its source, with the phase at its own lower left corner."""

    id: str
    source_id: str
    rect: Rect
    use: OffcutUse
    lot: str
    phase_nm: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """What to order: one roll of one width."""

    source_id: str
    width_nm: int
    length_nm: int
    lot: str
    cost: int
    repeat_tolerance_nm: int = 0  # patterned goods: the length to allow for a repeat that runs off


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Where the goods go, in nm²: the parts add up to `goods_nm2` exactly.

    goods = all sources in full, less what is gone from them; floor cover = the floors covered; allowances = rough
    cuts less floors; offcuts = kept; start = start allowances across the whole width; waste = the rest.
    """

    goods_nm2: int
    pieces_nm2: int
    offcuts_nm2: int
    start_nm2: int
    waste_nm2: int
    floor_nm2: int  # part of pieces: the floor area itself (rounded down), for information


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What the goal is made of. Lengths per made width; seams without cross seams and relief cuts."""

    ordered_nm: tuple[tuple[int, int], ...]  # (made width, ordered length), widths rising
    used_nm: tuple[tuple[int, int], ...]  # (made width, length used of ordered rolls)
    roll_nm2: int  # Σ ordered length × made width
    seams: int
    cross_seams: int
    relief_cuts: int
    seam_length_nm: int  # seams, cross seams and relief cuts, cove runs included
    joins: int  # joints within loose pieces and strips
    cuts: int
    goods_cost: int
    total_cost: int  # goods, cut charges, book values and, for least cost, the charges of the goal
    leftover_nm2: int  # offcuts kept
    rack_nm2: int | None = (
        None  # value of goods in hand used up (`domain.worth`); None: of a plan that knew no such rule
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """How a computed bound recomputes: a named kind and its whole-number terms in a fixed order."""

    kind: str
    value: int
    terms: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A lower bound for one level of the goal, the better levels at their attained values.

    `by_search`: proved by the solver's search, with no certificate that recomputes. `cut`: what the bound comes from,
    in words: the area, the widths side by side, …
    """

    level: str  # name of the measure
    value: int
    attained: int
    by_search: bool = False
    certificate: Certificate | None = None
    cut: str = ""

    @property
    def proved(self) -> bool:
        """Tell whether the plan attains the bound."""
        return self.value == self.attained


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something that the user must know: less trim, a rule that costs roll, a wide opening."""

    code: str
    text: str
    room_id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """A rule that the plan does not keep, and by how much: needs the user's consent before anything is ordered."""

    rule: RuleId
    owner: str
    text: str
    by_nm: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ByHand:
    """What the hand method would order for the same job, computed: a measure beside the plan.

    `seams` counts seams, cross seams, relief cuts and joins; `cost` is the total that the plan's own stands against.
    """

    ordered_nm: tuple[tuple[int, int], ...]  # (made width, ordered length), widths rising
    seams: int
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialPlan:
    """The plan of one material; materials share nothing."""

    material_id: str
    layouts: tuple[RoomLayout, ...]
    cuts: tuple[Cut, ...]
    sources: tuple[CutSource, ...]
    placements: tuple[Placement, ...]
    phase_groups: tuple[PhaseGroup, ...]
    offcuts: tuple[Offcut, ...]
    order: tuple[OrderLine, ...]
    account: Account
    measures: Measures
    bounds: tuple[Bound, ...]
    bound_considered: int  # level 1, for the layouts looked at; never called proven
    notices: tuple[Notice, ...] = ()
    stop: str = "effort spent"  # or "proved", "stopped by hand", "stopped by time"
    by_hand: ByHand | None = None  # None: not by the rules, or the hand method finds no plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan with the job it is for."""

    job: Job
    materials: tuple[MaterialPlan, ...]
    seed: int
    effort: int
    versions: tuple[tuple[str, str], ...]  # of the program and of what it computes with
    consents: tuple[Consent, ...] = ()  # not empty: NOT BY THE RULES, nothing is ordered
    format: int = PLAN_FORMAT

    @property
    def by_the_rules(self) -> bool:
        """Tell whether every rule of the job is kept."""
        return not self.consents


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why there is no plan: which room or piece, which rule, by how much."""

    owner: str
    rule: RuleId
    text: str
    by_nm: int = 0
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What planning gives: a plan, or the reasons why there is none by the rules, with the nearest plan if any."""

    plan: Plan | None
    refusals: tuple[Refusal, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """Something that the checker found. `rule` is the checker's rule number, V1 to V6 with a letter."""

    rule: str
    where: str
    text: str
