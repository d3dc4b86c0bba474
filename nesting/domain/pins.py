"""What the user has decided is fixed: pinned seams, layouts, goods and lots, and caps on the seams of a room."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import LayDirection, Point


@dataclass(frozen=True, slots=True, kw_only=True)
class PinnedSeam:
    """A line in the floor frame along which the room is laid, with one of its seams on it.

    Turned into the lay frame, both ends are within half a cutting step of the seam.
    """

    name: str  # what people call it: "a seam 1.2 m from north"
    start: Point
    end: Point
    line: int = 0  # of the job file, for messages


@dataclass(frozen=True, slots=True, kw_only=True)
class PinnedLayout:
    """A room's layout from an earlier plan: seams at u, cross seams as (breadth, v), both in rising order."""

    direction: LayDirection
    seams_nm: tuple[int, ...]
    cross_seams_nm: tuple[tuple[int, int], ...] = ()
    plan: str = ""  # the file it came from
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomPins:
    """What is fixed in one room. None and (): nothing; the lay direction stands in `Room.lays`.

    `most_seams` counts seams, cross seams and relief cuts. `sources` are ids of goods in hand: the room is cut from
    these and nothing else. `phase_nm`: φ of its phase group, where something of the group is cut. The lines are those
    of the job file.
    """

    seams: tuple[PinnedSeam, ...] = ()
    layout: PinnedLayout | None = None
    most_seams: int | None = None
    sources: tuple[str, ...] = ()
    phase_nm: Point | None = None
    most_seams_line: int = 0
    sources_line: int = 0
    lay_line: int = 0

    @property
    def any(self) -> bool:
        """Tell whether anything is fixed besides the lay direction."""
        return bool(self.seams or self.sources) or self.layout is not None or self.most_seams is not None

    def said(self) -> tuple[str, ...]:
        """Return what is fixed, in words."""
        words = [seam.name for seam in self.seams]
        if self.layout is not None:
            words.append(f"the layout of {self.layout.plan or 'an earlier plan'}")
        if self.most_seams is not None:
            many = f"at most {self.most_seams} seam{'s' if self.most_seams > 1 else ''}"
            words.append(many if self.most_seams else "no seam")
        if self.sources:
            words.append(f"cut from {' and '.join(self.sources)}")
        return tuple(words)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneLot:
    """Rooms (ids) that are cut from one lot although nothing else binds them together."""

    rooms: tuple[str, ...]
    line: int = 0
