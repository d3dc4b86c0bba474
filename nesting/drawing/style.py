"""The look: a few weights of line, a few sizes of type, muted fills that hatches tell apart in grey too.

Everything that is drawn takes its weight and its size from here; `tests/drawing/test_style.py` looks at every sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

# Line weights, mm on paper: of the series of ISO 128-2 (each √2 times the one before), the finest first.
HAIR, FINE, THIN, MEDIUM, HEAVY, WALL = 0.13, 0.18, 0.25, 0.35, 0.5, 0.7

# Type sizes, mm on paper. Capitals of the usual sans-serif faces are 0.72 of the size high, one step of the series
# 1.8, 2.5, 3.5, 5 of ISO 3098-1: these sizes set capitals of 1.8, 2.5 and 3.5 mm. Nothing is smaller.
SMALL, LARGE, TITLE = 2.5, 3.5, 5.0

RIM = HEAVY
"""The paper-white line round every text, half of it outside the letters."""

INK, SOFT, PALE, PAPER = "#1c1c1c", "#5a5a5a", "#9a9a9a", "#ffffff"

FAMILY = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a role is drawn. `fill` is a colour, "none", or "hatch:" and the name of a hatch."""

    stroke: str = INK
    weight_mm: float = FINE
    dash: tuple[float, ...] = ()
    fill: str = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """A fill that repeats every `step_mm`: lines (x0, y0, x1, y1) or dots (x, y, radius) over a ground."""

    step_mm: float
    ground: str = "none"
    ink: str = SOFT
    weight_mm: float = HAIR
    lines: tuple[tuple[float, float, float, float], ...] = ()
    dots: tuple[tuple[float, float, float], ...] = ()


HATCHES: dict[str, Hatch] = {
    "waste": Hatch(step_mm=3.0, ink="#b0b0b0", lines=((0, 3, 3, 0),)),
    "shop": Hatch(step_mm=2.2, ground="#eef3ea", ink="#a9bb9c", lines=((0, 1.1, 2.2, 1.1),)),
    "client": Hatch(step_mm=2.2, ground="#f5efdf", ink="#b39a5c", dots=((0.6, 0.6, 0.22), (1.7, 1.7, 0.22))),
    "flaw": Hatch(step_mm=1.4, ground="#ffffff", ink=INK, weight_mm=FINE,
                  lines=((0, 0, 1.4, 1.4), (0, 1.4, 1.4, 0))),
    "start": Hatch(step_mm=1.5, ink="#8a8a8a", dots=((0.75, 0.75, 0.16),)),
    "loss": Hatch(step_mm=1.8, ink="#8a8a8a", lines=((0.9, 0, 0.9, 1.8),)),
    "loose": Hatch(step_mm=4.0, ground="#f2ece0", ink="#d3c5a8", dots=((1, 1, 0.18), (3, 3, 0.18))),
    "strip": Hatch(step_mm=2.4, ground="#e6ede4", ink="#b4c7ae", lines=((1.2, 0, 1.2, 2.4),)),
    "done": Hatch(step_mm=4.5, ground="#f0f0ee", ink="#cfcfcb", lines=((0, 0, 4.5, 4.5),)),
    "insert": Hatch(step_mm=2.4, ground="#f1e4e1", ink="#cfa9a1", lines=((0, 0, 2.4, 2.4),)),
    "keep-out": Hatch(step_mm=2.0, ink="#8c5a52", weight_mm=FINE, lines=((0, 0, 2, 2),)),
    "gap": Hatch(step_mm=2.4, ground="#f6f4f2", ink="#cdc4c0", lines=((0, 2.4, 2.4, 0),)),
    "repeat": Hatch(step_mm=1.6, ground="#e6e0f0", ink="#54467e", weight_mm=FINE, lines=((0, 0, 1.6, 1.6),)),
    "edge-lost": Hatch(step_mm=0.8, ink=SOFT, lines=((0, 0.4, 0.8, 0.4),)),
    "goods-end": Hatch(step_mm=2.4, ground="#f0efec", ink="#b4b0a8", lines=((0, 1.2, 2.4, 1.2),)),
    "goods-more": Hatch(step_mm=1.6, ground="#dddad4", ink="#8a8a8a", dots=((0.8, 0.8, 0.28),)),
    "hole": Hatch(step_mm=1.2, ground="#e2e2e2", ink=SOFT, weight_mm=FINE, lines=((0, 1.2, 1.2, 0),)),
}  # fmt: skip

LOOKS: dict[str, Look] = {
    # goods and what is cut from them
    "goods": Look(weight_mm=MEDIUM, fill="hatch:waste"),
    "goods-left": Look(stroke="none", fill="hatch:waste"),  # its edges are drawn as far as it is there
    "drop": Look(weight_mm=HEAVY, fill="#dfe8ee"),
    "loose": Look(weight_mm=HEAVY, fill="hatch:loose"),
    "strip": Look(weight_mm=HEAVY, fill="hatch:strip"),
    "insert": Look(weight_mm=HEAVY, fill="hatch:insert"),
    "done": Look(stroke=SOFT, weight_mm=FINE, fill="hatch:done"),
    "gone": Look(stroke=SOFT, weight_mm=FINE, dash=(0.8, 0.8), fill=PAPER),
    "changed": Look(stroke="none", fill=INK),
    "offcut-shop": Look(weight_mm=MEDIUM, dash=(2.0, 0.8), fill="hatch:shop"),
    "offcut-client": Look(weight_mm=MEDIUM, dash=(2.0, 0.8), fill="hatch:client"),
    "flaw": Look(weight_mm=MEDIUM, fill="hatch:flaw"),
    "start": Look(weight_mm=FINE, fill="hatch:start"),
    "loss": Look(weight_mm=FINE, dash=(1.0, 0.8), fill="hatch:loss"),
    "selvedge": Look(stroke=SOFT, weight_mm=HAIR, dash=(1.2, 0.8)),
    "pattern": Look(stroke="#7c6f9c", weight_mm=HAIR, dash=(0.3, 0.9)),
    "edge": Look(weight_mm=MEDIUM),
    "break": Look(weight_mm=MEDIUM),
    # the floor
    "floor": Look(stroke="none", fill="#fbfaf7"),
    "breadth": Look(stroke="none", fill="#dfe8ee"),
    "breadth-other": Look(stroke="none", fill="#f7f9fa"),
    "breadth-laid": Look(stroke="none", fill="hatch:done"),
    "wall": Look(weight_mm=WALL),
    "cove": Look(stroke=SOFT, weight_mm=MEDIUM, dash=(0.6, 0.6)),
    "door-line": Look(weight_mm=MEDIUM, dash=(1.6, 0.8)),
    "door-seam": Look(weight_mm=HEAVY, dash=(4.0, 1.0, 0.6, 1.0)),
    "jamb": Look(weight_mm=HEAVY),
    "seam": Look(stroke="#8a2f22", weight_mm=HEAVY, dash=(4.0, 1.0, 0.6, 1.0)),
    "cross-seam": Look(stroke="#8a2f22", weight_mm=HEAVY, dash=(2.0, 1.0)),
    "relief": Look(stroke="#8a2f22", weight_mm=MEDIUM, dash=(0.8, 0.6)),
    "keep-out": Look(stroke="#8c5a52", weight_mm=FINE, fill="hatch:keep-out"),
    "joint": Look(stroke=SOFT, weight_mm=MEDIUM, dash=(0.3, 1.0)),
    "hole": Look(weight_mm=HEAVY, fill="hatch:hole"),
    "mark-faint": Look(stroke="#8a80a8", weight_mm=FINE),
    "mark": Look(stroke="#54467e", weight_mm=HEAVY),
    # a chart of seams against roll
    "front-grid": Look(stroke="#d4d4d4", weight_mm=HAIR),
    "front-step": Look(weight_mm=HEAVY),
    "front-bound": Look(stroke="#8a2f22", weight_mm=MEDIUM, dash=(1.6, 0.8)),
    "front-gap": Look(stroke="none", fill="hatch:gap"),
    "front-plan": Look(weight_mm=MEDIUM, fill=INK),
    "front-hand": Look(weight_mm=HEAVY),
    "front-chosen": Look(stroke="#8a2f22", weight_mm=HEAVY),
    "front-unseen": Look(stroke=SOFT, weight_mm=HAIR, fill="hatch:loss"),
    # where the goods go
    "lost-repeat": Look(stroke="none", fill="hatch:repeat"),
    "lost-beside": Look(stroke="none", fill="hatch:waste"),
    "lost-selvedge": Look(stroke="none", fill="hatch:edge-lost"),
    "lost-flaws": Look(stroke="none", fill="hatch:flaw"),
    "lost-squaring": Look(stroke="none", fill="hatch:start"),
    "lost-starting": Look(stroke="none", fill="hatch:loss"),
    "lost-end": Look(stroke="none", fill="hatch:goods-end"),
    "lost-more": Look(stroke="none", fill="hatch:goods-more"),
    "kept": Look(weight_mm=MEDIUM, dash=(2.0, 0.8)),
    # drawing aids
    "arrow": Look(weight_mm=MEDIUM),
    "arrow-head": Look(stroke="none", fill=INK),
    "dimension": Look(stroke=SOFT, weight_mm=HAIR),
    "seam-dimension": Look(stroke="#8a2f22", weight_mm=HAIR),
    "leader": Look(stroke=SOFT, weight_mm=HAIR),
    "dot": Look(stroke="none", fill=SOFT),
    "plate": Look(stroke="none", fill=PAPER),
    "rule": Look(stroke=INK, weight_mm=FINE),
    "scale-dark": Look(weight_mm=FINE, fill=INK),
    "scale-light": Look(weight_mm=FINE, fill=PAPER),
    "banner": Look(stroke="none", fill=INK),
}

TEXT_INK: dict[str, str] = {
    "text": INK,
    "note": SOFT,
    "banner-text": PAPER,
    "seam-text": "#6e2419",
    "mark-text": "#54467e",
}
