"""Lengths as the maps show them: the job's own unit only."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.domain.job import Unit
from nesting.units import format_length

_TENTH_NM, _SIXTEENTH_NM, _SIXTY_FOURTH_NM = 100_000, 1_587_500, 396_875
"""What figures are rounded to: a tenth of a millimetre; 1/16 in, or 1/64 in where that is exact."""


def figure(length_nm: int, unit: Unit) -> str:
    """Return a length in the job's unit; metric figures go without the unit's name, which the sheet's head says."""
    return format_length(length_nm, unit.value)


def length_text(length_nm: int, unit: Unit) -> str:
    """Return a length in the job's unit with the unit's name."""
    return format_length(length_nm, unit.value, with_unit=True)


def size_text(width_nm: int, length_nm: int, unit: Unit, *, with_unit: bool = False) -> str:
    """Return width × length."""
    shown = length_text if with_unit else figure
    return f"{figure(width_nm, unit)} × {shown(length_nm, unit)}"


def shown_chain(parts_nm: Sequence[int], unit: Unit) -> tuple[tuple[int, ...], int]:
    """Return the parts of a chain of dimensions and their sum, rounded so that their figures add up as printed.

    The sum is rounded by itself. Every part is rounded down, and what is then missing goes, a step each, to the parts
    that lost the most (the largest remainders, as in Hamilton's method of apportionment; of equals the first).
    """
    total = sum(parts_nm)
    step = _step_nm(parts_nm, unit)
    whole = (2 * total + step) // (2 * step)
    shown = [part // step for part in parts_nm]
    longest = sorted(range(len(shown)), key=lambda k: (-(parts_nm[k] % step), k))
    for k in longest[: whole - sum(shown)]:
        shown[k] += 1
    return tuple(part * step for part in shown), whole * step


def _step_nm(parts_nm: Sequence[int], unit: Unit) -> int:
    """Return the step to which a chain is rounded: that of its sum's figure, finer where all its parts are exact."""
    if unit not in (Unit.INCH, Unit.FOOT):
        return _TENTH_NM
    total = sum(parts_nm)
    exact = all(part % _SIXTY_FOURTH_NM == 0 for part in parts_nm)
    odd = total % _SIXTEENTH_NM and total % _SIXTY_FOURTH_NM == 0  # a sum that is itself shown to 1/64
    return _SIXTY_FOURTH_NM if exact or odd else _SIXTEENTH_NM


def unit_note(unit: Unit) -> str:
    """Return what the figures of the sheet are in."""
    return {
        Unit.MM: "figures in mm",
        Unit.CM: "figures in cm",
        Unit.M: "figures in m",
        Unit.INCH: "figures in inches",
        Unit.FOOT: "figures in feet and inches",
    }[unit]
