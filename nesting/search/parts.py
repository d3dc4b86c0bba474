"""A part of a big instance: some choices with goods of their own, small enough to be searched by itself."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.model.ground import made_width
from nesting.model.instance import Instance, Solution
from nesting.search.scheme import Ready

BIG_PIECES = 110
"""From so many pieces on an instance is looked at part by part."""
PART_PIECES = 48
"""About so many pieces go into a part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some choices and sources of an instance, as an instance of their own.

    `choices[i]` and `sources[i]` are the numbers in the whole instance of the part's choice and source i.
    """

    ready: Ready
    choices: tuple[int, ...]
    sources: tuple[int, ...]


def least_pieces(ready: Ready, choice: int) -> int:
    """Return the fewest pieces that a choice can be made with."""
    options = ready.instance.choices[choice].options
    return min((len(options[o].pieces) for o in ready.usable[choice]), default=0)


def is_big(ready: Ready) -> bool:
    """Tell whether an instance is looked at part by part."""
    pieces = sum(least_pieces(ready, number) for number in range(len(ready.instance.choices)))
    return pieces > BIG_PIECES and len(ready.instance.choices) > 2 and bool(ready.order_lots)


def part_of(ready: Ready, choices: tuple[int, ...], sources: tuple[int, ...], arrows: dict[int, int | None]) -> Part:
    """Return the part of `ready` with these choices and sources.

    Choices of an arrow group keep to the arrow that `arrows` gives it, since its other choices may lie elsewhere.
    """
    instance = ready.instance
    part = replace(
        instance,
        choices=tuple(instance.choices[number] for number in choices),
        sources=tuple(instance.sources[number] for number in sources),
        weights=replace(instance.weights, most_seams=None),
    )
    ranks = sorted(range(len(sources)), key=lambda s: ready.ranks[sources[s]])
    places = {number: place for place, number in enumerate(choices)}
    made = Ready(
        instance=part,
        shapes=tuple(ready.shapes[number] for number in choices),
        rates=tuple(ready.rates[number] for number in sources),
        openings=tuple(ready.openings[number] for number in sources),
        ranks=tuple(ranks.index(s) for s in range(len(ranks))),
        lots=tuple(sorted({source.lot for source in part.sources})),
        order_lots=tuple(sorted({source.lot for source in part.sources if source.terms is not None})),
        lot_mates=tuple(
            tuple(places[mate] for mate in ready.lot_mates[number] if mate in places) for number in choices
        ),
        usable=tuple(_with_arrow(ready, number, arrows) for number in choices),
    )
    return Part(ready=made, choices=choices, sources=sources)


def _with_arrow(ready: Ready, number: int, arrows: dict[int, int | None]) -> tuple[int, ...]:
    """Return the usable options of a choice that have its group's arrow."""
    choice = ready.instance.choices[number]
    if choice.arrow_group is None or choice.arrow_group not in arrows:
        return ready.usable[number]
    arrow = arrows[choice.arrow_group]
    return tuple(o for o in ready.usable[number] if choice.options[o].arrow == arrow) or ready.usable[number]


def bound_together(ready: Ready) -> list[tuple[int, ...]]:
    """Return the choices in groups that share a phase or a lot, in the order of their first choices."""
    first: dict[object, int] = {}
    parent = list(range(len(ready.instance.choices)))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    for number, choice in enumerate(ready.instance.choices):
        keys: set[object] = {
            ("phase", piece.group) for o in choice.options for piece in o.pieces if piece.group is not None
        }
        if choice.lot_group is not None:
            keys.add(("lot", choice.lot_group))
        for key in keys:
            a, b = sorted((root(first.setdefault(key, number)), root(number)))
            parent[b] = a
    groups: dict[int, list[int]] = {}
    for number in range(len(parent)):
        groups.setdefault(root(number), []).append(number)
    return [tuple(members) for members in groups.values()]


def kind_of(instance: Instance, source: int) -> tuple[object, ...]:
    """Return a key that is equal for orders of one lot, width and terms, whose rolls differ in length at most."""
    goods = instance.sources[source]
    return (goods.lot, goods.width, made_width(goods), goods.across, goods.phase, goods.cost_per_unit, goods.cost)


def seams_of(instance: Instance, solution: Solution) -> int:
    """Return the seams of all options taken."""
    return sum(c.options[o].seams for c, o in zip(instance.choices, solution.options, strict=True))
