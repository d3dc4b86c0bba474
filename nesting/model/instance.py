"""The engine's input: pieces, alternatives, phase groups and sources. It knows no rooms.

All lengths are whole *units*; `unit_nm` says how many nanometres a unit is (a Fraction: the common step of the cutting
step, the repeats and the drop). Everything that is needed was rounded up to it, everything that there is rounded down.
x runs across, y along.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

Box = tuple[int, int, int, int]
"""(x0, y0, x1, y1) in units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """The pattern in units: spanned by (across, drop) and (0, along). `across` None: x is free, drop is 0."""

    along: int
    across: int | None = None
    drop: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece to place. `boxes` are disjoint, their bounding box has its lower left corner at (0, 0).

    `turns`: quarter turns counter-clockwise that are allowed; turned boxes are moved back to (0, 0).
    `offset` is o_p, the piece's corner in the lay frame of its group; `group` None: no pattern binds it.
    `inset_left`, `inset_right`: least distance from the source's edges (selvedge that would come into a seam), as it
    lies at turn 0; a half turn swaps them.
    """

    id: str
    boxes: tuple[Box, ...]
    turns: tuple[int, ...] = (0,)
    offset: tuple[int, int] = (0, 0)
    group: int | None = None
    inset_left: int = 0
    inset_right: int = 0

    @property
    def width(self) -> int:
        """Extent across at turn 0."""
        return max(box[2] for box in self.boxes)

    @property
    def length(self) -> int:
        """Extent along at turn 0."""
        return max(box[3] for box in self.boxes)

    @property
    def area(self) -> int:
        """Area of the union, square units."""
        return sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in self.boxes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to make a choice: its pieces and what it costs besides roll.

    `seams` counts seams, cross seams and relief cuts; `seam_length` is in units; `dislike` prices the preferences
    (across traffic, in view, …) and only breaks ties. `order_width`: the made width of ordered rolls that the option
    may use (units, None: any). `arrow`: the lay direction's number, for arrow groups. `phase`: φ across and along
    of its phase group where it is fixed (None: free); all options taken that share a group must agree.
    `order`: pairs of piece indexes (i, j): i comes before j along one and the same source (y_i + length_i ≤ y_j for
    pieces whose x-ranges could not lie side by side, else y_i ≤ y_j).
    `tag`: opaque to the engine, for whoever made the instance to find the layout again.
    """

    pieces: tuple[Piece, ...]
    seams: int = 0
    seam_length: int = 0
    dislike: int = 0
    cost: int = 0
    order_width: int | None = None
    arrow: int | None = None
    phase: tuple[int | None, int | None] = (None, None)
    order: tuple[tuple[int, int], ...] = ()
    tag: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Something that must be covered in exactly one of several ways: a room, a loose piece, a strip.

    `lot_group`: choices with the same number are cut from one lot (None: any lots).
    `arrow_group`: choices with the same number take options with the same arrow. `sources`: ids of the sources that it
    may be cut from (None: any).
    """

    id: str
    options: tuple[Option, ...]
    lot_group: int | None = None
    arrow_group: int | None = None
    sources: frozenset[str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTerms:
    """How an ordered roll is rounded: ordered = max(minimum, ⌈(start + used)/step⌉·step), units.

    `start` is the squaring allowance; `anchor_along` is added when the roll's phase matters (None: then forbidden),
    `anchor_across` is taken off its width then. `whole`: the roll is ordered in full whatever is used.
    """

    step: int = 1
    minimum: int = 0
    start: int = 0
    anchor_along: int | None = 0
    anchor_across: int = 0
    whole: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """How a piece in hand is valued on the rack (`domain.worth`): `begun`, `keep_from` in units, `small` square units.

    Up to `begun` it counts as cut into before; what is left of it counts from the length `keep_from` on, and of its
    first `small` only a quarter.
    """

    begun: int = 0
    keep_from: int = 0
    small: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A roll or remnant. `width` and `length` are what there is (for an order: the longest that can be ordered).

    `blocked`: flaws. `phase`: σ at the origin, units; None: unknown. A source of unknown phase serves freely as long
    as every phase group that uses it is free and uses nothing else; otherwise it is *anchored* and loses
    `loss` = (across, along) of its size (an order: see its terms). `across` overrides the lattice's repeat across for
    goods known by their match at the side seam, whose pitch depends on the width. Orders of one (lot, width) are
    interchangeable: use them in the order given. `cost_per_unit` and `cost` are money in the smallest coin,
    `cost_per_unit` exact. `worth`: what a piece in hand is worth on the rack (None: it is not spared).
    """

    id: str
    width: int
    length: int
    lot: str
    made_width: int = 0  # the made width that measures count, units; 0: `width`
    blocked: tuple[Box, ...] = ()
    phase: tuple[int, int] | None = None
    loss: tuple[int, int] = (0, 0)
    across: int | None = None
    terms: OrderTerms | None = None  # None: in hand
    cost_per_unit: Fraction = Fraction(0)
    cost: int = 0
    worth: Worth | None = None


def may_use(choice: Choice, source: Source) -> bool:
    """Tell whether a choice may be cut from a source as far as its own list goes."""
    return choice.sources is None or source.id in choice.sources


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """The goal as the engine sees it: level by level, each a weighted sum of measures, whole numbers.

    A level is (weight of Σ ordered length × made width, of Σ used length × made width of ordered rolls, of seams,
    of seam length, of money, of dislike, of pieces). Lower is better; the first level counts first. `rack`: number of
    the level that also counts the value of goods in hand that is used up (None: none does).
    """

    levels: tuple[tuple[int, int, int, int, int, int, int], ...]
    most_seams: int | None = None
    rack: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """A whole problem. `lattice` None: no pattern. `orders_of_one_lot`: all orders used must share one lot.

    `bench_cuts`: every source is first cut across its whole width, then each such length is split along its
    whole length, then each split across.
    """

    unit_nm: Fraction
    choices: tuple[Choice, ...]
    sources: tuple[Source, ...]
    weights: Weights
    lattice: Lattice | None = None
    orders_of_one_lot: bool = True
    bench_cuts: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a piece of the chosen option lies, units; `piece` is its index in the option."""

    piece: int
    source: int
    x: int
    y: int
    turn: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """A complete solution: per choice the option taken and the spots of its pieces, in the option's order.

    y counts from the physical start of the source; in an order no piece lies below `start` (+ `anchor_along`).
    The pattern coordinate of an order's y is y − start − anchor_along (σ = (0, 0) at the end of the allowance).
    """

    options: tuple[int, ...]
    spots: tuple[tuple[Spot, ...], ...]
    anchored: tuple[bool, ...]  # per source


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """What a solution costs: the levels of the goal, and the measures behind them."""

    levels: tuple[int, ...]
    ordered: tuple[int, ...]  # per source, units (0: unused or in hand)
    used: tuple[int, ...]  # per source, units from the end of the start allowance
