"""The bound that knows the repeat: pieces lie one after another and side by side along one roll, each room in phase.

On top of the program that chooses every room's way (`choosing`): the breadths of a way without cross seams are
intervals along the roll, with their widths as variables that add up to the room. At every place along, the widths
there add up to at most the goods' (a cumulative resource), and breadths of one room begin whole steps of the pattern
apart: a step is the greatest common divisor of the repeat along and the drop.

Why one roll stands for several: rolls that share no phase group may be put one behind the other anywhere. Rolls that
do are anchored, which costs each a starting allowance of a whole repeat, so they may be put one behind the other with
their patterns in step.

Why whole units are enough: given which piece lies before which and how many steps of the pattern lie between, places
are bound by differences alone, all of them whole units.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import gcd

from ortools.sat.python import cp_model

from nesting.bounds.choosing import ChoosingModel, Way
from nesting.bounds.facts import Core, Lay
from nesting.bounds.kinds import Kind
from nesting.bounds.measuring import distinct_directions, room_facts
from nesting.domain.job import Job
from nesting.domain.material import Material, Pattern, Turning
from nesting.model.solving import stopping
from nesting.progress import Stop, never_stop
from nesting.seams.clusters import directions_of
from nesting.seams.family import Interval, allowed_seams

MOST_INTERVALS = 200
"""Pieces of all ways together up to which they are placed."""


MOST_TARGETS = 64
"""Targets told apart between what is known and what a plan attains."""

MOST_EXTRA = 2
"""Ways of a lay direction whose pieces are placed; with more seams only their weight counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Units: `unit_nm` along; `along` units a step of the pattern (0: no pattern); the cutting step across."""

    unit_nm: int
    along: int
    step_nm: int
    overlap_nm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class InOneWay:
    """What is known of one lay direction of a kind of room; `allowed`: where a seam may run, u of the lay frame."""

    facts: Lay
    holes: bool
    allowed: tuple[Interval, ...]

    def breadths(self, seams: int) -> int:
        """Return up to how many pieces across there are with so many seams; 0: not known."""
        if self.facts.most_splits != 0 and seams > 0:
            return 0
        return seams + 1


Placing = Sequence[tuple[int, Sequence[InOneWay | None]]]
"""Per kind of room how many rooms, and what is known of every lay direction (None: nothing)."""


def grid_of(material: Material) -> Grid | None:
    """Return the units of the sequence; None where orders of several widths make one axis impossible."""
    if len(material.widths_nm) > 1:
        return None
    along = 0 if material.pattern is None else _step_of(material.pattern)
    allowance = material.starting_allowance_nm
    if allowance is not None and 0 < allowance < along:
        along = 0
    step = material.cutting_step_nm
    unit = gcd(step, along)
    return Grid(unit_nm=unit, along=along // unit, step_nm=step, overlap_nm=material.seam_overlap_nm)


def _step_of(pattern: Pattern) -> int:
    """Return how far apart along, nm, breadths of one room can begin at least; 0 where that is no whole number."""
    if pattern.drop_nm.denominator != 1:
        return 0
    return gcd(pattern.along_nm, pattern.drop_nm.numerator)


def whole_pieces(job: Job, material: Material) -> list[tuple[int, int]]:
    """Return (across, along), nm, of the loose pieces that are cut in one and are never turned."""
    if material.turning is Turning.FREE and material.pattern is None:
        return []
    return [
        (loose.width_nm, loose.length_nm)
        for loose in job.loose
        if loose.material_id == material.id and loose.most_parts == 1
        for _ in range(loose.count)
    ]


def placing_of(job: Job, material: Material, kinds: Sequence[Kind]) -> Placing:
    """Return what is known of the lay directions of every kind of room, in the order of its `lays`."""
    rooms = {room.id: room for room in job.rooms}
    directions = directions_of(job, material)
    found = []
    for kind in kinds:
        room = rooms[kind.room_ids[0]]
        facts = room_facts(job, material, room, directions[room.id], group=0)
        known = {
            lay.direction: InOneWay(
                facts=lay, holes=bool(room.holes), allowed=allowed_seams(room, material, lay.direction)
            )
            for lay in facts.lays
        }
        found.append((len(kind.room_ids), [known.get(one) for one in distinct_directions(directions[room.id])]))
    return found


def bound_in_sequence(
    choosing: ChoosingModel,
    job: Job,
    material: Material,
    kinds: Sequence[Kind],
    *,
    known: int,
    enough: int,
    deterministic_time: float,
    seed: int,
    stop: Stop = never_stop,
) -> int:
    """Return a bound on the goal in the units of the choosing model; 0 where it does not apply or nothing is proved.

    Adds to the choosing model, which is of no other use afterwards.

    Parameters
    ----------
    kinds
        The rooms that the choosing model chooses for.
    known, enough
        A bound so far; what some plan attains: no more is asked for.
    """
    grid = grid_of(material)
    if grid is None or choosing.goods.in_hand:
        return 0
    placing = placing_of(job, material, kinds)
    horizon_nm = -(-enough // choosing.terms.weights[0]) * choosing.terms.unit_nm
    sequence = _Sequence(choosing, grid, horizon_nm // grid.unit_nm + 1)
    if sequence.count(placing) > MOST_INTERVALS:
        return 0
    sequence.place_rooms(placing)
    if not choosing.lots:  # which could hold loose pieces
        sequence.place_pieces(whole_pieces(job, material))
    return sequence.bound(known, enough, deterministic_time=deterministic_time, seed=seed, stop=stop)


def _told_apart(ways: Sequence[Way]) -> set[Way]:
    """Return the ways whose pieces are placed: from an order, with the fewest seams and some more."""
    fewest: dict[int, int] = {}
    for source, number, seams, _ in ways:
        if source < 0:
            fewest[number] = min(fewest.get(number, seams), seams)
    return {way for way in ways if way[0] < 0 and not way[3] and way[2] - fewest[way[1]] < MOST_EXTRA}


class _Sequence:
    """The intervals as they join the choosing model."""

    def __init__(self, choosing: ChoosingModel, grid: Grid, horizon: int) -> None:
        self.choosing, self.grid, self.horizon = choosing, grid, horizon
        self.model = choosing.model
        self.width = choosing.goods.made[0]
        self.end = self.model.new_int_var(0, horizon, "end")
        self.intervals: list[cp_model.IntervalVar] = []
        self.widths: list[cp_model.LinearExprT] = []

    def count(self, placing: Placing) -> int:
        """Return how many intervals all ways have."""
        return sum(
            rooms * (seams + 1)
            for (rooms, lays), ways in zip(placing, self.choosing.ways, strict=True)
            for _, number, seams, _ in _told_apart(ways)
            if lays[number] is not None
        )

    def bound(self, known: int, enough: int, *, deterministic_time: float, seed: int, stop: Stop) -> int:
        """Return the bound on the goal: for rising targets it is asked whether one may be reached at all.

        That is easier to refute than a minimum is to find. The jumps grow while they are refuted.
        """
        goal = self._whole(enough)
        unit = self._unit_of_goal()
        best, attained, jump = -(-known // unit) * unit, enough, 0
        wide = max(unit, (enough - known) // MOST_TARGETS // unit * unit)
        left = deterministic_time
        while best < attained and left > deterministic_time / 50 and not stop():
            target = min(best + jump * wide, attained - unit)
            limit = left / 2 if jump or left < deterministic_time else left * 2 / 3
            status, value, spent = self._asked(goal, target, limit, seed, stop)
            left -= spent
            if status == cp_model.INFEASIBLE:
                best, jump = target + unit, 2 * jump + 1
            elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                attained, jump = value, 0
            elif jump:
                jump = 0
            else:
                break
        return min(best, enough)

    def _whole(self, enough: int) -> cp_model.IntVar:
        """Complete the model; return its goal as a variable."""
        model, terms = self.model, self.choosing.terms
        model.add_cumulative(self.intervals, self.widths, self.width)
        fine = gcd(self.grid.unit_nm, terms.unit_nm)
        # the lengths of the choosing model may count up to a unit less
        slack = 0 if terms.exact else terms.unit_nm // fine
        model.add(terms.unit_nm // fine * self.choosing.used[0] + slack >= self.grid.unit_nm // fine * self.end)
        goal = model.new_int_var(0, enough, "goal")
        model.add(goal == self.choosing.goal)
        model.clear_objective()  # type: ignore[no-untyped-call]
        return goal

    def _unit_of_goal(self) -> int:
        """Return what every value of the goal is a multiple of."""
        terms = self.choosing.terms
        if not terms.exact or terms.roll is not None:
            return 1
        return gcd(terms.weights[0] * gcd(terms.step, terms.minimum), terms.seam_price)

    def _asked(
        self, goal: cp_model.IntVar, target: int, limit: float, seed: int, stop: Stop
    ) -> tuple[cp_model.CpSolverStatus, int, float]:
        """Return whether the goal can be as low as a target, the goal reached, and the deterministic time it took."""
        model = self.model.clone()
        reached = model.get_int_var_from_proto_index(goal.index)
        model.add(reached <= target)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.linearization_level = 0  # linear relaxations of the pieces' places say little and take long
        solver.parameters.max_deterministic_time = limit
        with stopping(solver, stop):
            status = solver.solve(model)
        found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        return status, solver.value(reached) if found else 0, solver.response_proto.deterministic_time

    def place_rooms(self, placing: Placing) -> None:
        """Let every room of a kind take one of the ways that the kind takes, with its pieces in their places."""
        for (rooms, lays), ways, taken in zip(placing, self.choosing.ways, self.choosing.taken, strict=True):
            told = _told_apart(ways)
            each: list[list[cp_model.IntVar]] = [[] for _ in ways]
            for _ in range(rooms):
                phase = self.model.new_int_var(0, self.grid.along - 1, "") if self.grid.along else None
                literals = [self.model.new_bool_var("") for _ in ways]
                self.model.add_exactly_one(literals)
                for chosen, literal, way in zip(each, literals, ways, strict=True):
                    chosen.append(literal)
                    source, number, seams, _ = way
                    lay = lays[number]
                    if source < 0 and lay is not None:
                        self._one_after_another(literal, lay.facts)
                        if way in told:
                            self._way(literal, lay, seams, phase)
            for chosen, count in zip(each, taken, strict=True):
                self.model.add(cp_model.LinearExpr.sum(chosen) == count)

    def place_pieces(self, pieces: Sequence[tuple[int, int]]) -> None:
        """Place loose pieces."""
        always = self.model.new_constant(1)
        for across, along in pieces:
            self._interval(always, self._along(along, whole=True), self._across(across, whole=True), None)

    def _way(self, literal: cp_model.IntVar, lay: InOneWay, seams: int, phase: cp_model.IntVar | None) -> None:
        breadths = lay.breadths(seams)
        if seams == 0:
            self._one_piece(literal, lay.facts)
        elif breadths and lay.facts.core is not None:
            self._breadths(literal, lay, lay.facts.core, breadths, phase)

    def _one_after_another(self, literal: cp_model.IntVar, facts: Lay) -> None:
        """Require the length that breadths need by themselves, however many there are.

        All begin at steps of the pattern, A apart, and are L long, so that each holds exactly p = ⌈L/A⌉ steps in a row
        and one of every p-th steps: of these there are at least n = ⌈U/W⌉ for breadths that add up to U in goods W
        wide. From the first of all n·p steps to the end of the last breadth it is at least (n − 1)·p·A + L.
        """
        core = facts.core
        if core is None or facts.most_splits != 0:
            return
        length = self._along(core.along_nm, whole=core.whole)
        total = self._across(core.across_nm, whole=core.whole)
        overlap = self._across(self.grid.overlap_nm, whole=core.whole) if core.whole else 0
        layers = max(1, -(-(total - overlap) // max(1, self.width - overlap)))
        step = self.grid.along or 1
        least = (layers - 1) * -(-length // step) * step + length
        self.model.add(self.end >= least).only_enforce_if(literal)

    def _one_piece(self, literal: cp_model.IntVar, facts: Lay) -> None:
        """Place a piece as long as the floor: as wide as its narrowest level all along, as its core within that."""
        across, along = facts.extent_nm
        whole = facts.core is not None and facts.core.whole
        length = self._along(along, whole=whole)
        chord = self._across(across if whole else facts.least_chord_nm, whole=whole)
        start = self._interval(literal, length, chord, None)
        if whole or facts.core is None:
            return
        wider = self._across(facts.core.across_nm, whole=False) - chord
        inner = self._along(facts.core.along_nm, whole=False)
        if wider > 0 and inner > 0:
            within = self._interval(literal, inner, wider, None)
            self.model.add(within >= start).only_enforce_if(literal)
            self.model.add(within + inner <= start + length).only_enforce_if(literal)

    def _breadths(
        self, literal: cp_model.IntVar, lay: InOneWay, core: Core, breadths: int, phase: cp_model.IntVar | None
    ) -> None:
        """Place the breadths' parts of the core, all of its length, between seams where they may run.

        A breadth from seam s to seam t is a rough cut on the cutting step, so at least ⌈t⌉ − ⌈s⌉ steps wide, and half
        the overlap at every seam where the core is the whole floor. Seams beside a core leave some breadth none of it.
        """
        length = self._along(core.along_nm, whole=core.whole)
        total = self._across(core.across_nm, whole=core.whole)
        overlap_nm = self.grid.overlap_nm if core.whole and not lay.holes else 0
        domain = self._seam_places(lay, core, total)
        places = [self.model.new_constant(0)]
        places += [self.model.new_int_var_from_domain(domain, "") for _ in range(breadths - 1)]
        places.append(self.model.new_constant(total))
        widths = []
        for number, (begun, ended) in enumerate(pairwise(places)):
            width = self.model.new_int_var(0, self.width, "")
            sides = (number > 0) + (number < breadths - 1)
            more = sides * (overlap_nm // 2) // self.grid.step_nm
            self.model.add(begun <= ended)
            self.model.add(width >= ended - begun + more).only_enforce_if(literal)
            self._interval(literal, length, width, phase)
            widths.append(width)
        least = self._across(core.across_nm + (breadths - 1) * overlap_nm, whole=core.whole)
        self.model.add(cp_model.LinearExpr.sum(widths) >= least).only_enforce_if(literal)

    def _seam_places(self, lay: InOneWay, core: Core, total: int) -> cp_model.Domain:
        """Return where in the core seams may lie, in steps rounded up; beside it counts as at its end."""
        step = self.grid.step_nm
        found = []
        for low, high in lay.allowed:
            first, last = -(-(low - core.left_nm) // step), -(-(high - core.left_nm) // step)
            found.append([min(max(0, first), total), min(max(0, last), total)])
        return cp_model.Domain.from_intervals(found or [[0, total]])

    def _along(self, length_nm: int, *, whole: bool) -> int:
        """Return a length along in units: what is cut from goods rounds up to the cutting step."""
        step = self.grid.step_nm
        return (-(-length_nm // step) * step if whole else length_nm) // self.grid.unit_nm

    def _across(self, width_nm: int, *, whole: bool) -> int:
        step = self.grid.step_nm
        return -(-width_nm // step) if whole else width_nm // step

    def _interval(
        self, literal: cp_model.IntVar, length: int, width: cp_model.LinearExprT, phase: cp_model.IntVar | None
    ) -> cp_model.IntVar:
        start = self.model.new_int_var(0, self.horizon, "")
        self.model.add(start + length <= self.end).only_enforce_if(literal)
        self.intervals.append(self.model.new_optional_fixed_size_interval_var(start, length, literal, ""))
        self.widths.append(width)
        if phase is not None:
            turns = self.model.new_int_var(0, self.horizon // self.grid.along + 1, "")
            self.model.add(start == phase + self.grid.along * turns).only_enforce_if(literal)
        return start
