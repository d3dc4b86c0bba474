"""What pins cost and which contradict one another: as data for `--json`, as lines for people."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nesting.domain.job import Job
from nesting.domain.pin_list import Pin
from nesting.estimating.pinned import Contradiction, PinCost, PinCosts
from nesting.units import format_length, format_money

M2 = 10**18


def costs_data(costs: PinCosts) -> dict[str, Any]:
    """Return the costs of a material's pins as plain data: areas in nm², money in the smallest coin."""
    return {
        "each": [{**_pin_data(cost.pin), **_cost_data(cost)} for cost in costs.each if cost.pin is not None],
        "together": _cost_data(costs.together),
        "unpriced": [_pin_data(pin) for pin in costs.unpriced],
    }


def _pin_data(pin: Pin) -> dict[str, Any]:
    return {"kind": pin.kind.value, "rooms": list(pin.rooms), "words": pin.words, "line": pin.line}


def _cost_data(cost: PinCost) -> dict[str, Any]:
    return {
        "roll_nm2": cost.roll_nm2,
        "cost": cost.money,
        "seams": cost.seams,
        "first_level": cost.first,
        "first_level_at_least": cost.first_least,
        "proved": cost.proved,
    }


def costs_lines(job: Job, costs: PinCosts) -> list[str]:
    """Return a line for every pin of a material, the dearest first, and one for all of them."""
    dearest = sorted(costs.each, key=lambda cost: -cost.first)
    lines = [f"{cost.pin.words} {_cost_text(job, costs, cost)}" for cost in dearest if cost.pin is not None]
    if len(costs.each) + len(costs.unpriced) > 1:
        lines.append(f"all pins together: {_cost_text(job, costs, costs.together)}")
    if costs.unpriced:
        few = f"{len(costs.unpriced)} pin{'s' if len(costs.unpriced) > 1 else ''}"
        lines.append(f"what {few} cost{'' if len(costs.unpriced) > 1 else 's'} was not looked at")
    return lines


def _cost_text(job: Job, costs: PinCosts, cost: PinCost) -> str:
    """Return what a pin costs, and what the bound says of that."""
    parts = []
    if cost.roll_nm2 > 0:
        parts.append(f"{_roll(job, costs, cost.roll_nm2)} more roll")
    if cost.seams > 0:
        parts.append(f"{_count(cost.seams)} more")
    if cost.money > 0:
        parts.append(format_money(cost.money, job.currency, job.coin_per_unit))
    if not parts:
        return "costs nothing" + _saved(job, costs, cost)
    return f"costs {', '.join(parts)}{_saved(job, costs, cost)}{_bound(job, costs, cost)}"


def _saved(job: Job, costs: PinCosts, cost: PinCost) -> str:
    """Return what is less with the pin: the goal weighs roll against seams."""
    parts = []
    if cost.roll_nm2 < 0:
        parts.append(f"{_roll(job, costs, -cost.roll_nm2)} less roll")
    if cost.seams < 0:
        parts.append(f"{_count(-cost.seams)} fewer")
    return f", with {' and '.join(parts)}" if parts else ""


def _bound(job: Job, costs: PinCosts, cost: PinCost) -> str:
    if cost.proved:
        return " (proved: no plan that keeps it costs less)"
    if cost.first_least <= 0:
        return " (by the bound it might cost nothing)"
    level = costs.free.bounds[0].level
    if level == "seams":
        least = _count(cost.first_least)
    elif level == "cost":
        least = format_money(cost.first_least, job.currency, job.coin_per_unit)
    else:
        least = f"{_roll(job, costs, cost.first_least, rounding='down')} of roll" + (
            ", seams weighed" if level == "balanced-roll" else ""
        )
    return f" (by the bound at least {least})"


def _count(seams: int) -> str:
    return f"{seams} seam{'s' if seams > 1 else ''}"


def _roll(job: Job, costs: PinCosts, nm2: int, rounding: str = "up") -> str:
    """Return an area of roll as a length where the material is made in one width."""
    widths = next(material.widths_nm for material in job.materials if material.id == costs.material_id)
    if len(widths) > 1:
        return f"{nm2 / M2:.2f} m²"
    length = nm2 // widths[0] if rounding == "down" else -(-nm2 // widths[0])
    return format_length(length, job.unit.value, rounding="down" if rounding == "down" else "up", with_unit=True)


def contradiction_data(found: Contradiction) -> dict[str, Any]:
    """Return pins that contradict as plain data."""
    return {"pins": [_pin_data(pin) for pin in found.pins], "proved": found.proved}


def contradiction_lines(job: Path, found: Sequence[Contradiction]) -> list[str]:
    """Return which pins cannot all be kept, each with the line of the job file where it stands."""
    lines = []
    for item in found:
        many = len(item.pins) > 1
        if item.proved:
            head = "no layout keeps all of these pins, let one go" if many else "no layout by the rules keeps this pin"
        else:
            head = "no plan was found that keeps all of these pins" if many else "no plan was found that keeps this pin"
        lines.append(f"{head}:")
        lines += [f"  {_place(job, pin)}: {pin.words}" for pin in item.pins]
    return lines


def _place(job: Path, pin: Pin) -> str:
    return f"{job}:{pin.line}" if pin.line else "--pin"
