"""Why there can be no solution: choices none of whose options goes into the goods."""

from __future__ import annotations

from nesting.model.ground import grounds_of, made_width
from nesting.model.instance import Choice, Option, may_use
from nesting.model.shapes import Shape
from nesting.search.scheme import Ready, fits


def reasons_of(ready: Ready) -> tuple[str, ...]:
    """Return one reason per choice that has no usable option; () when every choice has one.

    A reason names the piece of the option that comes nearest to fitting, and by how many units it is too wide or too
    long for the goods that come nearest to holding it.
    """
    reasons = []
    for number, (choice, usable) in enumerate(zip(ready.instance.choices, ready.usable, strict=True)):
        if usable:
            continue
        nearest = [_excess_of_option(ready, number, taken) for taken in range(len(choice.options))]
        if not nearest:
            reasons.append(f"{choice.id}: there is no layout to choose")
            continue
        wide, long, piece = min(nearest, key=lambda item: (item[0] + item[1], item[2]))
        parts = [f"{wide} too wide"] * (wide > 0) + [f"{long} too long"] * (long > 0)
        reasons.append(f"{piece}: {' and '.join(parts) or 'fits no goods that its layout may be cut from'}")
    return tuple(reasons) or _without_common_arrow(ready) or _without_common_lot(ready)


def _without_common_lot(ready: Ready) -> tuple[str, ...]:
    """Return one reason per lot group for whose choices goods of no common lot are named."""
    common: dict[int, set[str]] = {}
    names: dict[int, list[str]] = {}
    for choice in ready.instance.choices:
        if choice.lot_group is not None:
            lots = {source.lot for source in ready.instance.sources if may_use(choice, source)}
            common[choice.lot_group] = common.get(choice.lot_group, lots) & lots
            names.setdefault(choice.lot_group, []).append(choice.id)
    return tuple(f"{', '.join(names[group])}: no lot in common" for group, lots in sorted(common.items()) if not lots)


def _without_common_arrow(ready: Ready) -> tuple[str, ...]:
    """Return one reason per arrow group whose choices have no arrow in common."""
    common: dict[int, set[int | None]] = {}
    names: dict[int, list[str]] = {}
    for choice, usable in zip(ready.instance.choices, ready.usable, strict=True):
        if choice.arrow_group is not None:
            arrows = {choice.options[taken].arrow for taken in usable}
            common[choice.arrow_group] = common.get(choice.arrow_group, arrows) & arrows
            names.setdefault(choice.arrow_group, []).append(choice.id)
    return tuple(
        f"{', '.join(names[group])}: no lay direction in common"
        for group, arrows in sorted(common.items())
        if not arrows
    )


def _excess_of_option(ready: Ready, number: int, taken: int) -> tuple[int, int, str]:
    """Return the worst excess (across, along) among the pieces of an option, and that piece's id."""
    choice = ready.instance.choices[number]
    option = choice.options[taken]
    worst = (0, 0, option.pieces[0].id if option.pieces else choice.id)
    for piece, ways in zip(option.pieces, ready.shapes[number][taken], strict=True):
        wide, long = _excess(ready, choice, option, ways)
        if wide + long > worst[0] + worst[1]:
            worst = (wide, long, piece.id)
    return worst


def _excess(ready: Ready, choice: Choice, option: Option, ways: tuple[Shape, ...]) -> tuple[int, int]:
    """Return by how much a piece is too wide and too long for the source that comes nearest to holding it."""
    instance = ready.instance
    grounds = grounds_of(instance, (False,) * len(instance.sources))
    nearest: tuple[int, int] | None = None
    for source, ground in zip(instance.sources, grounds, strict=True):
        if source.terms is not None and option.order_width not in (None, made_width(source)):
            continue
        if not may_use(choice, source):
            continue
        for shape in ways:
            if fits(shape, ground):
                return 0, 0
            wide = max(0, shape.inset_left + shape.width + shape.inset_right - ground.width)
            long = max(0, shape.length - (ground.high - ground.low))
            if nearest is None or wide + long < sum(nearest):
                nearest = (wide, long)
    return nearest or (max(s.width for s in ways), max(s.length for s in ways))
