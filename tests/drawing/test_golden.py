"""Drawings kept as files, compared exactly. After a change: pytest --rewrite-golden, and look at every one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from nesting.drawing import drawings, roll_map
from tests.conftest import compare_with_golden
from tests.drawing import plans

KEPT = {
    "clinic": None,
    "guest-house": None,
    "corner": ("roll-vinyl-roll-1",),
    "school": None,
    "long-roll": ("roll-R100", "roll-carpet-roll-1"),
    "studio": ("room-studio",),
    "oblique": ("room-wing",),
    "small-pieces": None,
    "strange-names": ("roll-g-roll-1", "room-r-1"),
}


@pytest.mark.parametrize("name", KEPT)
def test_drawings_are_as_kept(name: str, golden: Callable[[str, str], None]) -> None:
    made = drawings(plans.ALL[name]())
    for stem in KEPT[name] or made:
        golden(f"drawing/{name}/{stem}.svg", made[stem])


def test_the_back_is_as_kept(golden: Callable[[str, str], None]) -> None:
    golden("drawing/corner/roll-vinyl-roll-1-back.svg", roll_map(plans.corner(), "vinyl-roll-1", mirrored=True))


def test_the_comparison_can_fail(tmp_path: Path) -> None:
    kept = tmp_path / "kept.svg"
    with pytest.raises(pytest.fail.Exception, match="missing"):
        compare_with_golden(kept, "a\nb\n")
    kept.write_bytes(b"a\nb\n")
    compare_with_golden(kept, "a\nb\n")
    for changed in ("a\nc\n", "a\nb", "a\r\nb\n", "a\nb\n\n", ""):
        with pytest.raises(pytest.fail.Exception, match="differs"):
            compare_with_golden(kept, changed)
    text = roll_map(plans.corner(), "vinyl-roll-1")
    kept.write_text(text, encoding="utf-8", newline="\n")
    other = roll_map(plans.corner(), "vinyl-roll-1", mirrored=True)
    with pytest.raises(pytest.fail.Exception, match="differs"):
        compare_with_golden(kept, other)
