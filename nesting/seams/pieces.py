"""The pieces of a room between given seams: rough cuts, what is left on, and the selvedge to keep off."""

from __future__ import annotations

from dataclasses import dataclass, field

from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.job import Room
from nesting.domain.layout import AllowanceKind
from nesting.domain.material import Material
from nesting.floor.breadths import Slab, slabs_of
from nesting.floor.outlines import LayFloor, Side, door_is_seamed, half_up
from nesting.floor.parts import Levels, Part, levels_of, parts_between
from nesting.floor.rough_cuts import CutGrid, rough_cut, swept_corner
from nesting.seams.rules import Ground

MOST_RECTS = 12
"""A rough cut with oblique sides in more rectangles than this is drawn again with coarser steps."""

Margin = tuple[AllowanceKind, int, int, int]
"""(kind, edge, full, given): an allowance whose seam is not numbered yet (edge −1)."""

Bounds = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece before it is part of a layout."""

    part: Part
    rects: tuple[Rect, ...]
    box: Rect
    margins: tuple[Margin, ...]
    inset_nm: tuple[int, int]

    @property
    def area_nm2(self) -> int:
        """Area of the rough cut."""
        return sum(rect.area_nm2 for rect in self.rects)


@dataclass(slots=True, kw_only=True)
class Bench:
    """Where pieces of one room, direction and trim are worked out; each cell of the floor only once.

    `slabs` are those of `floor`, whose sides carry its own allowances (the ground's carry the full ones).
    `low_nm`, `high_nm`: the swept floor's extent across, on the cutting step.
    """

    room: Room
    material: Material
    ground: Ground
    floor: LayFloor
    slabs: tuple[Slab, ...]
    levels: Levels
    grid: CutGrid
    seam_nm: int
    low_nm: int
    high_nm: int
    seamed: frozenset[int]  # edges of doors that are seamed to the goods beyond
    done: dict[tuple[Bounds, Bounds], tuple[Piece, ...]] = field(default_factory=dict)

    def pieces(self, across: Bounds, along: Bounds = (None, None)) -> tuple[Piece, ...]:
        """Return the pieces between two seams and two cross seams (None: the end of the floor)."""
        key = (across, along)
        if key not in self.done:
            parts = parts_between(self.slabs, self.levels, across, along, self.seam_nm)
            self.done[key] = tuple(self._piece(part) for part in parts)
        return self.done[key]

    def _piece(self, part: Part) -> Piece:
        rects = _rough_cut(part, self.grid)
        margins = {(side.kind, side.edge, side.full_nm, side.given_nm): None for side in part.sides}
        return Piece(
            part=part,
            rects=rects,
            box=bounding_rect(rects),
            margins=tuple(margins),
            inset_nm=_insets(part, self.material.selvedge_nm, self.seamed),
        )


def bench_of(
    room: Room,
    material: Material,
    ground: Ground,
    floor: LayFloor,
    *,
    anchor: Point | None,
    useful_nm: tuple[int, int] | None,
) -> Bench:
    """Return the bench for a floor (its allowances full or less) on the ground of its room."""
    outer = floor.sides[: len(floor.outline)]
    u0, v0, u1, _ = swept_corner((outer,))
    step = material.cutting_step_nm
    grid = CutGrid(
        anchor_nm=anchor or (u0, v0),
        step_nm=step,
        oblique_step_nm=max(1, room.rules.step_nm),
        useful_nm=(useful_nm or (room.rules.notch_width_nm, room.rules.notch_length_nm),),
        whole=room.rules.whole_rectangles,
    )
    at = grid.anchor_nm[0]
    return Bench(
        room=room,
        material=material,
        ground=ground,
        floor=floor,
        slabs=slabs_of(floor),
        levels=levels_of(floor),
        grid=grid,
        seam_nm=half_up(material.seam_overlap_nm),
        low_nm=at + (u0 - at) // step * step,
        high_nm=at - (at - u1) // step * step,
        seamed=frozenset(i for i, edge in enumerate(room.edges) if edge.door and door_is_seamed(edge, room)),
    )


def _rough_cut(part: Part, grid: CutGrid) -> tuple[Rect, ...]:
    """Return the rough cut, with steps made coarser while it is in more pieces than anyone would cut."""
    rects = rough_cut(part, grid)
    step = grid.oblique_step_nm
    while len(rects) > MOST_RECTS and any(not side.straight for side in part.sides):
        step *= 2
        if step > 20 * grid.oblique_step_nm:
            break
        coarse = CutGrid(
            anchor_nm=grid.anchor_nm,
            step_nm=grid.step_nm,
            oblique_step_nm=step,
            useful_nm=grid.useful_nm,
            whole=grid.whole,
        )
        rects = rough_cut(part, coarse)
    return rects


def _insets(part: Part, selvedge_nm: int, seamed: frozenset[int]) -> tuple[int, int]:
    """Return the selvedge to keep off on the left and right: whole at a seam, else what the trim does not take."""
    if not selvedge_nm:
        return 0, 0
    sides = part.sides
    left = [side for side in sides if side.bv < side.av and side.with_lay]
    right = [side for side in sides if side.bv > side.av and side.with_lay]
    # a piece that comes to a point there has no trim to lose
    return tuple(  # type: ignore[return-value]
        max((_selvedge_left(side, selvedge_nm, seamed) for side in facing), default=selvedge_nm)
        for facing in (left, right)
    )


def _selvedge_left(side: Side, selvedge_nm: int, seamed: frozenset[int]) -> int:
    if side.kind in (AllowanceKind.SEAM_LEFT, AllowanceKind.SEAM_RIGHT):
        return selvedge_nm
    if side.kind is AllowanceKind.DOOR and side.edge in seamed:
        return selvedge_nm
    return 0 if side.kind is AllowanceKind.HOLE else max(0, selvedge_nm - side.given_nm)
