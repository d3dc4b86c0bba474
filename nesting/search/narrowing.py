"""A full rack narrowed down to the goods in hand that a search looks at, without losing roll, money or seams.

Goods that are of no use at all are out already (`model.screening`). Here goods go though they could serve, because
enough others do as well at all levels of the goal before that of the rack. A *user* is what is cut from one lot: a lot
group, or a choice that is bound to none. Its options have a *rank*: how good they are at all levels, goods apart.

*Easy* users, one after another: user number i keeps as many lots, shown to hold it by itself in its best option and at
no cost, as all hard users and the easy ones up to i can lie on. Take any solution in which it lies on other goods. One
of its lots is free of all users before it. There it goes, and easy users after it that lie there go on to lots of their
own in the same way. Nobody is laid a worse way, nothing is ordered or paid for more. *Hard* users keep as many lots as
all hard users can lie on, in the best rank that so many allow, and every lot that might hold them in a better one; or
all that might hold them, if there are not so many. They too may send the easy ones away. So the best of what is kept is
as good as the best of all; a bound over what is kept is one over all, and so is the answer that there is no solution.

Of lots that serve alike those that lose the least value are kept, some more than must be. At the level of the rack
itself that is a choice, not a proof: users that share a piece of another lot might lose a little less.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.model.ground import used_up
from nesting.model.instance import Instance, Option, Solution, may_use
from nesting.model.objective import side_cost
from nesting.model.screening import Bits, User, lots_of, members_of, most_lots, of_use, users_of, ways_on
from nesting.model.shapes import shape_of
from nesting.model.valuing import faults_of, placed
from nesting.search.parts import part_of
from nesting.search.placing import place
from nesting.search.scheme import Ready, Scheme, fits

FEW = 30
"""So many goods in hand are all looked at."""
CHOICE = 6
"""Every user keeps so many lots at least, as far as there are: the value of what they lose is to be least together."""
TRIES = 3
"""So many options of a user are tried on a lot, the best first."""

Way = tuple[int, int, tuple[int, ...]]
"""How a lot holds a user: rank of the option, value lost, the goods that it lies on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Served:
    """A user with the ways in which lots hold it, best first: a list for every direction that it may be bound to.

    `ranks`: the rank of every option, by direction (None: only best ones were tried, or none). `might`: the options
    that each lot might hold, with the goods that could (for a single choice of one lot).
    """

    user: User
    ways: tuple[list[Way], ...]
    ranks: tuple[dict[int, int] | None, ...]
    might: list[list[tuple[int, Bits]]]

    @property
    def best(self) -> int:
        """How many lots hold it in its best option, whatever its direction."""
        return min((sum(rank == 0 for rank, _, _ in ways) for ways in self.ways), default=0)


def narrowed(ready: Ready, keep: frozenset[int] = frozenset()) -> tuple[int, ...]:
    """Return the sources to look at, rising: all of them where goods in hand are few; always those of `keep`."""
    instance = ready.instance
    if sum(source.terms is None for source in instance.sources) <= FEW:
        return tuple(range(len(instance.sources)))
    named: set[str] = set().union(*(choice.sources or () for choice in instance.choices))
    kept = {s for s, source in enumerate(instance.sources) if source.terms is not None or source.id in named}
    lots = lots_of(instance)
    for lot in ready.order_lots:
        kept.update(lots.pop(lot, ()))
    members = list(lots.values())
    served = [_served(ready, user, members) for user in users_of(instance)]
    hard, easy = _sorted_out(served)
    before = sum(most_lots(item.user) for item in hard)
    for item in hard:
        kept |= _kept_for_hard(ready, item, before, members)
    for item in easy:
        before += most_lots(item.user)
        kept.update(s for ways in item.ways for _, _, used in ways[: max(before, CHOICE)] for s in used)
    return tuple(sorted(kept | keep))


def _sorted_out(served: Sequence[_Served]) -> tuple[list[_Served], list[_Served]]:
    """Return the hard users, and the easy ones in the order in which each has lots enough."""
    hard = [item for item in served if not item.best]
    easy = sorted((item for item in served if item.best), key=lambda item: item.best)
    while True:
        before = sum(most_lots(item.user) for item in hard)
        for item in easy:
            before += most_lots(item.user)
            if item.best < before:
                hard.append(item)
                easy = [other for other in easy if other is not item]
                break
        else:
            return hard, easy


def _kept_for_hard(ready: Ready, item: _Served, enough: int, lots: Sequence[Sequence[int]]) -> set[int]:
    """Return the goods that a hard user keeps."""
    sources = ready.instance.sources
    kept: set[int] = set()
    for ways, ranks in zip(item.ways, item.ranks, strict=True):
        if ranks is None:
            return {s for lot in lots for s in members_of(of_use(item.user, lot, sources))}
        last = ways[enough - 1][0] if len(ways) >= enough else len(ranks)
        kept.update(s for _, _, used in ways[: max(enough, CHOICE)] for s in used)
        better: Bits = 0
        for option, bits in (way for of_lot in item.might for way in of_lot):
            if ranks.get(option, last) < last:
                better |= bits
        kept.update(members_of(better))
    return kept


def _served(ready: Ready, user: User, lots: Sequence[Sequence[int]]) -> _Served:
    """Return how lots hold a user by itself."""
    instance = ready.instance
    by_direction = [] if _shares_a_phase(instance, user) else list(_by_direction(ready, user))
    if not by_direction:
        return _Served(user=user, ways=([],), ranks=(None,), might=[])
    alone = len(user.choices) == 1 and not user.free
    might = [list(ways_on(user, lot, instance.sources)) if alone else [] for lot in lots]
    all_ways: list[list[Way]] = []
    all_ranks: list[dict[int, int] | None] = []
    for options in by_direction:
        ranks = _ranks(instance, user, options)
        best = tuple(min(of_choice, key=lambda o: (rank[o], o)) for of_choice, rank in zip(options, ranks, strict=True))
        ways = []
        for lot, on in zip(lots, might, strict=True):
            tried = sorted((ranks[0][o], o) for o, _ in on if o in ranks[0]) if alone else [(0, best[0])]
            for rank, option in tried[:TRIES]:
                way = _alone(ready, user, (option, *best[1:]), lot)
                if way is not None:
                    ways.append((rank, *way))
                    break
        all_ways.append(sorted(ways))
        all_ranks.append(ranks[0] if alone else None)
    return _Served(user=user, ways=tuple(all_ways), ranks=tuple(all_ranks), might=might)


def _ranks(instance: Instance, user: User, options: Sequence[Sequence[int]]) -> list[dict[int, int]]:
    """Return per choice the rank of its options by what they add to the levels of the goal, goods apart."""
    found = []
    for number, of_choice in zip(user.choices, options, strict=True):
        sides = {o: _sides(instance, instance.choices[number].options[o]) for o in of_choice}
        order = sorted(set(sides.values()))
        found.append({o: order.index(side) for o, side in sides.items()})
    return found


def _sides(instance: Instance, option: Option) -> tuple[int, ...]:
    """Return what an option adds to every level apart from goods."""
    return tuple(side_cost(option, list(level[2:])) for level in instance.weights.levels)


def _by_direction(ready: Ready, user: User) -> Iterator[list[list[int]]]:
    """Yield the usable options of a user's choices for every direction that others may bind it to.

    Nothing where it takes part in several bonds of direction, or where there is a cap on seams and a better option has
    more of them than a worse one.
    """
    instance = ready.instance
    choices = [instance.choices[number] for number in user.choices]
    groups = {choice.arrow_group for choice in choices} - {None}
    capped = instance.weights.most_seams is not None
    if len(groups) > 1 or (capped and not all(_fewer_are_better(instance, choice.options) for choice in choices)):
        return
    bound = [
        (number, choice) for number, choice in zip(user.choices, choices, strict=True) if choice.arrow_group is not None
    ]
    arrows = {choice.options[o].arrow for number, choice in bound for o in ready.usable[number]}
    for arrow in sorted(arrows, key=repr) if bound else [None]:
        options = [
            [o for o in ready.usable[number] if choice.arrow_group is None or choice.options[o].arrow == arrow]
            for number, choice in zip(user.choices, choices, strict=True)
        ]
        if all(options):
            yield options


def _fewer_are_better(instance: Instance, options: Sequence[Option]) -> bool:
    """Tell whether no option has more seams than one that is worse."""
    ranked = sorted(options, key=lambda option: (_sides(instance, option), option.seams))
    return all(a.seams <= b.seams for a, b in pairwise(ranked))


def _shares_a_phase(instance: Instance, user: User) -> bool:
    """Tell whether a phase group of a user has pieces of others too."""
    mine, others = (
        {
            piece.group
            for number, choice in enumerate(instance.choices)
            if (number in user.choices) == inside
            for option in choice.options
            for piece in option.pieces
            if piece.group is not None
        }
        for inside in (True, False)
    )
    return bool(mine & others)


def _alone(
    ready: Ready, user: User, options: tuple[int, ...], members: Sequence[int]
) -> tuple[int, tuple[int, ...]] | None:
    """Return the value that options of a user lose on a lot by themselves, and the goods used; None: no place found."""
    instance = ready.instance
    choices = [instance.choices[number] for number in user.choices]
    free = tuple(
        s
        for s in members
        if not instance.sources[s].cost and all(may_use(choice, instance.sources[s]) for choice in choices)
    )
    grounds = ready.grounds((False,) * len(instance.sources))
    shapes = [ways for c, o in zip(user.choices, options, strict=True) for ways in ready.shapes[c][o]]
    if any(not any(fits(shape, grounds[s]) for s in free for shape in ways) for ways in shapes):
        return None
    part = part_of(ready, user.choices, free, {}).ready
    sizes = [
        (-piece.length, -piece.width, number, index)
        for number, (choice, taken) in enumerate(zip(choices, options, strict=True))
        for index, piece in enumerate(choice.options[taken].pieces)
    ]
    scheme = Scheme(
        options=options,
        sequence=tuple((number, index) for *_, number, index in sorted(sizes)),
        lots=(None,) * len(options),
        order_lot=None,
        anchored=(False,) * len(free),
    )
    solution = place(part, scheme).solution
    if solution is None or faults_of(part.instance, solution):
        return None
    ends = _ends(part.instance, solution)
    spared = instance.weights.rack is not None
    of_goods = part.instance.sources
    lost = sum(used_up(of_goods[s], end) if spared else of_goods[s].width * end for s, end in ends.items())
    return lost, tuple(sorted(free[s] for s in ends))


def _ends(instance: Instance, solution: Solution) -> dict[int, int]:
    """Return the end of the last piece on every source used."""
    ends: dict[int, int] = {}
    for _, piece, spot in placed(instance, solution):
        ends[spot.source] = max(ends.get(spot.source, 0), spot.y + shape_of(piece, spot.turn).length)
    return ends
