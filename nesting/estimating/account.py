"""Where the goods go: an account of every source in whole nm², the parts of which add up to all of it.

A source is a rectangle, as wide as made and as long as ordered or in hand, less what is *gone* from it: that was cut
away before, is no goods any more and belongs to no part of the account. Along it come the start allowance, the used
length up to the far end of the last piece, and the end. What is there and no piece covers is counted under the first of
these:

- *flaws*: inside a flaw;
- *starting*: lost to a phase that nobody knows yet: of the start allowance what is more than squaring, one repeat at
  the right where x is bound, and one repeat at the far end of goods in hand;
- *squaring*: the rest of the start allowance, across the whole width;
- *selvedge*: within the selvedge of either edge, along the used length;
- *repeat*: within the used length, what only the lattice of the pattern keeps empty. Exactly: let d be how far a drop
  could slide towards the start, everything else in its place, until it meets a piece, a flaw, what is gone or the start
  allowance.
  Plain goods would close all of d. By the lattice the drop could slide by whole repeats along only, so that what is
  left of d after taking off whole repeats is the loss; it is counted right before the drop, as wide as the drop is.
  What repeats cost across the roll (drops narrower than the goods) is not in it, but under *beside*;
- *beside*: what else is empty within the used length: at the side of pieces and between them;
- *whole rolls*, *rounding*, *minimum cut*: beyond the last piece of a roll to order, because goods are sold in whole
  rolls, up to the next order step, and from there up to the minimum cut;
- *rest*: beyond the last piece of goods in hand.

Of every part it is said what is kept in offcuts. The pieces themselves are divided in `covering`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import floor

from nesting.domain.geometry import Rect
from nesting.domain.job import Job
from nesting.domain.layout import CutKind
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, SourceKind
from nesting.estimating.covering import Covering, coverings_of
from nesting.estimating.fields import Fields, Rows, common, less, union
from nesting.model.finishing import turned_rects


class Reason(StrEnum):
    """What goods are for, or why they are empty."""

    FLOOR = "floor"
    LOOSE = "loose pieces and strips"
    SEAM = "seam allowance"
    COVE = "cove"
    TRIM = "trim"
    OUT_OF_SQUARE = "out of square"
    CLOSING = "closing"
    REPEAT = "repeat"
    BESIDE = "beside"
    SELVEDGE = "selvedge"
    FLAWS = "flaws"
    SQUARING = "squaring"
    STARTING = "starting"
    ROUNDING = "rounding"
    MINIMUM = "minimum cut"
    WHOLE_ROLLS = "whole rolls"
    REST = "rest"


IN_PIECES = frozenset(list(Reason)[:7])
"""The reasons of goods that are in pieces; the others are empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """So much of the goods goes to one reason; `kept_nm2` of it are in offcuts."""

    reason: Reason
    nm2: int
    kept_nm2: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceAccount:
    """Where one source goes: a part for every reason, in the order of `Reason`, those of nothing too.

    `gone_nm2` of its rectangle are no goods any more.
    """

    source_id: str
    kind: SourceKind
    width_nm: int
    length_nm: int
    parts: tuple[Part, ...]
    gone_nm2: int = 0

    @property
    def goods_nm2(self) -> int:
        """All of the source that is there; the parts add up to it."""
        return self.width_nm * self.length_nm - self.gone_nm2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lying:
    """A cut where it lies; `slides`: the lattice binds it."""

    cut_id: str
    rects: tuple[Rect, ...]
    slides: bool


def account_of(job: Job, plan: MaterialPlan) -> tuple[SourceAccount, ...]:
    """Return where every source of a material's plan goes, in the plan's order.

    The floors add up to the plan's own: half a nm² that a source would have too much goes to the next one.
    """
    material = next(item for item in job.materials if item.id == plan.material_id)
    coverings = _coverings(job, plan)
    lying = _lying(plan)
    accounts = []
    before = Fraction(0)
    for source in plan.sources:
        mine = lying.get(source.id, ())
        exact = sum((coverings[item.cut_id].floor_nm2 for item in mine), Fraction(0))
        floor_nm2 = floor(before + exact) - floor(before)
        before += exact
        kept = [offcut.rect for offcut in plan.offcuts if offcut.source_id == source.id]
        pieces = _piece_parts(mine, coverings, floor_nm2)
        accounts.append(
            SourceAccount(
                source_id=source.id,
                kind=source.kind,
                width_nm=source.width_nm,
                length_nm=source.length_nm,
                parts=(*pieces, *_empty_parts(material, source, mine, kept)),
                gone_nm2=sum(rect.area_nm2 for rect in source.gone),
            )
        )
    return tuple(accounts)


def added_up(accounts: Iterable[SourceAccount]) -> tuple[Part, ...]:
    """Return the parts of several sources added up, reason by reason."""
    found = list(accounts)
    return tuple(
        Part(
            reason=reason,
            nm2=sum(part.nm2 for item in found for part in item.parts if part.reason is reason),
            kept_nm2=sum(part.kept_nm2 for item in found for part in item.parts if part.reason is reason),
        )
        for reason in Reason
    )


def _coverings(job: Job, plan: MaterialPlan) -> Mapping[str, Covering]:
    """Return how the goods of every cut divide."""
    rooms = {room.id: room for room in job.rooms}
    layouts = {layout.room_id: layout for layout in plan.layouts}
    found: dict[str, Covering] = {}
    for owner in dict.fromkeys(cut.owner for cut in plan.cuts):
        cuts = [cut for cut in plan.cuts if cut.owner == owner]
        found |= coverings_of(rooms.get(owner), layouts.get(owner), cuts)
    return found


def _lying(plan: MaterialPlan) -> Mapping[str, tuple[_Lying, ...]]:
    """Return the cuts as they lie, by source."""
    cuts = {cut.id: cut for cut in plan.cuts}
    bound = {room for group in plan.phase_groups for room in group.room_ids}
    found: dict[str, list[_Lying]] = {}
    for place in plan.placements:
        cut = cuts[place.cut_id]
        item = _Lying(
            cut_id=cut.id,
            rects=turned_rects(cut.rects, place.turn, place.x_nm, place.y_nm),
            slides=cut.kind is CutKind.DROP and cut.owner in bound,
        )
        found.setdefault(place.source_id, []).append(item)
    return {source: tuple(items) for source, items in found.items()}


def _piece_parts(mine: Sequence[_Lying], coverings: Mapping[str, Covering], floor_nm2: int) -> tuple[Part, ...]:
    """Return the parts of the pieces on a source; closing is what the other reasons leave."""
    found = [coverings[item.cut_id] for item in mine]
    area = sum(rect.area_nm2 for item in mine for rect in item.rects)
    areas = {
        Reason.FLOOR: floor_nm2,
        Reason.LOOSE: sum(item.loose_nm2 for item in found),
        Reason.SEAM: sum(item.seam_nm2 for item in found),
        Reason.COVE: sum(item.cove_nm2 for item in found),
        Reason.TRIM: sum(item.trim_nm2 for item in found),
        Reason.OUT_OF_SQUARE: sum(item.out_of_square_nm2 for item in found),
    }
    areas[Reason.CLOSING] = area - sum(areas.values())
    return tuple(Part(reason=reason, nm2=nm2) for reason, nm2 in areas.items())


def empty_places(job: Job, plan: MaterialPlan) -> Mapping[str, Mapping[Reason, tuple[Rect, ...]]]:
    """Return, by source, where the goods are that are there and no piece covers, by the reasons of the account."""
    material = next(item for item in job.materials if item.id == plan.material_id)
    lying = _lying(plan)
    found = {}
    for source in plan.sources:
        fields, rows = _empty_fields(material, source, lying.get(source.id, ()), ())
        found[source.id] = {reason: fields.rects(rows[reason]) for reason in Reason if reason in rows}
    return found


def _empty_parts(
    material: Material, source: CutSource, mine: Sequence[_Lying], kept: Sequence[Rect]
) -> tuple[Part, ...]:
    """Return the parts of a source that no piece covers."""
    fields, found = _empty_fields(material, source, mine, kept)
    none, held = fields.covered([]), fields.covered(kept)
    parts = []
    for reason in Reason:
        if reason not in IN_PIECES:
            rows = found.get(reason, none)
            kept_nm2 = fields.area_nm2(common(rows, held))
            parts.append(Part(reason=reason, nm2=fields.area_nm2(rows), kept_nm2=kept_nm2))
    return tuple(parts)


def _empty_fields(
    material: Material, source: CutSource, mine: Sequence[_Lying], kept: Sequence[Rect]
) -> tuple[Fields, Mapping[Reason, Rows]]:
    """Return the fields of a source, cut along `kept` too, and which of them are empty for each reason."""
    goods = Rect(0, 0, source.width_nm, source.length_nm)
    asked = _asked_in_turn(material, source, mine)
    pieces = [rect for item in mine for rect in item.rects]
    every = [rect for _, rects in asked for rect in rects] + pieces + list(kept) + list(source.gone)
    fields = Fields.along_edges(goods, every)
    left = less(fields.covered([goods]), fields.covered([*pieces, *source.gone]))
    found: dict[Reason, Rows] = {}
    for reason, rects in asked:
        here = common(left, fields.covered(_clipped(rects, goods)))
        left = less(left, here)
        found[reason] = union(found[reason], here) if reason in found else here
    return fields, found


def _asked_in_turn(
    material: Material, source: CutSource, mine: Sequence[_Lying]
) -> tuple[tuple[Reason, tuple[Rect, ...]], ...]:
    """Return what each reason asks for, in the order in which they are asked; together they ask for everything."""
    width, length, start = source.width_nm, source.length_nm, source.start_allowance_nm
    far = max((rect.y1_nm for item in mine for rect in item.rects), default=start)
    squaring = min(start, material.squaring_nm) if source.kind is SourceKind.ORDER else start
    lost_x, lost_y = source.phase_loss_nm
    selvedge = min(material.selvedge_nm, width)
    return (
        (Reason.FLAWS, source.flaws),
        (Reason.SQUARING, (Rect(0, 0, width, squaring),)),
        (
            Reason.STARTING,
            (
                Rect(0, squaring, width, start),
                Rect(width - lost_x, start, width, length),
                Rect(0, length - lost_y, width, length),
            ),
        ),
        (Reason.SELVEDGE, (Rect(0, start, selvedge, far), Rect(width - selvedge, start, width, far))),
        (Reason.REPEAT, _repeat_losses(material, source, mine)),
        (Reason.BESIDE, (Rect(0, start, width, far),)),
        *_end(material, source, far),
    )


def _end(material: Material, source: CutSource, far: int) -> tuple[tuple[Reason, tuple[Rect, ...]], ...]:
    """Return what lies beyond the last piece, from one reason to the next."""
    width, length = source.width_nm, source.length_nm
    beyond = (Rect(0, far, width, length),)
    if source.kind is not SourceKind.ORDER:
        return ((Reason.REST, beyond),)
    if material.sale.whole_rolls and material.longest_nm is not None:
        return ((Reason.WHOLE_ROLLS, beyond),)
    step = material.sale.order_step_nm
    stepped = min(length, -(-far // step) * step)
    return ((Reason.ROUNDING, (Rect(0, far, width, stepped),)), (Reason.MINIMUM, (Rect(0, stepped, width, length),)))


def _repeat_losses(material: Material, source: CutSource, mine: Sequence[_Lying]) -> tuple[Rect, ...]:
    """Return what only the lattice keeps empty before every drop (see the module's definition)."""
    if material.pattern is None:
        return ()
    pieces = [rect for item in mine for rect in item.rects]
    fixed = sorted([*pieces, *source.flaws, *source.gone], key=lambda rect: rect.y1_nm)
    found = []
    for item in mine:
        if item.slides:
            own = set(item.rects)
            slide = min(_slide_nm(rect, fixed, own, source.start_allowance_nm) for rect in item.rects)
            rest = slide % material.pattern.along_nm
            found += [Rect(rect.x0_nm, rect.y0_nm - rest, rect.x1_nm, rect.y0_nm) for rect in item.rects if rest]
    return tuple(found)


def _slide_nm(rect: Rect, fixed: Sequence[Rect], own: set[Rect], start_nm: int) -> int:
    """Return how far a rectangle could slide towards the start until it meets something that is not its own piece."""
    ends = (
        other.y1_nm
        for other in fixed
        if other.y1_nm <= rect.y0_nm and other.x0_nm < rect.x1_nm and rect.x0_nm < other.x1_nm and other not in own
    )
    return rect.y0_nm - max(ends, default=start_nm)


def _clipped(rects: Iterable[Rect], goods: Rect) -> list[Rect]:
    """Return rectangles as far as they lie on the goods."""
    return [
        Rect(
            max(rect.x0_nm, goods.x0_nm),
            max(rect.y0_nm, goods.y0_nm),
            min(rect.x1_nm, goods.x1_nm),
            min(rect.y1_nm, goods.y1_nm),
        )
        for rect in rects
    ]
