"""What a plan made again changes, as data, in words for the bench, and in the cut list."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from nesting.domain.geometry import LayDirection, Rect
from nesting.domain.job import Job, Unit
from nesting.domain.layout import Cut, CutKind, Seam
from nesting.domain.material import StockKind, StockPiece
from nesting.domain.plan import Consent, CutSource, MaterialPlan, OrderLine, Placement, Plan, SourceKind
from nesting.domain.rules import RuleId
from nesting.estimating.change_words import MOST_LINES, NOTHING, Step, StepKind, step_lines, steps_now, steps_of
from nesting.estimating.changes import Changes, Fate, OwnerFate, changes_of
from nesting.files.tables import CHANGE_COLUMN, CUT_COLUMNS, cut_list_csv
from tests.making import ALONG_Y, GOODS, MM, goods, job, loose, planned_whole, rectangle, remnant, room


def small_job(unit: Unit = Unit.M) -> Job:
    """A kitchen of two drops from an ordered roll; a study and two treads from a remnant of lot 7731."""
    rooms = (
        room(rectangle(3800 * MM, 3000 * MM), "kitchen", lays=(ALONG_Y,)),
        room(rectangle(1800 * MM, 2500 * MM), "study", lays=(ALONG_Y,)),
    )
    return job(
        rooms,
        goods(2000 * MM),
        unit=unit,
        loose=(loose(150 * MM, 900 * MM, 2, "tread"),),
        stock=(remnant("R3", 2000 * MM, 2600 * MM, lot="7731"),),
    )


@pytest.fixture(scope="module")
def before() -> Plan:
    plan = planned_whole(small_job(), effort=0)
    assert {cut.id: (cut.number, spot.source_id) for cut, spot in _pairs(plan)} == {
        "study-1": (1, "R3"), "tread-1-1": (2, "R3"), "tread-2-1": (3, "R3"),
        "kitchen-1": (4, "order-1"), "kitchen-2": (5, "order-1"),
    }  # fmt: skip
    return plan


def _pairs(plan: Plan) -> list[tuple[Cut, Placement]]:
    part = plan.materials[0]
    spots = {spot.cut_id: spot for spot in part.placements}
    return [(cut, spots[cut.id]) for cut in part.cuts]


def edited(plan: Plan, **changes: object) -> Plan:
    return replace(plan, materials=(replace(plan.materials[0], **changes),))  # type: ignore[arg-type]


def part_of(plan: Plan) -> MaterialPlan:
    return plan.materials[0]


def with_cut(plan: Plan, cut_id: str, **changes: object) -> Plan:
    cuts = tuple(replace(c, **changes) if c.id == cut_id else c for c in part_of(plan).cuts)  # type: ignore[arg-type]
    return edited(plan, cuts=cuts)


def put(plan: Plan, cut_id: str, source_id: str, x_mm: int, y_mm: int, turn: int = 0) -> Plan:
    spot = Placement(cut_id=cut_id, source_id=source_id, x_nm=x_mm * MM, y_nm=y_mm * MM, turn=turn)
    others = (other for other in part_of(plan).placements if other.cut_id != cut_id)
    return edited(plan, placements=(*others, spot))


def without(plan: Plan, *cut_ids: str) -> Plan:
    part = part_of(plan)
    return edited(
        plan,
        cuts=tuple(cut for cut in part.cuts if cut.id not in cut_ids),
        placements=tuple(spot for spot in part.placements if spot.cut_id not in cut_ids),
    )


def more(plan: Plan, cut: Cut, source_id: str, x_mm: int = 0, y_mm: int = 0) -> Plan:
    return put(edited(plan, cuts=(*part_of(plan).cuts, cut)), cut.id, source_id, x_mm, y_mm)


def source(ident: str, kind: SourceKind = SourceKind.REMNANT, lot: str = "7731", length_mm: int = 3700) -> CutSource:
    stock_id = "" if kind is SourceKind.ORDER else ident
    return CutSource(
        id=ident, kind=kind, width_nm=2000 * MM, length_nm=length_mm * MM, lot=lot, stock_id=stock_id
    )  # fmt: skip


def with_source(plan: Plan, new: CutSource, *, stock: bool = True) -> Plan:
    plan = edited(plan, sources=(*(s for s in part_of(plan).sources if s.id != new.id), new))
    if not stock:
        return plan
    piece = StockPiece(id=new.id, material_id=GOODS, kind=StockKind.REMNANT, width_nm=new.width_nm,
                       length_nm=new.length_nm, lot=new.lot)  # fmt: skip
    others = (other for other in plan.job.stock if other.id != new.id)
    return replace(plan, job=replace(plan.job, stock=(*others, piece)))


def delivered(plan: Plan, lot: str = "8802") -> Plan:
    """The ordered roll has come."""
    roll = replace(source("order-1", SourceKind.ROLL, lot, 6000))
    return edited(with_source(plan, roll), order=())


def ordering(plan: Plan, *lines: tuple[str, int, str], width_mm: int = 2000) -> Plan:
    order = (OrderLine(source_id=i, width_nm=width_mm * MM, length_nm=n * MM, lot=lot, cost=0) for i, n, lot in lines)
    return edited(plan, order=tuple(order))


def fates(found: Changes) -> dict[str, Fate]:
    return {item.cut.id: item.fate for item in found.cuts}


def texts(steps: tuple[Step, ...]) -> list[str]:
    return [step.text for step in steps]


# --- nothing changes ---


def test_nothing_changes_nothing(before: Plan) -> None:
    found = changes_of(before, before)
    assert found.nothing and set(fates(found).values()) == {Fate.KEPT}
    assert (found.gone, found.owners, found.newly_used, found.no_longer_used) == ((), (), (), ())
    assert [order.stands for order in found.orders] == [True]
    assert found.changed == frozenset() and found.column() == {}
    assert steps_now(before, before) == () and step_lines(()) == [NOTHING]


def test_what_is_cut_and_delivered_as_planned_changes_nothing(before: Plan) -> None:
    after = with_cut(with_cut(delivered(before), "kitchen-1", state="cut"), "study-1", state="laid")
    found = changes_of(before, after)
    assert found.nothing and steps_now(before, after) == ()
    assert {ident for ident, fate in fates(found).items() if fate is Fate.DONE} == {"kitchen-1", "study-1"}


# --- cuts ---


def test_a_spoiled_drop_is_cut_anew_and_said_first(before: Plan) -> None:
    cut = with_cut(delivered(before), "kitchen-1", state="laid")
    after = with_cut(with_source(cut, source("order-1-offcut-2")), "kitchen-2", number=12)
    after = put(after, "kitchen-2", "order-1-offcut-2", 0, 200)
    after = put(after, "tread-1-1", "order-1", 0, 5000)
    found = changes_of(before, after, frozenset({"kitchen-2"}))
    assert fates(found) == {
        "study-1": Fate.KEPT, "tread-2-1": Fate.KEPT, "tread-1-1": Fate.MOVED,
        "kitchen-1": Fate.DONE, "kitchen-2": Fate.RECUT,
    }  # fmt: skip
    assert [one.id for one in found.newly_used] == ["order-1-offcut-2"]
    assert found.changed == {"kitchen-2", "tread-1-1"} and not found.nothing
    steps = steps_now(before, after, frozenset({"kitchen-2"}))
    assert texts(steps) == [
        "re-cut Kitchen 2 (cut 12) from order-1-offcut-2: 1.800 × 3.000 m at 0.200 m from the start, 0 from the left",
        "now cut tread (cut 2) from order-1 instead of R3: 0.150 × 0.900 m at 5.000 m from the start, 0 from the left",
    ]
    assert steps[0] == Step(kind=StepKind.RECUT, text=steps[0].text, cuts=("kitchen-2",), owner="kitchen",
                            source="order-1-offcut-2")  # fmt: skip
    assert step_lines(steps)[0].startswith("1. re-cut Kitchen 2")


def test_a_cut_that_was_made_before_and_is_planned_now_is_cut_anew(before: Plan) -> None:
    made = with_cut(before, "study-1", state="cut")
    assert fates(changes_of(made, put(before, "study-1", "order-1", 0, 0)))["study-1"] is Fate.RECUT
    assert fates(changes_of(before, put(before, "study-1", "order-1", 0, 0)))["study-1"] is Fate.MOVED


def test_a_cut_moved_on_its_own_roll(before: Plan) -> None:
    (text,) = texts(steps_now(before, put(before, "tread-2-1", "R3", 1800, 1000, 2)))[1:]
    assert text == (
        "now cut tread (cut 3) elsewhere on R3: 0.150 × 0.900 m (turned 180°) at 1.000 m from the start, 1.800 m "
        "from the left instead of at 0.900 m from the start, 1.800 m from the left"
    )


def test_a_cut_of_another_size(before: Plan) -> None:
    after = with_cut(before, "study-1", rects=(Rect(0, 0, 1800 * MM, 2550 * MM),))
    assert fates(changes_of(before, after))["study-1"] is Fate.RESIZED
    assert texts(steps_now(before, after))[1:] == [
        "now cut Study 1 (cut 1) from R3 as 1.800 × 2.550 m instead of 1.800 × 2.500 m, at 0 from the start, 0 from "
        "the left"
    ]
    notched = with_cut(before, "study-1", rects=(Rect(0, 0, 1800 * MM, 2000 * MM), Rect(0, 2000 * MM, MM, 2500 * MM)))
    text = texts(steps_now(before, notched))[1]
    assert "as 1.800 × 2.500 m (notched: see the map) in another shape, at 0" in text


def test_a_piece_only_measured_from_another_corner_is_cut_as_planned(before: Plan) -> None:
    after = with_cut(before, "study-1", rects=(Rect(-5 * MM, 0, 1795 * MM, 2500 * MM),), number=6)
    assert fates(changes_of(before, after))["study-1"] is Fate.MOVED
    assert texts(steps_now(before, after))[1].startswith("cut Study 1 (cut 6), which was cut 1, as planned: 1.800 × ")


def test_new_cuts_and_cuts_that_are_gone(before: Plan) -> None:
    new = Cut(id="kitchen-3", number=6, kind=CutKind.DROP, owner="kitchen", label="Kitchen 3",
              rects=(Rect(0, 0, 300 * MM, 1000 * MM),))  # fmt: skip
    after = more(without(before, "tread-2-1", "study-1"), new, "R3", 1000)
    found = changes_of(before, after, frozenset({"study-1"}))
    assert [(item.cut.id, item.made) for item in found.gone] == [("study-1", True), ("tread-2-1", False)]
    assert texts(steps_now(before, after, frozenset({"study-1"})))[1:] == [
        "cut Kitchen 3 (cut 6) from R3: 0.300 × 1.000 m at 0 from the start, 1.000 m from the left",
        "do not lay Study 1 (cut 1), which is cut already",
        "do not cut tread (cut 3)",
    ]
    assert found.column() == {"kitchen-3": "new"}


def test_what_is_done_never_has_a_step_of_its_own(before: Plan) -> None:
    done = edited(before, cuts=tuple(replace(cut, state="cut") for cut in part_of(before).cuts))
    for cut in part_of(before).cuts:
        steps = steps_now(before, put(done, cut.id, "R3", 7, 7), frozenset({cut.id}))
        assert all(cut.id not in step.cuts for step in steps)


def test_feet_and_inches() -> None:
    plan = planned_whole(small_job(Unit.FOOT), effort=0)
    after = put(plan, "tread-1-1", "order-1", 0, 5000)
    assert texts(steps_now(plan, after))[1] == (
        'now cut tread (cut 2) from order-1 instead of R3: 5 15/16" × 2\' 11 7/16" at 16\' 4 7/8" from the start, '
        "0 from the left"
    )


# --- orders ---


def test_more_of_a_lot_in_hand(before: Plan) -> None:
    after = ordering(delivered(before), ("order-2", 3200, "8802"))
    (order,) = changes_of(before, after).orders
    assert (order.rolls_nm, order.was_nm, order.on, order.stands) == ((3200 * MM,), (), ("order-1",), False)
    assert texts(steps_now(before, after)) == ["order 3.200 m more of lot 8802, 2.000 m wide"]


def test_more_of_a_lot_whose_name_is_not_known(before: Plan) -> None:
    for lot in ("lot of order-1", "new lot"):
        after = ordering(delivered(before, lot), ("order-2", 3200, lot))
        assert texts(steps_now(before, after)) == ["order 3.200 m more of the lot of order-1, 2.000 m wide"]


def test_a_new_lot(before: Plan) -> None:
    after = ordering(delivered(before), ("order-2", 3200, "new lot"), ("order-3", 1000, "new lot"))
    assert texts(steps_now(before, after)) == ["order 4.200 m of a new lot, 2.000 m wide, as 3.200 m + 1.000 m"]


def test_an_order_that_was_not_placed_grows(before: Plan) -> None:
    after = ordering(before, ("order-1", 7500, "new lot"))
    assert texts(steps_now(before, after)) == ["order 7.500 m of a new lot, 2.000 m wide, instead of 6.000 m"]
    split = ordering(before, ("order-1", 3000, "new lot"), ("order-2", 3000, "new lot"))
    (text,) = texts(steps_now(before, split))
    assert text.endswith("as 3.000 m + 3.000 m, in other lengths than planned")


def test_an_order_that_stands_is_said_where_something_else_changes(before: Plan) -> None:
    (order, _) = steps_now(before, put(before, "study-1", "R3", 0, 50))
    assert order == Step(kind=StepKind.ORDER, text="order 6.000 m of a new lot, 2.000 m wide, as planned")


def test_another_width_is_ordered(before: Plan) -> None:
    after = ordering(before, ("order-1", 5000, "new lot"), width_mm=3000)
    assert texts(steps_now(before, after)) == [
        "order 5.000 m of a new lot, 3.000 m wide",
        "do not order the 6.000 m of a new lot, 2.000 m wide, that were planned",
    ]


def test_a_repeat_that_may_run_off_and_two_materials(before: Plan) -> None:
    line = replace(part_of(before).order[0], length_nm=7000 * MM, repeat_tolerance_nm=70 * MM)
    after = edited(before, order=(line,))
    other = replace(after.job.materials[0], id="felt", name="Felt")
    after = replace(after, job=replace(after.job, materials=(*after.job.materials, other)))
    assert texts(steps_now(before, after)) == [
        "order 7.000 m of Goods, a new lot, 2.000 m wide, and 0.070 m in case the repeat runs off, instead of 6.000 m"
    ]


def test_nothing_is_ordered_before_a_plan_against_the_rules_is_accepted(before: Plan) -> None:
    consent = Consent(rule=RuleId.LEAST_BREADTH, owner="kitchen", text="too narrow")
    after = replace(ordering(before, ("order-1", 7500, "new lot")), consents=(consent,))
    (text,) = texts(steps_now(before, after))
    assert text.endswith("instead of 6.000 m, but not before this plan is accepted: it is NOT BY THE RULES")


# --- goods ---


def test_goods_that_are_not_needed(before: Plan) -> None:
    after = before
    for cut_id in ("study-1", "tread-1-1", "tread-2-1"):
        after = put(after, cut_id, "order-1", 0, 0)
    found = changes_of(before, after)
    assert [one.id for one in found.no_longer_used] == ["R3"] and found.newly_used == ()
    assert texts(steps_now(before, after))[-1] == "R3 is not needed: nothing is cut from it any more"
    spoiled = frozenset({"study-1", "tread-1-1", "tread-2-1"})  # all that was to be cut from it was cut
    assert changes_of(before, after, spoiled).no_longer_used == ()
    lost = replace(after, job=replace(after.job, stock=()))  # it is not there any more: nothing to say of it
    assert changes_of(before, lost).no_longer_used == ()


# --- rooms ---


def relaid(plan: Plan, seam_mm: int = 1900, direction: LayDirection = ALONG_Y) -> Plan:
    layouts = tuple(
        replace(layout, direction=direction, seams=(Seam(at_nm=seam_mm * MM, runs=((0, 3000 * MM),)),))
        if layout.room_id == "kitchen"
        else layout
        for layout in part_of(plan).layouts
    )
    return edited(plan, layouts=layouts)


def test_a_room_laid_another_way_is_one_line(before: Plan) -> None:
    after = relaid(before)
    for cut_id, number in (("kitchen-1", 6), ("kitchen-2", 7)):
        after = with_cut(after, cut_id, rects=(Rect(0, 0, 1900 * MM, 3000 * MM),), number=number)
    (change,) = changes_of(before, after).owners
    assert (change.fate, change.owner, change.is_room) == (OwnerFate.RELAID, "kitchen", True)
    (_, step) = steps_now(before, after)
    assert step.text == ("lay Kitchen another way, with its seams elsewhere: cut 6, 7 from order-1, instead of 4, 5")
    assert step.cuts == ("kitchen-1", "kitchen-2") and step.kind is StepKind.ROOM
    other_way = relaid(after, direction=LayDirection(1, 0))
    assert "lay Kitchen another way, in another direction: cut 6, 7" in texts(steps_now(before, other_way))[1]
    one_seam_less = edited(after, layouts=tuple(replace(y, seams=()) for y in part_of(after).layouts))
    assert "another way, 0 seams instead of 1: cut" in texts(steps_now(before, one_seam_less))[1]


def test_what_was_made_of_a_room_laid_another_way_is_cut_anew(before: Plan) -> None:
    after = with_cut(without(relaid(before), "kitchen-2"), "kitchen-1", rects=(Rect(0, 0, 99 * MM, 99 * MM),), number=8)
    _, recut, line = steps_now(before, after, frozenset({"kitchen-1", "kitchen-2"}))
    assert recut.kind is StepKind.RECUT and recut.text.startswith("re-cut Kitchen 1 (cut 8) from order-1: 0.099 × ")
    assert line.text == (
        "lay Kitchen another way, with its seams elsewhere: re-cut as above; 5 is cut already and not used as such"
    )


def test_a_room_added_and_a_room_dropped(before: Plan) -> None:
    closet = room(rectangle(900 * MM, 800 * MM), "closet")
    drop = Cut(id="closet-1", number=6, kind=CutKind.DROP, owner="closet", label="Closet 1",
               rects=(Rect(0, 0, 900 * MM, 800 * MM),))  # fmt: skip
    after = more(without(before, "study-1"), drop, "R3")
    kitchen, _ = after.job.rooms
    after = replace(after, job=replace(after.job, rooms=(kitchen, closet), loose=()))
    after = without(after, "tread-1-1", "tread-2-1")
    assert texts(steps_now(before, after))[1:] == [
        "new room Closet: cut 6 from R3",
        "Study is not laid any more: do not cut 1",
        "tread is not wanted any more: do not cut 2, 3",
    ]
    made = steps_now(before, after, frozenset({"study-1"}))[2].text
    assert made == "Study is not laid any more; 1 is cut already and not used as such"
    back = steps_now(after, before)
    assert "new: tread: cut 2, 3 from R3" in texts(back)


# --- long lists ---


def many(plan: Plan, count: int, owner: str = "tread", first: int = 100) -> Plan:
    cuts = [
        Cut(id=f"{owner}-{k}", number=k, kind=CutKind.LOOSE, owner=owner, label=f"{owner} {k}",
            rects=(Rect(0, 0, 10 * MM, 10 * MM),))
        for k in range(first, first + count)
    ]  # fmt: skip
    spots = [Placement(cut_id=cut.id, source_id="R3", x_nm=0, y_nm=cut.number * MM) for cut in cuts]
    part = part_of(plan)
    return edited(plan, cuts=(*part.cuts, *cuts), placements=(*part.placements, *spots))


def test_a_long_list_is_counted_by_room_and_what_is_recut_last(before: Plan) -> None:
    recut = frozenset(f"tread-{k}" for k in range(300, 310))
    old = many(before, 10, first=300)
    after = many(many(before, 10, first=300), 40)
    after = edited(after, placements=tuple(replace(s, x_nm=MM) for s in part_of(after).placements))
    steps = steps_now(old, after, recut)
    assert len(steps) <= MOST_LINES
    assert sum(step.kind is StepKind.RECUT for step in steps) == 10
    assert [step.text for step in steps if step.kind is StepKind.NEW] == ["cut 40 new cuts of tread: see the maps"]
    moved = [step.text for step in steps if step.kind is StepKind.MOVED]
    assert "now cut 2 cuts of Kitchen elsewhere or in other sizes: see the maps" in moved
    assert {ident for step in steps for ident in step.cuts} == changes_of(old, after, recut).changed
    thirty = many(before, MOST_LINES - 1)  # one line more is the order
    assert len(steps_now(before, thirty)) == MOST_LINES


@pytest.mark.parametrize("remade", [False, True])
def test_no_list_is_too_long(before: Plan, remade: bool) -> None:
    after = before
    ids = []
    for k in range(50):
        after = many(after, 3, f"owner-{k}", 100 + 3 * k)
        ids += [f"owner-{k}-{n}" for n in range(100 + 3 * k, 103 + 3 * k)]
    moved = edited(after, placements=tuple(replace(s, x_nm=5 * MM) for s in part_of(after).placements))
    given = frozenset(ids if remade else ())
    for steps in (steps_now(after, moved, given), steps_now(after, before, given), steps_now(before, after, given)):
        assert 0 < len(steps) <= MOST_LINES
        kinds = [list(StepKind).index(step.kind) for step in steps]
        assert kinds == sorted(kinds)
    rooms = tuple(room(rectangle(900 * MM, 800 * MM), f"r{k}") for k in range(60))
    wide = replace(before, job=replace(before.job, rooms=(*before.job.rooms, *rooms)))
    lines = texts(steps_now(before, wide))
    assert len(lines) <= MOST_LINES and any("60 rooms" in line for line in lines)


def test_steps_are_made_of_changes(before: Plan) -> None:
    after = put(before, "study-1", "R3", 0, 50)
    assert steps_of(after.job, changes_of(before, after)) == steps_now(before, after)


# --- the cut list ---


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_the_cut_list_says_what_is_done_and_what_changed(before: Plan) -> None:
    after = with_cut(put(before, "study-1", "order-1", 0, 0), "study-1", number=12)
    after = with_cut(put(after, "kitchen-2", "order-1", 0, 6000), "kitchen-1", state="laid")
    found = changes_of(before, after, frozenset({"study-1"}))
    text = cut_list_csv(after, found.column())
    assert tuple(text.splitlines()[0].split(",")) == (*CUT_COLUMNS, CHANGE_COLUMN)
    assert [(row["number"], row["state"], row["change"]) for row in rows_of(text)] == [
        ("2", "planned", ""), ("3", "planned", ""),
        ("4", "laid", ""), ("12", "planned", "new"), ("5", "planned", "moved"),
    ]  # fmt: skip
    plain = rows_of(cut_list_csv(after))
    assert [row["number"] for row in plain] == ["2", "3", "4", "12", "5"] and CHANGE_COLUMN not in plain[0]


def test_without_what_is_done_the_cut_list_is_in_the_order_of_its_numbers(before: Plan) -> None:
    renumbered = with_cut(before, "study-1", number=12)
    assert [row["number"] for row in rows_of(cut_list_csv(renumbered))] == ["2", "3", "4", "5", "12"]
    # Where nothing is done the two orders are the same, as the planner numbers in cutting order.
    assert [row["number"] for row in rows_of(cut_list_csv(before, {}))] == ["1", "2", "3", "4", "5"]
