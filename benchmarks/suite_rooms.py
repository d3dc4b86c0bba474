"""Rooms as they are measured, of our own invention, and how a job file says them; lengths in units of the job."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

WALLS = {
    "": {"south": "south", "east": "east", "north": "north", "west": "west"},
    "south-east": {"south": "wall 1", "east": "wall 4", "north": "wall 5", "west": "wall 6"},
    "south-west": {"south": "wall 1", "east": "wall 2", "north": "wall 3", "west": "wall 4"},
    "north-east": {"south": "wall 1", "east": "wall 2", "north": "wall 5", "west": "wall 6"},
    "north-west": {"south": "wall 1", "east": "wall 2", "north": "wall 3", "west": "wall 6"},
}
"""What the walls of a room are called, by the corner that is missing from it."""

OPPOSITE = {"north": "south", "south": "north"}


@dataclass(slots=True, kw_only=True)
class MeasuredRoom:
    """A rectangle, or an L that lacks `notch` = (across, along) in its corner `missing`; with all that marks it.

    `doors`, `zones` and `lines` are entries of the job file.
    """

    name: str
    across: int
    along: int
    missing: str = ""
    notch: tuple[int, int] = (0, 0)
    doors: list[str] = field(default_factory=list)
    zones: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)

    def wall(self, side: str) -> str:
        """Return what the wall on that side is called."""
        return WALLS[self.missing][side]

    def stretch(self, side: str) -> tuple[int, int]:
        """Return where the south or north wall begins and ends, counted from the room's west side."""
        if not self.missing.startswith(side):
            return 0, self.across
        return (0, self.across - self.notch[0]) if self.missing.endswith("east") else (self.notch[0], self.across)

    def corners(self) -> list[tuple[int, int]]:
        """Return the corners counter-clockwise from the south-west."""
        x, y, (w, h) = self.across, self.along, self.notch
        return {
            "": [(0, 0), (x, 0), (x, y), (0, y)],
            "south-east": [(0, 0), (x - w, 0), (x - w, h), (x, h), (x, y), (0, y)],
            "south-west": [(w, 0), (x, 0), (x, y), (0, y), (0, h), (w, h)],
            "north-east": [(0, 0), (x, 0), (x, y - h), (x - w, y - h), (x - w, y), (0, y)],
            "north-west": [(0, 0), (x, 0), (x, y), (w, y), (w, y - h), (0, y - h)],
        }[self.missing]

    def text(self) -> list[str]:
        """Return the room's lines in the job file."""
        lines = [f"  - name: {self.name}"]
        if self.missing:
            lines.append("    corners: [" + ", ".join(f"[{x}, {y}]" for x, y in self.corners()) + "]")
        else:
            lines.append(f"    rectangle: {self.across} x {self.along}")
        for key, entries in (("doors", self.doors), ("keep out", self.zones)):
            lines += [f"    {key}:", *(f"      - {{{entry}}}" for entry in entries)] if entries else []
        return lines + [f"    {line}" for line in self.lines]


def between(chance: Random, low: int, high: int, step: int) -> int:
    """Return a measure from `low` to `high` on whole steps."""
    return low + step * chance.randrange((high - low) // step + 1)


def with_notch(chance: Random, room: MeasuredRoom, side: str, share: float = 0.35) -> MeasuredRoom:
    """Make the room an L: a corner on `side` is missing, up to about `share` of either way."""
    room.missing = f"{side}-{chance.choice(('east', 'west'))}"
    step = max(1, room.across // 100)
    room.notch = (
        between(chance, room.across // 5, int(room.across * share), step),
        between(chance, room.along // 5, int(room.along * share), step),
    )
    return room


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """Sizes of what is the same everywhere, in the job's unit."""

    door: int
    wall: int  # thickness between two rooms
    jamb: int  # from a room's corner to its door, at least
    step: int  # measures are taken to this


def along_hall(
    chance: Random,
    hall: MeasuredRoom,
    north: list[MeasuredRoom],
    south: list[MeasuredRoom],
    measure: Measure,
    *,
    joined: bool = True,
    recess: str = "",
) -> list[MeasuredRoom]:
    """Put rooms on both sides of a hall that runs east-west, each with a door to it; return hall and rooms.

    The hall is made as long as the longer side. `joined`: every door is the same as that of the hall. `recess`: what is
    said of the depth of the hall's doors.
    """
    reach = 0
    for side, rooms in (("north", north), ("south", south)):
        x = 0
        for room in rooms:
            low, high = room.stretch(OPPOSITE[side])
            start = between(chance, low + measure.jamb, high - measure.jamb - measure.door, measure.step)
            wall = room.wall(OPPOSITE[side])
            text = f"name: to {hall.name}, wall: {wall}, from west: {start - low}, width: {measure.door}"
            if joined:
                hall.doors.append(
                    f"name: to {room.name}, wall: {side}, from west: {x + start}, width: {measure.door}{recess}"
                )
                text += f", joins: {hall.name} / to {room.name}, wall thickness: {measure.wall}"
            room.doors.append(text)
            x += room.across + measure.wall
        reach = max(reach, x - measure.wall)
    hall.across = max(hall.across, reach)
    return [hall, *north, *south]
