"""Maps of where the goods go: to scale, nothing overlaps, nothing is clipped, everything is in the legend."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.job import Unit
from nesting.drawing import A4, EITHER, LETTER, GoodsMap, MapArea, MapPiece, Page, goods_map
from nesting.drawing.goods_map import goods_scene
from nesting.drawing.scene import Scene, Shape
from nesting.drawing.style import HATCHES, LOOKS
from tests.drawing.scenes import drawn_off_the_sheet, off_the_sheet, overlapping, too_small

MM = 1_000_000


def rect(x0: int, y0: int, x1: int, y1: int) -> Rect:
    return Rect(x0 * MM, y0 * MM, x1 * MM, y1 * MM)


# A roll of 4 x 9.1 m with a selvedge of 20 mm: 50 mm of squaring, a drop, an L with another in its corner, 170 mm lost
# to the repeat before a third, then the end up to the order step and up to the minimum cut.
ROLL = GoodsMap(
    title="House: where order-1 goes",
    lines=("Broadloom, to order: 9.100 m of 4.000 m wide",),
    notes=("Of all goods the pieces are: floor covered 80.1 %, trim 6.2 %.",),
    unit=Unit.M,
    width_nm=4_000 * MM,
    length_nm=9_100 * MM,
    pieces=(
        MapPiece(number="1", name="Hall 1", rects=(rect(0, 50, 3_600, 2_050),)),
        MapPiece(number="2", name="Den 1", rects=(rect(0, 2_050, 2_000, 5_000), rect(2_000, 2_050, 4_000, 3_500))),
        MapPiece(number="3", name="Closet 1", rects=(rect(2_000, 3_500, 3_000, 5_000),)),
        MapPiece(number="4", name="Den 2", rects=(rect(0, 5_170, 4_000, 8_300),)),
    ),
    pieces_text="pieces 86.3 %",
    areas=(
        MapArea(role="lost-squaring", text="squaring the start 0.5 %", rects=(rect(0, 0, 4_000, 50),)),
        MapArea(role="lost-selvedge", text="selvedge 0.5 %", rects=(rect(3_980, 50, 4_000, 2_050),)),
        MapArea(role="lost-repeat", text="lost to the repeat 1.9 %", rects=(rect(0, 5_000, 4_000, 5_170),)),
        MapArea(
            role="lost-beside",
            text="beside and between pieces 5.2 %",
            rects=(rect(3_600, 50, 3_980, 2_050), rect(3_000, 3_500, 4_000, 5_000)),
        ),
        MapArea(role="lost-end", text="rounding of the order 1.1 %", rects=(rect(0, 8_300, 4_000, 8_400),)),
        MapArea(role="lost-more", text="minimum cut 7.7 %", rects=(rect(0, 8_400, 4_000, 9_100),)),
    ),
    kept=(rect(3_000, 3_500, 4_000, 5_000), rect(0, 8_300, 4_000, 9_100)),
)
REMNANT = replace(
    ROLL,
    title="House: where R-7 goes",
    lines=("Broadloom, remnant in hand: 6' of 3' wide",),
    unit=Unit.FOOT,
    width_nm=914_400_000,
    length_nm=1_828_800_000,
    pieces=(MapPiece(number="12", name="Mat", rects=(rect(0, 100, 700, 1_500),)),),
    areas=(
        MapArea(role="lost-flaws", text="flaws 0.6 %", rects=(rect(750, 200, 850, 300),)),
        MapArea(role="lost-starting", text="for the unknown phase 5.6 %", rects=(rect(0, 0, 900, 100),)),
    ),
    kept=(),
)
# The same roll in hand, with its start, a corner between the first drops and its far left edge cut away before.
BEGUN = replace(
    ROLL,
    lines=("Broadloom, roll in hand: 9.100 m of 4.000 m wide, 4.07 m² of it gone",),
    areas=ROLL.areas[2:4],
    kept=ROLL.kept[:1],
    gone=(rect(0, 0, 4_000, 50), rect(3_600, 50, 4_000, 2_050), rect(0, 8_300, 3_000, 9_100)),
)
LONG = replace(ROLL, length_nm=2_000_000 * MM)
# Pieces too small for their numbers, which stand below the roll.
SMALL = replace(
    ROLL,
    pieces=(
        *ROLL.pieces,
        *(
            MapPiece(number=str(k), name=f"Mat {k}", rects=(rect(3_700, y, 3_780, y + 60),))
            for k, y in enumerate(range(100, 1_900, 300), start=5)
        ),
    ),
)
MAPS = {"roll": ROLL, "remnant": REMNANT, "begun": BEGUN, "long": LONG, "small": SMALL}


def is_tidy(scene: Scene) -> None:
    assert overlapping(scene) == [] and off_the_sheet(scene) == []
    assert too_small(scene) == [] and drawn_off_the_sheet(scene) == []


@pytest.mark.parametrize("name", ["roll", "remnant", "begun", "small"])
def test_maps_are_as_kept(name: str, golden: Callable[[str, str], None]) -> None:
    golden(f"drawing/goods/{name}.svg", goods_map(MAPS[name]))


@pytest.mark.parametrize("name", MAPS)
@pytest.mark.parametrize("page", [EITHER, A4, LETTER], ids=lambda page: page.name)
def test_nothing_overlaps_and_nothing_is_clipped(name: str, page: Page) -> None:
    is_tidy(goods_scene(MAPS[name], page))


@given(st.integers(300, 5_000), st.integers(300, 200_000), st.sampled_from(list(Unit)))
@settings(max_examples=40)
def test_whatever_the_goods_the_map_is_tidy(width: int, length: int, unit: Unit) -> None:
    half = MapPiece(number="7", name="Half", rects=(rect(0, 0, width, length // 2),))
    rest = MapArea(role="lost-end", text="rest 50.0 %", rects=(rect(0, length // 2, width, length),))
    goods = replace(ROLL, unit=unit, width_nm=width * MM, length_nm=length * MM, pieces=(half,), areas=(rest,), kept=())
    scene = goods_scene(goods)
    is_tidy(scene)
    drawn = {group.id: sum(area_of(item) for item in group.items if isinstance(item, Shape)) for group in scene.groups}
    assert drawn["goods"] == pytest.approx(drawn["piece-7"] + drawn["lost-end"], rel=1e-6)


def area_of(shape: Shape) -> float:
    """Return the area of a shape on paper (shoelace formula)."""
    total = 0.0
    for ring in shape.rings:
        pairs = zip(ring, (*ring[1:], *ring[:1]), strict=True)
        total += sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs) / 2
    return abs(total)


def test_areas_are_to_scale() -> None:
    scene = goods_scene(ROLL)
    drawn = {group.id: sum(area_of(item) for item in group.items if isinstance(item, Shape)) for group in scene.groups}
    goods = ROLL.width_nm * ROLL.length_nm
    for area in ROLL.areas:
        share = sum(rect.area_nm2 for rect in area.rects) / goods
        assert drawn[area.role] / drawn["goods"] == pytest.approx(share, rel=1e-6)


def test_every_reason_has_a_hatch_of_its_own() -> None:
    fills = [LOOKS[role].fill for role in LOOKS if role.startswith("lost-")]
    assert len(fills) == len(set(fills)) == 8
    assert all(fill.removeprefix("hatch:") in HATCHES for fill in fills)


def test_few_rows_are_preferred_to_a_little_more_size() -> None:
    # At 1 : 30 the roll of 7.9 m would run on into a second row by a few centimetres of paper.
    scene = goods_scene(replace(ROLL, width_nm=2_000 * MM, length_nm=7_900 * MM, pieces=(), areas=(), kept=()))
    (edges,) = [group for group in scene.groups if group.id == "goods"]
    assert sum(isinstance(item, Shape) for item in edges.items) == 1


def test_what_is_gone_is_drawn_as_the_paper_and_has_no_edge() -> None:
    scene = goods_scene(BEGUN, A4)
    shapes = [(item.role, item) for group in scene.groups for item in group.items if isinstance(item, Shape)]
    (gone,) = [item for role, item in shapes if role == "gone" and len(item.rings) > 1]
    assert LOOKS["gone"].fill == LOOKS["plate"].fill
    lines = [ring for role, item in shapes if role == "edge" for ring in item.rings if len(ring) == 2]
    assert lines
    for a, b in lines:
        x, y = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
        for ring in gone.rings:
            (left, low), (right, high) = map(min, zip(*ring, strict=True)), map(max, zip(*ring, strict=True))
            assert len(ring) > 4 or not (left <= x <= right and low <= y <= high)
    assert "gone: cut away before" in goods_map(BEGUN) and "gone" not in goods_map(ROLL)
