"""Labels below a stretch of goods with leaders to what they name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.drawing.blocks import Box
from nesting.drawing.labels import Taken, apart
from nesting.drawing.metrics import LINE_HEIGHT, shortened, text_width_mm
from nesting.drawing.scene import Dot, Group, Item, Label, Shape, Spot
from nesting.drawing.style import SMALL

LONGEST_MM = 90.0
"""What is put together into a callout is shortened to this."""

_STEP_MM, _SLANT_MM, _FARTHEST_MM = 0.5, 1.5, 36.0
"""Leaders are moved sidewards by this until they run clear of texts; else they slant by this more and more, so far."""


_GAP_MM = 1.0
"""Leaders stand so far apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A label beside the goods with a leader from somewhere on the middle line of `box`."""

    text: str
    box: Box
    piece: str = ""

    @property
    def middle(self) -> Spot:
        """The middle of the box."""
        return ((self.box[0] + self.box[2]) / 2, (self.box[1] + self.box[3]) / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Below:
    """Where callouts go: below `bottom`, between `left` and `right`. `suffix`: of element ids."""

    left: float
    right: float
    bottom: float
    suffix: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """The way of a leader: from `at`, down out of the goods at `down`."""

    text: str
    at: Spot
    down: Spot
    piece: str


def set_callouts(callouts: Sequence[Callout], taken: Taken, below: Below) -> tuple[Group, Group, float] | None:
    """Return leaders, the callouts below the goods, and the y below them; None if there are too many.

    From right to left: every label hangs to the right of its leader's foot, so a leader never crosses a label set
    before it, and a label only has to go below the leaders that it would cross.
    """
    ways: list[_Way] = []
    highest = below.right
    for note in sorted(callouts, key=lambda c: (-c.middle[0], -c.middle[1], c.text)):
        at, down = _way_down(note, taken, below, highest)
        text = shortened(note.text, SMALL, 1.3 * LONGEST_MM)
        ways.append(_Way(text=text, at=at, down=down, piece=note.piece))
        highest = down[0] - _GAP_MM
    feet = _feet(ways, below)
    if feet is None:
        return None
    lines: list[Item] = []
    labels: list[Item] = []
    high = SMALL * LINE_HEIGHT
    first = deepest = below.bottom + 1.5 + high
    lanes: list[float] = []  # how far right of the page's left a lane is free
    for way, foot in zip(ways, feet, strict=True):
        end = foot + 0.6 + text_width_mm(way.text, SMALL)
        lane = next((k for k, free in enumerate(lanes) if end <= free - 0.8), len(lanes))
        lanes += [below.right + 0.8] * (lane + 1 - len(lanes))
        lanes[: lane + 1] = [foot] * (lane + 1)
        y = first + lane * (high + 0.5)
        line = (way.at, way.down, (foot, first - high), (foot, y))
        for ends in pairwise(line):
            taken.add_line(*ends)
        lines += [Shape(role="leader", rings=(line,), piece=way.piece),
                  Dot(role="dot", at=way.at, radius_mm=0.4, piece=way.piece)]  # fmt: skip
        label = Label(role="text", text=way.text, at=(foot + 0.6, y), size_mm=SMALL, piece=way.piece)
        labels.append(label)
        taken.add((label,))
        deepest = max(deepest, y)
    leaders = Group(role="leaders", id=f"leaders{below.suffix}", items=tuple(lines))
    return leaders, Group(role="callouts", id=f"callouts{below.suffix}", items=tuple(labels)), deepest + 0.8


def _feet(ways: Sequence[_Way], below: Below) -> list[float] | None:
    """Return where the leaders stand below the goods, from right to left; None if there are too many.

    Each as near to where it leaves the goods as the one before it lets it; all farther right if that is too far left.
    """
    shift = 0.0
    for _ in range(2):
        feet: list[float] = []
        for way in ways:
            last = below.right - text_width_mm(way.text, SMALL) - 0.6
            feet.append(min(way.down[0] + shift, last, (feet[-1] if feet else below.right) - _GAP_MM))
        if not feet or feet[-1] >= below.left - 1e-9:
            return feet
        shift += below.left - feet[-1]
    return None


def _way_down(note: Callout, taken: Taken, below: Below, highest: float) -> tuple[Spot, Spot]:
    """Return where the leader of a callout starts in its box and where it leaves the goods, left of `highest`.

    Off other labels if it can be: straight down near the middle of the box, else slanting as little as will do.
    """
    x0, _, x1, _ = note.box
    middle, y = note.middle
    bottom = below.bottom + 0.6
    rim = min(0.6, (x1 - x0) / 3)
    count = int((x1 - x0) / 2 / _STEP_MM) + 1
    steps = [middle + sign * k * _STEP_MM for k in range(count) for sign in (1, -1)]
    inside = [x for x in [*steps, x0 + rim, x1 - rim] if x0 + rim <= x <= x1 - rim] or [middle]
    lower = [x for x in inside if x <= highest]
    for x in lower:
        if taken.line_is_clear((x, y), (x, bottom)):
            return (x, y), (x, bottom)
    for k in range(1, int(_FARTHEST_MM / _SLANT_MM)):
        for x in (middle, x0 + rim, x1 - rim):
            for foot in (x - k * _SLANT_MM, x + k * _SLANT_MM):
                if below.left <= foot <= highest and taken.line_is_clear((x, y), (foot, bottom)):
                    return (x, y), (foot, bottom)
    x = next(iter(lower or inside))
    return (x, y), (x, bottom)


def crossed(leaders: Group, labels: Iterable[Label]) -> bool:
    """Tell whether a leader runs through one of the labels."""
    lines = [pair for item in leaders.items if isinstance(item, Shape) for pair in pairwise(item.rings[0])]
    return any(not apart(line, label.box) for label in labels for line in lines if line[0] != line[1])
