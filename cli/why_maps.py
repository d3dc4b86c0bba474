"""The maps of `why`: where every roll and remnant goes, as plain data for drawing."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from cli.why_page import SAID, gone_text
from nesting.domain.geometry import Rect
from nesting.domain.job import Job
from nesting.domain.plan import CutSource, MaterialPlan, Plan, SourceKind
from nesting.drawing import GoodsMap, MapArea, MapPiece, goods_map
from nesting.estimating.account import IN_PIECES, Reason, SourceAccount, empty_places
from nesting.estimating.shares import in_steps
from nesting.estimating.why import MaterialWhy
from nesting.model.finishing import turned_rects
from nesting.units import format_length

ROLES = {
    Reason.REPEAT: "lost-repeat",
    Reason.BESIDE: "lost-beside",
    Reason.SELVEDGE: "lost-selvedge",
    Reason.FLAWS: "lost-flaws",
    Reason.SQUARING: "lost-squaring",
    Reason.STARTING: "lost-starting",
    Reason.ROUNDING: "lost-end",
    Reason.MINIMUM: "lost-more",
    Reason.WHOLE_ROLLS: "lost-end",
    Reason.REST: "lost-end",
}


def why_maps(plan: Plan, found: Sequence[MaterialWhy]) -> dict[str, str]:
    """Return a map of every source as SVG text, by file name."""
    files: dict[str, str] = {}
    taken: set[str] = set()
    for item in found:
        part = next(one for one in plan.materials if one.material_id == item.material_id)
        places = empty_places(plan.job, part)
        for account, source in zip(item.accounts, part.sources, strict=True):
            stem = wish = f"goods-{re.sub(r'[^A-Za-z0-9_-]+', '-', source.id).strip('-')[:80]}"
            number = 1
            while stem.lower() in taken:
                number += 1
                stem = f"{wish}-{number}"
            taken.add(stem.lower())
            files[f"{stem}.svg"] = goods_map(map_of(plan.job, part, source, account, places[source.id]))
    return files


def map_of(
    job: Job,
    part: MaterialPlan,
    source: CutSource,
    account: SourceAccount,
    places: Mapping[Reason, tuple[Rect, ...]],
) -> GoodsMap:
    """Return what a map of one source shows."""
    shares = dict(zip(Reason, in_steps([item.nm2 for item in account.parts], 1000), strict=True))
    amounts = {item.reason: item.nm2 for item in account.parts}

    def said(reason: Reason) -> str:
        return f"{SAID[reason]} {shares[reason] / 10:.1f} %"

    def length(nm: int) -> str:
        return format_length(nm, job.unit.value, with_unit=True)

    name = next(material.name for material in job.materials if material.id == part.material_id)
    what = "to order" if source.kind is SourceKind.ORDER else f"{source.kind.value} in hand"
    inside = [reason for reason in Reason if reason in IN_PIECES and amounts[reason]]
    return GoodsMap(
        title=f"{job.name}: where {source.id} goes",
        lines=(f"{name}, {what}: {length(source.length_nm)} of {length(source.width_nm)} wide{gone_text(source)}",),
        notes=(f"Of all goods the pieces are: {', '.join(said(reason) for reason in inside)}.",),
        unit=job.unit,
        width_nm=source.width_nm,
        length_nm=source.length_nm,
        pieces=_pieces(part, source),
        pieces_text=f"pieces {sum(shares[reason] for reason in inside) / 10:.1f} %",
        areas=tuple(
            MapArea(role=ROLES[reason], text=said(reason), rects=rects)
            for reason, rects in places.items()
            if rects and amounts[reason]
        ),
        kept=tuple(offcut.rect for offcut in part.offcuts if offcut.source_id == source.id),
        gone=source.gone,
    )


def _pieces(part: MaterialPlan, source: CutSource) -> tuple[MapPiece, ...]:
    cuts = {cut.id: cut for cut in part.cuts}
    return tuple(
        MapPiece(
            number=str(cuts[place.cut_id].number),
            name=cuts[place.cut_id].label,
            rects=turned_rects(cuts[place.cut_id].rects, place.turn, place.x_nm, place.y_nm),
        )
        for place in part.placements
        if place.source_id == source.id
    )
