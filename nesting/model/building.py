"""From a material's rooms, loose pieces and stock to the engine's instance, in whole units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor, gcd, lcm

from nesting.domain.done import DoneCut
from nesting.domain.geometry import LayDirection, Point, Rect, bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import Material, Turning
from nesting.domain.rules import Goal, GoalKind, RuleId
from nesting.model.finishing import disjoint_rects
from nesting.model.instance import (
    Box,
    Choice,
    Instance,
    Lattice,
    Option,
    Piece,
    Source,
    Weights,
)
from nesting.model.screening import screened
from nesting.model.supplying import METRE_NM, BuiltSource, SourceBuilder
from nesting.seams.clusters import Clusters, cluster_rooms
from nesting.seams.laid import LaidRoom
from nesting.seams.phases import repeat_across_nm

FINEST_UNIT_NM = 50_000  # a finer unit makes the solver's numbers needlessly large


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltGroup:
    """A phase group: its rooms, and what the units leave out of phases that one of them places for the others.

    `residues_nm`: across and along, by φ; empty for a room of its own.
    """

    room_ids: tuple[str, ...]
    residues_nm: tuple[Mapping[int, Fraction], Mapping[int, Fraction]] = ({}, {})


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A cut of an option with the nanometres that the units left out."""

    cut: Cut
    residue_nm: tuple[Fraction, Fraction]  # added to the piece's place: where a placed phase lies off the grid
    insets_nm: tuple[int, int]  # selvedge that it must keep off on its left and right


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltOption:
    """What an option of a choice stands for: a laid room, or the parts of a loose piece or strip.

    `parts` are still to be placed; `held` are the cuts that were made, whose places are known.
    """

    laid: LaidRoom | None
    parts: tuple[Part, ...]
    held: tuple[Cut, ...] = ()
    anchor_nm: Point = (0, 0)
    group: int | None = None  # phase group


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """An instance with the way back.

    `finished`: what is no choice any more, every cut of it being made. `held`: source and place of the cuts made.
    """

    instance: Instance
    sources: tuple[BuiltSource, ...]
    options: tuple[tuple[BuiltOption, ...], ...]  # as the instance's choices
    groups: tuple[BuiltGroup, ...]
    material: Material
    slack_units: int  # added to the length of every patterned piece (a drop that is not whole nanometres)
    finished: tuple[BuiltOption, ...] = ()
    held: Mapping[str, tuple[int, DoneCut]] = field(default_factory=dict)  # by cut id: index of the source, the cut


def fraction_gcd(*values: Fraction | int) -> Fraction:
    """Return the largest fraction of which every value that is not zero is a whole multiple."""
    parts = [Fraction(value) for value in values if value]
    common = lcm(*(part.denominator for part in parts))
    return Fraction(gcd(*(int(part * common) for part in parts)), common)


def unit_of(material: Material) -> Fraction:
    """Return the unit of the instance in nanometres: the common step of the cutting step, the repeats and the drop.

    The order step joins in when that does not make the unit needlessly fine.
    """
    pattern = material.pattern
    values: list[Fraction | int] = [material.cutting_step_nm]
    if pattern is not None:
        values += [pattern.along_nm, pattern.drop_nm]
        values += [pitch or 0 for pitch in (repeat_across_nm(material, width) for width in material.widths_nm)]
    unit = fraction_gcd(*values)
    if material.sale.order_step_nm > 1:
        finer = fraction_gcd(unit, material.sale.order_step_nm)
        if finer >= min(unit, Fraction(FINEST_UNIT_NM)):
            unit = finer
    return unit


def seam_worth(goal: Goal, unit_nm: Fraction) -> Fraction:
    """Return how many units of roll a seam must save; its denominator scales a level in which both are counted."""
    return goal.seam_worth_nm / unit_nm if goal.kind is GoalKind.BALANCED else Fraction(0)


def weights_of(goal: Goal, material: Material, unit_nm: Fraction, *, rack: bool) -> Weights:
    """Return the goal's levels: (ordered, used, seams, seam length, money, dislike, pieces) each.

    `rack`: goods in hand are spared, in a level of its own: after all that costs money or seams, before the length
    used of what is ordered anyway, so that nothing is taken from the rack only to leave more of an ordered roll over.
    """
    ordered, used, pieces = (1, 0, 0, 0, 0, 0, 0), (0, 1, 0, 0, 0, 0, 0), (0, 0, 0, 0, 0, 0, 1)
    seams, length = (0, 0, 1, 0, 0, 0, 0), (0, 0, 0, 1, 0, 1, 0)
    spared = ((0, 0, 0, 0, 0, 0, 0),) if rack else ()
    rest = (length, *spared, used, pieces)
    levels: tuple[tuple[int, int, int, int, int, int, int], ...]
    match goal.kind:
        case GoalKind.BALANCED:
            worth = seam_worth(goal, unit_nm)
            seam = worth.numerator * floor(max(material.widths_nm) / unit_nm)
            levels = ((worth.denominator, 0, seam, 0, 0, 0, 0), ordered, *rest)
        case GoalKind.LEAST_ROLL:
            levels = (ordered, seams, *rest)
        case GoalKind.FEWEST_SEAMS:
            levels = (seams, ordered, *rest)
        case GoalKind.LEAST_COST:
            # Money is scaled so that a charge per metre of seam is a whole number per unit of seam.
            scale = 1 if goal.charge_per_seam_m == 0 else max(1, round(METRE_NM / unit_nm))
            per_unit = round(goal.charge_per_seam_m * scale * unit_nm / METRE_NM)
            cost = (0, 0, scale * goal.charge_per_cross_seam, per_unit, scale, 0, scale * goal.charge_per_cut)
            levels = (cost, ordered, seams, *rest)
    return Weights(levels=levels, most_seams=goal.most_seams, rack=len(levels) - 3 if rack else None)


def _whole_boxes(cut: Cut, unit_nm: Fraction, grow: tuple[int, int]) -> tuple[Box, ...]:
    """Return the cut's rectangles from its own corner in units, rounded outward; `grow` units more right and far."""
    corner = bounding_rect(cut.rects)
    boxes = []
    for rect in cut.rects:
        boxes.append(
            (
                floor((rect.x0_nm - corner.x0_nm) / unit_nm),
                floor((rect.y0_nm - corner.y0_nm) / unit_nm),
                ceil((rect.x1_nm - corner.x0_nm) / unit_nm) + grow[0],
                ceil((rect.y1_nm - corner.y0_nm) / unit_nm) + grow[1],
            )
        )
    return tuple(boxes) if len(boxes) == 1 or grow == (0, 0) else disjoint_rects([Rect(*box) for box in boxes])


def residues_of(
    phases_nm: Iterable[int], anchor_nm: int, unit_nm: Fraction, period_nm: Fraction | int
) -> dict[int, Fraction]:
    """Return what is left of every phase of a group when it is told in whole units, rounded down.

    Two phases are never told by the same number, or rooms that place the pattern apart would seem to agree: the later
    goes down to the next number that is free.
    """
    period = int(period_nm / unit_nm)
    told: dict[int, Fraction] = {}
    residues = {}
    for phase in sorted(set(phases_nm)):
        place = Fraction(anchor_nm + phase)
        first, rest = floor(place / unit_nm), place % period_nm
        numbers = range(first, first - period, -1)
        number = next((n for n in numbers if told.get(n % period, rest) == rest), first)
        told[number % period] = rest
        residues[phase] = place - number * unit_nm
    return residues


def at_phase(option: BuiltOption, groups: Sequence[BuiltGroup], phase_nm: tuple[int | None, int | None]) -> BuiltOption:
    """Return an option with what the units leave out of its group's phase, where another room places it."""
    if option.group is None or option.laid is None:
        return option
    own, known = option.laid.phase_nm, groups[option.group].residues_nm
    left = [
        known[axis].get(phase, Fraction(0)) if phase is not None and own[axis] is None else None
        for axis, phase in enumerate(phase_nm)
    ]
    parts = []
    for part in option.parts:
        x, y = (had if given is None else given for had, given in zip(part.residue_nm, left, strict=True))
        parts.append(replace(part, residue_nm=(x, y)) if part.cut.kind is CutKind.DROP else part)
    return replace(option, parts=tuple(parts))


def is_finished(ways: Sequence[BuiltOption]) -> bool:
    """Tell whether every cut of a room, loose piece or run was made."""
    return any(way.held and not way.parts for way in ways)


def _least_disliked(ways: Sequence[BuiltOption]) -> BuiltOption:
    """Return the finished way that is disliked least: they differ in what was given at walls at most."""
    finished = [way for way in ways if way.held and not way.parts]
    return min(finished, key=lambda way: 0 if way.laid is None else way.laid.dislike)


def _less_seams(weights: Weights, finished: Sequence[BuiltOption]) -> Weights:
    """Return the goal for what is still to be chosen: seams that are there already count towards its cap."""
    if weights.most_seams is None:
        return weights
    there = sum(len(way.held) - 1 if way.laid is None else way.laid.seams for way in finished)
    return replace(weights, most_seams=weights.most_seams - there)


def _in_parts(built: BuiltOption) -> tuple[int, ...]:
    """Return the sequence of a laid room as indexes of its parts: what was cut before is out of it."""
    if built.laid is None:
        return ()
    place = {part.cut.id: index for index, part in enumerate(built.parts)}
    names = (built.laid.cuts[index].id for index in built.laid.sequence)
    return tuple(place[name] for name in names if name in place)


def _of_lot(
    choice: Choice, begun: Mapping[int, str], built: tuple[BuiltSource, ...], sources: tuple[Source, ...]
) -> Choice:
    """Return a choice that is cut from the lot begun for it, if one is."""
    lot = begun.get(choice.lot_group) if choice.lot_group is not None else None
    if lot is None:
        return choice
    of_lot = frozenset(source.id for item, source in zip(built, sources, strict=True) if item.lot == lot)
    return replace(choice, sources=of_lot if choice.sources is None else choice.sources & of_lot)


class InstanceBuilder:
    """Builds the instance of one material; `build` is the only entry."""

    def __init__(self, job: Job, material: Material) -> None:
        self.job = job
        self.material = material
        self.unit_nm = unit_of(material)
        pattern = material.pattern
        self.slack = 0 if pattern is None or pattern.drop_nm.denominator == 1 else 1
        self.arrows: list[LayDirection] = []
        self.made = job.made
        self.groups: tuple[BuiltGroup, ...] = ()

    def build(
        self,
        laid: Mapping[str, tuple[LaidRoom, ...]],
        anchors: Mapping[str, Point],
        loose: Mapping[str, tuple[tuple[Cut, ...], ...]],
        *,
        one_lot: bool = True,
        keep: Iterable[str] = (),
    ) -> Built:
        """Return the instance.

        Parameters
        ----------
        laid
            Candidate layouts by room id.
        anchors
            Lay-frame anchors of rooms that match, by room; others take the corner of their own cuts.
        loose
            Alternatives by item id (a loose piece or run of a strip), each a tuple of cuts.
        one_lot
            All orders are of one lot. False: several lots of at most `Sale.lot_limit_nm` each.
        keep
            Ids of goods in hand that stay though others could do as well: those of a plan that is begun from. Other
            goods in hand that can be of no use are left out (see `screening`).
        """
        rooms = [room for room in self.job.rooms if room.id in laid]
        clusters = self._clusters([room.id for room in rooms])
        self.groups = tuple(self._group(ids, laid, anchors) for ids in clusters.groups)
        choices: list[Choice] = []
        options: list[tuple[BuiltOption, ...]] = []
        finished: list[BuiltOption] = []
        for room in rooms:
            group = clusters.phase[room.id]
            built = tuple(self._built_option(item, anchors.get(room.id), group) for item in laid[room.id])
            if is_finished(built):
                finished.append(_least_disliked(built))
                continue
            choices.append(
                Choice(
                    id=room.id,
                    options=tuple(self._option(item, number) for number, item in enumerate(built)),
                    lot_group=clusters.lot[room.id] if room.rules.holds(RuleId.ONE_LOT) else None,
                    arrow_group=clusters.arrow.get(room.id),
                    sources=frozenset(room.pinned.sources) or None,
                )
            )
            options.append(built)
        for item_id, alternatives in loose.items():
            parts = tuple(self._built_item(cuts) for cuts in alternatives)
            if is_finished(parts):
                finished.append(parts[0])
                continue
            choices.append(
                Choice(id=item_id, options=tuple(self._option(part, number) for number, part in enumerate(parts)))
            )
            options.append(parts)
        supply = SourceBuilder(self.job, self.material, self.unit_nm)
        sources, built_sources = supply.sources(choices, one_lot=one_lot)
        held = self._held(built_sources)
        lots_begun = self._lots_begun(clusters, held, built_sources)
        choices = [_of_lot(choice, lots_begun, built_sources, sources) for choice in choices]
        lots = {lot: f"{number:04}" for number, lot in enumerate(dict.fromkeys(source.lot for source in sources))}
        sources = tuple(replace(source, lot=lots[source.lot]) for source in sources)  # names must not decide ties
        instance = Instance(
            unit_nm=self.unit_nm,
            choices=tuple(choices),
            sources=sources,
            weights=weights_of(self.job.goal, self.material, self.unit_nm, rack=False),
            lattice=self._lattice(),
            orders_of_one_lot=one_lot,
            bench_cuts=self.job.offcuts.bench_cuts,
        )
        useful = screened(instance, {*keep, *(item.source_id for item in self.job.done)})
        sources = tuple(sources[index] for index in useful)
        built_sources = tuple(built_sources[index] for index in useful)
        return Built(
            instance=replace(instance, sources=sources, weights=_less_seams(self._weights(sources), finished)),
            sources=built_sources,
            options=tuple(options),
            groups=self.groups,
            material=self.material,
            slack_units=self.slack,
            finished=tuple(finished),
            held=self._held(built_sources),
        )

    def _weights(self, sources: tuple[Source, ...]) -> Weights:
        """Return the goal's levels, goods in hand spared where there are any with a value."""
        rack = any(source.worth is not None for source in sources)
        return weights_of(self.job.goal, self.material, self.unit_nm, rack=rack)

    def _held(self, sources: tuple[BuiltSource, ...]) -> dict[str, tuple[int, DoneCut]]:
        """Return the cuts that were made, by id, with the index of what they were cut from."""
        index_of = {item.stock.id: index for index, item in enumerate(sources) if item.stock is not None}
        return {item.cut.id: (index_of[item.source_id], item) for item in self.job.done if item.source_id in index_of}

    def _lots_begun(
        self, clusters: Clusters, held: Mapping[str, tuple[int, DoneCut]], sources: tuple[BuiltSource, ...]
    ) -> dict[int, str]:
        """Return the lot of every lot group of which something is cut: the rest of it must be of that lot."""
        one_lot = {room.id for room in self.job.rooms if room.rules.holds(RuleId.ONE_LOT)}
        return {
            clusters.lot[item.cut.owner]: sources[index].lot
            for index, item in held.values()
            if item.cut.owner in clusters.lot and item.cut.owner in one_lot
        }

    def _lattice(self) -> Lattice | None:
        pattern = self.material.pattern
        if pattern is None:
            return None
        across = repeat_across_nm(self.material, self.material.widths_nm[0])
        return Lattice(
            along=int(pattern.along_nm / self.unit_nm),
            across=None if across is None else int(across / self.unit_nm),
            drop=int(pattern.drop_nm / self.unit_nm),
        )

    def _clusters(self, room_ids: list[str]) -> Clusters:
        return cluster_rooms(self.job, self.material, room_ids)

    def _group(
        self, ids: tuple[str, ...], laid: Mapping[str, tuple[LaidRoom, ...]], anchors: Mapping[str, Point]
    ) -> BuiltGroup:
        """Return a phase group; where it has several rooms, these have one anchor."""
        pattern = self.material.pattern
        if pattern is None or len(ids) == 1:
            return BuiltGroup(room_ids=ids)
        periods = (repeat_across_nm(self.material, self.material.widths_nm[0]) or self.unit_nm, pattern.along_nm)
        across, along = (
            residues_of(
                (phase for name in ids for item in laid[name] if (phase := item.phase_nm[axis]) is not None),
                anchors[ids[0]][axis],
                self.unit_nm,
                period,
            )
            for axis, period in enumerate(periods)
        )
        return BuiltGroup(room_ids=ids, residues_nm=(across, along))

    def _residue(self, laid: LaidRoom, anchor: Point, group: int | None) -> tuple[Fraction, Fraction]:
        """Return what the units leave out of the phase that a layout fixes, 0 where it fixes none."""
        known = ({}, {}) if group is None else self.groups[group].residues_nm
        x, y = (
            Fraction(0) if phase is None else known[axis].get(phase, (anchor[axis] + phase) % self.unit_nm)
            for axis, phase in enumerate(laid.phase_nm)
        )
        return x, y

    def _built_item(self, cuts: tuple[Cut, ...]) -> BuiltOption:
        """Return the parts of a loose piece or of a run of a strip."""
        still = (Fraction(0), Fraction(0))
        selvedge = (self.material.selvedge_nm, self.material.selvedge_nm)
        parts = tuple(Part(cut=cut, residue_nm=still, insets_nm=selvedge) for cut in cuts if cut.id not in self.made)
        return BuiltOption(laid=None, parts=parts, held=tuple(cut for cut in cuts if cut.id in self.made))

    def _built_option(self, laid: LaidRoom, anchor: Point | None, group: int | None) -> BuiltOption:
        corner = bounding_rect(tuple(rect for cut in laid.cuts if cut.kind is CutKind.DROP for rect in cut.rects))
        anchor = anchor if anchor is not None else (corner.x0_nm, corner.y0_nm)
        residue = self._residue(laid, anchor, group)
        parts = tuple(
            Part(
                cut=cut,
                residue_nm=residue if cut.kind is CutKind.DROP else (Fraction(0), Fraction(0)),
                insets_nm=insets,
            )
            for cut, insets in zip(laid.cuts, laid.insets_nm, strict=True)
            if cut.id not in self.made
        )
        held = tuple(cut for cut in laid.cuts if cut.id in self.made)
        return BuiltOption(laid=laid, parts=parts, held=held, anchor_nm=anchor, group=group)

    def _option(self, built: BuiltOption, number: int) -> Option:
        group = built.group
        pieces = tuple(self._piece(built, part) for part in built.parts)
        if built.laid is None:
            return Option(pieces=pieces, seams=len(pieces) + len(built.held) - 1, tag=str(number))
        laid = built.laid
        residue = self._residue(laid, built.anchor_nm, group)
        phase = tuple(
            None if given is None else int((built.anchor_nm[axis] + given - residue[axis]) / self.unit_nm)
            for axis, given in enumerate(laid.phase_nm)
        )
        width = laid.order_width_nm
        return Option(
            pieces=pieces,
            seams=laid.seams,
            seam_length=ceil(laid.seam_length_nm / self.unit_nm),
            dislike=ceil(laid.dislike / self.unit_nm),
            order_width=None if width is None else floor(width / self.unit_nm),
            arrow=self._arrow(laid.layout.direction),
            phase=(phase[0], phase[1]) if group is not None else (None, None),
            order=tuple(pairwise(_in_parts(built))),
            tag=str(number),
        )

    def _arrow(self, direction: LayDirection) -> int:
        if direction not in self.arrows:
            self.arrows.append(direction)
        return self.arrows.index(direction)

    def _piece(self, built: BuiltOption, part: Part) -> Piece:
        group = built.group
        cut, unit = part.cut, self.unit_nm
        patterned = group is not None and cut.kind is CutKind.DROP
        grow = self._grow(built, part) if patterned else (0, 0)
        corner = bounding_rect(cut.rects)
        offset = (
            floor((corner.x0_nm - built.anchor_nm[0]) / unit),
            floor((corner.y0_nm - built.anchor_nm[1]) / unit),
        )
        return Piece(
            id=cut.id,
            boxes=_whole_boxes(cut, unit, grow),
            turns=self._turns(cut, patterned),
            offset=offset if patterned else (0, 0),
            group=group if patterned else None,
            inset_left=ceil(part.insets_nm[0] / unit),
            inset_right=ceil(part.insets_nm[1] / unit),
        )

    def _grow(self, built: BuiltOption, part: Part) -> tuple[int, int]:
        """Return by how much a patterned piece may come to lie further right and along than its units say.

        What a placed phase leaves out moves the piece; one that fixes no phase, the most that another room's may.
        """
        assert built.laid is not None and built.group is not None
        known = self.groups[built.group].residues_nm
        x, y = (
            part.residue_nm[axis] if given is not None else max(known[axis].values(), default=Fraction(0))
            for axis, given in enumerate(built.laid.phase_nm)
        )
        return ceil(x / self.unit_nm), max(self.slack, ceil(y / self.unit_nm))

    def _turns(self, cut: Cut, patterned: bool) -> tuple[int, ...]:
        """Return the quarter turns allowed (DEVELOPERS.md, meaning 5)."""
        if patterned:
            return (0,)
        rectangle = len(cut.rects) == 1
        turning = self.material.turning
        if cut.kind is CutKind.DROP:
            if turning is Turning.ALTERNATE:
                return (2,) if cut.breadth % 2 else (0,)
            return (0, 2) if turning is Turning.FREE and not rectangle else (0,)
        if turning is Turning.FREE and self.material.pattern is None:
            return (0, 1)
        return (0,)
