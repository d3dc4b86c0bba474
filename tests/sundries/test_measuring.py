"""What rooms measure for the sundries: by hand, and against what the plan itself counts."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.job import HoleKind
from nesting.files.plan_file import load_plan
from nesting.pipeline import Settings, plan_job
from nesting.sundries.measuring import RoomMeasures, length_nm, measured, wall_runs
from nesting.sundries.underlay import extent, underlay_runs
from tests.making import CM, MM, M, ell, rectangle
from tests.strategies import jobs
from tests.sundries.plans import plan_of

M2 = 10**18
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*/plan.json"))

FLAT = """
job: Flat
unit: m
materials: [{name: Sheet, width: 2 m, seam overlap: 20 mm}]
rooms:
  - name: Kitchen
    rectangle: 3.6 x 2.8
    cut out:
      - {name: sink, kind: fixture, wall: north, from left: 1, width: 60 cm, depth: 50 cm}
      - {name: range, kind: fixture, at: "1, 1", size: 0.5 x 0.6}
      - {name: flue, wall: west, from left: 1, width: 30 cm, depth: 30 cm}
    doors: [{wall: south, from left: 1, width: 90 cm, joins: Hall / door 1, depth: 5 cm}]
  - name: Hall
    rectangle: 3.6 x 1.5
    doors:
      - {wall: north, from right: 1, width: 90 cm, depth: 5 cm}
      - {wall: east, from left: 20 cm, width: 1 m}
      - {wall: west, from left: 20 cm, width: 80 cm, joint: seam, joins: Store / door 1}
  - name: Store
    rectangle: 1.5 x 1.5
    doors: [{wall: east, from left: 20 cm, width: 80 cm, joint: seam}]
"""


@pytest.fixture(scope="module")
def flat() -> dict[str, RoomMeasures]:
    return {room.room.name: room for room in measured(plan_of(FLAT))}


def test_floors_without_what_is_cut_out(flat: dict[str, RoomMeasures]) -> None:
    kitchen = Fraction(36 * 28 - 6 * 5 - 5 * 6 - 3 * 3, 100) + Fraction(90 * 5, 10**4)  # and its door's recess
    assert flat["Kitchen"].floor_nm2 == kitchen * M2
    assert flat["Hall"].floor_nm2 == (Fraction(36 * 15, 100) + Fraction(90 * 5, 10**4)) * M2


def test_walls_end_at_doors_and_know_what_is_cut_out(flat: dict[str, RoomMeasures]) -> None:
    runs = flat["Kitchen"].walls
    fixture = [run.length_nm for run in runs if run.cut_out is HoleKind.FIXTURE]
    assert sorted(fixture) == [50 * CM, 50 * CM, 60 * CM]
    column = [run.length_nm for run in runs if run.cut_out is HoleKind.COLUMN]
    assert column == [30 * CM] * 3
    assert sum(run.length_nm for run in runs if run.jamb) == 10 * CM
    walls = sum(run.length_nm for run in runs if run.cut_out is None and not run.jamb)
    assert walls == 2 * (3_600 + 2_800) * MM - 900 * MM - 600 * MM - 300 * MM
    assert flat["Kitchen"].around == ((HoleKind.FIXTURE, 2_200 * MM),)


def test_a_door_between_two_rooms_is_listed_once(flat: dict[str, RoomMeasures]) -> None:
    listed = [
        (room.room.name, door.width_nm, door.seamed) for room in flat.values() for door in room.doors if door.first
    ]
    assert listed == [("Kitchen", 90 * CM, False), ("Hall", 1 * M, False), ("Hall", 80 * CM, True)]


def test_a_seamed_door_is_a_seam_of_the_room_that_lists_it(flat: dict[str, RoomMeasures]) -> None:
    assert flat["Hall"].seamed_nm == flat["Hall"].seam_nm + 80 * CM
    assert flat["Store"].seamed_nm == flat["Store"].seam_nm


def test_corners_of_a_cove_by_their_heights() -> None:
    text = (
        "job: L\nunit: m\nmaterials: [{name: Sheet, width: 4 m}]\n"
        "rooms: [{name: Bath, cove: 10 cm, walk: [north 3, east 3, south 1, west 1, south 2, west 2]}]\n"
    )
    (bath,) = measured(plan_of(text))
    assert (bath.inside_nm, bath.outside_nm) == (5 * 10 * CM, 10 * CM)
    assert bath.cove_nm == 12 * M and bath.cove_nm2 == 12 * M * 10 * CM


def test_straight_walls_of_a_walk_are_one_run_unless_one_is_left_out() -> None:
    text = (
        "job: L\nunit: m\nmaterials: [{name: Sheet, width: 4 m}]\n"
        "rooms: [{name: Den, walk: [north 1, north 2, east 3, south 3, west 3]}]\n"
    )
    (den,) = measured(plan_of(text))
    assert sorted(run.length_nm for run in den.walls) == [3 * M] * 4
    assert sorted(run.length_nm for run in wall_runs(den.room, {"wall 1"})) == [2 * M, 3 * M, 3 * M, 3 * M]


@settings(max_examples=25, deadline=None)
@given(job=jobs(outlines=None, doors=True))
def test_areas_and_seams_are_those_that_the_plan_counts(job) -> None:  # type: ignore[no-untyped-def]
    plan = plan_job(job, Settings(effort=0)).plan
    if plan is None:
        return
    rooms = measured(plan)
    for part in plan.materials:
        mine = [room for room in rooms if room.room.material_id == part.material_id]
        floor = sum(room.floor_nm2 for room in mine)
        assert abs(part.account.floor_nm2 - floor) <= 1
        assert sum(room.seam_nm for room in mine) == part.measures.seam_length_nm


def test_seams_run_up_the_cove_as_the_plan_counts_them() -> None:
    text = (
        "job: L\nunit: m\nmaterials: [{name: Sheet, width: 1.2 m, seam overlap: 2 cm}]\n"
        "rooms: [{name: Bath, cove: 10 cm, rectangle: 3 x 2.5, cut out: [{at: '1, 1', size: 0.3 x 0.3}]},\n"
        "  {name: Wet, cove: 15 cm, corners: ['0, 0', '3, 0.4', '3, 2.5', '0, 2']}]\n"
    )
    plan = plan_of(text)
    assert plan.materials[0].measures.seams > 2
    assert sum(room.seam_nm for room in measured(plan)) == plan.materials[0].measures.seam_length_nm


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: "-".join(path.parts[-3:-1]))
def test_examples_begun_ones_too_measure_as_they_count(path: Path) -> None:
    plan = load_plan(path)
    rooms = measured(plan)
    for part in plan.materials:
        mine = [room for room in rooms if room.room.material_id == part.material_id]
        assert sum(room.seam_nm for room in mine) == part.measures.seam_length_nm
        assert abs(part.account.floor_nm2 - sum(room.floor_nm2 for room in mine)) <= 1


def test_lengths_round_up() -> None:
    assert length_nm((0, 0), (3, 4)) == 5
    assert length_nm((0, 0), (1, 1)) == 2


# --- underlay --------------------------------------------------------------------------------------------------------


def test_underlay_by_hand() -> None:
    # 5.2 x 4.1 m, 1.37 m wide: along 4.1 m three runs and 1.09 m; along 5.2 m two and 1.36 m, so three of 5.2 m
    assert underlay_runs(rectangle(5_200 * MM, 4_100 * MM), 1_370 * MM).length_nm == 15_600 * MM
    # 4 x 3 m, 1.5 m wide: two runs of 4 m exactly
    assert underlay_runs(rectangle(4 * M, 3 * M), 1_500 * MM).length_nm == 8 * M
    # 3.4 x 3 m, 1.5 m wide: two of 3 m and 0.4 m, of which three lie side by side, so 1 m
    assert underlay_runs(rectangle(3_400 * MM, 3 * M), 1_500 * MM).length_nm == 6_800 * MM
    # the same 2.9 m long: two of 2.9 m and a third of that, up to the nanometre
    assert underlay_runs(rectangle(3_400 * MM, 2_900 * MM), 1_500 * MM).length_nm == 6_766_666_667


def test_underlay_of_an_ell_is_as_long_as_each_run_needs() -> None:
    floor = ell(4 * M, 4 * M, 2 * M, 2 * M)
    runs = underlay_runs(floor, 1 * M)
    assert (runs.runs, runs.length_nm) == (4, 12 * M)


@given(
    sides=st.tuples(st.integers(5, 60), st.integers(5, 60)),
    cut=st.tuples(st.integers(1, 4), st.integers(1, 4)),
    width=st.integers(4, 20),
)
def test_underlay_covers_the_floor(sides: tuple[int, int], cut: tuple[int, int], width: int) -> None:
    floor = ell(sides[0] * CM, sides[1] * CM, cut[0] * CM, cut[1] * CM)
    area = sides[0] * sides[1] - cut[0] * cut[1]
    runs = underlay_runs(floor, width * CM)
    assert runs.length_nm * width >= area * CM
    turned = tuple((v, u) for u, v in floor)
    assert underlay_runs(turned, width * CM) == runs


def test_the_extent_of_an_oblique_floor() -> None:
    floor = ((0, 0), (100, 50), (100, 150), (0, 100))
    assert extent(floor, 0, 100) == 150
    assert extent(floor, 0, 50) == 125
