"""Mutants of plans that the planner made of random jobs are caught like those of plans made by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.layout import CutKind
from nesting.domain.plan import Plan
from nesting.pipeline import Settings, plan_job
from tests.checker.faults import cut, first, layout, part, place, source
from tests.strategies import ell_jobs, patterned_jobs, stock_jobs

FURTHER_NM = 300_000_000
"""More than rounding to the cutting step, or a side straightened to its largest allowance, leaves to spare."""


def _mutants(plan: Plan) -> Iterator[tuple[str, Plan]]:
    (made,) = plan.materials
    material = plan.job.materials[0]
    for item in made.cuts:
        for number, rect in enumerate(item.rects):
            for smaller in (rect._replace(x1_nm=rect.x1_nm - 1), rect._replace(y0_nm=rect.y0_nm + 1)):
                rects = (*item.rects[:number], smaller, *item.rects[number + 1 :])
                yield f"{item.id} shrunk", cut(plan, item.id, rects=rects)
        if item.allowances:
            less = replace(item.allowances[0], full_nm=item.allowances[0].full_nm + 1)
            yield f"{item.id} with another allowance", cut(plan, item.id, allowances=(less, *item.allowances[1:]))
        if material.pattern is not None and material.pattern.drop_nm.denominator == 1 and item.kind is CutKind.DROP:
            yield f"{item.id} moved along", place(plan, item.id, dy=1)
            if material.pattern.across_nm is not None:
                yield f"{item.id} moved across", place(plan, item.id, dx=-1)
    for item in made.sources:
        yield f"{item.id} at another price", source(plan, item.id, cost=item.cost + 1)
        yield f"{item.id} shorter", source(plan, item.id, length_nm=item.length_nm - 1)
        yield f"{item.id} used more", source(plan, item.id, used_nm=item.used_nm + 1)
    for laid in made.layouts:
        if laid.seams:
            moved = (replace(laid.seams[0], at_nm=laid.seams[0].at_nm + FURTHER_NM), *laid.seams[1:])
            yield f"{laid.room_id} with another seam", layout(plan, laid.room_id, seams=moved)
    if made.offcuts:
        rect = made.offcuts[0].rect
        yield "an offcut grown", first(plan, "offcuts", rect=rect._replace(x1_nm=rect.x1_nm + 1))
    yield "waste lost", part(plan, account=replace(made.account, waste_nm2=made.account.waste_nm2 - 1))


def _check(job: Job) -> None:
    plan = plan_job(job, Settings(effort=0)).plan
    if plan is None:
        return
    assert check_plan(plan) == ()
    for what, mutant in _mutants(plan):
        assert check_plan(mutant) != (), what


QUICK = settings(max_examples=4, deadline=None, suppress_health_check=list(HealthCheck))
LONG = settings(max_examples=60, deadline=None, phases=(Phase.generate,), suppress_health_check=list(HealthCheck))


@QUICK
@given(ell_jobs())
def test_mutants_of_plain_plans(job: Job) -> None:
    _check(job)


@QUICK
@given(patterned_jobs())
def test_mutants_of_patterned_plans(job: Job) -> None:
    _check(job)


@pytest.mark.slow
@LONG
@given(stock_jobs())
def test_mutants_of_many_plans(job: Job) -> None:
    _check(job)
