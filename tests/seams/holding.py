"""One layout held against the independent checker's rules for layouts, each cut on a roll of its own."""

from __future__ import annotations

from dataclasses import replace

from nesting.checker import check_plan
from nesting.domain.job import Job, PatternPlacement, Room, Unit
from nesting.domain.material import Material
from nesting.domain.plan import Account, CutSource, MaterialPlan, Measures, PhaseGroup, Placement, Plan, SourceKind
from nesting.seams.laid import LaidRoom

LAYOUT_RULES = (
    *("V1a", "V1b", "V1c", "V1d", "V1e", "V1f", "V1g", "V1h", "V1i", "V1j", "V1k", "V1l"),
    *("V2a", "V2e", "V3e", "V3f", "V4a", "V4b", "V4c", "V4d", "V4e", "V4f", "V4g", "V4h", "V4i", "V4s", "V4t", "V4u"),
)


def broken_rules(room: Room, material: Material, laid: LaidRoom, stock_width_nm: int = 0) -> list[str]:
    """Return what the checker finds wrong with a layout; widths of goods are those of its order or of the stock."""
    width = max(stock_width_nm, laid.order_width_nm or max(material.widths_nm))
    length = material.longest_nm or 1 << 50
    sources = tuple(
        CutSource(
            id=f"roll {cut.id}",
            kind=SourceKind.ORDER,
            width_nm=width,
            length_nm=length,
            lot="new",
            start_allowance_nm=material.squaring_nm,
        )
        for cut in laid.cuts
    )
    placements = tuple(
        Placement(
            cut_id=cut.id,
            source_id=f"roll {cut.id}",
            x_nm=left,
            y_nm=material.squaring_nm,
        )
        for cut, (left, _) in zip(laid.cuts, laid.insets_nm, strict=True)
    )
    phase = (laid.phase_nm[0] or 0, laid.phase_nm[1] or 0)
    placed = room.placement != PatternPlacement()
    group = PhaseGroup(room_ids=(room.id,), phase_nm=phase, placed=placed)
    groups = (group,) if material.pattern is not None else ()
    none = Measures(
        ordered_nm=(),
        used_nm=(),
        roll_nm2=0,
        seams=0,
        cross_seams=0,
        relief_cuts=0,
        seam_length_nm=0,
        joins=0,
        cuts=0,
        goods_cost=0,
        total_cost=0,
        leftover_nm2=0,
    )
    part = MaterialPlan(
        material_id=material.id,
        layouts=(laid.layout,),
        cuts=tuple(replace(cut, number=i) for i, cut in enumerate(laid.cuts, start=1)),
        sources=sources,
        placements=placements,
        phase_groups=groups,
        offcuts=(),
        order=(),
        account=Account(goods_nm2=0, pieces_nm2=0, offcuts_nm2=0, start_nm2=0, waste_nm2=0, floor_nm2=0),
        measures=none,
        bounds=(),
        bound_considered=0,
    )
    job = Job(name="layout", unit=Unit.MM, materials=(material,), rooms=(room,))
    plan = Plan(job=job, materials=(part,), seed=0, effort=0, versions=())
    return [f"{item.rule} {item.where}: {item.text}" for item in check_plan(plan) if item.rule.startswith(LAYOUT_RULES)]
