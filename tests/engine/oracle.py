"""The least first level of a tiny instance by trying everything: options, anchorings, phases and every whole position.

It shares no code with the engine beyond the instance's data; its lattice arithmetic looks for m and n one by one.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise, product

from nesting.model.instance import Instance, Piece, Source

Box = tuple[int, int, int, int]


def turned(boxes: tuple[Box, ...], turn: int) -> list[Box]:
    """Turn boxes counter-clockwise a quarter at a time, each time back into the corner."""
    now = list(boxes)
    for _ in range(turn):
        high = max(y1 for _, _, _, y1 in now)
        now = [(high - y1, x0, high - y0, x1) for x0, y0, x1, y1 in now]
    return now


def on_lattice(instance: Instance, source: Source, dx: int, dy: int) -> bool:
    """Tell whether (dx, dy) is a whole number of repeats across and along."""
    lattice = instance.lattice
    assert lattice is not None
    if lattice.across is None:
        return any(dy == n * lattice.along for n in range(-60, 61))
    across = source.across or lattice.across
    for m in range(-60, 61):
        if dx == m * across:
            return any(dy == m * lattice.drop + n * lattice.along for n in range(-60, 61))
    return False


def phases_to_try(instance: Instance, fixed: tuple[int | None, int | None]) -> list[tuple[int, int]]:
    """Every phase modulo the lattice that agrees with what is fixed of it."""
    lattice = instance.lattice
    assert lattice is not None
    across = lattice.across or 1
    # With φ along fixed and φ across free, as many repeats across as it takes the drops to come round again.
    xs = [fixed[0]] if fixed[0] is not None else range(across * (lattice.along if fixed[1] is not None else 1))
    ys = [fixed[1]] if fixed[1] is not None else range(lattice.along)
    return [(x, y) for x in xs for y in ys]


def cut_apart(placed: list[Box], stages: str) -> bool:
    """Tell whether straight cuts at the stages given part all boxes: every set of cuts at each stage is tried."""
    if len(placed) < 2:
        return True
    if not stages:
        return False
    a = "xy".index(stages[0])
    cuts = [c for c in sorted({b[a] for b in placed}) if not any(b[a] < c < b[a + 2] for b in placed)]
    for count in range(len(cuts) + 1):
        for chosen in combinations(cuts, count):
            edges = [-1, *chosen, 10**9]
            parts = [[b for b in placed if low <= b[a] < high] for low, high in pairwise(edges)]
            if all(cut_apart(part, stages[1:]) for part in parts):
                return True
    return False


class Oracle:
    """Tries everything for one instance."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.best: int | None = None

    def least(self) -> int | None:
        """Return the least first level, None when there is no solution."""
        menus = [range(len(choice.options)) for choice in self.instance.choices]
        for options in product(*menus):
            taken = [c.options[o] for c, o in zip(self.instance.choices, options, strict=True)]
            most = self.instance.weights.most_seams
            if most is not None and sum(o.seams for o in taken) > most:
                continue
            arrows: dict[int, set[int | None]] = {}
            for choice, option in zip(self.instance.choices, taken, strict=True):
                if choice.arrow_group is not None:
                    arrows.setdefault(choice.arrow_group, set()).add(option.arrow)
            if any(len(used) > 1 for used in arrows.values()):
                continue
            for anchored in product(
                *(
                    [False, True] if s.phase is None and self.instance.lattice else [False]
                    for s in self.instance.sources
                )
            ):
                if any(
                    a and s.terms and s.terms.anchor_along is None
                    for a, s in zip(anchored, self.instance.sources, strict=True)
                ):
                    continue
                self._phases(taken, anchored)
        return self.best

    def _phases(self, taken, anchored) -> None:
        fixed: dict[int, tuple[int | None, int | None]] = {}
        for option in taken:
            for piece in option.pieces:
                if piece.group is not None:
                    x, y = fixed.get(piece.group, (None, None))
                    px, py = option.phase
                    fixed[piece.group] = (px if px is not None else x, py if py is not None else y)
        groups = sorted(fixed) if self.instance.lattice else []
        pieces = [
            (number, index, piece) for number, option in enumerate(taken) for index, piece in enumerate(option.pieces)
        ]
        for phases in product(*(phases_to_try(self.instance, fixed[g]) for g in groups)):
            self.taken, self.anchored = taken, anchored
            self.phase = dict(zip(groups, phases, strict=True))
            self.bound_groups = {g for g in groups if fixed[g] != (None, None)}
            self.spots: dict[tuple[int, int], tuple[int, int, int]] = {}
            self.laid: list[list[Box]] = [list(s.blocked) for s in self.instance.sources]
            self.fars = [0] * len(self.instance.sources)
            self._place(pieces)

    def _place(self, pieces: list[tuple[int, int, Piece]]) -> None:
        value = self._value()
        if self.best is not None and value >= self.best:
            return
        if not pieces:
            if self._whole_is_lawful():
                self.best = value
            return
        (number, index, piece), rest = pieces[0], pieces[1:]
        for s, source in enumerate(self.instance.sources):
            named = self.instance.choices[number].sources
            if named is not None and source.id not in named:
                continue
            width, low, high = source.width, 0, source.length
            if source.terms is not None:
                low = source.terms.start
                if self.anchored[s]:
                    low += source.terms.anchor_along or 0
                    width -= source.terms.anchor_across
                if self.taken[number].order_width not in (None, source.made_width or source.width):
                    continue
            elif self.anchored[s]:
                width, high = width - source.loss[0], high - source.loss[1]
            sigma = source.phase or (0, -low)
            if source.terms is None and source.phase is None:
                sigma = (0, 0)
            for turn in piece.turns:
                boxes = turned(piece.boxes, turn)
                w, h = max(b[2] for b in boxes), max(b[3] for b in boxes)
                left, right = piece.inset_left, piece.inset_right
                if turn == 2:
                    left, right = right, left
                for y in range(low, high - h + 1):
                    for x in range(left, width - right - w + 1):
                        if self.instance.lattice is not None and piece.group is not None:
                            px, py = self.phase[piece.group]
                            dx = x + sigma[0] - piece.offset[0] - px
                            dy = y + sigma[1] - piece.offset[1] - py
                            if not on_lattice(self.instance, source, dx, dy):
                                continue
                        here = [(x + a, y + b, x + c, y + d) for a, b, c, d in boxes]
                        if any(
                            a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
                            for a in here
                            for b in self.laid[s]
                        ):
                            continue
                        self._lay(number, index, s, x, y, h, here, rest)

    def _lay(self, number, index, s, x, y, h, here, rest) -> None:
        source = self.instance.sources[s]
        far = self.fars[s]
        self.fars[s] = max(far, y + h)
        terms = source.terms
        if (
            terms is None
            or terms.whole
            or max(terms.minimum, -(-self.fars[s] // terms.step) * terms.step) <= source.length
        ):
            self.laid[s].extend(here)
            self.spots[number, index] = (s, x, y)
            self._place(rest)
            del self.spots[number, index]
            del self.laid[s][len(self.laid[s]) - len(here) :]
        self.fars[s] = far

    def _value(self) -> int:
        roll = run = money = 0
        for s, source in enumerate(self.instance.sources):
            far = self.fars[s]
            if far == 0:
                continue
            money += source.cost
            terms = source.terms
            if terms is None:
                continue
            ordered = source.length if terms.whole else max(terms.minimum, -(-far // terms.step) * terms.step)
            made = source.made_width or source.width
            roll += ordered * made
            run += (far - terms.start - ((terms.anchor_along or 0) if self.anchored[s] else 0)) * made
            price = ordered * source.cost_per_unit
            money += int(price + Fraction(1, 2) if price >= 0 else 0)
        measures = (
            roll,
            run,
            sum(o.seams for o in self.taken),
            sum(o.seam_length for o in self.taken),
            money + sum(o.cost for o in self.taken),
            sum(o.dislike for o in self.taken),
            sum(len(o.pieces) for o in self.taken),
        )
        lost = sum(map(self._lost, range(len(self.fars)))) if self.instance.weights.rack == 0 else 0
        return lost + sum(a * b for a, b in zip(self.instance.weights.levels[0], measures, strict=True))

    def _lost(self, s: int) -> int:
        """Return by how many quarters of a square unit the value of a piece in hand falls: strip by strip."""
        source, far = self.instance.sources[s], self.fars[s]
        if source.worth is None or far == 0:
            return 0

        def value(left: int) -> int:
            if left < source.worth.keep_from:
                return 0
            cells = (source.made_width or source.width) * left
            return sum(1 if k < source.worth.small else 4 for k in range(cells))

        at_first = source.length - source.worth.begun
        return value(at_first) - value(min(at_first, source.length - far))

    def _whole_is_lawful(self) -> bool:
        sources = self.instance.sources
        lots: dict[int, set[str]] = {}
        homes: dict[int, set[int]] = {}
        for (number, index), (s, _, _) in self.spots.items():
            group = self.instance.choices[number].lot_group
            if group is not None:
                lots.setdefault(group, set()).add(sources[s].lot)
            piece = self.taken[number].pieces[index]
            if piece.group is not None and self.instance.lattice is not None:
                homes.setdefault(piece.group, set()).add(s)
        if any(len(used) > 1 for used in lots.values()):
            return False
        orders = {sources[s].lot for s, _, _ in self.spots.values() if sources[s].terms is not None}
        if self.instance.orders_of_one_lot and len(orders) > 1:
            return False
        for group, used in homes.items():
            for s in used:
                unknown = sources[s].phase is None and not self.anchored[s]
                if unknown and (len(used) > 1 or group in self.bound_groups):
                    return False
        if self.instance.bench_cuts and not all(self._on_bench(s) for s in range(len(sources))):
            return False
        return all(self._in_sequence(number) for number in range(len(self.taken)))

    def _on_bench(self, source: int) -> bool:
        """Lengths across the whole width, split along their whole length, split across again (no piece is turned)."""
        placed = []
        for (number, index), (s, x, y) in self.spots.items():
            if s == source:
                piece = self.taken[number].pieces[index]
                placed.append((x, y, x + piece.width, y + piece.length))
        return cut_apart(placed, "yxy")

    def _in_sequence(self, number: int) -> bool:
        option = self.taken[number]
        for i, j in option.order:
            (s, _, y), (t, _, later) = self.spots[number, i], self.spots[number, j]
            first, second = option.pieces[i], option.pieces[j]
            apart = first.width + second.width > self.instance.sources[s].width
            if s != t or later < y + (first.length if apart else 0):
                return False
        return True


def least_first_level(instance: Instance) -> int | None:
    """Return the least first level of `instance`, None when it has no solution."""
    return Oracle(instance).least()
