"""Letting go of cuts that nothing uses any more: their room is gone, or measured again, or they are of another size."""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.done import CutState, DoneCut
from nesting.domain.material import Material
from nesting.domain.plan import MaterialPlan, Notice
from nesting.estimating.begun import Begun
from nesting.estimating.rooms_now import pinned_as_begun
from nesting.seams.candidates import candidates_of


def let_go(begun: Begun) -> None:
    """Let go of cuts whose room is gone or has another shape now: their goods serve again. What is laid stays."""
    owners = {owner.id for owner in begun.job.owners}
    for part in begun.plan.materials:
        material = next((item for item in begun.job.materials if item.id == part.material_id), None)
        misfits = _misfits(begun, part, material) if material is not None else set()
        names = {room.id: room.name for room in (*begun.plan.job.rooms, *begun.job.rooms)}
        for owner in sorted({cut.owner for cut in part.cuts if cut.id in begun.kept()}):
            if owner in owners and owner not in misfits:
                continue
            mine = [cut for cut in part.cuts if cut.owner == owner and cut.id in begun.kept()]
            numbers = ", ".join(str(cut.number) for cut in mine)
            name = names.get(owner, owner)
            gone = "is not in the job any more" if owner not in owners else "does not use it as it is now"
            if any(begun.made[cut.id] == CutState.LAID for cut in mine):
                what = f"cut {numbers} is laid, and {name} {gone}"
                begun.fault("laid-misfit", what, "check the measurements; what has to come up again is `spoiled`")
                continue
            begun.spoiled |= {cut.id for cut in mine}
            text = f"{name}: cut {numbers} was made and {gone}; the goods serve again"
            begun.notices.append(Notice(code="let-go", text=text, room_id=owner if owner in owners else ""))


def _misfits(begun: Begun, part: MaterialPlan, material: Material) -> set[str]:
    """Return the rooms, loose pieces and strips that cannot use what is cut of them."""
    if begun.job == begun.plan.job:
        return set()
    kept = begun.kept()
    cuts = [cut for cut in part.cuts if cut.id in kept]
    mine = {cut.owner for cut in cuts}
    # Rooms that match lie on one grid: it takes all of them to find it.
    beside = {room for match in begun.job.matches if mine & set(match) for room in match}
    layouts = {layout.room_id: layout for layout in part.layouts}
    rooms = [room for room in begun.job.rooms if room.id in mine | beside and room.material_id == material.id]
    trial = replace(
        begun.job,
        rooms=tuple(pinned_as_begun(room, layouts[room.id], None) for room in rooms if room.id in layouts),
        loose=tuple(piece for piece in begun.job.loose if piece.id in mine and piece.material_id == material.id),
        strips=tuple(strip for strip in begun.job.strips if strip.id in mine and strip.material_id == material.id),
        one_lot=(),
        done=tuple(DoneCut(cut=replace(cut, state=begun.made[cut.id]), source_id="", x_nm=0, y_nm=0) for cut in cuts),
    )
    found = candidates_of(trial, material)
    there = {owner.id for owner in trial.owners}
    return ({refusal.owner for refusal in found.refusals} | (mine - there)) & mine
