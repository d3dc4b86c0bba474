"""What a plan orders, costs and proves, in the words of the summary and of the page."""

from __future__ import annotations

from nesting.domain.job import Job
from nesting.domain.plan import Bound, ByHand, MaterialPlan, OrderLine
from nesting.domain.rules import ValueRule
from nesting.units import format_length, format_money

NM2_PER_M2 = 10**18


def length_of(job: Job, nm: int) -> str:
    """Return a length in the job's own unit."""
    return format_length(nm, job.unit.value, with_unit=True)


def money_of(job: Job, coins: int) -> str:
    """Return an amount of money in the job's currency."""
    return format_money(coins, job.currency, job.coin_per_unit)


def order_groups(item: MaterialPlan) -> list[tuple[int, str, list[OrderLine]]]:
    """Return (width, lot, rolls) for every width and lot that is ordered, in a fixed order."""
    groups: dict[tuple[int, str], list[OrderLine]] = {}
    for line in item.order:
        groups.setdefault((line.width_nm, line.lot), []).append(line)
    return [(width, lot, rolls) for (width, lot), rolls in sorted(groups.items())]


def lot_text(lot: str) -> str:
    """Return a lot in words."""
    return lot if lot.startswith("new lot") else f"lot {lot}"


def used_text(job: Job, item: MaterialPlan) -> str:
    """Return how much is used of the rolls to order, width by width; "" for nothing."""
    return ", ".join(
        f"{length_of(job, many)} of {length_of(job, width)} wide" for width, many in item.measures.used_nm if many
    )


def goods_text(item: MaterialPlan) -> str:
    """Return where the goods go, in areas."""
    account = item.account
    waste = account.waste_nm2 + account.start_nm2
    return (
        f"{account.goods_nm2 / NM2_PER_M2:.2f} m²: {account.pieces_nm2 / NM2_PER_M2:.2f} cut, "
        f"{account.offcuts_nm2 / NM2_PER_M2:.2f} kept, {waste / NM2_PER_M2:.2f} waste "
        f"({waste / max(1, account.goods_nm2):.1%})"
    )


def value_rule_text(job: Job) -> str:
    """Return the rule by which goods in hand are valued against one another."""
    rules = job.offcuts
    if rules.value is ValueRule.NONE:
        return "goods in hand are not spared"
    if rules.value is ValueRule.BY_AREA:
        return "by area, where what is left is worth keeping"
    small = f"{rules.small_nm2 / NM2_PER_M2:.2f} m²"
    return f"of the first {small} of a piece a quarter counts, the rest in full; nothing where it is not worth keeping"


def rack_text(job: Job, item: MaterialPlan) -> str:
    """Return by how much the value of the goods in hand falls, with the rule."""
    used = item.measures.rack_nm2 or 0
    return f"{used / NM2_PER_M2:.2f} m² of goods in hand used up ({value_rule_text(job)})"


def seams_text(item: MaterialPlan) -> str:
    """Return how many seams there are, cross seams and relief cuts apart."""
    measures = item.measures
    parts = [f"{measures.seams} seam{'s' if measures.seams != 1 else ''}"]
    for count, name in ((measures.cross_seams, "cross seam"), (measures.relief_cuts, "relief cut")):
        if count:
            parts.append(f"{count} {name}{'s' if count != 1 else ''}")
    return ", ".join(parts)


def by_hand_text(job: Job, item: MaterialPlan, hand: ByHand) -> str:
    """Return what the hand method would order, and what the plan saves of it."""
    ordered = " + ".join(
        f"{length_of(job, many)} of {length_of(job, width)} wide" for width, many in hand.ordered_nm if many
    )
    text = f"{ordered or 'nothing'}, {hand.seams} seam{'s' if hand.seams != 1 else ''}: this plan "
    roll = sum(width * many for width, many in hand.ordered_nm)
    saved = roll - item.measures.roll_nm2
    if saved == 0:
        return text + "orders as much"
    one_width = len(hand.ordered_nm) == 1
    many = length_of(job, abs(saved) // hand.ordered_nm[0][0]) if one_width else f"{abs(saved) / NM2_PER_M2:.2f} m²"
    return f"{text}saves {many} ({saved / roll:.1%})" if saved > 0 else f"{text}orders {many} more"


def bound_texts(job: Job, item: MaterialPlan) -> list[str]:
    """Return lines on the first level of the goal: proved least, or the gap that is left."""
    if not item.bounds:
        return []
    bound = item.bounds[0]
    if bound.proved:
        return [f"the least possible by this goal: proved ({_source_of(bound)})"]
    gap = (bound.attained - bound.value) / max(1, bound.attained)
    texts = [f"no plan by the rules is better by more than {gap:.1%} ({_source_of(bound)})"]
    levels = {other.level: other for other in item.bounds}
    widths = [width for width, length in item.measures.ordered_nm if length]
    if "roll" in levels and len(item.measures.ordered_nm) == 1 and widths:
        ordered = _least_length(levels["roll"], widths[0], job)
        texts.append(
            f"no plan orders less than {ordered}, nor uses less than {_least_length(levels['used'], widths[0], job)}"
        )
    return texts


def _source_of(bound: Bound) -> str:
    """Return the level of a bound and what it comes from."""
    return f"{bound.level}, by {bound.cut}" if bound.cut else bound.level


def _least_length(bound: Bound, width_nm: int, job: Job) -> str:
    """Return a bound on roll as a length of the one width, rounded down."""
    return format_length(bound.value // width_nm, job.unit.value, rounding="down", with_unit=True)
