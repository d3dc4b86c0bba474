"""A room laid again with given seams and cross seams, for every width of goods, trim and phase that allows it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import Room
from nesting.domain.layout import RoomLayout
from nesting.domain.material import Material
from nesting.domain.pins import PinnedLayout
from nesting.domain.rules import RuleId
from nesting.seams.drafts import Draft, Faults, Trial, drafted
from nesting.seams.family import family_of, last_allowed
from nesting.seams.laid import Goods, LaidRoom
from nesting.seams.making import Maker
from nesting.seams.splitting import has_lawful_counts
from nesting.seams.writing import written

SENSES = (0, 1, -1)
"""The orders in which the drops of a room may come off the roll."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """The lines of a layout: seams, and cross seams by breadth, each in rising order."""

    direction: LayDirection
    seams: tuple[int, ...]
    crossings: tuple[tuple[int, ...], ...]

    @classmethod
    def of(cls, layout: RoomLayout) -> Lines:
        """Return the lines of a layout as it was planned."""
        cross = [(seam.breadth, seam.at_nm) for seam in layout.cross_seams]
        return cls.drawn(layout.direction, tuple(seam.at_nm for seam in layout.seams), tuple(cross))

    @classmethod
    def pinned(cls, layout: PinnedLayout) -> Lines:
        """Return the lines of a pinned layout."""
        return cls.drawn(layout.direction, layout.seams_nm, layout.cross_seams_nm)

    @classmethod
    def drawn(cls, direction: LayDirection, seams: tuple[int, ...], cross: tuple[tuple[int, int], ...]) -> Lines:
        """Return the lines of seams at u and of cross seams as (breadth, v)."""
        crossings = (tuple(sorted(at for breadth, at in cross if breadth == n)) for n in range(len(seams) + 1))
        return cls(direction=direction, seams=seams, crossings=tuple(crossings))


def laid_again(
    room: Room,
    material: Material,
    goods: Goods,
    lines: Lines,
    *,
    useful_nm: tuple[int, int] | None,
    anchor: Point | None,
    faults: Faults,
) -> Iterator[LaidRoom]:
    """Yield the room laid with the lines of a layout; the rules that forbid it are noted in `faults`."""
    senses = SENSES[1:] if material.in_sequence else SENSES[:1]
    for draft in drafts_again(room, material, goods, lines, useful_nm=useful_nm, anchor=anchor, faults=faults):
        yield from (written(draft, sequence=sense) for sense in senses)


def drafts_again(
    room: Room,
    material: Material,
    goods: Goods,
    lines: Lines,
    *,
    useful_nm: tuple[int, int] | None,
    anchor: Point | None,
    faults: Faults,
) -> Iterator[Draft]:
    """Yield the drafts with the lines of a layout."""
    maker = Maker(
        room=room,
        material=material,
        goods=goods,
        family=family_of(room, material, lines.direction),
        useful_nm=useful_nm,
        anchor=anchor,
        faults=faults,
        lays=1,
    )
    full = maker.bench()
    for width, order_width in maker.widths():
        less = maker.less_trim(full, width)
        benches = [full, maker.bench(less_sides_nm=less)] if less else [full]
        benches += [maker.bench(less_sides_nm=less, less_ends_nm=ends) for ends in maker.less_ends(full)]
        for bench, phase in ((bench, phase) for phase in maker.phases(width) for bench in benches):
            trial = Trial(room=room, material=material, goods=goods, family=maker.family, bench=bench, faults=faults)
            for line, bound in maker.on_seam_lines(maker.line(bench, width), width, phase):
                if any(last_allowed(line.allowed, seam) != seam for seam in lines.seams):
                    continue
                if not has_lawful_counts(trial, lines.seams, lines.crossings):
                    faults.add(RuleId.CROSS_SEAMS)
                    continue
                draft = drafted(trial, lines.seams, lines.crossings, order_width, bound if lines.seams else phase, 0)
                if draft is not None:
                    yield draft
