"""The sections of the site sheet on laying: rolls, gap, order of work, seams, protection."""

from __future__ import annotations

from nesting.domain.geometry import Rect
from nesting.domain.job import DoorJoint, Job
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, SourceKind
from nesting.domain.site import ReadingKind
from nesting.site.checks import Check, Section, measured_check
from nesting.site.sources import COMMON_PRACTICE, MAKER
from nesting.site.words import length_words
from nesting.units import both_systems

_KINDS = {SourceKind.ORDER: "roll to order", SourceKind.ROLL: "roll in hand", SourceKind.REMNANT: "remnant"}


def _size(nm: int, unit: str) -> str:
    own, other = both_systems(nm, unit)
    return f"{own} ({other})"


def _flaw_words(flaw: Rect, unit: str) -> str:
    """Return where a flaw lies: from the start and the left edge, face up."""
    size = f"{length_words(flaw.width_nm, unit)} across, {length_words(flaw.length_nm, unit)} along"
    return f"known flaw, {size}: {_size(flaw.y0_nm, unit)} from the start, {_size(flaw.x0_nm, unit)} from the left edge"


def rolls_section(job: Job, part: MaterialPlan) -> Section:
    """Return the inspection of every roll and remnant before it is cut: lot and flaws."""
    unit = job.unit.value
    checks = [_roll_check(source, unit) for source in part.sources]
    common = Check(
        what="All goods unrolled and looked at in good light before the first cut: shade, print, surface, edges, back",
        limit="no cut goods are taken back for what could be seen before",
        source=COMMON_PRACTICE,
        blanks=("looked at by, day",),
    )
    return Section(title="Roll inspection before cutting", checks=(common, *checks))


def _roll_check(source: CutSource, unit: str) -> Check:
    name = source.stock_id or source.id
    size = f"{_size(source.width_nm, unit)} wide, {_size(source.length_nm, unit)} long"
    lot = f"lot {source.lot}" if not source.lot.startswith("new lot") else f"{source.lot}, the same on every roll of it"
    return Check(
        what=f"{name} ({_KINDS[source.kind]}): lot, width, length, flaws",
        limit=f"{lot}; {size}",
        source="the plan",
        blanks=("lot on the label", "width, length measured", "flaws found: where, how large"),
        notes=tuple(_flaw_words(flaw, unit) for flaw in source.flaws),
    )


def gap_section(job: Job, material: Material) -> Section:
    """Return the gap at walls and fixtures."""
    bonded = job.site.limits_of(material.id).bonded_wet_room
    notes: tuple[str, ...]
    if bonded:
        notes = ("fully bonded wet-room work: no gap, the goods are bonded to the edge and sealed there",)
    else:
        notes = ("never on fully bonded wet-room work", f"goods stretched over grippers, or laid to a cove: {MAKER}")
    what = "Gap at walls, frames, pipes and fixtures, covered by skirting or sealant"
    check = measured_check(
        job, material, ReadingKind.GAP, what=what, blanks=("where, how wide",) if not bonded else (), notes=notes
    )
    return Section(title="Expansion gap", checks=(check,))


def order_section(job: Job, part: MaterialPlan) -> Section:
    """Return the order of work, with the rooms in the order in which the plan cuts them."""
    names = {owner.id: owner.name for owner in job.owners}
    numbers: dict[str, list[int]] = {}
    for cut in sorted(part.cuts, key=lambda cut: cut.number):
        numbers.setdefault(cut.owner, []).append(cut.number)
    cutting = "; ".join(f"{names.get(owner, owner)}: {_run(found)}" for owner, found in numbers.items())
    laid = {layout.room_id: len(layout.seams) + 1 for layout in part.layouts}
    laying = "; ".join(
        f"{names.get(room, room)}: {count} breadth{'s' if count > 1 else ''}" for room, count in laid.items()
    )
    steps = [
        ("Site tested and found fit, readings on this sheet", "before anything is cut"),
        ("Goods inspected and acclimatized", "before anything is cut"),
        ("Cut by number, each cut labelled, its lay direction marked on the back", cutting),
        ("Rooms laid dry, breadth by breadth, pattern and direction looked at before any adhesive", laying),
        ("Bonded or stretched, edges trimmed", MAKER),
        ("Seams made, then sealed or welded; door lines and edges finished", "after the goods have settled"),
    ]
    return Section(
        title="Order of work",
        checks=tuple(
            Check(what=f"{n}. {what}", limit=limit, source=COMMON_PRACTICE, blanks=("done by, day",))
            for n, (what, limit) in enumerate((step for step in steps if step[1]), start=1)
        ),
    )


def _run(numbers: list[int]) -> str:
    """Return numbers as 1-4, 7."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def seams_section(job: Job, material: Material, part: MaterialPlan) -> Section:
    """Return how the seams of the plan are made and closed."""
    unit, measures = job.unit.value, part.measures
    count = measures.seams + measures.cross_seams + measures.relief_cuts
    sides = ((room.id, door) for room in job.rooms if room.material_id == material.id for door in room.doors)
    joined = len({frozenset([(room, door.id), door.joined]) for room, door in sides if door.joint is DoorJoint.SEAM})
    if not count and not joined:
        check = Check(what="No seam in these rooms", source="the plan")
        return Section(title="Seams", checks=(check,))
    kinds = ((measures.seams, "seam"), (measures.cross_seams, "cross seam"), (measures.relief_cuts, "relief cut"))
    counted = [f"{number} {name}{'s' if number > 1 else ''}" for number, name in kinds if number]
    counted += [f"{_size(measures.seam_length_nm, unit)} in all"]
    counted += [f"{joined} door line{'s' if joined > 1 else ''} seamed"] if joined else []
    checks = [Check(what="Seams as on the plan", limit=", ".join(counted), source="the plan", blanks=("looked at by",))]
    if material.seam_overlap_nm:
        overlap = length_words(material.seam_overlap_nm, unit)
        text = f"Double cut: the breadths overlap by {overlap}, both are cut through at once with a sharp blade"
        checks.append(Check(what=text, limit="no gap, no peak", source=COMMON_PRACTICE, blanks=("seams cut by, day",)))
    else:
        trimmed = "edges trimmed of selvedge" if material.selvedge_nm else "factory edges"
        text = f"Butted on {trimmed}, not forced"
        checks.append(Check(what=text, limit="no gap, no peak", source=COMMON_PRACTICE, blanks=("seams made by, day",)))
    if material.pattern is not None:
        text = "Pattern meets along the whole seam, looked at before bonding"
        checks.append(Check(what=text, source=COMMON_PRACTICE, blanks=("off by, where",)))
    closing = "Sealed or welded in full, relief cuts too, before the floor is walked on or washed"
    checks.append(Check(what=closing, limit=MAKER, source=MAKER, blanks=("sealed or welded with", "by, day")))
    return Section(title="Seams", checks=tuple(checks))


def protection_section() -> Section:
    """Return how the floor is kept until it is handed over."""
    return Section(
        title="Protection",
        checks=(
            Check(
                what="No foot traffic, rolling loads, washing or furniture until adhesive and seams have set",
                limit=MAKER,
                source=MAKER,
                blanks=("free for feet from", "free for loads from"),
            ),
            Check(
                what="Covered with clean sheets or boards while others work; nothing that stains or stays damp below",
                source=COMMON_PRACTICE,
                blanks=("covered by, day",),
            ),
            Check(
                what="Handed over with care instructions and the pieces kept for repairs",
                source=COMMON_PRACTICE,
                blanks=("handed over to, day",),
            ),
        ),
    )
