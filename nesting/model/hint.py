"""The incumbent as the solver's hint, and a solver's answer as a solution."""

from __future__ import annotations

from collections.abc import Callable

from ortools.sat.python import cp_model

from nesting.model.anchoring import let_go
from nesting.model.instance import Solution, Spot
from nesting.model.shapes import shape_of
from nesting.model.valuing import placed, value_of
from nesting.model.variables import Slot, Variables, reduced


def add_hint(v: Variables, solution: Solution) -> None:
    """Hint the options, places and sources of `solution`, if its options are on the menu."""
    value = value_of(v.instance, solution)
    fars = [0] * len(v.used)
    for _, piece, place in placed(v.instance, solution):
        fars[place.source] = max(fars[place.source], place.y + shape_of(piece, place.turn).length)
    model = v.model
    model.clear_hints()  # type: ignore[no-untyped-call]
    hinted: set[int] = set()

    def hint(variable: cp_model.IntVar, number: int) -> None:
        if variable.index not in hinted:
            hinted.add(variable.index)
            model.add_hint(variable, number)

    for number, options in enumerate(v.taken):
        if solution.options[number] not in options:
            return
        for taken, literal in options.items():
            hint(literal, int(taken == solution.options[number]))
    filled = _slots_filled(v, solution)
    for position, slot in enumerate(v.slots):
        spot = filled.get(position)
        hint(slot.present, int(spot is not None))
        for source, on in slot.on.items():
            hint(on, int(spot is not None and spot.source == source))
        for shape, way in zip(slot.shapes, slot.ways, strict=True):
            hint(way, int(spot is not None and _lies_as(v, slot, spot) == (shape.boxes, shape.inset_left)))
        if spot is not None:
            s = v.axis.stretches[spot.source]
            hint(slot.x, spot.x + s.right)
            hint(slot.y, spot.y + s.up)
            if slot.group is not None:
                for phase, number in zip(v.phases[slot.group].variables, _phase_at(v, slot, spot), strict=True):
                    if phase is not None:
                        hint(phase, number)
    for index in range(len(v.used)):
        hint(v.used[index], int(value.used[index] > 0))
        hint(v.far[index], fars[index])
        hint(v.ordered[index], value.ordered[index])
        hint(v.run[index], value.used[index])
        hint(v.anchored[index], int(solution.anchored[index]))


def _phase_at(v: Variables, slot: Slot, spot: Spot) -> tuple[int, int]:
    """Return φ of the group of a slot that lies at `spot`."""
    s = v.axis.stretches[spot.source]
    point = (spot.x + s.right - slot.offset[0], spot.y + s.up - slot.offset[1])
    return reduced(v.instance, s.across, point) if v.axis.one_lattice else point


def _lies_as(v: Variables, slot: Slot, spot: Spot) -> tuple[object, int]:
    """Return the boxes and left inset of a slot's piece as it lies."""
    taken, _ = slot.uses[0]
    shape = shape_of(v.instance.choices[slot.choice].options[taken].pieces[slot.uses[0][1]], spot.turn)
    return shape.boxes, shape.inset_left


def _slots_filled(v: Variables, solution: Solution) -> dict[int, Spot]:
    """Return the spot of every slot that `solution` fills; equal pieces in rising y."""
    position = {id(slot): number for number, slot in enumerate(v.slots)}
    filled: dict[int, Spot] = {}
    for number, taken in enumerate(solution.options):
        if number in v.task.frozen:
            continue
        option = v.instance.choices[number].options[taken]
        kinds: dict[object, list[int]] = {}
        for index in range(len(option.pieces)):
            kinds.setdefault(v.slot_of[number, taken, index].key, []).append(index)
        for indexes in kinds.values():
            spots = [solution.spots[number][index] for index in indexes]
            if not option.order:
                spots.sort(key=lambda spot: spot.y + v.axis.stretches[spot.source].up)
            for index, spot in zip(indexes, spots, strict=True):
                filled[position[id(v.slot_of[number, taken, index])]] = spot
    return filled


def read_solution(v: Variables, value: Callable[[cp_model.IntVar], int]) -> Solution:
    """Return the solution that the solver's `value` of the variables stands for."""
    options, spots = [], []
    for number, choice in enumerate(v.instance.choices):
        if number in v.task.frozen:
            assert v.task.incumbent is not None
            options.append(v.task.incumbent.options[number])
            spots.append(v.task.incumbent.spots[number])
            continue
        taken = next(option for option, literal in v.taken[number].items() if value(literal))
        options.append(taken)
        spots.append(
            tuple(
                _spot(v, v.slot_of[number, taken, index], index, choice.options[taken].pieces[index].turns, value)
                for index in range(len(choice.options[taken].pieces))
            )
        )
    anchored = tuple(bool(value(literal)) for literal in v.anchored)
    return let_go(v.instance, Solution(options=tuple(options), spots=tuple(spots), anchored=anchored))


def _spot(
    v: Variables, slot: Slot, index: int, turns: tuple[int, ...], value: Callable[[cp_model.IntVar], int]
) -> Spot:
    """Return where one piece lies."""
    source = next(s for s, on in slot.on.items() if value(on))
    shape = next(shape for shape, way in zip(slot.shapes, slot.ways, strict=True) if value(way))
    s = v.axis.stretches[source]
    turn = shape.turn if shape.turn in turns else turns[0]
    return Spot(piece=index, source=source, x=value(slot.x) - s.right, y=value(slot.y) - s.up, turn=turn)
