"""The bound that knows the repeat: never above what brute force or the planner reaches, above what knows no repeat."""

from __future__ import annotations

from math import gcd
from random import Random

import pytest

from nesting.bounds.by_width import WidthBounds
from nesting.bounds.choosing import Choices, ChoosingModel
from nesting.bounds.mixing import Goods
from nesting.bounds.sequence import bound_in_sequence
from nesting.bounds.widths import by_area
from nesting.domain.job import Job
from nesting.domain.material import Sale
from nesting.domain.rules import Goal, GoalKind, SeamRules
from tests.making import ALONG_Y, MM, UNIT_NM, M, at_seam, ell, goods, job, job_of, pattern, planned, rectangle, room
from tests.oracle import TinyJob, least
from tests.tiny_jobs import tiny_job

SALE = Sale(order_step_nm=10 * MM)


def in_sequence_nm2(a_job: Job, attained_nm2: int, *, time: float = 3.0) -> int:
    """Return the bound of the sequence by itself: no weights of widths but area."""
    material = a_job.materials[0]
    worth = a_job.goal.seam_worth_nm if a_job.goal.kind is GoalKind.BALANCED else 0
    bounds = WidthBounds(a_job, material, seam_worth_nm=worth)
    terms = bounds._terms()
    choices = [
        Choices(count=len(kind.room_ids), lays=kind.lays, in_lots=tuple(served[number] for served in bounds.served))
        for number, kind in enumerate(bounds.kinds)
    ]
    wide = Goods(made=bounds.made, in_hand=bounds.pool, widest=bounds.widest, seam_price=bounds.seam_price)
    model = ChoosingModel(choices, bounds.items, wide, bounds.lots, terms)
    model.add(by_area(bounds.widest))
    scale = terms.unit_nm * gcd(*material.widths_nm)
    enough = -(-attained_nm2 // scale)
    return scale * bound_in_sequence(
        model, a_job, material, bounds.kinds, known=0, enough=enough, deterministic_time=time, seed=0
    )


def hold_against_the_oracle(tiny: TinyJob) -> tuple[int, int] | None:
    """Return the bound and the optimum of a tiny job in nm², None where it cannot be done at all."""
    best = least(tiny)
    if best is None or best == 0:
        return None
    a_job = job_of(tiny)
    if max(a_job.materials[0].widths_nm) // a_job.materials[0].cutting_step_nm < 2:
        return None
    found = in_sequence_nm2(a_job, 2 * best * UNIT_NM**2)
    assert found <= best * UNIT_NM**2, tiny
    return found, best * UNIT_NM**2


@pytest.mark.parametrize("features", [("pattern",), ("pattern", "rooms"), ("pattern", "overlap"), ()], ids="-".join)
def test_random_tiny_jobs(features: tuple[str, ...]) -> None:
    found = [hold_against_the_oracle(tiny_job(seed, *features)) for seed in range(5 if "rooms" in features else 10)]
    pairs = [pair for pair in found if pair is not None]
    assert sum(bound == best for bound, best in pairs) >= len(pairs) / 3


@pytest.mark.slow
@pytest.mark.parametrize(
    "features",
    [
        ("pattern",),
        ("pattern", "rooms"),
        ("pattern", "overlap"),
        ("pattern", "stock"),
        ("pattern", "cross"),
        ("stock",),
    ],
    ids="-".join,
)
def test_many_random_tiny_jobs(features: tuple[str, ...]) -> None:
    for seed in range(200, 230 if "rooms" in features else 320):
        hold_against_the_oracle(tiny_job(seed, *features))


def test_drops_of_one_room_begin_whole_repeats_apart() -> None:
    """One room of two drops, nothing to lie between them: the second begins a whole repeat later."""
    material = goods(2 * M, pattern=pattern(640 * MM), cutting_step_nm=10 * MM, sale=SALE)
    a_job = job([room(rectangle(4 * M, 3000 * MM), lays=(ALONG_Y,), trim_nm=0)], material)
    # 3.00 m is no whole number of repeats: the second drop begins at 5 × 0.64 = 3.20 m.
    assert in_sequence_nm2(a_job, 8 * M * 2 * M) == 6200 * MM * 2 * M


def test_a_drop_of_another_room_between_costs_nothing() -> None:
    """A closet as wide as the roll, 0.20 m long, fills what the repeat leaves between two drops."""
    material = goods(2 * M, pattern=pattern(640 * MM), cutting_step_nm=10 * MM, sale=SALE)
    rooms = [
        room(rectangle(4 * M, 3000 * MM), "room", lays=(ALONG_Y,), trim_nm=0),
        room(rectangle(2 * M, 200 * MM), "closet", lays=(ALONG_Y,), trim_nm=0),
    ]
    assert in_sequence_nm2(job(rooms, material), 8 * M * 2 * M) == 6200 * MM * 2 * M


def test_the_quarter_drop_worked_by_hand_stays_above_its_bound() -> None:
    """Ry 640, D 160: four equal drops of 2.55 m take 10.71 m at best; a step of the pattern is the drop, 160 mm."""
    material = goods(2 * M, pattern=at_seam(640 * MM, 160 * MM, 2 * M), cutting_step_nm=10 * MM, sale=SALE)
    a_job = job([room(rectangle(8 * M, 2550 * MM), lays=(ALONG_Y,), trim_nm=0)], material)
    # Three gaps of 10 mm (2.56 m = 16 × 160 mm) are sure whatever the order.
    assert in_sequence_nm2(a_job, 11 * M * 2 * M) == 10230 * MM * 2 * M


def test_the_bound_of_a_plan_says_what_it_comes_from() -> None:
    material = goods(2 * M, pattern=pattern(640 * MM), cutting_step_nm=10 * MM, sale=SALE)
    plan = planned(job([room(rectangle(4 * M, 3000 * MM), lays=(ALONG_Y,), trim_nm=0)], material), effort=2)
    assert plan.bounds[0].value == 6200 * MM * 2 * M


def small_job(seed: int) -> Job:
    """Return a job of two to five rooms, every third an L, of patterned goods 4 m wide in the trade's own sizes."""
    chance = Random(seed)
    along, across = chance.choice((320, 480, 640, 910)), chance.choice((None, 400, 500, 800, 1000))
    drop = 0 if across is None else chance.choice((0, along // 2 * MM, along // 4 * MM))
    material = goods(
        4 * M,
        pattern=pattern(along * MM, None if across is None else across * MM, drop),
        cutting_step_nm=5 * MM,
        seam_overlap_nm=chance.choice((0, 20)) * MM,
        squaring_nm=50 * MM,
        sale=Sale(order_step_nm=chance.choice((10, 100)) * MM),
        longest_nm=chance.choice((None, 9 * M, 30 * M)),
    )
    rooms = []
    for number in range(chance.randrange(2, 6)):
        wide, long = chance.randrange(180, 720) * 10 * MM, chance.randrange(200, 640) * 10 * MM
        shape = rectangle(wide, long)
        if number % 3 == 2:
            shape = ell(wide, long, chance.randrange(80, 100) * 10 * MM, chance.randrange(80, 120) * 10 * MM)
        rooms.append(room(shape, f"room-{number}", trim_nm=50 * MM, rules=SeamRules()))
    kind = chance.choice((GoalKind.BALANCED, GoalKind.LEAST_ROLL))
    return job(rooms, material, goal=Goal(kind=kind))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, 10))
def test_no_plan_is_below_the_bound(seed: int) -> None:
    """What is asked for is twice what the plan attains, so that a bound above the plan would show."""
    a_job = small_job(seed)
    attained = planned(a_job, effort=1, seed=seed).bounds[0].attained
    assert in_sequence_nm2(a_job, 2 * attained, time=0.5) <= attained
