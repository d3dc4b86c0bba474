"""Random operations on a rack against a plain model of it; audits clean after each, and carries over whole."""

from __future__ import annotations

import itertools
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    precondition,
    rule,
    run_state_machine_as_test,
)

from nesting.domain.geometry import Rect
from nesting.domain.rack import Delivery, PieceFilter, RackPiece
from nesting.errors import JobError
from nesting.shop import open_rack
from nesting.shop.offering import Money, missing_rects, offer, squared_rect
from nesting.shop.rows import from_snapshot, label_key, snapshot
from tests.making import MM, M
from tests.shop.conftest import EMPTY
from tests.shop.making import JOB, act, goods_of, half_metre, planned_for, sound
from tests.shop.server import run_sql
from tests.strategies import rack_pieces

JOBS = ("hall", "stairs", JOB)
PLACES = ("bay 1", "bay 2", "")


@dataclass
class Known:
    """What the model knows of a piece."""

    area: int
    place: str
    state: str = "free"
    job: str = ""


class Shop(RuleBasedStateMachine):
    """A rack and a model of it."""

    pieces: Bundle[str] = Bundle("pieces")
    place: str

    @initialize()
    def begin(self) -> None:
        if "://" in self.place:
            run_sql(self.place, *EMPTY)
        else:
            Path(self.place).unlink(missing_ok=True)
        self.rack = open_rack(self.place)
        self.known: dict[str, Known] = {}
        self.booked: list[tuple[int, dict[str, Known], list[str]]] = []
        self.minutes = itertools.count(step=7)

    def teardown(self) -> None:
        if hasattr(self, "rack"):
            self.rack.close()

    def tried(self, may: bool, work: Any) -> Any:
        """Do something that the model says may or may not be done."""
        if not may:
            with pytest.raises(JobError):
                work()
            return None
        return work()

    def act(self) -> Any:
        number = next(self.minutes)
        return act(minutes=number if number % 5 else -number)  # a clock that goes backwards now and then

    @rule(target=pieces, found=st.lists(rack_pieces(), min_size=1, max_size=3), place=st.sampled_from(PLACES))
    def receive(self, found: list[RackPiece], place: str) -> Any:
        labels = self.rack.receive([replace(item, id="", place=place) for item in found], self.act())
        for label, item in zip(labels, found, strict=True):
            self.known[label] = Known(area=item.area_nm2, place=place)
        return multiple(*labels)

    @rule(label=pieces, place=st.sampled_from(PLACES))
    def move(self, label: str, place: str) -> None:
        there = self.known.get(label)
        self.tried(
            there is not None and there.state in ("free", "reserved"),
            lambda: self.rack.move([label.lower()], place, self.act()),
        )
        if there is not None and there.state in ("free", "reserved"):
            there.place = place

    @rule(labels=st.lists(pieces, min_size=1, max_size=3), job=st.sampled_from(JOBS))
    def reserve(self, labels: list[str], job: str) -> None:
        there = [self.known.get(label) for label in labels]
        may = all(item is not None and (item.state == "free" or item.job == job) for item in there)
        self.tried(may, lambda: self.rack.reserve(labels, job, self.act()))
        for item in there if may else ():
            assert item is not None
            item.state, item.job = "reserved", job

    @rule(job=st.sampled_from(JOBS))
    def release(self, job: str) -> None:
        mine = sorted(label for label, item in self.known.items() if item.job == job)
        assert sorted(self.rack.release_job(job, self.act())) == mine
        for label in mine:
            self.known[label].state, self.known[label].job = "free", ""

    @rule(label=pieces)
    def scrap(self, label: str) -> None:
        there = self.known.get(label)
        may = there is not None and there.state in ("free", "missing")
        self.tried(may, lambda: self.rack.scrap([label], self.act()))
        if there is not None and may:
            there.state = "scrapped"

    @rule(label=pieces, longer=st.integers(1, 100))
    def correct(self, label: str, longer: int) -> None:
        there = self.known.get(label)
        if there is None:
            return
        now = self.rack.piece(label)
        right = replace(now, length_nm=now.length_nm + longer * MM, shape=(), flaws=())
        may = there.state in ("free", "reserved", "missing")
        self.tried(may, lambda: self.rack.correct([right], self.act()))
        if may:
            there.area = right.area_nm2

    @rule(place=st.sampled_from(PLACES), labels=st.lists(pieces, max_size=3))
    def count(self, place: str, labels: list[str]) -> None:
        found = self.rack.book_count(place, [*labels, "no such label"], self.act())
        assert "no such label" in found.unknown
        for label, item in self.known.items():
            if label in labels and item.state in ("free", "reserved", "missing"):
                item.place = place
                item.state = "free" if item.state == "missing" else item.state
            elif label not in labels and item.place == place and item.state in ("free", "reserved"):
                item.state, item.job = "missing", ""

    @rule(kept=st.booleans())
    def confirm(self, kept: bool) -> None:
        before = {label: replace(item) for label, item in self.known.items()}
        plan = planned_for(self.rack, 2 * M, width_nm=1 * M)
        offcuts = tuple(offcut.id for part in plan.materials for offcut in part.offcuts)
        key = f"plan {len(self.booked)}"
        booking = self.rack.confirm_plan(plan, key, JOB, self.act(), delivery=Delivery(kept=offcuts if kept else ()))
        for label in booking.taken:
            self.known[label].state, self.known[label].job = "cut", ""
        for label in (*booking.rolls, *booking.made):
            made = self.rack.piece(label)
            self.known[label] = Known(area=made.area_nm2, place=made.place, state=made.state.value)
        self.booked.append((booking.number, before, [*booking.taken, *booking.rolls, *booking.made]))

    @precondition(lambda self: bool(getattr(self, "booked", ())))
    @rule()
    def undo(self) -> None:
        number, before, touched = self.booked[-1]
        made = [label for label in touched if label not in before]
        try:
            self.rack.undo(number, self.act())
        except JobError as error:
            assert {fault.code for fault in error.faults} == {"offcut-used"}
            assert {fault.where for fault in error.faults} <= set(made)
            self.booked.pop()
            return
        for label in made:
            del self.known[label]
        for label in touched:
            if label in before:
                self.known[label] = before[label]
        self.booked.pop()

    @invariant()
    def the_rack_is_as_the_model_has_it(self) -> None:
        if not hasattr(self, "rack"):
            return
        there = {
            item.id: Known(area=item.area_nm2, place=item.place, state=item.state.value, job=item.reserved_for)
            for item in self.rack.pieces(PieceFilter(states=()))
        }
        assert there == self.known
        assert sound(self.rack)
        stock = sum(item.area for item in self.known.values() if item.state in ("free", "reserved"))
        assert sum(account.in_stock_nm2 for account in self.rack.accounts()) == stock

    @rule()
    def carry_over(self) -> None:
        told, pieces = self.rack.export_json(), self.rack.export_csv()
        with tempfile.TemporaryDirectory() as folder:
            with open_rack(Path(folder) / "copy.db") as copy:
                if self.rack.history():
                    copy.import_json(told)
                    assert copy.export_json() == told
            with open_rack(Path(folder) / "pieces.db") as copy:
                copy.import_csv(pieces, self.act())
                assert copy.export_csv() == pieces
                assert sound(copy)


@pytest.mark.parametrize(
    ("examples", "steps"), [(6, 12), pytest.param(30, 30, marks=pytest.mark.slow, id="for longer")]
)
def test_the_rack_does_as_the_model_says(where: str, examples: int, steps: int) -> None:
    class Here(Shop):
        place = where

    few = settings(max_examples=examples, stateful_step_count=steps, suppress_health_check=list(HealthCheck))
    run_state_machine_as_test(Here, settings=few)  # type: ignore[no-untyped-call]


@given(item=rack_pieces())
@settings(max_examples=150)
def test_a_piece_is_kept_in_the_history_exactly(item: RackPiece) -> None:
    assert from_snapshot(snapshot(item)) == item
    assert snapshot(from_snapshot(snapshot(item))) == snapshot(item)


@given(item=rack_pieces())
@settings(max_examples=150)
def test_what_is_missing_and_what_is_there_are_the_whole(item: RackPiece) -> None:
    missing = missing_rects(item)
    assert sum(rect.area_nm2 for rect in (*missing, *item.rects)) == item.width_nm * item.length_nm
    for one, other in itertools.combinations((*missing, *item.rects), 2):
        apart = one.x1_nm <= other.x0_nm or other.x1_nm <= one.x0_nm
        assert apart or one.y1_nm <= other.y0_nm or other.y1_nm <= one.y0_nm


@given(item=rack_pieces())
@settings(max_examples=100)
def test_what_is_offered_squared_off_is_the_largest_rectangle_that_is_there(item: RackPiece) -> None:
    rect = squared_rect(item, ((1, 1),))
    assert rect is not None
    inside = sum(
        max(0, min(rect.x1_nm, part.x1_nm) - max(rect.x0_nm, part.x0_nm))
        * max(0, min(rect.y1_nm, part.y1_nm) - max(rect.y0_nm, part.y0_nm))
        for part in item.rects
    )
    assert inside == rect.area_nm2
    xs = sorted({x for part in item.rects for x in (part.x0_nm, part.x1_nm)})
    ys = sorted({y for part in item.rects for y in (part.y0_nm, part.y1_nm)})
    gone = missing_rects(item)
    for x0, x1 in itertools.combinations(xs, 2):  # every rectangle that its corners span, by brute force
        for y0, y1 in itertools.combinations(ys, 2):
            other = Rect(x0, y0, x1, y1)
            if not any(part.x0_nm < x1 and x0 < part.x1_nm and part.y0_nm < y1 and y0 < part.y1_nm for part in gone):
                assert other.area_nm2 <= rect.area_nm2
    stock = offer(item, goods_of(half_metre()), ((1, 1),), Money(), squared=True)
    assert stock is not None
    assert (stock.width_nm, stock.length_nm) == (rect.width_nm, rect.length_nm)


@given(st.text(max_size=12))
def test_a_label_reads_the_same_in_any_case_and_however_often_it_is_read(label: str) -> None:
    assert label_key(label_key(label)) == label_key(label)
    assert label_key(f"  {label} ") == label_key(label)
