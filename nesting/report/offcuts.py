"""Where each offcut goes, in words."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.lying import mark_text
from nesting.domain.plan import OffcutUse, Plan
from nesting.report.cuts import Both, both


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutRow:
    """One offcut worth keeping. `stays`: with the client, for repairs; else it goes back to the shop."""

    id: str
    material: str
    lot: str
    across: Both
    along: Both
    source: str
    from_start: Both
    from_left: Both
    mark: str
    stays: bool


def offcut_rows(plan: Plan) -> list[OffcutRow]:
    """Return the offcuts that are kept, material by material, in the order in which they are come upon."""
    rows = []
    for part in plan.materials:
        material = next(item for item in plan.job.materials if item.id == part.material_id)
        sources = {source.id: source for source in part.sources}
        for offcut in part.offcuts:
            source, rect = sources[offcut.source_id], offcut.rect
            rows.append(
                OffcutRow(
                    id=offcut.id,
                    material=material.name,
                    lot=offcut.lot,
                    across=both(rect.width_nm, plan.job, "down"),
                    along=both(rect.length_nm, plan.job, "down"),
                    source=source.stock_id or source.id,
                    from_start=both(rect.y0_nm, plan.job),
                    from_left=both(rect.x0_nm, plan.job),
                    mark=mark_text(material, source, offcut.phase_nm, plan.job.unit.value),
                    stays=offcut.use is OffcutUse.CLIENT,
                )
            )
    return rows


def materials_without_repair_piece(plan: Plan) -> list[str]:
    """Return the names of the materials of which no piece is left for repairs."""
    names = {material.id: material.name for material in plan.job.materials}
    return [
        names[part.material_id]
        for part in plan.materials
        if not any(offcut.use is OffcutUse.CLIENT for offcut in part.offcuts)
    ]
