"""Text widths, shortening, boxes, and keeping labels apart."""

from __future__ import annotations

from itertools import pairwise
from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawing.blocks import Caption, fitted
from nesting.drawing.labels import Taken, apart, bounds, grown, spread
from nesting.drawing.metrics import clean, shortened, text_width_mm, wrapped
from nesting.drawing.room_dims import reading_angle
from nesting.drawing.scene import Label

NAMES = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)


def box(x0: float, y0: float, x1: float, y1: float) -> tuple[tuple[float, float], ...]:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def test_apart() -> None:
    assert apart(box(0, 0, 2, 2), box(2, 0, 4, 2))
    assert not apart(box(0, 0, 2, 2), box(1.9, 1.9, 4, 4))
    assert not apart(box(0, 0, 9, 9), box(3, 3, 4, 4))
    diamond = ((5.0, 0.0), (10.0, 5.0), (5.0, 10.0), (0.0, 5.0))
    assert apart(diamond, box(0, 0, 2, 2)) and not apart(diamond, box(0, 0, 3, 3))
    assert not apart(((0.0, 0.0), (4.0, 4.0)), box(1, 1, 2, 2))
    assert apart(((0.0, 1.5), (1.5, 3.0)), box(1, 1, 2, 2))


def test_boxes_follow_anchor_and_turn() -> None:
    start = Label(role="text", text="1234", at=(10.0, 10.0), size_mm=3.0)
    wide = text_width_mm("1234", 3.0)
    assert isclose(bounds(start.box)[0], 10.0) and isclose(bounds(start.box)[2], 10.0 + wide)
    end = Label(role="text", text="1234", at=(10.0, 10.0), size_mm=3.0, anchor="end")
    assert isclose(bounds(end.box)[2], 10.0)
    up = Label(role="text", text="1234", at=(10.0, 10.0), size_mm=3.0, turned=90.0)
    x0, y0, x1, y1 = bounds(up.box)
    assert isclose(y1, 10.0) and isclose(y0, 10.0 - wide) and x0 < 10.0 < x1 and x1 - 10.0 < 10.0 - x0


def test_grown() -> None:
    assert bounds(grown(box(1, 1, 3, 2), 0.5)) == (0.5, 0.5, 3.5, 2.5)


@given(st.lists(st.floats(0, 100), max_size=25), st.floats(0.5, 4.5))
@settings(max_examples=200, deadline=None)
def test_spread_keeps_the_gap_and_the_order(wanted: list[float], gap: float) -> None:
    wanted.sort()
    places = spread(wanted, gap, 0.0, 100.0)
    if places is None:
        assert (len(wanted) - 1) * gap > 100.0
        return
    assert len(places) == len(wanted)
    assert all(b - a >= gap - 1e-6 for a, b in pairwise(places))
    assert all(-1e-6 <= at <= 100.0 + 1e-6 for at in places)


def test_spread_leaves_alone_what_is_far_enough() -> None:
    assert spread([1.0, 5.0, 50.0], 3.0, 0.0, 60.0) == [1.0, 5.0, 50.0]
    assert spread([10.0, 10.0], 4.0, 0.0, 60.0) == [8.0, 12.0]
    assert spread([0.0, 0.0, 0.0], 4.0, 0.0, 7.9) is None


@given(NAMES, st.floats(1, 60))
@settings(max_examples=200, deadline=None)
def test_shortened_fits(name: str, room: float) -> None:
    text = shortened(clean(name), 3.0, room)
    assert text_width_mm(text, 3.0) <= room
    assert text in ("", clean(name)) or "…" in text


@given(NAMES)
@settings(max_examples=200, deadline=None)
def test_clean_names_are_one_line_of_xml(name: str) -> None:
    text = clean(name)
    assert not any(ord(char) < 0x20 for char in text)
    assert text == " ".join(text.split())
    assert clean(text.strip("\u2068\u2069")) == text


def test_right_to_left_names_are_set_apart() -> None:
    assert clean("חדר") == "\u2068חדר\u2069"
    assert shortened(clean("חדר אוכל גדול"), 3.0, 18.0)[:: len("x")].startswith("\u2068")
    assert shortened(clean("חדר אוכל גדול"), 3.0, 18.0).endswith("…\u2069")


def test_wrapped_loses_no_word() -> None:
    lines = wrapped("one two three four five six", 3.0, 25.0)
    assert " ".join(lines) == "one two three four five six" and len(lines) > 1


def test_a_caption_takes_the_fullest_form_that_fits() -> None:
    caption = Caption(number="7", name="Kitchen 2", size="1960 × 3700", heading=(1.0, 0.0), end="to north")
    roomy = fitted(caption, (0.0, 0.0, 60.0, 40.0), "k-2")
    tight = fitted(caption, (0.0, 0.0, 60.0, 5.0), "k-2")
    assert roomy is not None and tight is not None
    assert [i.text for i in roomy if isinstance(i, Label)] == ["7", "Kitchen 2", "1960 × 3700", "to north"]
    assert [i.text for i in tight if isinstance(i, Label)] == ["7 Kitchen 2 · 1960 × 3700"]
    upright = fitted(caption, (0.0, 0.0, 5.0, 60.0), "k-2")
    assert upright is not None and all(i.turned == 90.0 for i in upright if isinstance(i, Label))
    assert fitted(caption, (0.0, 0.0, 6.0, 6.0), "k-2") is None


@given(st.floats(6, 80), st.floats(3, 60), st.integers(0, 3))
@settings(max_examples=100, deadline=None)
def test_a_fitted_caption_stays_in_its_box(wide: float, high: float, way: int) -> None:
    heading = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))[way]
    caption = Caption(number="12", name="Corridor 3", size="0.600 × 12.375", heading=heading, end="to wall 4")
    for item in fitted(caption, (0.0, 0.0, wide, high), "c") or ():
        points = item.box if isinstance(item, Label) else item.rings[0]  # type: ignore[union-attr]
        x0, y0, x1, y1 = bounds(points)
        assert x0 >= -1e-6 and y0 >= -1e-6 and x1 <= wide + 1e-6 and y1 <= high + 1e-6


def test_taken_refuses_what_is_taken() -> None:
    taken = Taken(area=(0.0, 0.0, 100.0, 100.0))
    label = Label(role="text", text="abc", at=(10.0, 10.0), size_mm=3.0)
    assert taken.is_free(label)
    taken.add((label,))
    assert not taken.is_free(label)
    assert not taken.is_free(Label(role="text", text="abc", at=(98.0, 50.0), size_mm=3.0))
    taken.add_line((0.0, 40.0), (100.0, 40.0))
    on_line = Label(role="text", text="abc", at=(50.0, 41.0), size_mm=3.0)
    assert not taken.is_free(on_line) and taken.is_free(on_line, on_lines=True)
    assert not taken.line_is_clear((11.0, 0.0), (11.0, 30.0)) and taken.line_is_clear((30.0, 0.0), (30.0, 30.0))
    assert not taken.runs_alone((10.0, 41.0), (60.0, 41.0)) and taken.runs_alone((10.0, 44.0), (60.0, 44.0))


@pytest.mark.parametrize(
    ("end", "angle"), [((10, 0), 0), ((-10, 0), 0), ((0, 10), 90), ((0, -10), 90), ((10, -10), 45), ((10, 10), -45)]
)
def test_text_reads_from_below_or_from_the_right(end: tuple[float, float], angle: float) -> None:
    assert reading_angle((0.0, 0.0), end) == angle
