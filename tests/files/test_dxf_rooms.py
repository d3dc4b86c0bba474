"""Rooms from drawings: written by a tiny writer of our own, by the library, and by another library."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Point
from nesting.domain.job import HoleKind
from nesting.errors import JobError
from nesting.files.dxf_rooms import ARC_NM, read_dxf_rooms
from nesting.files.dxf_text import dxf_text
from nesting.files.job_file import parse_job
from nesting.files.outline import twice_area
from nesting.files.rooms_job import ReadRooms, job_of_rooms
from tests.files.r12 import block, drawing, insert, line, polyline, tags, text
from tests.strategies import MM, skylines

SQUARE = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2500.0), (0.0, 2500.0)]
INCH = 25_400_000


def moved(corners: list[tuple[float, float]], x: float, y: float) -> list[tuple[float, float]]:
    return [(a + x, b + y) for a, b in corners]


def square(x: float, y: float, size: float) -> list[tuple[float, float]]:
    return [(x, y), (x + size, y), (x + size, y + size), (x, y + size)]


def write(folder: Path, content: str | bytes, name: str = "plan.dxf") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode("cp1252"))
    return path


def read(folder: Path, *entities: str, told: str = "", layers: tuple[str, ...] = (), **more: Any) -> ReadRooms:
    return read_dxf_rooms(write(folder, drawing(entities, **more)), told, layers)


def refused(folder: Path, *entities: str, **more: Any) -> JobError:
    with pytest.raises(JobError) as caught:
        read(folder, *entities, **more)
    assert "Traceback" not in str(caught.value)
    return caught.value


def said(found: ReadRooms) -> str:
    return "\n".join(notice.text for notice in found.notices)


def rolled(outline: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return an outline from the lower left of its box, beginning with its lowest, then leftmost corner."""
    left, low = min(x for x, _ in outline), min(y for _, y in outline)
    first = min(range(len(outline)), key=lambda i: (outline[i][1], outline[i][0]))
    return tuple((x - left, y - low) for x, y in outline[first:] + outline[:first])


# --- rooms, names, cut-outs -------------------------------------------------------------------------------------------


def test_a_room_with_its_name(tmp_path: Path) -> None:
    found = read(tmp_path, polyline(SQUARE), text("Kitchen", (100, 100)))
    (room,) = found.rooms
    assert (room.name, room.outline) == ("Kitchen", rolled(tuple((int(x) * MM, int(y) * MM) for x, y in SQUARE)))
    assert found.unit == "mm" and found.notices == ()
    job = parse_job(job_of_rooms(found, "plan")).job
    assert job.rooms[0].outline == room.outline and job.unit == "mm"


def test_rooms_without_text_are_numbered_and_equal_names_too(tmp_path: Path) -> None:
    entities = [polyline(moved(SQUARE, 4000 * n, 0)) for n in range(4)]
    entities += [text("Bath", (100, 100)), text("Bath", (8100, 100))]
    found = read(tmp_path, *entities)
    assert [room.name for room in found.rooms] == ["Bath", "Room 2", "Bath 2", "Room 4"]
    assert "there is a 'Bath' already" in said(found)


def test_of_several_texts_the_largest_then_the_uppermost_names_the_room(tmp_path: Path) -> None:
    texts = [text("12 m2", (100, 900), 50), text("low", (100, 100)), text("high", (100, 500)), text("x", (9000, 0))]
    found = read(tmp_path, polyline(SQUARE), *texts)
    assert found.rooms[0].name == "high"
    for word in ("'low'", "'12 m2'", "'x', in no room"):
        assert word in said(found)


def test_outlines_inside_a_room_are_cut_out_and_one_inside_these_is_a_room(tmp_path: Path) -> None:
    big = [(0.0, 0.0), (9000.0, 0.0), (9000.0, 9000.0), (0.0, 9000.0)]
    found = read(
        tmp_path,
        polyline(big), text("Hall", (10, 10)),
        polyline(square(1000, 1000, 400)),
        polyline(square(2000, 1000, 400)[::-1]), text("Cook's island", (2100, 1100)),
        polyline(square(4000, 4000, 3000)), text("Fixture", (4010, 4010)),
        polyline(square(4500, 4500, 2000)), text("Booth", (4600, 4600)),
    )  # fmt: skip
    hall, booth = found.rooms
    assert (hall.name, booth.name) == ("Hall", "Booth")
    kinds = [(cut_out.name, cut_out.kind) for cut_out in hall.cut_outs]
    assert kinds == [("Column 1", HoleKind.COLUMN), ("Cook's island", HoleKind.ISLAND), ("Fixture", HoleKind.FIXTURE)]
    assert "is cut out of it" in said(found)
    job = parse_job(job_of_rooms(found, "plan")).job
    assert [len(room.holes) for room in job.rooms] == [3, 0]
    assert job.rooms[0].holes[0].outline == tuple((int(x) * MM, int(y) * MM) for x, y in square(1000, 1000, 400))


def test_a_column_at_a_wall_comes_out_of_the_floor(tmp_path: Path) -> None:
    found = read(tmp_path, polyline(SQUARE), polyline(square(1000, 0, 300)))
    (room,) = parse_job(job_of_rooms(found, "plan")).job.rooms
    assert not room.holes and len(room.outline) == 8
    assert twice_area(room.outline) == 2 * (3000 * 2500 - 300 * 300) * MM * MM


def test_rooms_that_share_a_wall_line_drawn_by_hand_are_two_rooms(tmp_path: Path) -> None:
    found = read(tmp_path, polyline(SQUARE), polyline(moved(SQUARE, 2999.2, 700)))
    assert len(found.rooms) == 2 and not any(room.cut_outs for room in found.rooms)


@pytest.mark.parametrize("off", [0, 0.4])
def test_an_outline_drawn_twice_is_one_room(tmp_path: Path, off: float) -> None:
    found = read(tmp_path, polyline(SQUARE), polyline(moved(SQUARE[2:] + SQUARE[:2], off, off), "OTHER"))
    assert len(found.rooms) == 1 and "drawn twice" in said(found)


def test_a_wall_that_is_nearly_straight_is_said(tmp_path: Path) -> None:
    assert "leaves it by 4 mm" in said(read(tmp_path, polyline([(0, 0), (3000, 4), (3000, 2000), (0, 2000)])))
    assert read(tmp_path, polyline([(0, 0), (3000, 400), (3000, 2000), (0, 2000)])).notices == ()


# --- exact lengths ----------------------------------------------------------------------------------------------------


@given(skylines(step_nm=1 * MM), st.integers(-(10**7), 10**7), st.sampled_from([4, 5, 6]), st.booleans(), st.data())
def test_what_is_drawn_in_metres_is_what_the_job_says(
    tmp_path_factory: pytest.TempPathFactory, outline: tuple[Point, ...], off: int, unit: int, back: bool, data: Any
) -> None:
    per = {4: MM, 5: 10 * MM, 6: 1000 * MM}[unit]
    start = data.draw(st.integers(0, len(outline) - 1))
    corners = [(x / per + off / 1000, y / per - off / 700) for x, y in outline[start:] + outline[:start]]
    found = read(tmp_path_factory.mktemp("d"), polyline(corners[::-1] if back else corners), unit=unit)
    job = parse_job(job_of_rooms(found, "plan")).job
    assert rolled(job.rooms[0].outline) == rolled(outline)


@given(skylines(step_nm=INCH // 64), st.integers(-(10**6), 10**6), st.sampled_from([1, 2]))
def test_what_is_drawn_in_inches_keeps_its_sixty_fourths(
    tmp_path_factory: pytest.TempPathFactory, outline: tuple[Point, ...], off: int, unit: int
) -> None:
    per = INCH * (1 if unit == 1 else 12)
    corners = [(x / per + off / 9, y / per) for x, y in outline]
    found = read(tmp_path_factory.mktemp("d"), polyline(corners), unit=unit)
    job = parse_job(job_of_rooms(found, "plan")).job
    assert job.unit == {1: "in", 2: "ft"}[unit]
    assert rolled(job.rooms[0].outline) == rolled(outline)


def test_noise_vanishes_and_metric_measures_in_inches_stay(tmp_path: Path) -> None:
    noisy = [(x / 25.4 + 1e-9 * n, y / 25.4 - 1e-9 * n) for n, (x, y) in enumerate(SQUARE)]
    (room,) = read(tmp_path, polyline(noisy), unit=1).rooms
    assert room.outline == tuple((int(x) * MM, int(y) * MM) for x, y in SQUARE)


@pytest.mark.parametrize(("bulge", "corners"), [(1.0, 4), (-0.3, 4), (0.05, 4)])
def test_arcs_become_chords_within_their_tolerance(tmp_path: Path, bulge: float, corners: int) -> None:
    sides = [(0.0, 0.0, 0.0), (6000.0, 0.0, bulge), (6000.0, 3000.0, 0.0), (0.0, 3000.0, 0.0)]
    found = read(tmp_path, polyline(sides))
    assert "arcs became chords within 1 mm" in said(found)
    (room,) = found.rooms
    assert len(room.outline) > corners
    # the area of a segment: (angle − sin angle) r² / 2
    angle, chord = 4 * math.atan(abs(bulge)), 3000.0
    radius = chord / 2 / math.sin(angle / 2)
    segment = math.copysign((angle - math.sin(angle)) * radius**2 / 2, bulge)
    area = twice_area(room.outline) / 2 / MM**2
    assert abs(area - (18_000_000 + segment)) <= angle * radius * ARC_NM / MM


def test_arcs_that_are_none_do_no_harm(tmp_path: Path) -> None:
    flat = [(x, y, bulge) for (x, y), bulge in zip(SQUARE, (1e-300, 1e-9, -1e-7, 0.0), strict=True)]
    assert read(tmp_path, polyline(flat)).rooms[0].outline == read(tmp_path, polyline(SQUARE)).rooms[0].outline
    for bulge in (1e300, 1e7):
        assert "a number that is none" in str(refused(tmp_path, polyline([(0, 0, bulge), (9000, 0), (9000, 9000)])))
    huge = refused(tmp_path, polyline([(0, 0), (1e300, 0), (1e300, 1e300)]))
    assert [fault.code for fault in huge.faults] == ["absurd-size"]


def test_a_circle_of_two_half_arcs_is_a_room(tmp_path: Path) -> None:
    (room,) = read(tmp_path, polyline([(0, 0, 1), (4000, 0, 1)])).rooms
    assert abs(twice_area(room.outline) / 2 / MM**2 - math.pi * 2000**2) < 4000 * math.pi


# --- units ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "size_mm", "unit"),
    [
        (1, 25.4, "in"),
        (2, 304.8, "ft"),
        (4, 1, "mm"),
        (5, 10, "cm"),
        (6, 1000, "m"),
        (10, 914.4, "ft"),
        (14, 100, "cm"),
    ],
)
def test_the_header_says_the_unit(tmp_path: Path, code: int, size_mm: float, unit: str) -> None:
    # $INSUNITS as the published DXF reference lists it
    found = read(tmp_path, polyline([(x / size_mm, y / size_mm) for x, y in SQUARE]), unit=code)
    assert found.unit == unit
    assert found.rooms[0].outline[2] == (3000 * MM, 2500 * MM)


@pytest.mark.parametrize("code", [None, 0, 18, 99])
def test_without_a_unit_one_must_be_told(tmp_path: Path, code: int | None) -> None:
    (fault,) = refused(tmp_path, polyline(SQUARE), unit=code).faults
    assert fault.code == "no-unit" and "3000 x 2500" in fault.hint
    found = read(tmp_path, polyline(SQUARE), unit=code, told="mm")
    assert found.rooms[0].outline[2] == (3000 * MM, 2500 * MM)


def test_a_unit_that_is_told_counts_and_the_difference_is_said(tmp_path: Path) -> None:
    found = read(tmp_path, polyline([(x / 1000, y / 1000) for x, y in SQUARE]), unit=4, told="m")
    assert found.unit == "m" and "says that its numbers are millimetres; read as m" in said(found)


def test_a_wrong_unit_is_seen_by_the_sizes(tmp_path: Path) -> None:
    assert [f.code for f in refused(tmp_path, polyline(SQUARE), unit=6).faults] == ["absurd-size"]
    (fault,) = refused(tmp_path, polyline([(x / 1000, y / 1000) for x, y in SQUARE]), unit=4).faults
    assert fault.code == "no-rooms" and "an outline of only 3 mm x 2.5 mm" in fault.what


# --- what is not read is said -----------------------------------------------------------------------------------------


def test_everything_that_is_passed_over_is_said_with_its_place(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        polyline(SQUARE),
        polyline(SQUARE, "SCRIBBLE", closed=False),
        polyline(square(5000, 0, 40), "SIGNS"),
        line((1, 2), (3, 4), "WALLS"),
        line((5, 6), (7, 8), "WALLS"),
    )
    assert len(found.rooms) == 1
    for words in (
        "polyline that is not closed (layer SCRIBBLE, handle",
        "an outline of only 40 mm x 40 mm (layer SIGNS",
        "2 x LINE (layer WALLS, handle",
        "at 1, 2)",
    ):
        assert words in said(found), words


def test_what_stands_on_sheets_is_not_read_and_said(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline(SQUARE, close=True)
    document.layout("Layout1").add_lwpolyline(moved(SQUARE, 9000, 0), close=True)
    document.saveas(tmp_path / "plan.dxf")
    found = read_dxf_rooms(tmp_path / "plan.dxf")
    assert len(found.rooms) == 1 and "what stands on the sheet Layout1" in said(found)


def test_an_outline_that_ends_where_it_begins_is_closed(tmp_path: Path) -> None:
    (room,) = read(tmp_path, polyline([*SQUARE, (0.0, 1.0)], closed=False)).rooms
    assert len(room.outline) == 4
    assert "closed outline" in refused(tmp_path, polyline([*SQUARE, (0.0, 9.0)], closed=False)).faults[0].what


def test_layers_are_chosen_and_hidden_ones_left_out(tmp_path: Path) -> None:
    entities = (
        polyline(SQUARE, "rooms"), text("Den", (10, 10), layer="names"),
        polyline(moved(SQUARE, 4000, 0), "Furniture"), polyline(moved(SQUARE, 8000, 0), "hidden"),
    )  # fmt: skip
    found = read(tmp_path, *entities, off=["HIDDEN"])
    assert len(found.rooms) == 2 and "off or frozen" in said(found)
    chosen = read(tmp_path, *entities, layers=("ROOMS", "Hidden"), off=["HIDDEN"])
    assert [room.name for room in chosen.rooms] == ["Den", "Room 2"] and "was not chosen" in said(chosen)
    assert refused(tmp_path, *entities, layers=("Rooms 2",)).faults[0].code == "unknown-name"


# --- faults -----------------------------------------------------------------------------------------------------------


def test_crossing_and_overlapping_outlines_are_faults_all_at_once(tmp_path: Path) -> None:
    bow = [(0.0, 9000.0), (3000.0, 12000.0), (3000.0, 9000.0), (0.0, 12000.0)]
    faults = refused(tmp_path, polyline(SQUARE), polyline(moved(SQUARE, 1000, 0)), polyline(bow, "BOW")).faults
    assert {fault.code for fault in faults} == {"outlines-overlap", "self-crossing"}
    crossing = next(fault for fault in faults if fault.code == "self-crossing")
    assert "layer BOW" in crossing.where and "0, 9000" in crossing.what


@pytest.mark.parametrize(
    "content",
    [b"", b"\x00\xff" * 500, b"hello\n" * 50, b"%PDF-1.7\n", b"1\n" * 999, b"AC1015" + b"\0" * 99,
     b"  0\nSECTION\n  2\nENTITIES\n  0\nLWPOLYLINE\n 90\nmany\n  0\nEOF\n",
     b"Any-CAD Binary DXF\r\n\x1a\x00" + b"\x09" * 40],
)  # fmt: skip
def test_what_is_no_drawing_is_refused(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(JobError) as caught:
        read_dxf_rooms(write(tmp_path, content), "mm")
    assert {fault.code for fault in caught.value.faults} <= {"not-dxf", "damaged-dxf", "no-rooms"}


def test_a_damaged_binary_drawing_is_refused(tmp_path: Path) -> None:
    document = ezdxf.new("R2000", units=4)
    document.modelspace().add_lwpolyline(SQUARE, close=True)
    document.saveas(tmp_path / "plan.dxf", fmt="bin")
    whole = (tmp_path / "plan.dxf").read_bytes()
    for end in (30, len(whole) // 3, len(whole) // 2, len(whole) - 2):
        with pytest.raises(JobError):
            read_dxf_rooms(write(tmp_path, whole[:end]))


@given(st.data())
def test_a_damaged_drawing_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, data: Any) -> None:
    whole = drawing([polyline(SQUARE), text("Den", (9, 9))], blocks=[block("B", polyline(SQUARE))]).encode()
    place = data.draw(st.integers(0, len(whole) - 1))
    junk = data.draw(st.sampled_from([b"", b"\n", b"x", b"\xff\xfe", b"1e999", b"nan", b"-1"]))
    broken = whole[:place] + junk + whole[place + data.draw(st.integers(0, 30)) :]
    try:
        found = read_dxf_rooms(write(tmp_path_factory.mktemp("d"), broken), "mm")
    except JobError:
        return
    parse_job(job_of_rooms(found, "plan"))


def test_a_file_that_ends_early_is_refused(tmp_path: Path) -> None:
    whole = drawing([polyline(SQUARE), polyline(moved(SQUARE, 5000, 0))]).encode()
    with pytest.raises(JobError) as caught:
        read_dxf_rooms(write(tmp_path, whole[:-60]))
    assert "ends early" in str(caught.value)


def test_what_was_mended_is_said(tmp_path: Path) -> None:
    found = read(tmp_path, polyline(SQUARE), insert("GONE", (0, 0)))
    assert len(found.rooms) == 1 and "damaged, mended: Deleted entity INSERT" in said(found)


def test_files_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in (tmp_path / "none.dxf", tmp_path):
        with pytest.raises(JobError) as caught:
            read_dxf_rooms(path)
        assert caught.value.faults[0].code == "no-file"
    monkeypatch.setattr("nesting.files.dxf_document.LARGEST_DXF_BYTES", 100)
    assert refused(tmp_path, polyline(SQUARE)).faults[0].code == "too-large"


# --- blocks -----------------------------------------------------------------------------------------------------------

UNIT_ROOM = block("CELL", polyline([(0, 0), (1, 0), (1, 1), (0, 1)], "0"), text("Cell", (0.5, 0.5), 0.1, "0"))


def test_blocks_are_taken_apart_scaled_turned_and_mirrored(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        insert("CELL", (0, 0), "A", (41, 3000.0), (42, 2000.0)),
        insert("CELL", (20_000, 0), "B", (41, 3000.0), (42, 2000.0), (50, 90.0)),
        insert("CELL", (40_000, 0), "C", (41, -3000.0), (42, 2000.0)),
        blocks=[UNIT_ROOM],
    )
    sizes = [room.outline[2] for room in found.rooms]
    assert sizes == [(3000 * MM, 2000 * MM), (2000 * MM, 3000 * MM), (3000 * MM, 2000 * MM)]
    assert [room.name for room in found.rooms] == ["Cell", "Cell 2", "Cell 3"]
    assert "layer B" in found.rooms[1].place  # what lies on layer 0 of a block takes the layer of its reference


def test_blocks_in_blocks_and_rows_of_blocks(tmp_path: Path) -> None:
    pair = block("PAIR", insert("CELL", (0, 0)), insert("CELL", (2, 0)))
    rows = insert("PAIR", (0, 0), "0", (41, 1000.0), (42, 1000.0), (70, 2), (71, 3), (44, 5000.0), (45, 2000.0))
    found = read(tmp_path, rows, blocks=[UNIT_ROOM, pair])
    assert len(found.rooms) == 12


def test_blocks_that_hold_themselves_or_too_many_come_to_an_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nesting.files.dxf_entities.MOST_ENTITIES", 5_000)
    loop = block("LOOP", polyline(SQUARE), insert("LOOP", (0, 0)))
    try:
        assert read(tmp_path, insert("LOOP", (0, 0)), blocks=[loop]).rooms
    except JobError as error:
        assert "no closed outline" in str(error)
    many = insert("CELL", (0, 0), "0", (70, 30_000), (71, 30_000), (44, 5.0), (45, 5.0))
    assert refused(tmp_path, many, blocks=[UNIT_ROOM]).faults[0].code == "too-large"
    nested = [UNIT_ROOM]
    for level in range(12):  # 4^12 cells
        inner = "CELL" if not level else f"L{level - 1}"
        nested.append(block(f"L{level}", *(insert(inner, (2.0 * n, 0)) for n in range(4))))
    assert refused(tmp_path, insert("L11", (0, 0)), blocks=nested).faults[0].code == "too-large"


def test_attributes_of_a_block_name_the_room(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    document.blocks.new("TAG").add_attdef("NAME", (0, 0), height=100)
    document.modelspace().add_lwpolyline(SQUARE, close=True)
    tag = document.modelspace().add_blockref("TAG", (500, 500))
    tag.add_auto_attribs({"NAME": "Nursery"})
    document.saveas(tmp_path / "plan.dxf")
    assert read_dxf_rooms(tmp_path / "plan.dxf").rooms[0].name == "Nursery"


# --- texts ------------------------------------------------------------------------------------------------------------


def test_formatting_codes_go_and_lines_are_joined(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline(SQUARE, close=True)
    code = r"{\fSans|b1|i0;\H2x;Living \C1;room}\Pground floor"
    space.add_mtext(code, dxfattribs={"insert": (100, 2000), "char_height": 80})
    document.saveas(tmp_path / "plan.dxf")
    assert read_dxf_rooms(tmp_path / "plan.dxf").rooms[0].name == "Living room ground floor"
    (room,) = read(tmp_path, polyline(SQUARE), text("%%uBad%%u 20%%d %%p1 50%", (9, 9))).rooms
    assert room.name == "Bad 20° ±1 50%"


@pytest.mark.parametrize(
    ("encoding", "page"),
    [("cp1252", ""), ("cp1252", "ANSI_1252"), ("cp1251", "ANSI_1251"), ("gbk", "ANSI_936"), ("utf-8", "ANSI_1252")],
)
def test_old_encodings(tmp_path: Path, encoding: str, page: str) -> None:
    name = {"cp1251": "Кухня", "gbk": "厨房"}.get(encoding, "Küche")
    content = drawing([polyline(SQUARE), text(name, (9, 9))], page=page).encode(encoding)
    assert read_dxf_rooms(write(tmp_path, content)).rooms[0].name == name


HOSTILE = [
    "50%% of %d", "a^b ^ c", r"C:\U+0041 \P {x}", "מטבח 3", "غرفة\nنوم", "日本 間", "=1+1", "x: [y] # z",
    "null", "'\"`",
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_names_come_through_from_drawing_to_job(tmp_path: Path, name: str) -> None:
    found = read(tmp_path, polyline(SQUARE), text(dxf_text(name), (9, 9)))
    plain = " ".join(name.split())
    assert parse_job(job_of_rooms(found, name)).job.rooms[0].name == plain == found.rooms[0].name


@given(st.text(min_size=1, max_size=500))
def test_any_name_makes_a_sound_job(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    found = read(tmp_path_factory.mktemp("d"), polyline(SQUARE), text(dxf_text(name), (9, 9)))
    (room,) = parse_job(job_of_rooms(found, name)).job.rooms
    assert 0 < len(room.name) <= 80


def test_a_long_name_is_cut_and_said(tmp_path: Path) -> None:
    found = read(tmp_path, polyline(SQUARE), text("long " * 100, (9, 9)))
    assert len(found.rooms[0].name) <= 80 and "cut to 80 letters" in said(found)


# --- other versions and other writers ---------------------------------------------------------------------------------


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
@pytest.mark.parametrize("fmt", ["asc", "bin"])
def test_all_versions_text_and_binary(tmp_path: Path, version: str, fmt: str) -> None:
    document = ezdxf.new(version, units=4)
    space = document.modelspace()
    (space.add_polyline2d if version == "R12" else space.add_lwpolyline)(SQUARE, close=True)
    space.add_text("Küche", height=100).set_placement((9, 9))
    document.saveas(tmp_path / "plan.dxf", fmt=fmt)
    (room,) = read_dxf_rooms(tmp_path / "plan.dxf", "mm").rooms
    assert (room.name, room.outline[2]) == ("Küche", (3000 * MM, 2500 * MM))


def test_outlines_seen_from_behind_and_in_space(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    behind = {"extrusion": (0, 0, -1)}
    bow = [(0, 0, 0), (-6000, 0, 1), (-6000, 3000, 0), (0, 3000, 0)]
    space.add_lwpolyline(bow, "xyb", close=True, dxfattribs=behind)
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"extrusion": (1, 0, 0)})
    space.add_polyline3d([(x, y - 9000, 7) for x, y in SQUARE], close=True)
    space.add_polyline3d([(x, y - 20000, x) for x, y in SQUARE], close=True)
    document.saveas(tmp_path / "plan.dxf")
    found = read_dxf_rooms(tmp_path / "plan.dxf")
    bowed, flat = found.rooms
    assert flat.outline[2] == (3000 * MM, 2500 * MM)
    # turned round, the half circle still bends into the room
    assert abs(twice_area(bowed.outline) / 2 / MM**2 - (18_000_000 - math.pi * 1500**2 / 2)) < math.pi * 1500
    assert "2 x polyline that does not lie flat" in said(found)  # one on layer 0 each


def test_a_drawing_of_another_library(tmp_path: Path) -> None:
    import numpy as np
    import pyogrio.raw
    import shapely

    shapes = [shapely.LineString([*SQUARE, SQUARE[0]]), shapely.LineString([(0, 5000), (100, 5000)])]
    pyogrio.raw.write(
        str(tmp_path / "plan.dxf"), shapely.to_wkb(np.array(shapes)), [np.array(["ROOMS", "LINES"], dtype=object)],
        ["Layer"], geometry_type="LineString", driver="DXF", crs="LOCAL_CS[\"floor\"]",
    )  # fmt: skip
    found = read_dxf_rooms(tmp_path / "plan.dxf", "mm")
    assert [room.outline[2] for room in found.rooms] == [(3000 * MM, 2500 * MM)]
    assert "not closed" in said(found)


def test_tags_of_the_tiny_writer_come_in_pairs() -> None:
    assert tags((0, "LINE"), (8, "A")) == "  0\nLINE\n  8\nA\n"
