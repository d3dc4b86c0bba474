"""Every room's layout as an estimator would choose it; rooms that share a direction or a phase agree about it."""

from __future__ import annotations

from nesting.search.hand_choosing import Hand, Levels, Ranked, Taken, by_itself, candidates, loose_as_it_is, ranked
from nesting.search.hand_packing import Item, phase_across

MOST_SETS = 40
"""Sets of layouts of rooms that match, kept as they are put together."""


def chosen_by_itself(hand: Hand) -> tuple[Taken, ...] | None:
    """Return the best option of every choice by itself; rooms that share a direction take the best for all of them.

    None: some choice has none on goods to order.
    """
    choices = hand.instance.choices
    fewest = hand.instance.weights.most_seams is not None
    by_arrow = [
        loose_as_it_is(hand, number)
        if number in hand.loose
        else candidates(hand, number, tied=choice.arrow_group is not None, fewest=fewest)
        for number, choice in enumerate(choices)
    ]
    for mates in _matching(hand):
        _match(hand, mates, by_arrow)
    arrows = _arrows(hand, by_arrow)
    taken = []
    for number, choice in enumerate(choices):
        arrow = None if choice.arrow_group is None else arrows[choice.arrow_group]
        if arrow not in by_arrow[number]:
            return None
        taken.append(by_arrow[number][arrow])
    return tuple(taken)


def _matching(hand: Hand) -> list[list[int]]:
    """Return the choices that share a phase with others, group by group."""
    groups: dict[int, list[int]] = {}
    if hand.patterned:
        for number, choice in enumerate(hand.instance.choices):
            found = {piece.group for option in choice.options for piece in option.pieces}
            for group in sorted(group for group in found if group is not None):
                groups.setdefault(group, []).append(number)
    return [numbers for numbers in groups.values() if len(numbers) > 1]


def _match(hand: Hand, mates: list[int], by_arrow: list[dict[int | None, Taken]]) -> None:
    """Put options that agree in place of the best ones by themselves: one phase, and a lawful place for every piece.

    With a repeat across, the seams of rooms that match run on common lines, which the best layouts of each by itself
    need not do.
    """
    choices = hand.instance.choices
    tied = choices[mates[0]].arrow_group is not None
    rows = {number: ranked(hand, number) for number in mates}
    for arrow in {arrow for number in mates for arrow in by_arrow[number]}:
        sets: list[tuple[Levels, tuple[Ranked, ...], tuple[Item, ...]]] = [((), (), ())]
        for number in mates:
            longer = []
            for total, before, items in sets:
                for row in rows[number]:
                    option = choices[number].options[row[1]]
                    if tied and option.arrow != arrow:
                        continue
                    if before and (
                        row[2:] != before[0][2:] or option.phase != choices[mates[0]].options[before[0][1]].phase
                    ):
                        continue
                    more = (*items, *hand.items(number, row[1]))
                    bed = hand.wares[row[2]].bed(row[3])
                    if bed.across is None or option.phase[0] is not None or phase_across(more, bed) is not None:
                        levels = tuple(map(sum, zip(total, row[0], strict=True))) if total else row[0]
                        longer.append((levels, (*before, row), more))
            sets = sorted(longer, key=lambda found: (found[0], found[1]))[:MOST_SETS]
        for number in mates:
            by_arrow[number].pop(arrow, None)
        for _, rows_taken, _ in sets:
            found = [
                by_itself(hand, number, o, hand.wares[k], anchored)
                for number, (_, o, k, anchored) in zip(mates, rows_taken, strict=True)
            ]
            if all(found):
                for number, item in zip(mates, found, strict=True):
                    assert item is not None
                    by_arrow[number][arrow] = item
                break


def _arrows(hand: Hand, by_arrow: list[dict[int | None, Taken]]) -> dict[int, int | None]:
    """Return for every arrow group the arrow that all its choices have and that costs least in all."""
    groups: dict[int, list[int]] = {}
    for number, choice in enumerate(hand.instance.choices):
        if choice.arrow_group is not None:
            groups.setdefault(choice.arrow_group, []).append(number)
    chosen: dict[int, int | None] = {}
    for group, numbers in groups.items():
        common = set(by_arrow[numbers[0]]).intersection(*(by_arrow[n] for n in numbers))
        costs = {
            arrow: tuple(map(sum, zip(*(by_arrow[n][arrow].levels for n in numbers), strict=True))) for arrow in common
        }
        chosen[group] = min(costs, key=lambda arrow: (costs[arrow], -1 if arrow is None else arrow), default=None)
    return chosen
