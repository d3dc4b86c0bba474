"""Every rule of the audit finds the fault that is planted for it, and a sound rack has none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pytest
from sqlalchemy import text

from nesting.shop import Rack
from nesting.shop.book import Change, put
from tests.making import M
from tests.shop.making import JOB, KEY, act, piece, planned_for, sound, with_pieces

FRESH = True  # tables are changed behind the program's back
AREA_2_BY_3 = 6 * M * M


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault that is planted behind the program's back, and the rules that must find it."""

    name: str
    rules: str
    statements: tuple[str, ...]


_TWICE = (
    "INSERT INTO rack_reservation (piece_id, job, plan_key, who, at, holds) VALUES ('R-2', 'stairs', '', 'x', '', 1)"
)
FAULTS = (
    Fault("a longer piece", "R2 R3", ("UPDATE rack_piece SET length_nm = length_nm + 1 WHERE id = 'R-1'",)),
    Fault("another lot", "R2", ("UPDATE rack_piece SET lot = 'X' WHERE id = 'R-1'",)),
    Fault("another material", "R2 R3", ("UPDATE rack_piece SET material_id = 'X' WHERE id = 'R-1'",)),
    Fault("an older version", "R2", ("UPDATE rack_piece SET version = 7 WHERE id = 'R-1'",)),
    Fault("taken away", "R2 R3", ("DELETE FROM rack_piece WHERE id = 'R-1'",)),
    Fault(
        "sold from the shelf",
        "R2",
        ("UPDATE rack_piece SET state = 'scrapped' WHERE id = 'R-1'",),
    ),
    Fault(
        "free though it is reserved",
        "R2 R5 R7",
        ("UPDATE rack_piece SET state = 'free' WHERE id = 'R-2'",),
    ),
    Fault(
        "a reservation that was lost",
        "R2 R5",
        ("UPDATE rack_reservation SET holds = 0 WHERE piece_id = 'R-2'",),
    ),
    Fault("sold twice", "R5", ("DROP INDEX rack_reservation_once", _TWICE)),
    Fault("filed wrongly", "R6", ("UPDATE rack_piece SET id_key = 'r-9' WHERE id = 'R-1'",)),
    Fault(
        "a flaw beside the piece", "R2 R7", ("UPDATE rack_piece SET flaws = '[[0,0,1,99000000000]]' WHERE id = 'R-1'",)
    ),
    Fault(
        "back from the cut",
        "R2 R4 R8",
        ("UPDATE rack_piece SET state = 'free' WHERE id = 'R-3'",),
    ),
    Fault(
        "half undone",
        "R8",
        (f"UPDATE rack_booking SET undone = 1 WHERE plan_key = '{KEY}'",),
    ),
    Fault(
        "confirmed twice",
        "R8",
        (
            "DROP INDEX rack_booking_once",
            f"INSERT INTO rack_booking (plan_key, job, who, at, undone) VALUES ('{KEY}', 'x', 'x', 'x', 0)",
        ),
    ),
)


@pytest.fixture
def full(rack: Rack) -> Rack:
    """A rack with a piece that is free, one that is reserved, and one that is cut up with what is left of it."""
    with_pieces(rack, piece("R-3", 2 * M, 5 * M))
    rack.confirm_plan(planned_for(rack), KEY, JOB, act())
    with_pieces(rack, piece("R-1"), piece("R-2"))
    rack.reserve(["R-2"], "hall", act())
    assert sound(rack)
    return rack


def rules(rack: Rack) -> set[str]:
    return {finding.rule for finding in rack.audit()}


def plant(rack: Rack, statements: Sequence[str]) -> None:
    with rack.store.engine.begin() as tx:
        for statement in statements:
            tx.exec_driver_sql(statement)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_planted_fault_is_found(full: Rack, fault: Fault) -> None:
    plant(full, fault.statements)
    assert rules(full) == set(fault.rules.split())
    assert all(finding.where and finding.text for finding in full.audit())


@pytest.mark.parametrize(
    ("column", "value", "found"),
    [("shape", "[[1]]", "R2 R3 R7"), ("shape", "no JSON", "R2 R3 R7"), ("kind", "tile", "R2 R3 R7")],
)
def test_a_row_that_cannot_be_read_is_a_finding(full: Rack, column: str, value: str, found: str) -> None:
    plant(full, (f"UPDATE rack_piece SET {column} = '{value}' WHERE id = 'R-1'",))
    assert rules(full) == set(found.split())


def _without_triggers(rack: Rack) -> tuple[str, ...]:
    if rack.store.is_sqlite:
        return ("DROP TRIGGER rack_history_no_update", "DROP TRIGGER rack_history_no_delete")
    return ("ALTER TABLE rack_history DISABLE TRIGGER USER",)


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        ("DELETE FROM rack_history WHERE piece_id = 'R-2' AND what = 'receive'", "R1 R3"),
        ("DELETE FROM rack_history WHERE piece_id = 'R-2' AND what = 'reserve'", "R2"),
        ("DELETE FROM rack_history WHERE piece_id = 'R-1'", "R2 R3"),
        ("UPDATE rack_history SET after = '{}' WHERE piece_id = 'R-1'", "R1 R2 R3"),
        ("UPDATE rack_history SET after = '[' WHERE piece_id = 'R-1'", "R1 R2 R3"),
        ("UPDATE rack_history SET piece_id = 'R-9' WHERE piece_id = 'R-1'", "R1 R2"),
        (
            "UPDATE rack_history SET after = replace(after, '\"version\":1', '\"version\":2') WHERE piece_id = 'R-1'",
            "R1 R2",
        ),
    ],
)
def test_a_history_that_was_tampered_with_is_found_out(full: Rack, statement: str, found: str) -> None:
    plant(full, (*_without_triggers(full), statement))
    assert rules(full) == set(found.split())


def test_more_that_comes_out_of_a_piece_than_was_in_it_is_found(full: Rack) -> None:
    big = piece("R-4", 2 * M, 9 * M, made_from="R-3", received_at="2024-05-02T09:30:00.000000Z")
    full.store.write(lambda tx: put(tx, [Change(before=None, after=big)], act(), "make"))
    assert rules(full) == {"R4"}


def test_a_label_that_is_there_twice_is_found(full: Rack) -> None:
    other = piece("r-1", received_at="2024-05-02T09:30:00.000000Z")

    def work(tx: object) -> None:
        drop = (
            "PRAGMA writable_schema = OFF"
            if full.store.is_sqlite
            else "ALTER TABLE rack_piece DROP CONSTRAINT rack_piece_id_key_key"
        )
        tx.execute(text(drop))  # type: ignore[attr-defined]
        put(tx, [Change(before=None, after=other)], act(), "receive")  # type: ignore[arg-type]

    if full.store.is_sqlite:  # its UNIQUE cannot be dropped: the other is filed wrongly instead
        plant(full, ("UPDATE rack_piece SET id_key = 'elsewhere' WHERE id = 'R-1'",))
    full.store.write(work)
    assert rules(full) == {"R6"}
    assert "its label reads like 'R-1'" in {finding.text for finding in full.audit()}


def test_a_reference_that_leads_nowhere_is_found(full: Rack) -> None:
    if not full.store.is_sqlite:
        pytest.skip("PostgreSQL lets none of these in")
    with full.store.engine.connect() as link:
        link.rollback()
        raw = link.connection.dbapi_connection
        assert raw is not None
        raw.execute("PRAGMA foreign_keys = OFF").close()  # type: ignore[attr-defined]
        raw.execute("UPDATE rack_reservation SET piece_id = 'R-9', holds = 0").close()  # type: ignore[attr-defined]
        raw.execute("PRAGMA foreign_keys = ON").close()  # type: ignore[attr-defined]
    assert "R9" in rules(full)


def test_a_file_with_a_broken_index_is_found(full: Rack) -> None:
    if not full.store.is_sqlite:
        pytest.skip("PostgreSQL's files are the server's affair")
    plant(
        full,
        (
            "PRAGMA writable_schema = ON",
            "UPDATE sqlite_master SET sql = replace(sql, 'material_id', 'place') WHERE name = 'rack_piece_listed'",
        ),
    )
    full.close()
    assert "R9" in rules(full)


def test_the_account_says_where_everything_went(full: Rack) -> None:
    with_pieces(full, piece("R-5"), piece("R-6", place="bay 1"))
    full.scrap(["R-5"], act())
    full.book_count("bay 1", [], act())
    (account,) = full.accounts()
    assert account.received_nm2 == 10 * M * M + 4 * AREA_2_BY_3
    assert account.in_stock_nm2 == 2 * AREA_2_BY_3
    assert account.scrapped_nm2 == account.missing_nm2 == AREA_2_BY_3
    assert account.cut_away_nm2 + account.client_nm2 == 10 * M * M
    assert account.differs_nm2 == 0
