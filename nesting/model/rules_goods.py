"""The rules of the goods: lots, and what is ordered of every source."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.axis import Stretch
from nesting.model.variables import Slot, Variables


def conditions_of(slot: Slot, source: int, way: int) -> list[cp_model.IntVar]:
    """Return the literals under which a slot lies on a source one of its ways, no more of them than it takes."""
    on, lies = slot.on[source], slot.ways[way]
    return [on] if lies is slot.present else [lies] if on is slot.present else [on, lies]


def c7_lots(v: Variables) -> None:
    """C7: all pieces of a lot group come from one lot, and all orders are of one lot, where it must be so.

    What is frozen leaves its lot only: then its group's slots are offered nothing else.
    """
    sources = v.instance.sources
    kept = {v.instance.choices[number].lot_group for number, *_ in v.fixed}
    lots: dict[int, dict[str, cp_model.IntVar]] = {}
    for slot in v.slots:
        group = v.instance.choices[slot.choice].lot_group
        if group is None or group in kept:
            continue
        of_group = lots.setdefault(group, {})
        for source, on in slot.on.items():
            lot = sources[source].lot
            if lot not in of_group:
                of_group[lot] = v.model.new_bool_var(f"lot {group} {lot}")
            v.model.add_implication(on, of_group[lot])
    for of_group in lots.values():
        v.model.add_at_most_one(of_group.values())
    orders = [s for s in v.open_goods if sources[s].terms is not None]
    order_lots = sorted({sources[s].lot for s in orders})
    if v.instance.orders_of_one_lot and len(order_lots) > 1:
        ordered = {lot: v.model.new_bool_var(f"order lot {lot}") for lot in order_lots}
        v.model.add_at_most_one(ordered.values())
        for s in orders:
            v.model.add_implication(v.used[s], ordered[sources[s].lot])


def c10_order(v: Variables) -> None:
    """C10: far[s] ≥ the end of every piece on s; ordered = step·k ≥ max(far, minimum), or the whole roll, if used.

    run ≥ far − start − the anchor's loss; a twin is used only after the one before it, and no further. Where no piece
    can reach beyond what is frozen, all of these are constants.
    """
    least = {s: low for s, (low, _) in v.open_goods.items()}
    for s in v.axis.stretches:
        if s.index in least:
            _order_of(v, s)
        if s.twin is not None and not v.task.frozen:
            v.model.add_implication(v.used[s.index], v.used[s.twin])
            v.model.add(v.far[s.index] <= v.far[s.twin])
    for slot in v.slots:
        for source, on in slot.on.items():
            if source in least and least[source] == 0:
                v.model.add_implication(on, v.used[source])
        for (source, way), limits in slot.limits.items():
            up, length = v.axis.stretches[source].up, slot.shapes[way].length
            if source in least and limits[3] + length - up > least[source]:
                said = v.far[source] >= slot.y + length - up
                v.model.add(said).only_enforce_if(conditions_of(slot, source, way))


def _order_of(v: Variables, s: Stretch) -> None:
    """Round what is ordered of one source."""
    source = v.instance.sources[s.index]
    used, far, ordered, run = v.used[s.index], v.far[s.index], v.ordered[s.index], v.run[s.index]
    terms = source.terms
    v.model.add(far <= max(s.high, 0) * used)
    if terms is None:
        v.model.add(run >= far)
        return
    v.model.add(run >= far - terms.start * used - (terms.anchor_along or 0) * v.anchored[s.index])
    if terms.whole:
        v.model.add(ordered == source.length * used)
        return
    steps = v.model.new_int_var(0, -(-source.length // terms.step), f"steps {s.index}")
    v.model.add(ordered >= far)
    v.model.add(ordered >= terms.minimum * used)
    if terms.minimum % terms.step == 0:
        v.model.add(ordered == terms.step * steps)
    else:
        # The minimum need not be a whole number of steps: then the order is the larger of the two.
        at_minimum = v.model.new_bool_var(f"at minimum {s.index}")
        v.model.add(ordered == terms.minimum).only_enforce_if(at_minimum)
        v.model.add(ordered == terms.step * steps).only_enforce_if(at_minimum.negated())
