"""A planted fault for every rule of the checker: a plan that breaks just that rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from nesting.domain.done import DoneCut
from nesting.domain.geometry import LayDirection, Rect
from nesting.domain.job import Access, JointBelow, KeepOut, LoosePiece, PatternPlacement, PlacementWish
from nesting.domain.layout import CutKind, ReliefCut
from nesting.domain.material import Sale
from nesting.domain.pins import OneLot, PinnedSeam, RoomPins
from nesting.domain.plan import Bound, ByHand, Certificate, Consent, MaterialPlan, OffcutUse, Placement, Plan
from nesting.domain.rules import Goal, GoalKind, RuleId, ValueRule
from tests.checker import plans
from tests.checker.drafting import FULL, MM, M, costed, piece, rules, settled, summed

# ---- edits: of a named thing in a plan of one material ----


def part(plan: Plan, **changes: Any) -> Plan:
    return replace(plan, materials=(replace(plan.materials[0], **changes),))


def _named(plan: Plan, field: str, key: str, name: str, **changes: Any) -> Plan:
    items = getattr(plan.materials[0], field)
    assert any(getattr(item, key) == name for item in items), name
    return part(plan, **{field: tuple(replace(i, **changes) if getattr(i, key) == name else i for i in items)})


def cut(plan: Plan, name: str, **changes: Any) -> Plan:
    return _named(plan, "cuts", "id", name, **changes)


def place(plan: Plan, name: str, dx: int = 0, dy: int = 0, **changes: Any) -> Plan:
    (spot,) = (item for item in plan.materials[0].placements if item.cut_id == name)
    return _named(plan, "placements", "cut_id", name, **{"x_nm": spot.x_nm + dx, "y_nm": spot.y_nm + dy} | changes)


def source(plan: Plan, name: str = "roll-1", **changes: Any) -> Plan:
    return _named(plan, "sources", "id", name, **changes)


def layout(plan: Plan, name: str = "hall", **changes: Any) -> Plan:
    return _named(plan, "layouts", "room_id", name, **changes)


def room(plan: Plan, name: str = "hall", **changes: Any) -> Plan:
    rooms = tuple(replace(item, **changes) if item.id == name else item for item in plan.job.rooms)
    return job(plan, rooms=rooms)


def job(plan: Plan, **changes: Any) -> Plan:
    return replace(plan, job=replace(plan.job, **changes))


def goods(plan: Plan, **changes: Any) -> Plan:
    return job(plan, materials=(replace(plan.job.materials[0], **changes),))


def stock(plan: Plan, name: str, **changes: Any) -> Plan:
    return job(plan, stock=tuple(replace(item, **changes) if item.id == name else item for item in plan.job.stock))


def first(plan: Plan, field: str, **changes: Any) -> Plan:
    items = getattr(plan.materials[0], field)
    return part(plan, **{field: (replace(items[0], **changes), *items[1:])})


def made(plan: Plan, name: str, *, of: dict[str, Any] | None = None, **changes: Any) -> Plan:
    """Return the plan with its job saying otherwise where a cut was made, or (`of`) what it is."""
    assert any(item.cut.id == name for item in plan.job.done), name
    return job(
        plan,
        done=tuple(
            replace(item, cut=replace(item.cut, **(of or {})), **changes) if item.cut.id == name else item
            for item in plan.job.done
        ),
    )


def _of(plan: Plan) -> MaterialPlan:
    return plan.materials[0]


def _allowance(plan: Plan, name: str, number: int, **changes: Any) -> Plan:
    (item,) = (item for item in _of(plan).cuts if item.id == name)
    changed = [replace(a, **changes) if i == number else a for i, a in enumerate(item.allowances)]
    return cut(plan, name, allowances=tuple(changed))


def _without(plan: Plan, name: str) -> Plan:
    """Return the plan less one cut, numbered again."""
    kept = [item for item in _of(plan).cuts if item.id != name]
    return part(
        plan,
        cuts=tuple(replace(item, number=number) for number, item in enumerate(kept, start=1)),
        placements=tuple(item for item in _of(plan).placements if item.cut_id != name),
    )


# ---- work that is done ----


def done_of_other_goods() -> Plan:
    plan = plans.begun_rooms()
    tiles = replace(plan.job.materials[0], id="tiles")
    return stock(job(plan, materials=(*plan.job.materials, tiles)), "roll-1", material_id="tiles")


def done_twice() -> Plan:
    plan = plans.begun_rooms()
    (one, _) = plan.job.done
    return job(plan, done=(*plan.job.done, replace(one, x_nm=0, y_nm=7_270 * MM)))


def _gone(*rects: Rect) -> Plan:
    """Return the plan of three rooms with other goods gone from its roll in hand, in job and plan alike."""
    plan = stock(plans.begun_rooms(), "roll-1", gone=rects)
    return settled(source(plan, "roll-1", gone=rects))


START = Rect(0, 0, 3 * M, 50 * MM)
CORNER = Rect(2_800 * MM, 11 * M, 3 * M, 11_400 * MM)


def drop_where_goods_are_gone() -> Plan:
    return _gone(START, CORNER._replace(x0_nm=2_565 * MM - 1))


def gone_within_the_shift() -> Plan:
    """Goods are gone beyond the piece, but not beyond where it may come to lie once the phase is known."""
    flawed = flaw_within_the_shift()
    gone = flawed.job.stock[0].flaws
    plan = stock(source(flawed, "rest-1", flaws=(), gone=gone), "rest-1", flaws=(), gone=gone)
    return settled(plan)


def mat_in_the_way_of_the_shift() -> Plan:
    """A mat was cut from goods of unknown phase, beside a drop that may yet shift on to it."""
    plan = plans.unknown_remnants()
    mat = LoosePiece(id="mat", name="Mat", material_id="goods", width_nm=300 * MM, length_nm=300 * MM)
    whole = replace(piece("mat-1", CutKind.LOOSE, "mat", 300 * MM, 300 * MM), number=3, state="cut")
    spot = Placement(cut_id="mat-1", source_id="rest-1", x_nm=2_300 * MM, y_nm=3_200 * MM)
    plan = job(plan, loose=(mat,), done=(DoneCut(cut=whole, source_id="rest-1", x_nm=spot.x_nm, y_nm=spot.y_nm),))
    return settled(part(plan, cuts=(*_of(plan).cuts, whole), placements=(*_of(plan).placements, spot)))


def gone_forgotten() -> Plan:
    return settled(source(plans.begun_rooms(), "roll-1", gone=(START,)))


def gone_from_an_order() -> Plan:
    return settled(source(plans.begun_rooms(), "roll-2", gone=(Rect(2_990 * MM, 0, 3 * M, 50 * MM),)))


def off_the_pinned_phase() -> Plan:
    (x, y) = (55 * MM, 40 * MM)
    return room(plans.begun_half_drop(), pins=RoomPins(phase_nm=(x + 500 * MM, y)))


def pinned_phase_and_not_anchored() -> Plan:
    """Nothing but the pin binds a new roll, of which only the repeat is known."""
    return room(plans.half_drop(), pins=RoomPins(phase_nm=(55 * MM, 40 * MM)))


def done_elsewhere() -> Plan:
    """The study was cut from a roll that the plan does not use."""
    plan = plans.begun_rooms()
    other = replace(plan.job.stock[0], id="roll-0", gone=())
    return settled(made(job(plan, stock=(*plan.job.stock, other)), "study-1", source_id="roll-0"))


def done_on_goods_of_another_name() -> Plan:
    """The goods are the ones that were cut, but the plan calls them otherwise."""
    plan = source(plans.begun_rooms(), "roll-1", id="roll-0")
    places = tuple(
        replace(item, source_id="roll-0") if item.source_id == "roll-1" else item for item in _of(plan).placements
    )
    return first(part(plan, placements=places), "offcuts", source_id="roll-0")


def done_left_out() -> Plan:
    plan = plans.begun_rooms()
    (_, study) = plan.job.done
    more = replace(study, cut=replace(study.cut, id="study-2", rects=(Rect(0, 0, M, 100 * MM),)), y_nm=11_200 * MM)
    return settled(job(plan, done=(*plan.job.done, more)))


def done_smaller() -> Plan:
    (rect,) = _of(plans.begun_rooms()).cuts[2].rects
    smaller = rect._replace(y1_nm=rect.y1_nm - 5 * MM)
    return settled(made(plans.begun_rooms(), "study-1", of={"rects": (smaller,)}))


def done_of(**changes: Any) -> Plan:
    return settled(made(plans.begun_rooms(), "study-1", of=changes))


def gone_counted_as_goods() -> Plan:
    plan = plans.begun_rooms()
    account, gone = _of(plan).account, START.area_nm2 + CORNER.area_nm2
    changed = replace(account, goods_nm2=account.goods_nm2 + gone, waste_nm2=account.waste_nm2 + gone)
    return part(plan, account=changed)


def offcut_where_goods_are_gone() -> Plan:
    plan = plans.begun_rooms()
    (item,) = _of(plan).offcuts
    return settled(first(plan, "offcuts", rect=item.rect._replace(y1_nm=item.rect.y1_nm + 1)))


HALL = 5_110 * MM * 4_110 * MM + 20 * MM * 4_110 * MM - 2_565 * MM * 4_110 * MM
"""The hall with one overlap all along, less the drop that is laid: what is still to be cut of it."""


def _in_hand_nm2() -> int:
    """Return what is still there of the roll in hand, by itself: less start, corner and the two drops."""
    gone = START.area_nm2 + CORNER.area_nm2
    return 3 * M * 11_400 * MM - gone - 2_565 * MM * 4_110 * MM - 2_610 * MM * 3_110 * MM


def laid_drop_still_to_cut() -> Plan:
    """The drop that is laid is taken off the goods in hand, but not off what its room needs, by one nm²."""
    value = HALL + 1 - _in_hand_nm2()
    assert value < 0
    return _certified(plans.begun_rooms(), 0, ("room:hall", HALL + 1), ("stock", -_in_hand_nm2()))


def cut_room_still_to_cut() -> Plan:
    return _certified(plans.begun_rooms(), 0, ("room:study", 1), ("stock", -_in_hand_nm2()))


def done_taken_off_the_stock_twice() -> Plan:
    twice = _in_hand_nm2() - 2_610 * MM * 3_110 * MM
    return _certified(plans.begun_rooms(), HALL - twice, ("room:hall", HALL), ("stock", -twice))


# ---- V1: structure and coverage ----


def two_of_a_name() -> Plan:
    plan = plans.asked_for()
    return job(plan, strips=tuple(replace(item, id="mat") for item in plan.job.strips))


def unplanned_goods() -> Plan:
    plan = plans.plain()
    return job(plan, rooms=(*plan.job.rooms, replace(plan.job.rooms[0], id="cellar", material_id="none")))


def moved_corner(by: int = 3) -> Plan:
    plan = plans.ell()
    corners = list(_of(plan).layouts[0].floor)
    corners[4] = (corners[4][0], corners[4][1] + by)
    return settled(layout(plan, floor=tuple(corners)))


def shifted_oblique() -> Plan:
    plan = plans.oblique()
    (turned,) = _of(plan).layouts
    return layout(plan, floor=tuple((u, v + 3) for u, v in turned.floor))


def run_cut_short() -> Plan:
    plan = plans.plain()
    (seam,) = _of(plan).layouts[0].seams
    return layout(plan, seams=(replace(seam, runs=((1, 4 * M),)),))


def seam_beside_the_floor() -> Plan:
    plan = plans.forced()
    return settled(layout(plan, seams=(replace(_of(plans.plain()).layouts[0].seams[0], at_nm=5 * M, runs=()),)))


def drop_left_out() -> Plan:
    plan = settled(_without(plans.ell(), "hall-2"))
    return first(plan, "bounds", value=0, by_search=True, certificate=None)


def drop_twice() -> Plan:
    plan = plans.two_remnants()
    again = replace(_of(plan).cuts[0], id="hall-3", number=3)
    spot = replace(_of(plan).placements[1], cut_id="hall-3", x_nm=0, y_nm=0)
    plan = place(part(plan, cuts=(*_of(plan).cuts, again), placements=(*_of(plan).placements, spot)), "hall-2")
    more = tuple(replace(item, length_nm=12 * M) for item in _of(plan).sources)
    plan = part(plan, sources=more)
    plan = job(plan, stock=tuple(replace(item, length_nm=12 * M) for item in plan.job.stock))
    return settled(place(plan, "hall-3", dy=6 * M))


def allowance_left_out() -> Plan:
    plan = plans.plain()
    return cut(plan, "hall-1", allowances=_of(plan).cuts[0].allowances[1:])


def less_trim_than_lawful() -> Plan:
    plan = plans.less_trim()
    return room(plan, least_trim_nm=26 * MM)


def end_trim_taken() -> Plan:
    plan = plans.plain()
    return _allowance(plan, "hall-1", 0, given_nm=FULL - 1)


def short_rough_cut(name: str = "hall-2", step: int = 5 * MM) -> Plan:
    plan = plans.plain()
    (item,) = (item for item in _of(plan).cuts if item.id == name)
    (rect,) = item.rects
    return settled(cut(plan, name, rects=(rect._replace(y1_nm=rect.y1_nm - step),)))


def oblique_rough_cut() -> Plan:
    plan = plans.slanting()
    low, high = _of(plan).cuts[0].rects
    return settled(cut(plan, "hall-1", rects=(low, high._replace(x1_nm=high.x1_nm - 5 * MM))))


def notch_too_deep() -> Plan:
    plan = plans.ell()
    low, high = _of(plan).cuts[0].rects
    low, high = low._replace(y1_nm=low.y1_nm - 5 * MM), high._replace(y0_nm=high.y0_nm - 5 * MM)
    return settled(cut(plan, "hall-1", rects=(low, high)))


def unslit_column() -> Plan:
    return settled(layout(plans.column(), relief_cuts=()))


def slit_short_of_the_wall() -> Plan:
    plan = plans.column()
    (slit,) = _of(plan).layouts[0].relief_cuts
    return settled(layout(plan, relief_cuts=(replace(slit, end=(500 * MM, slit.end[1])),)))


def slits_in_a_ring() -> Plan:
    plan = plans.column(2)
    one, other = _of(plan).layouts[0].relief_cuts
    back = replace(one, start=(1_300 * MM, one.start[1]), end=(1_600 * MM, one.start[1]))
    return settled(layout(plan, relief_cuts=(back, other)))


def slit_without_need() -> Plan:
    plan = plans.seamed_column()
    slit = ReliefCut(hole=0, cut_id="hall-1", start=(2_400 * MM, 1_100 * MM), end=(0, 1_100 * MM))
    return settled(layout(plan, relief_cuts=(slit,)))


def off_the_step(by: int = 1) -> Plan:
    plan = plans.ell()
    (rect,) = _of(plan).cuts[1].rects
    return settled(cut(plan, "hall-2", rects=(rect._replace(x1_nm=rect.x1_nm + by),)))


def insert_left_out() -> Plan:
    return settled(_without(plans.coved(), "hall-insert"))


def insert_too_short() -> Plan:
    return settled(cut(plans.coved(), "hall-insert", rects=(Rect(0, 0, 100 * MM, 195 * MM),)))


def insert_without_corner() -> Plan:
    plan = plans.coved()
    more = replace(_of(plan).cuts[1], id="more", number=3)
    spot = replace(_of(plan).placements[1], cut_id="more", x_nm=2_500 * MM)
    return settled(part(plan, cuts=(*_of(plan).cuts, more), placements=(*_of(plan).placements, spot)))


def coves_share_goods() -> Plan:
    return plans.stub(300 * MM)


def one_mat_too_few() -> Plan:
    plan = plans.asked_for()
    return job(plan, loose=(replace(plan.job.loose[0], count=3), plan.job.loose[1]))


def runner_in_too_many_parts() -> Plan:
    plan = plans.asked_for()
    return job(plan, loose=(plan.job.loose[0], replace(plan.job.loose[1], most_parts=1)))


def runner_too_short() -> Plan:
    return settled(cut(plans.asked_for(), "runner-2", rects=(Rect(0, 0, 900 * MM, 1_515 * MM),)))


def run_too_short() -> Plan:
    return settled(cut(plans.asked_for(), "skirting-3", rects=(Rect(0, 0, 100 * MM, 1_495 * MM),)))


def run_forgotten() -> Plan:
    plan = plans.asked_for()
    (strip,) = plan.job.strips
    return job(plan, strips=(replace(strip, runs_nm=(*strip.runs_nm, M)),))


# ---- V2: goods ----


def into_the_start() -> Plan:
    return settled(place(plans.plain(), "hall-1", dy=-1))


def beside_the_roll() -> Plan:
    return settled(place(plans.ell(), "hall-2", dx=3 * M - 2_565 * MM + 1))


def into_the_lost_width() -> Plan:
    plan = plans.placed_pattern()
    return settled(place(plan, "hall-2", dx=500 * MM, dy=320 * MM))


def drops_overlap() -> Plan:
    return settled(place(plans.ell(), "hall-2", dy=-1))


def drop_on_a_flaw() -> Plan:
    plan = plans.flawed()
    flaw = (Rect(100 * MM, 4_200 * MM, 300 * MM, 4_300 * MM + 1),)
    return source(stock(plan, "shop-roll", flaws=flaw), "shop-roll", flaws=flaw)


def flaw_within_the_shift() -> Plan:
    """A flaw beyond the piece, but not beyond where it may come to lie once the goods are unrolled."""
    plan = plans.unknown_remnants()
    spot = next(item for item in plan.materials[0].placements if item.source_id == "rest-1")
    far = max(r.y1_nm for r in next(c for c in plan.materials[0].cuts if c.id == spot.cut_id).rects)
    low = min(r.y0_nm for r in next(c for c in plan.materials[0].cuts if c.id == spot.cut_id).rects)
    end = spot.y_nm + far - low
    flaw = (Rect(spot.x_nm + MM, end + 600 * MM, spot.x_nm + 2 * MM, end + 601 * MM),)
    return source(stock(plan, "rest-1", flaws=flaw), "rest-1", flaws=flaw)


def flaw_forgotten() -> Plan:
    return source(plans.flawed(), "shop-roll", flaws=())


def remnant_grown() -> Plan:
    plan = plans.two_remnants()
    return settled(source(plan, "rest-1", length_nm=5 * M + 1))


def no_squaring() -> Plan:
    plan = plans.two_rooms()
    plan = place(source(plan, "roll-1", start_allowance_nm=0), "hall-1", dy=-50 * MM)
    return settled(plan)


def lot_from_nowhere() -> Plan:
    return plans_of_unknown_lot("A")


def plans_of_unknown_lot(lot: str) -> Plan:
    plan = plans.two_remnants(("A", None))
    return settled(source(plan, "rest-2", lot=lot))


def selvedge_in_a_seam() -> Plan:
    return settled(place(plans.selvedge(), "hall-2", dx=-1))


def selvedge_in_a_mat() -> Plan:
    return settled(place(plans.selvedge(), "mat-1", dx=-1))


# ---- V3: pattern ----


def motif_off_along() -> Plan:
    return settled(place(plans.half_drop(), "hall-2", dy=1))


def motif_off_across() -> Plan:
    return settled(place(plans.half_drop(), "hall-2", dx=1))


def drop_read_the_wrong_way() -> Plan:
    plan = plans.at_seam()
    return settled(place(plan, "hall-2", dy=320 * MM))


def motif_off_at_a_cross_seam() -> Plan:
    return settled(place(plans.seam_lines(), "hall-3", dy=1, dx=0))


def thirds_off() -> Plan:
    return settled(place(plans.third_drop(), "hall-2", dy=2))


def phase_recorded_wrong() -> Plan:
    plan = plans.half_drop()
    return first(plan, "phase_groups", phase_nm=(55 * MM, 40 * MM + 1))


def matching_room_apart() -> Plan:
    plan = plans.matching()
    (group,) = _of(plan).phase_groups
    groups = (replace(group, room_ids=("hall",)), replace(group, room_ids=("study",)))
    return part(plan, phase_groups=groups)


def second_room_off() -> Plan:
    return settled(place(plans.matching(), "study-1", dy=1))


def bound_and_not_anchored() -> Plan:
    return first(plans.half_drop(), "phase_groups", placed=True)


def nothing_lost_across() -> Plan:
    return source(plans.placed_pattern(), phase_loss_nm=(0, 0))


def anchoring_forbidden() -> Plan:
    plan = plans.placed_pattern()
    return goods(plan, starting_allowance_nm=0)


def seam_lines_and_not_anchored() -> Plan:
    plan = first(plans.half_drop(), "phase_groups", phase_nm=(55 * MM, 40 * MM))
    return goods(plan, seam_lines_across_nm=(55 * MM,))


def rooms_of_two_plans() -> Plan:
    return room(plans.matching(), "study", plan_id="barn")


def assumed_phase_off() -> Plan:
    plan = plans.matching()
    plan = source(plan, phase_nm=(0, 1 - 50 * MM))
    return first(plan, "phase_groups", phase_nm=(FULL, 1))


def guess_called_known() -> Plan:
    return source(plans.half_drop(), phase_known=True)


def motif_beside_the_middle() -> Plan:
    return plans.placed_pattern(phase=(1, 560 * MM))


def unbalanced() -> Plan:
    wish = PatternPlacement(across=PlacementWish.BALANCED)
    return plans.placed_pattern(wish, phase=(250 * MM, 0))


def motif_off_the_wall() -> Plan:
    wish = PatternPlacement(along=PlacementWish.WHOLE_AT_WALL, along_wall="south")
    return plans.placed_pattern(wish, phase=(0, 1))


def sliver_of_a_repeat() -> Plan:
    return plans.placed_pattern(PatternPlacement(least_at_walls_nm=200 * MM), phase=(100 * MM, 0), drop_nm=0)


def off_the_seam_line() -> Plan:
    return goods(plans.seam_lines(), seam_lines_across_nm=(56 * MM,))


def cross_off_the_seam_line() -> Plan:
    return goods(plans.seam_lines(), seam_lines_along_nm=(81 * MM,))


# ---- V4: rules of laying ----


def wrong_way() -> Plan:
    return room(plans.plain(), lays=(LayDirection(1, 0),))


def joined_rooms_crosswise() -> Plan:
    """Two square rooms are joined; the second is recorded as laid the other way."""
    plan = plans.two_rooms()
    hall, study = plan.job.rooms
    plan = job(plan, rooms=(replace(hall, doors=plans.matching().job.rooms[0].doors), study))
    (_, laid) = _of(plan).layouts
    turned = replace(laid, direction=LayDirection(0, -1))
    outline = tuple((-x, -y) for x, y in study.outline)
    plan = job(plan, rooms=(plan.job.rooms[0], replace(study, outline=outline)))
    return part(plan, layouts=(_of(plan).layouts[0], turned))


def joint_too_near() -> Plan:
    joint = JointBelow(id="joint", start=(2_350 * MM, M), end=(2_347_601_000, 2 * M))
    return room(plans.plain(), joints_below=(joint,))


def through_the_sink() -> Plan:
    zone = ((2_499 * MM, M), (2_600 * MM, M), (2_600 * MM, 2 * M), (2_499 * MM, 2 * M))
    return room(plans.plain(), keep_outs=(KeepOut(id="sink", outline=zone),))


def slit_through_a_zone() -> Plan:
    zone = ((500 * MM, 1_600 * MM), (700 * MM, 1_600 * MM), (700 * MM, 1_700 * MM), (500 * MM, 1_700 * MM))
    return room(plans.column(), keep_outs=(KeepOut(id="pipe", outline=zone),))


def zone_not_convex() -> Plan:
    zone = ((0, 0), (M, 0), (M, M), (900 * MM, 100 * MM))
    return room(plans.plain(), keep_outs=(KeepOut(id="sink", outline=zone),))


def seam_in_the_door() -> Plan:
    return plans.plain(seam=3_200 * MM, width=4 * M, joints_below=(), keep_outs=(), access=Access())


def too_narrow() -> Plan:
    return room(plans.plain(), rules=rules(least_breadth_nm=2_501 * MM))


def narrow_beside_a_leg() -> Plan:
    """Left of the seam the leg of the L ends 500 mm from it: too little beside the leg, were it to go on."""
    return room(plans.ell(), rules=rules(least_breadth_nm=2_501 * MM))


def cross_seams_not_allowed() -> Plan:
    return room(plans.corridor(), rules=rules())


def more_than_forced() -> Plan:
    return goods(plans.forced(), longest_nm=None)


def short_piece() -> Plan:
    return room(plans.corridor(), rules=rules(cross_seams_per_breadth=1, least_length_nm=4 * M + 1))


def cross_seams_in_line() -> Plan:
    return room(plans.corridor(), rules=rules(cross_seams_per_breadth=1, cross_seam_stagger_nm=M + 1))


def too_wide_for_the_stairs() -> Plan:
    return room(plans.plain(), access=Access(widest_nm=2_565 * MM - 1))


def too_heavy() -> Plan:
    return room(plans.plain(), access=Access(heaviest_g=26_355))


def insert_too_long() -> Plan:
    return room(plans.coved(), access=Access(widest_nm=100 * MM, longest_nm=10 * M), rules=rules())


def turned_against_the_arrow() -> Plan:
    return place(plans.plain(), "hall-2", turn=2)


def not_alternate() -> Plan:
    return place(plans.turning(), "hall-2", turn=0)


def out_of_sequence() -> Plan:
    plan = plans.turning()
    spots = {item.cut_id: item for item in _of(plan).placements}
    first_end = spots["hall-1"].y_nm
    plan = place(plan, "hall-1", y_nm=spots["hall-2"].y_nm)
    return place(plan, "hall-2", y_nm=first_end)


def two_widths() -> Plan:
    plan = goods(plans.corridor(), widths_nm=(3 * M, 4 * M), sale=Sale(order_step_nm=100 * MM))
    return settled(source(plan, "roll-2", width_nm=4 * M))


def two_lots() -> Plan:
    return plans.two_remnants(("A", "B"))


def lots_ordered() -> Plan:
    return plans.two_rooms(second_lot="another")


def beyond_the_supply() -> Plan:
    return plans.two_rooms(lot_limit_nm=7 * M)


def known_lot_ordered() -> Plan:
    plan = plans.two_sources()
    return stock(plan, "rest-7", lot_orderable=False)


def longer_than_made() -> Plan:
    return goods(plans.plain(), longest_nm=8 * M)


def not_to_be_ordered() -> Plan:
    return goods(plans.plain(), orders_allowed=False)


def width_not_made() -> Plan:
    plan = goods(plans.plain(), widths_nm=(3_100 * MM,), sale=Sale(order_step_nm=100 * MM))
    return settled(plan)


def over_the_cap() -> Plan:
    plan = plans.plain()
    return job(plan, goal=replace(plan.job.goal, most_seams=0))


def beyond_bench_cuts() -> Plan:
    """A second mat beside the third one needs a fourth round of cuts."""
    plan = plans.bench()
    loose = LoosePiece(id="mat3", name="Mat 3", material_id="goods", width_nm=M, length_nm=M)
    more = replace(piece("mat3-1", CutKind.LOOSE, "mat3", M, M), number=4)
    spot = replace(_of(plan).placements[2], cut_id="mat3-1", x_nm=2 * M)
    plan = job(
        plan, loose=(replace(plan.job.loose[0]), replace(plan.job.loose[1], width_nm=2 * M), *plan.job.loose[2:], loose)
    )
    plan = cut(plan, "mat1-1", rects=(Rect(0, 0, 2 * M, M),))
    return settled(part(plan, cuts=(*_of(plan).cuts, more), placements=(*_of(plan).placements, spot)))


def pinned_seam_missed() -> Plan:
    return plans.pinned_seam(by=1 * MM)


def pinned_seam_askew() -> Plan:
    plan = plans.pinned_seam()
    (pin,) = plan.job.rooms[0].pins.seams
    return room(plan, pins=RoomPins(seams=(replace(pin, end=(2_495 * MM, 0)),)))


def pinned_seam_across() -> Plan:
    line = PinnedSeam(name="a seam across", start=(0, 2 * M), end=(5 * M, 2 * M))
    return room(plans.plain(), pins=RoomPins(seams=(line,)))


def second_pinned_seam_missed() -> Plan:
    plan = plans.pinned_seam()
    (pin,) = plan.job.rooms[0].pins.seams
    other = PinnedSeam(name="another", start=(1 * M, 0), end=(1 * M, 4 * M))
    return room(plan, pins=RoomPins(seams=(pin, other)))


def _laid_otherwise(**changes: Any) -> Plan:
    plan = plans.pinned_layout()
    pin = plan.job.rooms[0].pins.layout
    assert pin is not None
    return room(plan, plan.job.rooms[0].id, pins=RoomPins(layout=replace(pin, **changes)))


def laid_the_other_way() -> Plan:
    return _laid_otherwise(direction=LayDirection(0, -1))


def laid_with_other_seams() -> Plan:
    pin = plans.pinned_layout().job.rooms[0].pins.layout
    assert pin is not None
    return _laid_otherwise(seams_nm=(pin.seams_nm[0] + 1, *pin.seams_nm[1:]))


def laid_with_a_cross_seam_more() -> Plan:
    pin = plans.pinned_layout().job.rooms[0].pins.layout
    assert pin is not None
    return _laid_otherwise(cross_seams_nm=pin.cross_seams_nm[1:])


def more_seams_than_allowed() -> Plan:
    return room(plans.plain(), pins=RoomPins(most_seams=0))


def more_slits_than_allowed() -> Plan:
    plan = plans.column()
    return room(plan, plan.job.rooms[0].id, pins=RoomPins(most_seams=0))


def from_other_goods() -> Plan:
    return plans.named_goods(("rest-1",))


def from_a_roll_to_order() -> Plan:
    return room(plans.two_sources(), pins=RoomPins(sources=("rest-7",)))


def from_goods_that_are_not_there() -> Plan:
    return plans.named_goods(("rest-1", "rest-9"))


def of_two_lots() -> Plan:
    return plans.one_lot(("A", "B"))


def one_lot_of_nobody() -> Plan:
    return job(plans.one_lot(), one_lot=(OneLot(rooms=("hall", "attic")),))


def consent_for_nobody() -> Plan:
    consent = Consent(rule=RuleId.KEEP_OUT, owner="nobody", text="")
    return settled(replace(plans.plain(), consents=(consent,)))


# ---- V5: money and account ----


def used_too_much() -> Plan:
    plan = plans.plain()
    used = _of(plan).sources[0].used_nm
    return summed(source(plan, used_nm=used + 1))


def ordered_too_much() -> Plan:
    plan = plans.plain()
    return summed(costed(source(plan, length_nm=_of(plan).sources[0].length_nm + 100 * MM)))


def below_the_minimum_cut() -> Plan:
    plan = plans.plain()
    sale = replace(plan.job.materials[0].sale, minimum_cut_nm=20 * M)
    return goods(plan, sale=sale)


def coin_too_little() -> Plan:
    plan = plans.plain()
    return summed(source(plan, cost=_of(plan).sources[0].cost - 1))


def book_value_forgotten() -> Plan:
    return summed(source(plans.flawed(), "shop-roll", cost=0))


def nothing_ordered() -> Plan:
    return part(plans.plain(), order=())


def tolerance_forgotten() -> Plan:
    return first(plans.half_drop(), "order", repeat_tolerance_nm=0)


def ordered_without_consent() -> Plan:
    plan = plans.plain()
    lines = _of(plan).order
    plan = settled(replace(plan, consents=(Consent(rule=RuleId.KEEP_OUT, owner="hall", text=""),)))
    return part(plan, order=lines)


def waste_lost() -> Plan:
    plan = plans.plain()
    return part(plan, account=replace(_of(plan).account, waste_nm2=_of(plan).account.waste_nm2 - 1))


def floor_misjudged() -> Plan:
    plan = plans.plain()
    return part(plan, account=replace(_of(plan).account, floor_nm2=_of(plan).account.floor_nm2 + 1))


def _mismeasured(plan: Plan, **changes: Any) -> Plan:
    return part(plan, measures=replace(_of(plan).measures, **changes))


def miscounted() -> Plan:
    return _mismeasured(plans.plain(), cuts=3)


def cove_not_counted() -> Plan:
    return _mismeasured(plans.coved_seam(), seam_length_nm=4 * M)


def joins_not_counted() -> Plan:
    plan = plans.asked_for()
    return _mismeasured(plan, joins=1)


def width_miscounted() -> Plan:
    plan = plans.plain()
    return _mismeasured(plan, used_nm=((3 * M, 1),))


def offcut_on_a_drop() -> Plan:
    plan = plans.plain()
    (item,) = _of(plan).offcuts
    return settled(first(plan, "offcuts", rect=item.rect._replace(x0_nm=item.rect.x0_nm - 1)))


def offcut_beyond_the_end() -> Plan:
    plan = plans.flawed()
    (item, *_) = _of(plan).offcuts
    return settled(first(plan, "offcuts", rect=item.rect._replace(y1_nm=item.rect.y1_nm + 1)))


def scrap_kept() -> Plan:
    plan = plans.plain()
    (item,) = _of(plan).offcuts
    return settled(first(plan, "offcuts", rect=item.rect._replace(x0_nm=3 * M - 299 * MM)))


def offcut_of_another_lot() -> Plan:
    return first(plans.plain(), "offcuts", lot="A")


def offcuts_overlap() -> Plan:
    plan = plans.plain()
    (item,) = _of(plan).offcuts
    corner = item.rect._replace(y1_nm=item.rect.y0_nm + MM)
    more = replace(item, id="more", use=OffcutUse.CLIENT, rect=corner)
    return settled(part(plan, offcuts=(item, more)))


def offcut_phase_off() -> Plan:
    return first(plans.two_sources(), "offcuts", phase_nm=(320 * MM, 10 * MM + 1))


def offcut_phase_not_reduced() -> Plan:
    return first(plans.two_sources(), "offcuts", phase_nm=(320 * MM, 650 * MM))


def value_off() -> Plan:
    plan = plans.valued()
    return _mismeasured(plan, rack_nm2=(_of(plan).measures.rack_nm2 or 0) - 1)


def value_by_another_rule() -> Plan:
    return _mismeasured(plans.valued(ValueRule.BY_AREA), rack_nm2=_of(plans.valued()).measures.rack_nm2)


def value_of_goods_not_spared() -> Plan:
    return _mismeasured(plans.valued(ValueRule.NONE), rack_nm2=1)


def value_of_what_is_gone() -> Plan:
    """Of the roll begun nothing is left beyond the corner that is gone: it loses no value."""
    return _mismeasured(plans.begun_rooms(), rack_nm2=M**2)


# ---- V6: bounds ----


def bound_above_the_plan() -> Plan:
    plan = plans.plain()
    bound = Bound(
        level="roll", value=_of(plan).bounds[0].attained + 1, attained=_of(plan).bounds[0].attained, by_search=True
    )
    return part(plan, bounds=(bound,))


def no_bound() -> Plan:
    return part(plans.plain(), bounds=())


def level_unknown() -> Plan:
    plan = plans.plain()
    return part(plan, bounds=(*_of(plan).bounds, Bound(level="beauty", value=0, attained=0, by_search=True)))


def considered_above_the_plan() -> Plan:
    plan = plans.plain()
    return part(plan, bound_considered=_of(plan).bound_considered + 1)


def attained_misread() -> Plan:
    plan = plans.plain()
    return first(plan, "bounds", attained=_of(plan).bounds[0].attained - 1)


def balanced_misread() -> Plan:
    plan = plans.plain(goal=Goal(kind=GoalKind.BALANCED))
    return first(plan, "bounds", attained=_of(plan).measures.roll_nm2)


def _certified(plan: Plan, value: int, *terms: tuple[str, int], kind: str = "area") -> Plan:
    attained = _of(plan).measures.roll_nm2
    certificate = Certificate(kind=kind, value=value, terms=terms)
    return part(plan, bounds=(Bound(level="roll", value=value, attained=attained, certificate=certificate),))


def room_overstated() -> Plan:
    """One nm² more than 5.11 × 4.11 m with one overlap of 20 mm all along."""
    area = 5_110 * MM * 4_110 * MM + 20 * MM * 4_110 * MM + 1
    return _certified(plans.plain(width=3 * M), area, ("room:hall", area))


def sum_wrong() -> Plan:
    return _certified(plans.plain(), 24 * M * M, ("room:hall", 20 * M * M))


def stock_forgotten() -> Plan:
    return _certified(plans.two_sources(), 20 * M * M, ("room:hall", 20 * M * M))


def used_rounded_up() -> Plan:
    """What is used is bounded by the area alone, without the rounding of orders."""
    plan = plans.plain()
    area, attained = 20 * M * M, sum(width * length for width, length in _of(plan).measures.used_nm)
    certificate = Certificate(kind="area", value=area + 1, terms=(("room:hall", area),))
    used = Bound(level="used", value=area + 1, attained=attained, certificate=certificate)
    return part(plan, bounds=(*_of(plan).bounds, used))


def certificate_unknown() -> Plan:
    return _certified(plans.plain(), 0, kind="hope")


def proof_missing() -> Plan:
    return first(plans.plain(), "bounds", certificate=None)


def by_hand_below_the_bound() -> Plan:
    plan = plans.plain()
    least = _of(plan).bounds[0].value
    ((width, _),) = _of(plan).measures.ordered_nm
    return part(plan, by_hand=ByHand(ordered_nm=((width, least // width - 1),), seams=0, cost=0))


def by_hand_of_no_width() -> Plan:
    plan = plans.plain()
    ((width, length),) = _of(plan).measures.ordered_nm
    return part(plan, by_hand=ByHand(ordered_nm=((width + 1, length),), seams=0, cost=0))


def by_hand_less_than_nothing() -> Plan:
    plan = plans.plain()
    ((width, length),) = _of(plan).measures.ordered_nm
    return part(plan, by_hand=ByHand(ordered_nm=((width, 2 * length),), seams=-1, cost=0))


FAULTS: tuple[tuple[str, Callable[[], Plan]], ...] = (
    ("V1a", lambda: replace(plans.plain(), format=99)),
    ("V1a", two_of_a_name),
    ("V1a", unplanned_goods),
    ("V1a", lambda: replace(plans.plain(), materials=())),
    ("V1a", lambda: goods(plans.plain(), widths_nm=())),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", source_id="roll-2")),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", of={"owner": "attic"})),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", of={"kind": CutKind.LOOSE})),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", of={"state": "sewn"})),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", of={"rects": ()})),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", of={"rects": (Rect(0, 0, 2 * M, 2 * M), Rect(0, 0, M, M))})),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", x_nm=390 * MM + 1)),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", x_nm=-1)),
    ("V1a", lambda: made(plans.begun_rooms(), "study-1", y_nm=4_160 * MM - 1)),
    ("V1a", lambda: made(plans.begun_rooms(), "hall-1", y_nm=50 * MM - 1)),
    ("V1a", done_of_other_goods),
    ("V1a", done_twice),
    ("V1a", lambda: _gone(START, START)),
    ("V1a", lambda: _gone(START, CORNER._replace(x1_nm=3 * M + 1))),
    ("V1a", lambda: _gone(START, CORNER._replace(y1_nm=11 * M))),
    ("V1a", lambda: _gone(START._replace(y1_nm=50 * MM + 1))),
    ("V1b", lambda: place(plans.plain(), "hall-1", source_id="roll-9")),
    ("V1b", lambda: first(plans.plain(), "offcuts", source_id="roll-9")),
    ("V1b", lambda: cut(plans.plain(), "hall-1", owner="cellar")),
    ("V1b", lambda: cut(plans.plain(), "hall-1", low=4)),
    ("V1b", lambda: part(plans.plain(), layouts=())),
    ("V1b", lambda: source(plans.two_remnants(), "rest-1", stock_id="rest-2")),
    ("V1b", lambda: part(plans.plain(), placements=plans.plain().materials[0].placements[:1])),
    ("V1c", lambda: cut(plans.plain(), "hall-1", rects=())),
    ("V1c", lambda: cut(plans.plain(), "hall-1", number=2)),
    ("V1c", lambda: cut(plans.plain(), "hall-2", number=3)),
    ("V1c", lambda: cut(plans.begun_rooms(), "hall-2", number=1)),
    ("V1c", lambda: cut(plans.begun_rooms(), "hall-2", number=0)),
    ("V1c", lambda: cut(plans.plain(), "hall-1", rects=(Rect(0, 0, -M, M),))),
    ("V1c", lambda: cut(plans.plain(), "hall-1", rects=(Rect(0, 0, M, M), Rect(0, 0, 2 * M, 1)))),
    ("V1d", moved_corner),
    ("V1d", shifted_oblique),
    ("V1d", lambda: layout(plans.ell(), direction=LayDirection(0, 2))),
    ("V1e", run_cut_short),
    ("V1e", seam_beside_the_floor),
    ("V1f", drop_left_out),
    ("V1f", drop_twice),
    ("V1g", allowance_left_out),
    ("V1g", less_trim_than_lawful),
    ("V1g", end_trim_taken),
    ("V1g", lambda: _allowance(plans.plain(), "hall-1", 0, full_nm=FULL - 1, given_nm=FULL - 1)),
    ("V1g", lambda: room(plans.seamed_door(), doors=plans.plain().job.rooms[0].doors)),
    ("V1h", short_rough_cut),
    ("V1h", oblique_rough_cut),
    ("V1h", notch_too_deep),
    ("V1i", unslit_column),
    ("V1i", slit_short_of_the_wall),
    ("V1i", slits_in_a_ring),
    ("V1i", slit_without_need),
    ("V1j", off_the_step),
    ("V1k", insert_left_out),
    ("V1k", insert_too_short),
    ("V1k", insert_without_corner),
    ("V1l", coves_share_goods),
    ("V1m", one_mat_too_few),
    ("V1m", runner_in_too_many_parts),
    ("V1m", runner_too_short),
    ("V1n", run_too_short),
    ("V1n", run_forgotten),
    ("V2a", into_the_start),
    ("V2a", beside_the_roll),
    ("V2a", into_the_lost_width),
    ("V2b", drops_overlap),
    ("V2c", drop_on_a_flaw),
    ("V2c", flaw_within_the_shift),
    ("V2c", drop_where_goods_are_gone),
    ("V2c", gone_within_the_shift),
    ("V2c", mat_in_the_way_of_the_shift),
    ("V2d", gone_forgotten),
    ("V2d", gone_from_an_order),
    ("V2d", flaw_forgotten),
    ("V2d", remnant_grown),
    ("V2d", no_squaring),
    ("V2d", lot_from_nowhere),
    ("V2e", selvedge_in_a_seam),
    ("V2e", selvedge_in_a_mat),
    ("V3a", motif_off_along),
    ("V3a", motif_off_across),
    ("V3a", drop_read_the_wrong_way),
    ("V3a", motif_off_at_a_cross_seam),
    ("V3a", thirds_off),
    ("V3b", phase_recorded_wrong),
    ("V3b", matching_room_apart),
    ("V3b", second_room_off),
    ("V3b", off_the_pinned_phase),
    ("V3c", pinned_phase_and_not_anchored),
    ("V3c", bound_and_not_anchored),
    ("V3c", nothing_lost_across),
    ("V3c", anchoring_forbidden),
    ("V3c", seam_lines_and_not_anchored),
    ("V3b", rooms_of_two_plans),
    ("V3d", assumed_phase_off),
    ("V3d", guess_called_known),
    ("V3e", motif_beside_the_middle),
    ("V3e", unbalanced),
    ("V3e", motif_off_the_wall),
    ("V3e", sliver_of_a_repeat),
    ("V3f", off_the_seam_line),
    ("V3f", cross_off_the_seam_line),
    ("V4a", wrong_way),
    ("V4a", joined_rooms_crosswise),
    ("V4b", joint_too_near),
    ("V4c", through_the_sink),
    ("V4c", slit_through_a_zone),
    ("V4c", zone_not_convex),
    ("V4d", seam_in_the_door),
    ("V4e", too_narrow),
    ("V4e", narrow_beside_a_leg),
    ("V4f", cross_seams_not_allowed),
    ("V4f", more_than_forced),
    ("V4g", short_piece),
    ("V4h", cross_seams_in_line),
    ("V4i", too_wide_for_the_stairs),
    ("V4i", too_heavy),
    ("V4i", insert_too_long),
    ("V4j", turned_against_the_arrow),
    ("V4j", not_alternate),
    ("V4k", out_of_sequence),
    ("V4k", lambda: plans.begun_sequence((0, 2, 1, 3))),
    ("V4l", two_widths),
    ("V4m", two_lots),
    ("V4n", lots_ordered),
    ("V4n", beyond_the_supply),
    ("V4n", known_lot_ordered),
    ("V4o", longer_than_made),
    ("V4o", not_to_be_ordered),
    ("V4o", width_not_made),
    ("V4p", over_the_cap),
    ("V4q", beyond_bench_cuts),
    ("V4r", consent_for_nobody),
    ("V4s", pinned_seam_missed),
    ("V4s", pinned_seam_askew),
    ("V4s", pinned_seam_across),
    ("V4s", second_pinned_seam_missed),
    ("V4t", laid_the_other_way),
    ("V4t", laid_with_other_seams),
    ("V4t", laid_with_a_cross_seam_more),
    ("V4u", more_seams_than_allowed),
    ("V4u", more_slits_than_allowed),
    ("V4v", from_other_goods),
    ("V4v", from_a_roll_to_order),
    ("V1a", from_goods_that_are_not_there),
    ("V4w", of_two_lots),
    ("V1a", one_lot_of_nobody),
    ("V4x", lambda: made(plans.begun_rooms(), "study-1", x_nm=1 * MM)),
    ("V4x", lambda: made(plans.begun_rooms(), "study-1", turn=2)),
    ("V4x", lambda: settled(place(plans.begun_rooms(), "hall-1", dx=1 * MM))),
    ("V4x", done_elsewhere),
    ("V4x", done_on_goods_of_another_name),
    ("V4x", done_left_out),
    ("V4x", done_smaller),
    ("V4x", lambda: done_of(owner="den")),
    ("V4x", lambda: done_of(kind=CutKind.INSERT)),
    ("V4x", lambda: done_of(breadth=1)),
    ("V4x", lambda: done_of(low=0)),
    ("V4x", lambda: done_of(high=0)),
    ("V4x", lambda: done_of(of_item=1)),
    ("V4x", lambda: done_of(state="laid")),
    ("V4x", lambda: done_of(state="planned")),
    ("V4x", lambda: cut(plans.begun_rooms(), "study-1", state="planned")),
    ("V4x", lambda: cut(plans.begun_rooms(), "hall-2", state="cut")),
    ("V4x", lambda: cut(plans.plain(), "hall-2", state="laid")),
    ("V5a", used_too_much),
    ("V5b", ordered_too_much),
    ("V5b", below_the_minimum_cut),
    ("V5c", coin_too_little),
    ("V5c", book_value_forgotten),
    ("V5d", nothing_ordered),
    ("V5d", tolerance_forgotten),
    ("V5d", ordered_without_consent),
    ("V5e", waste_lost),
    ("V5e", floor_misjudged),
    ("V5e", gone_counted_as_goods),
    ("V5f", miscounted),
    ("V5f", cove_not_counted),
    ("V5f", joins_not_counted),
    ("V5f", width_miscounted),
    ("V5g", offcut_on_a_drop),
    ("V5g", offcut_beyond_the_end),
    ("V5g", scrap_kept),
    ("V5g", offcut_of_another_lot),
    ("V5g", offcuts_overlap),
    ("V5g", offcut_where_goods_are_gone),
    ("V5h", offcut_phase_off),
    ("V5h", offcut_phase_not_reduced),
    ("V5i", value_off),
    ("V5i", value_by_another_rule),
    ("V5i", value_of_goods_not_spared),
    ("V5i", value_of_what_is_gone),
    ("V6a", bound_above_the_plan),
    ("V6a", no_bound),
    ("V6a", level_unknown),
    ("V6a", considered_above_the_plan),
    ("V6b", attained_misread),
    ("V6b", balanced_misread),
    ("V6c", room_overstated),
    ("V6c", sum_wrong),
    ("V6c", stock_forgotten),
    ("V6c", laid_drop_still_to_cut),
    ("V6c", cut_room_still_to_cut),
    ("V6c", done_taken_off_the_stock_twice),
    ("V6c", used_rounded_up),
    ("V6c", certificate_unknown),
    ("V6c", proof_missing),
    ("V6d", by_hand_below_the_bound),
    ("V6d", by_hand_of_no_width),
    ("V6d", by_hand_less_than_nothing),
)
