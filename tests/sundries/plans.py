"""Jobs as text, planned without a search: what the sundries are reckoned from."""

from __future__ import annotations

from nesting.domain.job import Job
from nesting.domain.plan import Plan
from nesting.files.job_file import parse_job
from nesting.pipeline import Settings, plan_job
from nesting.sundries import SundryLine, SundryWords, sundries_of, sundry_words


def read(text: str) -> Job:
    return parse_job(text, file="job.yaml").job


def plan_of(text: str) -> Plan:
    outcome = plan_job(read(text), Settings(effort=0))
    assert outcome.plan is not None, outcome.refusals
    return outcome.plan


def lines_of(plan: Plan) -> dict[str, SundryLine]:
    """Return the lines by the name of their product."""
    return {line.sundry.name: line for line in sundries_of(plan).lines}


def words_of(plan: Plan) -> dict[str, SundryWords]:
    return {line.sundry.name: sundry_words(plan, line) for line in sundries_of(plan).lines}
