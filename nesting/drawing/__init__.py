"""Floor 5: drawings. Domain to scene (data) to SVG text; the same plan gives the same bytes."""

from nesting.drawing.drawings import drawings, front_chart, roll_map, roll_maps, room_plan
from nesting.drawing.scene import A4, EITHER, LETTER, Page

__all__ = ["A4", "EITHER", "LETTER", "Page", "drawings", "front_chart", "roll_map", "roll_maps", "room_plan"]
