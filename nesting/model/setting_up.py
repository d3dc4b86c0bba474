"""Setting up the variables of the model: what is frozen or given stands as a constant, or does not stand there."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.axis import Axis, Stretch, axis_of
from nesting.model.ground import ordered_length
from nesting.model.instance import Instance, Piece, Spot
from nesting.model.menus import lonely_groups
from nesting.model.shapes import shape_of
from nesting.model.slots import SlotMaker
from nesting.model.variables import Task, Variables, reduced


def make_variables(instance: Instance, task: Task) -> Variables:
    """Return a model with its variables and nothing yet that binds them together."""
    model = cp_model.CpModel()
    axis = axis_of(instance, task.caps, task.offered)
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
    held = _held(axis, task, {spot.source for *_, spot in fixed})
    v = Variables(
        instance=instance,
        task=task,
        axis=axis,
        model=model,
        taken=taken,
        slots=[],
        slot_of={},
        fixed=fixed,
        anchored=[
            model.new_bool_var(f"anchored {s}") if is_held is None else model.new_constant(int(is_held))
            for s, is_held in enumerate(held)
        ],
        held=held,
    )
    v.known = _known_phases(v)
    maker = SlotMaker(v, lonely_groups(instance), *_lots(v))
    for number in range(len(instance.choices)):
        if number not in task.frozen:
            maker.make(number)
    _goods(v)
    return v


def _held(axis: Axis, task: Task, kept: set[int]) -> list[bool | None]:
    """Return per source whether it is anchored: open for unknown phases only, and where nothing frozen lies."""
    held: list[bool | None] = []
    for s in axis.stretches:
        if s.index in kept and task.incumbent is not None:
            held.append(task.incumbent.anchored[s.index])
        else:
            held.append(None if s.may_anchor and (task.offered is None or s.index in task.offered) else False)
    return held


def _known_phases(v: Variables) -> dict[int, tuple[int | None, int]]:
    """Return φ on the axis of every group of which a frozen piece gives it, or all options of one of its choices."""
    instance, axis = v.instance, v.axis
    if instance.lattice is None:
        return {}
    known: dict[int, tuple[int | None, int]] = {}
    for _, piece, spot in v.fixed:
        if piece.group is not None and piece.group not in known:
            s = axis.stretches[spot.source]
            x, y = spot.x + s.right - piece.offset[0], spot.y + s.up - piece.offset[1]
            if axis.one_lattice:
                x, y = reduced(instance, s.across, (x, y))
            known[piece.group] = (x if s.across else None, y)
    if not axis.one_lattice:
        return known
    across = axis.stretches[0].across
    for number, options in enumerate(v.taken):
        choices = [instance.choices[number].options[taken] for taken in options]
        given = {option.phase for option in choices}
        groups = [{p.group for p in option.pieces if p.group is not None} for option in choices]
        if len(given) != 1 or not groups:
            continue
        given_x, given_y = given.pop()
        if given_y is None or (given_x is None and across is not None):
            continue
        for group in sorted(set.intersection(*groups)):
            phase = reduced(instance, across, (given_x or 0, given_y))
            known.setdefault(group, (phase[0] if across else None, phase[1]))
    return known


def _lots(v: Variables) -> tuple[dict[int, str], str | None]:
    """Return the lots that what is frozen leaves: of its lot groups, and of what is ordered."""
    lots: dict[int, str] = {}
    order_lot = None
    for number, _, spot in v.fixed:
        source = v.instance.sources[spot.source]
        group = v.instance.choices[number].lot_group
        if group is not None:
            lots[group] = source.lot
        if source.terms is not None and v.instance.orders_of_one_lot:
            order_lot = source.lot
    return lots, order_lot


def _goods(v: Variables) -> None:
    """Make what is used and ordered of every source: constants where no slot can reach beyond what is frozen."""
    frozen = [0] * len(v.instance.sources)
    for _, piece, spot in v.fixed:
        frozen[spot.source] = max(frozen[spot.source], spot.y + shape_of(piece, spot.turn).length)
    highest = list(frozen)
    for slot in v.slots:
        for (source, way), limits in slot.limits.items():
            end = limits[3] - v.axis.stretches[source].up + slot.shapes[way].length
            highest[source] = max(highest[source], end)
    for s in v.axis.stretches:
        _goods_of(v, s, frozen[s.index], highest[s.index])


def _goods_of(v: Variables, s: Stretch, least: int, most: int) -> None:
    """Make the variables of one source on which the last piece ends at `least` at least and at `most` at most."""
    model, source = v.model, v.instance.sources[s.index]
    start = 0 if source.terms is None else source.terms.start
    lost = 0 if source.terms is None else source.terms.anchor_along or 0
    if least == most:
        v.settled[s.index] = least
        run = least - start - (lost if v.held[s.index] else 0) if least else 0
        v.used.append(model.new_constant(int(least > 0)))
        v.far.append(model.new_constant(least))
        v.ordered.append(model.new_constant(ordered_length(source, least) if least else 0))
        v.run.append(model.new_constant(run))
        return
    v.open_goods[s.index] = (least, most)
    least_run = max(0, least - start - (0 if v.held[s.index] is False else lost)) if least else 0
    most_ordered = min(source.length, ordered_length(source, most)) if source.terms is not None else 0
    v.used.append(model.new_constant(1) if least else model.new_bool_var(f"used {s.index}"))
    v.far.append(model.new_int_var(least, most, f"far {s.index}"))
    v.ordered.append(
        model.new_int_var(ordered_length(source, least) if least else 0, most_ordered, f"ordered {s.index}")
    )
    v.run.append(model.new_int_var(least_run, max(least_run, most - start), f"run {s.index}"))
