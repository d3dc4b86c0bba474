"""What pins cost, worked by hand and as properties; pins that contradict, named exactly."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.material import Sale
from nesting.domain.pin_list import Pin, PinKind, with_pins_only
from nesting.domain.pins import OneLot, PinnedLayout, PinnedSeam, RoomPins
from nesting.domain.plan import Plan
from nesting.domain.rules import Goal, GoalKind, RuleId
from nesting.estimating.pinned import PinCosts, all_pins, contradictions, narrowed_rooms, pin_costs
from nesting.floor.frames import back_point
from nesting.pipeline import Settings, plan_job
from tests.making import ALONG_X, ALONG_Y, CM, MM, M, goods, job, ordered_nm, planned_whole, rectangle, remnant, room

PRICED = Sale(order_step_nm=1, price_per_m=(2000,))
QUICK = Settings(effort=2, rule_costs=False)


def level(y: int, name: str = "seam", line: int = 0) -> PinnedSeam:
    return PinnedSeam(name=name, start=(0, y), end=(5 * M, y), line=line)


def upright(x: int, name: str = "seam", line: int = 0) -> PinnedSeam:
    return PinnedSeam(name=name, start=(x, 0), end=(x, 4 * M), line=line)


def costs_of(a_job: Job) -> PinCosts:
    plan = plan_job(a_job, QUICK).plan
    assert plan is not None and plan.by_the_rules
    (costs,) = pin_costs(plan, QUICK)
    return costs


# --- worked by hand --------------------------------------------------------------------------------------------------


def hall(length: int = 4 * M, most_seams: int | None = None, **pins: object) -> Job:
    """A hall of 5 x 4 m, 2.5 m goods at 20.00 a metre: two breadths along x, 10 m, one seam; along y 8 m, one seam."""
    goal = Goal(kind=GoalKind.LEAST_ROLL, most_seams=most_seams)
    return job([room(rectangle(5 * M, length), "hall", **pins)], goods(2500 * MM, sale=PRICED), goal=goal)


def test_three_breadths_that_do_not_lie_side_by_side_cost_a_third_length() -> None:
    """Pinned at 1.3 and 2.7 m along x: 1.3, 1.4, 1.3 m wide, no two on 2.5 m: 15 m for 8 m, two seams for one."""
    costs = costs_of(hall(most_seams=2, pins=RoomPins(seams=(level(1300 * MM, "low"), level(2700 * MM, "high")))))
    together = costs.together
    assert (together.roll_nm2, together.money, together.seams) == (7 * M * 2500 * MM, 140_00, 1)
    assert together.first == 7 * M * 2500 * MM >= together.first_least >= 2 * M * 2500 * MM
    # one of them alone: 1.3 + 2.5 + 0.2 and the like, a fill beside another breadth: 10 m for 8 m
    assert [(cost.pin.words, cost.money) for cost in costs.each if cost.pin] == [
        ("Hall: low", 40_00),
        ("Hall: high", 40_00),
    ]


def test_a_lay_costs_what_it_is_longer() -> None:
    costs = costs_of(hall(lays=(ALONG_X, ALONG_X.quarter_turned(2))))
    (cost,) = costs.each
    assert cost.pin is not None and (cost.pin.kind, cost.pin.words) == (PinKind.LAY, "Hall: the lay direction")
    assert (cost.roll_nm2, cost.money, cost.seams, cost.proved) == (2 * M * 2500 * MM, 40_00, 0, True)


def test_a_lay_that_leaves_nothing_out_is_no_pin() -> None:
    free = (ALONG_X, ALONG_Y, ALONG_X.quarter_turned(2), ALONG_Y.quarter_turned(2))
    assert all_pins(hall(lays=free)) == ()
    assert narrowed_rooms(hall(lays=free[:1])) == {"hall"}


def test_nothing_is_priced_without_pins_without_effort_or_time() -> None:
    plan = planned_whole(hall(), effort=1)
    assert pin_costs(plan, QUICK) == ()
    pinned = planned_whole(hall(pins=RoomPins(most_seams=3)), effort=1)
    assert pin_costs(pinned, replace(QUICK, effort=0)) == ()
    assert pin_costs(pinned, replace(QUICK, stop=lambda: True)) == ()


def test_more_pins_than_are_looked_at_are_priced_together(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nesting.estimating.pinned.MOST_PINS", 1)
    costs = costs_of(hall(pins=RoomPins(seams=(level(1300 * MM, "low"), level(2700 * MM, "high")))))
    assert costs.each == () and [pin.words for pin in costs.unpriced] == ["Hall: low", "Hall: high"]
    assert costs.together.money == 40_00  # a third seam in the middle breadth, and nothing lies alone


def test_pins_are_taken_apart_and_put_together_again() -> None:
    pins = RoomPins(seams=(level(1 * M, "a", 3), level(2 * M, "b", 4)), most_seams=4, most_seams_line=5)
    whole = replace(hall(pins=pins, lays=(ALONG_X,)), one_lot=(OneLot(rooms=("hall", "hall"), line=2),))
    found = all_pins(whole)
    assert [(pin.kind, pin.line) for pin in found] == [
        (PinKind.LAY, 0),
        (PinKind.SEAM, 3),
        (PinKind.SEAM, 4),
        (PinKind.MOST_SEAMS, 5),
        (PinKind.ONE_LOT, 2),
    ]
    narrowed = narrowed_rooms(whole)
    assert all_pins(with_pins_only(whole, found, narrowed)) == found
    assert all_pins(with_pins_only(whole, (), narrowed)) == ()
    for pin in found:
        (one,) = all_pins(with_pins_only(whole, (pin,), narrowed))
        assert (one.kind, one.words, one.line) == (pin.kind, pin.words, pin.line)


# --- properties ------------------------------------------------------------------------------------------------------


def flats() -> list[Job]:
    sizes = [(36, 31, 18, 24), (47, 33, 30, 26)]
    found = []
    for a, b, c, d in sizes:
        rooms = [
            room(rectangle(x * 10 * CM, y * 10 * CM), name, trim_nm=50 * MM)
            for name, x, y in (("lounge", a, b), ("bath", c, d))
        ]
        stock = (remnant("r", 1500 * MM, 3 * M, lot="A"),)
        material = goods(2 * M, cutting_step_nm=5 * MM, sale=PRICED, squaring_nm=50 * MM)
        found.append(job(rooms, material, stock=stock))
    return found


@cache
def free_plan(number: int) -> Plan:
    plan = plan_job(flats()[number], QUICK).plan
    assert plan is not None
    return plan


def pinned_as(plan: Plan, kind: PinKind) -> Job:
    """Return the job with what its plan chose for every room pinned."""
    layouts = {layout.room_id: layout for layout in plan.materials[0].layouts}
    rooms = []
    for one in plan.job.rooms:
        layout = layouts[one.id]
        seams = tuple(seam.at_nm for seam in layout.seams)
        cross = tuple((seam.breadth, seam.at_nm) for seam in layout.cross_seams)
        if kind is PinKind.LAY:
            one = replace(one, lays=(layout.direction,))
        elif kind is PinKind.LAYOUT:
            pin = PinnedLayout(direction=layout.direction, seams_nm=seams, cross_seams_nm=cross)
            one = replace(one, pins=RoomPins(layout=pin))
        elif kind is PinKind.MOST_SEAMS:
            one = replace(one, pins=RoomPins(most_seams=len(seams) + len(cross)))
        else:
            ends = [tuple(back_point((at, v), layout.direction) for v in (0, 5 * M)) for at in seams]
            pins = tuple(PinnedSeam(name=f"seam {n}", start=a, end=b) for n, (a, b) in enumerate(ends))
            one = replace(one, pins=RoomPins(seams=pins))
        rooms.append(one)
    return replace(plan.job, rooms=tuple(rooms))


@pytest.mark.parametrize("number", [0, pytest.param(1, marks=pytest.mark.slow)])
@pytest.mark.parametrize("kind", [PinKind.LAY, PinKind.SEAM, PinKind.LAYOUT, PinKind.MOST_SEAMS])
def test_what_the_free_plan_chose_costs_nothing(number: int, kind: PinKind) -> None:
    free = free_plan(number)
    pinned = pinned_as(free, kind)
    plan = plan_job(pinned, replace(QUICK, effort=1, start=free, least_gain=0)).plan
    assert plan is not None and plan.by_the_rules and check_plan(plan) == ()
    had, now = free.materials[0], plan.materials[0]
    assert now.bounds[0].attained <= had.bounds[0].attained
    assert ordered_nm(now) <= ordered_nm(had)
    (costs,) = pin_costs(plan, replace(QUICK, effort=1))
    if now.bounds[0].attained == costs.free.bounds[0].attained:
        assert {(cost.roll_nm2, cost.money, cost.first) for cost in costs.each} == {(0, 0, 0)}


@pytest.mark.parametrize("number", [0, pytest.param(1, marks=pytest.mark.slow)])
def test_no_cost_is_below_nothing_nor_above_all_together(number: int) -> None:
    pins = {
        "lounge": RoomPins(seams=(level(1100 * MM, "across the lounge"),), most_seams=4),
        "bath": RoomPins(seams=(upright(900 * MM, "in the bath"),)),
    }
    a_job = flats()[number]
    rooms = tuple(replace(one, pins=pins.get(one.id, RoomPins())) for one in a_job.rooms)
    rooms = tuple(replace(one, lays=(ALONG_Y,)) if one.id == "bath" else one for one in rooms)
    costs = costs_of(replace(a_job, rooms=rooms))
    assert len(costs.each) == 4
    for cost in costs.each:
        assert 0 <= cost.first_least <= cost.first <= costs.together.first
    # more pins, more roll: the bound of the free job is below the plan with any pin
    assert costs.together.roll_nm2 >= 0


# --- contradictions --------------------------------------------------------------------------------------------------


def named(a_job: Job) -> list[list[tuple[str, int]]]:
    return [[(pin.words, pin.line) for pin in found.pins] for found in contradictions(a_job, QUICK)]


def test_two_seams_that_cross_contradict_and_a_third_does_not() -> None:
    seams = (level(1 * M, "one", 11), level(2 * M, "two", 12), upright(2 * M, "three", 13))
    found = named(hall(pins=RoomPins(seams=seams, most_seams=3, most_seams_line=14)))
    assert found == [[("Hall: two", 12), ("Hall: three", 13)]]


def test_a_seam_and_no_seam_contradict() -> None:
    pins = RoomPins(seams=(level(1 * M, "one", 7),), most_seams=0, most_seams_line=8)
    assert named(hall(2400 * MM, pins=pins, lays=(ALONG_X,))) == [[("Hall: one", 7), ("Hall: no seam", 8)]]


def test_a_seam_across_the_fixed_lay_contradicts_it() -> None:
    pins = RoomPins(seams=(level(2 * M, "one", 7),), lay_line=6)
    assert named(hall(pins=pins, lays=(ALONG_Y,))) == [[("Hall: the lay direction", 6), ("Hall: one", 7)]]


def test_a_pin_that_the_rules_forbid_stands_alone() -> None:
    pins = RoomPins(seams=(level(10 * MM, "one", 7), level(2 * M, "two", 8)))
    assert named(hall(pins=pins)) == [[("Hall: one", 7)]]


def test_every_room_that_contradicts_is_named() -> None:
    pins = RoomPins(seams=(level(1 * M, "one"),), most_seams=0)
    rooms = [room(rectangle(5 * M, 4 * M), name, pins=pins) for name in ("hall", "den")]
    found = named(job(rooms, goods(2500 * MM)))
    assert [[words for words, _ in item] for item in found] == [["Hall: no seam"], ["Den: no seam"]]


def test_one_lot_where_each_remnant_holds_one_room() -> None:
    rooms = [room(rectangle(2 * M, 3 * M), name) for name in ("hall", "den")]
    stock = (remnant("a", 2 * M, 3 * M, lot="A"), remnant("b", 2 * M, 3 * M, lot="B"))
    material = goods(2 * M, orders_allowed=False)
    a_job = job(rooms, material, stock=stock, one_lot=(OneLot(rooms=("hall", "den"), line=3),))
    (found,) = contradictions(a_job, QUICK)
    assert [(pin.words, pin.line) for pin in found.pins] == [("Hall and Den: one lot", 3)] and found.proved
    refused = plan_job(a_job, QUICK)
    assert refused.refusals and contradictions(replace(a_job, one_lot=()), QUICK) == ()


def test_rooms_that_need_not_be_blamed_on_pins() -> None:
    wide = job([room(rectangle(5 * M, 4 * M), "hall", pins=RoomPins(most_seams=9))], goods(2 * M, orders_allowed=False))
    assert contradictions(wide, QUICK) == ()
    waived = hall(pins=RoomPins(seams=(level(10 * MM),)))
    (one,) = waived.rooms
    waived = replace(waived, rooms=(replace(one, rules=one.rules.without(RuleId.PINS)),))
    assert contradictions(waived, QUICK) == () and all_pins(waived) == ()


def test_a_pin_knows_itself_by_kind_room_and_number() -> None:
    one, other = (Pin(kind=PinKind.SEAM, rooms=("a",), number=n) for n in (0, 1))
    assert one.key != other.key
