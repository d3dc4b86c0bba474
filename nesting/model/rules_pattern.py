"""The rules of the pattern: one phase per group, and what an unknown phase costs."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.variables import Slot, Variables, reduced


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
                x, y = reduced(v.instance, s.across, (x, y))
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
                    want_x, want_y = reduced(v.instance, across, (want_x, want_y))
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
