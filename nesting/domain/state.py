"""How far a planned job is: what was ordered, delivered, cut, laid and spoiled, by the ids of its plan."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import Point, Rect


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """A roll as it came, where it differs from what was ordered. None: as ordered.

    `lot`: as it stands on the roll. `lot_orderable`: more of that lot can be ordered. `first_mark_nm`: where the first
    pattern mark lies, across and along from the lower left corner, face up. `along_nm`, `across_nm`: the repeat as
    measured. `wound_other_way`: the start of the roll is the other end than was planned. `flaws`: in the roll frame.
    """

    source_id: str
    length_nm: int | None = None
    width_nm: int | None = None
    lot: str | None = None
    lot_orderable: bool = True
    first_mark_nm: Point | None = None
    along_nm: int | None = None
    across_nm: int | None = None
    wound_other_way: bool = False
    flaws: tuple[Rect, ...] = ()
    line: int = 0  # of the state file, for messages


@dataclass(frozen=True, slots=True, kw_only=True)
class FlawFound:
    """A flaw found on a roll or remnant of the plan, in the roll frame."""

    source_id: str
    rect: Rect
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiled:
    """A cut that was made and is of no use as what it was.

    `left`: the rectangles of it that can be used again, from the lower left corner of its bounding rectangle as it lay
    on the roll; (): nothing.
    """

    cut_id: str
    left: tuple[Rect, ...] = ()
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How far a planned job is. The default is a plan of which nothing is done.

    `ordered`: ids of the plan's rolls that are ordered and cannot be changed any more; None: all rolls of a material of
    which anything is delivered, cut, laid, spoiled or flawed. `cut` and `laid` are ids of cuts; what is laid was cut.
    `gone`: ids of offcuts that are not there any more.
    """

    ordered: tuple[str, ...] | None = None
    delivered: tuple[Delivered, ...] = ()
    cut: tuple[str, ...] = ()
    laid: tuple[str, ...] = ()
    spoiled: tuple[Spoiled, ...] = ()
    flaws: tuple[FlawFound, ...] = ()
    gone: tuple[str, ...] = ()
