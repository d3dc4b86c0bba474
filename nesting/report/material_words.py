"""The summary of one material: what to order, what is in hand, what it comes to."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.plan import MaterialPlan, Plan, SourceKind
from nesting.report.cuts import Both, both
from nesting.report.reckoning import Fact, Level, assumptions, levels
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


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """One roll to order, or one roll or remnant in hand that is used."""

    id: str
    what: str
    width: Both
    length: Both
    lot: str
    cost: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialWords:
    """The summary of one material."""

    name: str
    order: tuple[OrderRow, ...]
    in_hand: tuple[OrderRow, ...]
    facts: tuple[Fact, ...]
    notices: tuple[str, ...]
    assumed: tuple[Fact, ...]
    levels: tuple[Level, ...]
    stop: str


def material_words(plan: Plan, part: MaterialPlan) -> MaterialWords:
    """Return the summary of one material of a plan."""
    job, measures = plan.job, part.measures
    name = next(material.name for material in job.materials if material.id == part.material_id)
    facts = [
        Fact(name="used of what is ordered", value=used_text(job, part) or "nothing"),
        Fact(name="goods", value=goods_text(part)),
        Fact(name="seams", value=f"{seams_text(part)}, {length_of(job, measures.seam_length_nm)} in all"),
        Fact(name="cuts", value=str(measures.cuts)),
    ]
    facts += [Fact(name="cost", value=money_of(job, measures.total_cost))] if measures.total_cost else []
    facts += [Fact(name="value of goods in hand", value=rack_text(job, part))] if measures.rack_nm2 else []
    facts += [Fact(name="by hand", value=by_hand_text(job, part, part.by_hand))] if part.by_hand is not None else []
    facts += [
        Fact(name="bound" if number == 0 else "", value=text) for number, text in enumerate(bound_texts(job, part))
    ]
    return MaterialWords(
        name=name,
        order=tuple(_order_rows(plan, part)),
        in_hand=tuple(_in_hand(plan, part)),
        facts=tuple(facts),
        notices=tuple(notice.text for notice in part.notices),
        assumed=tuple(assumptions(plan, part)),
        levels=tuple(levels(job, part)),
        stop=part.stop,
    )


def _order_rows(plan: Plan, part: MaterialPlan) -> list[OrderRow]:
    """Return the rolls to order, by width and lot."""
    job, rows = plan.job, []
    for width, lot, rolls in order_groups(part):
        for line in rolls:
            run_off = line.repeat_tolerance_nm
            rows.append(
                OrderRow(
                    id=line.source_id,
                    what=line.source_id,
                    width=both(width, job),
                    length=both(line.length_nm, job, "up"),
                    lot=lot_text(lot),
                    cost=money_of(job, line.cost) if line.cost else "",
                    note=f"and {length_of(job, run_off)} in case the repeat runs off" if run_off else "",
                )
            )
    return rows


def _in_hand(plan: Plan, part: MaterialPlan) -> list[OrderRow]:
    """Return the rolls and remnants in hand that are used."""
    places = {piece.id: piece.place for piece in plan.job.stock}
    return [
        OrderRow(
            id=source.id,
            what=source.stock_id or source.id,
            width=both(source.width_nm, plan.job, "down"),
            length=both(source.length_nm, plan.job, "down"),
            lot=lot_text(source.lot),
            cost=money_of(plan.job, source.cost) if source.cost else "",
            note=places.get(source.stock_id, ""),
        )
        for source in part.sources
        if source.kind is not SourceKind.ORDER
    ]
