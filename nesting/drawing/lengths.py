"""Lengths as the maps show them: the job's own unit only."""

from __future__ import annotations

from nesting.domain.job import Unit
from nesting.units import format_length


def figure(length_nm: int, unit: Unit) -> str:
    """Return a length in the job's unit; metric figures go without the unit's name, which the sheet's head says."""
    return format_length(length_nm, unit.value)


def length_text(length_nm: int, unit: Unit) -> str:
    """Return a length in the job's unit with the unit's name."""
    return format_length(length_nm, unit.value, with_unit=True)


def size_text(width_nm: int, length_nm: int, unit: Unit) -> str:
    """Return width × length."""
    return f"{figure(width_nm, unit)} × {figure(length_nm, unit)}"


def unit_note(unit: Unit) -> str:
    """Return what the figures of the sheet are in."""
    return {
        Unit.MM: "figures in mm",
        Unit.CM: "figures in cm",
        Unit.M: "figures in m",
        Unit.INCH: "figures in inches",
        Unit.FOOT: "figures in feet and inches",
    }[unit]
