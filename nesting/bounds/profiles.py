"""The floor of a room as rows across: what every breadth must hold of each, wherever the seams run.

Goods that cover a breadth hold, at every level along, the floor of the breadth there with what is left on at its walls
and seams. A *run* is such a stretch of floor (or of the allowance beyond a wall across the lay) between two walls: the
piece that covers a breadth from seam a to seam b holds of a run from `left` to `right`

    min(right, b + half) − max(left, a − half),   half = seam allowance,

if the breadth has any of its floor at all. What runs take at one level lies side by side on the goods, so that a
function f of widths that adds up to at most 1 on the goods' width (a dual feasible function) bounds the length used:

    length ≥ Σ over breadths, levels and runs of height × f(width).

Lemmas used. (1) Allowances are at their least lawful; more only widens. (2) Rough cuts lie on the cutting step, so that
widths and heights round up. (3) Where the grid's place is not known, it is moved to begin at the floor's left corner:
every place moves by less than a step. (4) Cross seams and relief cuts take nothing away at any level.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor, hypot

from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.floor.breadths import Slab, slabs_of
from nesting.floor.outlines import Exact, LayFloor, Side
from nesting.seams.family import Interval

OBLIQUE_SHIFT_NM = 20_000_000
"""Rows beside an oblique wall end where it has gone so far across: a run counts as wide as it is at its narrowest."""

MOST_OBLIQUE_ROWS = 6
"""Rows between two levels of vertices at most."""

SAFETY_NM = 3
"""Taken off what is computed with an oblique wall in floating point."""

Vertex = tuple[Exact, Exact]


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a row between two walls, nm: its floor, and how far the allowance reaches beyond either end."""

    low: int
    high: int
    more_low: int
    more_high: int

    @property
    def width_nm(self) -> int:
        """How wide it is with its allowances."""
        return self.high + self.more_high - self.low + self.more_low


@dataclass(frozen=True, slots=True)
class Row:
    """All runs between two levels."""

    bottom: Exact
    top: Exact
    runs: tuple[Run, ...]

    @property
    def width_nm(self) -> int:
        """How wide its runs are together."""
        return sum(run.width_nm for run in self.runs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A room in one lay direction on the grid of the cutting step, from the floor's left corner.

    `across`: the floor's width in steps; `overlap`: what two neighbouring rough cuts have in common at least.
    `runs`: (left, right, width, from, to, height): left and right in steps; the width where both ends are walls; it
    counts for breadths that end at `from` or beyond and begin at `to` or before; height in micrometres.
    `seams`: the right ends, in steps, of breadths that may end at a seam. `tall`: for every step across how long a
    piece there is at least, micrometres. `holes`: (from, to) in steps, inside which no seam may lie for a hole to
    need a relief cut.
    """

    across: int
    overlap: int
    runs: tuple[tuple[int, int, int, int, int, int], ...]
    seams: tuple[bool, ...]
    tall: tuple[int, ...]
    holes: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A run before it is joined with its neighbours; `ends`: the vertices at which either end may go on."""

    run: Run
    ends: tuple[frozenset[Vertex], frozenset[Vertex]]


def rows_of(swept: LayFloor) -> tuple[Row, ...]:
    """Return the rows of a floor with its allowances, bottom up; rows without a run are left out."""
    slabs = slabs_of(swept)
    levels: set[Exact] = set()
    for side in swept.sides:
        levels |= {side.av, side.bv}
        if side.av == side.bv:
            levels |= set(_band(side))
    for slab in slabs:
        if not (slab.left.au == slab.left.bu and slab.right.au == slab.right.bu):
            shift = max(abs(Fraction(side.at(slab.v1)) - side.at(slab.v0)) for side in (slab.left, slab.right))
            count = min(MOST_OBLIQUE_ROWS, ceil(shift / OBLIQUE_SHIFT_NM))
            levels |= {slab.v0 + Fraction((slab.v1 - slab.v0) * i, count) for i in range(1, count)}
    bands = [(*_band(side), _beyond_level(side, _corners(swept))) for side in swept.sides if side.av == side.bv]
    found = []
    for bottom, top in pairwise(sorted(levels)):
        stretches = [_on_floor(slab, bottom, top) for slab in slabs if slab.v0 <= bottom and slab.v1 >= top]
        stretches += [stretch for low, high, stretch in bands if low <= bottom and high >= top]
        runs = _joined([stretch for stretch in stretches if stretch.run.low < stretch.run.high])
        if runs:
            found.append(Row(bottom, top, runs))
    return tuple(found)


def _band(side: Side) -> tuple[Exact, Exact]:
    """Return the levels that the allowance of a side across the lay takes."""
    return (side.av - side.given_nm, side.av) if side.bu > side.au else (side.av, side.av + side.given_nm)


def _on_floor(slab: Slab, bottom: Exact, top: Exact) -> _Stretch:
    """Return what a trapezoid of floor holds at every level of a row."""
    left, right = slab.left, slab.right
    low = ceil(max(left.at(bottom), left.at(top)))
    high = floor(min(right.at(bottom), right.at(top)))
    run = Run(low, high, _beyond(left, bottom, top), _beyond(right, bottom, top))
    return _Stretch(run, (_vertices(left), _vertices(right)))


def _vertices(side: Side) -> frozenset[Vertex]:
    return frozenset({(side.au, side.av), (side.bu, side.bv)}) if side.au == side.bu else frozenset()


def _beyond(side: Side, bottom: Exact, top: Exact) -> int:
    """Return how far the allowance of a wall reaches beyond it, across, at every level of a row at least.

    The allowance of an oblique wall is a band square to it. Going out along a level line, one leaves it at its outer
    side after depth·length/|dv|, or at the wall's end that lies ahead.
    """
    if side.au == side.bu:
        return side.given_nm
    du, dv = float(side.bu - side.au), float(side.bv - side.av)
    length = hypot(du, dv)
    ahead = side.bv if (du > 0) == (dv > 0) else side.av
    left = min(abs(float(ahead - bottom)), abs(float(ahead - top))) * length / abs(dv)
    return max(0, floor(min(side.given_nm * length / abs(dv), left * length / abs(du))) - SAFETY_NM)


def _corners(swept: LayFloor) -> dict[Vertex, list[Side]]:
    """Return the sides that meet at every vertex."""
    found: dict[Vertex, list[Side]] = {}
    for side in swept.sides:
        found.setdefault((side.au, side.av), []).append(side)
        found.setdefault((side.bu, side.bv), []).append(side)
    return found


def _beyond_level(side: Side, corners: dict[Vertex, list[Side]]) -> _Stretch:
    """Return the allowance beyond a side across the lay, with the fills of its corners where walls turn squarely.

    Where the outline goes straight on or turns away from the side, the allowance goes on into what follows.
    """
    fills, goes_on = [], []
    for vertex, before in (((side.au, side.av), True), ((side.bu, side.bv), False)):
        others = [other for other in corners[vertex] if other is not side]
        fill, on = 0, False
        if len(others) == 1:
            one, two = (others[0], side) if before else (side, others[0])
            turn = (one.bu - one.au) * (two.bv - two.av) - (one.bv - one.av) * (two.bu - two.au)
            upright = others[0].au == others[0].bu
            fill = others[0].given_nm if turn > 0 and upright else 0
            on = (turn < 0 and upright) or turn == 0
        fills.append(fill)
        goes_on.append(frozenset({vertex}) if on else frozenset())
    if side.bu > side.au:
        return _Stretch(Run(int(side.au), int(side.bu), fills[0], fills[1]), (goes_on[0], goes_on[1]))
    return _Stretch(Run(int(side.bu), int(side.au), fills[1], fills[0]), (goes_on[1], goes_on[0]))


def _joined(stretches: list[_Stretch]) -> tuple[Run, ...]:
    """Return runs in rising order: stretches that go on into one another made one, the others kept apart.

    Only what surely is of one piece may be joined: two pieces side by side can be less than one as wide as both.
    """
    out: list[_Stretch] = []
    for stretch in sorted(stretches, key=lambda stretch: (stretch.run.low, stretch.run.high)):
        run = stretch.run
        if out:
            last = out[-1].run
            if run.low == last.high and out[-1].ends[1] & stretch.ends[0]:
                joined = Run(last.low, run.high, last.more_low, run.more_high)
                out[-1] = _Stretch(joined, (out[-1].ends[0], stretch.ends[1]))
                continue
            low = max(run.low, last.high)
            if low >= run.high:
                continue
            after = min(last.more_high, low - last.high)
            out[-1] = _Stretch(Run(last.low, last.high, last.more_low, after), out[-1].ends)
            run = Run(low, run.high, min(run.more_low, low - last.high - after), run.more_high)
        out.append(_Stretch(run, stretch.ends))
    return tuple(stretch.run for stretch in out)


def profile_of(
    room: Room, material: Material, swept: LayFloor, allowed: tuple[Interval, ...], *, anchored: bool
) -> Profile:
    """Return the profile of a floor.

    Parameters
    ----------
    swept
        The floor with its allowances at their least lawful.
    allowed
        Where a seam may run, u of the lay frame.
    anchored
        The grid of the cutting step begins at the swept floor's corner.
    """
    rows = rows_of(swept)
    step = material.cutting_step_nm
    half = -(-material.seam_overlap_nm // 2)
    overlap = -(-2 * half // step)
    start = min(run.low - run.more_low for row in rows for run in row.runs)
    end = max(run.high + run.more_high for row in rows for run in row.runs)
    across = -(-(end - start) // step)
    loose = 0 if anchored else 1
    runs: dict[tuple[int, int, int, int, int], int] = {}
    for row, height in _heights(rows, step, anchored=anchored):
        for run in row.runs:
            left, right = run.low - run.more_low - start, run.high + run.more_high - start
            key = (
                left // step if anchored else -(-left // step),
                -(-right // step),
                -(-(right - left) // step),
                -(-(run.low - start + half) // step) + 1 + loose,
                -(-(run.high - start - overlap * step + half) // step) - 1,
            )
            runs[key] = runs.get(key, 0) + height
    return Profile(
        across=across,
        overlap=overlap,
        runs=tuple((*key, height // 1000) for key, height in runs.items() if height >= 1000),
        seams=_seam_ends(allowed, start, half, step, across, loose),
        tall=_tall(swept, start, step, across),
        holes=_holes(swept, start, half, step, loose),
    )


def _heights(rows: tuple[Row, ...], step: int, *, anchored: bool) -> list[tuple[Row, int]]:
    """Return how high every row counts, nm.

    The rough cut of a piece holds whole steps along, so that a step that several rows share counts for the widest
    of them; without a known grid only the height of a single row rounds up.
    """
    if len(rows) == 1:
        return [(rows[0], ceil((rows[0].top - rows[0].bottom) / step) * step)]
    if not anchored:
        return [(row, floor(row.top - row.bottom)) for row in rows]
    base = rows[0].bottom
    shared: dict[int, Row] = {}
    whole: list[tuple[Row, int]] = []
    for row in rows:
        first, last = floor((row.bottom - base) / step), ceil((row.top - base) / step)
        inner, outer = ceil((row.bottom - base) / step), floor((row.top - base) / step)
        whole.append((row, max(0, outer - inner) * step))
        for place in {first, last - 1} if first < inner or outer < last else set():
            if inner <= place < outer:
                continue
            if place not in shared or shared[place].width_nm < row.width_nm:
                shared[place] = row
    extra: dict[int, int] = {}
    for row in shared.values():
        extra[id(row)] = extra.get(id(row), 0) + step
    return [(row, height + extra.get(id(row), 0)) for row, height in whole]


def _seam_ends(
    allowed: tuple[Interval, ...], start: int, half: int, step: int, across: int, loose: int
) -> tuple[bool, ...]:
    """Return for every step whether a breadth's rough cut may end there at a seam.

    It ends at the first step not below s + half, so s lies in (end − half − step, end − half].
    """
    ends = [False] * (across + 1)
    for low, high in allowed:
        first = -(-(low - start + half) // step)
        last = -(-(high - start + half) // step) + loose
        for place in range(max(1, first), min(across, last) + 1):
            ends[place] = True
    return tuple(ends)


def _tall(swept: LayFloor, start: int, step: int, across: int) -> tuple[int, ...]:
    """Return for every step across how long a piece that holds it is at least, µm.

    The floor reaches so far along there without a gap; the least allowance of any wall is left on at both ends.
    """
    beyond = min(side.given_nm for side in swept.sides) if all(side.straight for side in swept.sides) else 0
    going: dict[int, Exact] = {}
    best = [0] * across
    slabs = slabs_of(swept)
    for level in sorted({slab.v0 for slab in slabs}):
        here: dict[int, Exact] = {}
        for slab in slabs:
            if slab.v0 == level:
                low = ceil(max(slab.left.at(slab.v0), slab.left.at(slab.v1)))
                high = floor(min(slab.right.at(slab.v0), slab.right.at(slab.v1)))
                for place in range(max(0, -(-(low - start) // step)), min(across, (high - start) // step)):
                    here[place] = going.get(place, 0) + slab.v1 - slab.v0
        going = here
        for place, length in going.items():
            best[place] = max(best[place], floor(length + 2 * beyond) // 1000)
    return tuple(best)


def _holes(swept: LayFloor, start: int, half: int, step: int, loose: int) -> tuple[tuple[int, int], ...]:
    """Return for every hole the steps (from, to) of breadths that hold it whole: begin ≤ from, end ≥ to."""
    found = []
    for hole in swept.holes:
        low, high = min(u for u, _ in hole), max(u for u, _ in hole)
        found.append(((low - half - start) // step - 1, -(-(high + half - start) // step) + 1 + loose))
    return tuple(found)
