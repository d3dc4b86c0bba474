"""Places that are enough to look at: every piece pushed to the start of the goods and to one side of them.

Any lawful solution stays lawful, and costs no more, when its pieces are pushed down the roll and to one side until each
of them touches the edge of the goods, a flaw or another piece. Then a piece's place is an inset or the end of a flaw
plus a sum of what the pieces between add: the normal patterns of Herz (1972) and of Christofides and Whitlock (1977),
here for pieces of several boxes, each of which adds the end of one of its boxes less the start of another.
"""

from __future__ import annotations

from collections.abc import Iterable

from ortools.sat.python import cp_model

from nesting.model.axis import Stretch
from nesting.model.shapes import Shape
from nesting.model.variables import Slot, Variables

MOST_STRETCHES = 3000
"""Sets of places in more stretches than this only slow the solver down."""
MOST_SLOTS = 120
"""With more pieces than this nearly every place is a normal one."""


def c12_normal_places(v: Variables, *, from_right: bool = False) -> None:
    """C12, redundant: every piece lies at a normal place, across from the left (or from the right) and along.

    Not where a pattern binds the pieces, which may not be pushed about freely then; not along where pieces come off in
    a sequence.
    """
    if v.instance.lattice is not None or v.task.frozen or len(v.slots) > MOST_SLOTS:
        return
    in_sequence = any(
        v.instance.choices[number].options[taken].order
        for number, options in enumerate(v.task.menu)
        for taken in options
    )
    known: dict[object, list[int]] = {}
    for slot in v.slots:
        for axis in (0,) if in_sequence else (0, 1):
            _restrict(v, slot, axis, from_right and axis == 0, known)


def _restrict(v: Variables, slot: Slot, axis: int, turned: bool, known: dict[object, list[int]]) -> None:
    """Hold x (axis 0) or y (axis 1) of a slot to its normal places, for every way that it may lie."""
    for number, (shape, way) in enumerate(zip(slot.shapes, slot.ways, strict=True)):
        values: set[int] = set()
        for source in slot.on:
            key = (slot.shapes, number, source, axis, turned)
            if key not in known:
                known[key] = _places(v, slot, shape, v.axis.stretches[source], axis, turned)
            values.update(known[key])
        domain = cp_model.Domain.from_values(sorted(values))
        stretches = len(domain.flattened_intervals()) // 2
        if values and (stretches == 1 or stretches > MOST_STRETCHES):
            continue
        place = slot.y if axis else slot.x
        v.model.add_linear_expression_in_domain(place, domain).only_enforce_if(way)


def _places(v: Variables, slot: Slot, shape: Shape, s: Stretch, axis: int, turned: bool) -> list[int]:
    """Return the normal places of one shape on one source, on the axis of the model."""
    size = shape.length if axis else shape.width
    room = s.high - s.low if axis else s.width
    inset = 0 if axis else (shape.inset_right if turned else shape.inset_left)
    starts = {0} | {_inset(other, turned) for mate in v.slots for other in mate.shapes if not axis}
    for box in v.instance.sources[s.index].blocked:
        starts.add(box[3] - s.low if axis else s.width - box[0] if turned else box[2])
    others = [mate for mate in v.slots if mate is not slot and s.index in mate.on]
    ends = reach([_steps(mate.shapes, axis, turned) for mate in others], starts, room)
    lows = {_span(box, shape, axis, turned)[0] for box in shape.boxes}
    found = {inset} | {end - low for end in ends for low in lows}
    base = s.up + s.low if axis else s.right
    lawful = [place for place in found if inset <= place <= room - size]
    return [base + (room - size - place if turned else place) for place in lawful]


def _inset(shape: Shape, turned: bool) -> int:
    return shape.inset_right if turned else shape.inset_left


def _span(box: tuple[int, int, int, int], shape: Shape, axis: int, turned: bool) -> tuple[int, int]:
    """Return from where to where a box of a shape reaches, seen from the left or the right."""
    low, high = box[axis], box[axis + 2]
    return (shape.width - high, shape.width - low) if turned else (low, high)


def _steps(shapes: tuple[Shape, ...], axis: int, turned: bool) -> frozenset[int]:
    """Return by how much a piece between can move on what lies behind it."""
    steps: set[int] = set()
    for shape in shapes:
        spans = [_span(box, shape, axis, turned) for box in shape.boxes]
        steps.update(high - low for _, high in spans for low, _ in spans)
    return frozenset(steps)


def reach(steps: list[frozenset[int]], starts: Iterable[int], room: int) -> list[int]:
    """Return every number from 0 to `room` that is a start plus at most one step of each piece.

    A set of numbers is one whole number, bit n standing for n; steps may lead back, so the bits start below 0.
    """
    below = sum(max(0, -min(some, default=0)) for some in steps)
    mask = (1 << (room + 2 * below + 1)) - 1
    bits = 0
    for start in starts:
        if 0 <= start <= room:
            bits |= 1 << (start + below)
    for some in steps:
        more = bits
        for step in some:
            more |= bits << step if step >= 0 else bits >> -step
        bits = more & mask
    digits = bin(bits >> below & ((1 << (room + 1)) - 1))[:1:-1]
    return [number for number, digit in enumerate(digits) if digit == "1"]
