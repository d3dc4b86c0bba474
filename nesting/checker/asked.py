"""V1m and V1n: the loose pieces and the strips that were asked for, all of them and in the sizes asked for."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.checker.coverage import seam_allowance_nm
from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.whole import up_to
from nesting.domain.job import LoosePiece, Strip
from nesting.domain.layout import Cut
from nesting.domain.material import Material, Turning


def by_item(cuts: tuple[Cut, ...]) -> dict[int, list[Cut]]:
    """Return the cuts of a loose piece or strip by the item or run that they belong to."""
    items: dict[int, list[Cut]] = {}
    for cut in cuts:
        items.setdefault(cut.of_item, []).append(cut)
    return items


def check_loose(view: View) -> Iterator[Finding]:
    """V1m: of every loose piece the count asked for is cut, each whole or of no more parts than it may have."""
    for item in view.job.loose:
        if item.material_id != view.material.id:
            continue
        items = by_item(view.cuts_of(item.id))
        first = min(items, default=0)
        if len(items) != item.count or first not in (0, 1) or max(items, default=first) != first + item.count - 1:
            yield Finding(rule="V1m", where=item.id, text=f"{len(items)} are cut, {item.count} are asked for")
        for number, cuts in sorted(items.items()):
            for text in _wrong_loose(view, item, cuts):
                yield Finding(rule="V1m", where=f"{item.id} {number}", text=text)


def _sizes(view: View, cut: Cut, turnable: bool, width_nm: int) -> tuple[int, int]:
    """Return a cut's extent across the piece asked for and along it."""
    corner = view.corners[cut.id]
    if turnable and corner.width_nm != width_nm and corner.length_nm == width_nm:
        return corner.length_nm, corner.width_nm
    return corner.width_nm, corner.length_nm


def turnable(material: Material) -> bool:
    """Tell whether loose pieces, strips and inserts may be laid across the roll."""
    return material.turning is Turning.FREE and material.pattern is None


def _wrong_loose(view: View, item: LoosePiece, cuts: list[Cut]) -> Iterator[str]:
    step, half = view.material.cutting_step_nm, seam_allowance_nm(view.material)
    width = up_to(item.width_nm, step)
    sizes = [_sizes(view, cut, turnable(view.material), width) for cut in cuts]
    if any(view.corners[cut.id].area_nm2 != sum(rect.area_nm2 for rect in cut.rects) for cut in cuts):
        yield "is no whole rectangle"
    if any(across != width for across, _ in sizes):
        yield f"is not {width} nm wide"
    if len(cuts) > max(1, item.most_parts):
        yield f"is made up of {len(cuts)} parts, {item.most_parts} are allowed"
    needed = item.length_nm + 2 * half * (len(cuts) - 1)
    total = sum(along for _, along in sizes)
    if not needed <= total < needed + len(cuts) * step:
        yield f"is {total} nm long with its joints, {needed} nm are needed"
    if len(cuts) > 1 and any(along < item.least_part_nm for _, along in sizes):
        yield "has a part that is too short"


def check_strips(view: View) -> Iterator[Finding]:
    """V1n: every run of every strip is cut in full, in its width, with joints no closer than allowed."""
    for strip in view.job.strips:
        if strip.material_id != view.material.id:
            continue
        items = by_item(view.cuts_of(strip.id))
        first = min(items, default=0)
        if set(items) != set(range(first, first + len(strip.runs_nm))) or first not in (0, 1):
            yield Finding(
                rule="V1n", where=strip.id, text=f"{len(items)} runs are cut, not each of {len(strip.runs_nm)}"
            )
            continue
        for number, run in enumerate(strip.runs_nm, start=first):
            for text in _wrong_run(view, strip, run, items[number]):
                yield Finding(rule="V1n", where=f"{strip.id} run {number}", text=text)


def _wrong_run(view: View, strip: Strip, run_nm: int, cuts: list[Cut]) -> Iterator[str]:
    step = view.material.cutting_step_nm
    width = up_to(strip.width_nm, step)
    sizes = [_sizes(view, cut, turnable(view.material), width) for cut in cuts]
    if any(view.corners[cut.id].area_nm2 != sum(rect.area_nm2 for rect in cut.rects) for cut in cuts):
        yield "is not cut in whole rectangles"
    if any(across != width for across, _ in sizes):
        yield f"is not {width} nm wide"
    total = sum(along for _, along in sizes)
    slack = len(cuts) * (step + 2 * seam_allowance_nm(view.material))
    if not run_nm <= total < run_nm + slack:
        yield f"is {total} nm long, the run {run_nm} nm"
    # Two joints are apart by the piece between them; the pieces at the two ends of a run lie between no joints.
    if sum(along < strip.least_joint_nm for _, along in sizes) > 2:
        yield f"has joints closer than {strip.least_joint_nm} nm"
