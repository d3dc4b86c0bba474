"""Small pieces are named beside the drawing: the leader ends inside its piece and crosses no text."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from nesting.domain.geometry import Rect
from nesting.domain.job import Room, Unit
from nesting.domain.plan import Plan
from nesting.drawing import GoodsMap, MapPiece
from nesting.drawing.goods_map import goods_scene
from nesting.drawing.labels import apart
from nesting.drawing.room_plan import room_scene
from nesting.drawing.room_view import inside
from nesting.drawing.scene import EITHER, Dot, Label, Scene, Shape, Spot
from tests.drawing import plans
from tests.drawing.building import COMPASS, MM, NORTH, laid, material_plan, mm, order, plan_of, rectangle, walls
from tests.drawing.scenes import off_the_sheet, overlapping, roll_sheets, room_sheets
from tests.drawing.test_done import half_done
from tests.drawing.test_goods_map import ROLL


def leaders(scene: Scene) -> list[Shape]:
    items = [item for group in scene.groups for item in group.items]
    return [item for item in items if isinstance(item, Shape) and item.role == "leader"]


def segments(leader: Shape) -> list[tuple[Spot, Spot]]:
    return [pair for ring in leader.rings for pair in pairwise(ring) if pair[0] != pair[1]]


def texts_crossed(scene: Scene) -> list[str]:
    """Texts that a leader runs through."""
    lines = [pair for leader in leaders(scene) for pair in segments(leader)]
    return [label.text for label in scene.labels if any(not apart(line, label.box) for line in lines)]


def ends_elsewhere(scene: Scene) -> list[str]:
    """Pieces whose leader does not end in them."""
    areas: dict[str, list[Shape]] = {}
    for group in scene.groups:
        for item in group.items:
            if group.piece and isinstance(item, Shape) and item.closed and item.role not in ("arrow-head", "changed"):
                areas.setdefault(group.piece, []).append(item)
    found = []
    for leader in leaders(scene):
        end = leader.rings[0][0]
        rings = [ring for shape in areas.get(leader.piece, []) for ring in shape.rings]
        if leader.piece and sum(inside(ring, end) for ring in rings) % 2 == 0:
            found.append(leader.piece)
    return found


def small_rooms() -> Plan:
    """A room far longer than wide, in narrow breadths: their labels do not fit into them at the scale of the sheet."""
    pts = rectangle(40_000, 1_200)
    goods = replace(plans.corner().job.materials[0], widths_nm=mm(1000))
    room = Room(id="lane", name="Lane", material_id=goods.id, outline=pts, edges=walls(pts, COMPASS))
    layout, cuts = laid(room, NORTH, range(900, 39_900, 900))
    job = replace(plans.corner().job, unit=Unit.MM, rooms=(room,), materials=(goods,))
    return plan_of(job, material_plan(goods, (layout,), cuts, (order("roll", 1_010, 90_000),)))


def scenes_of(name: str) -> list[Scene]:
    made = {"half-done": half_done, "lane": small_rooms}
    plan = (plans.ALL | made)[name]()
    return roll_sheets(plan) + room_sheets(plan)


@pytest.mark.parametrize("name", [*plans.ALL, "half-done", "lane"])
def test_leaders_end_in_their_pieces_and_cross_no_text(name: str) -> None:
    for scene in scenes_of(name):
        assert ends_elsewhere(scene) == [], scene.title
        assert texts_crossed(scene) == [], scene.title


@pytest.mark.parametrize("seed", [*range(4), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(4, 60))])
def test_leaders_of_crowded_rolls_and_ragged_rooms(seed: int) -> None:
    for plan in (plans.crowded(seed), plans.ragged(seed)):
        for scene in roll_sheets(plan) + room_sheets(plan):
            assert ends_elsewhere(scene) == [] and texts_crossed(scene) == [], scene.title


def test_there_are_leaders_to_look_at() -> None:
    named = {
        leader.piece for name in ("small-pieces", "lane") for scene in scenes_of(name) for leader in leaders(scene)
    }
    assert "insert-1" in named and any(piece.startswith("lane-") for piece in named)


def test_breadths_too_narrow_for_their_numbers_have_them_beside() -> None:
    scene = room_scene(small_rooms(), "lane", EITHER)
    said = {label.text.split()[0] for label in scene.labels if label.piece.startswith("lane-")}
    assert said == {str(k) for k in range(1, 46)}
    assert overlapping(scene) == [] and off_the_sheet(scene) == []


def test_small_pieces_on_the_goods_map_are_named_below_it() -> None:
    tiny = tuple(
        MapPiece(number=str(k), name=f"Mat {k}", rects=(Rect(x * MM, 300 * MM, (x + 60) * MM, 380 * MM),))
        for k, x in enumerate(range(0, 3_900, 300), start=10)
    )
    goods: GoodsMap = replace(ROLL, pieces=tiny)
    scene = goods_scene(goods)
    assert {f"{piece.number} {piece.name}" for piece in tiny} <= {label.text for label in scene.labels}
    assert {leader.piece for leader in leaders(scene)} == {piece.number for piece in tiny}
    assert ends_elsewhere(scene) == [] and texts_crossed(scene) == []
    assert overlapping(scene) == [] and off_the_sheet(scene) == []


def test_a_leader_through_a_text_or_into_another_piece_would_be_found() -> None:
    scene = roll_sheets(plans.small_pieces())[0]
    (leader,) = [one for one in leaders(scene) if one.piece == "insert-1"]
    target = next(label for label in scene.labels if isinstance(label, Label) and label.piece == "tread-1")
    x, y = target.box[0]
    crossing = replace(leader, rings=(((x - 5.0, y - 5.0), *target.box[2:3]),))
    group = next(group for group in scene.groups if leader in group.items)
    spoiled = replace(scene, groups=(*scene.groups, replace(group, items=(crossing,))))
    assert target.text in texts_crossed(spoiled) and ends_elsewhere(spoiled) == ["insert-1"]
    assert any(isinstance(item, Dot) and item.piece == "insert-1" for item in group.items)
