"""One small scale of weights and sizes; roles that meet stay apart, in grey and for the colour-blind too."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations

import pytest

from nesting.drawing import style
from nesting.drawing.front_chart import front_scene
from nesting.drawing.goods_map import goods_scene
from nesting.drawing.room_plan import room_scene
from nesting.drawing.scene import EITHER, Dot, Label, Scene
from nesting.drawing.style import HATCHES, LOOKS, TEXT_INK
from nesting.drawing.svg import to_svg
from tests.drawing import plans
from tests.drawing.colours import SIGHTS, contrast, difference, lab, seen
from tests.drawing.scenes import roll_sheets, room_sheets
from tests.drawing.test_done import CHANGED, half_done
from tests.drawing.test_front_chart import CHARTS
from tests.drawing.test_goods_map import MAPS

WEIGHTS = {0.13, 0.18, 0.25, 0.35, 0.5, 0.7}
"""Line widths of ISO 128-2:2020, mm, up to what a sheet of A4 needs (the series from memory)."""

CAPITALS = {1.8, 2.5, 3.5}
"""Heights of lettering of ISO 3098-1:2015, mm, those used (the series from memory)."""

CAPITAL_OF_SIZE = 0.716
"""Height of capitals over the type size of the usual sans-serif of office printers (read off a metric-equal face)."""


def every_kind() -> Iterator[Scene]:
    for make in plans.ALL.values():
        yield from roll_sheets(make()) + room_sheets(make())
    begun = half_done()
    yield from roll_sheets(begun)
    yield from (room_scene(begun, room.id, EITHER, CHANGED) for room in begun.job.rooms)
    yield from map(front_scene, CHARTS.values())
    yield from map(goods_scene, MAPS.values())


SCENES = list(every_kind())


def test_weights_are_of_the_series() -> None:
    assert {style.HAIR, style.FINE, style.THIN, style.MEDIUM, style.HEAVY, style.WALL} == WEIGHTS
    assert {look.weight_mm for look in LOOKS.values()} <= WEIGHTS
    assert {hatch.weight_mm for hatch in HATCHES.values()} <= WEIGHTS


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.title)
def test_nothing_else_is_drawn(scene: Scene) -> None:
    svg = to_svg(scene)
    drawn = {float(weight) for weight in re.findall(r'stroke-width[:=]"?([\d.]+)', svg)}
    assert drawn and drawn <= WEIGHTS
    sizes = {float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)}
    assert sizes and sizes <= {style.SMALL, style.LARGE, style.TITLE}


def test_sizes_set_capitals_of_the_series() -> None:
    capitals = [CAPITAL_OF_SIZE * size for size in (style.SMALL, style.LARGE, style.TITLE)]
    assert all(min(abs(high - step) for step in CAPITALS) < 0.1 for high in capitals)
    assert len({round(high, 1) for high in capitals}) == len(capitals)


def test_every_role_that_is_drawn_has_a_look() -> None:
    for scene in SCENES:
        for item in (item for group in scene.groups for item in group.items):
            assert item.role in (TEXT_INK if isinstance(item, Label) else LOOKS)


def test_every_hatch_is_used() -> None:
    fills = {look.fill.removeprefix("hatch:") for look in LOOKS.values() if look.fill.startswith("hatch:")}
    assert fills == set(HATCHES)


# --- colours ---

APART = 5.0
"""Least difference of two fills that touch, CIE 1976: about twice what is just noticeable, 2.3 (M. Mahy, L. Van Eycken,
A. Oosterlinck, Color Research and Application 19, 1994; from memory)."""

LINES_APART = 10.0
READABLE = 4.5
"""Least contrast of text on its ground (Web Content Accessibility Guidelines 2.2, 1.4.3)."""

ROLL = (
    "goods", "drop", "loose", "strip", "insert", "done", "gone", "offcut-shop", "offcut-client", "flaw", "start",
    "loss",
)  # fmt: skip
ROOM = ("breadth", "breadth-other", "breadth-laid", "keep-out", "hole")
GOODS = (
    "drop", "gone", "lost-repeat", "lost-beside", "lost-selvedge", "lost-flaws", "lost-squaring", "lost-starting",
    "lost-end", "lost-more",
)  # fmt: skip
CHART = ("front-gap", "front-unseen")
MAY_TOUCH = sorted({pair for roles in (ROLL, ROOM, GOODS, CHART) for pair in combinations(sorted(roles), 2)})

ROOM_LINES = ("wall", "jamb", "door-line", "door-seam", "seam", "cross-seam", "relief", "cove", "joint")
ROLL_LINES = ("edge", "selvedge", "pattern", "offcut-shop", "gone")
CHART_LINES = ("front-step", "front-bound", "front-grid")
MAY_MEET = [pair for roles in (ROOM_LINES, ROLL_LINES, CHART_LINES) for pair in combinations(roles, 2)]


def strokes(role: str) -> tuple[object, ...] | None:
    """How a fill is hatched, whatever its colours; None for a plain fill."""
    fill = LOOKS[role].fill
    if not fill.startswith("hatch:"):
        return None
    hatch = HATCHES[fill.removeprefix("hatch:")]
    slants = frozenset((x1 - x0 > 0, y1 - y0 > 0, y1 - y0 < 0) for x0, y0, x1, y1 in hatch.lines)
    return slants, len(hatch.dots), hatch.step_mm


def ground(role: str) -> str:
    """The colour under a role's hatch, or of its plain fill."""
    fill = LOOKS[role].fill
    if fill.startswith("hatch:"):
        fill = HATCHES[fill.removeprefix("hatch:")].ground
    return style.PAPER if fill == "none" else fill


def told_apart(a: str, b: str) -> bool:
    """Whether two fills differ by hatch, or else by colour for everybody and in grey."""
    if strokes(a) != strokes(b):
        return True
    return all(difference(seen(ground(a), sight), seen(ground(b), sight)) >= APART for sight in SIGHTS)


@pytest.mark.parametrize(("a", "b"), MAY_TOUCH)
def test_fills_that_may_touch_stay_apart(a: str, b: str) -> None:
    assert told_apart(a, b)


def test_fills_that_are_too_near_would_be_found() -> None:
    assert not told_apart("drop", "breadth")
    assert not told_apart("plate", "scale-light")


@pytest.mark.parametrize(("a", "b"), MAY_MEET)
def test_lines_that_may_meet_stay_apart(a: str, b: str) -> None:
    one, other = LOOKS[a], LOOKS[b]
    shape = one.dash != other.dash or one.weight_mm >= 1.4 * other.weight_mm or other.weight_mm >= 1.4 * one.weight_mm
    assert shape or all(
        difference(seen(one.stroke, sight), seen(other.stroke, sight)) >= LINES_APART for sight in SIGHTS
    )


@pytest.mark.parametrize("sight", SIGHTS)
def test_texts_can_be_read_on_every_ground(sight: str) -> None:
    grounds = [ground(role) for role in {*ROLL, *ROOM, *GOODS}]
    for role, ink in TEXT_INK.items():
        for under in [LOOKS["banner"].fill] if role == "banner-text" else grounds:
            assert contrast(seen(ink, sight), seen(under, sight)) >= READABLE, (role, under)


def test_lines_can_be_seen_on_every_ground() -> None:
    """3 : 1 for what must be told (Web Content Accessibility Guidelines 2.2, 1.4.11)."""
    grounds = [ground(role) for role in {*ROLL, *ROOM}]
    for role in (*ROOM_LINES, "edge", "drop", "mark", "arrow"):
        for sight in SIGHTS:
            assert all(contrast(seen(LOOKS[role].stroke, sight), seen(under, sight)) >= 3.0 for under in grounds), role


def test_the_colours_are_reckoned_as_published() -> None:
    """Red, green and blue of sRGB in Lab under D65 (tables of CIE 1976 values; from memory), black on white 21 : 1."""
    known = {"#ff0000": (53.2, 80.1, 67.2), "#00ff00": (87.7, -86.2, 83.2), "#0000ff": (32.3, 79.2, -107.9)}
    for colour, values in known.items():
        assert lab(seen(colour, "all")) == pytest.approx(values, abs=0.1)
    assert contrast(seen("#000000", "all"), seen("#ffffff", "all")) == pytest.approx(21.0)
    red, green = (seen(colour, "deuteranopia") for colour in ("#c00000", "#6a6a00"))
    assert difference(red, green) < 25.0 < difference(seen("#c00000", "all"), seen("#6a6a00", "all"))


def test_dots_are_no_smaller_than_a_line() -> None:
    dots = [item for scene in SCENES for group in scene.groups for item in group.items if isinstance(item, Dot)]
    assert dots and min(dot.radius_mm for dot in dots) >= style.MEDIUM
