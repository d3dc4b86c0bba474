"""Which layout every room gets when it is looked at by itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from nesting.model.ground import ground_of, made_width, may_anchor
from nesting.model.instance import Choice, Instance, Option
from nesting.search.hand_orders import orders_of
from nesting.search.hand_packing import Bed, Item, bed_of, fits, items_of, least_length, pack

MOST_OPTIONS = 10
"""Layouts of a room that are cut on paper; those that cannot be better are not."""
MOST_LAYOUTS = 12
"""Layouts of a room tried on a remnant."""
ENDLESS = 1 << 60

Levels = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Ware:
    """Rolls of one width that can be ordered. `beds`: unbound, and anchored where that can be.

    `in_hand`: a piece in hand (id) that is named for some room; only such rooms are looked at on it.
    """

    sources: frozenset[int]
    made: int
    price: Fraction
    beds: tuple[Bed, Bed | None]
    in_hand: str | None = None

    def serves(self, choice: Choice) -> bool:
        """Tell whether a choice is looked at on these goods."""
        return self.in_hand is None if choice.sources is None else self.in_hand in choice.sources

    @property
    def may_anchor(self) -> bool:
        """Tell whether such a roll may be bound to a pattern."""
        return self.beds[1] is not None

    def bed(self, anchored: bool) -> Bed:
        """Return the goods as they are cut."""
        return (self.beds[1] or self.beds[0]) if anchored else self.beds[0]


@dataclass(frozen=True, slots=True)
class Taken:
    """A choice's option by itself: on which goods, what it costs, how long it is, and the area of its pieces."""

    choice: int
    option: int
    ware: Ware
    anchored: bool
    length: int
    area: int
    levels: Levels


@dataclass(slots=True)
class Hand:
    """An instance as the estimator sees it."""

    instance: Instance
    wares: tuple[Ware, ...]
    loose: frozenset[int]  # choices that are no rooms
    _items: dict[tuple[int, int], tuple[Item, ...]] = field(default_factory=dict)
    _narrowest: list[int] = field(default_factory=list)

    @property
    def narrowest(self) -> int:
        """Return the width of the narrowest piece of all."""
        if not self._narrowest:
            self._narrowest = [min(min(w.width for w in item.ways) for items in self._items.values() for item in items)]
        return self._narrowest[0]

    @property
    def patterned(self) -> bool:
        """Tell whether the goods have a pattern."""
        return self.instance.lattice is not None

    def option(self, taken: Taken) -> Option:
        """Return the option that is taken."""
        return self.instance.choices[taken.choice].options[taken.option]

    def items(self, choice: int, option: int) -> tuple[Item, ...]:
        """Return the pieces of an option, worked out once."""
        items = self._items.get((choice, option))
        if items is None:
            items = items_of(choice, self.instance.choices[choice].options[option], self.patterned)
            self._items[choice, option] = items
        return items


def hand_of(instance: Instance, lot: str | None) -> Hand:
    """Return the instance with what can be ordered of `lot` (None: of any), the widest first."""
    kinds: dict[tuple[int, int, int | None], list[int]] = {}
    for index, source in enumerate(instance.sources):
        if source.terms is not None and lot in (None, source.lot):
            kinds.setdefault((made_width(source), source.width, source.across), []).append(index)
    wares = []
    for (made, _, _), sources in sorted(kinds.items(), key=lambda item: (-item[0][0], item[1])):
        longest = max(sources, key=lambda s: (instance.sources[s].length, -s))
        source = instance.sources[longest]
        anchored = bed_of(ground_of(instance, longest, True), instance.lattice) if may_anchor(source) else None
        bed = bed_of(ground_of(instance, longest, False), instance.lattice)
        wares.append(Ware(frozenset(sources), made, source.cost_per_unit, (bed, anchored)))
    if not wares:  # nothing can be ordered: rooms are looked at on the widest goods in hand
        widest = max(range(len(instance.sources)), key=lambda s: (instance.sources[s].width, -s))
        bed = bed_of(ground_of(instance, widest, False), instance.lattice)
        wares.append(Ware(frozenset(), made_width(instance.sources[widest]), Fraction(0), (bed, None)))
    wares += _named(instance)
    loose = frozenset(
        number
        for number, choice in enumerate(instance.choices)
        if choice.lot_group is None
        and choice.arrow_group is None
        and choice.sources is None
        and not any(
            option.seam_length or option.order or any(p.group is not None for p in option.pieces)
            for option in choice.options
        )
    )
    return Hand(instance, tuple(wares), loose)


def _named(instance: Instance) -> list[Ware]:
    """Return the goods in hand that are named for rooms, the widest first."""
    names = set().union(*(choice.sources or () for choice in instance.choices))
    found = [(index, source) for index, source in enumerate(instance.sources) if source.id in names]
    return [
        Ware(
            frozenset(),
            made_width(source),
            Fraction(0),
            (bed_of(ground_of(instance, index, False), instance.lattice), None),
            source.id,
        )
        for index, source in sorted(found, key=lambda item: (-item[1].width, item[0]))
    ]


def levels_of(hand: Hand, option: Option, ware: Ware, length: int) -> Levels:
    """Return what an option costs by itself, level by level of the goal, when it takes `length` of the goods."""
    run = length * ware.made
    measures = (
        run,
        run,
        option.seams,
        option.seam_length,
        ware.price.numerator * length // ware.price.denominator + option.cost,
        option.dislike,
        len(option.pieces),
    )
    return tuple(sum(w * m for w, m in zip(level, measures, strict=True)) for level in hand.instance.weights.levels)


def loose_as_it_is(hand: Hand, number: int) -> dict[int | None, Taken]:
    """Return a loose piece as it is: in as few parts as it can be."""
    if not hand.wares:
        return {}
    ware = hand.wares[0]
    found = []
    for option, _ in enumerate(hand.instance.choices[number].options):
        items = hand.items(number, option)
        area = _area(items)
        levels = levels_of(hand, hand.instance.choices[number].options[option], ware, -(-area // ware.bed(False).width))
        if fits(items, ware.bed(False)):
            found.append((levels, option, area))
    if not found:
        return {}
    levels, option, area = min(found)
    return {None: Taken(number, option, ware, False, -(-area // ware.bed(False).width), area, levels)}


def _area(items: tuple[Item, ...]) -> int:
    return sum(item.ways[0].width * item.ways[0].length for item in items)


Ranked = tuple[Levels, int, int, bool]
"""(what it costs at least, option, number of the ware, anchored)."""


def ranked(
    hand: Hand, number: int, *, fewest: bool = False, among: list[int] | None = None, bound: bool = False
) -> list[Ranked]:
    """Return the options of a choice on the goods that they fit, by what they cost at least.

    `fewest`: the seams are capped, so that those with the fewest come first. `among`: only these options. `bound`: only
    from anchored rolls.
    """
    options = hand.instance.choices[number].options
    found = []
    for o in range(len(options)) if among is None else among:
        option = options[o]
        items = hand.items(number, o)
        for k, ware in enumerate(hand.wares):
            if option.order_width not in (None, ware.made) or not ware.serves(hand.instance.choices[number]):
                continue
            anchored = hand.patterned and (bound or option.phase != (None, None))
            if (anchored and not ware.may_anchor) or not fits(items, ware.bed(anchored)):
                continue
            levels = levels_of(hand, option, ware, least_length(items, ware.bed(anchored).width))
            found.append(((option.seams, *levels) if fewest else levels, o, k, anchored))
    return sorted(found)


def candidates(hand: Hand, number: int, *, tied: bool, fewest: bool) -> dict[int | None, Taken]:
    """Return the best option of a choice, for every arrow if it is tied to other rooms, else under None.

    Options are cut on paper in the order of what they cost at least, as long as one can still be better.
    """
    options = hand.instance.choices[number].options
    best: dict[int | None, Taken] = {}
    tries: dict[int | None, int] = {}
    for least, o, k, anchored in ranked(hand, number, fewest=fewest):
        arrow = options[o].arrow if tied else None
        now = best.get(arrow)
        if tries.get(arrow, 0) >= MOST_OPTIONS or (now is not None and least >= _key(hand, now, fewest)):
            continue
        found = by_itself(hand, number, o, hand.wares[k], anchored)
        if found is not None:
            tries[arrow] = tries.get(arrow, 0) + 1
            if now is None or _key(hand, found, fewest) < _key(hand, now, fewest):
                best[arrow] = found
    return best


def bound_layouts(hand: Hand, taken: Taken) -> list[Taken]:
    """Return the best layouts of a room that can be cut from anchored rolls, laid the same way."""
    choice = hand.instance.choices[taken.choice]
    option = hand.option(taken)
    allowed = [
        o
        for o, other in enumerate(choice.options)
        if other.phase == option.phase and (choice.arrow_group is None or other.arrow == option.arrow)
    ]
    rows = ranked(hand, taken.choice, among=allowed, bound=True)[:MOST_LAYOUTS]
    found = (by_itself(hand, taken.choice, o, hand.wares[k], True) for _, o, k, _ in rows)
    return sorted((item for item in found if item is not None), key=lambda item: (item.levels, item.option))


def _key(hand: Hand, taken: Taken, fewest: bool) -> Levels:
    return (hand.option(taken).seams, *taken.levels) if fewest else taken.levels


def by_itself(hand: Hand, number: int, o: int, ware: Ware, anchored: bool) -> Taken | None:
    """Return an option cut by itself from a new roll, or from several where it is too long for one."""
    option = hand.instance.choices[number].options[o]
    items = hand.items(number, o)
    for bound in dict.fromkeys((anchored, hand.patterned and ware.may_anchor)):
        bed = ware.bed(bound)
        if not fits(items, bed):
            continue
        endless = replace(bed, high=ENDLESS)
        ends = [
            packed.end - bed.low
            for order in orders_of(items, bed)
            if (packed := pack(order, endless, bed.low, option.phase, rows=hand.instance.bench_cuts)) is not None
        ]
        if not ends:
            continue
        length = min(ends)
        too_long = length > bed.high - bed.low
        if too_long and hand.patterned and not bound and any(item.bound for item in items):
            continue  # patterned goods of several rolls are anchored
        return Taken(number, o, ware, bound, length, _area(items), levels_of(hand, option, ware, length))
    return None


def thrifty(hand: Hand, taken: Taken) -> Iterator[Taken]:
    """Yield other layouts of a room that cost less by themselves, goods left out, than what it takes from a roll.

    They are worth cutting from goods in hand; the fewest seams first.
    """
    choice = hand.instance.choices[taken.choice]
    arrow = choice.options[taken.option].arrow
    found = []
    for o, option in enumerate(choice.options):
        if o == taken.option or (choice.arrow_group is not None and option.arrow != arrow):
            continue
        levels = levels_of(hand, option, taken.ware, 0)
        if levels < taken.levels:
            items = hand.items(taken.choice, o)
            found.append((option.seams, _area(items), o, levels))
    for _, area, o, levels in sorted(found)[:MOST_LAYOUTS]:
        yield replace(taken, option=o, area=area, levels=levels)
