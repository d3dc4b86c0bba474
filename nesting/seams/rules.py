"""Where seams may run: every rule as an object with its id, its source and the stretches that it forbids.

All numbers come from the room's `SeamRules`; their defaults are common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, ceil, floor, radians

from nesting.domain.geometry import Point
from nesting.domain.job import Door, Room
from nesting.domain.rules import RuleId
from nesting.floor.breadths import Slab, slabs_of
from nesting.floor.frames import turn_point
from nesting.floor.outlines import LayFloor
from nesting.floor.zones import (
    Stretch,
    narrow_stretches,
    share_a_chord,
    stretches_overlapping,
    stretches_through,
)

PARALLEL = radians(1.0)
"""A joint nearer than this to a seam's direction is parallel to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """A room's floor in a lay frame with all that a rule looks at, turned too."""

    room: Room
    floor: LayFloor
    slabs: tuple[Slab, ...]
    keep_outs: tuple[tuple[Point, ...], ...]
    joints: tuple[tuple[Point, Point], ...]
    doors: tuple[tuple[Door, Point, Point], ...]  # with the ends of the door line


def ground_of(room: Room, floor_: LayFloor) -> Ground:
    """Return the ground of a room whose floor has been turned."""
    direction = floor_.direction
    corners = dict(zip(room.outline, floor_.outline, strict=True))

    def turned(point: Point) -> Point:
        return corners.get(point) or turn_point(point, direction)

    return Ground(
        room=room,
        floor=floor_,
        slabs=slabs_of(floor_),
        keep_outs=tuple(tuple(turned(point) for point in zone.outline) for zone in room.keep_outs),
        joints=tuple((turned(joint.start), turned(joint.end)) for joint in room.joints_below),
        doors=tuple((door, turned(door.line[0]), turned(door.line[1])) for door in room.doors),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamRule:
    """A hard rule for the place of one seam: the open stretches of u where none may run."""

    id: RuleId
    source: str
    stretches: Callable[[Ground], Iterable[Stretch]]


def _near_joints(ground: Ground) -> Iterable[Stretch]:
    """Keep clear of parallel joints below: |s − u| ≥ clearance where their stretches overlap."""
    clearance = ground.room.rules.joint_clearance_nm
    for (au, av), (bu, bv) in ground.joints:
        if abs(atan2(bu - au, bv - av)) <= PARALLEL or abs(atan2(au - bu, av - bv)) <= PARALLEL:
            low, high = min(au, bu) - clearance, max(au, bu) + clearance
            for left, right in stretches_overlapping(ground.slabs, min(av, bv), max(av, bv)):
                if max(left, low) < min(right, high):
                    yield max(left, low), min(right, high)


def _in_keep_outs(ground: Ground) -> Iterable[Stretch]:
    """No seam runs through the inside of a keep-out zone."""
    for zone in ground.keep_outs:
        yield from stretches_through(ground.slabs, zone)


def _in_door_openings(ground: Ground) -> Iterable[Stretch]:
    """No seam ends inside a bridgeable door's line."""
    for door, (au, _), (bu, _) in ground.doors:
        if door.bridgeable and au != bu:
            yield min(au, bu), max(au, bu)


def _beside_walls(ground: Ground) -> Iterable[Stretch]:
    """No breadth is narrower than the least breadth at any point along the seam."""
    return narrow_stretches(ground.slabs, ground.room.rules.least_breadth_nm)


COMMON_PRACTICE = "common practice"

SEAM_RULES = (
    SeamRule(id=RuleId.JOINT_CLEARANCE, source=COMMON_PRACTICE, stretches=_near_joints),
    SeamRule(id=RuleId.KEEP_OUT, source=COMMON_PRACTICE, stretches=_in_keep_outs),
    SeamRule(id=RuleId.DOOR_OPENING, source=COMMON_PRACTICE, stretches=_in_door_openings),
    SeamRule(id=RuleId.LEAST_BREADTH, source=COMMON_PRACTICE, stretches=_beside_walls),
)
"""The rules for the place of one seam by itself."""


def forbidden_stretches(ground: Ground) -> tuple[tuple[RuleId, Stretch], ...]:
    """Return the open stretches of u where no seam may run, each with the rule that forbids it."""
    return tuple(
        (rule.id, stretch)
        for rule in SEAM_RULES
        if ground.room.rules.holds(rule.id)
        for stretch in rule.stretches(ground)
    )


def allowed_between(low: int, high: int, stretches: Iterable[Stretch]) -> tuple[tuple[int, int], ...]:
    """Return the whole positions strictly between two ends and in no open stretch, as closed intervals."""
    allowed = []
    start = low + 1
    for left, right in sorted(stretches):
        if floor(left) >= start:
            allowed.append((start, min(floor(left), high - 1)))
        start = max(start, ceil(right))
    if start <= high - 1:
        allowed.append((start, high - 1))
    return tuple((a, b) for a, b in allowed if a <= b)


def broken_by_seams(ground: Ground, forbidden: Sequence[tuple[RuleId, Stretch]], seams: Sequence[int]) -> RuleId | None:
    """Return a rule that seams at these positions break, None where they keep all."""
    for seam in seams:
        for rule, (left, right) in forbidden:
            if left < seam < right:
                return rule
    rules = ground.room.rules
    if rules.holds(RuleId.LEAST_BREADTH):
        for low, high in pairwise(seams):
            if high - low < rules.least_breadth_nm and share_a_chord(ground.slabs, low, high, rules.least_breadth_nm):
                return RuleId.LEAST_BREADTH
    return None
