"""The examples: what stands in their folders is what comes out, and they show what they are there to show."""

from __future__ import annotations

import json
import re
import shlex
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from cli.main import main
from nesting.checker import check_plan
from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.job import HoleKind, Unit
from nesting.domain.plan import MaterialPlan, Plan
from nesting.files.plan_file import load_plan

ROOT = Path(__file__).parents[1]
NAMES = ("clinic", "guest-house", "nursery-school", "second-delivery")
RESULTS = (*((name, "out") for name in NAMES), ("second-delivery", "again"))
"""Every folder of results, by its example."""
MADE_WITH = {
    "out": ("job.yaml", re.compile(r"^# Made with: rollwright (plan (\S+)/job\.yaml --out \2/out.*)$", re.M)),
    "again": (
        "state.yaml",
        re.compile(r"^# Made with: rollwright (plan-again (\S+)/out/\S+ .*--out \2/again.*)$", re.M),
    ),
}
"""Which file says how a folder of results was made, and how it says it."""
MOST_BYTES = 700_000


def _stored(name: str, folder: str = "out") -> Path:
    return ROOT / "examples" / name / folder


@cache
def _plan(name: str, folder: str = "out") -> Plan:
    return load_plan(_stored(name, folder) / "plan.json")


def _command(name: str, folder: str) -> list[str]:
    """Return the arguments that the job or state file says it was planned with."""
    file, made_with = MADE_WITH[folder]
    (found,) = made_with.findall((ROOT / "examples" / name / file).read_text(encoding="utf-8"))
    assert found[1] == f"examples/{name}"
    return shlex.split(found[0])


def _files(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir() if path.suffix}


def test_every_example_is_known_here() -> None:
    assert tuple(sorted(path.name for path in (ROOT / "examples").iterdir() if path.is_dir())) == NAMES


@pytest.mark.parametrize(("name", "folder"), RESULTS)
def test_what_is_stored_is_what_comes_out(
    name: str, folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the packages that the stored files were made with, byte for byte; with others as good and as sound."""
    monkeypatch.chdir(ROOT)
    arguments = _command(name, folder)
    arguments[arguments.index("--out") + 1] = str(tmp_path / "out")
    done = CliRunner().invoke(main, [*arguments, "--quiet"])
    assert done.exit_code == 0, done.output
    made, stored = load_plan(tmp_path / "out" / "plan.json"), _plan(name, folder)
    if made.versions == stored.versions:
        assert _files(tmp_path / "out") == _files(_stored(name, folder))
    for new, old in zip(made.materials, stored.materials, strict=True):
        if any(bound.proved for bound in old.bounds[:1]) and any(bound.proved for bound in new.bounds[:1]):
            assert new.bounds[0].attained == old.bounds[0].attained


@pytest.mark.parametrize(("name", "folder"), RESULTS)
def test_what_is_stored_is_sound_complete_and_modest(name: str, folder: str) -> None:
    plan = _plan(name, folder)
    assert not check_plan(plan) and plan.by_the_rules
    files = _files(_stored(name, folder))
    assert {"plan.json", "cut-list.csv", "remnants.csv", "order.csv"} < set(files)
    assert len([file for file in files if file.startswith("room-")]) == len(plan.job.rooms)
    assert sum(len(text) for text in files.values()) < MOST_BYTES
    places = sum(len(item.placements) for item in plan.materials)
    assert len(files["cut-list.csv"].splitlines()) == 1 + places


@pytest.mark.parametrize("name", NAMES)
def test_drawing_and_checking_the_stored_plan_again(name: str, tmp_path: Path) -> None:
    file = str(_stored(name) / "plan.json")
    assert CliRunner().invoke(main, ["check", file]).stdout == "sound\n"
    assert CliRunner().invoke(main, ["draw", file, "--out", str(tmp_path), "--quiet"]).exit_code == 0
    drawn = {file: text for file, text in _files(_stored(name)).items() if file.endswith((".svg", ".dxf"))}
    assert _files(tmp_path) == drawn


# --- what the examples are there to show -----------------------------------------------------------------------------


def _corner_pieces(item: MaterialPlan) -> list[tuple[str, str]]:
    """Return (cut, other) where a cut lies inside the bounding rectangle of another one: in its missing corner."""
    cuts = {cut.id: cut for cut in item.cuts}
    boxes: dict[str, tuple[str, Rect]] = {}
    for spot in item.placements:
        box = bounding_rect(cuts[spot.cut_id].rects)
        across, along = (box.length_nm, box.width_nm) if spot.turn % 2 else (box.width_nm, box.length_nm)
        boxes[spot.cut_id] = spot.source_id, Rect(spot.x_nm, spot.y_nm, spot.x_nm + across, spot.y_nm + along)
    return [
        (small, large)
        for small, (source, inner) in boxes.items()
        for large, (other, outer) in boxes.items()
        if small != large
        and source == other
        and len(cuts[large].rects) > 1
        and min(inner.x1_nm, outer.x1_nm) > max(inner.x0_nm, outer.x0_nm)
        and min(inner.y1_nm, outer.y1_nm) > max(inner.y0_nm, outer.y0_nm)
    ]


def test_a_least_plan_puts_a_piece_into_the_corner_of_an_l() -> None:
    """The linen store is cut from the lobby's corner, and no plan by the rules orders less."""
    plan = _plan("clinic")
    (item,) = [item for item in plan.materials if item.material_id == "linoleum-sand"]
    owners = {cut.id: cut.owner for cut in item.cuts}
    assert [(owners[small], owners[large]) for small, large in _corner_pieces(item)] == [("linen-store", "lobby")]
    assert item.bounds[0].proved


def test_the_clinic_has_a_column_a_cove_lots_and_remnants() -> None:
    plan = _plan("clinic")
    assert plan.job.unit is Unit.M
    columns = [hole for room in plan.job.rooms for hole in room.holes if hole.kind is HoleKind.COLUMN]
    assert columns
    assert any(edge.cove_nm for room in plan.job.rooms for edge in room.edges)
    lots = {piece.lot for piece in plan.job.stock}
    assert len(lots) == 2
    assert {source.stock_id for item in plan.materials for source in item.sources} & {"R-07", "R-11"}
    assert all(material.pattern is None for material in plan.job.materials)


def test_the_nursery_school_is_in_feet_with_a_straight_match() -> None:
    plan = _plan("nursery-school")
    assert plan.job.unit is Unit.FOOT
    (material,) = plan.job.materials
    assert material.pattern is not None and material.pattern.across_nm and material.pattern.drop_nm == 0
    assert len([room for room in plan.job.rooms if len(room.outline) >= 6 and not room.holes]) >= 2
    assert any(room.keep_outs for room in plan.job.rooms) and any(room.doors for room in plan.job.rooms)


def test_the_guest_house_has_two_widths_a_half_drop_and_a_pattern_through_a_door() -> None:
    plan = _plan("guest-house")
    (material,), (item,) = plan.job.materials, plan.materials
    assert material.pattern is not None and 2 * material.pattern.drop_nm == material.pattern.along_nm
    assert {width for width, length in item.measures.ordered_nm if length} == set(material.widths_nm)
    assert plan.job.matches == (("lounge", "dining-room"),)
    (group,) = [group for group in item.phase_groups if "lounge" in group.room_ids]
    assert set(group.room_ids) == {"lounge", "dining-room"}
    assert item.measures.seams >= 1
    assert _corner_pieces(item)


def test_after_the_second_delivery_what_was_cut_stays_and_what_is_there_is_used_first() -> None:
    """Two drops are laid, one was spoiled, one is of a room that was measured again; the roll came short."""
    before, after = (_plan("second-delivery", folder).materials[0] for folder in ("out", "again"))
    made = {item.cut.id: item for item in _plan("second-delivery", "again").job.done}
    assert sorted(item.cut.state for item in made.values()) == ["cut", "cut", "laid", "laid"]
    places = {place.cut_id: place for place in before.placements}
    assert all(place == places[place.cut_id] for place in after.placements if place.cut_id in made)
    (roll,), (came,) = before.sources, [source for source in after.sources if source.id == "order-1"]
    assert came.length_nm < roll.length_nm and came.gone
    cut_from = {place.cut_id: place.source_id for place in after.placements}
    assert cut_from["linen-room-1"] not in {line.source_id for line in after.order}  # goods in hand come first
    (left,) = (piece for piece in _plan("second-delivery", "again").job.stock if piece.id == "cut-2")
    assert left.lot == came.lot and left.phase_nm is not None  # what is left of the spoiled drop
    assert {line.lot for line in after.order} == {came.lot}
    steps = _files(_stored("second-delivery", "again"))["what-now.txt"].splitlines()
    assert steps[0].startswith("1. order ") and any(" re-cut Linen room 1 " in step for step in steps)


def test_a_stored_file_that_differs_is_seen(tmp_path: Path) -> None:
    files: dict[str, Any] = _files(_stored("clinic"))
    spoiled = json.loads(files["plan.json"])
    spoiled["materials"][0]["placements"][0]["x_nm"] = -1  # off the left edge of its roll
    (tmp_path / "plan.json").write_text(json.dumps(spoiled))
    assert check_plan(load_plan(tmp_path / "plan.json"))
    assert _files(tmp_path)["plan.json"] != files["plan.json"]
