"""The cut list of the page and of the labels, row by row, in words."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from nesting.domain.done import CutState
from nesting.domain.geometry import Point, Rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, CutKind
from nesting.domain.lying import Counted, counted_repeats, has_notches, mark_text, placed_size
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, Placement, Plan
from nesting.floor.rings import turned_rects
from nesting.report.ends import Ends, ends_of
from nesting.site.lifting import LARGEST_TEAM, people_to_lift, weight_of_cut_g
from nesting.units import Rounding, both_systems, format_length, format_weight, other_system


@dataclass(frozen=True, slots=True, kw_only=True)
class Both:
    """A measure in the job's unit and in the other system."""

    own: str
    other: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """One cut in words. `weight` None: the weight of its material is not known. `lift`: how many people it takes.

    `found`: patterned goods: the whole repeats and the rest that lie between it and the cut named.
    `ends`: what its sides lie against; None for what is no drop. `mark`: its first pattern mark, from its own corner.
    `rects`: disjoint rectangles that are its rough cut, as it lies on its goods, from its own corner.
    """

    id: str
    number: int
    label: str
    owner: str
    kind: CutKind
    material: str
    source: str
    source_id: str
    lot: str
    across: Both
    along: Both
    from_start: Both
    from_left: Both
    turned: str
    notched: bool
    found: str
    weight: Both | None
    lift: str
    state: str
    ends: Ends | None
    mark: str
    rects: tuple[Rect, ...]
    change: str = ""

    @property
    def is_done(self) -> bool:
        """Tell whether it is cut already."""
        return self.state != CutState.PLANNED


def both(nm: int, job: Job, rounding: Rounding = "nearest") -> Both:
    """Return a length in both systems."""
    own, other = both_systems(nm, job.unit.value, rounding=rounding)
    return Both(own=own, other=other)


def cut_rows(plan: Plan, changed: frozenset[str] = frozenset()) -> list[CutRow]:
    """Return all cuts in the order in which they are cut: material by material, source by source, from its start.

    `changed`: ids of the cuts that are not as in the plan before.
    """
    rows: list[CutRow] = []
    for part in plan.materials:
        listed = _Listed(plan, part)
        rows += listed.rows(changed)
    return rows


class _Listed:
    """The cuts of one material."""

    def __init__(self, plan: Plan, part: MaterialPlan) -> None:
        self.job, self.part = plan.job, part
        self.material: Material = next(item for item in plan.job.materials if item.id == part.material_id)
        self.rooms: dict[str, Room] = {room.id: room for room in plan.job.rooms}
        self.names = {owner.id: owner.name for owner in plan.job.owners}
        self.spots = {spot.cut_id: spot for spot in part.placements}
        self.sources = {source.id: source for source in part.sources}
        self.counted = counted_repeats(part, self.material)

    def rows(self, changed: frozenset[str]) -> list[CutRow]:
        places = {source.id: place for place, source in enumerate(self.part.sources)}

        def order(cut: Cut) -> tuple[int, int, int, int]:
            spot = self.spots[cut.id]
            return places[spot.source_id], spot.y_nm, spot.x_nm, cut.number

        # Numbers are the cutting order where nothing is done; where cuts keep an earlier number, places are.
        as_numbered = all(cut.state == CutState.PLANNED for cut in self.part.cuts) and not changed
        cuts = sorted(self.part.cuts, key=(lambda cut: cut.number) if as_numbered else order)
        return [self._row(cut, changed) for cut in cuts]

    def _row(self, cut: Cut, changed: frozenset[str]) -> CutRow:
        spot = self.spots[cut.id]
        source = self.sources[spot.source_id]
        across, along = placed_size(cut, spot)
        grams = weight_of_cut_g(cut, self.material)
        room = self.rooms.get(cut.owner)
        unit = self.job.unit.value
        return CutRow(
            id=cut.id,
            number=cut.number,
            label=cut.label,
            owner=self.names.get(cut.owner, cut.owner),
            kind=cut.kind,
            material=self.material.name,
            source=source.stock_id or source.id,
            source_id=source.id,
            lot=source.lot,
            across=both(across, self.job, "up"),
            along=both(along, self.job, "up"),
            from_start=both(spot.y_nm, self.job),
            from_left=both(spot.x_nm, self.job),
            turned=_turned(spot.turn),
            notched=has_notches(cut),
            found=_found(self.counted.get(cut.id), unit),
            weight=_weight(grams, unit),
            lift=_lift(grams),
            state=cut.state,
            ends=None if room is None else ends_of(self.part, room, cut, spot.turn),
            mark=self._mark(source, spot),
            rects=turned_rects(cut.rects, 0, 0, spot.turn),
            change="new" if cut.id in changed and cut.state == CutState.PLANNED else "",
        )

    def _mark(self, source: CutSource, spot: Placement) -> str:
        """Return where the first pattern mark of a cut lies, from its lower left corner as it lies on its goods."""
        phase: Point | None = None
        if source.phase_nm is not None:
            phase = (source.phase_nm[0] + spot.x_nm, source.phase_nm[1] + spot.y_nm)
        return mark_text(self.material, source, phase, self.job.unit.value)


def _turned(turn: int) -> str:
    return {0: "", 1: "a quarter turn to the left", 2: "end for end", 3: "a quarter turn to the right"}[turn % 4]


def _found(counted: Counted | None, unit: str) -> str:
    """Return how a cut of patterned goods is found from the one before."""
    if counted is None:
        return ""
    begin = "the first mark" if counted.number is None else f"no. {counted.number}"
    rest = format_length(counted.rest_nm, unit, with_unit=True)
    repeats = f"{counted.repeats} repeat{'s' if counted.repeats != 1 else ''}"
    return f"{repeats} and {rest} on from {begin}" if counted.rest_nm else f"{repeats} on from {begin}"


def _weight(grams: Fraction | None, unit: str) -> Both | None:
    if grams is None:
        return None
    return Both(own=format_weight(grams, unit), other=format_weight(grams, other_system(unit)))


def _lift(grams: Fraction | None) -> str:
    """Return how many people should lift a cut."""
    if grams is None:
        return "weight not known"
    people = people_to_lift(grams)
    if people > LARGEST_TEAM:
        return "not by hand: trolley or hoist"
    return f"{people} {'person' if people == 1 else 'people'}"
