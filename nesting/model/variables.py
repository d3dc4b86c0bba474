"""The variables of the CP-SAT model: options, slots for their pieces, sources and phases."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from nesting.model.axis import Axis, axis_of
from nesting.model.ground import made_width
from nesting.model.instance import Instance, Option, Piece, Solution, Spot
from nesting.model.shapes import Shape, shapes_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What a model is made of: the options looked at, and the choices that stay as the incumbent has them.

    `menu[c]`: options of choice c that may be taken. `frozen`: choices whose option and spots are those of
    `incumbent`; with any frozen, the anchoring is frozen too. `caps[s]`: the highest y looked at on source s.
    """

    menu: tuple[tuple[int, ...], ...]
    caps: tuple[int, ...]
    frozen: frozenset[int] = frozenset()
    incumbent: Solution | None = None


@dataclass(slots=True, kw_only=True)
class Slot:
    """A place for one piece of one choice; options with an equal piece share it.

    (x, y) is the corner on the axis; `on[s]` tells that it lies on source s, `ways[w]` that it lies as `shapes[w]`.
    """

    choice: int
    rank: int  # among equal pieces of the choice
    key: object
    shapes: tuple[Shape, ...]
    group: int | None
    offset: tuple[int, int]
    uses: list[tuple[int, int]]  # (option, piece) that the slot stands for
    present: cp_model.IntVar
    x: cp_model.IntVar
    y: cp_model.IntVar
    on: dict[int, cp_model.IntVar]
    ways: tuple[cp_model.IntVar, ...]


@dataclass(slots=True, kw_only=True)
class Variables:
    """The model and all that its rules speak of."""

    instance: Instance
    task: Task
    axis: Axis
    model: cp_model.CpModel
    taken: list[dict[int, cp_model.IntVar]]  # per choice: option -> taken
    slots: list[Slot]
    slot_of: dict[tuple[int, int, int], Slot]  # (choice, option, piece)
    fixed: list[tuple[int, Piece, Spot]]  # pieces of frozen choices
    used: list[cp_model.IntVar]
    far: list[cp_model.IntVar]
    ordered: list[cp_model.IntVar]
    run: list[cp_model.IntVar]  # used length from the end of the start allowance
    anchored: list[cp_model.IntVar]
    phases: dict[int, tuple[cp_model.IntVar | None, cp_model.IntVar]] = field(default_factory=dict)
    exact: bool = True  # False: some lawful solutions are left out, and no bound may be claimed


def reduced(instance: Instance, across: int | None, point: tuple[int, int]) -> tuple[int, int]:
    """Return `point` moved by whole repeats into the fundamental domain of the lattice."""
    lattice = instance.lattice
    if lattice is None:
        return (0, 0)
    x, y = point
    if across is None:
        return (0, y % lattice.along)
    repeats, x = divmod(x, across)
    return (x, (y - repeats * lattice.drop) % lattice.along)


def make_variables(instance: Instance, task: Task) -> Variables:
    """Return a model with its variables and nothing yet that binds them together."""
    model = cp_model.CpModel()
    axis = axis_of(instance, task.caps)
    taken: list[dict[int, cp_model.IntVar]] = []
    fixed: list[tuple[int, Piece, Spot]] = []
    for number, choice in enumerate(instance.choices):
        if number in task.frozen:
            assert task.incumbent is not None
            option = task.incumbent.options[number]
            taken.append({option: model.new_constant(1)})
            pieces = choice.options[option].pieces
            fixed += [(number, pieces[spot.piece], spot) for spot in task.incumbent.spots[number]]
        elif len(task.menu[number]) == 1:
            taken.append({task.menu[number][0]: model.new_constant(1)})
        else:
            taken.append({option: model.new_bool_var(f"take {number} {option}") for option in task.menu[number]})
    sources = range(len(instance.sources))
    highs = [max(axis.stretches[s].high, 0) for s in sources]
    variables = Variables(
        instance=instance,
        task=task,
        axis=axis,
        model=model,
        taken=taken,
        slots=[],
        slot_of={},
        fixed=fixed,
        used=[model.new_bool_var(f"used {s}") for s in sources],
        far=[model.new_int_var(0, highs[s], f"far {s}") for s in sources],
        ordered=[model.new_int_var(0, instance.sources[s].length, f"ordered {s}") for s in sources],
        run=[model.new_int_var(0, highs[s], f"run {s}") for s in sources],
        anchored=[_anchored(model, axis, task, s) for s in sources],
    )
    for number in range(len(instance.choices)):
        if number not in task.frozen:
            _make_slots(variables, number)
    return variables


def _anchored(model: cp_model.CpModel, axis: Axis, task: Task, source: int) -> cp_model.IntVar:
    """Return whether a source is anchored: free to choose only for unknown phases and with nothing frozen."""
    if task.frozen and task.incumbent is not None:
        return model.new_constant(int(task.incumbent.anchored[source]))
    if axis.stretches[source].may_anchor:
        return model.new_bool_var(f"anchored {source}")
    return model.new_constant(0)


def _make_slots(variables: Variables, number: int) -> None:
    """Make the slots of one choice: as many of each kind of piece as the option with the most of them needs."""
    choice = variables.instance.choices[number]
    kinds: dict[object, list[list[tuple[int, int]]]] = {}
    for taken in variables.task.menu[number]:
        option = choice.options[taken]
        counts: dict[object, int] = {}
        for index, piece in enumerate(option.pieces):
            key = _kind(variables, option, piece)
            rank = counts.get(key, 0)
            counts[key] = rank + 1
            ranks = kinds.setdefault(key, [])
            if rank == len(ranks):
                ranks.append([])
            ranks[rank].append((taken, index))
    for key, ranks in kinds.items():
        for rank, uses in enumerate(ranks):
            slot = _make_slot(variables, number, key, rank, uses)
            variables.slots.append(slot)
            for taken, index in uses:
                variables.slot_of[number, taken, index] = slot


def _kind(variables: Variables, option: Option, piece: Piece) -> object:
    """Return what makes two pieces of a choice equal for the model."""
    offset = piece.offset if piece.group is not None else (0, 0)
    if piece.group is not None and variables.axis.one_lattice:
        offset = reduced(variables.instance, variables.axis.stretches[0].across, offset)
    shapes = shapes_of(piece)
    return (shapes, piece.group, offset, option.order_width, option.order != ())


def _make_slot(variables: Variables, number: int, key: object, rank: int, uses: list[tuple[int, int]]) -> Slot:
    """Return one slot with its variables; it is present if an option that it stands for is taken."""
    instance, model, axis = variables.instance, variables.model, variables.axis
    option = instance.choices[number].options[uses[0][0]]
    piece = option.pieces[uses[0][1]]
    shapes = shapes_of(piece)
    name = f"{number} {uses[0][0]} {uses[0][1]}"
    users = [variables.taken[number][taken] for taken, _ in uses]
    if len(users) == 1:
        present = users[0]
    elif len(users) == len(variables.taken[number]):
        present = model.new_constant(1)
    else:
        present = model.new_bool_var(f"present {name}")
        model.add(sum(users) == present)
    stretches = [
        s
        for s in axis.stretches
        if (
            instance.sources[s.index].terms is None
            or option.order_width in (None, made_width(instance.sources[s.index]))
        )
        and any(w.inset_left + w.width + w.inset_right <= s.width and w.length <= s.high - s.low for w in shapes)
    ]
    if not stretches:
        model.add(present == 0)
        stretches = [axis.stretches[0]]
    least_length = min(w.length for w in shapes)
    least_width = min(w.width + w.inset_right for w in shapes)
    rows = [[s.up + s.low, max(s.up + s.low, s.up + s.high - least_length)] for s in stretches]
    left = min(s.right + min(w.inset_left for w in shapes) for s in stretches)
    right = max(left, *(s.right + s.width - least_width for s in stretches))
    offset = piece.offset
    if variables.axis.one_lattice:
        offset = reduced(instance, axis.stretches[0].across, offset)
    return Slot(
        choice=number,
        rank=rank,
        key=key,
        shapes=shapes,
        group=piece.group if instance.lattice is not None else None,
        offset=offset,
        uses=uses,
        present=present,
        x=model.new_int_var(left, right, f"x {name}"),
        y=model.new_int_var_from_domain(cp_model.Domain.from_intervals(rows), f"y {name}"),
        on=_literals(model, present, [s.index for s in stretches], f"on {name}"),
        ways=tuple(_literals(model, present, list(range(len(shapes))), f"way {name}").values()),
    )


def _literals(
    model: cp_model.CpModel, present: cp_model.IntVar, keys: list[int], name: str
) -> dict[int, cp_model.IntVar]:
    """Return one literal per key of which exactly one holds when `present` does; `present` itself for a single key."""
    if len(keys) == 1:
        return {keys[0]: present}
    literals = {key: model.new_bool_var(f"{name} {key}") for key in keys}
    model.add(sum(literals.values()) == present)
    return literals
