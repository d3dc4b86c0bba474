"""Rooms that are cut from named pieces in hand and nothing else, and rooms wanted of one lot."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.domain.job import Job, Room
from nesting.domain.material import Sale
from nesting.domain.pins import OneLot, RoomPins
from nesting.domain.plan import MaterialPlan, SourceKind
from nesting.domain.rules import Goal, GoalKind, RuleId
from nesting.estimating.pinned import contradictions, pin_costs
from nesting.model.valuing import faults_of
from nesting.pipeline import Settings, plan_job
from nesting.search.by_hand import by_hand
from nesting.search.engine import solve
from nesting.search.parts import is_big
from nesting.search.scheme import make_ready
from tests.engine.making import LEAST_ROLL, hand, instance, one_way, order, rect
from tests.engine.oracle import Oracle
from tests.making import ALONG_Y, MM, M, all_seams, goods, job, ordered_nm, pattern, planned, rectangle, remnant, room

QUICK = Settings(effort=2, rule_costs=False)


def from_goods(name: str, x_mm: int, y_mm: int, *sources: str, **changes: Any) -> Room:
    return room(rectangle(x_mm * MM, y_mm * MM), name, pins=RoomPins(sources=sources), **changes)


def goods_of(plan: MaterialPlan, name: str) -> set[str]:
    """Return the goods that a room is cut from: ids of pieces in hand, or "order"."""
    sources = {source.id: source for source in plan.sources}
    on = {place.cut_id: sources[place.source_id] for place in plan.placements}
    mine = [on[cut.id] for cut in plan.cuts if cut.owner == name]
    return {"order" if source.kind is SourceKind.ORDER else source.stock_id for source in mine}


# --- worked by hand --------------------------------------------------------------------------------------------------


def test_a_room_is_cut_from_the_piece_that_is_named_though_another_would_do() -> None:
    """Two rooms of 2 x 3 m and one remnant of 2 x 3 m: whichever it is named for gets it, the other a new roll."""
    for named, other in (("hall", "den"), ("den", "hall")):
        rooms = [from_goods(name, 2000, 3000, *(["r"] if name == named else [])) for name in ("hall", "den")]
        plan = planned(job(rooms, goods(2 * M), stock=(remnant("r", 2 * M, 3 * M),)))
        assert goods_of(plan, named) == {"r"} and goods_of(plan, other) == {"order"}
        assert ordered_nm(plan) == 3 * M


def test_a_room_is_shared_out_between_two_named_remnants_of_one_lot() -> None:
    """A room 3 m wide from 2 m and 1.2 m: the seam lies between 1.8 and 2.0 m, and nothing is ordered."""
    stock = (remnant("a", 2 * M, 4 * M, lot="L"), remnant("b", 1200 * MM, 4 * M, lot="L"))
    plan = planned(job([from_goods("hall", 3000, 4000, "a", "b")], goods(4 * M), stock=stock))
    assert goods_of(plan, "hall") == {"a", "b"} and ordered_nm(plan) == 0 and all_seams(plan) == 1
    (seam,) = plan.layouts[0].seams
    assert 1800 * MM <= abs(seam.at_nm) <= 2000 * MM or 1000 * MM <= abs(seam.at_nm) <= 1200 * MM


def test_wider_goods_than_are_made() -> None:
    plan = planned(job([from_goods("hall", 3000, 4000, "a")], goods(2 * M), stock=(remnant("a", 3 * M, 5 * M),)))
    assert goods_of(plan, "hall") == {"a"} and all_seams(plan) == 0


def test_patterned_goods_of_unknown_phase() -> None:
    """Half a room from each of two remnants: both are bound, and lose a repeat."""
    material = goods(3 * M, pattern=pattern(500 * MM))
    stock = (remnant("a", 2 * M, 4500 * MM, lot="L"), remnant("b", 2 * M, 4500 * MM, lot="L"))
    plan = planned(job([from_goods("hall", 3900, 4000, "a", "b")], material, stock=stock))
    assert goods_of(plan, "hall") == {"a", "b"} and all(source.anchored for source in plan.sources)


def test_what_is_named_costs_what_another_room_must_order_for() -> None:
    """The remnant holds the den (2 x 4 m) whole; named for the hall (2 x 3 m) it leaves the den to be ordered."""
    sale = Sale(order_step_nm=1, price_per_m=(1000,))
    rooms = [from_goods("hall", 2000, 3000, "r"), from_goods("den", 2000, 4000)]
    plan = plan_job(job(rooms, goods(2 * M, sale=sale), stock=(remnant("r", 2 * M, 4 * M),)), QUICK).plan
    assert plan is not None and ordered_nm(plan.materials[0]) == 4 * M
    (costs,) = pin_costs(plan, QUICK)
    (cost,) = costs.each
    assert (cost.roll_nm2, cost.money) == (1 * M * 2 * M, 10_00)
    assert cost.pin is not None and cost.pin.words == "Hall: cut from r"


def test_goods_that_do_not_suffice_are_refused_and_the_nearest_plan_lets_go_of_them() -> None:
    rooms = [from_goods("hall", 2000, 3000, "r"), from_goods("den", 2000, 3000, "r")]
    a_job = job(rooms, goods(2 * M), stock=(remnant("r", 2 * M, 4 * M),))
    outcome = plan_job(a_job, QUICK)
    assert {(item.owner, item.rule) for item in outcome.refusals} == {("hall", RuleId.PINS), ("den", RuleId.PINS)}
    assert outcome.plan is not None and not outcome.plan.by_the_rules
    (found,) = contradictions(a_job, QUICK)
    assert [pin.words for pin in found.pins] == ["Hall: cut from r", "Den: cut from r"]


def test_goods_too_small_for_the_room_are_refused_by_the_room_alone() -> None:
    a_job = job([from_goods("hall", 2000, 3000, "r")], goods(2 * M), stock=(remnant("r", 1 * M, 1 * M),))
    (refusal,) = plan_job(a_job, QUICK).refusals
    assert refusal.rule is RuleId.PINS and "cut from r" in refusal.text
    (found,) = contradictions(a_job, QUICK)
    assert [pin.words for pin in found.pins] == ["Hall: cut from r"] and found.proved


def test_pieces_that_each_fit_and_all_together_never_do_are_refused_at_once() -> None:
    """1.5 x 4 m from 1.5 x 3.2 m, in breadths across: each goes in, together they are longer."""
    a_job = job([from_goods("hall", 1500, 4000, "r")], goods(2 * M), stock=(remnant("r", 1500 * MM, 3200 * MM),))
    (found,) = contradictions(a_job, QUICK)
    assert [pin.words for pin in found.pins] == ["Hall: cut from r"] and found.proved


def test_named_goods_force_no_cross_seams() -> None:
    """4 m from two remnants of 3 m: rolls are made long enough, so that a cross seam must be allowed, not forced."""
    stock = (remnant("a", 2 * M, 3 * M, lot="L"), remnant("b", 2 * M, 3 * M, lot="L"))
    lays = (ALONG_Y,)
    a_job = job([from_goods("hall", 1500, 4000, "a", "b", lays=lays)], goods(2 * M), stock=stock)
    (refusal,) = plan_job(a_job, QUICK).refusals
    assert refusal.rule is RuleId.PINS
    rules = replace(a_job.rooms[0].rules, cross_seams_per_breadth=1)
    plan = planned(replace(a_job, rooms=(replace(a_job.rooms[0], rules=rules),)))
    assert goods_of(plan, "hall") == {"a", "b"} and plan.measures.cross_seams == 1


def test_rooms_wanted_of_one_lot_leave_a_remnant_that_holds_one() -> None:
    rooms = [from_goods(name, 2000, 3000) for name in ("hall", "den")]
    free = job(rooms, goods(2 * M), stock=(remnant("r", 2 * M, 4 * M, lot="A"),))
    assert ordered_nm(planned(free)) == 3 * M
    bound = replace(free, one_lot=(OneLot(rooms=("hall", "den")),))
    assert ordered_nm(planned(bound)) == 6 * M
    (one, other) = bound.rooms
    waived = replace(bound, rooms=(replace(one, rules=one.rules.without(RuleId.PINS)), other))
    assert ordered_nm(planned(waived)) == 3 * M


# --- the engine ------------------------------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(0, 3)), min_size=2, max_size=3))
def test_the_engine_agrees_with_trying_everything(sizes: list[tuple[int, int, int]]) -> None:
    named = [None, frozenset({"a"}), frozenset({"b"}), frozenset({"a", "b"})]
    choices = [
        replace(one_way(f"{number}", rect(f"p{number}", w, h)), sources=named[which])
        for number, (w, h, which) in enumerate(sizes)
    ]
    tried = instance(choices, [order(4, 30), hand("a", 4, 4), hand("b", 3, 5)], None, LEAST_ROLL)
    result = solve(tried, seed=1, effort=2)
    best = Oracle(tried).least()
    assert (None if result.value is None else result.value.levels[0]) == best
    if result.solution is not None:
        assert faults_of(tried, result.solution) == []
        elsewhere = replace(tried, choices=tuple(replace(choice, sources=frozenset({"c"})) for choice in choices))
        assert len(faults_of(elsewhere, result.solution)) >= len(choices)  # the self check can fail


def test_no_goods_that_are_named_take_a_piece() -> None:
    tried = instance(
        [replace(one_way("x", rect("p", 4, 6)), sources=frozenset({"a"}))], [order(4, 30), hand("a", 4, 4)]
    )
    result = solve(tried, seed=1, effort=1)
    assert result.solution is None and result.impossible and "too long" in " ".join(result.unplaced)


def test_named_goods_of_two_lots_hold_no_rooms_of_one() -> None:
    choices = [
        replace(one_way(name, rect(name, 4, 3)), sources=frozenset({goods_}), lot_group=0)
        for name, goods_ in (("x", "a"), ("y", "b"))
    ]
    stock = [hand(name, 4, 4, lot=name) for name in ("a", "b")]
    result = solve(instance(choices, [order(4, 30), *stock]), seed=1, effort=1)
    assert result.solution is None and result.impossible and "no lot in common" in " ".join(result.unplaced)


def test_the_hand_method_keeps_to_what_is_named() -> None:
    choices = [
        replace(one_way("x", rect("p", 4, 3)), sources=frozenset({"a"}), lot_group=0),
        replace(one_way("y", rect("q", 4, 3)), lot_group=1),
    ]
    tried = instance(choices, [order(4, 30), hand("a", 4, 3, lot="A")], None, LEAST_ROLL)
    found = by_hand(tried)
    assert found is not None and faults_of(tried, found) == []
    assert [spots[0].source for spots in found.spots] == [1, 0]
    nothing = replace(tried, sources=(tried.sources[0], replace(tried.sources[1], length=2)))
    assert by_hand(nothing) is None


def many_rooms() -> Job:
    rooms = [room(rectangle((3100 + 100 * (k % 4)) * MM, (2300 + 100 * (k % 3)) * MM), f"r{k}") for k in range(60)]
    rooms[7] = replace(rooms[7], pins=RoomPins(sources=("a", "b")))
    rooms[41] = replace(rooms[41], pins=RoomPins(sources=("c",)))
    rooms[58] = replace(rooms[58], pins=RoomPins(sources=("b", "a")))
    stock = [remnant(name, 2 * M, 9 * M, lot="L") for name in ("a", "b")]
    stock += [remnant(f"d{k}", 1500 * MM, 3 * M, lot=f"D{k}") for k in range(6)]
    stock.append(remnant("c", 2 * M, 9 * M, lot="C"))
    return job(rooms, goods(2 * M), stock=tuple(stock), goal=Goal(kind=GoalKind.LEAST_ROLL))


@pytest.mark.parametrize("effort", [0, pytest.param(2, marks=pytest.mark.slow)])
def test_a_job_that_is_looked_at_part_by_part(effort: int) -> None:
    from nesting.model.building import InstanceBuilder
    from nesting.seams.candidates import candidates_of

    a_job = many_rooms()
    found = candidates_of(a_job, a_job.materials[0], stop=lambda: True)
    built = InstanceBuilder(a_job, a_job.materials[0]).build(found.laid, found.anchors, found.loose)
    assert is_big(make_ready(built.instance))
    plan = planned(a_job, effort=effort)
    assert goods_of(plan, "r41") == {"c"}
    assert goods_of(plan, "r7") <= {"a", "b"} and goods_of(plan, "r58") <= {"a", "b"}
