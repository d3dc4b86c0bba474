from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import LayDirection, bounding_rect
from nesting.domain.job import Edge, PatternPlacement, PlacementWish
from nesting.domain.material import Pattern
from nesting.floor.outlines import lay_floor
from nesting.seams.laid import Goods
from nesting.seams.layouts import layouts_of_room
from nesting.seams.phases import parts_at_walls_nm, pitch_nm, placed_phases, repeat_across_nm
from tests.seams.floors import FT, INCH, MM, M, goods_of, rectangle, room_of
from tests.seams.holding import broken_rules

ALONG_Y = LayDirection(0, 1)


@pytest.mark.parametrize(
    ("width_in", "repeat_in", "pitch_in"),
    [
        # R15, https://www.fcimag.com/articles/84561-pattern-matching-part-three: 8 and 7 whole repeats of 18 in
        (144.0, 18.0, 144.0),
        (142.0, 18.0, 126.0),
        # R16, https://www.fcimag.com/articles/84819-pattern-matching-part-four: seams at 12 ft and at 11 ft
        (146.0, 12.0, 144.0),
        (143.0, 12.0, 132.0),
        # R17, same source: 145 3/4 in is 1/4 in short of 8 repeats of 18 1/4 in, so 7 remain
        (145.75, 18.25, 127.75),
        (146.0, 18.25, 146.0),
    ],
)
def test_pitch_is_the_largest_multiple_of_the_repeat(width_in: float, repeat_in: float, pitch_in: float) -> None:
    pattern = Pattern(along_nm=18 * INCH, across_nm=round(repeat_in * INCH))
    material = goods_of(round(width_in * INCH), pattern=pattern)
    assert pitch_nm(material, material.widths_nm[0]) == round(pitch_in * INCH)


def test_the_repeat_of_goods_known_at_the_seam_follows_the_width() -> None:
    pattern = Pattern(along_nm=640 * MM, across_nm=1, at_seam=True)
    material = goods_of(4 * M, 2 * M, pattern=pattern, selvedge_nm=15 * MM, seam_overlap_nm=20 * MM)
    assert repeat_across_nm(material, 4 * M) == 3_950 * MM
    assert repeat_across_nm(material, 2 * M) == 1_950 * MM


def inch_layouts(width_ft: int, **pattern: int) -> list[list[tuple[int, int]]]:
    """Return the pieces' (left, right) of all layouts of a room, in inches from its left wall; no allowances."""
    material = goods_of(142 * INCH, pattern=Pattern(along_nm=18 * INCH, **pattern), cutting_step_nm=INCH // 4)
    room = room_of(rectangle(width_ft, 16), FT, trim_nm=0, out_of_square_nm=0, lays=(ALONG_Y,))
    found = layouts_of_room(room, material, Goods(widths_nm=(142 * INCH,))).layouts
    return [
        [(rect.x0_nm // INCH, rect.x1_nm // INCH) for rect in (bounding_rect(cut.rects) for cut in laid.cuts)]
        for laid in found
    ]


def test_breadths_advance_by_whole_repeats() -> None:
    """Design, section 4: goods 142 in wide with an 18 in repeat advance 126 in; n breadths cover 142 + 126·(n − 1)."""
    assert min(map(len, inch_layouts(22, across_nm=18 * INCH))) == 2  # 264 in ≤ 142 + 126 = 268
    assert min(map(len, inch_layouts(23, across_nm=18 * INCH))) == 3  # 276 in > 268, though ≤ 2 × 142
    assert min(map(len, inch_layouts(23))) == 2  # goods that do not vary across
    starts = {pieces[1][0] for pieces in inch_layouts(22, across_nm=18 * INCH) if len(pieces) == 2}
    assert {126, 138} & starts and all(122 <= start <= 142 for start in starts if start > 120)


@given(st.integers(300, 1200), st.integers(5, 120), st.sampled_from([0, 12, 20]), st.sampled_from([0, 15]))
@settings(deadline=None, max_examples=25)
def test_every_patterned_layout_has_a_phase_for_all_its_pieces(
    repeat: int, width: int, overlap: int, selvedge: int
) -> None:
    pattern = Pattern(along_nm=640 * MM, across_nm=repeat * MM, drop_nm=Fraction(320 * MM))
    material = goods_of(4 * M, pattern=pattern, seam_overlap_nm=overlap * MM, selvedge_nm=selvedge * MM)
    room = room_of(rectangle(width * 100, 4000), lays=(ALONG_Y,))
    found = layouts_of_room(room, material, Goods(widths_nm=(4 * M,))).layouts
    assert found
    for laid in found[:10]:
        boxes = [bounding_rect(cut.rects) for cut in laid.cuts]
        # some φ that puts one piece at one of its lowest places lets every other have a whole m
        tries = [inset[0] - rect.x0_nm for rect, inset in zip(boxes, laid.insets_nm, strict=True)]

        def fits(phase: int, boxes: object = boxes, insets: object = laid.insets_nm) -> bool:
            for rect, (left, right) in zip(boxes, insets, strict=True):  # type: ignore[call-overload]
                x = left + (rect.x0_nm + phase - left) % (repeat * MM)
                if x > 4 * M - right - rect.width_nm:
                    return False
            return True

        assert any(fits(phase) for phase in tries)


@pytest.mark.parametrize("wish", [PlacementWish.BALANCED, PlacementWish.MOTIF_CENTRED, PlacementWish.WHOLE_AT_WALL])
def test_placed_patterns_lie_where_they_are_wanted(wish: PlacementWish) -> None:
    edges = (Edge(wall="south"), Edge(wall="east"), Edge(wall="north"), Edge(wall="west"))
    placement = PatternPlacement(across=wish, along=wish, across_wall="east", along_wall="south")
    room = room_of(rectangle(3700, 4100), edges=edges, placement=placement, lays=(ALONG_Y,))
    material = goods_of(4 * M, pattern=Pattern(along_nm=640 * MM, across_nm=500 * MM))
    laid = layouts_of_room(room, material, Goods(widths_nm=(4 * M,))).layouts[0]
    across, along = laid.phase_nm
    assert across is not None and along is not None
    marks = {
        PlacementWish.WHOLE_AT_WALL: (3700 * MM, 0),
        PlacementWish.MOTIF_CENTRED: (1850 * MM, 2050 * MM),
        # 1850 = 3 × 500 + 350: a mark on the middle leaves 350 mm at the walls, half a repeat off it 100
        # 2050 = 3 × 640 + 130: a mark on the middle leaves 130 mm, half a repeat off it 450
        PlacementWish.BALANCED: (1850 * MM, 2050 * MM + 320 * MM),
    }[wish]
    assert (marks[0] + across) % (500 * MM) == 0
    assert (marks[1] + along) % (640 * MM) == 0
    assert broken_rules(room, material, laid) == []


def test_so_much_of_a_repeat_at_the_walls() -> None:
    placement = PatternPlacement(least_at_walls_nm=150 * MM)
    room = room_of(rectangle(3700, 4100), placement=placement)
    floor = lay_floor(room, goods_of(4 * M), ALONG_Y)
    phases = placed_phases(room, floor, 500 * MM, 640 * MM)
    assert not isinstance(phases, str) and phases
    for across, along in phases:
        assert across is not None and along is not None
        assert min(parts_at_walls_nm(across, (0, 3700 * MM), 500 * MM)) >= 150 * MM
        assert min(parts_at_walls_nm(along, (0, 4100 * MM), 640 * MM)) >= 150 * MM
    greedy = replace(room, placement=PatternPlacement(least_at_walls_nm=480 * MM))
    assert isinstance(placed_phases(greedy, floor, 500 * MM, 640 * MM), str)
