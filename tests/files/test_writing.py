"""Results are written whole or not at all, under names that every system takes."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import JobError
from nesting.files.names import safe_file_name, slug, unique
from nesting.files.writing import MANIFEST, clear_written, write_whole


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_everything_is_written_and_nothing_else_left(tmp_path: Path) -> None:
    out = tmp_path / "a" / "b"
    paths = write_whole(out, {"plan.json": "{}\n", "küche.svg": "<svg/>\n"})
    assert paths == (out / "plan.json", out / "küche.svg")
    assert (out / "plan.json").read_bytes() == b"{}\n"
    assert names_in(out) == {"plan.json", "küche.svg", MANIFEST}


def test_what_an_earlier_run_wrote_goes_and_what_others_wrote_stays(tmp_path: Path) -> None:
    write_whole(tmp_path, {"plan.json": "1", "roll-1.svg": "1", "roll-2.svg": "1"})
    (tmp_path / "notes.txt").write_text("mine")
    write_whole(tmp_path, {"plan.json": "2", "roll-1.svg": "2"})
    assert names_in(tmp_path) == {"plan.json", "roll-1.svg", "notes.txt", MANIFEST}
    assert (tmp_path / "plan.json").read_text() == "2"


def test_a_list_that_names_other_places_is_not_followed(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (tmp_path / "precious").write_text("mine")
    (out / MANIFEST).write_text("../precious\n/etc/passwd\n.\n..\nsub\n")
    (out / "sub").mkdir()
    write_whole(out, {"plan.json": "1"})
    assert (tmp_path / "precious").exists() and (out / "sub").is_dir()


def test_a_failure_before_the_last_file_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_whole(tmp_path, {"a.txt": "old", "b.txt": "old"})
    calls = 0
    real = os.fsync

    def failing(number: int) -> None:
        nonlocal calls
        calls += 1
        if calls == 2:
            raise OSError(28, "No space left on device")
        real(number)

    monkeypatch.setattr(os, "fsync", failing)
    with pytest.raises(JobError, match="No space left"):
        write_whole(tmp_path, {"a.txt": "new", "b.txt": "new", "c.txt": "new"})
    assert names_in(tmp_path) == {"a.txt", "b.txt", MANIFEST}
    assert (tmp_path / "a.txt").read_text() == (tmp_path / "b.txt").read_text() == "old"


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("")
    with pytest.raises(JobError) as refused:
        write_whole(tmp_path / "out", {"a": "1"})
    assert refused.value.faults[0].code == "cannot-write"


@pytest.mark.parametrize("name", ["", ".", "..", "a/b", "a\\b", "/a", "c:x", "a\nb", MANIFEST])
def test_only_plain_names(name: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError):
        write_whole(tmp_path, {name: "1"})


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("Kitchen 2", "kitchen-2"),
        ("Küche / Straße", "kuche-strasse"),
        ("../../etc", "etc"),
        ("台所", "unnamed"),
        ("", "unnamed"),
        ("=cmd|' /C calc'!A0", "cmd-c-calc-a0"),
    ],
)
def test_slugs(name: str, made: str) -> None:
    assert slug(name) == made


def test_reserved_and_taken_names() -> None:
    assert safe_file_name("CON", ".svg") == "con-1.svg"
    assert safe_file_name("Lpt1", ".svg") == "lpt1-1.svg"
    assert safe_file_name("Roll", ".svg", {"roll.svg", "roll-2.svg"}) == "roll-3.svg"
    assert unique("roll", {"roll"}) == "roll-2"


@given(st.lists(st.text(max_size=60), max_size=8))
def test_any_names_make_safe_different_files(texts: list[str]) -> None:
    taken: set[str] = set()
    for text in texts:
        name = safe_file_name(text, ".svg", taken)
        assert name not in taken and name.isascii() and len(name) < 80
        assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-.")
        taken.add(name)


def test_the_same_texts_give_the_same_bytes(tmp_path: Path) -> None:
    def read(folder: Path) -> dict[str, Any]:
        return {path.name: path.read_bytes() for path in folder.iterdir()}

    for name in ("x", "y"):
        write_whole(tmp_path / name, {"b": "1", "a": "2"})
    assert read(tmp_path / "x") == read(tmp_path / "y")


def test_a_folder_that_a_run_wrote_is_cleared_and_goes(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    write_whole(folder, {"a.csv": "a\n", "b.svg": "b\n"})
    clear_written(folder)
    assert not folder.exists()


def test_what_others_wrote_stays(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    write_whole(folder, {"a.csv": "a\n"})
    (folder / "mine.txt").write_text("a note")
    clear_written(folder)
    assert [path.name for path in folder.iterdir()] == ["mine.txt"]
    clear_written(folder)  # no run wrote here
    assert (folder / "mine.txt").read_text() == "a note"
