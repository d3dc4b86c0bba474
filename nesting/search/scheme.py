"""What the search moves about: a scheme says what is placed in which order, and the instance made ready for placing."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from nesting.model.ground import Ground, grounds_of, made_width, may_anchor
from nesting.model.instance import Choice, Instance, Piece, may_use
from nesting.model.menus import undominated
from nesting.model.shapes import Shape, shapes_of

MOST_GROUNDS = 64
"""Ways of anchoring whose grounds are kept at hand; with many sources of unknown phase there are far more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """A solution before it is placed; placing it is a function of it alone.

    `sequence` holds (choice, piece) of all pieces of the options taken in placing order. `lots[c]`: the lot that choice
    c is cut from (None: any; choices of one lot group have one). `order_lot`: the lot of all orders (None: any).
    `anchored` is per source. `barred`: (choice, source) pairs that are not to be used. `held`: (choice, piece, way) of
    pieces that may lie in one of their ways only.
    """

    options: tuple[int, ...]
    sequence: tuple[tuple[int, int], ...]
    lots: tuple[str | None, ...]
    order_lot: str | None
    anchored: tuple[bool, ...]
    barred: frozenset[tuple[int, int]] = frozenset()
    held: frozenset[tuple[int, int, int]] = frozenset()


@dataclass(slots=True)
class Ready:
    """An instance with everything worked out that placing asks for again and again.

    `rates[s]` and `openings[s]` are what a unit of length and the first use of source s cost in the first level of
    the goal that counts goods; they only steer, values are worked out by `value_of`.
    """

    instance: Instance
    shapes: tuple[tuple[tuple[tuple[Shape, ...], ...], ...], ...]
    rates: tuple[int, ...]
    openings: tuple[int, ...]
    ranks: tuple[int, ...]
    lots: tuple[str, ...]
    order_lots: tuple[str, ...]
    lot_mates: tuple[tuple[int, ...], ...]  # per choice: the choices of its lot group, itself included
    usable: tuple[tuple[int, ...], ...]  # per choice: options that fit some source and that no other stands in for
    _grounds: dict[tuple[bool, ...], tuple[Ground, ...]] = field(default_factory=dict)
    _dearest: Fraction | None = None
    _widest: int | None = None

    def grounds(self, anchored: tuple[bool, ...]) -> tuple[Ground, ...]:
        """Return the grounds under `anchored`, worked out once as long as there are not too many."""
        grounds = self._grounds.get(anchored)
        if grounds is None:
            if len(self._grounds) >= MOST_GROUNDS:
                self._grounds.clear()
            grounds = self._grounds[anchored] = grounds_of(self.instance, anchored)
        return grounds

    def dearest(self) -> Fraction:
        """Return the highest price per unit of what can be ordered, 0 where nothing can."""
        if self._dearest is None:
            prices = {source.cost_per_unit for source in self.instance.sources if source.terms is not None}
            self._dearest = max(prices, default=Fraction(0))
        return self._dearest

    def widest(self) -> int:
        """Return the width of the widest goods that can be ordered, or of all there are where nothing can."""
        if self._widest is None:
            sources = self.instance.sources
            made = {source.width for source in sources if source.terms is not None}
            self._widest = max(made or {source.width for source in sources})
        return self._widest

    def piece(self, choice: int, option: int, piece: int) -> Piece:
        """Return one piece of one option of one choice."""
        return self.instance.choices[choice].options[option].pieces[piece]


def fits(shape: Shape, ground: Ground) -> bool:
    """Tell whether the bounding box of `shape` goes into `ground`, whatever else lies there."""
    return (
        shape.inset_left + shape.width + shape.inset_right <= ground.width and shape.length <= ground.high - ground.low
    )


def make_ready(instance: Instance) -> Ready:
    """Work out shapes, rates, lots and usable options of `instance`."""
    shapes = tuple(
        tuple(tuple(shapes_of(piece) for piece in option.pieces) for option in choice.options)
        for choice in instance.choices
    )
    rates, openings = _prices(instance)
    ranks = sorted(
        range(len(instance.sources)),
        key=lambda s: (
            instance.sources[s].terms is not None,
            instance.sources[s].width * instance.sources[s].length if instance.sources[s].terms is None else 0,
            s,
        ),
    )
    groups: dict[int, list[int]] = {}
    for number, choice in enumerate(instance.choices):
        if choice.lot_group is not None:
            groups.setdefault(choice.lot_group, []).append(number)
    return Ready(
        instance=instance,
        shapes=shapes,
        rates=rates,
        openings=openings,
        ranks=tuple(ranks.index(s) for s in range(len(ranks))),
        lots=tuple(sorted({source.lot for source in instance.sources})),
        order_lots=tuple(sorted({source.lot for source in instance.sources if source.terms is not None})),
        lot_mates=tuple(
            tuple(groups[choice.lot_group]) if choice.lot_group is not None else (number,)
            for number, choice in enumerate(instance.choices)
        ),
        usable=undominated(instance, _fitting(instance, shapes)),
    )


def _fitting(
    instance: Instance, shapes: tuple[tuple[tuple[tuple[Shape, ...], ...], ...], ...]
) -> tuple[tuple[int, ...], ...]:
    """Return per choice the options whose pieces all fit some source that they may be cut from."""
    grounds = list(zip(instance.sources, grounds_of(instance, (False,) * len(instance.sources)), strict=True))
    open_to: dict[object, list[Ground]] = {}  # by made width and named goods: the goods that differ in size

    def allowed_for(choice: Choice, width: int | None) -> list[Ground]:
        key = (width, choice.sources)
        if key not in open_to:
            sized = {
                (ground.width, ground.high - ground.low): ground
                for source, ground in grounds
                if (source.terms is None or width in (None, made_width(source))) and may_use(choice, source)
            }
            open_to[key] = list(sized.values())
        return open_to[key]

    fitting = []
    for choice, by_option in zip(instance.choices, shapes, strict=True):
        kept = []
        for taken, (option, by_piece) in enumerate(zip(choice.options, by_option, strict=True)):
            allowed = allowed_for(choice, option.order_width)
            if all(any(fits(shape, ground) for shape in ways for ground in allowed) for ways in by_piece):
                kept.append(taken)
        fitting.append(tuple(kept))
    return tuple(fitting)


def _prices(instance: Instance) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return rates and openings of all sources in the first level that counts goods."""
    for roll, run, _, _, money, _, _ in instance.weights.levels:
        if not (roll or run or money):
            continue
        rates, openings = [], []
        for source in instance.sources:
            priced = money * source.cost_per_unit
            width = made_width(source) if source.terms is not None else 0
            rates.append(max((roll + run) * width, 0) + round(priced))
            openings.append(money * source.cost)
        return tuple(rates), tuple(openings)
    return tuple(made_width(s) if s.terms else 0 for s in instance.sources), (0,) * len(instance.sources)


def masks_of(ready: Ready) -> tuple[tuple[bool, ...], ...]:
    """Return the anchorings worth starting from: none, all orders, all sources of unknown phase."""
    instance = ready.instance
    none = (False,) * len(instance.sources)
    if instance.lattice is None:
        return (none,)
    every = tuple(may_anchor(source) for source in instance.sources)
    orders = tuple(may and source.terms is not None for may, source in zip(every, instance.sources, strict=True))
    return tuple(dict.fromkeys((none, orders, every)))
