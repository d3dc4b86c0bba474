"""The rules of the model, one function each: what a lawful solution is."""

from __future__ import annotations

from itertools import pairwise

from ortools.sat.python import cp_model

from nesting.model.axis import Stretch
from nesting.model.shapes import Shape, shape_of
from nesting.model.valuing import step_between
from nesting.model.variables import Slot, Variables


def c1_one_option(v: Variables) -> None:
    """C1: every choice is made in exactly one way: Σ_o taken[c, o] = 1."""
    for options in v.taken:
        if len(options) > 1:
            v.model.add_exactly_one(options.values())


def c2_inside(v: Variables) -> None:
    """C2: a piece lies inside the usable part of its source, with its insets kept off the sides.

    On s: right + inset ≤ x, x + w + inset ≤ right + width − loss, up + low + loss ≤ y, y + l ≤ up + high − loss,
    the losses counting where s is anchored; with s unanchored the ranges of y are the domain of y already.
    """
    for slot in v.slots:
        for source, on in slot.on.items():
            s = v.axis.stretches[source]
            for shape, way in zip(slot.shapes, slot.ways, strict=True):
                conditions = [on] if way is slot.present else [way] if on is slot.present else [on, way]
                _inside(v, slot, s, shape, conditions)
            if len(slot.on) > 1:
                v.model.add(slot.y >= s.up + s.low).only_enforce_if(on)


def _inside(v: Variables, slot: Slot, s: Stretch, shape: Shape, conditions: list[cp_model.IntVar]) -> None:
    """Hold one shape of a slot inside one stretch under conditions."""
    anchored = v.anchored[s.index]
    wide = s.right + s.width - shape.width - shape.inset_right
    v.model.add(slot.x >= s.right + shape.inset_left).only_enforce_if(conditions)
    v.model.add(slot.x <= wide - s.loss_right * anchored).only_enforce_if(conditions)
    v.model.add(slot.y <= s.up + s.high - shape.length - s.loss_high * anchored).only_enforce_if(conditions)
    if s.loss_low:
        v.model.add(slot.y >= s.up + s.low + s.loss_low * anchored).only_enforce_if(conditions)


def c3_no_overlap(v: Variables) -> None:
    """C3: no two pieces overlap, none lies on a flaw, and none beside a source that is narrower than the axis.

    NoOverlap2D over the boxes of all pieces (optional), flaws and unusable parts (fixed). C4, redundant: at every y
    the widths of the pieces there add up to at most the width of the axis.
    """
    xs: list[cp_model.IntervalVar] = []
    ys: list[cp_model.IntervalVar] = []
    widths: list[int] = []
    for slot in v.slots:
        for number, (shape, way) in enumerate(zip(slot.shapes, slot.ways, strict=True)):
            for part, (x0, y0, x1, y1) in enumerate(shape.boxes):
                name = f"{slot.choice} {slot.uses[0]} {slot.rank} {number} {part}"
                xs.append(v.model.new_optional_fixed_size_interval_var(slot.x + x0, x1 - x0, way, f"X {name}"))
                ys.append(v.model.new_optional_fixed_size_interval_var(slot.y + y0, y1 - y0, way, f"Y {name}"))
                widths.append(x1 - x0)
    for x0, y0, x1, y1 in _obstacles(v):
        xs.append(v.model.new_fixed_size_interval_var(x0, x1 - x0, f"X {x0} {y0}"))
        ys.append(v.model.new_fixed_size_interval_var(y0, y1 - y0, f"Y {x0} {y0}"))
        widths.append(x1 - x0)
    v.model.add_no_overlap_2d(xs, ys)
    v.model.add_cumulative(ys, widths, v.axis.width)


def _obstacles(v: Variables) -> list[tuple[int, int, int, int]]:
    """Return what lies fixed on the axis: frozen pieces, flaws and the strips beside narrower sources."""
    boxes = []
    for _, piece, spot in v.fixed:
        s = v.axis.stretches[spot.source]
        for x0, y0, x1, y1 in shape_of(piece, spot.turn).boxes:
            x, y = spot.x + s.right, spot.y + s.up
            boxes.append((x + x0, y + y0, x + x1, y + y1))
    # Flaws may overlap one another and the edge of their source: they are cut into disjoint boxes.
    for s in v.axis.stretches:
        top = s.up + s.high
        if s.high <= s.low:
            continue
        if s.right:
            boxes.append((0, s.up, s.right, top))
        if s.right + s.width < v.axis.width:
            boxes.append((s.right + s.width, s.up, v.axis.width, top))
        for x0, y0, x1, y1 in disjoint(v.instance.sources[s.index].blocked):
            x0, x1, y0, y1 = max(x0, 0), min(x1, s.width), max(y0, 0), min(y1, s.high)
            if x0 < x1 and y0 < y1:
                boxes.append((x0 + s.right, y0 + s.up, x1 + s.right, y1 + s.up))
    return boxes


def disjoint(boxes: tuple[tuple[int, int, int, int], ...]) -> list[tuple[int, int, int, int]]:
    """Return disjoint boxes with the same union, cut at every y where one begins or ends."""
    ys = sorted({y for box in boxes for y in (box[1], box[3])})
    parts = []
    for low, high in pairwise(ys):
        reach = None
        for x0, x1 in sorted((b[0], b[2]) for b in boxes if b[1] <= low and b[3] >= high):
            start = x0 if reach is None else max(x0, reach)
            if start < x1:
                parts.append((start, low, x1, high))
                reach = x1
    return parts


def c5_pattern(v: Variables) -> None:
    """C5: the pieces of a phase group agree: x = o_x + φ_x + m·Rx and y = o_y + φ_y + m·D + n·Ry on the axis.

    φ is one for the group; an option that places the pattern fixes it (modulo the lattice).
    """
    lattice = v.instance.lattice
    if lattice is None:
        return
    for group in sorted({slot.group for slot in v.slots if slot.group is not None}):
        v.phases[group] = _phase_variables(v, group)
    for slot in v.slots:
        if slot.group is None:
            continue
        by_across: dict[int | None, list[cp_model.IntVar]] = {}
        for source, on in slot.on.items():
            by_across.setdefault(v.axis.stretches[source].across, []).append(on)
        for across, ons in by_across.items():
            for on in [slot.present] if len(by_across) == 1 else ons:
                _on_lattice(v, slot, across, on)
    _fixed_phases(v)


def _phase_variables(v: Variables, group: int) -> tuple[cp_model.IntVar | None, cp_model.IntVar]:
    """Return φ of a group: constants if a frozen piece gives it, variables over the fundamental domain if not."""
    lattice = v.instance.lattice
    assert lattice is not None
    for _, piece, spot in v.fixed:
        if piece.group == group:
            s = v.axis.stretches[spot.source]
            x, y = spot.x + s.right - piece.offset[0], spot.y + s.up - piece.offset[1]
            if v.axis.one_lattice:
                x, y = _reduced(v, s.across, (x, y))
            return (v.model.new_constant(x) if s.across else None), v.model.new_constant(y)
    across = {s.across for s in v.axis.stretches}
    phase_y = v.model.new_int_var(0, lattice.along - 1, f"phase y {group}")
    if across == {None}:
        return None, phase_y
    reach = max(a for a in across if a is not None)
    if not v.axis.one_lattice:
        v.exact = False  # φ across is looked for within a few repeats only
        return v.model.new_int_var(-4 * reach, 4 * reach, f"phase x {group}"), phase_y
    return v.model.new_int_var(0, reach - 1, f"phase x {group}"), phase_y


def _reduced(v: Variables, across: int | None, point: tuple[int, int]) -> tuple[int, int]:
    """Move a point into the fundamental domain."""
    from nesting.model.variables import reduced

    return reduced(v.instance, across, point)


def _on_lattice(v: Variables, slot: Slot, across: int | None, on: cp_model.IntVar) -> None:
    """Hold the corner of a slot on the lattice of its group under a condition."""
    lattice = v.instance.lattice
    assert lattice is not None and slot.group is not None
    phase_x, phase_y = v.phases[slot.group]
    name = f"{slot.choice} {slot.uses[0]} {slot.rank} {on.index}"
    top = max(s.up + s.high for s in v.axis.stretches)
    drop = 0
    times: cp_model.LinearExpr | cp_model.IntVar | int = 0
    if across is not None:
        assert phase_x is not None
        reach = across if v.axis.one_lattice else 4 * across
        first = -(-(-slot.offset[0] - reach) // across) - 4
        last = (v.axis.width - slot.offset[0] + reach) // across + 4
        drop = lattice.drop
        times = v.model.new_int_var(first, last, f"m {name}")
        v.model.add(slot.x == slot.offset[0] + phase_x + across * times).only_enforce_if(on)
        low = min(first * drop, last * drop)
        high = max(first * drop, last * drop)
    else:
        low = high = 0
    n = v.model.new_int_var(
        (-slot.offset[1] - lattice.along - high) // lattice.along - 1,
        (top - slot.offset[1] - low) // lattice.along + 1,
        f"n {name}",
    )
    v.model.add(slot.y == slot.offset[1] + phase_y + drop * times + lattice.along * n).only_enforce_if(on)


def _fixed_phases(v: Variables) -> None:
    """Hold φ where an option taken places the pattern."""
    lattice = v.instance.lattice
    assert lattice is not None
    for number, options in enumerate(v.taken):
        for taken, literal in options.items():
            option = v.instance.choices[number].options[taken]
            want_x, want_y = option.phase
            for group in sorted({p.group for p in option.pieces if p.group is not None}):
                if group not in v.phases:
                    continue
                phase_x, phase_y = v.phases[group]
                across = v.axis.stretches[0].across
                if want_x is not None and want_y is not None and v.axis.one_lattice:
                    want_x, want_y = _reduced(v, across, (want_x, want_y))
                elif want_x is not None and phase_x is not None and v.axis.one_lattice:
                    assert across is not None
                    want_x %= across
                if want_x is not None and phase_x is not None:
                    v.model.add(phase_x == want_x).only_enforce_if(literal)
                if want_y is None:
                    continue
                if option.phase[0] is None and phase_x is not None and v.axis.one_lattice and lattice.drop:
                    # φ across is free, and with it the repeats by which the drop may move φ along.
                    k = v.model.new_int_var(0, lattice.along - 1, f"k {number} {taken} {group}")
                    n = v.model.new_int_var(-lattice.along, lattice.along, f"n {number} {taken} {group}")
                    v.model.add(
                        phase_y == want_y % lattice.along + lattice.drop * k + lattice.along * n
                    ).only_enforce_if(literal)
                else:
                    v.model.add(phase_y == want_y % lattice.along).only_enforce_if(literal)


def c6_anchoring(v: Variables) -> None:
    """C6: a source of unknown phase is anchored when a group on it has a placed phase or uses another source too.

    anchored[s] ≥ here[g, s] + placed[g] − 1 and anchored[s] ≥ here[g, s] + here[g, t] − 1 for t ≠ s.
    """
    if v.instance.lattice is None or all(s.phase is not None for s in v.instance.sources):
        return
    for group in _groups(v):
        here: dict[int, list[cp_model.IntVar]] = {}
        for slot in v.slots:
            if slot.group == group:
                for source, on in slot.on.items():
                    here.setdefault(source, []).append(on)
        fixed = {spot.source for _, piece, spot in v.fixed if piece.group == group}
        for source in fixed:
            here.setdefault(source, [])
        placing = _placing(v, group)
        for source, ons in here.items():
            if v.instance.sources[source].phase is not None:
                continue
            for other, others in here.items():
                if other == source:
                    continue
                for a in ons if source not in fixed else [v.model.new_constant(1)]:
                    for b in others if other not in fixed else [v.model.new_constant(1)]:
                        v.model.add_bool_or(a.negated(), b.negated(), v.anchored[source])
            for on in ons if source not in fixed else [v.model.new_constant(1)]:
                for literal in placing:
                    v.model.add_bool_or(on.negated(), literal.negated(), v.anchored[source])


def _groups(v: Variables) -> list[int]:
    """Return all phase groups that have a piece to place."""
    return sorted({slot.group for slot in v.slots if slot.group is not None})


def _placing(v: Variables, group: int) -> list[cp_model.IntVar]:
    """Return the literals of all options that place the pattern of `group`."""
    return [
        literal
        for number, options in enumerate(v.taken)
        for taken, literal in options.items()
        if v.instance.choices[number].options[taken].phase != (None, None)
        and any(p.group == group for p in v.instance.choices[number].options[taken].pieces)
    ]


def c7_lots(v: Variables) -> None:
    """C7: all pieces of a lot group come from one lot, and all orders are of one lot, where it must be so."""
    sources = v.instance.sources
    if len({source.lot for source in sources}) > 1:
        lots: dict[int, dict[str, cp_model.IntVar]] = {}
        names = sorted({source.lot for source in sources})
        for group in sorted({c.lot_group for c in v.instance.choices if c.lot_group is not None}):
            lots[group] = {lot: v.model.new_bool_var(f"lot {group} {lot}") for lot in names}
            v.model.add_exactly_one(lots[group].values())
        for slot in v.slots:
            number = v.instance.choices[slot.choice].lot_group
            if number is not None:
                for source, on in slot.on.items():
                    v.model.add_implication(on, lots[number][sources[source].lot])
        for choice, _, spot in v.fixed:
            number = v.instance.choices[choice].lot_group
            if number is not None:
                v.model.add(lots[number][sources[spot.source].lot] == 1)
    orders = [s for s, source in enumerate(sources) if source.terms is not None]
    order_lots = sorted({sources[s].lot for s in orders})
    if v.instance.orders_of_one_lot and len(order_lots) > 1:
        ordered = {lot: v.model.new_bool_var(f"order lot {lot}") for lot in order_lots}
        v.model.add_at_most_one(ordered.values())
        for s in orders:
            v.model.add_implication(v.used[s], ordered[sources[s].lot])


def c8_arrows_and_seams(v: Variables) -> None:
    """C8: the choices of an arrow group take options with one arrow; Σ seams ≤ the cap."""
    groups: dict[int, list[int]] = {}
    for number, choice in enumerate(v.instance.choices):
        if choice.arrow_group is not None:
            groups.setdefault(choice.arrow_group, []).append(number)
    for group, numbers in sorted(groups.items()):
        arrows: dict[int | None, cp_model.IntVar] = {}
        for number in numbers:
            for taken, literal in v.taken[number].items():
                arrow = v.instance.choices[number].options[taken].arrow
                if arrow not in arrows:
                    arrows[arrow] = v.model.new_bool_var(f"arrow {group} {arrow}")
                v.model.add_implication(literal, arrows[arrow])
        v.model.add_exactly_one(arrows.values())
    most = v.instance.weights.most_seams
    if most is not None:
        v.model.add(
            sum(
                v.instance.choices[number].options[taken].seams * literal
                for number, options in enumerate(v.taken)
                for taken, literal in options.items()
            )
            <= most
        )


def c9_sequence(v: Variables) -> None:
    """C9: pieces in sequence lie on one source, y_i + l_i ≤ y_j where they cannot lie side by side, else y_i ≤ y_j."""
    for number, options in enumerate(v.taken):
        if number in v.task.frozen:
            continue
        for taken, literal in options.items():
            option = v.instance.choices[number].options[taken]
            for before, after in option.order:
                a, b = v.slot_of[number, taken, before], v.slot_of[number, taken, after]
                for source in sorted({*a.on, *b.on}):
                    if source in a.on and source in b.on:
                        step = step_between(v.instance, option, before, after, source)
                        v.model.add_implication(a.on[source], b.on[source]).only_enforce_if(literal)
                        v.model.add(b.y >= a.y + step).only_enforce_if(literal, a.on[source])
                    else:
                        lonely = a.on[source] if source in a.on else b.on[source]
                        v.model.add_bool_or(literal.negated(), lonely.negated())


def c10_order(v: Variables) -> None:
    """C10: far[s] ≥ the end of every piece on s; ordered = step·k ≥ max(far, minimum), or the whole roll, if used.

    run ≥ far − start − the anchor's loss; a twin is used only after the one before it, and no further.
    """
    for s in v.axis.stretches:
        _order_of(v, s)
    for slot in v.slots:
        for source, on in slot.on.items():
            v.model.add_implication(on, v.used[source])
            up = v.axis.stretches[source].up
            for shape, way in zip(slot.shapes, slot.ways, strict=True):
                conditions = [on] if way is slot.present else [way] if on is slot.present else [on, way]
                v.model.add(v.far[source] >= slot.y + shape.length - up).only_enforce_if(conditions)
    for _, piece, spot in v.fixed:
        v.model.add(v.used[spot.source] == 1)
        v.model.add(v.far[spot.source] >= spot.y + shape_of(piece, spot.turn).length)


def _order_of(v: Variables, s: Stretch) -> None:
    """Round what is ordered of one source."""
    source = v.instance.sources[s.index]
    used, far, ordered, run = (
        v.used[s.index],
        v.far[s.index],
        v.ordered[s.index],
        v.run[s.index],
    )
    terms = source.terms
    v.model.add(far <= max(s.high, 0) * used)
    if terms is None:
        v.model.add(ordered == 0)
        v.model.add(run >= far)
        return
    v.model.add(run >= far - terms.start * used - (terms.anchor_along or 0) * v.anchored[s.index])
    if terms.whole:
        v.model.add(ordered == source.length * used)
    else:
        steps = v.model.new_int_var(0, -(-source.length // terms.step), f"steps {s.index}")
        v.model.add(ordered >= far)
        v.model.add(ordered >= terms.minimum * used)
        if terms.minimum % terms.step == 0:
            v.model.add(ordered == terms.step * steps)
        else:
            # The minimum need not be a whole number of steps: then the order is the larger of the two.
            at_minimum = v.model.new_bool_var(f"at minimum {s.index}")
            v.model.add(ordered == terms.minimum).only_enforce_if(at_minimum)
            v.model.add(ordered == terms.step * steps).only_enforce_if(at_minimum.negated())
    if s.twin is not None and not v.task.frozen:
        v.model.add_implication(used, v.used[s.twin])
        v.model.add(far <= v.far[s.twin])


def c11_symmetry(v: Variables) -> None:
    """C11: equal pieces of a choice lie in rising y; equal choices take their options and their places in rising order.

    It leaves out no value: any solution can be renamed so that it holds.
    """
    last: dict[tuple[int, object], Slot] = {}
    for slot in v.slots:
        if any(v.instance.choices[slot.choice].options[taken].order for taken, _ in slot.uses):
            continue
        before = last.get((slot.choice, slot.key))
        if before is not None and before.rank == slot.rank - 1:
            v.model.add(before.y <= slot.y).only_enforce_if(slot.present)
        last[slot.choice, slot.key] = slot
    seen: dict[object, int] = {}
    for number, choice in enumerate(v.instance.choices):
        if number in v.task.frozen or choice.lot_group is not None:
            continue
        if any(piece.group is not None for option in choice.options for piece in option.pieces):
            continue
        key = (v.task.menu[number], choice.arrow_group, tuple(_looks(option) for option in choice.options))
        before_number = seen.get(key)
        seen[key] = number
        if before_number is not None:
            _rising(v, before_number, number)


def _looks(option: object) -> object:
    """Return an option without the names of its pieces."""
    from nesting.model.instance import Option

    assert isinstance(option, Option)
    pieces = tuple((p.boxes, p.turns, p.inset_left, p.inset_right) for p in option.pieces)
    return (pieces, option.seams, option.seam_length, option.dislike, option.cost, option.order_width, option.arrow)


def _rising(v: Variables, before: int, after: int) -> None:
    """Let two equal choices take options in rising order, or places in rising order if they have one piece."""
    if len(v.task.menu[after]) > 1:
        v.model.add(
            sum(taken * literal for taken, literal in v.taken[before].items())
            <= sum(taken * literal for taken, literal in v.taken[after].items())
        )
        return
    a = [slot for slot in v.slots if slot.choice == before]
    b = [slot for slot in v.slots if slot.choice == after]
    if len(a) == len(b) == 1:
        v.model.add(a[0].y <= b[0].y)


ALL_RULES = (
    c1_one_option,
    c2_inside,
    c3_no_overlap,
    c5_pattern,
    c6_anchoring,
    c7_lots,
    c8_arrows_and_seams,
    c9_sequence,
    c10_order,
    c11_symmetry,
)
