"""What is ordered and what lies in the shop."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from nesting.domain.geometry import Point, Rect


class Turning(StrEnum):
    """Whether a piece may be turned end for end (half a turn) against its room's lay."""

    NEVER = "never"
    FREE = "free"
    ALTERNATE = "alternate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """The lattice of the goods in the roll frame, spanned by (across, drop) and (0, along).

    `across_nm` None: the goods do not vary across, x is free and `drop_nm` is 0. `drop_nm` is how far the motif
    one repeat to the right sits further along (+y); a Fraction, since a third of a repeat need not be whole.
    A congruence with a drop that is not whole uses floor(m·drop) for m repeats across.
    `at_seam`: known only by the match at the side seam; `across_nm` is then the pitch (usable width − overlap)
    of a roll of the first made width and is taken anew for each made width.
    """

    along_nm: int
    across_nm: int | None = None
    drop_nm: Fraction = Fraction(0)
    at_seam: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale:
    """How a material is sold. Money in the smallest coin, per metre of roll or per square metre as exact fractions."""

    order_step_nm: int = 1
    minimum_cut_nm: int = 0
    whole_rolls: bool = False  # ordered in whole rolls of the longest length made
    cut_charge: int = 0
    price_per_m: tuple[Fraction, ...] | None = None  # one price per made width, same order as Material.widths_nm
    price_per_m2: Fraction | None = None
    lot_limit_nm: int | None = None  # the longest supply of one lot, all rolls of a width together


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One material: roll widths made, pattern, turning, weight, price, how it is sold."""

    id: str
    name: str
    widths_nm: tuple[int, ...]  # made widths, selvedge included
    longest_nm: int | None = None  # longest roll made; None: unlimited
    sale: Sale = Sale()
    selvedge_nm: int = 0  # each edge
    pattern: Pattern | None = None
    turning: Turning = Turning.NEVER
    directed: bool = True  # the arrow matters, not only the axis
    in_sequence: bool = False
    seam_lines_across_nm: tuple[int, ...] = ()  # offsets within the repeat across for side seams; (): anywhere
    seam_lines_along_nm: tuple[int, ...] = ()  # offsets within the repeat along for cross seams; (): anywhere
    seam_overlap_nm: int = 0
    cutting_step_nm: int = 5_000_000
    weight_g_per_m2: Fraction | None = None
    squaring_nm: int = 50_000_000  # lost at the start of every ordered roll
    starting_allowance_nm: int | None = None  # up to the first pattern mark; None: one repeat along; 0: forbidden
    repeat_tolerance: Fraction = Fraction(1, 100)
    orders_allowed: bool = True  # False: only what is in hand


class StockKind(StrEnum):
    """What a piece in hand is."""

    ROLL = "roll"
    REMNANT = "remnant"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPiece:
    """A roll or remnant in hand.

    `phase_nm` is the pattern's phase σ at the piece's origin (lower left, face up): the first pattern mark lies at
    (−σ_x mod across, −σ_y mod along); None: unknown. `phase_assumed`: it was never measured, but is what the cuts on
    the roll were planned with, so it holds beside these and the roll's own offcuts, not beside other goods. `flaws`
    are rectangles in the roll frame; `gone` are disjoint rectangles of it that are not there any more, because they
    were cut away. `lot` None: a lot of its own.
    """

    id: str
    material_id: str
    kind: StockKind
    width_nm: int
    length_nm: int
    lot: str | None = None
    lot_orderable: bool = False
    flaws: tuple[Rect, ...] = ()
    gone: tuple[Rect, ...] = ()
    phase_nm: Point | None = None
    phase_assumed: bool = False
    book_value: int = 0  # charged whole when any of it is used; smallest coin
    place: str = ""
    on_rack: bool = False  # a piece of the shop's rack, which reserves and books it
