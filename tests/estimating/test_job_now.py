"""The job as it is now, worked out by hand: a kitchen of 6 × 3 m in goods 2 m wide, three drops one after another."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nesting.domain.done import CutState
from nesting.domain.geometry import Point, Rect
from nesting.domain.job import Job, PatternPlacement, PlacementWish
from nesting.domain.material import StockPiece
from nesting.domain.plan import Plan, SourceKind
from nesting.domain.rules import RuleId
from nesting.domain.state import Delivered, FlawFound, Spoiled, State
from nesting.errors import JobError
from nesting.estimating.again import Again, plan_again
from nesting.estimating.job_now import job_now
from nesting.estimating.rooms_now import WHAT_IS_CUT
from nesting.pipeline import Settings, plan_job
from tests.estimating.begun_jobs import cuts_of, place_of, see_that_it_is_sound, see_that_nothing_made_moved
from tests.making import ALONG_Y, MM, M, at_seam, goods, job, loose, pattern, rectangle, remnant, room

DROPS = ("kitchen-1", "kitchen-2", "kitchen-3")
QUICK = Settings(effort=0)


def kitchen(across_nm: int = 6 * M, along_nm: int = 3 * M, **changes: Any):  # type: ignore[no-untyped-def]
    return room(rectangle(across_nm, along_nm), "kitchen", lays=(ALONG_Y,), **changes)


def closet(along_nm: int = 1200 * MM):  # type: ignore[no-untyped-def]
    return room(rectangle(2 * M, along_nm), "closet", lays=(ALONG_Y,))


def plan_of(a_job: Job) -> Plan:
    plan = plan_job(a_job, QUICK).plan
    assert plan is not None and plan.by_the_rules
    return plan


@pytest.fixture(scope="module")
def plain() -> Plan:
    return plan_of(job([kitchen()], goods(2 * M)))


@pytest.fixture(scope="module")
def straight() -> Plan:
    """Drops of 2.5 m with a repeat of 1 m: they begin at 0, 3 and 6 m, and 8.5 m are ordered."""
    return plan_of(job([kitchen(along_nm=2500 * MM)], goods(2 * M, pattern=at_seam(1 * M, 0, 2 * M))))


def again(plan: Plan, state: State, today: Job | None = None) -> Again:
    """Plan again, and see what is always true of it."""
    found = plan_again(plan, state, today, QUICK)
    if found.plan is not None:
        see_that_it_is_sound(found)
        see_that_nothing_made_moved(plan, state, found)
    return found


def order_of(found: Again) -> list[tuple[int, str]]:
    assert found.plan is not None, found.refusals
    return [(line.length_nm, line.lot) for part in found.plan.materials for line in part.order]


def lies(found: Again, cut_id: str) -> tuple[str, int, int]:
    assert found.plan is not None, found.refusals
    return lies_at(found.plan, cut_id)


def lies_at(plan: Plan, cut_id: str) -> tuple[str, int, int]:
    _, place, _ = place_of(plan, cut_id)
    return place.source_id, place.x_nm, place.y_nm


def cut_called(plan: Plan, number: int) -> str:
    return next(cut.id for cut in cuts_of(plan) if cut.number == number)


def faults_of(plan: Plan, state: State, today: Job | None = None) -> dict[str, str]:
    with pytest.raises(JobError) as caught:
        plan_again(plan, state, today, QUICK)
    assert all(fault.what and fault.hint for fault in caught.value.faults)
    return {fault.code: fault.what for fault in caught.value.faults}


def piece_of(a_job: Job, name: str) -> StockPiece:
    return next(piece for piece in a_job.stock if piece.id == name)


# --- goods and what is cut ---


def test_the_example_is_as_it_says(plain: Plan, straight: Plan) -> None:
    assert [place_of(plain, cut_called(plain, n))[1].y_nm for n in (1, 2, 3)] == [0, 3 * M, 6 * M]
    assert [line.length_nm for line in plain.materials[0].order] == [9 * M]
    assert [place_of(straight, cut_called(straight, n))[1].y_nm for n in (1, 2, 3)] == [0, 3 * M, 6 * M]
    assert [line.length_nm for line in straight.materials[0].order] == [8500 * MM]


def test_what_is_cut_stands_in_the_job_and_its_room_is_pinned(plain: Plan) -> None:
    one, two = cut_called(plain, 1), cut_called(plain, 2)
    now = job_now(plain, State(cut=(one, two), laid=(one,))).job
    assert {item.cut.id: item.cut.state for item in now.done} == {one: CutState.LAID, two: CutState.CUT}
    assert [(item.source_id, item.y_nm) for item in now.done] == [("order-1", 0), ("order-1", 3 * M)]
    layout = now.rooms[0].pins.layout
    assert layout is not None and (layout.plan, layout.seams_nm) == (WHAT_IS_CUT, (2 * M, 4 * M))
    roll = piece_of(now, "order-1")
    assert (roll.width_nm, roll.length_nm, roll.lot, roll.gone) == (2 * M, 9 * M, "that of order-1", ())


def test_a_drop_without_a_rest_is_ordered_anew_of_its_lot(plain: Plan) -> None:
    two = cut_called(plain, 2)
    found = again(plain, State(cut=DROPS, spoiled=(Spoiled(cut_id=two),)))
    assert order_of(found) == [(3 * M, "that of order-1")]
    assert lies(found, two) == ("order-2", 0, 0)
    assert found.plan is not None and found.remade == {two}
    assert {cut.id: cut.number for cut in cuts_of(found.plan)}[two] == 4
    assert piece_of(found.plan.job, "order-1").gone == (Rect(0, 3 * M, 2 * M, 6 * M),)


def test_a_drop_is_cut_anew_from_what_came_too_long(plain: Plan) -> None:
    two = cut_called(plain, 2)
    came = Delivered(source_id="order-1", length_nm=12 * M, lot="L 88")
    found = again(plain, State(delivered=(came,), cut=DROPS, spoiled=(Spoiled(cut_id=two),)))
    assert order_of(found) == [] and lies(found, two) == ("order-1", 0, 9 * M)
    short = replace(came, length_nm=12 * M - 1)
    found = again(plain, State(delivered=(short,), cut=DROPS, spoiled=(Spoiled(cut_id=two),)))
    assert order_of(found) == [(3 * M, "L 88")]


@pytest.mark.parametrize(("spare_nm", "ordered"), [(1800 * MM, []), (1800 * MM - 1, [(3 * M, "that of order-1")])])
def test_what_is_left_of_a_spoiled_drop_serves_a_smaller_room(spare_nm: int, ordered: list[tuple[int, str]]) -> None:
    """9 m are cut, 1.2 m are for the closet, 1.8 m more came: the drop fits behind the others only if the closet goes.

    It goes to the 1.2 m that are left of the spoiled drop.
    """
    plan = plan_of(job([kitchen(), closet()], goods(2 * M)))
    assert [cut.owner for cut in sorted(cuts_of(plan), key=lambda cut: cut.number)][-1] == "closet"
    assert lies_at(plan, "closet-1") == ("order-1", 0, 9 * M)
    came = Delivered(source_id="order-1", length_nm=10200 * MM + spare_nm)
    two = cut_called(plan, 2)
    state = State(delivered=(came,), cut=DROPS, spoiled=(Spoiled(cut_id=two, left=(Rect(0, 0, 2 * M, 1200 * MM),)),))
    found = again(plan, state)
    assert order_of(found) == ordered
    if not ordered:
        assert lies(found, "closet-1") == ("cut-2", 0, 0) and lies(found, two) == ("order-1", 0, 9 * M)


def test_the_rest_of_a_spoiled_drop_is_used_exactly() -> None:
    """A mat of 2 × 1.2 m is cut anew from as much that is left of a spoiled drop; a nanometre less is too little."""
    a_job = job([kitchen()], goods(2 * M), loose=(loose(2 * M, 1200 * MM, loose_id="mat"),))
    plan = plan_of(a_job)
    mat = next(cut.id for cut in cuts_of(plan) if cut.owner == "mat")
    last = max(cut.number for cut in cuts_of(plan))
    names = tuple(cut.id for cut in cuts_of(plan))
    spoiled = (Spoiled(cut_id=mat), Spoiled(cut_id="kitchen-1", left=(Rect(0, 0, 2 * M, 1200 * MM),)))
    found = again(plan, State(cut=names, spoiled=spoiled))
    number = next(cut.number for cut in cuts_of(plan) if cut.id == "kitchen-1")
    assert lies(found, mat) == (f"cut-{number}", 0, 0)
    assert order_of(found) == [(3 * M, "that of order-1")]
    assert found.plan is not None
    assert sorted(cut.number for cut in cuts_of(found.plan) if cut.id in (mat, "kitchen-1")) == [last + 1, last + 2]
    short = (spoiled[0], Spoiled(cut_id="kitchen-1", left=(Rect(0, 0, 2 * M, 1200 * MM - 1),)))
    assert order_of(again(plan, State(cut=names, spoiled=short))) == [(4200 * MM, "that of order-1")]


def test_a_flaw_moves_what_lies_on_it_and_nothing_else(plain: Plan) -> None:
    names = [cut_called(plain, n) for n in (1, 2, 3)]
    flaw = FlawFound(source_id="order-1", rect=Rect(0, 8 * M, 50 * MM, 8050 * MM))
    found = again(plain, State(cut=(names[0],), flaws=(flaw,)))
    assert lies(found, names[1]) == ("order-1", 0, 3 * M)
    assert lies(found, names[2])[0] == "order-2" and order_of(found) == [(3 * M, "that of order-1")]
    assert "flaw-in-cut" in faults_of(plain, State(cut=tuple(names), flaws=(flaw,)))


def test_a_narrower_roll_that_does_not_hold_what_is_cut(plain: Plan) -> None:
    came = Delivered(source_id="order-1", width_nm=1990 * MM)
    assert "cut-outside" in faults_of(plain, State(delivered=(came,), cut=DROPS))
    found = again(plain, State(delivered=(came,)))  # nothing is cut: four breadths, or goods of 2 m
    assert found.plan is not None


def test_a_narrower_roll_leaves_a_cut_without_its_selvedge() -> None:
    """Goods 2 m wide with 10 mm selvedge: a drop between seams takes 1.98 m; on 1.99 m it lies on the edge."""
    plan = plan_of(job([kitchen(5940 * MM)], goods(2 * M, selvedge_nm=10 * MM, cutting_step_nm=10 * MM)))
    inner = next(cut.id for cut in cuts_of(plan) if cut.breadth == 1)
    part, place, _ = place_of(plan, inner)
    assert (place.x_nm, len(part.cuts)) == (10 * MM, 3)
    came = Delivered(source_id="order-1", width_nm=1990 * MM)
    assert "cut-outside" in faults_of(plan, State(delivered=(came,), cut=(inner,)))
    assert again(plan, State(delivered=(replace(came, width_nm=2 * M),), cut=(inner,))).plan is not None


def test_an_offcut_that_is_gone_is_not_cut_from() -> None:
    """12 m come in one piece: 9 are used, the rest is an offcut behind the last cut."""
    whole = goods(2 * M, longest_nm=12 * M)
    plan = plan_of(job([kitchen()], replace(whole, sale=replace(whole.sale, whole_rolls=True))))
    (offcut,) = plan.materials[0].offcuts
    assert offcut.rect == Rect(0, 9 * M, 2 * M, 12 * M)
    state = State(cut=DROPS, spoiled=(Spoiled(cut_id="kitchen-3"),))
    assert order_of(again(plan, state)) == []
    found = again(plan, replace(state, gone=(offcut.id,)))
    assert order_of(found) == [(12 * M, "that of order-1")]


# --- lots ---


def test_a_lot_of_which_no_more_can_be_ordered(plain: Plan) -> None:
    came = Delivered(source_id="order-1", lot="L 88", lot_orderable=False)
    found = again(plain, State(delivered=(came,), cut=DROPS, spoiled=(Spoiled(cut_id="kitchen-2"),)))
    assert found.plan is None
    (refusal,) = found.refusals
    assert (refusal.owner, refusal.rule) == ("kitchen", RuleId.ONE_LOT)
    assert refusal.text == "Kitchen: it is begun in lot L 88, no more can be ordered of it, and too little is left"


def test_two_rolls_that_came_of_two_lots() -> None:
    """12 m on rolls of 6 m: what is cut of one room from both is a fault, what is not yet cut is not."""
    plan = plan_of(job([kitchen(8 * M)], goods(2 * M, longest_nm=6 * M)))
    rolls = [source.id for source in plan.materials[0].sources]
    assert len(rolls) == 2
    came = tuple(Delivered(source_id=name, lot=f"lot of {name}") for name in rolls)
    names = tuple(cut.id for cut in cuts_of(plan))
    faults = faults_of(plan, State(delivered=came, cut=names))
    assert faults["two-lots"] == "Kitchen: cut 1, 2, 3, 4 were made from two lots"
    first = tuple(name for name in names if place_of(plan, name)[2].id == rolls[0])
    found = again(plan, State(delivered=came, cut=first))
    assert found.plan is not None
    assert {place_of(found.plan, name)[2].lot for name in names} == {f"lot of {rolls[0]}"}


# --- patterns ---


def test_a_drop_of_a_pattern_from_the_rest_of_its_roll(straight: Plan) -> None:
    """8.5 m are cut, the next drop begins on the repeat, at 9 m, and ends at 11.5 m."""
    two = cut_called(straight, 2)
    state = State(cut=DROPS, spoiled=(Spoiled(cut_id=two),))
    came = Delivered(source_id="order-1", length_nm=11500 * MM)
    found = again(straight, replace(state, delivered=(came,)))
    assert order_of(found) == [] and lies(found, two) == ("order-1", 0, 9 * M)
    found_short = faults_of(straight, replace(state, delivered=(replace(came, length_nm=11499 * MM),)))
    assert list(found_short) == ["first-mark-needed"]


def test_a_drop_of_a_pattern_from_a_new_roll_once_the_first_mark_is_measured(straight: Plan) -> None:
    """The new roll is cut from its first mark on: it loses up to a repeat, 1 m, before 2.5 m."""
    two = cut_called(straight, 2)
    state = State(cut=DROPS, spoiled=(Spoiled(cut_id=two),))
    faults = faults_of(straight, state)
    text = "the pattern of order-1 has to meet that of other goods, and was never measured"
    assert faults == {"first-mark-needed": text}
    came = Delivered(source_id="order-1", first_mark_nm=(0, 0))
    found = again(straight, replace(state, delivered=(came,)))
    assert order_of(found) == [(3500 * MM, "that of order-1")] and lies(found, two) == ("order-2", 0, 1 * M)
    assert found.plan is not None and place_of(found.plan, two)[2].anchored


@pytest.mark.parametrize(("length_mm", "fits"), [(3100, True), (3099, False)])
def test_a_drop_of_a_pattern_from_a_remnant_of_known_phase(straight: Plan, length_mm: int, fits: bool) -> None:
    """Its first mark lies 600 mm from its start: the drop takes 600 to 3100 mm of it."""
    two = cut_called(straight, 2)
    piece = remnant("R-1", 2 * M, length_mm * MM, lot="A", phase_nm=(0, 400 * MM))
    today = replace(straight.job, stock=(piece,))
    came = Delivered(source_id="order-1", lot="A", first_mark_nm=(0, 0))
    state = State(delivered=(came,), cut=DROPS, spoiled=(Spoiled(cut_id=two),))
    found = again(straight, state, today)
    if fits:
        assert order_of(found) == [] and lies(found, two) == ("R-1", 0, 600 * MM)
    else:
        assert order_of(found) == [(3500 * MM, "A")]


@pytest.mark.parametrize("mark", [(0, 0), (0, 250 * MM), (0, 999 * MM)])
def test_the_first_mark_moves_the_phase_of_what_is_cut(straight: Plan, mark: Point) -> None:
    (group,) = straight.materials[0].phase_groups
    came = Delivered(source_id="order-1", first_mark_nm=mark)
    now = job_now(straight, State(delivered=(came,), cut=("kitchen-1",)))
    assert piece_of(now.job, "order-1").phase_nm == (-mark[0], -mark[1])
    assert now.job.rooms[0].pins.phase_nm == (group.phase_nm[0] - mark[0], group.phase_nm[1] - mark[1])
    found = again(straight, State(delivered=(came,), cut=("kitchen-1",)))
    assert order_of(found) == [] and [lies(found, name)[2] % M for name in DROPS] == [0, 0, 0]


def test_a_first_mark_measured_after_the_second_planning() -> None:
    """The offcut that lay beside the cuts has its phase from the roll: both move together."""
    a_job = job([kitchen(5 * M, 2500 * MM)], goods(2 * M, pattern=pattern(1 * M)))
    plan = plan_of(a_job)
    all_cut = tuple(cut.id for cut in cuts_of(plan))
    before = again(plan, State(cut=all_cut)).plan
    assert before is not None
    rest = next(piece for piece in before.job.stock if piece.kind.value == "remnant")
    assert rest.phase_assumed and rest.phase_nm is not None
    came = Delivered(source_id="order-1", first_mark_nm=(0, 300 * MM))
    now = job_now(before, State(delivered=(came,))).job
    assert piece_of(now, "order-1").phase_nm == (0, -300 * MM)
    moved = piece_of(now, rest.id)
    assert (moved.phase_nm, moved.phase_assumed) == ((rest.phase_nm[0], rest.phase_nm[1] - 300 * MM), False)
    assert now.rooms[0].pins.phase_nm is not None and before.job.rooms[0].pins.phase_nm is not None
    assert now.rooms[0].pins.phase_nm[1] == before.job.rooms[0].pins.phase_nm[1] - 300 * MM


def test_rooms_that_never_meet_need_no_first_mark() -> None:
    """Two rooms from two rolls of unknown phase, each of its own: both are cut, nothing has to be measured."""
    other = room(rectangle(2 * M, 2500 * MM), "study", lays=(ALONG_Y,))
    roll = remnant("R-1", 2 * M, 2500 * MM)
    plan = plan_of(
        job([kitchen(4 * M, 2500 * MM), other], goods(2 * M, pattern=at_seam(1 * M, 0, 2 * M)), stock=(roll,))
    )
    assert {source.id for source in plan.materials[0].sources} == {"R-1", "order-1"}
    found = again(plan, State(cut=tuple(cut.id for cut in cuts_of(plan))))
    assert order_of(found) == []


def test_rooms_that_match_share_phase_and_lot_once_one_is_begun() -> None:
    bath = room(rectangle(2 * M, 2500 * MM), "bath", lays=(ALONG_Y,), plan_id="p")
    hall = kitchen(4 * M, 2500 * MM, plan_id="p")
    material = goods(2 * M, pattern=at_seam(1 * M, 0, 2 * M))
    plan = plan_of(job([hall, bath], material, matches=(("kitchen", "bath"),)))
    state = State(laid=("kitchen-1",))
    now = job_now(plan, state).job
    (group,) = plan.materials[0].phase_groups
    assert [item.pins.phase_nm for item in now.rooms] == [group.phase_nm, group.phase_nm]
    assert [item.pins.layout is not None for item in now.rooms] == [True, False]
    short = Delivered(source_id="order-1", length_nm=5500 * MM, lot="L 1", first_mark_nm=(0, 0))
    found = again(plan, replace(state, delivered=(short,)))
    assert {lot for _, lot in order_of(found)} == {"L 1"}
    none = again(plan, replace(state, delivered=(replace(short, lot_orderable=False),)))
    assert none.plan is None and none.refusals


# --- rooms of today ---


def test_a_room_measured_again_that_its_cuts_still_cover(plain: Plan) -> None:
    """50 mm less at the end: the drops are longer than they must be, and are kept."""
    today = replace(plain.job, rooms=(kitchen(along_nm=2950 * MM),))
    found = again(plain, State(cut=DROPS), today)
    assert found.remade == frozenset() and order_of(found) == []


def test_a_room_measured_again_that_its_cuts_no_longer_cover(plain: Plan) -> None:
    """50 mm more: all three are cut anew, and what they were serves the closet."""
    today = replace(plain.job, rooms=(kitchen(along_nm=3050 * MM), closet()))
    found = again(plain, State(cut=DROPS), today)
    assert found.remade == set(DROPS)
    assert order_of(found) == [(9150 * MM, "that of order-1")]
    assert lies(found, "closet-1")[0] in ("cut-1", "cut-2", "cut-3")
    assert [notice.code for notice in found.notices] == ["let-go"]
    faults = faults_of(plain, State(laid=DROPS), today)
    assert faults == {"laid-misfit": "cut 1, 2, 3 is laid, and Kitchen does not use it as it is now"}


def test_a_room_dropped_gives_its_goods_back(plain: Plan) -> None:
    today = replace(plain.job, rooms=(room(rectangle(2 * M, 3 * M), "study", lays=(ALONG_Y,)),))
    found = again(plain, State(cut=("kitchen-1",)), today)
    assert order_of(found) == [] and found.remade == {"kitchen-1"}
    assert "laid-misfit" in faults_of(plain, State(laid=("kitchen-1",)), today)


def test_a_room_added_is_cut_from_what_is_there() -> None:
    whole = goods(2 * M, longest_nm=12 * M)
    plan = plan_of(job([kitchen()], replace(whole, sale=replace(whole.sale, whole_rolls=True))))
    today = replace(plan.job, rooms=(kitchen(), closet(3 * M)))
    found = again(plan, State(cut=DROPS), today)
    assert order_of(found) == [] and lies(found, "closet-1") == ("order-1", 0, 9 * M)
    assert order_of(again(plan, State(cut=DROPS), replace(today, rooms=(kitchen(), closet(3001 * MM))))) != []


def test_a_room_called_something_else_is_the_same_room(plain: Plan) -> None:
    today = replace(plain.job, rooms=(kitchen(name="Big kitchen"),))
    found = again(plain, State(cut=("kitchen-1",)), today)
    assert order_of(found) == [] and found.remade == frozenset()


def test_stock_that_came_since_is_used(plain: Plan) -> None:
    today = replace(plain.job, stock=(remnant("R-9", 2 * M, 3 * M, lot="that of order-1"),))
    found = again(plain, State(cut=DROPS, spoiled=(Spoiled(cut_id="kitchen-2"),)), today)
    assert order_of(found) == [] and lies(found, "kitchen-2") == ("R-9", 0, 0)


# --- what cannot be ---


def test_what_is_told_too_late(straight: Plan) -> None:
    late = Delivered(source_id="order-1", along_nm=1010 * MM)
    assert "repeat-too-late" in faults_of(straight, State(delivered=(late,), cut=("kitchen-1",)))
    wound = Delivered(source_id="order-1", wound_other_way=True)
    assert "wound-too-late" in faults_of(straight, State(delivered=(wound,), cut=("kitchen-1",)))
    assert again(straight, State(delivered=(late,))).plan is not None


def test_goods_wound_the_other_way_turn_the_lay() -> None:
    plan = plan_of(job([kitchen()], goods(2 * M, directed=True)))
    wound = Delivered(source_id="order-1", wound_other_way=True)
    assert job_now(plan, State(delivered=(wound,))).job.rooms[0].lays == (ALONG_Y.quarter_turned(2),)
    found = again(plan, State(delivered=(wound,)))
    assert found.plan is not None and order_of(found) == []
    assert found.plan.materials[0].layouts[0].direction == ALONG_Y.quarter_turned(2)


def test_a_repeat_measured_before_anything_is_cut(straight: Plan) -> None:
    """The drops begin a repeat of 1.01 m further on: at 0, 3.03 and 6.06 m, and 60 mm more are ordered, or more."""
    came = Delivered(source_id="order-1", along_nm=1010 * MM, length_nm=8560 * MM)
    found = again(straight, State(delivered=(came,)))
    assert order_of(found) == []
    assert sorted(lies(found, name)[2] for name in DROPS) == [0, 3030 * MM, 6060 * MM]


def test_a_placed_pattern_gives_way_to_what_is_cut() -> None:
    """The wish was for the old walls; the drop is cut, and the room turned out a little shorter."""
    middle = PatternPlacement(along=PlacementWish.MOTIF_CENTRED)
    plan = plan_of(job([kitchen(4 * M, 2 * M, placement=middle)], goods(2 * M, pattern=at_seam(1 * M, 0, 2 * M))))
    today = replace(plan.job, rooms=(kitchen(4 * M, 1900 * MM, placement=middle),))
    found = again(plan, State(cut=("kitchen-1", "kitchen-2")), today)
    assert order_of(found) == [] and [notice.code for notice in found.notices] == ["pattern-as-cut"]


def test_a_plan_that_needs_consent_cannot_have_begun() -> None:
    wide = kitchen(rules=replace(kitchen().rules, least_breadth_nm=3 * M))
    plan = plan_job(job([wide], goods(2 * M)), QUICK).plan
    assert plan is not None and plan.consents
    assert list(faults_of(plan, State(cut=("kitchen-1",)))) == ["not-by-the-rules"]


# --- twice ---


def test_a_drop_spoiled_twice(plain: Plan) -> None:
    first = again(plain, State(cut=DROPS, spoiled=(Spoiled(cut_id="kitchen-2", left=(Rect(0, 0, 2 * M, M),)),)))
    assert first.plan is not None
    assert plan_again(first.plan, State(), None, QUICK).plan is first.plan
    old = next(cut.number for cut in cuts_of(plain) if cut.id == "kitchen-2")
    state = State(cut=("kitchen-2",), spoiled=(Spoiled(cut_id="kitchen-2", left=(Rect(0, 0, 2 * M, 2 * M),)),))
    second = again(first.plan, state)
    assert second.plan is not None and order_of(second) == [(3 * M, "that of order-1")]
    assert lies(second, "kitchen-2") == ("order-3", 0, 0)
    names = {piece.id: piece.length_nm for piece in second.plan.job.stock}
    assert names == {"order-1": 9 * M, "order-2": 3 * M, f"cut-{old}": 1 * M, "cut-4": 2 * M}
    assert [source.kind for source in second.plan.materials[0].sources][-1] is SourceKind.ORDER
