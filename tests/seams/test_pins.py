"""Layouts that keep what is pinned: seams, a cap on them, an earlier layout; and why there is none."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import KeepOut, Room
from nesting.domain.material import Material, Pattern
from nesting.domain.pins import OneLot, PinnedLayout, PinnedSeam, RoomPins
from nesting.domain.rules import RuleId, SeamRules
from nesting.floor.frames import back_point
from nesting.seams.candidates import candidates_of
from nesting.seams.clusters import cluster_rooms
from nesting.seams.family import allowed_seams
from nesting.seams.laid import Goods, LaidRoom
from nesting.seams.layouts import Laid, layouts_of_room
from tests import making
from tests.seams.floors import MM, M, column, goods_of, oblique_outlines, rectangle, room_of, stepped_outlines
from tests.seams.holding import broken_rules

ALONG_Y, ALONG_X = LayDirection(0, 1), LayDirection(1, 0)


def upright(u: int, name: str = "seam") -> PinnedSeam:
    return PinnedSeam(name=name, start=(u * MM, 0), end=(u * MM, 3 * M))


def level(v: int) -> PinnedSeam:
    return PinnedSeam(name="seam", start=(0, v * MM), end=(3 * M, v * MM))


def laid_out(room: Room, material: Material, limit: int = 60) -> Laid:
    goods = Goods(widths_nm=material.widths_nm, longest_nm=material.longest_nm)
    return layouts_of_room(room, material, goods, limit=limit)


def seams_of(laid: LaidRoom) -> list[int]:
    return [seam.at_nm for seam in laid.layout.seams]


# --- worked by hand --------------------------------------------------------------------------------------------------


def test_the_lay_runs_along_a_pinned_seam_and_the_rest_is_made_up_beside_it() -> None:
    """5.0 x 4.0 m, 2 m goods: a seam at 1.8 m leaves 3.2 m, two breadths more: 2.0 and 1.2 m, or equal."""
    room = room_of(rectangle(5000, 4000), pins=RoomPins(seams=(upright(1800),)), trim_nm=0, out_of_square_nm=0)
    found = laid_out(room, goods_of(2 * M, cutting_step_nm=100 * MM)).layouts
    assert {laid.layout.direction for laid in found} <= {ALONG_Y, ALONG_Y.quarter_turned(2)}
    ways = [seams_of(laid) for laid in found if laid.layout.direction == ALONG_Y]
    assert [1800 * MM, 3800 * MM] in ways and [1800 * MM, 3400 * MM] in ways
    assert all(1800 * MM in seams for seams in ways)


def test_a_level_seam_turns_the_lay() -> None:
    room = room_of(rectangle(5000, 3600), pins=RoomPins(seams=(level(1800),)))
    found = laid_out(room, goods_of(2 * M)).layouts
    assert found and all(laid.layout.direction in (ALONG_X, ALONG_X.quarter_turned(2)) for laid in found)


def test_a_seam_off_the_cutting_step_stands_within_half_a_step() -> None:
    """The swept floor begins at −56 mm, so that seams on its step of 5 mm stand at 4 mm over a multiple of 5."""
    room = room_of(rectangle(5000, 4000), pins=RoomPins(seams=(upright(1803),)), trim_nm=51 * MM)
    found = laid_out(room, goods_of(2 * M)).layouts
    places = {min(seams_of(laid), key=lambda at: abs(abs(at) - 1803 * MM)) for laid in found}
    assert {abs(at) for at in places} <= {1803 * MM, 1804 * MM, 1805 * MM, 1801 * MM, 1802 * MM}
    assert any(abs(at) % (5 * MM) == 4 * MM for at in places)


def test_two_pinned_seams_leave_one_breadth_between_them() -> None:
    room = room_of(rectangle(6000, 4000), pins=RoomPins(seams=(upright(2100), upright(4000))))
    found = laid_out(room, goods_of(3 * M)).layouts
    for laid in found:
        for pinned in (2100, 4000):
            assert min(abs(abs(at) - pinned * MM) for at in seams_of(laid)) <= 2_500_000
    assert min(laid.seams for laid in found) == 2


def test_seams_of_two_directions_cannot_be_kept() -> None:
    pins = RoomPins(seams=(upright(2100, "one"), level(2000)))
    (refusal,) = laid_out(room_of(rectangle(6000, 4000), pins=pins), goods_of(3 * M)).refusals
    assert refusal.rule is RuleId.PINS
    assert "(one; seam)" in refusal.text and "none of the lay directions" in refusal.text


def test_a_seam_across_the_fixed_lay_cannot_be_kept() -> None:
    room = room_of(rectangle(6000, 4000), pins=RoomPins(seams=(upright(2100),)), lays=(ALONG_X,))
    (refusal,) = laid_out(room, goods_of(3 * M)).refusals
    assert refusal.rule is RuleId.PINS and "none of the lay directions" in refusal.text


def test_a_rule_in_the_way_of_a_pin_is_named() -> None:
    room = room_of(rectangle(6000, 4000), pins=RoomPins(seams=(upright(200),)))
    (refusal,) = laid_out(room, goods_of(3 * M)).refusals
    assert refusal.rule is RuleId.PINS and refusal.text.endswith("narrower than the least breadth")
    eased = replace(room, rules=SeamRules(waived=(RuleId.LEAST_BREADTH,)))
    assert laid_out(eased, goods_of(3 * M)).layouts


def test_an_oblique_line_is_laid_along() -> None:
    line = PinnedSeam(name="seam", start=(1 * M, 0), end=(4 * M, 4 * M))
    room = room_of(rectangle(6000, 4000), pins=RoomPins(seams=(line,)))
    material = goods_of(4 * M)
    found = laid_out(room, material).layouts
    assert found and {laid.layout.direction for laid in found} == {LayDirection(3, 4), LayDirection(-3, -4)}
    assert broken_rules(room, material, found[0]) == []


def test_no_seam_and_at_most_one() -> None:
    room = room_of(rectangle(3900, 2500))
    for most in (0, 1):
        found = laid_out(replace(room, pins=RoomPins(most_seams=most)), goods_of(3 * M)).layouts
        assert found and max(laid.seams for laid in found) == most
    wide = room_of(rectangle(3900, 3500), pins=RoomPins(most_seams=0))
    (refusal,) = laid_out(wide, goods_of(3 * M)).refusals
    assert refusal.rule is RuleId.PINS and "(no seam)" in refusal.text


def test_a_relief_cut_counts_as_a_seam() -> None:
    holes = (column(1400, 1000, 1600, 1200),)
    room = room_of(rectangle(2800, 2500), holes=holes, pins=RoomPins(most_seams=0))
    assert not laid_out(room, goods_of(3 * M)).layouts
    assert laid_out(replace(room, pins=RoomPins(most_seams=1)), goods_of(3 * M)).layouts


def test_a_pinned_layout_is_the_only_one() -> None:
    room = room_of(rectangle(5000, 9000))
    material = goods_of(2 * M, longest_nm=6 * M)
    for laid in laid_out(room, material).layouts[::7]:
        cross = tuple((seam.breadth, seam.at_nm) for seam in laid.layout.cross_seams)
        seams = tuple(seams_of(laid))
        pin = PinnedLayout(direction=laid.layout.direction, seams_nm=seams, cross_seams_nm=cross)
        pinned = replace(room, pins=RoomPins(layout=pin))
        again = laid_out(pinned, material).layouts
        assert again and all(item.layout == laid.layout for item in again)
        assert broken_rules(pinned, material, again[0]) == []


def test_a_pinned_layout_that_the_rules_forbid_is_refused() -> None:
    pin = PinnedLayout(direction=ALONG_Y, seams_nm=(2 * M,))
    zone = KeepOut(id="sink", outline=((1900 * MM, 0), (2100 * MM, 0), (2100 * MM, M), (1900 * MM, M)))
    room = room_of(rectangle(3800, 3000), pins=RoomPins(layout=pin), keep_outs=(zone,))
    (refusal,) = laid_out(room, goods_of(3 * M)).refusals
    assert refusal.rule is RuleId.PINS and "the layout of an earlier plan" in refusal.text
    assert refusal.text.endswith("through a keep-out zone")


def test_a_pinned_layout_with_more_cross_seams_than_allowed_is_refused() -> None:
    pin = PinnedLayout(direction=ALONG_Y, seams_nm=(), cross_seams_nm=((0, 2 * M),))
    room = room_of(rectangle(1800, 4000), pins=RoomPins(layout=pin))
    assert laid_out(room, goods_of(2 * M)).refusals
    eased = replace(room, rules=SeamRules(cross_seams_per_breadth=1))
    assert laid_out(eased, goods_of(2 * M)).layouts
    assert laid_out(room, goods_of(2 * M, longest_nm=3 * M)).layouts  # forced


def test_pins_that_are_waived_pin_nothing() -> None:
    free = room_of(rectangle(5000, 4000))
    room = replace(free, pins=RoomPins(seams=(upright(1811),)), rules=SeamRules(waived=(RuleId.PINS,)))
    assert laid_out(room, goods_of(2 * M)).layouts == laid_out(free, goods_of(2 * M)).layouts


# --- properties ------------------------------------------------------------------------------------------------------


@settings(max_examples=25)
@given(stepped_outlines(), st.integers(0, 10**6), st.sampled_from([2000, 3000]), st.booleans())
def test_every_layout_keeps_the_pinned_seam(
    outline: tuple[Point, ...], where: int, width: int, patterned: bool
) -> None:
    pattern = Pattern(along_nm=300 * MM, across_nm=250 * MM) if patterned else None
    material = goods_of(width * MM, pattern=pattern)
    room = room_of(outline)
    allowed = allowed_seams(room, material, ALONG_Y)
    assume(allowed)
    low, high = allowed[where % len(allowed)]
    u = low + (high - low) * (where % 97) // 96
    (start, end) = (back_point((u, v), ALONG_Y) for v in (0, 7 * M))
    room = replace(room, pins=RoomPins(seams=(PinnedSeam(name="seam", start=start, end=end),)))
    found = laid_out(room, material, limit=8)
    assert found.layouts or found.refusals
    for laid in found.layouts:
        assert broken_rules(room, material, laid) == []


@settings(max_examples=8)
@given(oblique_outlines(), st.integers(1, 95))
def test_every_layout_keeps_the_pinned_seam_of_an_oblique_floor(outline: tuple[Point, ...], share: int) -> None:
    material = goods_of(3 * M)
    room = room_of(outline)
    allowed = allowed_seams(room, material, LayDirection(3, 4))
    assume(allowed)
    low, high = allowed[share % len(allowed)]
    start, end = (back_point((low + (high - low) * share // 96, v), LayDirection(3, 4)) for v in (0, 4 * M))
    room = replace(room, pins=RoomPins(seams=(PinnedSeam(name="seam", start=start, end=end),)))
    for laid in laid_out(room, material, limit=4).layouts:
        assert broken_rules(room, material, laid) == []


# --- the whole material ----------------------------------------------------------------------------------------------


def test_rooms_that_are_alike_but_for_their_pins_are_laid_each_by_itself() -> None:
    rooms = [
        making.room(making.rectangle(5 * M, 4 * M), name, pins=RoomPins(seams=(upright(at),)))
        for name, at in (("one", 1800), ("two", 2000))
    ]
    job = making.job(rooms, making.goods(2 * M, cutting_step_nm=10 * MM))
    laid = candidates_of(job, job.materials[0]).laid
    for name, at in (("one", 1800 * MM), ("two", 2000 * MM)):
        assert laid[name] and all(at in [abs(seam) for seam in seams_of(item)] for item in laid[name])


def test_rooms_named_alike_share_no_words() -> None:
    """Only the words of a pin differ: the rooms are alike, and one is laid for both."""
    rooms = [
        making.room(making.rectangle(5 * M, 4 * M), name, pins=RoomPins(seams=(upright(1800, name),)))
        for name in ("one", "two")
    ]
    job = making.job(rooms, making.goods(2 * M))
    laid = candidates_of(job, job.materials[0]).laid
    assert [seams_of(item) for item in laid["one"]] == [seams_of(item) for item in laid["two"]]


def test_rooms_of_one_lot_are_one_lot_group_and_two_phase_groups() -> None:
    rooms = [making.room(making.rectangle(2 * M, 2 * M), name) for name in ("a", "b", "c", "d")]
    material = making.goods(2 * M, pattern=making.pattern(300 * MM))
    job = making.job(rooms, material, matches=(("a", "b"),), one_lot=(OneLot(rooms=("d", "b")),))
    clusters = cluster_rooms(job, material, ["a", "b", "c", "d"])
    assert clusters.lot["a"] == clusters.lot["b"] == clusters.lot["d"] != clusters.lot["c"]
    assert clusters.phase["a"] == clusters.phase["b"] != clusters.phase["d"] != clusters.phase["c"]


@pytest.mark.parametrize("directed", [True, False])
def test_a_room_joined_to_one_with_a_pin_turns_with_it(directed: bool) -> None:
    pinned = making.room(making.rectangle(3 * M, 5 * M), "a", pins=RoomPins(seams=(level(1500),)))
    other = making.room(making.rectangle(2 * M, 3 * M), "b")
    material = making.goods(2 * M, directed=directed, pattern=making.pattern(300 * MM))
    job = making.job([pinned, other], material, matches=(("a", "b"),))
    laid = candidates_of(job, material).laid
    common = {item.layout.direction for item in laid["a"]} & {item.layout.direction for item in laid["b"]}
    assert common and all(lay.dy == 0 for lay in common)
