"""Cross seams within breadths: where they may run, and the splits worth trying."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, ceil, floor, pi

from nesting.domain.rules import RuleId
from nesting.floor.breadths import merged, runs_across
from nesting.floor.outlines import Exact
from nesting.seams.family import Interval, last_allowed, next_allowed
from nesting.seams.pieces import Bench, Bounds, Piece
from nesting.seams.rules import PARALLEL, Ground, allowed_between

Levels = tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Breadth:
    """A breadth as cross seams see it: its lines, its undivided pieces, and the levels allowed to one cross seam."""

    across: Bounds
    pieces: tuple[Piece, ...]
    allowed: tuple[Interval, ...]

    @property
    def width_nm(self) -> int:
        """Return the rough width of its widest piece."""
        return max(piece.box.width_nm for piece in self.pieces)

    @property
    def longest(self) -> Piece:
        """Return its longest piece."""
        return max(self.pieces, key=lambda piece: piece.box.length_nm)


def breadth_of(bench: Bench, across: Bounds, phase_nm: int | None = None) -> Breadth:
    """Return a breadth between two seams (None: the walls).

    `phase_nm`: φ along, where cross seams are bound to the material's seam lines by it.
    """
    pieces = bench.pieces(across)
    stretches = [stretch for _, stretch in _forbidden(bench.ground, across, pieces)]
    spans = [allowed_between(floor(piece.part.v0), ceil(piece.part.v1), stretches) for piece in pieces]
    allowed = merged([interval for span in spans for interval in span])
    pattern = bench.material.pattern
    if phase_nm is not None and pattern is not None and bench.room.rules.holds(RuleId.SEAM_LINES):
        allowed = on_lattice(allowed, phase_nm, bench.material.seam_lines_along_nm, pattern.along_nm)
    return Breadth(across=across, pieces=pieces, allowed=allowed)


def _ends(ground: Ground, across: Bounds) -> tuple[int, int]:
    low, _, high, _ = ground.floor.box
    return (low if across[0] is None else across[0]), (high if across[1] is None else across[1])


def _forbidden(ground: Ground, across: Bounds, pieces: Sequence[Piece]) -> Iterator[tuple[RuleId, tuple[Exact, Exact]]]:
    """Yield the open stretches of v where a cross seam of the breadth may not run."""
    rules = ground.room.rules
    left, right = _ends(ground, across)
    if rules.holds(RuleId.KEEP_OUT):
        for zone in ground.keep_outs:
            if min(u for u, _ in zone) < right and max(u for u, _ in zone) > left:
                yield RuleId.KEEP_OUT, (min(v for _, v in zone), max(v for _, v in zone))
    if rules.holds(RuleId.DOOR_OPENING):
        for door, (au, av), (bu, bv) in ground.doors:
            if door.bridgeable and av != bv and max(au, bu) >= left and min(au, bu) <= right:
                yield RuleId.DOOR_OPENING, (min(av, bv), max(av, bv))
    if rules.holds(RuleId.JOINT_CLEARANCE):
        clear = rules.joint_clearance_nm
        for (au, av), (bu, bv) in ground.joints:
            if max(au, bu) > left and min(au, bu) < right and _level(au, av, bu, bv):
                yield RuleId.JOINT_CLEARANCE, (min(av, bv) - clear, max(av, bv) + clear)
    if rules.holds(RuleId.LEAST_LENGTH):
        for piece in pieces:
            low, high = piece.part.v0, piece.part.v1
            yield RuleId.LEAST_LENGTH, (low, min(high, low + rules.least_length_nm))
            yield RuleId.LEAST_LENGTH, (max(low, high - rules.least_length_nm), high)


def _level(au: int, av: int, bu: int, bv: int) -> bool:
    """Tell whether a joint runs across the lay, to within a degree."""
    angle = atan2(bv - av, bu - au) % pi
    return min(angle, pi - angle) <= PARALLEL


def broken_by_crossings(bench: Bench, breadths: Sequence[Bounds], crossings: Sequence[Levels]) -> RuleId | None:
    """Return a rule that the cross seams break, None where they keep all; their number is not looked at."""
    ground, rules = bench.ground, bench.room.rules
    if rules.holds(RuleId.CROSS_SEAM_STAGGER):
        for one, other in pairwise(crossings):
            if any(abs(a - b) < rules.cross_seam_stagger_nm for a in one for b in other):
                return RuleId.CROSS_SEAM_STAGGER
    for across, levels in zip(breadths, crossings, strict=True):
        if not all(crossing_runs(ground, across, level) for level in levels):
            return RuleId.CROSS_SEAMS
        for rule, (low, high) in _forbidden(ground, across, ()) if levels else ():
            if any(low < level < high for level in levels):
                return rule
        if levels and rules.holds(RuleId.LEAST_LENGTH):
            ends = (None, *levels, None)
            for along in pairwise(ends):
                for piece in bench.pieces(across, along):
                    ends_at_crossing = piece.part.v0 == along[0] or piece.part.v1 == along[1]
                    if ends_at_crossing and piece.part.v1 - piece.part.v0 < rules.least_length_nm:
                        return RuleId.LEAST_LENGTH
    return None


def crossing_runs(ground: Ground, across: Bounds, level: int) -> tuple[tuple[int, int], ...]:
    """Return the stretches (u from, u to) of a cross seam on the floor of its breadth."""
    left, right = _ends(ground, across)
    return runs_across(ground.slabs, level, left, right)


def equal_levels(bench: Bench, breadth: Breadth, parts: int) -> Levels | None:
    """Return cross seams that split the longest piece of a breadth into rough lengths equal up to the step."""
    box = breadth.longest.box
    half, step = bench.seam_nm, bench.grid.step_nm
    each = -(-(box.length_nm + 2 * half * (parts - 1)) // (parts * step)) * step
    levels: list[int] = []
    start = box.y0_nm
    for _ in range(parts - 1):
        level = nearest_allowed(breadth.allowed, start + each - half)
        if level is None or (levels and level <= levels[-1]):
            return None
        levels.append(level)
        start = box.y0_nm + (level - half - box.y0_nm) // step * step
    return tuple(levels)


def levels_at(bench: Bench, breadth: Breadth, length_nm: int, *, from_top: bool = False) -> Levels | None:
    """Return the fewest cross seams that leave pieces no longer than a length, all but the last as long as it is."""
    box = breadth.longest.box
    half, step = bench.seam_nm, bench.grid.step_nm
    length = length_nm // step * step
    levels: list[int] = []
    start, end = box.y0_nm, box.y1_nm
    while end - start > length and len(levels) < 40:
        if from_top:
            level = next_allowed(breadth.allowed, end - length + half)
            if level is None or level >= (levels[-1] if levels else end):
                return None
            end = box.y0_nm - (box.y0_nm - level - half) // step * step
        else:
            level = last_allowed(breadth.allowed, start + length - half)
            if level is None or level <= (levels[-1] if levels else start):
                return None
            start = box.y0_nm + (level - half - box.y0_nm) // step * step
        levels.append(level)
    return tuple(sorted(levels))


def nearest_allowed(allowed: tuple[Interval, ...], level: int) -> int | None:
    """Return the allowed position nearest to a level."""
    found = [at for at in (last_allowed(allowed, level), next_allowed(allowed, level)) if at is not None]
    return min(found, key=lambda at: abs(at - level)) if found else None


def splits(bench: Bench, breadth: Breadth, most: int, lengths_nm: Sequence[int]) -> Iterator[Levels]:
    """Yield the ways worth trying to split a breadth by at most so many cross seams."""
    for parts in range(2, most + 2):
        levels = equal_levels(bench, breadth, parts)
        if levels is not None:
            yield levels
    for length in lengths_nm:
        for from_top in (False, True):
            at = levels_at(bench, breadth, length, from_top=from_top)
            if at and len(at) <= most:
                yield at


def on_lattice(
    allowed: tuple[Interval, ...], phase_nm: int, offsets_nm: Sequence[int], repeat_nm: int
) -> tuple[Interval, ...]:
    """Return the allowed positions s with s + phase ≡ an offset, modulo the repeat, as intervals of one point each."""
    points: list[int] = []
    for low, high in allowed:
        for offset in offsets_nm:
            first = low + (offset - phase_nm - low) % repeat_nm
            points += range(first, high + 1, repeat_nm)
    return tuple((point, point) for point in sorted(set(points)))
