"""V5g and V5h: offcuts are goods that are left, worth keeping, and labelled with the right lot and phase."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor

from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.whole import disjoint, mesh_of, overlap
from nesting.domain.plan import Offcut, OffcutUse


def check_offcuts(view: View) -> Iterator[Finding]:
    """V5g: an offcut lies inside its source, free of all else, and is worth keeping.

    It touches no piece, flaw, start allowance or other offcut, and nothing that is gone.
    """
    for source in view.part.sources:
        offcuts = [offcut for offcut in view.part.offcuts if offcut.source_id == source.id]
        taken = [rect for cut in view.on_source[source.id] for rect in view.lying[cut.id]]
        taken += [*source.flaws, *source.gone]
        for offcut in offcuts:
            rect = offcut.rect
            faults = []
            inside = rect.x0_nm >= 0 and rect.x1_nm <= source.width_nm and rect.y1_nm <= source.length_nm
            if not inside or rect.y0_nm < source.start_allowance_nm:
                faults.append(f"does not lie inside {source.id}")
            if any(overlap(rect, other) for other in taken):
                faults.append("lies on a piece, a flaw or what is gone")
            if not _worth_keeping(view, offcut):
                faults.append("is too small to keep")
            if offcut.lot != source.lot:
                faults.append(f"is of lot {source.lot}")
            for text in faults:
                yield Finding(rule="V5g", where=f"offcut {offcut.id}", text=text)
        if not disjoint(offcut.rect for offcut in offcuts):
            yield Finding(rule="V5g", where=f"source {source.id}", text="has offcuts that overlap")


def _worth_keeping(view: View, offcut: Offcut) -> bool:
    """Tell whether an offcut reaches one of the sizes, either way round; a piece for repairs may be smaller."""
    if offcut.use is OffcutUse.CLIENT:
        return True
    short, long = sorted((offcut.rect.width_nm, offcut.rect.length_nm))
    return any(short >= min(size) and long >= max(size) for size in view.job.offcuts.sizes_nm)


def check_offcut_phases(view: View) -> Iterator[Finding]:
    """V5h: an offcut's phase is that of its source at its corner, reduced to the fundamental domain."""
    for offcut in view.part.offcuts:
        source = view.sources[offcut.source_id]
        mesh = mesh_of(view.material, source.width_nm)
        where = f"offcut {offcut.id}"
        if mesh is None or source.phase_nm is None:
            if offcut.phase_nm is not None:
                yield Finding(rule="V5h", where=where, text="has a phase though the goods have no pattern")
            continue
        if offcut.phase_nm is None:
            if source.phase_known:
                yield Finding(rule="V5h", where=where, text="has no phase though its source's is known")
            continue
        x = source.phase_nm[0] + offcut.rect.x0_nm
        y = source.phase_nm[1] + offcut.rect.y0_nm
        across, along = mesh.reduced(x, y)
        given_x, given_y = offcut.phase_nm
        right = given_y in (floor(along), ceil(along) % mesh.along) and (mesh.across is None or given_x == across)
        if not right:
            text = f"has phase {offcut.phase_nm}, not ({across}, {floor(along)})"
            yield Finding(rule="V5h", where=where, text=text)
