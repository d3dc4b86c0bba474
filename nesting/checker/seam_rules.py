"""V4b to V4d: seams keep clear of joints below, of keep-out zones and of door openings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import isqrt

from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import cross
from nesting.checker.whole import XY, Number, area2, straight, turned
from nesting.domain.geometry import Point
from nesting.domain.rules import RuleId

PARALLEL = Fraction(174_550_649, 10_000_000_000)  # the tangent of 1°
ROUNDING_NM = 4  # how far apart turned points may lie that belong together, in lay frames that had to be rounded


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a seam, cross seam or relief cut, in the lay frame."""

    name: str
    start: XY
    end: XY


def runs_of(floor: LaidFloor, *, relief: bool) -> Iterator[Run]:
    """Yield where the seams and cross seams of a room lie on its floor, and its relief cuts."""
    for number, seam in enumerate(floor.layout.seams):
        for low, high in floor.cells.seam_runs[number]:
            yield Run(f"seam {number}", (seam.at_nm, low), (seam.at_nm, high))
    for number, cross_seam in enumerate(floor.layout.cross_seams):
        for low, high in floor.cells.cross_runs[number]:
            yield Run(f"cross seam {number}", (low, cross_seam.at_nm), (high, cross_seam.at_nm))
    if relief:
        for number, cut in enumerate(floor.layout.relief_cuts):
            yield Run(f"relief cut {number}", cut.start, cut.end)


def _slack(floor: LaidFloor) -> int:
    return 0 if straight(floor.layout.direction) else ROUNDING_NM


def check_joint_clearance(view: View) -> Iterator[Finding]:
    """V4b: a seam keeps its clearance from every parallel joint below beside which it runs."""
    for floor in view.floors.values():
        room = floor.room
        if not room.rules.holds(RuleId.JOINT_CLEARANCE):
            continue
        least = room.rules.joint_clearance_nm - _slack(floor)
        for joint in room.joints_below:
            ends = turned(joint.start, floor.layout.direction), turned(joint.end, floor.layout.direction)
            for run in runs_of(floor, relief=False):
                apart = _apart(run, ends)
                if apart is not None and apart < least:
                    text = f"{run.name} runs {int(apart)} nm from joint {joint.id}"
                    yield _broken("V4b", floor, text, RuleId.JOINT_CLEARANCE)


def _broken(rule: str, floor: LaidFloor, text: str, breaks: RuleId) -> Finding:
    name = floor.room.id
    return Finding(rule=rule, where=f"room {name}", text=text, breaks=breaks, owners=(name,))


def _apart(run: Run, joint: tuple[Point, Point]) -> Number | None:
    """Return how near a parallel joint comes to a run beside it; None: not parallel, or not beside it."""
    axis = 1 if run.start[0] == run.end[0] else 0  # along which the run lies
    (a, b) = sorted(joint, key=lambda point: point[axis])
    along, aside = b[axis] - a[axis], b[1 - axis] - a[1 - axis]
    if along == 0 or abs(aside) > PARALLEL * along:
        return None
    low, high = max(a[axis], run.start[axis]), min(b[axis], run.end[axis])
    if low >= high:
        return None
    place = run.start[1 - axis]
    gaps = [a[1 - axis] + Fraction(aside) * (at - a[axis]) / along - place for at in (low, high)]
    return 0 if gaps[0] * gaps[1] <= 0 else min(abs(gap) for gap in gaps)


def check_keep_outs(view: View) -> Iterator[Finding]:
    """V4c: no seam, cross seam or relief cut runs through the inside of a keep-out zone."""
    for floor in view.floors.values():
        if not floor.room.rules.holds(RuleId.KEEP_OUT):
            continue
        for zone in floor.room.keep_outs:
            outline = tuple(turned(point, floor.layout.direction) for point in zone.outline)
            for run in runs_of(floor, relief=True):
                if _passes(run, outline, _slack(floor)):
                    yield _broken("V4c", floor, f"{run.name} runs through keep-out {zone.id}", RuleId.KEEP_OUT)


def _passes(run: Run, zone: tuple[Point, ...], slack_nm: int) -> bool:
    """Tell whether a run has points inside a convex zone, deeper than the rounding."""
    if area2(zone) < 0:
        zone = zone[::-1]
    low, high = Fraction(0), Fraction(1)
    for a, b in pairwise((*zone, zone[0])):
        step = (b[0] - a[0], b[1] - a[1])
        depth = slack_nm * (isqrt(step[0] ** 2 + step[1] ** 2) + 1) if slack_nm else 0
        start, end = (Fraction(step[0] * (p[1] - a[1]) - step[1] * (p[0] - a[0])) - depth for p in (run.start, run.end))
        if step == (0, 0):
            continue
        if start <= 0 and end <= 0:
            return False
        if start < 0 or end < 0:
            at = start / (start - end)
            low, high = (max(low, at), high) if start < 0 else (low, min(high, at))
    return low < high


def check_convex(view: View) -> Iterator[Finding]:
    """V4c, first part: a keep-out zone is convex, as the rule takes it to be."""
    for name, room in view.rooms.items():
        for zone in room.keep_outs:
            sign = 1 if area2(zone.outline) >= 0 else -1
            steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise((*zone.outline, zone.outline[0]))]
            steps = [step for step in steps if step != (0, 0)]
            bends = [sign * cross(one, other) for one, other in pairwise((*steps, *steps[:1]))]
            if len(steps) < 3 or min(bends) < 0 or area2(zone.outline) == 0:
                yield Finding(rule="V4c", where=f"room {name}", text=f"keep-out {zone.id} is not convex")


def check_doors(view: View) -> Iterator[Finding]:
    """V4d: no seam or cross seam ends strictly inside the opening of a door that the goods can bridge."""
    for floor in view.floors.values():
        if not floor.room.rules.holds(RuleId.DOOR_OPENING):
            continue
        for door in floor.room.doors:
            if not door.bridgeable:
                continue
            line = turned(door.line[0], floor.layout.direction), turned(door.line[1], floor.layout.direction)
            for run in runs_of(floor, relief=False):
                if any(_inside_line(end, line, _slack(floor)) for end in (run.start, run.end)):
                    text = f"{run.name} ends in the opening of door {door.id}"
                    yield _broken("V4d", floor, text, RuleId.DOOR_OPENING)


def _inside_line(point: XY, line: tuple[Point, Point], slack_nm: int) -> bool:
    """Tell whether a point lies on a door line, further from both its ends than the rounding."""
    (ax, ay), (bx, by) = line
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    aside = dx * (point[1] - ay) - dy * (point[0] - ax)
    near = slack_nm if dx == 0 or dy == 0 else max(slack_nm, 1)  # ends on an oblique line are hit in fractions
    if square == 0 or aside * aside > near * near * square:
        return False
    along = dx * (point[0] - ax) + dy * (point[1] - ay)
    margin = slack_nm * (isqrt(square) + 1)
    return margin < along < square - margin
