"""Pieces come in, are listed, moved, corrected, counted and scrapped."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from nesting.domain.geometry import Rect
from nesting.domain.material import StockKind
from nesting.domain.rack import Order, PhaseKnown, PieceFilter, PieceState, RackPiece
from nesting.errors import JobError
from nesting.shop import Rack
from nesting.shop.rows import utc_text
from tests.making import M
from tests.shop.making import ELL, START, act, exact, piece, sound, with_pieces


def codes(caught: pytest.ExceptionInfo[JobError]) -> list[str]:
    return [fault.code for fault in caught.value.faults]


def test_what_is_received_is_there_as_it_was_said(rack: Rack) -> None:
    whole = piece(
        "R-7",
        shape=ELL,
        kind=StockKind.ROLL,
        lot="A17",
        lot_orderable=True,
        flaws=(Rect(1, 2, 3, 4),),
        place="bay 3",
        cost=12_50,
        currency="EUR",
        supplier="Weaver & Daughter",
        note="‘ends’ frayed, 100 %_",
        **exact(3, 4),
    )
    assert with_pieces(rack, whole) == ["R-7"]
    assert rack.piece("r-7") == replace(whole, received_at="2024-05-02T09:30:00.000000Z", version=1)
    assert rack.piece("R-7").area_nm2 == 4 * M * M
    assert sound(rack)


def test_the_largest_lengths_and_sums_are_kept_exactly(rack: Rack) -> None:
    big = piece("big", 10**13, 10**13 - 1, cost=10**15, **exact(-(10**13), 10**13))
    with_pieces(rack, big)
    assert rack.piece("big").area_nm2 == 10**26 - 10**13
    assert rack.accounts()[0].received_nm2 == 10**26 - 10**13
    assert sound(rack)


def test_pieces_without_labels_get_labels_that_nothing_has(rack: Rack) -> None:
    with_pieces(rack, piece("s-000002"))
    assert with_pieces(rack, piece(), piece()) == ["S-000001", "S-000003"]
    assert with_pieces(rack, piece()) == ["S-000004"]


@pytest.mark.parametrize("label", ["R-7", "r-7", " R-7 ", "Ｒ-7"])
def test_a_label_that_reads_like_another_is_refused_and_nothing_comes_in(rack: Rack, label: str) -> None:
    with_pieces(rack, piece("R-7"))
    with pytest.raises(JobError) as caught:
        with_pieces(rack, piece("R-8"), piece(label))
    assert codes(caught) == ["label-taken"]
    assert [item.id for item in rack.pieces()] == ["R-7"]
    with pytest.raises(JobError, match="label-twice"):
        with_pieces(rack, piece("R-8"), piece("r-8"))


@pytest.mark.parametrize(
    "wrong",
    [
        {"width_nm": 0},
        {"length_nm": 10**14},
        {"shape": (Rect(0, 0, M, M), Rect(0, 0, 2 * M, 3 * M))},
        {"shape": (Rect(0, 0, M, M),)},
        {"shape": (Rect(0, 0, 3 * M, 3 * M),)},
        {"flaws": (Rect(5, 5, 5, 6),)},
        {"phase_nm": (1, 1)},
        {"phase_known": PhaseKnown.MEASURED},
        {"cost": -1},
        {"coin_per_unit": 0},
        {"lot": " "},
        {"lot_orderable": True},
        {"material_id": ""},
        {"note": "a\0b"},
        {"place": "\ud800"},
        {"note": "x" * 501},
        {"label": "x" * 81},
    ],
)
def test_a_piece_that_cannot_be_is_refused(rack: Rack, wrong: dict[str, object]) -> None:
    with pytest.raises(JobError, match="bad-piece"):
        with_pieces(rack, piece("good"), piece(**({"label": "R-1"} | wrong)))  # type: ignore[arg-type]
    assert rack.pieces() == ()


def test_nobody_and_no_reason_are_refused(rack: Rack) -> None:
    with pytest.raises(JobError, match="who-missing"):
        rack.receive([piece("R-1")], act(who=" "))
    with_pieces(rack, piece("R-1"))
    with pytest.raises(JobError, match="reason-missing"):
        rack.scrap(["R-1"], act(""))
    with pytest.raises(JobError, match="reason-missing"):
        rack.correct([rack.piece("R-1")], act(" "))


def test_a_time_without_a_zone_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="zone"):
        utc_text(START.replace(tzinfo=None))


def test_lists_are_filtered_and_ordered(rack: Rack) -> None:
    with_pieces(
        rack,
        piece("R-1", 1 * M, 5 * M, place="b", cost=5, lot="A", note="Frayed at the END"),
        piece("R-2", 2 * M, 4 * M, place="a", cost=9, kind=StockKind.ROLL),
        piece("R-3", 3 * M, 3 * M, place="c", material_id="other", note="100 % wool_mix"),
    )
    rack.receive([piece("R-0", 2 * M, 2 * M, place="c")], act(minutes=-5))
    rack.scrap(["R-3"], act())
    rack.reserve(["R-2"], "hall", act())

    def labels(**wanted: object) -> str:
        return " ".join(item.id for item in rack.pieces(PieceFilter(**wanted)))  # type: ignore[arg-type]

    assert labels() == "R-0 R-1 R-2"
    assert labels(states=()) == "R-0 R-1 R-2 R-3"
    assert labels(states=(PieceState.SCRAPPED,)) == "R-3"
    assert labels(material_id="other") == ""
    assert labels(kind=StockKind.ROLL) == labels(job="hall") == "R-2"
    assert labels(lot="A") == labels(text="  fraYED end") == "R-1"
    assert labels(text="%", states=()) == labels(text="wool_", states=()) == "R-3"
    assert labels(text="l_m", states=()) == "R-3"
    assert labels(text="o_l", states=()) == ""
    assert labels(place="a") == "R-2"
    assert labels(least_width_nm=2 * M) == "R-0 R-2"
    assert labels(least_width_nm=2 * M, least_length_nm=3 * M) == "R-2"
    assert labels(order=Order.PLACE) == "R-2 R-1 R-0"
    assert labels(order=Order.AGE) == "R-0 R-1 R-2"
    assert labels(order=Order.WIDTH) == "R-2 R-0 R-1"
    assert labels(order=Order.LENGTH, limit=2) == "R-1 R-2"
    assert labels(order=Order.COST) == "R-2 R-1 R-0"
    assert labels(order=Order.MATERIAL, states=()) == "R-1 R-0 R-2 R-3"
    assert rack.pieces(PieceFilter(job="hall"))[0].reserved_for == "hall"


def test_labels_and_places_are_ordered_byte_by_byte_in_both_databases(rack: Rack) -> None:
    with_pieces(rack, *(piece(label) for label in ("b", "B2", "a-1", "a 2", "é", "Z")))
    assert [item.id for item in rack.pieces()] == sorted(["b", "B2", "a-1", "a 2", "é", "Z"])


def test_a_move_is_booked_with_who_when_and_why(rack: Rack) -> None:
    with_pieces(rack, piece("R-1", place="a"))
    rack.move(["r-1"], "bay 9", act("tidied up", minutes=3, who="Bob"))
    rack.move(["R-1"], "bay 9", act(minutes=4))  # it is there: nothing happens
    first, second = rack.history("R-1")
    assert (first.what, second.what) == ("receive", "move")
    assert (second.who, second.at, second.why) == ("Bob", "2024-05-02T09:33:00.000000Z", "tidied up")
    assert json.loads(second.before or "")["place"] == "a"
    assert json.loads(second.after or "")["place"] == rack.piece("R-1").place == "bay 9"
    assert second.before == first.after
    assert sound(rack)


def test_a_correction_changes_what_was_written_down_wrongly_and_the_areas_still_add_up(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"), piece("R-2"))
    read = rack.piece("R-1")
    rack.correct([replace(read, length_nm=2 * M, lot="B", material_id="other", cost=7)], act("measured again"))
    assert rack.piece("R-1").length_nm == 2 * M
    accounts = {account.material_id: account.received_nm2 for account in rack.accounts()}
    assert accounts == {"goods": 6 * M * M, "other": 4 * M * M}
    assert sound(rack)
    with pytest.raises(JobError, match=re.escape("it has changed since it was read")):
        rack.correct([replace(read, length_nm=1 * M)], act())
    with pytest.raises(JobError, match="place cannot be corrected"):
        rack.correct([replace(rack.piece("R-2"), place="x", length_nm=1)], act())


def test_a_piece_that_changed_since_it_was_read_is_left_alone(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"), piece("R-2"))
    seen = {item.id: item.version for item in rack.pieces()}
    rack.move(["R-1"], "b", act())
    with pytest.raises(JobError) as caught:
        rack.reserve(["R-1", "R-2"], "hall", act(), seen=seen)
    assert codes(caught) == ["piece-changed"]
    assert {item.state for item in rack.pieces()} == {PieceState.FREE}


def test_scrapped_is_scrapped(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"), piece("R-2"))
    rack.reserve(["R-2"], "hall", act())
    with pytest.raises(JobError, match="reserved for 'hall'"):
        rack.scrap(["R-1", "R-2"], act("mouldy"))
    rack.scrap(["R-1"], act("mouldy"))
    assert rack.piece("R-1").state is PieceState.SCRAPPED
    for again in (
        lambda: rack.move(["R-1"], "x", act()),
        lambda: rack.reserve(["R-1"], "hall", act()),
        lambda: rack.scrap(["R-1"], act()),
        lambda: rack.correct([rack.piece("R-1")], act()),
    ):
        with pytest.raises(JobError, match="it is scrapped"):
            again()
    assert rack.accounts()[0].scrapped_nm2 == 6 * M * M
    assert sound(rack)


def test_unknown_labels_are_all_named(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"))
    with pytest.raises(JobError) as caught:
        rack.move(["R-1", "R-2", "R-3", "R-2"], "x", act())
    assert [(fault.code, fault.where) for fault in caught.value.faults] == [
        ("piece-unknown", "R-2"),
        ("piece-unknown", "R-3"),
    ]
    with pytest.raises(JobError, match="piece-unknown"):
        rack.piece("R-9")
    with pytest.raises(JobError, match="piece-unknown"):
        rack.history("R-9")


@pytest.mark.parametrize("words", ["a\0b", "\udcff", "x" * 600])
def test_words_that_no_database_takes_are_refused_the_same_everywhere(rack: Rack, words: str) -> None:
    with_pieces(rack, piece("R-1"))
    asked: tuple[tuple[Callable[[], object], str], ...] = (
        (lambda: rack.piece(words), "piece-unknown"),
        (lambda: rack.history(words), "bad-words"),
        (lambda: rack.move([words], "x", act()), "piece-unknown"),
        (lambda: rack.move(["R-1"], words, act()), "bad-piece"),
        (lambda: rack.reserve(["R-1"], words, act()), "bad-words"),
        (lambda: rack.release_job(words, act()), "bad-words"),
        (lambda: rack.count_shelf(words, []), "bad-words"),
        (lambda: rack.pieces(PieceFilter(text=words)), "bad-words"),
        (lambda: rack.pieces(PieceFilter(lot=words)), "bad-words"),
        (lambda: rack.bookings(plan_key=words), "bad-words"),
        (lambda: rack.receive([piece()], act(words)), "bad-words"),
    )
    for work, code in asked:
        with pytest.raises(JobError) as caught:
            work()
        assert codes(caught) == [code]
    assert rack.count_shelf("x", [words]).unknown == (words,)
    assert sound(rack)


def test_a_shelf_is_counted_against_the_book(rack: Rack) -> None:
    with_pieces(
        rack,
        *(piece(f"R-{number}", place="bay 1") for number in range(1, 6)),
        piece("R-6", place="bay 2"),
        piece("R-7", place="bay 1"),
    )
    rack.scrap(["R-5"], act())
    rack.reserve(["R-4"], "hall", act())
    rack.book_count("bay 1", ["R-1", "R-2", "R-3", "R-4"], act("count of May"))
    assert rack.piece("R-7").state is PieceState.MISSING
    counted = rack.count_shelf("bay 1", ["r-1", "R-1", "R-2", "R-5", "R-6", "R-7", "X"])
    assert counted.found == ("R-1", "R-2")
    assert counted.missing == ("R-3", "R-4")
    assert counted.elsewhere == (("R-6", "bay 2"),)
    assert counted.back == ("R-7",)
    assert counted.not_stock == (("R-5", PieceState.SCRAPPED),)
    assert counted.unknown == ("X",)
    assert not counted.agrees
    assert rack.piece("R-3").state is PieceState.FREE  # counting changes nothing
    assert rack.book_count("bay 1", ["R-1", "R-2", "R-5", "R-6", "R-7", "X"], act("count of June")) == counted
    states = {item.id: (item.state.value, item.place) for item in rack.pieces(PieceFilter(states=()))}
    assert states == {
        "R-1": ("free", "bay 1"),
        "R-2": ("free", "bay 1"),
        "R-3": ("missing", "bay 1"),
        "R-4": ("missing", "bay 1"),
        "R-5": ("scrapped", "bay 1"),
        "R-6": ("free", "bay 1"),
        "R-7": ("free", "bay 1"),
    }
    assert rack.count_shelf("bay 1", ["R-1", "R-2", "R-6", "R-7"]).agrees
    assert rack.accounts()[0].missing_nm2 == 12 * M * M
    assert sound(rack)


def test_pieces_are_reserved_all_or_none_and_released(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"), piece("R-2"), piece("R-3"))
    rack.reserve(["R-1", "R-2"], "hall", act())
    rack.reserve(["R-1"], "hall", act())  # it has it
    with pytest.raises(JobError) as caught:
        rack.reserve(["R-1", "R-2", "R-3"], "stairs", act())
    assert [(fault.code, fault.where) for fault in caught.value.faults] == [
        ("piece-not-free", "R-1"),
        ("piece-not-free", "R-2"),
    ]
    assert rack.piece("R-3").state is PieceState.FREE
    with pytest.raises(JobError, match="job-missing"):
        rack.reserve(["R-3"], " ", act())
    with pytest.raises(JobError, match="not-reserved"):
        rack.release(["R-1", "R-3"], act())
    rack.release(["R-1"], act())
    assert rack.release_job("hall", act()) == ["R-2"]
    assert {item.state for item in rack.pieces()} == {PieceState.FREE}
    assert [entry.what for entry in rack.history("R-1")] == ["receive", "reserve", "release"]
    assert sound(rack)


def test_a_clock_that_goes_backwards_changes_no_order(rack: Rack) -> None:
    with_pieces(rack, piece("R-1"))
    rack.move(["R-1"], "b", act(minutes=60))
    rack.move(["R-1"], "c", act(minutes=-120))
    rack.move(["R-1"], "d", act(minutes=-60))
    entries = rack.history("R-1")
    assert [entry.at[11:16] for entry in entries] == ["09:30", "10:30", "07:30", "08:30"]
    assert [entry.late for entry in entries] == [False, False, True, False]
    assert [entry.number for entry in entries] == sorted(entry.number for entry in entries)
    assert rack.history(limit=2) == entries[2:]
    assert rack.piece("R-1").place == "d"
    assert sound(rack)


def test_pieces_by_the_thousand(rack: Rack) -> None:
    labels = with_pieces(rack, *(piece() for _ in range(1_200)))
    rack.reserve(labels, "all of it", act())
    assert len(rack.pieces(PieceFilter(job="all of it"))) == 1_200
    assert len(rack.release_job("all of it", act())) == 1_200
    assert sound(rack)


def test_an_ell_knows_its_area() -> None:
    assert RackPiece(
        id="x", material_id="m", kind=StockKind.REMNANT, width_nm=2 * M, length_nm=3 * M, shape=ELL
    ).area_nm2 == (4 * M * M)
