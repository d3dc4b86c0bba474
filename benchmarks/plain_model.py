"""The plain joint model: all rooms with all their layouts in one CP-SAT model, as one would write it down.

One rectangle in the plane for every box of every piece of every layout, present if its layout is taken; the sources lie
one behind the other along one axis; `NoOverlap2D` and a cumulative along the roll; an integer phase for every group of
patterned pieces. No start, no hint, no decomposition, nothing said about symmetry.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

from nesting.model.anchoring import let_go
from nesting.model.ground import ground_of, made_width, may_anchor
from nesting.model.instance import Instance, Solution, Spot
from nesting.model.shapes import Shape, shapes_of
from nesting.model.valuing import faults_of

MOST_PIECES = 6_000
"""Of all layouts together: a larger model takes longer to set up than any limit here leaves."""

Var = cp_model.IntVar


def plain_solution(instance: Instance, *, seconds: float, workers: int, seed: int) -> tuple[Solution | None, str]:
    """Return what minimizing the goal's first level gives within the limit, and what the solver says.

    Setting up the model counts. Only the first level is sought: what is compared is the roll. Money, bench cuts and
    drops in sequence are no part of the suite and of this model.
    """
    begun = time.monotonic()
    pieces = sum(len(option.pieces) for choice in instance.choices for option in choice.options)
    if pieces > MOST_PIECES:
        return None, f"too large: {pieces} pieces in all layouts"
    model = PlainModel(instance)
    left = seconds - (time.monotonic() - begun)
    if left <= 0:
        return None, "limit spent on setting it up"
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = left
    solver.parameters.use_area_energetic_reasoning_in_no_overlap_2d = False
    status = solver.solve(model.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, "nothing found" if status == cp_model.UNKNOWN else solver.status_name(status).lower()
    solution = model.read(solver.value)
    return (None, "not lawful") if faults_of(instance, solution) else (solution, solver.status_name(status).lower())


@dataclass(slots=True, kw_only=True)
class _Slot:
    """One piece of one layout."""

    taken: Var
    shapes: tuple[Shape, ...]
    ways: tuple[Var, ...]
    x: Var
    y: Var
    on: dict[int, Var] = field(default_factory=dict)


class PlainModel:
    """The model of an instance."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.model = cp_model.CpModel()
        self.sources = self._worth_having()
        self.grounds = {s: ground_of(instance, s, False) for s in self.sources}
        self.offset: dict[int, int] = {}
        self.span = 0
        for s in self.sources:
            self.offset[s] = self.span
            self.span += max(0, instance.sources[s].length)
        bools = self.model.new_bool_var
        self.anchored = {s: bools("") for s in self.sources if may_anchor(instance.sources[s])}
        self.used = {s: bools("") for s in self.sources}
        self.far = {s: self.model.new_int_var(0, instance.sources[s].length, "") for s in self.sources}
        self.taken = [[bools("") for _ in choice.options] for choice in instance.choices]
        self.slots = [
            [[self._slot(c, o, k) for k in range(len(option.pieces))] for o, option in enumerate(choice.options)]
            for c, choice in enumerate(instance.choices)
        ]
        for literals in self.taken:
            self.model.add_exactly_one(literals)
        self._nothing_overlaps()
        self._groups()
        if instance.lattice is not None:
            self._pattern()
        self.model.minimize(self._goal())

    def _worth_having(self) -> list[int]:
        """Return the goods in hand, and as many rolls as all pieces one after another can fill."""
        needed = sum(min(sum(p.length for p in o.pieces) for o in c.options) for c in self.instance.choices)
        chosen, have = [], 0
        for s, source in enumerate(self.instance.sources):
            if source.terms is None or have < needed + source.length:
                chosen.append(s)
                have += source.length if source.terms is not None else 0
        return chosen

    def _slot(self, c: int, o: int, k: int) -> _Slot:
        """Return a piece that lies on one source that it may be cut from, inside it."""
        model, instance = self.model, self.instance
        option = instance.choices[c].options[o]
        taken, shapes = self.taken[c][o], shapes_of(option.pieces[k])
        ways = (taken,) if len(shapes) == 1 else tuple(model.new_bool_var("") for _ in shapes)
        widest = max(self.grounds[s].width for s in self.sources)
        slot = _Slot(
            taken=taken,
            shapes=shapes,
            ways=ways,
            x=model.new_int_var(0, widest, ""),
            y=model.new_int_var(0, self.span, ""),
        )
        if len(shapes) > 1:
            model.add(sum(ways) == taken)
        for s in self.sources:
            source, ground = instance.sources[s], self.grounds[s]
            if source.terms is not None and option.order_width not in (None, made_width(source)):
                continue
            if not any(w.width <= ground.width and w.length <= ground.high - ground.low for w in shapes):
                continue
            slot.on[s] = on = model.new_bool_var("")
            model.add_implication(on, self.used[s])
            lost_x, lost_low, lost_high = self._loss(s)
            anchored = self.anchored.get(s, 0)
            start = self.offset[s]
            for shape, way in zip(shapes, ways, strict=True):
                here = (on, way)
                model.add(slot.x >= shape.inset_left).only_enforce_if(*here)
                model.add(slot.x + shape.width + shape.inset_right + lost_x * anchored <= ground.width).only_enforce_if(
                    *here
                )
                model.add(slot.y >= start + ground.low + lost_low * anchored).only_enforce_if(*here)
                model.add(slot.y + shape.length + lost_high * anchored <= start + ground.high).only_enforce_if(*here)
                model.add(self.far[s] >= slot.y + shape.length - start).only_enforce_if(*here)
        model.add(sum(slot.on.values()) == taken)
        return slot

    def _loss(self, s: int) -> tuple[int, int, int]:
        """Return what a source loses when it is anchored: across, at its start, at its end."""
        source = self.instance.sources[s]
        if source.terms is None:
            return source.loss[0], 0, source.loss[1]
        return source.terms.anchor_across, source.terms.anchor_along or 0, 0

    def _nothing_overlaps(self) -> None:
        """Let no two boxes overlap, nor a box a flaw."""
        model, across, along, widths = self.model, [], [], []
        for slot in self._every_slot():
            for shape, way in zip(slot.shapes, slot.ways, strict=True):
                for x0, y0, x1, y1 in shape.boxes:
                    across.append(model.new_optional_fixed_size_interval_var(slot.x + x0, x1 - x0, way, ""))
                    along.append(model.new_optional_fixed_size_interval_var(slot.y + y0, y1 - y0, way, ""))
                    widths.append(x1 - x0)
        for s in self.sources:
            for x0, y0, x1, y1 in self.instance.sources[s].blocked:
                across.append(model.new_fixed_size_interval_var(x0, x1 - x0, ""))
                along.append(model.new_fixed_size_interval_var(self.offset[s] + y0, y1 - y0, ""))
                widths.append(x1 - x0)
        model.add_no_overlap_2d(across, along)
        model.add_cumulative(along, widths, max(self.grounds[s].width for s in self.sources))

    def _every_slot(self) -> list[_Slot]:
        return [slot for options in self.slots for pieces in options for slot in pieces]

    def _groups(self) -> None:
        """Cut the choices of a lot group from one lot, order one lot, and lay arrow groups one way."""
        lots: dict[tuple[object, str], Var] = {}
        arrows: dict[tuple[int, int | None], Var] = {}

        def literal(known: dict[Any, Var], key: Any) -> Var:
            return known.setdefault(key, self.model.new_bool_var(""))

        for c, choice in enumerate(self.instance.choices):
            for o, option in enumerate(choice.options):
                if choice.arrow_group is not None:
                    self.model.add_implication(self.taken[c][o], literal(arrows, (choice.arrow_group, option.arrow)))
                for slot in self.slots[c][o] if choice.lot_group is not None else ():
                    for s, on in slot.on.items():
                        lot = self.instance.sources[s].lot
                        self.model.add_implication(on, literal(lots, (choice.lot_group, lot)))
        if self.instance.orders_of_one_lot:
            for s in self.sources:
                if self.instance.sources[s].terms is not None:
                    lot = self.instance.sources[s].lot
                    self.model.add_implication(self.used[s], literal(lots, ("order", lot)))
        for known in (lots, arrows):
            for group in {key[0] for key in known}:
                self.model.add_at_most_one([literal for key, literal in known.items() if key[0] == group])

    def _pattern(self) -> None:
        """Give every group one phase, and anchor sources of unknown phase where it matters."""
        model, lattice = self.model, self.instance.lattice
        assert lattice is not None
        most = self.span // lattice.along + 2
        groups: dict[int, dict[int, list[Var]]] = {}
        phases: dict[int, tuple[Var, Var]] = {}
        for c, choice in enumerate(self.instance.choices):
            for o, option in enumerate(choice.options):
                for piece, slot in zip(option.pieces, self.slots[c][o], strict=True):
                    if piece.group is None:
                        continue
                    if piece.group not in phases:
                        wide = max(source.across or lattice.across or 1 for source in self.instance.sources)
                        phases[piece.group] = (
                            model.new_int_var(0, wide - 1, ""),
                            model.new_int_var(0, lattice.along - 1, ""),
                        )
                    lean, rise = phases[piece.group]
                    for phase, fixed in zip((lean, rise), option.phase, strict=True):
                        if fixed is not None:
                            period = (lattice.across or 1) if phase is lean else lattice.along
                            model.add(phase == fixed % period).only_enforce_if(self.taken[c][o])
                    bound = option.phase != (None, None)
                    m, n = model.new_int_var(-1000, 1000, ""), model.new_int_var(-most, most + 1000, "")
                    for s, on in slot.on.items():
                        ground = self.grounds[s]
                        if ground.across is not None:
                            right = piece.offset[0] + lean + m * ground.across - ground.sigma[0]
                            model.add(slot.x == right).only_enforce_if(on)
                        up = slot.y - self.offset[s] + ground.sigma[1] - self._loss(s)[1] * self.anchored.get(s, 0)
                        far = piece.offset[1] + rise + m * lattice.drop + n * lattice.along
                        model.add(up == far).only_enforce_if(on)
                        groups.setdefault(piece.group, {}).setdefault(s, []).append(on)
                        if bound and ground.loose:
                            model.add_implication(on, self.anchored[s]) if s in self.anchored else model.add(on == 0)
        for by_source in groups.values():
            several = model.new_bool_var("")
            homes = {s: model.new_bool_var("") for s in by_source}
            for s, literals in by_source.items():
                for on in literals:
                    model.add_implication(on, homes[s])
                if self.grounds[s].loose:
                    anchored = [self.anchored[s]] if s in self.anchored else []
                    model.add_bool_or([homes[s].negated(), several.negated(), *anchored])
            model.add(sum(homes.values()) <= 1).only_enforce_if(several.negated())

    def _goal(self) -> cp_model.LinearExpr:
        """Return the goal's first level."""
        roll, run, seams, seam_length, money, dislike, pieces = self.instance.weights.levels[0]
        assert money == 0, "money is no part of this model"
        terms: list[Any] = []
        for s in self.sources:
            source = self.instance.sources[s]
            if source.terms is None:
                continue
            steps = self.model.new_int_var(0, source.length // source.terms.step + 1, "")
            self.model.add(steps * source.terms.step >= self.far[s])
            self.model.add(steps * source.terms.step >= source.terms.minimum).only_enforce_if(self.used[s])
            terms += [roll * made_width(source) * source.terms.step * steps, run * made_width(source) * self.far[s]]
        for choice, literals in zip(self.instance.choices, self.taken, strict=True):
            for option, literal in zip(choice.options, literals, strict=True):
                cost = seams * option.seams + seam_length * option.seam_length + dislike * option.dislike
                terms.append((cost + pieces * len(option.pieces)) * literal)
        return cp_model.LinearExpr.sum(terms)

    def read(self, value: Callable[[Var], int]) -> Solution:
        """Return the solution that the solver's values stand for."""
        options = tuple(next(o for o, taken in enumerate(literals) if value(taken)) for literals in self.taken)
        spots = []
        for c, o in enumerate(options):
            laid = []
            for k, slot in enumerate(self.slots[c][o]):
                s = next(s for s, on in slot.on.items() if value(on))
                shape = next(shape for shape, way in zip(slot.shapes, slot.ways, strict=True) if value(way))
                x, y = value(slot.x), value(slot.y) - self.offset[s]
                laid.append(Spot(piece=k, source=s, x=x, y=y, turn=shape.turn))
            spots.append(tuple(laid))
        anchored = tuple(
            s in self.anchored and bool(value(self.anchored[s])) for s in range(len(self.instance.sources))
        )
        return let_go(self.instance, Solution(options=options, spots=tuple(spots), anchored=anchored))
