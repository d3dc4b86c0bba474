"""What is cut, laid, gone and new is said on the sheets; without any of it they are as ever."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.job import Job, LoosePiece, Room, Unit
from nesting.domain.material import Material, Pattern, StockKind, StockPiece
from nesting.domain.plan import CutSource, MaterialPlan, Offcut, OffcutUse, PhaseGroup, Placement, Plan, SourceKind
from nesting.drawing import EITHER, drawings, roll_map, room_plan
from nesting.drawing.flags import corner_mark
from nesting.drawing.outline import outside
from nesting.drawing.roll_map import roll_scenes
from nesting.drawing.roll_view import roll_view
from nesting.drawing.room_plan import room_scene
from nesting.drawing.room_view import inside
from nesting.drawing.scene import Polygon, Scene, Shape
from tests.drawing import plans
from tests.drawing.building import (
    COMPASS,
    MM,
    NORTH,
    laid,
    loose_cuts,
    material_plan,
    mm,
    plan_of,
    rect_mm,
    rectangle,
    walls,
)
from tests.drawing.scenes import drawn_off_the_sheet, off_the_sheet, overlapping, too_small

CHANGED = frozenset({"lounge-3", "study-1", "tread-2", "tread-3"})
GONE = (rect_mm(0, 0, 4000, 120), rect_mm(0, 10_860, 1300, 14_600), rect_mm(1300, 12_000, 1700, 14_600))


def half_done() -> Plan:
    """A roll of which two drops are laid and one is cut, one was spoiled and cut away, and the rest is cut anew."""
    pattern = Pattern(along_nm=640 * MM, across_nm=500 * MM)
    goods = Material(id="carpet", name="Carpet, leaves", widths_nm=mm(4000), selvedge_nm=20 * MM, pattern=pattern)
    lounge_pts, study_pts = rectangle(9600, 5200), rectangle(2600, 3500)
    lounge = Room(
        id="lounge", name="Lounge", material_id="carpet", outline=lounge_pts, edges=walls(lounge_pts, COMPASS)
    )
    study = Room(id="study", name="Study", material_id="carpet", outline=study_pts, edges=walls(study_pts, COMPASS))
    treads = LoosePiece(
        id="tread", name="Stair tread", material_id="carpet", width_nm=900 * MM, length_nm=300 * MM, count=3
    )
    layout1, cuts1 = laid(lounge, NORTH, (3900, 7800))
    layout2, cuts2 = laid(study, NORTH)
    states = {"lounge-1": "laid", "lounge-2": "cut", "tread-1": "cut"}
    cuts = [replace(cut, state=states.get(cut.id, "planned")) for cut in (*cuts1, *cuts2, *loose_cuts(treads))]
    piece = StockPiece(
        id="order-1", material_id="carpet", kind=StockKind.ROLL, width_nm=4000 * MM, length_nm=18_000 * MM, gone=GONE
    )
    roll = CutSource(
        id="order-1",
        kind=SourceKind.ROLL,
        width_nm=4000 * MM,
        length_nm=18_000 * MM,
        lot="7731",
        stock_id="order-1",
        phase_nm=(0, -120 * MM),
        phase_known=True,
        gone=GONE,
    )
    rest = CutSource(
        id="cut-4",
        kind=SourceKind.REMNANT,
        width_nm=1300 * MM,
        length_nm=3700 * MM,
        lot="7731",
        stock_id="cut-4",
        gone=(rect_mm(0, 0, 400, 900), rect_mm(950, 3100, 1300, 3700)),
    )
    at = {
        "lounge-1": ("order-1", 20, 140),
        "lounge-2": ("order-1", 20, 5520),
        "lounge-3": ("order-1", 1720, 10_900),
        "tread-1": ("order-1", 20, 14_700),
        "study-1": ("order-1", 1300, 16_240),
        "tread-2": ("cut-4", 30, 1000),
        "tread-3": ("cut-4", 30, 1320),
    }
    cuts[3] = replace(cuts[3], rects=(Rect(0, 0, 2700 * MM, 1700 * MM),))  # the room itself is not drawn
    spots = [
        Placement(cut_id=cut.id, source_id=at[cut.id][0], x_nm=at[cut.id][1] * MM, y_nm=at[cut.id][2] * MM)
        for cut in cuts
    ]
    shop, lot = OffcutUse.SHOP, "7731"
    offcuts = (
        Offcut(id="order-1-offcut-1", source_id="order-1", rect=rect_mm(20, 15_020, 1280, 18_000), use=shop, lot=lot),
        Offcut(id="cut-4-offcut-1", source_id="cut-4", rect=rect_mm(0, 1620, 950, 3700), use=shop, lot=lot),
    )
    job = Job(
        name="House by the mill",
        unit=Unit.MM,
        materials=(goods,),
        rooms=(lounge, study),
        loose=(treads,),
        stock=(piece,),
    )
    part = material_plan(
        goods,
        (layout1, layout2),
        cuts,
        (roll, rest),
        placements=spots,
        offcuts=offcuts,
        groups=(PhaseGroup(room_ids=("lounge",), phase_nm=(0, 0), placed=True),),
    )
    return plan_of(job, part)


PLAN = half_done()


def sheets(plan: Plan = PLAN, changed: frozenset[str] = CHANGED, *, mirrored: bool = False) -> list[Scene]:
    found = [
        scene
        for source in plan.materials[0].sources
        for scene in roll_scenes(plan, source.id, EITHER, mirrored=mirrored, changed=changed)
    ]
    return found + [room_scene(plan, room.id, EITHER, changed) for room in plan.job.rooms]


def texts(scene: Scene) -> list[str]:
    return [label.text for label in scene.labels]


def shapes(scene: Scene, role: str) -> list[Shape]:
    groups = (group for group in scene.groups if group.id != "legend")
    return [item for group in groups for item in group.items if isinstance(item, Shape) and item.role == role]


@pytest.mark.parametrize("stem", ["roll-order-1", "roll-cut-4", "room-lounge"])
def test_drawings_are_as_kept(stem: str, golden: Callable[[str, str], None]) -> None:
    golden(f"drawing/half-done/{stem}.svg", drawings(PLAN, changed=CHANGED)[stem])


@pytest.mark.parametrize("mirrored", [False, True])
def test_nothing_lies_on_another(mirrored: bool) -> None:
    for scene in sheets(mirrored=mirrored):
        assert overlapping(scene) == [] and off_the_sheet(scene) == [], scene.title
        assert drawn_off_the_sheet(scene) == [] and too_small(scene) == []
        marks = [ring for shape in shapes(scene, "changed") for ring in shape.rings]
        hit = [label.text for label in scene.labels for ring in marks if not _apart(label.box, ring)]
        assert hit == [], scene.title


def _apart(box: Polygon, ring: Polygon) -> bool:
    return not any(inside(ring, point) for point in box) and not any(inside(box, point) for point in ring)


@pytest.mark.parametrize("seed", range(3))
def test_crowded_rolls_stay_legible_with_flags(seed: int) -> None:
    plan = plans.crowded(seed)
    part = plan.materials[0]
    states = ("planned", "cut", "laid")
    cuts = tuple(replace(cut, state=states[k % 3]) for k, cut in enumerate(part.cuts))
    crowd = replace(plan, materials=(replace(part, cuts=cuts),))
    changed = frozenset(cut.id for cut in cuts[::2])
    for scene in sheets(crowd, changed):
        assert overlapping(scene) == [] and off_the_sheet(scene) == [] and drawn_off_the_sheet(scene) == []
    said = {label.piece: "" for scene in sheets(crowd, changed) for label in scene.labels if label.piece}
    for scene in sheets(crowd, changed):
        for label in scene.labels:
            if label.piece:
                said[label.piece] += label.text + " "
    words = {"cut": "CUT", "laid": "LAID"}
    for cut in cuts:
        flag = words.get(cut.state, "NEW" if cut.id in changed else "")
        assert flag in said[cut.id].split() or not flag
        assert not ({"CUT", "LAID", "NEW"} - {flag}) & set(said[cut.id].split()), cut.id


def test_every_piece_says_how_far_it_is() -> None:
    roll, rest, lounge, study = (texts(scene) for scene in sheets())
    assert {"1 · LAID", "2 · CUT", "3 · NEW"} <= set(roll) and {"1 · LAID", "2 · CUT", "3 · NEW"} <= set(lounge)
    assert "4 Study 1 · NEW" in roll and "4 · NEW" in study
    assert "5 Stair tread 1 · CUT · 900 × 300 →" in roll
    assert {"6 Stair tread 2 · NEW", "7 Stair tread 3 · NEW"} <= set(rest)
    title = next(group.title for group in sheets()[0].groups if group.id == "piece-2")
    assert title == "Cut 2, Lounge 2: 3920 × 5300 mm on roll order-1 · CUT"


def test_only_what_is_new_has_the_mark_and_it_lies_in_its_piece() -> None:
    for scene in sheets():
        pieces = {group.piece: group for group in scene.groups if group.id.startswith("piece-")}
        marks = shapes(scene, "changed")
        assert {mark.piece for mark in marks} == CHANGED & set(pieces)
        for mark in marks:
            outline = pieces[mark.piece].items[0]
            assert isinstance(outline, Shape)
            middle = tuple(sum(axis) / 3 for axis in zip(*mark.rings[0], strict=True))
            assert inside(outline.rings[0], (middle[0], middle[1]))


def test_what_is_done_is_never_called_new() -> None:
    every = frozenset(cut.id for cut in PLAN.materials[0].cuts)
    roll = sheets(changed=every)[0]
    assert {mark.piece for mark in shapes(roll, "changed")} == {"lounge-3", "study-1"}
    assert {shape.piece for shape in shapes(roll, "done")} == {"lounge-1", "lounge-2", "tread-1"}


def test_what_is_laid_is_hatched_in_its_room() -> None:
    lounge = sheets()[2]
    assert {shape.piece for shape in shapes(lounge, "breadth-laid")} == {"lounge-1"}
    assert "LAID: laid already" in texts(lounge) and "LAID: laid already" not in texts(sheets()[3])


def test_the_legend_says_what_the_marks_mean() -> None:
    roll, rest, lounge, study = (set(texts(scene)) for scene in sheets())
    done = "CUT: cut already, LAID: laid already; not to be cut again"
    gone, new = "gone: cut away before", "NEW: not as in the plan before"
    assert {done, gone, new} <= roll and {gone, new} <= rest and done not in rest
    assert {new, "CUT: cut already"} <= lounge and new in study and "CUT: cut already" not in study
    cut_only = replace(PLAN, materials=(_with_states(PLAN, {"lounge-2": "cut"}),))
    assert "CUT: cut already; not to be cut again" in texts(sheets(cut_only, frozenset())[0])


def _with_states(plan: Plan, states: dict[str, str]) -> MaterialPlan:
    part = plan.materials[0]
    return replace(part, cuts=tuple(replace(cut, state=states.get(cut.id, "planned")) for cut in part.cuts))


def test_goods_that_are_gone_have_neither_edge_nor_pattern() -> None:
    roll = sheets()[0]
    (gone,) = shapes(roll, "gone")
    assert texts(roll).count("gone") == 1 and len(gone.rings) == 2  # the two that touch are one
    lines = [ring for role in ("edge", "pattern", "selvedge") for shape in shapes(roll, role) for ring in shape.rings]
    assert len(lines) > 20
    for a, b in lines:
        for share in (0.01, 0.2, 0.5, 0.8, 0.99):
            point = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
            assert not any(inside(ring, point) for ring in gone.rings)
    area = sum(abs(sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(r, (*r[1:], r[0]), strict=True))) for r in gone.rings)
    scale = next(int(text[4:]) for text in texts(roll) if text.startswith("1 : ") and text[4:].isdigit())
    assert isclose(area / 2 * scale**2 * MM**2, sum(rect.area_nm2 for rect in GONE), rel_tol=1e-9)


def test_goods_that_are_gone_are_named_once_where_they_hang_together() -> None:
    part = PLAN.materials[0]
    steps = tuple(rect_mm(1000 * n, 3000 * n, 1000 * n + 1000, 3000 * n + 3000) for n in range(4))
    source = replace(part.sources[0], length_nm=14_000 * MM, gone=steps)
    bare = replace(part, sources=(source,), cuts=(), placements=(), offcuts=())
    assert roll_map(replace(PLAN, materials=(bare,)), source.id).count(">gone<") == 1


def test_gone_goods_at_the_far_end_are_drawn() -> None:
    part = PLAN.materials[0]
    source = replace(part.sources[0], length_nm=90_000 * MM, gone=(rect_mm(0, 80_000, 4000, 90_000),))
    assert roll_view(PLAN, part, source).last_nm() == 90_000 * MM


def test_nothing_done_gone_or_changed_is_as_ever() -> None:
    """Ids that the plan does not have change nothing; neither does a plan of which nothing is done."""
    for name in ("clinic", "guest-house", "studio"):
        plan = plans.ALL[name]()
        assert drawings(plan, changed=frozenset({"no such cut"})) == drawings(plan)
    bare = replace(PLAN, materials=(_with_states(PLAN, {}),))
    for text in (room_plan(bare, "lounge"), room_plan(bare, "study")):
        assert not any(word in text for word in ("LAID", "CUT", "NEW", "changed", "hatch-done"))
    assert roll_map(bare, "cut-4").count("gone") > 2  # only what is gone is left to say
    assert "NEW" in roll_map(bare, "cut-4", changed=CHANGED) and "NEW" in room_plan(bare, "study", changed=CHANGED)


RECTS = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8), st.integers(1, 5), st.integers(1, 5)), max_size=5).map(
    lambda found: tuple(Rect(x, y, x + w, y + h) for x, y, w, h in found)
)


@given(RECTS, st.integers(-1, 14), st.integers(-1, 14), st.integers(-1, 14), st.booleans())
def test_a_line_outside_rectangles_is_what_is_in_none(
    rects: tuple[Rect, ...], at: int, low: int, high: int, across: bool
) -> None:
    a, b = ((low, at), (high, at)) if across else ((at, low), (at, high))
    runs = outside(a, b, rects)
    axis = 0 if across else 1
    assert all(p[1 - axis] == q[1 - axis] == at and p[axis] < q[axis] for p, q in runs)
    for half in range(2 * min(low, high) + 1, 2 * max(low, high), 2):  # between whole numbers
        covered = any(2 * r[axis] < half < 2 * r[axis + 2] and r[1 - axis] <= at <= r[3 - axis] for r in rects)
        assert covered != any(2 * p[axis] < half < 2 * q[axis] for p, q in runs)


def test_the_mark_is_in_the_upper_left_corner_that_has_room() -> None:
    square = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
    assert corner_mark(square) == ((0.0, 0.0), (0.0, 3.6), (3.6, 0.0))
    assert set(corner_mark(tuple(reversed(square)))) == set(corner_mark(square))
    notched = ((0.0, 10.0), (1.0, 10.0), (1.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
    corner, *_ = corner_mark(notched)
    assert corner == (1.0, 0.0)  # at (0, 10) there is less room
    assert corner_mark(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0))) == ()


def test_a_mark_over_a_word_would_be_noticed() -> None:
    scene = sheets()[0]
    label = next(label for label in scene.labels if label.text == "3 · NEW")
    (x0, y0), (x1, y1) = label.box[0], label.box[2]
    mark = ((x0, y0), (x1, y0), (x0, y1))
    assert not _apart(label.box, mark)
