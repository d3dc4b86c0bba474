"""Amounts as people read them, in either system: what is needed rounds up, what there is rounds down."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from nesting.domain.sundries import GALLON_ML, NOUNS, POUND_G, UNITS, Amount, Measure
from nesting.units import FOOT_NM, METRIC, Rounding, format_length, half_up, other_system

M_NM = 10**9
M2_NM2 = 10**18


def area(nm2: Fraction | int) -> Amount:
    """Return an area, nm²."""
    return Amount(measure=Measure.AREA, quantity=Fraction(nm2))


def length(nm: Fraction | int) -> Amount:
    """Return a length, nm."""
    return Amount(measure=Measure.LENGTH, quantity=Fraction(nm))


def pieces(count: Fraction | int) -> Amount:
    """Return a number of pieces."""
    return Amount(measure=Measure.PIECES, quantity=Fraction(count), noun="piece")


def decimal(value: Fraction, places: int, rounding: Rounding) -> str:
    """Return a number with so many places."""
    fine = value * 10**places
    whole = ceil(fine) if rounding == "up" else floor(fine) if rounding == "down" else half_up(fine)
    sign, digits = "-" if whole < 0 else "", f"{abs(whole):0{places + 1}d}"
    return sign + (f"{digits[:-places]}.{digits[-places:]}" if places else digits)


def number_and_unit(amount: Amount, metric: bool, rounding: Rounding = "up") -> tuple[str, str]:
    """Return an amount as a number and its unit, in the metric system or in feet, pounds and US gallons."""
    value = amount.quantity
    if amount.measure is Measure.PIECES:
        return decimal(value, 0 if value.denominator == 1 else 1, rounding), ""
    per, places, unit = _scale(amount, metric)
    return decimal(value / per, places, rounding), unit


def _scale(amount: Amount, metric: bool) -> tuple[Fraction, int, str]:
    if amount.measure is Measure.AREA:
        return (Fraction(M2_NM2), 2, "m2") if metric else (Fraction(FOOT_NM**2), 1, "sq ft")
    if amount.measure is Measure.LENGTH:
        return (Fraction(M_NM), 2, "m") if metric else (Fraction(FOOT_NM), 1, "ft")
    if amount.measure is Measure.VOLUME:
        return (Fraction(1000), 2, "l") if metric else (GALLON_ML, 2, "gal")
    return (Fraction(1000), 2, "kg") if metric else (POUND_G, 1, "lb")


def shown(amount: Amount, unit: str, rounding: Rounding = "up") -> str:
    """Return an amount in the system of a unit of length: as it was written, else `12.35 m2`, `41' 3"`, `310 ml`."""
    if amount.text:
        return amount.text
    metric, value = unit in METRIC, amount.quantity
    if amount.measure is Measure.LENGTH and not metric:
        whole = ceil(value) if rounding == "up" else floor(value)
        return format_length(whole, "ft", rounding=rounding)
    if amount.measure is Measure.VOLUME and value < (1000 if metric else GALLON_ML):
        return (
            f"{decimal(value, 0, rounding)} ml"
            if metric
            else f"{decimal(value / UNITS['fl oz'][1], 1, rounding)} fl oz"
        )
    if amount.measure is Measure.WEIGHT and value < (1000 if metric else POUND_G):
        return f"{decimal(value, 0, rounding)} g" if metric else f"{decimal(value / UNITS['oz'][1], 1, rounding)} oz"
    number, name = number_and_unit(amount, metric, rounding)
    name = {"m2": "m²"}.get(name, name)
    if amount.measure is Measure.PIECES:
        name = noun_of(amount)
    return f"{number} {name}"


def noun_of(amount: Amount) -> str:
    """Return what the pieces of an amount are called, in the singular for one."""
    noun = amount.noun or "piece"
    return noun if amount.quantity == 1 else NOUNS.get(noun, noun)


def in_both(amount: Amount, unit: str, rounding: Rounding = "up") -> str:
    """Return an amount in the system of `unit`, with the other system in brackets beside it."""
    first = shown(amount, unit, rounding)
    if amount.measure is Measure.PIECES:
        return first
    plain = Amount(measure=amount.measure, quantity=amount.quantity)
    return f"{first} ({shown(plain, other_system(unit), rounding)})"
