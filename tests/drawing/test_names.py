"""Any name stays text in every kind of drawing: no markup, no figure turned round, one line, on the sheet."""

from __future__ import annotations

import re
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from nesting.domain.plan import Consent, Notice, Plan
from nesting.domain.rules import RuleId
from nesting.drawing import GoodsMap
from nesting.drawing.front_chart import FrontChart, front_scene
from nesting.drawing.goods_map import goods_scene
from nesting.drawing.metrics import clean, composed, shortened, text_width_mm, wrapped
from nesting.drawing.scene import Label, Scene
from nesting.drawing.svg import to_svg
from tests import strategies
from tests.drawing import plans
from tests.drawing.scenes import off_the_sheet, overlapping, roll_sheets, room_sheets
from tests.drawing.test_done import half_done
from tests.drawing.test_front_chart import CHARTS
from tests.drawing.test_goods_map import ROLL

SVG = "{http://www.w3.org/2000/svg}"
KNOWN = {
    "svg", "title", "desc", "defs", "style", "pattern", "rect", "line", "circle", "path", "g", "text",
}  # fmt: skip
NAMES = st.lists(strategies.names(), min_size=1, max_size=6)
BASES = {"clinic": plans.clinic, "school": plans.school, "small-pieces": plans.small_pieces, "half-done": half_done}


class Names:
    """Hands out the names one after the other, over and over."""

    def __init__(self, names: list[str]) -> None:
        self.names, self.count = names, 0

    def __call__(self) -> str:
        self.count += 1
        return self.names[self.count % len(self.names)]


def renamed(plan: Plan, given_names: list[str]) -> Plan:
    """The plan with these names wherever a user may give one."""
    name = Names(given_names)
    job = plan.job
    rooms = tuple(
        replace(room, name=name(), edges=tuple(replace(edge, wall=name() if edge.wall else "") for edge in room.edges))
        for room in job.rooms
    )
    job = replace(
        job,
        name=name(),
        materials=tuple(replace(material, name=name()) for material in job.materials),
        rooms=rooms,
        loose=tuple(replace(piece, name=name()) for piece in job.loose),
        strips=tuple(replace(strip, name=name()) for strip in job.strips),
        stock=tuple(replace(piece, place=name()) for piece in job.stock),
    )
    part = plan.materials[0]
    sources = {source.id: f"{k} {name()}" for k, source in enumerate(part.sources)}
    part = replace(
        part,
        cuts=tuple(replace(cut, label=name()) for cut in part.cuts),
        sources=tuple(replace(source, id=sources[source.id], lot=name()) for source in part.sources),
        placements=tuple(replace(spot, source_id=sources[spot.source_id]) for spot in part.placements),
        offcuts=tuple(replace(offcut, source_id=sources[offcut.source_id], lot=name()) for offcut in part.offcuts),
        notices=tuple(Notice(code="told", room_id=room.id, text=name()) for room in rooms),
    )
    told = Consent(rule=RuleId.LEAST_BREADTH, owner=name(), by_nm=1, text=name())
    return replace(plan, job=job, materials=(part,), consents=(told,))


def renamed_chart(chart: FrontChart, names: list[str]) -> FrontChart:
    name = Names(names)
    rows = tuple(replace(row, text=name()) for row in chart.rows)
    hand = None if chart.by_hand is None else replace(chart.by_hand, text=name())
    return replace(chart, title=name(), lines=(name(), name()), axis=name(), rows=rows, by_hand=hand)


def renamed_goods(goods: GoodsMap, names: list[str]) -> GoodsMap:
    name = Names(names)
    return replace(
        goods,
        title=name(),
        lines=(name(),),
        notes=(name(), name()),
        pieces=tuple(replace(piece, name=name()) for piece in goods.pieces),
        pieces_text=name(),
        areas=tuple(replace(area, text=name()) for area in goods.areas),
    )


def every_kind(names: list[str], base: str) -> Iterator[Scene]:
    plan = renamed(BASES[base](), names)
    yield from roll_sheets(plan)
    yield from room_sheets(plan)
    yield front_scene(renamed_chart(CHARTS["house"], names))
    yield goods_scene(renamed_goods(ROLL, names))


def turned(text: str) -> bool:
    """Whether anything outside of what is set apart runs right to left, or a mark of direction is not closed."""
    rest = re.sub("\u2068[^\u2066-\u2069\u202a-\u202e]*\u2069", "", text)
    marks = any(0x202A <= ord(char) <= 0x202E or 0x2066 <= ord(char) <= 0x2069 for char in rest)
    return marks or any(unicodedata.bidirectional(char) in ("R", "AL", "AN") for char in rest)


def stays_text(scene: Scene) -> None:
    root = ET.fromstring(to_svg(scene))
    tags = [node.tag.removeprefix(SVG) for node in root.iter()]
    assert set(tags) <= KNOWN
    texts = list(root.iter(f"{SVG}text"))
    assert [node.text or "" for node in texts] == [label.text for label in scene.labels]
    assert not any(list(node) for node in texts)
    assert tags.count("g") == len(scene.groups)
    titles = [node.text or "" for tag in ("title", "desc") for node in root.iter(SVG + tag)]
    for text in [*titles, *(label.text for label in scene.labels)]:
        assert not turned(text), text
        assert text.strip() == " ".join(text.split())


@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize("examples", [4, pytest.param(100, marks=pytest.mark.slow)])
def test_any_name_stays_text_in_every_kind_of_drawing(examples: int, base: str) -> None:
    @settings(max_examples=examples, phases=(Phase.explicit, Phase.generate))
    @given(NAMES)
    def check(names: list[str]) -> None:
        for scene in every_kind(names, base):
            stays_text(scene)
            assert overlapping(scene) == [] and off_the_sheet(scene) == [], scene.title

    check()


@pytest.mark.parametrize("name", strategies.HARD_NAMES, ids=range(len(strategies.HARD_NAMES)))
def test_hard_names_one_by_one(name: str) -> None:
    for scene in every_kind([name], "clinic"):
        stays_text(scene)
        assert overlapping(scene) == [] and off_the_sheet(scene) == [], scene.title


@given(strategies.names())
@settings(max_examples=20)
def test_a_name_is_what_was_put_in_but_shortened(name: str) -> None:
    """What stands as the title of a room plan and beside a piece is the name, or begins like it and says so."""
    whole = bare(clean(name))
    scene = room_sheets(renamed(plans.corner(), [name]))[0]
    title = next(bare(label.text) for label in scene.labels if label.id == "title")
    assert begins(title, whole or title)
    tiny = replace(ROLL, pieces=(replace(ROLL.pieces[0], name=name, rects=(ROLL.areas[3].rects[0],)),))
    said = " ".join(bare(label.text) for label in goods_scene(tiny).labels if label.piece == "1")
    assert begins(said, f"1 {whole}".strip())


def bare(text: str) -> str:
    return text.replace("\u2068", "").replace("\u2069", "").strip()


def begins(shown: str, whole: str) -> bool:
    """Whether a text is all of a name or, with an ellipsis, its beginning; however the lines are broken."""
    one, other = "".join(shown.split()), "".join(whole.split())
    return one == other or (one.endswith("…") and other.startswith(one[:-1]))


@given(st.text(max_size=40), st.text(max_size=40))
@settings(max_examples=300)
def test_lines_put_together_keep_their_figures_in_place(a: str, b: str) -> None:
    line = composed(f"{clean(a)} · 3 pieces · {clean(b)} · 12 mm")
    assert not turned(line) and line == composed(line)
    for part in wrapped(line, 3.5, 40.0):
        assert not turned(part) and text_width_mm(part, 3.5) <= 40.0
        assert not turned(shortened(part, 3.5, 15.0))


@given(st.text(st.sampled_from("abא ع٣1 ·\u2068\u2069\u202e"), max_size=30))
@settings(max_examples=300)
def test_lines_of_others_are_set_apart_run_by_run(text: str) -> None:
    line = composed(text)
    assert not turned(line)
    kept = [char for char in text if char not in "\u2068\u2069\u202e "]
    assert [char for char in line if char not in "\u2068\u2069 "] == kept


def test_a_turned_line_would_be_found() -> None:
    assert turned("חדר · 3") and turned("a \u202eb") and turned("\u2068open") and not turned("\u2068חדר\u2069 · 3")
    assert composed("חדר · 3 pieces") == "\u2068חדר\u2069 · 3 pieces"
    assert composed("\u2068חדר 12\u2069 · 3") == "\u2068חדר 12\u2069 · 3"


def test_markup_in_a_scene_would_be_found() -> None:
    scene = room_sheets(plans.corner())[0]
    spoiled: Any = replace(scene.labels[0], text="two\nlines")
    with pytest.raises(AssertionError):
        stays_text(replace(scene, groups=(replace(scene.groups[0], items=(spoiled,)),)))
    assert isinstance(spoiled, Label)
