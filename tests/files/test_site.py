"""What a job file says of the site: limits, readings, and what is wrong with them."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.site import G_M2_PER_LB, Range, Site, SiteLimits, Substrate
from nesting.errors import JobError
from nesting.files.codec import from_data, to_data
from nesting.files.job_file import ReadJob, parse_job
from nesting.files.site_entries import emission_g_m2, flatness_nm, temperature_c
from nesting.site import site_warnings
from tests.files.test_schema import against_schema
from tests.strategies import plain_jobs, sites

INCH, MM, M = 25_400_000, 1_000_000, 1_000_000_000

HEAD = "job: A\nunit: m\n"
REST = """
materials:
  - {name: Sheet, width: 2, site limits: {%s}}
  - {name: Other, width: 2}
rooms:
  - {name: Kitchen, material: Sheet, rectangle: 3 x 2}
  - {name: Bath, material: Other, rectangle: 3 x 2}
"""


def read(job: str = "", material: str = "") -> ReadJob:
    return parse_job(HEAD + job + REST % material, file="a.yaml")


def limits(material: str = "", job: str = "") -> SiteLimits:
    return read(job, material).job.site.limits_of("sheet")


def codes(job: str = "", material: str = "") -> list[str]:
    with pytest.raises(JobError) as caught:
        read(job, material)
    return [fault.code for fault in caught.value.faults]


def one_reading(kind: str, value: str) -> str:
    return f"site readings:\n  - {{where: Kitchen, kind: {kind}, value: '{value}'}}\n"


def test_a_job_without_a_word_on_it_has_the_empty_site() -> None:
    assert read().job.site == Site()


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("moisture emission: 3 lb per 1000 sq ft per 24 h", "emission_g_m2", 3 * G_M2_PER_LB),
        ("moisture emission: '3 lb'", "emission_g_m2", 3 * G_M2_PER_LB),
        ("moisture emission: '5 lbs/1,000 sq ft/24 h'", "emission_g_m2", 5 * G_M2_PER_LB),
        ("moisture emission: 15.5 g/m² in 24 hours", "emission_g_m2", Fraction(31, 2)),
        ("relative humidity: 75 %", "humidity_percent", Fraction(75)),
        ("relative humidity: 80.5% RH", "humidity_percent", Fraction(161, 2)),
        ("ph: 7 to 9.5", "ph", Range(low=Fraction(7), high=Fraction(19, 2))),
        ("pH: at most 9", "ph", Range(high=Fraction(9))),
        ("temperature: 65 to 85 °F", "temperature_c", Range(low=Fraction(55, 3), high=Fraction(265, 9))),
        ("temperature: 18-27 C", "temperature_c", Range(low=Fraction(18), high=Fraction(27))),
        ("temperature: at least 18 °C", "temperature_c", Range(low=Fraction(18))),
        ("acclimatizing: 2 days", "acclimatizing_h", Fraction(48)),
        ("flatness: 3 mm in 2 m", "flatness_nm", (3 * MM, 2 * M)),
        ("flatness: 3/16 in in 10 ft", "flatness_nm", (INCH * 3 // 16, 120 * INCH)),
        ('flatness: "3/16\\" in 10\'"', "flatness_nm", (INCH * 3 // 16, 120 * INCH)),
        ("expansion gap: 3 to 6 mm", "gap_nm", Range(low=Fraction(3 * MM), high=Fraction(6 * MM))),
        ("expansion gap: 1/8 to 1/4 in", "gap_nm", Range(low=Fraction(INCH, 8), high=Fraction(INCH, 4))),
        ("expansion gap: none", "gap_nm", Range(low=Fraction(0), high=Fraction(0))),
        ("bonded wet room: yes", "bonded_wet_room", True),
    ],
)
def test_limits_are_read_exactly(text: str, field: str, value: Any) -> None:
    assert getattr(limits(text), field) == value
    assert getattr(limits(job=f"site limits: {{{text}}}\n"), field) == value


def test_a_pound_on_a_thousand_square_feet() -> None:
    # 56.5 µg/(s·m²), the factor of the SI note of ASTM F1869 (from memory); 1 day = 86 400 s.
    per_second = G_M2_PER_LB / 86_400 * 10**6
    assert abs(per_second - Fraction("56.51")) < Fraction("0.01")


def test_the_nearest_limit_counts_key_by_key() -> None:
    found = limits("relative humidity: 70 %", "site limits: {relative humidity: 85 %, acclimatizing: 24 h}\n")
    assert found == SiteLimits(material_id="sheet", humidity_percent=Fraction(70), acclimatizing_h=Fraction(24))
    far = read("site limits: {expansion gap: 3 to 6 mm}\n", "bonded wet room: yes").job.site
    assert far.limits_of("sheet") == SiteLimits(material_id="sheet", bonded_wet_room=True)
    assert far.limits_of("other").gap_nm == Range(low=Fraction(3 * MM), high=Fraction(6 * MM))


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("moisture emission: 3", "bad-measure"),  # of what?
        ("moisture emission: 3 g", "bad-measure"),
        ("moisture emission: 3 lb per m2", "bad-measure"),
        ("moisture emission: -3 lb", "absurd-reading"),
        ("relative humidity: 0.75", "bad-measure"),  # a share, or less than one per cent?
        ("relative humidity: 101 %", "absurd-reading"),
        ("relative humidity: '7,5 %'", "bad-measure"),
        ("ph: 9", "bad-range"),
        ("ph: 9 to 7", "bad-range"),
        ("ph: 7 to 15", "absurd-reading"),
        ("temperature: 65 to 85", "bad-measure"),  # of what?
        ("temperature: 27 to 18 C", "bad-range"),
        ("temperature: 180 to 270 C", "absurd-reading"),
        ("acclimatizing: 48", "bad-measure"),
        ("acclimatizing: a while", "bad-measure"),
        ("flatness: 3 mm", "bad-measure"),
        ("flatness: 3/16 in 10 ft", "bad-measure"),  # sixteenths of what?
        ("flatness: 2 m in 3 mm", "bad-measure"),
        ("expansion gap: 5 mm", "bad-range"),
        ("expansion gap: 1/0 to 1 in", "bad-measure"),
        ("expansion gap: [3, 6]", "wrong-type"),
        ("bonded wet room: yes, expansion gap: 3 to 6 mm", "gap-on-bonded"),
        ("humidity: 75 %", "unknown-key"),
    ],
)
def test_what_is_wrong_with_a_limit_is_said_at_its_line(text: str, code: str) -> None:
    with pytest.raises(JobError) as caught:
        read(material=text)
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == (code, 5)
    assert fault.where.startswith("materials[0].site limits")
    assert fault.hint or code == "wrong-type" or "zero" in fault.what


def test_a_gap_on_bonded_work_for_all_is_said_once() -> None:
    assert codes("site limits: {bonded wet room: yes, expansion gap: 3 to 6 mm}\n") == ["gap-on-bonded"]
    assert codes("site limits: {bonded wet room: yes}\n", "expansion gap: 3 to 6 mm") == ["gap-on-bonded"]
    apart = limits("expansion gap: 3 to 6 mm, bonded wet room: no", "site limits: {bonded wet room: yes}\n")
    assert apart.gap_nm is not None and not apart.bonded_wet_room


@pytest.mark.parametrize(
    ("kind", "value", "found", "span"),
    [
        ("moisture emission", "4 lb", 4 * G_M2_PER_LB, 0),
        ("relative-humidity", "72.5 %", Fraction(145, 2), 0),
        ("pH", "8.5", Fraction(17, 2), 0),
        ("temperature", "-4 °F", Fraction(-20), 0),
        ("acclimatizing", "1 1/2 days", Fraction(36), 0),
        ("flatness", "1/8 in in 10 ft", Fraction(INCH, 8), 120 * INCH),
        ("expansion gap", "4 mm", Fraction(4 * MM), 0),
        ("expansion gap", "none", Fraction(0), 0),
    ],
)
def test_readings_are_read_exactly(kind: str, value: str, found: Fraction, span: int) -> None:
    (reading,) = read(one_reading(kind, value)).job.site.readings
    assert (reading.value, reading.span_nm, reading.room_id, reading.line) == (found, span, "kitchen", 4)


@pytest.mark.parametrize(
    ("kind", "value", "code"),
    [
        ("relative humidity", "72", "bad-measure"),
        ("temperature", "61", "bad-measure"),
        ("flatness", "2 mm", "bad-measure"),
        ("ph", "neutral", "bad-measure"),
        ("expansion gap", "-2 mm", "negative-size"),
        ("expansion gap", "wide", "bad-length"),
        ("dampness", "72 %", "unknown-name"),
    ],
)
def test_what_is_wrong_with_a_reading_is_said_at_its_line(kind: str, value: str, code: str) -> None:
    with pytest.raises(JobError) as caught:
        read(one_reading(kind, value))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == (code, 4) and fault.where.startswith("site readings[0]")


def test_all_faults_at_once() -> None:
    readings = "site readings:\n  - {where: Kitchen, kind: ph, value: x}\n  - {where: Bath, kind: ph, value: 15}\n"
    assert codes(readings, "relative humidity: 75") == ["bad-measure", "absurd-reading", "bad-measure"]


def test_a_place_that_is_nearly_a_room_is_asked_about() -> None:
    text = "site readings:\n  - {where: %s, kind: relative humidity, value: 72 %%}\n"
    found = read(text % "Kichen")
    assert found.job.site.readings[0].room_id == "" and found.job.site.readings[0].place == "Kichen"
    assert [notice.code for notice in found.notices] == ["site-place"] and "'Kitchen'" in found.notices[0].text
    assert read(text % "under the stairs").notices == () == read(text % "kitchen").notices


def test_the_building_and_what_the_rooms_lie_on() -> None:
    found = read(
        "site: {building: new, substrate: concrete, other substrates: {rooms: Bath, substrate: wood}}\n"
    ).job.site
    assert found.new_building
    assert found.substrate_of("kitchen") is Substrate.CONCRETE and found.substrate_of("bath") is Substrate.WOOD
    assert codes("site: {other substrates: {rooms: [Bath, Hal], substrate: wood}}\n") == ["unknown-name"]
    twice = "site:\n  other substrates: [{rooms: Bath, substrate: wood}, {rooms: Bath, substrate: other}]\n"
    assert codes(twice) == ["given-twice"]
    assert codes("site: {building: old}\n") == ["unknown-name"]


def test_the_schema_takes_what_the_reader_takes() -> None:
    text = HEAD + (
        "site: {building: new, substrate: existing floor, other substrates: {rooms: Bath, substrate: wood}}\n"
        "site readings: [{where: Bath, kind: expansion gap, value: none, date: 2 May}, "
        "{where: Bath, kind: ph, value: 8.5}]\n"
    )
    material = "moisture emission: 3 lb, relative humidity: 75 %, ph: 7 to 9, bonded wet room: no, expansion gap: none"
    assert against_schema(text + REST % material) == []


@given(st.integers(400, 900))
def test_units_do_not_change_a_verdict(tenths: int) -> None:
    fahrenheit = Fraction(tenths, 10)
    celsius = (fahrenheit - 32) * Fraction(5, 9)
    assert temperature_c(f"{tenths / 10} °F") == temperature_c(f"{celsius.numerator}/{celsius.denominator} °C")
    grams = fahrenheit * G_M2_PER_LB / 10
    assert emission_g_m2(f"{tenths}/100 lb") == emission_g_m2(f"{grams.numerator}/{grams.denominator} g per m2")
    sixteenths = tenths // 50
    assert flatness_nm(f"{sixteenths}/16 in in 10 ft")[0] == flatness_nm(f"{sixteenths * 25.4 / 16} mm in 3 m")[0]


@pytest.mark.parametrize("unit", ["mm", "cm", "m", "in", "ft"])
def test_the_jobs_unit_does_not_change_a_verdict(unit: str) -> None:
    text = (
        f"job: A\nunit: {unit}\nsite limits: {{temperature: at least 65 °F}}\n"
        "materials: [{name: Sheet, width: 2 m}]\nrooms: [{name: Den, rectangle: 3 m x 2 m}]\nsite readings:\n"
        "  - {where: Den, kind: temperature, value: 65 °F}\n  - {where: Den, kind: temperature, value: 18 °C}\n"
    )
    (warning,) = site_warnings(parse_job(text).job)
    assert warning.text.startswith("temperature in Den: ") and "below the limit" in warning.text


@given(plain_jobs().flatmap(sites))
def test_a_site_comes_back_from_the_plan_file(site: Site) -> None:
    assert from_data(Site, to_data(site)) == site
