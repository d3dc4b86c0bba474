"""Tables of rooms: what people and spreadsheets write, and what is wrong with it."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import JobError
from nesting.files.csv_rooms import ROOM_COLUMNS, parse_csv_rooms, read_csv_rooms
from nesting.files.job_file import parse_job
from nesting.files.rooms_job import job_of_rooms

MM = 1_000_000
HEAD = "name,east-west,north-south"


def sizes(text: str, unit: str = "") -> list[tuple[str, int, int]]:
    return [(room.name, *room.outline[2]) for room in parse_csv_rooms(text, unit).rooms]


def faults(text: str, unit: str = "") -> list[tuple[int, str, str]]:
    with pytest.raises(JobError) as caught:
        parse_csv_rooms(text, unit, file="rooms.csv")
    assert all(fault.file == "rooms.csv" for fault in caught.value.faults)
    return [(fault.line, fault.where.removeprefix("column "), fault.code) for fault in caught.value.faults]


def test_lengths_are_written_as_in_the_job() -> None:
    text = f"{HEAD}\nHall,3.75 m,12' 4 1/2\"\nBath,2.5,210 cm\n"
    assert sizes(text, "m") == [("Hall", 3750 * MM, 3_771_900_000), ("Bath", 2500 * MM, 2100 * MM)]


@pytest.mark.parametrize(
    "text",
    [
        "name;east-west;north-south\nK\u00fcche;3,75;2,5\n",
        "sep=;\nname;east-west;north-south\nK\u00fcche;3,75;2,5\n",
        "name\teast-west\tnorth-south\nK\u00fcche\t3,75\t2.5\n",
        "\n\nNorth South,East_West,NAME,lay\r\n2.5,3.75,K\u00fcche,free\r\n,,,\r\n",
        '"name","east-west","north-south"\n"K\u00fcche","3.75","2.5"\n',
    ],
)
def test_spreadsheets_write_it_in_many_ways(text: str) -> None:
    assert sizes(text, "m") == [("K\u00fcche", 3750 * MM, 2500 * MM)]


def test_a_byte_order_mark_and_other_encodings(tmp_path: Any) -> None:
    path = tmp_path / "rooms.csv"
    path.write_bytes(f"{HEAD}\nK\u00fcche,3 m,2 m\n".encode("utf-8-sig"))
    assert read_csv_rooms(path).rooms[0].name == "K\u00fcche"
    for encoding in ("cp1252", "utf-16"):
        path.write_bytes(f"{HEAD}\nK\u00fcche,3 m,2 m\n".encode(encoding))
        with pytest.raises(JobError) as caught:
            read_csv_rooms(path)
        assert caught.value.faults[0].code == "not-text"


def test_all_columns() -> None:
    text = f"{','.join(ROOM_COLUMNS)}\nBath,2 m,3 m,Lino,north-south,3\nHall,5 m,2 m,Carpet,East West,\n"
    read = parse_csv_rooms(text)
    assert [room.name for room in read.rooms] == ["Bath 1", "Bath 2", "Bath 3", "Hall"]
    job = parse_job(job_of_rooms(read, "Flats")).job
    assert [material.name for material in job.materials] == ["Lino", "Carpet"]
    assert [room.material_id for room in job.rooms] == ["lino"] * 3 + ["carpet"]
    assert [len(room.lays) for room in job.rooms] == [2] * 4
    assert job.unit == "m"


def test_equal_names_get_numbers_and_it_is_said() -> None:
    read = parse_csv_rooms(f"{HEAD}\nBath,2 m,3 m\nbath,2 m,3 m\n")
    assert [room.name for room in read.rooms] == ["Bath", "bath 2"]
    assert "line 3" in read.notices[0].text


@pytest.mark.parametrize(
    ("text", "unit", "wanted"),
    [
        ("", "", [(0, "", "empty-file")]),
        (f"{HEAD}\n", "", [(0, "", "no-rooms")]),
        ("name,size\nA,1\n", "", [(1, "2", "unknown-column"), (1, "east-west", "missing-column"),
                                   (1, "north-south", "missing-column")]),
        (f"{HEAD},name\nA,1,2,B\n", "m", [(1, "4", "column-twice")]),
        (f"{HEAD}\nA,1,2 m\n", "", [(2, "east-west", "no-unit")]),
        (f"{HEAD}\nA,0,-2\n,1,x\n", "m", [(2, "east-west", "zero-size"), (2, "north-south", "negative-size"),
                                           (3, "name", "missing-name"), (3, "north-south", "bad-length")]),
        (f"{HEAD}\nA,99 km,11000\n", "m", [(2, "east-west", "unknown-unit"), (2, "north-south", "absurd-size")]),
        (f'{HEAD}\nA,"1,5 m",1e3\n', "m", [(2, "east-west", "decimal-comma"), (2, "north-south", "unknown-unit")]),
        (f"{HEAD},lay,count\nA,1,1,up,0\n", "m", [(2, "count", "wrong-type"), (2, "lay", "unknown-name")]),
        (f"{HEAD}\nA,1,1,extra\n", "m", [(2, "4", "unknown-column")]),
        (f'{HEAD}\n"A,1,1\n', "m", [(2, "", "not-csv")]),
        (f'{HEAD}\n"A\nb",1,1\nC,,1\n', "m", [(4, "east-west", "bad-length")]),
        (f"{HEAD}\n{'A' * 81},1,1\n", "m", [(2, "name", "bad-name")]),
        (f"{HEAD},count\nA,1,1,999\nB,1,1,9\n", "m", [(0, "", "too-large")]),
    ],
)  # fmt: skip
def test_faults_name_line_and_column_all_at_once(text: str, unit: str, wanted: list[tuple[int, str, str]]) -> None:
    assert faults(text, unit) == wanted


def test_what_the_job_refuses_is_told_by_line() -> None:
    with pytest.raises(JobError) as caught:
        job_of_rooms(parse_csv_rooms(f"{HEAD},material\nA,1 m,1 m,Lino\nB,1 m,1 m,Cork\nC,1 m,1 m,\n"), "x", "r.csv")
    (fault,) = caught.value.faults
    assert (fault.file, fault.line) == ("r.csv", 4) and "line 4 of the table" in fault.where


@given(
    st.lists(st.tuples(st.text(max_size=500), st.integers(1, 10**10), st.integers(1, 10**10)), min_size=1, max_size=5),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["m", "ft", "mm"]),
)
def test_any_name_and_size_comes_through_or_is_refused(
    rooms: list[tuple[str, int, int]], separator: str, unit: str
) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator)
    writer.writerow(ROOM_COLUMNS[:3])
    writer.writerows([name, f"{x / MM:.6f} mm", f"{y / MM:.6f} mm"] for name, x, y in rooms)
    try:
        read = parse_csv_rooms(out.getvalue(), unit)
    except JobError as error:
        assert {fault.code for fault in error.faults} <= {"missing-name", "bad-name"}
        return
    job = parse_job(job_of_rooms(read, rooms[0][0])).job
    assert [room.outline[2] for room in job.rooms] == [(x, y) for _, x, y in rooms]


@given(st.text(max_size=60), st.sampled_from(["", "m"]))
def test_any_text_is_read_or_refused(text: str, unit: str) -> None:
    for table in (text, f"{HEAD}\n{text}"):
        try:
            parse_csv_rooms(table, unit)
        except JobError as error:
            assert error.faults
