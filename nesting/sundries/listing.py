"""The list of sundries of a plan: need, packs, left over, cost; and what to know before it is bought."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from nesting.domain.plan import Plan
from nesting.domain.sundries import (
    ANYWHERE,
    TRIMS,
    UNITS,
    Amount,
    Fixing,
    LaidHow,
    Measure,
    Sundries,
    Sundry,
    SundryKind,
)
from nesting.sundries.amounts import area, shown
from nesting.sundries.cutting import Cutting, cut_from, in_pieces
from nesting.sundries.measuring import RoomMeasures, measured
from nesting.sundries.needs import Basis, basis_of, spread_along
from nesting.units import format_length

USUALLY_LOOSE_NM2 = 25 * UNITS["sq yd"][1]
"""Floors of so much or more do not lie loose unless the material allows it: common practice, under 25 sq yd a room."""

USUAL = {
    Fixing.FULL_SPREAD: (SundryKind.ADHESIVE, SundryKind.SEAM_SEALER),
    Fixing.PERIMETER: (SundryKind.ADHESIVE, SundryKind.SEAM_SEALER),
    Fixing.LOOSE_LAY: (SundryKind.TAPE, SundryKind.SEAM_SEALER),
    Fixing.STRETCHED: (SundryKind.UNDERLAY, SundryKind.GRIPPER, SundryKind.SEAMING_TAPE),
}
"""What a material needs that goes down so, beside caulk, transitions and skirting; listed though no rate is known."""

INSTEAD = {
    SundryKind.SEAM_SEALER: (SundryKind.WELD_ROD, SundryKind.SEAMING_TAPE),
    SundryKind.SKIRTING: TRIMS,
}
"""What is not listed by itself where one of these is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SundryLine:
    """One product. `given`: it stands in the job, else it is listed because the plan needs it, and no rate is known.

    `packs` None: no pack is known, or it is cut from stock lengths (`cutting`). `left_over` is of the measure of the
    need. `cost` in the smallest coin, None: not known.
    """

    sundry: Sundry
    given: bool
    basis: Basis
    need: Amount
    packs: int | None = None
    left_over: Amount | None = None
    cost: int | None = None
    cutting: Cutting | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SundryWarning:
    """Something to know before the sundries are bought or the goods go down."""

    code: str
    text: str
    room_id: str = ""
    material_id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SundryList:
    """All sundries of a plan."""

    lines: tuple[SundryLine, ...]
    warnings: tuple[SundryWarning, ...]

    @property
    def cost(self) -> int:
        """Return the cost of all lines whose cost is known, in the smallest coin."""
        return sum(line.cost or 0 for line in self.lines)

    @property
    def priced(self) -> bool:
        """Tell whether the cost of every line is known."""
        return all(line.cost is not None for line in self.lines)


def sundries_of(plan: Plan) -> SundryList:
    """Return the sundries that go with a plan, in the order of their kinds.

    The list is that of the whole job, also where some of it is laid, and the same whether or not the plan is by the
    rules. Given products come as they stand in the job, without a pack where none is given; nothing is invented.
    """
    rooms = measured(plan)
    sundries = plan.job.sundries
    lines: list[SundryLine] = []
    warnings = list(_loose(plan, rooms))
    for sundry, given in (*_given(plan, rooms), *_unnamed(plan, rooms)):
        line = _line(sundry, given, _rooms_of(sundry, rooms), sundries)
        if given or line.need.quantity:
            lines.append(line)
            warnings += _about(plan, line)
    order = list(SundryKind)
    lines.sort(key=lambda line: order.index(line.sundry.kind))
    return SundryList(lines=tuple(lines), warnings=tuple(warnings))


# --- which products --------------------------------------------------------------------------------------------------


def _rooms_of(sundry: Sundry, rooms: Sequence[RoomMeasures]) -> list[RoomMeasures]:
    return [
        room
        for room in rooms
        if room.room.material_id in sundry.material_ids and (not sundry.room_ids or room.room.id in sundry.room_ids)
    ]


def _given(plan: Plan, rooms: Sequence[RoomMeasures]) -> Iterator[tuple[Sundry, bool]]:
    """Yield the products of the job; an adhesive that is spread here and goes along the edges there is two lines."""
    sundries = plan.job.sundries
    for sundry in sundries.products:
        if sundry.kind is SundryKind.ADHESIVE:
            along = {room.room.material_id for room in rooms if spread_along(sundry, room, sundries)}
            parts = [[ident for ident in sundry.material_ids if (ident in along) is which] for which in (False, True)]
            yield from ((replace(sundry, material_ids=tuple(part)), True) for part in parts if part)
        else:
            yield sundry, True


def _unnamed(plan: Plan, rooms: Sequence[RoomMeasures]) -> Iterator[tuple[Sundry, bool]]:
    """Yield what the plan needs and no product is given for, with no rate: what goes anywhere in one line."""
    sundries = plan.job.sundries
    laid = {room.room.material_id for room in rooms}
    hows = [sundries.laid_how(material.id) for material in plan.job.materials if material.id in laid]
    for how in hows:
        for kind in USUAL[how.fixing]:
            if _missing(kind, how, sundries):
                yield Sundry(kind=kind, name=name_of(kind), material_ids=(how.material_id,)), False
    for kind in (kind for kind in ANYWHERE if kind in (SundryKind.SKIRTING, *set(ANYWHERE).difference(TRIMS))):
        ids = tuple(how.material_id for how in hows if _missing(kind, how, sundries))
        if ids:
            yield Sundry(kind=kind, name=name_of(kind), material_ids=ids), False


def _missing(kind: SundryKind, how: LaidHow, sundries: Sundries) -> bool:
    """Tell whether a kind is wanted for a material and not given."""
    given = {sundry.kind for sundry in sundries.products if how.material_id in sundry.material_ids}
    return kind not in how.left_out and not given & {kind, *INSTEAD.get(kind, ())}


def name_of(kind: SundryKind) -> str:
    """Return what a kind is called: Seam sealer."""
    return kind.value.replace("-", " ").capitalize()


# --- how much --------------------------------------------------------------------------------------------------------


def _line(sundry: Sundry, given: bool, rooms: Sequence[RoomMeasures], sundries: Sundries) -> SundryLine:
    basis = basis_of(sundry, rooms, sundries)
    need = _need(sundry, basis)
    if sundry.lengths:
        longest = max(stock.length_nm for stock in sundry.lengths)
        cut = [piece for run in basis.runs_nm for piece in in_pieces(run, longest, sundry.least_joint_nm)]
        cutting = cut_from(cut, sundry.lengths, sundry.kerf_nm)
        left = Amount(measure=Measure.LENGTH, quantity=Fraction(cutting.left_nm))
        return SundryLine(
            sundry=sundry, given=given, basis=basis, need=need, cutting=cutting, left_over=left, cost=cutting.cost
        )
    pack = sundry.pack
    if pack is None or pack.measure is not need.measure:
        return SundryLine(sundry=sundry, given=given, basis=basis, need=need)
    packs = ceil(need.quantity / pack.quantity)
    left = replace(need, quantity=packs * pack.quantity - need.quantity)
    cost = None if sundry.price is None else packs * sundry.price
    return SundryLine(sundry=sundry, given=given, basis=basis, need=need, packs=packs, left_over=left, cost=cost)


def _need(sundry: Sundry, basis: Basis) -> Amount:
    """Return how much of the product is needed, waste included; the basis itself where no rate fits it."""
    need = basis.total
    rate = sundry.rate
    if rate is not None and rate.basis.measure is need.measure:
        share = need.quantity / rate.basis.quantity
        need = Amount(measure=rate.product.measure, quantity=share * rate.product.quantity, noun=rate.product.noun)
    if sundry.pack is not None and sundry.width_nm and (sundry.pack.measure, need.measure) == _ROLL_BY_AREA:
        need = area(need.quantity * sundry.width_nm)
    elif need.measure is Measure.PIECES and sundry.pack is not None and sundry.pack.noun:
        need = replace(need, noun=sundry.pack.noun)
    return replace(need, quantity=need.quantity * (1 + sundry.waste))


_ROLL_BY_AREA = (Measure.AREA, Measure.LENGTH)
"""A pack by area of what is needed by length, of a known width."""


# --- what to know ----------------------------------------------------------------------------------------------------


def _loose(plan: Plan, rooms: Sequence[RoomMeasures]) -> Iterator[SundryWarning]:
    """Yield the rooms whose floor is larger than may lie loose."""
    names = {material.id: material.name for material in plan.job.materials}
    for room in rooms:
        how = plan.job.sundries.laid_how(room.room.material_id)
        stated = how.loose_up_to_nm2
        beyond = room.floor_nm2 >= USUALLY_LOOSE_NM2 if stated is None else room.floor_nm2 > stated
        if how.fixing is Fixing.LOOSE_LAY and beyond:
            unit, floor = plan.job.unit, area(room.floor_nm2)
            most = shown(area(USUALLY_LOOSE_NM2 if stated is None else stated), unit, "down")
            usual = f"is laid loose only under 25 sq yd ({most}) a room (common practice)"
            limit = usual if stated is None else f"may lie loose up to {most} only"
            yield SundryWarning(
                code="too-large-to-lie-loose",
                text=f"{room.room.name}: {shown(floor, unit)} of floor, but {names[how.material_id]} {limit}",
                room_id=room.room.id,
                material_id=how.material_id,
            )


def _about(plan: Plan, line: SundryLine) -> Iterator[SundryWarning]:
    """Yield what a line cannot do."""
    sundry, unit = line.sundry, plan.job.unit
    name = sundry.name
    if sundry.lengths and not sundry.joints:
        longest = max(stock.length_nm for stock in sundry.lengths)
        long = max(line.basis.runs_nm, default=0)
        if long > longest:
            lengths = [format_length(nm, unit, with_unit=True) for nm in (long, longest)]
            text = f"{name}: a run of {lengths[0]} is longer than the longest length, {lengths[1]}; it is listed joined"
            yield SundryWarning(code="run-too-long", text=text)
    rate_off = sundry.rate is not None and sundry.rate.basis.measure is not line.basis.total.measure
    pack_off = sundry.pack is not None and line.packs is None and not sundry.lengths
    if line.need.quantity and (rate_off or pack_off):
        text = f"{name}: its rate is by area, but it goes along the perimeter; give `band` or a rate by length"
        if line.basis.total.measure is Measure.AREA:
            text = f"{name}: its rate is by length, but it is spread over the floor; give a rate by area"
        yield SundryWarning(code="rate-does-not-fit", text=text)
