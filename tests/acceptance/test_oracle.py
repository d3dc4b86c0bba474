"""The planner against the brute-force oracle, and jobs in which only one seam position reaches the optimum."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

from nesting.domain.geometry import LayDirection
from nesting.domain.plan import MaterialPlan, SourceKind
from nesting.pipeline import Settings, plan_job
from tests.making import ALONG_Y, MM, UNIT_NM, ell, goods, job, job_of, ordered_nm, planned, rectangle, remnant, room
from tests.oracle import TinyJob, TinyPattern, TinyRoom, TinyStock, least
from tests.tiny_jobs import tiny_job


def compared(tiny: TinyJob, *, effort: int = 1) -> tuple[Fraction, MaterialPlan] | None:
    """Hold a plan against the oracle: never better, and no worse where it says that it is proved.

    Returns how far the plan is above the optimum as a share of it with the plan, None where there is no plan.
    """
    best = least(tiny)
    outcome = plan_job(job_of(tiny), Settings(effort=effort))
    if outcome.plan is None or not outcome.plan.by_the_rules:
        assert best is None, f"the oracle finds a plan of {best}"
        return None
    plan = outcome.plan.materials[0]
    first = plan.bounds[0]
    assert best is not None
    assert first.value <= best * UNIT_NM**2 <= first.attained
    if first.proved:
        assert first.attained == best * UNIT_NM**2
    return Fraction(first.attained - best * UNIT_NM**2, max(1, best * UNIT_NM**2)), plan


def one_room(across: int, along: int, **changes: object) -> TinyJob:
    lays = (0,) if changes.pop("upright", False) else (0, 1, 2, 3)
    return TinyJob(rooms=(TinyRoom(name="room", outline=rectangle(across, along), lays=lays),), **changes)  # type: ignore[arg-type]


CASES = {
    "plain": one_room(14, 16, widths=(12,), most_seams=1),
    "one cross seam": TinyJob(
        rooms=(TinyRoom(name="room", outline=rectangle(7, 8), cross_seams=1),), widths=(6,), most_seams=2
    ),
    "straight, known at the seam's pitch": one_room(12, 7, widths=(6,), pattern=TinyPattern(along=4, across=6)),
    "half-drop, odd repeats a breadth": one_room(14, 7, widths=(7,), pattern=TinyPattern(along=4, across=7, drop=2)),
    "half-drop, even repeats a breadth": one_room(14, 7, widths=(8,), pattern=TinyPattern(along=4, across=4, drop=2)),
    "quarter-drop": one_room(15, 6, widths=(6,), pattern=TinyPattern(along=4, across=6, drop=1), upright=True),
    "a third, off the cutting step": TinyJob(
        rooms=(TinyRoom(name="room", outline=rectangle(18, 9), lays=(0, 1)),),
        widths=(13,),
        step=3,
        pattern=TinyPattern(along=12, across=10, drop=4),
        most_seams=1,
    ),
    "a third": one_room(15, 7, widths=(6,), pattern=TinyPattern(along=6, across=5, drop=2), upright=True),
    "repeat across less than the width": one_room(12, 6, widths=(8,), pattern=TinyPattern(along=3, across=5, drop=1)),
    "three repeats a breadth": one_room(13, 6, widths=(7,), pattern=TinyPattern(along=4, across=2, drop=2)),
    "no variation across": one_room(13, 7, widths=(6,), pattern=TinyPattern(along=5)),
    "a fill at every place": one_room(10, 9, widths=(6,), pattern=TinyPattern(along=4, across=2, drop=2)),
    "pattern and overlap": one_room(11, 7, widths=(8,), overlap=2, pattern=TinyPattern(along=4, across=3, drop=2)),
    "two sources of different phase": one_room(
        9,
        8,
        widths=(6,),
        pattern=TinyPattern(along=5, across=3, drop=2),
        stock=(
            TinyStock(name="one", width=6, length=12, lot="A", phase=(1, 3)),
            TinyStock(name="two", width=5, length=11, lot="A", phase=(2, 1)),
        ),
    ),
    "two sources of unknown phase": one_room(
        8,
        7,
        widths=(6,),
        pattern=TinyPattern(along=4),
        stock=(
            TinyStock(name="one", width=5, length=12, lot="A"),
            TinyStock(name="two", width=4, length=11, lot="A", phase=(0, 3)),
        ),
    ),
    "an L and its corner": TinyJob(
        rooms=(
            TinyRoom(name="ell", outline=ell(8, 9, 4, 5)),
            TinyRoom(name="closet", outline=rectangle(4, 4)),
        ),
        widths=(8,),
        most_seams=1,
    ),
    "a patterned L": TinyJob(
        rooms=(TinyRoom(name="ell", outline=ell(9, 9, 4, 5), trim=1),),
        widths=(8,),
        pattern=TinyPattern(along=4, across=5, drop=2),
        most_seams=1,
    ),
    "two patterned rooms": TinyJob(
        rooms=(
            TinyRoom(name="one", outline=rectangle(7, 5)),
            TinyRoom(name="two", outline=rectangle(3, 6)),
        ),
        widths=(6,),
        pattern=TinyPattern(along=4),
        most_seams=1,
    ),
    "less side trim": TinyJob(
        rooms=(TinyRoom(name="room", outline=rectangle(11, 7), trim=1, least_trim=0),), widths=(6,), most_seams=2
    ),
    "a seam must save its worth": one_room(9, 7, widths=(6, 5), seam_worth=2),
}


@pytest.mark.parametrize("name", CASES)
def test_the_optimum_is_found(name: str) -> None:
    result = compared(CASES[name])
    assert result is not None
    gap, _ = result
    assert gap == 0


QUICK = [
    (),
    ("pattern",),
    ("stock",),
    ("overlap",),
    ("cross",),
    ("widths",),
    ("pattern", "stock"),
    ("pattern", "overlap", "stock"),
    ("overlap", "cross"),
]


@pytest.mark.parametrize("features", QUICK, ids="-".join)
def test_random_tiny_rooms(features: tuple[str, ...]) -> None:
    gaps = [compared(tiny_job(seed, *features)) for seed in range(1000, 1003)]
    assert all(result is None or result[0] == 0 for result in gaps)


@pytest.mark.slow
@pytest.mark.parametrize("features", [*QUICK, ("rooms",), ("rooms", "stock"), ("rooms", "pattern")], ids="-".join)
def test_many_random_tiny_rooms(features: tuple[str, ...]) -> None:
    results = [compared(tiny_job(seed, *features)) for seed in range(2000, 2030)]
    gaps = [result[0] for result in results if result is not None]
    assert max(gaps) <= Fraction(1, 5)
    assert sum(gap == 0 for gap in gaps) >= 0.95 * len(gaps)


def step_between(chance: Random, low_mm: int, high_mm: int) -> int:
    """Return a random length on the cutting step of 5 mm."""
    return chance.randrange(low_mm, high_mm, 5) * MM


@pytest.mark.parametrize("seed", [0, 1, 5, *(pytest.param(n, marks=pytest.mark.slow) for n in range(6, 18))])
def test_only_the_widths_of_remnants_save_an_order(seed: int) -> None:
    """Two or three remnants are just as wide together as the room: any other seam wants an ordered drop."""
    chance = Random(seed)
    widths = [step_between(chance, 1500, 5000) for _ in range(2 + seed % 2)]
    length = step_between(chance, 2500, 6000)
    slack = step_between(chance, 0, 40)
    floor = room(rectangle(sum(widths) - slack, length), lays=(ALONG_Y,))
    stock = tuple(
        remnant(f"remnant-{number}", width, length + step_between(chance, 0, 900), lot="A")
        for number, width in enumerate(widths)
    )
    material = goods(4000 * MM, cutting_step_nm=5 * MM)
    plan = planned(job([floor], material, stock=stock), effort=1)
    assert ordered_nm(plan) == 0
    assert len(plan.sources) == len(widths)
    assert all(source.kind is SourceKind.REMNANT for source in plan.sources)


@pytest.mark.parametrize("seed", [0, 1, 5, *(pytest.param(n, marks=pytest.mark.slow) for n in range(6, 18))])
def test_only_the_widths_of_neighbours_fill_the_roll(seed: int) -> None:
    """Three rooms fill two lengths of the roll to the last: only one seam, at one of a few places, does it."""
    chance = Random(seed)
    roll = 4000 * MM
    narrow = [step_between(chance, 1300, 2700) for _ in range(2)]
    length = step_between(chance, 3000, 7000)
    floors = [room(rectangle(width, length), f"narrow-{n}", lays=(ALONG_Y,)) for n, width in enumerate(narrow)]
    floors.append(room(rectangle(2 * roll - sum(narrow), length), "wide", lays=(ALONG_Y,)))
    plan = planned(job(floors, goods(roll, cutting_step_nm=5 * MM)), effort=1)
    assert ordered_nm(plan) == 2 * length
    assert plan.bounds[0].proved
    # Narrow rooms that fill the roll by themselves leave it whole for the wide one.
    assert plan.measures.seams == (0 if sum(narrow) == roll else 1)


def test_the_oracle_by_hand() -> None:
    """Answers that need no computer: 14 × 16 ft and quarter-drops, scaled to small numbers."""
    halves = one_room(7, 8, widths=(6,), most_seams=1)
    assert least(halves) == 14 * 6
    upright = TinyJob(rooms=(TinyRoom(name="room", outline=rectangle(7, 8), lays=(0,)),), widths=(6,))
    assert least(upright) == 16 * 6
    # A quarter-drop of 4: drops of 5 laid right to left advance 1 + 4·⌈4/4⌉ = 5, left to right 3 + 4 = 7.
    quarter = one_room(12, 5, widths=(6,), pattern=TinyPattern(along=4, across=6, drop=1), upright=True)
    assert least(quarter) == 10 * 6
    straight = one_room(12, 5, widths=(6,), pattern=TinyPattern(along=4, across=6), upright=True)
    assert least(straight) == 13 * 6


def test_directions_of_the_oracle_are_lay_directions() -> None:
    tiny = TinyJob(rooms=(TinyRoom(name="room", outline=rectangle(7, 8), lays=(3,)),), widths=(6,))
    assert job_of(tiny).rooms[0].lays == (LayDirection(1, 0),)
