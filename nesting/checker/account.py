"""V5e and V5f: the account adds up, and the measures are those of the plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor, isqrt

from nesting.checker.asked import by_item
from nesting.checker.facts import LaidFloor, View
from nesting.checker.findings import Finding
from nesting.checker.parts import OF_EDGE
from nesting.checker.seam_rules import Run, runs_of
from nesting.checker.whole import METRE_NM, XY, area2, half_up
from nesting.domain.job import EdgeKind
from nesting.domain.plan import SourceKind
from nesting.domain.rules import GoalKind


def check_account(view: View) -> Iterator[Finding]:
    """V5e: goods less what is gone are pieces, offcuts, start allowances and waste, recomputed, and add up exactly."""
    part, account = view.part, view.part.account
    gone = sum(rect.area_nm2 for source in part.sources for rect in source.gone)
    goods = sum(source.width_nm * source.length_nm for source in part.sources) - gone
    pieces = sum(rect.area_nm2 for cut in part.cuts for rect in cut.rects)
    offcuts = sum(offcut.rect.area_nm2 for offcut in part.offcuts)
    start = sum(source.start_allowance_nm * source.width_nm for source in part.sources)
    floors = [area2(layout.floor) - sum(abs(area2(hole)) for hole in layout.holes) for layout in part.layouts]
    expected = {
        "goods": (account.goods_nm2, goods, goods),
        "pieces": (account.pieces_nm2, pieces, pieces),
        "offcuts": (account.offcuts_nm2, offcuts, offcuts),
        "start allowances": (account.start_nm2, start, start),
        "waste": (account.waste_nm2, goods - pieces - offcuts - start, goods - pieces - offcuts - start),
        "floor": (account.floor_nm2, sum(double // 2 for double in floors), sum(floors) // 2),
    }
    where = f"material {view.material.id}"
    for what, (given, low, high) in expected.items():
        if not low <= given <= high:
            yield Finding(rule="V5e", where=where, text=f"the area of {what} is {high} nm², not {given} nm²")
    if goods - pieces - offcuts - start < 0:
        yield Finding(rule="V5e", where=where, text="more comes out of the goods than there is")


def check_measures(view: View) -> Iterator[Finding]:
    """V5f: lengths ordered and used, seams and their length, joints, cuts, money and leftover are recomputed."""
    measures = view.part.measures
    where = f"material {view.material.id}"
    least, most = seam_length_nm(view)
    counts = measured(view)
    for what, value in counts.items():
        if getattr(measures, what) != value:
            yield Finding(rule="V5f", where=where, text=f"{what} is {value}, not {getattr(measures, what)}")
    for name in ("ordered_nm", "used_nm"):
        given, totals = getattr(measures, name), _totals(view, used=name == "used_nm")
        shown = {width: length for width, length in given if length}
        if [width for width, _ in given] != sorted({width for width, _ in given}) or shown != totals:
            yield Finding(rule="V5f", where=where, text=f"{name} is {sorted(totals.items())}, not {given}")
    if len(view.floors) == len(view.layouts) and not least <= measures.seam_length_nm <= most:
        text = f"the seams are {most} nm long, not {measures.seam_length_nm} nm"
        yield Finding(rule="V5f", where=where, text=text)


def measured(view: View) -> dict[str, int]:
    """Return the measures that are single whole numbers, by the names of `Measures`."""
    part, goal = view.part, view.job.goal
    goods = sum(source.cost for source in part.sources)
    cross = sum(len(layout.cross_seams) for layout in part.layouts)
    charges = 0
    if goal.kind is GoalKind.LEAST_COST:
        length = Fraction(part.measures.seam_length_nm, METRE_NM)
        charges = half_up(length * goal.charge_per_seam_m)
        charges += goal.charge_per_cross_seam * cross + goal.charge_per_cut * len(part.cuts)
    orders = [source for source in part.sources if source.kind is SourceKind.ORDER]
    return {
        "roll_nm2": sum(source.width_nm * source.length_nm for source in orders),
        "seams": sum(len(layout.seams) for layout in part.layouts),
        "cross_seams": cross,
        "relief_cuts": sum(len(layout.relief_cuts) for layout in part.layouts),
        "joins": _joins(view),
        "cuts": len(part.cuts),
        "goods_cost": goods,
        "total_cost": goods + charges,
        "leftover_nm2": sum(offcut.rect.area_nm2 for offcut in part.offcuts),
    }


def _joins(view: View) -> int:
    """Return the joints within loose pieces and within the runs of strips."""
    asked = [item.id for items in (view.job.loose, view.job.strips) for item in items]
    return sum(len(cuts) - 1 for name in asked for cuts in by_item(view.cuts_of(name)).values())


def _totals(view: View, *, used: bool) -> dict[int, int]:
    totals: Counter[int] = Counter()
    for source in view.part.sources:
        if source.kind is SourceKind.ORDER:
            totals[source.width_nm] += source.used_nm if used else source.length_nm
    return {width: length for width, length in totals.items() if length}


def seam_length_nm(view: View) -> tuple[int, int]:
    """Return between what the length of all seams, cross seams and relief cuts lies, runs up coves included.

    The two differ only where an end falls on an oblique wall (in fractions of a nanometre) or into a corner, where
    either wall's cove may be meant, and by the cove at the end of a relief cut.
    """
    least: Fraction = Fraction(0)
    most: Fraction = Fraction(0)
    loose_ends = 0
    for laid in view.floors.values():
        for run in runs_of(laid, relief=True):
            length, exact = _length(run)
            loose_ends += 0 if exact else 1
            least, most = least + length, most + length
            slit = run.name.startswith("relief")
            for end in (run.start, run.end):
                coves = _coves(laid, end)
                least += 0 if slit else min(coves, default=0)
                most += max(coves, default=0)
    return floor(least) - 2 * loose_ends, ceil(most) + 2 * loose_ends


def _length(run: Run) -> tuple[Fraction, bool]:
    """Return how long a run is, and whether exactly."""
    du, dv = Fraction(run.end[0] - run.start[0]), Fraction(run.end[1] - run.start[1])
    exact = (du == 0 or dv == 0) and du.denominator == dv.denominator == 1
    if du == 0 or dv == 0:
        return abs(du) + abs(dv), exact
    return Fraction(isqrt(int(du * du + dv * dv))), False


def _coves(laid: LaidFloor, end: XY) -> list[int]:
    """Return the coves of the walls that a run's end lies on (0: not coved): two where it falls into a corner."""
    found = []
    for side in laid.cells.sides:
        (u0, v0), (u1, v1) = side.a, side.b
        if not (min(u0, u1) <= end[0] <= max(u0, u1) and min(v0, v1) <= end[1] <= max(v0, v1)):
            continue
        if side.step[0] * (end[1] - v0) != side.step[1] * (end[0] - u0):
            continue
        edge = laid.room.edges[side.index] if side.loop < 0 else None
        coved = edge is not None and OF_EDGE[edge.kind] is OF_EDGE[EdgeKind.WALL]
        found.append(edge.cove_nm if edge is not None and coved else 0)
    return found
