"""Goods in hand, by best fit: each remnant takes the largest rooms that it holds."""

from __future__ import annotations

from dataclasses import replace

from nesting.model.ground import ground_of
from nesting.model.instance import Instance
from nesting.search.hand_choosing import thrifty
from nesting.search.hand_cutting import Cutting, Roll, Unit
from nesting.search.hand_packing import Packed, bed_of, pack

MOST_TRIES = 30
"""Rooms tried on one remnant before it is left."""


def remnants_of(instance: Instance) -> list[Roll]:
    """Return the goods in hand, the smallest first; flaws are cut out across the whole width."""
    rolls = []
    for index, source in enumerate(instance.sources):
        if source.terms is not None:
            continue
        bed = bed_of(ground_of(instance, index, False), instance.lattice)
        start = bed.low
        flaws = sorted((box[1], box[3]) for box in source.blocked)
        for low, high in [*flaws, (bed.high, bed.high)]:
            if low > start:
                rolls.append(Roll(index, replace(bed, low=start, high=min(low, bed.high)), start, source.lot))
            start = max(start, high)
    return sorted(rolls, key=lambda roll: (roll.bed.width * (roll.bed.high - roll.bed.low), roll.source, roll.top))


def from_remnants(cutting: Cutting, units: list[Unit]) -> list[Unit]:
    """Give every remnant, the smallest first, the largest room that it holds, then the next; return the rest.

    Rooms for which goods are named come before the others.
    """
    named = [unit for unit in units if unit.named]
    left = _from_each(cutting, named) if named else []
    return left + _from_each(cutting, [unit for unit in units if not unit.named])


def _from_each(cutting: Cutting, units: list[Unit]) -> list[Unit]:
    left = list(units)
    for roll in cutting.remnants:
        tries = 0
        for unit in list(left):
            if tries >= MOST_TRIES:
                break
            room = roll.bed.width * (roll.bed.high - roll.top)
            if unit.phase != (None, None) or min(item.area for item in unit.taken) > room:
                continue
            if not cutting.may_use(unit, roll.source):
                continue
            tries += 1
            served = _served(cutting, unit, roll)
            if served is None:
                continue
            unit_now, packed = served
            cutting.commit(packed, roll)
            for item in unit_now.taken:
                cutting.taken[item.choice] = item
            left.remove(unit)
    return _from_lots(cutting, left)


def _served(cutting: Cutting, unit: Unit, roll: Roll) -> tuple[Unit, Packed] | None:
    """Return the unit as it can be cut from the remnant, with another layout if that is worth it."""
    packed = cutting.best(unit, roll.bed, roll.top)
    if packed is not None:
        return unit, packed
    if len(unit.taken) > 1:
        return None
    for other in thrifty(cutting.hand, unit.taken[0]):
        trial = cutting.unit((other,))
        packed = cutting.best(trial, roll.bed, roll.top) if trial.phase == (None, None) else None
        if packed is not None:
            return trial, packed
    return None


def _from_lots(cutting: Cutting, units: list[Unit]) -> list[Unit]:
    """Serve rooms of plain goods from several remnants of one lot, piece by piece by best fit; return the rest."""
    lots: dict[str, list[Roll]] = {}
    for roll in cutting.remnants:
        lots.setdefault(roll.lot, []).append(roll)
    left = list(units)
    for rolls in lots.values():
        if len(rolls) < 2:
            continue
        for unit in left[:MOST_TRIES]:
            mine = [roll for roll in rolls if cutting.may_use(unit, roll.source)]
            if len(mine) > 1 and _shared_out(cutting, unit, mine):
                left.remove(unit)
    return left


def _shared_out(cutting: Cutting, unit: Unit, rolls: list[Roll]) -> bool:
    ways = [unit]
    if len(unit.taken) == 1:
        ways += [cutting.unit((other,)) for other in thrifty(cutting.hand, unit.taken[0])]
    for trial in ways:
        if any(item.bound or item.after for item in trial.items):
            continue
        tops = [roll.top for roll in rolls]
        found = []
        for item in sorted(trial.items, key=lambda piece: -piece.ways[0].length * piece.ways[0].width):
            places = [
                (roll.bed.width - item.ways[0].width, roll.bed.high - packed.end, k, packed)
                for k, roll in enumerate(rolls)
                if (packed := pack((item,), roll.bed, tops[k])) is not None
            ]
            if not places:
                break
            *_, k, packed = min(places, key=lambda place: place[:3])
            tops[k] = packed.end
            found.append((k, packed))
        else:
            for k, packed in found:
                cutting.commit(packed, rolls[k])
            for taken in trial.taken:
                cutting.taken[taken.choice] = taken
            return True
    return False
