"""The life of a plan on the rack: offered, reserved, confirmed, undone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.checker import check_plan
from nesting.domain.geometry import Rect
from nesting.domain.material import StockKind
from nesting.domain.plan import OffcutUse, Plan, SourceKind
from nesting.domain.rack import Delivery, PhaseKnown, PieceFilter, PieceState, RackPiece
from nesting.errors import JobError
from nesting.shop import Rack
from tests.making import MM, M, planned_whole, rectangle, room
from tests.shop.making import (
    ELL,
    JOB,
    KEY,
    act,
    exact,
    goods_of,
    half_metre,
    job_for,
    piece,
    plan_of,
    planned_for,
    sound,
    with_pieces,
)

EVERY = PieceFilter(states=())


def used(plan: Plan) -> set[str]:
    return {source.stock_id for part in plan.materials for source in part.sources if source.stock_id}


def states(rack: Rack) -> dict[str, str]:
    return {item.id: item.state.value for item in rack.pieces(EVERY)}


# --- offered ---------------------------------------------------------------------------------------------------------


def test_only_what_is_free_is_offered_and_to_its_job_what_it_holds(rack: Rack) -> None:
    with_pieces(rack, *(piece(f"R-{number}") for number in range(1, 6)), piece("R-6", material_id="other"))
    rack.reserve(["R-2"], "hall", act())
    rack.reserve(["R-3"], "stairs", act())
    rack.scrap(["R-4"], act())
    assert [item.id for item in rack.stock_pieces([goods_of()])] == ["R-1", "R-5"]
    assert [item.id for item in rack.stock_pieces([goods_of()], job="hall")] == ["R-1", "R-2", "R-5"]


def test_a_piece_is_offered_with_all_that_planning_must_know(rack: Rack) -> None:
    flaw = Rect(0, 0, 100 * MM, 100 * MM)
    with_pieces(
        rack,
        piece("R-1", lot="A", lot_orderable=True, flaws=(flaw,), cost=500, place="b", **exact(600 * MM, 1_100 * MM)),
        piece("R-2", phase_nm=(0, 5 * MM), phase_known=PhaseKnown.ASSUMED),
    )
    first, second = rack.stock_pieces([goods_of(half_metre())])
    assert (first.lot, first.lot_orderable, first.flaws, first.place) == ("A", True, (flaw,), "b")
    assert first.phase_nm == (100 * MM, 100 * MM)
    assert first.book_value == 500
    assert second.phase_nm is None  # what a plan assumed of a roll holds beside goods of that roll only
    assert [item.phase_nm for item in rack.stock_pieces([goods_of()])] == [None, None]
    assert rack.stock_pieces([goods_of(selvedge_nm=1 * M)]) == ()


def test_other_money_is_never_taken_for_the_jobs(rack: Rack) -> None:
    from nesting.shop.offering import Money

    with_pieces(rack, piece("R-1", cost=501, currency="EUR", coin_per_unit=100))
    assert rack.stock_pieces([goods_of()], money=Money(currency="EUR", coin_per_unit=1000))[0].book_value == 5010
    assert rack.stock_pieces([goods_of()], money=Money())[0].book_value == 501
    with pytest.raises(JobError, match="other-money"):
        rack.stock_pieces([goods_of()], money=Money(currency="SEK"))
    with pytest.raises(JobError, match="other-money"):
        rack.stock_pieces([goods_of()], money=Money(currency="EUR", coin_per_unit=7))


def test_an_ell_is_offered_whole_or_squared_off(rack: Rack) -> None:
    flaw = Rect(500 * MM, 500 * MM, 1_500 * MM, 1_500 * MM)
    with_pieces(rack, piece("R-1", shape=ELL, flaws=(flaw,), **exact(0, 0)))
    (whole,) = rack.stock_pieces([goods_of(half_metre())])
    assert (whole.width_nm, whole.length_nm) == (2 * M, 3 * M)
    assert whole.gone == (Rect(1 * M, 1 * M, 2 * M, 3 * M),)
    (square,) = rack.stock_pieces([goods_of(half_metre())], squared=True)
    assert (square.width_nm, square.length_nm, square.gone) == (1 * M, 3 * M, ())
    assert square.flaws == (Rect(500 * MM, 500 * MM, 1 * M, 1_500 * MM),)
    assert rack.stock_pieces([goods_of()], squared=True, sizes_nm=((5 * M, 5 * M),)) == ()


def test_an_ell_of_unknown_phase_is_squared_off_where_the_goods_have_a_pattern(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", shape=ELL))
    assert rack.stock_pieces([goods_of(half_metre())])[0].gone == ()
    assert rack.stock_pieces([goods_of()])[0].gone != ()


# --- reserved --------------------------------------------------------------------------------------------------------


def test_a_plan_takes_exactly_the_pieces_that_it_cuts_from(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 2_100 * MM), piece("R-2", 1 * M, 1 * M), piece("R-3", 2 * M, 900 * MM))
    plan = planned_for(rack)
    done = rack.reserve_plan(plan, KEY, JOB, act())
    assert set(done.taken) == used(plan) == {"R-1"}
    assert done.freed == ()
    assert rack.piece("R-1").reserved_by_plan == KEY
    assert states(rack) == {"R-1": "reserved", "R-2": "free", "R-3": "free"}
    assert rack.reserve_plan(plan, KEY, JOB, act()).taken == ("R-1",)  # once more changes nothing
    assert rack.piece("R-1").version == 2
    assert sound(rack)


def test_what_a_better_plan_does_not_need_is_free_again(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 5 * M), piece("R-9"))
    rack.reserve(["R-9"], JOB, act("by hand"))
    rack.reserve_plan(planned_for(rack), "first", JOB, act())
    with_pieces(rack, piece("R-2", 2 * M, 2 * M))
    rack.reserve(["R-1"], JOB, act(), plan_key="first")
    better = plan_of(replace(job_for(rack), stock=rack.stock_pieces([goods_of()])))  # only R-2 is free to it
    done = rack.reserve_plan(better, "second", JOB, act())
    assert (done.taken, done.freed) == (("R-2",), ("R-1",))
    assert states(rack) == {"R-1": "free", "R-2": "reserved", "R-9": "reserved"}
    assert sound(rack)


def test_a_plan_is_refused_when_its_pieces_are_not_free_or_not_as_it_has_them(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 1 * M), piece("R-2", 2 * M, 1 * M), piece("R-3", 2 * M, 1 * M))
    a_job = replace(job_for(rack), rooms=tuple(room(rectangle(2 * M, 1 * M), name) for name in ("a", "b", "c")))
    plan = plan_of(a_job)
    assert used(plan) == {"R-1", "R-2", "R-3"}
    rack.reserve(["R-1"], "stairs", act())
    rack.correct([replace(rack.piece("R-2"), length_nm=900 * MM, lot="X")], act())
    for refused in (rack.reserve_plan, rack.confirm_plan):
        with pytest.raises(JobError) as caught:
            refused(plan, KEY, JOB, act())
        told = [(fault.code, fault.where, fault.what) for fault in caught.value.faults]
        assert told == [
            ("piece-not-free", "R-1", "it is not free: it is reserved for 'stairs'"),
            ("piece-changed", "R-2", "it is not as the plan has it any more: length, lot changed"),
        ]
    assert states(rack) == {"R-1": "reserved", "R-2": "free", "R-3": "free"}
    assert rack.bookings() == ()
    rack.correct([replace(rack.piece("R-2"), length_nm=1 * M, lot=None)], act("it was right"))
    rack.release(["R-1"], act())
    rack.move(["R-3"], "elsewhere", act())  # its place is of no account
    assert set(rack.reserve_plan(plan, KEY, JOB, act()).taken) == used(plan)


@pytest.mark.parametrize(
    "change",
    [
        {"flaws": (Rect(0, 0, 1, 1),)},
        {"phase_nm": (0, 1), "phase_known": PhaseKnown.MEASURED},
        {"shape": ELL},
        {"lot_orderable": True, "lot": "A"},
        {"kind": StockKind.ROLL},
        {"width_nm": 2 * M + 1},
    ],
)
def test_every_change_that_matters_to_the_plan_is_seen(rack: Rack, change: dict[str, object]) -> None:
    with_pieces(rack, piece("R-1", **exact(0, 0)))
    plan = planned_for(rack, material=goods_of(half_metre()))
    assert used(plan) == {"R-1"}
    rack.correct([replace(rack.piece("R-1"), **change)], act())  # type: ignore[arg-type]
    with pytest.raises(JobError, match="piece-changed"):
        rack.reserve_plan(plan, KEY, JOB, act())


def test_goods_that_are_not_the_racks_are_named_or_said_to_be_outside(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"))
    plan = planned_for(rack)
    plan = replace(plan)
    mine = plan.materials[0].sources[0]
    elsewhere = replace(
        plan,
        materials=(replace(plan.materials[0], sources=(replace(mine, stock_id="Q-1"),)),),
    )
    with pytest.raises(JobError, match="Q-1: the plan cuts from it, and the rack does not have it"):
        rack.reserve_plan(elsewhere, KEY, JOB, act())
    assert rack.reserve_plan(elsewhere, KEY, JOB, act(), outside={"Q-1"}).taken == ()


def test_a_plan_without_a_name_or_not_by_the_rules_takes_nothing(rack: Rack) -> None:
    from nesting.domain.plan import Consent
    from nesting.domain.rules import RuleId

    with_pieces(rack, piece("R-1"))
    plan = planned_for(rack)
    with pytest.raises(JobError, match="plan-key-missing"):
        rack.reserve_plan(plan, " ", JOB, act())
    with pytest.raises(JobError, match="job-missing"):
        rack.reserve_plan(plan, KEY, "", act())
    askew = replace(plan, consents=(Consent(rule=RuleId.TRIM, owner="room", text="less trim"),))
    with pytest.raises(JobError, match="not-by-the-rules"):
        rack.confirm_plan(askew, KEY, JOB, act())


# --- confirmed -------------------------------------------------------------------------------------------------------


def test_confirming_cuts_up_the_piece_and_books_what_is_left(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 5 * M, lot=None, cost=900))
    plan = planned_for(rack)
    rack.reserve_plan(plan, KEY, JOB, act())
    booking = rack.confirm_plan(plan, KEY, JOB, act("cut", minutes=5), delivery=Delivery(place="bay 7"))
    assert (booking.taken, booking.rolls, booking.undone) == (("R-1",), (), False)
    assert (booking.plan_key, booking.job, booking.who) == (KEY, JOB, "Ann")
    assert states(rack)["R-1"] == "cut"
    offcuts = plan.materials[0].offcuts
    made = [rack.piece(label) for label in booking.made]
    assert [(item.width_nm, item.length_nm) for item in made] == [
        (offcut.rect.width_nm, offcut.rect.length_nm) for offcut in offcuts
    ]
    for item, offcut in zip(made, offcuts, strict=True):
        kept = offcut.use is OffcutUse.SHOP
        assert item.state is (PieceState.FREE if kept else PieceState.CLIENT)
        assert item.place == ("bay 7" if kept else "")
        assert (item.lot, item.made_from, item.from_job) == ("lot of R-1", "R-1", JOB)
        assert (item.cost, item.received_at[11:16]) == (0, "09:35")
    (account,) = rack.accounts()
    assert account.received_nm2 == 10 * M * M
    assert account.cut_away_nm2 == 4 * M * M
    assert account.client_nm2 > 0
    assert sound(rack)


def test_offcuts_keep_lot_and_exact_phase(rack: Rack) -> None:
    with_pieces(
        rack,
        piece("R-1", 2 * M, 3_300 * MM, lot="A", lot_orderable=True, **exact(100 * MM, 200 * MM)),
    )
    plan = planned_for(rack, material=goods_of(half_metre()))
    booking = rack.confirm_plan(plan, KEY, JOB, act())
    assert booking.made
    for label, offcut in zip(booking.made, plan.materials[0].offcuts, strict=True):
        item = rack.piece(label)
        assert (item.lot, item.lot_orderable) == ("A", True)
        assert item.phase_known is PhaseKnown.EXACT
        expected = (
            (100 * MM + offcut.rect.x0_nm) % (500 * MM),
            (200 * MM + offcut.rect.y0_nm) % (500 * MM),
        )
        assert item.phase_nm == expected
    assert sound(rack)


def test_how_well_a_phase_is_known_goes_on_to_the_offcuts(rack: Rack) -> None:
    material = goods_of(half_metre())
    with_pieces(rack, piece("R-1", 2 * M, 4 * M, phase_nm=(0, 0), phase_known=PhaseKnown.MEASURED))
    measured = rack.confirm_plan(planned_for(rack, material=material), "one", JOB, act())
    assert {rack.piece(label).phase_known for label in measured.made} == {PhaseKnown.MEASURED}
    rack.scrap([label for label in measured.made if rack.piece(label).state is PieceState.FREE], act())
    with_pieces(rack, piece("R-2", 2 * M, 4 * M))
    unknown = rack.confirm_plan(planned_for(rack, material=material), "two", JOB, act())
    assert {rack.piece(label).phase_known for label in unknown.made} == {PhaseKnown.ASSUMED}
    assert sound(rack)


def test_ordered_rolls_come_from_the_supplier_and_are_cut(rack: Rack) -> None:
    plan = planned_for(rack, 3 * M, width_nm=1_500 * MM)
    (roll,) = plan.materials[0].sources
    assert roll.kind is SourceKind.ORDER
    delivery = Delivery(supplier="Weaver & Daughter", place="bay 1", lots={roll.id: "L-99"})
    booking = rack.confirm_plan(plan, KEY, JOB, act(), delivery=delivery)
    assert booking.taken == ()
    (label,) = booking.rolls
    came = rack.piece(label)
    assert (came.state, came.kind, came.lot) == (PieceState.CUT, StockKind.ROLL, "L-99")
    assert (came.supplier, came.length_nm, came.cost) == ("Weaver & Daughter", roll.length_nm, roll.cost)
    assert [entry.what for entry in rack.history(label)] == ["receive", "cut"]
    assert {rack.piece(made).lot for made in booking.made} == {"L-99"}
    assert {rack.piece(made).made_from for made in booking.made} == {label}
    assert sound(rack)


def test_an_ordered_roll_whose_lot_nobody_read_is_a_lot_of_its_own(rack: Rack) -> None:
    first = rack.confirm_plan(planned_for(rack, 3 * M, width_nm=1_500 * MM), "one", JOB, act())
    lots = {rack.piece(label).lot for label in (*first.rolls, *first.made)}
    assert lots == {f"lot of {first.rolls[0]}"}


def test_the_rest_of_a_roll_is_still_a_roll(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 9 * M, kind=StockKind.ROLL))
    (rest,) = _confirmed(rack, "one")
    assert (rack.piece(rest).kind, rack.piece(rest).length_nm) == (StockKind.ROLL, 7 * M)
    for number in range(3):
        (rest,) = _confirmed(rack, f"more {number}")
    assert (rack.piece(rest).kind, rack.piece(rest).length_nm) == (StockKind.REMNANT, 1 * M)


def test_a_plan_is_confirmed_once(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 5 * M))
    plan = planned_for(rack)
    rack.confirm_plan(plan, KEY, JOB, act())
    before = rack.export_json()
    for again in (rack.confirm_plan, rack.reserve_plan):
        with pytest.raises(JobError, match="this plan was confirmed already, by Ann at 2024-05-02T09:30"):
            again(plan, KEY, JOB, act())
    assert rack.export_json() == before


def test_a_plan_of_orders_only_is_confirmed_once_too(rack: Rack) -> None:
    plan = planned_for(rack, 3 * M, width_nm=1_500 * MM)
    rack.confirm_plan(plan, KEY, JOB, act())
    with pytest.raises(JobError, match="plan-confirmed"):
        rack.confirm_plan(plan, KEY, JOB, act())


def test_what_was_squared_off_and_is_worth_keeping_comes_back(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", shape=ELL, lot="A", **exact(0, 0)))
    a_job = job_for(rack, 2_900 * MM, width_nm=1 * M, material=goods_of(half_metre()))
    material = a_job.materials[0]
    sizes = a_job.offcuts.sizes_nm
    plan = plan_of(replace(a_job, stock=rack.stock_pieces([material], squared=True, sizes_nm=sizes)))
    assert used(plan) == {"R-1"}
    booking = rack.confirm_plan(plan, KEY, JOB, act(), delivery=Delivery(place="bay 2"))
    arm = rack.piece(booking.made[-1])
    assert (arm.width_nm, arm.length_nm, arm.lot, arm.place) == (1 * M, 1 * M, "A", "bay 2")
    assert (arm.phase_nm, arm.phase_known) == ((0, 0), PhaseKnown.EXACT)
    assert sound(rack)


def test_an_ell_is_planned_whole_and_checks(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", shape=ELL))
    a_job = replace(
        job_for(rack),
        rooms=(room(rectangle(2 * M, 1 * M), "a"), room(rectangle(1 * M, 1_900 * MM), "b")),
    )
    plan = planned_whole(a_job)
    assert check_plan(plan) == ()
    assert used(plan) == {"R-1"}
    assert not plan.materials[0].order
    rack.confirm_plan(plan, KEY, JOB, act())
    assert rack.accounts()[0].cut_away_nm2 <= 4 * M * M
    assert sound(rack)


# --- undone ----------------------------------------------------------------------------------------------------------


def as_it_is(rack: Rack) -> tuple[tuple[RackPiece, ...], list[str]]:
    pieces = rack.pieces(EVERY)
    return tuple(replace(item, version=0) for item in pieces), [item.id for item in pieces]


@pytest.mark.parametrize("reserved", [True, False])
def test_undoing_puts_back_exactly_what_was(rack: Rack, reserved: bool) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 2 * M), piece("R-2"))
    a_job = replace(job_for(rack), rooms=tuple(room(rectangle(2 * M, 2 * M), name) for name in ("a", "b", "c")))
    plan = plan_of(a_job)
    assert plan.materials[0].order
    if reserved:
        rack.reserve_plan(plan, KEY, JOB, act())
    before = as_it_is(rack)
    booking = rack.confirm_plan(plan, KEY, JOB, act(minutes=1))
    assert booking.rolls
    undone = rack.undo(booking.number, act("the wrong plan", minutes=2))
    assert undone.undone
    assert as_it_is(rack) == before
    assert sound(rack)
    with pytest.raises(JobError, match="it is undone already"):
        rack.undo(booking.number, act())
    again = rack.confirm_plan(plan, KEY, JOB, act("the right one after all", minutes=3))
    assert not set(again.made) & set(booking.made)  # no label is ever given twice
    assert [item.undone for item in rack.bookings(plan_key=KEY)] == [True, False]
    assert sound(rack)


def _confirmed(rack: Rack, key: str) -> tuple[str, ...]:
    """Confirm a plan of which the shop keeps every offcut, and return these."""
    plan = planned_for(rack)
    kept = tuple(offcut.id for part in plan.materials for offcut in part.offcuts)
    return rack.confirm_plan(plan, key, JOB, act(), delivery=Delivery(kept=kept)).made


def test_what_was_done_with_an_offcut_since_stands_in_the_way_of_undoing(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 6 * M))
    (label,) = _confirmed(rack, KEY)
    (booking,) = rack.bookings()
    rack.reserve([label], "stairs", act())
    with pytest.raises(JobError, match=f"{label}: it is not as the booking left it: it is reserved for 'stairs' now"):
        rack.undo(booking.number, act())
    rack.release([label], act())
    rack.move([label], "bay 9", act())
    with pytest.raises(JobError, match="it is at 'bay 9' now"):
        rack.undo(booking.number, act())
    rack.scrap([label], act())
    with pytest.raises(JobError, match="offcut-used"):
        rack.undo(booking.number, act())
    assert rack.piece("R-1").state is PieceState.CUT
    assert not rack.bookings()[0].undone
    with pytest.raises(JobError, match="there is no such booking"):
        rack.undo(99, act())
    with pytest.raises(JobError, match="reason-missing"):
        rack.undo(booking.number, act(""))
    assert sound(rack)


def test_bookings_are_undone_one_after_another_from_the_last(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", 2 * M, 8 * M))
    before = as_it_is(rack)
    made = _confirmed(rack, "one")
    then = as_it_is(rack)
    _confirmed(rack, "two")
    first, second = rack.bookings()
    assert second.taken == made == first.made
    with pytest.raises(JobError, match="it is cut up now"):
        rack.undo(first.number, act())
    rack.undo(second.number, act())
    assert as_it_is(rack) == then
    rack.undo(first.number, act())
    assert as_it_is(rack) == before
    assert sound(rack)
