"""What lies on the bench of a job that has begun: rolls that came, what is cut from them, what is left of cuts.

Up to the far end of the last cut, a roll is cut up: what is left of it there are the offcuts that the plan listed, now
remnants of their own, and the pieces that are planned but not cut; the rest is gone. Beyond it the roll is whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.layout import Cut
from nesting.domain.material import Material, StockKind, StockPiece
from nesting.domain.plan import CutSource, MaterialPlan, Placement, SourceKind
from nesting.domain.rules import OffcutRules
from nesting.domain.state import Delivered, State
from nesting.model.finishing import disjoint_rects, turned_rects
from nesting.model.offcuts import keepable


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """A cut of the plan where it lies."""

    cut: Cut
    place: Placement

    @property
    def rects(self) -> tuple[Rect, ...]:
        """Its rectangles on the goods."""
        return turned_rects(self.cut.rects, self.place.turn, self.place.x_nm, self.place.y_nm)


def lying_on(plan: MaterialPlan, source_id: str) -> tuple[Lying, ...]:
    """Return the cuts of a source with their places."""
    places = {place.cut_id: place for place in plan.placements if place.source_id == source_id}
    return tuple(Lying(cut=cut, place=places[cut.id]) for cut in plan.cuts if cut.id in places)


def without(region: Rect, taken: Iterable[Rect]) -> tuple[Rect, ...]:
    """Return what is left of a rectangle, as disjoint rectangles."""
    left = [region]
    for rect in taken:
        left = [part for whole in left for part in _cut_out(whole, rect)]
    return disjoint_rects(left)


def _cut_out(whole: Rect, rect: Rect) -> Iterable[Rect]:
    x0, x1 = max(whole.x0_nm, rect.x0_nm), min(whole.x1_nm, rect.x1_nm)
    y0, y1 = max(whole.y0_nm, rect.y0_nm), min(whole.y1_nm, rect.y1_nm)
    if x0 >= x1 or y0 >= y1:
        return (whole,)
    parts = (
        Rect(whole.x0_nm, whole.y0_nm, x0, whole.y1_nm),
        Rect(x1, whole.y0_nm, whole.x1_nm, whole.y1_nm),
        Rect(x0, whole.y0_nm, x1, y0),
        Rect(x0, y1, x1, whole.y1_nm),
    )
    return (part for part in parts if part.width_nm > 0 and part.length_nm > 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """A source of the plan as it lies there now. `made` are the ids of its cuts that were made, spoiled ones too."""

    plan: MaterialPlan
    source: CutSource
    material: Material
    stock: StockPiece | None  # the piece in hand; None: it was ordered
    delivered: Delivered | None
    lot: str
    made: frozenset[str]
    kept: frozenset[str]  # of these, what is still a piece of the plan
    news: frozenset[str]  # of these, what was made or spoiled since the plan was made

    @property
    def _first_mark(self) -> Point | None:
        return self.delivered.first_mark_nm if self.delivered is not None else None

    @property
    def is_touched(self) -> bool:
        """Tell whether anything was cut from it."""
        return bool(self.made)

    @property
    def is_marked(self) -> bool:
        """Tell whether its first mark was measured, and says more than the plan knows."""
        if self._first_mark is None or self.material.pattern is None:
            return False
        if self.stock is not None and self.stock.phase_nm is not None:
            return self.stock.phase_assumed or not self.is_touched
        return not (self.source.anchored and self.is_touched)

    def phase(self) -> tuple[Point | None, bool]:
        """Return σ at the origin, and whether it is only assumed.

        A roll that was bound is cut from its first mark on, as the plan has it. One of unknown phase that was cut shows
        its pattern as the plan assumed it, beside its own pieces only.
        """
        if self.material.pattern is None:
            return None, False
        if self.is_marked and self._first_mark is not None:
            pattern = self.material.pattern
            free = pattern.across_nm is None or pattern.at_seam  # only the edge tells where it lies across
            return (0 if free else -self._first_mark[0], -self._first_mark[1]), False
        if self.stock is not None and self.stock.phase_nm is not None:
            return self.stock.phase_nm, self.stock.phase_assumed
        if self.source.anchored and self.is_touched:
            return self.source.phase_nm, False
        if self.source.anchored and self.stock is None:
            return self.source.phase_nm, False
        return (self.source.phase_nm, True) if self.is_touched else (None, False)

    def piece(self, state: State) -> StockPiece:
        """Return it as a piece in hand."""
        source, came = self.source, self.delivered
        phase, assumed = self.phase()
        width = source.width_nm if came is None or came.width_nm is None else came.width_nm
        length = source.length_nm if came is None or came.length_nm is None else came.length_nm
        inside = Rect(0, 0, width, length)
        base = self.stock or StockPiece(
            id=source.id,
            material_id=self.material.id,
            kind=StockKind.ROLL,
            width_nm=width,
            length_nm=length,
            lot_orderable=came is None or came.lot_orderable,
        )
        return replace(
            base,
            width_nm=width,
            length_nm=length,
            lot=self.lot if self.stock is None or self.is_touched else self.stock.lot,
            flaws=tuple(dict.fromkeys(part for flaw in self.flaws(state) for part in _within(flaw, inside))),
            gone=tuple(part for rect in self._gone(state, inside) for part in _within(rect, inside)),
            phase_nm=phase,
            phase_assumed=assumed,
        )

    def flaws(self, state: State) -> tuple[Rect, ...]:
        """Return all flaws that are known of it."""
        came = self.delivered.flaws if self.delivered is not None else ()
        found = tuple(flaw.rect for flaw in state.flaws if flaw.source_id == self.source.id)
        return (*self.source.flaws, *came, *found)

    def cut_up_to_nm(self) -> int:
        """Return the far end of the last cut that was made."""
        made = (item for item in lying_on(self.plan, self.source.id) if item.cut.id in self.made)
        return max((rect.y1_nm for item in made for rect in item.rects), default=0)

    def _gone(self, state: State, inside: Rect) -> tuple[Rect, ...]:
        """Return what is not there any more, or never was of use: disjoint rectangles."""
        source = self.source
        far = self.cut_up_to_nm()
        there = [rect for item in lying_on(self.plan, source.id) if self._is_there(item) for rect in item.rects]
        gone = [*source.gone]
        if self.news:
            gone += without(Rect(0, 0, inside.x1_nm, far), [*source.gone, *there])
        start = self._start_nm()
        if start > far:
            gone += without(Rect(0, far, inside.x1_nm, start), gone)
        if source.anchored and (self.stock is None or self.news) and self._first_mark is None:
            taken = [*gone, *there]
            right, end = source.width_nm - source.phase_loss_nm[0], source.length_nm - source.phase_loss_nm[1]
            if right < inside.x1_nm:
                gone += without(Rect(right, max(start, far), inside.x1_nm, inside.y1_nm), taken)
            if max(start, far) < end < inside.y1_nm and self.stock is not None:
                gone += without(Rect(0, end, min(right, inside.x1_nm), inside.y1_nm), taken)
        for offcut in self.plan.offcuts:
            if offcut.source_id == source.id and offcut.id in state.gone:
                gone += without(offcut.rect, gone)
        return tuple(gone)

    def _is_there(self, item: Lying) -> bool:
        return item.cut.id in self.kept or item.cut.id not in self.made

    def _start_nm(self) -> int:
        """Return what the start of a roll loses: as planned, or only the squaring where its first mark was measured."""
        if self.source.kind is not SourceKind.ORDER:
            return 0
        if self._first_mark is not None and not self.is_touched:
            return self.material.squaring_nm
        return self.source.start_allowance_nm

    def remnants(self, state: State, rules: OffcutRules) -> tuple[StockPiece, ...]:
        """Return the remnants that lie beside what was cut: the plan's offcuts, and what is left of spoiled cuts."""
        far = self.cut_up_to_nm()
        found = []
        for offcut in self.plan.offcuts:
            rect = offcut.rect._replace(y1_nm=min(offcut.rect.y1_nm, far))
            here = offcut.source_id == self.source.id and offcut.id not in state.gone and rect.length_nm > 0
            if here and keepable(rect, rules.sizes_nm):
                found.append(self._remnant(offcut.id, rect, state))
        left = {item.cut_id: item.left for item in state.spoiled}
        for item in lying_on(self.plan, self.source.id):
            if item.cut.id not in self.made or item.cut.id in self.kept:
                continue
            corner = bounding_rect(item.rects)
            whole = Rect(0, 0, corner.width_nm, corner.length_nm)
            for number, part in enumerate(left.get(item.cut.id, (whole,)), start=1):
                rect = Rect(
                    corner.x0_nm + part.x0_nm,
                    corner.y0_nm + part.y0_nm,
                    corner.x0_nm + part.x1_nm,
                    corner.y0_nm + part.y1_nm,
                )
                name = f"cut-{item.cut.number}" if number == 1 else f"cut-{item.cut.number}-{number}"
                found.append(self._remnant(name, rect, state, gone=without(rect, item.rects)))
        return tuple(found)

    def _remnant(self, name: str, rect: Rect, state: State, gone: Sequence[Rect] = ()) -> StockPiece:
        phase, assumed = self.phase()
        x, y = rect.x0_nm, rect.y0_nm
        flaws = tuple(part for flaw in self.flaws(state) for part in _within(flaw, rect))
        return StockPiece(
            id=name,
            material_id=self.material.id,
            kind=StockKind.REMNANT,
            width_nm=rect.width_nm,
            length_nm=rect.length_nm,
            lot=self.lot,
            lot_orderable=self.stock.lot_orderable if self.stock is not None else self._lot_orderable,
            flaws=tuple(_moved(flaw, x, y) for flaw in flaws),
            gone=tuple(_moved(part, x, y) for part in gone),
            phase_nm=None if phase is None else (phase[0] + x, phase[1] + y),
            phase_assumed=assumed,
        )

    @property
    def _lot_orderable(self) -> bool:
        return self.delivered is None or self.delivered.lot_orderable


def _moved(rect: Rect, x_nm: int, y_nm: int) -> Rect:
    """Return a rectangle seen from (x, y)."""
    return Rect(rect.x0_nm - x_nm, rect.y0_nm - y_nm, rect.x1_nm - x_nm, rect.y1_nm - y_nm)


def _within(rect: Rect, inside: Rect) -> tuple[Rect, ...]:
    """Return the part of a rectangle inside another, if there is any."""
    part = Rect(
        max(rect.x0_nm, inside.x0_nm),
        max(rect.y0_nm, inside.y0_nm),
        min(rect.x1_nm, inside.x1_nm),
        min(rect.y1_nm, inside.y1_nm),
    )
    return (part,) if part.width_nm > 0 and part.length_nm > 0 else ()
