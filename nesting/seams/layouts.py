"""The layouts of a room worth looking at: diverse, lawful, the likeliest first; or why there is none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.plan import Refusal
from nesting.floor.frames import lay_directions
from nesting.floor.pinned import directions_open
from nesting.seams.again import Lines, drafts_again
from nesting.seams.choosing import best_drafts
from nesting.seams.drafts import Draft, Faults
from nesting.seams.family import family_of
from nesting.seams.laid import Goods, LaidRoom
from nesting.seams.making import MOST_TRIED, Maker
from nesting.seams.refusing import refusals_of
from nesting.seams.writing import written

FEW_TRIED = 24
"""Seam sets looked at when the question is only whether a room can be laid without a rule."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """The layouts of a room, best first; none: `refusals` say which rule is in the way and by how much."""

    layouts: tuple[LaidRoom, ...]
    refusals: tuple[Refusal, ...] = ()


def layouts_of_room(
    room: Room,
    material: Material,
    bound: Goods,
    *,
    useful_nm: tuple[int, int] | None = None,
    anchor: Point | None = None,
    limit: int = 60,
    directions: tuple[LayDirection, ...] | None = None,
    unpinned: Goods | None = None,
) -> Laid:
    """Return the layouts of a room that are worth looking at.

    Parameters
    ----------
    bound
        The goods that the layouts are made for.
    useful_nm
        Width and length from which on a notch is worth keeping (None: the room's rules say it).
    anchor
        Corner of the cutting step's grid in the lay frame, for rooms that share one (None: the swept floor's corner).
    limit
        At most so many layouts; fewer seam sets are tried where few are wanted.
    directions
        Lay directions to look at (None: those of `directions_open`).
    unpinned
        What the room could be cut from if it were not for its pins (None: the same).
    """
    given = directions or directions_open(room, material)

    def drafts_of(changed: Room, faults: Faults, tries: int) -> Iterator[Draft]:
        freed = room.pinned.any and not changed.pinned.any
        lays = lay_directions(changed, material) if freed else given
        goods = (unpinned or bound) if freed else bound
        pinned = changed.pinned.layout
        if pinned is not None:
            if pinned.direction in lays:
                yield from drafts_again(
                    changed,
                    material,
                    goods,
                    Lines.pinned(pinned),
                    useful_nm=useful_nm,
                    anchor=anchor,
                    faults=faults,
                )
            return
        for direction in lays:
            maker = Maker(
                room=changed,
                material=material,
                goods=goods,
                family=family_of(changed, material, direction),
                useful_nm=useful_nm,
                anchor=anchor,
                faults=faults,
                lays=len(lays),
                tries=tries,
            )
            yield from maker.drafts()

    faults = Faults()
    drafts = list(drafts_of(room, faults, min(MOST_TRIED, 8 + 2 * limit)))
    if not drafts:
        refusals = refusals_of(
            room, material, bound, faults, lambda changed: any(drafts_of(changed, Faults(), FEW_TRIED))
        )
        return Laid(layouts=(), refusals=refusals)
    senses = (1, -1) if material.in_sequence else (0,)
    chosen = best_drafts(drafts, max(1, limit // len(senses)), patterned=material.pattern is not None)
    layouts = [
        written(draft, sequence=sense)
        for draft in chosen
        for sense in (senses if len(draft.pieces) > 1 else senses[:1])
    ]
    layouts.sort(key=lambda laid: (laid.seams, laid.dislike))
    return Laid(layouts=tuple(layouts))
