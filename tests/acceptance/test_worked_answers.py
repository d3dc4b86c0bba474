"""The answers that were worked by hand and by brute force (the project's design, "answers to hold against")."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import pytest

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Door, Edge, EdgeKind
from nesting.domain.plan import SourceKind
from nesting.domain.rules import Goal, GoalKind
from tests.making import (
    ALONG_X,
    ALONG_Y,
    BARE_RULES,
    CM,
    FT,
    INCH,
    MM,
    M,
    all_seams,
    at_seam,
    goods,
    job,
    ordered_nm,
    planned,
    rectangle,
    remnant,
    room,
)


@pytest.mark.parametrize(
    ("lay", "cross_seams", "answer_nm"),
    [
        (ALONG_X, 0, 28 * FT + 8 * INCH),
        (ALONG_X, 1, 21 * FT + 6 * INCH + INCH // 2),
        (ALONG_Y, 3, 20 * FT + 5 * INCH + 3 * INCH // 4),
    ],
)
def test_a_room_of_14_by_16_feet_on_goods_12_feet_wide(lay: LayDirection, cross_seams: int, answer_nm: int) -> None:
    # 14 ft runs along X, 16 ft along Y; 2 in trim, 1 in overlap, one side seam.
    rules = replace(BARE_RULES, cross_seams_per_breadth=cross_seams)
    floor = room(rectangle(14 * FT, 16 * FT), trim_nm=2 * INCH, lays=(lay,), rules=rules)
    material = goods(12 * FT, seam_overlap_nm=1 * INCH, cutting_step_nm=INCH // 4)
    goal = Goal(kind=GoalKind.LEAST_ROLL, most_seams=1 + cross_seams)
    plan = planned(job([floor], material, goal=goal))
    assert ordered_nm(plan) == answer_nm
    assert (plan.measures.seams, plan.measures.cross_seams) == (1, cross_seams)


def test_a_corridor_longer_than_the_longest_roll() -> None:
    """38.0 × 1.80 m, goods 2.00 m wide, longest roll 30 m, trim 50, overlap 20 mm: 38.12 m, one cross seam."""
    openings = [(4 * M, 5 * M), (8 * M - 30 * MM, 9 * M), (20 * M, 21 * M), (29 * M, 30 * M)]
    outline = [(0, 0), (1800 * MM, 0)]
    edges = [Edge(wall="south")]
    for number, (low, high) in enumerate(openings):
        outline += [(1800 * MM, low), (1800 * MM, high)]
        edges += [Edge(wall="east"), Edge(kind=EdgeKind.DOOR, door=f"door-{number}")]
    outline += [(1800 * MM, 38 * M), (0, 38 * M)]
    edges += [Edge(wall="east"), Edge(wall="north"), Edge(wall="west")]
    lines = [((1800 * MM, low), (1800 * MM, high)) for low, high in openings]
    corridor = room(
        tuple(outline),
        edges=tuple(edges),
        doors=tuple(Door(id=f"door-{n}", opening=line, line=line) for n, line in enumerate(lines)),
        trim_nm=50 * MM,
        rules=replace(BARE_RULES, least_length_nm=1 * M),
    )
    material = goods(2 * M, longest_nm=30 * M, seam_overlap_nm=20 * MM, cutting_step_nm=5 * MM)
    plan = planned(job([corridor], material, goal=Goal()))
    assert ordered_nm(plan) == 38_120 * MM
    assert len(plan.order) == 2
    assert len({line.lot for line in plan.order}) == 1
    assert (plan.measures.seams, plan.measures.cross_seams) == (0, 1)
    layout = plan.layouts[0]
    along_y = layout.direction in (LayDirection(0, 1), LayDirection(0, -1))
    assert along_y
    place = layout.cross_seams[0].at_nm * layout.direction.dy
    assert not any(low < place < high for low, high in openings)


def advance(length: int, along: int, drop: int) -> int:
    """Return by how much equal drops advance along the roll when the next one sits `drop` further along."""
    start = drop % along
    return start + along * -(-(length - start) // along)


def cut_in_order(length: int, along: int, drop: int, order: tuple[int, ...]) -> int:
    """Return the length used when drops number `order` are cut one after another, each as soon as it matches.

    Drop number k of the room starts k·(−drop) further along in the pattern than drop number 0.
    """
    end = length
    place = 0
    for before, after in pairwise(order):
        step = (-(after - before) * drop) % along
        place += step + along * -(-(length - step) // along)
        end = place + length
    return end


@pytest.mark.parametrize(
    ("length_cm", "left_to_right", "right_to_left", "best", "best_order"),
    [(255, 1167, 1071, 1071, (3, 2, 1, 0)), (215, 935, 1031, 903, (0, 2, 3, 1))],
)
def test_four_equal_drops_of_a_quarter_drop(
    length_cm: int, left_to_right: int, right_to_left: int, best: int, best_order: tuple[int, ...]
) -> None:
    """Ry 640, D 160 mm: the length used depends on the order in which the drops are cut."""
    assert length_cm + 3 * advance(length_cm, 64, -16) == left_to_right
    assert length_cm + 3 * advance(length_cm, 64, 16) == right_to_left
    lengths = {order: cut_in_order(length_cm, 64, 16, order) for order in permutations(range(4))}
    assert lengths[0, 1, 2, 3] == left_to_right
    assert lengths[3, 2, 1, 0] == right_to_left
    assert min(lengths.values()) == best
    assert lengths[best_order] == best
    floor = room(rectangle(8 * M, length_cm * CM), lays=(ALONG_Y,))
    material = goods(2 * M, pattern=at_seam(64 * CM, 16 * CM, 2 * M), cutting_step_nm=1 * CM)
    plan = planned(job([floor], material))
    assert ordered_nm(plan) == best * CM
    in_sequence = planned(job([floor], replace(material, in_sequence=True)))
    assert ordered_nm(in_sequence) == min(left_to_right, right_to_left) * CM


def test_a_room_13_metres_wide_from_two_remnants() -> None:
    """The one seam must lie between 7.5 and 8 m, or a drop is ordered that was not needed."""
    floor = room(rectangle(13 * M, 4 * M), lays=(ALONG_Y,))
    stock = (remnant("wide", 8 * M, 5 * M, lot="A"), remnant("narrow", 5500 * MM, 4500 * MM, lot="A"))
    plan = planned(job([floor], goods(4 * M), stock=stock))
    assert ordered_nm(plan) == 0
    assert all(source.kind is SourceKind.REMNANT for source in plan.sources)
    assert {source.stock_id for source in plan.sources} == {"wide", "narrow"}
    [seam] = plan.layouts[0].seams
    assert 7500 * MM <= seam.at_nm <= 8 * M or 5 * M <= seam.at_nm <= 5500 * MM
    assert all_seams(plan) == 1
    assert plan.bounds[0].proved
