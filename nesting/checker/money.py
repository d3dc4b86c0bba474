"""V5a to V5d: what is used, ordered and paid."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor

from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.whole import METRE_NM, half_up
from nesting.domain.plan import CutSource, SourceKind
from nesting.domain.rules import RuleId


def check_used(view: View) -> Iterator[Finding]:
    """V5a: what is used of a source is from the end of its start allowance to the far end of its last piece."""
    for source in view.part.sources:
        ends = [rect.y1_nm for cut in view.on_source[source.id] for rect in view.lying[cut.id]]
        if ends and source.used_nm != max(ends) - source.start_allowance_nm:
            text = f"{max(ends) - source.start_allowance_nm} nm are used, not {source.used_nm} nm"
            yield Finding(rule="V5a", where=f"source {source.id}", text=text)


def check_ordered(view: View) -> Iterator[Finding]:
    """V5b: the ordered length is what is used with the allowance, rounded as the goods are sold, or a whole roll."""
    for source in view.part.sources:
        if source.kind is SourceKind.ORDER and source.length_nm != ordered_nm(view, source):
            text = f"{ordered_nm(view, source)} nm are to be ordered, not {source.length_nm} nm"
            # More than a whole roll holds needs consent: goods of that length are not made.
            beyond = RuleId.STOCK if view.material.sale.whole_rolls else None
            owners = tuple(sorted({cut.owner for cut in view.on_source[source.id]}))
            yield Finding(rule="V5b", where=f"source {source.id}", text=text, breaks=beyond, owners=owners)


def ordered_nm(view: View, source: CutSource) -> int:
    """Return the length to order: max(minimum, ⌈(start + used) / step⌉ · step), or the longest roll made."""
    material = view.material
    if material.sale.whole_rolls and material.longest_nm is not None:
        return material.longest_nm
    step = material.sale.order_step_nm
    needed = source.start_allowance_nm + source.used_nm
    return max(material.sale.minimum_cut_nm, -(-needed // step) * step)


def source_cost(view: View, source: CutSource) -> int | None:
    """Return what a source costs in the smallest coin; None: its width has no price."""
    sale = view.material.sale
    if source.kind is not SourceKind.ORDER:
        return view.stock[source.stock_id].book_value
    length = Fraction(source.length_nm, METRE_NM)
    price = Fraction(0)
    if sale.price_per_m is not None:
        if source.width_nm not in view.material.widths_nm:
            return None
        price = length * sale.price_per_m[view.material.widths_nm.index(source.width_nm)]
    elif sale.price_per_m2 is not None:
        price = length * Fraction(source.width_nm, METRE_NM) * sale.price_per_m2
    return half_up(price) + sale.cut_charge


def check_costs(view: View) -> Iterator[Finding]:
    """V5c: an ordered roll costs its price, rounded half up, and the cut charge; goods in hand their book value."""
    for source in view.part.sources:
        cost = source_cost(view, source)
        if cost is not None and source.cost != cost:
            yield Finding(rule="V5c", where=f"source {source.id}", text=f"costs {cost}, not {source.cost}")


def check_order(view: View) -> Iterator[Finding]:
    """V5d: the order lists just the rolls to order; it is empty while the plan needs consent."""
    lines = {line.source_id: line for line in view.part.order}
    orders = {source.id: source for source in view.part.sources if source.kind is SourceKind.ORDER}
    if view.plan.consents:
        orders = {}
    for name in sorted(orders.keys() - lines.keys()):
        yield Finding(rule="V5d", where=f"source {name}", text="is not in the order")
    for name in sorted(lines.keys() - orders.keys()):
        yield Finding(rule="V5d", where=f"source {name}", text="stands in the order and must not")
    for name in sorted(lines.keys() & orders.keys()):
        line, source = lines[name], orders[name]
        same = (line.width_nm, line.length_nm, line.lot, line.cost)
        if same != (source.width_nm, source.length_nm, source.lot, source.cost):
            yield Finding(
                rule="V5d", where=f"source {name}", text="is ordered in another size, lot or at another price"
            )
        tolerance = 0 if view.material.pattern is None else view.material.repeat_tolerance * source.used_nm
        if not floor(tolerance) <= line.repeat_tolerance_nm <= ceil(tolerance):
            yield Finding(rule="V5d", where=f"source {name}", text=f"needs a repeat tolerance of {ceil(tolerance)} nm")
