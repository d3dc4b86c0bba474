"""What rules and rooms cost: worked answers, properties over generated jobs, and answers that must not be given."""

from __future__ import annotations

import re
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.bounds import levels
from nesting.domain.job import Access, Job, KeepOut
from nesting.domain.material import Sale, Turning
from nesting.domain.plan import Bound, Consent, Plan
from nesting.domain.rules import Goal, GoalKind, OffcutRules, RuleId
from nesting.errors import UnsoundPlanError
from nesting.estimating import why as module
from nesting.estimating.parting import part_of
from nesting.estimating.questions import questions_about
from nesting.estimating.why import Answer, MaterialWhy, why
from nesting.files.job_file import parse_job
from nesting.pipeline import Settings, materials_in_use, plan_job
from nesting.progress import Step
from tests import strategies
from tests.making import (
    ALONG_X,
    ALONG_Y,
    BARE_RULES,
    MM,
    M,
    goods,
    job,
    loose,
    pattern,
    planned_whole,
    rectangle,
    remnant,
    room,
)


def asked(plan: Plan, *, effort: int = 1) -> MaterialWhy:
    (found,) = why(plan, Settings(effort=effort))
    return found


def saved_mm(answers: tuple[Answer, ...], width_nm: int) -> Mapping[str, tuple[int, int]]:
    """Return what is saved by every question, mm of roll of one width: at least, at most."""
    return {item.id: (item.least_nm2 // width_nm // MM, item.most_nm2 // width_nm // MM) for item in answers}


# --- worked by hand --------------------------------------------------------------------------------------------------


def test_a_fixed_lay_costs_what_the_other_lay_saves() -> None:
    # 2 x 5 m in goods of 2 m. Laid across: breadths of 2, 2 and 1 m, each 2 m long: 6 m of roll (the third does not
    # go beside the others). Laid along: one drop of 5 m, and less than 10 m² of goods will not do.
    hall = room(rectangle(2 * M, 5 * M), lays=(ALONG_X,))
    found = asked(planned_whole(job([hall], goods(2 * M)), effort=0))
    assert found.roll_nm2 == 2 * M * 6 * M
    costs = saved_mm(found.rules, 2 * M)
    assert costs["fixed-lay"] == (1_000, 1_000)
    assert next(iter(costs)) == "fixed-lay"  # the dearest first
    assert next(item for item in found.rules if item.id == "fixed-lay").seams == 0
    assert saved_mm(found.owners, 2 * M) == {"room:room": (6_000, 6_000)}


def test_what_each_room_takes() -> None:
    # Drops as wide as the goods: 3 m, 4 m and twice 1 m, one after another. The two alike have one question.
    lengths = {"short": 3 * M, "long": 4 * M, "one": 1 * M, "two": 1 * M}
    rooms = [room(rectangle(2 * M, length), name, lays=(ALONG_Y,)) for name, length in lengths.items()]
    found = asked(planned_whole(job(rooms, goods(2 * M)), effort=0), effort=0)
    assert [(item.owners, item.least_nm2, item.most_nm2) for item in found.owners] == [
        (("long",), 8 * M * M, 8 * M * M),
        (("short",), 6 * M * M, 6 * M * M),
        (("one", "two"), 2 * M * M, 2 * M * M),
    ]
    assert [item.words for item in found.owners][2] == "One, or any of 2 like it"


def test_trim_costs_its_length_at_both_ends() -> None:
    # 1.9 x 4 m with 50 of trim: 2.0 x 4.1 m, a whole roll's width. Without: 4.0 m; by area 1.9 · 4 / 2 = 3.8 m.
    den = room(rectangle(1_900 * MM, 4 * M), lays=(ALONG_Y,), trim_nm=50 * MM)
    found = asked(planned_whole(job([den], goods(2 * M)), effort=0), effort=0)
    assert saved_mm(found.rules, 2 * M)["trim"] == (100, 300)


def test_the_pattern_costs_its_repeats() -> None:
    # Two drops of 2.5 m, straight match, repeat 1 m: the second begins at 3 m: 5.5 m in all, 5 m if plain.
    den = room(rectangle(4 * M, 2_500 * MM), lays=(ALONG_Y,))
    found = asked(planned_whole(job([den], goods(2 * M, pattern=pattern(1 * M, 2 * M))), effort=0), effort=0)
    assert found.roll_nm2 == 2 * M * 5_500 * MM
    assert saved_mm(found.rules, 2 * M)["pattern"] == (500, 500)


def test_the_effort_is_shared_and_progress_told() -> None:
    hall = room(rectangle(2 * M, 5 * M), lays=(ALONG_X,))
    plan = planned_whole(job([hall], goods(2 * M)), effort=0)
    steps: list[Step] = []
    (found,) = why(plan, Settings(effort=0, progress=steps.append))
    count = 2 + len(found.rules)
    assert [step.what.split(" (")[-1] for step in steps] == [f"{n} of {count})" for n in range(1, count + 1)]
    assert module._shares(10, 4) == [3, 3, 2, 2]
    assert module._shares(2, 4) == [1, 1, 1, 1]
    assert module._shares(0, 4) == [0, 0, 0, 0]


# --- what is asked ---------------------------------------------------------------------------------------------------


def test_every_rule_that_can_bind_is_asked_about() -> None:
    bare = job([room(rectangle(2 * M, 3 * M))], goods(2 * M, turning=Turning.FREE))
    ids = {question.id for question in questions_about(bare)}
    assert ids == {"least-breadth", "cross-seams", "room:room"}
    zone = KeepOut(id="k", outline=((0, 0), (1 * M, 0), (1 * M, 1 * M)))
    crossed = replace(BARE_RULES, cross_seams_per_breadth=1, whole_rectangles=True)
    full = room(
        rectangle(2 * M, 3 * M),
        keep_outs=(zone,),
        lays=(ALONG_Y,),
        trim_nm=1,
        out_of_square_nm=1,
        access=Access(widest_nm=M),
        rules=crossed,
    )
    its = goods(2 * M, longest_nm=9 * M, in_sequence=True, sale=Sale(lot_limit_nm=9 * M))
    whole = job(
        [full],
        its,
        stock=(remnant("R", M, M, flaws=((0, 0, 1, 1),)),),
        loose=(loose(M, M),),
        matches=(("room",),),
        goal=Goal(most_seams=3),
        offcuts=OffcutRules(bench_cuts=True),
    )
    assert {question.id for question in questions_about(whole)} - ids == {
        "keep-out", "access", "fixed-lay", "least-length", "cross-seam-stagger", "one-lot", "whole-rectangles", "trim",
        "out-of-square", "matches", "in-sequence", "turning", "longest", "lot-limit", "most-seams", "bench-cuts",
        "flaws", "loose:piece",
    }  # fmt: skip
    for question in questions_about(whole):
        assert question.job != whole
        assert "breadth" in question.words or question.id != "least-breadth"
    waived = replace(full, rules=crossed.without(RuleId.KEEP_OUT))
    assert "keep-out" not in {question.id for question in questions_about(replace(whole, rooms=(waived,)))}


def test_every_rule_is_asked_about_somewhere() -> None:
    # The jobs of the README show every key of the job file. That there are goods enough is no rule to be dropped.
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    bodies = re.findall(r"^```yaml\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)
    asked_about = {
        question.id
        for body in bodies
        for part in [parse_job(body, file="README.md").job]
        for material in materials_in_use(part)
        for question in questions_about(part_of(part, material.id))
    }
    lined = goods(2 * M, pattern=pattern(1 * M, 500 * MM), seam_lines_across_nm=(0,))
    asked_about |= {question.id for question in questions_about(job([room(rectangle(2 * M, 3 * M))], lined))}
    assert {rule.value for rule in RuleId} - asked_about == {"stock"}


def test_a_material_is_asked_about_by_itself() -> None:
    other = replace(goods(3 * M), id="other")
    rooms = [room(rectangle(2 * M, 3 * M), "a"), room(rectangle(2 * M, 3 * M), "b", material_id="other")]
    both = replace(job(rooms, goods(2 * M)), materials=(goods(2 * M), other), matches=(("a", "b"),))
    one = part_of(both, "other")
    assert [item.id for item in one.materials] == ["other"]
    assert [item.id for item in one.rooms] == ["b"]
    assert one.matches == ()


# --- of every answer -------------------------------------------------------------------------------------------------


def costs_nothing_below_nothing(a_job: Job, effort: int) -> None:
    plan = plan_job(a_job, Settings(effort=0)).plan
    if plan is None or not plan.by_the_rules:
        return
    (found,) = why(plan, Settings(effort=effort))
    if found.as_it_is is None:
        assert found.roll_nm2 == 0
        return
    assert 0 <= found.as_it_is.least_nm2 <= found.as_it_is.most_nm2 <= found.roll_nm2
    base = found.as_it_is.roll_nm2
    first = plan.materials[0].bounds[0]
    if first.proved and first.level in ("roll", "balanced-roll"):
        assert found.as_it_is.most_nm2 == 0
    for answers in (found.rules, found.owners):
        for answer in answers:
            assert 0 <= answer.least_nm2 <= answer.most_nm2 <= base
            assert answer.roll_nm2 == base - answer.least_nm2
        assert list(answers) == sorted(answers, key=lambda item: (-item.least_nm2, -item.most_nm2))
    assert found.unasked == ()
    assert {owner for item in found.owners for owner in item.owners} == {
        item.id for items in (a_job.rooms, a_job.loose, a_job.strips) for item in items
    }


small_jobs = st.one_of(strategies.ell_jobs(), strategies.patterned_jobs(), strategies.stock_jobs())


@pytest.mark.parametrize(("examples", "effort"), [(10, 0), pytest.param(10, 1, marks=pytest.mark.slow)])
def test_easing_a_rule_never_costs(examples: int, effort: int) -> None:
    @settings(max_examples=examples, suppress_health_check=list(HealthCheck))
    @given(small_jobs)
    def check(a_job: Job) -> None:
        costs_nothing_below_nothing(a_job, effort)

    check()


def _laid_across() -> Plan:
    """Return a plan that is not the best: its lay was fixed, and is free now."""
    hall = room(rectangle(2 * M, 5 * M), lays=(ALONG_X,))
    plan = planned_whole(job([hall], goods(2 * M)), effort=0)
    return replace(plan, job=replace(plan.job, rooms=(replace(hall, lays=()),)))


def test_what_a_better_plan_saves_is_no_rules_fault() -> None:
    found = asked(_laid_across())
    assert found.as_it_is is not None
    assert (found.as_it_is.least_nm2, found.as_it_is.most_nm2) == (2 * M * M, 2 * M * M)
    assert all(item.least_nm2 == 0 for item in found.rules)
    assert saved_mm(found.owners, 2 * M) == {"room:room": (5_000, 5_000)}


def test_the_same_question_has_the_same_answer_whoever_works() -> None:
    plan = _laid_across()
    alone = asked(plan)
    assert asked(plan) == alone
    with ThreadPoolExecutor(2) as executor:
        assert why(plan, Settings(effort=1, executor=executor)) == (alone,)


def test_asked_to_stop_the_account_is_there_all_the_same() -> None:
    (found,) = why(_laid_across(), Settings(stop=lambda: True))
    assert found.as_it_is is None and found.rules == () and found.owners == ()
    assert found.unasked[0] == "as it is" and found.unasked[-1] == "Room"
    assert sum(part.nm2 for part in found.accounts[0].parts) == found.accounts[0].goods_nm2


def test_a_plan_against_the_rules_and_one_that_orders_nothing_have_an_account_only() -> None:
    consent = Consent(rule=RuleId.ACCESS, owner="room", text="")
    assert asked(replace(_laid_across(), consents=(consent,))).as_it_is is None
    den = room(rectangle(2 * M, 3 * M), lays=(ALONG_Y,))
    found = asked(planned_whole(job([den], goods(2 * M), stock=(remnant("R", 2 * M, 4 * M),)), effort=0))
    assert found.roll_nm2 == 0 and found.as_it_is is None and found.accounts[0].source_id == "R"


def test_balanced_bounds_are_for_no_more_seams() -> None:
    # Roll and seams together at least 20 m of 2 m goods, a seam worth 0.5 m: with one seam at least 19.5 m of roll.
    plan = _laid_across().materials[0]
    one_seam = replace(plan, measures=replace(plan.measures, seams=1, cross_seams=0, relief_cuts=0, joins=0))
    bounds = (
        Bound(level="balanced-roll", value=20 * M * 2 * M, attained=30 * M * 2 * M),
        Bound(level="roll", value=15 * M * 2 * M, attained=30 * M * 2 * M),
    )
    a_job = job([room(rectangle(2 * M, 5 * M))], goods(2 * M), goal=Goal(seam_worth_nm=500 * MM))
    assert module._least_roll_nm2(a_job, one_seam, bounds) == 19_500 * MM * 2 * M
    assert module._least_roll_nm2(a_job, one_seam, bounds[1:]) == 15 * M * 2 * M
    many = replace(one_seam, measures=replace(one_seam.measures, seams=11))
    assert module._least_roll_nm2(a_job, many, bounds) == 15 * M * 2 * M


@pytest.mark.parametrize("kind", list(GoalKind))
def test_every_goal_is_asked_as_it_counts_roll(kind: GoalKind) -> None:
    # Along x two drops and a seam; the goal fewest seams is held to the seams that there are.
    den = room(rectangle(4 * M, 2 * M), lays=(ALONG_Y,))
    plan = planned_whole(job([den], goods(2 * M), goal=Goal(kind=kind)), effort=0)
    found = asked(plan, effort=0)
    assert found.as_it_is is not None and found.as_it_is.most_nm2 == 0
    freed = next(item for item in found.rules if item.id == "fixed-lay")
    assert (freed.least_nm2, freed.most_nm2, freed.seams) == (0, 0, 0)
    capped = module._for_roll(plan.job, most_seams=1).goal
    assert capped.most_seams == (1 if kind is GoalKind.FEWEST_SEAMS else None)
    assert capped.kind is (GoalKind.BALANCED if kind is GoalKind.BALANCED else GoalKind.LEAST_ROLL)


# --- planted faults --------------------------------------------------------------------------------------------------


def test_a_bound_above_the_plan_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    def too_high(self: levels.MaterialBounds, needed_nm2: int) -> int:
        return 7 * M * 2 * M

    monkeypatch.setattr(levels.MaterialBounds, "rounded", too_high)
    with pytest.raises(UnsoundPlanError, match="V6"):
        asked(_laid_across(), effort=0)


def test_a_plan_of_the_eased_job_that_breaks_a_rule_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    honest = module._found

    def short_of_floor(*args: object) -> object:
        found = honest(*args)  # type: ignore[arg-type]
        return found and replace(found, cuts=found.cuts[:-1])

    monkeypatch.setattr(module, "_found", short_of_floor)
    with pytest.raises(UnsoundPlanError):
        asked(_laid_across(), effort=0)
