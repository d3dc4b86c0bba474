"""Floor 5: drawings. Domain to scene (data) to SVG text; the same plan gives the same bytes."""

from nesting.drawing.drawings import drawings, front_chart, goods_map, roll_map, roll_maps, room_plan
from nesting.drawing.goods_map import GoodsMap, MapArea, MapPiece
from nesting.drawing.scene import A4, EITHER, LETTER, Page

__all__ = [
    "A4",
    "EITHER",
    "LETTER",
    "GoodsMap",
    "MapArea",
    "MapPiece",
    "Page",
    "drawings",
    "front_chart",
    "goods_map",
    "roll_map",
    "roll_maps",
    "room_plan",
]
