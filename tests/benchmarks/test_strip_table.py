"""The table of strip files: packings are checked again, packers compared with."""

from __future__ import annotations

from typing import Any

import pytest

from benchmarks.nest import run
from benchmarks.packers import rectpack_lengths
from benchmarks.strip_table import faults_of_strip, row_of, summary_of, text_of

STRIP: dict[str, Any] = {
    "name": "four",
    "width": 10,
    "items": [[6, 4], [4, 4], [5, 3], [5, 3]],
    "best_known": 7,
    "lower_bound": 7,
}


def test_a_row_from_a_run() -> None:
    """What the engine packs is sound and stands in the table."""
    row = row_of(STRIP, run(STRIP, 5.0, 1, 1), {"a packer": 8, "none": None})
    assert row.ratio == 1
    assert not row.beaten_by
    assert "proved" in text_of(row)
    assert "mean ratio 1.00000 over 1" in summary_of([row])


def test_a_packer_that_is_better_is_named() -> None:
    """A shorter packing of a packer is marked."""
    line = {"length": 8, "bound": 7, "seconds": 1.0, "placements": [[0, 0, 0], [1, 6, 0], [2, 0, 4], [3, 5, 5]]}
    row = row_of(STRIP, line, {"a packer": 7})
    assert "BETTER: a packer" in text_of(row)
    assert "a packer is better on four" in summary_of([row])


@pytest.mark.parametrize(
    ("placements", "length", "fault"),
    [
        ([[0, 0, 0], [1, 5, 0], [2, 0, 4], [3, 5, 4]], 7, "1 lies on 0"),
        ([[0, 0, 0], [1, 7, 0], [2, 0, 4], [3, 5, 4]], 7, "1: outside"),
        ([[0, 0, 0], [1, 6, 0], [2, 0, 4]], 7, "not every piece once"),
        ([[0, 0, 0], [1, 6, 0], [2, 0, 4], [3, 5, 4]], 6, "the length is not that of the placements"),
    ],
)
def test_unsound_packings_are_refused(placements: list[list[int]], length: int, fault: str) -> None:
    """Overlaps, pieces outside or missing, and wrong lengths are found."""
    line = {"length": length, "bound": 7, "seconds": 1.0, "placements": placements}
    assert fault in faults_of_strip(STRIP, line)
    with pytest.raises(ValueError, match="four"):
        row_of(STRIP, line, {})


def test_rectpack_if_it_is_there() -> None:
    """Its best of all algorithms and orders packs four pieces without waste."""
    pytest.importorskip("rectpack")
    assert min(rectpack_lengths(10, [(w, h) for w, h in STRIP["items"]], lambda: False)) == 7
