"""What the drawings say is true: places, positions, patterns, arrows, seams."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import hypot, isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import LayDirection, Rect, bounding_rect
from nesting.domain.job import Unit
from nesting.domain.layout import CutKind
from nesting.domain.plan import Plan
from nesting.drawing.lengths import figure, size_text
from nesting.drawing.pattern_lines import DrawnLattice, lattice_of, marks_within, repeat_lines, thinning
from nesting.drawing.roll_map import source_scenes
from nesting.drawing.roll_rows import broken_into_rows, halves
from nesting.drawing.roll_view import roll_view
from nesting.drawing.room_plan import room_scene
from nesting.drawing.room_view import inside, piece_floor, room_view, to_floor
from nesting.drawing.scene import EITHER, Label, Scene, Shape
from tests.drawing import plans
from tests.drawing.building import MM, lay_point
from tests.drawing.scenes import roll_sheets

PLANS = {name: make() for name, make in plans.ALL.items()}


def shape_of(scene: Scene, group_id: str) -> Shape:
    found = [item for group in scene.groups if group.id == group_id for item in group.items if isinstance(item, Shape)]
    return found[0]


def scale_of(scene: Scene) -> int:
    return next(int(label.text[4:]) for label in scene.labels if re.fullmatch(r"1 : \d+", label.text))


def texts(scene: Scene, role: str = "") -> list[str]:
    return [label.text for label in scene.labels if not role or label.role == role]


def extent(shape: Shape) -> tuple[float, float]:
    xs, ys = [x for ring in shape.rings for x, _ in ring], [y for ring in shape.rings for _, y in ring]
    return max(xs) - min(xs), max(ys) - min(ys)


@pytest.mark.parametrize("name", PLANS)
def test_pieces_are_drawn_to_scale(name: str) -> None:
    """Along runs right and across runs down: the roll turned clockwise, never mirrored."""
    plan = PLANS[name]
    part = plan.materials[0]
    sizes = {cut.number: bounding_rect(cut.rects) for cut in part.cuts}
    turns = {spot.cut_id: spot.turn for spot in part.placements}
    numbers = {cut.number: cut.id for cut in part.cuts}
    seen: dict[int, float] = {}
    for scene in roll_sheets(plan):
        for group in scene.groups:
            found = re.fullmatch(r"piece-(\d+)(-part.*)?", group.id)
            if not found:
                continue
            number = int(found[1])
            along, across = (side * scale_of(scene) * MM for side in extent(group.items[0]))  # type: ignore[arg-type]
            box = sizes[number]
            wide, long = (box.width_nm, box.length_nm) if turns[numbers[number]] % 2 == 0 else (box[3] - box[1], box[2])
            if turns[numbers[number]] % 2:
                wide, long = box.length_nm, box.width_nm
            assert isclose(across, wide, rel_tol=1e-6)
            seen[number] = seen.get(number, 0.0) + along / long
    assert set(seen) == set(numbers)
    assert all(isclose(share, 1.0, rel_tol=1e-6) for share in seen.values())


def test_left_edge_is_above_and_the_start_at_the_left() -> None:
    scene = roll_sheets(PLANS["corner"])[0]
    (kitchen,), (bath,) = shape_of(scene, "piece-1").rings, shape_of(scene, "piece-2").rings
    assert min(x for x, _ in kitchen) < min(x for x, _ in bath)  # the kitchen begins at the start
    assert min(y for _, y in kitchen) < min(y for _, y in bath)  # and lies at the left edge, the bath at the right
    back = roll_sheets(PLANS["corner"], mirrored=True)[0]
    assert max(y for _, y in shape_of(back, "piece-1").rings[0]) > max(y for _, y in shape_of(back, "piece-2").rings[0])


def test_positions_of_cross_cuts_are_given_from_the_start() -> None:
    scene = roll_sheets(PLANS["corner"])[0]
    for figure_cm in ("0.0", "5.0", "235.0", "515.0", "535.0", "540.0"):
        assert figure_cm in texts(scene)
    for across_cm in ("200.0", "385.0", "395.0"):
        assert across_cm in texts(scene)


def heads(scene: Scene, piece: str) -> list[tuple[float, float]]:
    """Where the arrows of a piece point: from the middle of the arrow head's base to its tip."""
    found = []
    for group in scene.groups:
        for item in group.items:
            if isinstance(item, Shape) and item.role == "arrow-head" and item.piece == piece:
                tip, a, b = item.rings[0]
                dx, dy = tip[0] - (a[0] + b[0]) / 2, tip[1] - (a[1] + b[1]) / 2
                found.append((round(dx / hypot(dx, dy), 6) + 0.0, round(dy / hypot(dx, dy), 6) + 0.0))
    return found


def test_arrows_show_how_a_piece_is_turned() -> None:
    clinic = roll_sheets(PLANS["clinic"])[0]
    assert heads(clinic, "treatment-1") == [(1.0, 0.0)]
    assert heads(clinic, "treatment-2") == [(-1.0, 0.0)]  # turned end for end
    small = roll_sheets(PLANS["small-pieces"])[0]
    assert heads(small, "mat-1") == [(1.0, 0.0)]
    assert heads(small, "mat-2") == [(0.0, -1.0)]  # a quarter turn counter-clockwise: along the roll becomes up
    assert heads(small, "mat-3") == [(0.0, 1.0)]
    back = roll_sheets(PLANS["small-pieces"], mirrored=True)[0]
    assert heads(back, "mat-2") == [(0.0, 1.0)]


def test_the_arrow_says_where_its_end_goes() -> None:
    whole = texts(roll_sheets(PLANS["clinic"])[0])
    assert "to north 2" in whole and "to door" in whole and "to cross seam" in whole


def test_room_plan_arrows_follow_the_lay() -> None:
    assert heads(room_scene(PLANS["guest-house"], "lounge", EITHER), "lounge-1") == [(1.0, 0.0)]
    (slanting,) = heads(room_scene(PLANS["oblique"], "wing", EITHER), "wing-1")
    assert isclose(slanting[0], 0.8, abs_tol=1e-6) and isclose(slanting[1], -0.6, abs_tol=1e-6)


@given(st.integers(-20, 20), st.integers(-20, 20), st.integers(-(10**10), 10**10), st.integers(-(10**10), 10**10))
@settings(max_examples=100, deadline=None)
def test_the_lay_frame_turns_back(dx: int, dy: int, x: int, y: int) -> None:
    if (dx, dy) == (0, 0):
        return
    direction = LayDirection.towards(dx, dy)
    back = to_floor(direction, lay_point(direction, (x, y)))
    assert hypot(back[0] - x, back[1] - y) < 2.0


@pytest.mark.parametrize(("name", "room"), [("studio", "studio"), ("oblique", "wing"), ("clinic", "treatment")])
def test_breadths_cover_the_floor(name: str, room: str) -> None:
    view = room_view(PLANS[name], room)
    assert view.layout is not None
    floor = view.layout.floor
    area = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(floor, [*floor[1:], floor[0]], strict=True)))
    parts = [piece_floor(view.layout, cut) for cut in view.cuts]
    total = sum(abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(p, [*p[1:], p[0]], strict=True))) for p in parts)
    assert isclose(total, area, rel_tol=1e-9)


@pytest.mark.parametrize(
    ("name", "room", "figures"),
    [
        ("clinic", "treatment", {"1900", "1400"}),
        ("clinic", "corridor", {"4200"}),
        ("guest-house", "lounge", {"3.300"}),
        ("school", "nursery", {"6' 8\""}),
        ("studio", "studio", {"1200", "3120", "3360", "1440", "2000"}),
        ("oblique", "wing", {"2000"}),
    ],
)
def test_seams_are_measured_from_the_nearest_parallel_wall(name: str, room: str, figures: set[str]) -> None:
    assert set(texts(room_scene(PLANS[name], room, EITHER), "seam-text")) == figures


def test_every_wall_has_its_length() -> None:
    for name, plan in PLANS.items():
        for room in plan.job.rooms:
            scene = room_scene(plan, room.id, EITHER)
            dimensions = next(group for group in scene.groups if group.id == "wall-dimensions")
            shown = [item.text for item in dimensions.items if isinstance(item, Label)]
            assert len(shown) == len(room.outline), (name, room.id)
            for k, (a, edge) in enumerate(zip(room.outline, room.edges, strict=True)):
                b = room.outline[(k + 1) % len(room.outline)]
                size = figure(round(hypot(b[0] - a[0], b[1] - a[1])), plan.job.unit)
                assert any(size in text for text in shown), (name, edge)


def test_wall_dimensions_stand_outside() -> None:
    for name in ("clinic", "studio", "oblique", "school"):
        for room in PLANS[name].job.rooms:
            scene = room_scene(PLANS[name], room.id, EITHER)
            (floor,) = shape_of(scene, "room").rings
            dimensions = next(group for group in scene.groups if group.id == "wall-dimensions")
            for label in dimensions.items:
                if isinstance(label, Label):
                    assert not any(inside(floor, corner) for corner in label.box), label.text


def test_coves_doors_and_less_trim_are_said() -> None:
    treatment = room_scene(PLANS["clinic"], "treatment", EITHER)
    assert any("cove 100" in text for text in texts(treatment)) and "cove" in texts(treatment)
    nursery = texts(room_scene(PLANS["school"], "nursery", EITHER))
    assert any(text.startswith("door") and "seam" in text for text in nursery)
    assert any('1" at wall 10 instead of 2"' in text for text in nursery)
    assert any("straight within" in text for text in nursery)
    assert any(text.startswith("Less trim") for text in texts(roll_sheets(PLANS["school"])[0]))


def test_flaws_offcuts_and_allowances_are_said() -> None:
    order, hand, rest = (texts(scene) for scene in roll_sheets(PLANS["clinic"]))
    assert "Flaw · along 4300 to 4550 · across 500 to 900" in hand
    assert "back to the shop" in rest and "1700 × 1250" in rest
    assert any("stays with the client" in text for text in order) and "2000 × 940" in order
    assert any("tart allowance 50" in text for text in order)
    assert any("length to order 17500 mm" in text and "new lot" in text for text in order)
    assert any("lot B7 · rack 2" in text for text in hand)


# --- rows ---


@given(st.integers(2_000, 40_000), st.sampled_from(sorted(PLANS)))
@settings(max_examples=60, deadline=None)
def test_rows_follow_one_another_to_the_end(longest_mm: int, name: str) -> None:
    plan = PLANS[name]
    part = plan.materials[0]
    for source in part.sources:
        view = roll_view(plan, part, source)
        rows = broken_into_rows(view, longest_mm * MM)
        assert rows[0].y0_nm == 0
        assert all(a.y1_nm == b.y0_nm for a, b in pairwise(rows))
        assert all(0 < row.length_nm <= longest_mm * MM for row in rows)
        assert not any(row.goes_on for row in rows[:-1])
        assert rows[-1].goes_on or rows[-1].y1_nm == source.length_nm
        assert rows[-1].y1_nm >= view.last_nm()
        first, second = halves(view, rows[-1])
        assert (first.y0_nm, second.y1_nm) == (rows[-1].y0_nm, rows[-1].y1_nm) and first.y1_nm == second.y0_nm


def test_a_piece_over_a_break_goes_on() -> None:
    plan = PLANS["long-roll"]
    part = plan.materials[0]
    aisle = part.cuts[-1]
    long = replace(aisle, rects=(Rect(0, 0, 3_700 * MM, 41_000 * MM),))
    longer = replace(plan, materials=(replace(part, cuts=(*part.cuts[:-1], long), offcuts=()),))
    scenes = source_scenes(longer, longer.materials[0], part.sources[1], EITHER)
    groups = [group.id for scene in scenes for group in scene.groups if group.id.startswith("piece-")]
    assert groups[0] == "piece-6" and "piece-6-part-row-2" in groups
    said = [text for scene in scenes for text in texts(scene)]
    assert "goes on over the break" in said and "3.700 × 41.000" in said and "3.700 × 41.000 in all" in said
    assert any("Row 2 of" in text for text in said)


def test_a_long_rest_is_not_drawn() -> None:
    plan = PLANS["long-roll"]
    (scene,) = source_scenes(plan, plan.materials[0], plan.materials[0].sources[1], EITHER)
    assert any("up to 100.000 m, is not drawn" in text for text in texts(scene))
    assert "4.000 × 85.700" in texts(scene)


# --- pattern ---

LATTICES = st.builds(
    DrawnLattice,
    origin=st.tuples(st.integers(-50, 50), st.integers(-50, 50)),
    along_nm=st.integers(3, 20),
    across_nm=st.integers(3, 20),
    drop_nm=st.fractions(0, 20, max_denominator=3),
)


def in_lattice(lattice: DrawnLattice, point: tuple[int, int]) -> bool:
    assert lattice.across_nm is not None
    m, rest = divmod(point[0] - lattice.origin[0], lattice.across_nm)
    shift = (m * lattice.drop_nm).__floor__()
    return rest == 0 and (point[1] - lattice.origin[1] - shift) % lattice.along_nm == 0


@given(LATTICES)
@settings(max_examples=100, deadline=None)
def test_marks_are_the_lattice(lattice: DrawnLattice) -> None:
    area = Rect(-30, -20, 40, 35)
    every = {(x, y) for x in range(-30, 41) for y in range(-20, 36) if in_lattice(lattice, (x, y))}
    assert set(marks_within(lattice, area)) == every


@given(LATTICES)
@settings(max_examples=100, deadline=None)
def test_lines_across_run_through_the_marks_of_their_column(lattice: DrawnLattice) -> None:
    area = Rect(-30, -20, 40, 35)
    lines, across, along = repeat_lines(lattice, area, 1.0)
    assert (across, along) == (1, 1)
    marks = set(marks_within(lattice, Rect(-60, -20, 40, 35)))
    for (x0, y0), (x1, y1) in lines:
        if y0 == y1:
            assert lattice.across_nm is not None
            column = x0 - (x0 - lattice.origin[0]) % lattice.across_nm
            assert (column, y0) in marks and x1 <= column + lattice.across_nm
        else:
            assert (x0 - lattice.origin[0]) % lattice.across_nm == 0 and x0 == x1  # type: ignore[operator]


def test_thinning() -> None:
    assert thinning(100, 40.0) == 1 and thinning(100, 101.0) == 2 and thinning(100, 430.0) == 5


@pytest.mark.parametrize("drop", [Fraction(0), Fraction(457_200_000), Fraction(914_400_000, 3)])
def test_marks_on_the_roll_are_the_marks_on_the_floor(drop: Fraction) -> None:
    """A mark of the roll, carried into the room with its piece, is a mark of the room: q + σ − o ≡ φ."""
    plan = _with_drop(PLANS["guest-house"], drop)
    part, material = plan.materials[0], plan.job.materials[0]
    source, layout = part.sources[0], part.layouts[0]
    assert source.phase_nm is not None
    on_roll = lattice_of(material, source.width_nm, (-source.phase_nm[0], -source.phase_nm[1]))
    view = room_view(plan, layout.room_id)
    assert on_roll is not None and view.lattice is not None
    cut, spot = part.cuts[0], part.placements[0]
    box = bounding_rect(cut.rects)
    marks = marks_within(on_roll, Rect(spot.x_nm, spot.y_nm, spot.x_nm + box.width_nm, spot.y_nm + box.length_nm))
    carried = {(x - spot.x_nm + box.x0_nm, y - spot.y_nm + box.y0_nm) for x, y in marks}
    assert len(carried) > 20
    assert carried == set(marks_within(view.lattice, box))


def _with_drop(plan: Plan, drop: Fraction) -> Plan:
    """The plan with another drop and the phase that its first piece gives: φ = q + σ − o."""
    material, part = plan.job.materials[0], plan.materials[0]
    assert material.pattern is not None
    spot, source = part.placements[0], part.sources[0]
    box = bounding_rect(part.cuts[0].rects)
    assert source.phase_nm is not None
    phase = (spot.x_nm + source.phase_nm[0] - box.x0_nm, spot.y_nm + source.phase_nm[1] - box.y0_nm)
    goods = replace(material, pattern=replace(material.pattern, drop_nm=drop))
    groups = (replace(part.phase_groups[0], phase_nm=phase),)
    return replace(plan, job=replace(plan.job, materials=(goods,)), materials=(replace(part, phase_groups=groups),))


def test_known_by_the_match_at_the_seam_the_repeat_is_the_pitch() -> None:
    material = PLANS["guest-house"].job.materials[0]
    assert material.pattern is not None
    at_seam = replace(material, pattern=replace(material.pattern, at_seam=True), seam_overlap_nm=30 * MM)
    lattice = lattice_of(at_seam, 4_000 * MM, (0, 0))
    assert lattice is not None and lattice.across_nm == (4_000 - 40 - 30) * MM


def test_the_first_mark_of_a_room_is_measured_from_the_walls() -> None:
    said = texts(room_scene(PLANS["school"], "nursery", EITHER), "mark-text")
    # φ = (3", 5") and a repeat of 18": marks at 15" and 13" from the corner at (0, 0).
    assert said == ["pattern mark: 1' 1\" from south, 1' 3\" from wall 10"]


def test_sizes_are_width_by_length() -> None:
    assert size_text(1_960 * MM, 3_700 * MM, Unit.MM) == "1960 × 3700"
    assert {cut.kind for cut in PLANS["small-pieces"].materials[0].cuts} == {
        CutKind.STRIP, CutKind.LOOSE, CutKind.INSERT,
    }  # fmt: skip
