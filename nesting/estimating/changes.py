"""What a plan made again changes: cut by cut, room by room, roll by roll. Data only; `change_words` says it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.done import CutState
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import LoosePiece, Room, Strip
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.plan import CutSource, Placement, Plan, SourceKind
from nesting.estimating.on_hand import lying_on

Owner = Room | LoosePiece | Strip

OrderKey = tuple[str, int, str]
"""Material, width, lot."""


class Fate(StrEnum):
    """What became of a cut."""

    KEPT = "kept"  # the same cut at the same place
    DONE = "done"  # cut or laid
    RECUT = "re-cut"  # was made, and is cut anew
    MOVED = "moved"  # the same piece of goods, cut elsewhere
    RESIZED = "resized"  # another piece of goods for what had this name
    NEW = "new"


TO_CUT_ANEW = (Fate.RECUT, Fate.MOVED, Fate.RESIZED, Fate.NEW)
"""What the maps mark: it is not as in the plan before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutChange:
    """A cut of the new plan, and what it was in the plan before (None: there was none of its id)."""

    fate: Fate
    cut: Cut
    spot: Placement
    source: CutSource
    was: Cut | None = None
    was_at: Placement | None = None

    @property
    def same_goods(self) -> bool:
        """Tell whether the knife makes the same cut as before: the same shape at the same place."""
        spots = self.was_at is not None and _place(self.was_at) == _place(self.spot)
        return spots and self.was is not None and shape_of(self.was) == shape_of(self.cut)


@dataclass(frozen=True, slots=True, kw_only=True)
class GoneCut:
    """A cut of the plan before that the new one has no more. `made`: it is cut already."""

    cut: Cut
    source_id: str
    made: bool = False


class OwnerFate(StrEnum):
    """What became of a room, loose piece or strip."""

    RELAID = "relaid"  # a room: another direction, or other seams
    ADDED = "added"
    DROPPED = "dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerChange:
    """A room that is laid another way; or a room, loose piece or strip that came or went."""

    fate: OwnerFate
    owner: str
    name: str
    is_room: bool
    was: RoomLayout | None = None
    now: RoomLayout | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChange:
    """What is to be ordered of one width and lot. `was_nm`: what the plan before ordered of it and is not ordered yet.

    `on`: ids of the goods in hand that are of this lot; (): a lot of its own.
    """

    material_id: str
    width_nm: int
    lot: str
    rolls_nm: tuple[int, ...]
    was_nm: tuple[int, ...] = ()
    repeat_tolerance_nm: int = 0
    on: tuple[str, ...] = ()

    @property
    def stands(self) -> bool:
        """Tell whether it is what the plan before orders."""
        return sorted(self.rolls_nm) == sorted(self.was_nm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """All that the new plan changes. `newly_used`: sources that the plan before cut nothing from.

    `no_longer_used`: goods in hand from which the plan before had something to cut and the new one cuts nothing.
    """

    cuts: tuple[CutChange, ...]  # in cutting order of the new plan
    gone: tuple[GoneCut, ...]
    owners: tuple[OwnerChange, ...]
    orders: tuple[OrderChange, ...]
    newly_used: tuple[CutSource, ...]
    no_longer_used: tuple[CutSource, ...]
    by_the_rules: bool = True  # the new plan: else nothing is ordered before it is accepted

    @property
    def nothing(self) -> bool:
        """Tell whether the new plan does nothing that the plan before did not."""
        cuts = any(item.fate in TO_CUT_ANEW for item in self.cuts)
        return not (cuts or self.gone or self.owners or self.no_longer_used or any(not o.stands for o in self.orders))

    @property
    def changed(self) -> frozenset[str]:
        """Ids of the cuts that the maps mark as new."""
        return frozenset(item.cut.id for item in self.cuts if item.fate in TO_CUT_ANEW)

    def column(self) -> dict[str, str]:
        """Return by cut id what the cut list says of a cut that is not as before: new, or moved."""
        return {
            item.cut.id: "moved" if item.fate is Fate.MOVED else "new" for item in self.cuts if item.fate in TO_CUT_ANEW
        }


def changes_of(before: Plan, after: Plan, remade: frozenset[str] = frozenset()) -> Changes:
    """Return what `after` changes against `before`.

    Parameters
    ----------
    before
        The plan that was.
    after
        The plan made again, for the job as it is now.
    remade
        Ids of cuts of `before` that were made and are given up: spoiled, or of a room that is laid anew.
    """
    old = {item.cut.id: item for item in _placed(before)}
    cuts = tuple(_cut_change(item, old.get(item.cut.id), remade) for item in _placed(after))
    ids = {item.cut.id for item in cuts}
    gone = (
        GoneCut(cut=item.cut, source_id=item.spot.source_id, made=item.cut.id in remade or _is_made(item.cut))
        for item in sorted(old.values(), key=lambda item: item.cut.number)
        if item.cut.id not in ids
    )
    was, now = _used(before), _used(after)
    there = {piece.id for piece in after.job.stock} & {
        item.source.id for item in old.values() if item.cut.id not in remade and not _is_made(item.cut)
    }
    return Changes(
        cuts=cuts,
        gone=tuple(gone),
        owners=tuple(_owner_changes(before, after)),
        orders=tuple(_order_changes(before, after)),
        newly_used=tuple(source for source in now if source.id not in {one.id for one in was}),
        no_longer_used=tuple(one for one in was if one.id in there and one.id not in {source.id for source in now}),
        by_the_rules=after.by_the_rules,
    )


def shape_of(cut: Cut) -> tuple[Rect, ...]:
    """Return the rectangles of a cut from their lower left corner."""
    corner = bounding_rect(cut.rects)
    x, y = corner.x0_nm, corner.y0_nm
    return tuple(sorted(Rect(r.x0_nm - x, r.y0_nm - y, r.x1_nm - x, r.y1_nm - y) for r in cut.rects))


def _place(spot: Placement) -> tuple[str, int, int, int]:
    return (spot.source_id, spot.x_nm, spot.y_nm, spot.turn)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    cut: Cut
    spot: Placement
    source: CutSource


def _placed(plan: Plan) -> Iterator[_Placed]:
    """Yield all cuts with their places in cutting order: material by material, source by source, along, across."""
    for part in plan.materials:
        for source in part.sources:
            lying = lying_on(part, source.id)
            for item in sorted(lying, key=lambda item: (item.place.y_nm, item.place.x_nm, item.cut.id)):
                yield _Placed(cut=item.cut, spot=item.place, source=source)


def _used(plan: Plan) -> list[CutSource]:
    """Return the sources that something is cut from."""
    return list({item.source.id: item.source for item in _placed(plan)}.values())


def _is_made(cut: Cut) -> bool:
    return cut.state != CutState.PLANNED


def _cut_change(item: _Placed, old: _Placed | None, remade: frozenset[str]) -> CutChange:
    """Return what became of a cut: what is done comes first, then what was made and is made no more."""
    if _is_made(item.cut):
        fate = Fate.DONE
    elif old is None:
        fate = Fate.NEW
    elif item.cut.id in remade or _is_made(old.cut):
        fate = Fate.RECUT
    elif shape_of(old.cut) != shape_of(item.cut):
        fate = Fate.RESIZED
    else:
        same = old.cut.rects == item.cut.rects and _place(old.spot) == _place(item.spot)
        fate = Fate.KEPT if same else Fate.MOVED
    return CutChange(
        fate=fate,
        cut=item.cut,
        spot=item.spot,
        source=item.source,
        was=None if old is None else old.cut,
        was_at=None if old is None else old.spot,
    )


def _owners(plan: Plan) -> dict[str, Owner]:
    return {owner.id: owner for owner in plan.job.owners}


def _layouts(plan: Plan) -> dict[str, RoomLayout]:
    return {layout.room_id: layout for part in plan.materials for layout in part.layouts}


def _owner_changes(before: Plan, after: Plan) -> Iterator[OwnerChange]:
    """Yield rooms laid another way, then what is added, then what is dropped, each in the order of its job."""
    was, now = _layouts(before), _layouts(after)
    old, new = _owners(before), _owners(after)

    def change(fate: OwnerFate, owner: Owner) -> OwnerChange:
        return OwnerChange(fate=fate, owner=owner.id, name=owner.name or owner.id, is_room=isinstance(owner, Room),
                           was=was.get(owner.id), now=now.get(owner.id))  # fmt: skip

    for room in after.job.rooms:
        if room.id in was and room.id in now and _way(was[room.id]) != _way(now[room.id]):
            yield change(OwnerFate.RELAID, room)
    yield from (change(OwnerFate.ADDED, owner) for owner in new.values() if owner.id not in old)
    yield from (change(OwnerFate.DROPPED, owner) for owner in old.values() if owner.id not in new)


def _way(layout: RoomLayout) -> tuple[object, ...]:
    """Return what makes a layout another one: its direction and where its seams run."""
    seams = tuple(seam.at_nm for seam in layout.seams)
    return layout.direction, seams, tuple((seam.breadth, seam.at_nm) for seam in layout.cross_seams)


def _order_changes(before: Plan, after: Plan) -> Iterator[OrderChange]:
    """Yield what is ordered by material, width and lot; a roll of the plan before that is in hand now is ordered."""
    in_hand = {piece.id for piece in after.job.stock}
    was: dict[OrderKey, list[int]] = {}
    now: dict[OrderKey, list[int]] = {}
    spare: dict[OrderKey, int] = {}
    on = _lots_in_hand(before, after)
    for plan, found in ((before, was), (after, now)):
        for part in plan.materials:
            for line in part.order:
                key = (part.material_id, line.width_nm, line.lot)
                if plan is after or line.source_id not in in_hand:
                    found.setdefault(key, []).append(line.length_nm)
                if plan is after:
                    spare[key] = spare.get(key, 0) + line.repeat_tolerance_nm
    for key in dict.fromkeys((*now, *was)):
        material_id, width, lot = key
        yield OrderChange(
            material_id=material_id,
            width_nm=width,
            lot=lot,
            rolls_nm=tuple(now.get(key, ())),
            was_nm=tuple(was.get(key, ())),
            repeat_tolerance_nm=spare.get(key, 0),
            on=tuple(on.get((material_id, lot), ())),
        )


def _lots_in_hand(before: Plan, after: Plan) -> dict[tuple[str, str], list[str]]:
    """Return by material and lot the goods in hand; what a plan cuts from says of which lot it takes them to be."""
    lots: dict[tuple[str, str], list[str]] = {}
    stock = {piece.id: piece for piece in after.job.stock}
    named = {piece.id: piece.lot for piece in stock.values() if piece.lot is not None}
    for plan in (after, before):
        for source in _used(plan):
            if source.kind is not SourceKind.ORDER and source.id in stock:
                named.setdefault(source.id, source.lot)
    for ident, lot in named.items():
        lots.setdefault((stock[ident].material_id, lot), []).append(ident)
    return lots
