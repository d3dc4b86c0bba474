"""Cut maps as DXF, for a cutting table: one drawing a roll or remnant, face up or seen from the back.

The frame is the roll's: x across from the left edge, y along from the physical start, in millimetres, or in inches for
jobs in inches or feet. Layers, all of them in every file:

- `KNIFE`: where the knife goes, each stretch once: the sides of the cuts and of the offcuts kept, those of neighbours
  merged, none on the goods' own edges, none round what is cut already. First across the roll, then along it.
- `CUTS`: the outline of each cut, and of each hole in it, as one closed polyline. For tables that take whole outlines
  instead of `KNIFE`: neighbours share sides.
- `LABELS`: number, name and size inside each cut.
- `OUTLINE`, `START`, `OFFCUTS`, `FLAWS`: the roll, its start allowance, offcuts kept, flaws.
- `DONE`: cuts that were made, and goods that are gone.

Files are DXF R2000: the first version with units in its header, and old enough for the controls of cutting tables.
They hold ASCII only, other signs by their code points (see `dxf_text`), so that no code page matters.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass

import ezdxf
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts import Modelspace

from nesting.domain.done import CutState
from nesting.domain.file_stems import file_stem
from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.layout import Cut
from nesting.domain.plan import CutSource, MaterialPlan, Placement, Plan
from nesting.files.dxf_text import dxf_text, with_fixed_data
from nesting.floor.rings import Ring, sides, turned_rects, union_rings
from nesting.units import INCH_NM, METRIC, MM_NM, format_length

LAYERS = {
    "KNIFE": 1,
    "CUTS": 3,
    "LABELS": 7,
    "OUTLINE": 8,
    "START": 9,
    "OFFCUTS": 5,
    "FLAWS": 6,
    "DONE": 8,
}
"""Layer -> its colour by number."""

_MOST_LETTER_NM = 60 * MM_NM
_LEAST_LETTER_NM = 3 * MM_NM
_LINE_PITCH = 1.6  # lines of a label, in heights of its letters
_LETTER_WIDTH = 0.9  # of its height, on the wide side for any font

Stretch = tuple[Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A cut where it lies on the roll."""

    cut: Cut
    rects: tuple[Rect, ...]
    rings: tuple[Ring, ...]
    words: tuple[str, ...]

    @property
    def is_done(self) -> bool:
        """Tell whether it is cut already."""
        return self.cut.state != CutState.PLANNED


def cut_map_dxf(plan: Plan, *, mirrored: bool = False) -> dict[str, str]:
    """Return the cut map of every roll and remnant as DXF: text by file stem, in the order of the plan.

    Parameters
    ----------
    mirrored
        Seen from the back, for goods that lie face down: x from the right edge; every label says so.
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for part in plan.materials:
        for source in part.sources:
            found[file_stem(f"roll-{source.id}", taken)] = _drawing_of(plan, part, source, mirrored)
    return found


def _drawing_of(plan: Plan, part: MaterialPlan, source: CutSource, mirrored: bool) -> str:
    """Return one drawing."""
    metric = plan.job.unit in METRIC
    document = ezdxf.new("R2000", units=4 if metric else 1)  # $INSUNITS: millimetres, inches
    for name, colour in LAYERS.items():
        document.layers.add(name, color=colour)
    sheet = _Sheet(document, MM_NM if metric else INCH_NM, source.width_nm if mirrored else None)
    sheet.reach(source.width_nm, source.length_nm)
    sheet.box("OUTLINE", Rect(0, 0, source.width_nm, source.length_nm))
    if source.start_allowance_nm:
        sheet.box("START", Rect(0, 0, source.width_nm, source.start_allowance_nm))
    for flaw in source.flaws:
        sheet.box("FLAWS", flaw)
    for gone in source.gone:
        sheet.box("DONE", gone)
    offcuts = [offcut.rect for offcut in part.offcuts if offcut.source_id == source.id]
    for rect in offcuts:
        sheet.box("OFFCUTS", rect)
    placed = _placed(plan, part, source, mirrored)
    for piece in placed:
        for ring in piece.rings:
            sheet.ring("DONE" if piece.is_done else "CUTS", ring)
    for stretch in knife_lines(source, [p.rings for p in placed if not p.is_done], offcuts):
        sheet.line("KNIFE", stretch)
    for piece in placed:
        sheet.label(piece)
    return sheet.text()


def _placed(plan: Plan, part: MaterialPlan, source: CutSource, mirrored: bool) -> list[_Placed]:
    """Return the cuts on a source in the order of their numbers."""
    cuts = {cut.id: cut for cut in part.cuts}
    on_it = [spot for spot in part.placements if spot.source_id == source.id]
    return [
        _placed_cut(plan, cuts[spot.cut_id], spot, mirrored)
        for spot in sorted(on_it, key=lambda spot: cuts[spot.cut_id].number)
    ]


def _placed_cut(plan: Plan, cut: Cut, spot: Placement, mirrored: bool) -> _Placed:
    rects = turned_rects(cut.rects, spot.x_nm, spot.y_nm, spot.turn)
    owner = next((owner.name for owner in plan.job.owners if owner.id == cut.owner), cut.owner)
    box = bounding_rect(cut.rects)
    size = " x ".join(format_length(nm, plan.job.unit, with_unit=True) for nm in (box.width_nm, box.length_nm))
    words = (str(cut.number), cut.label or owner, size, *(("seen from the back",) if mirrored else ()))
    return _Placed(cut=cut, rects=rects, rings=union_rings(rects), words=words)


def knife_lines(source: CutSource, rings: Iterable[tuple[Ring, ...]], kept: Iterable[Rect]) -> tuple[Stretch, ...]:
    """Return where the knife goes, each stretch once: first across by place along the roll, then along by place across.

    Parameters
    ----------
    rings
        Of each piece to cut, nm.
    kept
        Offcuts that are kept: they are cut free too.
    """
    runs: dict[tuple[int, int], list[tuple[int, int]]] = {}
    corners = [sides(piece) for piece in rings]
    corners += [
        sides((((r.x0_nm, r.y0_nm), (r.x1_nm, r.y0_nm), (r.x1_nm, r.y1_nm), (r.x0_nm, r.y1_nm)),)) for r in kept
    ]
    ends = ((0, source.length_nm), (0, source.width_nm))
    for a, b in (side for piece in corners for side in piece):
        axis = 0 if a[1] == b[1] else 1  # the axis that it runs along
        at = a[1 - axis]
        if at not in ends[axis]:  # the goods end there already
            runs.setdefault((axis, at), []).append((min(a[axis], b[axis]), max(a[axis], b[axis])))
    lines: list[Stretch] = []
    for (axis, at), stretches in sorted(runs.items()):
        for low, high in _merged(stretches):
            lines.append(((low, at), (high, at)) if axis == 0 else ((at, low), (at, high)))
    return tuple(lines)


def _merged(stretches: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return stretches of one line, rising, those that meet joined."""
    joined: list[tuple[int, int]] = []
    for low, high in sorted(stretches):
        if joined and low <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    return joined


class _Sheet:
    """A drawing under way: takes nanometres, draws in its own unit."""

    def __init__(self, document: Drawing, unit_nm: int, mirror_nm: int | None) -> None:
        self.document = document
        self.space: Modelspace = document.modelspace()
        self.unit_nm = unit_nm
        self.mirror_nm = mirror_nm  # the roll's width, if seen from the back

    def at(self, point: Point) -> tuple[float, float]:
        """Return a point in the drawing: the nearest binary fraction, exact to far less than a nanometre."""
        x = point[0] if self.mirror_nm is None else self.mirror_nm - point[0]
        return x / self.unit_nm, point[1] / self.unit_nm

    def reach(self, width_nm: int, length_nm: int) -> None:
        """Say how far the drawing reaches; the library takes the header's own word where it begins at zero."""
        ends = ((0.0, 0.0, 0.0), (width_nm / self.unit_nm, length_nm / self.unit_nm, 0.0))
        self.space.reset_extents(*ends)
        self.document.header["$EXTMIN"], self.document.header["$EXTMAX"] = ends

    def ring(self, layer: str, ring: Ring) -> None:
        """Draw a closed outline."""
        self.space.add_lwpolyline([self.at(point) for point in ring], close=True, dxfattribs={"layer": layer})

    def box(self, layer: str, rect: Rect) -> None:
        """Draw a rectangle."""
        x0, y0, x1, y1 = rect
        self.ring(layer, ((x0, y0), (x1, y0), (x1, y1), (x0, y1)))

    def line(self, layer: str, stretch: Stretch) -> None:
        """Draw a straight line."""
        self.space.add_line(self.at(stretch[0]), self.at(stretch[1]), dxfattribs={"layer": layer})

    def label(self, piece: _Placed) -> None:
        """Write a label into the largest rectangle of a cut, along its longer side, as large as it fits."""
        rect = max(piece.rects, key=lambda rect: (rect.area_nm2, -rect.y0_nm, -rect.x0_nm))
        upright = rect.length_nm > 2 * rect.width_nm
        wide, high = (rect.length_nm, rect.width_nm) if upright else (rect.width_nm, rect.length_nm)
        words = [dxf_text(word) for word in piece.words]
        letters = max(len(word) for word in piece.words)
        fits = min(wide / (letters * _LETTER_WIDTH), high / (len(words) * _LINE_PITCH + 1))
        size = max(min(fits, _MOST_LETTER_NM), _LEAST_LETTER_NM)
        middle = ((rect.x0_nm + rect.x1_nm) // 2, (rect.y0_nm + rect.y1_nm) // 2)
        for number, word in enumerate(words):
            off = int(((len(words) - 1) / 2 - number) * _LINE_PITCH * size)
            step = (off if self.mirror_nm is not None else -off, 0) if upright else (0, off)
            text = self.space.add_text(
                word,
                height=round(size / self.unit_nm, 3),
                rotation=90 if upright else 0,
                dxfattribs={"layer": "LABELS"},
            )
            spot = self.at((middle[0] + step[0], middle[1] + step[1]))
            text.set_placement(spot, align=TextEntityAlignment.MIDDLE_CENTER)

    def text(self) -> str:
        """Return the whole file: ASCII, the same bytes for the same drawing."""
        stream = io.StringIO()
        self.document.write(stream)
        return with_fixed_data(stream.getvalue())
