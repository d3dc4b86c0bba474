"""How much of each kind a plan's rooms need: what it is reckoned from, in words and exactly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.domain.job import HoleKind
from nesting.domain.sundries import TRIMS, Amount, Fixing, Measure, Sundries, Sundry, SundryKind, Walls
from nesting.sundries.amounts import area, length, pieces
from nesting.sundries.measuring import RoomMeasures, WallRun, length_nm, wall_runs
from nesting.sundries.underlay import underlay_runs

MM = 1_000_000
_INCH_64TH = 25_400_000 // 64

ALL_HOLES = tuple(HoleKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing that a need is made up of, and how much of it there is."""

    what: str
    amount: Amount


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What the need for a product is reckoned from: the sum of its parts, all of one measure.

    `measured`: lengths that parts of another measure come from. `runs_nm`: the runs of what is cut from stock lengths.
    `notes`: rules that the words say.
    """

    parts: tuple[Part, ...]
    measured: tuple[Part, ...] = ()
    runs_nm: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def total(self) -> Amount:
        """Return the sum of the parts."""
        total = sum((part.amount.quantity for part in self.parts), Fraction(0))
        return replace(self.parts[0].amount, quantity=total)


def basis_of(sundry: Sundry, rooms: Sequence[RoomMeasures], sundries: Sundries) -> Basis:
    """Return what the need for a product is reckoned from, over the rooms that it is for."""
    return _BASES[sundry.kind](sundry, rooms, sundries)


def spread_along(sundry: Sundry, room: RoomMeasures, sundries: Sundries) -> bool:
    """Tell whether adhesive goes along the perimeter of a room, with no width known."""
    how = sundries.laid_how(room.room.material_id)
    return how.fixing is Fixing.PERIMETER and sundry.band_nm is None


def _parts(*parts: tuple[str, Amount]) -> tuple[Part, ...]:
    """Return the parts that there are; the first one even if it is nothing."""
    out = [Part(what=what, amount=amount) for what, amount in parts]
    return tuple([part for part in out if part.amount.quantity] or out[:1])


# --- by area ---------------------------------------------------------------------------------------------------------


def _primer(_: Sundry, rooms: Sequence[RoomMeasures], __: Sundries) -> Basis:
    return Basis(parts=_parts(("floor", area(sum(room.floor_nm2 for room in rooms)))))


def _adhesive(sundry: Sundry, rooms: Sequence[RoomMeasures], sundries: Sundries) -> Basis:
    """Adhesive under the whole sheet and up its coves, or in a band along the perimeter and beside the seams."""
    along = [room for room in rooms if sundries.laid_how(room.room.material_id).fixing is Fixing.PERIMETER]
    spread = [room for room in rooms if room not in along]
    edge = sum(_perimeter_nm(room) for room in along)
    seams = sum(room.seamed_nm for room in along)
    if along and not spread and sundry.band_nm is None:
        return Basis(parts=_parts(("perimeter", length(edge)), ("seams", length(seams))))
    band = sundry.band_nm or 0
    return Basis(
        parts=_parts(
            ("floor", area(sum(room.floor_nm2 for room in spread))),
            ("up coves", area(sum(room.cove_nm2 for room in spread))),
            ("band along the perimeter", area(edge * band)),
            ("band on either side of seams", area(2 * seams * band)),
        ),
        measured=_parts(("perimeter", length(edge)), ("seams", length(seams))) if along else (),
    )


def _underlay(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """Underlay by its own width: run beside run, room by room; by the floor's area where the width is not known."""
    if sundry.width_nm is None:
        return Basis(parts=_parts(("floor", area(sum(room.floor_nm2 for room in rooms)))))
    parts = []
    for room in rooms:
        runs = underlay_runs(room.floor, sundry.width_nm)
        what = f"{room.room.name}, {runs.runs} {'run' if runs.runs == 1 else 'runs'}"
        parts.append(Part(what=what, amount=length(runs.length_nm)))
    note = "run beside run, along or across whichever is less, joined within a run"
    return Basis(parts=tuple(parts) or _parts(("floor", length(0))), notes=(note,))


# --- by length -------------------------------------------------------------------------------------------------------


def _tape(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """Tape under the edge at every door line (both sides of one that joins rooms), round fixtures, under the seams."""
    doors = sum(door.width_nm for room in rooms for door in room.doors if not door.seamed)
    return Basis(
        parts=_parts(
            ("seams", length(sum(room.seamed_nm for room in rooms))),
            ("doorways", length(doors)),
            ("around what is cut out", length(_around_nm(sundry, rooms, (HoleKind.FIXTURE,)))),
        )
    )


def _seams(_: Sundry, rooms: Sequence[RoomMeasures], __: Sundries) -> Basis:
    return Basis(parts=_parts(("seams", length(sum(room.seamed_nm for room in rooms)))))


def _weld_rod(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """Rod for the seams with their runs up the cove, and for the cove's corners.

    Once up an inside corner, twice up an outside one, on both sides of its insert; along the foot of coved walls only
    where cove and floor are cut apart.
    """
    foot = sum(room.cove_nm for room in rooms) if sundry.cove_joints else 0
    return Basis(
        parts=_parts(
            ("seams", length(sum(room.seamed_nm for room in rooms))),
            ("inside corners of the cove", length(sum(room.inside_nm for room in rooms))),
            (
                "outside corners of the cove, twice",
                length(2 * sum(room.outside_nm for room in rooms)),
            ),
            ("foot of the cove", length(foot)),
        )
    )


def _caulk(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """Return the perimeter to caulk, or its volume where the gap is known: perimeter × gap × depth, in ml."""
    around = _around_nm(sundry, rooms, (HoleKind.FIXTURE,))
    if sundry.gap_nm is None:
        return Basis(parts=_parts(("around what is cut out", length(around))))
    depth = sundry.gap_nm if sundry.depth_nm is None else sundry.depth_nm
    joint = Amount(measure=Measure.VOLUME, quantity=Fraction(around * sundry.gap_nm * depth, 10**21))
    notes = ("as deep as the gap is wide (common practice)",) if sundry.depth_nm is None else ()
    return Basis(
        parts=_parts(("in the gap", joint)), measured=_parts(("around what is cut out", length(around))), notes=notes
    )


def _around_nm(sundry: Sundry, rooms: Sequence[RoomMeasures], usual: Sequence[HoleKind]) -> int:
    kinds = tuple(usual) if sundry.around is None else sundry.around
    free = sum(nm for room in rooms for kind, nm in room.around if kind in kinds)
    return free + sum(run.length_nm for room in rooms for run in room.walls if run.cut_out in kinds)


def _perimeter_nm(room: RoomMeasures) -> int:
    """Return the length of all edges of the sheet in a room but seamed doors."""
    walls = sum(run.length_nm for run in room.walls)
    return walls + sum(door.width_nm for door in room.doors if not door.seamed) + sum(nm for _, nm in room.around)


# --- in runs ---------------------------------------------------------------------------------------------------------


def _gripper(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """Gripper along the perimeter less the doors, and around what stands free in the floor."""
    runs = [run.length_nm for room in rooms for run in room.walls]
    kinds = tuple(ALL_HOLES) if sundry.around is None else sundry.around
    free = [nm for room in rooms for kind, nm in room.around if kind in kinds]
    return Basis(
        parts=_parts(("perimeter less doors", length(sum(runs))), ("around what stands free", length(sum(free)))),
        runs_nm=tuple(map(_to_cut, [*runs, *free])),
    )


def _transition(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """One strip per doorway, one where two rooms join at it; by length where strips are sold so."""
    doors = [door.width_nm for room in rooms for door in room.doors if door.first and not door.seamed]
    by_length = bool(sundry.lengths) or any(
        amount is not None and amount.measure is Measure.LENGTH
        for amount in (sundry.rate.basis if sundry.rate else None, None if sundry.rate else sundry.pack)
    )
    total = length(sum(doors)) if by_length else pieces(len(doors))
    return Basis(parts=_parts(("doorways", total)), runs_nm=tuple(map(_to_cut, doors)))


def _trim(sundry: Sundry, rooms: Sequence[RoomMeasures], _: Sundries) -> Basis:
    """Trim along the walls, doors and fixtures out; around what else is cut out where that is asked for."""
    runs: list[int] = []
    around: list[int] = []
    kinds = () if sundry.around is None else sundry.around
    for room in rooms:
        without = {wall for ident, wall in sundry.without if ident == room.room.id}
        for run in wall_runs(room.room, without):
            if run.jamb or not _runs_along(sundry, room, run):
                continue
            if run.cut_out in (None, HoleKind.COLUMN):
                runs.append(run.length_nm)
            elif run.cut_out in kinds:
                around.append(run.length_nm)
        for hole in room.room.holes:
            if hole.kind in kinds:
                around += [length_nm(hole.outline[i - 1], corner) for i, corner in enumerate(hole.outline)]
    return Basis(
        parts=_parts(("walls less doors", length(sum(runs))), ("around what is cut out", length(sum(around)))),
        runs_nm=tuple(map(_to_cut, [*runs, *around])),
    )


def _runs_along(sundry: Sundry, room: RoomMeasures, run: WallRun) -> bool:
    """Tell whether a trim runs along a wall.

    Where nothing is said a cove runs where the sheet runs up, or along all walls of a room where it nowhere does; the
    others run where it does not.
    """
    walls = sundry.walls
    if walls is None:
        coved = any(other.cove_nm for other in room.walls)
        walls = (Walls.COVED if coved else Walls.ALL) if sundry.kind is SundryKind.COVE else Walls.PLAIN
    return walls is Walls.ALL or (walls is Walls.COVED) == bool(run.cove_nm)


def _to_cut(nm: int) -> int:
    """Return a length as it is cut: exact in millimetres or 1/64 in, else up to the next millimetre."""
    return nm if nm % MM == 0 or nm % _INCH_64TH == 0 else -(-nm // MM) * MM


_BASES: dict[SundryKind, Callable[[Sundry, Sequence[RoomMeasures], Sundries], Basis]] = {
    SundryKind.PRIMER: _primer,
    SundryKind.ADHESIVE: _adhesive,
    SundryKind.TAPE: _tape,
    SundryKind.UNDERLAY: _underlay,
    SundryKind.GRIPPER: _gripper,
    SundryKind.SEAM_SEALER: _seams,
    SundryKind.WELD_ROD: _weld_rod,
    SundryKind.SEAMING_TAPE: _seams,
    SundryKind.CAULK: _caulk,
    SundryKind.TRANSITION: _transition,
    **dict.fromkeys(TRIMS, _trim),
}
