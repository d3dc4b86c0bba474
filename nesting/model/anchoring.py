"""Which sources of unknown phase must stay bound to the pattern, and a solution with the others let go."""

from __future__ import annotations

from dataclasses import replace

from nesting.model.instance import Instance, Solution
from nesting.model.valuing import phases_of_groups, placed


def let_go(instance: Instance, solution: Solution) -> Solution:
    """Return `solution` with every source let go that need not be anchored; pieces on an order move down by its loss.

    A source must be anchored when a group on it has a placed phase or uses another source too. Flaws stay where they
    are, so nothing moves on a roll that has some.
    """
    if not any(solution.anchored):
        return solution
    homes: dict[int, set[int]] = {}
    for _, piece, spot in placed(instance, solution):
        if piece.group is not None:
            homes.setdefault(piece.group, set()).add(spot.source)
    bound = {g for g, phase in (phases_of_groups(instance, solution.options) or {}).items() if phase != (None, None)}
    anchored = list(solution.anchored)
    lowered = [0] * len(anchored)
    for index, source in enumerate(instance.sources):
        groups = [group for group, used in homes.items() if index in used]
        if anchored[index] and all(len(homes[group]) == 1 and group not in bound for group in groups):
            if source.terms is not None:
                if source.blocked:
                    continue
                lowered[index] = source.terms.anchor_along or 0
            anchored[index] = False
    spots = tuple(tuple(replace(spot, y=spot.y - lowered[spot.source]) for spot in spots) for spots in solution.spots)
    return replace(solution, spots=spots, anchored=tuple(anchored))
