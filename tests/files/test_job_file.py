"""What a job file means: every kind of floor, door and material, against figures worked out beside the case."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import LayDirection, Rect
from nesting.domain.job import DoorJoint, EdgeKind, HoleKind, Job, PlacementWish, Room, Unit
from nesting.domain.material import Material, Pattern, StockKind, Turning
from nesting.domain.rules import GoalKind, RuleId
from nesting.files.job_entries import PARTS, JobEntry
from nesting.files.job_file import json_schema, parse_job, starter_job
from nesting.files.outline import twice_area

MM = 1_000_000
CM = 10 * MM
M = 1_000 * MM
INCH = 25_400_000

MINIMAL = """\
job: Two rooms
unit: m
materials:
  - name: Plain sheet
    width: 2 m
rooms:
  - name: Kitchen
    rectangle: 3.6 x 2.8
"""


def m(*points: tuple[float, float]) -> tuple[tuple[int, int], ...]:
    """Return points given in metres, in nm."""
    return tuple((round(x * 1000) * MM, round(y * 1000) * MM) for x, y in points)


def a_room(*lines: str, floor: str = "rectangle: 4 x 3") -> Room:
    """Return the room of a job with more keys."""
    text = "job: A\nunit: m\nmaterials: [{name: Sheet, width: 2 m, weight: 3 kg/m2}]\nrooms:\n  - name: Den\n"
    return parse_job(text + "".join(f"    {line}\n" for line in (floor, *lines))).job.rooms[0]


def a_material(*lines: str, unit: str = "m") -> Material:
    """Return the material of a job with more keys."""
    text = f"job: A\nunit: {unit}\nrooms: [{{name: Den, rectangle: 2 m x 2 m}}]\nmaterials:\n  - name: Goods\n"
    return parse_job(text + "".join(f"    {line}\n" for line in lines)).job.materials[0]


def kinds(room: Room) -> list[str]:
    return [edge.kind.value for edge in room.edges]


# --- the whole -------------------------------------------------------------------------------------------------------


def test_the_minimal_job_is_under_ten_lines_and_means_the_defaults() -> None:
    assert MINIMAL.count("\n") < 10
    read = parse_job(MINIMAL)
    (material,), (room,) = read.job.materials, read.job.rooms
    assert read.notices == ()
    assert (read.job.name, read.job.unit) == ("Two rooms", Unit.M)
    assert material == Material(id="plain-sheet", name="Plain sheet", widths_nm=(2 * M,))
    assert room.outline == m((0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8))
    assert [edge.wall for edge in room.edges] == ["south", "east", "north", "west"]
    assert (room.trim_nm, room.out_of_square_nm, room.line) == (2 * INCH, 10 * MM, 7)


@pytest.mark.parametrize("unit", ["m", "cm", "mm", "in", "ft"])
def test_the_starter_job_reads(unit: str) -> None:
    read = parse_job(starter_job(unit))
    assert read.job.unit == unit
    assert read.notices == ()
    assert len(read.job.rooms) == 2
    assert twice_area(read.job.rooms[1].outline) > 0


def test_no_starter_job_in_furlongs() -> None:
    with pytest.raises(ValueError):
        starter_job("furlong")


def test_keys_take_hyphens_and_underscores_for_spaces() -> None:
    spellings = ("order step: 10 cm", "order_step: 10 cm", "Order-Step: 10 cm")
    assert len({a_material("width: 2 m", line) for line in spellings}) == 1


def test_both_systems_in_one_job() -> None:
    room = a_room(floor="rectangle: 12' 6\" x 3.75 m")
    assert room.outline[2] == (150 * INCH, 3750 * MM)


def test_the_cutting_step_follows_the_unit() -> None:
    assert a_material("width: 2 m").cutting_step_nm == 5 * MM
    assert a_material("width: 2 m", unit="ft").cutting_step_nm == INCH // 4


def test_goal_offcuts_rules_money() -> None:
    job = parse_job(
        MINIMAL
        + "currency: EUR\ngoal: {kind: least cost, charge per seam: 4 per m, charge per cut: 1.50, most seams: 3}\n"
        + "offcuts: {worth keeping: [50 x 80 cm], bench cuts: yes}\n"
        + "trim: 3 cm\nrules: {least breadth: 40 cm, waive: [access]}\n"
    ).job
    assert job.currency == "EUR"
    assert job.goal.kind is GoalKind.LEAST_COST
    assert (job.goal.charge_per_seam_m, job.goal.charge_per_cut, job.goal.most_seams) == (400, 150, 3)
    assert job.offcuts.sizes_nm == ((50 * CM, 80 * CM),) and job.offcuts.bench_cuts
    assert job.rooms[0].trim_nm == 3 * CM
    assert job.rooms[0].rules.least_breadth_nm == 40 * CM
    assert job.rooms[0].rules.waived == (RuleId.ACCESS,)


def test_the_nearest_setting_counts_and_waivers_add_up() -> None:
    text = (
        "job: A\nunit: m\ntrim: 1 cm\nleast trim: 0\nrules: {least breadth: 1 m, cross seams: 1, waive: access}\n"
        "materials:\n  - {name: Sheet, width: 2 m, trim: 2 cm, rules: {least breadth: 2 m, waive: keep-out}}\n"
        "rooms:\n  - {name: A, rectangle: 3 x 3, rules: {least breadth: 30 cm}}\n"
        "  - {name: B, rectangle: 3 x 3, trim: 3 cm}\n"
    )
    first, second = parse_job(text).job.rooms
    assert (first.trim_nm, second.trim_nm, first.least_trim_nm) == (2 * CM, 3 * CM, 0)
    assert (first.rules.least_breadth_nm, second.rules.least_breadth_nm) == (30 * CM, 2 * M)
    assert first.rules.cross_seams_per_breadth == 1
    assert first.rules.waived == (RuleId.ACCESS, RuleId.KEEP_OUT)


# --- floors ----------------------------------------------------------------------------------------------------------


def test_a_walk_either_way_round_gives_the_same_floor() -> None:
    right = a_room(floor="walk: [north 3, east 4, south 3, west 4]")
    left = a_room(floor="walk: [east 4, north 3, west 4, south 3]")
    assert twice_area(right.outline) == twice_area(left.outline) == 24 * M * M
    assert sorted(right.outline) == sorted(left.outline)
    ends = {edge.wall: right.outline[i] for i, edge in enumerate(right.edges)}
    assert ends == {"wall 1": (0, 3 * M), "wall 2": (4 * M, 3 * M), "wall 3": (4 * M, 0), "wall 4": (0, 0)}


def test_the_missing_wall_of_a_walk() -> None:
    assert sorted(a_room(floor="walk: [N 3, E 4, S 3, close]").outline) == sorted(m((0, 0), (4, 0), (4, 3), (0, 3)))
    assert sorted(a_room(floor="walk: [up 3, right close, down 3, left 4]").outline) == sorted(
        m((0, 0), (4, 0), (4, 3), (0, 3))
    )


def test_a_small_closing_error_goes_into_the_last_walls_and_is_told() -> None:
    read = parse_job(MINIMAL.replace("rectangle: 3.6 x 2.8", "walk: [north 3, east 4, south 3.004, west 3.997]"))
    room = read.job.rooms[0]
    assert sorted(room.outline) == sorted(m((0, 0), (0, 3), (4, 3), (4, 0)))
    assert [notice.code for notice in read.notices] == ["walk-closed"]
    assert "0.005 m" in read.notices[0].text  # 3-4-5


def test_the_closing_tolerance_is_a_setting() -> None:
    text = MINIMAL.replace("rectangle: 3.6 x 2.8", "walk: [north 3, east 4, south 3.05, west 4]")
    assert parse_job(text + "closing tolerance: 5 cm\n").job.rooms[0].outline


def test_bearings_and_oblique_walls() -> None:
    room = a_room(floor="walk: [east 4, 'bearing 0° 4', close]")
    assert sorted(room.outline) == sorted(m((0, 0), (4, 0), (4, 4)))


def test_named_walls() -> None:
    room = a_room(floor="walk: [{go: north 3, wall: window}, east 4, south 3, west 4]")
    assert {edge.wall for edge in room.edges} == {"window", "wall 2", "wall 3", "wall 4"}


def test_corners_may_close_on_the_first() -> None:
    room = a_room(floor="corners: ['1, 1', '4, 1', [4, 3], '100 cm, 300 cm', '1, 1']")
    assert room.outline == m((1, 1), (4, 1), (4, 3), (1, 3))


def test_four_sides_and_a_diagonal() -> None:
    square = a_room(floor="sides: {south: 3, east: 4, north: 3, west: 4, diagonal: 5, other diagonal: 5}")
    assert all(
        abs(p - q) <= 2
        for a, b in zip(square.outline, m((0, 0), (3, 0), (3, 4), (0, 4)), strict=True)
        for p, q in zip(a, b, strict=True)
    )
    kite = a_room(floor="sides: {south: 3, east: 4, north: 4, west: 3, diagonal: 5}")
    south_west, south_east, north_east, north_west = kite.outline
    for p, q, length in ((south_east, north_east, 4), (north_east, north_west, 4), (north_west, south_west, 3)):
        assert abs((p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 - (length * M) ** 2) < 20 * M


# --- features --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wall", "left_end"), [("north", (0, 3)), ("east", (4, 3)), ("south", (4, 0)), ("west", (0, 0))]
)
def test_left_is_as_one_faces_the_wall_from_inside(wall: str, left_end: tuple[float, float]) -> None:
    door = a_room(f"doors: [{{wall: {wall}, from left: 0, width: 1 m}}]").doors[0]
    assert m(left_end)[0] in door.opening


def test_ends_by_compass_and_in_the_middle() -> None:
    places = ("from west: 0.5", "from left: 0.5", "from east: 2.5", "from right: 2.5")
    openings = {a_room(f"doors: [{{wall: north, {place}, width: 1 m}}]").doors[0].opening for place in places}
    assert openings == {m((1.5, 3), (0.5, 3))}
    assert a_room("doors: [{wall: north, centred: yes, width: 1 m}]").doors[0].opening == m((2.5, 3), (1.5, 3))


def test_a_door_with_a_recess() -> None:
    room = a_room("doors: [{name: D, wall: south, from west: 1, width: 1 m, depth: 10 cm, joint: seam, swing: in}]")
    assert room.outline == m((0, 0), (1, 0), (1, -0.1), (2, -0.1), (2, 0), (4, 0), (4, 3), (0, 3))
    assert kinds(room) == ["wall", "jamb", "door", "jamb", "wall", "wall", "wall", "wall"]
    (door,) = room.doors
    assert (door.id, door.joint, door.bridgeable) == ("D", DoorJoint.SEAM, True)
    assert door.opening == m((1, 0), (2, 0)) and door.line == m((1, -0.1), (2, -0.1))
    assert {edge.door for edge in room.edges if edge.kind is not EdgeKind.WALL} == {"D"}
    assert sorted(room.keep_outs[0].outline) == sorted(m((1, 0), (2, 0), (2, 1), (1, 1)))


def test_a_door_without_a_recess_and_a_wide_one() -> None:
    room = a_room("doors: [{wall: east, from south: 0, width: 3 m}]")
    assert kinds(room) == ["wall", "door", "wall", "wall"]
    assert not room.doors[0].bridgeable
    assert a_room("doors: [{wall: east, from south: 0, width: 3 m, bridgeable: yes}]").doors[0].bridgeable


def test_an_alcove_has_walls_of_its_own() -> None:
    room = a_room(
        "alcoves: [{name: bay, wall: north, from west: 1, width: 2 m, depth: 50 cm}]",
        "doors: [{wall: bay, centred: yes, width: 1 m}]",
    )
    assert room.outline == m((0, 0), (4, 0), (4, 3), (3, 3), (3, 3.5), (2.5, 3.5), (1.5, 3.5), (1, 3.5), (1, 3), (0, 3))
    assert [edge.wall for edge in room.edges][3:9] == ["bay right", "bay", "bay", "bay", "bay left", "north"]


def test_a_fixture_at_a_wall_is_cut_from_the_outline() -> None:
    by_wall = a_room("cut out: [{kind: fixture, wall: south, from west: 1, width: 1 m, depth: 50 cm}]")
    by_place = a_room("cut out: [{kind: fixture, at: '1, 0', size: 1 x 0.5}]")
    assert by_wall.outline == by_place.outline == m((0, 0), (1, 0), (1, 0.5), (2, 0.5), (2, 0), (4, 0), (4, 3), (0, 3))
    assert by_wall.holes == ()


@pytest.mark.parametrize("corner", ["0, 0", "3, 0", "3, 2", "0, 2"])
def test_a_fixture_in_a_corner_makes_an_ell(corner: str) -> None:
    room = a_room(f"cut out: [{{at: '{corner}', size: 1 x 1}}]")
    assert len(room.outline) == len(room.edges) == 6
    assert twice_area(room.outline) == 22 * M * M


def test_a_free_standing_column_is_a_hole() -> None:
    room = a_room(
        "cut out:",
        "  - {at: '1, 1', size: 40 x 40 cm}",
        "  - {kind: island, wall: north, centred: yes, off the wall: 1, width: 1, depth: 50 cm}",
    )
    column, island = room.holes
    assert (column.id, column.kind, column.outline) == (
        "column 1",
        HoleKind.COLUMN,
        m((1, 1), (1.4, 1), (1.4, 1.4), (1, 1.4)),
    )
    assert sorted(island.outline) == sorted(m((1.5, 1.5), (2.5, 1.5), (2.5, 2), (1.5, 2)))


def test_coves_by_wall_and_all_round() -> None:
    room = a_room(
        "cove: 10 cm",
        "coves: [{walls: [north wall, bay], height: 15 cm}]",
        "alcoves: [{name: bay, wall: east, centred: yes, width: 1, depth: 1}]",
        "doors: [{wall: south, centred: yes, width: 1, depth: 5 cm}]",
    )
    coves = {(edge.wall, edge.kind.value): edge.cove_nm // CM for edge in room.edges}
    assert coves[("north", "wall")] == coves[("bay", "wall")] == coves[("bay left", "wall")] == 15
    assert coves[("south", "wall")] == coves[("east", "wall")] == 10
    assert coves[("south", "jamb")] == coves[("south", "door")] == 0


def test_keep_outs_and_joints() -> None:
    room = a_room(
        "keep out: [{at: '1, 1', size: 1 x 1}, {wall: west, from south: 0, width: 1, depth: 1}]",
        "joints below: [{from: '0, 1', to: '4, 1'}, {parallel to: west, distance: 1}]",
    )
    assert sorted(room.keep_outs[1].outline) == sorted(m((0, 0), (1, 0), (1, 1), (0, 1)))
    first, second = room.joints_below
    assert (first.start, first.end) == m((0, 1), (4, 1))
    assert {second.start, second.end} == {*m((1, 0), (1, 3))}


def test_a_joint_goes_through_every_arm_of_the_room() -> None:
    u_shape = "corners: ['0, 0', '5, 0', '5, 3', '4, 3', '4, 1', '1, 1', '1, 3', '0, 3']"
    joints = a_room("joints below: [{parallel to: wall 1, distance: 2}]", floor=u_shape).joints_below
    assert sorted(sorted((joint.start, joint.end)) for joint in joints) == [
        list(m((0, 2), (1, 2))),
        list(m((4, 2), (5, 2))),
    ]


def test_directions() -> None:
    def lays(text: str) -> set[tuple[int, int]]:
        return {(lay.dx, lay.dy) for lay in a_room(f"lay: {text}").lays}

    assert lays("free") == set()
    assert (
        lays("north-south")
        == lays("y")
        == lays("along east wall")
        == lays("across the north wall")
        == {(0, 1), (0, -1)}
    )
    assert lays("x") == lays("90°") == {(1, 0), (-1, 0)}
    assert lays("towards north") == {(0, 1)}
    assert lays("from north") == {(0, -1)}
    assert lays("45") == {(1, 1), (-1, -1)}
    assert lays("[x, y]") == {(1, 0), (-1, 0), (0, 1), (0, -1)}
    room = a_room("traffic: east-west", "light: from west", "view: towards north")
    assert (room.traffic, room.light, room.view) == (LayDirection(1, 0), LayDirection(1, 0), LayDirection(0, 1))


def test_access_and_placement() -> None:
    text = (
        "job: A\nunit: m\nmaterials:\n  - {name: C, width: 4 m, weight: 2 kg/m2, "
        "repeat along: 64 cm, repeat across: 50 cm, match: straight}\n"
        "rooms:\n  - {name: Den, rectangle: 4 x 3, access: {widest: 2 m, heaviest: 60 kg}, "
        "pattern: {across: balanced, along: whole at the North wall, least at walls: 10 cm}}\n"
    )
    room = parse_job(text).job.rooms[0]
    assert (room.access.widest_nm, room.access.longest_nm, room.access.heaviest_g) == (2 * M, None, 60_000)
    assert (room.placement.across, room.placement.along) == (PlacementWish.BALANCED, PlacementWish.WHOLE_AT_WALL)
    assert (room.placement.along_wall, room.placement.least_at_walls_nm) == ("north", 10 * CM)


# --- rooms in one plan -----------------------------------------------------------------------------------------------


def joined(first: str, second: str, *, match: str = "") -> Job:
    text = (
        f"job: A\nunit: m\nmaterials: [{{name: Sheet, width: 2 m}}]\n{match}rooms:\n"
        f"  - {{name: Den, rectangle: 4 x 3, doors: [{first}]}}\n"
        f"  - {{name: Hall, rectangle: 2 x 5, doors: [{second}]}}\n"
    )
    return parse_job(text).job


def test_a_joined_door_puts_the_next_room_behind_the_wall() -> None:
    den, hall = joined(
        "{name: D, wall: east, from south: 1, width: 1, wall thickness: 20 cm, joint: seam, joins: Hall / E}",
        "{name: E, wall: west, from south: 2, width: 1}",
        match="match: [[den, Hall]]\n",
    ).rooms
    assert den.plan_id == hall.plan_id == "den"
    # Den's wall stands at x = 4 m, the door from y = 1 m; Hall's wall is 20 cm on, its door 2 m up its own wall.
    assert min(hall.outline)[0] == round(4.1 * M)  # the recess, half the wall's thickness
    assert hall.doors[0].opening == m((4.2, 2), (4.2, 1))
    assert den.doors[0].line == tuple(reversed(hall.doors[0].line)) == m((4.1, 1), (4.1, 2))
    assert den.doors[0].joined == ("hall", "E") and hall.doors[0].joined == ("den", "D")
    assert den.doors[0].joint is hall.doors[0].joint is DoorJoint.SEAM


def test_either_side_may_say_it_and_depths_fill_up() -> None:
    first = joined(
        "{wall: north, centred: yes, width: 1, depth: 5 cm}",
        "{wall: south, centred: yes, width: 1, wall thickness: 20 cm, joins: Den / door 1}",
    )
    den, hall = first.rooms
    assert den.doors[0].line == m((2.5, 3.05), (1.5, 3.05))
    assert hall.doors[0].line == m((1.5, 3.05), (2.5, 3.05))
    both = joined(
        "{wall: north, centred: yes, width: 1, depth: 5 cm, joins: Hall / door 1}",
        "{wall: south, centred: yes, width: 1, depth: 15 cm, joins: Den / door 1}",
    )
    assert both == first


def test_rooms_apart_have_plans_of_their_own_and_placed_ones_share_one() -> None:
    apart = parse_job(MINIMAL + "  - {name: Hall, rectangle: 2 x 2}\n").job.rooms
    assert [room.plan_id for room in apart] == ["kitchen", "hall"]
    placed = parse_job(MINIMAL + "    at: 0, 0\n  - {name: Hall, rectangle: 2 x 2, at: '4, 1'}\n").job.rooms
    assert [room.plan_id for room in placed] == ["kitchen", "kitchen"]
    assert placed[1].outline[0] == (4 * M, M)


def test_rooms_over_one_another_are_told() -> None:
    read = parse_job(MINIMAL + "    at: 0, 0\n  - {name: Hall, rectangle: 2 x 2, at: '3, 1'}\n")
    assert [notice.code for notice in read.notices] == ["rooms-overlap"]


# --- goods -----------------------------------------------------------------------------------------------------------


def test_everything_about_a_material() -> None:
    goods = a_material(
        "id: cpt",
        "widths: [3.66 m, 4 m]",
        "longest: 30 m",
        "order step: 10 cm",
        "minimum cut: 1 m",
        "cut charge: 12.50",
        "prices: [40 per m, 50 per m]",
        "lot limit: 120 m",
        "selvedge: 1 cm",
        "turning: alternate",
        "directed: no",
        "in sequence: yes",
        "seam overlap: 2 cm",
        "cutting step: 1 cm",
        "weight: 2.5 kg/m2",
        "squaring: 10 cm",
        "starting allowance: none",
        "repeat tolerance: 2 %",
        "stock only: yes",
    )
    assert (goods.id, goods.widths_nm, goods.longest_nm) == ("cpt", (3660 * MM, 4 * M), 30 * M)
    assert (goods.sale.order_step_nm, goods.sale.minimum_cut_nm, goods.sale.cut_charge) == (10 * CM, M, 1250)
    assert goods.sale.price_per_m == (4000, 5000) and goods.sale.lot_limit_nm == 120 * M
    assert (goods.selvedge_nm, goods.seam_overlap_nm, goods.cutting_step_nm) == (CM, 2 * CM, CM)
    assert (goods.turning, goods.directed, goods.in_sequence) == (Turning.ALTERNATE, False, True)
    assert (goods.weight_g_per_m2, goods.squaring_nm, goods.starting_allowance_nm) == (2500, 10 * CM, 0)
    assert goods.repeat_tolerance == Fraction(1, 50) and not goods.orders_allowed


PATTERN_CASES: list[tuple[list[str], Pattern | None]] = [
    (["match: none"], None),
    (["repeat across: none", "match: straight"], Pattern(along_nm=640 * MM)),
    (
        ["match: straight"],
        Pattern(along_nm=640 * MM, across_nm=3600 * MM, at_seam=True),
    ),
    (
        ["match: half-drop", "repeat across: at the seam"],
        Pattern(along_nm=640 * MM, across_nm=3600 * MM, drop_nm=Fraction(320 * MM), at_seam=True),
    ),
    # 3.6 m holds 9 repeats of 40 cm: odd, so both readings of a half-drop agree
    (
        ["repeat across: 40 cm", "match: half drop"],
        Pattern(along_nm=640 * MM, across_nm=400 * MM, drop_nm=Fraction(320 * MM)),
    ),
    # 8 of 45 cm, per repeat: the side seam is straight
    (
        ["repeat across: 45 cm", "match: half-drop", "drop counts: per repeat"],
        Pattern(along_nm=640 * MM, across_nm=450 * MM, drop_nm=Fraction(320 * MM)),
    ),
    # 8 of 45 cm, at the seam: only the lattice of breadths is known
    (
        ["repeat across: 45 cm", "match: half-drop", "drop counts: at the seam"],
        Pattern(along_nm=640 * MM, across_nm=3600 * MM, drop_nm=Fraction(320 * MM)),
    ),
    # 4 of 90 cm: a drop of a third gives 4/3, a third, at the seam too
    (
        ["repeat across: 90 cm", "match: drop 1/3"],
        Pattern(along_nm=640 * MM, across_nm=900 * MM, drop_nm=Fraction(640 * MM, 3)),
    ),
    (
        ["repeat across: 90 cm", "match: at the right the motif sits up by 16 cm", "drop counts: per repeat"],
        Pattern(along_nm=640 * MM, across_nm=900 * MM, drop_nm=Fraction(160 * MM)),
    ),
    (
        ["repeat across: 90 cm", "match: sits down by 25 %", "drop counts: per repeat"],
        Pattern(along_nm=640 * MM, across_nm=900 * MM, drop_nm=Fraction(480 * MM)),
    ),
]


@pytest.mark.parametrize(("lines", "pattern"), PATTERN_CASES)
def test_patterns(lines: list[str], pattern: Pattern | None) -> None:
    assert (
        a_material("width: 3.66 m", "selvedge: 2 cm", "seam overlap: 2 cm", "repeat along: 640 mm", *lines).pattern
        == pattern
    )


def test_a_printed_overlap_is_asked_about() -> None:
    text = (
        "job: A\nunit: in\nrooms: [{name: Den, rectangle: 100 x 100}]\nmaterials:\n"
        "  - {name: C, width: 144, repeat along: 36, repeat across: 18, match: straight, seam overlap: OVERLAP}\n"
    )
    assert [notice.code for notice in parse_job(text.replace("OVERLAP", "1")).notices] == ["overlap-costs-repeat"]
    assert parse_job(text.replace("OVERLAP", "0")).notices == ()


# --- stock -----------------------------------------------------------------------------------------------------------


def a_piece(
    more: str, material: str = "repeat along: 60 cm, repeat across: 40 cm, match: half-drop, drop counts: per repeat"
) -> Any:
    text = (
        f"job: A\nunit: m\nmaterials: [{{name: C, width: 4 m, {material}}}]\n"
        f"stock:\n  - {{id: R-1, width: 1 m, length: 5 m, {more}}}\n"
        "rooms: [{name: Den, rectangle: 2 x 2}]\n"
    )
    return parse_job(text).job.stock[0]


def test_everything_about_a_remnant() -> None:
    piece = a_piece(
        "kind: roll, lot: A17, lot orderable: yes, value: 12, place: rack 2, "
        "flaws: [{from start: 1, from left: 0, size: 30 x 20 cm}]"
    )
    assert (piece.id, piece.material_id, piece.kind, piece.lot) == ("R-1", "c", StockKind.ROLL, "A17")
    assert (piece.lot_orderable, piece.book_value, piece.place) == (True, 1200, "rack 2")
    assert piece.flaws == (Rect(0, M, 30 * CM, 120 * CM),)
    assert piece.phase_nm is None
    assert a_piece("lot: B").kind is StockKind.REMNANT


@given(st.integers(0, 999), st.integers(0, 999))
def test_a_first_mark_is_a_point_of_the_lattice(x_mm: int, y_mm: int) -> None:
    phase = a_piece(f"first mark: '{x_mm} mm across, {y_mm} mm along'").phase_nm
    across, along, drop = 400 * MM, 600 * MM, 300 * MM
    assert 0 <= phase[0] < across and 0 <= phase[1] < along
    repeats, rest = divmod(x_mm * MM + phase[0], across)
    assert rest == 0
    assert (y_mm * MM + phase[1] - repeats * drop) % along == 0


def test_a_mark_on_goods_that_do_not_vary_across() -> None:
    plain_across = "repeat along: 60 cm, repeat across: none, match: straight"
    assert a_piece("first mark: 10 cm along", plain_across).phase_nm == (0, 50 * CM)


# --- loose pieces, strips, the schema --------------------------------------------------------------------------------


def test_loose_pieces_and_strips() -> None:
    job = parse_job(
        MINIMAL
        + "loose pieces: [{name: Stair, size: 30 x 90 cm, count: 14, most parts: 2, least part: 40 cm}]\n"
        + "strips: [{name: Cove, width: 10 cm, runs: [2.5, 3], walls of: Kitchen, least joint: 1 m}]\n"
    ).job
    (stair,), (cove,) = job.loose, job.strips
    assert (stair.width_nm, stair.length_nm, stair.count) == (30 * CM, 90 * CM, 14)
    assert (stair.most_parts, stair.least_part_nm) == (2, 40 * CM)
    assert cove.runs_nm == (2500 * MM, 3 * M, 3600 * MM, 2800 * MM, 3600 * MM, 2800 * MM)
    assert (cove.width_nm, cove.least_joint_nm) == (10 * CM, M)


def test_ids_of_rooms_and_pieces_are_one_set() -> None:
    job = parse_job(MINIMAL + "loose pieces: [{name: Kitchen!, size: 1 x 1}]\n").job
    assert (job.rooms[0].id, job.loose[0].id) == ("kitchen", "kitchen-2")


def test_names_in_any_script() -> None:
    job = parse_job(MINIMAL.replace("Kitchen", "Küche") + "  - {name: 台所, rectangle: 2 x 2}\n").job
    assert [(room.id, room.name) for room in job.rooms] == [("kuche", "Küche"), ("room-2", "台所")]


def test_the_schema_describes_every_key() -> None:
    schema = json_schema()
    parts = [schema, *schema["$defs"].values()]
    bodies = [part for part in parts if "properties" in part]
    bodies += [arm for part in parts for arm in part.get("anyOf", ()) if "properties" in arm]
    keys = [(body.get("title"), name, entry) for body in bodies for name, entry in body["properties"].items()]
    assert len(keys) > 120
    assert [(title, name) for title, name, entry in keys if not entry.get("description")] == []
    assert all(body.get("additionalProperties") is False for body in bodies)
    assert '"null"' not in str(schema)


def test_the_schema_has_the_keys_that_are_read() -> None:
    assert set(json_schema()["properties"]) == {info.alias for info in JobEntry.model_fields.values()}
    assert set(PARTS) < set(json_schema()["properties"])


@pytest.mark.parametrize(("unit", "squaring", "step"), [("m", 50 * MM, 5 * MM), ("ft", 2 * INCH, INCH // 4)])
def test_defaults_that_follow_the_unit(unit: str, squaring: int, step: int) -> None:
    job = parse_job(
        f"job: A\nunit: {unit}\nmaterials: [{{name: Sheet, width: 4 m}}]\nrooms: [{{name: R, rectangle: 3 x 2}}]\n"
    ).job
    assert (job.materials[0].squaring_nm, job.materials[0].cutting_step_nm) == (squaring, step)
