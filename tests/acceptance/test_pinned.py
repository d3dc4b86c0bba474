"""What holds of every job with pins: a lawful plan keeps them, and is not below what no free plan can beat."""

from __future__ import annotations

from dataclasses import replace

from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.pin_list import with_pins_only
from nesting.domain.pins import PinnedSeam, RoomPins
from nesting.estimating.pinned import PIN_RULES, all_pins, narrowed_rooms
from nesting.pipeline import Settings, plan_job
from tests import strategies
from tests.acceptance.test_properties import counting_roll, property_of
from tests.making import ALONG_Y, MM, M, goods, job, planned, rectangle, room


def _keeps_its_pins(job: Job) -> None:
    outcome = plan_job(job, Settings(effort=0))
    if outcome.plan is None:
        assert outcome.refusals
        return
    assert check_plan(outcome.plan) == ()
    if outcome.refusals:
        assert not outcome.plan.by_the_rules and outcome.plan.materials[0].order == ()
        return
    for pin in all_pins(job):
        alone = with_pins_only(job, (pin,), narrowed_rooms(job))
        broken = check_plan(replace(outcome.plan, job=alone))
        assert not [found for found in broken if found.rule in PIN_RULES]


def _is_not_below_the_free_bound(job: Job) -> None:
    quick = Settings(effort=1, rule_costs=False)
    outcome = plan_job(job, quick)
    free = plan_job(with_pins_only(job, (), narrowed_rooms(job)), quick)
    if outcome.plan is None or outcome.refusals or free.plan is None or free.refusals:
        return
    pairs = zip(outcome.plan.materials, free.plan.materials, strict=True)
    assert all(pinned.bounds[0].attained >= bare.bounds[0].value for pinned, bare in pairs)


test_a_lawful_plan_keeps_its_pins = property_of(strategies.pinned_jobs(), few=12, many=150)(_keeps_its_pins)
test_a_plan_with_pins_is_not_below_the_free_bound = property_of(counting_roll(strategies.pinned_jobs()))(
    _is_not_below_the_free_bound
)


def test_the_certificate_of_a_pinned_direction_is_sure() -> None:
    """5 x 4 m, 2 m goods, 20 mm overlap: along y two seams of 4 m, 0.16 m² of overlap; along x one, 0.10 m²."""
    line = PinnedSeam(name="a seam", start=(1900 * MM, 0), end=(1900 * MM, 4 * M))
    material = goods(2 * M, seam_overlap_nm=20 * MM)
    for pins, lays in ((RoomPins(seams=(line,)), ()), (RoomPins(), (ALONG_Y,))):
        plan = planned(job([room(rectangle(5 * M, 4 * M), pins=pins, lays=lays)], material))
        (used,) = [bound for bound in plan.bounds if bound.level == "used"]
        assert used.certificate is not None
        assert used.certificate.value == 5 * M * 4 * M + 2 * 20 * MM * 4 * M
