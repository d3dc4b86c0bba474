"""The jobs of the suite: right in number, the same every time, and each a file that the reader takes as it stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from benchmarks.suite_jobs import PATTERNS, job_names, job_text, main, suite_job
from benchmarks.suite_kinds import KINDS
from nesting.files.job_file import read_job

ROOMS = {
    "cottage": (3, 3),
    "flat": (4, 6),
    "house": (8, 12),
    "clinic": (20, 30),
    "school": (60, 60),
    "hotel": (300, 300),
}


@pytest.mark.parametrize("kind", ROOMS)
def test_a_kind_has_as_many_rooms_as_it_says(kind: str) -> None:
    least, most = ROOMS[kind]
    for seed in range(1, 4 if most < 100 else 2):
        assert least <= len(suite_job(kind, "plain", seed).rooms) <= most


def test_a_tower_of_fewer_rooms_is_built_like_the_whole() -> None:
    assert len(KINDS) == 7 and len(job_names()) == 21
    rooms = suite_job("tower", "half-drop", rooms=60).rooms
    assert 60 <= len(rooms) <= 66
    assert job_text("tower", "plain").count("  - name: ") == 1001  # the rooms and the material


@pytest.mark.parametrize("pattern", PATTERNS)
def test_the_same_seed_gives_the_same_job_and_another_one_another(pattern: str) -> None:
    assert job_text("house", pattern) == job_text("house", pattern)
    assert job_text("house", pattern, 2) != job_text("house", pattern, 1)


def test_rooms_are_the_same_with_every_pattern() -> None:
    plain, straight, half_drop = (suite_job("flat", pattern) for pattern in PATTERNS)
    assert plain.materials[0].pattern is None
    assert straight.materials[0].pattern is not None and half_drop.materials[0].pattern is not None
    outlines = [[room.outline for room in job.rooms] for job in (plain, straight, half_drop)]
    assert outlines[0] == outlines[1] == outlines[2]


def test_jobs_have_what_real_ones_have() -> None:
    house, clinic = suite_job("house", "half-drop"), suite_job("clinic", "plain")
    assert house.loose and house.matches and house.stock
    assert any(len(room.outline) == 6 or len(room.edges) > 6 for room in house.rooms)
    assert any(room.keep_outs for room in clinic.rooms) and any(room.holes for room in clinic.rooms)
    assert any(edge.cove_nm for room in clinic.rooms for edge in room.edges)
    assert any(door.joined for room in house.rooms for door in room.doors)


def test_written_jobs_read_back_as_the_same_jobs(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["--write", str(tmp_path), "--kinds", "flat,clinic"])
    assert done.exit_code == 0, done.output
    for kind, pattern in job_names(("flat", "clinic")):
        assert read_job(tmp_path / f"{kind}-{pattern}.yaml").job == suite_job(kind, pattern)


def test_an_unknown_kind_is_refused(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["--write", str(tmp_path), "--kinds", "castle"])
    assert done.exit_code == 2 and "castle" in done.output
