"""Every rule holds for good plans and is broken, alone, by a fault planted against it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

import nesting.checker
from nesting.checker import RULES, check_plan
from nesting.checker.checking import CHECKS
from nesting.domain.plan import Plan
from tests.checker.faults import FAULTS
from tests.checker.plans import PLANS, column


@pytest.mark.parametrize("name", PLANS)
def test_good_plans_pass(name: str) -> None:
    assert check_plan(PLANS[name]()) == ()


def test_a_hole_may_be_slit_to_another() -> None:
    assert check_plan(column(2)) == ()


@pytest.mark.parametrize(("rule", "build"), FAULTS, ids=[f"{rule}-{i}" for i, (rule, _) in enumerate(FAULTS)])
def test_a_planted_fault_is_reported_as_what_it_is(rule: str, build: Callable[[], Plan]) -> None:
    found = check_plan(build())
    assert {violation.rule for violation in found} == {rule}, found


def test_every_rule_has_a_planted_fault() -> None:
    assert {rule for rule, _ in FAULTS} == set(RULES)


def test_every_rule_is_listed_and_checked() -> None:
    listed = [line[:3] for line in (nesting.checker.__doc__ or "").splitlines() if line[:1] == "V"]
    assert listed == list(RULES)
    assert {rule for rule, _ in CHECKS} == set(RULES) - {"V1a", "V1b", "V1c", "V1d", "V1e", "V4r"}


def test_violations_come_in_one_order() -> None:
    for _, build in FAULTS[::7]:
        assert check_plan(build()) == check_plan(build())
