"""V4l to V4q: widths, lots, what can be ordered, the cap on seams, bench cuts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.lattice import matching_rooms
from nesting.domain.geometry import Rect
from nesting.domain.layout import CutKind
from nesting.domain.plan import SourceKind
from nesting.domain.rules import RuleId

ROOM_CUTS = (CutKind.DROP, CutKind.INSERT)


def check_one_width(view: View) -> Iterator[Finding]:
    """V4l: the rolls ordered for one room are of one made width."""
    for name in view.rooms:
        sources = [view.source_of(cut) for cut in view.cuts_of(name) if cut.kind in ROOM_CUTS]
        if len({source.width_nm for source in sources if source.kind is SourceKind.ORDER}) > 1:
            yield Finding(rule="V4l", where=f"room {name}", text="is cut from ordered rolls of several widths")


def check_room_lots(view: View) -> Iterator[Finding]:
    """V4m: a room, and rooms that match, are cut from one lot."""
    families = {tuple(sorted(family)) for family in matching_rooms(view).values()}
    for family in sorted(families):
        if not all(view.rooms[name].rules.holds(RuleId.ONE_LOT) for name in family):
            continue
        cuts = [cut for name in family for cut in view.cuts_of(name) if cut.kind in ROOM_CUTS]
        lots = sorted({view.source_of(cut).lot for cut in cuts})
        if len(lots) > 1:
            text = f"is cut from lots {', '.join(lots)}"
            yield Finding(
                rule="V4m", where=f"room {' and '.join(family)}", text=text, breaks=RuleId.ONE_LOT, owners=family
            )


def owners_of(view: View, source_id: str) -> tuple[str, ...]:
    """Return the rooms, loose pieces and strips that are cut from a source."""
    return tuple(sorted({cut.owner for cut in view.on_source[source_id]}))


def check_order_lots(view: View) -> Iterator[Finding]:
    """V4n: what is ordered is of one lot, new or orderable, and of no more than the supply of a lot."""
    orders = [source for source in view.part.sources if source.kind is SourceKind.ORDER]
    limit = view.material.sale.lot_limit_nm
    ordered: dict[tuple[str, int], int] = {}
    for source in orders:
        ordered[source.lot, source.width_nm] = ordered.get((source.lot, source.width_nm), 0) + source.length_nm
    lots = sorted({source.lot for source in orders})
    owners = tuple(sorted({owner for source in orders for owner in owners_of(view, source.id)}))
    where = f"material {view.material.id}"
    if len(lots) > 1 and (limit is None or max(_per_width(ordered).values()) <= limit):
        text = f"is ordered of lots {', '.join(lots)}"
        yield Finding(rule="V4n", where=where, text=text, breaks=RuleId.ONE_LOT, owners=owners)
    if limit is not None:
        for (lot, width), length in sorted(ordered.items()):
            if length > limit:
                text = f"{length} nm of width {width} are ordered of lot {lot}, its supply is {limit} nm"
                yield Finding(rule="V4n", where=where, text=text, breaks=RuleId.STOCK, owners=owners)
    in_hand = {piece.lot for piece in view.stock.values() if piece.lot is not None}
    orderable = {piece.lot for piece in view.stock.values() if piece.lot_orderable}
    for lot in lots:
        if lot in in_hand and lot not in orderable:
            yield Finding(rule="V4n", where=where, text=f"lot {lot} is in hand and cannot be ordered again")


def _per_width(ordered: dict[tuple[str, int], int]) -> dict[int, int]:
    totals: dict[int, int] = {}
    for (_, width), length in ordered.items():
        totals[width] = totals.get(width, 0) + length
    return totals


def check_orders(view: View) -> Iterator[Finding]:
    """V4o: only goods that can be ordered are: in a width and no longer than made."""
    material = view.material
    for source in view.part.sources:
        if source.kind is not SourceKind.ORDER:
            continue
        faults = []
        if not material.orders_allowed:
            faults.append("cannot be ordered: only what is in hand may be used")
        if source.width_nm not in material.widths_nm:
            faults.append(f"is {source.width_nm} nm wide, a width that is not made")
        if material.longest_nm is not None and source.length_nm > material.longest_nm:
            faults.append(f"is {source.length_nm} nm long, the longest made {material.longest_nm} nm")
        for text in faults:
            owners = tuple(
                owner
                for owner in owners_of(view, source.id)
                if owner not in view.rooms or view.rooms[owner].rules.holds(RuleId.STOCK)
            )
            if owners or not view.on_source[source.id]:
                yield Finding(rule="V4o", where=f"source {source.id}", text=text, breaks=RuleId.STOCK, owners=owners)


def check_most_seams(view: View) -> Iterator[Finding]:
    """V4p: there are no more seams, cross seams and relief cuts than the goal's cap."""
    most, measures = view.job.goal.most_seams, view.part.measures
    count = measures.seams + measures.cross_seams + measures.relief_cuts
    if most is not None and count > most:
        where = f"material {view.material.id}"
        yield Finding(rule="V4p", where=where, text=f"has {count} seams, the goal allows {most}")


def check_bench_cuts(view: View) -> Iterator[Finding]:
    """V4q: with bench cuts, a source is cut across its width, each length split along, each split cut across."""
    if not view.job.offcuts.bench_cuts:
        return
    for source in view.part.sources:
        boxes = [_round(view.lying[cut.id]) for cut in view.on_source[source.id]]
        for length in _apart(boxes, 1):
            for split in _apart(length, 0):
                if any(len(piece) > 1 for piece in _apart(split, 1)):
                    yield Finding(rule="V4q", where=f"source {source.id}", text="cannot be cut by bench cuts")
                    break


def _round(rects: Sequence[Rect]) -> Rect:
    return Rect(
        min(rect.x0_nm for rect in rects),
        min(rect.y0_nm for rect in rects),
        max(rect.x1_nm for rect in rects),
        max(rect.y1_nm for rect in rects),
    )


def _apart(boxes: Sequence[Rect], axis: int) -> list[list[Rect]]:
    """Return the boxes in groups that straight cuts through all goods separate, along one axis."""
    groups: list[list[Rect]] = []
    end = 0
    for box in sorted(boxes, key=lambda box: box[axis]):
        if not groups or box[axis] >= end:
            groups.append([])
            end = box[axis + 2]
        groups[-1].append(box)
        end = max(end, box[axis + 2])
    return groups
