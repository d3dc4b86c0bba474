"""Which goods in hand can be of any use: a rack of a thousand pieces comes down to those that something fits on.

What is left out is in no lawful solution, or can change its name with a piece that is kept; so the best of what is kept
is the best of all, a bound over what is kept is one over all, and so is the answer that there is no solution. A larger
piece does not stand in for a smaller one, nor the other way round: one is worth more on the rack, the other holds less.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.model.ground import ground_of
from nesting.model.instance import Instance, Option, Source, may_use
from nesting.model.shapes import Shape, free_rectangles, shapes_of

Bits = int
"""A set of sources, a bit each."""
MOST_TRIED = 8
"""Up to so many pieces of an option all ways to give them to goods are tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Need:
    """A piece of an option: what holds it, its sizes (width, length) as it may lie, whether it is a rectangle."""

    on: Bits
    sizes: tuple[tuple[int, int], ...]
    plain: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class User:
    """Choices that are cut from one lot (a lot group), or one choice that is not (`free`).

    `options`: per choice, for each of its options the area and the needs of its pieces.
    """

    choices: tuple[int, ...]
    free: bool
    options: tuple[tuple[tuple[int, tuple[_Need, ...]], ...], ...]


def screened(instance: Instance, keep: Iterable[str] = ()) -> tuple[int, ...]:
    """Return the indexes of the sources that can be of use: orders, those that `keep` or a choice names, and others.

    A piece in hand is left out where

    - no piece of an option fits on it by width, length, flaws and what an unknown phase loses: nothing can lie there;
    - or none that does is part of a way to cut a whole lot group from its lot: see `of_use`;
    - or it is one of more equal pieces of its lot than pieces can lie on, or of more lots of equal pieces than lot
      groups and single pieces can be cut from. A solution uses no more of them, and they can change names.

    Every one of these over-estimates what goods hold. Work grows with lots times options.
    """
    sources = instance.sources
    named = {source.id for source in sources if source.terms is not None} | set(keep)
    for choice in instance.choices:
        named |= choice.sources or set()
    users = users_of(instance)
    kept: list[int] = []
    alike: dict[object, int] = {}  # lots of equal pieces so far
    for members in lots_of(instance).values():
        serving = [(user, bits) for user in users if (bits := of_use(user, members, sources))]
        useful = 0
        for _, bits in serving:
            useful |= bits
        fixed = [index for index in members if sources[index].id in named]
        others = [index for index in members if sources[index].id not in named and useful >> index & 1]
        others = _without_spare(others, sources, [user for user, _ in serving])
        if others and not fixed:
            looks = tuple(sorted((_nameless(sources[index]) for index in others), key=repr))
            alike[looks] = alike.get(looks, 0) + 1
            if alike[looks] > sum(most_lots(user) for user, _ in serving):
                continue
        kept += fixed + others
    return tuple(sorted(kept))


def lots_of(instance: Instance) -> dict[str, list[int]]:
    """Return the sources by lot."""
    lots: dict[str, list[int]] = {}
    for index, source in enumerate(instance.sources):
        lots.setdefault(source.lot, []).append(index)
    return lots


def users_of(instance: Instance) -> list[User]:
    """Return what is cut from one lot, and what is not, with the goods in hand that hold its pieces."""
    holding = _Holding(instance)
    groups: dict[object, list[int]] = {}
    for number, choice in enumerate(instance.choices):
        groups.setdefault(("alone", number) if choice.lot_group is None else choice.lot_group, []).append(number)
    users = []
    for numbers in groups.values():
        of_choices = []
        for number in numbers:
            choice = instance.choices[number]
            allowed = _bits(s for s, source in enumerate(instance.sources) if may_use(choice, source))
            of_choices.append(tuple(holding.of_option(option, allowed) for option in choice.options))
        free = instance.choices[numbers[0]].lot_group is None
        users.append(User(choices=tuple(numbers), free=free, options=tuple(of_choices)))
    return users


class _Holding:
    """Tells which goods in hand hold a piece."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.in_hand = [s for s, source in enumerate(instance.sources) if source.terms is None]
        self.rooms = {s: free_rectangles(instance.sources[s]) for s in self.in_hand if instance.sources[s].blocked}
        self.sizes = {}
        for s in self.in_hand:
            for bound in (False, True):
                lost = bound and instance.lattice is not None and instance.sources[s].phase is None
                ground = ground_of(instance, s, lost)
                self.sizes[s, bound] = ground.width, ground.high - ground.low
        self._known: dict[tuple[Shape, bool], Bits] = {}

    def of_option(self, option: Option, allowed: Bits) -> tuple[int, tuple[_Need, ...]]:
        """Return the area of an option, and the needs of its pieces."""
        needs = []
        for piece in option.pieces:
            bound = piece.group is not None and option.phase != (None, None)
            bits = 0
            shapes = shapes_of(piece)
            for shape in shapes:
                bits |= self._of_shape(shape, bound)
            sizes = tuple((shape.width, shape.length) for shape in shapes)
            needs.append(_Need(on=bits & allowed, sizes=sizes, plain=len(piece.boxes) == 1))
        return sum(piece.area for piece in option.pieces), tuple(needs)

    def _of_shape(self, shape: Shape, bound: bool) -> Bits:
        """Return the goods that hold a piece as it lies; `bound`: its pattern is placed."""
        key = (replace(shape, turn=0), bound)
        if key not in self._known:
            width = shape.inset_left + shape.width + shape.inset_right
            self._known[key] = _bits(
                s
                for s in self.in_hand
                if width <= self.sizes[s, bound][0]
                and shape.length <= self.sizes[s, bound][1]
                and (s not in self.rooms or len(shape.boxes) > 1 or self._fits_between(shape, s))
            )
        return self._known[key]

    def _fits_between(self, shape: Shape, s: int) -> bool:
        """Tell whether a rectangle fits beside the flaws of a source."""
        return any(shape.width <= x1 - x0 and shape.length <= y1 - y0 for x0, y0, x1, y1 in self.rooms[s])


def of_use(user: User, lot: Sequence[int], sources: tuple[Source, ...]) -> Bits:
    """Return the pieces in hand of a lot on which something of a user can lie; none where it cannot hold all of it.

    All of it: for every choice an option whose pieces go on pieces of the lot together (see `_go_on`), and least areas
    that add up to no more than there is. A lot of which more can be ordered holds all.
    """
    mine = _bits(lot)
    if user.free or any(sources[s].terms is not None for s in lot):
        bits = 0
        for need in (need for options in user.options for _, needs in options for need in needs):
            bits |= need.on & mine
        return bits
    able = [[way for way in options if _go_on(way[1], lot, sources)] for options in user.options]
    while all(able):
        useful = 0
        for need in (need for options in able for _, needs in options for need in needs):
            useful |= need.on & mine
        there = sum(sources[s].width * sources[s].length for s in members_of(useful))
        least = [min(area for area, _ in options) for options in able]
        spare = there - sum(least)
        left = [[way for way in options if way[0] - low <= spare] for options, low in zip(able, least, strict=True)]
        if spare < 0 or left == able:
            return useful if spare >= 0 else 0
        able = left
    return 0


def ways_on(user: User, lot: Sequence[int], sources: tuple[Source, ...]) -> Iterator[tuple[int, Bits]]:
    """Yield the options of a single choice that may be cut from a lot in hand, each with the goods that hold of it."""
    mine = _bits(lot)
    (options,) = user.options
    there = sum(sources[s].width * sources[s].length for s in lot)
    for number, (area, needs) in enumerate(options):
        if area <= there and _go_on(needs, lot, sources):
            bits = 0
            for need in needs:
                bits |= need.on & mine
            yield number, bits


def _go_on(needs: Sequence[_Need], lot: Sequence[int], sources: tuple[Source, ...]) -> bool:
    """Tell whether pieces may go on pieces of a lot together; False only where they surely do not.

    Every one is given to goods that hold it: two rectangles on the same goods lie side by side or one behind the
    other, so that their widths or their lengths add up to no more than the goods have. All ways are tried.
    """
    mine = _bits(lot)
    if any(not need.on & mine for need in needs):
        return False
    if len(needs) > MOST_TRIED:
        return True
    order = sorted(needs, key=lambda need: ((need.on & mine).bit_count(), need.sizes))
    return _given(order, {}, mine, sources)


def _given(needs: Sequence[_Need], lying: dict[int, list[_Need]], lot: Bits, sources: tuple[Source, ...]) -> bool:
    """Tell whether the rest of some pieces can be given to goods on which others lie."""
    if not needs:
        return True
    first, *rest = needs
    for s in members_of(first.on & lot):
        here = lying.setdefault(s, [])
        if all(_go_together(first, other, sources[s]) for other in here):
            here.append(first)
            done = _given(rest, lying, lot, sources)
            here.pop()
            if done:
                return True
    return False


def _go_together(a: _Need, b: _Need, source: Source) -> bool:
    """Tell whether two pieces may lie on the same goods."""
    if not (a.plain and b.plain):
        return True
    return any(v + w <= source.width or k + m <= source.length for v, k in a.sizes for w, m in b.sizes)


def _without_spare(members: list[int], sources: tuple[Source, ...], users: list[User]) -> list[int]:
    """Return the pieces of a lot less those of equal ones that are more than pieces can lie on them."""
    kept = []
    count: dict[Source, int] = {}
    for index in members:
        looks = _nameless(sources[index])
        count[looks] = count.get(looks, 0) + 1
        if count[looks] == 1 or count[looks] <= sum(_most_on(user, index) for user in users):
            kept.append(index)
    return kept


def _nameless(source: Source) -> Source:
    return replace(source, id="", lot="")


def _most_on(user: User, source: int) -> int:
    """Return how many pieces of a user can lie on goods like a source at most, all of them on others."""
    return sum(max(sum(need.on >> source & 1 for need in needs) for _, needs in options) for options in user.options)


def most_lots(user: User) -> int:
    """Return of how many lots a user is cut at most."""
    return max(len(needs) for _, needs in user.options[0]) if user.free else 1


def _bits(indexes: Iterable[int]) -> Bits:
    bits = 0
    for index in indexes:
        bits |= 1 << index
    return bits


def members_of(bits: Bits) -> Iterator[int]:
    """Yield the sources of a set, rising."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low
