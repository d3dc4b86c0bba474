"""What every sheet keeps: legible, nothing on top of another, nothing off the paper, everything said once."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from nesting.domain.job import Unit
from nesting.domain.layout import CutKind
from nesting.domain.plan import Plan
from nesting.drawing import A4, EITHER, LETTER, drawings, roll_map, roll_maps, room_plan
from nesting.drawing.lengths import size_text
from nesting.drawing.scene import Group, Scene
from nesting.drawing.svg import to_svg
from tests.drawing import plans
from tests.drawing.scenes import (
    drawn_off_the_sheet,
    off_the_sheet,
    overlapping,
    roll_sheets,
    room_sheets,
    too_small,
)

PLANS = {name: make() for name, make in plans.ALL.items()}
SVG = "{http://www.w3.org/2000/svg}"


def _sheets(plan: Plan) -> list[Scene]:
    return roll_sheets(plan) + room_sheets(plan)


@pytest.mark.parametrize("page", [EITHER, A4, LETTER], ids=["either", "a4", "letter"])
@pytest.mark.parametrize("name", PLANS)
def test_no_label_on_another_and_all_on_the_sheet(name: str, page: object) -> None:
    for scene in roll_sheets(PLANS[name], page) + room_sheets(PLANS[name], page):  # type: ignore[arg-type]
        assert overlapping(scene) == [], scene.title
        assert off_the_sheet(scene) == [], scene.title
        assert drawn_off_the_sheet(scene) == [], scene.title
        assert too_small(scene) == []


@pytest.mark.parametrize("seed", range(6))
def test_crowded_rolls_and_ragged_rooms_stay_legible(seed: int) -> None:
    for plan in (plans.crowded(seed), plans.ragged(seed)):
        for scene in _sheets(plan):
            assert overlapping(scene) == [] and off_the_sheet(scene) == [] and drawn_off_the_sheet(scene) == []
        said = " ".join(label.text for scene in roll_sheets(plan) for label in scene.labels)
        for cut in plan.materials[0].cuts:
            assert size_text(cut.rects[0].width_nm, cut.rects[0].length_nm, plan.job.unit) in said


def test_an_overlap_would_be_noticed() -> None:
    scene = roll_sheets(PLANS["clinic"])[0]
    label = scene.labels[3]
    moved = replace(label, at=(label.at[0] + 0.5, label.at[1] + 0.5))
    assert overlapping(replace(scene, groups=(*scene.groups, Group(role="label", items=(moved,)))))
    gone = replace(label, at=(scene.page.width_mm, 5.0))
    assert off_the_sheet(replace(scene, groups=(Group(role="label", items=(gone,)),))) == [label.text]


@pytest.mark.parametrize("name", PLANS)
def test_every_piece_is_said_in_full_on_the_roll_maps(name: str) -> None:
    plan = PLANS[name]
    texts = [label.text for scene in roll_sheets(plan) for label in scene.labels if label.piece]
    for part in plan.materials:
        for cut in part.cuts:
            own = [label.text for scene in roll_sheets(plan) for label in scene.labels if label.piece == cut.id]
            whole = " ".join(own)
            assert re.search(rf"(^|\s){cut.number}(\s|$)", whole), whole
            assert "×" in whole, whole
    assert texts


@pytest.mark.parametrize("name", PLANS)
def test_room_plans_carry_the_numbers_of_the_roll_maps(name: str) -> None:
    plan = PLANS[name]
    for room, scene in zip(plan.job.rooms, room_sheets(plan), strict=True):
        cuts = [c for part in plan.materials for c in part.cuts if c.owner == room.id]
        for cut in cuts:
            own = [label.text for label in scene.labels if label.piece == cut.id]
            shown = own or [label.text for label in scene.labels if label.text.startswith(f"{cut.number} ·")]
            assert any(text.split()[0] == str(cut.number) for text in shown), (room.id, cut.number)


@pytest.mark.parametrize("name", PLANS)
def test_svg_is_sound_and_sized_in_millimetres(name: str) -> None:
    for stem, text in drawings(PLANS[name]).items():
        root = ET.fromstring(text)
        width, height = (float(root.attrib[side].removesuffix("mm")) for side in ("width", "height"))
        assert root.attrib["viewBox"] == f"0 0 {width:g} {height:g}"
        assert {width, height} == {279.0, 210.0}
        assert root.find(f"{SVG}title") is not None and root.find(f"{SVG}desc") is not None
        ids = [node.attrib["id"] for node in root.iter() if "id" in node.attrib]
        assert len(ids) == len(set(ids)), stem
        known = set(re.findall(r"url\(#([^)]+)\)", text))
        assert known <= set(ids)


def test_the_sheet_fits_both_papers() -> None:
    for paper in (A4, LETTER):
        assert EITHER.width_mm <= paper.width_mm and EITHER.height_mm <= paper.height_mm


def test_pieces_can_be_found() -> None:
    root = ET.fromstring(roll_map(PLANS["clinic"], "lino-roll-1"))
    piece = next(node for node in root.iter(f"{SVG}g") if node.attrib.get("id") == "piece-3")
    assert piece.attrib["class"] == "piece drop"
    assert piece.attrib["data-piece"] == "treatment-2"
    title = piece.find(f"{SVG}title")
    assert title is not None and title.text == "Cut 3, Treatment 2: 1920 × 3850 mm on roll lino-roll-1"


@pytest.mark.parametrize("name", PLANS)
def test_every_piece_is_named_by_its_cut_on_both_maps(name: str) -> None:
    """A page finds a piece by its cut on the roll map and on the room plan, and a title reads it out."""
    plan = PLANS[name]
    svgs = drawings(plan)
    rolls = [ET.fromstring(text) for stem, text in svgs.items() if stem.startswith("roll-")]
    rooms = [ET.fromstring(text) for stem, text in svgs.items() if stem.startswith("room-")]
    for part in plan.materials:
        for cut in part.cuts:
            for roots in (rolls, rooms) if cut.kind is CutKind.DROP else (rolls,):
                found = [node for root in roots for node in root.iter(f"{SVG}g") if _piece_of(node) == cut.id]
                pieces = [node for node in found if node.attrib["class"].startswith("piece ")]
                (said,) = {node.findtext(f"{SVG}title", "") for node in pieces}
                assert re.match(rf"Cut {cut.number}, .*: .+ × .+ on (roll|remnant) .+", said), said


def _piece_of(node: ET.Element) -> str:
    return node.attrib.get("data-piece", "")


def test_same_plan_same_bytes_in_another_process(tmp_path: Path) -> None:
    code = (
        "import hashlib; from nesting.drawing import drawings; from tests.drawing import plans\n"
        "text = ''.join(k + v for n in ('guest-house', 'studio') for k, v in drawings(plans.ALL[n]()).items())\n"
        "open(r'{}', 'w').write(hashlib.sha256(text.encode()).hexdigest())"
    )
    sums = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        root = Path(__file__).parents[2]
        env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root)}
        subprocess.run([sys.executable, "-c", code.format(out)], check=True, env=env, cwd=root)
        sums.append(out.read_text())
    assert sums[0] == sums[1]


def test_drawings_name_every_source_and_room() -> None:
    assert list(drawings(PLANS["clinic"])) == [
        "roll-lino-roll-1", "roll-R12", "roll-R3", "room-treatment", "room-corridor", "room-store",
    ]  # fmt: skip
    strange = list(drawings(PLANS["strange-names"]))
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+", stem) for stem in strange)
    assert len({stem.lower() for stem in strange}) == 5


def test_unknown_names_are_refused() -> None:
    with pytest.raises(KeyError, match="nowhere"):
        roll_map(PLANS["clinic"], "nowhere")
    with pytest.raises(KeyError, match="nowhere"):
        room_plan(PLANS["clinic"], "nowhere")


def test_strange_names_stay_text() -> None:
    texts = [node.text or "" for text in drawings(PLANS["strange-names"]).values()
             for node in ET.fromstring(text).iter(f"{SVG}text")]  # fmt: skip
    everything = "\n".join(texts)
    for part in ('<b>Küche & "Co"</b>', "חדר אוכל גדול", "🟦", 'Job "5 < 6" & more', "Läufer <blau>", "a b c"):
        assert part in everything
    assert "\u202e" not in everything and "\x00" not in everything
    assert any("…" in text for text in texts)  # a long name is shortened


def test_against_the_rules_is_said_on_every_sheet() -> None:
    for scene in _sheets(PLANS["strange-names"]):
        texts = [label.text for label in scene.labels]
        assert any(text.startswith("NOT BY THE RULES") for text in texts)
        assert any("20 mm narrower" in text for text in texts)
        assert not any("to order" in text for text in texts)
    for scene in _sheets(PLANS["clinic"]):
        assert not any("RULES" in label.text for label in scene.labels)


def test_only_the_jobs_own_unit_stands_on_the_sheets() -> None:
    for scene in _sheets(PLANS["school"]):
        assert not any(re.search(r"\d ?(mm|cm|m)\b", label.text) for label in scene.labels)
    for name in ("clinic", "guest-house", "studio"):
        assert PLANS[name].job.unit is not Unit.FOOT
        for scene in _sheets(PLANS[name]):
            assert not any(re.search(r"\d'|\d\"|\bft\b", label.text) for label in scene.labels)


def test_legend_names_only_what_is_there() -> None:
    texts = {scene.title: [label.text for label in scene.labels] for scene in _sheets(PLANS["clinic"])}
    assert "flaw" in texts["Roll map, R12"] and "flaw" not in texts["Roll map, lino-roll-1"]
    assert "cross seam" in texts["Seam plan, Corridor"] and "cross seam" not in texts["Seam plan, Store"]


def test_several_sheets_are_numbered() -> None:
    plan = PLANS["long-roll"]
    source = replace(plan.materials[0].sources[0], width_nm=9_000_000_000)
    part = replace(plan.materials[0], sources=(source, plan.materials[0].sources[1]))
    wide = replace(plan, materials=(part,))
    sheets = roll_maps(wide, "carpet-roll-1")
    assert len(sheets) > 1
    assert all(f"sheet {k} of {len(sheets)}" in text for k, text in enumerate(sheets, start=1))
    assert [stem for stem in drawings(wide) if stem.startswith("roll-carpet")] == [
        f"roll-carpet-roll-1-{k}" for k in range(1, len(sheets) + 1)
    ]
    assert roll_map(wide, "carpet-roll-1", sheet=2) == sheets[1]


def test_the_back_can_be_drawn() -> None:
    face = roll_map(PLANS["corner"], "vinyl-roll-1")
    back = roll_map(PLANS["corner"], "vinyl-roll-1", mirrored=True)
    assert "FACE UP" in face and "MIRRORED" not in face
    assert "MIRRORED" in back and "FACE UP" not in back


def test_a_plain_scene_is_its_own_text() -> None:
    scene = Scene(page=EITHER, title="t & t", description="d", groups=())
    assert to_svg(scene) == to_svg(scene)
    assert "t &amp; t" in to_svg(scene)
