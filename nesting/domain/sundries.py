"""What goes down with the goods: how they are fixed, and the rates, packs and stock lengths of the sundries."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Fixing(StrEnum):
    """How the goods go down."""

    FULL_SPREAD = "full-spread"  # adhesive under all of the sheet
    PERIMETER = "perimeter"  # adhesive along the walls and under the seams
    LOOSE_LAY = "loose-lay"  # held by tape at doors, fixtures and seams
    STRETCHED = "stretched"  # on gripper, over underlay


class SundryKind(StrEnum):
    """The kinds of sundries, in the order of the list."""

    PRIMER = "primer"
    ADHESIVE = "adhesive"
    TAPE = "tape"
    UNDERLAY = "underlay"
    GRIPPER = "gripper"
    SEAM_SEALER = "seam-sealer"
    WELD_ROD = "weld-rod"
    SEAMING_TAPE = "seaming-tape"
    CAULK = "caulk"
    TRANSITION = "transition"
    SKIRTING = "skirting"
    COVE = "cove"
    QUARTER_ROUND = "quarter-round"


TRIMS = (SundryKind.SKIRTING, SundryKind.COVE, SundryKind.QUARTER_ROUND)
"""What runs along the walls."""

IN_LENGTHS = (*TRIMS, SundryKind.TRANSITION, SundryKind.GRIPPER)
"""What may be cut from stock lengths."""

ANYWHERE = (SundryKind.CAULK, SundryKind.TRANSITION, *TRIMS)
"""What does not depend on how the goods go down."""

_GLUED = (SundryKind.PRIMER, SundryKind.ADHESIVE, SundryKind.SEAM_SEALER, SundryKind.WELD_ROD)

CALLED_FOR: dict[Fixing, tuple[SundryKind, ...]] = {
    Fixing.FULL_SPREAD: (*_GLUED, *ANYWHERE),
    Fixing.PERIMETER: (*_GLUED, *ANYWHERE),
    Fixing.LOOSE_LAY: (SundryKind.TAPE, SundryKind.SEAM_SEALER, SundryKind.WELD_ROD, *ANYWHERE),
    Fixing.STRETCHED: (SundryKind.UNDERLAY, SundryKind.GRIPPER, SundryKind.SEAMING_TAPE, *ANYWHERE),
}
"""What the job's own rates are used for, by how a material goes down; what stands at the material always counts."""


class Measure(StrEnum):
    """What an amount is measured in, and the unit that stands for it in the data."""

    AREA = "area"  # nm²
    LENGTH = "length"  # nm
    VOLUME = "volume"  # ml
    WEIGHT = "weight"  # g
    PIECES = "pieces"


GALLON_ML = Fraction(3_785_411_784, 10**6)
"""A US gallon of 231 cubic inches, exactly (NIST Handbook 44, appendix C; from memory)."""
POUND_G = Fraction(45_359_237, 10**5)
"""By the international pound of 1959, exactly."""
FOOT_NM = 304_800_000

UNITS: dict[str, tuple[Measure, Fraction]] = {
    "m2": (Measure.AREA, Fraction(10**18)),
    "sq ft": (Measure.AREA, Fraction(FOOT_NM**2)),
    "sq yd": (Measure.AREA, Fraction(9 * FOOT_NM**2)),
    "ml": (Measure.VOLUME, Fraction(1)),
    "l": (Measure.VOLUME, Fraction(1000)),
    "fl oz": (Measure.VOLUME, GALLON_ML / 128),
    "pt": (Measure.VOLUME, GALLON_ML / 8),
    "qt": (Measure.VOLUME, GALLON_ML / 4),
    "gal": (Measure.VOLUME, GALLON_ML),
    "g": (Measure.WEIGHT, Fraction(1)),
    "kg": (Measure.WEIGHT, Fraction(1000)),
    "oz": (Measure.WEIGHT, POUND_G / 16),
    "lb": (Measure.WEIGHT, POUND_G),
}
"""Units of amounts beside those of length; volumes and weights in US customary ones."""

NOUNS = {
    **{noun: f"{noun}s" for noun in ("piece", "tube", "cartridge", "bottle", "can", "tin", "bucket", "pail", "bag")},
    **{noun: f"{noun}s" for noun in ("roll", "strip", "length", "pack", "set", "sheet")},
    "box": "boxes",
}
"""What is counted in pieces: one, several."""


BASES: dict[SundryKind, tuple[Measure, ...]] = {
    **dict.fromkeys(SundryKind, (Measure.LENGTH,)),
    SundryKind.PRIMER: (Measure.AREA,),
    SundryKind.UNDERLAY: (Measure.AREA,),
    SundryKind.ADHESIVE: (Measure.AREA, Measure.LENGTH),  # along the perimeter by length
}
"""What the rate of a kind is given for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """So much of something, exactly, in the unit of its measure; `text` as it was written ("" for what is reckoned).

    `noun`: what the pieces are, one of `NOUNS`.
    """

    measure: Measure
    quantity: Fraction
    text: str = ""
    noun: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """So much of the product for so much of what it is reckoned from: 8 m² per l is 1 l for 8 m²."""

    product: Amount
    basis: Amount
    text: str = ""


class Walls(StrEnum):
    """Which walls of a room a trim runs along."""

    ALL = "all"
    PLAIN = "plain"  # where the sheet does not run up
    COVED = "coved"  # where it does


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLength:
    """A length that a trim is sold in; `price` in the smallest coin, None: not known."""

    length_nm: int
    price: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sundry:
    """One product: what it is for, how much of it goes where, and how it is sold.

    `material_ids` are the materials that it goes with, `room_ids` the only rooms ((): all), `without` single walls
    (room id, wall) that a trim leaves out. `around`: what is cut out of the floor that it runs around as well, each a
    `HoleKind`; None: as usual for its kind. `price` is that of a pack, in the smallest coin. `band_nm`: adhesive along
    the perimeter and on either side of a seam. `gap_nm` × `depth_nm`: the section of the joint that is caulked.
    `width_nm`: of the underlay. `cove_joints`: the foot of coved walls is welded too, as cove and floor are cut apart.
    """

    kind: SundryKind
    name: str
    material_ids: tuple[str, ...]
    rate: Rate | None = None
    pack: Amount | None = None
    price: int | None = None
    waste: Fraction = Fraction(0)
    room_ids: tuple[str, ...] = ()
    walls: Walls | None = None
    without: tuple[tuple[str, str], ...] = ()
    around: tuple[str, ...] | None = None
    band_nm: int | None = None
    gap_nm: int | None = None
    depth_nm: int | None = None
    width_nm: int | None = None
    cove_joints: bool = False
    lengths: tuple[StockLength, ...] = ()
    kerf_nm: int = 0
    joints: bool = True  # a run longer than the longest stock length may be joined
    least_joint_nm: int = 300_000_000  # no piece of a joined run shorter
    line: int = 0  # of the job file, for messages


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidHow:
    """How one material goes down. `loose_up_to_nm2`: the largest floor that may lie loose, None: the usual limit.

    `left_out`: kinds that are not wanted on the list.
    """

    material_id: str
    fixing: Fixing = Fixing.FULL_SPREAD
    loose_up_to_nm2: Fraction | None = None
    left_out: tuple[SundryKind, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sundries:
    """What a job says about its sundries. The default says nothing: full spread, and no rate is known."""

    laid: tuple[LaidHow, ...] = ()
    products: tuple[Sundry, ...] = ()

    def laid_how(self, material_id: str) -> LaidHow:
        """Return how a material goes down."""
        return next((how for how in self.laid if how.material_id == material_id), LaidHow(material_id=material_id))
