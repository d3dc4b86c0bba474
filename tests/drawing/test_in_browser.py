"""In a real browser, with its own faces: no text on another, none off the sheet, too small, or wider than reckoned."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.suite_jobs import suite_job
from nesting.domain.job import Job
from nesting.domain.plan import Plan
from nesting.drawing import A4, LETTER
from nesting.drawing.front_chart import front_scene
from nesting.drawing.goods_map import goods_scene
from nesting.drawing.labels import bounds
from nesting.drawing.room_plan import room_scene
from nesting.drawing.scene import EITHER, Group, Label, Page, Scene
from nesting.files.plan_file import load_plan
from nesting.pipeline import Settings, plan_job
from tests import strategies
from tests.drawing import plans
from tests.drawing.browsing import faults, measured
from tests.drawing.scenes import roll_sheets, room_sheets
from tests.drawing.test_done import CHANGED, half_done
from tests.drawing.test_front_chart import CHARTS
from tests.drawing.test_goods_map import MAPS
from tests.drawing.test_names import every_kind

if TYPE_CHECKING:
    from playwright.sync_api import Page as Tab

EXAMPLES = Path(__file__).parents[2] / "examples"
STORED = sorted(path.parent.relative_to(EXAMPLES).as_posix() for path in EXAMPLES.glob("*/*/plan.json"))
SHARED_TAB = settings(suppress_health_check=list(HealthCheck), max_examples=2)  # every sheet takes the tab's place


def sheets(plan: Plan, paper: Page = EITHER) -> list[Scene]:
    return roll_sheets(plan, paper) + room_sheets(plan, paper)


def stands_well(tab: Tab, scenes: list[Scene]) -> None:
    for scene, texts in zip(scenes, measured(tab, scenes), strict=True):
        assert faults(scene, texts) == [], scene.title


@pytest.mark.parametrize("name", plans.ALL)
def test_texts_of_the_plans_by_hand(name: str, page: Tab) -> None:
    stands_well(page, sheets(plans.ALL[name]()))


@pytest.mark.parametrize("name", STORED)
def test_texts_of_the_examples(name: str, page: Tab) -> None:
    stands_well(page, sheets(load_plan(EXAMPLES / name / "plan.json")))


def test_texts_of_the_back_of_what_is_begun_and_of_other_sheets(page: Tab) -> None:
    begun = half_done()
    backs = roll_sheets(plans.small_pieces(), mirrored=True)
    rooms = [room_scene(begun, room.id, EITHER, CHANGED) for room in begun.job.rooms]
    charts = [front_scene(chart) for chart in CHARTS.values()]
    stands_well(page, [*backs, *roll_sheets(begun), *rooms, *charts, *map(goods_scene, MAPS.values())])


@pytest.mark.parametrize("seed", [1, 2, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(6, 40))])
def test_texts_of_crowded_rolls_and_ragged_rooms(seed: int, page: Tab) -> None:
    stands_well(page, sheets(plans.crowded(seed)) + sheets(plans.ragged(seed)))


def planned_well(tab: Tab, job: Job) -> None:
    plan = plan_job(job, Settings(effort=1, rule_costs=False)).plan
    if plan is not None:
        stands_well(tab, sheets(plan))


def test_texts_of_a_few_jobs(page: Tab) -> None:
    @SHARED_TAB
    @given(strategies.stock_jobs())
    def check(job: Job) -> None:
        planned_well(page, job)

    check()


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["plain_jobs", "ell_jobs", "patterned_jobs", "stock_jobs"])
def test_texts_of_many_jobs(kind: str, page: Tab) -> None:
    @settings(SHARED_TAB, max_examples=25)
    @given(getattr(strategies, kind)())
    def check(job: Job) -> None:
        planned_well(page, job)

    check()


@pytest.mark.slow
@pytest.mark.parametrize("pattern", ["plain", "half-drop"])
@pytest.mark.parametrize("kind", ["cottage", "flat", "house", "clinic", "school"])
def test_texts_of_the_suite(kind: str, pattern: str, page: Tab) -> None:
    plan = plan_job(suite_job(kind, pattern, rooms=3), Settings(effort=1, rule_costs=False)).plan
    assert plan is not None
    for paper in (EITHER, A4, LETTER):
        stands_well(page, sheets(plan, paper))


def test_texts_of_hard_names(page: Tab) -> None:
    """All but marks piled up on a letter, which reach out of their line in any face."""
    hard = [name for name in strategies.HARD_NAMES if "\u0302\u0303" not in name]
    assert len(hard) == len(strategies.HARD_NAMES) - 1
    stands_well(page, [scene for name in hard for scene in every_kind([name], "clinic")])


ANY_TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc", "Cn", "Co")), max_size=60)


@pytest.mark.parametrize("examples", [60, pytest.param(1500, marks=pytest.mark.slow)])
def test_no_text_is_wider_than_reckoned(examples: int, page: Tab) -> None:
    """Whatever the script: letters one by one, for how they join is the affair of the face."""

    @settings(SHARED_TAB, max_examples=examples)
    @given(st.lists(ANY_TEXT, max_size=20), st.booleans())
    def check(texts: list[str], bold: bool) -> None:
        wanted = [label(" ".join(text.split()), k, bold) for k, text in enumerate(texts)]
        scene = sheet(*(one for one in wanted if one.text))
        (found,) = measured(page, [scene])
        assert [fault for fault in faults(scene, found) if "wide" in fault] == []

    check()


def label(text: str, row: int, bold: bool = False) -> Label:
    return Label(role="text", text=text, at=(10.0, 20.0 + 5.0 * row), size_mm=2.5, bold=bold)


def sheet(*labels: Label) -> Scene:
    return Scene(page=EITHER, title="t", description="d", groups=(Group(role="label", items=labels),))


def test_what_is_wrong_is_found(page: Tab) -> None:
    small = replace(label("small", 4), size_mm=1.5)
    off = replace(label("off", 2), at=(270.0, 60.0), size_mm=9.0)
    turned = replace(label("an upright text", 12), turned=90.0, bold=True)
    scene = sheet(label("one", 0), replace(label("on it", 0), at=(12.0, 21.0)), small, off, turned)
    (found,) = measured(page, [scene])
    assert sorted(faults(scene, found)) == ["'off' leaves the sheet", "'on it' on 'one'", "'small' is set in 1.50 mm"]
    wide = [replace(one, wide_mm=2.0 * one.wide_mm) for one in found]
    assert "'one' is" in " ".join(faults(scene, wide))
    x0, y0, x1, y1 = bounds(next(one.box for one in found if one.text == turned.text))
    assert y1 - y0 > 3 * (x1 - x0)
