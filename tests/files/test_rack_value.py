"""The keys that say what goods in hand are worth."""

from __future__ import annotations

import pytest

from nesting.domain.rules import OffcutRules, ValueRule
from nesting.errors import JobError
from nesting.files.job_file import parse_job
from tests.making import MM, M


def offcuts_of(text: str) -> OffcutRules:
    lines = "job: A closet\nunit: mm\nmaterials: [{name: Goods, width: 2 m}]\n"
    lines += "rooms: [{name: Closet, rectangle: 1 m x 1 m}]\n"
    return parse_job(lines + text, file="job.yaml").job.offcuts


def test_by_size_unless_told() -> None:
    assert offcuts_of("") == OffcutRules() == offcuts_of("offcuts: {bench cuts: no}")
    assert (OffcutRules().value, OffcutRules().small_nm2) == (ValueRule.BY_SIZE, 4 * M * M)


def test_the_rule_and_the_small_area_are_read() -> None:
    given = offcuts_of("offcuts: {value: by size, small up to: 25 sq ft, worth keeping: [1 m x 1 m]}")
    assert given.value is ValueRule.BY_SIZE and given.sizes_nm == ((M, M),)
    assert given.small_nm2 == 25 * (3048 * MM // 10) ** 2
    assert offcuts_of("offcuts: {value: by area}").value is ValueRule.BY_AREA
    assert offcuts_of("offcuts: {value: none}").value is ValueRule.NONE


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("offcuts: {value: dear}", "unknown-name"),
        ("offcuts: {value: by area, small up to: 4 m2}", "value-unused"),
        ("offcuts: {small up to: 4 m}", "bad-amount"),
    ],
)
def test_what_makes_no_sense_is_refused(text: str, code: str) -> None:
    with pytest.raises(JobError) as caught:
        offcuts_of(text)
    assert [fault.code for fault in caught.value.faults] == [code]
