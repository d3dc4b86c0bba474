"""Placing a scheme: every piece in turn goes to the cheapest and lowest lawful spot that is left."""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass
from math import gcd

from nesting.model.anchoring import let_go
from nesting.model.ground import Ground
from nesting.model.instance import Piece, Solution, Spot, may_use
from nesting.model.shapes import Shape
from nesting.model.valuing import comes_apart, phases_of_groups, step_between
from nesting.search.scheme import Ready, Scheme

Laid = tuple[int, int, int, int]
"""A box that lies on a source, in sweeping order: (y0, y1, x0, x1)."""

Lawful = tuple[int, int, int]
"""(x, modulus, residue): at x, y must be `residue` modulo `modulus`."""


@dataclass(frozen=True, slots=True)
class Placed:
    """What placing a scheme gives: the solution, or how many pieces found no place."""

    solution: Solution | None
    missing: int
    fars: tuple[int, ...]  # per source: where the last piece ends (0: unused)


def place(ready: Ready, scheme: Scheme) -> Placed:
    """Place all pieces of `scheme` in its sequence; the same scheme gives the same places.

    A sequence that leaves choices out gives no solution, but tells whether what it names finds room.
    """
    phases = phases_of_groups(ready.instance, scheme.options)
    if phases is None:
        return Placed(None, len(scheme.sequence), ())
    table = Table(ready, scheme, phases)
    missing = 0
    for choice, piece in scheme.sequence:
        missing += not table.lay(choice, piece)
    if missing or any(
        len(laid) < len(choice.options[taken].pieces)
        for laid, choice, taken in zip(table.spots, ready.instance.choices, scheme.options, strict=True)
    ):
        return Placed(None, missing, tuple(table.fars))
    spots = tuple(tuple(spot for _, spot in sorted(laid.items())) for laid in table.spots)
    solution = Solution(options=scheme.options, spots=spots, anchored=scheme.anchored)
    freed = let_go(ready.instance, solution)
    fars = table.fars
    for source, (kept, now) in enumerate(zip(scheme.anchored, freed.anchored, strict=True)):
        terms = ready.instance.sources[source].terms
        if kept and not now and terms is not None and fars[source]:
            fars[source] -= terms.anchor_along or 0
    return Placed(freed, 0, tuple(fars))


class Table:
    """The sources as they fill up while one scheme is placed."""

    def __init__(self, ready: Ready, scheme: Scheme, phases: dict[int, tuple[int | None, int | None]]) -> None:
        instance = ready.instance
        self.ready = ready
        self.scheme = scheme
        self.grounds = ready.grounds(scheme.anchored)
        self.laid: list[list[Laid]] = [
            sorted((y0, y1, x0, x1) for x0, y0, x1, y1 in source.blocked) for source in instance.sources
        ]
        self.edges: list[set[int]] = [
            {x for box in source.blocked for x in (box[0], box[2])} for source in instance.sources
        ]
        self.bounds: list[list[tuple[int, int, int, int]]] = [[] for _ in instance.sources]
        self.fars = [0] * len(instance.sources)
        self.spots: list[dict[int, Spot]] = [{} for _ in instance.choices]
        self.phases = dict(phases)
        self.bound = {group for group, phase in phases.items() if phase != (None, None)}
        self.held = {(choice, index): way for choice, index, way in scheme.held}
        self.homes: dict[int, set[int]] = {}
        self.members: dict[int, list[tuple[int, int]]] = {}
        if instance.lattice is not None:
            for choice, piece in scheme.sequence:
                group = ready.piece(choice, scheme.options[choice], piece).group
                if group is not None:
                    self.members.setdefault(group, []).append((choice, piece))

    def lay(self, choice: int, index: int) -> bool:
        """Put one piece where it costs least, lowest and leftmost; False when it fits nowhere."""
        taken = self.scheme.options[choice]
        piece = self.ready.piece(choice, taken, index)
        ways = self.ready.shapes[choice][taken][index]
        held = self.held.get((choice, index))
        found: list[tuple[int, int, int, int, int, int]] = []
        for source in self._sources(choice, piece):
            floor = self._floor(choice, index, source)
            if floor is None:
                continue
            for way, shape in enumerate(ways):
                if held is not None and way != held:
                    continue
                best = self._best(piece, shape, source, floor, (choice, index))
                if best is not None:
                    x, y = best
                    found.append((self._cost(source, y + shape.length), self.ready.ranks[source], y, x, way, source))
        if not found:
            return False
        _, _, y, x, way, source = min(found)
        self._put(choice, index, piece, ways[way], source, x, y)
        return True

    def _sources(self, choice: int, piece: Piece) -> list[int]:
        """Return the sources that lots, widths, its own list and the phase group leave to a piece."""
        instance, scheme = self.ready.instance, self.scheme
        lot = scheme.lots[choice]
        width = instance.choices[choice].options[scheme.options[choice]].order_width
        homes = self.homes.get(piece.group) if piece.group is not None else None
        away = homes is not None and any(self.grounds[home].loose for home in homes)
        chosen = []
        for index, source in enumerate(instance.sources):
            if (lot is not None and source.lot != lot) or (choice, index) in scheme.barred:
                continue
            if not may_use(instance.choices[choice], source):
                continue
            if source.terms is not None:
                if scheme.order_lot is not None and source.lot != scheme.order_lot:
                    continue
                if width is not None and width != (source.made_width or source.width):
                    continue
            if piece.group is not None and instance.lattice is not None:
                if self.grounds[index].loose:
                    if piece.group in self.bound or (homes and homes != {index}):
                        continue
                elif away:
                    continue
            chosen.append(index)
        return chosen

    def _floor(self, choice: int, index: int, source: int) -> int | None:
        """Return the least y for a piece, raised by those it follows in sequence; None: it may not lie here."""
        option = self.ready.instance.choices[choice].options[self.scheme.options[choice]]
        low = self.grounds[source].low
        for before, after in option.order:
            if index not in (before, after):
                continue
            other = self.spots[choice].get(before if index == after else after)
            if other is None:
                continue
            if other.source != source or index == before:
                return None
            low = max(low, other.y + step_between(self.ready.instance, option, before, after, source))
        return low

    def _cost(self, source: int, end: int) -> int:
        """Return what it adds to the goods when a piece ends at `end` on `source`."""
        far = self.fars[source]
        cost = 0 if far else self.ready.openings[source]
        terms = self.ready.instance.sources[source].terms
        if terms is not None and not (terms.whole and far):
            cost += self.ready.rates[source] * (max(end, terms.minimum) - (max(far, terms.minimum) if far else 0))
            if end <= far:
                cost = 0
        return cost

    def _best(
        self, piece: Piece, shape: Shape, source: int, floor: int, who: tuple[int, int]
    ) -> tuple[int, int] | None:
        """Return the lowest, then leftmost lawful (x, y) of `shape` on `source`."""
        ground = self.grounds[source]
        low, high = shape.inset_left, ground.width - shape.width - shape.inset_right
        top = ground.high - shape.length
        if high < low or top < floor:
            return None
        laid = self.laid[source]
        best = None
        if self.ready.instance.bench_cuts:
            return self._best_on_bench(piece, shape, source, floor, who)
        single = len(shape.boxes) == 1
        for x, modulus, residue in self._lawful(piece, shape, source, low, high, who):
            if single:
                y = _lowest(laid, x, x + shape.width, floor, shape.length, top, modulus, residue)
            else:
                y = _lowest_of_boxes(laid, shape, x, floor, top, modulus, residue)
            if y <= top and (best is None or y < best[1]):
                best = (x, y)
                top = y - 1  # only a lower place is better from here on
        return best

    def _best_on_bench(
        self, piece: Piece, shape: Shape, source: int, floor: int, who: tuple[int, int]
    ) -> tuple[int, int] | None:
        """Return the lowest lawful (x, y) that still lets the source be cut on the bench."""
        ground = self.grounds[source]
        low, high = shape.inset_left, ground.width - shape.width - shape.inset_right
        top = ground.high - shape.length
        found = []
        for x, modulus, residue in self._lawful(piece, shape, source, low, high, who):
            starts = {floor, max(floor, self.fars[source])} | {
                y for box in self.bounds[source] for y in (box[1], box[3]) if y > floor
            }
            for start in starts:
                y = _lowest_of_boxes(self.laid[source], shape, x, start, top, modulus, residue)
                if y <= top:
                    found.append((y, x))
        for y, x in sorted(set(found)):
            box = (x, y, x + shape.width, y + shape.length)
            if comes_apart([*self.bounds[source], box], (1, 0, 1)):
                return x, y
        return None

    def _lawful(
        self, piece: Piece, shape: Shape, source: int, low: int, high: int, who: tuple[int, int]
    ) -> list[Lawful]:
        """Return every x worth trying, rising, with the residue of y that the pattern asks for there."""
        lattice = self.ready.instance.lattice
        ground = self.grounds[source]
        if lattice is None or piece.group is None:
            return [(x, 1, 0) for x in self._touching(shape, source, low, high)]
        phase_x, phase_y = self.phases.get(piece.group, (None, None))
        base = piece.offset[1] - ground.sigma[1] + (phase_y or 0)
        if ground.across is None:
            modulus, residue = (1, 0) if phase_y is None else (lattice.along, base % lattice.along)
            return [(x, modulus, residue) for x in self._touching(shape, source, low, high)]
        if phase_x is None:
            # φ across is still free, and so is the number of repeats: y is bound only as far as the drops leave it so.
            modulus = 1 if phase_y is None else gcd(lattice.drop, lattice.along)
            xs = self._first_of_group(piece, shape, source, low, high, who)
            return [(x, modulus, base % modulus) for x in xs]
        first = low + (piece.offset[0] + phase_x - ground.sigma[0] - low) % ground.across
        lawful = []
        for x in range(first, high + 1, ground.across):
            if phase_y is None:
                lawful.append((x, 1, 0))
                continue
            times = (x + ground.sigma[0] - piece.offset[0] - phase_x) // ground.across
            lawful.append((x, lattice.along, (base + times * lattice.drop) % lattice.along))
        return lawful

    def _touching(self, shape: Shape, source: int, low: int, high: int) -> list[int]:
        """Return the x at which the piece touches a side of the source or of what lies there."""
        if high == low:
            return [low]
        xs = {low, high}
        edges = self.edges[source]
        for k in {x for box in shape.boxes for x in (box[0], box[2])}:
            xs.update([edge - k for edge in edges if low < edge - k < high])
        return sorted(xs)

    def _first_of_group(
        self, piece: Piece, shape: Shape, source: int, low: int, high: int, who: tuple[int, int]
    ) -> list[int]:
        """Return the x for the first piece of a group that leave every other piece of it a lawful x on this source."""
        ground = self.grounds[source]
        across = ground.across
        assert across is not None and piece.group is not None
        rooms = []  # (how far its corner sits to the right of the first piece's, least x, greatest x)
        xs = set(self._touching(shape, source, low, high))
        for choice, index in self.members[piece.group]:
            taken = self.scheme.options[choice]
            other = self.ready.shapes[choice][taken][index][0]
            least, most = other.inset_left, ground.width - other.width - other.inset_right
            if (choice, index) == who or most < least or most - least >= across:
                continue
            shift = self.ready.piece(choice, taken, index).offset[0] - piece.offset[0]
            rooms.append((shift, least, most))
            xs.update(x for end in (least, most) for x in range(low + (end - shift - low) % across, high + 1, across))
        good = [x for x in sorted(xs) if all(a + (x + shift - a) % across <= b for shift, a, b in rooms)]
        return good or sorted(xs)

    def _put(self, choice: int, index: int, piece: Piece, shape: Shape, source: int, x: int, y: int) -> None:
        """Lay the piece down and take note of its edges and of its group's phase."""
        for x0, y0, x1, y1 in shape.boxes:
            insort(self.laid[source], (y + y0, y + y1, x + x0, x + x1))
            self.edges[source].update((x + x0, x + x1))
        self.bounds[source].append((x, y, x + shape.width, y + shape.length))
        self.fars[source] = max(self.fars[source], y + shape.length)
        self.spots[choice][index] = Spot(piece=index, source=source, x=x, y=y, turn=shape.turn)
        if piece.group is not None and self.ready.instance.lattice is not None:
            self.homes.setdefault(piece.group, set()).add(source)
            self.phases[piece.group] = self._phase(piece, self.grounds[source], x, y)

    def _phase(self, piece: Piece, ground: Ground, x: int, y: int) -> tuple[int | None, int | None]:
        """Return φ of the piece's group now that it lies at (x, y)."""
        assert piece.group is not None
        lattice = self.ready.instance.lattice
        assert lattice is not None
        phase_x, phase_y = self.phases.get(piece.group, (None, None))
        lean_x = x + ground.sigma[0] - piece.offset[0]
        lean_y = y + ground.sigma[1] - piece.offset[1]
        if ground.across is None:
            return phase_x, lean_y if phase_y is None else phase_y
        times = 0
        if phase_x is not None:
            times = (lean_x - phase_x) // ground.across
        elif phase_y is not None:
            while (lean_y - phase_y - times * lattice.drop) % lattice.along:
                times += 1
        if phase_y is None:
            phase_y = lean_y - times * lattice.drop
        return lean_x - times * ground.across, phase_y


def _lowest(laid: list[Laid], x0: int, x1: int, y: int, length: int, top: int, modulus: int, residue: int) -> int:
    """Return the least lawful y for a rectangle between x0 and x1; more than `top` when there is none up to there."""
    y += (residue - y) % modulus
    end = y + length
    for y0, y1, left, right in laid:
        if y0 >= end:
            break
        if left < x1 and x0 < right and y1 > y:
            y = y1 + (residue - y1) % modulus
            if y > top:
                return y
            end = y + length
    return y


def _lowest_of_boxes(laid: list[Laid], shape: Shape, x: int, y: int, top: int, modulus: int, residue: int) -> int:
    """Return the least lawful y for a piece of several boxes; more than `top` when there is none up to there."""
    y += (residue - y) % modulus
    moved = True
    while moved and y <= top:
        moved = False
        for x0, y0, x1, y1 in shape.boxes:
            higher = _lowest(laid, x + x0, x + x1, y + y0, y1 - y0, top + y0, modulus, residue + y0) - y0
            if higher > y:
                y, moved = higher, True
    return y
