"""A rack is carried to another store, whole and without loss; what is no export is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from nesting.domain.geometry import Rect
from nesting.domain.material import StockKind
from nesting.domain.rack import PhaseKnown, PieceFilter, PieceState
from nesting.errors import JobError
from nesting.shop import Rack, open_rack
from tests.making import M
from tests.shop.making import ELL, JOB, KEY, act, exact, piece, planned_for, sound, with_pieces


@pytest.fixture
def full(rack: Rack) -> Rack:
    """A rack on which a bit of everything has happened."""
    with_pieces(rack, piece("R-3", 2 * M, 5 * M, lot="A"))
    rack.confirm_plan(planned_for(rack), KEY, JOB, act())
    with_pieces(rack, piece("R-8", 2 * M, 5 * M, lot="B"))
    other = rack.confirm_plan(planned_for(rack), "other", JOB, act())
    rack.undo(other.number, act("wrong"))
    with_pieces(
        rack,
        piece("R-1", shape=ELL, flaws=(Rect(1, 2, 3, 4), Rect(5, 6, 7, 8)), note='"a", ‘b’; =c', **exact(-5, 7)),
        piece("R-2", kind=StockKind.ROLL, lot="Ä", lot_orderable=True, cost=5, currency="EUR", coin_per_unit=1),
        piece("R-4", phase_nm=(0, 0), phase_known=PhaseKnown.ASSUMED),
        piece("R-5"),
        piece("R-6", place="bay 1"),
    )
    rack.reserve(["R-1", "R-2"], "hall", act(minutes=-9), plan_key="p")
    rack.release(["R-1"], act())
    rack.scrap(["R-5"], act())
    rack.book_count("bay 1", [], act())
    assert {item.state for item in rack.pieces(PieceFilter(states=()))} == set(PieceState)
    return rack


def test_json_carries_everything(full: Rack, other: str) -> None:
    told = full.export_json()
    with open_rack(other) as copy:
        assert copy.import_json(told) == 8
        assert copy.export_json() == told
        assert copy.history() == full.history()
        assert copy.bookings() == full.bookings()
        assert sound(copy)
        with_pieces(copy, piece())  # and it goes on from there
        copy.reserve(["R-1"], "hall", act())
        assert copy.confirm_plan(planned_for(copy), "third", JOB, act()).number == 3
        assert sound(copy)


def test_csv_carries_every_piece(full: Rack, other: str) -> None:
    told = full.export_csv()
    with open_rack(other) as copy:
        assert len(copy.import_csv(told, act())) == 8
        assert copy.export_csv() == told
        assert copy.piece("R-2").reserved_for == "hall"
        assert sound(copy)


def test_csv_may_be_short(rack: Rack) -> None:
    content = "\ufeffid,material_id,width_nm,length_nm,place\r\nR-1,goods,2000000000,3000000000,bay 1\r\n"
    assert rack.import_csv(content, act()) == ["R-1"]
    assert rack.piece("R-1").place == "bay 1"
    assert rack.piece("R-1").received_at == "2024-05-02T09:30:00.000000Z"
    assert rack.export_csv(PieceFilter(place="bay 2")).count("\n") == 1
    assert sound(rack)


HEAD = "id,material_id,width_nm,length_nm"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ("", "bad-columns"),
        ("a,b\n1,2\n", "bad-columns"),
        (f"{HEAD},colour\n", "bad-columns"),
        (f"{HEAD}\nR-1,goods,2.5,3\n", "bad-row"),
        (f"{HEAD}\nR-1,goods,2\n", "bad-row"),
        (f"{HEAD}\nR-1,goods,2,3,4\n", "bad-row"),
        (f"{HEAD},kind\nR-1,goods,2,3,tile\n", "bad-row"),
        (f"{HEAD},shape\nR-1,goods,2,3,0 0 1\n", "bad-row"),
        (f"{HEAD},phase_nm\nR-1,goods,2,3,0 0; 1 1\n", "bad-row"),
        (f"{HEAD},received_at\nR-1,goods,2,3,yesterday\n", "bad-row"),
        (f"{HEAD},lot_orderable\nR-1,goods,2,3,maybe\n", "bad-row"),
        (f"{HEAD},made_from\nR-1,goods,2,3,R-0\n", "bad-row"),
        (f"{HEAD},state\nR-1,goods,2,3,reserved\n", "bad-piece"),
        (f"{HEAD}\n,goods,2,3\n", "bad-piece"),
        (f"{HEAD}\nR-1,goods,2,3\nr-1,goods,2,3\n", "label-twice"),
        (f'{HEAD}\n"R-1,goods,2,3\n', "bad-csv"),
    ],
)
def test_a_csv_that_cannot_be_is_refused_whole(rack: Rack, content: str, code: str) -> None:
    with pytest.raises(JobError) as caught:
        rack.import_csv(content, act())
    assert {fault.code for fault in caught.value.faults} == {code}
    assert rack.pieces() == ()


def test_a_csv_does_not_overwrite_what_is_there(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"))
    with pytest.raises(JobError, match="label-taken"):
        rack.import_csv(rack.export_csv(), act())


def test_only_an_empty_rack_is_filled(full: Rack) -> None:
    with pytest.raises(JobError, match="rack-not-empty"):
        full.import_json(full.export_json())


def _change(path: tuple[Any, ...], value: Any) -> Callable[[dict[str, Any]], None]:
    def change(data: dict[str, Any]) -> None:
        inner: Any = data
        for part in path[:-1]:
            inner = inner[part]
        inner[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (_change(("rack",), 2), "bad-export"),
        (_change(("pieces", 0, "width_nm"), "2"), "bad-export"),
        (_change(("pieces", 0, "state"), "lent"), "bad-export"),
        (_change(("pieces", 0, "flaws"), [[1]]), "bad-export"),
        (_change(("history", 0, "late"), "no"), "bad-export"),
        (_change(("history", 0), {}), "bad-export"),
        (_change(("history", 0, "who"), "\ud800"), "bad-export"),
        (_change(("history", 0, "number"), 2**70), "bad-export"),
        (_change(("history", 0, "after"), "{}"), "audit-R1"),
        (_change(("pieces",), None), "bad-export"),
        (_change(("pieces", 0, "length_nm"), 0), "bad-piece"),
        (_change(("pieces", 2, "length_nm"), 7), "audit-R2"),
        (_change(("history", 0, "after"), None), "audit-R1"),
        (_change(("reservations",), []), "audit-R5"),
    ],
)
def test_an_export_that_was_tampered_with_is_refused_whole(
    full: Rack, other: str, change: Callable[[dict[str, Any]], None], code: str
) -> None:
    data = json.loads(full.export_json())
    change(data)
    with open_rack(other) as copy:
        with pytest.raises(JobError) as caught:
            copy.import_json(json.dumps(data))
        assert code in {fault.code for fault in caught.value.faults}
        assert copy.history() == ()


@pytest.mark.parametrize("content", ["", "[]", "{}", "7", '{"rack": 1}', "\ud800", "[" * 100_000])
def test_what_is_no_export_is_refused(rack: Rack, content: str) -> None:
    with pytest.raises(JobError, match="bad-export"):
        rack.import_json(content)
