"""All sheets of a plan as scenes, and what every sheet must keep."""

from __future__ import annotations

from nesting.domain.plan import Plan
from nesting.drawing.labels import apart, bounds
from nesting.drawing.roll_map import source_scenes
from nesting.drawing.room_plan import room_scene
from nesting.drawing.scene import EITHER, Label, Page, Scene
from nesting.drawing.style import SMALL


def roll_sheets(plan: Plan, page: Page = EITHER, *, mirrored: bool = False) -> list[Scene]:
    return [
        scene
        for part in plan.materials
        for source in part.sources
        for scene in source_scenes(plan, part, source, page, mirrored=mirrored)
    ]


def room_sheets(plan: Plan, page: Page = EITHER) -> list[Scene]:
    return [room_scene(plan, room.id, page) for room in plan.job.rooms]


def overlapping(scene: Scene) -> list[tuple[str, str]]:
    labels = scene.labels
    return [(a.text, b.text) for k, a in enumerate(labels) for b in labels[:k] if not apart(a.box, b.box)]


def off_the_sheet(scene: Scene) -> list[str]:
    """Labels that reach into the margin or beyond; the outermost figures may use a tenth of a millimetre of it."""
    low = scene.page.margin_mm - 0.1
    right, bottom = scene.page.width_mm - low, scene.page.height_mm - low
    found = []
    for label in scene.labels:
        x0, y0, x1, y1 = bounds(label.box)
        if x0 < low or y0 < low or x1 > right or y1 > bottom:
            found.append(label.text)
    return found


def too_small(scene: Scene) -> list[Label]:
    return [label for label in scene.labels if label.size_mm < SMALL]


def drawn_off_the_sheet(scene: Scene) -> list[str]:
    """Roles of shapes that leave the paper."""
    return [
        item.role
        for group in scene.groups
        for item in group.items
        if hasattr(item, "rings")
        for ring in item.rings
        for x, y in ring
        if not (0 <= x <= scene.page.width_mm and 0 <= y <= scene.page.height_mm)
    ]
