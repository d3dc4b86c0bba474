"""Starting schemes: likely options, the shop's own goods where they serve whole lots, and a few good orders."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import zip_longest

from nesting.model.instance import Option, Piece, may_use
from nesting.search.placing import place
from nesting.search.scheme import Ready, Scheme, fits, masks_of

SizeKey = Callable[[Piece, int], tuple[int, ...]]


def widest(ready: Ready, option: Option) -> int:
    """Return the width that an option's pieces are reckoned on: its made width, or the widest goods there are."""
    if option.order_width is not None:
        return option.order_width
    return ready.widest()


def estimate(ready: Ready, option: Option, in_rows: bool) -> tuple[int, ...]:
    """Return a guess at what `option` adds to each level of the goal.

    `in_rows`: a piece wider than half the goods counts their whole width, else every piece counts its own area.
    """
    width = widest(ready, option)
    area = _area_in_rows(option, width) if in_rows else sum(piece.area for piece in option.pieces)
    price = ready.dearest()
    money = option.cost + int(price * area / width) if width else option.cost
    measures = (area, area, option.seams, option.seam_length, money, option.dislike, len(option.pieces))
    return tuple(sum(w * m for w, m in zip(level, measures, strict=True)) for level in ready.instance.weights.levels)


def _area_in_rows(option: Option, width: int) -> int:
    """Return the area of an option's pieces, those wider than half the goods counted with their whole width."""
    return sum(piece.length * width if 2 * piece.width > width else piece.area for piece in option.pieces)


def estimate_length(ready: Ready, option: Option) -> int:
    """Return a guess at the length of roll that an option's pieces take, with half a repeat lost at every wide one."""
    width = widest(ready, option)
    lost = ready.instance.lattice.along // 2 if ready.instance.lattice else 0
    return _area_in_rows(option, width) // width + lost * sum(2 * piece.width > width for piece in option.pieces)


def ranked_options(ready: Ready, in_rows: bool) -> tuple[tuple[int, ...], ...]:
    """Return the usable options of every choice, the likeliest first."""
    return tuple(
        tuple(sorted(usable, key=lambda taken: (estimate(ready, choice.options[taken], in_rows), taken)))
        for choice, usable in zip(ready.instance.choices, ready.usable, strict=True)
    )


def likely_options(ready: Ready, ranked: tuple[tuple[int, ...], ...], fewest_seams: bool) -> tuple[int, ...]:
    """Return one option per choice: the likeliest, with one arrow per arrow group and phases that agree.

    `fewest_seams`: the likeliest of those with the fewest seams.
    """
    choices = ready.instance.choices
    taken: list[int] = []
    arrows = likely_arrows(ready, ranked)
    phases: dict[int, tuple[int | None, int | None]] = {}
    for number, choice in enumerate(choices):
        allowed = [
            option
            for option in ranked[number]
            if choice.arrow_group is None or choice.options[option].arrow == arrows[choice.arrow_group]
        ] or list(ranked[number])
        agreeing = [option for option in allowed if _agrees(choice.options[option], phases)] or allowed
        if fewest_seams:
            least = min(choice.options[option].seams for option in agreeing)
            agreeing = [option for option in agreeing if choice.options[option].seams == least]
        taken.append(agreeing[0])
        option_taken = choice.options[agreeing[0]]
        for piece in option_taken.pieces:
            if piece.group is not None:
                phases.setdefault(piece.group, option_taken.phase)
    return tuple(taken)


def _agrees(option: Option, phases: dict[int, tuple[int | None, int | None]]) -> bool:
    """Tell whether the phase of `option` is that of the options taken before in its groups."""
    return all(
        phases.get(piece.group, option.phase) == option.phase for piece in option.pieces if piece.group is not None
    )


def likely_arrows(ready: Ready, ranked: tuple[tuple[int, ...], ...]) -> dict[int, int | None]:
    """Return for every arrow group the arrow that all its choices have and that costs least as guessed."""
    totals: dict[int, dict[int | None, tuple[int, tuple[int, ...]]]] = {}
    for number, choice in enumerate(ready.instance.choices):
        if choice.arrow_group is None:
            continue
        best: dict[int | None, tuple[int, ...]] = {}
        for taken in ranked[number]:
            option = choice.options[taken]
            best.setdefault(option.arrow, estimate(ready, option, True))
        group = totals.setdefault(choice.arrow_group, {})
        for arrow, cost in best.items():
            count, total = group.get(arrow, (0, (0,) * len(cost)))
            group[arrow] = (count + 1, tuple(a + b for a, b in zip(total, cost, strict=True)))
    return {
        group: min(by_arrow, key=lambda arrow: (-by_arrow[arrow][0], by_arrow[arrow][1], str(arrow)))
        for group, by_arrow in totals.items()
    }


def _size_keys() -> tuple[SizeKey, ...]:
    """Return the placing orders: sort keys of a piece on goods of a width."""
    return (
        lambda piece, width: (2 * piece.width <= width, -piece.length, -piece.width),
        lambda piece, width: (-piece.length, -piece.width),
        lambda piece, width: (-piece.area, -piece.length),
        lambda piece, width: (-piece.width, -piece.length),
        lambda piece, width: (3 * piece.width <= 2 * width, -piece.area),
    )


def sequences(ready: Ready, options: tuple[int, ...]) -> Iterator[tuple[tuple[int, int], ...]]:
    """Yield placing orders for the pieces of `options`: by size in several ways, then choice by choice."""
    pieces = []
    for number, taken in enumerate(options):
        option = ready.instance.choices[number].options[taken]
        width = widest(ready, option)
        pieces += [((number, index), piece, width) for index, piece in enumerate(option.pieces)]
    open_to_all = [choice.sources is None for choice in ready.instance.choices]  # goods that are named come first
    seen = set()
    for key in _size_keys():
        ordered = tuple(
            who
            for who, _, _ in sorted(pieces, key=lambda item: (open_to_all[item[0][0]], key(item[1], item[2]), item[0]))
        )
        if ordered not in seen:
            seen.add(ordered)
            yield in_sequence(ready, options, ordered)
    longest = {
        number: max(p.length for (c, _), p, _ in pieces if c == number) for number, _ in {w for w, _, _ in pieces}
    }
    by_choice = sorted(
        pieces,
        key=lambda item: (open_to_all[item[0][0]], -longest[item[0][0]], item[0][0], item[1].offset, item[0][1]),
    )
    yield in_sequence(ready, options, tuple(who for who, _, _ in by_choice))


def in_sequence(
    ready: Ready, options: tuple[int, ...], sequence: tuple[tuple[int, int], ...]
) -> tuple[tuple[int, int], ...]:
    """Return `sequence` with the pieces of every option that fixes their order exchanged so that they come in it."""
    ordered = list(sequence)
    for number, taken in enumerate(options):
        pairs = ready.instance.choices[number].options[taken].order
        if not pairs:
            continue
        places = [place_ for place_, who in enumerate(ordered) if who[0] == number]
        left = [ordered[place_][1] for place_ in places]
        for place_ in places:
            after = {b for a, b in pairs if a in left}
            first = next((index for index in left if index not in after), left[0])
            left.remove(first)
            ordered[place_] = (number, first)
    return tuple(ordered)


def starting_schemes(ready: Ready) -> Iterator[Scheme]:
    """Yield the starting schemes, the likeliest first; every choice must have a usable option.

    The anchorings take turns: which of them serves shows only when the pieces are placed.
    """
    seen = set()
    if not ready.lots:
        return  # no goods at all
    for in_rows, fewest_seams in ((True, False), (False, False), (True, True)):
        ranked = ranked_options(ready, in_rows)
        for order_lot in ready.order_lots or (None,):
            under = [_schemes_under(ready, mask, order_lot, ranked, fewest_seams) for mask in masks_of(ready)]
            for scheme in (scheme for turn in zip_longest(*under) for scheme in turn):
                if scheme is not None and scheme not in seen:
                    seen.add(scheme)
                    yield scheme


def _schemes_under(
    ready: Ready,
    mask: tuple[bool, ...],
    order_lot: str | None,
    ranked: tuple[tuple[int, ...], ...],
    fewest_seams: bool,
) -> Iterator[Scheme]:
    """Yield the starting schemes under one anchoring, with options that it leaves room for."""
    ranked = _with_room(ready, mask, ranked)
    plain = _scheme(ready, likely_options(ready, ranked, fewest_seams), order_lot, mask)
    for served in dict.fromkeys((served_from_hand(ready, plain, ranked), plain)):
        for sequence in sequences(ready, served.options):
            yield replace(served, sequence=sequence)


def _with_room(
    ready: Ready, mask: tuple[bool, ...], ranked: tuple[tuple[int, ...], ...]
) -> tuple[tuple[int, ...], ...]:
    """Return the options whose pieces each fit some source under an anchoring; all of a choice where none do."""
    if not any(mask):
        return ranked
    grounds = set(ready.grounds(mask))
    return tuple(
        tuple(
            taken
            for taken in options
            if all(any(fits(way, ground) for way in ways for ground in grounds) for ways in ready.shapes[number][taken])
        )
        or options
        for number, options in enumerate(ranked)
    )


def _scheme(ready: Ready, options: tuple[int, ...], order_lot: str | None, mask: tuple[bool, ...]) -> Scheme:
    """Return a scheme whose lot groups are all cut from the orders' lot, or from the largest lot in hand."""
    instance = ready.instance
    lot = order_lot
    if lot is None:
        areas = {name: sum(s.width * s.length for s in instance.sources if s.lot == name) for name in ready.lots}
        lot = min(areas, key=lambda name: (-areas[name], name))
    return Scheme(
        options=options,
        sequence=next(sequences(ready, options)),
        lots=tuple(
            (_named_lot(ready, number) or lot) if choice.lot_group is not None else None
            for number, choice in enumerate(instance.choices)
        ),
        order_lot=order_lot,
        anchored=mask,
    )


def _named_lot(ready: Ready, number: int) -> str | None:
    """Return the lot with most goods of those that are named for every choice of a lot group; None: none are named."""
    instance = ready.instance
    mates = [instance.choices[mate] for mate in ready.lot_mates[number]]
    if all(choice.sources is None for choice in mates):
        return None
    areas: dict[str, int] = {}
    for source in instance.sources:
        if any(choice.sources is not None and source.id in choice.sources for choice in mates):
            areas[source.lot] = areas.get(source.lot, 0) + source.width * source.length
    common = [
        lot
        for lot in areas
        if all(any(may_use(choice, s) for s in instance.sources if s.lot == lot) for choice in mates)
    ]
    return min(common, key=lambda name: (-areas[name], name), default=None)


def served_from_hand(ready: Ready, scheme: Scheme, ranked: tuple[tuple[int, ...], ...]) -> Scheme:
    """Return `scheme` with whole lot groups moved to lots in hand, large groups first, while their pieces fit."""
    instance = ready.instance
    units = sorted(
        {
            mates
            for mates, choice in zip(ready.lot_mates, instance.choices, strict=True)
            if choice.lot_group is not None
        },
        key=lambda mates: (
            all(instance.choices[number].sources is None for number in mates),
            -sum(_area(ready, scheme, number) for number in mates),
            mates,
        ),
    )
    served: dict[int, str] = {}
    for lot in ready.lots:
        if lot in ready.order_lots:
            continue
        for mates in units:
            options = None if mates[0] in served else _options_in_lot(ready, scheme, ranked, mates, lot)
            if options is None:
                continue
            lots = tuple(lot if number in mates else old for number, old in enumerate(scheme.lots))
            trial = replace(scheme, options=options, lots=lots)
            trial = replace(trial, sequence=next(sequences(ready, options)))
            here = {number for number, other in served.items() if other == lot} | set(mates)
            part = replace(trial, sequence=tuple(who for who in trial.sequence if who[0] in here))
            if place(ready, part).missing == 0:
                scheme = trial
                served |= dict.fromkeys(mates, lot)
    return scheme


def _options_in_lot(
    ready: Ready, scheme: Scheme, ranked: tuple[tuple[int, ...], ...], mates: tuple[int, ...], lot: str
) -> tuple[int, ...] | None:
    """Return the options of `scheme`, those of `mates` the likeliest whose pieces each fit goods of `lot`; or None."""
    instance = ready.instance
    grounds = ready.grounds(scheme.anchored)
    of_lot = [(grounds[s], source) for s, source in enumerate(instance.sources) if source.lot == lot]
    options = list(scheme.options)
    for number in mates:
        choice = instance.choices[number]
        inside = [ground for ground, source in of_lot if may_use(choice, source)]
        for taken in ranked[number]:
            ways_of_pieces = ready.shapes[number][taken]
            if choice.options[taken].arrow == choice.options[options[number]].arrow and all(
                any(fits(shape, ground) for shape in ways for ground in inside) for ways in ways_of_pieces
            ):
                options[number] = taken
                break
        else:
            return None
    return tuple(options)


def _area(ready: Ready, scheme: Scheme, number: int) -> int:
    """Return the area of the pieces of one choice."""
    return sum(piece.area for piece in ready.instance.choices[number].options[scheme.options[number]].pieces)
