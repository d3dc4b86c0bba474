"""The short, calm summary of a plan: as data for `--json`, as lines for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import ByHand, MaterialPlan, Plan, SourceKind
from nesting.report.sentences import (
    bound_texts,
    by_hand_text,
    goods_text,
    length_of,
    lot_text,
    money_of,
    order_groups,
    rack_text,
    seams_text,
    used_text,
)
from nesting.site import SiteWarning, site_warnings
from nesting.units import format_length


def summary_data(plan: Plan) -> dict[str, Any]:
    """Return the summary as plain data: lengths in nm, areas in nm², money in the smallest coin."""
    return {
        "job": plan.job.name,
        "by_the_rules": plan.by_the_rules,
        "seed": plan.seed,
        "effort": plan.effort,
        "consents": [{"rule": item.rule.value, "owner": item.owner, "text": item.text} for item in plan.consents],
        "materials": [_material_data(plan, item) for item in plan.materials],
        "total_cost": sum(item.measures.total_cost for item in plan.materials),
        "site_warnings": [_warning_data(warning) for warning in site_warnings(plan)],
    }


def _warning_data(warning: SiteWarning) -> dict[str, str]:
    return {"material": warning.material_id, "room": warning.room_id, "text": warning.text}


def _material_data(plan: Plan, item: MaterialPlan) -> dict[str, Any]:
    measures, account = item.measures, item.account
    return {
        "material": item.material_id,
        "order": [
            {
                "source": line.source_id,
                "width_nm": line.width_nm,
                "length_nm": line.length_nm,
                "lot": line.lot,
                "cost": line.cost,
                "repeat_tolerance_nm": line.repeat_tolerance_nm,
            }
            for line in item.order
        ],
        "from_stock": [
            {"source": source.id, "lot": source.lot, "used_nm": source.used_nm}
            for source in item.sources
            if source.kind is not SourceKind.ORDER
        ],
        "ordered_nm": sum(length for _, length in measures.ordered_nm),
        "used_nm": sum(length for _, length in measures.used_nm),
        "roll_nm2": measures.roll_nm2,
        "goods_nm2": account.goods_nm2,
        "pieces_nm2": account.pieces_nm2,
        "offcuts_nm2": account.offcuts_nm2,
        "waste_nm2": account.waste_nm2 + account.start_nm2,
        "seams": measures.seams,
        "cross_seams": measures.cross_seams,
        "relief_cuts": measures.relief_cuts,
        "seam_length_nm": measures.seam_length_nm,
        "cuts": measures.cuts,
        "rack_nm2": measures.rack_nm2,
        "cost": measures.total_cost,
        "bounds": [
            {
                "level": bound.level,
                "bound": bound.value,
                "attained": bound.attained,
                "proved": bound.proved,
                "by_search": bound.by_search,
                "cut": bound.cut,
            }
            for bound in item.bounds
        ],
        "bound_considered": item.bound_considered,
        "by_hand": None if item.by_hand is None else _by_hand_data(item.by_hand),
        "stop": item.stop,
        "notices": [{"code": notice.code, "room": notice.room_id, "text": notice.text} for notice in item.notices],
    }


def _by_hand_data(hand: ByHand) -> dict[str, Any]:
    return {
        "ordered_nm": sum(length for _, length in hand.ordered_nm),
        "roll_nm2": sum(width * length for width, length in hand.ordered_nm),
        "seams": hand.seams,
        "cost": hand.cost,
    }


def summary_lines(plan: Plan, pins: Mapping[str, Sequence[str]] | None = None) -> list[str]:
    """Return the summary as lines of text in the job's own unit; `pins`: by material, lines on what its pins cost."""
    lines = [plan.job.name, "=" * len(plan.job.name)]
    if not plan.by_the_rules:
        lines += ["", "NOT BY THE RULES: nothing is ordered until this is accepted:"]
        lines += [f"  {item.owner}: {item.text} [{item.rule.value}]" for item in plan.consents]
    warnings = site_warnings(plan)
    for item in plan.materials:
        material = next(one for one in plan.job.materials if one.id == item.material_id)
        lines += ["", *_material_lines(plan.job, material, item)]
        lines += [f"  warning  {warning.text}" for warning in warnings if warning.material_id == item.material_id]
        said = (pins or {}).get(item.material_id, ())
        lines += [f"  {'pins' if number == 0 else '':8} {text}" for number, text in enumerate(said)]
    costs = sum(item.measures.total_cost for item in plan.materials)
    if len(plan.materials) > 1 and costs:
        lines += ["", f"All materials: {money_of(plan.job, costs)}"]
    return lines


def _material_lines(job: Job, material: Material, item: MaterialPlan) -> list[str]:
    def length(nm: int) -> str:
        return format_length(nm, job.unit.value, with_unit=True)

    lines = [material.name, *_order_lines(job, item)]
    for source in item.sources:
        if source.kind is not SourceKind.ORDER:
            lines.append(
                f"  in hand  {source.stock_id or source.id} ({lot_text(source.lot)}): {length(source.used_nm)} of "
                f"{length(source.length_nm)}, {length(source.width_nm)} wide"
            )
    measures = item.measures
    used = used_text(job, item)
    lines += [f"  used     {used}"] if used else []
    lines.append(f"  goods    {goods_text(item)}")
    lines.append(f"  seams    {seams_text(item)}, {length(measures.seam_length_nm)} in all; {measures.cuts} cuts")
    lines += [f"  value    {rack_text(job, item)}"] if item.measures.rack_nm2 else []
    lines += [] if item.by_hand is None else [f"  by hand  {by_hand_text(job, item, item.by_hand)}"]
    lines += [f"  {'bound' if number == 0 else '':8} {text}" for number, text in enumerate(bound_texts(job, item))]
    lines += [f"  note     {notice.text}" for notice in item.notices]
    return lines + ([f"  note     {item.stop}: a longer run may find less"] if item.stop.startswith("stopped") else [])


def _order_lines(job: Job, item: MaterialPlan) -> list[str]:
    """Return a line for every width and lot to order, its rolls added up."""
    lines = []
    for width, lot, rolls in order_groups(item):
        ordered = length_of(job, sum(roll.length_nm for roll in rolls))
        text = f"  order    {ordered} of {length_of(job, width)} wide, {lot_text(lot)}"
        if len(rolls) > 1:
            text += f", as {' + '.join(length_of(job, roll.length_nm) for roll in rolls)}"
        cost, run_off = sum(roll.cost for roll in rolls), sum(roll.repeat_tolerance_nm for roll in rolls)
        text += f": {money_of(job, cost)}" if cost else ""
        lines += [text, *([f"           and {length_of(job, run_off)} in case the repeat runs off"] if run_off else [])]
    return lines or ["  order    nothing"]
