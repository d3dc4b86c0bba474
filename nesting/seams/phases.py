"""The pattern across: which phases every piece of a layout can take, and phases that the user's placement fixes."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.domain.job import PlacementWish, Room
from nesting.domain.material import Material
from nesting.floor.outlines import LayFloor
from nesting.seams.pieces import Piece

Phase = tuple[int | None, int | None]


def repeat_across_nm(material: Material, width_nm: int) -> int | None:
    """Return the repeat across of goods of one width, None where x is free.

    Goods known by their match at the side seam repeat with the pitch: usable width less overlap. Goods in hand of a
    width that is not made were cut from the first made width, and repeat as it does.
    """
    if material.pattern is None or material.pattern.across_nm is None:
        return None
    if material.pattern.at_seam:
        made = width_nm if width_nm in material.widths_nm else material.widths_nm[0]
        return made - 2 * material.selvedge_nm - material.seam_overlap_nm
    return material.pattern.across_nm


def pitch_nm(material: Material, width_nm: int) -> int:
    """Return how far a full breadth advances: the largest multiple of the repeat across that seams can join."""
    usable = width_nm - 2 * material.selvedge_nm - material.seam_overlap_nm
    repeat = repeat_across_nm(material, width_nm)
    return usable if repeat is None else usable // repeat * repeat


def have_common_phase(pieces: Sequence[Piece], width_nm: int, repeat_nm: int, fixed_nm: int | None) -> bool:
    """Tell whether one phase across lets every piece lie in goods of a width.

    A piece at u = o with the insets l and r lies at x = o + φ + m·Rx for a whole m; l ≤ x ≤ width − r − its width
    makes φ lie in an arc modulo Rx. A phase common to all arcs, if there is one, begins one of them.
    """
    arcs = []
    for piece in pieces:
        slack = width_nm - piece.inset_nm[0] - piece.inset_nm[1] - piece.box.width_nm
        if slack < 0:
            return False
        if slack < repeat_nm:
            arcs.append(((piece.inset_nm[0] - piece.box.x0_nm) % repeat_nm, slack))
    starts = [start for start, _ in arcs] if fixed_nm is None else [fixed_nm % repeat_nm]
    return not arcs or any(all((start - low) % repeat_nm <= slack for low, slack in arcs) for start in starts)


def placed_phases(room: Room, floor: LayFloor, across_nm: int | None, along_nm: int) -> tuple[Phase, ...] | str:
    """Return the phases that the room's placement asks for (None: free), or why it cannot be had.

    A pattern mark lies on the floor where u + φ ≡ 0 (and likewise along).
    """
    u0, v0, u1, v1 = floor.box
    wish = room.placement
    along = _phases_on(wish.along, (v0, v1), along_nm, _wall(room, floor, wish.along_wall, 1), wish.least_at_walls_nm)
    if isinstance(along, str):
        return along
    if across_nm is None:
        return tuple((None, phase) for phase in along)
    across = _phases_on(
        wish.across, (u0, u1), across_nm, _wall(room, floor, wish.across_wall, 0), wish.least_at_walls_nm
    )
    if isinstance(across, str):
        return across
    return tuple((one, other) for one in across for other in along)


def _wall(room: Room, floor: LayFloor, name: str, axis: int) -> int | None:
    """Return where a named wall lies on an axis, None where there is none that runs square to it."""
    for i, edge in enumerate(room.edges):
        if name and edge.wall == name:
            here, there = floor.outline[i], floor.outline[(i + 1) % len(floor.outline)]
            if abs(there[axis] - here[axis]) <= abs(there[1 - axis] - here[1 - axis]):
                return (here[axis] + there[axis]) // 2
    return None


def _phases_on(
    wish: PlacementWish, ends: tuple[int, int], repeat_nm: int, wall: int | None, least_nm: int
) -> tuple[int | None, ...] | str:
    """Return the phases along one axis, or why there is none."""
    low, high = ends
    middle = (low + high) // 2
    if wish is PlacementWish.MOTIF_CENTRED:
        return (-middle % repeat_nm,)
    if wish is PlacementWish.WHOLE_AT_WALL:
        return "no wall of that name lies there in this lay direction" if wall is None else (-wall % repeat_nm,)
    centred = (-middle % repeat_nm, (repeat_nm // 2 - middle) % repeat_nm)
    if wish is PlacementWish.BALANCED:
        best = max(centred, key=lambda phase: min(parts_at_walls_nm(phase, ends, repeat_nm)))
        short = min(parts_at_walls_nm(best, ends, repeat_nm)) < least_nm
        return "no balanced pattern leaves that much of a repeat at the walls" if short else (best,)
    if not least_nm:
        return (None,)
    at_walls = (-least_nm - low, least_nm - high, -low, -high)
    tries = (*centred, *(phase % repeat_nm for phase in at_walls))
    good = [phase for phase in tries if min(parts_at_walls_nm(phase, ends, repeat_nm)) >= least_nm]
    return tuple(dict.fromkeys(good)) if good else "no place of the pattern leaves that much of a repeat at both walls"


def parts_at_walls_nm(phase_nm: int, ends: tuple[int, int], repeat_nm: int) -> tuple[int, int]:
    """Return how much of a repeat lies at either wall, a whole one where a mark lies on the wall."""
    low, high = ends
    return (-phase_nm - low) % repeat_nm or repeat_nm, (high + phase_nm) % repeat_nm or repeat_nm
