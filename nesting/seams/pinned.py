"""Layouts that keep the pins of a room: sets of seams made so that the pinned ones stand where they are pinned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice, pairwise, product

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.floor.pinned import lies_on, place_of
from nesting.seams.family import last_allowed, next_allowed
from nesting.seams.positions import Line, Seams, Wishes, fills, seen

MOST_PINNED = 400
"""Sets of seams made up from the ways beside pinned seams, for one choice of places."""

MOST_WAYS = 12
"""Ways looked at between two pinned seams where there are several such stretches."""

Stretch = tuple[int | None, int | None]
"""Between two seams; None: a wall."""


def keeps_pins(
    room: Room, material: Material, direction: LayDirection, seams: Seams, crossings: Sequence[Sequence[int]]
) -> bool:
    """Tell whether a layout keeps what is pinned in a room; cross seams by breadth, relief cuts not looked at."""
    pins = room.pinned
    if pins.most_seams is not None and len(seams) + sum(map(len, crossings)) > pins.most_seams:
        return False
    if not all(any(lies_on(at, seam, direction, material) for at in seams) for seam in pins.seams):
        return False
    if pins.layout is None:
        return True
    cross = sorted((breadth, at) for breadth, levels in enumerate(crossings) for at in levels)
    same = (pins.layout.direction, pins.layout.seams_nm, tuple(sorted(pins.layout.cross_seams_nm)))
    return same == (direction, seams, tuple(cross))


def pinned_places(room: Room, material: Material, direction: LayDirection, line: Line) -> tuple[Seams, ...]:
    """Return where the pinned seams of a room may stand together, the likeliest first; () where nothing is pinned.

    Each stands on its line, or within the precision of it where both its pieces end on the cutting step.
    """
    ways = []
    for seam in room.pinned.seams:
        low, high = place_of(seam, direction)
        exact = (low + high) // 2
        base = line.low_nm - line.half_nm
        below = base + (exact - base) // line.step_nm * line.step_nm
        near = sorted((below, below + line.step_nm), key=lambda at: (abs(at - exact), at))
        ways.append([at for at in dict.fromkeys([*near, exact]) if lies_on(at, seam, direction, material)])
    if not ways:
        return ()
    return tuple(dict.fromkeys(tuple(sorted(set(places))) for places in product(*ways)))


def pinned_sets(line: Line, width_nm: int, wishes: Wishes, pinned: Seams) -> Iterator[Seams]:
    """Yield seam sets with the pinned seams among them, the likeliest first: every stretch beside them by itself."""
    if any(last_allowed(line.allowed, seam) != seam for seam in pinned):
        return
    bounds = (line, *(line.through(seam) for seam in pinned)) if line.repeat_nm is not None else (line,)
    for bound in bounds:
        stretches = list(pairwise((None, *pinned, None)))
        each = None if len(stretches) == 2 else MOST_WAYS
        ways = [list(islice(dict.fromkeys(_ways(bound, width_nm, wishes, stretch)), each)) for stretch in stretches]
        for chosen in islice(sorted(product(*map(enumerate, ways)), key=_rank), MOST_PINNED):
            between = [seams for _, seams in chosen]
            yield (*between[0], *(at for seam, rest in zip(pinned, between[1:], strict=True) for at in (seam, *rest)))


def _rank(chosen: tuple[tuple[int, Seams], ...]) -> tuple[int, int]:
    return sum(len(seams) for _, seams in chosen), sum(number for number, _ in chosen)


def _ways(line: Line, width_nm: int, wishes: Wishes, stretch: Stretch) -> Iterator[Seams]:
    """Yield the seams strictly inside a stretch: from its left, from its right, balanced, for wished widths."""
    views = ((line, 1, stretch), (line.mirrored(width_nm), -1, _mirrored(stretch)))
    found = []
    for view, sign, (start, stop) in views:
        for early in (False, True):
            seams = seen(fills(view, width_nm, start, stop, early=early), sign)
            if seams is not None:
                found.append(seams)
    yield from found
    if not found:
        return
    fewest = min(map(len, found))
    for view, sign, (start, stop) in views:
        for wished in wishes.widths_nm:
            first = view.farthest(start, wished)
            if first is None or first <= _from(view, start) or (stop is not None and first >= stop):
                yield from ((),) if wished > width_nm and _reaches(view, start, stop, wished) else ()
                continue
            rest = fills(view, width_nm, first, stop)
            way = None if rest is None else seen((first, *rest), sign)
            if way is not None:
                yield way
    for place in wishes.places_nm:
        yield from _through(line, width_nm, stretch, place)
    for count in range(max(1, fewest), fewest + wishes.more + 1):
        yield from _balanced(line, stretch, count)


def _mirrored(stretch: Stretch) -> Stretch:
    start, stop = stretch
    return (None if stop is None else -stop), (None if start is None else -start)


def _from(line: Line, start: int | None) -> int:
    return line.low_nm if start is None else start


def _reaches(line: Line, start: int | None, stop: int | None, width_nm: int) -> bool:
    """Tell whether one breadth of goods in hand covers a stretch."""
    return line.reach(start, width_nm, to_wall=stop is None) >= line.end_of(stop)


def _through(line: Line, width_nm: int, stretch: Stretch, place: int) -> Iterator[Seams]:
    """Yield the seams of a stretch with one at a chosen place."""
    start, stop = stretch
    low, high = _from(line, start), line.high_nm if stop is None else stop
    if not low < place < high or last_allowed(line.allowed, place) != place:
        return
    left, right = fills(line, width_nm, start, place), fills(line, width_nm, place, stop)
    if left is not None and right is not None:
        yield (*left, place, *right)


def _balanced(line: Line, stretch: Stretch, count: int) -> Iterator[Seams]:
    """Yield so many seams that make the breadths of a stretch as equal as the rules allow."""
    start, stop = stretch
    low, high = line.start_of(start), line.end_of(stop)
    seams = []
    for i in range(1, count + 1):
        ideal = low + (high - low) * i // (count + 1)
        ideal = line.low_nm + (ideal + line.half_nm - line.low_nm) // line.step_nm * line.step_nm - line.half_nm
        choices = (last_allowed(line.allowed, ideal), next_allowed(line.allowed, ideal))
        known = [seam for seam in choices if seam is not None]
        if not known:
            return
        seams.append(min(known, key=lambda seam, ideal=ideal: abs(seam - ideal)))  # type: ignore[misc]
    ends = (_from(line, start), *seams, line.high_nm if stop is None else stop)
    if all(a < b for a, b in pairwise(ends)):
        yield tuple(seams)
