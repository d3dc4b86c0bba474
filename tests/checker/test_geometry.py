"""The checker's own geometry and lattice, against answers worked out by hand and against other ways to compute them."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise
from math import floor, isqrt
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from nesting.checker.breadths import check_least_breadth
from nesting.checker.clipping import common, merged, sides_of, slices_of, without
from nesting.checker.facts import LaidFloor
from nesting.checker.holes import enclosed_holes
from nesting.checker.parts import Cells, Stretch, cells_of
from nesting.checker.seam_rules import Run, _inside_line, _passes
from nesting.checker.sweeps import corner_fill, double_area, holds, outward, shape_of, uncovered
from nesting.checker.whole import Mesh, half_up, over_root, turned, turned_rects, up_to
from nesting.domain.geometry import LayDirection, Point, Rect, bounding_rect
from nesting.domain.job import Edge, Room
from nesting.domain.layout import AllowanceKind, CrossSeam, RoomLayout, Seam
from nesting.domain.rules import SeamRules

WALL = (AllowanceKind.WALL, 0)


def _room(outline: tuple[Point, ...], **changes: Any) -> Room:
    edges = tuple(Edge() for _ in outline)
    return Room(id="r", name="R", material_id="g", outline=outline, edges=edges, **changes)


def _cells(
    outline: tuple[Point, ...],
    seams: tuple[int, ...] = (),
    crosses: tuple[tuple[int, int], ...] = (),
    holes: tuple[tuple[Point, ...], ...] = (),
) -> Cells:
    layout = RoomLayout(
        room_id="r",
        direction=LayDirection(0, 1),
        floor=outline,
        holes=holes,
        seams=tuple(Seam(at_nm=seam, runs=()) for seam in seams),
        cross_seams=tuple(CrossSeam(breadth=b, at_nm=v, runs=()) for b, v in crosses),
    )
    return cells_of(_room(outline), layout)


def _part_areas(cells: Cells) -> list[Fraction]:
    return sorted(Fraction(sum(double_area(shape_of(s)) for s in part.slices), 2) for part in cells.parts)


U_SHAPE = ((0, 0), (10, 0), (10, 10), (7, 10), (7, 4), (3, 4), (3, 10), (0, 10))


def test_a_u_without_seams_is_one_part() -> None:
    (part,) = _cells(U_SHAPE).parts
    assert part.keys == {(AllowanceKind.WALL, i) for i in range(8)}
    assert len(part.loops) == 1
    assert part.extent_along == 10


def test_a_cross_seam_cuts_both_legs_of_a_u() -> None:
    cells = _cells(U_SHAPE, crosses=((0, 6),))
    assert _part_areas(cells) == [12, 12, 52]
    assert cells.cross_runs == (((0, 3), (7, 10)),)


def test_a_seam_along_a_wall_is_only_where_there_is_floor_on_both_sides() -> None:
    cells = _cells(U_SHAPE, seams=(3,))
    assert cells.seam_runs == (((0, 4),),)
    left = next(part for part in cells.parts if part.breadth == 0)
    assert (AllowanceKind.WALL, 5) in left.keys
    assert (AllowanceKind.SEAM_RIGHT, 0) in left.keys


def test_a_seam_through_both_legs_has_its_parts_apart() -> None:
    outline = ((0, 0), (10, 0), (10, 10), (0, 10), (0, 7), (6, 7), (6, 3), (0, 3))
    cells = _cells(outline, seams=(2,))
    assert cells.seam_runs == (((0, 3), (7, 10)),)
    assert _part_areas(cells) == [6, 6, 64]


def test_runs_end_on_an_oblique_wall_in_fractions() -> None:
    cells = _cells(((0, 0), (10, 0), (7, 7), (0, 7)), seams=(8,))
    assert cells.seam_runs == (((0, Fraction(14, 3)),),)


def test_a_cross_seam_over_an_oblique_wall_splits_the_slices() -> None:
    cells = _cells(((0, 0), (10, 0), (6, 8), (0, 8)), crosses=((0, 4),))
    assert _part_areas(cells) == [Fraction(28), Fraction(36)]
    assert cells.cross_runs == (((0, 8),),)


def test_holes_inside_a_part_have_loops_of_their_own() -> None:
    square = ((4, 4), (6, 4), (6, 6), (4, 6))
    (part,) = _cells(((0, 0), (10, 0), (10, 10), (0, 10)), holes=(square,)).parts
    assert enclosed_holes(part) == [0]
    for seam in (4, 5, 6):
        parts = _cells(((0, 0), (10, 0), (10, 10), (0, 10)), seams=(seam,), holes=(square,)).parts
        assert [enclosed_holes(part) for part in parts] == [[], []]


def test_a_hole_that_touches_a_seam_with_a_corner_only_is_not_enclosed() -> None:
    diamond = ((5, 3), (7, 5), (5, 7), (3, 5))
    parts = _cells(((0, 0), (10, 0), (10, 10), (0, 10)), seams=(3,), holes=(diamond,)).parts
    assert [enclosed_holes(part) for part in parts] == [[], []]
    assert [len(part.loops) for part in parts] == [1, 1]


def _star(radii: list[int], scale: int) -> tuple[Point, ...]:
    """Return a polygon that a middle point sees all of, counter-clockwise, with corners in 12 directions."""
    spokes = (
        (12, 0),
        (10, 6),
        (6, 10),
        (0, 12),
        (-6, 10),
        (-10, 6),
        (-12, 0),
        (-10, -6),
        (-6, -10),
        (0, -12),
        (6, -10),
        (10, -6),
    )
    return tuple((scale * r * x, scale * r * y) for r, (x, y) in zip(radii, spokes, strict=True))


stars = st.builds(_star, st.lists(st.integers(1, 30), min_size=12, max_size=12), st.integers(1, 10**6))


def _shoelace(outline: tuple[Point, ...]) -> Fraction:
    ahead = (*outline[1:], outline[0])
    return Fraction(sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(outline, ahead, strict=True)), 2)


@given(stars, st.data())
def test_parts_tile_the_floor_and_their_edges_close(outline: tuple[Point, ...], data: st.DataObject) -> None:
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    seams = tuple(sorted(data.draw(st.sets(st.integers(min(xs) + 1, max(xs) - 1), max_size=3))))
    levels = data.draw(
        st.lists(st.tuples(st.integers(0, len(seams)), st.integers(min(ys), max(ys))), max_size=3, unique=True)
    )
    cells = _cells(outline, seams, tuple(levels))
    assert sum(_part_areas(cells)) == _shoelace(outline)
    for part in cells.parts:
        area = Fraction(0)
        for loop in part.loops:
            for one, other in zip(loop, (*loop[1:], loop[0]), strict=True):
                assert one.end == other.start
                area += Fraction(one.start[0] * one.end[1] - one.start[1] * one.end[0]) / 2
        assert area == sum(double_area(shape_of(s)) for s in part.slices) / Fraction(2)
    marks = Counter(s.key for part in cells.parts for s in part.stretches if s.key[0] is AllowanceKind.SEAM_LEFT)
    assert set(marks) <= {(AllowanceKind.SEAM_LEFT, i) for i in range(len(seams))}


@given(stars, st.data())
def test_runs_have_floor_on_both_sides(outline: tuple[Point, ...], data: st.DataObject) -> None:
    xs = [x for x, _ in outline]
    line = data.draw(st.integers(min(xs) + 1, max(xs) - 1))
    cells = _cells(outline, (line,))
    lengths = {kind: Fraction(0) for kind in (AllowanceKind.SEAM_LEFT, AllowanceKind.SEAM_RIGHT)}
    for part in cells.parts:
        for stretch in part.stretches:
            if stretch.key[0] in lengths:
                lengths[stretch.key[0]] += abs(Fraction(stretch.end[1] - stretch.start[1]))
    run = sum((Fraction(high - low) for low, high in cells.seam_runs[0]), Fraction(0))
    assert set(lengths.values()) == {run}


@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30))),
    st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30))),
)
def test_intervals_are_sets(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    def cells(intervals: Any) -> set[int]:
        return {at for low, high in intervals for at in range(low, high)}

    first, second = merged(one), merged(other)
    assert cells(common(first, second)) == cells(one) & cells(other)
    assert cells(without(one, other)) == cells(one) - cells(other)
    assert all(a[1] < b[0] for a, b in pairwise(first))


def test_slices_of_nothing() -> None:
    assert slices_of(sides_of(((0, 0), (0, 0), (0, 0)), ()), ()) == []


# ---- sweeps ----


def _stretch(start: Point, end: Point) -> Stretch:
    return Stretch(WALL, start, end, (end[0] - start[0], end[1] - start[1]))


@given(st.integers(-(10**10), 10**10), st.integers(-(10**10), 10**10), st.integers(1, 10**9))
def test_depths_are_rounded_inward_by_less_than_a_nanometre(dx: int, dy: int, depth: int) -> None:
    assume((dx, dy) != (0, 0))
    x, y = outward((dx, dy), depth)
    square = Fraction(x) ** 2 + Fraction(y) ** 2
    assert (depth - 1) ** 2 < square <= depth**2 or depth == 1
    assert x * dx + y * dy == 0
    assert dx * y - dy * x <= 0


def test_a_square_corner_is_filled_to_the_mitre() -> None:
    fill = corner_fill(_stretch((0, 0), (100, 0)), _stretch((100, 0), (100, 50)), 7, 3)
    assert fill == ((100, 0), (100, -7), (103, -7), (103, 0))


def test_an_obtuse_corner_is_filled_to_the_mitre_and_a_sharp_one_by_a_triangle() -> None:
    obtuse = corner_fill(_stretch((0, 0), (100, 0)), _stretch((100, 0), (130, 40)), 10, 10)
    # Outward normal of (3, 4) is (4, −3)/5; both lines 10 away meet at (105, −10).
    assert obtuse is not None and len(obtuse) == 4
    assert [abs(a - b) < Fraction(1, 10**6) for a, b in zip(obtuse[2], (105, -10), strict=True)] == [True, True]
    sharp = corner_fill(_stretch((0, 0), (100, 0)), _stretch((100, 0), (70, 40)), 10, 10)
    assert sharp is not None and len(sharp) == 3


def test_nothing_fills_a_reflex_corner_or_a_straight_wall() -> None:
    assert corner_fill(_stretch((0, 0), (9, 0)), _stretch((9, 0), (9, -9)), 5, 5) is None
    assert corner_fill(_stretch((0, 0), (9, 0)), _stretch((9, 0), (20, 0)), 5, 5) is None


@given(
    st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=3, max_size=3),
    st.lists(st.tuples(st.integers(0, 20), st.integers(1, 20)), min_size=1, max_size=4),
)
def test_uncovered_area_of_a_triangle(corners: list[Point], columns: list[tuple[int, int]]) -> None:
    """Columns of a comb, each from the bottom to a height, against the same area summed from another clipping."""
    triangle = tuple(corners)
    assume(double_area(triangle) > 0)
    rects = [Rect(5 * i, 0, 5 * i + 5, high) for i, (_, high) in enumerate(columns)]
    whole = Rect(0, 0, 5 * len(columns), 20)
    above = [Rect(r.x0_nm, r.y1_nm, r.x1_nm, 20) for r in rects if r.y1_nm < 20]
    covered = Fraction(double_area(triangle)) / 2 - uncovered(triangle, rects)
    others = Fraction(double_area(triangle)) / 2 - uncovered(triangle, above)
    inside = Fraction(double_area(triangle)) / 2 - uncovered(triangle, [whole])
    assert covered + others == inside
    assert holds(triangle, [Rect(0, 0, 20, 20)])


def test_a_nanometre_short_is_short_along_the_axes_and_forgiven_obliquely() -> None:
    square = ((0, 0), (1000, 0), (1000, 1000), (0, 1000))
    assert not holds(square, [Rect(0, 0, 1000, 999)])
    triangle = ((0, 0), (1000, 0), (0, 1000))
    assert holds(triangle, [Rect(0, 1, 1000, 1000)])
    assert not holds(triangle, [Rect(0, 3, 1000, 1000)])


# ---- numbers and the lattice ----


@given(st.integers(-(10**14), 10**14), st.integers(1, 10**8))
def test_over_root_is_the_nearest_whole_number(a: int, square: int) -> None:
    value = over_root(a, square)
    scaled = Fraction(isqrt(a * a * 10**24 // square), 10**12)
    assert abs(abs(value) - scaled) <= Fraction(1, 2) + Fraction(1, 10**9)
    assert value == 0 or (value > 0) == (a > 0)


def test_turning_keeps_the_hand() -> None:
    assert turned((3, 4), LayDirection(0, 1)) == (3, 4)
    assert turned((3, 4), LayDirection(1, 0)) == (-4, 3)
    assert turned((5_000, 0), LayDirection(3, 4)) == (4_000, 3_000)


@given(
    st.lists(st.tuples(*[st.integers(0, 9)] * 2, *[st.integers(10, 20)] * 2), min_size=1, max_size=3),
    st.integers(0, 7),
)
def test_turned_pieces_keep_their_area_and_place(boxes: list[tuple[int, int, int, int]], turn: int) -> None:
    rects = tuple(Rect(*box) for box in boxes)
    corner = bounding_rect(rects)
    placed = turned_rects(rects, corner, turn, 5, 6)
    box = bounding_rect(placed)
    assert (box.x0_nm, box.y0_nm) == (5, 6)
    size = (corner.width_nm, corner.length_nm) if turn % 2 == 0 else (corner.length_nm, corner.width_nm)
    assert (box.width_nm, box.length_nm) == size
    assert sorted(r.area_nm2 for r in placed) == sorted(r.area_nm2 for r in rects)
    again = turned_rects(placed, box, -turn % 4, corner.x0_nm, corner.y0_nm)
    assert again == rects


meshes = st.builds(
    lambda across, along, share: Mesh(across, along, Fraction(along * share[0], share[1])),
    st.integers(1, 900),
    st.integers(1, 900),
    st.sampled_from(((0, 1), (1, 2), (1, 4), (1, 3), (2, 5))),
)
numbers = st.integers(-(10**6), 10**6)


@given(meshes, numbers, numbers, st.integers(-50, 50), st.integers(-50, 50))
def test_a_repeat_further_shows_the_same_spot(mesh: Mesh, x: int, y: int, m: int, n: int) -> None:
    assert mesh.across is not None
    further = (x + m * mesh.across, y + floor(m * mesh.drop) + n * mesh.along)
    assert mesh.same((x, y), further)
    assert mesh.reaches(further[0] - x, further[1] - y)
    assert mesh.level(further[1] - y)
    across, along = mesh.reduced(x, y)
    assert 0 <= across < mesh.across and 0 <= along < mesh.along


@given(meshes, numbers, numbers, st.integers(1, 899))
def test_another_column_place_is_another_spot(mesh: Mesh, x: int, y: int, off: int) -> None:
    assert mesh.across is not None
    assume(off % mesh.across)
    assert not mesh.same((x, y), (x + off, y))
    assert not mesh.reaches(off, 0)


def test_an_even_number_of_half_drops_is_straight() -> None:
    mesh = Mesh(500, 640, Fraction(320))
    assert mesh.reaches(1_000, 0) and mesh.reaches(500, 320)
    assert not mesh.reaches(500, 0)
    assert mesh.level(320) and not mesh.level(160)


def test_money_and_steps_round_as_they_should() -> None:
    assert [half_up(Fraction(n, 2)) for n in (1, 2, 3, -1)] == [1, 1, 2, 0]
    assert [up_to(n, 5) for n in (0, 1, 5, 6)] == [0, 5, 5, 10]


# ---- seam rules ----


def test_a_run_along_the_border_of_a_zone_does_not_pass_through() -> None:
    zone = ((10, 10), (20, 10), (20, 20), (10, 20))
    assert not _passes(Run("", (10, 0), (10, 30)), zone, 0)
    assert not _passes(Run("", (15, 0), (15, 10)), zone, 0)
    assert _passes(Run("", (11, 0), (11, 30)), zone, 0)
    assert _passes(Run("", (15, 0), (15, 11)), zone, 0)
    assert _passes(Run("", (15, 0), (15, 11)), zone[::-1], 0)
    assert not _passes(Run("", (13, 0), (13, 30)), zone, 4)


def test_a_run_may_end_at_the_jamb_but_not_inside_the_door() -> None:
    line = ((100, 0), (200, 0))
    assert [_inside_line((x, 0), line, 0) for x in (99, 100, 101, 199, 200)] == [False, False, True, True, False]
    assert not _inside_line((150, 1), line, 0)


def _narrow(outline: tuple[Point, ...], seams: tuple[int, ...], least: int) -> bool:
    room = _room(outline)
    room = Room(**{name: getattr(room, name) for name in room.__slots__} | {"rules": SeamRules(least_breadth_nm=least)})
    layout = RoomLayout(
        room_id="r",
        direction=LayDirection(0, 1),
        floor=outline,
        seams=tuple(Seam(at_nm=seam, runs=()) for seam in seams),
    )
    floor_ = LaidFloor(room=room, layout=layout, drops=(), cells=cells_of(room, layout), part_of={})
    view: Any = SimpleNamespace(floors={"r": floor_})
    return any(True for _ in check_least_breadth(view))


ELL = ((0, 0), (50, 0), (50, 30), (20, 30), (20, 60), (0, 60))


@pytest.mark.parametrize(
    ("seam", "least", "narrow"),
    [
        (17, 3, False),
        (17, 4, True),  # a sliver of 3 beside the wall of the leg
        (18, 21, True),  # the leg is 20 wide, but below it the floor is wide enough
        (25, 20, False),
        (3, 3, False),
        (2, 3, True),
    ],
)
def test_no_sliver_runs_beside_a_leg(seam: int, least: int, narrow: bool) -> None:
    assert _narrow(ELL, (seam,), least) is narrow


def test_a_recess_narrower_than_the_least_is_exempt() -> None:
    """A seam into a recess 8 wide in the far wall: beside it there is less than the least, but so is the recess."""
    recess = ((0, 0), (60, 0), (60, 30), (34, 30), (34, 35), (26, 35), (26, 30), (0, 30))
    assert not _narrow(recess, (30,), 10)
    assert _narrow(recess, (30,), 8)


def test_an_oblique_wall_that_runs_across_bounds_no_breadth() -> None:
    assert not _narrow(((0, 0), (60, 0), (60, 30), (31, 40), (0, 40)), (31,), 20)
    assert _narrow(((0, 0), (60, 0), (31, 40), (0, 40)), (31,), 20)
