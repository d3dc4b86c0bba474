"""The rules of the goods: lots, and what is ordered of every source."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.axis import Stretch
from nesting.model.shapes import shape_of
from nesting.model.variables import Variables


def c7_lots(v: Variables) -> None:
    """C7: all pieces of a lot group come from one lot, and all orders are of one lot, where it must be so."""
    sources = v.instance.sources
    if len({source.lot for source in sources}) > 1:
        lots: dict[int, dict[str, cp_model.IntVar]] = {}
        names = sorted({source.lot for source in sources})
        for group in sorted({c.lot_group for c in v.instance.choices if c.lot_group is not None}):
            lots[group] = {lot: v.model.new_bool_var(f"lot {group} {lot}") for lot in names}
            v.model.add_exactly_one(lots[group].values())
        for slot in v.slots:
            number = v.instance.choices[slot.choice].lot_group
            if number is not None:
                for source, on in slot.on.items():
                    v.model.add_implication(on, lots[number][sources[source].lot])
        for choice, _, spot in v.fixed:
            number = v.instance.choices[choice].lot_group
            if number is not None:
                v.model.add(lots[number][sources[spot.source].lot] == 1)
    orders = [s for s, source in enumerate(sources) if source.terms is not None]
    order_lots = sorted({sources[s].lot for s in orders})
    if v.instance.orders_of_one_lot and len(order_lots) > 1:
        ordered = {lot: v.model.new_bool_var(f"order lot {lot}") for lot in order_lots}
        v.model.add_at_most_one(ordered.values())
        for s in orders:
            v.model.add_implication(v.used[s], ordered[sources[s].lot])


def c10_order(v: Variables) -> None:
    """C10: far[s] ≥ the end of every piece on s; ordered = step·k ≥ max(far, minimum), or the whole roll, if used.

    run ≥ far − start − the anchor's loss; a twin is used only after the one before it, and no further.
    """
    for s in v.axis.stretches:
        _order_of(v, s)
    for slot in v.slots:
        for source, on in slot.on.items():
            v.model.add_implication(on, v.used[source])
            up = v.axis.stretches[source].up
            for shape, way in zip(slot.shapes, slot.ways, strict=True):
                conditions = [on] if way is slot.present else [way] if on is slot.present else [on, way]
                v.model.add(v.far[source] >= slot.y + shape.length - up).only_enforce_if(conditions)
    for _, piece, spot in v.fixed:
        v.model.add(v.used[spot.source] == 1)
        v.model.add(v.far[spot.source] >= spot.y + shape_of(piece, spot.turn).length)


def _order_of(v: Variables, s: Stretch) -> None:
    """Round what is ordered of one source."""
    source = v.instance.sources[s.index]
    used, far, ordered, run = (
        v.used[s.index],
        v.far[s.index],
        v.ordered[s.index],
        v.run[s.index],
    )
    terms = source.terms
    v.model.add(far <= max(s.high, 0) * used)
    if terms is None:
        v.model.add(ordered == 0)
        v.model.add(run >= far)
        return
    v.model.add(run >= far - terms.start * used - (terms.anchor_along or 0) * v.anchored[s.index])
    if terms.whole:
        v.model.add(ordered == source.length * used)
    else:
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
    if s.twin is not None and not v.task.frozen:
        v.model.add_implication(used, v.used[s.twin])
        v.model.add(far <= v.far[s.twin])
