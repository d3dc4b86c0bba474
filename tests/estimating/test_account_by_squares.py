"""The account of tiny plans against one taken square by square, by the words of its definition alone."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from nesting.domain.geometry import Rect
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, SourceKind
from nesting.estimating.account import Reason, account_of
from nesting.pipeline import Settings, plan_job
from tests.making import UNIT_NM, job_of
from tests.tiny_jobs import tiny_job

Square = tuple[int, int]


def squares(rect: Rect) -> set[Square]:
    assert all(side % UNIT_NM == 0 for side in rect)
    x0, y0, x1, y1 = (side // UNIT_NM for side in rect)
    return {(x, y) for x in range(x0, x1) for y in range(y0, y1)}


def lying(plan: MaterialPlan, source: CutSource) -> dict[str, set[Square]]:
    """Return the squares of every cut on a source. Tiny goods are never turned but by half a turn or a quarter."""
    cuts = {cut.id: cut for cut in plan.cuts}
    found = {}
    for place in plan.placements:
        if place.source_id == source.id:
            cells = {cell for rect in cuts[place.cut_id].rects for cell in squares(rect)}
            for _ in range(place.turn):
                cells = {(-y, x) for x, y in cells}
            left, low = min(x for x, _ in cells), min(y for _, y in cells)
            x, y = place.x_nm // UNIT_NM, place.y_nm // UNIT_NM
            found[place.cut_id] = {(u - left + x, v - low + y) for u, v in cells}
    return found


def lost_to_the_repeat(pieces: dict[str, set[Square]], gone: set[Square], start: int, along: int) -> set[Square]:
    """Slide every drop square by square towards the start; what is left of it without whole repeats is lost."""
    lost = set()
    for name, cells in pieces.items():
        others = gone.union(*(other for other_name, other in pieces.items() if other_name != name))
        slide = 0
        while all(y - slide - 1 >= start and (x, y - slide - 1) not in others for x, y in cells):
            slide += 1
        rest = slide % along
        lost |= {(x, y - back) for x, y in cells for back in range(1, rest + 1)} - cells
    return lost


def by_squares(plan: MaterialPlan, material: Material, source: CutSource) -> Counter[tuple[Reason, bool]]:
    """Return how many squares of what is empty have each reason, kept and not."""
    pieces = lying(plan, source)
    covered = set().union(*pieces.values())
    gone = {cell for rect in source.gone for cell in squares(rect)}
    kept = {cell for cut in plan.offcuts if cut.source_id == source.id for cell in squares(cut.rect)}
    width, length = source.width_nm // UNIT_NM, source.length_nm // UNIT_NM
    start, squaring = source.start_allowance_nm // UNIT_NM, material.squaring_nm // UNIT_NM
    lost_x, lost_y = (side // UNIT_NM for side in source.phase_loss_nm)
    step = material.sale.order_step_nm // UNIT_NM
    far = max(y for _, y in covered) + 1
    lost = set()
    if material.pattern is not None:
        lost = lost_to_the_repeat(pieces, gone, start, material.pattern.along_nm // UNIT_NM)

    def reason(x: int, y: int) -> Reason:
        if y < start:
            return Reason.SQUARING if y < squaring else Reason.STARTING
        if x >= width - lost_x or y >= length - lost_y:
            return Reason.STARTING
        if (x, y) in lost:
            return Reason.REPEAT
        if y < far:
            return Reason.BESIDE
        if source.kind is not SourceKind.ORDER:
            return Reason.REST
        return Reason.ROUNDING if y < -(-far // step) * step else Reason.MINIMUM

    empty = ((x, y) for x in range(width) for y in range(length) if (x, y) not in covered | gone)
    return Counter((reason(x, y), (x, y) in kept) for x, y in empty)


def spread(plan: MaterialPlan, by: int) -> MaterialPlan:
    """Return the plan with its cuts drawn apart along, one by one: no lawful plan, but an account has to add up."""
    order = sorted(plan.placements, key=lambda place: (place.y_nm, place.x_nm))
    ranks = {place.cut_id: rank for rank, place in enumerate(order)}
    far = by * len(order) * UNIT_NM
    return replace(
        plan,
        placements=tuple(
            replace(place, y_nm=place.y_nm + by * ranks[place.cut_id] * UNIT_NM) for place in plan.placements
        ),
        sources=tuple(replace(source, length_nm=source.length_nm + far) for source in plan.sources),
        offcuts=(),
    )


def partly_gone(plan: MaterialPlan, by: int) -> MaterialPlan:
    """Return the plan with some of its empty squares gone: whole columns of them, and single ones."""

    def gone(source: CutSource) -> tuple[Rect, ...]:
        covered = set().union(*lying(plan, source).values())
        whole = squares(Rect(0, 0, source.width_nm, source.length_nm))
        cells = sorted(cell for cell in whole - covered if (cell[0] + by) % 4 == 0 or (cell[0] + 5 * cell[1]) % 7 == by)
        return tuple(Rect(x * UNIT_NM, y * UNIT_NM, (x + 1) * UNIT_NM, (y + 1) * UNIT_NM) for x, y in cells)

    return replace(plan, sources=tuple(replace(source, gone=gone(source)) for source in plan.sources), offcuts=())


FEATURES = [
    ("pattern",),
    ("pattern", "rooms"),
    ("pattern", "stock", "rooms"),
    ("stock", "rooms"),
    ("overlap",),
    ("widths",),
]


@pytest.mark.parametrize("features", FEATURES, ids="-".join)
def test_empty_goods_are_as_counted_square_by_square(features: tuple[str, ...]) -> None:
    seen: Counter[Reason] = Counter()
    there = 0
    for seed in range(2000, 2006):
        a_job = job_of(tiny_job(seed, *features))
        whole = plan_job(a_job, Settings(effort=0)).plan
        if whole is None or not whole.by_the_rules:
            continue
        apart = spread(whole.materials[0], seed % 5)
        for plan in (whole.materials[0], apart, partly_gone(apart, seed % 5)):
            for account, source in zip(account_of(a_job, plan), plan.sources, strict=True):
                counted = by_squares(plan, a_job.materials[0], source)
                assert account.goods_nm2 == sum(part.nm2 for part in account.parts)
                there += bool(source.gone) and account.gone_nm2 == len(source.gone) * UNIT_NM**2
                for part in account.parts[7:]:
                    kept = counted[part.reason, True]
                    assert part.kept_nm2 == kept * UNIT_NM**2, (seed, part)
                    assert part.nm2 == (kept + counted[part.reason, False]) * UNIT_NM**2, (seed, part)
                    seen[part.reason] += part.nm2 // UNIT_NM**2
    assert seen[Reason.BESIDE] and there
    assert bool(seen[Reason.REPEAT]) == ("pattern" in features)
    assert bool(seen[Reason.REST]) == ("stock" in features)
