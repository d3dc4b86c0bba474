"""Readings and limits in words: the job's own system first, the other beside it."""

from __future__ import annotations

import re
from fractions import Fraction

from nesting.domain.site import G_M2_PER_LB, Range, ReadingKind
from nesting.units import METRIC, both_systems, format_length, half_up

NAMES = {
    ReadingKind.EMISSION: "moisture emission",
    ReadingKind.HUMIDITY: "relative humidity of the slab",
    ReadingKind.PH: "pH of the surface",
    ReadingKind.TEMPERATURE: "temperature",
    ReadingKind.ACCLIMATIZING: "time in the rooms",
    ReadingKind.FLATNESS: "hollow under a straightedge",
    ReadingKind.GAP: "expansion gap",
}


def number_words(value: Fraction, digits: int = 2) -> str:
    """Return a number with at most so many decimals, without zeros at its end."""
    scaled = half_up(abs(value) * 10**digits)
    whole, part = divmod(scaled, 10**digits)
    decimals = f"{part:0{digits}d}".rstrip("0")
    return ("-" if value < 0 and scaled else "") + f"{whole}" + (f".{decimals}" if decimals else "")


def length_words(nm: int, unit: str) -> str:
    """Return a length in the job's unit, small ones in mm or inches, with the other system beside it."""
    own, other = both_systems(nm, "mm" if unit in METRIC else "in")
    return f"{own} ({other})"


def _span_words(nm: int, unit: str) -> str:
    return _either(f"{number_words(Fraction(nm, 10**9))} m", format_length(nm, "ft"), unit)


def _either(metric: str, other: str, unit: str) -> str:
    return f"{metric} ({other})" if unit in METRIC else f"{other} ({metric})"


def value_words(kind: ReadingKind, value: Fraction, unit: str, span_nm: int = 0) -> str:
    """Return a value of a kind of reading; `value` in the unit that `ReadingKind` names."""
    if kind is ReadingKind.EMISSION:
        metric = f"{number_words(value)} g/m² in 24 h"
        return _either(metric, f"{number_words(value / G_M2_PER_LB)} lb per 1000 sq ft in 24 h", unit)
    if kind is ReadingKind.HUMIDITY:
        return f"{number_words(value)} % RH"
    if kind is ReadingKind.TEMPERATURE:
        return _either(f"{number_words(value, 1)} °C", f"{number_words(value * Fraction(9, 5) + 32, 1)} °F", unit)
    if kind is ReadingKind.ACCLIMATIZING:
        return f"{number_words(value)} h"
    if kind is ReadingKind.PH:
        return number_words(value)
    text = length_words(half_up(value), unit)
    return f"{text} in {_span_words(span_nm, unit)}" if span_nm else text


def _step_words(kind: ReadingKind, by: Fraction, unit: str) -> str:
    """Return a difference of two values, never as nothing."""
    if kind is ReadingKind.TEMPERATURE:
        celsius, fahrenheit = number_words(by, 1), number_words(by * Fraction(9, 5), 1)
        return _either(f"{celsius} °C", f"{fahrenheit} °F", unit) if celsius != "0" else "slightly"
    text = value_words(kind, by, unit)
    return text if re.search("[1-9]", text.split()[0]) else "slightly"


def excess_words(kind: ReadingKind, by: Fraction, unit: str) -> str:
    """Return by how much a limit is missed: above it where `by` is above zero, else below."""
    return f"{_step_words(kind, abs(by), unit)} {'above' if by > 0 else 'below'} the limit"


def range_words(kind: ReadingKind, allowed: Range, unit: str, span_nm: int = 0) -> str:
    """Return what is allowed: at least so much, at most so much, from one to the other."""
    low, high = (None if end is None else value_words(kind, end, unit, span_nm) for end in (allowed.low, allowed.high))
    if kind is ReadingKind.GAP and allowed.high == 0:
        return "none"
    if low is None or high is None:
        return f"at most {high}" if low is None else f"at least {low}"
    return f"{low} to {high}"
