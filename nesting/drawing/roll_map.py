"""Roll maps: what is cut from one roll or remnant, to scale, row by row, sheet by sheet."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.layout import CutKind
from nesting.domain.plan import CutSource, MaterialPlan, OffcutUse, Plan, SourceKind
from nesting.drawing.flags import CUT, LAID, NEW, flagged
from nesting.drawing.lengths import unit_note
from nesting.drawing.metrics import clean
from nesting.drawing.pattern_lines import thinning
from nesting.drawing.roll_frame import GUTTER_MM, LEAST_PATTERN_MM, RowFrame
from nesting.drawing.roll_row import ROW_GAP_MM, DrawnRow, drawn_row
from nesting.drawing.roll_rows import Row, broken_into_rows, halves, main_rows
from nesting.drawing.roll_view import RollView, roll_view, source_words
from nesting.drawing.scene import Group, Page, Scene
from nesting.drawing.sheet import SCALES, Key, footer, heading, mm_per_nm, moved

FINEST, COARSEST = 10, 75
"""A map is no larger than 1 : 10; it goes over several sheets before it gets smaller than 1 : 75."""

FEW_ROWS = 24
"""Up to so many rows, those whose labels do not fit are broken one by one."""

LONG_SHEETS = 3
"""From so many sheets at 1 : 75 on a roll is a long one."""

_LEAST_TRIMMINGS = 16.0
"""What a row takes at least besides the roll's width: its header and the positions above it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Space:
    """Where rows go on every sheet."""

    left: float
    right: float
    top: float
    bottom: float


def roll_scenes(
    plan: Plan, source_id: str, page: Page, *, mirrored: bool = False, changed: frozenset[str] = frozenset()
) -> tuple[Scene, ...]:
    """Return the sheets of the map of one source.

    Raises
    ------
    KeyError
        If the plan has no such source.
    """
    for part in plan.materials:
        for source in part.sources:
            if source.id == source_id:
                return source_scenes(plan, part, source, page, mirrored=mirrored, changed=changed)
    raise KeyError(f"the plan cuts nothing from a source named {source_id!r}")


def source_scenes(
    plan: Plan, part: MaterialPlan, source: CutSource, page: Page, *, mirrored: bool = False,
    changed: frozenset[str] = frozenset(),
) -> tuple[Scene, ...]:  # fmt: skip
    """Return the sheets of the map of a source of `part`; `changed`: ids of the cuts that are marked as new."""
    view = roll_view(plan, part, source, changed)
    scale, sheets = _laid_out(view, page, mirrored)
    scenes = []
    for number, groups in enumerate(sheets, start=1):
        which = f"sheet {number} of {len(sheets)}" if len(sheets) > 1 else ""
        head, _ = _heading(view, page, mirrored, which)
        foot, _ = footer(page, _keys(view, scale, mirrored), _notes(view), scale, plan.job.unit)
        title = f"Roll map, {clean(source.id)}" + (f", {which}" if which else "")
        scenes.append(
            Scene(
                page=page,
                title=title,
                description=f"{clean(view.material.name)}: {source_words(view)}. "
                + "; ".join(flagged(f"{p.cut.number} {p.name} {p.size}", p.flag) for p in view.placed),
                groups=(*groups, head, foot),
            )
        )
    return tuple(scenes)


def _heading(view: RollView, page: Page, mirrored: bool, which: str) -> tuple[Group, float]:
    """Return the head of a sheet and the y below it."""
    plan, source = view.plan, view.source
    kind = {SourceKind.ORDER: "Roll to order", SourceKind.ROLL: "Roll", SourceKind.REMNANT: "Remnant"}[source.kind]
    if source.kind is SourceKind.ORDER and not plan.by_the_rules:
        kind = "Roll needed"
    parts = [clean(plan.job.name), which, unit_note(plan.job.unit)]
    lines = [
        f"{clean(view.material.name)} · {source_words(view)}",
        " · ".join(part for part in parts if part),
    ]
    stamp = "SEEN FROM THE BACK: MIRRORED" if mirrored else "FACE UP"
    return heading(page, f"{kind}: {clean(source.id)}", lines, stamp, [c.text for c in plan.consents])


def _space(view: RollView, page: Page, scale: int, mirrored: bool, which: str) -> _Space:
    """Return what head and foot leave of a sheet."""
    _, top = _heading(view, page, mirrored, which)
    _, bottom = footer(page, _keys(view, scale, mirrored), _notes(view), scale, view.plan.job.unit)
    return _Space(left=page.margin_mm + GUTTER_MM, right=page.width_mm - page.margin_mm, top=top, bottom=bottom)


def _laid_out(view: RollView, page: Page, mirrored: bool) -> tuple[int, list[list[Group]]]:
    """Return the largest scale at which the map takes the fewest sheets it can, and the groups of every sheet.

    It is never made smaller than 1 : 75 to save a sheet, only to get a row of wide goods onto one at all.
    """
    best: tuple[int, list[list[Group]]] | None = None
    enough = _sheets_at_coarsest(view, page, mirrored)
    for scale in SCALES:
        space = _space(view, page, scale, mirrored, "sheet 1 of 9")
        if enough and scale < COARSEST and _least_sheets(view, space, scale) > enough:
            continue
        width_mm = view.source.width_nm * mm_per_nm(scale)
        if scale < FINEST or width_mm + _LEAST_TRIMMINGS > space.bottom - space.top:
            continue
        if best and (scale > COARSEST or len(best[1]) == 1):
            break
        sheets = _flowed(_rows(view, space, scale, mirrored), space)
        if best is None or len(sheets) < len(best[1]):
            best = (scale, sheets)
    if best is None:
        space = _space(view, page, SCALES[-1], mirrored, "sheet 1 of 9")
        best = (SCALES[-1], _flowed(_rows(view, space, SCALES[-1], mirrored), space))
    return best


def _sheets_at_coarsest(view: RollView, page: Page, mirrored: bool) -> int:
    """Return how many sheets a long roll takes at 1 : 75, for none that takes more is drawn larger; else 0."""
    space = _space(view, page, COARSEST, mirrored, "sheet 1 of 9")
    if _least_sheets(view, space, COARSEST) < LONG_SHEETS:
        return 0
    return len(_flowed(_rows(view, space, COARSEST, mirrored), space))


def _least_sheets(view: RollView, space: _Space, scale: int) -> int:
    """Return a number of sheets that the map takes at least at a scale."""
    longest_nm = int((space.right - space.left - 3.0) / mm_per_nm(scale))
    row_mm = view.source.width_nm * mm_per_nm(scale) + _LEAST_TRIMMINGS
    rows = -(-view.last_nm() // longest_nm)
    return -(-rows // max(1, int((space.bottom - space.top) // row_mm)))


def _rows(view: RollView, space: _Space, scale: int, mirrored: bool) -> list[DrawnRow]:
    """Return all rows drawn; a row whose labels do not fit is broken in two."""
    rows = list(broken_into_rows(view, int((space.right - space.left - 3.0) / mm_per_nm(scale))))
    height = space.bottom - space.top
    while True:
        drawn = _all_drawn(view, rows, space, scale, mirrored)
        bad = [
            k for k, row in enumerate(drawn)
            if (row is None or row.height_mm > height) and rows[k].length_nm * mm_per_nm(scale) > 20.0
        ]  # fmt: skip
        if not bad:
            return [row for row in drawn if row is not None]
        # Of a few rows one may be all that has to be broken; on a long roll so many are that each try must mend all.
        for k in reversed(bad if len(rows) > FEW_ROWS else bad[:1]):
            rows[k : k + 1] = halves(view, rows[k])


def _all_drawn(view: RollView, rows: list[Row], space: _Space, scale: int, mirrored: bool) -> list[DrawnRow | None]:
    """Return every row drawn, None where its labels do not fit."""
    mains = main_rows(view, tuple(rows))
    several = len(rows) > 1
    return [
        drawn_row(
            RowFrame(
                view=view,
                row=row,
                left=space.left,
                right=space.right,
                scale=scale,
                mirrored=mirrored,
                name=f"Row {k + 1} of {len(rows)}" if several else "",
                suffix=f"-row-{k + 1}" if several else "",
                mains=frozenset(name for name, main in mains.items() if main == k),
            )
        )
        for k, row in enumerate(rows)
    ]


def _flowed(rows: list[DrawnRow], space: _Space) -> list[list[Group]]:
    """Return the groups of every sheet."""
    sheets: list[list[Group]] = []
    y = space.bottom
    for row in rows:
        if not sheets or y + row.height_mm > space.bottom:
            sheets.append([])
            y = space.top
        sheets[-1] += [moved(group, 0.0, y) for group in row.groups]
        y += row.height_mm + ROW_GAP_MM
    return sheets


def _keys(view: RollView, scale: int, mirrored: bool) -> list[Key]:
    """Return the legend: only what is on the map."""
    kinds = {piece.cut.kind for piece in view.placed if not piece.is_done}
    uses = {offcut.use for offcut in view.offcuts}
    source, keys = view.source, []
    names = {
        CutKind.DROP: "drop with its number, width × length",
        CutKind.LOOSE: "loose piece",
        CutKind.STRIP: "strip",
        CutKind.INSERT: "cove insert",
    }
    keys += [Key(role=kind.value, text=text) for kind, text in names.items() if kind in kinds]
    keys += _keys_of_flags(view)
    keys.append(Key(role="arrow", text="lay, as on the room plan", form="arrow"))
    if OffcutUse.SHOP in uses:
        keys.append(Key(role="offcut-shop", text="offcut, back to the shop"))
    if OffcutUse.CLIENT in uses:
        keys.append(Key(role="offcut-client", text="offcut, stays with the client"))
    keys.append(Key(role="goods", text="waste"))
    if source.gone:
        keys.append(Key(role="gone", text="gone: cut away before"))
    if source.flaws:
        keys.append(Key(role="flaw", text="flaw"))
    if source.start_allowance_nm:
        keys.append(Key(role="start", text="start allowance"))
    if source.phase_loss_nm != (0, 0):
        keys.append(Key(role="loss", text="kept free: pattern not known before unrolling"))
    if view.material.selvedge_nm:
        keys.append(Key(role="selvedge", text="selvedge", form="line"))
    keys += _pattern_keys(view, scale)
    edge = "the left edge, drawn below" if mirrored else "the left edge, drawn above"
    keys.append(Key(role="text", text=f"figures above: from the start; on lengthwise cuts: from {edge}", form="words"))
    return keys


def _keys_of_flags(view: RollView) -> list[Key]:
    """Return the legend of what is done and of what is not as in the plan before."""
    flags, keys = {piece.flag for piece in view.placed}, []
    done = {CUT: "CUT: cut already", LAID: "LAID: laid already"}
    texts = [text for flag, text in done.items() if flag in flags]
    if texts:
        keys.append(Key(role="done", text=f"{', '.join(texts)}; not to be cut again"))
    if NEW in flags:
        keys.append(Key(role="changed", text="NEW: not as in the plan before", form="corner"))
    return keys


def _pattern_keys(view: RollView, scale: int) -> list[Key]:
    """Return the legend of the repeat lines."""
    if view.lattice is None:
        return []
    least = LEAST_PATTERN_MM / mm_per_nm(scale)
    along = thinning(view.lattice.along_nm, least)
    across = thinning(view.lattice.across_nm, least) if view.lattice.across_nm else 1
    parts = [f"every {n} repeats {way}" for n, way in ((along, "along"), (across, "across")) if n > 1]
    which = ", ".join(parts) if along > 1 and across > 1 else "every repeat" + "".join(f", {part}" for part in parts)
    assumed = "" if view.source.phase_known else ", as counted from the first mark"
    return [Key(role="pattern", text=f"pattern lines, {which}{assumed}", form="line")]


def _notes(view: RollView) -> list[str]:
    """Return what must be said in words: drops with less trim."""
    small = [
        str(p.cut.number)
        for p in view.placed
        if p.cut.kind is CutKind.DROP and any(a.given_nm < a.full_nm for a in p.cut.allowances)
    ]
    return [f"Less trim than usual: {', '.join(small)}; see the room plan before cutting."] if small else []
