"""What is done already: cuts that were made. A plan leaves them where and as they are."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.layout import Cut


class CutState(StrEnum):
    """How far a cut is. `Cut.state` holds the value."""

    PLANNED = "planned"
    CUT = "cut"
    LAID = "laid"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneCut:
    """A cut that was made, or is held: as it is, and where it was cut.

    `cut.state` says how far it is: cut or laid; planned where it is only held in its place while the rest is planned.
    `source_id` is a piece in hand. `x_nm`, `y_nm`: lower left corner of its bounding rectangle after `turn`, in the
    roll frame, as in `Placement`.
    """

    cut: Cut
    source_id: str
    x_nm: int
    y_nm: int
    turn: int = 0
