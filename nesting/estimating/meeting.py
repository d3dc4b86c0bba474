"""Goods whose pattern was never measured: it is known beside their own cuts, and cannot meet that of other goods."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nesting.domain.geometry import Point
from nesting.domain.layout import CutKind
from nesting.domain.material import StockPiece
from nesting.domain.plan import Plan
from nesting.errors import Fault, JobError
from nesting.estimating.on_hand import Roll

OFFCUT = re.compile(r"-offcut-[0-9]+$")


def rolls_of_assumed(stock: Sequence[StockPiece], came_of: Mapping[str, str]) -> dict[str, str]:
    """Return for goods whose phase is only assumed the roll that they come of; they agree with what comes of the same.

    `came_of`: what is known, by id. Else an offcut comes of what it is named after, and what a spoiled cut left of the
    one roll of its lot, or nobody knows of which.
    """
    assumed = {piece.id: piece for piece in stock if piece.phase_assumed}
    found: dict[str, str] = {}
    for ident, piece in assumed.items():
        base = came_of.get(ident, ident)
        while OFFCUT.search(base) and base not in came_of.values():
            base = OFFCUT.sub("", base)
        if base.startswith("cut-") and ident not in came_of:
            alike = [
                other.id
                for other in assumed.values()
                if (other.material_id, other.lot) == (piece.material_id, piece.lot)
                and not OFFCUT.search(other.id)
                and not other.id.startswith("cut-")
            ]
            base = alike[0] if len(alike) == 1 else base
        found[ident] = base
    return found


def as_measured(stock: Sequence[StockPiece], rolls: Sequence[Roll], beside: Mapping[str, str]) -> list[StockPiece]:
    """Return the goods with what comes of a roll whose first mark was measured at last at its true phase."""
    drifts: dict[str, Point] = {}
    for roll in rolls:
        was, now = roll.source.phase_nm, roll.phase()
        if roll.source.id in beside and roll.is_marked and was is not None and now[0] is not None:
            drifts[beside[roll.source.id]] = (now[0][0] - was[0], now[0][1] - was[1])
    told = {roll.source.id for roll in rolls if roll.is_marked}
    return [_moved(piece, drifts.get(beside.get(piece.id, "")), piece.id in told) for piece in stock]


def _moved(piece: StockPiece, drift: Point | None, told: bool) -> StockPiece:
    if drift is None or told or piece.phase_nm is None or not piece.phase_assumed:
        return piece
    x, y = piece.phase_nm
    return replace(piece, phase_nm=(x + drift[0], y + drift[1]), phase_assumed=False)


def see_that_patterns_meet(plan: Plan, beside: Mapping[str, str]) -> None:
    """See that no room takes goods of an assumed phase together with goods that do not come of the same roll.

    Raises
    ------
    JobError
        It has to: only the first mark of that roll can tell how they meet.
    """
    assumed = {piece.id for piece in plan.job.stock if piece.phase_assumed}
    faults: list[Fault] = []
    for part in plan.materials:
        owners = {cut.id: cut.owner for cut in part.cuts if cut.kind is CutKind.DROP}
        for group in part.phase_groups:
            on = sorted({p.source_id for p in part.placements if owners.get(p.cut_id) in group.room_ids})
            of = {beside.get(name, name) if name in assumed else "" for name in on}
            if len(of) < 2:
                continue
            names = " and ".join(name for name in sorted(of) if name)
            what = f"the pattern of {names} has to meet that of other goods, and was never measured"
            hint = "give its `first mark` under `delivered`: where it lies from the left edge and the start"
            faults.append(Fault(code="first-mark-needed", what=what, hint=hint))
    if faults:
        raise JobError(list(dict.fromkeys(faults)))
