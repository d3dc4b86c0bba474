"""What a solution is worth, and what is wrong with it: the one place for measures and levels."""

from __future__ import annotations

from collections.abc import Iterator
from math import gcd

from nesting.model.ground import Ground, grounds_of, made_width, money_of, ordered_length, used_up
from nesting.model.instance import Instance, Option, Piece, Solution, Spot, Value, may_use
from nesting.model.shapes import shape_of


def placed(instance: Instance, solution: Solution) -> Iterator[tuple[int, Piece, Spot]]:
    """Yield (choice index, piece, spot) for every piece of the solution."""
    for number, (choice, taken, spots) in enumerate(
        zip(instance.choices, solution.options, solution.spots, strict=True)
    ):
        pieces = choice.options[taken].pieces
        for spot in spots:
            yield number, pieces[spot.piece], spot


def taken_options(instance: Instance, options: tuple[int, ...]) -> list[Option]:
    """Return the options taken, one per choice."""
    return [choice.options[taken] for choice, taken in zip(instance.choices, options, strict=True)]


def measures_of_options(options: list[Option]) -> tuple[int, int, int, int, int]:
    """Return (seams, seam length, cost, dislike, pieces) of the options taken together."""
    return (
        sum(option.seams for option in options),
        sum(option.seam_length for option in options),
        sum(option.cost for option in options),
        sum(option.dislike for option in options),
        sum(len(option.pieces) for option in options),
    )


def value_of(instance: Instance, solution: Solution) -> Value:
    """Return the value of `solution`: ordered and used length per source, and the levels of the goal."""
    fars = [0] * len(instance.sources)
    for _, piece, spot in placed(instance, solution):
        length = piece.width if spot.turn in (1, 3) else piece.length
        fars[spot.source] = max(fars[spot.source], spot.y + length)
    return value_of_fars(instance, solution.options, fars, solution.anchored)


def value_of_fars(instance: Instance, options: tuple[int, ...], fars: list[int], anchored: tuple[bool, ...]) -> Value:
    """Return the value when the last piece on source s ends at `fars[s]` (physical y; 0: unused)."""
    ordered, used = [], []
    roll = run = money = rack = 0
    for index, source in enumerate(instance.sources):
        far = fars[index]
        if far == 0:
            ordered.append(0)
            used.append(0)
            continue
        terms = source.terms
        start = 0
        if terms is not None:
            start = terms.start + ((terms.anchor_along or 0) if anchored[index] else 0)
        ordered.append(ordered_length(source, far))
        used.append(far - start)
        money += money_of(source, ordered[-1])
        rack += used_up(source, far)
        if terms is not None:
            roll += ordered[-1] * made_width(source)
            run += used[-1] * made_width(source)
    seams, seam_length, cost, dislike, pieces = measures_of_options(taken_options(instance, options))
    measures = (roll, run, seams, seam_length, money + cost, dislike, pieces)
    levels = tuple(
        sum(w * m for w, m in zip(level, measures, strict=True)) + (rack if number == instance.weights.rack else 0)
        for number, level in enumerate(instance.weights.levels)
    )
    return Value(levels=levels, ordered=tuple(ordered), used=tuple(used))


def faults_of(instance: Instance, solution: Solution) -> list[str]:
    """Return what is wrong with `solution` in the engine's own terms; [] when nothing is.

    This is the engine's self check; what is handed over is proved by the independent checker.
    """
    faults: list[str] = []
    grounds = grounds_of(instance, solution.anchored)
    for choice, taken, spots in zip(instance.choices, solution.options, solution.spots, strict=True):
        if [spot.piece for spot in spots] != list(range(len(choice.options[taken].pieces))):
            faults.append(f"{choice.id}: not every piece of option {taken} is placed once")
            return faults
    faults += _lie_faults(instance, solution, grounds)
    faults += _phase_faults(instance, solution, grounds)
    faults += _lot_faults(instance, solution)
    faults += _order_faults(instance, solution)
    if instance.bench_cuts:
        faults += _bench_faults(instance, solution)
    return faults


def _lie_faults(instance: Instance, solution: Solution, grounds: tuple[Ground, ...]) -> list[str]:
    """Check that every piece lies inside its source, off the flaws, and none overlaps another."""
    faults = []
    boxes: list[list[tuple[str, int, int, int, int]]] = [
        [("a flaw", *box) for box in source.blocked] for source in instance.sources
    ]
    for _, piece, spot in placed(instance, solution):
        ground = grounds[spot.source]
        shape = shape_of(piece, spot.turn)
        if spot.turn not in piece.turns:
            faults.append(f"{piece.id}: turn {spot.turn} is not allowed")
        if spot.x < shape.inset_left or spot.x + shape.width > ground.width - shape.inset_right:
            faults.append(f"{piece.id}: over the side of {instance.sources[spot.source].id}")
        if spot.y < ground.low or spot.y + shape.length > ground.high:
            faults.append(f"{piece.id}: over the end of {instance.sources[spot.source].id}")
        for x0, y0, x1, y1 in shape.boxes:
            boxes[spot.source].append((piece.id, spot.x + x0, spot.y + y0, spot.x + x1, spot.y + y1))
    for laid in boxes:
        pairs = sorted(_overlapping(laid))
        faults += [f"{laid[b][0]} lies on {laid[a][0]}" for a, b in pairs if not laid[a][0] == laid[b][0] == "a flaw"]
    return faults


def _overlapping(laid: list[tuple[str, int, int, int, int]]) -> Iterator[tuple[int, int]]:
    """Yield the pairs of boxes that overlap, the earlier first; only those at one height are held together."""
    open_boxes: list[int] = []
    for number in sorted(range(len(laid)), key=lambda k: laid[k][2]):
        _, x0, y0, x1, _ = laid[number]
        open_boxes = [k for k in open_boxes if laid[k][4] > y0]
        for k in open_boxes:
            if laid[k][1] < x1 and x0 < laid[k][3] and laid[number][4] > laid[k][2]:
                yield min(k, number), max(k, number)
        open_boxes.append(number)


def _phase_faults(instance: Instance, solution: Solution, grounds: tuple[Ground, ...]) -> list[str]:
    """Check the lattice: one phase per group, and anchoring wherever an unknown phase matters."""
    lattice = instance.lattice
    if lattice is None:
        return []
    faults = []
    fixed = phases_of_groups(instance, solution.options)
    if fixed is None:
        return ["options taken disagree about the phase of a group"]
    members: dict[int, list[tuple[Piece, Spot]]] = {}
    for _, piece, spot in placed(instance, solution):
        if piece.group is not None:
            members.setdefault(piece.group, []).append((piece, spot))
    for group, pieces in sorted(members.items()):
        phase_x, phase_y = fixed.get(group, (None, None))
        used = {spot.source for _, spot in pieces}
        for source in sorted(used):
            if grounds[source].loose and (len(used) > 1 or phase_x is not None or phase_y is not None):
                faults.append(f"group {group}: {instance.sources[source].id} must be anchored")
        if not _one_phase(instance, grounds, pieces, phase_x, phase_y):
            faults.append(f"group {group}: the pattern does not agree")
    for index, goods in enumerate(instance.sources):
        if solution.anchored[index] and goods.terms is not None and goods.terms.anchor_along is None:
            faults.append(f"{goods.id}: may not be anchored")
    return faults


def _one_phase(
    instance: Instance,
    grounds: tuple[Ground, ...],
    pieces: list[tuple[Piece, Spot]],
    phase_x: int | None,
    phase_y: int | None,
) -> bool:
    """Tell whether one φ exists with q + σ ≡ o + φ for all pieces, given what is fixed of it.

    A free φ across is that of the first piece plus any number of repeats, which with a free φ along is the same phase
    again; with φ along fixed each number is tried.
    """
    lattice = instance.lattice
    assert lattice is not None
    first, spot = pieces[0]
    ground = grounds[spot.source]
    lean = spot.x + ground.sigma[0] - first.offset[0]
    tries = [phase_x]
    period = lattice.along // gcd(lattice.drop, lattice.along)
    if phase_x is None:
        tries = [lean - m * (ground.across or 0) for m in range(period)]
        if phase_y is None or ground.across is None:
            tries = tries[:1]
    return any(_agree(instance, grounds, pieces, x, phase_y) for x in tries if x is not None)


def _agree(
    instance: Instance,
    grounds: tuple[Ground, ...],
    pieces: list[tuple[Piece, Spot]],
    phase_x: int,
    phase_y: int | None,
) -> bool:
    """Tell whether all pieces agree with φ across, and with φ along (None: that of the first piece)."""
    lattice = instance.lattice
    assert lattice is not None
    for piece, spot in pieces:
        ground = grounds[spot.source]
        times = 0
        if ground.across is not None:
            times, rest = divmod(spot.x + ground.sigma[0] - piece.offset[0] - phase_x, ground.across)
            if rest:
                return False
        here = (spot.y + ground.sigma[1] - piece.offset[1] - times * lattice.drop) % lattice.along
        if phase_y is None:
            phase_y = here
        if here != phase_y % lattice.along:
            return False
    return True


def phases_of_groups(instance: Instance, options: tuple[int, ...]) -> dict[int, tuple[int | None, int | None]] | None:
    """Return φ of every group as far as the options taken fix it; None when they disagree (modulo the lattice)."""
    lattice = instance.lattice
    fixed: dict[int, tuple[int | None, int | None]] = {}
    for option in taken_options(instance, options):
        for piece in option.pieces:
            if piece.group is None:
                continue
            old_x, old_y = fixed.get(piece.group, (None, None))
            new_x, new_y = option.phase
            if old_x is not None and new_x is not None and old_x != new_x:
                return None
            if old_y is not None and new_y is not None and lattice and (old_y - new_y) % lattice.along:
                return None
            fixed[piece.group] = (old_x if new_x is None else new_x, old_y if new_y is None else new_y)
    return fixed


def _lot_faults(instance: Instance, solution: Solution) -> list[str]:
    """Check lot groups, named goods, the one lot of all orders, made widths, arrows and the cap on seams."""
    faults = []
    lots: dict[int, set[str]] = {}
    ordered: set[str] = set()
    for number, piece, spot in placed(instance, solution):
        source = instance.sources[spot.source]
        choice = instance.choices[number]
        if choice.lot_group is not None:
            lots.setdefault(choice.lot_group, set()).add(source.lot)
        if not may_use(choice, source):
            faults.append(f"{piece.id}: may not be cut from {source.id}")
        if source.terms is not None:
            ordered.add(source.lot)
            width = choice.options[solution.options[number]].order_width
            if width is not None and width != made_width(source):
                faults.append(f"{piece.id}: its layout is for goods {width} wide")
    faults += [f"lot group {group}: cut from {len(used)} lots" for group, used in sorted(lots.items()) if len(used) > 1]
    if instance.orders_of_one_lot and len(ordered) > 1:
        faults.append(f"{len(ordered)} lots are ordered")
    arrows: dict[int, set[int | None]] = {}
    taken = taken_options(instance, solution.options)
    for choice, option in zip(instance.choices, taken, strict=True):
        if choice.arrow_group is not None:
            arrows.setdefault(choice.arrow_group, set()).add(option.arrow)
    faults += [f"arrow group {group}: arrows differ" for group, used in sorted(arrows.items()) if len(used) > 1]
    most = instance.weights.most_seams
    if most is not None and sum(option.seams for option in taken) > most:
        faults.append(f"more than {most} seams")
    return faults


def _order_faults(instance: Instance, solution: Solution) -> list[str]:
    """Check that pieces laid in sequence come off one source in that order."""
    faults = []
    for choice, taken, spots in zip(instance.choices, solution.options, solution.spots, strict=True):
        option = choice.options[taken]
        for before, after in option.order:
            a, b = spots[before], spots[after]
            if a.source != b.source or b.y < a.y + step_between(instance, option, before, after, a.source):
                faults.append(f"{option.pieces[after].id}: out of sequence after {option.pieces[before].id}")
    return faults


def step_between(instance: Instance, option: Option, before: int, after: int, source: int) -> int:
    """Return by how much y must grow from piece `before` to piece `after` that follows it in sequence on `source`.

    The length of the first where both are too wide to lie side by side, else nothing.
    """
    first, second = option.pieces[before], option.pieces[after]
    return first.length if first.width + second.width > instance.sources[source].width else 0


def _bench_faults(instance: Instance, solution: Solution) -> list[str]:
    """Check that every source comes apart by cuts across, then along, then across again."""
    laid: dict[int, list[tuple[int, int, int, int]]] = {}
    for _, piece, spot in placed(instance, solution):
        shape = shape_of(piece, spot.turn)
        laid.setdefault(spot.source, []).append((spot.x, spot.y, spot.x + shape.width, spot.y + shape.length))
    return [
        f"{instance.sources[source].id}: cannot be cut on the bench"
        for source, boxes in sorted(laid.items())
        if not comes_apart(boxes, (1, 0, 1))
    ]


def comes_apart(boxes: list[tuple[int, int, int, int]], stages: tuple[int, ...]) -> bool:
    """Tell whether cuts along the axes `stages` (1: across the width, at a y; 0: along, at an x) part all boxes.

    At every stage all cuts that hurt no box are made: finer parts can only make the later stages easier.
    """
    if len(boxes) <= 1:
        return True
    if not stages:
        return False
    low, high = stages[0], stages[0] + 2
    parts: list[list[tuple[int, int, int, int]]] = []
    reach = None
    for box in sorted(boxes, key=lambda item: (item[low], item)):
        if reach is None or box[low] >= reach:
            parts.append([])
        parts[-1].append(box)
        reach = box[high] if reach is None else max(reach, box[high])
    return all(comes_apart(part, stages[1:]) for part in parts)
