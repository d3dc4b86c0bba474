"""The keys of the job file that say what is allowed on the site, and what was measured there."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Annotated, Any

from pydantic import Field, PlainValidator, ValidationInfo, WithJsonSchema

from nesting import units
from nesting.domain.site import G_M2_PER_LB, Range, ReadingKind, Substrate
from nesting.files.fields import Entry, Names, OneOf, OrOne, Reading, Words, Yes, lengths_in, refuse
from nesting.files.room_entries import key
from nesting.units import UnitError

_NUMBER = r"[-+]?(?:\d+\s+\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+\.\d*|\.\d+|\d+)"
_SIGNS = str.maketrans({"−": "-", "–": "-", "º": "°", "˚": "°", "²": "2", "\u00a0": " ", "\u202f": " "})
_DAY = r"(?: (?:per|in|a) (?:24 ?(?:h|hrs?|hours)|day))?"
_EMISSIONS = {
    "lb": rf"(?: (?:per|on) 1000 ?(?:sq ?ft|ft2|square feet))?{_DAY}",
    "g": rf" (?:per|on) (?:m2|sq ?m|square met(?:re|er)){_DAY}",
}
_HOURS = {"h": 1, "hr": 1, "hrs": 1, "hour": 1, "hours": 1, "d": 24, "day": 24, "days": 24}


def _plain(value: Any, what: str) -> str:
    """Return the text of a value with plain signs and single spaces."""
    if isinstance(value, (dict, list)):
        raise refuse("wrong-type", f"{what} is expected, not {'a list' if isinstance(value, list) else 'keys'}")
    text = " ".join(str(value).translate(_SIGNS).split())
    if not text or len(text) > 60:
        raise refuse("bad-measure", f"{text[:20]!r} is not {what}")
    return text


def _number(text: str) -> Fraction:
    """Return a number with its sign, exactly."""
    sign = -1 if text.startswith("-") else 1
    return sign * units.parse_fraction(text.lstrip("+-"))


def _inside(value: Fraction, low: int, high: int, text: str) -> Fraction:
    """Return `value` if it is not absurd."""
    if not low <= value <= high:
        raise refuse("absurd-reading", f"{text!r} is not between {low} and {high}", "check the value and its unit")
    return value


def emission_g_m2(text: str) -> Fraction:
    """Return `3 lb per 1000 sq ft per 24 h` or `15 g/m2 per 24 h` in grams per m² in 24 hours, exactly."""
    hint = "write 3 lb per 1000 sq ft per 24 h, or 15 g per m2 per 24 h"
    found = re.fullmatch(rf"(?P<number>{_NUMBER}) ?(?P<unit>lbs?|g)\b\.?(?P<rest>.*)", text, re.IGNORECASE)
    unit = found["unit"].lower().rstrip("s") if found else ""
    rest = (
        "" if found is None else " ".join(found["rest"].lower().replace("1,000", "1000").replace("/", " per ").split())
    )
    if found is None or not re.fullmatch(_EMISSIONS[unit], f" {rest}" if rest else ""):
        raise refuse("bad-measure", f"{text!r} is not a moisture emission", hint)
    value = _number(found["number"]) * (G_M2_PER_LB if unit == "lb" else 1)
    return _inside(value, 0, 1_000, text)


def humidity_percent(text: str) -> Fraction:
    """Return `75 %` or `75 % RH` in per cent. The sign must stand: 0.75 could be meant as a share."""
    found = re.fullmatch(rf"(?P<number>{_NUMBER}) ?(?:%|percent|per cent)(?: ?rh)?", text, re.IGNORECASE)
    if not found:
        raise refuse("bad-measure", f"{text!r} is not a relative humidity", "write it as 75 %")
    return _inside(_number(found["number"]), 0, 100, text)


def ph(text: str) -> Fraction:
    """Return a pH."""
    found = re.fullmatch(rf"(?:ph ?)?(?P<number>{_NUMBER})", text, re.IGNORECASE)
    if not found:
        raise refuse("bad-measure", f"{text!r} is not a pH", "write it as 8.5")
    return _inside(_number(found["number"]), 0, 14, text)


def temperature_c(text: str) -> Fraction:
    """Return `65 °F` or `18 °C` in degrees Celsius, exactly. The unit must stand: it is not the job's."""
    found = re.fullmatch(
        rf"(?P<number>{_NUMBER}) ?(?:°|degrees|deg\.?)? ?(?P<unit>c|f|celsius|fahrenheit)", text, re.IGNORECASE
    )
    if not found:
        raise refuse("bad-measure", f"{text!r} is not a temperature", "write it as 65 °F or 18 °C")
    value = _number(found["number"])
    if found["unit"].lower().startswith("f"):
        value = (value - 32) * Fraction(5, 9)
    return _inside(value, -60, 100, text)


def hours(text: str) -> Fraction:
    """Return `48 h` or `2 days` in hours."""
    found = re.fullmatch(rf"(?P<number>{_NUMBER}) ?(?P<unit>[A-Za-z]+)", text)
    if not found or found["unit"].lower() not in _HOURS:
        raise refuse("bad-measure", f"{text!r} is not a time", "write it as 48 h or 2 days")
    return _inside(_number(found["number"]) * _HOURS[found["unit"].lower()], 0, 10_000, text)


def flatness_nm(text: str) -> tuple[int, int]:
    """Return `3 mm in 2 m` or `3/16 in in 10 ft`, both lengths with their units: the hollow and the straightedge."""
    for found in re.finditer(r"(?<=[\s\"'])(?:in|over|under)(?=\s)", text):
        sides = (text[: found.start()].strip(), text[found.end() :].strip().removeprefix("a "))
        if all(units.unit_in(side) for side in sides):
            try:
                hollow, span = (units.parse_length(side, "mm") for side in sides)
            except UnitError:  # the `in` of `3/16 in in 10 ft` is no "in"
                continue
            if 0 <= hollow < span <= units.LONGEST_NM:
                return hollow, span
    hint = "write it as 3 mm in 2 m, or 3/16 in in 10 ft: how deep, and under how long a straightedge"
    raise refuse("bad-measure", f"{text!r} is not a flatness", hint)


def _read(parse: Callable[[str], Any], text: str) -> Any:
    """Return what `parse` makes of a text; what is no number becomes a fault like the others."""
    try:
        return parse(text)
    except UnitError as error:
        raise refuse(error.code, error.what, error.hint) from None


def _range_of(text: str, both: Callable[[list[str]], list[Fraction]], what: str, hint: str) -> Range:
    """Return `at least A`, `at most B` or `A to B` as a range; a bare unit is taken from the other end."""
    found = re.fullmatch(r"(?P<word>at least|at most|from|up to) (?P<rest>.+)", text, re.IGNORECASE)
    word, rest = (found["word"].lower(), found["rest"]) if found else ("", text)
    parts = [part.strip() for part in re.split(r"\s+to\s+|(?<=\d)\s*-\s*(?=\d)", rest)]
    if len(parts) == 1 and word in ("at least", "from"):
        return Range(low=both(parts)[0])
    if len(parts) == 1 and word in ("at most", "up to"):
        return Range(high=both(parts)[0])
    if len(parts) != 2 or word not in ("", "from"):
        raise refuse("bad-range", f"{text!r} is not a range of {what}", hint)
    low, high = both(parts)
    if low > high:
        raise refuse("bad-range", f"{text!r} runs from the larger to the smaller", hint)
    return Range(low=low, high=high)


def _temperatures(parts: list[str]) -> list[Fraction]:
    unit = re.search(r"[A-Za-z°]+\s*[A-Za-z]*$", parts[-1])
    full = [part if re.search(r"[A-Za-z]$", part) else part + (unit[0] if unit else "") for part in parts]
    return [_read(temperature_c, part) for part in full]


def _temperature_range(value: Any) -> Range:
    hint = "write it as 65 to 85 °F, or at least 18 °C"
    return _range_of(_plain(value, "a range of temperature"), _temperatures, "temperature", hint)


def _ph_range(value: Any) -> Range:
    text = _plain(value, "a range of pH")
    return _range_of(text, lambda parts: [_read(ph, part) for part in parts], "pH", "write it as 7 to 9, or at most 9")


def _gap_range(value: Any, info: ValidationInfo) -> Range:
    text = _plain(value, "an expansion gap")
    if text.lower() == "none":
        return Range(low=Fraction(0), high=Fraction(0))
    assert isinstance(info.context, Reading)
    unit = info.context.unit

    def lengths(parts: list[str]) -> list[Fraction]:
        return [Fraction(nm) for nm in lengths_in(parts, unit, 0)]

    return _range_of(text, lengths, "gaps", "write it as 3 to 6 mm, 1/8 to 1/4 in, at least 3 mm, or none")


def _measure(parse: Callable[[str], Any], what: str) -> PlainValidator:
    return PlainValidator(lambda value: _read(parse, _plain(value, what)))


def _text_schema(*examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": ["string", "number"], "examples": list(examples)})


Emission = Annotated[
    Fraction, _measure(emission_g_m2, "a moisture emission"), _text_schema("3 lb per 1000 sq ft per 24 h")
]
Humidity = Annotated[Fraction, _measure(humidity_percent, "a relative humidity"), _text_schema("75 %")]
Hours = Annotated[Fraction, _measure(hours, "a time"), _text_schema("48 h", "2 days")]
Flatness = Annotated[
    tuple[int, int], _measure(flatness_nm, "a flatness"), _text_schema("3 mm in 2 m", "3/16 in in 10 ft")
]
Temperatures = Annotated[Range, PlainValidator(_temperature_range), _text_schema("65 to 85 °F", "at least 18 °C")]
Acidities = Annotated[Range, PlainValidator(_ph_range), _text_schema("7 to 9", "at most 9")]
Gaps = Annotated[Range, PlainValidator(_gap_range), _text_schema("1/8 to 1/4 in", "3 to 6 mm", "none")]


class SiteLimitsEntry(Entry):
    """What the maker of the goods states. Each key can stand at the job or a material; the nearest one counts."""

    moisture_emission: Emission | None = key(
        description="the most by ASTM F1869, such as 3 lb per 1000 sq ft per 24 h, or 15 g per m2 per 24 h"
    )
    relative_humidity: Humidity | None = key(description="the most in the slab by ASTM F2170, such as 75 %")
    ph: Acidities | None = key(description="of the surface: 7 to 9, or at most 9")
    temperature: Temperatures | None = key(
        description="of room and goods: 65 to 85 °F, or at least 18 °C (default: at least 65 °F, common practice)"
    )
    acclimatizing: Hours | None = key(
        description="how long the goods lie in the rooms before: 48 h, 2 days (default 48 h, common practice)"
    )
    flatness: Flatness | None = key(
        description="the deepest hollow under a straightedge: 3 mm in 2 m, or 3/16 in in 10 ft"
    )
    expansion_gap: Gaps | None = key(
        description="left at walls and fixtures: 3 to 6 mm, at least 3 mm, none (default 1/8 to 1/4 in, common "
        "practice)"
    )
    bonded_wet_room: Yes | None = key(description="fully bonded wet-room work: no gap anywhere (default no)")


SubstrateWord = Annotated[str, OneOf("substrate", *Substrate)]


class OtherSubstrateEntry(Entry):
    """Rooms whose substrate is not that of the others."""

    rooms: Names = Field(description="their names")
    substrate: SubstrateWord = Field(description="what their goods are laid on")


class SiteEntry(Entry):
    """What is known of the site; it says which checks and cautions apply."""

    building: Annotated[str, OneOf("building", "existing", "new")] | None = key(
        description="new, or existing (default): old floors may hold asbestos"
    )
    substrate: SubstrateWord | None = key(
        description="what the goods are laid on: concrete, gypsum, wood, existing floor, other; or unknown (default)"
    )
    other_substrates: Annotated[list[OtherSubstrateEntry], OrOne()] | None = key(
        description="rooms that have another one"
    )


class SiteReadingEntry(Entry):
    """What was measured on the site; it is judged against the limit of the material in that room."""

    where: Words = Field(description="the room, or a place in your own words: then every material's limit counts")
    kind: Annotated[str, OneOf("kind of reading", *ReadingKind)] = Field(
        description="what was measured: moisture emission, relative humidity, pH, temperature, acclimatizing, "
        "flatness, expansion gap"
    )
    value: Words = Field(description="with its unit, as for the limit: 72 %, 61 °F, 2 mm in 2 m")
    date: Words | None = key(description="when, in your own words")
