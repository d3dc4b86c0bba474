"""Parts of an instance that share nothing: no source, no lot, no pattern, no direction. Each is solved by itself.

All measures add up over such parts, and so do the levels of the goal, so that the best of the whole is the best of
every part.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nesting.model.ground import grounds_of, made_width
from nesting.model.instance import Instance, Solution, Spot, may_use
from nesting.progress import Progress, Step
from nesting.search.earlier import Taken
from nesting.search.scheme import Ready, fits


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """One part: the numbers of its choices and sources in the whole."""

    choices: tuple[int, ...]
    sources: tuple[int, ...]

    def instance(self, whole: Instance) -> Instance:
        """Return the part as an instance of its own."""
        return replace(
            whole,
            choices=tuple(whole.choices[number] for number in self.choices),
            sources=tuple(whole.sources[number] for number in self.sources),
        )

    def start(self, whole: Solution | Taken | None) -> Taken | None:
        """Return what a start of the whole gives this part; pieces on the sources of others are left out."""
        if whole is None:
            return None
        index = {number: place for place, number in enumerate(self.sources)}
        options: list[int | None] = []
        spots = []
        for number in self.choices:
            mine = whole.spots[number]
            here = whole.options[number] is not None and all(spot.source in index for spot in mine)
            options.append(whole.options[number] if here else None)
            spots.append(tuple(replace(spot, source=index[spot.source]) for spot in mine) if here else ())
        anchored = tuple(whole.anchored[number] for number in self.sources)
        return Taken(options=tuple(options), spots=tuple(spots), anchored=anchored)


def parts_of(ready: Ready) -> tuple[Apart, ...]:
    """Return the parts of an instance, the one of the first choice first; a single one if all hangs together."""
    instance = ready.instance
    everything = Apart(choices=tuple(range(len(instance.choices))), sources=tuple(range(len(instance.sources))))
    if instance.weights.most_seams is not None or len(instance.choices) < 2:
        return (everything,)
    first = list(range(len(instance.choices)))
    for linked in _linked(ready):
        roots = {first[number] for number in linked}
        if len(roots) > 1:
            first = [min(roots) if root in roots else root for root in first]
            if not any(first):  # all hang together
                return (everything,)
    serving = {source: users[0] for source, users in _users(ready) if users}
    return tuple(
        Apart(
            choices=tuple(number for number, root in enumerate(first) if root == mine),
            sources=tuple(source for source, user in sorted(serving.items()) if first[user] == mine),
        )
        for mine in sorted(set(first))
    )


def _linked(ready: Ready) -> Iterable[list[int]]:
    """Yield choices that depend on one another: by a source that they may share, a lot, a direction or a pattern."""
    instance = ready.instance
    groups: dict[tuple[str, int], list[int]] = {}
    for number, choice in enumerate(instance.choices):
        for kind, group in (("lot", choice.lot_group), ("arrow", choice.arrow_group)):
            if group is not None:
                groups.setdefault((kind, group), []).append(number)
        for group in {piece.group for option in choice.options for piece in option.pieces} - {None}:
            groups.setdefault(("phase", group or 0), []).append(number)
    yield from groups.values()
    ordering: set[int] = set()
    for source, users in _users(ready):
        yield users
        if instance.sources[source].terms is not None:
            ordering |= set(users)
    if instance.orders_of_one_lot and len(ready.order_lots) > 1:
        yield sorted(ordering)


def _users(ready: Ready) -> Iterable[tuple[int, list[int]]]:
    """Yield every source with the choices that may be cut from it, orders first."""
    instance = ready.instance
    grounds = grounds_of(instance, (False,) * len(instance.sources))
    order = sorted(range(len(instance.sources)), key=lambda s: (instance.sources[s].terms is None, s))
    for source in order:
        made = made_width(instance.sources[source]) if instance.sources[source].terms is not None else None
        users = []
        for number, (choice, usable) in enumerate(zip(instance.choices, ready.usable, strict=True)):
            if may_use(choice, instance.sources[source]) and any(
                (made is None or choice.options[o].order_width in (None, made))
                and any(fits(shape, grounds[source]) for ways in ready.shapes[number][o] for shape in ways)
                for o in usable
            ):
                users.append(number)
        yield source, users


def joined(whole: Instance, parts: Sequence[Apart], solutions: Sequence[Solution | None]) -> Solution | None:
    """Return the solution of the whole that those of its parts make up; None if one of them has none."""
    options = [0] * len(whole.choices)
    spots: list[tuple[Spot, ...]] = [()] * len(whole.choices)
    anchored = [False] * len(whole.sources)
    for part, solution in zip(parts, solutions, strict=True):
        if solution is None:
            return None
        for place, number in enumerate(part.choices):
            options[number] = solution.options[place]
            spots[number] = tuple(replace(spot, source=part.sources[spot.source]) for spot in solution.spots[place])
        for place, number in enumerate(part.sources):
            anchored[number] = solution.anchored[place]
    return Solution(options=tuple(options), spots=tuple(spots), anchored=tuple(anchored))


class Together:
    """Tells of the progress of all parts as that of the whole."""

    def __init__(self, count: int, progress: Progress) -> None:
        self._latest: list[Step | None] = [None] * count
        self._progress = progress

    def of(self, number: int) -> Progress:
        """Return whom part `number` tells of its progress."""

        def tell(step: Step) -> None:
            self._latest[number] = step
            told = [latest for latest in self._latest if latest is not None]
            whole = len(told) == len(self._latest)
            bests = [latest.best for latest in told if latest.best is not None]
            best = sum(bests) if whole and len(bests) == len(told) else None
            self._progress(replace(step, best=best, bound=sum(latest.bound or 0 for latest in told)))

        return tell
