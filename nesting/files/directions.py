"""Directions in words: how the roll's length runs, how people walk, where the light comes from."""

from __future__ import annotations

from collections.abc import Mapping

from nesting.domain.geometry import LayDirection
from nesting.files.faults import Faults
from nesting.files.fields import nearest
from nesting.files.outline import Segment
from nesting.files.yaml_tree import Loc
from nesting.units import UnitError, bearing_vector, parse_bearing

_AXES = {
    "x": (1, 0),
    "y": (0, 1),
    "east west": (1, 0),
    "west east": (1, 0),
    "north south": (0, 1),
    "south north": (0, 1),
    "left right": (1, 0),
    "up down": (0, 1),
}
_HINT = "write north-south, east-west, `along north wall`, `across north wall`, `towards east` or 30°"


def _wall_called(text: str, walls: Mapping[str, Segment]) -> Segment | None:
    plain = text.removeprefix("the ").strip()
    return walls.get(plain) or walls.get(plain.removesuffix(" wall"))


def read_directions(text: str, walls: Mapping[str, Segment], loc: Loc, faults: Faults) -> tuple[LayDirection, ...]:
    """Return the directions that `text` allows: both ways of an axis, one where it says towards or from.

    A fault is noted and () returned if it says none.
    """
    plain = " ".join(text.lower().replace("-", " ").split())
    if plain in _AXES:
        return _both(LayDirection.towards(*_AXES[plain]))
    for word, quarter in (("along ", 0), ("parallel to ", 0), ("across ", 1), ("square to ", 1)):
        if plain.startswith(word):
            wall = _wall_called(plain.removeprefix(word), walls)
            if wall is None:
                hint = nearest(plain.removeprefix(word), walls)
                faults.add(loc, "unknown-name", f"there is no wall {plain.removeprefix(word)!r} in this room", hint)
                return ()
            (x0, y0), (x1, y1) = wall
            return _both(LayDirection.towards(x1 - x0, y1 - y0).quarter_turned(quarter))
    if plain in walls and not _is_bearing(plain):
        return read_directions(f"along {plain}", walls, loc, faults)
    backwards = plain.startswith("from ")
    one_way = backwards or plain.startswith(("towards ", "to "))
    bare = plain.split(" ", 1)[1].removeprefix("the ") if one_way else plain
    try:
        x, y = bearing_vector(parse_bearing(bare))
    except UnitError:
        faults.add(loc, "bad-direction", f"{text!r} is not a direction", _HINT)
        return ()
    if plain in walls:
        what = f"`{text}` may mean along the {plain} wall, or towards {plain}"
        faults.add(loc, "direction-unclear", what, f"write `along {plain} wall` or `towards {plain}`")
        return ()
    direction = LayDirection.towards(-x, -y) if backwards else LayDirection.towards(x, y)
    return (direction,) if one_way else _both(direction)


def _is_bearing(text: str) -> bool:
    try:
        parse_bearing(text)
    except UnitError:
        return False
    return True


def _both(direction: LayDirection) -> tuple[LayDirection, ...]:
    return direction, direction.quarter_turned(2)
