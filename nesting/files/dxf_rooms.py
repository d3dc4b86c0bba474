"""Rooms from a DXF drawing: closed outlines, the text inside each its name, outlines inside others cut out of them.

Rules, so that the same drawing always gives the same rooms:

- The text whose point lies inside an outline (and inside none smaller) names it; of several the one with the largest
  letters, then the uppermost, then the leftmost.
- An outline inside another is cut out of it; one inside that is a room again.
- Arcs become chords that stay within `ARC_NM` of them.
- Lengths are counted from an outline's first corner, so that rooms of equal size stay equal wherever they stand, and
  read to the step of `dxf_document`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from nesting.domain.job import HoleKind
from nesting.domain.plan import Notice
from nesting.errors import Fault, JobError
from nesting.files.dxf_document import UNITS, DrawingUnit, exact, open_drawing, unit_of
from nesting.files.dxf_entities import MOST_ENTITIES, Drawn, DrawnOutline, DrawnText, drawn, number, plain
from nesting.files.dxf_nesting import Relation, box_of, boxes_apart, relation_of
from nesting.files.dxf_outlines import MeasuredOutline, askew_nm, from_lower_left, tidy, without_arcs
from nesting.files.outline import contains, first_crossing, twice_area
from nesting.files.rooms_job import LONGEST_NAME, ReadCutOut, ReadRoom, ReadRooms, free_name, plain_name
from nesting.files.shapes import MOST_CORNERS
from nesting.units import MM_NM, format_length

ARC_NM = 1 * MM_NM
"""How far a chord may lie from its arc."""
LEAST_ROOM_NM = 100 * MM_NM
"""Outlines narrower than this, and in no other, are signs on the drawing, not rooms."""
LEAST_CUT_OUT_NM = 10 * MM_NM
"""Outlines inside a room that are narrower are left out."""
LARGEST_NM = 1_000 * 1_000 * MM_NM
"""1 km: no room is so long; the unit is wrong."""
MOST_OUTLINES = 2_000
MOST_MENDED = 10
"""Faults of a damaged file that are told one by one."""


def read_dxf_rooms(path: Path, unit: str = "", layers: Sequence[str] = ()) -> ReadRooms:
    """Return the rooms of the drawing at `path`, text or binary; one that is damaged is mended as far as it goes.

    Parameters
    ----------
    path
        The drawing.
    unit
        What its numbers are in: mm, cm, m, in or ft; "": as its header says.
    layers
        The layers that outlines are taken from; none: all that are neither off nor frozen.

    Raises
    ------
    JobError
        With every fault found, each with layer, handle and coordinates.
    """
    opened = open_drawing(path)
    found = drawn(opened, layers)
    known = {opened.text(layer.dxf.name).lower() for layer in opened.document.layers}
    known |= {outline.layer.lower() for outline in found.outlines} | {text.layer.lower() for text in found.texts}
    known |= {layer.lower() for _, layer in found.passed}
    faults = [
        Fault(code="unknown-name", what=f"there is no layer {name!r}", file=str(path))
        for name in layers
        if name.lower() not in known
    ]
    if found.too_many or len(found.outlines) > MOST_OUTLINES:
        what = f"more than {MOST_ENTITIES} things or {MOST_OUTLINES} outlines are drawn"
        faults.append(Fault(code="too-large", what=what, hint="choose layers with `--layer`", file=str(path)))
    if faults:
        raise JobError(faults)
    in_unit = unit_of(opened, unit, _extent(found.outlines), path)
    said = [f"the file is damaged, mended: {text}" for text in opened.mended[:MOST_MENDED]]
    if len(opened.mended) > MOST_MENDED:
        said.append(f"the file is damaged: {len(opened.mended) - MOST_MENDED} more faults in it were mended")
    stated = opened.document.header.get("$INSUNITS", 0)
    if unit and stated and UNITS.get(stated) != in_unit:
        name = UNITS[stated].name if stated in UNITS else f"of unit number {stated}"
        said.append(f"the drawing says that its numbers are {name}; read as {unit}")
    return _Reader(path, in_unit, [*said, *found.said()]).rooms(found)


def _extent(outlines: Sequence[DrawnOutline]) -> str:
    """Return how large the drawing is in its own numbers."""
    corners = [vertex for outline in outlines for vertex in outline.vertices]
    if not corners:
        return "nothing"
    width, length = (max(c[axis] for c in corners) - min(c[axis] for c in corners) for axis in (0, 1))
    return f"{number(width)} x {number(length)}"


class _Reader:
    """Makes rooms of what was drawn."""

    def __init__(self, path: Path, unit: DrawingUnit, said: list[str]) -> None:
        self.file = str(path)
        self.unit = unit
        self.said = said
        self.faults: list[Fault] = []

    def fault(self, code: str, where: str, what: str, hint: str = "") -> None:
        """Note a fault."""
        self.faults.append(Fault(code=code, what=what, hint=hint, file=self.file, where=plain(where)))

    def size(self, outline: MeasuredOutline) -> str:
        """Return an outline's size in words."""
        return " x ".join(format_length(nm, self.unit.job_unit, with_unit=True) for nm in outline.size)

    def rooms(self, found: Drawn) -> ReadRooms:
        """Return the rooms."""
        outlines = [self._measured(outline) for outline in found.outlines]
        kept = self._without_signs([outline for outline in outlines if outline is not None])
        kept = self._nested(kept)
        if not self.faults and not kept:
            shown = "; ".join(self.said[:5]) or "nothing is drawn in its model space"
            hint = "draw each room as one closed polyline, and see that the unit is right"
            self.fault("no-rooms", "", f"there is no closed outline of a room ({shown})", hint)
        if self.faults:
            raise JobError(self.faults)
        self._name_all(kept, found.texts)
        taken: set[str] = set()
        rooms = tuple(self._room(outline, kept, taken) for outline in kept if outline.depth % 2 == 0)
        notices = tuple(Notice(code="from-drawing", text=plain(text)) for text in self.said)
        return ReadRooms(unit=self.unit.job_unit, rooms=rooms, notices=notices)

    # --- outlines ----------------------------------------------------------------------------------------------------

    def _measured(self, outline: DrawnOutline) -> MeasuredOutline | None:
        """Return an outline in whole nanometres, or None with its faults noted."""
        x0, y0, _ = outline.vertices[0]
        corners = without_arcs(outline, float(ARC_NM / self.unit.nm))
        if len(corners) > len(outline.vertices):
            arcs = sum(bool(bulge) for _, _, bulge in outline.vertices)
            shown = format_length(ARC_NM, self.unit.job_unit, with_unit=True)
            self.said.append(f"arcs became chords within {shown} of them: {arcs} of the outline at {outline.place}")
        near = self.unit.nearest_nm
        points = tidy([(near(exact(x) - exact(x0)), near(exact(y) - exact(y0))) for x, y in corners])
        if max((abs(value) for point in points for value in point), default=0) > LARGEST_NM:
            what = f"an outline reaches over more than 1 km if the numbers are {self.unit.name}"
            self.fault("absurd-size", outline.place, what, "check the unit: `--unit mm`, cm, m, in or ft")
            return None
        if len(points) > MOST_CORNERS:
            self.fault("too-large", outline.place, f"the outline has more than {MOST_CORNERS} corners")
            return None
        found = MeasuredOutline(drawn=outline, points=points, at=(near(exact(x0)), near(exact(y0))))
        if len(points) < 3 or not min(found.size):
            self.said.append(f"not read: a polyline that encloses nothing ({outline.place})")
            return None
        return found

    def _without_signs(self, outlines: list[MeasuredOutline]) -> list[MeasuredOutline]:
        """Return what may be rooms or cut-outs, counter-clockwise; outlines that cross themselves are faults."""
        kept: list[MeasuredOutline] = []
        for outline in outlines:
            met = first_crossing(outline.points)
            if min(outline.size) < (LEAST_CUT_OUT_NM if met is None else LEAST_ROOM_NM):
                self._too_small(outline)
                continue
            if met is not None:
                x, y = outline.placed[met[0]], outline.placed[met[1]]
                where = " and ".join(f"{self._shown(a)}, {self._shown(b)}" for a, b in (x, y))
                what = f"the outline crosses or touches itself: the sides that begin at {where}"
                self.fault("self-crossing", outline.drawn.place, what, "mend the drawing, or choose other layers")
                continue
            if twice_area(outline.points) < 0:
                outline.points = (outline.points[0], *outline.points[:0:-1])
            kept.append(outline)
        return kept

    def _too_small(self, outline: MeasuredOutline) -> None:
        self.said.append(f"not read: an outline of only {self.size(outline)} ({outline.drawn.place})")

    def _shown(self, nm: int) -> str:
        """Return a coordinate in the drawing's own numbers."""
        return number(float(nm / self.unit.nm))

    def _nested(self, outlines: list[MeasuredOutline]) -> list[MeasuredOutline]:
        """Find what lies in what; leave out what is too small for a room; overlaps are faults."""
        order = sorted(range(len(outlines)), key=lambda i: (-abs(twice_area(outlines[i].points)), i))
        placed = {i: outlines[i].placed for i in order}
        boxes = {i: box_of(placed[i]) for i in order}
        twice: dict[int, int] = {}
        for place, i in enumerate(order):
            for j in order[:place]:
                relation = Relation.APART if boxes_apart(boxes[i], boxes[j]) else relation_of(placed[i], placed[j])
                if relation is Relation.WITHIN:
                    outlines[i].inside = outlines[j]  # the smallest comes last
                elif relation is Relation.SAME:
                    twice[i] = j
                elif relation is Relation.OVERLAP and not self._is_sign(outlines[i]):
                    what = f"the outline overlaps the one at {plain(outlines[j].drawn.place)}"
                    hint = "mend the drawing, or choose the rooms' layer with `--layer`"
                    self.fault("outlines-overlap", outlines[i].drawn.place, what, hint)
        kept = []
        for i, outline in enumerate(outlines):
            if i in twice:
                first = outlines[twice[i]].drawn.place
                self.said.append(f"an outline is drawn twice, at {outline.drawn.place}; that at {first} counts")
            elif self._is_sign(outline.outermost):
                self._too_small(outline)
            else:
                kept.append(outline)
        return kept

    @staticmethod
    def _is_sign(outline: MeasuredOutline) -> bool:
        return min(outline.size) < LEAST_ROOM_NM and outline.inside is None

    # --- names -------------------------------------------------------------------------------------------------------

    def _name_all(self, outlines: list[MeasuredOutline], texts: Iterable[DrawnText]) -> None:
        """Give every text to the smallest outline round it."""
        smallest_first = sorted(outlines, key=lambda outline: twice_area(outline.points))
        for text in texts:
            x, y = (self.unit.nearest_nm(exact(value)) for value in text.at)
            home = next((o for o in smallest_first if contains(o.points, (x - o.at[0], y - o.at[1]))), None)
            if home is None:
                self.said.append(f"not read: the text {_quoted(text.text)}, in no room ({text.place})")
            else:
                home.texts.append(text)

    def _called(self, outline: MeasuredOutline, default: str) -> str:
        """Return what the texts inside an outline call it."""
        texts = sorted(outline.texts, key=lambda text: (-text.height, -text.at[1], text.at[0], text.text))
        names = [(name, text.place) for text in texts if (name := plain_name(text.text))]
        if not names:
            return default
        (name, place), *others = names
        if len(name) > LONGEST_NAME:
            self.said.append(f"a name was cut to {LONGEST_NAME} letters: {_quoted(name)} ({place})")
        for other, its_place in others:
            self.said.append(f"not read: the text {_quoted(other)} in {_quoted(name)} ({its_place})")
        return name

    def _room(self, outline: MeasuredOutline, outlines: list[MeasuredOutline], taken: set[str]) -> ReadRoom:
        """Return a room with what is cut out of it, from its own lower left."""
        left, low = min(x for x, _ in outline.points), min(y for _, y in outline.points)
        called = self._called(outline, f"Room {len(taken) + 1}")
        name = free_name(called, taken)
        if name != called[:LONGEST_NAME].strip():
            self.said.append(
                f"there is a {_quoted(called)} already; one is called {_quoted(name)} ({outline.drawn.place})"
            )
        taken.add(name.lower())
        askew = askew_nm(outline.points)
        if askew:
            shown = format_length(askew, self.unit.job_unit, with_unit=True)
            self.said.append(f"a side of {_quoted(name)} nearly runs along an axis, but leaves it by {shown}")
        walls = {"north", "east", "south", "west", *(f"wall {i + 1}" for i in range(len(outline.points)))}
        cut_outs: list[ReadCutOut] = []
        for inner in outlines:
            if inner.inside is outline:
                default = f"Column {len(cut_outs) + 1}"
                called = self._called(inner, default)
                own = free_name(called, walls)
                walls.add(own.lower())
                off = tuple(
                    self.unit.nearest_nm(exact(a) - exact(b))
                    for a, b in zip(inner.drawn.vertices[0][:2], outline.drawn.vertices[0][:2], strict=True)
                )
                moved = tuple((x + off[0] - left, y + off[1] - low) for x, y in inner.points)
                kind = next((kind for kind in HoleKind if kind in called.lower()), HoleKind.COLUMN)
                cut_outs.append(ReadCutOut(name=own, kind=kind, outline=from_lower_left(moved)))
                self.said.append(
                    f"{_quoted(own)}, {self.size(inner)}, lies in {_quoted(name)} and is cut out of it "
                    f"({inner.drawn.place}); if it is a room, choose layers without the outline round it"
                )
        points = from_lower_left(tuple((x - left, y - low) for x, y in outline.points))
        return ReadRoom(name=name, outline=points, place=outline.drawn.place, cut_outs=tuple(cut_outs))


def _quoted(text: str) -> str:
    """Return a text in quotes, not too much of it."""
    return repr(text if len(text) <= 40 else f"{text[:39]}…")
