"""What others would do on the same layouts: by hand, each room optimal by itself, the plain joint model.

Each gives a solution of the same instance that `plan` searches, and from it a lawful plan that the checker accepts.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace

from benchmarks.plain_model import plain_solution
from nesting.bounds.levels import level_bounds
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Plan
from nesting.model.building import Built, InstanceBuilder
from nesting.model.extracting import material_plan
from nesting.model.instance import Instance, Solution
from nesting.model.ordering import in_fixed_order
from nesting.pipeline import proved
from nesting.seams.candidates import candidates_of
from nesting.search.blocks import Heap
from nesting.search.by_hand import by_hand
from nesting.search.dealing import heap_of, options_of, order_lot, put_together, rolls_for
from nesting.search.engine import solve
from nesting.search.parts import Part, bound_together, part_of
from nesting.search.scheme import Ready, make_ready

ROOM_EFFORT = 8
"""Rounds for a room by itself: nearly always proved before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bare:
    """A job of one material made ready for any method."""

    job: Job
    material: Material
    built: Built

    @property
    def instance(self) -> Instance:
        """What all methods solve."""
        return self.built.instance


def bare_of(job: Job) -> Bare:
    """Return the job with the layouts that `plan` looks at."""
    ordered = in_fixed_order(job)
    (material,) = ordered.materials
    found = candidates_of(ordered, material)
    built = InstanceBuilder(ordered, material).build(found.laid, found.anchors, found.loose)
    return Bare(job=ordered, material=material, built=built)


def plan_of(bare: Bare, solution: Solution, *, seed: int = 0) -> Plan:
    """Return the checked plan of a solution, with the bounds that are known at once.

    Raises
    ------
    UnsoundPlanError
        The checker refused it.
    """
    plan = material_plan(bare.job, bare.built, solution)
    bounds, considered = level_bounds(bare.job, bare.material, plan, considered=0, effort=0, seed=seed)
    places = {room.id: place for place, room in enumerate(bare.job.rooms)}
    plan = replace(
        plan,
        bounds=bounds,
        bound_considered=considered,
        layouts=tuple(sorted(plan.layouts, key=lambda layout: places[layout.room_id])),
    )
    return proved(Plan(job=bare.job, materials=(plan,), seed=seed, effort=0, versions=()))


Method = Callable[[Bare, float, int, int], tuple[Solution | None, str]]
"""(job, seconds, workers, seed) -> (solution, what is to be said of it)."""


def hand_method(bare: Bare, seconds: float, workers: int, seed: int) -> tuple[Solution | None, str]:
    """Return the hand method's solution."""
    found = by_hand(bare.instance)
    return found, "" if found is not None else "none found"


def plain_model(bare: Bare, seconds: float, workers: int, seed: int) -> tuple[Solution | None, str]:
    """Return the plain joint model's solution."""
    return plain_solution(bare.instance, seconds=seconds, workers=workers, seed=seed)


def each_room(bare: Bare, seconds: float, workers: int, seed: int) -> tuple[Solution | None, str]:
    """Return every room optimal by itself, one after another on the rolls.

    Remnants are dealt out as the hand method does, and so is the direction of rooms that share one; what they do not
    serve is solved room by room (rooms that match together, all loose pieces together). Alike rooms are solved once.
    Those that are not proved least by themselves within the limit are counted.
    """
    instance = bare.instance
    hand = by_hand(instance)
    if hand is None:
        return None, "remnants could not be dealt out"
    deadline = time.monotonic() + seconds
    ready = make_ready(instance)
    arrows = {
        choice.arrow_group: choice.options[taken].arrow
        for choice, taken in zip(instance.choices, hand.options, strict=True)
        if choice.arrow_group is not None
    }
    lots = {order_lot(ready)} if instance.orders_of_one_lot else set(ready.order_lots)
    options = dict(enumerate(hand.options))
    served, groups = _dealt_out(ready, hand)
    heaps = [Heap(in_hand=tuple((n, spot) for n in served for spot in hand.spots[n]), anchored=frozenset(), blocks=())]
    known: dict[Hashable, tuple[Solution | None, bool]] = {}
    for group in groups:
        needed = sum(max(sum(p.length for p in option.pieces) for option in instance.choices[n].options) for n in group)
        part = part_of(ready, group, tuple(sorted(rolls_for(ready, lots, needed, least=2))), arrows)
        key = _likeness(part)
        if key not in known:
            known[key] = _solved(part, ROOM_EFFORT if time.monotonic() < deadline else 0, seed)
        solution, _ = known[key]
        if solution is None:
            return None, "a room has no plan by itself"
        options |= options_of(part, solution)
        heaps.append(heap_of(part, solution))
    heaps.sort(key=lambda heap: -sum(block.length for block in heap.blocks))
    together = put_together(ready, tuple(options[n] for n in range(len(instance.choices))), heaps)
    unproved = sum(not sure for _, sure in known.values())
    if together is None:
        return None, "they do not go on the rolls"
    return together.solution, f"{unproved} of {len(known)} not proved" if unproved else ""


def _dealt_out(ready: Ready, hand: Solution) -> tuple[list[int], list[tuple[int, ...]]]:
    """Return the choices that the hand method cuts from goods in hand alone, and the others in groups.

    A group is a room, or rooms bound together, or all loose pieces.
    """
    sources = ready.instance.sources
    served: list[int] = []
    groups: list[tuple[int, ...]] = []
    loose: list[int] = []
    for group in bound_together(ready):
        if all(sources[spot.source].terms is None for n in group for spot in hand.spots[n]):
            served += group
        elif len(group) == 1 and ready.instance.choices[group[0]].lot_group is None:
            loose += group
        else:
            groups.append(group)
    return served, [*groups, tuple(loose)] if loose else groups


def _likeness(part: Part) -> Hashable:
    """Return a key that is equal for parts that differ in names alone, with the same goods."""
    choices = []
    for choice, usable in zip(part.ready.instance.choices, part.ready.usable, strict=True):
        options = tuple(
            replace(option, tag="", pieces=tuple(replace(p, id="", group=p.group and 1) for p in option.pieces))
            for option in choice.options
        )
        choices.append((options, usable))
    return tuple(choices), part.sources


def _solved(part: Part, effort: int, seed: int) -> tuple[Solution | None, bool]:
    """Return a part solved by itself, by its own numbers, and whether it is proved least; options that it may take."""
    instance = part.ready.instance
    choices = tuple(
        replace(choice, options=tuple(choice.options[o] for o in usable))
        for choice, usable in zip(instance.choices, part.ready.usable, strict=True)
    )
    result = solve(replace(instance, choices=choices), seed=seed, effort=effort)
    if result.solution is None:
        return None, False
    options = tuple(usable[taken] for usable, taken in zip(part.ready.usable, result.solution.options, strict=True))
    return replace(result.solution, options=options), result.proved


METHODS: dict[str, Method] = {"by hand": hand_method, "each room": each_room, "plain model": plain_model}
"""The baselines by name."""
