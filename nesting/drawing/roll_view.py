"""What a roll map needs to know of one source, looked up once."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.layout import AllowanceKind, Cut, CutKind, RoomLayout
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, Offcut, OffcutUse, Plan, SourceKind
from nesting.drawing.cut_words import cut_name, said
from nesting.drawing.flags import CUT, LAID, flag_of
from nesting.drawing.lengths import length_text, size_text
from nesting.drawing.metrics import clean
from nesting.drawing.outline import Ring, sides, turned_rects, union_rings
from nesting.drawing.pattern_lines import DrawnLattice, lattice_of


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedCut:
    """A cut where it lies on the roll. `turn`: quarter turns counter-clockwise."""

    cut: Cut
    name: str
    size: str
    end: str  # what lies in the room at the end that the arrow points to
    turn: int
    rects: tuple[Rect, ...]
    rings: tuple[Ring, ...]
    said: str  # in a sentence
    flag: str = ""  # CUT, LAID, NEW

    @property
    def is_done(self) -> bool:
        """Tell whether it is cut already."""
        return self.flag in (CUT, LAID)


@dataclass(frozen=True, slots=True, kw_only=True)
class RollView:
    """One source with all that is cut from it."""

    plan: Plan
    material: Material
    source: CutSource
    placed: tuple[PlacedCut, ...]
    offcuts: tuple[Offcut, ...]
    lattice: DrawnLattice | None

    def positions(self) -> list[int]:
        """Return where the knife goes across: every crosswise side of a piece or offcut, the ends, the start."""
        found = {0, self.source.length_nm, self.source.start_allowance_nm}
        for piece in self.placed:
            found |= {a[1] for a, b in sides(piece.rings) if a[1] == b[1]}
        for offcut in self.offcuts:
            found |= {offcut.rect.y0_nm, offcut.rect.y1_nm}
        return sorted(found)

    def lengthwise(self) -> list[tuple[int, int, int]]:
        """Return the lengthwise cuts within the roll as (x, y from, y to), joined where they meet."""
        runs = sorted(
            (a[0], min(a[1], b[1]), max(a[1], b[1]))
            for piece in self.placed
            for a, b in sides(piece.rings)
            if a[0] == b[0] and 0 < a[0] < self.source.width_nm
        )
        joined: list[tuple[int, int, int]] = []
        for x, low, high in runs:
            if joined and joined[-1][0] == x and joined[-1][2] >= low:
                joined[-1] = (x, joined[-1][1], max(high, joined[-1][2]))
            else:
                joined.append((x, low, high))
        return joined

    def last_nm(self) -> int:
        """Return how far along something other than one long offcut lies."""
        ends = [r.y1_nm for piece in self.placed for r in piece.rects]
        ends += [rect.y1_nm for rect in (*self.source.flaws, *self.source.gone)]
        ends += [o.rect.y1_nm for o in self.offcuts if o.rect.y1_nm < self.source.length_nm]
        return max([self.source.start_allowance_nm, *ends])


def roll_view(plan: Plan, part: MaterialPlan, source: CutSource, changed: frozenset[str] = frozenset()) -> RollView:
    """Return what the map of `source` shows; `changed`: ids of the cuts that are not as in the plan before."""
    material = next(m for m in plan.job.materials if m.id == part.material_id)
    cuts = {cut.id: cut for cut in part.cuts}
    layouts = {layout.room_id: layout for layout in part.layouts}
    placed = []
    for spot in part.placements:
        if spot.source_id != source.id:
            continue
        cut = cuts[spot.cut_id]
        rects = turned_rects(cut.rects, spot.x_nm, spot.y_nm, spot.turn)
        box = bounding_rect(cut.rects)
        placed.append(
            PlacedCut(
                cut=cut,
                name=cut_name(plan, cut),
                size=size_text(box.width_nm, box.length_nm, plan.job.unit),
                end=_end_name(plan, cut, layouts.get(cut.owner)),
                turn=spot.turn % 4,
                rects=rects,
                rings=union_rings(rects),
                said=said(plan, cut, source, flag_of(cut, changed)),
                flag=flag_of(cut, changed),
            )
        )
    sigma = source.phase_nm or (0, 0)
    return RollView(
        plan=plan,
        material=material,
        source=source,
        placed=tuple(sorted(placed, key=lambda piece: piece.cut.number)),
        offcuts=tuple(o for o in part.offcuts if o.source_id == source.id),
        lattice=None if source.phase_nm is None else lattice_of(material, source.width_nm, (-sigma[0], -sigma[1])),
    )


def _end_name(plan: Plan, cut: Cut, layout: RoomLayout | None) -> str:
    """Return what the end of a drop comes to in the room: a wall's name, a door, a cross seam; "" if unnamed."""
    if cut.kind is not CutKind.DROP or layout is None:
        return ""
    room = next(r for r in plan.job.rooms if r.id == cut.owner)
    if any(a.kind is AllowanceKind.CROSS_HIGH for a in cut.allowances):
        return "cross seam"
    ends = []
    for allowance in cut.allowances:
        if allowance.kind not in (AllowanceKind.WALL, AllowanceKind.DOOR):
            continue
        a, b = layout.floor[allowance.edge], layout.floor[(allowance.edge + 1) % len(layout.floor)]
        if b[0] < a[0] and a[0] - b[0] > abs(a[1] - b[1]):  # runs across, with the floor below it
            name = room.edges[allowance.edge].wall or ("door" if allowance.kind is AllowanceKind.DOOR else "")
            ends.append((a[1] + b[1], a[0] - b[0], name))
    return clean(max(ends)[2]) if ends else ""


def source_words(view: RollView) -> str:
    """Return what the source is, in a line: width, length, lot, place."""
    source, unit = view.source, view.plan.job.unit
    width = f"width {length_text(source.width_nm, unit)}"
    lot = clean(source.lot)
    if source.kind is SourceKind.ORDER:
        verb = "length to order" if view.plan.by_the_rules else "length it would take"
        parts = [width, f"{verb} {length_text(source.length_nm, unit)}", lot]
    else:
        place = next((s.place for s in view.plan.job.stock if s.id == source.stock_id), "")
        named = lot if not lot or lot.startswith("lot ") else f"lot {lot}"
        parts = [width, f"length {length_text(source.length_nm, unit)}", named, clean(place)]
    return " · ".join(part for part in parts if part)


def offcut_fate(offcut: Offcut) -> str:
    """Return what becomes of an offcut."""
    return "back to the shop" if offcut.use is OffcutUse.SHOP else "stays with the client"
