"""Cut maps as DXF: what another library reads in them, what the knife does, the same bytes every time."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pyogrio.raw
import pytest
import shapely
from ezdxf import recover
from ezdxf.lldxf.encoding import decode_dxf_unicode
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.job import Unit
from nesting.domain.plan import CutSource, Plan, SourceKind
from nesting.drawing.drawings import drawings
from nesting.files.dxf_maps import LAYERS, cut_map_dxf, knife_lines
from nesting.files.dxf_text import dxf_text
from nesting.floor.rings import sides, union_rings
from tests.files.small_plan import MM, small_plan

INCH = 25.4


def features(text: str, tmp_path: Path) -> Iterator[tuple[str, Any, str]]:
    """Yield (layer, shape, text) as another library reads them."""
    path = tmp_path / "map.dxf"
    path.write_text(text, encoding="ascii")
    meta, _, shapes, fields = pyogrio.raw.read(str(path), force_2d=True)
    columns = dict(zip(meta["fields"], fields, strict=True))
    yield from zip(columns["Layer"], shapely.from_wkb(shapes), columns["Text"], strict=True)


def of_layer(text: str, tmp_path: Path, layer: str) -> list[Any]:
    return [shape for name, shape, _ in features(text, tmp_path) if name == layer]


def with_cuts(plan: Plan, **changes: Any) -> Plan:
    part = plan.materials[0]
    return replace(plan, materials=(replace(part, cuts=tuple(replace(cut, **changes) for cut in part.cuts)),))


def test_there_is_a_file_for_every_roll_and_remnant() -> None:
    assert list(cut_map_dxf(small_plan())) == ["roll-carpet-roll-1", "roll-R-7"]
    part = small_plan().materials[0]
    odd = replace(
        part, sources=tuple(replace(s, id=f"R/{n}: \u00e9") for n, s in enumerate(part.sources)), placements=()
    )
    assert list(cut_map_dxf(replace(small_plan(), materials=(odd, odd)))) == [
        "roll-R-0", "roll-R-1", "roll-R-0-2", "roll-R-1-2",
    ]  # fmt: skip


def test_another_library_reads_every_outline_as_it_was_planned(tmp_path: Path) -> None:
    plan = small_plan()
    roll, remnant = cut_map_dxf(plan).values()
    left, right = (shapely.Polygon(line.coords) for line in of_layer(roll, tmp_path, "CUTS"))
    assert left.bounds == (0, 50, 1600, 2650)
    assert right.area == pytest.approx(1500 * 2050 + 950 * 550)
    assert right.bounds == pytest.approx((0, 2823.333333, 1500, 5423.333333), abs=1e-6)
    (whole,) = of_layer(roll, tmp_path, "OUTLINE")
    (start,) = of_layer(roll, tmp_path, "START")
    assert whole.bounds == (0, 0, 2000, 5500) and start.bounds == (0, 0, 2000, 50)
    (mat,) = of_layer(remnant, tmp_path, "CUTS")  # turned a quarter
    (kept,) = of_layer(remnant, tmp_path, "OFFCUTS")
    assert mat.bounds == (100, 0, 1000, 400) and kept.bounds == (0, 400, 1200, 1400)
    texts = [text for layer, _, text in features(roll, tmp_path) if layer == "LABELS"]
    assert texts == ["1", "Den 1", "1.600 m x 2.600 m", "2", "Den 2", "1.500 m x 2.600 m"]


def test_the_library_finds_nothing_wrong_and_all_layers() -> None:
    for text in cut_map_dxf(small_plan()).values():
        document = ezdxf.read(io.StringIO(text))
        assert not document.audit().errors and not document.audit().fixes
        assert document.dxfversion == "AC1015" and document.header["$INSUNITS"] == 4
        assert set(LAYERS) <= {layer.dxf.name for layer in document.layers}
        assert tuple(document.header["$EXTMAX"])[1] in (5500, 1400) and document.header["$EXTMIN"] == (0, 0, 0)


def test_jobs_in_inches_are_drawn_in_inches(tmp_path: Path) -> None:
    plan = small_plan()
    text = cut_map_dxf(replace(plan, job=replace(plan.job, unit=Unit.FOOT)))["roll-R-7"]
    assert ezdxf.read(io.StringIO(text)).header["$INSUNITS"] == 1
    (mat,) = of_layer(text, tmp_path, "CUTS")
    assert mat.bounds == pytest.approx((100 / INCH, 0, 1000 / INCH, 400 / INCH))


def test_seen_from_the_back_left_is_right_and_every_label_says_so(tmp_path: Path) -> None:
    text = cut_map_dxf(small_plan(), mirrored=True)["roll-R-7"]
    (mat,) = of_layer(text, tmp_path, "CUTS")
    assert mat.bounds == (200, 0, 1100, 400)
    words = [word for layer, _, word in features(text, tmp_path) if layer == "LABELS"]
    assert words.count("seen from the back") == 1
    front = cut_map_dxf(small_plan())["roll-R-7"]
    assert "seen from the back" not in front


def test_labels_lie_inside_their_cuts(tmp_path: Path) -> None:
    for text in cut_map_dxf(small_plan()).values():
        cuts = [shapely.Polygon(line.coords) for line in of_layer(text, tmp_path, "CUTS")]
        spots = of_layer(text, tmp_path, "LABELS")
        assert len(spots) == 3 * len(cuts)
        for spot in spots:
            assert any(cut.contains(spot) for cut in cuts)


def test_the_files_are_called_as_the_drawings_of_the_rolls_are() -> None:
    assert set(cut_map_dxf(small_plan())) <= set(drawings(small_plan()))


# --- the knife --------------------------------------------------------------------------------------------------------


def source(width: int, length: int) -> CutSource:
    return CutSource(id="s", kind=SourceKind.ROLL, width_nm=width, length_nm=length, lot="")


def test_neighbours_share_one_cut_and_edges_are_not_cut() -> None:
    pieces = [Rect(0, 0, 6, 5), Rect(6, 0, 10, 5), Rect(0, 5, 10, 9)]
    lines = knife_lines(source(10, 12), [union_rings((piece,)) for piece in pieces], [Rect(0, 9, 10, 12)])
    assert lines == (((0, 5), (10, 5)), ((0, 9), (10, 9)), ((6, 0), (6, 5)))


@given(st.lists(st.tuples(*[st.integers(0, 8)] * 4), min_size=1, max_size=8))
def test_every_side_is_cut_once_and_nothing_else(boxes: list[tuple[int, int, int, int]]) -> None:
    rects = [Rect(x, y, x + w + 1, y + h + 1) for x, y, w, h in boxes]
    rings = [union_rings((rect,)) for rect in rects]
    lines = knife_lines(source(20, 20), rings, [])
    wanted = {
        (axis, a[1 - axis], step)
        for piece in rings for a, b in sides(piece) for axis in (0, 1)
        if a[1 - axis] == b[1 - axis] and a[1 - axis] not in (0, 20)
        for step in range(min(a[axis], b[axis]), max(a[axis], b[axis]))
    }  # fmt: skip
    cut = [
        (axis, a[1 - axis], step)
        for a, b in lines for axis in (0, 1) if a[1 - axis] == b[1 - axis]
        for step in range(a[axis], b[axis])
    ]  # fmt: skip
    assert len(cut) == len(set(cut)) and set(cut) == wanted


def test_what_is_cut_already_is_not_cut_again(tmp_path: Path) -> None:
    text = cut_map_dxf(with_cuts(small_plan(), state="cut"))["roll-carpet-roll-1"]
    assert not of_layer(text, tmp_path, "KNIFE") and not of_layer(text, tmp_path, "CUTS")
    assert len(of_layer(text, tmp_path, "DONE")) == 2


def test_holes_flaws_and_what_is_gone_are_drawn(tmp_path: Path) -> None:
    plan = small_plan()
    part = plan.materials[0]
    frame = (Rect(0, 0, 9, 3), Rect(0, 3, 3, 6), Rect(6, 3, 9, 6), Rect(0, 6, 9, 9))
    rects = tuple(Rect(*(value * 100 * MM for value in rect)) for rect in frame)
    cuts = tuple(replace(cut, rects=rects) if cut.id == "mat-1" else cut for cut in part.cuts)
    sources = tuple(
        replace(s, flaws=(Rect(0, 0, MM, MM),), gone=(Rect(MM, 0, 2 * MM, MM),)) if s.id == "R-7" else s
        for s in part.sources
    )
    text = cut_map_dxf(replace(plan, materials=(replace(part, cuts=cuts, sources=sources),)))["roll-R-7"]
    outer, hole = sorted(of_layer(text, tmp_path, "CUTS"), key=lambda line: -line.length)
    assert hole.length == 1200 and shapely.Polygon(outer.coords).contains(hole)
    assert len(of_layer(text, tmp_path, "FLAWS")) == len(of_layer(text, tmp_path, "DONE")) == 1


# --- text, bytes ------------------------------------------------------------------------------------------------------

NAMES = [
    "50%% off", "%%%", "%%d%%u", "a^Jb ^ c", "C:\\P {x}", "\\U+0041", "\u05de\u05d8\u05d1\u05d7",
    "line\nbreak\ttab", "K\u00fcche \u20ac", "\u65e5\u672c", "0\n  0\nEOF", " x ",
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_names_come_through_whatever_they_hold(tmp_path: Path, name: str) -> None:
    text = cut_map_dxf(with_cuts(small_plan(), label=name))["roll-R-7"]
    assert text.isascii()
    plain = "".join(sign if sign.isprintable() else " " for sign in name)
    document, auditor = recover.read(io.BytesIO(text.encode()))
    assert not auditor.errors
    words = [entity.plain_text() for entity in document.modelspace().query("TEXT")]
    assert plain in words
    if "%%" not in plain:  # the other library leaves %%% and \U+xxxx as they are
        read = [decode_dxf_unicode(text) for layer, _, text in features(text, tmp_path) if layer == "LABELS"]
        assert plain.strip() in [other.strip() for other in read]


@given(st.text(max_size=500))
def test_any_text_is_one_line_of_ascii_under_the_formats_limit(text: str) -> None:
    made = dxf_text(text)
    assert made.isascii() and made.isprintable() and len(made) < 2049


def digests() -> list[str]:
    return [hashlib.sha256(text.encode()).hexdigest() for text in cut_map_dxf(small_plan()).values()]


def test_the_same_plan_gives_the_same_bytes_in_any_process() -> None:
    code = "from tests.files.test_dxf_maps import digests; print(*digests())"
    root = Path(__file__).parents[2]
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=root, env=env, capture_output=True, text=True, check=True
        )
        assert done.stdout.split() == digests()


def test_no_file_says_when_it_was_written_or_by_which_version() -> None:
    for text in cut_map_dxf(small_plan()).values():
        header = ezdxf.read(io.StringIO(text)).header
        assert {header[name] for name in ("$TDUCREATE", "$TDUPDATE", "$TDUUPDATE")} == {2451544.5}
        assert f"{ezdxf.__version__} @" not in text


def test_the_map_is_as_kept(golden: Callable[[str, str], None]) -> None:
    text = cut_map_dxf(small_plan())["roll-R-7"]
    entities = text[text.index("ENTITIES\n") :]
    golden("files/roll-R-7-entities.dxf.txt", entities[: entities.index("ENDSEC\n")])
