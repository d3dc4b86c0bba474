"""Slots for the pieces of free choices, with no more places than the goods, the frozen pieces and the pattern leave."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from nesting.model.axis import Stretch
from nesting.model.ground import made_width
from nesting.model.instance import Box, Option, Piece, may_use
from nesting.model.rows import Rows, forbidden, free_rows, on_residue, union
from nesting.model.shapes import Shape, shape_of, shapes_of
from nesting.model.variables import Slot, Variables, reduced

Point = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Places:
    """Where the corner of one shape may lie on one source, on the axis: x in `across`, y in `along`.

    `residues`: of y modulo the repeat along, where the phase is known: with one only, every such x goes with every
    such y. None: the phase is not known. Empty: no pattern binds the piece.
    """

    across: Rows
    along: Rows
    residues: frozenset[int] | None = frozenset()


@dataclass(slots=True)
class SlotMaker:
    """Makes the slots of a model whose options, axis, frozen pieces and known phases stand."""

    v: Variables
    lonely: frozenset[int]  # phase groups whose pattern is no bond
    lots: dict[int, str]  # of lot groups with a frozen piece
    order_lot: str | None  # of what is frozen on orders, if all orders are of one lot
    laid: dict[int, list[Box]] = field(default_factory=dict)  # per source: flaws and frozen boxes
    seen: dict[object, Places] = field(default_factory=dict)

    def make(self, number: int) -> None:
        """Make the slots of one choice: as many of each kind of piece as the option with the most of them needs."""
        v = self.v
        choice = v.instance.choices[number]
        kinds: dict[object, list[list[tuple[int, int]]]] = {}
        for taken in v.taken[number]:
            option = choice.options[taken]
            counts: dict[object, int] = {}
            for index, piece in enumerate(option.pieces):
                key = self._kind(option, piece)
                rank = counts.get(key, 0)
                counts[key] = rank + 1
                ranks = kinds.setdefault(key, [])
                if rank == len(ranks):
                    ranks.append([])
                ranks[rank].append((taken, index))
        for key, ranks in kinds.items():
            for rank, uses in enumerate(ranks):
                slot = self._slot(number, key, rank, uses)
                v.slots.append(slot)
                for taken, index in uses:
                    v.slot_of[number, taken, index] = slot

    def _bond(self, piece: Piece) -> tuple[int | None, Point]:
        """Return the phase group that binds a piece, and its offset there; reduced where one lattice holds."""
        v = self.v
        if piece.group is None or v.instance.lattice is None or piece.group in self.lonely:
            return None, (0, 0)
        if v.axis.one_lattice:
            return piece.group, reduced(v.instance, v.axis.stretches[0].across, piece.offset)
        return piece.group, piece.offset

    def _kind(self, option: Option, piece: Piece) -> object:
        """Return what makes two pieces of a choice equal for the model."""
        return (shapes_of(piece), *self._bond(piece), option.order_width, option.order != ())

    def _slot(self, number: int, key: object, rank: int, uses: list[tuple[int, int]]) -> Slot:
        """Return one slot with its variables; it is present if an option that it stands for is taken."""
        v = self.v
        model = v.model
        option = v.instance.choices[number].options[uses[0][0]]
        piece = option.pieces[uses[0][1]]
        shapes = shapes_of(piece)
        group, offset = self._bond(piece)
        name = f"{number} {uses[0][0]} {uses[0][1]}"
        users = [v.taken[number][taken] for taken, _ in uses]
        if len(users) == 1:
            present = users[0]
        elif len(users) == len(v.taken[number]):
            present = model.new_constant(1)
        else:
            present = model.new_bool_var(f"present {name}")
            model.add(sum(users) == present)
        found = {
            (s.index, way): places
            for s in self._sources(number, option)
            for way, shape in enumerate(shapes)
            if (places := self._places(s, shape, group, offset)).along
        }
        if not found:
            model.add(present == 0)
            s = v.axis.stretches[0]
            found = {(0, 0): Places([(s.right, s.right)], [(s.up, s.up)])}
        across = union(places.across for places in found.values())
        along = union(places.along for places in found.values())
        ways = _literals(model, present, sorted({way for _, way in found}), f"way {name}")
        return Slot(
            choice=number,
            rank=rank,
            key=key,
            shapes=tuple(shapes[way] for way in ways),
            group=group,
            offset=offset,
            uses=uses,
            present=present,
            x=model.new_int_var_from_domain(cp_model.Domain.from_intervals(across), f"x {name}"),
            y=model.new_int_var_from_domain(cp_model.Domain.from_intervals(along), f"y {name}"),
            on=_literals(model, present, sorted({source for source, _ in found}), f"on {name}"),
            ways=tuple(ways.values()),
            limits={
                (source, list(ways).index(way)): (p.across[0][0], p.along[0][0], p.across[-1][1], p.along[-1][1])
                for (source, way), p in found.items()
            },
            wide=(across[0][0], along[0][0], across[-1][1], along[-1][1]),
            on_lattice=self._on_lattice(found),
        )

    def _on_lattice(self, found: dict[tuple[int, int], Places]) -> bool:
        """Tell whether every x and every y of all places together are on the lattice, or none binds the piece."""
        known = [places.residues for places in found.values() if places.residues is not None]
        if len(known) < len(found):
            return False
        residues = frozenset().union(*known)
        return len(residues) <= 1 and (not residues or self.v.axis.one_lattice or len({s for s, _ in found}) == 1)

    def _sources(self, number: int, option: Option) -> Iterator[Stretch]:
        """Yield the stretches that an option of a choice may be cut from, as far as lots and widths go."""
        v = self.v
        group = v.instance.choices[number].lot_group
        lot = None if group is None else self.lots.get(group)
        for s in v.axis.stretches:
            source = v.instance.sources[s.index]
            if v.task.offered is not None and s.index not in v.task.offered:
                continue
            if lot is not None and source.lot != lot:
                continue
            if not may_use(v.instance.choices[number], source):
                continue
            if source.terms is not None:
                if option.order_width not in (None, made_width(source)):
                    continue
                if self.order_lot is not None and source.lot != self.order_lot:
                    continue
            yield s

    def _places(self, s: Stretch, shape: Shape, group: int | None, offset: Point) -> Places:
        """Return the places of one shape on one stretch."""
        phase = None if group is None else self.v.known.get(group)
        key = (s.index, shape, None if phase is None else (phase, offset), group is None)
        if key not in self.seen:
            self.seen[key] = self._looked_up(s, shape, phase, offset, group is None)
        return self.seen[key]

    def _looked_up(
        self, s: Stretch, shape: Shape, phase: tuple[int | None, int] | None, offset: Point, free: bool
    ) -> Places:
        """Return the places of one shape on one stretch: all that are free, or those on the lattice of its group."""
        held = self.v.held[s.index] is True
        low = s.low + (s.loss_low if held else 0)
        high = s.high - shape.length - (s.loss_high if held else 0)
        left = shape.inset_left
        right = s.width - shape.width - shape.inset_right - (s.loss_right if held else 0)
        if low > high or left > right:
            return Places([], [])
        closed = forbidden(shape.boxes, self._laid(s.index))
        if phase is None:
            rows = free_rows(closed, (left, right), (low, high))
            return Places(
                [(left + s.right, right + s.right)],
                [(a + s.up, b + s.up) for a, b in rows],
                frozenset() if free else None,
            )
        lattice = self.v.instance.lattice
        assert lattice is not None
        base = offset[1] + phase[1] - s.up  # y of a mark of the piece on the goods, m = n = 0
        if s.across is None:
            rows = on_residue(free_rows(closed, (left, right), (low, high)), base % lattice.along, lattice.along)
            up = [(a + s.up, b + s.up) for a, b in rows]
            return Places([(left + s.right, right + s.right)], up, frozenset({(base + s.up) % lattice.along}))
        assert phase[0] is not None
        mark = offset[0] + phase[0] - s.right
        found: list[tuple[int, int, Rows]] = []
        for m in range(-((mark - left) // s.across), (right - mark) // s.across + 1):
            x, residue = mark + m * s.across, (base + m * lattice.drop) % lattice.along
            rows = on_residue(free_rows(closed, (x, x), (low, high)), residue, lattice.along)
            if rows:
                found.append((x + s.right, residue, [(a + s.up, b + s.up) for a, b in rows]))
        residues = frozenset((residue + s.up) % lattice.along for _, residue, _ in found)
        return Places([(x, x) for x, _, _ in found], union(rows for *_, rows in found), residues)

    def _laid(self, index: int) -> list[Box]:
        """Return what lies fixed on a source: its flaws and the frozen pieces."""
        if index not in self.laid:
            boxes = list(self.v.instance.sources[index].blocked)
            for _, piece, spot in self.v.fixed:
                if spot.source == index:
                    shape = shape_of(piece, spot.turn)
                    boxes += [(spot.x + a, spot.y + b, spot.x + c, spot.y + d) for a, b, c, d in shape.boxes]
            self.laid[index] = boxes
        return self.laid[index]


def _literals(
    model: cp_model.CpModel, present: cp_model.IntVar, keys: list[int], name: str
) -> dict[int, cp_model.IntVar]:
    """Return one literal per key of which exactly one holds when `present` does; `present` itself for a single key."""
    if len(keys) == 1:
        return {keys[0]: present}
    literals = {key: model.new_bool_var(f"{name} {key}") for key in keys}
    model.add(sum(literals.values()) == present)
    return literals
