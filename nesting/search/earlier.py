"""An earlier plan as the start of a search: its layouts and places, as far as they still fit the instance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.domain.geometry import bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut
from nesting.domain.plan import CutSource, MaterialPlan, Notice, Placement, SourceKind
from nesting.model.building import Built, BuiltOption, Part
from nesting.model.instance import Instance, Solution, Spot
from nesting.model.valuing import faults_of, value_of
from nesting.seams.earlier import cuts_by_owner, is_laid_as
from nesting.search.scheme import Ready, Scheme
from nesting.search.starting import in_sequence, ranked_options, starting_schemes
from nesting.units import format_length


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


def taken_over(built: Built, plan: MaterialPlan) -> Taken:
    """Return what `plan` gives the instance: rooms by id and layout, cuts by id and size, goods by id or lot and width.

    A choice is taken over when all its pieces are as they were and lie on goods that are still there.
    """
    cuts = cuts_by_owner(plan)
    layouts = {layout.room_id: layout for layout in plan.layouts}
    places = {place.cut_id: place for place in plan.placements}
    sources = {source.id: source for source in plan.sources}
    indexes = _source_indexes(built, plan)
    anchored = [False] * len(built.sources)
    for name, index in indexes.items():
        anchored[index] = sources[name].anchored
    options: list[int | None] = []
    spots: list[tuple[Spot, ...]] = []
    for choice, ways in zip(built.instance.choices, built.options, strict=True):
        owner, _, number = choice.id.partition("#")
        mine = tuple(cut for cut in cuts.get(owner, ()) if not number or cut.of_item == int(number) - 1)
        found: tuple[int, tuple[Spot, ...]] | None = None
        for option, way in enumerate(ways):
            if way.laid is not None:
                layout = layouts.get(choice.id)
                alike = layout is not None and is_laid_as(way.laid, layout, mine) and _phase_agrees(way, plan)
            else:
                alike = _same_cuts(way, mine)
            if alike and all(cut.id in places and places[cut.id].source_id in indexes for cut in mine):
                lying = [
                    _spot(built, number_, part, places[part.cut.id], sources, indexes, anchored)
                    for number_, part in enumerate(way.parts)
                ]
                found = (option, tuple(lying))
                break
        options.append(found[0] if found else None)
        spots.append(found[1] if found else ())
    return Taken(options=tuple(options), spots=tuple(spots), anchored=tuple(anchored))


def _phase_agrees(way: BuiltOption, plan: MaterialPlan) -> bool:
    """Tell whether the phase that an option fixes is the one that its room had."""
    assert way.laid is not None
    fixed = way.laid.phase_nm
    group = next((group for group in plan.phase_groups if way.laid.layout.room_id in group.room_ids), None)
    if group is None:
        return True
    return all(want is None or want == had for want, had in zip(fixed, group.phase_nm, strict=True))


def _same_cuts(way: BuiltOption, cuts: tuple[Cut, ...]) -> bool:
    """Tell whether the parts of a loose piece or strip are the cuts of the plan."""
    before = {cut.id: bounding_rect(cut.rects) for cut in cuts}
    return {part.cut.id: bounding_rect(part.cut.rects) for part in way.parts} == before


def _source_indexes(built: Built, plan: MaterialPlan) -> dict[str, int]:
    """Return the engine's source for every source of the plan that is still there.

    Goods in hand go by their id; rolls to order of one lot and width are interchangeable and go by their order.
    """
    in_hand = {item.stock.id: index for index, item in enumerate(built.sources) if item.stock is not None}
    orders: dict[tuple[str, int], list[int]] = {}
    for index, item in enumerate(built.sources):
        if item.stock is None:
            orders.setdefault((item.lot, item.width_nm), []).append(index)
    indexes: dict[str, int] = {}
    for source in plan.sources:
        if source.kind is SourceKind.ORDER:
            left = orders.get((source.lot, source.width_nm))
            if left:
                indexes[source.id] = left.pop(0)
        elif source.stock_id in in_hand:
            indexes[source.id] = in_hand[source.stock_id]
    return indexes


def _spot(
    built: Built,
    piece: int,
    part: Part,
    place: Placement,
    sources: dict[str, CutSource],
    indexes: dict[str, int],
    anchored: list[bool],
) -> Spot:
    """Return the place of a cut in units: the way back from the plan's nanometres (`model.extracting`)."""
    index = indexes[place.source_id]
    item, engine, unit = built.sources[index], built.instance.sources[index], built.instance.unit_nm
    lost = Fraction(0)
    start_nm = 0
    if engine.terms is not None:
        lost = unit * (engine.terms.start + ((engine.terms.anchor_along or 0) if anchored[index] else 0))
        start_nm = sources[place.source_id].start_allowance_nm
    x = (place.x_nm - item.origin_nm[0] - part.residue_nm[0]) / unit
    y = (place.y_nm - start_nm + lost - item.origin_nm[1] - part.residue_nm[1]) / unit
    return Spot(piece=piece, source=index, x=round(x), y=round(y), turn=place.turn)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """What became of an earlier plan: kept, beaten, or taken over in part only."""

    kept: bool
    whole: bool  # all of it could be taken over
    taken: int  # rooms, loose pieces and runs of strips that could
    choices: int
    roll_nm2: int
    seams: int

    def notice(self, job: Job, plan: MaterialPlan, least_gain: int) -> Notice:
        """Return it in words; `plan` is the new plan."""
        if self.kept:
            steps = "" if least_gain == 0 else f" by {least_gain} order step{'s' if least_gain > 1 else ''} or more"
            text = f"the earlier plan is kept: none was found that is better{steps}"
        elif self.whole:
            text = f"better than the earlier plan{self._gain(job, plan)}"
        else:
            text = f"the earlier plan fits no more as a whole; {self.taken} of {self.choices} rooms and pieces do"
        return Notice(code="earlier-plan", text=text)

    def _gain(self, job: Job, plan: MaterialPlan) -> str:
        """Return how much roll and how many seams the new plan saves, where it does."""
        width = max((width for width, length in plan.measures.ordered_nm if length), default=0)
        length = (self.roll_nm2 - plan.measures.roll_nm2) // width if width else 0
        seams = self.seams - _seams_of(plan)
        found = [f"{format_length(length, job.unit.value, with_unit=True)} less of roll"] if length > 0 else []
        if seams:
            found.append(f"{abs(seams)} seam{'s' if abs(seams) > 1 else ''} {'fewer' if seams > 0 else 'more'}")
        return f": {', '.join(found)}" if found else ""


def since_earlier(plan: MaterialPlan, taken: Taken, before: Solution | None, kept: bool) -> Since:
    """Return what became of the earlier `plan`, of which so much was taken over."""
    return Since(
        kept=kept,
        whole=before is not None,
        taken=sum(option is not None for option in taken.options),
        choices=len(taken.options),
        roll_nm2=plan.measures.roll_nm2,
        seams=_seams_of(plan),
    )


def _seams_of(plan: MaterialPlan) -> int:
    measures = plan.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
