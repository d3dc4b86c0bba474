"""What a cut is called and how it is said in words."""

from __future__ import annotations

from nesting.domain.geometry import bounding_rect
from nesting.domain.job import LoosePiece, Room, Strip
from nesting.domain.layout import Cut
from nesting.domain.plan import CutSource, Plan, SourceKind
from nesting.drawing.flags import flagged
from nesting.drawing.lengths import size_text
from nesting.drawing.metrics import clean


def cut_name(plan: Plan, cut: Cut) -> str:
    """Return what people call a cut; the room's name where the cut has no label."""
    owners: list[Room | LoosePiece | Strip] = [*plan.job.rooms, *plan.job.loose, *plan.job.strips]
    name = next((clean(owner.name) for owner in owners if owner.id == cut.owner), "")
    return clean(cut.label) or name or clean(cut.owner)


def said(plan: Plan, cut: Cut, source: CutSource | None, flag: str) -> str:
    """Return a cut in a sentence: its number, its name, its rough size, and the goods that it is cut from."""
    box = bounding_rect(cut.rects)
    size = size_text(box.width_nm, box.length_nm, plan.job.unit, with_unit=True)
    goods = "" if source is None else "remnant" if source.kind is SourceKind.REMNANT else "roll"
    place = f" on {goods} {clean(source.id)}" if source is not None else ""
    return flagged(f"Cut {cut.number}, {cut_name(plan, cut)}: {size}{place}", flag)
