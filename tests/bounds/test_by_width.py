"""The bound by width: no plan of the oracle or the planner is better, and rooms that lie side by side count as such."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any, NamedTuple

import numpy as np
import pytest

from nesting.bounds import by_width
from nesting.bounds.by_width import bound_by_width
from nesting.bounds.kernels import NONE, least_by_seams
from nesting.bounds.lots import MOST_WIDTHS, as_one
from nesting.bounds.widths import SCALE, by_area, capacity, families, made_valid
from nesting.domain.job import Job
from nesting.domain.material import Sale
from nesting.domain.rules import Goal, GoalKind
from tests.making import ALONG_Y, MM, UNIT_NM, M, goods, job, job_of, loose, planned, rectangle, remnant, room
from tests.oracle import least
from tests.tiny_jobs import tiny_job

FEATURES = [
    (),
    ("overlap",),
    ("cross",),
    ("rooms",),
    ("stock",),
    ("widths",),
    ("pattern",),
    ("overlap", "cross", "stock"),
    ("rooms", "stock"),
]


def bound_nm2(a_job: Job, *, effort: int = 2, attained_nm2: int = 10**30) -> int:
    worth = a_job.goal.seam_worth_nm if a_job.goal.kind is GoalKind.BALANCED else 0
    found = bound_by_width(
        a_job,
        a_job.materials[0],
        seam_worth_nm=worth,
        effort=effort,
        seed=0,
        attained_nm2=attained_nm2,
        stop=lambda: False,
    )
    assert found is not None
    return found[0]


def hold_against_the_oracle(seed: int, features: tuple[str, ...]) -> bool | None:
    """Tell whether the bound of a tiny job is its optimum; None where the job cannot be done."""
    tiny = tiny_job(seed, *features)
    best = least(tiny)
    if best is None:
        return None
    value = bound_nm2(job_of(tiny))
    assert value <= best * UNIT_NM**2, tiny
    return value == best * UNIT_NM**2


@pytest.mark.parametrize("features", FEATURES, ids="-".join)
def test_no_plan_of_the_oracle_is_better(features: tuple[str, ...]) -> None:
    tight = [hold_against_the_oracle(seed, features) for seed in range(500, 508)]
    assert any(tight)


def test_a_full_rack_taken_as_one_lot_promises_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where lots are too many to tell apart, the bound may only be weaker."""
    jobs = [job_of(tiny_job(seed, "rooms", "stock")) for seed in range(520, 530)]
    apart = [bound_nm2(a_job) for a_job in jobs]
    monkeypatch.setattr(by_width, "MOST_LOTS", 0)
    for seed in range(500, 520):
        hold_against_the_oracle(seed, ("stock",))
    assert all(bound_nm2(a_job) <= value for a_job, value in zip(jobs, apart, strict=True))


def test_pieces_taken_as_one_hold_no_less() -> None:
    pieces = [(width, 100 + width) for width in range(3, 403, 4)]
    few = as_one(pieces)
    assert len(few) <= MOST_WIDTHS and max(few)[0] == max(pieces)[0]
    assert sum(length for _, length in few) == sum(length for _, length in pieces)
    for value in (lambda w: w, lambda w: 2 * w // 300, lambda w: w // 7 * 7):
        held, holds = (sum(value(w) * length for w, length in of) for of in (few, pieces))
        assert held >= holds


@pytest.mark.slow
@pytest.mark.parametrize("features", FEATURES, ids="-".join)
def test_no_plan_of_the_oracle_is_better_in_many_jobs(features: tuple[str, ...]) -> None:
    for seed in range(600, 720):
        hold_against_the_oracle(seed, features)


def random_floor(chance: Random) -> tuple[Any, list[tuple[int, ...]], Any, int]:
    across, widest = chance.randint(3, 36), chance.randint(4, 12)
    runs: list[tuple[int, ...]] = []
    for _ in range(chance.randint(1, 4)):
        left = chance.choice((0, chance.randint(0, across - 1)))
        right = chance.choice((across, chance.randint(left + 1, across)))
        margins = chance.randint(0, 3), chance.randint(0, 3)
        runs.append((left, right, right - left, left + margins[0], right - margins[1], chance.randint(1, 9)))
    seams = np.array([chance.random() < 0.7 for _ in range(across + 1)])
    value = np.cumsum([0] + [chance.choice((0, 0, 1, 3, 10)) for _ in range(widest)]).astype(np.int64)
    return seams, runs, value, widest


def every_layout(
    seams: Any, runs: list[tuple[int, ...]], value: Any, limits: tuple[int, int, int], overlap: int
) -> dict[int, int]:
    """Return the least value by number of seams, found by trying every seam after every other."""
    across = len(seams) - 1
    reached: dict[tuple[int, int], int] = {(0, 0): 0}
    total: dict[int, int] = {}
    for begin in range(across):
        for (at, count), here in list(reached.items()):
            for end in range(begin + 1, across + 1) if at == begin else ():
                last = end == across
                if not last and (not seams[end] or end - overlap <= begin):
                    continue
                widths = [
                    (whole if begin <= left and end >= right else min(end, right) - max(begin, left), height)
                    for left, right, whole, first, after, height in runs
                    if (end >= first or last) and (begin <= after or begin == 0)
                ]
                if max((width for width, _ in widths), default=0) > limits[(begin > 0) + (not last)]:
                    continue
                amount = here + sum(int(value[width]) * height for width, height in widths if width > 0)
                if last:
                    total[count] = min(total.get(count, amount), amount)
                else:
                    key = (end - overlap, count + 1)
                    reached[key] = min(reached.get(key, amount), amount)
    return total


class Floor(NamedTuple):
    """A floor as the compiled loops take it."""

    across: int
    overlap: int
    limits: tuple[int, int, int]
    runs: list[tuple[int, ...]]
    seams: Any
    value: Any

    def least(self, price: int, most: int, *, beyond: bool) -> list[int]:
        """Return what the compiled loops find."""
        found = least_by_seams(
            self.across,
            self.overlap,
            np.array(self.limits),
            np.array(self.runs, dtype=np.int64),
            self.seams,
            np.zeros(self.across, dtype=np.int64),
            0,
            np.zeros((0, 2), dtype=np.int64),
            False,
            self.value,
            price,
            most,
            beyond,
            np.full((most + 1, self.across + 1), -1, dtype=np.int64),
        )
        return [int(amount) for amount in found]


def test_the_least_over_all_seams_is_what_trying_them_all_finds() -> None:
    chance = Random(7)
    for _ in range(250):
        seams, runs, value, widest = random_floor(chance)
        across, overlap, less = len(seams) - 1, chance.choice((0, 0, 1, 2)), chance.choice((0, 1))
        limits, price = (widest, widest - less, widest - 2 * less), chance.choice((0, 5, 40))
        wanted = every_layout(seams, runs, value, limits, overlap)

        shape = Floor(across, overlap, limits, runs, seams, value)
        best = min((amount + price * count for count, amount in wanted.items()), default=int(NONE))
        assert shape.least(price, 0, beyond=True) == [best]
        by_count = np.minimum.accumulate(shape.least(0, 5, beyond=False))
        for most in range(6):
            assert by_count[most] == min((v for n, v in wanted.items() if n <= most), default=int(NONE))


def test_values_never_count_more_than_the_goods() -> None:
    chance = Random(3)
    for _ in range(40):
        width = chance.randint(5, 60)
        wanted = np.cumsum([0] + [chance.choice((0, 0, 500, 1000, 4000)) for _ in range(width)]).astype(np.int64)
        value = made_valid(wanted, (width,))
        assert capacity(value)[width] <= width * SCALE
        assert (np.diff(value) >= 0).all()
    for value in families(40, (40,)):
        assert capacity(value)[40] <= 40 * SCALE
    assert capacity(by_area(40))[33] == 33 * SCALE


def test_a_room_with_nothing_beside_it_takes_its_length() -> None:
    """Two rooms wider than half the goods never lie side by side: area alone says 9.6 m of 4 m goods."""
    rooms = [room(rectangle(2400 * MM, 8 * M), name, lays=(ALONG_Y,)) for name in ("a", "b")]
    material = goods(4 * M, cutting_step_nm=5 * MM, sale=Sale(order_step_nm=100 * MM))
    a_job = job(rooms, material, goal=Goal(kind=GoalKind.BALANCED, most_seams=0))
    assert bound_nm2(a_job) == 16 * M * 4 * M


def test_seams_are_priced_in_the_same_least() -> None:
    """A seam worth more than it saves is not taken: the room keeps its whole width of goods."""
    balanced = Goal(kind=GoalKind.BALANCED, seam_worth_nm=5 * M)
    floor = room(rectangle(2400 * MM, 8 * M), lays=(ALONG_Y,))
    sale = Sale(order_step_nm=100 * MM)
    material = goods(4 * M, cutting_step_nm=5 * MM, sale=sale)
    assert bound_nm2(job([floor], material, goal=balanced)) == 8 * M * 4 * M
    cheap = replace(balanced, seam_worth_nm=100 * MM)
    assert bound_nm2(job([floor], material, goal=cheap)) <= 8 * M * 4 * M


def test_a_remnant_that_holds_no_whole_room_takes_nothing_off() -> None:
    floor = room(rectangle(4 * M, 3 * M), lays=(ALONG_Y,))
    material = goods(4 * M, cutting_step_nm=5 * MM)
    short = job([floor], material, stock=(remnant("r", 4 * M, 2999 * MM),))
    assert bound_nm2(short) == 3 * M * 4 * M
    assert bound_nm2(replace(short, stock=(remnant("r", 4 * M, 3 * M),))) == 0
    with_mat = replace(short, loose=(loose(1 * M, 1 * M),))
    assert bound_nm2(with_mat) == 3 * M * 4 * M


def test_the_plan_of_a_small_job_is_proved_and_says_how() -> None:
    rooms = [room(rectangle(width * MM, 3 * M), f"r{width}", lays=(ALONG_Y,)) for width in (2500, 1500, 3900)]
    material = goods(4 * M, cutting_step_nm=5 * MM, sale=Sale(order_step_nm=100 * MM), squaring_nm=50 * MM)
    plan = planned(job(rooms, material, goal=Goal(kind=GoalKind.BALANCED)), effort=2)
    assert plan.bounds[0].proved
    assert plan.bounds[0].cut
