"""The job packet: one HTML file with everything for bench, site and client, that needs nothing but itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import groupby

from nesting.domain.plan import Plan
from nesting.drawing.drawings import Sheets, sheets_of
from nesting.drawing.metrics import clean
from nesting.drawing.scene import Scene
from nesting.drawing.svg import inline_hatches, inline_style, inline_svg
from nesting.report.cuts import CutRow, cut_rows
from nesting.report.engine import environment
from nesting.report.for_client import client_rooms, price_of
from nesting.report.material_words import material_words
from nesting.report.offcuts import materials_without_repair_piece, offcut_rows
from nesting.report.reckoning import goal_text, rule_sets
from nesting.report.sentences import (
    lot_text,
    money_of,
)
from nesting.site import cautions, site_sheet, site_warnings
from nesting.site.lifting import LIFT_SOURCE
from nesting.sundries import SundryList, cutting_words, sundries_of, sundry_words


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontRowWords:
    """One plan of the trade-off in words; `is_this` marks the plan that the page is about."""

    seams: str
    ordered: str
    cost: str
    least: str
    is_this: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontPage:
    """The trade-off of one material: its chart, its rows, what each step costs, and what is known beyond."""

    material: str
    chart: Scene
    rows: tuple[FrontRowWords, ...]
    steps: tuple[str, ...]
    known: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A drawing on the page: `id` of its own, `upright` on paper, its view box, the element as text."""

    id: str
    title: str
    upright: bool
    box: str
    svg: str


def packet(
    plan: Plan, *, fronts: Sequence[FrontPage] = (), no_front: str = "", changed: frozenset[str] = frozenset(),
    now: Sequence[str] = (), sundries: SundryList | None = None, sheets: Sheets | None = None,
) -> str:  # fmt: skip
    """Return the page as HTML text; the same plan gives the same text.

    Parameters
    ----------
    fronts
        The trade-off of every material that has one.
    no_front
        Why there is none, where there is none.
    changed
        Ids of the cuts that are not as in the plan before: they are marked as new.
    now
        What to do now, where a job that has begun was planned again.
    sundries
        The sundries of the plan, where they are reckoned already.
    sheets
        Its drawings, where they are made already, for either paper and not mirrored.
    """
    sheets = sheets_of(plan, changed=changed) if sheets is None else sheets
    scenes = [*(front.chart for front in fronts), *(scene for _, scene in (*sheets.rolls, *sheets.rooms))]
    charts = [
        _sheet(front.chart, f"front-{number}", clean(front.material)) for number, front in enumerate(fronts, start=1)
    ]
    rows = cut_rows(plan, changed)
    sundries = sundries_of(plan) if sundries is None else sundries
    offcuts = offcut_rows(plan)
    words = [sundry_words(plan, line) for line in sundries.lines]
    unpriced = any(line.cost is None for line in sundries.lines)
    return (
        environment()
        .get_template("packet.html.j2")
        .render(
            plan=plan,
            job=plan.job,
            key=plan_key(plan),
            now=now,
            materials=[material_words(plan, part) for part in plan.materials],
            all_cost=_all_cost(plan),
            warnings=[one.text for one in site_warnings(plan)] + [one.text for one in sundries.warnings],
            fronts=list(zip(fronts, charts, strict=True)),
            no_front=no_front,
            rolls=_numbered("roll", sheets.rolls),
            rooms=_numbered("room", sheets.rooms),
            by_source=[(name, list(cuts)) for name, cuts in groupby(rows, key=lambda row: _source_name(row, plan))],
            cut_count=len(rows),
            lift_source=LIFT_SOURCE,
            offcuts=offcuts,
            stays=[row for row in offcuts if row.stays],
            without_repair=materials_without_repair_piece(plan),
            client_rooms=client_rooms(plan),
            price=price_of(plan, sundries.cost, unpriced),
            sundries=[(said, cutting_words(plan, line)) for said, line in zip(words, sundries.lines, strict=True)],
            sundries_cost=money_of(plan.job, sundries.cost) if sundries.cost else "",
            site=site_sheet(plan),
            cautions=cautions(plan),
            goal=goal_text(plan.job),
            rule_sets=rule_sets(plan),
            drawing_style=inline_style(scenes),
            hatches=inline_hatches(scenes),
        )
    )


def plan_key(plan: Plan) -> str:
    """Return a name of what is cut and ordered by a plan, under which a browser keeps its ticks."""
    parts = [
        (part.material_id, [(cut.id, cut.number, cut.rects) for cut in part.cuts], part.placements, part.order)
        for part in plan.materials
    ]
    return sha256(repr((plan.job.name, parts)).encode()).hexdigest()[:16]


def _sheet(scene: Scene, ident: str, title: str) -> Sheet:
    page = scene.page
    return Sheet(
        id=ident,
        title=title,
        upright=page.height_mm > page.width_mm,
        box=f"0 0 {page.width_mm:g} {page.height_mm:g}",
        svg=inline_svg(scene, f"{ident}-"),
    )


def _numbered(name: str, sheets: Sequence[tuple[str, Scene]]) -> list[Sheet]:
    """Return drawings with ids of their own on the page."""
    return [_sheet(scene, f"{name}-{number}", scene.title) for number, (_, scene) in enumerate(sheets, start=1)]


def _source_name(row: CutRow, plan: Plan) -> str:
    """Return the heading under which the cuts of a source stand."""
    material = f"{row.material}, " if len(plan.materials) > 1 else ""
    return f"{material}{row.source}, {lot_text(row.lot)}"


def _all_cost(plan: Plan) -> str:
    """Return what all materials cost together; "" for one, or where nothing has a price."""
    cost = sum(part.measures.total_cost for part in plan.materials)
    return money_of(plan.job, cost) if cost and len(plan.materials) > 1 else ""
