"""The floor of a room as it was measured: a rectangle, a walk, corners, or four sides and a diagonal."""

from __future__ import annotations

import re
from fractions import Fraction
from math import isqrt

from nesting.domain.geometry import Point
from nesting.domain.job import Edge
from nesting.files.faults import Faults
from nesting.files.outline import Ring, Segment, beside, first_crossing, length_of, twice_area
from nesting.files.room_entries import RoomEntry, SidesEntry
from nesting.files.yaml_tree import Loc
from nesting.units import LONGEST_NM, UnitError, format_length, half_up, parse_bearing, parse_length, walk_vector

MOST_CORNERS = 2_000
_STEP = re.compile(
    r"(?P<way>bearing\s+\S+|-?[\d.]+\s*(?:°|deg\w*)|(?:north|south)(?:[\s-]?(?:east|west))?|[a-z]+)\s*[,:]?\s+(?P<far>.+)",
    re.IGNORECASE,
)


def floor_of(entry: RoomEntry, loc: Loc, faults: Faults, *, unit: str, tolerance_nm: int, room_id: str) -> Ring | None:
    """Return the room's outline as measured, counter-clockwise, every edge with the name of its wall."""
    given = [name for name in ("rectangle", "walk", "corners", "sides") if getattr(entry, name) is not None]
    if len(given) != 1:
        what = "the floor is missing" if not given else f"the floor is given twice: {' and '.join(given)}"
        faults.add(loc, "no-floor", what, "give one of rectangle, walk, corners, sides")
        return None
    if entry.rectangle is not None:
        width, length = entry.rectangle
        return _ring(((0, 0), (width, 0), (width, length), (0, length)), ("south", "east", "north", "west"))
    inner = (*loc, given[0])
    if entry.sides is not None:
        return _quadrilateral(entry.sides, inner, faults, unit=unit, tolerance_nm=tolerance_nm)
    if entry.corners is not None:
        points = (
            entry.corners[:-1] if len(entry.corners) > 3 and entry.corners[0] == entry.corners[-1] else entry.corners
        )
        return _checked(points, [f"wall {i + 1}" for i in range(len(points))], inner, faults)
    return _Walk(entry, inner, faults, unit, tolerance_nm, room_id).ring()


def _ring(points: tuple[Point, ...], names: tuple[str, ...] | list[str]) -> Ring:
    return Ring(points, tuple(Edge(wall=name) for name in names))


def _checked(points: list[Point], names: list[str], loc: Loc, faults: Faults) -> Ring | None:
    """Return the ring through `points`, turned counter-clockwise, if it is one; `names[i]` is the wall from point i."""
    if len(points) < 3:
        faults.add(loc, "too-few-walls", "a floor has at least three walls")
        return None
    if len(points) > MOST_CORNERS:
        faults.add(loc, "too-large", f"more than {MOST_CORNERS} corners")
        return None
    double = [name for i, name in enumerate(names) if name.lower() in (other.lower() for other in names[:i])]
    if double:
        faults.add(loc, "name-twice", f"two walls are called {double[0]!r}", "give each wall a name of its own")
        return None
    met = first_crossing(tuple(points))
    if met is not None:
        what = f"the outline crosses or touches itself: {names[met[0]]} and {names[met[1]]}"
        faults.add(loc, "self-crossing", what, "check the order of the corners and the directions of these walls")
        return None
    if twice_area(tuple(points)) < 0:
        points = points[::-1]
        names = [*names[-2::-1], names[-1]]
    return _ring(tuple(points), names)


def _quadrilateral(entry: SidesEntry, loc: Loc, faults: Faults, *, unit: str, tolerance_nm: int) -> Ring | None:
    """Return the quadrilateral of four sides and the diagonal south-west to north-east."""
    south, east, north, west, diagonal = entry.south, entry.east, entry.north, entry.west, entry.diagonal
    for first, second, names in ((south, east, "south and east"), (north, west, "north and west")):
        if first + second <= diagonal or abs(first - second) >= diagonal:
            what = f"sides {names} and the diagonal make no triangle"
            faults.add(loc, "sides-impossible", what, "check these three measures")
            return None
    base = ((0, 0), (south, 0))
    corner_ne = _apex(base, diagonal, east, left=True)
    corner_nw = _apex(((0, 0), corner_ne), west, north, left=True)
    if entry.other_diagonal is not None:
        off = length_of((base[1], corner_nw)) - entry.other_diagonal
        if abs(off) > tolerance_nm:
            shown = format_length(abs(off), unit, with_unit=True)
            what = (
                f"the other diagonal is {shown} {'shorter' if off > 0 else 'longer'} than the other five measures say"
            )
            faults.add((*loc, "other diagonal"), "diagonal-off", what, "measure both diagonals again")
            return None
    return _checked([(0, 0), (south, 0), corner_ne, corner_nw], ["south", "east", "north", "west"], loc, faults)


def _apex(base: Segment, from_start: int, from_end: int, *, left: bool) -> Point:
    """Return the third corner of a triangle on `base` from its two other sides, to the nearest nanometres."""
    length = length_of(base)
    along = Fraction(length**2 + from_start**2 - from_end**2, 2 * length)
    height = isqrt(int(from_start**2 - along**2))
    return beside(base, half_up(along), -height if left else height)


class _Walk:
    """A walk round the walls."""

    def __init__(self, entry: RoomEntry, loc: Loc, faults: Faults, unit: str, tolerance_nm: int, room_id: str) -> None:
        self.steps = entry.walk or []
        self.loc = loc
        self.faults = faults
        self.unit = unit
        self.tolerance_nm = tolerance_nm
        self.room_id = room_id
        self.names = [step.wall or f"wall {i + 1}" for i, step in enumerate(self.steps)]

    def ring(self) -> Ring | None:
        """Return the outline, closed, or None with its faults noted."""
        before = len(self.faults.found)
        vectors: list[Point | None] = []
        way_back: Fraction | None = None
        for i, step in enumerate(self.steps):
            way, vector = self._step(step.go, i)
            vectors.append(vector)
            if vector is None:
                way_back = way
        if len(self.faults.found) > before:
            return None
        missing = [i for i, vector in enumerate(vectors) if vector is None]
        if len(missing) > 1:
            self.faults.add(self.loc, "walk-open", "two walls are given as `close`", "measure all walls but one")
            return None
        known = [vector for vector in vectors if vector is not None]
        gap = (-sum(x for x, _ in known), -sum(y for _, y in known))
        closed = self._with_missing(vectors, missing[0], gap, way_back) if missing else self._closed(known, gap)
        if closed is None:
            return None
        points = [(0, 0)]
        for x, y in closed[:-1]:
            points.append((points[-1][0] + x, points[-1][1] + y))
        return _checked(points, self.names, self.loc, self.faults)

    def _step(self, text: str, index: int) -> tuple[Fraction | None, Point | None]:
        """Return the bearing and the vector of one step; no vector for the wall to close."""
        loc = (*self.loc, index)
        if text.strip().lower() == "close":
            return None, None
        found = _STEP.fullmatch(text.strip())
        if not found:
            hint = "write a direction and a length: north 3.2 m"
            self.faults.add(loc, "bad-step", f"{text!r} is no step of a walk", hint)
            return None, (0, 0)
        try:
            bearing = parse_bearing(found["way"])
            if found["far"].strip().lower() == "close":
                return bearing, None
            length = parse_length(found["far"], self.unit)
        except UnitError as error:
            self.faults.add_unit_error(loc, error)
            return None, (0, 0)
        if not 0 < length <= LONGEST_NM:
            code = "absurd-size" if length > 0 else "zero-size" if length == 0 else "negative-size"
            what = f"the wall in {text!r} is {'longer than 10 km' if length > 0 else 'not longer than nothing'}"
            self.faults.add(loc, code, what, "a wall's length is above zero")
        return bearing, walk_vector(bearing, length)

    def _with_missing(
        self, vectors: list[Point | None], index: int, gap: Point, bearing: Fraction | None
    ) -> list[Point] | None:
        """Return the vectors with the missing wall filled in."""
        if gap == (0, 0):
            self.faults.add((*self.loc, index), "walk-open", "nothing is left to close", "leave the step out")
            return None
        if bearing is None:
            return [gap if vector is None else vector for vector in vectors]
        vector = walk_vector(bearing, length_of(((0, 0), gap)))
        if not bearing % 90:  # a small error square to the wall goes into the other walls
            vector = (gap[0], 0) if vector[0] else (0, gap[1])
        rest = (gap[0] - vector[0], gap[1] - vector[1])
        backwards = gap[0] * walk_vector(bearing, 10**9)[0] + gap[1] * walk_vector(bearing, 10**9)[1] <= 0
        if backwards or rest[0] ** 2 + rest[1] ** 2 > max(self.tolerance_nm, 2) ** 2:
            what = f"the way back to the start does not run that way: it lies {self._way(gap)}"
            self.faults.add((*self.loc, index), "walk-open", what, "check the other walls")
            return None
        return self._closed([vector if known is None else known for known in vectors], rest)

    def _closed(self, vectors: list[Point], gap: Point) -> list[Point] | None:
        """Return the vectors with a closing error within tolerance put into the last walls that can take it."""
        if gap == (0, 0):
            return vectors
        if gap[0] ** 2 + gap[1] ** 2 > self.tolerance_nm**2:
            self.faults.add(
                self.loc, "walk-open", f"the walk does not close: {self._short(gap)}", self._hint(vectors, gap)
            )
            return None
        out = list(vectors)
        for axis in (0, 1):
            if gap[axis]:
                able = [i for i, vector in enumerate(out) if vector[axis] and not vector[1 - axis]]
                last = able[-1] if able else len(out) - 1
                x, y = out[last]
                out[last] = (x + gap[0], y) if axis == 0 else (x, y + gap[1])
        error = format_length(length_of(((0, 0), gap)), self.unit, with_unit=True)
        text = f"the walk closed to within {error}; the last walls took up the difference"
        self.faults.notice("walk-closed", text, self.room_id)
        return out

    def _way(self, gap: Point) -> str:
        """Return `3.2 m to the north and 1 m to the east`."""
        parts = []
        for value, names in ((gap[1], ("north", "south")), (gap[0], ("east", "west"))):
            if value:
                shown = format_length(abs(value), self.unit, with_unit=True)
                parts.append(f"{shown} to the {names[value < 0]}")
        return " and ".join(parts)

    def _short(self, gap: Point) -> str:
        return self._way(gap).replace(" to the", " short to the")

    def _hint(self, vectors: list[Point], gap: Point) -> str:
        """Return which walls to look at."""
        for i, (x, y) in enumerate(vectors):
            if (gap[0] + 2 * x) ** 2 + (gap[1] + 2 * y) ** 2 <= self.tolerance_nm**2:
                return f"it closes if {self.names[i]} runs the other way"
        along = [
            name
            for name, (x, y) in zip(self.names, vectors, strict=True)
            if (gap[0] and x and not gap[1]) or (gap[1] and y and not gap[0])
        ]
        which = " and ".join([", ".join(along[:-1]), along[-1]]) if 1 < len(along) <= 4 else "these walls"
        return f"check the lengths of {which}, or give a wall that could not be measured as `close`"
