"""Every file that a plan is written to, by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from nesting.domain.plan import Plan
from nesting.drawing.drawings import Sheets, sheets_of
from nesting.estimating.front_pages import ELSEWHERE
from nesting.files.dxf_maps import cut_map_dxf
from nesting.files.plan_file import dump_plan
from nesting.files.sundry_tables import sundries_csv
from nesting.files.tables import cut_list_csv, order_csv, remnants_csv
from nesting.report.labels import labels
from nesting.report.packet import FrontPage, packet
from nesting.sundries import sundries_of

RECORDS = ("plan.json", "packet.html", "labels.html", "cut-list.csv", "remnants.csv", "order.csv", "sundries.csv")
"""What a plan is written to beside its drawings."""


def results_of(
    plan: Plan,
    *,
    changed: frozenset[str] = frozenset(),
    change: Mapping[str, str] | None = None,
    now: Sequence[str] = (),
    fronts: Sequence[FrontPage] = (),
    no_front: str = ELSEWHERE,
) -> dict[str, str]:
    """Return every file that a plan is written to, by name.

    Parameters
    ----------
    changed, change
        Ids of the cuts that are marked as new, and what the list of cuts says of them in a column.
    now
        What to do now, for the page of a job that has begun.
    fronts, no_front
        The trade-off for the page, or why there is none.
    """
    sundries, sheets = sundries_of(plan), sheets_of(plan, changed=changed)
    page = packet(plan, fronts=fronts, no_front=no_front, changed=changed, now=now, sundries=sundries, sheets=sheets)
    files = {
        "plan.json": dump_plan(plan),
        "packet.html": page,
        "labels.html": labels(plan, changed=changed),
        "cut-list.csv": cut_list_csv(plan, change=change),
        "remnants.csv": remnants_csv(plan),
        "sundries.csv": sundries_csv(plan, sundries),
    }
    if plan.by_the_rules:
        files["order.csv"] = order_csv(plan)
    return files | drawn(plan, sheets)


def drawn(plan: Plan, sheets: Sheets, *, mirrored: bool = False) -> dict[str, str]:
    """Return the drawings of a plan by file name: maps and room plans as SVG, cut maps as DXF."""
    svg = {f"{stem}.svg": text for stem, text in sheets.as_svg().items()}
    return svg | {f"{stem}.dxf": text for stem, text in cut_map_dxf(plan, mirrored=mirrored).items()}
