"""How one room is laid: direction, seams, cross seams, and the pieces (cuts) that result."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.geometry import LayDirection, Point, Rect


class AllowanceKind(StrEnum):
    """What bounds a piece along one of its edges."""

    WALL = "wall"
    JAMB = "jamb"
    DOOR = "door"
    HOLE = "hole"
    SEAM_LEFT = "seam-left"  # the piece ends at a seam on its left (lower u)
    SEAM_RIGHT = "seam-right"
    CROSS_LOW = "cross-low"  # the piece begins at a cross seam (lower v)
    CROSS_HIGH = "cross-high"


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """What is left on along one boundary edge of a piece, measured square to it.

    `edge`: index into `Room.outline` for WALL, JAMB and DOOR, into `Room.holes` for HOLE, into `RoomLayout.seams`
    or `.cross_seams` for the seams. `given_nm` < `full_nm` only where the room's least trim allows it.
    """

    kind: AllowanceKind
    edge: int
    full_nm: int
    given_nm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """A line u = `at_nm` across the whole room; `runs` are the stretches (v from, v to) where it lies on the floor."""

    at_nm: int
    runs: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossSeam:
    """A joint of two ends within breadth number `breadth` at v = `at_nm`; runs are (u from, u to) on the floor."""

    breadth: int
    at_nm: int
    runs: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliefCut:
    """A slit from a hole to an edge of the piece, lay frame; counted and sealed like a seam."""

    hole: int
    cut_id: str
    start: Point
    end: Point


class CutKind(StrEnum):
    """What a cut is for."""

    DROP = "drop"
    LOOSE = "loose"
    STRIP = "strip"
    INSERT = "insert"  # at an outside corner of a cove


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One piece to cut from the goods.

    `rects` are disjoint rectangles whose union is the rough cut: for a drop in the lay frame of its room (their
    lower left corner is o_p of the pattern rule), else from (0, 0). A drop covers the part of the floor in breadth
    number `breadth` between the seams, between the cross seams `low` and `high` (indexes into
    `RoomLayout.cross_seams`, None: the end of the floor), that lies inside `rects`.
    """

    id: str
    number: int  # unique in the job, in cutting order, from 1
    kind: CutKind
    owner: str  # id of the room, loose piece or strip
    label: str  # what people call it: "Kitchen 2"
    rects: tuple[Rect, ...]
    breadth: int = 0
    low: int | None = None
    high: int | None = None
    allowances: tuple[Allowance, ...] = ()
    of_item: int = 0  # loose piece: which one of the count; strip: which run
    state: str = "planned"  # a `CutState`


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLayout:
    """The layout of a room. `floor` and `holes` are the room's outlines turned once into the lay frame.

    `floor[i]` is the turned `Room.outline[i]`, to within 2 nm (so that edges meant to be parallel to the lay are so).
    `seams` are in rising order; breadth number b lies between seam b − 1 and seam b.
    """

    room_id: str
    direction: LayDirection
    floor: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()
    seams: tuple[Seam, ...] = ()
    cross_seams: tuple[CrossSeam, ...] = ()
    relief_cuts: tuple[ReliefCut, ...] = ()
