"""The state file: what it says of a plan, and every way in which it can be wrong."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.job import LoosePiece, Unit
from nesting.domain.material import Material, Pattern
from nesting.domain.plan import Plan, SourceKind
from nesting.domain.state import Delivered, FlawFound, Spoiled, State
from nesting.errors import Fault, JobError
from nesting.files.state_entries import ITEMS, KEYS, MOST_ITEMS, DeliveredEntry, NamesEntry
from nesting.files.state_file import parse_state, read_state
from tests.files.small_plan import CARPET, small_plan
from tests.making import FT, INCH, MM, M, goods, job, planned_whole, rectangle, room

PLAN = small_plan()
"""Cuts 1 and 2 of the den, 1.6 m x 2.6 m and 1.5 m x 2.6 m with a notch, on carpet-roll-1 (2 m x 5.5 m, to order);
cut 3, a mat of 0.4 m x 0.9 m, a quarter turned on R-7 (1.2 m x 1.4 m, in hand), beside the offcut carpet-o1."""

WHOLE = """\
# How far the job is on Friday.
ordered: yes
delivered:
  - roll: carpet-roll-1
    length: 5.42
    width: 1.98
    lot: 7731
    more of this lot: no
    first mark: 12 cm across, 30 cm along
    repeat along: 638 mm
    repeat across: 502 mm
    wound the other way: yes
    flaws:
      - {from start: 2.1, from left: 0.4, size: 0.1 x 0.3}
cut: [3, 1-2]
laid: [Den 1]
spoiled:
  - {cut: 3, left: 0.8 x 0.3}
  - cut: 2
    left:
      - {size: 0.95 x 0.55, from left: 0, from start: 2.05}
      - 1.5 x 2
flaws:
  - {on: carpet-roll-1, from start: 5, length: 0.1}
  - {on: R-7, from start: 14 cm, size: 60 x 10 cm}
gone: [carpet-o1]
"""


def read(text: str, plan: Plan = PLAN) -> State:
    return parse_state(text, plan, file="state.yaml")


def faults(text: str, plan: Plan = PLAN) -> tuple[Fault, ...]:
    with pytest.raises(JobError) as caught:
        read(text, plan)
    assert all(fault.file == "state.yaml" and fault.code and fault.what for fault in caught.value.faults)
    return caught.value.faults


def of(material: Material) -> Plan:
    """Return the plan for other goods."""
    return replace(PLAN, job=replace(PLAN.job, materials=(material,)))


def named(room_id: str, name: str) -> Plan:
    """Return the plan with another name of the den."""
    cuts = tuple(replace(cut, owner=room_id) if cut.owner == "den" else cut for cut in PLAN.materials[0].cuts)
    rooms = (replace(PLAN.job.rooms[0], id=room_id, name=name),)
    return replace(PLAN, job=replace(PLAN.job, rooms=rooms), materials=(replace(PLAN.materials[0], cuts=cuts),))


def mat_called(name: str, plan: Plan) -> Plan:
    """Return the plan with another name of the mat."""
    return replace(plan, job=replace(plan.job, loose=(replace(plan.job.loose[0], name=name),)))


def numbered(*numbers: int) -> Plan:
    """Return the plan with other numbers of its cuts."""
    part = PLAN.materials[0]
    cuts = tuple(replace(cut, number=number) for cut, number in zip(part.cuts, numbers, strict=True))
    return replace(PLAN, materials=(replace(part, cuts=cuts),))


def remnant_called(name: str) -> Plan:
    """Return the plan with another label of the remnant."""
    part = PLAN.materials[0]
    sources = tuple(replace(source, id=name) if source.id == "R-7" else source for source in part.sources)
    places = tuple(replace(place, source_id=name) if place.source_id == "R-7" else place for place in part.placements)
    return replace(PLAN, materials=(replace(part, sources=sources, placements=places),))


# --- what it says ----------------------------------------------------------------------------------------------------


def test_every_key_is_read() -> None:
    assert read(WHOLE) == State(
        ordered=("carpet-roll-1",),
        delivered=(
            Delivered(
                source_id="carpet-roll-1",
                length_nm=5_420 * MM,
                width_nm=1_980 * MM,
                lot="7731",
                lot_orderable=False,
                first_mark_nm=(120 * MM, 300 * MM),
                along_nm=638 * MM,
                across_nm=502 * MM,
                wound_other_way=True,
                flaws=(Rect(400 * MM, 2_100 * MM, 500 * MM, 2_400 * MM),),
                line=4,
            ),
        ),
        cut=("den-1", "den-2", "mat-1"),
        laid=("den-1",),
        spoiled=(
            Spoiled(
                cut_id="den-2",
                left=(Rect(0, 2_050 * MM, 950 * MM, 2_600 * MM), Rect(0, 0, 1_500 * MM, 2_000 * MM)),
                line=19,
            ),
            Spoiled(cut_id="mat-1", left=(Rect(0, 0, 800 * MM, 300 * MM),), line=18),
        ),
        flaws=(
            # Across the whole width that was delivered.
            FlawFound(source_id="carpet-roll-1", rect=Rect(0, 5 * M, 1_980 * MM, 5_100 * MM), line=24),
            FlawFound(source_id="R-7", rect=Rect(0, 140 * MM, 600 * MM, 240 * MM), line=25),
        ),
        gone=("carpet-o1",),
    )


def test_every_key_stands_in_the_example() -> None:
    assert set(KEYS) == {*ITEMS, *(str(info.alias) for info in NamesEntry.model_fields.values())}
    for entry in (*ITEMS.values(), DeliveredEntry, NamesEntry):
        for info in entry.model_fields.values():
            assert f"{info.alias}:" in WHOLE


@pytest.mark.parametrize("text", ["", "# nothing yet\n", "cut:\n", "cut: []\nlaid: []\ndelivered: []\n", "~\n"])
def test_a_file_that_says_nothing_is_a_plan_of_which_nothing_is_done(text: str, tmp_path: Path) -> None:
    path = tmp_path / "state.yaml"
    path.write_text(text, encoding="utf-8")
    assert read_state(path, PLAN) == State()


def test_a_roll_that_came_as_ordered_differs_in_nothing() -> None:
    (came,) = read("delivered: {roll: CARPET-Roll-1}\n").delivered
    assert came == Delivered(source_id="carpet-roll-1", line=1)
    (came,) = read("delivered:\n  roll: carpet-roll-1\n  first mark: unknown\n  more_of_this_lot: yes\n").delivered
    assert came == Delivered(source_id="carpet-roll-1", line=1)


ORDERED: list[tuple[str, tuple[str, ...] | None]] = [
    ("yes", ("carpet-roll-1",)),
    ("All", ("carpet-roll-1",)),
    ("no", ()),
    ("[]", ()),
    ("carpet-roll-1", ("carpet-roll-1",)),
    ("[Carpet-roll-1]", ("carpet-roll-1",)),
    ("", None),
]


@pytest.mark.parametrize(("words", "rolls"), ORDERED)
def test_what_is_ordered(words: str, rolls: tuple[str, ...] | None) -> None:
    assert read(f"ordered: {words}\n").ordered == rolls


CUTS = [
    ("2", "den-2"),
    ("[2, 2, 1]", "den-1 den-2"),
    ("1-2", "den-1 den-2"),
    ("1 – 3", "den-1 den-2 mat-1"),
    ("2 to 3", "den-2 mat-1"),
    ("3-3", "mat-1"),
    ("1, 3", "den-1 mat-1"),
    ("[mat, 'den,']", "den-1 den-2 mat-1"),
    ("Den", "den-1 den-2"),
    ("DEN  2", "den-2"),  # as a cut is called on the list
    ("den-2", "den-2"),
    ("+mat", "mat-1"),
    ("carpet-roll-1", "den-1 den-2"),
    ("r-7", "mat-1"),
    ("all", "den-1 den-2 mat-1"),
]


@pytest.mark.parametrize(("words", "cuts"), CUTS)
@pytest.mark.parametrize("key", ["cut", "laid"])
def test_cuts_are_named_in_many_ways(key: str, words: str, cuts: str) -> None:
    assert getattr(read(f"{key}: {words}\n"), key) == tuple(cuts.split())


def test_a_name_with_a_comma_is_one_name() -> None:
    assert read("cut: Den, small\n", named("den", "Den, small")).cut == ("den-1", "den-2")


def test_a_piece_whose_cuts_are_called_like_it_is_all_its_cuts() -> None:
    part = PLAN.materials[0]
    second = replace(part.cuts[2], id="mat-2", number=4, of_item=1)
    mats = tuple(replace(cut, label="Mat") for cut in (part.cuts[2], second))
    places = (*part.placements, replace(part.placements[2], cut_id="mat-2", y_nm=400 * MM))
    mat = LoosePiece(id="mat", name="Mat", material_id="carpet", width_nm=400 * MM, length_nm=900 * MM, count=2)
    twice = replace(part, cuts=(*part.cuts[:2], *mats), placements=places)
    plan = replace(PLAN, job=replace(PLAN.job, loose=(mat,)), materials=(twice,))
    assert read("cut: Mat\n", plan).cut == ("mat-1", "mat-2")


def test_numbers_come_before_labels_and_may_have_gaps() -> None:
    assert read("cut: 3\n", remnant_called("3")).cut == ("mat-1",)
    assert read("cut: 7731\n", remnant_called("7731")).cut == ("mat-1",)
    assert read("cut: 1-9\n", numbered(1, 4, 9)).cut == ("den-1", "den-2", "mat-1")
    assert read("cut: 1-4\n", numbered(1, 4, 9)).cut == ("den-1", "den-2")


def test_ids_come_before_names() -> None:
    assert read("cut: mat\n", named("den", "Mat")).cut == ("mat-1",)


@pytest.mark.parametrize("word", ["nothing", "None", "[]"])
def test_nothing_may_be_left(word: str) -> None:
    assert read(f"spoiled: {{cut: 2, left: {word}}}\n").spoiled == (Spoiled(cut_id="den-2", line=1),)


def test_all_of_a_cut_may_be_left() -> None:
    (mat,) = read("spoiled: {cut: 3, left: 0.9 x 0.4}\n").spoiled  # as it lay on the roll, a quarter turned
    assert mat.left == (Rect(0, 0, 900 * MM, 400 * MM),)
    (den,) = read("spoiled: {cut: 1, left: {size: 1.6 x 2.5, from start: 10 cm}}\n").spoiled
    assert den.left == (Rect(0, 100 * MM, 1_600 * MM, 2_600 * MM),)


def test_bare_numbers_are_in_the_unit_of_the_job() -> None:
    plan = replace(PLAN, job=replace(PLAN.job, unit=Unit.FOOT))
    (came,) = read("delivered: {roll: carpet-roll-1, length: 18, width: 6' 6\"}\n", plan).delivered
    assert (came.length_nm, came.width_nm) == (18 * FT, 78 * INCH)


def test_goods_that_do_not_vary_across_have_a_mark_along() -> None:
    plan = of(replace(CARPET, pattern=Pattern(along_nm=640 * MM)))
    (came,) = read("delivered: {roll: carpet-roll-1, first mark: 30 cm along, repeat along: 64.2 cm}\n", plan).delivered
    assert (came.first_mark_nm, came.along_nm) == ((0, 300 * MM), 642 * MM)


def test_all_stands_in_the_order_of_the_plan_whatever_that_of_the_file() -> None:
    part = PLAN.materials[0]
    second = replace(part.sources[0], id="carpet-roll-2")
    offcuts = (*part.offcuts, replace(part.offcuts[0], id="carpet-o2"))
    plan = replace(PLAN, materials=(replace(part, sources=(*part.sources, second), offcuts=offcuts),))
    state = read(
        "ordered: [carpet-roll-2, carpet-roll-1]\ndelivered: [{roll: carpet-roll-2}, {roll: carpet-roll-1}]\n"
        "flaws: [{on: carpet-roll-2, from start: 1, length: 1}, {on: R-7, from start: 1, length: 0.2}]\n"
        "gone: [carpet-o2, carpet-o1]\nspoiled: [{cut: 3, left: nothing}, {cut: 1, left: nothing}]\n",
        plan,
    )
    assert state.ordered == ("carpet-roll-1", "carpet-roll-2")
    assert [came.source_id for came in state.delivered] == ["carpet-roll-1", "carpet-roll-2"]
    assert [flaw.source_id for flaw in state.flaws] == ["R-7", "carpet-roll-2"]
    assert state.gone == ("carpet-o1", "carpet-o2")
    assert [spoiled.cut_id for spoiled in state.spoiled] == ["den-1", "mat-1"]


def test_a_plan_as_it_is_made() -> None:
    rooms = (room(rectangle(3 * M, 2 * M), "den"), room(rectangle(2 * M, 2 * M), "nook"))
    plan = planned_whole(job(rooms, goods(2 * M)), effort=0)
    (part,) = plan.materials
    assert read("ordered: order-1\nlaid: den\ncut: order-1\n", plan) == State(
        ordered=("order-1",),
        cut=tuple(cut.id for cut in part.cuts),
        laid=tuple(cut.id for cut in part.cuts if cut.owner == "den"),
    )


# --- what is wrong with it -------------------------------------------------------------------------------------------

ROLL = "delivered:\n  - roll: carpet-roll-1\n"
REFUSED: list[tuple[str, str, int, str, str, str]] = [
    # --- the file itself
    ("- cut\n", "not-a-state", 1, "", "this is not a state file", ""),
    ("cut: [1\n", "not-yaml", 2, "", "this is not YAML", "indent"),
    ("cut: 1\n---\ncut: 2\n", "two-documents", 2, "", "a second document", "one state a file"),
    ("cut: &a [1]\n", "alias", 1, "", "anchors", "write the values out"),
    ("cut: 1\ncut: 2\n", "key-twice", 2, "", "the key `cut` stands twice", "leave one"),
    # --- keys
    ("\ncuts: 1\n", "unknown-key", 2, "cuts", "`cuts` is not a key of a state", "`cut`"),
    (ROLL + "    lenght: 5\n", "unknown-key", 3, "delivered[0].lenght", "`lenght`", "`length`"),
    (ROLL + "    flaws:\n      from start: 1\n      lenght: 1\n", "unknown-key", 5, "delivered[0].flaws[0].lenght",
     "`lenght`", "`length`"),
    ("delivered:\n  rol: carpet-roll-1\n  roll: carpet-roll-1\n", "unknown-key", 2, "delivered[0].rol", "`rol`",
     "`roll`"),
    ("spoiled:\n  - cut: 1\n    left:\n      size: 1 x 1\n      from top: 1\n", "unknown-key", 5,
     "spoiled[0].left[0].from top", "`from top`", "`from left`"),
    ("flaws: {on: R-7, from start: 1, length: 0.1, wide: 1}\n", "unknown-key", 1, "flaws[0].wide", "`wide`", "size"),
    ("delivered: {length: 5}\n", "missing-key", 1, "delivered[0].roll", "the key `roll` is missing", ""),
    ("spoiled:\n  - left: nothing\n", "missing-key", 2, "spoiled[0].cut", "the key `cut` is missing", ""),
    ("spoiled:\n  - cut: 1\n", "missing-key", 2, "spoiled[0]", "the key `left` is missing", "or `nothing`"),
    ("spoiled:\n  - {cut: 1, left: {from left: 1}}\n", "missing-key", 2, "spoiled[0].left[0].size", "`size`", ""),
    ("flaws: {on: R-7, from start: 1}\n", "missing-key", 1, "flaws[0]", "how large the flaw is", "`length`"),
    ("flaws: {on: R-7, size: 1 x 1}\n", "missing-key", 1, "flaws[0].from start", "`from start`", ""),
    ("flaws: {from start: 1, length: 0.1}\n", "missing-key", 1, "flaws[0].on", "`on`", ""),
    ("flaws: {on: R-7, from start: 1, size: 1 x 0.1, length: 0.1}\n", "given-twice", 1, "flaws[0]", "whole width",
     "`size`"),
    ("flaws: {on: R-7, from start: 1, from left: 1, length: 0.1}\n", "given-twice", 1, "flaws[0]", "whole width",
     "`size`"),
    # --- values
    ("ordered: {a: 1}\n", "wrong-type", 1, "ordered[0]", "text is expected", ""),
    ("delivered: carpet-roll-1\n", "wrong-type", 1, "delivered[0]", "keys with values", "key: value"),
    ("delivered: [[1]]\n", "wrong-type", 1, "delivered[0]", "keys with values", ""),
    (ROLL + "    wound the other way: perhaps\n", "wrong-type", 3, "delivered[0].wound the other way", "'perhaps'",
     "yes or no"),
    (ROLL + "    flaws: 3\n", "wrong-type", 3, "delivered[0].flaws[0]", "keys with values", ""),
    (ROLL + "    length: 0\n", "zero-size", 3, "delivered[0].length", "'0' is zero", ""),
    (ROLL + "    width: -1\n", "negative-size", 3, "delivered[0].width", "'-1' is negative", ""),
    (ROLL + "    length: 11 km\n", "unknown-unit", 3, "delivered[0].length", "'km'", "units"),
    (ROLL + f"    length: {'9' * 50}\n", "absurd-size", 3, "delivered[0].length", "10 km", "unit"),
    (ROLL + "    repeat along: 0\n", "zero-size", 3, "delivered[0].repeat along", "zero", ""),
    ("spoiled:\n  - {cut: 1, left: 0 x 1}\n", "zero-size", 2, "spoiled[0].left[0].size", "'0' is zero", ""),
    ("spoiled:\n  - {cut: 1, left: [nothing]}\n", "bad-size", 2, "spoiled[0].left[0].size", "'nothing'", ""),
    ("spoiled:\n  - {cut: 1, left: [[1]]}\n", "wrong-type", 2, "spoiled[0].left[0]", "keys with values", ""),
    ("flaws: {on: R-7, from start: -1, length: 0.1}\n", "negative-size", 1, "flaws[0].from start", "negative", ""),
    (f"cut: [{', '.join(['1'] * (MOST_ITEMS + 1))}]\n", "too-large", 1, "cut", "more than 1000", "ranges"),
    (f"gone: [{'x' * 81}]\n", "bad-name", 1, "gone[0]", "too long", "80"),
    ("delivered:\n" + "  - {roll: x}\n" * (MOST_ITEMS + 1), "too-large", 1, "delivered", "more than 1000", "join"),
    # --- what the names mean
    ("ordered:\n  - carpet-rol-1\n", "unknown-name", 2, "ordered[0]", "no roll or remnant 'carpet-rol-1'",
     "`carpet-roll-1`"),
    ("delivered:\n  - roll: order-9\n", "unknown-name", 2, "delivered[0].roll", "'order-9'", "R-7"),
    ("cut: [1, Dne]\n", "unknown-name", 1, "cut[1]", "no room, piece, roll or cut 'Dne'", "`Den`"),
    ("laid:\n  - 1\n  - Attic\n", "unknown-name", 3, "laid[1]", "'Attic'", "Den"),
    ("flaws:\n  - {on: R7, from start: 1, length: 0.1}\n", "unknown-name", 2, "flaws[0].on", "'R7'", "`R-7`"),
    ("gone: [carpet-01]\n", "unknown-name", 1, "gone[0]", "no offcut 'carpet-01'", "`carpet-o1`"),
    ("spoiled: {cut: Hall, left: nothing}\n", "unknown-name", 1, "spoiled[0].cut", "'Hall'", "Den"),
    ("cut: 4\n", "unknown-number", 1, "cut[0]", "no cut number 4", "from 1 to 3"),
    ("cut: [2-5]\n", "unknown-number", 1, "cut[0]", "no cut number 5", "from 1 to 3"),
    ("cut: 0-999999999999999999999999\n", "unknown-number", 1, "cut[0]", "no cut number", "from 1 to 3"),
    ("cut: 3-1\n", "range-backwards", 1, "cut[0]", "3-1 runs backwards", "1-3"),
    ("spoiled: {cut: Den, left: nothing}\n", "several-cuts", 1, "spoiled[0].cut", "2 cuts", "1, 2"),
    # --- what cannot be
    ("ordered: [R-7]\n", "not-ordered", 1, "ordered[0]", "R-7 is in hand", "`flaws`"),
    ("delivered:\n  - roll: R-7\n", "not-ordered", 2, "delivered[0].roll", "R-7 is in hand", "`flaws`"),
    (ROLL + "  - roll: Carpet-Roll-1\n", "given-twice", 3, "delivered[1].roll", "the other is on line 2", "one entry"),
    ("spoiled:\n  - {cut: 1, left: nothing}\n  - {cut: Den 1, left: 1 x 1}\n", "given-twice", 3, "spoiled[1].cut",
     "cut 1 (Den 1) is spoiled twice; the other is on line 2", "leave one out"),
    ("laid:\n  - Den\nspoiled:\n  - {cut: 1, left: nothing}\n", "spoiled-and-laid", 4, "spoiled[0].cut",
     "cut 1 (Den 1) is spoiled, and laid on line 2", "without this one"),
    (ROLL + "    length: 5\n    flaws:\n      - {from start: 4.9, size: 0.1 x 0.2}\n", "flaw-outside", 5,
     "delivered[0].flaws[0]", "2.000 m x 5.000 m", "place"),
    ("flaws: {on: R-7, from start: 1, from left: 1, size: 0.3 x 0.1}\n", "flaw-outside", 1, "flaws[0]",
     "1.200 m x 1.400 m", "place"),
    (ROLL + "    length: 5\nflaws:\n  - {on: carpet-roll-1, from start: 5, length: 0.1}\n", "flaw-outside", 5,
     "flaws[0]", "2.000 m x 5.000 m", "place"),
    ("spoiled:\n  - cut: 3\n    left: 0.4 x 0.9\n", "left-outside", 3, "spoiled[0].left[0]",
     "cut 3 (+Mat), which is 0.900 m x 0.400 m as it lay on the roll", "lower left"),
    ("spoiled:\n  - cut: 2\n    left:\n      - 1 x 1\n      - {size: 1 x 1, from start: 1.6}\n", "left-outside", 5,
     "spoiled[0].left[1]", "1.500 m x 2.600 m as it lay on the roll, with a notch", "lower left"),
    ("spoiled:\n  - cut: 1\n    left: [1 x 1, {size: 1 x 1, from left: 0.5}, 0.2 x 0.2]\n", "left-overlaps", 3,
     "spoiled[0].left[1]", "cut 1 (Den 1) overlap", "once"),
    (ROLL + "    first mark: 5 cm\n", "bad-mark", 3, "delivered[0].first mark", "'5 cm'", "across"),
    (ROLL + "    first mark: 5 cm across, 1 mile along\n", "unknown-unit", 3, "delivered[0].first mark", "mile", ""),
    (ROLL + "    first mark: -5 cm across, 5 cm along\n", "negative-size", 3, "delivered[0].first mark", "lies on", ""),
    (ROLL + "    first mark: 5 cm across, 6 m along\n", "mark-outside", 3, "delivered[0].first mark", "does not lie",
     "first mark"),
    (ROLL + "    first mark: 5 m across, 5 cm along\n", "mark-outside", 3, "delivered[0].first mark", "does not lie",
     "first mark"),
    (ROLL + "    repeat along: 320 mm\n", "repeat-differs", 3, "delivered[0].repeat along", "0.640 m", "other goods"),
    (ROLL + "    repeat across: 1\n", "repeat-differs", 3, "delivered[0].repeat across", "0.500 m", "other goods"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "line", "where", "what", "hint"), REFUSED, ids=[r[0][:60] for r in REFUSED])
def test_what_is_wrong_is_said(text: str, code: str, line: int, where: str, what: str, hint: str) -> None:
    found = faults(text)
    if text.startswith("cut: 0-9"):
        assert len(found) == 2  # both ends
    else:
        assert len(found) == 1
    assert (found[0].code, found[0].line, found[0].where) == (code, line, where)
    assert what in found[0].what and hint in found[0].hint


def test_goods_without_what_was_measured() -> None:
    measured = {
        "first mark": "5 cm across, 5 cm along",
        "repeat along": "638 mm",
        "repeat across": "502 mm",
    }
    plain = of(replace(CARPET, pattern=None))
    for key, value in measured.items():
        (fault,) = faults(f"{ROLL}    {key}: {value}\n", plain)
        assert (fault.code, fault.line, fault.where) == ("no-repeat", 3, f"delivered[0].{key}")
        assert "=Carpet" in fault.what and fault.hint
    assert CARPET.pattern is not None
    for pattern in (Pattern(along_nm=640 * MM), replace(CARPET.pattern, at_seam=True)):
        (fault,) = faults(f"{ROLL}    repeat across: 502 mm\n", of(replace(CARPET, pattern=pattern)))
        assert (fault.code, fault.where) == ("no-repeat", "delivered[0].repeat across")


def test_a_width_that_carries_nothing() -> None:
    (fault,) = faults(f"{ROLL}    width: 0.02\n", of(replace(CARPET, selvedge_nm=10 * MM)))
    assert (fault.code, fault.line, fault.where) == ("roll-eaten", 3, "delivered[0].width")
    wide = Pattern(along_nm=640 * MM, across_nm=2 * M, drop_nm=Fraction(0))
    (fault,) = faults(f"{ROLL}    repeat across: 2.01\n", of(replace(CARPET, pattern=wide)))
    assert (fault.code, fault.line, fault.where) == ("repeat-too-wide", 3, "delivered[0].repeat across")
    assert "2.000 m" in fault.what


AMBIGUOUS: list[tuple[str, Callable[[], Plan], str, str]] = [
    ("den", lambda: remnant_called("Den"), "room Den or remnant Den", "give the numbers of the cuts"),
    (
        "a mat",
        lambda: mat_called("A mat", named("den", "A mat")),
        "room A mat or loose piece A mat",
        "give the numbers",
    ),
    ("den 1", lambda: mat_called("Den 1", PLAN), "loose piece Den 1 or cut 1", "give the numbers of the cuts"),
    ("All", lambda: named("all", "All"), "all cuts or room All", "give the numbers of the cuts"),
    ("1-2", lambda: remnant_called("1-2"), "cuts 1 to 2 or remnant 1-2", "one by one"),
]


@pytest.mark.parametrize(("name", "plan", "said", "hint"), AMBIGUOUS, ids=[case[0] for case in AMBIGUOUS])
def test_a_name_that_may_mean_two_things_is_refused(name: str, plan: Callable[[], Plan], said: str, hint: str) -> None:
    (fault,) = faults(f"cut: {name}\n", plan())
    assert fault.code == "ambiguous-name" and said in fault.what and hint in fault.hint


def test_rolls_that_differ_in_case_alone() -> None:
    (fault,) = faults(ROLL, remnant_called("Carpet-Roll-1"))
    assert fault.code == "ambiguous-name" and "carpet-roll-1 or Carpet-Roll-1" in fault.what and fault.hint


def test_a_roll_in_hand_is_called_a_roll() -> None:
    plan = remnant_called("Den")
    part = plan.materials[0]
    sources = tuple(replace(source, kind=SourceKind.ROLL) if source.id == "Den" else source for source in part.sources)
    (fault,) = faults("cut: den\n", replace(plan, materials=(replace(part, sources=sources),)))
    assert "room Den or roll Den" in fault.what


def test_a_plan_without_cuts_has_no_numbers() -> None:
    part = replace(PLAN.materials[0], cuts=(), placements=())
    (fault,) = faults("cut: 1\n", replace(PLAN, materials=(part,)))
    assert fault.code == "unknown-number"


def test_all_is_said_at_once_in_the_order_of_the_lines() -> None:
    text = (
        "odrered: yes\nordered: [order-1]\ndelivered:\n  - {roll: R-7}\n  - {roll: carpet-roll-1, length: much}\n"
        "cut: [9, Attic]\nlaid: 2-1\nspoiled:\n  - {cut: 1}\n  - {cut: 2, left: 3 x 3}\n"
        "flaws: {on: R-7, from start: 2, length: 1}\ngone: x\n"
    )
    assert [(fault.line, fault.code) for fault in faults(text)] == [
        (1, "unknown-key"),
        (2, "unknown-name"),
        (4, "not-ordered"),
        (5, "bad-length"),
        (6, "unknown-number"),
        (6, "unknown-name"),
        (7, "range-backwards"),
        (9, "missing-key"),
        (10, "left-outside"),
        (11, "flaw-outside"),
        (12, "unknown-name"),
    ]


def test_a_file_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(JobError) as caught:
        read_state(tmp_path / "state.yaml", PLAN)
    (fault,) = caught.value.faults
    assert fault.code == "no-file" and "state file" in fault.what


# --- whatever stands in it -------------------------------------------------------------------------------------------

WORDS = ["0", "-1", "1e9", "nan", "~", "[]", "{}", "x", "yes", "1 x 1", "1/0", "'", '"', "10000 m", "\t", "&a", "*a",
         "9" * 50, "3-1", "1-2-3", "- 1", ",", "','", "nothing", "[[]]", "[{}]", "[~]", "{left: {}}"]  # fmt: skip


def read_or_refused(text: str) -> None:
    try:
        assert isinstance(read(text), State)
    except JobError as error:
        assert error.faults
        assert all(fault.code and fault.what for fault in error.faults)


@settings(max_examples=200)
@given(st.data())
def test_spoiled_values(data: st.DataObject) -> None:
    lines = WHOLE.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        head, colon, _ = lines[at].partition(": ")
        lines[at] = head + colon + data.draw(st.sampled_from(WORDS))
    read_or_refused("\n".join(lines))


@settings(max_examples=100)
@given(st.data())
def test_signs_changed_and_lines_lost(data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(WHOLE) - 1))
    sign = data.draw(st.sampled_from(list("0123456789.-x/:,[]{}'\"#&*!|>%@` \n\t")) | st.characters())
    lines = (WHOLE[:at] + sign + WHOLE[at + 1 :]).splitlines()
    del lines[data.draw(st.integers(0, len(lines) - 1))]
    read_or_refused("\n".join(lines))


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("word", WORDS)
def test_any_value_of_a_key(key: str, word: str) -> None:
    read_or_refused(f"{key}: {word}\n")


@pytest.mark.parametrize(
    "text",
    [
        "cut: [" + "1-3, " * 50_000 + "]\n",
        "cut: [" + ", ".join(f"Attic {n}" for n in range(MOST_ITEMS)) + "]\n",
        "spoiled: {cut: 1, left: [" + "0.1 x 0.1, " * MOST_ITEMS + "]}\n",
        "spoiled:\n" + "  - {cut: 1, left: 1 x 1}\n" * 3_000,
        "flaws: " + "[" * 500_000,
        "cut: " + "1" * 1_900_000,
    ],
)
def test_bombs_are_refused_soon(text: str) -> None:
    began = time.process_time()
    read_or_refused(text)
    assert time.process_time() - began < 10


def test_every_code_of_the_reader_is_tested() -> None:
    folder = Path(__file__).parents[2] / "nesting" / "files"
    parts = ("entries", "names", "rolls", "file")
    source = "".join((folder / f"state_{part}.py").read_text(encoding="utf-8") for part in parts)
    codes = set(re.findall(r'"([a-z]+(?:-[a-z]+)+)"', source))
    tests = Path(__file__).read_text(encoding="utf-8")
    assert len(codes) > 15
    assert sorted(code for code in codes - {"empty-file"} if f'"{code}"' not in tests) == []
