"""The rules of the model, one function each: what a lawful solution is."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from ortools.sat.python import cp_model

from nesting.model.rows import union
from nesting.model.rules_goods import c7_lots, c10_order, conditions_of
from nesting.model.rules_pattern import c5_pattern, c6_anchoring
from nesting.model.rules_symmetry import c11_symmetry
from nesting.model.shapes import shape_of
from nesting.model.valuing import step_between
from nesting.model.variables import Variables


def c1_one_option(v: Variables) -> None:
    """C1: every choice is made in exactly one way: Σ_o taken[c, o] = 1."""
    for options in v.taken:
        if len(options) > 1:
            v.model.add_exactly_one(options.values())


def c2_inside(v: Variables) -> None:
    """C2: a piece lies inside the usable part of its source, with its insets kept off the sides.

    On s: right + inset ≤ x, x + w + inset ≤ right + width − loss, up + low + loss ≤ y, y + l ≤ up + high − loss,
    the losses counting where s is anchored. What the domains of x and y say already is not said again.
    """
    for slot in v.slots:
        for (source, way), limits in slot.limits.items():
            conditions = conditions_of(slot, source, way)
            s = v.axis.stretches[source]
            open_ended = v.held[source] is None
            losses = (0, s.loss_low, s.loss_right, s.loss_high) if open_ended else (0, 0, 0, 0)
            for side, (limit, wide, loss) in enumerate(zip(limits, slot.wide, losses, strict=True)):
                if limit == wide and not loss:
                    continue
                place, lost = (slot.y if side % 2 else slot.x), loss * v.anchored[source]
                said = place >= limit + lost if side < 2 else place <= limit - lost
                v.model.add(said).only_enforce_if(conditions)
        if len(slot.limits) < len(slot.on) * len(slot.ways):
            for source, on in slot.on.items():
                for way, literal in enumerate(slot.ways):
                    if (source, way) not in slot.limits:
                        v.model.add_bool_or(on.negated(), literal.negated())


def c3_no_overlap(v: Variables) -> None:
    """C3: no two pieces overlap, none lies on a flaw, and none beside a source that is narrower than the axis.

    NoOverlap2D over the boxes of all pieces (optional), flaws and unusable parts (fixed). C4, redundant: at every y
    the widths of the pieces there add up to at most the width of the axis.
    """
    boxes = boxes_on_axis(v)
    v.model.add_no_overlap_2d(boxes.across, boxes.along)
    v.model.add_cumulative(boxes.along, boxes.widths, v.axis.width)


@dataclass(slots=True)
class BoxesOnAxis:
    """The boxes of all pieces, flaws and unusable parts as intervals across and along, with their sizes."""

    across: list[cp_model.IntervalVar] = field(default_factory=list)
    along: list[cp_model.IntervalVar] = field(default_factory=list)
    widths: list[int] = field(default_factory=list)
    lengths: list[int] = field(default_factory=list)


def boxes_on_axis(v: Variables) -> BoxesOnAxis:
    """Return the boxes of all pieces (there when the piece is, and lies so) and of what lies fixed on the axis."""
    found = BoxesOnAxis()
    for slot in v.slots:
        for number, (shape, way) in enumerate(zip(slot.shapes, slot.ways, strict=True)):
            for part, (x0, y0, x1, y1) in enumerate(shape.boxes):
                name = f"{slot.choice} {slot.uses[0]} {slot.rank} {number} {part}"
                found.across.append(
                    v.model.new_optional_fixed_size_interval_var(slot.x + x0, x1 - x0, way, f"X {name}")
                )
                found.along.append(v.model.new_optional_fixed_size_interval_var(slot.y + y0, y1 - y0, way, f"Y {name}"))
                found.widths.append(x1 - x0)
                found.lengths.append(y1 - y0)
    for x0, y0, x1, y1 in _within_reach(v, _obstacles(v)):
        found.across.append(v.model.new_fixed_size_interval_var(x0, x1 - x0, f"X {x0} {y0}"))
        found.along.append(v.model.new_fixed_size_interval_var(y0, y1 - y0, f"Y {x0} {y0}"))
        found.widths.append(x1 - x0)
        found.lengths.append(y1 - y0)
    return found


def _obstacles(v: Variables) -> list[tuple[int, int, int, int]]:
    """Return what lies fixed on the axis: frozen pieces, flaws and the strips beside narrower sources."""
    boxes = []
    for _, piece, spot in v.fixed:
        s = v.axis.stretches[spot.source]
        if v.task.offered is not None and spot.source not in v.task.offered:
            continue
        for x0, y0, x1, y1 in shape_of(piece, spot.turn).boxes:
            x, y = spot.x + s.right, spot.y + s.up
            boxes.append((x + x0, y + y0, x + x1, y + y1))
    # Flaws may overlap one another and the edge of their source: they are cut into disjoint boxes.
    for s in v.axis.stretches:
        top = s.up + s.high
        if s.high <= s.low or (v.task.offered is not None and s.index not in v.task.offered):
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


def _within_reach(v: Variables, boxes: list[tuple[int, int, int, int]]) -> list[tuple[int, int, int, int]]:
    """Return the boxes that some piece can touch: all of them as long as nothing is frozen."""
    if not v.fixed:
        return boxes
    reached = union(
        [(limits[1], limits[3] + slot.shapes[way].length - 1)]
        for slot in v.slots
        for (_, way), limits in slot.limits.items()
    )
    return [box for box in boxes if any(low < box[3] and high >= box[1] for low, high in reached)]


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
