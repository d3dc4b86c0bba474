"""Worked examples from published sources, the numbers re-computed; the source stands beside each check.

Examples of wall coverings are not covered; primer and cutting lengths from stock are, under `tests/sundries/`.
Trim, overlap, allowances, order step and squaring are 0 and the cutting step fine unless a check says otherwise.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Door, Edge, EdgeKind, Room
from nesting.domain.material import Material, Sale
from nesting.domain.rules import Goal, GoalKind
from tests.acceptance.test_worked_answers import advance
from tests.making import (
    ALONG_X,
    ALONG_Y,
    BARE_RULES,
    CM,
    FT,
    INCH,
    MM,
    YD,
    M,
    at_seam,
    goods,
    job,
    loose,
    ordered_nm,
    pattern,
    planned,
    rectangle,
    room,
)

YD2_M2 = Fraction(YD, M) ** 2


def with_cross_seams(floor: Room, most: int) -> Room:
    return replace(floor, rules=replace(floor.rules, cross_seams_per_breadth=most))


@pytest.mark.parametrize(
    ("lays", "answer_nm"),
    [((ALONG_X,), 7900 * MM), ((ALONG_Y,), 5900 * MM), ((), 5900 * MM)],
    ids=["long", "cross", ""],
)
def test_two_runs_either_way(lays: tuple[LayDirection, ...], answer_nm: int) -> None:
    # flooringtech.com.au, unit 4, section 3, lesson 1 (lengthwise 7.9 m published; crosswise derived): room
    # 3850 × 2850 mm, 100 mm trim a run, two runs either way on goods 2 m wide.
    floor = room(rectangle(3850 * MM, 2850 * MM), lays=lays, trim_nm=50 * MM)
    assert ordered_nm(planned(job([floor], goods(2 * M)))) == answer_nm


@pytest.mark.parametrize(
    ("lay", "cross_seams", "answer_ft"),
    [
        (ALONG_Y, 0, Fraction(32)),
        (ALONG_X, 0, Fraction(28)),
        (ALONG_X, 1, Fraction(21)),
        (ALONG_X, 2, Fraction(56, 3)),
    ],
)
def test_14_by_16_feet_on_12_feet_goods(lay: LayDirection, cross_seams: int, answer_ft: Fraction) -> None:
    # eHow 6737804: along 16 ft 32 ft, along 14 ft 28 ft, with one cross seam in the fill 21 ft (published);
    # two cross seams 56/3 ft, the area bound (derived).
    floor = with_cross_seams(room(rectangle(14 * FT, 16 * FT), lays=(lay,)), cross_seams)
    goal = Goal(kind=GoalKind.LEAST_ROLL, most_seams=1 + cross_seams)
    plan = planned(job([floor], goods(12 * FT, cutting_step_nm=INCH), goal=goal))
    assert ordered_nm(plan) == answer_ft * FT


def test_the_best_of_14_by_16_feet_depends_on_the_cross_seams_allowed() -> None:
    # eHow 6737804, the direction free: 28 ft without cross seams, 21 ft with one, 56/3 ft with two.
    for cross_seams, answer_ft in ((0, Fraction(28)), (1, Fraction(21)), (2, Fraction(56, 3))):
        floor = with_cross_seams(room(rectangle(14 * FT, 16 * FT)), cross_seams)
        goal = Goal(kind=GoalKind.LEAST_ROLL, most_seams=1 + cross_seams)
        plan = planned(job([floor], goods(12 * FT, cutting_step_nm=INCH), goal=goal))
        assert ordered_nm(plan) == answer_ft * FT, cross_seams


def test_a_fill_from_three_pieces() -> None:
    # jiskha question 1326255360: 15 × 21 ft, the fill 4 ft wide with the doorway: 28 ft, 37.33 yd², $670.13.
    floor = with_cross_seams(room(rectangle(16 * FT, 21 * FT), lays=(ALONG_Y,)), 2)
    sale = Sale(order_step_nm=1, price_per_m2=Fraction(1795) / YD2_M2)
    plan = planned(job([floor], goods(12 * FT, cutting_step_nm=INCH, sale=sale)))
    assert ordered_nm(plan) == 28 * FT
    assert plan.measures.roll_nm2 == 336 * FT * FT
    assert plan.measures.goods_cost == 67013
    assert plan.bounds[0].proved


@pytest.mark.parametrize(
    ("lays", "answer_m", "pounds"), [((ALONG_X,), 39, 975), ((ALONG_Y,), 40, 1000), ((), 39, 975)], ids=["13", "8", ""]
)
def test_striped_goods_one_way(lays: tuple[LayDirection, ...], answer_m: int, pounds: int) -> None:
    # scribd 468695352: 13 × 8 m, goods 3 m wide: three rows along 13 m (published), 39 or 40 m (derived).
    sale = Sale(order_step_nm=1, price_per_m=(Fraction(2500),))
    plan = planned(job([room(rectangle(13 * M, 8 * M), lays=lays)], goods(3 * M, sale=sale)))
    assert ordered_nm(plan) == answer_m * M
    assert plan.measures.goods_cost == pounds * 100


@pytest.mark.parametrize(
    ("lays", "answer_ft"), [((ALONG_X,), 26), ((ALONG_Y,), 30), ((), 26)], ids=["long", "short", ""]
)
def test_two_long_strips_or_three_short_ones(lays: tuple[LayDirection, ...], answer_ft: int) -> None:
    # secrets-of-self-sufficiency.com/linoleum-laying: two long strips chosen (published); lengths derived.
    plan = planned(job([room(rectangle(13 * FT, 10 * FT), lays=lays)], goods(6 * FT, cutting_step_nm=INCH)))
    assert ordered_nm(plan) == answer_ft * FT


@pytest.mark.parametrize(
    ("across_ft", "length_ft", "count", "answer_ft"),
    [
        (12, Fraction(7, 4), 5, Fraction(35, 4)),
        (12, Fraction(1, 2), 4, Fraction(2)),
        (12, Fraction(27, 4), 1, Fraction(27, 4)),
    ],
)
def test_a_rug_with_borders(across_ft: int, length_ft: Fraction, count: int, answer_ft: Fraction) -> None:
    # Bloomsbury Academic, ISBN 9781501361050, Cost Factors: outer border 8.75 ft (105 ft², 11.67 yd²), inner 2 ft
    # (published); the field 6.75 ft, 9 yd² (derived).
    border = loose(across_ft * FT, int(length_ft * FT), count)
    plan = planned(job([], goods(12 * FT, cutting_step_nm=INCH), loose=(border,)))
    assert ordered_nm(plan) == answer_ft * FT
    assert plan.measures.roll_nm2 == answer_ft * 12 * FT * FT
    assert plan.bounds[0].proved


def strips_of(across_nm: int, along_nm: int, material: Material) -> tuple[int, int]:
    """Return how many strips a room laid along Y takes and the length of goods in nanometres."""
    plan = planned(job([room(rectangle(across_nm, along_nm), lays=(ALONG_Y,))], material))
    return len(plan.cuts), ordered_nm(plan)


def test_strips_without_a_repeat() -> None:
    # Google Books 15sXAAAAIAAJ p. 225: carpet 27 in wide, room 24 ft 9 in × 18 ft: 8 strips, 66 yd (published).
    assert strips_of(18 * FT, 24 * FT + 9 * INCH, goods(27 * INCH, cutting_step_nm=INCH)) == (8, 66 * YD)


@pytest.mark.parametrize(
    ("across_in", "along_in", "repeat_in", "strips", "answer_yd"),
    [
        (162, 192, 36, 6, Fraction(106, 3)),
        (135, 144, 9, 5, Fraction(20)),
        # 9 in more for each but the first strip of 20 ft: what a repeat of 83 in brings about.
        (216, 240, 83, 8, Fraction(661, 12)),
    ],
)
def test_strips_with_a_repeat(across_in: int, along_in: int, repeat_in: int, strips: int, answer_yd: Fraction) -> None:
    # Google Books 2NpEAAAAIAAJ p. 242 (exercises; answers derived): carpet 27 in wide, no allowance for the first.
    material = goods(27 * INCH, pattern=at_seam(repeat_in * INCH, 0, 27 * INCH), cutting_step_nm=INCH)
    assert strips_of(across_in * INCH, along_in * INCH, material) == (strips, answer_yd * YD)


@pytest.mark.parametrize(("strip_ft", "loss_in"), [(15, 0), (14, 12)])
def test_loss_a_strip(strip_ft: int, loss_in: int) -> None:
    # Google Books 2NpEAAAAIAAJ p. 242 (derived): repeat 18 in.
    material = goods(27 * INCH, pattern=at_seam(18 * INCH, 0, 27 * INCH), cutting_step_nm=INCH)
    assert strips_of(54 * INCH, strip_ft * FT, material) == (2, 2 * strip_ft * FT + loss_in * INCH)
    assert advance(strip_ft * 12, 18, 0) == strip_ft * 12 + loss_in


def test_one_way_goods_may_not_be_turned_for_the_hall() -> None:
    # thespruce.com/calculate-how-much-carpet-you-need-2908826: room 12 × 9 ft and hall 3 × 12 ft on 12 ft goods,
    # pieces 12 × 9 and 12 × 12 (published): 21 ft, not the 12 ft that a turned hall would need (derived).
    def floor(room_id: str, x_ft: int, y_ft: int, door_at: int, other: str, lays: tuple[LayDirection, ...]) -> Room:
        outline = rectangle(x_ft * FT, y_ft * FT)
        line = (outline[door_at], outline[(door_at + 1) % 4])
        edges = tuple(Edge(kind=EdgeKind.DOOR, door="way") if n == door_at else Edge() for n in range(4))
        door = Door(id="way", opening=line, line=line, joined=(other, "way"))
        moved = tuple((x + (12 * FT if room_id == "hall" else 0), y) for x, y in outline)
        door = replace(
            door, opening=(moved[door_at], moved[(door_at + 1) % 4]), line=(moved[door_at], moved[(door_at + 1) % 4])
        )
        return room(moved, room_id, edges=edges, doors=(door,), lays=lays, plan_id="storey")

    floors = [floor("room", 12, 9, 1, "hall", (ALONG_Y,)), floor("hall", 3, 12, 3, "room", ())]
    goal = Goal(kind=GoalKind.LEAST_ROLL, most_seams=0)
    one_way = goods(12 * FT, cutting_step_nm=INCH)
    assert ordered_nm(planned(job(floors, one_way, goal=goal))) == 21 * FT
    assert ordered_nm(planned(job(floors, replace(one_way, directed=False), goal=goal))) == 12 * FT


@pytest.mark.parametrize(
    ("across_ft", "along_in", "width_in", "trim_in", "strips", "answer_yd", "cents_per_yd", "cents"),
    [
        (15, 240, 36, 3, 5, Fraction(205, 6), 125, 4271),
        (15, 228, 27, 0, 7, Fraction(133, 3), 150, 6650),
    ],
)
def test_school_exercises(
    across_ft: int,
    along_in: int,
    width_in: int,
    trim_in: int,
    strips: int,
    answer_yd: Fraction,
    cents_per_yd: int,
    cents: int,
) -> None:
    # Gifford, Everyday Arithmetic, 1914 (exercises; answers derived): strips cut 6 in longer, or as they are.
    floor = room(rectangle(across_ft * FT, along_in * INCH), trim_nm=trim_in * INCH, least_trim_nm=0, lays=(ALONG_Y,))
    sale = Sale(order_step_nm=1, price_per_m=(Fraction(cents_per_yd) * M / YD,))
    plan = planned(job([floor], goods(width_in * INCH, sale=sale, cutting_step_nm=INCH)))
    assert (len(plan.cuts), ordered_nm(plan)) == (strips, answer_yd * YD)
    assert plan.measures.goods_cost == cents


@pytest.mark.parametrize(
    ("width_nm", "repeat_nm", "usable_nm"),
    [
        # fcimag.com/articles/84561 (whole repeats and remainders published): 8 repeats of 18 in, or 7.
        (144 * INCH, 18 * INCH, 144 * INCH),
        (142 * INCH, 18 * INCH, 126 * INCH),
        # fcimag.com/articles/84819 (seams at 12 and 11 ft published).
        (146 * INCH, 12 * INCH, 144 * INCH),
        (143 * INCH, 12 * INCH, 132 * INCH),
        # The same: 1/4 in short of 8 repeats of 18 1/4 in, 146 in would be needed.
        (145 * INCH + 3 * INCH // 4, 18 * INCH + INCH // 4, 127 * INCH + 3 * INCH // 4),
        (146 * INCH, 18 * INCH + INCH // 4, 146 * INCH),
        # expydoc.com/doc/9089035, part 130: goods 400 cm, repeat 195.1 cm: laid at 392 where 390.2 was right.
        (400 * CM, 1951 * MM, 3902 * MM),
    ],
)
def test_usable_width_under_a_repeat_across(width_nm: int, repeat_nm: int, usable_nm: int) -> None:
    """Two breadths cover the goods' width and one usable width, and not a millimetre more."""
    step = INCH // 4 if repeat_nm % (INCH // 4) == 0 else MM
    material = goods(width_nm, pattern=pattern(20 * step, repeat_nm), cutting_step_nm=step)
    for more, breadths in ((0, 2), (step, 3)):
        floor = room(
            rectangle(width_nm + usable_nm + more, 100 * step),
            lays=(ALONG_Y,),
            rules=replace(BARE_RULES, least_breadth_nm=step),
        )
        plan = planned(job([floor], material, goal=Goal(kind=GoalKind.FEWEST_SEAMS)), effort=1)
        assert plan.measures.seams == breadths - 1


@pytest.mark.parametrize(
    ("length_cm", "advance_cm", "rule_cm"),
    # rembud.info, correct measuring of the surface of the carpets: strip = ⌈L / (R/2)⌉ · R/2 (rule published); it
    # holds in lay order only when the number of half repeats is odd (derived).
    [(410, 416, 416), (380, 416, 384)],
)
def test_half_repeats(length_cm: int, advance_cm: int, rule_cm: int) -> None:
    assert -(-length_cm // 32) * 32 == rule_cm
    assert (rule_cm == advance_cm) == (rule_cm // 32 % 2 == 1)
    material = goods(2 * M, pattern=at_seam(64 * CM, 32 * CM, 2 * M), cutting_step_nm=1 * CM)
    assert advance(length_cm, 64, 32) == advance_cm
    assert strips_of(4 * M, length_cm * CM, material) == (2, (advance_cm + length_cm) * CM)


DROP_TABLE = [
    # (L, drop, drops, in lay order from right to left, best order), all in cm with a repeat of 64 cm along: computed
    # for equal drops cut one after another, every order tried.
    (255, 0, 2, 511, 511),
    (255, 0, 4, 1023, 1023),
    (255, 0, 5, 1279, 1279),
    (255, 32, 2, 543, 543),
    (255, 32, 4, 1119, 1055),
    (255, 32, 5, 1407, 1311),
    (255, 16, 2, 527, 527),
    (255, 16, 4, 1071, 1071),
    (255, 16, 5, 1343, 1327),
    (215, 0, 2, 471, 471),
    (215, 0, 4, 983, 983),
    (215, 0, 5, 1239, 1239),
    (215, 32, 2, 439, 439),
    (215, 32, 4, 887, 887),
    (215, 32, 5, 1111, 1111),
    (215, 16, 2, 487, 455),
    (215, 16, 4, 1031, 903),
    (215, 16, 5, 1303, 1127),
    (200, 0, 2, 456, 456),
    (200, 0, 4, 968, 968),
    (200, 0, 5, 1224, 1224),
    (200, 32, 2, 424, 424),
    (200, 32, 4, 872, 872),
    (200, 32, 5, 1096, 1096),
    (200, 16, 2, 408, 408),
    (200, 16, 4, 824, 824),
    (200, 16, 5, 1032, 1032),
]


TELLING = [case for case in DROP_TABLE if case[3] != case[4] or case[:3] in ((255, 0, 2), (215, 32, 5), (200, 16, 4))]


def equal_drops(length_cm: int, drop_cm: int, drops: int, *, in_sequence: bool) -> int:
    """Return the length in cm of a room so many drops wide, goods known by their match at the seam."""
    floor = room(rectangle(drops * 2 * M, length_cm * CM), lays=(ALONG_Y,))
    match = at_seam(64 * CM, drop_cm * CM, 2 * M)
    material = goods(2 * M, pattern=match, cutting_step_nm=1 * CM, in_sequence=in_sequence)
    length = ordered_nm(planned(job([floor], material), effort=1 if in_sequence else 2))
    assert length % CM == 0
    return length // CM


@pytest.mark.parametrize(("length_cm", "drop_cm", "drops", "lay_order", "best"), DROP_TABLE)
def test_drops_in_lay_order(length_cm: int, drop_cm: int, drops: int, lay_order: int, best: int) -> None:
    assert length_cm + (drops - 1) * advance(length_cm, 64, drop_cm) == lay_order >= best


@pytest.mark.parametrize(
    ("length_cm", "drop_cm", "drops", "lay_order", "best"),
    [case if case in TELLING else pytest.param(*case, marks=pytest.mark.slow) for case in DROP_TABLE],
)
def test_drops_in_the_best_order(length_cm: int, drop_cm: int, drops: int, lay_order: int, best: int) -> None:
    assert equal_drops(length_cm, drop_cm, drops, in_sequence=False) == best


@pytest.mark.parametrize(
    ("length_cm", "drop_cm", "drops", "lay_order", "best"),
    [case if case[:3] == (215, 16, 4) else pytest.param(*case, marks=pytest.mark.slow) for case in DROP_TABLE],
)
def test_drops_in_sequence(length_cm: int, drop_cm: int, drops: int, lay_order: int, best: int) -> None:
    """In sequence the drops come off the roll as they lie, from either side of the room."""
    either_way = min(lay_order, length_cm + (drops - 1) * advance(length_cm, 64, -drop_cm))
    assert equal_drops(length_cm, drop_cm, drops, in_sequence=True) == either_way


STRIP_PACKINGS = {
    # github Oscar-Oliveira/OR-Datasets, Cutting-and-Packing/2D (SCP): goods' width, optimum, least by area alone,
    # (length, across, count). No turning.
    "SCP1": (5, 13, 13, [(3, 1, 4), (2, 2, 2), (3, 4, 2), (2, 3, 1), (5, 3, 1)]),
    "SCP2": (4, 40, 40, [(7, 2, 2), (3, 1, 2), (8, 3, 1), (11, 2, 4), (3, 2, 2)]),
    "SCP3": (6, 14, 14, [(3, 1, 4), (2, 3, 2), (1, 2, 4), (7, 2, 2), (8, 1, 3)]),
    "SCP4": (6, 20, 19, [(2, 2, 1), (3, 3, 4), (5, 2, 2), (6, 2, 1), (3, 4, 2), (5, 3, 1)]),
    "SCP5": (20, 20, 9, [(1, 9, 3), (16, 3, 1), (18, 3, 1), (20, 2, 1), (3, 1, 2)]),
    "SCP7": (15, 14, 12, [(4, 5, 3), (6, 4, 3), (10, 3, 1), (5, 2, 1)]),
    "SCP8": (15, 17, 17, [(4, 5, 4), (6, 4, 3), (10, 3, 2), (5, 2, 3)]),
}

HARD_PACKINGS = {
    # The same source (BENG, HT2001a): the area bound is the optimum.
    "BENG1": (
        25,
        30,
        30,
        [
            (6, 8, 2),
            (4, 11, 1),
            (3, 10, 1),
            (7, 4, 1),
            (6, 12, 1),
            (6, 11, 1),
            (8, 12, 1),
            (6, 3, 1),
            (3, 4, 1),
            (8, 3, 1),
            (1, 9, 2),
            (3, 1, 1),
            (3, 11, 1),
            (1, 11, 1),
            (8, 9, 1),
            (5, 11, 1),
            (7, 1, 1),
            (8, 7, 1),
        ],
    ),
    "C1_1": (
        20,
        20,
        20,
        [
            (12, 2, 1),
            (12, 7, 1),
            (6, 8, 1),
            (6, 3, 1),
            (5, 3, 1),
            (5, 5, 1),
            (12, 3, 1),
            (7, 3, 1),
            (7, 5, 1),
            (6, 2, 1),
            (2, 3, 1),
            (2, 4, 1),
            (4, 3, 1),
            (4, 4, 1),
            (2, 9, 1),
            (2, 11, 1),
        ],
    ),
}


def packed(width: int, pieces: list[tuple[int, int, int]], *, effort: int) -> int:
    unit = 10 * CM
    wanted = tuple(
        loose(across * unit, length * unit, count, f"piece-{number}")
        for number, (length, across, count) in enumerate(pieces)
    )
    plan = planned(job([], goods(width * unit, cutting_step_nm=unit), loose=wanted), effort=effort)
    area = sum(length * across * count for length, across, count in pieces)
    assert plan.bounds[0].value >= area * unit * unit
    assert ordered_nm(plan) % unit == 0
    return ordered_nm(plan) // unit


@pytest.mark.parametrize("name", STRIP_PACKINGS)
def test_loose_pieces_in_the_least_length(name: str) -> None:
    width, optimum, by_area, pieces = STRIP_PACKINGS[name]
    assert -(-sum(length * across * count for length, across, count in pieces) // width) == by_area
    assert packed(width, pieces, effort=5) == optimum


@pytest.mark.slow
@pytest.mark.parametrize("name", HARD_PACKINGS)
def test_hard_loose_pieces(name: str) -> None:
    width, optimum, _, pieces = HARD_PACKINGS[name]
    assert packed(width, pieces, effort=40) == optimum
