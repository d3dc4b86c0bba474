"""Chains of dimensions: what is printed for the parts adds up exactly to what is printed for the whole."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import Point
from nesting.domain.job import Edge, Job, Room, Unit
from nesting.drawing.lengths import figure, shown_chain
from nesting.drawing.room_plan import room_scene
from nesting.drawing.room_walls import chains
from nesting.drawing.scene import EITHER, Label, Scene, Shape
from nesting.units import parse_length
from tests.drawing import plans
from tests.drawing.building import MM, NORTH, laid, material_plan, order, outline, plan_of
from tests.drawing.scenes import off_the_sheet, overlapping

THIRD = 333_333_333
UNITS = st.sampled_from(list(Unit))
PARTS = st.lists(
    st.one_of(
        st.integers(1, 20_000 * MM),
        st.integers(1, 5_000).map(lambda n: n * 100_000),
        st.integers(1, 40_000).map(lambda n: n * 396_875),  # whole 1/64 in
        st.integers(1, 4_000).map(lambda n: n * 1_587_500),  # whole 1/16 in
        st.just(THIRD),
    ),
    min_size=1,
    max_size=9,
)


def printed(length_nm: int, unit: Unit) -> int:
    """What a figure says, exactly."""
    return parse_length(figure(length_nm, unit), unit.value)


@given(PARTS, UNITS)
@settings(max_examples=400)
def test_figures_add_up_as_printed(parts: list[int], unit: Unit) -> None:
    shown, total = shown_chain(parts, unit)
    assert sum(printed(part, unit) for part in shown) == printed(total, unit)
    assert figure(total, unit) == figure(sum(parts), unit)  # the whole is what it is everywhere else
    step = 100_000 if unit in (Unit.MM, Unit.CM, Unit.M) else 1_587_500
    assert all(abs(part - length) < step and part >= 0 for part, length in zip(shown, parts, strict=True))


@given(PARTS, UNITS)
def test_figures_that_add_up_by_themselves_are_left_alone(parts: list[int], unit: Unit) -> None:
    exact = [printed(part, unit) for part in parts]
    assert [figure(part, unit) for part in shown_chain(exact, unit)[0]] == [figure(part, unit) for part in exact]


def test_rounded_one_by_one_they_would_not_add_up() -> None:
    parts = [THIRD + 16_667] * 3  # 333.35 mm, three times: 1000.05 mm
    assert [figure(part, Unit.MM) for part in parts] == ["333.4"] * 3 and figure(sum(parts), Unit.MM) == "1000.1"
    shown, total = shown_chain(parts, Unit.MM)
    assert [figure(part, Unit.MM) for part in shown] == ["333.4", "333.4", "333.3"]
    assert figure(total, Unit.MM) == "1000.1"


def test_sides_are_those_that_cover_the_floor_once() -> None:
    ell = outline((0, 0), (6, 0), (6, 2), (4, 2), (4, 5), (0, 5))
    assert sorted(chains(ell)) == [(1, 3), (2, 4)]
    assert chains(outline((0, 0), (6, 0), (6, 5), (0, 5))) == []
    slanting = outline((0, 0), (4, 0), (6, 2), (6, 5), (3, 5), (3, 4), (0, 4))
    assert sorted(chains(slanting)) == [(3, 5), (4, 6)]
    hooked = outline((0, 0), (6, 0), (6, 5), (0, 5), (0, 4), (4, 4), (4, 3), (0, 3))
    assert all(
        sorted(chain) != [2, 6] for chain in chains(hooked)
    )  # overlapping edges that face one way add up to more


def stepped(seed: int, unit: Unit) -> Room:
    """A room whose north side is made of many edges, of lengths that no unit shows exactly."""
    chance = Random(seed)
    xs = [0]
    for _ in range(chance.randint(2, 5)):
        xs.append(xs[-1] + chance.randint(900 * MM, 2_400 * MM))
    points: list[Point] = [(0, 0), (xs[-1], 0)]
    heights = [chance.randint(2_500 * MM, 2_900 * MM) + k % 2 * 400 * MM for k in range(len(xs) - 1)]
    for k in reversed(range(len(xs) - 1)):
        points += [(xs[k + 1], heights[k]), (xs[k], heights[k])]
    return Room(
        id="r", name=f"Stepped {unit.value}", material_id="g", outline=tuple(points), edges=(Edge(),) * len(points)
    )


@pytest.mark.parametrize("unit", list(Unit), ids=[unit.value for unit in Unit])
@pytest.mark.parametrize("seed", range(3))
def test_the_chains_on_a_room_plan_add_up(seed: int, unit: Unit) -> None:
    goods = replace(plans.corner().job.materials[0], id="g")
    room = stepped(seed, unit)
    layout, cuts = laid(room, NORTH)
    wide = max(x for x, _ in room.outline) / MM + 200
    job = Job(name="Chains", unit=unit, materials=(goods,), rooms=(room,))
    scene = room_scene(plan_of(job, material_plan(goods, (layout,), cuts, (order("s", wide, 9_000),))), "r", EITHER)
    assert overlapping(scene) == [] and off_the_sheet(scene) == []
    texts = [label.text for label in scene.labels]
    overall = [parse_length(text, unit.value) for text in labels_of(scene, "overall-dimensions")]
    extent = max(x for x, _ in room.outline)
    assert printed(extent, unit) in overall
    north = [k for k, (a, b) in enumerate(pairwise((*room.outline, room.outline[0]))) if b[0] < a[0]]
    shown, _ = shown_chain([room.outline[k][0] - room.outline[(k + 1) % len(room.outline)][0] for k in north], unit)
    assert {figure(part, unit) for part in shown} <= set(texts)


def labels_of(scene: Scene, ident: str) -> list[str]:
    return [item.text for group in scene.groups if group.id == ident for item in group.items if isinstance(item, Label)]


def test_one_of_two_facing_sides_is_dimensioned_over_all() -> None:
    nursery = room_scene(plans.school(), "nursery", EITHER)
    assert labels_of(nursery, "overall-dimensions") == ["22' 6 1/2\"", "15'"]
    plain = room_scene(plans.clinic(), "corridor", EITHER)
    assert labels_of(plain, "overall-dimensions") == []


def test_dimension_lines_over_all_are_as_long_as_the_floor() -> None:
    scene = room_scene(plans.school(), "nursery", EITHER)
    group = next(group for group in scene.groups if group.id == "overall-dimensions")
    line = next(item.rings[0] for item in group.items if isinstance(item, Shape) and len(item.rings) == 3)
    floor = next(group for group in scene.groups if group.id == "room").items[0]
    assert isinstance(floor, Shape)
    xs = [x for x, _ in floor.rings[0]]
    assert sorted(x for x, _ in line) == pytest.approx([min(xs), max(xs)])
