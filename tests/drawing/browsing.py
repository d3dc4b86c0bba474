"""What a real browser makes of the texts of a sheet, measured in the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from nesting.drawing.labels import apart, bounds
from nesting.drawing.scene import Polygon, Scene
from nesting.drawing.svg import to_svg

if TYPE_CHECKING:
    from playwright.sync_api import Page

LEAST_TYPE_MM = 1.9
"""Nothing may be set smaller."""

_SLACK_MM = 0.02
"""What a browser may round away."""

# Corners of every text in millimetres of the sheet, through the matrix of the element: a turned text has a turned box.
_MEASURE = """(svgs) => svgs.map(text => {
  document.body.innerHTML = text;
  const svg = document.body.querySelector('svg');
  const base = svg.getCTM().inverse();
  return [...svg.querySelectorAll('text')].map(node => {
    const box = node.getBBox(), to = base.multiply(node.getCTM());
    const at = (x, y) => { const p = new DOMPoint(x, y).matrixTransform(to); return [p.x, p.y]; };
    const corners = [at(box.x, box.y), at(box.x + box.width, box.y),
                     at(box.x + box.width, box.y + box.height), at(box.x, box.y + box.height)];
    const size = parseFloat(getComputedStyle(node).fontSize) * Math.hypot(to.a, to.b);
    return {text: node.textContent, corners, size, wide: node.getComputedTextLength() * Math.hypot(to.a, to.b)};
  });
})"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A text as it stands in the browser."""

    text: str
    box: Polygon
    size_mm: float
    wide_mm: float


def measured(page: Page, scenes: list[Scene]) -> list[list[Measured]]:
    """All texts of the sheets as a browser sets them."""
    found = page.evaluate(_MEASURE, [to_svg(scene) for scene in scenes])
    return [
        [
            Measured(
                text=one["text"],
                box=tuple((x, y) for x, y in one["corners"]),
                size_mm=one["size"],
                wide_mm=one["wide"],
            )
            for one in texts
        ]
        for texts in found
    ]


def faults(scene: Scene, texts: list[Measured]) -> list[str]:
    """What is wrong with the texts of a sheet, in words; [] for a sheet that is as it should be."""
    if [one.text for one in texts] != [label.text for label in scene.labels]:
        return ["the texts of the page are not those of the sheet"]
    found = []
    for one, label in zip(texts, scene.labels, strict=True):
        x0, y0, x1, y1 = bounds(one.box)
        if x0 < 0 or y0 < 0 or x1 > scene.page.width_mm or y1 > scene.page.height_mm:
            found.append(f"{one.text!r} leaves the sheet")
        if one.size_mm < LEAST_TYPE_MM:
            found.append(f"{one.text!r} is set in {one.size_mm:.2f} mm")
        if one.wide_mm > estimate(label) + _SLACK_MM:
            found.append(f"{one.text!r} is {one.wide_mm:.2f} mm wide, not {estimate(label):.2f}")
    for k, one in enumerate(texts):
        found += [f"{one.text!r} on {other.text!r}" for other in texts[:k] if not apart(one.box, other.box)]
    return found


def estimate(label: object) -> float:
    """The width that the drawings reckon with for a label."""
    (x0, y0), (x1, y1) = label.box[:2]  # type: ignore[attr-defined]
    return float(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
