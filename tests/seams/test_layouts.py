from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from nesting.domain.geometry import LayDirection, Point, bounding_rect
from nesting.domain.job import Access, Door, DoorJoint, Edge, EdgeKind, JointBelow, KeepOut, Room
from nesting.domain.layout import CutKind
from nesting.domain.material import Material, Pattern
from nesting.domain.rules import RuleId, SeamRules
from nesting.seams.family import allowed_seams
from nesting.seams.laid import Goods, LaidRoom
from nesting.seams.layouts import layouts_of_room
from tests.seams.floors import (
    FT,
    INCH,
    MM,
    M,
    chord_lengths,
    column,
    floor_polygon,
    goods_of,
    oblique_outlines,
    rectangle,
    room_of,
    rough,
    stepped_outlines,
)
from tests.seams.holding import broken_rules

ALONG_Y, ALONG_X = LayDirection(0, 1), LayDirection(1, 0)


def laid_out(room: Room, material: Material, **changes: object) -> tuple[LaidRoom, ...]:
    goods = Goods(widths_nm=material.widths_nm, longest_nm=material.longest_nm)
    return layouts_of_room(room, material, replace(goods, **changes)).layouts  # type: ignore[arg-type]


def sizes(laid: LaidRoom) -> list[tuple[int, int]]:
    boxes = [bounding_rect(cut.rects) for cut in laid.cuts]
    return sorted((rect.width_nm, rect.length_nm) for rect in boxes)


# --- answers worked by hand (design, section 10) ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lay", "cross_seams", "fills"),
    [
        (ALONG_X, 0, [(53.0, 172.0)]),  # 172 + 172 in = 28' 8"
        (ALONG_X, 1, [(53.0, 86.5)] * 2),  # 172 + 86 1/2 in = 21' 6 1/2"
        (ALONG_Y, 3, [(29.0, 49.75)] * 4),  # 196 + 49 3/4 in = 20' 5 3/4"
    ],
)
def test_fills_of_a_14_by_16_foot_room(lay: LayDirection, cross_seams: int, fills: list[tuple[float, float]]) -> None:
    rules = SeamRules(cross_seams_per_breadth=cross_seams)
    room = room_of(rectangle(14, 16), FT, trim_nm=2 * INCH, out_of_square_nm=0, lays=(lay,), rules=rules)
    material = goods_of(12 * FT, seam_overlap_nm=INCH, cutting_step_nm=INCH // 4)
    drop = (144 * INCH, (196 if lay == ALONG_Y else 172) * INCH)
    wanted = sorted([drop, *((round(w * INCH), round(n * INCH)) for w, n in fills)])
    found = [laid for laid in laid_out(room, material) if sizes(laid) == wanted]
    assert found and found[0].seams == 1 + cross_seams


def test_a_corridor_longer_than_the_longest_roll_gets_one_cross_seam_clear_of_doors() -> None:
    """Design, section 10: 38.0 × 1.80 m, goods 2 m, longest roll 30 m: 38.12 m in two pieces."""
    doors = [(4_000, 5_000), (7_970, 9_000), (29_500, 30_500)]
    points, edges = [(0, 0)], []
    for low, high in doors:
        edges += [Edge(wall="south"), Edge(kind=EdgeKind.DOOR, door=str(low))]
        points += [(low, 0), (high, 0)]
    points += [(38_000, 0), (38_000, 1_800), (0, 1_800)]
    edges += [Edge(wall="south"), Edge(), Edge(), Edge()]
    lines = {str(a): ((a * MM, 0), (b * MM, 0)) for a, b in doors}
    room = room_of(
        tuple(points),
        edges=tuple(edges),
        doors=tuple(Door(id=name, opening=line, line=line) for name, line in lines.items()),
        trim_nm=50 * MM,
        out_of_square_nm=0,
    )
    material = goods_of(2 * M, seam_overlap_nm=20 * MM, longest_nm=30 * M, squaring_nm=0)
    best = laid_out(room, material)
    assert best[0].seams == 1
    single = [laid for laid in best if laid.seams == 1]
    assert all(sum(bounding_rect(cut.rects).length_nm for cut in laid.cuts) == 38_120 * MM for laid in single)
    for laid in single:
        at = laid.layout.cross_seams[0].at_nm
        assert not any(low * MM < at < high * MM for low, high in doors)
        assert broken_rules(room, material, laid) == []


def test_a_patterned_corridor_is_also_split_so_that_its_pieces_may_begin_anywhere_within_a_repeat() -> None:
    """Two rolls bound to the pattern lose a repeat each; what is as long as the rest fits in one phase only."""
    repeat, squaring, step = 500 * MM, 50 * MM, 5 * MM
    material = goods_of(
        2 * M,
        pattern=Pattern(along_nm=repeat, across_nm=None),
        longest_nm=25 * M,
        squaring_nm=squaring,
        cutting_step_nm=step,
    )
    room = room_of(rectangle(1800, 40000), lays=(ALONG_Y,))
    sure = 25 * M - squaring - repeat
    longest = [max(length for _, length in sizes(laid)) for laid in laid_out(room, material) if laid.seams == 1]
    assert sure - repeat + step in longest  # as long as any phase lets it be
    assert min(longest) <= 21 * M  # and in halves, as before


def test_a_corridor_that_must_be_split_has_layouts_with_seams_in_more_than_one_place() -> None:
    """Where a breadth may be split in many ways, those of one seam do not take the places of all other seams."""
    material = goods_of(
        2 * M, pattern=Pattern(along_nm=500 * MM, across_nm=None), longest_nm=25 * M, squaring_nm=50 * MM
    )
    room = room_of(rectangle(2100, 40000), lays=(ALONG_Y,))
    outcome = layouts_of_room(room, material, Goods(widths_nm=material.widths_nm, longest_nm=25 * M), limit=6)
    fewest = [laid for laid in outcome.layouts if laid.seams == 3]
    assert len({tuple(seam.at_nm for seam in laid.layout.seams) for laid in fewest}) == len(fewest) == 3
    assert min(laid.seams for laid in outcome.layouts) == 3 < max(laid.seams for laid in outcome.layouts)


def test_a_seam_that_only_two_remnants_give() -> None:
    """Design, section 10: room 13 m wide, remnants 8 m and 5.5 m wide: the seam lies between 7.5 and 8 m."""
    room = room_of(rectangle(13, 5), M, trim_nm=0, out_of_square_nm=0, lays=(ALONG_Y,))
    stock = ((8 * M, 6 * M), (5_500 * MM, 6 * M))
    found = laid_out(room, goods_of(4 * M), stock_nm=stock)
    single = [laid.layout.seams[0].at_nm for laid in found if len(laid.layout.seams) == 1]
    assert any(7_500 * MM <= at <= 8 * M for at in single)


# --- every layout obeys the rules -------------------------------------------------------------------------------------


def check_by_hand(room: Room, laid: LaidRoom, *, slanting: bool = False) -> None:
    """Least breadth, keep-outs, joints and doors, sampled: written apart from planner and checker."""
    rules, floor = room.rules, floor_polygon(laid)
    lines = [seam.at_nm for seam in laid.layout.seams]
    shift = dict(zip(room.outline, laid.layout.floor, strict=True))
    for seam in laid.layout.seams:
        for low, high in seam.runs:
            run = LineString([(seam.at_nm, low), (seam.at_nm, high)])
            assert floor.buffer(5).contains(run)
            for door in room.doors:
                ends = [shift[point] for point in door.line]
                if door.bridgeable and ends[0][1] == ends[1][1] and ends[0][1] in (low, high):
                    assert not min(ends)[0] < seam.at_nm < max(ends)[0]
            # sides that slant may run across the lay, and then bound no breadth: the checker knows which
            for part in () if slanting else range(1, 20):
                v = low + (high - low) * (part + 0.137) / 20
                for left, right in chord_lengths(floor, v):
                    if left + 5 < seam.at_nm < right - 5 and right - left >= rules.least_breadth_nm:
                        marks = sorted([left, right, *(u for u in lines if left < u < right)])
                        gaps = [b - a for a, b in pairwise(marks) if seam.at_nm in (a, b)]
                        assert min(gaps) >= rules.least_breadth_nm - 10
    covered = [rough(cut.rects) for cut in laid.cuts if cut.kind is CutKind.DROP]
    missing = floor
    for shape in covered:
        missing = missing.difference(shape)
    assert missing.area <= 1e-9 * floor.area


@given(stepped_outlines(), st.sampled_from([2000, 3660, 4000]), st.integers(0, 25), st.integers(0, 1), st.data())
@settings(deadline=None, max_examples=18)
def test_layouts_of_rectilinear_rooms_obey_the_rules(
    points: tuple[Point, ...], width: int, overlap: int, crossings: int, data: st.DataObject
) -> None:
    u = data.draw(st.integers(0, 9000))
    zone = tuple((x * MM, y * MM) for x, y in ((u, 300), (u + 700, 300), (u + 700, 1200), (u, 1200)))
    joint = JointBelow(id="joint", start=((u + 2000) * MM, 0), end=((u + 2000) * MM, 5 * M))
    room = room_of(
        points,
        keep_outs=(KeepOut(id="stove", outline=zone),),
        joints_below=(joint,),
        rules=SeamRules(cross_seams_per_breadth=crossings),
    )
    material = goods_of(width * MM, seam_overlap_nm=overlap * MM, selvedge_nm=15 * MM, longest_nm=7 * M)
    for laid in laid_out(room, material)[:4]:
        assert broken_rules(room, material, laid) == []
        check_by_hand(room, laid)
        if laid.layout.direction == ALONG_Y:
            for seam in laid.layout.seams:
                for low, high in seam.runs:
                    assert (
                        not box(u * MM, 300 * MM, (u + 700) * MM, 1200 * MM)
                        .buffer(-5)
                        .intersects(LineString([(seam.at_nm, low), (seam.at_nm, high)]))
                    )
                    near = abs(seam.at_nm - joint.start[0]) < room.rules.joint_clearance_nm
                    assert not (near and low < 5 * M and high > 0)


@given(oblique_outlines(), st.sampled_from([2000, 4000]))
@settings(deadline=None, max_examples=6)
def test_layouts_of_oblique_rooms_obey_the_rules(points: tuple[Point, ...], width: int) -> None:
    room = room_of(points)
    material = goods_of(width * MM, seam_overlap_nm=20 * MM)
    for laid in laid_out(room, material)[:2]:
        assert broken_rules(room, material, laid) == []
        check_by_hand(room, laid, slanting=True)


@given(stepped_outlines())
@settings(deadline=None, max_examples=15)
def test_mirrored_rooms_get_mirrored_sizes(points: tuple[Point, ...]) -> None:
    """Whole steps only: a room's far side rounds up to the cutting step, so others mirror to within a step."""
    points = tuple((x, y // 10 * 10) for x, y in points)
    mirrored = tuple((-x, y) for x, y in reversed(points))
    material = goods_of(4 * M, seam_overlap_nm=20 * MM, directed=False)
    found = []
    for outline in (points, mirrored):
        room = room_of(outline, trim_nm=50 * MM, out_of_square_nm=0, lays=(ALONG_Y,))
        layouts = laid_out(room, material)
        found.append(
            (
                sorted({len(laid.layout.seams) for laid in layouts}),
                {tuple(sizes(laid)) for laid in layouts if len(laid.layout.seams) <= 1},
            )
        )
    assert found[0] == found[1]


@given(stepped_outlines(), st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6))
@settings(deadline=None, max_examples=12)
def test_shifting_a_room_changes_no_layout(points: tuple[Point, ...], right: int, up: int) -> None:
    material = goods_of(4 * M, seam_overlap_nm=20 * MM)
    here = laid_out(room_of(points), material)
    there = laid_out(room_of(tuple((x + right, y + up) for x, y in points)), material)
    assert [sizes(laid) for laid in here] == [sizes(laid) for laid in there]
    assert [laid.seams for laid in here] == [laid.seams for laid in there]


def test_the_same_room_twice_gives_the_same_layouts() -> None:
    room, material = room_of(((0, 0), (9, 0), (9, 4), (5, 4), (5, 7), (0, 7)), M), goods_of(4 * M)
    assert laid_out(room, material) == laid_out(room, material)


# --- single features --------------------------------------------------------------------------------------------------


def test_allowed_seams_keep_clear_of_everything() -> None:
    edges = (Edge(), Edge(kind=EdgeKind.DOOR, door="d"), Edge(), Edge(), Edge(), Edge())
    line = ((4000 * MM, 0), (4900 * MM, 0))
    room = room_of(
        ((0, 0), (4000, 0), (4900, 0), (9000, 0), (9000, 5000), (0, 5000)),
        edges=edges,
        doors=(Door(id="d", opening=line, line=line, joint=DoorJoint.TRANSITION),),
        keep_outs=(KeepOut(id="k", outline=tuple((x * M, y * M) for x, y in ((6, 4), (7, 4), (7, 5), (6, 5)))),),
        joints_below=(JointBelow(id="j", start=(2 * M, 0), end=(2 * M, 5 * M)),),
    )
    material = goods_of(4 * M)
    clear = room.rules.joint_clearance_nm
    assert allowed_seams(room, material, ALONG_Y) == (
        (300 * MM, 2 * M - clear),
        (2 * M + clear, 4 * M),
        (4900 * MM, 6 * M),
        (7 * M, 8700 * MM),
    )
    free = replace(room, rules=room.rules.without(RuleId.KEEP_OUT).without(RuleId.DOOR_OPENING))
    assert allowed_seams(free, material, ALONG_Y)[-1] == (2 * M + clear, 8700 * MM)


def test_a_seam_through_a_column_is_preferred_to_a_relief_cut() -> None:
    room = room_of(rectangle(6000, 5000), holes=(column(3300, 2000, 3700, 2400),), lays=(ALONG_Y,))
    found = laid_out(room, goods_of(4 * M))
    assert not found[0].layout.relief_cuts
    assert 3300 * MM <= found[0].layout.seams[0].at_nm <= 3700 * MM


def test_a_column_inside_a_piece_gets_the_shortest_relief_cut() -> None:
    room = room_of(rectangle(3500, 5000), holes=(column(600, 2000, 1000, 2400),), lays=(ALONG_Y,))
    material = goods_of(4 * M)
    laid = laid_out(room, material)[0]
    [relief] = laid.layout.relief_cuts
    assert (relief.start[1], relief.end[0]) == (relief.end[1], 0)
    assert (laid.seams, laid.seam_length_nm) == (1, 600 * MM)
    assert broken_rules(room, material, laid) == []
    zone = KeepOut(id="k", outline=tuple((x * MM, y * MM) for x, y in ((0, 1500), (600, 1500), (600, 3000), (0, 3000))))
    [other] = laid_out(replace(room, keep_outs=(zone,)), material)[0].layout.relief_cuts
    assert other.start[0] == other.end[0]  # along the lay instead


def test_rooms_only_just_too_wide_get_as_much_trim_as_the_goods_allow() -> None:
    room = room_of(rectangle(3940, 5000), trim_nm=50 * MM, out_of_square_nm=0, least_trim_nm=20 * MM, lays=(ALONG_Y,))
    material = goods_of(4 * M)
    laid = laid_out(room, material)[0]
    assert laid.seams == 0
    given = {item.edge: item.given_nm for item in laid.cuts[0].allowances}
    assert given == {0: 50 * MM, 1: 30 * MM, 2: 50 * MM, 3: 30 * MM}
    assert broken_rules(room, material, laid) == []
    assert laid_out(replace(room, least_trim_nm=40 * MM), material)[0].seams == 1


def test_drop_ends_go_below_the_trim_only_with_consent() -> None:
    room = room_of(rectangle(3000, 5950), trim_nm=50 * MM, out_of_square_nm=0, lays=(ALONG_Y,))
    material = goods_of(4 * M, longest_nm=6 * M, squaring_nm=0)
    assert laid_out(room, material)[0].seams == 1
    short = laid_out(replace(room, least_end_trim_nm=10 * MM), material)[0]
    assert short.seams == 0
    assert {item.given_nm for item in short.cuts[0].allowances} == {50 * MM, 25 * MM}


def test_a_cove_is_left_on_and_its_outside_corner_gets_an_insert() -> None:
    ell = ((0, 0), (3500, 0), (3500, 2000), (2000, 2000), (2000, 4000), (0, 4000))
    room = room_of(ell, edges=(Edge(cove_nm=100 * MM),) * 6, lays=(ALONG_Y,))
    material = goods_of(4 * M)
    laid = laid_out(room, material)[0]
    inserts = [cut for cut in laid.cuts if cut.kind is CutKind.INSERT]
    assert [bounding_rect(cut.rects)[2:] for cut in inserts] == [(100 * MM, 200 * MM)]
    assert len(laid.insets_nm) == len(laid.cuts)
    assert broken_rules(room, material, laid) == []


def test_a_seam_runs_up_the_cove() -> None:
    edges = (Edge(cove_nm=100 * MM), Edge(), Edge(), Edge())
    plain = laid_out(room_of(rectangle(5000, 4000), lays=(ALONG_Y,)), goods_of(4 * M))[0]
    coved = laid_out(room_of(rectangle(5000, 4000), edges=edges, lays=(ALONG_Y,)), goods_of(4 * M))[0]
    assert coved.seam_length_nm - plain.seam_length_nm == 100 * MM


def test_two_coved_walls_of_a_thin_stub_share_no_goods() -> None:
    stub = ((0, 0), (3600, 0), (3600, 3000), (1900, 3000), (1900, 1500), (1700, 1500), (1700, 3000), (0, 3000))
    edges = tuple(Edge(cove_nm=100 * MM if 3 <= i <= 5 else 0) for i in range(8))
    room = room_of(stub, edges=edges, lays=(ALONG_Y,))
    material = goods_of(4 * M)
    found = laid_out(room, material)
    assert found and all(laid.seams > 0 for laid in found)
    assert all(broken_rules(room, material, laid) == [] for laid in found[:6])
    assert laid_out(replace(room, edges=(Edge(),) * 8), material)[0].seams == 0


def test_access_limits_hold_for_every_cut() -> None:
    room = room_of(rectangle(6000, 4000), access=Access(widest_nm=2500 * MM, heaviest_g=40_000))
    material = goods_of(4 * M, weight_g_per_m2=Fraction(3_000))
    found = laid_out(room, material)
    assert found
    for laid in found:
        for cut in laid.cuts:
            assert bounding_rect(cut.rects).width_nm <= 2500 * MM
            assert sum(rect.area_nm2 for rect in cut.rects) * 3_000 <= 40_000 * 10**18


def test_goods_cut_in_sequence_come_in_both_senses() -> None:
    room = room_of(rectangle(7000, 4000), lays=(ALONG_Y,))
    found = laid_out(room, goods_of(4 * M, in_sequence=True))
    two = {laid.sequence for laid in found if len(laid.cuts) == 2}
    assert two == {(0, 1), (1, 0)}


def test_seams_run_on_the_seam_lines_of_the_goods() -> None:
    pattern = Pattern(along_nm=600 * MM, across_nm=600 * MM)
    material = goods_of(4 * M, pattern=pattern, seam_lines_across_nm=(0, 300 * MM), seam_overlap_nm=0)
    room = room_of(rectangle(9000, 4000), lays=(ALONG_Y,))
    found = [laid for laid in laid_out(room, material) if laid.layout.seams]
    assert found
    for laid in found:
        assert laid.phase_nm[0] is not None
        assert all((seam.at_nm + laid.phase_nm[0]) % (300 * MM) == 0 for seam in laid.layout.seams)
        assert broken_rules(room, material, laid) == []


def test_preferences_are_priced() -> None:
    with_traffic = room_of(rectangle(6000, 6000), traffic=ALONG_Y, lays=(ALONG_X, ALONG_Y))
    found = laid_out(with_traffic, goods_of(4 * M))
    assert found[0].layout.direction == ALONG_Y
    across = next(laid for laid in found if laid.layout.direction == ALONG_X)
    assert (found[0].dislike, across.dislike) == (0, 6 * M)


def test_an_anchor_binds_every_cut_to_its_grid() -> None:
    goods = Goods(widths_nm=(4 * M,))
    found = layouts_of_room(room_of(rectangle(6001, 4003)), goods_of(4 * M), goods, anchor=(0, 0)).layouts
    step = goods_of(4 * M).cutting_step_nm
    assert all(side % step == 0 for laid in found for cut in laid.cuts for rect in cut.rects for side in rect)


# --- rooms that cannot be laid ----------------------------------------------------------------------------------------


def refused(room: Room, material: Material, **goods: object) -> list[RuleId]:
    outcome = layouts_of_room(
        room,
        material,
        Goods(widths_nm=material.widths_nm, longest_nm=material.longest_nm, **goods),  # type: ignore[arg-type]
    )
    assert not outcome.layouts
    assert all(item.owner == room.id and item.text for item in outcome.refusals)
    return [item.rule for item in outcome.refusals]


def test_a_refusal_names_the_rule_in_the_way_and_by_how_much() -> None:
    zone = tuple((x * M, y * M) for x, y in ((0, 2), (9, 2), (9, 3), (0, 3)))
    room = room_of(rectangle(9, 5), M, keep_outs=(KeepOut(id="k", outline=zone),), lays=(ALONG_Y,))
    material = goods_of(4 * M)
    assert refused(room, material) == [RuleId.KEEP_OUT]
    [refusal] = layouts_of_room(room, material, Goods(widths_nm=(4 * M,))).refusals
    assert refusal.by_nm == pytest.approx(9 * M + 2 * (room.trim_nm + 5 * MM) - 4 * M, abs=10 * MM)
    eased = replace(room, rules=room.rules.without(RuleId.KEEP_OUT))
    assert laid_out(eased, material)


def test_cross_seams_that_are_forbidden_are_named() -> None:
    room = room_of(rectangle(1800, 38000), rules=SeamRules(forced_cross_seams=False), lays=(ALONG_Y,))
    assert refused(room, goods_of(2 * M, longest_nm=30 * M)) == [RuleId.CROSS_SEAMS]


def test_no_goods_at_all_is_said_so() -> None:
    room = room_of(rectangle(3000, 3000))
    outcome = layouts_of_room(room, goods_of(4 * M), Goods(widths_nm=()))
    assert [item.rule for item in outcome.refusals] == [RuleId.STOCK]


def test_a_keep_out_in_the_way_gives_a_breadth_no_more_cross_seams_than_its_length_calls_for() -> None:
    zone = tuple((x * MM, y * MM) for x, y in ((0, 4100), (3000, 4100), (3000, 5900), (0, 5900)))
    room = room_of(rectangle(3000, 10000), keep_outs=(KeepOut(id="k", outline=zone),), lays=(ALONG_Y,))
    assert refused(room, goods_of(4 * M, longest_nm=5950 * MM)) == [RuleId.KEEP_OUT]
