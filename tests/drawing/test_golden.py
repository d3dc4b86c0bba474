"""Drawings kept as files, compared exactly. After a change: pytest --rewrite-golden, and look at every one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from nesting.drawing import drawings, roll_map, roll_maps, room_plan
from tests.conftest import compare_with_golden
from tests.drawing import plans
from tests.drawing.test_leaders import small_rooms

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


def test_a_roll_on_several_sheets_is_as_kept(golden: Callable[[str, str], None]) -> None:
    plan = plans.long_roll()
    part = plan.materials[0]
    wide = replace(part, sources=(replace(part.sources[0], width_nm=9_000_000_000), part.sources[1]))
    sheets = roll_maps(replace(plan, materials=(wide,)), "carpet-roll-1")
    assert len(sheets) > 1
    for number, text in enumerate(sheets, start=1):
        golden(f"drawing/long-roll/on-sheets-{number}.svg", text)


def test_narrow_breadths_are_as_kept(golden: Callable[[str, str], None]) -> None:
    golden("drawing/lane/room-lane.svg", room_plan(small_rooms(), "lane"))


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
