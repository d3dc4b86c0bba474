"""Variants side by side: answers worked by hand, properties over tiny jobs, and faults planted in the search."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.material import Sale
from nesting.domain.plan import MaterialPlan, Outcome
from nesting.domain.rules import Goal, GoalKind, RuleId
from nesting.domain.what_if import RollMore, Tried, Variant, WhatIf
from nesting.errors import UnsoundPlanError
from nesting.estimating import what_if as module
from nesting.estimating.what_if import allows, what_if
from nesting.files.job_file import parse_job, parse_variants
from nesting.pipeline import Settings, plan_job
from nesting.progress import Portion, Step
from tests import strategies
from tests.making import ALONG_X, ALONG_Y, MM, M, goods, job, loose, rectangle, remnant, room


def compared(text: str, *changes: str, effort: int = 1) -> WhatIf:
    """Return a job as it is and with changes, planned."""
    first = Variant(name="as it is", job=parse_job(text).job)
    others = (Variant(name=found.name, job=found.read.job) for found in parse_variants(text, changes))
    return tried([first, *others], effort=effort)


def tried(variants: list[Variant], *, effort: int = 0) -> WhatIf:
    found = what_if(variants, Settings(effort=effort))
    assert [one.variant for one in found.tried] == variants
    for one in found.tried:
        assert one.outcome.plan is None or not check_plan(one.outcome.plan)
        assert one.outcome.plan is None or one.outcome.plan.job == one.variant.job
    return found


def only(one: Tried) -> MaterialPlan:
    assert one.plan is not None, one.outcome.refusals
    (part,) = one.plan.materials
    return part


def ordered_mm(found: WhatIf) -> list[dict[int, int]]:
    """Return by width what each variant orders, mm."""
    return [
        {width // MM: length // MM for width, length in only(one).measures.ordered_nm if length} for one in found.tried
    ]


# --- worked by hand --------------------------------------------------------------------------------------------------

HALL = """\
job: Hall
unit: m
trim: 0
out of square: 0
materials: [{name: Sheet, width: 4, price: 20.00 per m, squaring: 0}]
rooms: [{name: Hall, rectangle: 3.8 x 5}]
"""


def test_wide_rolls_need_no_seam_where_narrow_ones_need_one() -> None:
    # 3.8 x 5 m. From 4 m goods one drop of 5 m, no seam: 20 m², 100.00. From 3 m goods two breadths whichever way it is
    # laid: along the 5 m side 2 x 5 = 10 m; across, two drops of 3.8 m: 7.6 m, 22.8 m², the seam 3.8 m long; the fill
    # is 2 m wide, so that nothing goes beside it. At 15.00 per m that is 114.00.
    found = compared(HALL, "Narrow: rolls 3 m wide; price 15 per m", "Narrow, no seam: rolls 3 m wide; no seams")
    wide, narrow, none = found.tried
    assert ordered_mm(replace(found, tried=(wide, narrow))) == [{4_000: 5_000}, {3_000: 7_600}]
    measures = only(narrow).measures
    assert (only(wide).measures.seams, measures.seams, measures.seam_length_nm) == (0, 1, 3_800 * MM)
    assert only(wide).bounds[0].proved and only(narrow).bounds[0].proved
    # 22.8 - 20 m²; metres of two widths are not compared.
    assert found.roll_more(narrow, "sheet") == RollMore(roll_nm2=2_800 * MM * M, length_nm=None)
    assert found.roll_more(wide, "sheet") == RollMore(roll_nm2=0, length_nm=0)
    assert (found.cost_more(narrow), found.cost_more(narrow, "sheet"), found.cost_more(wide)) == (1_400, 1_400, 0)
    # A variant without a plan by the rules has its reason and nothing to compare.
    assert none.plan is None and none.outcome.refusals and none.cost is None
    assert found.roll_more(none, "sheet") is None and found.cost_more(none) is None


def test_trim_adds_its_length_at_both_ends() -> None:
    # The drop of 5 m grows by twice 50 mm, its breadth of 3.8 m by as much; in metres too, since the width is one.
    found = compared(HALL, "Trimmed: trim 5 cm", effort=0)
    assert ordered_mm(found) == [{4_000: 5_000}, {4_000: 5_100}]
    assert found.roll_more(found.tried[1], "sheet") == RollMore(roll_nm2=400 * MM * M, length_nm=100 * MM)


STEPPED = """\
job: Stepped
unit: m
trim: 0
out of square: 0
materials:
  - {name: Print, width: 2, squaring: 0, repeat along: 640 mm, match: drop 160 mm, drop counts: at the seam}
rooms:
  - name: Step
    corners: [[0, 0], [4, 0], [4, 2.55], [2, 2.55], [2, 2], [0, 2]]
    lay: towards north
"""


def test_a_drop_the_other_way_advances_by_another_length() -> None:
    # Two breadths of 2 m from 2 m goods: the left one 2.00 m long, the right one 2.55 m, their lower ends in one line.
    # The second of two drops begins at S + Ry · ⌈(L - S) / Ry⌉, L the length of the first; Ry = 640.
    # Drop 160. Left first: S = -160 mod 640 = 480: 480 + 3 · 640 = 2400, and 2550 more: 4950.
    #           Right first: S = 160: 160 + 4 · 640 = 2720, and 2000 more: 4720.
    # Drop 480, the other way. Left first: S = 160: 160 + 3 · 640 = 2080, and 2550: 4630. Right first: 480 + 4 · 640 =
    # 3040, and 2000: 5040.
    found = compared(STEPPED, "Mirrored: drop the other way", "Rewound: wound the other way")
    assert ordered_mm(found) == [{2_000: 4_720}, {2_000: 4_630}, {2_000: 4_720}]
    # Half a turn leaves the lattice as it is: the goods are laid the other way round, and no advance changes.
    lays = [only(one).layouts[0].direction for one in found.tried]
    assert lays == [ALONG_Y, ALONG_Y, ALONG_Y.quarter_turned(2)]


def test_money_is_compared_only_where_it_is_one_money() -> None:
    found = compared(HALL.replace("unit: m", "unit: m\ncurrency: EUR"), "Narrow: rolls 3 m wide", effort=0)
    other = Variant(name="other", job=replace(parse_job(HALL).job, currency="XXX"))
    both = replace(found, tried=(found.tried[0], tried([other]).tried[0]))
    assert both.cost_more(both.tried[1]) is None and found.cost_more(found.tried[1]) == 15_200 - 10_000


# --- what allows what ------------------------------------------------------------------------------------------------

PLAIN = job([room(rectangle(4 * M, 3 * M))], goods(2 * M), goal=Goal(kind=GoalKind.LEAST_ROLL, most_seams=2))


def with_rules(a_job: Job, **changes: Any) -> Job:
    return replace(a_job, rooms=tuple(replace(one, rules=replace(one.rules, **changes)) for one in a_job.rooms))


STOCKED = replace(PLAIN, stock=(remnant("R-1", M, M),))
EASED = {
    "more cross seams": with_rules(PLAIN, cross_seams_per_breadth=1),
    "a rule less": with_rules(PLAIN, waived=(RuleId.LEAST_BREADTH,)),
    "more goods in hand": STOCKED,
    "a higher cap": replace(PLAIN, goal=replace(PLAIN.goal, most_seams=3)),
    "no cap": replace(PLAIN, goal=replace(PLAIN.goal, most_seams=None)),
}
OTHER = {
    "trim": replace(PLAIN, rooms=(replace(PLAIN.rooms[0], trim_nm=1),)),
    "width": replace(PLAIN, materials=(goods(3 * M),)),
    "goal": replace(PLAIN, goal=Goal(most_seams=2)),
    "price": replace(PLAIN, materials=(goods(2 * M, sale=Sale(order_step_nm=1, cut_charge=5)),)),
    "a room more": replace(PLAIN, rooms=(*PLAIN.rooms, room(rectangle(M, M), "other"))),
    "a piece more": replace(PLAIN, loose=(loose(M, M),)),
}


@pytest.mark.parametrize("name", EASED)
def test_less_constrained_allows_and_not_the_other_way(name: str) -> None:
    assert allows(EASED[name], PLAIN) and not allows(PLAIN, EASED[name])
    assert allows(EASED[name], EASED[name])


@pytest.mark.parametrize("name", OTHER)
def test_what_is_merely_different_does_not_allow(name: str) -> None:
    assert not allows(OTHER[name], PLAIN) and not allows(PLAIN, OTHER[name])


def test_a_name_and_a_line_of_the_file_change_nothing() -> None:
    moved = replace(PLAIN, name="Other", rooms=(replace(PLAIN.rooms[0], line=7),))
    assert allows(moved, PLAIN) and allows(PLAIN, moved)


def test_goods_in_hand_that_take_something_away_do_not_allow() -> None:
    # More of a lot that can be ordered says which lot is ordered. Where rolls are made 5 m long, a longer piece in hand
    # takes away the cross seam that a longer breadth is forced to.
    assert not allows(replace(PLAIN, stock=(remnant("R-1", M, M, lot="A", lot_orderable=True),)), PLAIN)
    short = replace(PLAIN, materials=(goods(2 * M, longest_nm=5 * M),))
    assert not allows(replace(short, stock=(remnant("R-1", M, 6 * M),)), short)
    assert allows(replace(short, stock=(remnant("R-1", M, 5 * M),)), short)


# --- properties ------------------------------------------------------------------------------------------------------


def rank(one: Tried) -> tuple[int, ...]:
    return tuple(part.bounds[0].attained for part in one.plan.materials) if one.plan is not None else (1 << 200,)


small_jobs = st.one_of(strategies.ell_jobs(), strategies.stock_jobs())


@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@given(small_jobs)
def test_the_same_is_the_same_and_the_less_constrained_never_worse(a_job: Job) -> None:
    crossed = with_rules(a_job, cross_seams_per_breadth=1)
    variants = {"as it is": a_job, "same": replace(a_job, name="Other"), "crossed": crossed}
    variants |= {"bare": replace(a_job, stock=()), "bare and crossed": replace(crossed, stock=())}
    found = tried([Variant(name=name, job=one) for name, one in variants.items()])
    first, same, eased, bare, bare_eased = found.tried
    if first.plan is not None and same.plan is not None:
        assert same.plan.materials == first.plan.materials
    assert (first.plan is None) == (same.plan is None)
    for strict, free in ((first, eased), (bare, first), (bare, bare_eased), (bare_eased, eased)):
        if allows(free.variant.job, strict.variant.job):
            assert rank(free) <= rank(strict)


def test_the_first_is_planned_as_if_it_were_alone() -> None:
    a_job = parse_job(STEPPED).job
    alone = plan_job(a_job, Settings(effort=1))
    first = compared(STEPPED, "Mirrored: drop the other way").tried[0]
    assert first.outcome == alone


# --- faults planted in the search ------------------------------------------------------------------------------------

LONG = room(rectangle(2 * M, 5 * M))
FREE = job([LONG], goods(2 * M), stock=(remnant("R-1", 500 * MM, M),))


def dull(a_job: Job, its: Settings) -> Outcome:
    """Plan a job so that nothing good is found but what the start has: the room is laid across, 6 m instead of 5."""
    if its.start is not None:
        return plan_job(a_job, its)
    outcome = plan_job(replace(a_job, rooms=(replace(a_job.rooms[0], lays=(ALONG_X,)),)), its)
    assert outcome.plan is not None
    return replace(outcome, plan=replace(outcome.plan, job=a_job))


def test_the_first_is_planned_again_when_a_stricter_variant_beats_it(monkeypatch: pytest.MonkeyPatch) -> None:
    starts: list[str] = []

    def dull_where_in_hand(a_job: Job, its: Settings) -> Outcome:
        starts.append(f"{len(a_job.stock)} in hand, {'a' if its.start is not None else 'no'} start")
        return dull(a_job, its) if a_job.stock else plan_job(a_job, its)

    monkeypatch.setattr(module, "plan_job", dull_where_in_hand)
    bare = replace(FREE, stock=())
    jobs = {"as it is": FREE, "same": replace(FREE, name="Other"), "bare": bare}
    found = tried([Variant(name=name, job=one) for name, one in jobs.items()])
    assert ordered_mm(found) == [{2_000: 5_000}] * 3
    assert starts == ["1 in hand, no start", "0 in hand, no start", "1 in hand, a start"]
    notices = [notice.code for one in found.tried for notice in only(one).notices]
    assert "earlier-plan" not in notices


def test_a_freer_variant_begins_with_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    def dull_where_in_hand(a_job: Job, its: Settings) -> Outcome:
        return dull(a_job, its) if a_job.stock else plan_job(a_job, its)

    monkeypatch.setattr(module, "plan_job", dull_where_in_hand)
    found = tried([Variant(name="bare", job=replace(FREE, stock=())), Variant(name="stocked", job=FREE)])
    assert ordered_mm(found) == [{2_000: 5_000}] * 2
    monkeypatch.setattr(module, "allows", lambda a_job, other: a_job == other)  # nothing is known of anything
    found = tried([Variant(name="bare", job=replace(FREE, stock=())), Variant(name="stocked", job=FREE)])
    assert ordered_mm(found) == [{2_000: 5_000}, {2_000: 6_000}]


def test_a_plan_that_is_not_sound_for_its_twin_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "allows", lambda a_job, other: True)
    other = replace(FREE, rooms=(room(rectangle(2 * M, 6 * M)),))
    with pytest.raises(UnsoundPlanError):
        what_if([Variant(name="one", job=FREE), Variant(name="two", job=other)], Settings(effort=0))


def test_the_time_is_shared_and_progress_says_whose_it_is() -> None:
    spent = iter(range(1_000_000))
    steps: list[Step] = []
    its = Settings(effort=1, spent=lambda: next(spent) / 2_000, progress=steps.append)
    variants = [Variant(name=name, job=replace(PLAIN, goal=Goal(most_seams=n))) for name, n in (("a", 3), ("b", 2))]
    assert all(one.plan is not None for one in what_if(variants, its).tried)
    assert {step.what.split(":")[0] for step in steps} == {"a", "b"}
    turn = Portion(stop=lambda: False, spent=lambda: 0.75, end=1.0)
    within = module._within(Settings(), turn.next_of(2), variants[0])
    assert within.spent() == 0.0 and not within.stop()


def test_rows_of_several_materials_stand_apart() -> None:
    two = replace(goods(3 * M), id="two", name="Two")
    rooms = [room(rectangle(2 * M, 3 * M), "a"), room(rectangle(3 * M, 4 * M), "b", material_id="two")]
    both = replace(job(rooms, goods(2 * M)), materials=(goods(2 * M), two, replace(two, id="unused")))
    one = job([room(rectangle(2 * M, 3_500 * MM), "a")], goods(2 * M))
    found = tried([Variant(name="both", job=both), Variant(name="one", job=one)])
    assert found.materials == ("goods", "two")
    second = found.tried[1]
    assert found.roll_more(second, "goods") == RollMore(roll_nm2=M * M, length_nm=500 * MM)
    assert found.roll_more(second, "two") is None and not second.uses("two")
