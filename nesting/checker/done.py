"""V4x: what was cut lies where and as it was cut. Beside it what V1a, V2c and V6c know of work that is done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.whole import disjoint, sound, turned_rects
from nesting.domain.done import CutState, DoneCut
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import StockPiece

STATES = tuple(state.value for state in CutState)


def insane_done(job: Job) -> Iterator[tuple[str, str]]:
    """Yield what is done or gone, with a reason, that cannot be: of goods or owners not there, or lying on other."""
    rooms = {room.id: room.material_id for room in job.rooms}
    owners: Mapping[CutKind, Mapping[str, str]] = {
        CutKind.DROP: rooms,
        CutKind.INSERT: rooms,
        CutKind.LOOSE: {item.id: item.material_id for item in job.loose},
        CutKind.STRIP: {strip.id: strip.material_id for strip in job.strips},
    }
    stock = {piece.id: piece for piece in job.stock}
    lying: dict[str, list[Rect]] = {piece.id: [] for piece in job.stock}
    for name, count in Counter(item.cut.id for item in job.done).items():
        if count > 1:
            yield f"cut {name}", "is done more than once"
    for item in job.done:
        cut, piece = item.cut, stock.get(item.source_id)
        where = f"cut {cut.id}"
        material = owners[cut.kind].get(cut.owner)
        if material is None:
            yield where, f"is done for {cut.owner}, which is not in the job"
        elif piece is None or piece.material_id != material:
            yield where, f"is cut from {item.source_id}, which is no piece of its material in hand"
        if cut.state not in STATES:
            yield where, f"is {cut.state}, which is no state"
        if not cut.rects or not all(sound(rect) for rect in cut.rects):
            yield where, "is done and not made up of rectangles of positive whole sizes"
        elif piece is not None:
            rects = lying_done(item)
            lying[piece.id] += rects
            if not all(_inside(rect, piece) for rect in rects):
                yield where, f"does not lie inside {piece.id}, from which it is cut"
    for piece in job.stock:
        where = f"stock piece {piece.id}"
        if not all(sound(rect) and _inside(rect, piece) for rect in piece.gone) or not disjoint(piece.gone):
            yield where, "has lost what is not made up of disjoint rectangles inside it"
        elif not disjoint((*piece.gone, *lying[piece.id])):
            yield where, "has done cuts whose rectangles lie on one another or on what is gone"


def lying_done(item: DoneCut) -> tuple[Rect, ...]:
    """Return the rectangles of a done cut where they lie on its piece in hand."""
    return turned_rects(item.cut.rects, bounding_rect(item.cut.rects), item.turn, item.x_nm, item.y_nm)


def _inside(rect: Rect, piece: StockPiece) -> bool:
    across = rect.x0_nm >= 0 and rect.x1_nm <= piece.width_nm
    return across and rect.y0_nm >= 0 and rect.y1_nm <= piece.length_nm


def is_made(view: View, cut: Cut) -> bool:
    """Tell whether a cut is made, so that nothing moves it any more; one that is only held is not."""
    return cut.id in view.done and view.done[cut.id].cut.state != CutState.PLANNED.value


def check_done(view: View) -> Iterator[Finding]:
    """V4x: every done cut is in the plan as it is, where it was cut; no other cut is said to be cut or laid.

    Labels, numbers and allowances may differ: they do not change the goods. Nothing excuses a breach, goods that are
    cut cannot be cut otherwise.
    """
    for name, item in view.done.items():
        for text in _changed(view, item):
            yield Finding(rule="V4x", where=f"cut {name}", text=text)
    for cut in view.part.cuts:
        if cut.state != CutState.PLANNED.value and cut.id not in view.done:
            yield Finding(rule="V4x", where=f"cut {cut.id}", text=f"is said to be {cut.state} and is not done")


def _changed(view: View, item: DoneCut) -> Iterator[str]:
    cut = view.cuts.get(item.cut.id)
    if cut is None:
        yield f"is {item.cut.state} and not in the plan"
        return
    if cut.state != item.cut.state:
        yield f"is {item.cut.state}, not {cut.state}"
    if _identity(cut) != _identity(item.cut):
        yield "is for another part of the job than it was cut for"
    if sorted(cut.rects) != sorted(item.cut.rects):
        yield "has another shape than it was cut in"
    place, source = view.places[cut.id], view.source_of(cut)
    if (source.id, source.stock_id) != (item.source_id, item.source_id):
        yield f"is cut from {item.source_id}, not from {source.id}"
    elif (place.x_nm, place.y_nm, place.turn) != (item.x_nm, item.y_nm, item.turn):
        yield f"does not lie where it was cut from {item.source_id}"


def _identity(cut: Cut) -> tuple[object, ...]:
    return cut.kind, cut.owner, cut.breadth, cut.low, cut.high, cut.of_item


def in_hand_nm2(view: View) -> int:
    """Return the goods in hand that can still be cut: all pieces less what is gone and what is done on them."""
    pieces = sum(piece.width_nm * piece.length_nm for piece in view.stock.values())
    gone = sum(rect.area_nm2 for piece in view.stock.values() for rect in piece.gone)
    return pieces - gone - sum(_area(item) for item in view.done.values())


def _area(item: DoneCut) -> int:
    return sum(rect.area_nm2 for rect in item.cut.rects)


def still_to_cut(view: View, least: Mapping[str, int]) -> dict[str, int]:
    """Return of the least areas, by the names that certificates use, how much is still to be cut at least.

    Why that is sure: the cuts of an owner have together at least its least area, and its done cuts are among them
    (V4x) and apart (V2b), so that the others have at least the least area less that of the done ones, and never less
    than nothing. All others lie on goods to order or on what `in_hand_nm2` counts: a done cut takes its area off its
    owner's term and off the goods in hand, once each. What a done cut is larger than it must be makes the term less
    than what is still needed, never more. Drops count for their room and inserts for its inserts, since the least
    areas of the two stand apart; a loose piece that is done twice over leaves the others of its count untouched.
    """
    items: Counter[tuple[str, str]] = Counter()
    taken: Counter[str] = Counter()
    for item in view.done.values():
        owner = item.cut.owner
        match item.cut.kind:
            case CutKind.DROP:
                taken[f"room:{owner}"] += _area(item)
            case CutKind.INSERT:
                taken[f"insert:{owner}"] += _area(item)
            case CutKind.LOOSE | CutKind.STRIP:
                first = min((cut.of_item for cut in view.cuts_of(owner)), default=item.cut.of_item)
                kind = "loose" if item.cut.kind is CutKind.LOOSE else "strip"
                items[f"{kind}:{owner}", f"item:{owner}#{item.cut.of_item - first + 1}"] += _area(item)
    for (whole, name), area in items.items():
        taken[name] += area
        taken[whole] += min(area, least.get(name, area))
    return {name: max(0, value - taken[name]) for name, value in least.items()}
