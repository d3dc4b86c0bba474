"""Which part of the floor each drop covers."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nesting.checker.parts import Part
from nesting.checker.sweeps import holds, shape_of
from nesting.domain.layout import Cut


def matched(drops: Sequence[Cut], parts: Sequence[Part]) -> dict[str, Part]:
    """Return the part of each drop, by cut id; drops and parts that find no partner are left out.

    A drop may cover a part of its own cell that lies inside its rough cut. Where several are possible, those that
    record just the part's edges are preferred.
    """
    partner: dict[int, int] = {}  # part -> drop
    for fits in (_records_edges, _is_of_cell):
        able = [[p for p, part in enumerate(parts) if fits(drop, part)] for drop in drops]
        for number in range(len(drops)):
            if number not in partner.values():
                _augment(number, able, partner, set())
    return {drops[number].id: parts[index] for index, number in sorted(partner.items(), key=lambda item: item[1])}


def _augment(number: int, able: list[list[int]], partner: dict[int, int], seen: set[int]) -> bool:
    """Give a drop a part, moving others to parts that suit them too (augmenting path)."""
    for index in able[number]:
        if index in seen:
            continue
        seen.add(index)
        if index not in partner or _augment(partner[index], able, partner, seen):
            partner[index] = number
            return True
    return False


Fits = Callable[[Cut, Part], bool]


def _is_of_cell(drop: Cut, part: Part) -> bool:
    ends = {part.low, None} if part.low is None or not _touches(part, part.low, "low") else {part.low}
    tops = {part.high, None} if part.high is None or not _touches(part, part.high, "high") else {part.high}
    return (
        drop.breadth == part.breadth
        and drop.low in ends
        and drop.high in tops
        and all(holds(shape_of(piece), drop.rects) for piece in part.slices)
    )


def _touches(part: Part, number: int, end: str) -> bool:
    return any(key[1] == number and key[0].value == f"cross-{end}" for key in part.keys)


def _records_edges(drop: Cut, part: Part) -> bool:
    return part.keys == {(item.kind, item.edge) for item in drop.allowances} and _is_of_cell(drop, part)
