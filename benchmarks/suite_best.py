"""The best plans found so far of the suite's small jobs, stored so that a test can prove them again."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

from nesting.domain.plan import Bound, Plan
from nesting.files.plan_file import parse_plan

FOLDER = Path(__file__).parent / "best"
TABLE = "best.json"
BEST_KINDS = ("flat", "house")
SEED = 1
"""Of the jobs whose plans are stored."""


def first_level(plan: Plan) -> Bound:
    """Return what the plan attains at its goal's first level, and the bound."""
    return plan.materials[0].bounds[0]


def entry_of(plan: Plan) -> dict[str, Any]:
    """Return a plan's line in the table of values."""
    part, first = plan.materials[0], first_level(plan)
    return {
        "level": first.level,
        "attained": first.attained,
        "bound": first.value,
        "ordered_nm": sum(length for _, length in part.measures.ordered_nm),
        "seams": part.measures.seams + part.measures.cross_seams + part.measures.relief_cuts + part.measures.joins,
    }


def table_of(folder: Path) -> dict[str, dict[str, Any]]:
    """Return the values of all stored plans by name."""
    path = folder / TABLE
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def stored(name: str, folder: Path) -> Plan:
    """Return a stored plan."""
    text = gzip.decompress((folder / f"{name}.json.gz").read_bytes()).decode("utf-8")
    return parse_plan(text, file=name)


def keep(name: str, text: str, folder: Path) -> bool:
    """Store a plan unless the one stored is for the same job and as good; tell whether it was stored.

    Better is less at the goal's first level, then a higher bound.
    """
    plan = parse_plan(text, file=name)
    table = table_of(folder)
    if name in table:
        before = stored(name, folder)
        old, new = first_level(before), first_level(plan)
        if before.job == plan.job and (old.attained, -old.value) <= (new.attained, -new.value):
            return False
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.json.gz").write_bytes(gzip.compress(text.encode("utf-8"), mtime=0))
    table[name] = entry_of(plan)
    (folder / TABLE).write_text(json.dumps(dict(sorted(table.items())), indent=1) + "\n", encoding="utf-8")
    return True
