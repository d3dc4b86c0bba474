"""What is left of a job in which something is cut: the job that sharper bounds look at, and what is settled.

A room of which something is cut has its layout pinned, so its seams are known; what is cut lies where it was cut.
Leaving out such rooms, but for drops whose size every plan gives alike, asks no more of the goods than any plan does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from nesting.domain.done import DoneCut
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import Job, LoosePiece, Room, Strip
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import Material, StockPiece
from nesting.domain.plan import MaterialPlan
from nesting.model.finishing import rects_made


def left_to_cut(job: Job, material: Material, plan: MaterialPlan) -> tuple[Job, int]:
    """Return the job without what is cut, and the seams, cross seams and relief cuts of the rooms left out.

    Every lawful plan of the job gives one of the returned job that orders no more. Rooms of which something is cut are
    left out, with the drops that are still to be cut as loose pieces where their size is sure. Goods in hand are
    shortened by what is wholly taken at their start.
    """
    begun, made = job.begun, job.made
    if not begun:
        return job, 0
    rooms = {room.id: room for room in job.rooms}
    open_drops = tuple(
        LoosePiece(
            id=f"drop of {cut.id}",
            name="",
            material_id=material.id,
            width_nm=bounding_rect(cut.rects).width_nm,
            length_nm=bounding_rect(cut.rects).length_nm,
        )
        for cut in plan.cuts
        if cut.owner in begun
        and cut.id not in made
        and cut.owner in rooms
        and _is_sure(rooms[cut.owner], material, cut)
    )
    there = sum(
        len(layout.seams) + len(layout.cross_seams) + len(layout.relief_cuts)
        for layout in plan.layouts
        if layout.room_id in begun
    )
    left = replace(
        job,
        rooms=tuple(room for room in job.rooms if room.id not in begun),
        loose=(*(_loose_left(item, job.done) for item in job.loose if _is_left(item, job.done)), *open_drops),
        strips=tuple(_strip_left(strip, job.done) for strip in job.strips if _runs_left(strip, job.done)),
        stock=tuple(_shortened(piece, job.done) for piece in job.stock if _taken_nm(piece, job.done) < piece.length_nm),
        done=(),
    )
    return left, there


def _is_sure(room: Room, material: Material, cut: Cut) -> bool:
    """Tell whether every plan cuts a drop of a begun room at least as large: a plain rectangle, with one trim only.

    Loose pieces keep off the selvedge on both sides, drops need not at walls: with a selvedge nothing is sure.
    """
    plain = len(room.outline) == 4 and not room.holes and len(cut.rects) == 1
    one_trim = room.least_trim_nm is None and room.least_end_trim_nm is None
    return plain and one_trim and cut.kind is CutKind.DROP and material.selvedge_nm == 0


def _items_begun(owner: str, done: Sequence[DoneCut]) -> set[int]:
    return {item.cut.of_item for item in done if item.cut.owner == owner}


def _is_left(item: LoosePiece, done: Sequence[DoneCut]) -> bool:
    return len(_items_begun(item.id, done)) < item.count


def _loose_left(item: LoosePiece, done: Sequence[DoneCut]) -> LoosePiece:
    return replace(item, count=item.count - len(_items_begun(item.id, done)))


def _runs_left(strip: Strip, done: Sequence[DoneCut]) -> tuple[int, ...]:
    begun = _items_begun(strip.id, done)
    return tuple(run for number, run in enumerate(strip.runs_nm) if number not in begun)


def _strip_left(strip: Strip, done: Sequence[DoneCut]) -> Strip:
    return replace(strip, runs_nm=_runs_left(strip, done))


def _shortened(piece: StockPiece, done: Sequence[DoneCut]) -> StockPiece:
    """Return goods without the part at their start that is wholly taken; the pattern stays where it is."""
    taken = _taken_nm(piece, done)
    phase = None if piece.phase_nm is None else (piece.phase_nm[0], piece.phase_nm[1] + taken)
    return replace(piece, length_nm=piece.length_nm - taken, phase_nm=phase, flaws=(), gone=())


def _taken_nm(piece: StockPiece, done: Sequence[DoneCut]) -> int:
    """Return up to where goods are gone or cut over their whole width."""
    taken = [*piece.gone, *rects_made(done, piece.id)]
    far = 0
    for low, high in pairwise(sorted({0, *(edge for rect in taken for edge in (rect.y0_nm, rect.y1_nm))})):
        if _covered_nm(taken, low, high) < piece.width_nm:
            break
        far = high
    return far


def _covered_nm(rects: Sequence[Rect], low_nm: int, high_nm: int) -> int:
    """Return how much of the width disjoint rectangles cover between two lengths with no edge between them."""
    return sum(rect.width_nm for rect in rects if rect.y0_nm <= low_nm and rect.y1_nm >= high_nm)


def done_areas(job: Job) -> dict[str, int]:
    """Return the area of what is cut, by the names that certificates use: room, and item of a loose piece or strip."""
    found: dict[str, int] = {}
    for item in job.done:
        cut = item.cut
        match cut.kind:
            case CutKind.DROP:
                name = f"room:{cut.owner}"
            case CutKind.INSERT:
                name = f"insert:{cut.owner}"
            case _:
                name = f"item:{cut.owner}#{cut.of_item + 1}"
        found[name] = found.get(name, 0) + sum(rect.area_nm2 for rect in cut.rects)
    return found


def free_nm2(piece: StockPiece, done: Sequence[DoneCut]) -> int:
    """Return the area of goods in hand that is neither gone nor cut."""
    taken = (*piece.gone, *rects_made(done, piece.id))
    return piece.width_nm * piece.length_nm - sum(rect.area_nm2 for rect in taken)
