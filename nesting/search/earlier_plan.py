"""An earlier plan as the start of a search: its layouts and places, as far as they still fit; what became of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.domain.geometry import Point, bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.plan import CutSource, MaterialPlan, Notice, Placement, Plan, SourceKind
from nesting.model.building import Built, BuiltOption, Part, at_phase
from nesting.model.instance import Solution, Spot
from nesting.model.valuing import value_of
from nesting.seams.earlier import cuts_by_owner, is_laid_as
from nesting.search.earlier import Taken
from nesting.units import format_length

EARLIER = "earlier-plan"
"""The notice of what became of the plan that a search began with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lying:
    """Where the cuts of the earlier plan lie, on the sources of today's instance."""

    built: Built
    plan: MaterialPlan
    layouts: Mapping[str, RoomLayout]
    places: Mapping[str, Placement]  # by cut
    sources: Mapping[str, CutSource]
    indexes: Mapping[str, int]  # of the instance's sources, by the plan's; those that are gone are left out
    anchored: tuple[bool, ...]

    def spots(self, choice: str, way: BuiltOption, cuts: tuple[Cut, ...]) -> tuple[Spot, ...] | None:
        """Return where the parts of an option lie; None if it is not what the plan has, or its goods are gone."""
        if way.laid is None:
            alike = _same_cuts(way, cuts)
        else:
            layout = self.layouts.get(choice)
            alike = layout is not None and is_laid_as(way.laid, layout, cuts) and self._goods_agree(way, cuts)
        lie = all(cut.id in self.places and self.places[cut.id].source_id in self.indexes for cut in cuts)
        if not alike or not lie:
            return None
        had = None if way.laid is None else self._phase_of(way.laid.layout.room_id)
        way = way if had is None else at_phase(way, self.built.groups, had)
        return tuple(self._spot(piece, part, self.places[part.cut.id]) for piece, part in enumerate(way.parts))

    def _goods_agree(self, way: BuiltOption, cuts: tuple[Cut, ...]) -> bool:
        """Tell whether an option is for the width that was ordered for its room, and fixes the phase that it had."""
        assert way.laid is not None
        on = [self.sources[self.places[cut.id].source_id] for cut in cuts if cut.id in self.places]
        ordered = {source.width_nm for source in on if source.kind is SourceKind.ORDER}
        if way.laid.order_width_nm is not None and not ordered <= {way.laid.order_width_nm}:
            return False
        had = self._phase_of(way.laid.layout.room_id)
        return had is None or all(w is None or w == h for w, h in zip(way.laid.phase_nm, had, strict=True))

    def _phase_of(self, room: str) -> Point | None:
        """Return the phase that the plan has for a room's group."""
        return next((group.phase_nm for group in self.plan.phase_groups if room in group.room_ids), None)

    def _spot(self, piece: int, part: Part, place: Placement) -> Spot:
        """Return the place of a cut in units: the way back from the plan's nanometres (`model.extracting`)."""
        index = self.indexes[place.source_id]
        item, engine = self.built.sources[index], self.built.instance.sources[index]
        unit = self.built.instance.unit_nm
        lost, start_nm = Fraction(0), 0
        if engine.terms is not None:
            lost = unit * (engine.terms.start + ((engine.terms.anchor_along or 0) if self.anchored[index] else 0))
            start_nm = self.sources[place.source_id].start_allowance_nm
        x = (place.x_nm - item.origin_nm[0] - part.residue_nm[0]) / unit
        y = (place.y_nm - start_nm + lost - item.origin_nm[1] - part.residue_nm[1]) / unit
        return Spot(piece=piece, source=index, x=round(x), y=round(y), turn=place.turn)


def goods_in_hand(plan: MaterialPlan | None) -> frozenset[str]:
    """Return the ids of the goods in hand that a plan cuts from."""
    return frozenset() if plan is None else frozenset(source.stock_id for source in plan.sources if source.stock_id)


def taken_over(built: Built, plan: MaterialPlan) -> Taken:
    """Return what `plan` gives the instance: rooms by id and layout, cuts by id and size, goods by id or lot and width.

    A choice is taken over when all its pieces are as they were and lie on goods that are still there.
    """
    indexes = _source_indexes(built, plan)
    anchored = {indexes[source.id] for source in plan.sources if source.id in indexes and source.anchored}
    lying = _Lying(
        built=built,
        plan=plan,
        layouts={layout.room_id: layout for layout in plan.layouts},
        places={place.cut_id: place for place in plan.placements},
        sources={source.id: source for source in plan.sources},
        indexes=indexes,
        anchored=tuple(index in anchored for index in range(len(built.sources))),
    )
    cuts = cuts_by_owner(plan)
    options: list[int | None] = []
    spots: list[tuple[Spot, ...]] = []
    for choice, ways in zip(built.instance.choices, built.options, strict=True):
        owner, _, number = choice.id.partition("#")
        mine = tuple(cut for cut in cuts.get(owner, ()) if not number or cut.of_item == int(number) - 1)
        found = ((option, lying.spots(choice.id, way, mine)) for option, way in enumerate(ways))
        taken = next(((option, spots_) for option, spots_ in found if spots_ is not None), None)
        options.append(None if taken is None else taken[0])
        spots.append(() if taken is None else taken[1])
    return Taken(options=tuple(options), spots=tuple(spots), anchored=lying.anchored)


def _same_cuts(way: BuiltOption, cuts: tuple[Cut, ...]) -> bool:
    """Tell whether the parts of a loose piece or strip are the cuts of the plan."""
    before = {cut.id: bounding_rect(cut.rects) for cut in cuts}
    return {cut.id: bounding_rect(cut.rects) for cut in (*way.held, *(part.cut for part in way.parts))} == before


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
            left = orders.get((source.lot, source.width_nm), [])
            needed = (source.start_allowance_nm + source.used_nm) / built.instance.unit_nm
            long_enough = [index for index in left if built.instance.sources[index].length >= needed]
            if long_enough:
                indexes[source.id] = long_enough[0]
                left.remove(long_enough[0])
        elif source.stock_id in in_hand:
            indexes[source.id] = in_hand[source.stock_id]
    return indexes


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
        return Notice(code=EARLIER, text=text)

    def _gain(self, job: Job, plan: MaterialPlan) -> str:
        """Return how much roll and how many seams the new plan saves, where it does."""
        width = max((width for width, length in plan.measures.ordered_nm if length), default=0)
        length = (self.roll_nm2 - plan.measures.roll_nm2) // width if width else 0
        seams = self.seams - _seams_of(plan)
        found = [f"{format_length(length, job.unit.value, with_unit=True)} less of roll"] if length > 0 else []
        if seams:
            found.append(f"{abs(seams)} seam{'s' if abs(seams) > 1 else ''} {'fewer' if seams > 0 else 'more'}")
        return f": {', '.join(found)}" if found else ""


def since_earlier(built: Built, taken: Taken, before: Solution | None, kept: bool) -> Since:
    """Return what became of an earlier plan, of which so much was taken over; what it would order for today's job."""
    roll, seams = Fraction(0), 0
    if before is not None:
        ordered = value_of(built.instance, before).ordered
        roll = sum(
            (
                length * built.instance.unit_nm * item.width_nm
                for length, item in zip(ordered, built.sources, strict=True)
            ),
            roll,
        )
        pairs = zip(built.instance.choices, before.options, strict=True)
        seams = sum(choice.options[option].seams for choice, option in pairs)
    return Since(
        kept=kept,
        whole=before is not None,
        taken=sum(option is not None for option in taken.options),
        choices=len(taken.options),
        roll_nm2=int(roll),
        seams=seams,
    )


def _seams_of(plan: MaterialPlan) -> int:
    measures = plan.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins


def without_word_of_it(plan: Plan) -> Plan:
    """Return the plan without what it says of the one that its search began with, where nobody gave one."""
    parts = (
        replace(part, notices=tuple(notice for notice in part.notices if notice.code != EARLIER))
        for part in plan.materials
    )
    return replace(plan, materials=tuple(parts))
