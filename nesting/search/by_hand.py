"""What a good estimator would order by hand: a measure beside the plan, and one of the engine's starts.

Each room by itself: the better direction and layout, the best cut order within the room, fills from the same drops.
Rooms are then cut one after another from the rolls, the largest first. Remnants serve whole rooms by best fit, and so
do the offcuts that arise on the way, for rooms of one piece; loose pieces go there too, else side by side in rows.
(Common practice, as estimators describe it.)

Pure and quick: its time grows with the number of rooms, and the same instance gives the same solution.
"""

from __future__ import annotations

from nesting.model.instance import Instance, Solution
from nesting.model.valuing import value_of
from nesting.search.hand_choosing import Hand, Taken, hand_of
from nesting.search.hand_cutting import Cutting
from nesting.search.hand_loose import cut_loose
from nesting.search.hand_remnants import from_remnants, remnants_of
from nesting.search.hand_rooms import chosen_by_itself


def by_hand(instance: Instance) -> Solution | None:
    """Return the hand method's solution; None where it finds none."""
    best: tuple[tuple[int, ...], Solution] | None = None
    for lot in _order_lots(instance):
        hand = hand_of(instance, lot)
        taken = chosen_by_itself(hand)
        if taken is None:
            continue
        ways = [(use, every) for use in _with_remnants(instance) for every in (False, True)]
        if not any(item.anchored for item in taken):
            ways = [way for way in ways if not way[1]]
        for remnants, every in ways:
            solution = _solution(hand, taken, remnants=remnants, every_anchored=every)
            if solution is None:
                continue
            levels = value_of(instance, solution).levels
            if best is None or levels < best[0]:
                best = levels, solution
    return best[1] if best else None


def _order_lots(instance: Instance) -> tuple[str | None, ...]:
    """Return the lots of which all orders may be; None: any together."""
    lots = tuple(dict.fromkeys(source.lot for source in instance.sources if source.terms is not None))
    return lots if lots and instance.orders_of_one_lot else (None,)


def _with_remnants(instance: Instance) -> tuple[bool, ...]:
    """Return whether to use goods in hand: they are tried both ways only where they cost something that counts."""
    priced = any(level[4] for level in instance.weights.levels)
    costs = any(source.cost for source in instance.sources if source.terms is None)
    return (True, False) if priced and costs else (True,)


def _solution(hand: Hand, taken: tuple[Taken, ...], *, remnants: bool, every_anchored: bool) -> Solution | None:
    """Return the solution; None when something found no place."""
    found = remnants_of(hand.instance) if remnants else []
    cutting = Cutting(hand, taken, remnants=found, every_anchored=every_anchored)
    units = cutting.units()
    units.sort(key=lambda unit: (-unit.length, unit.taken[0].choice))
    left = from_remnants(cutting, units)
    left.sort(key=lambda unit: (not unit.anchored, -unit.length, unit.taken[0].choice))
    if not all(cutting.from_rolls(unit) for unit in left):
        return None
    if not cut_loose(cutting):
        return None
    options = tuple(item.option for item in cutting.taken)
    spots = tuple(tuple(spot for _, spot in sorted(laid.items())) for laid in cutting.spots)
    most = hand.instance.weights.most_seams
    seams = sum(c.options[o].seams for c, o in zip(hand.instance.choices, options, strict=True))
    if most is not None and seams > most:
        return None
    return Solution(options=options, spots=spots, anchored=tuple(cutting.anchored))
