"""The trade-off on the page of a plan: a quick look beside the plan, and the words and the chart of it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from nesting.domain.front import Front, FrontRow, TradeOff, seams_of
from nesting.domain.job import Job
from nesting.domain.plan import MaterialPlan, Plan
from nesting.drawing.front_chart import front_scene
from nesting.estimating.front_words import chart_of, mark_of, roll_text, said_of, step_text
from nesting.estimating.trading_off import trade_off
from nesting.pipeline import Settings
from nesting.report.packet import FrontPage, FrontRowWords
from nesting.units import format_money

SHARE = 4
"""A quick look at the trade-off has one part in so many of the run's effort."""

MOST_ROOMS = 60
"""Beyond, the quick look would take longer than the plan."""

NOT_BY_THE_RULES = "There is no trade-off of a plan that is not by the rules."
HAS_BEGUN = "There is no trade-off here: the job has begun, and what is cut stays as it is."
AT_ONCE = "Not made for a plan at once (effort 0): rollwright trade-off JOB shows it."
TOO_MANY = f"Not made for more than {MOST_ROOMS} rooms: rollwright trade-off JOB shows it."
STOPPED = "Not made: the run was stopped before. rollwright trade-off JOB shows it."
ELSEWHERE = "Not made here: rollwright trade-off JOB shows it."


def quick_look(plan: Plan, settings: Settings) -> tuple[tuple[FrontPage, ...], str]:
    """Return the trade-off round a plan, with a share of the run's effort, or the reason why there is none."""
    why = _why_not(plan, settings)
    if why:
        return (), why
    found = trade_off(plan.job, replace(settings, start=plan, effort=settings.effort // SHARE))
    if settings.stop():
        return (), STOPPED
    return front_pages(found, plan), ""


def _why_not(plan: Plan, settings: Settings) -> str:
    """Return the reason why no trade-off is looked for; "" for none."""
    reasons = (
        (not plan.by_the_rules, NOT_BY_THE_RULES),
        (bool(plan.job.done), HAS_BEGUN),
        (settings.effort == 0, AT_ONCE),
        (len(plan.job.rooms) > MOST_ROOMS, TOO_MANY),
        (settings.stop(), STOPPED),
    )
    return next((text for holds, text in reasons if holds), "")


def front_pages(found: TradeOff, plan: Plan) -> tuple[FrontPage, ...]:
    """Return the fronts of a trade-off as a plan's page shows them, the plan marked."""
    parts = {part.material_id: part for part in plan.materials}
    return tuple(_page(found, front, parts[front.material_id]) for front in found.fronts if front.material_id in parts)


def _page(found: TradeOff, front: Front, part: MaterialPlan) -> FrontPage:
    job = found.job
    name = next(material.name for material in job.materials if material.id == front.material_id)
    steps = tuple(step_text(job, front.material_id, above, row) for above, row in pairwise(front.rows))
    chosen = mark_of(job, front.material_id, seams_of(part), part.measures.roll_nm2)
    return FrontPage(
        material=name,
        chart=front_scene(replace(chart_of(found, front), chosen=chosen)),
        rows=tuple(_row(job, front, row, part) for row in front.rows),
        steps=steps,
        known=tuple(text for text in said_of(found, front) if text not in steps),
    )


def _row(job: Job, front: Front, row: FrontRow, part: MaterialPlan) -> FrontRowWords:
    cost = row.part.measures.total_cost
    bound = row.bound
    least = "this: proved" if bound.proved else roll_text(job, front.material_id, bound.value, "down")
    return FrontRowWords(
        seams=str(row.seams),
        ordered=roll_text(job, front.material_id, row.roll_nm2),
        cost=format_money(cost, job.currency, job.coin_per_unit) if cost else "",
        least=least,
        is_this=row.seams == seams_of(part) and row.roll_nm2 == part.measures.roll_nm2,
    )
