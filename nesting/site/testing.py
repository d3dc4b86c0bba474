"""How many moisture tests the floors of a material need."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from nesting.domain.geometry import Point
from nesting.domain.job import Job, Room
from nesting.domain.material import Material
from nesting.domain.site import ReadingKind, Substrate
from nesting.site.judging import readings_for

FOOT_NM = 304_800_000
TEST_AREA_NM2 = 1_000 * FOOT_NM**2
"""1000 sq ft; the standards put 100 m² beside it, which is more, so that counting in feet asks for no less."""

FIRST_TESTS = 3
"""ASTM F1869 and F2170 alike: three tests for the first 1000 sq ft, one more for each further 1000 sq ft (here for
every one begun). F2170 by published checklists of its section 10.1; F1869 by the instructions of test kits."""

MAY_BE_CONCRETE = (Substrate.CONCRETE, Substrate.UNKNOWN, Substrate.EXISTING_FLOOR)
"""Both methods are for concrete; what is not known, or hidden by an old floor, may be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """How many tests a method needs for a material, and how many readings there are in its rooms."""

    needed: int
    made: int
    elsewhere: int  # readings at places that are no room: they count for none of several materials
    area_nm2: Fraction


def _area(outline: tuple[Point, ...]) -> Fraction:
    """Return the area inside an outline, nm² exactly."""
    double = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], *outline[:1]), strict=True))
    return Fraction(abs(double), 2)


def floor_area_nm2(rooms: Iterable[Room]) -> Fraction:
    """Return the floor of rooms without what stands in them, nm² exactly."""
    return sum(
        (_area(room.outline) - sum(_area(hole.outline) for hole in room.holes) for room in rooms), start=Fraction(0)
    )


def count_for_area(area_nm2: Fraction) -> int:
    """Return how many tests a floor of so many nm² needs: none for none, else at least `FIRST_TESTS`."""
    if area_nm2 <= 0:
        return 0
    return FIRST_TESTS + max(0, math.ceil(area_nm2 / TEST_AREA_NM2) - 1)


def rooms_to_test(job: Job, material: Material) -> tuple[Room, ...]:
    """Return the rooms of a material that lie, or may lie, on concrete."""
    return tuple(
        room
        for room in job.rooms
        if room.material_id == material.id and job.site.substrate_of(room.id) in MAY_BE_CONCRETE
    )


def needed_tests(job: Job, material: Material, kind: ReadingKind) -> Needed:
    """Return what the method behind `kind` asks for in the rooms of a material that may lie on concrete."""
    rooms = rooms_to_test(job, material)
    inside = {room.id for room in rooms}
    readings = [one for one in readings_for(job, material) if one.kind is kind]
    free = sum(1 for one in readings if not one.room_id)
    alone = len({room.material_id for room in job.rooms}) == 1
    area = floor_area_nm2(rooms)
    return Needed(
        needed=count_for_area(area),
        made=sum(1 for one in readings if one.room_id in inside) + (free if alone else 0),
        elsewhere=0 if alone else free,
        area_nm2=area,
    )
