"""The goods as they are cut by hand: rooms to rolls, one after another, and to the offcuts that arise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.model.ground import ground_of
from nesting.model.instance import Spot, may_use
from nesting.search.hand_choosing import Hand, Taken, Ware, bound_layouts, thrifty
from nesting.search.hand_orders import orders_of
from nesting.search.hand_packing import (
    Bed,
    Item,
    Packed,
    Phase,
    Way,
    bed_of,
    fits,
    least_length,
    pack,
    phase_across,
    spots_of,
)


@dataclass(slots=True)
class Roll:
    """A source as it is cut: free from `top` on."""

    source: int
    bed: Bed
    top: int
    lot: str
    ware: Ware | None = None  # None: goods in hand


@dataclass(frozen=True, slots=True)
class Gap:
    """An offcut of the rooms cut so far."""

    source: int
    x: int
    y: int
    width: int
    length: int

    @property
    def area(self) -> int:
        """Its area, square units."""
        return self.width * self.length


@dataclass(frozen=True, slots=True)
class Unit:
    """Rooms cut from one lot and laid in one phase, mostly a room by itself."""

    taken: tuple[Taken, ...]
    items: tuple[Item, ...]
    phase: Phase
    length: int  # that it takes of goods to order

    @property
    def anchored(self) -> bool:
        """Tell whether its pattern is placed, or its pieces need several rolls of patterned goods."""
        return any(item.anchored for item in self.taken)

    @property
    def named(self) -> bool:
        """Tell whether goods in hand are named for any of its rooms."""
        return any(item.ware.in_hand is not None for item in self.taken)


class Cutting:
    """One way through the job as it goes on: what is taken, where it lies, which goods are open."""

    def __init__(self, hand: Hand, taken: tuple[Taken, ...], *, remnants: list[Roll], every_anchored: bool) -> None:
        self.hand = hand
        self.taken = list(taken)
        self.every_anchored = every_anchored
        self.rolls: list[Roll] = []
        self.fresh = [s for s, source in enumerate(hand.instance.sources) if source.terms is not None]
        self.remnants = remnants
        self.gaps: list[Gap] = []
        self.spots: list[dict[int, Spot]] = [{} for _ in hand.instance.choices]
        self.anchored = [False] * len(hand.instance.sources)

    def units(self) -> list[Unit]:
        """Return the rooms, those of one lot or one phase together."""
        first: dict[tuple[str, int], int] = {}
        mates: dict[int, list[Taken]] = {}
        for item in self.taken:
            if item.choice in self.hand.loose:
                continue
            choice = self.hand.instance.choices[item.choice]
            names = {("phase", piece.group) for piece in choice.options[item.option].pieces if piece.group is not None}
            if choice.lot_group is not None:
                names.add(("lot", choice.lot_group))
            homes = sorted({first[name] for name in names if name in first})
            home = homes[0] if homes else item.choice
            for other in homes[1:]:
                mates[home] += mates.pop(other)
                first = {name: home if number == other else number for name, number in first.items()}
            first |= dict.fromkeys(names, home)
            mates.setdefault(home, []).append(item)
        return [self.unit(tuple(together)) for together in mates.values()]

    def unit(self, taken: tuple[Taken, ...]) -> Unit:
        """Return the rooms as one unit."""
        phase: Phase = (None, None)
        for item in taken:
            given = self.hand.option(item).phase
            phase = (
                phase[0] if phase[0] is not None else given[0],
                phase[1] if phase[1] is not None else given[1],
            )
        items = tuple(piece for item in taken for piece in self.hand.items(item.choice, item.option))
        return Unit(taken, items, phase, sum(item.length for item in taken))

    def may_use(self, unit: Unit, source: int) -> bool:
        """Tell whether all rooms of a unit may be cut from a source."""
        instance = self.hand.instance
        return all(may_use(instance.choices[item.choice], instance.sources[source]) for item in unit.taken)

    def best(self, unit: Unit, bed: Bed, base: int) -> Packed | None:
        """Return the shortest way to cut the unit from `base` on."""
        if not fits(unit.items, bed) or base + least_length(unit.items, bed.width) > bed.high:
            return None
        best = None
        for order in orders_of(unit.items, bed):
            packed = pack(order, bed, base, unit.phase, rows=self.hand.instance.bench_cuts)
            if packed is not None and (best is None or packed.end < best.end):
                best = packed
        return best

    def commit(self, packed: Packed, roll: Roll) -> None:
        """Cut what is packed; the roll begins behind it from here on."""
        for choice, spot in spots_of(packed, roll.source):
            self.spots[choice][spot.piece] = spot
        if not self.hand.instance.bench_cuts:
            for x0, x1, y in packed.gaps:
                self.keep(Gap(roll.source, x0, y, x1 - x0, packed.end - y))
        roll.top = packed.end

    def from_rolls(self, unit: Unit) -> bool:
        """Cut the unit from the first roll that has room, else from a new one, else from several."""
        if unit.named:
            return False  # not from goods in hand, so from none
        if self._from_offcut(unit):
            return True
        ware = unit.taken[0].ware
        anchored = (unit.anchored or self.every_anchored) and self.hand.patterned
        for roll in self.rolls:
            if roll.ware is not ware or self.anchored[roll.source] is not anchored:
                continue
            packed = self.best(unit, roll.bed, roll.top)
            if packed is not None:
                self.commit(packed, roll)
                return True
        for source in self.unopened(ware):
            roll = self.roll(source, ware, anchored)
            packed = self.best(unit, roll.bed, roll.top)
            if packed is not None:
                self.open(roll, anchored)
                self.commit(packed, roll)
                return True
            break
        if self._from_several(unit, ware):
            return True
        for trial in self._bound_units(unit):
            if self._from_several(trial, trial.taken[0].ware):
                for item in trial.taken:
                    self.taken[item.choice] = item
                return True
        return False

    def _bound_units(self, unit: Unit) -> Iterator[Unit]:
        """Yield the unit with layouts that can be cut from anchored rolls."""
        if not self.hand.patterned:
            return
        found = [bound_layouts(self.hand, item) for item in unit.taken]
        if len(found) == 1:
            yield from (self.unit((item,)) for item in found[0])
        elif all(found):
            yield self.unit(tuple(layouts[0] for layouts in found))

    def _from_offcut(self, unit: Unit) -> bool:
        """Cut a room of one piece from the smallest offcut of other rooms that holds it."""
        if len(unit.taken) > 1 or unit.phase != (None, None) or not self.gaps:
            return False
        ways = [unit.taken[0], *(other for other in thrifty(self.hand, unit.taken[0]))]
        for taken in ways:
            items = self.hand.items(taken.choice, taken.option)
            if len(items) == 1 and self.in_gap(items[0]):
                self.taken[taken.choice] = taken
                return True
        return False

    def unopened(self, ware: Ware) -> Iterator[int]:
        """Return the rolls of a width that are still to order."""
        return (source for source in list(self.fresh) if source in ware.sources)

    def roll(self, source: int, ware: Ware, anchored: bool) -> Roll:
        """Return a source as a roll not cut yet."""
        instance = self.hand.instance
        bed = bed_of(ground_of(instance, source, anchored), instance.lattice)
        return Roll(source, bed, bed.low, instance.sources[source].lot, ware)

    def open(self, roll: Roll, anchored: bool) -> None:
        """Order a roll."""
        self.fresh.remove(roll.source)
        self.anchored[roll.source] = anchored
        self.rolls.append(roll)

    def _from_several(self, unit: Unit, ware: Ware) -> bool:
        """Cut the unit from several rolls of one lot; patterned goods are anchored then."""
        anchored = self.hand.patterned and any(item.bound for item in unit.items)
        if anchored and not ware.may_anchor:
            return False
        if any(item.after for item in unit.items):
            return False
        order = sorted(unit.items, key=lambda item: -item.ways[0].length)  # the longest fit in least ways
        open_rolls = [roll for roll in self.rolls if roll.ware is ware and self.anchored[roll.source] is anchored]
        new = (self.roll(source, ware, anchored) for source in self.unopened(ware))
        done: list[tuple[Roll, Packed]] = []
        phase, start, lot = unit.phase, 0, None
        bed = ware.bed(anchored)
        if anchored and phase[0] is None and bed.across is not None:
            phase = (phase_across(order, bed), phase[1])
            if phase[0] is None:
                return False
        for roll in (*open_rolls, *new):
            if lot is not None and roll.lot != lot:
                continue
            packed = None
            for stop in range(start + 1, len(order) + 1):
                longer = pack(order[start:stop], roll.bed, roll.top, phase, rows=self.hand.instance.bench_cuts)
                if longer is None:
                    break
                packed = longer
            if packed is None:
                continue
            done.append((roll, packed))
            start, phase, lot = start + len(packed.laid), packed.phase, roll.lot
            if start == len(order):
                break
        else:
            return False
        for roll, packed in done:
            if roll.source in self.fresh:
                self.open(roll, anchored)
            self.commit(packed, roll)
        return True

    def in_gap(self, item: Item) -> bool:
        """Cut a single piece from the smallest offcut that holds it; its pattern is free to lie as it comes."""
        best: tuple[int, int, Way, int] | None = None
        for number, gap in enumerate(self.gaps):
            for way in item.ways:
                inset = max(way.left, way.right)
                if way.width + 2 * inset <= gap.width and way.length <= gap.length:
                    if best is None or gap.area < best[0]:
                        best = (gap.area, number, way, inset)
                    break
        if best is None:
            return False
        _, number, way, inset = best
        gap = self.gaps.pop(number)
        self.spots[item.choice][item.piece] = Spot(
            piece=item.piece, source=gap.source, x=gap.x + inset, y=gap.y, turn=way.turn
        )
        used = way.width + inset
        self.keep(Gap(gap.source, gap.x + used, gap.y, gap.width - used, way.length))
        self.keep(Gap(gap.source, gap.x, gap.y + way.length, gap.width, gap.length - way.length))
        return True

    def keep(self, gap: Gap) -> None:
        """Keep an offcut that some piece of the job may be cut from."""
        if gap.width >= self.hand.narrowest and gap.length > 0:
            self.gaps.append(gap)
