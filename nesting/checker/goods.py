"""V2: every piece lies inside its source, apart from others, flaws and gaps; sources are what they are said to be."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.checker.done import is_made
from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.parts import Key, Part
from nesting.checker.whole import overlap
from nesting.domain.geometry import Point, Rect
from nesting.domain.job import DoorJoint
from nesting.domain.layout import AllowanceKind, Cut, CutKind
from nesting.domain.material import StockKind
from nesting.domain.plan import CutSource, SourceKind


def check_inside(view: View) -> Iterator[Finding]:
    """V2a: every piece lies inside its source, beyond the start allowance, short of what an unknown phase costs."""
    for source in view.part.sources:
        right = source.width_nm - source.phase_loss_nm[0]
        far = source.length_nm - source.phase_loss_nm[1]
        for cut in view.on_source[source.id]:
            for rect in view.lying[cut.id]:
                inside = rect.x0_nm >= 0 and rect.x1_nm <= right and rect.y1_nm <= far
                if not inside or rect.y0_nm < source.start_allowance_nm:
                    yield Finding(rule="V2a", where=f"cut {cut.id}", text=f"does not lie inside {source.id}")
                    break


def check_apart(view: View) -> Iterator[Finding]:
    """V2b: no two pieces of a source overlap."""
    for source in view.part.sources:
        rects = [(rect, cut.id) for cut in view.on_source[source.id] for rect in view.lying[cut.id]]
        for one, other in sorted(set(_overlaps(rects))):
            yield Finding(rule="V2b", where=f"source {source.id}", text=f"cuts {one} and {other} overlap")


def _overlaps(rects: list[tuple[Rect, str]]) -> Iterator[tuple[str, str]]:
    lying: list[tuple[Rect, str]] = []
    for rect, name in sorted(rects, key=lambda item: (item[0].y0_nm, item[0], item[1])):
        lying = [item for item in lying if item[0].y1_nm > rect.y0_nm]
        for other, other_name in lying:
            if other_name != name and overlap(rect, other):
                yield min(name, other_name), max(name, other_name)
        lying.append((rect, name))


def check_flaws(view: View) -> Iterator[Finding]:
    """V2c: no piece touches a flaw or what is gone, nor can it where goods in hand of unknown phase are bound.

    The cuts on such goods that are still to be made shift together, to the right and along, by up to the loss for the
    phase; flaws, what is gone and what is cut stay.
    """
    for source in view.part.sources:
        loss = source.phase_loss_nm if source.kind is not SourceKind.ORDER else (0, 0)
        made = {cut.id for cut in view.on_source[source.id] if is_made(view, cut)}
        fixed = [(flaw, f"a flaw of {source.id}") for flaw in source.flaws]
        fixed += [(rect, f"what is gone of {source.id}") for rect in source.gone]
        if loss != (0, 0):  # else pieces that overlap are V2b's
            fixed += [(rect, f"cut {name}, once it is shifted") for name in sorted(made) for rect in view.lying[name]]
        for cut in view.on_source[source.id]:
            barriers = fixed[: len(source.flaws) + len(source.gone)] if cut.id in made else _grown(fixed, loss)
            for what in sorted({what for rect in view.lying[cut.id] for at, what in barriers if overlap(rect, at)}):
                yield Finding(rule="V2c", where=f"cut {cut.id}", text=f"lies on {what}")


def _grown(fixed: list[tuple[Rect, str]], loss: Point) -> list[tuple[Rect, str]]:
    return [(Rect(at.x0_nm - loss[0], at.y0_nm - loss[1], at.x1_nm, at.y1_nm), what) for at, what in fixed]


def check_sources(view: View) -> Iterator[Finding]:
    """V2d: a source in hand is the piece of stock it names, an order starts with its allowance; each carries a cut."""
    for source in view.part.sources:
        for text in _wrong_source(view, source):
            yield Finding(rule="V2d", where=f"source {source.id}", text=text)


def _wrong_source(view: View, source: CutSource) -> Iterator[str]:
    if not view.on_source[source.id]:
        yield "carries no cut"
    if source.kind is SourceKind.ORDER:
        if source.start_allowance_nm != start_allowance_nm(view, source):
            yield f"starts with {source.start_allowance_nm} nm, not {start_allowance_nm(view, source)} nm"
        if source.stock_id or source.flaws or source.gone:
            yield "is to be ordered and yet known"
        return
    piece = view.stock[source.stock_id]
    kind = SourceKind.ROLL if piece.kind is StockKind.ROLL else SourceKind.REMNANT
    if (source.kind, source.width_nm, source.length_nm) != (kind, piece.width_nm, piece.length_nm):
        yield f"is not the {kind.value} in hand, or not of its size"
    if sorted(source.flaws) != sorted(piece.flaws):
        yield "has not the flaws of the piece in hand"
    if sorted(source.gone) != sorted(piece.gone):
        yield "has lost something else than the piece in hand"
    if source.start_allowance_nm != 0:
        yield "is in hand and has a start allowance"
    if piece.lot is not None and source.lot != piece.lot:
        yield f"is of lot {piece.lot}"
    if piece.lot is None and not _alone(view, source):
        yield "is of an unknown lot and shares one"


def start_allowance_nm(view: View, source: CutSource) -> int:
    """Return what the start of an ordered roll loses: squaring, and up to the first mark where the phase is bound."""
    material = view.material
    if not source.anchored or material.pattern is None:
        return material.squaring_nm
    # An allowance of 0 forbids anchoring (V3c); where that has consent, one repeat is lost as by default.
    return material.squaring_nm + (material.starting_allowance_nm or material.pattern.along_nm)


def _alone(view: View, source: CutSource) -> bool:
    """Tell whether no other source or piece in hand is of the source's lot."""
    others = [other.lot for other in view.part.sources if other.id != source.id]
    return source.lot not in (*others, *(piece.lot for piece in view.stock.values()))


def check_selvedge(view: View) -> Iterator[Finding]:
    """V2e: selvedge comes into no seam, and at a wall only as far as the trim goes; other pieces keep clear of it."""
    if view.material.selvedge_nm == 0:
        return
    for cut in view.part.cuts:
        insets = least_insets(view, cut)
        if insets is None:
            continue
        source = view.source_of(cut)
        left = min(rect.x0_nm for rect in view.lying[cut.id])
        right = source.width_nm - source.phase_loss_nm[0] - max(rect.x1_nm for rect in view.lying[cut.id])
        if view.places[cut.id].turn % 4 == 2:
            left, right = right, left
        for side, room, inset in (("left", left, insets[0]), ("right", right, insets[1])):
            if room < inset:
                text = f"its {side} side lies {room} nm from the edge of {source.id}, {inset} nm are needed"
                yield Finding(rule="V2e", where=f"cut {cut.id}", text=text)


def least_insets(view: View, cut: Cut) -> tuple[int, int] | None:
    """Return how far a piece's left and right must keep off the source's edges; None: its part is not known."""
    selvedge = view.material.selvedge_nm
    if cut.kind is not CutKind.DROP:
        return selvedge, selvedge
    floor = view.floors.get(cut.owner)
    part = floor.part_of.get(cut.id) if floor else None
    if floor is None or part is None:
        return None
    seamed = {
        (AllowanceKind.DOOR, index)
        for index, edge in enumerate(floor.room.edges)
        for door in floor.room.doors
        if door.id == edge.door and door.joint is DoorJoint.SEAM
    }
    given = {(item.kind, item.edge): item.given_nm for item in cut.allowances}
    return tuple(_inset(part, seam, given, seamed, selvedge, sign) for seam, sign in _ENDS)  # type: ignore[return-value]


_ENDS = ((AllowanceKind.SEAM_LEFT, -1), (AllowanceKind.SEAM_RIGHT, 1))


def _inset(
    part: Part, seam: AllowanceKind, given: dict[Key, int], seamed: set[Key], selvedge_nm: int, sign: int
) -> int:
    """Return how far one side must keep off: the selvedge at a seam, else what the least trim there leaves of it."""
    facing = {
        stretch.key
        for stretch in part.stretches
        if sign * stretch.step[1] > 0 and abs(stretch.step[1]) >= abs(stretch.step[0])
    }
    if any(key[0] is seam or key in seamed for key in facing):
        return selvedge_nm
    walls = [given.get(key, 0) for key in facing if key[0] is not AllowanceKind.HOLE]
    return max(0, selvedge_nm - min(walls, default=0))
