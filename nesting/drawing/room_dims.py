"""Dimensions on a room plan: every wall outside, seams from a wall inside; small ones get a leader."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, pi, sin

from nesting.drawing.labels import Taken
from nesting.drawing.metrics import LINE_HEIGHT, text_width_mm
from nesting.drawing.room_view import inside
from nesting.drawing.scene import Dot, Item, Label, Polygon, Shape, Spot
from nesting.drawing.style import SMALL

_FIRST, _PITCH, _FARTHEST = 3.2, 3.6, 26.0
"""Dimension lines stand so far from their wall, then so far from one another, at most so far."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A stretch to be dimensioned on paper. `texts`: what to write, the best first, the least last.

    `feet`: the points that its extension lines come from, where these are not its ends.
    """

    start: Spot
    end: Spot
    outward: Spot
    texts: tuple[str, ...]
    feet: tuple[Spot, Spot] | None = None

    @property
    def length_mm(self) -> float:
        """Its length on paper."""
        return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    @property
    def middle(self) -> Spot:
        """Its middle."""
        return ((self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2)


def wall_dimensions(taken: Taken, walls: list[Measured], floor: Polygon) -> tuple[list[Item], int]:
    """Return the dimensions of all walls, the long ones first, and how many found no place at all."""
    items: list[Item] = []
    left: list[Measured] = []
    for wall in sorted(walls, key=lambda w: (-w.length_mm, w.start)):
        found = _beside(taken, wall)
        if found is None:
            left.append(wall)
        else:
            items += found
    missing = 0
    for wall in left:
        found = led(taken, wall.middle, wall.outward, wall.texts, floor)
        missing += found is None
        items += found or []
    return items, missing


def overall_dimensions(taken: Taken, sides: list[Measured]) -> list[Item]:
    """Return the dimensions over all of the sides that are made of several edges, beyond those of the edges.

    Of two sides that face each other, which are as long, one is dimensioned: the one with the fewer ends set back.
    """
    items: list[Item] = []
    done: set[tuple[float, float]] = set()
    for side in sorted(sides, key=_set_back):
        across = (abs(side.outward[0]), abs(side.outward[1]))
        found = None if across in done else _beside(taken, side)
        if found is not None:
            done.add(across)
            items += found
    return items


def _set_back(side: Measured) -> int:
    """Return how many ends of a side are not level with it."""
    return sum(foot != end for foot, end in zip(side.feet or (), (side.start, side.end), strict=False))


def reading_angle(a: Spot, b: Spot) -> float:
    """Return the angle, counter-clockwise on paper, at which text along a–b reads from below or from the right."""
    angle = degrees(atan2(-(b[1] - a[1]), b[0] - a[0]))
    while angle > 90.0 + 1e-6:
        angle -= 180.0
    while angle <= -90.0 + 1e-6:
        angle += 180.0
    return round(angle, 3) + 0.0


def centred(text: str, at: Spot, angle: float, role: str = "text", size_mm: float = SMALL) -> Label:
    """Return a label whose middle lies at `at`."""
    drop = 0.28 * size_mm * LINE_HEIGHT
    down = (drop * sin(angle * pi / 180), drop * cos(angle * pi / 180))
    return Label(role=role, text=text, at=(at[0] + down[0], at[1] + down[1]), size_mm=size_mm, anchor="middle",
                 turned=angle)  # fmt: skip


def _beside(taken: Taken, wall: Measured) -> list[Item] | None:
    """Return a dimension line with its text beyond it, at the nearest offset that is free."""
    nx, ny = wall.outward
    angle = reading_angle(wall.start, wall.end)
    offset = _FIRST
    while offset <= _FARTHEST:
        a = (wall.start[0] + nx * offset, wall.start[1] + ny * offset)
        b = (wall.end[0] + nx * offset, wall.end[1] + ny * offset)
        for text in wall.texts:
            if text_width_mm(text, SMALL) + 1.0 > wall.length_mm:
                continue
            far = offset + 0.5 * SMALL * LINE_HEIGHT + 0.3
            label = centred(text, (wall.middle[0] + nx * far, wall.middle[1] + ny * far), angle)
            near = tuple((p[0] + nx * 0.8, p[1] + ny * 0.8) for p in wall.feet or (wall.start, wall.end))
            clear = all(taken.line_is_clear(p, q) for p, q in ((a, b), (near[0], a), (near[1], b)))
            alone = taken.crosses_no_line(_shrunk(a, b)) and taken.runs_alone(a, b)
            if clear and alone and taken.is_free(label):
                taken.add((label,))
                taken.add_line(a, b)
                drawn = _line(near[0], near[1], a, b, (nx, ny))
                for ring in (ring for shape in drawn for ring in shape.rings[-2:]):
                    taken.add_thin_line(*ring)  # extension lines and ticks
                return [*drawn, label]
        offset += _PITCH
    return None


def _shrunk(a: Spot, b: Spot) -> tuple[Spot, Spot]:
    """Return a segment without its tips, which may touch a neighbour's."""
    dx, dy = (b[0] - a[0]) * 0.02, (b[1] - a[1]) * 0.02
    return (a[0] + dx, a[1] + dy), (b[0] - dx, b[1] - dy)


def _line(near_a: Spot, near_b: Spot, a: Spot, b: Spot, outward: Spot) -> list[Shape]:
    """Return a dimension line with extension lines and slanting ticks."""
    over = (outward[0] * 0.8, outward[1] * 0.8)
    line = Shape(role="dimension", rings=((a, b), (near_a, (a[0] + over[0], a[1] + over[1])),
                                          (near_b, (b[0] + over[0], b[1] + over[1]))))  # fmt: skip
    return [line, *ticks(a, b, "dimension")]


def ticks(a: Spot, b: Spot, role: str) -> list[Shape]:
    """Return the ticks at the ends of a dimension line."""
    length = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    tx, ty = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    sx, sy = (tx - ty) * 0.55, (ty + tx) * 0.55
    return [Shape(role=role, rings=tuple(((p[0] - sx, p[1] - sy), (p[0] + sx, p[1] + sy)) for p in (a, b)))]


def led(taken: Taken, at: Spot, outward: Spot, texts: tuple[str, ...], keep_off: Polygon = (),
        role: str = "text") -> list[Item] | None:  # fmt: skip
    """Return a label with a leader to `at`, as near to it as is free; None if there is no place on the sheet.

    The way out is tried first, places over the floor `keep_off` last.
    """
    for over_floor in (False, True) if keep_off else (True,):
        for text in (texts[0], texts[-1]) if len(texts) > 1 else texts:
            for label, touch in _places(at, outward, text, role):
                if not over_floor and _over(keep_off, label):
                    continue
                if taken.is_free(label) and taken.line_is_clear(at, touch):
                    taken.add((label,))
                    taken.add_line(at, touch)
                    return [
                        Shape(role="leader", rings=((at, touch),)),
                        Dot(role="dot", at=at, radius_mm=0.4),
                        label,
                    ]
    return None


def _places(at: Spot, outward: Spot, text: str, role: str) -> Iterator[tuple[Label, Spot]]:
    """Give places for a label round `at`, nearest first, each with the point that its leader goes to."""
    base = atan2(outward[1], outward[0])
    drop = 0.28 * SMALL * LINE_HEIGHT
    for ring in range(36):
        reach = 3.0 + 2.0 * ring
        for step in (0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 7, -7, 8):
            angle = base + step * pi / 8
            x, y = at[0] + reach * cos(angle), at[1] + reach * sin(angle)
            start = cos(angle) >= 0
            gap = 0.6 if start else -0.6
            yield Label(role=role, text=text, at=(x + gap, y + drop), size_mm=SMALL,
                        anchor="start" if start else "end"), (x, y)  # fmt: skip


def _over(polygon: Polygon, label: Label) -> bool:
    """Tell whether a label's box has its middle or a corner in `polygon`."""
    box = label.box
    middle = ((box[0][0] + box[2][0]) / 2, (box[0][1] + box[2][1]) / 2)
    return any(inside(polygon, point) for point in (middle, *box))
