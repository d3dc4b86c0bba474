"""The chart of seams against roll: what it shows is true, nothing overlaps, nothing is clipped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawing import front_chart
from nesting.drawing.front_chart import FrontChart, Mark, front_scene
from nesting.drawing.scene import A4, EITHER, LETTER, Dot, Group, Label, Scene, Shape
from tests.drawing.scenes import drawn_off_the_sheet, off_the_sheet, overlapping, too_small


def mark(seams: int, amount: float) -> Mark:
    return Mark(seams=seams, amount=amount, text=f"{amount:.3f} m")


def chart(rows: list[tuple[int, float]], hand: tuple[int, float] | None = None, gap: float = 0.04) -> FrontChart:
    """A chart of rows with a bound that falls evenly from each to the next, a share below what is ordered."""
    marks = [mark(*row) for row in rows]
    bounds = [
        (seams, (1 - gap) * next(one.amount for one in reversed(marks) if one.seams <= seams))
        for seams in range(marks[0].seams, marks[-1].seams + 1)
    ]
    return FrontChart(
        title="House",
        lines=("Sheet: what is ordered with at most so many seams",),
        axis="roll ordered, m",
        rows=tuple(marks),
        bounds=tuple(bounds),
        least=bounds[-1][1],
        by_hand=None if hand is None else mark(*hand),
    )


HOUSE = [(5, 55.321), (6, 52.578), (7, 51.587), (8, 50.14), (9, 50.063), (17, 49.606)]
CHARTS = {
    "house": replace(chart(HOUSE, (13, 69.494)), unseen=((11, 13), (15, 15))),
    "proved": chart([(1, 8.534), (2, 6.401), (3, 5.69)], (2, 6.401), gap=0.0),
    "one-row": chart([(0, 5.2)], (0, 5.2), gap=0.0),
    "many": chart([(n, 400.0 - 2 * n) for n in range(3, 90)], (70, 470.0)),
    "nothing-ordered": chart([(2, 0.0)], None),
}


def group_of(scene: Scene, ident: str) -> Group:
    (found,) = [group for group in scene.groups if group.id == ident]
    return found


def dot_of(scene: Scene, ident: str) -> Dot:
    (item,) = group_of(scene, ident).items
    assert isinstance(item, Dot)
    return item


def line_of(scene: Scene, ident: str) -> tuple[tuple[float, float], ...]:
    (item,) = group_of(scene, ident).items
    assert isinstance(item, Shape)
    return item.rings[0]


def is_tidy(scene: Scene) -> None:
    assert overlapping(scene) == [] and off_the_sheet(scene) == []
    assert too_small(scene) == [] and drawn_off_the_sheet(scene) == []


@pytest.mark.parametrize("name", ["house", "proved"])
def test_charts_are_as_kept(name: str, golden: Callable[[str, str], None]) -> None:
    golden(f"drawing/front/{name}.svg", front_chart(CHARTS[name]))


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("page", [EITHER, A4, LETTER], ids=lambda page: page.name)
def test_nothing_overlaps_and_nothing_is_clipped(name: str, page: object) -> None:
    is_tidy(front_scene(CHARTS[name], page))  # type: ignore[arg-type]


ROWS = st.lists(st.tuples(st.integers(0, 40), st.integers(50, 90_000)), min_size=1, max_size=12)


@given(ROWS, st.none() | st.tuples(st.integers(0, 45), st.floats(0.1, 120.0)), st.floats(0.0, 0.5))
@settings(max_examples=40)
def test_whatever_the_front_it_is_tidy(
    pairs: list[tuple[int, int]], hand: tuple[int, float] | None, gap: float
) -> None:
    seams = sorted({pair[0] for pair in pairs})
    amounts = sorted({pair[1] for pair in pairs}, reverse=True)
    rows = [(one, amount / 1000) for one, amount in zip(seams, amounts, strict=False)]
    scene = front_scene(chart(rows, hand, gap))
    is_tidy(scene)
    assert {group.id for group in scene.groups if group.role == "front-plan"} == {f"row-{one}" for one, _ in rows}
    assert (hand is not None) == any(group.id == "by-hand" for group in scene.groups)


def test_places_are_to_scale() -> None:
    """Seams run right and roll runs up, both evenly; the hand method's mark lies on the same axes."""
    scene = front_scene(CHARTS["house"])
    dots = {(seams, amount): dot_of(scene, f"row-{seams}").at for seams, amount in HOUSE}
    dots[13, 69.494] = dot_of(scene, "by-hand").at
    (first, low), (x0, y0) = (5, 55.321), dots[5, 55.321]
    per_seam = (dots[17, 49.606][0] - x0) / 12
    per_metre = (y0 - dots[13, 69.494][1]) / (69.494 - low)
    assert per_seam > 0 and per_metre > 0
    for (seams, amount), (x, y) in dots.items():
        assert x == pytest.approx(x0 + per_seam * (seams - first))
        assert y == pytest.approx(y0 - per_metre * (amount - low))


def test_the_front_steps_down_at_its_rows_and_the_bound_lies_below_it() -> None:
    scene = front_scene(CHARTS["house"])
    steps, bound = line_of(scene, "front"), line_of(scene, "bound")
    for ring in (steps, bound):
        assert all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(ring))
        assert all(a[0] <= b[0] and a[1] <= b[1] + 1e-9 for a, b in pairwise(ring))  # down is larger y
    for seams, _ in HOUSE:
        assert dot_of(scene, f"row-{seams}").at in steps
    assert steps[0][0] == bound[0][0] and steps[-1][0] == bound[-1][0]
    assert bound[0][1] > steps[0][1] and bound[-1][1] > steps[-1][1]


def test_the_hand_method_is_named_with_its_amount_and_left_out_where_there_is_none() -> None:
    with_hand, without = front_scene(CHARTS["house"]), front_scene(replace(CHARTS["house"], by_hand=None))
    assert "by hand 69.494 m" in [label.text for label in with_hand.labels]
    assert not any("by hand" in label.text for label in without.labels)


def test_the_ends_are_labelled_and_the_axis_says_where_it_begins() -> None:
    texts = [label.text for label in front_scene(CHARTS["house"]).labels]
    assert {"55.321 m", "49.606 m"} <= set(texts)
    assert "roll ordered, m, not from 0" in texts
    scene = front_scene(CHARTS["nothing-ordered"])
    assert "roll ordered, m" in [label.text for label in scene.labels]


def test_what_was_not_looked_at_is_marked() -> None:
    assert len(group_of(front_scene(CHARTS["house"]), "not-looked-at").items) == 2
    texts = [label.text for label in front_scene(CHARTS["proved"]).labels]
    assert "not looked at" not in texts
    assert "not looked at" in [label.text for label in front_scene(CHARTS["house"]).labels]


def test_a_label_that_overlaps_would_be_found() -> None:
    scene = front_scene(CHARTS["proved"])
    (first, *_) = [label for label in scene.labels if label.text == "8.534 m"]
    twice = replace(scene, groups=(*scene.groups, Group(role="x", items=(replace(first, text="8.6 m"),))))
    assert isinstance(first, Label) and overlapping(twice)
