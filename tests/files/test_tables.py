"""The lists as people and spreadsheets read them."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.lying import mark_text
from nesting.domain.material import Pattern
from nesting.domain.plan import Consent
from nesting.domain.rules import RuleId
from nesting.files.job_file import parse_job
from nesting.files.tables import (
    CUT_COLUMNS,
    ORDER_COLUMNS,
    REMNANT_COLUMNS,
    cell,
    cut_list_csv,
    order_csv,
    remnants_csv,
)
from nesting.units import parse_length
from tests.files.small_plan import CARPET, MM, small_plan

FORMULA_STARTS = "=+-@\t\r\n＝＋－＠"


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("name", ["cut-list", "remnants", "order"])
def test_the_lists_are_as_kept(name: str, golden: Callable[[str, str], None]) -> None:
    made = {"cut-list": cut_list_csv, "remnants": remnants_csv, "order": order_csv}
    golden(f"files/{name}.csv", made[name](small_plan()))


def test_the_columns() -> None:
    plan = small_plan()
    for text, columns in (
        (cut_list_csv(plan), CUT_COLUMNS),
        (remnants_csv(plan), REMNANT_COLUMNS),
        (order_csv(plan), ORDER_COLUMNS),
    ):
        assert tuple(next(csv.reader(io.StringIO(text)))) == columns


def test_cuts_lie_as_they_are_turned() -> None:
    *_, mat = rows_of(cut_list_csv(small_plan()))
    assert (mat["across mm"], mat["along mm"], mat["turned"]) == ("900", "400", "90")
    assert (mat["source"], mat["kind of source"], mat["lot"]) == ("R-7", "remnant", "A17")


def test_whole_repeats_from_the_last_cut_add_up_to_the_position() -> None:
    first, second, third = rows_of(cut_list_csv(small_plan()))
    assert (first["from"], first["repeats"], first["and mm"]) == ("start", "0", "0")
    # 2823.333 mm lies 2773.333 mm past cut 1: 4 repeats of 640 mm and 213.333, the drop of a third
    assert (second["from"], second["repeats"], second["and mm"]) == ("cut 1", "4", "213.3")
    assert third["from"] == "start"


def test_weights_round_up() -> None:
    first, second, third = rows_of(cut_list_csv(small_plan()))
    assert first["weight kg"] == "10.4"  # 1.6 x 2.6 m of 2.5 kg/m2
    assert second["weight kg"] == "9.0"  # 1.5 x 2.05 + 0.95 x 0.55 m, 8.99 kg
    assert third["weight lb"] == "2.0"  # 0.9 kg is 1.984 lb
    assert second["notched"] == "yes" and first["notched"] == "no"


def test_plain_goods_have_no_repeats_and_perhaps_no_weight() -> None:
    plan = small_plan()
    plain = replace(CARPET, pattern=None, weight_g_per_m2=None)
    plan = replace(plan, job=replace(plan.job, materials=(plain,)))
    for row in rows_of(cut_list_csv(plan)):
        assert row["from"] == row["repeats"] == row["and mm"] == row["weight kg"] == ""
    assert rows_of(remnants_csv(plan))[0]["first mark"] == ""


def test_nothing_is_ordered_against_the_rules() -> None:
    consent = Consent(rule=RuleId.LEAST_BREADTH, owner="den", text="a sliver")
    assert rows_of(order_csv(replace(small_plan(), consents=(consent,)))) == []
    (line,) = rows_of(order_csv(small_plan()))
    assert (line["length mm"], line["cost"], line["currency"]) == ("5500", "134.75", "EUR")


def test_a_remnants_mark_can_be_typed_back() -> None:
    plan = small_plan()
    (offcut,) = plan.materials[0].offcuts
    (row,) = rows_of(remnants_csv(plan))
    text = (
        "job: Next\nunit: m\nrooms: [{name: A, rectangle: 1 x 1}]\nmaterials:\n"
        "  - {name: C, width: 2, repeat along: 640 mm, repeat across: 500 mm, match: drop 1/3, "
        "drop counts: per repeat}\n"
        f"stock:\n  - {{id: O, width: 1.2, length: 1, first mark: '{row['first mark']}'}}\n"
    )
    phase = parse_job(text).job.stock[0].phase_nm
    assert phase is not None and offcut.phase_nm is not None
    # the drop, a third of 640 mm, is not a whole number of tenths of a millimetre
    assert phase[0] == offcut.phase_nm[0] and abs(phase[1] - offcut.phase_nm[1]) <= MM // 10


def test_marks_of_goods_known_at_the_seam_and_of_goods_free_across() -> None:
    source = small_plan().materials[0].sources[0]
    at_seam = replace(CARPET, pattern=Pattern(along_nm=640 * MM, across_nm=2_000 * MM, at_seam=True))
    assert mark_text(at_seam, source, (500 * MM, 40 * MM), "mm") == "1500 mm across, 600 mm along"
    free = replace(CARPET, pattern=Pattern(along_nm=640 * MM))
    assert mark_text(free, source, (0, 40 * MM), "mm") == "600 mm along"
    assert mark_text(free, source, None, "mm") == ""


@given(st.text(max_size=12) | st.text("=+-@＝＋－＠'\";,| \t\r\na1.", max_size=8))
def test_no_cell_is_a_formula_whatever_parts_the_cells(text: str) -> None:
    made = cell(text)
    assert made.isprintable()
    for part in re.split(r"[,;|]", made):
        is_number = re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", part) and part == made
        assert is_number or part.lstrip()[:1] not in {*FORMULA_STARTS}
    if not set(text) & {*FORMULA_STARTS, "'"} and text.isprintable():
        assert unicodedata.normalize("NFKC", text)[:1] in {*"=+-@"} or made == text


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # after the published advice on CSV injection (OWASP Foundation)
        ("=1+1", "'=1+1"), ("+1", "'+1"), ("-a", "'-a"), ("@x", "'@x"), ("\t=1", "' =1"), ("\r=1", "' =1"),
        ("＝1", "'＝1"), ("  =1", "'  =1"), ("\0=1", "' =1"),
        ("a;=1", "a;'=1"), ('a","=1', 'a","\'=1'), ("a| @b", "a| '@b"),
        ("'=1", "''=1"), ("-12", "-12"), ("-0.5", "-0.5"), ("R-7", "R-7"), ("12' 4 1/2\"", "12' 4 1/2\""),
        ("Hall, north-south", "Hall, north-south"), ("=cmd|'/c x'!A1", "'=cmd|'/c x'!A1"),
    ],
)  # fmt: skip
def test_guarded_cells(text: str, wanted: str) -> None:
    assert cell(text) == wanted


def test_a_list_read_with_another_separator_has_no_formula() -> None:
    plan = small_plan()
    part = plan.materials[0]
    sly = replace(part, cuts=tuple(replace(cut, label='x;=1+1;"@y') for cut in part.cuts))
    text = cut_list_csv(replace(plan, materials=(sly,)))
    for separator in (",", ";", "|", "\t"):
        for row in csv.reader(io.StringIO(text), delimiter=separator):
            assert all(value.strip(' "')[:1] not in {*FORMULA_STARTS} or not value.strip(' "') for value in row)


def test_no_name_gets_through_as_a_formula() -> None:
    for text in (cut_list_csv(small_plan()), remnants_csv(small_plan()), order_csv(small_plan())):
        for row in csv.reader(io.StringIO(text)):
            assert all(value[:1] not in {*FORMULA_STARTS} or not value for value in row)


def test_feet_and_millimetres_say_the_same() -> None:
    for row in rows_of(cut_list_csv(small_plan())):
        for name in ("from start", "from left", "across", "along"):
            mm, feet = parse_length(row[f"{name} mm"], "mm"), parse_length(row[f"{name} ft in"], "ft")
            assert abs(mm - feet) <= 25_400_000 // 16
