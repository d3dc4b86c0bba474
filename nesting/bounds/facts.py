"""What every lawful layout of a room must cost, whatever its seams: the data that the bounds are made from."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import LayDirection


@dataclass(frozen=True, slots=True, kw_only=True)
class Core:
    """A rectangle of the swept floor that every layout must cut through: `across` × `along`, nm.

    Every layout with seams inside the core gives pieces whose parts in the core span its whole length along and whose
    widths add up to `across` plus one overlap a seam. `whole`: the swept floor is the core, so that pieces also
    round up to the cutting step. `left_nm`: where it begins across, in the lay frame.
    """

    left_nm: int
    across_nm: int
    along_nm: int
    whole: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """One lay direction of a room. Breadths and cross seams count the fewest that any lawful layout has.

    `area_nm2` bounds the rough cuts of every layout in this direction from below, seam allowances included.
    `most_splits`: cross seams that a breadth may have at most, those that the goods force included; None: no limit.
    `extent_nm`: how far the swept floor reaches across and along, so the size of a piece without any seam;
    `least_chord_nm`: what such a piece is at least wide, all stretches together, at every place along it.
    `one_piece`: the goods are wide and long enough for it.
    """

    area_nm2: int
    fewest_breadths: int
    fewest_cross_seams: int
    most_splits: int | None
    core: Core | None
    extent_nm: tuple[int, int]
    least_chord_nm: int
    one_piece: bool
    direction: LayDirection = LayDirection(dx=0, dy=1)

    @property
    def fewest_seams(self) -> int:
        """The fewest seams and cross seams of any lawful layout."""
        return max(self.fewest_breadths - 1 + self.fewest_cross_seams, 0 if self.one_piece else 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFacts:
    """One room: what it needs in each lay direction.

    `group` numbers the rooms that share a phase and a lot; `in_hand`: some of it may be cut from goods in hand, since
    a lot in hand could hold all rooms of the group, or more of it can be ordered. Rooms with the same `arrow` share
    one lay direction.
    """

    room_id: str
    lays: tuple[Lay, ...]
    group: int
    in_hand: bool = True
    arrow: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemFacts:
    """A loose piece, strip or insert: its least area, joints counted apart."""

    item_id: str
    area_nm2: int
    rectangle_nm: tuple[int, int] | None  # rough (across, along) if it is cut in one piece and never turned
