"""Frozen dataclasses to JSON values and back: strict, generic, led by the annotations alone.

Whole numbers stay whole numbers, Fractions are "a/b" in lowest terms, enums their values, tuples and named tuples
lists. Every field is written; a field that has a default may be missing when read, so that a field can be added
without a new format.
"""

from __future__ import annotations

import dataclasses
import json
import re
import types
import typing
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any

_FRACTION = re.compile(r"(-?(?:0|[1-9]\d{0,59}))/([1-9]\d{0,59})")
MOST_DIGITS = 60
"""Areas in nm² have about 27 digits; a longer number is no measure."""
_LINE = 112


class CodecError(ValueError):
    """A value that does not fit its annotation; `where` is its path in the file."""

    def __init__(self, where: str, what: str) -> None:
        super().__init__(f"{where}: {what}" if where else what)
        self.where = where
        self.what = what


def to_data(value: object) -> Any:
    """Return `value` as dicts, lists, strings, whole numbers, booleans and None.

    Raises
    ------
    TypeError
        If something in `value` is of a type that the files do not know, such as a float.
    """
    if value is None or (isinstance(value, (bool, str)) and not isinstance(value, Enum)):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if isinstance(value, int):
        return int(value)
    if isinstance(value, tuple):
        return [to_data(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_data(getattr(value, field.name)) for field in dataclasses.fields(value)}
    raise TypeError(f"{type(value).__name__} cannot be written to a file")


@cache
def _fields_of(kind: type) -> tuple[tuple[str, Any, bool], ...]:
    """Return (name, annotation, may be missing) of every field of a dataclass."""
    hints = typing.get_type_hints(kind)
    return tuple(
        (
            field.name,
            hints[field.name],
            field.default is not dataclasses.MISSING or field.default_factory is not dataclasses.MISSING,
        )
        for field in dataclasses.fields(kind)
    )


def from_data(kind: Any, data: Any, where: str = "") -> Any:
    """Return `data` as a value of the annotation `kind`.

    Raises
    ------
    CodecError
        If `data` does not fit: wrong types, unknown or missing fields, unknown names.
    """
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        (inner,) = (arm for arm in typing.get_args(kind) if arm is not type(None))
        return None if data is None else from_data(inner, data, where)
    if origin is tuple:
        return _tuple(typing.get_args(kind), data, where)
    if isinstance(kind, type):
        if dataclasses.is_dataclass(kind):
            return _dataclass(kind, data, where)
        if issubclass(kind, tuple):  # a named tuple
            hints = typing.get_type_hints(kind)
            return kind(*_tuple(tuple(hints.values()), data, where))
    return _scalar(kind, data, where)


def _tuple(arms: tuple[Any, ...], data: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(data, list):
        raise CodecError(where, f"a list is expected, not {_named(data)}")
    if len(arms) == 2 and arms[1] is Ellipsis:
        return tuple([from_data(arms[0], item, f"{where}[{i}]") for i, item in enumerate(data)])
    if len(data) != len(arms):
        raise CodecError(where, f"a list of {len(arms)} is expected, not of {len(data)}")
    pairs = enumerate(zip(arms, data, strict=True))
    return tuple([from_data(arm, item, f"{where}[{i}]") for i, (arm, item) in pairs])


def _dataclass(kind: type, data: Any, where: str) -> Any:
    if not isinstance(data, dict):
        raise CodecError(where, f"an object is expected, not {_named(data)}")
    fields = _fields_of(kind)
    unknown = sorted(set(data) - {name for name, _, _ in fields})
    if unknown:
        raise CodecError(where, f"unknown field {unknown[0]!r}")
    values = {}
    for name, annotation, may_be_missing in fields:
        inner = f"{where}.{name}" if where else name
        if name in data:
            values[name] = from_data(annotation, data[name], inner)
        elif not may_be_missing:
            raise CodecError(inner, "the field is missing")
    return kind(**values)


def _scalar(kind: Any, data: Any, where: str) -> Any:
    if kind is Fraction:
        found = _FRACTION.fullmatch(data) if isinstance(data, str) else None
        value = Fraction(int(found[1]), int(found[2])) if found else None
        if found is None or value is None or value.denominator != int(found[2]):
            raise CodecError(where, f'a fraction "a/b" in lowest terms is expected, not {_named(data)}')
        return value
    if isinstance(kind, type) and issubclass(kind, Enum):
        for member in kind:
            if type(data) is type(member.value) and data == member.value:
                return member
        names = ", ".join(str(member.value) for member in kind)
        raise CodecError(where, f"{_named(data)} is not one of {names}")
    if kind not in (int, str, bool):
        raise TypeError(f"{kind!r} cannot be read from a file")
    if type(data) is not kind:
        words = {int: "a whole number", str: "text", bool: "true or false"}
        raise CodecError(where, f"{words[kind]} is expected, not {_named(data)}")
    if kind is str and not data.isprintable() and any(0xD800 <= ord(sign) <= 0xDFFF for sign in data):
        raise CodecError(where, "the text holds half of a character")
    return data


def _named(data: Any) -> str:
    """Return what `data` is, short enough for a message."""
    if isinstance(data, (dict, list)):
        return "an object" if isinstance(data, dict) else "a list"
    text = json.dumps(data)
    return text if len(text) <= 40 else f"{text[:36]}…"


def dump_json(data: Any) -> str:
    """Return `data` as JSON: ASCII only, two spaces a level, what fits on a line on one line, a newline at the end."""
    return "".join(_lines(data, "", 0)) + "\n"


def _lines(data: Any, indent: str, taken: int) -> list[str]:
    """Return the pieces of `data` as text; `taken` columns of the line are used already."""
    flat = json.dumps(data, ensure_ascii=True, allow_nan=False)
    if not isinstance(data, (dict, list)) or not data or len(indent) + taken + len(flat) <= _LINE:
        return [flat]
    inner = indent + "  "
    if isinstance(data, dict):
        items = [(json.dumps(key) + ": ", value) for key, value in data.items()]
        opening, closing = "{", "}"
    else:
        items = [("", value) for value in data]
        opening, closing = "[", "]"
    out = [opening, "\n"]
    for i, (head, item) in enumerate(items):
        out += [inner, head, *_lines(item, inner, len(head) + 1), ",\n" if i + 1 < len(items) else "\n"]
    return [*out, indent, closing]


def load_json(text: str) -> Any:
    """Return the JSON in `text`: whole numbers only, no key twice, no absurd number or depth.

    Raises
    ------
    CodecError
        If it is not such JSON.
    """
    try:
        return json.loads(
            text,
            parse_int=_whole,
            parse_float=_no_float,
            parse_constant=_no_float,
            object_pairs_hook=_object,
        )
    except json.JSONDecodeError as error:
        raise CodecError("", f"not JSON: {error.msg} at line {error.lineno}, column {error.colno}") from None
    except RecursionError:
        raise CodecError("", "not a plan: lists within lists without end") from None


def _whole(text: str) -> int:
    if len(text) > MOST_DIGITS:
        raise CodecError("", f"the number {text[:12]}… of {len(text)} digits is too long")
    return int(text)


def _no_float(text: str) -> float:
    raise CodecError("", f"{text[:20]} is not a whole number")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for key, value in pairs:
        if key in data:
            raise CodecError("", f"the key {key[:40]!r} stands twice in one object")
        data[key] = value
    return data
