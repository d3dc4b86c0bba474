"""The rack is measured: every operation, and the processes that reserve at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.rack import FEW, PLANNED, Row, head_of, made_up, measured, table


def test_made_up_pieces_are_the_same_every_time() -> None:
    pieces = made_up(200)
    assert pieces == made_up(200)
    assert [piece.material_id for piece in pieces].count(PLANNED) == FEW


def test_the_table_has_a_column_a_store() -> None:
    rows = [Row(name="one piece", value=1.234), Row(name="rush", value=1234.5, unit="a second")]
    told = table({"SQLite": rows, "PostgreSQL": rows})
    assert "| one piece | 1.23 ms | 1.23 ms |" in told
    assert "| rush | 1234 a second | 1234 a second |" in told
    assert "- commit: " in head_of(10, 1.0)


@pytest.mark.slow
def test_a_small_rack_is_measured(tmp_path: Path) -> None:
    rows = measured(str(tmp_path / "rack.db"), 1_000, 0.5, 2)
    assert all(row.value > 0 for row in rows)
    assert {row.name for row in rows} >= {"one piece", "confirm a plan", "reservations with 2 processes"}
