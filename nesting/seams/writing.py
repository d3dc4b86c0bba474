"""Drafts written out as laid rooms: cuts with allowances, seams with runs, lengths and preferences."""

from __future__ import annotations

from nesting.domain.geometry import Point
from nesting.domain.layout import (
    Allowance,
    AllowanceKind,
    CrossSeam,
    Cut,
    CutKind,
    ReliefCut,
    RoomLayout,
    Seam,
)
from nesting.floor.breadths import runs_along
from nesting.seams.coves import inserts, run_up_nm
from nesting.seams.crossings import crossing_runs
from nesting.seams.drafts import Draft, DraftPiece, bounds_of
from nesting.seams.laid import LaidRoom
from nesting.seams.preferences import dislike_nm


def written(draft: Draft, *, sequence: int = 0) -> LaidRoom:
    """Return a draft as a laid room. `sequence`: 1 drops in rising order of breadths, −1 falling, 0 any."""
    bench = draft.bench
    room, floor, ground = bench.room, bench.floor, bench.ground
    seams = tuple(
        Seam(at_nm=at, runs=tuple((round(v0), round(v1)) for v0, v1 in runs_along(ground.slabs, at)))
        for at in draft.seams
    )
    crossings, numbers = _crossings(draft)
    cuts = tuple(_cut(draft, item, i, numbers) for i, item in enumerate(draft.pieces, start=1))
    extra = inserts(ground, floor, bench.grid.step_nm, len(cuts) + 1)
    reliefs = tuple(
        ReliefCut(hole=slit.hole, cut_id=cut.id, start=slit.start, end=slit.end)
        for cut, item in zip(cuts, draft.pieces, strict=True)
        for slit in item.slits
    )
    along, across, ends = _lengths(seams, crossings, reliefs)
    run_up = sum(run_up_nm(floor, end) for end in ends) if any(side.cove_nm for side in floor.sides) else 0
    order = _sequence(draft, sequence)
    selvedge = bench.material.selvedge_nm
    return LaidRoom(
        layout=RoomLayout(
            room_id=room.id,
            direction=floor.direction,
            floor=floor.outline,
            holes=floor.holes,
            seams=seams,
            cross_seams=crossings,
            relief_cuts=reliefs,
        ),
        cuts=cuts + extra,
        insets_nm=tuple(item.piece.inset_nm for item in draft.pieces) + ((selvedge, selvedge),) * len(extra),
        seams=draft.count,
        seam_length_nm=along + across + run_up,
        dislike=dislike_nm(ground, along, across, ends),
        order_width_nm=draft.width_nm,
        phase_nm=draft.phase,
        sequence=order,
    )


def _crossings(draft: Draft) -> tuple[tuple[CrossSeam, ...], dict[tuple[int, int], int]]:
    """Return the cross seams and their numbers by breadth and place within it."""
    crossings: list[CrossSeam] = []
    numbers: dict[tuple[int, int], int] = {}
    for breadth, (across, levels) in enumerate(zip(bounds_of(draft.seams), draft.crossings, strict=True)):
        for place, level in enumerate(levels):
            numbers[breadth, place] = len(crossings)
            runs = crossing_runs(draft.bench.ground, across, level)
            crossings.append(CrossSeam(breadth=breadth, at_nm=level, runs=runs))
    return tuple(crossings), numbers


def _cut(draft: Draft, item: DraftPiece, number: int, numbers: dict[tuple[int, int], int]) -> Cut:
    room = draft.bench.room
    low = None if item.low is None else numbers[item.breadth, item.low]
    high = None if item.high is None else numbers[item.breadth, item.high]
    edges = {
        AllowanceKind.SEAM_LEFT: item.breadth - 1,
        AllowanceKind.SEAM_RIGHT: item.breadth,
        AllowanceKind.CROSS_LOW: -1 if low is None else low,
        AllowanceKind.CROSS_HIGH: -1 if high is None else high,
    }
    return Cut(
        id=f"{room.id}-{number}",
        number=0,
        kind=CutKind.DROP,
        owner=room.id,
        label=f"{room.name} {number}",
        rects=item.piece.rects,
        breadth=item.breadth,
        low=low,
        high=high,
        allowances=tuple(
            Allowance(kind=kind, edge=edges.get(kind, edge), full_nm=full, given_nm=given)
            for kind, edge, full, given in item.piece.margins
        ),
    )


def _lengths(
    seams: tuple[Seam, ...], crossings: tuple[CrossSeam, ...], reliefs: tuple[ReliefCut, ...]
) -> tuple[int, int, tuple[Point, ...]]:
    """Return the length of seam along the lay and across it, and the ends of all runs."""
    along, across, ends = 0, 0, []
    for seam in seams:
        for low, high in seam.runs:
            along += high - low
            ends += [(seam.at_nm, low), (seam.at_nm, high)]
    for crossing in crossings:
        for low, high in crossing.runs:
            across += high - low
            ends += [(low, crossing.at_nm), (high, crossing.at_nm)]
    for relief in reliefs:
        along += abs(relief.end[1] - relief.start[1])
        across += abs(relief.end[0] - relief.start[0])
        ends.append(relief.end)
    return along, across, tuple(ends)


def _sequence(draft: Draft, sense: int) -> tuple[int, ...]:
    """Return the order in which the drops come off the roll."""
    if not sense:
        return ()
    count = len(draft.pieces)
    order = sorted(range(count), key=lambda i: (draft.pieces[i].breadth * sense, i))
    return tuple(order)
