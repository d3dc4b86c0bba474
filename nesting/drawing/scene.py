"""What a drawing is before it is text: frozen data in millimetres on paper, x right, y down."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin

from nesting.drawing.metrics import LINE_HEIGHT, text_width_mm

Spot = tuple[float, float]
"""(x, y) in millimetres on paper."""

Polygon = tuple[Spot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A sheet of paper. Nothing is drawn outside its margin."""

    name: str
    width_mm: float
    height_mm: float
    margin_mm: float = 10.0

    def turned(self) -> Page:
        """Return the sheet the other way round."""
        return Page(name=self.name, width_mm=self.height_mm, height_mm=self.width_mm, margin_mm=self.margin_mm)


A4 = Page(name="A4", width_mm=297.0, height_mm=210.0)
LETTER = Page(name="Letter", width_mm=279.4, height_mm=215.9)
EITHER = Page(name="A4 or Letter", width_mm=279.0, height_mm=210.0)
"""The part that both sheets share: prints in full size on either."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Lines or areas of one role. `rings`: polylines; closed ones are areas, a ring inside another is a hole."""

    role: str
    rings: tuple[Polygon, ...]
    closed: bool = False
    id: str = ""
    piece: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A round mark."""

    role: str
    at: Spot
    radius_mm: float
    id: str = ""
    piece: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One line of text. `at` is the anchor on the baseline; `turned` degrees counter-clockwise as seen on paper."""

    role: str
    text: str
    at: Spot
    size_mm: float
    anchor: str = "start"  # start, middle or end
    turned: float = 0.0
    bold: bool = False
    id: str = ""
    piece: str = ""

    @property
    def box(self) -> Polygon:
        """The corners of the room that the text takes at most, in whichever common sans-serif face."""
        return text_box(self.at, text_width_mm(self.text, self.size_mm, bold=self.bold), self.size_mm, self.anchor,
                        self.turned)  # fmt: skip


Item = Shape | Dot | Label


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Items that belong together: a piece with its label, a legend. `title` is read out and shown on hovering."""

    role: str
    items: tuple[Item, ...]
    id: str = ""
    piece: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A whole sheet."""

    page: Page
    title: str
    description: str
    groups: tuple[Group, ...]

    @property
    def labels(self) -> tuple[Label, ...]:
        """All texts on the sheet."""
        return tuple(item for group in self.groups for item in group.items if isinstance(item, Label))


def text_box(at: Spot, width_mm: float, size_mm: float, anchor: str, turned: float) -> Polygon:
    """Return the four corners of a line of text with its anchor at `at`."""
    start = {"start": 0.0, "middle": -width_mm / 2, "end": -width_mm}[anchor]
    top, bottom = -0.78 * size_mm * LINE_HEIGHT, 0.22 * size_mm * LINE_HEIGHT
    ca, sa = cos(radians(turned)), sin(radians(turned))
    corners = ((start, top), (start + width_mm, top), (start + width_mm, bottom), (start, bottom))
    return tuple((at[0] + x * ca + y * sa, at[1] - x * sa + y * ca) for x, y in corners)
