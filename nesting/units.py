"""Lengths, money, weights and directions as people write them, and back: exact both ways.

A length is a whole number of nanometres: every millimetre and every 1/64 inch is one. Text becomes a Fraction and then
whole nanometres; no binary float carries a length.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

MM_NM = 1_000_000
INCH_NM = 25_400_000
FOOT_NM = 12 * INCH_NM
LONGEST_NM = 10_000 * 1_000 * MM_NM
"""10 km: nothing longer is a measure of a floor or of a roll."""

NM_PER_UNIT = {"mm": MM_NM, "cm": 10 * MM_NM, "m": 1_000 * MM_NM, "in": INCH_NM, "ft": FOOT_NM, "yd": 3 * FOOT_NM}
"""Units that a length may be written in."""

METRIC = ("mm", "cm", "m")

_NAMES = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "cm": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "in": "in", "inch": "in", "inches": "in", '"': "in",
    "ft": "ft", "foot": "ft", "feet": "ft", "'": "ft",
    "yd": "yd", "yard": "yd", "yards": "yd",
}  # fmt: skip
_MARKS = str.maketrans(
    {"′": "'", "’": "'", "‘": "'", "´": "'", "ʹ": "'", "″": '"', "”": '"', "“": '"', "ʺ": '"', "\u00a0": " ",
     "\u202f": " ", "\u2009": " ", "−": "-", "–": "-", "⁄": "/"}
)  # fmt: skip
_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3"}
_NUMBER = r"(?:\d+\s+\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+\.\d*|\.\d+|\d+)"
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[A-Za-z]+\.?|'|\")?")
_LONGEST_TEXT = 60


class UnitError(ValueError):
    """Text that is no measure. `code` is stable, `hint` says what to write."""

    def __init__(self, code: str, what: str, hint: str = "") -> None:
        super().__init__(what)
        self.code = code
        self.what = what
        self.hint = hint


def _plain(text: str) -> str:
    """Return `text` with typographic primes, dashes and vulgar fractions in their plain forms."""
    text = text.translate(_MARKS).replace("''", '"')
    for mark, plain in _VULGAR.items():
        text = text.replace(mark, f" {plain}")
    text = text.strip()
    if len(text) > _LONGEST_TEXT:
        raise UnitError("bad-measure", f"{text[:20]!r}… is too long for a measure")
    return text


def _number(text: str) -> Fraction:
    """Return `3`, `3.75`, `1/2` or `4 1/2` as a Fraction."""
    total = Fraction(0)
    for part in re.sub(r"\s*/\s*", "/", text).split():
        if part.endswith("/0") or re.search(r"/0+$", part):
            raise UnitError("bad-measure", f"{text!r} divides by zero")
        total += Fraction(part)
    return total


def half_up(value: Fraction) -> int:
    """Return the nearest whole number, halves up."""
    return math.floor(value + Fraction(1, 2))


def parse_length(text: str, default_unit: str) -> int:
    """Return the length that `text` says, in whole nanometres (half up where it is finer).

    Parameters
    ----------
    text
        `12' 4 1/2"`, `12 ft 4 1/2 in`, `12'-4 1/2"`, `3.75 m`, `3750 mm`, `1/2"`, or a bare number. A leading minus
        is read: whether a length may be negative, zero or absurd is for the caller to say.
    default_unit
        The unit of bare numbers: mm, cm, m, in or ft.

    Raises
    ------
    UnitError
        If `text` is no length.
    """
    plain = _plain(text)
    hint = "write a length as 3.75 m, 375 cm, 12' 4 1/2\" or a bare number in the job's unit"
    if re.search(r"\d,\d", plain):
        raise UnitError("decimal-comma", f"{text.strip()!r} has a comma", "write decimals with a point: 3.75")
    sign = -1 if plain.startswith("-") else 1
    rest = plain[1:].strip() if plain[:1] in ("+", "-") else plain
    total, terms, last = Fraction(0), 0, ""
    while rest:
        found = _TERM.match(rest)
        if not found:
            raise UnitError("bad-length", f"{text.strip()!r} is not a length", hint)
        unit = _unit_named(found["unit"], text)
        if not unit and terms:  # the inches in 12' 4 may go without saying
            unit = "in" if last == "ft" else ""
        if terms and not _may_follow(unit, last):
            raise UnitError("bad-length", f"{text.strip()!r} is not a length", hint)
        total += _number(found["number"]) * NM_PER_UNIT[unit or default_unit]
        terms, last = terms + 1, unit or default_unit
        rest = rest[found.end() :].strip()
        if last == "ft" and rest.startswith("-"):  # 12'-4 1/2"
            rest = rest[1:].strip() or "-"
    if not terms:
        raise UnitError("bad-length", f"{text.strip()!r} is not a length" if plain else "a length is missing", hint)
    return sign * half_up(total)


def _may_follow(unit: str, before: str) -> bool:
    """Tell whether a term in `unit` may follow one in `before`: smaller, and of the same system."""
    if not unit or NM_PER_UNIT[unit] >= NM_PER_UNIT[before]:
        return False
    return (unit in METRIC) == (before in METRIC)


def _unit_named(name: str | None, text: str) -> str:
    """Return the unit called `name`, "" for none."""
    if not name:
        return ""
    unit = _NAMES.get(name.rstrip(".").lower())
    if unit is None:
        what = f"{name!r} in {text.strip()!r} is not a unit of length"
        raise UnitError("unknown-unit", what, "units: mm, cm, m, in, ft, yd")
    return unit


def unit_in(text: str) -> str | None:
    """Return the first unit that a length is written with, None for a bare number or no length."""
    found = _TERM.match(_plain(text).lstrip("+-"))
    return _NAMES.get((found["unit"] or "").rstrip(".").lower()) if found else None


Rounding = Literal["nearest", "up", "down"]


def _rounded(value: Fraction, rounding: Rounding) -> int:
    if rounding == "up":
        return math.ceil(value)
    return math.floor(value) if rounding == "down" else half_up(value)


def _inches(nm: int, rounding: Rounding) -> Fraction:
    """Return `nm` in inches: exact if exact to 1/64, else to 1/16."""
    exact = Fraction(nm, INCH_NM)
    if 64 % exact.denominator == 0:
        return exact
    return Fraction(_rounded(exact * 16, rounding), 16)


def _mixed(value: Fraction) -> str:
    """Return 4 1/2, 1/2 or 4."""
    whole, part = divmod(value, 1)
    if not part:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)


def format_length(nm: int, unit: str, *, rounding: Rounding = "nearest", with_unit: bool = False) -> str:
    """Return `nm` as it is written in a job in `unit`.

    A job in mm shows `3750` (a tenth where it is not whole), in cm `375.0`, in m `3.750`, in inches `148 1/2"`, in
    feet `12' 4 1/2"`. Inches are exact where they are exact to 1/64, else rounded to 1/16; `with_unit` adds mm, cm
    or m.
    """
    sign, size = ("-", -nm) if nm < 0 else ("", nm)
    if sign and rounding != "nearest":
        rounding = "down" if rounding == "up" else "up"
    if unit in METRIC:
        tenths = _rounded(Fraction(size * 10, MM_NM), rounding)
        fine = tenths % 10 != 0
        digits = {"mm": 0, "cm": 1, "m": 3}[unit] + fine
        tens = {"mm": 10, "cm": 100, "m": 10_000}[unit]
        whole, part = divmod(tenths, tens)
        shown = f"{part:0{len(str(tens)) - 1}d}"[:digits]
        text = f"{whole}.{shown}" if shown else str(whole)
        zero = not tenths
        text += f" {unit}" if with_unit else ""
    else:
        inches = _inches(size, rounding)
        zero = not inches
        feet, rest = divmod(inches, 12) if unit in ("ft", "yd") else (0, inches)
        text = f"{feet}'" if feet and not rest else f"{feet}' {_mixed(rest)}\"" if feet else f'{_mixed(rest)}"'
    return text if zero else sign + text


def other_system(unit: str) -> str:
    """Return the unit that shows lengths in the other system: feet for metric jobs, millimetres for the rest."""
    return "ft" if unit in METRIC else "mm"


def both_systems(nm: int, unit: str, *, rounding: Rounding = "nearest") -> tuple[str, str]:
    """Return `nm` in the job's own unit and in the other system, for tables; both with their units."""
    return (
        format_length(nm, unit, rounding=rounding, with_unit=True),
        format_length(nm, other_system(unit), rounding=rounding, with_unit=True),
    )


def parse_fraction(text: str) -> Fraction:
    """Return `1/4`, `0.25`, `2 1/2` or `25 %` exactly."""
    plain = _plain(text)
    found = re.fullmatch(rf"(?P<number>{_NUMBER})\s*(?P<percent>%|percent)?", plain)
    if not found:
        raise UnitError("bad-number", f"{text.strip()!r} is not a number", "write 1/4, 0.25 or 25 %")
    return _number(found["number"]) / (100 if found["percent"] else 1)


# --- money -----------------------------------------------------------------------------------------------------------

_MONEY = r"(?:[A-Za-z]{3}\s+|[€$£¥₹]\s*)?(?P<amount>\d+(?:\.\d*)?|\.\d+)(?:\s*(?:[€$£¥₹]|[A-Z]{3}))?"
_AREA_M2 = {
    "m2": Fraction(1),
    "sqft": Fraction(FOOT_NM**2, 10**18),
    "sqyd": Fraction((3 * FOOT_NM) ** 2, 10**18),
}


@dataclass(frozen=True, slots=True)
class Price:
    """A price in the smallest coin, exactly: per metre of roll, or per square metre."""

    per_m: Fraction | None = None
    per_m2: Fraction | None = None


def parse_money(text: str, coin_per_unit: int = 100) -> int:
    """Return an amount such as `12.50` or `€ 12.50` in whole coins; finer amounts are refused."""
    found = re.fullmatch(_MONEY, _plain(text))
    if not found:
        raise UnitError("bad-money", f"{text.strip()!r} is not an amount of money", "write it as 12.50")
    coins = Fraction(found["amount"]) * coin_per_unit
    if coins.denominator != 1:
        raise UnitError("bad-money", f"{text.strip()!r} is finer than the smallest coin", "write it as 12.50")
    return int(coins)


def format_money(coins: int, currency: str = "", coin_per_unit: int = 100) -> str:
    """Return coins as `1250.00 EUR` (no grouping, so that it reads back)."""
    sign, size = ("-", -coins) if coins < 0 else ("", coins)
    whole, part = divmod(size, coin_per_unit)
    digits = len(str(coin_per_unit - 1)) if coin_per_unit > 1 else 0
    text = f"{sign}{whole}" + (f".{part:0{digits}d}" if digits else "")
    return f"{text} {currency}".rstrip()


def parse_price(text: str, coin_per_unit: int = 100) -> Price:
    """Return a price such as `24.50 per m`, `3.20 per sq ft` or `19 / m2`, exactly."""
    plain = _plain(text)
    found = re.fullmatch(rf"{_MONEY}\s*(?:per|/|a)\s*(?P<unit>.+)", plain)
    hint = "write it as 24.50 per m, per ft, per yd, per m2, per sq ft or per sq yd"
    if not found:
        raise UnitError("bad-price", f"{text.strip()!r} is not a price", hint)
    coins = Fraction(found["amount"]) * coin_per_unit
    area = _area_named(found["unit"])
    if area is not None:
        return Price(per_m2=coins / area)
    unit = _NAMES.get(found["unit"].strip().rstrip(".").lower())
    if unit is None:
        raise UnitError("bad-price", f"{found['unit']!r} in {text.strip()!r} is no unit to sell by", hint)
    return Price(per_m=coins * 1_000 * MM_NM / NM_PER_UNIT[unit])


def _area_named(name: str) -> Fraction | None:
    """Return the area unit called `name` in m², None if it is none."""
    short = re.sub(r"[\s.^]", "", name.lower().replace("²", "2")).replace("square", "sq")
    alias = {"sqm": "m2", "sqmetre": "m2", "sqmeter": "m2", "ft2": "sqft", "sqfoot": "sqft", "sqfeet": "sqft",
             "yd2": "sqyd", "sqyard": "sqyd", "sqyards": "sqyd"}  # fmt: skip
    return _AREA_M2.get(alias.get(short, short))


# --- weights ---------------------------------------------------------------------------------------------------------

_GRAMS = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "oz": Fraction(28_349_523_125, 10**9),  # avoirdupois, exact by the international pound of 1959
    "lb": Fraction(45_359_237, 10**5),
    "lbs": Fraction(45_359_237, 10**5),
}


def parse_weight(text: str) -> int:
    """Return a weight such as `85 kg` or `120 lb` in whole grams, half up."""
    found = re.fullmatch(rf"(?P<number>{_NUMBER})\s*(?P<unit>[A-Za-z]+)\.?", _plain(text))
    if not found or found["unit"].lower() not in _GRAMS:
        raise UnitError("bad-weight", f"{text.strip()!r} is not a weight", "write it as 85 kg or 120 lb")
    return half_up(_number(found["number"]) * _GRAMS[found["unit"].lower()])


def parse_area_weight(text: str) -> Fraction:
    """Return a weight per area such as `2.9 kg/m2` or `60 oz per sq yd` in grams per m², exactly."""
    found = re.fullmatch(rf"(?P<number>{_NUMBER})\s*(?P<unit>[A-Za-z]+)\.?\s*(?:per|/)\s*(?P<area>.+)", _plain(text))
    area = _area_named(found["area"]) if found else None
    if not found or area is None or found["unit"].lower() not in _GRAMS:
        hint = "write it as 2.9 kg/m2, 2900 g/m2, 60 oz per sq yd or 1.2 lb per sq ft"
        raise UnitError("bad-weight", f"{text.strip()!r} is not a weight per area", hint)
    return _number(found["number"]) * _GRAMS[found["unit"].lower()] / area


def format_weight(grams: Fraction | int, unit: str) -> str:
    """Return a weight for people: kg for metric jobs, lb for the rest, rounded up to a tenth."""
    per, name = (_GRAMS["kg"], "kg") if unit in METRIC else (_GRAMS["lb"], "lb")
    tenths = math.ceil(Fraction(grams) / per * 10)
    return f"{tenths // 10}.{tenths % 10} {name}"


# --- directions ------------------------------------------------------------------------------------------------------

_COMPASS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
_SHORT = {"n": 0, "ne": 1, "e": 2, "se": 3, "s": 4, "sw": 5, "w": 6, "nw": 7, "up": 0, "right": 2, "down": 4, "left": 6}


def parse_bearing(text: str) -> Fraction:
    """Return a direction (`north`, `NE`, `left`, `bearing 30°`, `30°`) in degrees clockwise from north (up)."""
    plain = _plain(text).lower().removeprefix("bearing").strip()
    word = re.sub(r"[\s-]", "", plain)
    if word in _COMPASS:
        return Fraction(45 * _COMPASS.index(word))
    if word in _SHORT:
        return Fraction(45 * _SHORT[word])
    found = re.fullmatch(rf"(?P<sign>-?)\s*(?P<number>{_NUMBER})\s*(?:°|deg|degrees?)?", plain)
    if not found:
        hint = "write north, NE, up, left, or degrees clockwise from north: 30°"
        raise UnitError("bad-direction", f"{text.strip()!r} is not a direction", hint)
    return _number(found["number"]) * (-1 if found["sign"] else 1) % 360


def walk_vector(bearing: Fraction, length_nm: int) -> tuple[int, int]:
    """Return the step (east, north) of `length_nm` along `bearing`, to the nearest nanometre; exact along the axes."""
    quarter, rest = divmod(bearing, 90)
    if not rest:
        east, north = ((0, 1), (1, 0), (0, -1), (-1, 0))[int(quarter) % 4]
        return east * length_nm, north * length_nm
    angle = math.radians(float(bearing))
    return round(length_nm * math.sin(angle)), round(length_nm * math.cos(angle))


def bearing_vector(bearing: Fraction) -> tuple[int, int]:
    """Return a whole vector along `bearing`: exact for multiples of 45°, else to about 1e-9."""
    if bearing % 45 == 0:
        return ((0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1))[int(bearing / 45) % 8]
    return walk_vector(bearing, 10**9)
