"""What a plan may break: rules that the user has taken out, and what is listed as needing consent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from nesting.checker import check_plan
from nesting.domain.plan import Consent, Plan
from nesting.domain.rules import RuleId
from tests.checker import faults
from tests.checker.drafting import settled

BREACHES: tuple[tuple[RuleId, Callable[[], Plan]], ...] = (
    (RuleId.JOINT_CLEARANCE, faults.joint_too_near),
    (RuleId.KEEP_OUT, faults.through_the_sink),
    (RuleId.KEEP_OUT, faults.slit_through_a_zone),
    (RuleId.DOOR_OPENING, faults.seam_in_the_door),
    (RuleId.LEAST_BREADTH, faults.too_narrow),
    (RuleId.CROSS_SEAMS, faults.cross_seams_not_allowed),
    (RuleId.LEAST_LENGTH, faults.short_piece),
    (RuleId.CROSS_SEAM_STAGGER, faults.cross_seams_in_line),
    (RuleId.SEAM_LINES, faults.off_the_seam_line),
    (RuleId.LAY_DIRECTION, faults.wrong_way),
    (RuleId.ACCESS, faults.too_heavy),
    (RuleId.TRIM, faults.end_trim_taken),
    (RuleId.STOCK, faults.longer_than_made),
    (RuleId.ONE_LOT, faults.two_lots),
    (RuleId.PATTERN, faults.motif_off_along),
    (RuleId.PATTERN, faults.motif_beside_the_middle),
    (RuleId.PINS, faults.pinned_seam_missed),
    (RuleId.PINS, faults.from_other_goods),
    (RuleId.PINS, faults.more_seams_than_allowed),
    (RuleId.PINS, faults.laid_the_other_way),
)
"""Every rule of the job with a plan that breaks it in the room "hall"."""


def _consenting(plan: Plan, *pairs: tuple[RuleId, str]) -> Plan:
    consents = tuple(Consent(rule=rule, owner=owner, text="") for rule, owner in pairs)
    return settled(replace(plan, consents=consents))


@pytest.mark.parametrize(("rule", "build"), BREACHES)
def test_a_waived_rule_is_not_checked(rule: RuleId, build: Callable[[], Plan]) -> None:
    plan = build()
    rules = plan.job.rooms[0].rules.without(rule)
    assert check_plan(faults.room(plan, rules=rules)) == ()


@pytest.mark.parametrize(("rule", "build"), BREACHES)
@pytest.mark.parametrize("owner", ["hall", "goods"])
def test_a_breach_with_consent_passes(rule: RuleId, build: Callable[[], Plan], owner: str) -> None:
    assert check_plan(_consenting(build(), (rule, owner))) == ()


@pytest.mark.parametrize(("rule", "build"), BREACHES)
def test_consent_to_another_rule_or_for_another_owner_does_not_help(rule: RuleId, build: Callable[[], Plan]) -> None:
    plan = build()
    others = [(other, "hall") for other in RuleId if other is not rule]
    assert check_plan(_consenting(plan, *others)) != ()
    extra = replace(plan.job.rooms[0], id="cellar", material_id="other")
    job = replace(plan.job, rooms=(*plan.job.rooms, extra))
    assert check_plan(_consenting(replace(plan, job=job), (rule, "cellar"))) != ()


def test_every_rule_of_the_job_is_held() -> None:
    assert {rule for rule, _ in BREACHES} == set(RuleId)


def test_consent_of_one_room_lets_it_out_of_the_one_lot() -> None:
    plan = faults.of_two_lots()
    assert check_plan(_consenting(plan, (RuleId.PINS, "study"))) == ()
    third = replace(plan.job.rooms[0], id="attic", material_id="other")
    job = replace(plan.job, rooms=(*plan.job.rooms, third))
    assert check_plan(_consenting(replace(plan, job=job), (RuleId.PINS, "attic"))) != ()


def test_nothing_is_ordered_before_consent() -> None:
    plan = faults.through_the_sink()
    order = plan.materials[0].order
    plan = _consenting(plan, (RuleId.KEEP_OUT, "hall"))
    assert plan.materials[0].order == ()
    found = check_plan(faults.part(plan, order=order))
    assert {violation.rule for violation in found} == {"V5d"}


def test_consent_does_not_cover_what_no_rule_of_the_job_says() -> None:
    every = [(rule, owner) for rule in RuleId for owner in ("hall", "goods")]
    for build in (faults.drops_overlap, faults.short_rough_cut, faults.drop_left_out, faults.coin_too_little):
        plan = _consenting(build(), *every)
        if build is faults.coin_too_little:
            plan = faults.summed(faults.source(plan, cost=plan.materials[0].sources[0].cost - 1))
        assert check_plan(plan) != ()
