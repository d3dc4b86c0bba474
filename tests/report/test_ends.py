"""Which end of a drop goes to which wall."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.domain.geometry import LayDirection
from nesting.domain.layout import CutKind
from nesting.domain.plan import Plan
from nesting.files.job_file import parse_job
from nesting.report.cuts import cut_rows
from nesting.report.ends import ends_of
from tests.making import planned_whole

COMPASS = {(0, 1): "north", (1, 0): "east", (0, -1): "south", (-1, 0): "west"}

JOB = """
job: Ends
unit: m
materials:
  - {{name: Sheet, width: 2}}
rooms:
  - name: Room
    rectangle: {size}
    lay: {lay}
    doors:
      - {{name: to the hall, wall: south, from west: 0.5, width: 0.9, depth: 0.1}}
"""


def planned_job(size: str = "3.4 x 2.9", lay: str = "free") -> Plan:
    return planned_whole(parse_job(JOB.format(size=size, lay=lay)).job, effort=0)


@pytest.mark.parametrize("lay", ["towards north", "towards south", "towards east", "towards west"])
def test_the_far_end_goes_where_the_lay_points(lay: str) -> None:
    plan = planned_job(lay=lay)
    part = plan.materials[0]
    direction = part.layouts[0].direction
    assert COMPASS[direction.dx, direction.dy] == lay.removeprefix("towards ")
    left, right = (COMPASS[way.dx, way.dy] for way in (direction.quarter_turned(1), direction.quarter_turned(3)))
    back = COMPASS[-direction.dx, -direction.dy]
    rows = cut_rows(plan)
    assert len(rows) == 2
    for row in rows:
        assert row.ends is not None
        assert f"{lay.removeprefix('towards ')} wall" in row.ends.far
        assert f"{back} wall" in row.ends.near
    by_breadth = {cut.breadth: row for cut in part.cuts for row in rows if row.id == cut.id}
    first, last = by_breadth[0].ends, by_breadth[1].ends
    assert first is not None
    assert last is not None
    assert f"{left} wall" in first.left
    assert first.right == f"seam to no. {by_breadth[1].number}"
    assert last.left == f"seam to no. {by_breadth[0].number}"
    assert f"{right} wall" in last.right


def test_the_door_is_named_beside_its_wall() -> None:
    row = next(row for row in cut_rows(planned_job(lay="towards north")) if row.ends and "hall" in row.ends.near)
    assert row.ends is not None
    assert set(row.ends.near.split(", ")) == {"south wall", "door to the hall"}


def test_a_turn_on_the_roll_turns_the_sides() -> None:
    plan = planned_job(size="1.7 x 2.9", lay="towards north")
    part, room = plan.materials[0], plan.job.rooms[0]
    cut = part.cuts[0]
    straight = ends_of(part, room, cut, 0)
    assert straight is not None
    ring = (straight.right, straight.far, straight.left, straight.near)
    assert ring == ("east wall", "north wall", "west wall", "door to the hall, south wall")
    for turn in range(1, 4):
        turned = ends_of(part, room, cut, turn)
        assert turned is not None
        # A quarter turn counter-clockwise brings what was at the right to the far end.
        assert (turned.right, turned.far, turned.left, turned.near) == ring[-turn:] + ring[:-turn]


def test_what_is_no_drop_has_no_ends() -> None:
    plan = planned_job()
    part, room = plan.materials[0], plan.job.rooms[0]
    assert ends_of(part, room, replace(part.cuts[0], kind=CutKind.INSERT), 0) is None


def test_ends_meet_at_cross_seams() -> None:
    text = """
job: Long
unit: m
materials:
  - {name: Sheet, width: 2, longest: 6}
rooms:
  - {name: Corridor, rectangle: 9 x 1.6, lay: towards east}
"""
    rows = cut_rows(planned_whole(parse_job(text).job, effort=0))
    assert len(rows) == 2
    west, east = sorted(rows, key=lambda row: row.ends is not None and "west" not in row.ends.near)
    assert west.ends is not None
    assert east.ends is not None
    assert (west.ends.near, west.ends.far) == ("west wall", f"cross seam to no. {east.number}")
    assert (east.ends.near, east.ends.far) == (f"cross seam to no. {west.number}", "east wall")


def test_directions_are_those_of_the_floor() -> None:
    assert LayDirection(0, 1).quarter_turned(1) == LayDirection(-1, 0)
