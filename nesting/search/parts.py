"""A part of a big instance: some choices with goods of their own, small enough to be searched by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from nesting.model.ground import made_width
from nesting.model.instance import Choice, Instance, Solution, Source
from nesting.model.shapes import Shape
from nesting.search.scheme import Ready

BIG_PIECES = 110
"""From so many pieces on an instance is looked at part by part."""
PART_PIECES = 48
"""About so many pieces go into a part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some choices and sources of an instance, as an instance of their own.

    `choices[i]` and `sources[i]` are the numbers in the whole instance of the part's choice and source i. `fixed[i]`
    names, for a choice whose option is given, the option and those of its pieces that the part has (None: all is open).
    Its rolls begin where their start allowance ends, and are sold by the unit: what a part saves, the whole saves.
    """

    ready: Ready
    choices: tuple[int, ...]
    sources: tuple[int, ...]
    fixed: tuple[Fixed | None, ...]


Fixed = tuple[int, tuple[int, ...], tuple[int | None, int | None]]
"""(option, indexes of its pieces, phase of its group) of a choice that is not open in a part."""


def least_pieces(ready: Ready, choice: int) -> int:
    """Return the fewest pieces that a choice can be made with."""
    options = ready.instance.choices[choice].options
    return min((len(options[o].pieces) for o in ready.usable[choice]), default=0)


def pieces_of(ready: Ready) -> int:
    """Return the fewest pieces that all choices together can be made with."""
    return sum(least_pieces(ready, number) for number in range(len(ready.instance.choices)))


def is_big(ready: Ready) -> bool:
    """Tell whether an instance is looked at part by part."""
    return pieces_of(ready) > BIG_PIECES and comes_in_parts(ready)


def comes_in_parts(ready: Ready) -> bool:
    """Tell whether an instance can be looked at part by part: several choices, and flawless rolls to order."""
    flawless = not any(source.blocked for source in ready.instance.sources if source.terms is not None)
    return len(ready.instance.choices) > 2 and bool(ready.order_lots) and flawless


def part_of(
    ready: Ready,
    choices: tuple[int, ...],
    sources: tuple[int, ...],
    arrows: Mapping[int, int | None],
    fixed: Mapping[int, Fixed] = MappingProxyType({}),
) -> Part:
    """Return the part of `ready` with these choices and sources.

    Choices of an arrow group keep to the arrow that `arrows` gives it, since its other choices may lie elsewhere.
    """
    instance = ready.instance
    part = replace(
        instance,
        choices=tuple(_choice(instance, number, fixed.get(number)) for number in choices),
        sources=tuple(_by_the_unit(ready, number) for number in sources),
        weights=replace(instance.weights, most_seams=None),
    )
    ranks = sorted(range(len(sources)), key=lambda s: ready.ranks[sources[s]])
    places = {number: place for place, number in enumerate(choices)}
    made = Ready(
        instance=part,
        shapes=tuple(_shapes(ready, number, fixed.get(number)) for number in choices),
        rates=tuple(ready.rates[number] for number in sources),
        openings=tuple(ready.openings[number] for number in sources),
        ranks=tuple(ranks.index(s) for s in range(len(ranks))),
        lots=tuple(sorted({source.lot for source in part.sources})),
        order_lots=tuple(sorted({source.lot for source in part.sources if source.terms is not None})),
        lot_mates=tuple(
            tuple(places[mate] for mate in ready.lot_mates[number] if mate in places) for number in choices
        ),
        usable=tuple((0,) if number in fixed else _with_arrow(ready, number, arrows) for number in choices),
    )
    return Part(ready=made, choices=choices, sources=sources, fixed=tuple(fixed.get(number) for number in choices))


def _choice(instance: Instance, number: int, fixed: Fixed | None) -> Choice:
    """Return a choice, with nothing but its given option and pieces where it is fixed."""
    choice = instance.choices[number]
    if fixed is None:
        return choice
    taken, pieces, phase = fixed
    option = choice.options[taken]
    places = {index: place for place, index in enumerate(pieces)}
    kept = replace(
        option,
        pieces=tuple(option.pieces[index] for index in pieces),
        phase=phase,
        order=tuple((places[a], places[b]) for a, b in option.order if a in places and b in places),
    )
    return replace(choice, options=(kept,))


def _shapes(ready: Ready, number: int, fixed: Fixed | None) -> tuple[tuple[tuple[Shape, ...], ...], ...]:
    if fixed is None:
        return ready.shapes[number]
    taken, pieces, _ = fixed
    return (tuple(ready.shapes[number][taken][index] for index in pieces),)


def _by_the_unit(ready: Ready, number: int) -> Source:
    """Return a source; a roll to order as if it were sold by the unit from the end of its start allowance on."""
    source = ready.instance.sources[number]
    if source.terms is None:
        return source
    ground = ready.grounds((False,) * len(ready.instance.sources))[number]
    terms = replace(source.terms, step=1, minimum=0, start=0, whole=False)
    return replace(source, length=max(0, ground.high - ground.low), terms=terms)


def _with_arrow(ready: Ready, number: int, arrows: Mapping[int, int | None]) -> tuple[int, ...]:
    """Return the usable options of a choice that have its group's arrow."""
    choice = ready.instance.choices[number]
    if choice.arrow_group is None or choice.arrow_group not in arrows:
        return ready.usable[number]
    arrow = arrows[choice.arrow_group]
    return tuple(o for o in ready.usable[number] if choice.options[o].arrow == arrow) or ready.usable[number]


def bound_together(ready: Ready) -> list[tuple[int, ...]]:
    """Return the choices in groups that share a phase, a lot or named goods, in the order of their first choices."""
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
        keys |= {("goods", source) for source in choice.sources or ()}
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
