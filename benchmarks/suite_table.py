"""The results of the suite as Markdown: gaps and times, what grows with the rooms, roll saved against the baselines.

    python -m benchmarks.suite_table

puts the table of roll saved from the stored results into the README.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from math import log
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
RESULTS = ROOT / "benchmarks" / "results" / "suite.json"
README = ROOT / "README.md"
MARKS = ("<!-- roll saved: begin -->\n", "<!-- roll saved: end -->\n")
"""Around the table in the README."""

Row = dict[str, Any]
METHODS = ("by hand", "each room", "plain model", "ours")
"""In the order of the table's columns."""


def markdown(head: dict[str, Any], rows: Sequence[Row]) -> str:
    """Return the whole report."""
    parts = ["# The suite", "", *_head(head)]
    ours = [row for row in rows if row["method"] == "ours"]
    first = {_name(row): row for row in rows if row["method"] == "first plan"}
    if ours:
        parts += ["", "## Plans, bounds and times", "", *_plans(ours, first)]
    growth = _growth(list(first.values()))
    if growth:
        parts += ["", "## How the time to the first plan grows", "", *growth]
    if any(row["method"] not in ("ours", "first plan") for row in rows):
        parts += ["", "## Roll saved", "", *roll_saved(rows)]
    return "\n".join(parts) + "\n"


def _head(head: dict[str, Any]) -> list[str]:
    return [f"- {key}: {value}" for key, value in head.items()]


def _name(row: Row) -> tuple[str, str, int]:
    return row["kind"], row["pattern"], row["seed"]


def table(titles: Sequence[str], lines: Sequence[Sequence[object]]) -> list[str]:
    """Return a Markdown table."""
    rows = [[str(cell) for cell in line] for line in lines]
    return [f"| {' | '.join(row)} |" for row in ([*titles], ["---"] * len(titles), *rows)]


def _share(value: float | None) -> str:
    return "–" if value is None else f"{value:.1%}"


def _plans(ours: Sequence[Row], first: dict[tuple[str, str, int], Row]) -> list[str]:
    titles = (
        "job", "rooms", "first plan s", "limit s", "in all s", "peak MiB", "ordered m", "seams", "plan", "bound",
        "gap", "on ordered", "on used", "area below", "active bound", "considered", "stop",
    )  # fmt: skip
    lines = []
    for row in ours:
        early = first.get(_name(row), {})
        start = [f"{row['kind']}, {row['pattern']}", row["rooms"], early.get("seconds", "–"), row["seconds_limit"]]
        if "value_m" not in row:
            lines.append([*start, row["seconds"], row["peak_mib"], row["said"] or "no plan", *["–"] * 10])
            continue
        lines.append(
            [
                *start, row["seconds"], row["peak_mib"], row["ordered_m"], row["seams"], row["value_m"], row["bound_m"],
                "proved" if row["proved"] else _share(row["gap"]), _share(row["gap_ordered"]), _share(row["gap_used"]),
                _share(row["area_below"]), row["active"], row["considered_m"], row["stop"],
            ]
        )  # fmt: skip
    return [
        *table(titles, lines),
        "",
        "Plan, bound and considered are the goal's first level, in metres of the made width (roll and what seams must "
        "save). The gap is to the strict bound, over all seam positions that the rules allow. Area below: how far the "
        "bound by area alone lies below the roll ordered.",
    ]


def _growth(first: Sequence[Row]) -> list[str]:
    """Return the time to the first plan by rooms, and the exponent from the smallest to the largest jobs."""
    first = [row for row in first if row["rooms"] and row.get("cpu_seconds")]
    lines = [
        [
            row["kind"],
            row["pattern"],
            row["rooms"],
            row["cpu_seconds"],
            f"{1000 * row['cpu_seconds'] / row['rooms']:.1f}",
        ]
        for row in first
    ]
    out = table(("kind", "pattern", "rooms", "processor s", "ms a room"), lines)
    for pattern in dict.fromkeys(row["pattern"] for row in first):
        mine = sorted((row["rooms"], row["cpu_seconds"]) for row in first if row["pattern"] == pattern)
        if len(mine) > 1 and mine[-1][0] > 2 * mine[0][0]:
            power = log(mine[-1][1] / mine[0][1]) / log(mine[-1][0] / mine[0][0])
            out += ["", f"{pattern}: time grows with the rooms to the power of {power:.2f}."]
    return out if lines else []


def roll_saved(rows: Sequence[Row]) -> list[str]:
    """Return the table of roll saved: every method on every job, metres ordered and seams, beside the hand method."""
    methods = [
        name for name in ("by hand", "each room", "plain model", "ours") if any(r["method"] == name for r in rows)
    ]
    jobs = dict.fromkeys(_name(row) for row in rows if row["method"] in methods)
    by_job = {(_name(row), row["method"]): row for row in rows}
    lines = []
    for name in jobs:
        found = [by_job.get((name, method), {}) for method in methods]
        hand = by_job.get((name, "by hand"), {}).get("ordered_m")
        best = by_job.get((name, "ours"), {}).get("ordered_m")
        saved = "–" if hand is None or best is None or not hand else f"{hand - best:.2f} m, {1 - best / hand:.1%}"
        room_count = next((row["rooms"] for row in found if row), "–")
        lines.append([f"{name[0]}, {name[1]}", room_count, *(_ordered(row) for row in found), saved])
    titles = ("job", "rooms", *methods, "saved against by hand")
    return [*table(titles, lines), "", "Metres of roll ordered, with the seams in brackets."]


def _ordered(row: Row) -> str:
    if "ordered_m" not in row:
        return str(row.get("said") or "–")
    said = f"; {row['said']}" if row["method"] != "ours" and "likeliest" in row["said"] else ""
    return f"{row['ordered_m']:.2f} ({row['seams']}){said.replace('feasible, ', '')}"


def in_readme(text: str, results: dict[str, Any]) -> str:
    """Return the README with the table of roll saved in the results between its marks."""
    before, rest = text.split(MARKS[0])
    _, after = rest.split(MARKS[1])
    head = results["head"]
    made = f"Limit {head['limit']}, {head['cores']} cores, seed {head['seed']}, commit {head['commit']}."
    lines = [*roll_saved(results["rows"]), "", made, ""]
    return before + MARKS[0] + "\n".join(lines) + MARKS[1] + after


def main() -> int:
    """Put the table into the README."""
    results = json.loads(RESULTS.read_text(encoding="utf-8"))
    README.write_text(in_readme(README.read_text(encoding="utf-8"), results), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
