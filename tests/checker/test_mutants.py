"""Mutants of good plans: whatever is moved, swapped, shrunk or miswritten is caught."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.plan import MaterialPlan, Plan, SourceKind
from tests.checker.faults import cut, first, part, place, source
from tests.checker.plans import PLANS

GOOD = {name: build() for name, build in PLANS.items()}
names = st.sampled_from(sorted(GOOD))
by_one = st.sampled_from((-1, 1))

TIGHT = sorted(name for name, plan in GOOD.items() if name not in ("flawed", "coved", "bench", "asked_for", "turning"))
"""Plans whose drops lie one behind the other without a gap, or bound by their pattern."""


def _part(plan: Plan) -> MaterialPlan:
    return plan.materials[0]


def _pick(data: st.DataObject, items: tuple[object, ...]) -> int:
    assume(items)
    return data.draw(st.integers(0, len(items) - 1))


@given(st.data(), st.sampled_from(TIGHT), by_one)
def test_a_piece_moved_along_by_a_nanometre(data: st.DataObject, name: str, by: int) -> None:
    plan = GOOD[name]
    spot = _part(plan).placements[_pick(data, _part(plan).placements)]
    assert check_plan(place(plan, spot.cut_id, dy=by)) != ()


GROUPED = sorted(name for name, plan in GOOD.items() if plan.materials[0].phase_groups)


@given(st.data(), st.sampled_from(sorted({*GROUPED} - {"along_only"})), by_one)
def test_a_patterned_piece_moved_across_by_a_nanometre(data: st.DataObject, name: str, by: int) -> None:
    plan = GOOD[name]
    spot = _part(plan).placements[_pick(data, _part(plan).placements)]
    assert check_plan(place(plan, spot.cut_id, dx=by)) != ()


def _swaps() -> list[tuple[str, str, str]]:
    """Return pairs of pieces that may not change places.

    Plain pieces of one size may, and so may those that lie outermost in a sequence of three. Loose pieces that may be
    turned often fit into one another's places.
    """
    found = []
    for name, plan in GOOD.items():
        if name == "asked_for":
            continue
        material = plan.job.materials[0]
        varied = material.pattern is not None and material.pattern.across_nm is not None
        for one, other in combinations(_part(plan).cuts, 2):
            sizes = {(box.width_nm, box.length_nm) for box in (bounding_rect(one.rects), bounding_rect(other.rects))}
            mirrored = material.in_sequence and abs(one.breadth - other.breadth) == 2
            if (varied or len(sizes) == 2 or material.in_sequence) and not mirrored:
                found.append((name, one.id, other.id))
    return found


@given(st.sampled_from(_swaps()))
def test_two_pieces_swapped(pair: tuple[str, str, str]) -> None:
    name, one, other = pair
    plan = GOOD[name]
    spots = {spot.cut_id: spot for spot in _part(plan).placements}
    for here, there in ((one, spots[other]), (other, spots[one])):
        plan = place(plan, here, x_nm=there.x_nm, y_nm=there.y_nm, source_id=there.source_id, turn=there.turn)
    assert check_plan(plan) != ()


@given(st.data(), names, st.sampled_from(("x0_nm", "y0_nm", "x1_nm", "y1_nm")))
def test_a_piece_shrunk_by_a_nanometre(data: st.DataObject, name: str, side: str) -> None:
    plan = GOOD[name]
    item = _part(plan).cuts[_pick(data, _part(plan).cuts)]
    number = _pick(data, item.rects)
    rect: Rect = item.rects[number]
    smaller = rect._replace(**{side: getattr(rect, side) + (1 if side.endswith("0_nm") else -1)})
    rects = (*item.rects[:number], smaller, *item.rects[number + 1 :])
    assert check_plan(cut(plan, item.id, rects=rects)) != ()


whole_drops = st.sampled_from(sorted({*GROUPED} - {"third_drop"}))  # a third of a nanometre is lost in rounding


@given(st.data(), whole_drops, by_one)
def test_a_phase_changed(data: st.DataObject, name: str, by: int) -> None:
    plan = GOOD[name]
    groups, offcuts = _part(plan).phase_groups, [o for o in _part(plan).offcuts if o.phase_nm is not None]
    x, y = groups[0].phase_nm
    changed = [
        first(plan, "phase_groups", phase_nm=(x, y + by)),
        *(source(plan, s.id, phase_nm=(s.phase_nm[0], s.phase_nm[1] + by)) for s in _part(plan).sources if s.phase_nm),
        *(first(plan, "offcuts", phase_nm=(o.phase_nm[0] + by, o.phase_nm[1])) for o in offcuts[:1] if o.phase_nm),
    ]
    assert check_plan(data.draw(st.sampled_from(changed))) != ()


@given(st.data(), names, by_one)
def test_a_price_or_length_changed(data: st.DataObject, name: str, by: int) -> None:
    plan = GOOD[name]
    item = _part(plan).sources[_pick(data, _part(plan).sources)]
    changed = [source(plan, item.id, cost=item.cost + by), source(plan, item.id, length_nm=item.length_nm + by)]
    changed.append(source(plan, item.id, used_nm=item.used_nm + by))
    changed.append(source(plan, item.id, width_nm=item.width_nm + by))
    if item.kind is SourceKind.ORDER:
        line = _part(plan).order[0]
        changed.append(first(plan, "order", cost=line.cost + by))
        changed.append(first(plan, "order", length_nm=line.length_nm + by))
        changed.append(first(plan, "order", lot=line.lot + "x"))
    assert check_plan(data.draw(st.sampled_from(changed))) != ()


@given(names, st.sampled_from(("goods_nm2", "pieces_nm2", "offcuts_nm2", "start_nm2", "waste_nm2")), by_one)
def test_a_figure_of_the_account_changed(name: str, figure: str, by: int) -> None:
    plan = GOOD[name]
    account = _part(plan).account
    assert check_plan(part(plan, account=replace(account, **{figure: getattr(account, figure) + by}))) != ()


FIGURES = (
    "roll_nm2",
    "seams",
    "cross_seams",
    "relief_cuts",
    "seam_length_nm",
    "joins",
    "cuts",
    "goods_cost",
    "total_cost",
    "leftover_nm2",
)


@given(names, st.sampled_from(FIGURES), st.sampled_from((-2, 2)))
def test_a_measure_changed(name: str, figure: str, by: int) -> None:
    plan = GOOD[name]
    measures = _part(plan).measures
    assert check_plan(part(plan, measures=replace(measures, **{figure: getattr(measures, figure) + by}))) != ()


with_offcuts = st.sampled_from(sorted(name for name, plan in GOOD.items() if plan.materials[0].offcuts))


@given(st.data(), with_offcuts, st.sampled_from(("x0_nm", "y0_nm", "x1_nm", "y1_nm")), by_one)
def test_an_offcut_changed(data: st.DataObject, name: str, side: str, by: int) -> None:
    plan = GOOD[name]
    offcuts = _part(plan).offcuts
    number = _pick(data, offcuts)
    rect = offcuts[number].rect
    moved = replace(offcuts[number], rect=rect._replace(**{side: getattr(rect, side) + by}))
    assert check_plan(part(plan, offcuts=(*offcuts[:number], moved, *offcuts[number + 1 :]))) != ()


@given(st.data(), names, st.sampled_from((-5_000_000, -1, 1, 5_000_000)))
def test_a_seam_moved(data: st.DataObject, name: str, by: int) -> None:
    plan = GOOD[name]
    layouts = _part(plan).layouts
    number = _pick(data, layouts)
    seams = layouts[number].seams
    which = _pick(data, seams)
    moved = replace(seams[which], at_nm=seams[which].at_nm + by)
    changed = replace(layouts[number], seams=(*seams[:which], moved, *seams[which + 1 :]))
    assert check_plan(part(plan, layouts=(*layouts[:number], changed, *layouts[number + 1 :]))) != ()


@settings(max_examples=60)
@given(st.data(), names, by_one)
def test_an_allowance_changed(data: st.DataObject, name: str, by: int) -> None:
    plan = GOOD[name]
    item = _part(plan).cuts[_pick(data, _part(plan).cuts)]
    number = _pick(data, item.allowances)
    allowance = item.allowances[number]
    field = data.draw(st.sampled_from(("full_nm", "given_nm", "edge")))
    assume(field != "given_nm" or (name != "less_trim" or by > 0))
    changed = replace(allowance, **{field: getattr(allowance, field) + by})
    allowances = (*item.allowances[:number], changed, *item.allowances[number + 1 :])
    assert check_plan(cut(plan, item.id, allowances=allowances)) != ()
