"""Sundries in the job file: amounts and rates as written, which place counts, faults; and the list as CSV."""

from __future__ import annotations

import contextlib
import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from nesting.domain.sundries import (
    NOUNS,
    UNITS,
    Amount,
    Fixing,
    Measure,
    Rate,
    StockLength,
    Sundries,
    Sundry,
    SundryKind,
    Walls,
)
from nesting.errors import JobError
from nesting.files.job_file import parse_job
from nesting.files.plan_file import dump_plan, parse_plan
from nesting.files.sundry_entries import amount_in
from nesting.files.sundry_tables import SUNDRY_COLUMNS, sundries_csv
from nesting.sundries import sundries_of, sundry_words
from tests.files.small_plan import small_plan
from tests.files.test_schema import against_schema
from tests.making import CM, FT, INCH, MM, M
from tests.sundries.plans import plan_of, read

EVERY_KEY = """
job: House
unit: m
currency: EUR
sundries:
  primer: {rate: 8 m2 per l, pack: 5 l, price: 31.50}
  adhesive: {name: Dispersion, rate: 0.25 kg per m2, pack: 15 kg, price: 62, waste: 5 %, band: 15 cm}
  tape: {pack: 25 m, price: 9, around: [fixture, island]}
  underlay: {width: 1.37 m, pack: 11 m, price: 44}
  gripper: {rate: 1.2 m per strip, pack: 100 strips, price: 40, around: column}
  seam sealer: {rate: 45 m per tube, price: 12, rooms: Kitchen}
  seaming tape: {pack: 20 m, price: 15}
  weld rod: {pack: 50 m, cove joints: yes}
  caulk: {gap: 6 mm, depth: 10 mm, pack: 310 ml, price: 4.20}
  transition: {lengths: [0.9, 1.8], prices: [8, 14]}
  skirting:
    - {name: Oak, rooms: [Lounge], lengths: [2.4, 3], prices: [4.10, 5], kerf: 3 mm, least joint: 40 cm, joints: yes}
    - {name: Pine, rooms: [Kitchen], walls: plain, without: [Kitchen / west], around: []}
  cove: {walls: coved, pack: 30 m}
  quarter round: {pack: 2.4 m, price: 3}
  leave out: []
materials:
  - {name: Sheet, width: 2 m, sundries: {adhesive: {name: Own, rate: 4 m2 per kg}}}
  - {name: Carpet, width: 4 m, fixing: stretched}
  - {name: Mat, width: 4 m, fixing: loose lay, loose up to: 20 sq yd}
rooms:
  - {name: Kitchen, material: Sheet, rectangle: 3 x 2.5}
  - {name: Lounge, material: Carpet, rectangle: 5 x 4, doors: [{wall: south, from left: 1, width: 80 cm}]}
  - {name: Den, material: Mat, rectangle: 3 x 3}
"""


def test_every_key_is_read() -> None:
    sundries = read(EVERY_KEY).sundries
    goods = [sundries.laid_how(name) for name in ("sheet", "carpet", "mat")]
    assert [how.fixing for how in goods] == [Fixing.FULL_SPREAD, Fixing.STRETCHED, Fixing.LOOSE_LAY]
    assert [how.loose_up_to_nm2 for how in goods] == [None, None, 20 * (3 * FT) ** 2]
    by_name = {product.name: product for product in sundries.products}
    assert by_name["Own"].material_ids == ("sheet",)
    assert "Dispersion" not in by_name  # nothing is left for it: the other goods are not glued
    assert by_name["Underlay"].material_ids == ("carpet",) and by_name["Underlay"].width_nm == 1_370 * MM
    assert by_name["Tape"].around == ("fixture", "island") and by_name["Tape"].material_ids == ("mat",)
    assert by_name["Weld rod"].cove_joints and by_name["Weld rod"].material_ids == ("sheet", "mat")
    oak, pine = by_name["Oak"], by_name["Pine"]
    assert oak.lengths == (
        StockLength(length_nm=2_400 * MM, price=410),
        StockLength(length_nm=3 * M, price=500),
    )
    assert (oak.kerf_nm, oak.least_joint_nm, oak.room_ids) == (3 * MM, 40 * CM, ("lounge",))
    assert pine.walls is Walls.PLAIN and pine.without == (("kitchen", "west"),) and pine.around == ()
    sealer = by_name["Seam sealer"]
    assert sealer.rate is not None and sealer.rate.product.noun == "tube" and sealer.rate.basis.quantity == 45 * M
    assert sealer.pack is not None and sealer.pack.text == "1 tube" and sealer.price == 1200
    assert [product.line > 0 for product in sundries.products] == [True] * len(sundries.products)


def test_every_key_validates_and_a_wrong_one_does_not() -> None:
    assert against_schema(EVERY_KEY) == []
    assert against_schema(EVERY_KEY.replace("cove joints", "cove joint"))


def test_the_plan_file_keeps_them() -> None:
    plan = plan_of(EVERY_KEY)
    again = parse_plan(dump_plan(plan))
    assert again.job.sundries == plan.job.sundries and sundries_of(again) == sundries_of(plan)


@pytest.mark.parametrize(
    ("text", "measure", "quantity"),
    [
        ("15 kg", Measure.WEIGHT, Fraction(15_000)),
        ("2.5 lb", Measure.WEIGHT, Fraction(5, 2) * UNITS["lb"][1]),
        ("4 gal", Measure.VOLUME, 4 * UNITS["gal"][1]),
        ("10.1 fl. oz.", Measure.VOLUME, Fraction(101, 10) * UNITS["fl oz"][1]),
        ("1/2 litre", Measure.VOLUME, Fraction(500)),
        ("12 m²", Measure.AREA, Fraction(12 * M**2)),
        ("100 sq. ft", Measure.AREA, Fraction(100 * FT**2)),
        ("30 square yards", Measure.AREA, Fraction(30 * 9 * FT**2)),
        ("60 ft", Measure.LENGTH, Fraction(60 * FT)),
        ("12' 6\"", Measure.LENGTH, Fraction(150 * INCH)),
        ("2 1/2 m", Measure.LENGTH, Fraction(2_500 * MM)),
        ("10 pieces", Measure.PIECES, Fraction(10)),
        ("2 boxes", Measure.PIECES, Fraction(2)),
    ],
)
def test_amounts(text: str, measure: Measure, quantity: Fraction) -> None:
    amount = amount_in(text)
    assert (amount.measure, amount.quantity) == (measure, quantity)
    assert amount.text == text


@pytest.mark.parametrize(
    "text", ["", "15", "kg", "15 kilos of it", "-2 l", "0 l", "1e9 m", "9999999999 kg", "1/0 l", "2,5 l"]
)
def test_what_is_no_amount(text: str) -> None:
    with pytest.raises(PydanticCustomError):
        amount_in(text)


@given(st.text(max_size=20))
def test_no_text_breaks_the_reading_of_amounts(text: str) -> None:
    with contextlib.suppress(PydanticCustomError):
        assert amount_in(text).quantity > 0


@given(st.integers(1, 10**5), st.sampled_from([*UNITS, *NOUNS]))
def test_amounts_are_exact(number: int, unit: str) -> None:
    per = UNITS[unit][1] if unit in UNITS else 1
    assert amount_in(f"{number}/8 {unit}").quantity == Fraction(number, 8) * per


# --- faults ----------------------------------------------------------------------------------------------------------


def job(sundries: str, material: str = "") -> str:
    goods = f"materials:\n  - {{name: Sheet, width: 2 m{material}}}\n"
    return f"job: Bad\nunit: m\n{goods}rooms:\n  - {{name: Den, rectangle: 3 x 2.5}}\nsundries:\n  {sundries}\n"


FAULTS = {
    "unknown kind": ("adhesiv: {pack: 15 kg}", "unknown-key"),
    "unknown key": ("primer: {rat: 8 m2 per l}", "unknown-key"),
    "a key of another kind": ("primer: {gap: 6 mm}", "unknown-key"),
    "no rate": ("primer: {rate: much}", "bad-rate"),
    "a rate by the wrong measure": ("primer: {rate: 8 m per l}", "bad-rate"),
    "no unit": ("primer: {rate: 8 per l}", "bad-amount"),
    "a pack without unit": ("primer: {pack: 15}", "bad-amount"),
    "a pack of nothing": ("primer: {pack: 0 l}", "zero-size"),
    "an absurd pack": ("primer: {pack: 99999999 m2}", "absurd-size"),
    "a pack of something else": ("primer: {rate: 8 m2 per l, pack: 15 kg}", "pack-differs"),
    "a pack of other pieces": ("seam sealer: {rate: 45 m per tube, pack: 2 rolls}", "pack-differs"),
    "a price of nothing": ("primer: {rate: 8 m2 per l, price: 12}", "missing-key"),
    "no price": ("primer: {rate: 8 m2 per l, pack: 5 l, price: dear}", "bad-money"),
    "an absurd price": ("primer: {pack: 5 m2, price: 99999999999}", "absurd-size"),
    "waste of all": ("primer: {rate: 8 m2 per l, waste: 100 %}", "too-large"),
    "no such room": ("primer: {rooms: Dne}", "unknown-name"),
    "no such wall": ("skirting: {without: Den / top}", "unknown-name"),
    "a wall without room": ("skirting: {without: north}", "bad-name"),
    "no such choice of walls": ("skirting: {walls: some}", "unknown-name"),
    "no such cut-out": ("caulk: {around: sink}", "unknown-name"),
    "left out of nothing": ("leave out: glue", "unknown-name"),
    "gap and rate": ("caulk: {gap: 6 mm, rate: 12 m per tube}", "given-twice"),
    "width and rate": ("underlay: {width: 1 m, rate: 10 m2 per roll}", "given-twice"),
    "lengths and pack": ("skirting: {lengths: 2.4, pack: 10 m}", "given-twice"),
    "lengths and waste": ("skirting: {lengths: 2.4, waste: 5 %}", "given-twice"),
    "a length twice": ("skirting: {lengths: [2.4, 2400 mm]}", "given-twice"),
    "too many lengths": (f"skirting: {{lengths: [{', '.join(map(str, range(2, 23)))}]}}", "too-large"),
    "no length": ("skirting: {lengths: []}", "missing-key"),
    "a price too few": ("skirting: {lengths: [2.4, 3], prices: 4}", "bad-price"),
    "one price for lengths": ("skirting: {lengths: 2.4, price: 4}", "missing-key"),
    "a kerf of nothing": ("skirting: {kerf: 3 mm}", "missing-key"),
    "lengths too short to join": ("skirting: {lengths: 0.5}", "too-large"),
    "a band by length": ("adhesive: {band: 10 cm, rate: 4 m per tube}", "bad-rate"),
    "a list": ("primer: [[1]]", "wrong-type"),
    "words": ("primer: yes", "wrong-type"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_faults(name: str) -> None:
    text, code = FAULTS[name]
    with pytest.raises(JobError) as caught:
        parse_job(job(text), file="bad.yaml")
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == (code, 8)
    assert fault.where.startswith(f"sundries.{text.split(':')[0]}")


@pytest.mark.parametrize(
    ("material", "code"),
    [
        (", fixing: nailed", "unknown-name"),
        (", loose up to: 20 m2", "not-loose"),
        (", fixing: loose lay, loose up to: 20 m", "bad-amount"),
        (", sundries: {leave out: primer, primer: {}}", "given-twice"),
        (", sundries: {primer: {pack: 1 kg}}", "pack-differs"),
    ],
)
def test_faults_of_a_material(material: str, code: str) -> None:
    with pytest.raises(JobError) as caught:
        parse_job(job("primer: {}", material), file="bad.yaml")
    assert [(fault.code, fault.line) for fault in caught.value.faults] == [(code, 4)]


def test_all_faults_are_said_at_once_each_with_its_line() -> None:
    text = job("skirting:\n    - {lengths: 2.4, pack: 10 m}\n    - {lengths: 3, kerf: 3 mm, prices: [1, 2]}")
    with pytest.raises(JobError) as caught:
        parse_job(text, file="bad.yaml")
    assert [(fault.code, fault.line) for fault in caught.value.faults] == [("given-twice", 9), ("bad-price", 10)]


def test_a_room_that_could_not_be_read_is_not_also_unknown() -> None:
    text = job("primer: {rooms: Den}").replace("3 x 2.5", "3 by")
    with pytest.raises(JobError) as caught:
        parse_job(text)
    assert [fault.code for fault in caught.value.faults] == ["bad-size"]


def test_a_cut_out_at_a_wall_stays_known_by_its_kind() -> None:
    text = job("primer: {}").replace(
        "3 x 2.5}", "3 x 2.5, cut out: [{kind: fixture, wall: north, from left: 0, width: 1 m, depth: 0.5 m}]}"
    )
    kinds = [edge.cut_out for edge in read(text).rooms[0].edges if edge.cut_out]
    assert kinds == ["fixture", "fixture"]  # it stands in a corner


# --- CSV -------------------------------------------------------------------------------------------------------------


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_the_list_as_csv() -> None:
    plan = plan_of(EVERY_KEY)
    text = sundries_csv(plan)
    assert text == sundries_csv(plan)
    assert tuple(next(csv.reader(io.StringIO(text)))) == SUNDRY_COLUMNS
    found = rows(text)
    order = [kind.value for kind in SundryKind]
    assert [row["kind"] for row in found] == sorted((row["kind"] for row in found), key=order.index)
    primer = found[0]
    assert (primer["name"], primer["material"], primer["currency"]) == ("Primer", "Sheet", "EUR")
    assert (primer["needed"], primer["unit"], primer["needed us"], primer["unit us"]) == ("0.94", "l", "0.25", "gal")
    assert (primer["packs"], primer["to buy"], primer["cost"]) == ("1", "1 x 5 l", "31.50")
    oak = next(row for row in found if row["name"] == "Oak")
    assert oak["packs"] == "" and oak["cut"].count(" x ") == len(oak["cut"].split("; "))
    total = sum(Fraction(row["cost"] or "0") for row in found)
    assert total * 100 == sundries_of(plan).cost


def test_the_list_is_as_kept(golden: Callable[[str, str], None]) -> None:
    """A den with one seam, laid by hand: every way to buy, a name that a spreadsheet would take for a formula."""
    plan = small_plan()
    sheet = {"material_ids": ("carpet",)}
    metres, litres = Measure.LENGTH, Measure.VOLUME
    rate = Rate(
        product=Amount(measure=litres, quantity=Fraction(1000), text="l"),
        basis=Amount(measure=Measure.AREA, quantity=Fraction(8 * M**2), text="8 m2"),
        text="8 m2 per l",
    )
    products = (
        Sundry(kind=SundryKind.PRIMER, name="=Primer", rate=rate, pack=amount_in("5 l"), price=3150, **sheet),
        Sundry(kind=SundryKind.SEAM_SEALER, name="Sealer", pack=Amount(measure=metres, quantity=Fraction(M)), **sheet),
        Sundry(
            kind=SundryKind.SKIRTING,
            name="Skirting",
            lengths=(StockLength(length_nm=3 * M, price=500), StockLength(length_nm=2_600 * MM, price=450)),
            kerf_nm=3 * MM,
            **sheet,
        ),
    )
    job = replace(plan.job, sundries=Sundries(products=products))
    golden("files/sundries.csv", sundries_csv(replace(plan, job=job)))


def test_words_and_csv_say_the_same() -> None:
    plan = plan_of(EVERY_KEY)
    for line, row in zip(sundries_of(plan).lines, rows(sundries_csv(plan)), strict=True):
        words = sundry_words(plan, line)
        assert (row["name"], row["material"], row["to buy"]) == (words.name, words.material, words.to_buy)


@pytest.mark.parametrize("name", ["=1+1", "+Primer", "@sum", "-2", "'quoted'", "<b>&amp;", "=cmd|' /C x'!A0"])
def test_no_name_becomes_a_formula(name: str) -> None:
    plan = plan_of(job(f"primer: {{name: {name!r}}}"))
    (row,) = [row for row in rows(sundries_csv(plan)) if row["kind"] == "primer"]
    assert not re.match(r"[=+@-]", row["name"]) or row["name"] == "-2"


def test_a_job_in_feet_stands_in_both_systems_too() -> None:
    text = "job: F\nunit: ft\nmaterials: [{name: S, width: 12}]\nrooms: [{name: Den, rectangle: 10 x 9}]\n"
    (adhesive, _) = rows(sundries_csv(plan_of(text)))
    assert (adhesive["needed"], adhesive["needed us"]) == ("8.37", "90.0")
