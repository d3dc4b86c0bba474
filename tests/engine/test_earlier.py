"""An earlier plan as the start: kept unless beaten by enough, taken over as far as it still fits."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.job import Job, JointBelow
from nesting.domain.layout import Cut
from nesting.domain.material import Sale
from nesting.domain.plan import MaterialPlan, Plan, SourceKind
from nesting.model.building import InstanceBuilder
from nesting.model.instance import OrderTerms, Solution
from nesting.model.ordering import in_fixed_order
from nesting.pipeline import Settings, plan_job
from nesting.seams.candidates import candidates_of
from nesting.search.earlier import is_kept, order_step_level, scheme_from
from nesting.search.earlier_plan import taken_over
from nesting.search.engine import solve
from nesting.search.placing import place
from nesting.search.scheme import make_ready
from tests.engine.making import LEAST_ROLL, instance, one_way, order, rect
from tests.making import ALONG_Y, CM, M, goods, job, loose, pattern, planned_whole, rectangle, remnant, room
from tests.strategies import ell_jobs, patterned_jobs, plain_jobs, stock_jobs

THREE = job(
    [
        room(rectangle(370 * CM, 290 * CM), "a"),
        room(rectangle(410 * CM, 360 * CM), "b"),
        room(rectangle(150 * CM, 330 * CM), "c"),
    ],
    goods(2 * M, sale=Sale(order_step_nm=10 * CM)),
)


def _again(a_job: Job, plan: Plan, *, effort: int = 0, least_gain: int = 1) -> Plan:
    outcome = plan_job(a_job, Settings(effort=effort, start=plan, least_gain=least_gain))
    assert outcome.plan is not None and check_plan(outcome.plan) == ()
    return outcome.plan


def _told(plan: Plan) -> str:
    """Return what the plan says about the earlier one."""
    (notice,) = (item for item in plan.materials[0].notices if item.code == "earlier-plan")
    return notice.text


def _bare(plan: MaterialPlan) -> MaterialPlan:
    """Return the plan without what may differ where an earlier one is kept."""
    return replace(plan, bounds=(), bound_considered=0, notices=(), stop="")


def _same(plan: Plan, other: Plan) -> bool:
    pairs = zip(plan.materials, other.materials, strict=True)
    return plan.job == other.job and all(_bare(one) == _bare(two) for one, two in pairs)


@settings(max_examples=15)
@given(st.one_of(plain_jobs(), ell_jobs(), patterned_jobs(), stock_jobs()))
def test_a_plan_is_kept_where_nothing_has_changed(a_job: Job) -> None:
    outcome = plan_job(a_job, Settings(effort=0))
    if outcome.plan is None or outcome.refusals:
        return
    again = _again(a_job, outcome.plan, least_gain=1000)
    assert _same(again, outcome.plan)
    assert _told(again).startswith("the earlier plan is kept")


def _worse(a_job: Job) -> Plan:
    """Return a plan that orders 90 cm more than needed: every cut lies so much further along."""
    plan = planned_whole(a_job, effort=0)
    (material,) = plan.materials
    places = tuple(replace(place, y_nm=place.y_nm + 90 * CM) for place in material.placements)
    assert [source.kind for source in material.sources] == [SourceKind.ORDER]
    return replace(plan, materials=(replace(material, placements=places),))


def test_a_worse_plan_gives_way_and_the_gain_is_said() -> None:
    best = planned_whole(THREE, effort=0)
    again = _again(THREE, _worse(THREE), effort=0)
    assert again.materials[0].measures.roll_nm2 == best.materials[0].measures.roll_nm2
    assert _told(again).startswith("better than the earlier plan")


def test_a_gain_that_is_too_small_changes_nothing() -> None:
    worse = _worse(THREE)
    kept = _again(THREE, worse, effort=0, least_gain=10)  # of 10 cm each
    assert [place.y_nm for place in kept.materials[0].placements] == [
        place.y_nm for place in worse.materials[0].placements
    ]
    assert _told(kept) == "the earlier plan is kept: none was found that is better by 10 order steps or more"
    assert not kept.materials[0].bounds[0].proved
    replaced = _again(THREE, worse, effort=0, least_gain=9)
    assert _told(replaced).startswith("better than the earlier plan")


def test_a_room_that_changed_is_laid_anew_and_the_others_begin_as_they_were() -> None:
    plan = planned_whole(THREE, effort=0)
    changed = replace(THREE, rooms=(THREE.rooms[0], room(rectangle(410 * CM, 365 * CM), "b"), THREE.rooms[2]))
    again = _again(changed, plan)
    assert _told(again) == "the earlier plan fits no more as a whole; 2 of 3 rooms and pieces do"


def test_rooms_in_another_order_goods_renamed_and_a_room_less_take_nothing_away() -> None:
    plan = planned_whole(THREE, effort=0)
    turned = replace(THREE, rooms=THREE.rooms[::-1])
    assert _told(_again(turned, plan)).startswith("the earlier plan is kept")
    fewer = replace(THREE, rooms=THREE.rooms[:2])
    assert "fits no more" not in _told(_again(fewer, plan))
    more = replace(THREE, rooms=(*THREE.rooms, room(rectangle(120 * CM, 150 * CM), "d")))
    assert "3 of 4 rooms" in _told(_again(more, plan))


def test_goods_that_are_gone_take_their_cuts_with_them() -> None:
    with_rest = replace(THREE, stock=(remnant("rest", 2 * M, 4 * M),))
    plan = planned_whole(with_rest, effort=0)
    assert any(source.stock_id == "rest" for source in plan.materials[0].sources)
    assert "fits no more as a whole" in _told(_again(THREE, plan))


def test_more_trim_changes_the_cuts_though_the_seams_stay() -> None:
    plan = planned_whole(THREE, effort=0)
    trimmed = replace(THREE, rooms=tuple(replace(one, trim_nm=3 * CM) for one in THREE.rooms))
    assert "0 of 3 rooms" in _told(_again(trimmed, plan))


def test_loose_pieces_are_taken_over_one_by_one() -> None:
    with_pieces = replace(THREE, loose=(loose(70 * CM, 90 * CM, count=3),))
    plan = planned_whole(with_pieces, effort=0)
    assert _told(_again(with_pieces, plan)).startswith("the earlier plan is kept")
    more = replace(THREE, loose=(loose(70 * CM, 90 * CM, count=4),))
    assert "6 of 7 rooms and pieces" in _told(_again(more, plan))


def test_a_layout_that_is_no_candidate_any_more_is_drawn_up_again() -> None:
    """A seam where no candidate has it is lawful still, and stays where it was."""
    one = job([room(rectangle(3 * M, 4 * M), "a", lays=(ALONG_Y,))], goods(2 * M))
    plan = planned_whole(one, effort=0)
    (layout,) = plan.materials[0].layouts
    (seam,) = layout.seams
    moved = _with_seam_at(plan, seam.at_nm, 123 * CM)
    assert {violation.rule[:2] for violation in check_plan(moved)} <= {"V5", "V6"}  # its account and bounds
    again = _again(one, moved)
    assert again.materials[0].layouts[0].seams[0].at_nm == 123 * CM
    assert _told(again).startswith("the earlier plan is kept")


def _with_seam_at(plan: Plan, at_nm: int, to_nm: int) -> Plan:
    """Return the plan of one room and two drops that lie one above the other, the seam moved."""
    (material,) = plan.materials
    (layout,) = material.layouts
    (seam,) = layout.seams

    def moved(cut: Cut) -> Cut:
        (rect_,) = cut.rects
        ends = {at_nm: to_nm}
        x0, x1 = ends.get(rect_.x0_nm, rect_.x0_nm), ends.get(rect_.x1_nm, rect_.x1_nm)
        return replace(cut, rects=(rect_._replace(x0_nm=x0, x1_nm=x1),))

    draft = replace(
        material,
        layouts=(replace(layout, seams=(replace(seam, at_nm=to_nm),)),),
        cuts=tuple(moved(cut) for cut in material.cuts),
        offcuts=(),
        bounds=(),
    )
    return replace(plan, materials=(draft,))


def test_patterned_rooms_keep_their_phase() -> None:
    patterned = job(
        [room(rectangle(370 * CM, 290 * CM), "a"), room(rectangle(510 * CM, 360 * CM), "b")],
        goods(2 * M, pattern=pattern(64 * CM, 50 * CM, Fraction(32 * CM))),
    )
    plan = planned_whole(patterned, effort=0)
    again = _again(patterned, plan)
    assert _same(again, plan) and _told(again).startswith("the earlier plan is kept")


def test_a_layout_that_the_rules_no_longer_allow_is_not_taken_over() -> None:
    one = job([room(rectangle(3 * M, 4 * M), "a", lays=(ALONG_Y,))], goods(2 * M))
    plan = planned_whole(one, effort=0)
    (seam,) = plan.materials[0].layouts[0].seams
    barred = JointBelow(id="below", start=(seam.at_nm, 0), end=(seam.at_nm, 4 * M))
    strict = replace(one, rooms=(replace(one.rooms[0], joints_below=(barred,)),))
    again = _again(strict, plan)
    assert again.materials[0].layouts[0].seams[0].at_nm != seam.at_nm
    assert "0 of 1 rooms" in _told(again)


# --- the engine's part -----------------------------------------------------------------------------------------------


def test_a_part_becomes_a_scheme_that_places_it_first_and_everything_after_it() -> None:
    plan = planned_whole(THREE, effort=0)
    more = in_fixed_order(replace(THREE, rooms=(*THREE.rooms, room(rectangle(120 * CM, 150 * CM), "d"))))
    found = candidates_of(more, more.materials[0])
    built = InstanceBuilder(more, more.materials[0]).build(found.laid, found.anchors, found.loose)
    taken = taken_over(built, plan.materials[0])
    new = [choice.id for choice in built.instance.choices].index("d")
    assert [number for number, option in enumerate(taken.options) if option is None] == [new]
    assert taken.solution(built.instance) is None
    ready = make_ready(built.instance)
    scheme = scheme_from(ready, taken)
    assert scheme is not None
    assert all(option in (None, given_) for option, given_ in zip(taken.options, scheme.options, strict=True))
    assert [number for number, _ in scheme.sequence][-1] == new
    places = [spot.y for number, piece in scheme.sequence[:-1] for spot in taken.spots[number] if spot.piece == piece]
    assert places == sorted(places)
    assert place(ready, scheme).solution is not None
    nothing = replace(taken, options=(None,) * len(taken.options), spots=((),) * len(taken.spots))
    assert scheme_from(ready, nothing) is None


@pytest.mark.parametrize(
    ("levels", "terms", "cost", "expected"),
    [
        (LEAST_ROLL, OrderTerms(step=4), 0, 4 * 9),
        (LEAST_ROLL, OrderTerms(step=4, whole=True), 0, 50 * 9),
        (((0, 0, 1, 0, 0, 0, 0),), OrderTerms(step=4), 0, 1),  # seams: one of them
        (((0, 0, 0, 0, 10, 0, 0),), OrderTerms(step=4), Fraction(5, 2), 100),
    ],
)
def test_what_an_order_step_counts(
    levels: tuple[tuple[int, ...], ...], terms: OrderTerms, cost: Fraction | int, expected: int
) -> None:
    tried = instance([one_way("a", rect("p", 2, 3))], [order(9, 50, terms=terms, cost_per_unit=Fraction(cost))])
    tried = replace(tried, weights=replace(tried.weights, levels=levels))
    assert order_step_level(tried) == expected


def test_kept_unless_better_by_so_many_steps() -> None:
    tried = instance([one_way("a", rect("p", 9, 10))], [order(9, 50, terms=OrderTerms(step=2))], levels=LEAST_ROLL)
    best = solve(tried, seed=0, effort=0).solution
    assert best is not None

    def up(by: int) -> Solution:
        return replace(best, spots=tuple(tuple(replace(s, y=s.y + by) for s in row) for row in best.spots))

    assert not is_kept(tried, up(4), best, 0) and not is_kept(tried, up(4), best, 2)
    assert is_kept(tried, up(4), best, 3)
    assert is_kept(tried, best, best, 0) and is_kept(tried, best, best, 1)
    assert not is_kept(tried, up(1), best, 0)  # the same order, but less of it used
