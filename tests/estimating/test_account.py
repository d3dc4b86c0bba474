"""The account of the goods: worked answers, exact sums over generated plans, and faults that it must not hide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.geometry import Rect
from nesting.domain.job import Edge, Hole, HoleKind, Job, PatternPlacement, PlacementWish
from nesting.domain.material import Sale
from nesting.domain.plan import MaterialPlan, Plan, SourceKind
from nesting.estimating.account import IN_PIECES, Reason, SourceAccount, account_of, added_up, empty_places
from nesting.pipeline import Settings, plan_job
from tests import strategies
from tests.making import ALONG_Y, MM, M, at_seam, ell, goods, job, loose, planned_whole, rectangle, remnant, room

MM2 = MM * MM


def areas(a_job: Job, plan: MaterialPlan | None = None) -> Mapping[str, int]:
    """Return the parts of a whole plan's account that are not nothing, in mm²."""
    plan = plan or planned_whole(a_job, effort=0).materials[0]
    parts = added_up(account_of(a_job, plan))
    assert all(part.nm2 % MM2 == 0 for part in parts)
    return {part.reason.value: part.nm2 // MM2 for part in parts if part.nm2}


# --- worked by hand --------------------------------------------------------------------------------------------------


def test_one_room_on_one_roll() -> None:
    # Floor 3000 x 4000, trim 50 and half of 10 out of square on every side: 3110 x 4110, on the 5 mm step.
    # Ordered: 50 squaring + 4110, up to the next 100: 4200 of 4000 wide.
    den = room(rectangle(3 * M, 4 * M), lays=(ALONG_Y,), trim_nm=50 * MM, out_of_square_nm=10 * MM)
    its = goods(4 * M, cutting_step_nm=5 * MM, squaring_nm=50 * MM, sale=Sale(order_step_nm=100 * MM))
    a_job = job([den], its)
    plan = planned_whole(a_job, effort=0).materials[0]
    assert areas(a_job, plan) == {
        "floor": 12_000_000,
        "trim": 3_100 * 4_100 - 12_000_000,
        "out of square": 3_110 * 4_110 - 3_100 * 4_100,
        "beside": 890 * 4_110,
        "squaring": 4_000 * 50,
        "rounding": 4_000 * 40,
    }
    # The strip at the right is kept up to the end of the roll: 890 wide, 4110 + 40 long.
    (account,) = account_of(a_job, plan)
    kept = {part.reason: part.kept_nm2 // MM2 for part in account.parts if part.kept_nm2}
    assert kept == {Reason.BESIDE: 890 * 4_110, Reason.ROUNDING: 890 * 40}


def test_closing_is_what_the_cutting_step_adds() -> None:
    # 1996 x 3001 with 7 of trim: 2010 x 3015, which is on the 5 mm step; with 8: 2012 x 3017, cut 2015 x 3020.
    den = room(rectangle(1_996 * MM, 3_001 * MM), lays=(ALONG_Y,), trim_nm=8 * MM)
    found = areas(job([den], goods(2_015 * MM, cutting_step_nm=5 * MM)))
    assert found == {
        "floor": 1_996 * 3_001,
        "trim": 2_012 * 3_017 - 1_996 * 3_001,
        "closing": 2_015 * 3_020 - 2_012 * 3_017,
    }


def test_seam_allowance_and_cove() -> None:
    # 3000 x 2400 in goods of 2000 with an overlap of 20: one seam, 10 on either side of it. The south wall is coved
    # 100 high: the corner where cove and seam meet is cove.
    edges = (Edge(wall="south", cove_nm=100 * MM), Edge(), Edge(), Edge())
    den = room(rectangle(3 * M, 2_400 * MM), lays=(ALONG_Y,), edges=edges)
    found = areas(job([den], goods(2 * M, seam_overlap_nm=20 * MM)))
    assert found["floor"] == 3_000 * 2_400
    assert found["seam allowance"] == 20 * 2_400
    assert found["cove"] == 100 * 3_020
    assert set(found) == {"floor", "seam allowance", "cove", "beside"}


def test_a_column_and_a_filled_notch() -> None:
    # An L of 3000 x 4000 less 200 x 150: the notch is too small to keep, so that it is filled: closing.
    den = room(ell(3 * M, 4 * M, 200 * MM, 150 * MM), lays=(ALONG_Y,))
    found = areas(job([den], goods(3 * M)))
    assert found == {"floor": 3_000 * 4_000 - 200 * 150, "closing": 200 * 150}
    # A column of 300 x 300: 20 of trim runs into it all round, the rest of the hole stays in the cut.
    column = Hole(id="c", kind=HoleKind.COLUMN, outline=_square(1_000, 2_000, 300))
    den = room(rectangle(2 * M, 4 * M), lays=(ALONG_Y,), holes=(column,), trim_nm=20 * MM)
    found = areas(job([den], goods(2_040 * MM)))
    assert found["trim"] == 2_040 * 4_040 - 2_000 * 4_000 + 300 * 300 - 260 * 260
    assert found["closing"] == 260 * 260


def _square(x: int, y: int, side: int) -> tuple[tuple[int, int], ...]:
    return tuple((u * MM, v * MM) for u, v in ((x, y), (x + side, y), (x + side, y + side), (x, y + side)))


QUARTER_DROP = goods(2 * M, pattern=at_seam(640 * MM, 160 * MM, 2 * M))
FOUR_DROPS = room(rectangle(8 * M, 2_550 * MM), lays=(ALONG_Y,))


def test_repeat_loss_of_a_quarter_drop() -> None:
    # Four drops of 2550, Ry 640, D 160. Right to left each lies S + 640·⌈(2550 − S)/640⌉ = 160 + 640·4 = 2720 after
    # the last one: 170 are lost three times. In all 3 · 2720 + 2550 = 10710.
    a_job = job([FOUR_DROPS], QUARTER_DROP)
    plan = planned_whole(a_job, effort=0).materials[0]
    assert plan.measures.ordered_nm == ((2 * M, 10_710 * MM),)
    assert areas(a_job, plan) == {"floor": 8_000 * 2_550, "repeat": 3 * 170 * 2_000}


def test_repeat_loss_left_to_right() -> None:
    # S = −160 mod 640 = 480: 480 + 640·⌈2070/640⌉ = 3040, so that 490 are lost three times: 3 · 3040 + 2550 = 11670.
    a_job = job([FOUR_DROPS], QUARTER_DROP)
    whole = planned_whole(a_job, effort=0)
    plan = whole.materials[0]
    order = {cut.id: cut.breadth for cut in plan.cuts}
    places = tuple(replace(place, y_nm=3_040 * MM * order[place.cut_id]) for place in plan.placements)
    source = replace(plan.sources[0], length_nm=11_670 * MM, used_nm=11_670 * MM)
    groups = tuple(replace(group, phase_nm=(0, 0)) for group in plan.phase_groups)
    plan = replace(plan, placements=places, sources=(source,), phase_groups=groups)
    # Only its own sums are not as they were: the pattern agrees at every seam.
    assert {item.rule[:2] for item in check_plan(replace(whole, materials=(plan,)))} == {"V5"}
    assert areas(a_job, plan) == {"floor": 8_000 * 2_550, "repeat": 3 * 490 * 2_000}


def test_whole_repeats_are_not_lost_to_the_pattern() -> None:
    # The last drop 640 further on than it must be: by the lattice it could lie 640 lower, so 640 are merely empty.
    a_job = job([FOUR_DROPS], QUARTER_DROP)
    plan = planned_whole(a_job, effort=0).materials[0]
    last = max(plan.placements, key=lambda place: place.y_nm)
    places = tuple(replace(place, y_nm=place.y_nm + 640 * MM) if place is last else place for place in plan.placements)
    source = replace(plan.sources[0], length_nm=11_350 * MM)
    found = areas(a_job, replace(plan, placements=places, sources=(source,)))
    assert found == {"floor": 8_000 * 2_550, "repeat": 3 * 170 * 2_000, "beside": 640 * 2_000}


def test_what_is_gone_is_no_goods_and_no_part_of_the_account() -> None:
    # The same drops from a roll in hand: what was lost before the second of them is gone, and half of the width of what
    # was lost before the third.
    a_job = job([FOUR_DROPS], QUARTER_DROP)
    plan = planned_whole(a_job, effort=0).materials[0]
    gone = (Rect(0, 2_550 * MM, 2 * M, 2_720 * MM), Rect(0, 5_270 * MM, 1 * M, 5_440 * MM))
    plan = replace(plan, sources=(replace(plan.sources[0], kind=SourceKind.ROLL, gone=gone),))
    (account,) = account_of(a_job, plan)
    assert account.gone_nm2 == (170 * 2_000 + 170 * 1_000) * MM2
    assert account.goods_nm2 == 2_000 * 10_710 * MM2 - account.gone_nm2
    # The third drop meets what is gone at once, so that it is not the lattice that keeps the other half empty.
    assert areas(a_job, plan) == {"floor": 8_000 * 2_550, "repeat": 170 * 2_000, "beside": 170 * 1_000}
    assert empty_places(a_job, plan)["order-1"][Reason.BESIDE] == (Rect(1 * M, 5_270 * MM, 2 * M, 5_440 * MM),)


def test_the_end_of_rolls_flaws_selvedge_and_loose_pieces() -> None:
    # A mat of 1000 x 1500 from goods 1400 wide, 20 of selvedge at either edge: used 1500, minimum cut 2000.
    its = goods(1_400 * MM, selvedge_nm=20 * MM, sale=Sale(order_step_nm=400 * MM, minimum_cut_nm=2 * M))
    mat = loose(1_000 * MM, 1_500 * MM)
    assert areas(job([], its, loose=(mat,))) == {
        "loose pieces and strips": 1_000 * 1_500,
        "selvedge": 40 * 1_500,
        "beside": 360 * 1_500,
        "rounding": 1_400 * 100,  # to 1600
        "minimum cut": 1_400 * 400,
    }
    whole = goods(1_400 * MM, longest_nm=3 * M, sale=Sale(order_step_nm=1, whole_rolls=True))
    assert areas(job([], whole, loose=(mat,)))["whole rolls"] == 1_400 * 1_500
    # The same from a remnant of 1400 x 2500 with a flaw of 100 x 50 in its far corner.
    flaw = Rect(1_300 * MM, 2_450 * MM, 1_400 * MM, 2_500 * MM)
    found = areas(job([], its, loose=(mat,), stock=(remnant("R", 1_400 * MM, 2_500 * MM, flaws=(flaw,)),)))
    assert found["flaws"] == 100 * 50
    assert found["rest"] == 1_400 * 1_000 - 100 * 50
    assert "rounding" not in found


def test_what_an_unknown_phase_takes() -> None:
    # A placed pattern anchors the order: one repeat of 640 on top of the squaring of 30.
    wish = PatternPlacement(along=PlacementWish.WHOLE_AT_WALL, along_wall="south")
    edges = tuple(Edge(wall=wall) for wall in ("south", "east", "north", "west"))
    den = room(rectangle(2 * M, 2_550 * MM), lays=(ALONG_Y,), edges=edges, placement=wish)
    found = areas(job([den], replace(QUARTER_DROP, squaring_nm=30 * MM)))
    assert found["squaring"] == 2_000 * 30
    assert found["starting"] == 2_000 * 640


# --- of every plan ---------------------------------------------------------------------------------------------------


def adds_up(a_job: Job, plan: MaterialPlan, accounts: tuple[SourceAccount, ...]) -> None:
    """Assert that the parts are exact by themselves and agree with the plan's own account."""
    for account in accounts:
        assert [part.reason for part in account.parts] == list(Reason)
        assert all(0 <= part.kept_nm2 <= part.nm2 for part in account.parts)
        assert sum(part.nm2 for part in account.parts) == account.goods_nm2
    nm2 = {part.reason: part.nm2 for part in added_up(accounts)}
    own = plan.account
    assert sum(nm2.values()) == own.goods_nm2
    assert nm2[Reason.FLOOR] == own.floor_nm2
    assert sum(nm2[reason] for reason in IN_PIECES) == own.pieces_nm2
    assert sum(part.kept_nm2 for part in added_up(accounts)) == own.offcuts_nm2
    lost = sum(
        source.phase_loss_nm[0] * (source.length_nm - source.start_allowance_nm - source.phase_loss_nm[1])
        + source.phase_loss_nm[1] * source.width_nm
        for source in plan.sources
    )
    assert nm2[Reason.SQUARING] + nm2[Reason.STARTING] == own.start_nm2 + lost
    empty = sum(nm2.values()) - own.pieces_nm2
    assert empty == own.waste_nm2 + own.offcuts_nm2 + own.start_nm2
    material = next(item for item in a_job.materials if item.id == plan.material_id)
    if material.pattern is None:
        assert nm2[Reason.REPEAT] == 0
    if not material.selvedge_nm:
        assert nm2[Reason.SELVEDGE] == 0
    if not any(edge.cove_nm for item in a_job.rooms for edge in item.edges):
        assert nm2[Reason.COVE] == 0


any_job = st.one_of(
    strategies.plain_jobs(), strategies.ell_jobs(doors=True), strategies.patterned_jobs(), strategies.stock_jobs()
)


@pytest.mark.parametrize("examples", [25, pytest.param(250, marks=pytest.mark.slow)])
def test_it_adds_up_for_every_plan(examples: int) -> None:
    @settings(max_examples=examples, suppress_health_check=list(HealthCheck))
    @given(any_job)
    def check(a_job: Job) -> None:
        plan = plan_job(a_job, Settings(effort=0)).plan
        if plan is not None and plan.by_the_rules:
            adds_up(a_job, plan.materials[0], account_of(a_job, plan.materials[0]))

    check()


def test_it_adds_up_for_oblique_floors_with_seams() -> None:
    # Half nm² of floor on two rolls: they add up to the plan's own floor all the same.
    slanted = ((0, 0), (5 * M, 1), (4 * M, 3 * M + 1), (700 * MM, 2 * M))
    rooms = [
        room(slanted, "one", trim_nm=50 * MM),
        room(tuple((x + 3, y) for x, y in slanted), "two", trim_nm=30 * MM, out_of_square_nm=10 * MM),
    ]
    a_job = job(rooms, goods(2 * M, longest_nm=7 * M, seam_overlap_nm=20 * MM, cutting_step_nm=5 * MM))
    plan = planned_whole(a_job, effort=0).materials[0]
    accounts = account_of(a_job, plan)
    assert len(accounts) > 1
    adds_up(a_job, plan, accounts)
    nm2 = {part.reason: part.nm2 for part in added_up(accounts)}
    # All round the rooms there is trim: about its depth times the walls' length, and the corners.
    assert 0 < nm2[Reason.OUT_OF_SQUARE] < nm2[Reason.TRIM] < nm2[Reason.FLOOR] // 5


# --- planted faults --------------------------------------------------------------------------------------------------


def _l_and_mat() -> tuple[Job, Plan]:
    den = room(rectangle(3 * M, 4 * M), lays=(ALONG_Y,), trim_nm=50 * MM)
    a_job = job([den], goods(4 * M, squaring_nm=50 * MM), loose=(loose(700 * MM, 1_000 * MM),))
    return a_job, planned_whole(a_job, effort=0)


def test_pieces_that_overlap_do_not_add_up() -> None:
    a_job, whole = _l_and_mat()
    plan = whole.materials[0]
    adds_up(a_job, plan, account_of(a_job, plan))
    places = tuple(replace(place, x_nm=0, y_nm=50 * MM) for place in plan.placements)
    with pytest.raises(AssertionError):
        adds_up(a_job, plan, account_of(a_job, replace(plan, placements=places)))


def test_a_floor_that_is_not_covered_is_missed() -> None:
    a_job, whole = _l_and_mat()
    plan = whole.materials[0]
    cuts = tuple(
        replace(cut, rects=(Rect(0, 0, 700 * MM, 1_000 * MM),)) if cut.owner == "room" else cut for cut in plan.cuts
    )
    with pytest.raises(ValueError, match="room-1"):
        account_of(a_job, replace(plan, cuts=cuts))


def test_another_drop_than_the_pattern_has_shows_as_repeat_loss() -> None:
    a_job = job([FOUR_DROPS], QUARTER_DROP)
    plan = planned_whole(a_job, effort=0).materials[0]
    moved = tuple(replace(place, y_nm=place.y_nm + number * 10 * MM) for number, place in enumerate(plan.placements))
    source = replace(plan.sources[0], length_nm=10_740 * MM)
    found = areas(a_job, replace(plan, placements=moved, sources=(source,)))
    assert found["repeat"] == 3 * 180 * 2_000
    assert Fraction(found["repeat"], 2_000) == 540
