"""V4e to V4h: least breadth, cross seams only where allowed, least length between them, and their stagger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from math import ceil

from nesting.checker.clipping import Side, Slice, flipped, slices_of
from nesting.checker.coverage import full_allowance_nm, seam_allowance_nm
from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import Part, cells_of
from nesting.checker.whole import Number
from nesting.domain.layout import AllowanceKind
from nesting.domain.rules import RuleId


def check_least_breadth(view: View) -> Iterator[Finding]:
    """V4e: beside a seam no breadth is narrower than the least, except where the floor itself is."""
    for name, floor in view.floors.items():
        rules = floor.room.rules
        if not rules.holds(RuleId.LEAST_BREADTH) or not floor.layout.seams:
            continue
        lines = [seam.at_nm for seam in floor.layout.seams]
        # The floor in slices along v, between which no wall crosses a seam line: chords are linear in each.
        everywhere = [(line, number) for number, line in enumerate(lines)]
        across = slices_of(flipped(floor.cells.sides), (), [everywhere])
        for line in lines:
            if not _narrow(across, lines, line, rules.least_breadth_nm):
                continue
            text = f"the seam at {line} leaves a breadth narrower than {rules.least_breadth_nm} nm"
            yield Finding(rule="V4e", where=f"room {name}", text=text, breaks=RuleId.LEAST_BREADTH, owners=(name,))


def _narrow(across: Sequence[Slice], lines: Sequence[int], line: int, least_nm: int) -> bool:
    """Tell whether some stretch of the seam has too narrow a breadth beside it.

    `across` was cut at every seam line, so that a chord from wall to wall is a row of neighbouring slices of one slab:
    the slice that begins at the line is the breadth on its right, the one that ends there that on its left.
    """
    number = lines.index(line)
    for piece in across:
        if piece.below != number and piece.above != number:
            continue
        end = piece.above if piece.below == number else piece.below
        if isinstance(end, Side) and abs(end.step[0]) < abs(end.step[1]):
            continue  # flipped: a side that runs across the lay bounds no breadth
        chord = piece.t0 - piece.b0, piece.t1 - piece.b1
        if min(chord) < least_nm and _too_narrow(chord, _whole_chord(across, piece), least_nm):
            return True
    return False


def _whole_chord(across: Sequence[Slice], piece: Slice) -> tuple[Number, Number]:
    """Return the length of the chord from wall to wall through a slice, at both ends of its slab."""
    row = [other for other in across if other.u0 == piece.u0 and other.u1 == piece.u1]
    low = high = piece
    while not isinstance(low.below, Side):
        low = next(other for other in row if other.above == low.below and other.t0 == low.b0 and other.t1 == low.b1)
    while not isinstance(high.above, Side):
        high = next(other for other in row if other.below == high.above and other.b0 == high.t0 and other.b1 == high.t1)
    return high.t0 - low.b0, high.t1 - low.b1


def _too_narrow(chord: tuple[Number, Number], whole: tuple[Number, Number], least_nm: int) -> bool:
    """Tell whether somewhere the chord is below the least while the whole chord is not (both linear)."""
    low, high = Fraction(0), Fraction(1)
    for start, end in ((least_nm - chord[0], least_nm - chord[1]), (whole[0] - least_nm, whole[1] - least_nm)):
        if start < 0 and end < 0:
            return False
        if start < 0 or end < 0:
            at = Fraction(start) / (start - end)
            low, high = (max(low, at), high) if start < 0 else (low, min(high, at))
    return low < high


def check_cross_seams(view: View) -> Iterator[Finding]:
    """V4f: no breadth has more cross seams than allowed, or than it needs where it is longer than any goods."""
    for name, floor in view.floors.items():
        rules = floor.room.rules
        if not rules.holds(RuleId.CROSS_SEAMS):
            continue
        for breadth in range(len(floor.layout.seams) + 1):
            count = sum(item.breadth == breadth for item in floor.layout.cross_seams)
            most = rules.cross_seams_per_breadth
            if count > most and rules.forced_cross_seams:
                most = max(most, _needed(view, floor, breadth))
            if count > most:
                text = f"breadth {breadth} has {count} cross seams, {most} are allowed"
                yield Finding(rule="V4f", where=f"room {name}", text=text, breaks=RuleId.CROSS_SEAMS, owners=(name,))


def _needed(view: View, floor: LaidFloor, breadth: int) -> int:
    """Return the fewest cross seams that let the breadth's longest part be cut from the longest goods.

    The rough cut of every piece may be longer by up to one cutting step at either end than what it covers.
    """
    longest = longest_usable_nm(view)
    if longest is None:
        return 0
    whole = cells_of(floor.room, replace(floor.layout, cross_seams=()))
    lengths = [_rough_length(view, floor, part) for part in whole.parts if part.breadth == breadth]
    length = max(lengths, default=Fraction(0))
    if length <= longest:
        return 0
    half = seam_allowance_nm(view.material)
    each = longest - 2 * half - 2 * view.material.cutting_step_nm
    return ceil((length - 2 * half) / each) - 1 if each > 0 else len(floor.layout.cross_seams)


def _rough_length(view: View, floor: LaidFloor, part: Part) -> Fraction:
    """Return how long a part is with the largest allowance of its edges at both ends."""
    ends = [full_allowance_nm(floor.room, view.material, key) for key in part.keys]
    return Fraction(part.extent_along) + 2 * max(ends)


def longest_usable_nm(view: View) -> int | None:
    """Return the longest piece that any goods are sure to give, made or in hand; None: there is no limit."""
    material = view.material
    lost = 0 if material.pattern is None else material.pattern.along_nm
    lengths = [piece.length_nm - (lost if piece.phase_nm is None else 0) for piece in view.stock.values()]
    if material.orders_allowed:
        if material.longest_nm is None:
            return None
        given = material.starting_allowance_nm
        start = material.squaring_nm + (0 if not lost else lost if given is None else given)
        lengths.append(material.longest_nm - start)
    return max(lengths, default=0)


def check_least_length(view: View) -> Iterator[Finding]:
    """V4g: a piece that ends at a cross seam covers at least the least length of floor."""
    for name, floor in view.floors.items():
        rules = floor.room.rules
        if not rules.holds(RuleId.LEAST_LENGTH):
            continue
        for drop, part in floor.part_of.items():
            crossed = any(kind in (AllowanceKind.CROSS_LOW, AllowanceKind.CROSS_HIGH) for kind, _ in part.keys)
            if crossed and part.extent_along < rules.least_length_nm:
                text = f"{drop} covers {int(part.extent_along)} nm along, {rules.least_length_nm} nm are the least"
                yield Finding(rule="V4g", where=f"room {name}", text=text, breaks=RuleId.LEAST_LENGTH, owners=(name,))


def check_stagger(view: View) -> Iterator[Finding]:
    """V4h: cross seams of neighbouring breadths are at least so far apart."""
    for name, floor in view.floors.items():
        rules = floor.room.rules
        if not rules.holds(RuleId.CROSS_SEAM_STAGGER):
            continue
        for one, other in combinations(floor.layout.cross_seams, 2):
            near = abs(one.at_nm - other.at_nm) < rules.cross_seam_stagger_nm
            if near and abs(one.breadth - other.breadth) == 1:
                text = f"the cross seams of breadths {one.breadth} and {other.breadth} are too near"
                yield Finding(
                    rule="V4h", where=f"room {name}", text=text, breaks=RuleId.CROSS_SEAM_STAGGER, owners=(name,)
                )
