"""What a search takes over from an earlier solution, and when the earlier one is kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.model.instance import Instance, Solution, Spot
from nesting.model.valuing import faults_of, value_of
from nesting.search.scheme import Ready, Scheme
from nesting.search.starting import in_sequence, ranked_options, starting_schemes


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What is taken over from an earlier plan: per choice the option (None: nothing) and the spots of its pieces."""

    options: tuple[int | None, ...]
    spots: tuple[tuple[Spot, ...], ...]
    anchored: tuple[bool, ...]  # per source

    def solution(self, instance: Instance) -> Solution | None:
        """Return all of it as a solution, if it is complete and lawful."""
        options = tuple(option for option in self.options if option is not None)
        if len(options) < len(self.options):
            return None
        solution = Solution(options=options, spots=self.spots, anchored=self.anchored)
        return None if faults_of(instance, solution) else solution


def scheme_from(ready: Ready, taken: Taken) -> Scheme | None:
    """Return the scheme that places what was taken over in its old order, and then the rest; None for nothing."""
    base = next(starting_schemes(ready), None)
    if base is None or all(option is None for option in taken.options):
        return None
    instance = ready.instance
    options = list(base.options)
    lots = list(base.lots)
    arrows: dict[int, int | None] = {}
    order_lot = base.order_lot
    for number, option in enumerate(taken.options):
        if option is None:
            continue
        choice = instance.choices[number]
        options[number] = option
        if choice.arrow_group is not None:
            arrows[choice.arrow_group] = choice.options[option].arrow
        for spot in taken.spots[number]:
            source = instance.sources[spot.source]
            order_lot = source.lot if source.terms is not None else order_lot
            if choice.lot_group is not None:
                lots = [source.lot if n in ready.lot_mates[number] else lot for n, lot in enumerate(lots)]
    for number, ranked in enumerate(ranked_options(ready, True)):
        group = instance.choices[number].arrow_group
        if taken.options[number] is None and group in arrows:
            ways = instance.choices[number].options
            options[number] = next((o for o in ranked if ways[o].arrow == arrows[group]), options[number])
    given = tuple(options)
    sequence = in_sequence(ready, given, tuple(_in_old_order(ready, taken, given, base)))
    return replace(
        base, options=given, sequence=sequence, lots=tuple(lots), order_lot=order_lot, anchored=taken.anchored
    )


def _in_old_order(ready: Ready, taken: Taken, options: tuple[int, ...], base: Scheme) -> Iterator[tuple[int, int]]:
    """Yield all pieces: those taken over from the start of every source on, then the others, the longest first."""
    sources = ready.instance.sources
    lying = [
        (sources[spot.source].terms is not None, spot.source, spot.y, spot.x, number, spot.piece)
        for number, spots in enumerate(taken.spots)
        for spot in spots
    ]
    yield from ((number, piece) for *_, number, piece in sorted(lying))
    rest = [
        (-piece.length, -piece.width, number, index)
        for number, option in enumerate(options)
        if taken.options[number] is None
        for index, piece in enumerate(ready.instance.choices[number].options[option].pieces)
    ]
    yield from ((number, index) for _, _, number, index in sorted(rest))


def order_step_level(instance: Instance) -> int:
    """Return what one order step counts in the first level of the goal, at least 1.

    Where the first level counts no goods (fewest seams) it is the least that the level can differ by.
    """
    roll, run, _, _, money, _, _ = instance.weights.levels[0]
    found = []
    for source in instance.sources:
        if source.terms is not None:
            step = source.length if source.terms.whole else source.terms.step
            width = source.made_width or source.width
            found.append(int((roll + run) * width * step + money * source.cost_per_unit * step))
    return max(1, min(found, default=1))


def is_kept(instance: Instance, earlier: Solution, new: Solution, least_gain: int) -> bool:
    """Tell whether an earlier solution is kept: the new one is not better by `least_gain` order steps.

    `least_gain` 0: any improvement, of any level, will do.
    """
    had, found = value_of(instance, earlier).levels, value_of(instance, new).levels
    if least_gain == 0:
        return found >= had
    return found[0] > had[0] - least_gain * order_step_level(instance)
