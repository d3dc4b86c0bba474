"""The rules of the pattern: one phase per group, and what an unknown phase costs."""

from __future__ import annotations

from ortools.sat.python import cp_model

from nesting.model.variables import Phase, Slot, Variables, reduced


def c5_pattern(v: Variables) -> None:
    """C5: the pieces of a phase group agree: x = o_x + φ_x + m·Rx and y = o_y + φ_y + m·D + n·Ry on the axis.

    φ is one for the group; an option that places the pattern fixes it (modulo the lattice).
    """
    if v.instance.lattice is None:
        return
    for group in _groups(v):
        v.phases[group] = _phase_variables(v, group)
    for slot in v.slots:
        if slot.group is None or slot.on_lattice:
            continue
        by_across: dict[int | None, list[cp_model.IntVar]] = {}
        for source, on in slot.on.items():
            by_across.setdefault(v.axis.stretches[source].across, []).append(on)
        for across, ons in by_across.items():
            for on in [slot.present] if len(by_across) == 1 else ons:
                _on_lattice(v, slot, across, on)
    _fixed_phases(v)


def _phase_variables(v: Variables, group: int) -> Phase:
    """Return φ of a group: constants where it is known, variables over the fundamental domain if not."""
    lattice = v.instance.lattice
    assert lattice is not None
    if group in v.known:
        x, y = v.known[group]
        across = None if x is None else (v.model.new_constant(x), x, x)
        return Phase(across=across, along=(v.model.new_constant(y), y, y))
    repeats = {s.across for s in v.axis.stretches}
    most = lattice.along - 1
    along = (v.model.new_int_var(0, most, f"phase y {group}"), 0, most)
    if repeats == {None}:
        return Phase(across=None, along=along)
    reach = max(a for a in repeats if a is not None)
    least, most = 0, reach - 1
    if not v.axis.one_lattice:
        v.exact = False  # φ across is looked for within a few repeats only
        least, most = -4 * reach, 4 * reach
    return Phase(across=(v.model.new_int_var(least, most, f"phase x {group}"), least, most), along=along)


def _on_lattice(v: Variables, slot: Slot, across: int | None, on: cp_model.IntVar) -> None:
    """Hold the corner of a slot on the lattice of its group under a condition."""
    lattice = v.instance.lattice
    assert lattice is not None and slot.group is not None
    phase = v.phases[slot.group]
    name = f"{slot.choice} {slot.uses[0]} {slot.rank} {on.index}"
    left, low, right, high = slot.wide
    drops = [0]
    times: cp_model.LinearExpr | cp_model.IntVar | int = 0
    if across is not None:
        assert phase.across is not None
        phase_x, least, most = phase.across
        first, last = -((most + slot.offset[0] - left) // across), (right - slot.offset[0] - least) // across
        times = v.model.new_int_var(first, max(first, last), f"m {name}")
        v.model.add(slot.x == slot.offset[0] + phase_x + across * times).only_enforce_if(on)
        drops = [lattice.drop * first, lattice.drop * max(first, last)]
    phase_y, least, most = phase.along
    first = -((most + slot.offset[1] + max(drops) - low) // lattice.along)
    last = (high - slot.offset[1] - least - min(drops)) // lattice.along
    n = v.model.new_int_var(first, max(first, last), f"n {name}")
    v.model.add(
        slot.y == slot.offset[1] + phase_y + (lattice.drop if across else 0) * times + lattice.along * n
    ).only_enforce_if(on)


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
                phase_x, phase_y = v.phases[group].variables
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

    home[g, s] ≥ every piece of g on s; Σ_s home[g, s] ≤ 1 unless several[g]; then anchored[s] ≥ home[g, s] +
    several[g] − 1, and anchored[s] ≥ home[g, s] + placed[g] − 1.
    """
    sources = v.instance.sources
    if v.instance.lattice is None or all(s.phase is not None for s in sources):
        return
    for group in _groups(v):
        homes = _homes(v, group)
        loose = [s for s in homes if sources[s].phase is None and v.held[s] is not True]
        for literal in _placing(v, group) if loose else ():
            for s in loose:
                v.model.add_bool_or(homes[s].negated(), literal.negated(), v.anchored[s])
        if not loose or len(homes) == 1:
            continue
        several = v.model.new_bool_var(f"several {group}")
        v.model.add(sum(homes.values()) <= 1).only_enforce_if(several.negated())
        for s in loose:
            v.model.add_bool_or(homes[s].negated(), several.negated(), v.anchored[s])


def _homes(v: Variables, group: int) -> dict[int, cp_model.IntVar]:
    """Return per source a literal that holds when a piece of `group` lies on it."""
    here: dict[int, list[cp_model.IntVar]] = {}
    for slot in v.slots:
        if slot.group == group:
            for source, on in slot.on.items():
                here.setdefault(source, []).append(on)
    homes = {spot.source: v.model.new_constant(1) for _, piece, spot in v.fixed if piece.group == group}
    for source, ons in here.items():
        if source in homes:
            continue
        homes[source] = ons[0] if len(ons) == 1 else v.model.new_bool_var(f"home {group} {source}")
        for on in ons if len(ons) > 1 else ():
            v.model.add_implication(on, homes[source])
    return homes


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
