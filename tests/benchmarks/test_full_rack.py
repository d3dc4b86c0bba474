"""The full rack of the benchmark: the same each time, and planned from."""

from __future__ import annotations

from benchmarks.full_rack import PIECES_A_LOT, measured, with_rack
from benchmarks.suite_jobs import suite_job


def test_the_rack_is_the_same_each_time_and_saves_roll() -> None:
    job = suite_job("cottage", "plain")
    assert with_rack(job, 40, 7) == with_rack(job, 40, 7)
    stock = with_rack(job, 40, 7).stock
    assert len({piece.lot for piece in stock}) == 40 // PIECES_A_LOT
    without, full = (measured(with_rack(job, count, 7), effort=0) for count in (0, 40))
    assert (without.used, without.value_m2) == (0, 0)
    assert full.used > 0
    assert full.value_m2 > 0
    assert full.roll_m2 < without.roll_m2
