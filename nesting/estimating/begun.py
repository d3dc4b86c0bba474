"""What has begun of a plan: which cuts were made, what came, and what of it cannot be."""

from __future__ import annotations

from dataclasses import dataclass, field

from nesting.domain.done import CutState
from nesting.domain.job import Job
from nesting.domain.plan import CutSource, MaterialPlan, Notice, Plan, SourceKind
from nesting.domain.rules import RuleId
from nesting.domain.state import Delivered, State
from nesting.errors import Fault
from nesting.estimating.on_hand import lying_on
from nesting.model.finishing import overlap
from nesting.seams.clusters import cluster_rooms


@dataclass(slots=True, kw_only=True)
class Begun:
    """What is known of the plan's cuts and goods while the job is made."""

    plan: Plan
    state: State
    job: Job
    made: dict[str, str] = field(default_factory=dict)  # cut id -> state
    spoiled: set[str] = field(default_factory=set)
    before: frozenset[str] = frozenset()  # of the cuts that were made, what the plan knew of already
    faults: list[Fault] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)

    def fault(self, code: str, what: str, hint: str = "", line: int = 0) -> None:
        """Note what cannot be."""
        self.faults.append(Fault(code=code, what=what, hint=hint, line=line))

    def news(self) -> frozenset[str]:
        """Return the cuts that were made, or spoiled, since the plan was made."""
        return frozenset(self.made) - self.before | self.spoiled

    def kept(self) -> frozenset[str]:
        """Return the cuts that were made and are still what they were made for."""
        return frozenset(self.made) - self.spoiled


def mark_made(begun: Begun) -> None:
    """Note which cuts were made: by the plan, if it was one with work done, and by the state."""
    state = begun.state
    for part in begun.plan.materials:
        for cut in part.cuts:
            if cut.state != CutState.PLANNED:
                begun.made[cut.id] = cut.state
    begun.before = frozenset(begun.made)
    begun.made |= dict.fromkeys(state.cut, CutState.CUT.value)
    begun.made |= dict.fromkeys((item.cut_id for item in state.spoiled), CutState.CUT.value)
    begun.made |= dict.fromkeys(state.laid, CutState.LAID.value)
    begun.spoiled |= {item.cut_id for item in state.spoiled}
    laid = {name for name, how in begun.made.items() if how == CutState.LAID}
    for item in state.spoiled:
        if item.cut_id in laid:
            begun.made[item.cut_id] = CutState.CUT.value  # taken up again


def told_of(begun: Begun, material_id: str) -> list[Delivered]:
    """Return what is told of the rolls of a material."""
    mine = {source.id for part in begun.plan.materials if part.material_id == material_id for source in part.sources}
    return [item for item in begun.state.delivered if item.source_id in mine]


def see_that_goods_agree(begun: Begun) -> None:
    """Note what is told of the goods and cannot be, or not any more."""
    state = begun.state
    for part in begun.plan.materials:
        cut = begun.made.keys() & {item.id for item in part.cuts}
        mine = told_of(begun, part.material_id)
        measured = {(item.along_nm, item.across_nm) for item in mine if (item.along_nm, item.across_nm) != (None, None)}
        told = [item for item in mine if item.along_nm is not None or item.across_nm is not None]
        if cut and told:
            what = "the repeat can be entered before anything is cut, not after"
            begun.fault("repeat-too-late", what, "measure from the last cut, as the cut list says", told[0].line)
        if len(measured) > 1:
            begun.fault("two-repeats", "rolls of one material have one repeat", "give the longer one", told[-1].line)
        wound = [item for item in mine if item.wound_other_way]
        if wound and cut:
            what = "goods that are cut already cannot be wound the other way"
            begun.fault("wound-too-late", what, "leave it out", wound[0].line)
        if wound and len(wound) < sum(source.kind is SourceKind.ORDER for source in part.sources):
            what = "some rolls of a material are wound the other way than others"
            begun.fault("wound-apart", what, "rewind these, and leave it out", wound[0].line)
        for source in part.sources:
            _see_that_cuts_are_whole(begun, part, source)
    known = {source.id for part in begun.plan.materials for source in part.sources}
    for item in state.delivered:
        if item.source_id not in known:
            begun.fault("unknown-roll", f"{item.source_id} is no roll of the plan", _names(known), item.line)


def _see_that_cuts_are_whole(begun: Begun, part: MaterialPlan, source: CutSource) -> None:
    """Note cuts that were made outside the roll as it came, or on a flaw of it."""
    came = next((item for item in begun.state.delivered if item.source_id == source.id), None)
    width = came.width_nm if came is not None and came.width_nm is not None else source.width_nm
    length = came.length_nm if came is not None and came.length_nm is not None else source.length_nm
    flaws = [] if came is None else [(rect, came.line) for rect in came.flaws]
    flaws += [(flaw.rect, flaw.line) for flaw in begun.state.flaws if flaw.source_id == source.id]
    kept = begun.kept()
    selvedge = next((item.selvedge_nm for item in begun.job.materials if item.id == part.material_id), 0)
    for item in lying_on(part, source.id):
        if item.cut.id not in kept:
            continue
        right = max(rect.x1_nm for rect in item.rects)
        edge = min(selvedge, source.width_nm - right)  # it lay so far off the edge, and its selvedge still must
        if right > width - edge or any(rect.y1_nm > length for rect in item.rects):
            what = f"cut {item.cut.number} was made, and {source.id} as it came does not hold it"
            begun.fault("cut-outside", what, "check width and length of the roll", came.line if came else 0)
        for rect, line in flaws:
            if any(overlap(rect, other) for other in item.rects):
                what = f"the flaw of {source.id} lies in cut {item.cut.number}, which was made"
                hint = f"say that cut {item.cut.number} is spoiled, and what is left of it"
                begun.fault("flaw-in-cut", what, hint, line)


def see_that_lots_agree(begun: Begun, job: Job) -> None:
    """Note rooms of which cuts were made from goods that turned out to be of two lots."""
    lots = {piece.id: piece.lot or piece.id for piece in job.stock}
    for material in job.materials:
        rooms = {room.id: room for room in job.rooms if room.material_id == material.id}
        clusters = cluster_rooms(job, material, list(rooms))
        bound = {name: clusters.lot[name] for name, room in rooms.items() if room.rules.holds(RuleId.ONE_LOT)}
        for cluster in sorted(set(bound.values())):
            mine = [item for item in job.done if bound.get(item.cut.owner) == cluster]
            if len({lots[item.source_id] for item in mine}) < 2:
                continue
            names = " and ".join(dict.fromkeys(rooms[item.cut.owner].name for item in mine))
            numbers = ", ".join(str(number) for number in sorted(item.cut.number for item in mine))
            what = f"{names}: cut {numbers} were made from two lots"
            begun.fault("two-lots", what, "say which are `spoiled`, or waive the rule of one lot in the job")


def _names(known: set[str]) -> str:
    return f"its rolls are {', '.join(sorted(known))}"
