"""V1i: a hole inside a piece has a relief cut, and no relief cut is recorded that is not needed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import Part, Stretch
from nesting.checker.whole import XY, Number
from nesting.domain.geometry import Point
from nesting.domain.layout import AllowanceKind, ReliefCut

TOUCH_NM = 2


def check_relief_cuts(view: View) -> Iterator[Finding]:
    """V1i: every hole wholly inside a piece has one slit to the piece's edge, or to a hole that is slit itself."""
    for floor in view.floors.values():
        for text in _wrong_slits(floor):
            yield Finding(rule="V1i", where=f"room {floor.room.id}", text=text)


def _wrong_slits(floor: LaidFloor) -> Iterator[str]:
    inside = {hole: (drop, part) for drop, part in floor.part_of.items() for hole in enclosed_holes(part)}
    slit: dict[int, int | None] = {}  # hole -> the hole its slit leads to, None: the edge
    for relief in floor.layout.relief_cuts:
        what = f"the relief cut from hole {relief.hole}"
        if relief.hole not in inside or inside[relief.hole][0] != relief.cut_id:
            yield f"{what} in {relief.cut_id} is not needed"
            continue
        if relief.hole in slit:
            yield f"{what} is recorded twice"
            continue
        part = inside[relief.hole][1]
        reached = _touched(part, relief.end, not_hole=relief.hole)
        if not any(_on(relief.start, s) for s in part.stretches if s.key == (AllowanceKind.HOLE, relief.hole)):
            yield f"{what} does not begin at it"
        elif not reached:
            yield f"{what} ends before an edge of the piece"
        elif not _lies_in(part, relief):
            yield f"{what} leaves the piece"
        enclosed = set(enclosed_holes(part))
        free = [s for s in reached if s.key[0] is not AllowanceKind.HOLE or s.key[1] not in enclosed]
        slit[relief.hole] = None if free or not reached else reached[0].key[1]
    for hole, (drop, _) in sorted(inside.items()):
        if hole not in slit:
            yield f"hole {hole} lies inside {drop} without a relief cut"
        elif not _leads_out(hole, slit):
            yield f"the relief cut from hole {hole} leads to holes only"


def enclosed_holes(part: Part) -> list[int]:
    """Return the holes that the part surrounds: those with a loop of the boundary to themselves."""
    found = []
    for loop in part.loops:
        kinds = {stretch.key for stretch in loop}
        if len(kinds) == 1 and next(iter(kinds))[0] is AllowanceKind.HOLE:
            found.append(next(iter(kinds))[1])
    return found


def _leads_out(hole: int, slit: dict[int, int | None]) -> bool:
    seen: set[int] = set()
    at: int | None = hole
    while at is not None:
        if at in seen or at not in slit:
            return False
        seen.add(at)
        at = slit[at]
    return True


def _on(point: Point, stretch: Stretch) -> bool:
    """Tell whether a point lies on a stretch, to within 2 nm."""
    (x0, y0), (x1, y1) = stretch.start, stretch.end
    if not (min(x0, x1) - TOUCH_NM <= point[0] <= max(x0, x1) + TOUCH_NM):
        return False
    if not (min(y0, y1) - TOUCH_NM <= point[1] <= max(y0, y1) + TOUCH_NM):
        return False
    dx, dy = stretch.step
    aside = dx * (point[1] - y0) - dy * (point[0] - x0)
    return aside * aside <= TOUCH_NM * TOUCH_NM * (dx * dx + dy * dy)


def _touched(part: Part, point: Point, not_hole: int) -> list[Stretch]:
    return [s for s in part.stretches if s.key != (AllowanceKind.HOLE, not_hole) and _on(point, s)]


def _lies_in(part: Part, relief: ReliefCut) -> bool:
    """Tell whether the slit runs inside the part: it meets no boundary but near its ends, and its middle is inside."""
    if relief.start == relief.end:
        return False
    if any(_meets_between(relief, stretch) for stretch in part.stretches):
        return False
    middle = (Fraction(relief.start[0] + relief.end[0], 2), Fraction(relief.start[1] + relief.end[1], 2))
    return _contains(part, middle)


def _meets_between(relief: ReliefCut, stretch: Stretch) -> bool:
    """Tell whether slit and stretch meet further than 2 nm from both ends of the slit."""
    (px, py), (qx, qy) = relief.start, relief.end
    dx, dy = qx - px, qy - py
    ex, ey = stretch.end[0] - stretch.start[0], stretch.end[1] - stretch.start[1]
    turn = dx * ey - dy * ex
    if turn == 0:
        return False
    fx, fy = stretch.start[0] - px, stretch.start[1] - py
    along, beside = Fraction(fx * ey - fy * ex) / turn, Fraction(fx * dy - fy * dx) / turn
    if not (0 <= along <= 1 and 0 <= beside <= 1):
        return False
    reach = max(abs(dx), abs(dy))
    return TOUCH_NM < along * reach < reach - TOUCH_NM


def _contains(part: Part, point: XY) -> bool:
    return any(_in_slice((s.u0, s.u1), (s.b0, s.b1, s.t0, s.t1), point) for s in part.slices)


def _in_slice(across: tuple[Number, Number], along: Sequence[Number], point: XY) -> bool:
    (u0, u1), (b0, b1, t0, t1) = across, along
    u, v = point
    if not u0 <= u <= u1:
        return False
    share = Fraction(u - u0) / (u1 - u0)
    return b0 + (b1 - b0) * share <= v <= t0 + (t1 - t0) * share
