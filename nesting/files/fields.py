"""The types of the job file's values: text as written becomes whole numbers, with a fault that says what to write."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Annotated, Any, TypeVar

from pydantic import (
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainValidator,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from nesting import units
from nesting.units import Price, UnitError

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Reading:
    """What is known before the values are read: the job's unit and how many coins make one of its money."""

    unit: str
    coins: int = 100


def refuse(code: str, what: str, hint: str = "") -> PydanticCustomError:
    """Return the error that becomes a fault of that code."""
    return PydanticCustomError(code, "{what}", {"what": what, "hint": hint})


class Entry(BaseModel):
    """One mapping of the job file; keys are written with spaces, unknown keys are refused."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        alias_generator=lambda name: name.strip("_").replace("_", " "),
    )


def _text_of(value: Any, what: str) -> str:
    if isinstance(value, dict):
        raise refuse("wrong-type", f"{what} is expected, not keys with values")
    if isinstance(value, list):
        raise refuse("wrong-type", f"{what} is expected, not a list")
    return str(value)


def _reading(info: ValidationInfo) -> Reading:
    assert isinstance(info.context, Reading)
    return info.context


def _read(parse: Callable[[str], T], text: str) -> T:
    try:
        return parse(text)
    except UnitError as error:
        raise refuse(error.code, error.what, error.hint) from None


# --- lengths, sizes, points ------------------------------------------------------------------------------------------


def _checked(nm: int, text: str, least: int | None) -> int:
    """Return `nm` if it is at least `least` and not absurd."""
    text = text.strip()
    if abs(nm) > units.LONGEST_NM:
        raise refuse("absurd-size", f"{text!r} is longer than 10 km", "check the unit")
    if least is not None and nm < least:
        if nm == 0:
            raise refuse("zero-size", f"{text!r} is zero", "give a length above zero, or leave the key out")
        raise refuse("negative-size", f"{text!r} is negative", "lengths are measured without a sign")
    return nm


def _length(least: int | None) -> Callable[[Any, ValidationInfo], int]:
    def parse(value: Any, info: ValidationInfo) -> int:
        text = _text_of(value, "a length")
        return _checked(_read(partial(units.parse_length, default_unit=_reading(info).unit), text), text, least)

    return parse


_LENGTH_EXAMPLES = ["3.75 m", "3750 mm", "12' 4 1/2\"", 3.75]
_LENGTH_SCHEMA = WithJsonSchema({"type": ["string", "number"], "examples": _LENGTH_EXAMPLES})

Length = Annotated[int, PlainValidator(_length(1)), _LENGTH_SCHEMA]
"""Above zero, nm."""
LengthOrZero = Annotated[int, PlainValidator(_length(0)), _LENGTH_SCHEMA]
Coordinate = Annotated[int, PlainValidator(_length(None)), _LENGTH_SCHEMA]


def lengths_in(parts: list[str], unit: str, least: int | None) -> list[int]:
    """Return the lengths of several texts; a bare number takes the unit of the next that has one (60 x 40 cm)."""
    out: list[int] = []
    borrowed = unit
    for part in reversed(parts):
        out.append(_checked(_read(partial(units.parse_length, default_unit=borrowed), part), part, least))
        borrowed = units.unit_in(part) or borrowed
    return out[::-1]


SIDES = re.compile(r"\s*(?:[x×*]|\bby\b)\s*", re.IGNORECASE)
"""What stands between the two sides of a size."""


def _size(value: Any, info: ValidationInfo) -> tuple[int, int]:
    hint = "write both sides with an x between: 3.6 x 2.8, 12' 6\" x 9'"
    parts = SIDES.split(_text_of(value, "a size").strip())
    if len(parts) != 2 or not all(parts):
        raise refuse("bad-size", f"{str(value).strip()!r} is not a size", hint)
    first, second = lengths_in(parts, _reading(info).unit, 1)
    return first, second


Size = Annotated[
    tuple[int, int],
    PlainValidator(_size),
    WithJsonSchema({"type": "string", "examples": ["3.6 x 2.8", "12' 6\" x 9'"]}),
]
"""Two lengths above zero, nm: east-west × north-south, or across × along."""


def _point(value: Any, info: ValidationInfo) -> tuple[int, int]:
    if isinstance(value, list) and len(value) == 2 and all(isinstance(item, str) for item in value):
        parts = [str(item) for item in value]
    else:
        parts = re.split(r"\s*[,;]\s*", _text_of(value, "a point").strip())
    if len(parts) != 2 or not all(parts):
        hint = "write east and north with a comma: 1.2, 0.8"
        raise refuse("bad-point", f"{str(value).strip()!r} is not a point", hint)
    x, y = lengths_in(parts, _reading(info).unit, None)
    return x, y


Point = Annotated[
    tuple[int, int],
    PlainValidator(_point),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "examples": ["1.2, 0.8", "4' 6\", 10'"]},
                {"type": "array", "items": {"type": ["string", "number"]}, "minItems": 2, "maxItems": 2},
            ]
        }
    ),
]
"""East and north of the plan's origin, nm."""

# --- numbers, words, money -------------------------------------------------------------------------------------------


def _whole(least: int) -> Callable[[Any], int]:
    def parse(value: Any) -> int:
        text = _text_of(value, "a whole number").strip()
        if not re.fullmatch(r"[+-]?\d{1,9}", text):
            raise refuse("wrong-type", f"{text!r} is not a whole number")
        if int(text) < least:
            raise refuse("too-small", f"{text!r} is less than {least}")
        return int(text)

    return parse


Whole = Annotated[int, PlainValidator(_whole(0)), WithJsonSchema({"type": "integer", "minimum": 0})]
Count = Annotated[int, PlainValidator(_whole(1)), WithJsonSchema({"type": "integer", "minimum": 1})]


def _yes(value: Any) -> bool:
    text = _text_of(value, "yes or no").strip().lower()
    if text in ("yes", "true", "on"):
        return True
    if text in ("no", "false", "off"):
        return False
    raise refuse("wrong-type", f"{text!r} is neither yes nor no", "write yes or no")


Yes = Annotated[bool, PlainValidator(_yes), WithJsonSchema({"anyOf": [{"type": "boolean"}, {"enum": ["yes", "no"]}]})]


def _words(value: Any) -> str:
    text = _text_of(value, "text").strip()
    if not text:
        raise refuse("wrong-type", "text is expected, this is empty")
    if len(text) > 80 or not text.isprintable():
        what = f"{text[:20]!r}… is too long or holds signs that cannot be printed"
        raise refuse("bad-name", what, "at most 80 letters")
    return text


Words = Annotated[str, PlainValidator(_words), WithJsonSchema({"type": ["string", "number"], "maxLength": 80})]


def listed(value: Any) -> Any:
    """Return a single value as a list of one."""
    return value if isinstance(value, list) else [value]


class OrOne:
    """Makes a list that may be written as its one item, for `Annotated`."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return the validator."""
        return core_schema.no_info_before_validator_function(listed, handler(source))

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return the item, or a list of it."""
        schema = handler(core)
        return {"anyOf": [schema["items"], schema]}


Names = Annotated[list[Words], OrOne()]
Lengths = Annotated[list[Length], OrOne()]
Offsets = Annotated[list[LengthOrZero], OrOne()]


def _money(value: Any, info: ValidationInfo) -> int:
    return _read(lambda text: units.parse_money(text, _reading(info).coins), _text_of(value, "an amount of money"))


Money = Annotated[int, PlainValidator(_money), WithJsonSchema({"type": ["string", "number"], "examples": ["12.50"]})]


def _price(value: Any, info: ValidationInfo) -> Price:
    return _read(lambda text: units.parse_price(text, _reading(info).coins), _text_of(value, "a price"))


PriceText = Annotated[
    Price, PlainValidator(_price), WithJsonSchema({"type": "string", "examples": ["24.50 per m", "3.20 per sq ft"]})
]
Weight = Annotated[
    int,
    PlainValidator(lambda value: _read(units.parse_weight, _text_of(value, "a weight"))),
    WithJsonSchema({"type": "string", "examples": ["60 kg", "120 lb"]}),
]
AreaWeight = Annotated[
    Fraction,
    PlainValidator(lambda value: _read(units.parse_area_weight, _text_of(value, "a weight per area"))),
    WithJsonSchema({"type": "string", "examples": ["2.9 kg/m2", "60 oz per sq yd"]}),
]


def _share(value: Any) -> Fraction:
    text = _text_of(value, "a share")
    share = _read(units.parse_fraction, text)
    if share >= 1:
        raise refuse("too-large", f"{text.strip()!r} is not below 100 %", "write 1 %")
    return share


Share = Annotated[Fraction, PlainValidator(_share), WithJsonSchema({"type": ["string", "number"], "examples": ["1 %"]})]


class OneOf:
    """The type of a word out of a fixed list, for `Annotated`."""

    def __init__(self, what: str, *names: str) -> None:
        self.what = what
        self.names = tuple(str(name) for name in names)

    def read(self, value: Any) -> str:
        """Return the word of the list that `value` is."""
        text = normal_word(_text_of(value, self.what))
        if text in self.names:
            return text
        raise refuse("unknown-name", f"{text!r} is no {self.what}", nearest(text, self.names))

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return the validator."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Return the list, hyphens written as spaces or not."""
        spaced = [name.replace("-", " ") for name in self.names]
        return {"enum": list(dict.fromkeys([*self.names, *spaced]))}


def normal_word(text: str) -> str:
    """Return a word of a fixed list as the lists have it: lower case, hyphens."""
    return "-".join(text.lower().replace("_", "-").split())


def nearest(text: str, names: Iterable[str]) -> str:
    """Return a hint that names the nearest of `names`, or all of them if they are few."""
    known = list(dict.fromkeys(names))
    close = difflib.get_close_matches(text.lower(), [name.lower() for name in known], n=3, cutoff=0.6)
    if close:  # the first letter is seldom wrong
        likely = next((name for name in close if name[:1] == text[:1].lower()), close[0])
        meant = next(name for name in known if name.lower() == likely)
        return f"did you mean `{meant}`?"
    return "known: " + ", ".join(known) if 0 < len(known) <= 12 else ""
