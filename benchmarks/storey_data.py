"""Storeys as drawn: read from a file of rooms in millimetres, cleaned, with everything that was done to them noted.

The form: a list of `{name, storey, units: "mm", rooms: [{name, outline: [[x, y], …], holes: [outline, …],
doors: [[x0, y0, x1, y1], …]}]}`; other keys are not looked at. Drawn data are messy: corners twice or in a row,
outlines clockwise, doors beside their wall, names twice. What can be mended is mended, what cannot be is left out;
both are said.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nesting.domain.geometry import Point
from nesting.errors import Fault, JobError
from nesting.files.outline import Segment, cross, first_crossing, length_of, position_along, segments, twice_area

SAME_CORNER_MM = 3
"""Corners closer than this are one corner."""
STRAIGHT_MM = 1
"""A corner so near to the line between its neighbours is none."""
FARTHEST_DOOR_MM = 350
"""A door drawn so far beside a wall may still be meant for it: walls are thick."""
LEAST_DOOR_MM = 400
LARGEST_FILE_BYTES = 50_000_000
FARTHEST_MM = 5_000_000
"""No storey reaches farther than 5 km from its origin."""
SCALES_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnDoor:
    """A door on a wall: number of the wall, from its start (the right end as seen from inside), millimetres."""

    wall: int
    start_mm: int
    width_mm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRoom:
    """A room as drawn, cleaned: outline counter-clockwise, whole millimetres."""

    name: str
    outline: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()
    doors: tuple[DrawnDoor, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Storey:
    """The rooms of one storey, and what was mended or left out."""

    name: str
    rooms: tuple[DrawnRoom, ...]
    remarks: tuple[str, ...] = ()


@dataclass(slots=True)
class _Remarks:
    where: str
    found: list[str] = field(default_factory=list)

    def add(self, text: str) -> None:
        self.found.append(f"{self.where}: {text}")


def read_storeys(path: Path) -> tuple[Storey, ...]:
    """Return the storeys of the file at `path`.

    Raises
    ------
    JobError
        If the file cannot be read or is not of this form at all. Faults of single rooms become remarks.
    """
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise _refused(path, "the file is larger than 50 MB")
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise _refused(path, error.strerror or "the file cannot be read") from None
    except (ValueError, RecursionError) as error:
        raise _refused(path, f"this is not JSON: {error}") from None
    items = data if isinstance(data, list) else [data]
    if not items or not all(isinstance(item, dict) and isinstance(item.get("rooms"), list) for item in items):
        raise _refused(path, "a list of storeys, each with `rooms`, is expected")
    return tuple(storey_of(item, number) for number, item in enumerate(items, 1))


def _refused(path: Path, what: str) -> JobError:
    return JobError([Fault(code="bad-storeys", what=what, file=str(path))])


def storey_of(item: dict[str, Any], number: int = 1) -> Storey:
    """Return one storey, cleaned."""
    name = _clean_text(" ".join(str(item[key]) for key in ("name", "storey") if item.get(key))) or f"storey {number}"
    remarks: list[str] = []
    scale = SCALES_MM.get(str(item.get("units", "mm")).strip().lower())
    if scale is None:
        return Storey(name=name, rooms=(), remarks=(f"units {item.get('units')!r} are not known: left out",))
    rooms: list[DrawnRoom] = []
    taken: set[str] = set()
    for index, raw in enumerate(item["rooms"], 1):
        given = _clean_text(str(raw.get("name") or "")) if isinstance(raw, dict) else ""
        unique = _unique(given or f"room {index}", taken)
        noted = _Remarks(unique)
        if given and unique != given:
            noted.add(f"another room is called {given!r} too: renamed")
        room = _room(raw, unique, scale, noted)
        if room is not None:
            rooms.append(room)
        remarks += noted.found
    return Storey(name=name, rooms=tuple(rooms), remarks=tuple(remarks))


def _clean_text(text: str) -> str:
    """Return `text` without signs that cannot be printed, single spaces, at most 60 letters."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:60].strip()


def short_id(name: str) -> str:
    """Return a name as an id: lower case letters and digits with hyphens."""
    return "-".join("".join(sign if sign.isascii() and sign.isalnum() else " " for sign in name.lower()).split())


def _unique(name: str, taken: set[str]) -> str:
    """Return `name`, with a number if a room's name makes the same id; adds it to `taken`."""
    number, out = 1, name
    while (short_id(out) or "room") in taken:
        number += 1
        out = f"{name} ({number})"
    taken.add(short_id(out) or "room")
    return out


def _room(raw: Any, name: str, scale: float, noted: _Remarks) -> DrawnRoom | None:
    if not isinstance(raw, dict):
        noted.add("this is no room: left out")
        return None
    outline = _outline(raw.get("outline"), scale, noted, "the outline")
    if outline is None:
        return None
    holes = []
    for number, hole in enumerate(_listed(raw.get("holes"), noted, "the holes"), 1):
        clean = _outline(hole, scale, noted, f"hole {number}")
        if clean is not None:
            holes.append(clean)
    doors: list[DrawnDoor] = []
    for number, door in enumerate(_listed(raw.get("doors"), noted, "the doors"), 1):
        placed = _door(door, outline, scale, noted, f"door {number}")
        if placed is not None and _is_free(placed, doors, noted, f"door {number}"):
            doors.append(placed)
    return DrawnRoom(name=name, outline=outline, holes=tuple(holes), doors=tuple(doors))


def _listed(value: Any, noted: _Remarks, what: str) -> list[Any]:
    if value is None or isinstance(value, list):
        return value or []
    noted.add(f"{what} are no list: left out")
    return []


def _numbers(value: Any, count: int, scale: float) -> tuple[int, ...] | None:
    """Return `count` numbers as whole millimetres, None if `value` is anything else."""
    if not isinstance(value, list) or len(value) != count:
        return None
    if not all(isinstance(number, int | float) and not isinstance(number, bool) for number in value):
        return None
    if not all(math.isfinite(number) and abs(number * scale) <= FARTHEST_MM for number in value):
        return None
    return tuple(round(number * scale) for number in value)


def _outline(value: Any, scale: float, noted: _Remarks, what: str) -> tuple[Point, ...] | None:
    """Return an outline counter-clockwise, without corners that are none, or None with a remark."""
    points = [_numbers(point, 2, scale) for point in value] if isinstance(value, list) else []
    if not points or any(point is None for point in points):
        noted.add(f"{what} is no list of points: left out")
        return None
    drawn = [(point[0], point[1]) for point in points if point is not None]
    clean = _without_idle_corners(drawn)
    if len(clean) < 3 or not twice_area(tuple(clean)):
        noted.add(f"{what} encloses nothing: left out")
        return None
    met = first_crossing(tuple(clean))
    if met is not None:
        noted.add(f"{what} crosses or touches itself near {clean[met[0]]}: left out")
        return None
    closed_twice = len(drawn) > 1 and drawn[0] == drawn[-1]
    if len(clean) < len(drawn) - closed_twice:
        noted.add(f"{what}: {len(drawn) - closed_twice - len(clean)} corners that are none taken out")
    return tuple(clean if twice_area(tuple(clean)) > 0 else clean[::-1])


def _without_idle_corners(points: list[Point]) -> list[Point]:
    """Return the corners less those that stand twice, lie on a straight wall or at the tip of a spike."""
    clean = list(points)
    index = 0
    since_change = 0
    while len(clean) > 2 and since_change < len(clean):
        index %= len(clean)
        before, here, after = clean[index - 1], clean[index], clean[(index + 1) % len(clean)]
        if _is_idle(before, here, after):
            del clean[index]
            index, since_change = max(0, index - 1), 0
        else:
            index, since_change = index + 1, since_change + 1
    return clean


def _is_idle(before: Point, here: Point, after: Point) -> bool:
    if math.dist(before, here) < SAME_CORNER_MM:
        return True
    base = math.dist(before, after)
    if base < SAME_CORNER_MM:
        return True  # out and back: a spike
    # Nearly on the line: between its neighbours it is no corner, beyond one of them it is the tip of a spike. Either
    # way the outline loses nothing.
    return abs(cross(before, after, here)) <= STRAIGHT_MM * base


def _door(value: Any, outline: tuple[Point, ...], scale: float, noted: _Remarks, what: str) -> DrawnDoor | None:
    """Return a door put onto the wall that it was drawn at."""
    numbers = _numbers(value, 4, scale)
    if numbers is None:
        noted.add(f"{what} is no segment: left out")
        return None
    drawn: Segment = ((numbers[0], numbers[1]), (numbers[2], numbers[3]))
    if length_of(drawn) < LEAST_DOOR_MM:
        noted.add(f"{what} is {length_of(drawn)} mm wide: left out")
        return None
    found = list(_places(drawn, outline))
    if not found:
        noted.add(f"{what} lies at no wall: left out")
        return None
    off, short, door = min(found, key=lambda place: (place[0] + place[1], place[2].wall))
    if off > SAME_CORNER_MM:
        noted.add(f"{what} was drawn {off} mm beside wall {door.wall}: put onto it")
    if short > SAME_CORNER_MM:
        noted.add(f"{what} reached {short} mm beyond wall {door.wall}: made narrower")
    return door


def _places(drawn: Segment, outline: tuple[Point, ...]) -> Iterator[tuple[int, int, DrawnDoor]]:
    """Yield the walls that a door may be meant for: how far off, how much too wide, and the door on that wall."""
    width = length_of(drawn)
    for number, wall in enumerate(segments(outline), 1):
        ends = [position_along(wall, point) for point in drawn]
        if abs(ends[0][1] - ends[1][1]) * 10 > width or max(abs(out) for _, out in ends) > FARTHEST_DOOR_MM:
            continue
        start = max(0, min(along for along, _ in ends))
        end = min(length_of(wall), max(along for along, _ in ends))
        if end - start >= LEAST_DOOR_MM and 2 * (end - start) >= width:
            off = max(abs(out) for _, out in ends)
            yield off, width - (end - start), DrawnDoor(wall=number, start_mm=start, width_mm=end - start)


def _is_free(door: DrawnDoor, doors: list[DrawnDoor], noted: _Remarks, what: str) -> bool:
    for other in doors:
        apart = door.start_mm >= other.start_mm + other.width_mm or other.start_mm >= door.start_mm + door.width_mm
        if other.wall == door.wall and not apart:
            noted.add(f"{what} lies over another one on wall {door.wall}: left out")
            return False
    return True
