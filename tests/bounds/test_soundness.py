"""No bound is above what the brute-force oracle reaches, and some must be tight."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from nesting.bounds.levels import MaterialBounds
from nesting.domain.job import Job
from nesting.domain.material import Sale
from nesting.domain.rules import Goal, GoalKind
from tests.making import (
    ALONG_X,
    ALONG_Y,
    BARE_RULES,
    FT,
    INCH,
    MM,
    UNIT_NM,
    M,
    at_seam,
    ell,
    goods,
    job,
    job_of,
    planned,
    rectangle,
    room,
)
from tests.oracle import TinyJob, TinyPattern, TinyRoom, TinyStock, least
from tests.tiny_jobs import tiny_job

FEATURES = [
    (),
    ("pattern",),
    ("stock",),
    ("overlap",),
    ("cross",),
    ("widths",),
    ("rooms",),
    ("pattern", "stock"),
    ("overlap", "cross", "stock"),
    ("widths", "stock"),
]


def bounds_of(a_job: Job) -> MaterialBounds:
    return MaterialBounds(a_job, a_job.materials[0])


def first_level_nm2(found: MaterialBounds, a_job: Job, *, effort: int) -> int:
    """Return the bound on the goal's first level: the better of the computed and the searched one."""
    worth = a_job.goal.seam_worth_nm if a_job.goal.kind is GoalKind.BALANCED else 0
    computed = found.area().value + worth * max(found.material.widths_nm) * found.fewest_seams()
    return max(computed, found.searched(effort=effort, seed=0) or 0)


def hold_against_the_oracle(tiny: TinyJob) -> tuple[int, int] | None:
    """Return the bound and the optimum of a tiny job in nm², None where it cannot be done at all."""
    best = least(tiny)
    if best is None:
        return None
    a_job = job_of(tiny)
    value = first_level_nm2(bounds_of(a_job), a_job, effort=1)
    assert value <= best * UNIT_NM**2, tiny
    return value, best * UNIT_NM**2


@pytest.mark.parametrize("features", FEATURES, ids="-".join)
def test_bounds_of_random_tiny_jobs(features: tuple[str, ...]) -> None:
    found = [hold_against_the_oracle(tiny_job(seed, *features)) for seed in range(6 if "rooms" in features else 12)]
    pairs = [pair for pair in found if pair is not None]
    assert pairs
    # Not only sound: without stock in hand a good part of the bounds is the optimum itself.
    if "stock" not in features and "widths" not in features:
        assert sum(value == best for value, best in pairs) >= len(pairs) / 3


@pytest.mark.slow
@pytest.mark.parametrize("features", FEATURES, ids="-".join)
def test_bounds_of_many_random_tiny_jobs(features: tuple[str, ...]) -> None:
    for seed in range(100, 130 if "rooms" in features else 200):
        hold_against_the_oracle(tiny_job(seed, *features))


@pytest.mark.parametrize("features", [(), ("pattern",), ("stock",), ("pattern", "stock"), ("widths",)], ids="-".join)
def test_fewest_seams_of_random_tiny_jobs(features: tuple[str, ...]) -> None:
    """A seam worth more than any roll makes the oracle count seams first."""
    for seed in range(8):
        tiny = replace(tiny_job(seed, *features), seam_worth=1000, most_seams=2)
        best = least(tiny)
        if best is not None:
            assert bounds_of(job_of(tiny)).fewest_seams() <= best // (1000 * max(tiny.widths))


def test_remnants_of_different_phase_advance_by_more_than_whole_repeats() -> None:
    """Goods 8 wide with a repeat of 5 advance by 5 from one roll, but by 8 from two whose marks lie 3 apart."""
    stock = (
        TinyStock(name="one", width=8, length=9, lot="A", phase=(0, 0)),
        TinyStock(name="two", width=8, length=9, lot="A", phase=(3, 1)),
    )
    tiny = TinyJob(
        rooms=(TinyRoom(name="room", outline=rectangle(16, 7), lays=(0,)),),
        widths=(8,),
        pattern=TinyPattern(along=2, across=5),
        stock=stock,
        most_seams=1,
    )
    assert least(tiny) == 0
    assert bounds_of(job_of(tiny)).fewest_seams() == 1
    assert first_level_nm2(bounds_of(job_of(tiny)), job_of(tiny), effort=1) == 0


def feet(cross_seams: int, lay_along_x: bool, trim_nm: int, overlap_nm: int) -> Job:
    rules = replace(BARE_RULES, cross_seams_per_breadth=cross_seams)
    lays = (ALONG_X,) if lay_along_x else (ALONG_Y,)
    floor = room(rectangle(14 * FT, 16 * FT), trim_nm=trim_nm, lays=lays, rules=rules)
    goal = Goal(kind=GoalKind.LEAST_ROLL, most_seams=1 + cross_seams)
    return job([floor], goods(12 * FT, seam_overlap_nm=overlap_nm, cutting_step_nm=INCH // 4), goal=goal)


@pytest.mark.parametrize(
    ("a_job", "answer_nm"),
    [
        (feet(0, True, 0, 0), 28 * FT),
        (feet(0, False, 0, 0), 32 * FT),
        (feet(2, True, 0, 0), 56 * FT // 3),
        (feet(0, True, 2 * INCH, INCH), 28 * FT + 8 * INCH),
        (feet(1, True, 2 * INCH, INCH), 21 * FT + 6 * INCH + INCH // 2),
    ],
)
def test_bounds_of_14_by_16_feet_are_tight(a_job: Job, answer_nm: int) -> None:
    assert first_level_nm2(bounds_of(a_job), a_job, effort=10) == answer_nm * 12 * FT


def test_a_bound_rounds_up_as_orders_do() -> None:
    sale = Sale(order_step_nm=100 * MM, minimum_cut_nm=0)
    material = goods(4 * M, sale=sale, squaring_nm=50 * MM, cutting_step_nm=5 * MM)
    floor = room(rectangle(4 * M, 3333 * MM), lays=(ALONG_Y,), trim_nm=0)
    a_job = job([floor], material)
    # 3333 mm are cut as 3335; with 50 mm for squaring 3.4 m are ordered.
    assert bounds_of(a_job).area().value == 3400 * MM * 4 * M
    small = replace(material, sale=Sale(order_step_nm=100 * MM, minimum_cut_nm=5 * M))
    assert bounds_of(job([floor], small)).area().value == 5 * M * 4 * M


def test_a_drop_match_lengthens_the_bound() -> None:
    """Half-drop, two breadths: the second comes half a repeat later, whichever is cut first."""
    material = goods(2 * M, pattern=at_seam(640 * MM, 320 * MM, 2 * M), cutting_step_nm=10 * MM)
    a_job = job([room(rectangle(4 * M, 3800 * MM), lays=(ALONG_Y,))], material)
    value = first_level_nm2(bounds_of(a_job), a_job, effort=10)
    assert 7600 * MM * 2 * M <= value <= 7960 * MM * 2 * M


def test_an_ell_counts_its_own_area() -> None:
    floor = room(ell(6 * M, 6 * M, 3 * M, 3 * M), trim_nm=50 * MM)
    area = bounds_of(job([floor], goods(4 * M))).area().value
    # The corner missing from the L is (3 m)² less nothing: at the reflex corner trim is not added twice.
    assert area >= (6100 * MM) ** 2 - (3 * M) ** 2
    assert area <= (6100 * MM) ** 2 - (3 * M) ** 2 + 4 * M


@pytest.mark.parametrize("price", [Fraction(104, 10), Fraction(2500), Fraction(49, 100)])
def test_the_cost_bound_counts_with_rounded_prices(price: Fraction) -> None:
    """Every roll's price is rounded to the coin by itself, so the sum may fall short of the exact price."""
    sale = Sale(order_step_nm=1, price_per_m=(price,))
    material = goods(2 * M, longest_nm=1 * M, sale=sale, cutting_step_nm=10 * MM)
    rooms = [room(rectangle(2 * M, 1 * M), f"room-{number}", lays=(ALONG_Y,)) for number in range(5)]
    plan = planned(job(rooms, material, goal=Goal(kind=GoalKind.LEAST_COST)), effort=1)
    assert plan.bounds[0].level == "cost"
    assert plan.bounds[0].value <= plan.measures.total_cost
