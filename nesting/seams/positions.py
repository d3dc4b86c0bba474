"""Seam positions worth trying: breadths as wide as the goods, the fill left, right or between, and chosen places."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

from nesting.seams.family import Interval, last_allowed, next_allowed

Seams = tuple[int, ...]

MOST_STOCK = 6
"""So many of the widest pieces in hand are looked at together …"""
MOST_IN_HAND = 4
"""… of which up to so many make up a room."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """The floor's extent across as breadths see it.

    `low_nm`, `high_nm`: the swept floor's ends on the cutting step; `half_nm`: the seam allowance of either side;
    `left_nm`, `right_nm`: selvedge to keep off at the two walls, `selvedge_nm` at seams; `repeat_nm`: the repeat
    across where neighbouring breadths are bound to it, and `shift_nm` how far right of where it could the first one
    lies in the goods then; a breadth that starts whole repeats from `origin_nm` (None: from where the one at the wall
    starts) could lie against the goods' left usable edge. `widest_nm`: the widest piece that gets into the room.
    `most`: no more breadths than this.
    """

    low_nm: int
    high_nm: int
    allowed: tuple[Interval, ...]
    step_nm: int
    half_nm: int
    left_nm: int = 0
    right_nm: int = 0
    selvedge_nm: int = 0
    repeat_nm: int | None = None
    shift_nm: int = 0
    origin_nm: int | None = None
    widest_nm: int | None = None
    most: int = 60

    def mirrored(self, width_nm: int) -> Line:
        """Return the line seen from the other side, for goods of a width."""
        usable = width_nm - 2 * self.selvedge_nm
        return replace(
            self,
            low_nm=-self.high_nm,
            high_nm=-self.low_nm,
            allowed=tuple((-high, -low) for low, high in reversed(self.allowed)),
            left_nm=self.right_nm,
            right_nm=self.left_nm,
            origin_nm=None if self.origin_nm is None else -(self.origin_nm + usable),
        )

    @property
    def origin(self) -> int:
        """Where a breadth starts that lies against the goods' left usable edge."""
        return self.low_nm + self.selvedge_nm - self.left_nm if self.origin_nm is None else self.origin_nm

    def through(self, seam: int) -> Line:
        """Return the line with the breadth to the right of a seam against the goods' edge."""
        return self if self.repeat_nm is None else replace(self, origin_nm=self.start_of(seam))

    def start_of(self, seam: int | None) -> int:
        """Return the left rough side of the breadth to the right of a seam (None: of the wall)."""
        if seam is None:
            return self.low_nm
        return self.low_nm + (seam - self.half_nm - self.low_nm) // self.step_nm * self.step_nm

    def end_of(self, seam: int | None) -> int:
        """Return the right rough side of the breadth to the left of a seam (None: of the wall)."""
        if seam is None:
            return self.high_nm
        return self.low_nm - (self.low_nm - seam - self.half_nm) // self.step_nm * self.step_nm

    def reach(self, seam: int | None, width_nm: int, *, to_wall: bool) -> int:
        """Return how far right a breadth that starts at a seam can reach in goods of a width."""
        start = self.start_of(seam)
        left = self.left_nm if seam is None else self.selvedge_nm
        right = self.right_nm if to_wall else self.selvedge_nm
        lost = 0
        if self.repeat_nm is not None:
            lost = (self.selvedge_nm + self.shift_nm + start - self.origin - left) % self.repeat_nm
        room = width_nm - left - right - lost
        if self.widest_nm is not None:
            room = min(room, self.widest_nm)
        return start + room // self.step_nm * self.step_nm

    def farthest(self, seam: int | None, width_nm: int) -> int | None:
        """Return the farthest allowed seam that a breadth from `seam` can reach, on the cutting step if possible."""
        limit = self.reach(seam, width_nm, to_wall=False) - self.half_nm
        found = last_allowed(self.allowed, limit)
        if found is None or found == limit:
            return found
        on_step = self.low_nm + (found + self.half_nm - self.low_nm) // self.step_nm * self.step_nm - self.half_nm
        return on_step if last_allowed(self.allowed, on_step) == on_step else found

    def nearest_equal(self, seam: int) -> int | None:
        """Return the least allowed seam not above `seam` from which the next breadth reaches as far.

        Under a repeat across the seam may slide within the surplus of the width over whole repeats.
        """
        if self.repeat_nm is None:
            return seam
        first = self.origin - self.shift_nm
        least = first + (self.start_of(seam) - first) // self.repeat_nm * self.repeat_nm
        on_step = self.low_nm - (self.low_nm - least) // self.step_nm * self.step_nm
        found = next_allowed(self.allowed, on_step + self.half_nm)
        return found if found is not None and found <= seam else seam


def fills(line: Line, width_nm: int, start: int | None, stop: int | None, *, early: bool = False) -> Seams | None:
    """Return the fewest seams strictly between two seams (None: the walls); None where no seams will do.

    Breadths are as wide as the goods from the left on, and the rest is in the last.
    `early`: seams as far left as they can be without the next breadth reaching less far.
    """
    seams: list[int] = []
    here = start
    while line.reach(here, width_nm, to_wall=stop is None) < line.end_of(stop):
        seam = line.farthest(here, width_nm)
        if seam is not None and early:
            seam = line.nearest_equal(seam)
        if seam is None or seam <= (line.low_nm if here is None else here) or len(seams) >= line.most:
            return None
        if stop is not None and seam >= stop:
            return None
        seams.append(seam)
        here = seam
    return tuple(seams)


def missing_width_nm(line: Line, width_nm: int) -> int:
    """Return by how much goods are too narrow for the widest stretch without an allowed seam (0: wide enough)."""
    here: int | None = None
    for _ in range(line.most):
        if line.reach(here, width_nm, to_wall=True) >= line.high_nm:
            return 0
        limit = line.reach(here, width_nm, to_wall=False) - line.half_nm
        seam = last_allowed(line.allowed, limit)
        if seam is None or seam <= (line.low_nm if here is None else here):
            following = next_allowed(line.allowed, limit)
            end = line.high_nm if following is None else line.end_of(following)
            reached = line.reach(here, width_nm, to_wall=following is None)
            return max(1, end - reached)
        here = seam
    return line.high_nm - line.low_nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """Widths and places to try besides those that follow from the goods alone."""

    widths_nm: tuple[int, ...] = ()  # of goods or rest of goods that one breadth may be made for
    places_nm: tuple[int, ...] = ()  # positions at which a seam may be worth having
    stock_nm: tuple[int, ...] = ()  # widths of goods in hand, each as often as it is there, that may serve together
    more: int = 2  # how many breadths more than the fewest


def seam_sets(line: Line, width_nm: int, wishes: Wishes) -> Iterator[Seams]:
    """Yield seam positions worth trying for goods of one width, the likeliest first; some may repeat."""
    mirrored = line.mirrored(width_nm)
    views = ((line, 1), (mirrored, -1))
    plain = [seen(fills(view, width_nm, None, None), sign) for view, sign in views]
    early = [seen(fills(view, width_nm, None, None, early=True), sign) for view, sign in views]
    found = [seams for seams in (*plain, *early, *_shifted(views, width_nm)) if seams is not None]
    if not found:
        for place in wishes.places_nm:
            yield from _through(line, width_nm, place)
        return
    yield from found
    yield from _from_stock(line, width_nm, wishes.stock_nm)
    if plain[0] is not None and plain[1] is not None:
        yield from _mixed(plain[0], plain[1])
    fewest = min(map(len, found))
    if fewest:
        yield from _balanced(line, fewest)
    yield from _for_widths(views, width_nm, wishes.widths_nm)
    for place in wishes.places_nm:
        yield from _through(line, width_nm, place)
    for count in range(fewest + 1, fewest + wishes.more + 1):
        yield from _balanced(line, count)


def seen(seams: Seams | None, sign: int) -> Seams | None:
    """Return seams of the line or of its mirror image in rising order of the line."""
    if seams is None or sign > 0:
        return seams
    return tuple(-seam for seam in reversed(seams))


def _mixed(from_left: Seams, from_right: Seams) -> Iterator[Seams]:
    """Yield the sets with the fill between: some breadths from the left, the others from the right."""
    if len(from_left) != len(from_right):
        return
    for j in range(1, len(from_left)):
        yield (*from_left[:j], *from_right[j:])
    yield tuple((a + b) // 2 for a, b in zip(from_left, from_right, strict=True))


def _shifted(views: tuple[tuple[Line, int], ...], width_nm: int) -> Iterator[Seams | None]:
    """Yield the sets in which a first breadth narrower than the goods lies at their far side.

    Under a repeat across, what follows a breadth begins in the goods where that one ended: one that ends at the right
    edge lets the next begin at the left and use the whole width.
    """
    for view, sign in views:
        if view.repeat_nm is None:
            continue
        limit = view.reach(None, width_nm, to_wall=False)
        places = {view.farthest(None, width_nm), *(seam for interval in view.allowed for seam in interval)}
        places.add(last_allowed(view.allowed, (view.low_nm + limit) // 2))
        for seam in sorted(place for place in places if place is not None):
            shift = limit - view.end_of(seam)
            if view.low_nm < seam and shift > 0:
                yield seen(fills(replace(view, shift_nm=shift), width_nm, None, None), sign)


def _from_stock(line: Line, width_nm: int, stock_nm: tuple[int, ...]) -> Iterator[Seams]:
    """Yield the sets whose breadths are each as wide as a piece in hand, every piece used once, in all orders."""
    for order in (order for count in range(2, MOST_IN_HAND + 1) for order in _orders(stock_nm, count)):
        seams: list[int] = []
        for width in order[:-1]:
            seam = line.farthest(seams[-1] if seams else None, width)
            if seam is None or seam <= (seams[-1] if seams else line.low_nm):
                break
            seams.append(seam)
        else:
            if line.reach(seams[-1], order[-1], to_wall=True) >= line.high_nm:
                yield tuple(seams)
                continue
            rest = fills(line, width_nm, seams[-1], None)
            if rest is not None and len(rest) <= 1 and len(order) == MOST_IN_HAND:
                yield (*seams, *rest)


def _orders(widths_nm: tuple[int, ...], count: int) -> Iterator[tuple[int, ...]]:
    """Yield the distinct orders of so many of the widths."""
    yield from dict.fromkeys(permutations(sorted(widths_nm, reverse=True)[:MOST_STOCK], count))


def _for_widths(views: tuple[tuple[Line, int], ...], width_nm: int, widths_nm: tuple[int, ...]) -> Iterator[Seams]:
    """Yield the sets in which one breadth is what a wished width can carry, or goes up to where that one must end."""
    for view, sign in views:
        whole = fills(view, width_nm, None, None)
        starts: list[Seams] = [()]
        if whole:
            starts += [whole[:i] for i in {1, len(whole) // 2, len(whole) - 1, len(whole)} if 0 < i <= len(whole)]
        for wished in widths_nm:
            for start in starts:
                seam = view.farthest(start[-1] if start else None, wished)
                if seam is None or seam <= (start[-1] if start else view.low_nm):
                    continue
                for rest in _ways(view, width_nm, seam, widths_nm):
                    out = seen((*start, seam, *rest), sign)
                    if out is not None:
                        yield out


def _ways(view: Line, width_nm: int, seam: int, widths_nm: tuple[int, ...]) -> Iterator[Seams]:
    """Yield the ways to cover what is right of a seam: from it, from the wall, or in one breadth of a wished width."""
    ahead = fills(view, width_nm, seam, None)
    if ahead is not None:
        yield ahead
        if ahead:
            back = seen(fills(view.mirrored(width_nm), width_nm, None, -seam), -1)
            if back is not None:
                yield back
    for wished in widths_nm:
        if wished > width_nm and view.reach(seam, wished, to_wall=True) >= view.high_nm:
            yield ()
            break


def _through(line: Line, width_nm: int, place: int) -> Iterator[Seams]:
    """Yield the sets with a seam at a chosen place, the fills against it or against the walls."""
    if last_allowed(line.allowed, place) != place:
        return
    bound = line.through(place)
    mirrored = bound.mirrored(width_nm)
    lefts = (
        seen(fills(mirrored, width_nm, -place, None), -1),
        fills(bound, width_nm, None, place),
    )
    rights = (
        fills(bound, width_nm, place, None),
        seen(fills(mirrored, width_nm, None, -place), -1),
    )
    for left in dict.fromkeys(lefts):
        for right in dict.fromkeys(rights):
            if left is not None and right is not None:
                yield (*left, place, *right)


def _balanced(line: Line, count: int) -> Iterator[Seams]:
    """Yield seams that make breadths as equal as the rules allow."""
    span = line.high_nm - line.low_nm
    seams = []
    for i in range(1, count + 1):
        ideal = line.low_nm + span * i // (count + 1)
        ideal = line.low_nm + (ideal + line.half_nm - line.low_nm) // line.step_nm * line.step_nm - line.half_nm
        below, above = last_allowed(line.allowed, ideal), next_allowed(line.allowed, ideal)
        choices = [seam for seam in (below, above) if seam is not None]
        if not choices:
            return
        seams.append(min(choices, key=lambda seam: abs(seam - ideal)))
    if all(a < b for a, b in pairwise(seams)):
        yield tuple(seams)
