"""Lengths, money, weights and directions: exact both ways, and refused with a hint otherwise."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.units import (
    INCH_NM,
    METRIC,
    MM_NM,
    NM_PER_UNIT,
    UnitError,
    bearing_vector,
    both_systems,
    format_length,
    format_money,
    format_weight,
    parse_area_weight,
    parse_bearing,
    parse_fraction,
    parse_length,
    parse_money,
    parse_price,
    parse_weight,
    unit_in,
    walk_vector,
)

FOOT = 12 * INCH_NM


@pytest.mark.parametrize(
    ("text", "unit", "nm"),
    [
        ("12' 4 1/2\"", "m", 12 * FOOT + 9 * INCH_NM // 2),
        ("12 ft 4 1/2 in", "m", 12 * FOOT + 9 * INCH_NM // 2),
        ("12'-4 1/2\"", "m", 12 * FOOT + 9 * INCH_NM // 2),
        ("12' - 4 1/2\"", "m", 12 * FOOT + 9 * INCH_NM // 2),
        ("12′ 4½″", "m", 12 * FOOT + 9 * INCH_NM // 2),
        ("12’ 4 ½”", "m", 12 * FOOT + 9 * INCH_NM // 2),
        ("12'' ", "m", 12 * INCH_NM),
        ("12' 4", "m", 12 * FOOT + 4 * INCH_NM),
        ("12.5'", "m", 12 * FOOT + 6 * INCH_NM),
        ("12 FEET 4 Inches", "m", 12 * FOOT + 4 * INCH_NM),
        ("2 yd 1 ft", "m", 7 * FOOT),
        ('1/2"', "m", INCH_NM // 2),
        ("4 1/2 in", "m", 9 * INCH_NM // 2),
        ("1/64 in", "m", INCH_NM // 64),
        ("3.75 m", "ft", 3750 * MM_NM),
        ("3.75m", "ft", 3750 * MM_NM),
        ("3750 mm", "ft", 3750 * MM_NM),
        ("375 cm", "ft", 3750 * MM_NM),
        ("1 m 20 cm", "ft", 1200 * MM_NM),
        ("3.6", "m", 3600 * MM_NM),
        (".5", "m", 500 * MM_NM),
        ("3", "ft", 3 * FOOT),
        ("1 1/2", "ft", 3 * FOOT // 2),
        ("0.1", "m", 100 * MM_NM),
        ("0", "m", 0),
        ("-3 m", "m", -3000 * MM_NM),
        ("−3 m", "m", -3000 * MM_NM),
        ("0.000000000 m", "m", 0),
        ("0.0000000015 m", "m", 2),  # finer than a nanometre: half up
        ("20 m", "mm", 20_000 * MM_NM),
    ],
)
def test_lengths_read_as_people_write_them(text: str, unit: str, nm: int) -> None:
    assert parse_length(text, unit) == nm


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "bad-length"),
        ("nan", "bad-length"),
        ("inf", "bad-length"),
        (".", "bad-length"),
        ("abc", "bad-length"),
        ("--3", "bad-length"),
        ("12' -", "bad-length"),
        ("5 in 3 ft", "bad-length"),
        ("3 m 4 in", "bad-length"),
        ("3 m 4 m", "bad-length"),
        ("1 2", "bad-length"),
        ("3 4 m", "bad-length"),
        ("3 furlongs", "unknown-unit"),
        ("1e5", "unknown-unit"),
        ("3,75 m", "decimal-comma"),
        ("1/0 in", "bad-measure"),
        ("9" * 70, "bad-measure"),
    ],
)
def test_what_is_no_length_is_refused(text: str, code: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse_length(text, "m")
    assert refused.value.code == code


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    [
        (3750 * MM_NM, "mm", "3750"),
        (3750 * MM_NM + 500_000, "mm", "3750.5"),
        (3750 * MM_NM, "cm", "375.0"),
        (3750 * MM_NM, "m", "3.750"),
        (3750 * MM_NM + 500_000, "m", "3.7505"),
        (5 * MM_NM, "m", "0.005"),
        (12 * FOOT + 9 * INCH_NM // 2, "ft", "12' 4 1/2\""),
        (12 * FOOT + 9 * INCH_NM // 2, "in", '148 1/2"'),
        (12 * FOOT, "ft", "12'"),
        (INCH_NM // 2, "ft", '1/2"'),
        (INCH_NM // 64, "ft", '1/64"'),
        (3750 * MM_NM, "ft", "12' 3 5/8\""),
        (12 * FOOT - 1, "ft", "12'"),
        (0, "ft", '0"'),
        (0, "m", "0.000"),
        (-1, "mm", "0"),
        (-3 * FOOT, "ft", "-3'"),
        (-3 * MM_NM, "mm", "-3"),
    ],
)
def test_lengths_shown(nm: int, unit: str, text: str) -> None:
    assert format_length(nm, unit) == text


def test_rounding_has_a_direction() -> None:
    nm = 3750 * MM_NM + 1
    assert [format_length(nm, "mm", rounding=way) for way in ("nearest", "up", "down")] == ["3750", "3750.1", "3750"]
    assert [format_length(-nm, "mm", rounding=way) for way in ("nearest", "up", "down")] == [
        "-3750",
        "-3750",
        "-3750.1",
    ]
    assert format_length(3750 * MM_NM, "ft", rounding="up") == "12' 3 11/16\""
    assert format_length(3750 * MM_NM, "ft", rounding="down") == "12' 3 5/8\""


def test_both_systems_name_their_units() -> None:
    assert both_systems(3750 * MM_NM, "m") == ("3.750 m", "12' 3 5/8\"")
    assert both_systems(3 * FOOT, "ft") == ("3'", "914.4 mm")


@given(st.integers(0, 10**7), st.sampled_from(METRIC))
def test_whole_millimetres_come_back_in_metric(mm: int, unit: str) -> None:
    assert parse_length(format_length(mm * MM_NM, unit), unit) == mm * MM_NM


@given(st.integers(0, 64 * 12 * 1000), st.sampled_from(["in", "ft"]))
def test_sixty_fourths_come_back_in_feet_and_inches(sixty_fourths: int, unit: str) -> None:
    nm = sixty_fourths * INCH_NM // 64
    assert parse_length(format_length(nm, unit), unit) == nm


@given(st.integers(0, 10**13), st.sampled_from(["mm", "cm", "m", "in", "ft"]))
def test_rounded_up_is_never_less_and_down_never_more(nm: int, unit: str) -> None:
    up, down = (parse_length(format_length(nm, unit, rounding=way), unit) for way in ("up", "down"))
    assert down <= nm <= up
    assert up - down <= max(INCH_NM // 16, MM_NM // 10)


@given(st.fractions(min_value=0, max_value=10_000, max_denominator=10**9), st.sampled_from(sorted(NM_PER_UNIT)))
def test_decimals_are_read_exactly(value: Fraction, unit: str) -> None:
    millionths = int(value * 10**6)
    text = f"{millionths // 10**6}.{millionths % 10**6:06d} {unit}"
    exact = Fraction(millionths, 10**6) * NM_PER_UNIT[unit]
    assert abs(parse_length(text, "m") - exact) <= Fraction(1, 2)


@given(st.text(max_size=20))
def test_no_text_gets_past_as_anything_but_a_length_or_a_refusal(text: str) -> None:
    try:
        assert isinstance(parse_length(text, "m"), int)
    except UnitError as error:
        assert error.code and error.what


def test_the_unit_in_a_text() -> None:
    assert [unit_in(text) for text in ("40 cm", "40", "12' 4\"", "x")] == ["cm", None, "ft", None]


def test_money() -> None:
    assert parse_money("12.50") == 1250
    assert parse_money("€ 12.5") == 1250
    assert parse_money("12 EUR") == 1200
    assert parse_money("1200", 1) == 1200
    assert format_money(125050, "EUR") == "1250.50 EUR"
    assert format_money(-5) == "-0.05"
    assert format_money(1200, "", 1) == "1200"
    for text in ("12.505", "-3", "nan", "twelve", ""):
        with pytest.raises(UnitError):
            parse_money(text)


@given(st.integers(0, 10**9), st.sampled_from([1, 10, 100, 1000]))
def test_money_comes_back(coins: int, per_unit: int) -> None:
    assert parse_money(format_money(coins, "EUR", per_unit), per_unit) == coins


def test_prices_are_exact_fractions() -> None:
    assert parse_price("24.50 per m").per_m == 2450
    assert parse_price("1 per mm").per_m == 100_000
    assert parse_price("3.048 per ft").per_m == 1000  # a foot is 0.3048 m exactly
    assert parse_price("$3.20/yd").per_m == Fraction(320) / Fraction(9144, 10_000)
    assert parse_price("19 / m²").per_m2 == 1900
    assert parse_price("19 per sq m").per_m2 == 1900
    assert parse_price("1 per sq ft").per_m2 == 100 / Fraction(3048, 10_000) ** 2
    assert parse_price("9 per sq yd") == parse_price("1 per square foot")
    for text in ("24.50", "24.50 per roll", "per m", ""):
        with pytest.raises(UnitError):
            parse_price(text)


def test_weights() -> None:
    assert parse_weight("85 kg") == 85_000
    assert parse_weight("120 lb") == 54_431  # 0.45359237 kg each
    assert parse_area_weight("2.9 kg/m2") == 2900
    # 1 oz per sq yd is 33.906 g/m², as textile tables have it
    assert abs(parse_area_weight("1 oz per sq yd") - Fraction("33.906")) < Fraction(1, 1000)
    assert format_weight(Fraction(54_431), "ft") == "120.0 lb"
    assert format_weight(1, "m") == "0.1 kg"
    for text in ("85", "85 stone", "heavy", "85 kg/m2"):
        with pytest.raises(UnitError):
            parse_weight(text)
    for text in ("85 kg", "2.9 kg/m", ""):
        with pytest.raises(UnitError):
            parse_area_weight(text)


def test_shares() -> None:
    assert [parse_fraction(text) for text in ("1/4", "0.25", "25 %", "2 1/2")] == [
        Fraction(1, 4),
        Fraction(1, 4),
        Fraction(1, 4),
        Fraction(5, 2),
    ]
    for text in ("", "a third", "1/0"):
        with pytest.raises(UnitError):
            parse_fraction(text)


def test_bearings_are_clockwise_from_north() -> None:
    words = ("north", "NE", "east", "down", "left", "south-west", "bearing 30°", "-90", "450 deg")
    assert [parse_bearing(word) for word in words] == [0, 45, 90, 180, 270, 225, 30, 270, 90]
    with pytest.raises(UnitError):
        parse_bearing("nowhere")


def test_steps_along_the_axes_are_exact() -> None:
    far = 10**13 + 1
    assert [walk_vector(Fraction(b), far) for b in (0, 90, 180, 270)] == [(0, far), (far, 0), (0, -far), (-far, 0)]
    # 3-4-5: atan(3/4) is 36.8699 degrees; the sine and cosine of 30° are known
    assert walk_vector(Fraction(30), 10**9) == (500_000_000, 866_025_404)
    assert bearing_vector(Fraction(45)) == (1, 1)
