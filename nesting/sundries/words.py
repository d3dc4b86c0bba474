"""A line of the list as plain words, in the job's unit, the other system beside what is needed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from nesting.domain.plan import Plan
from nesting.domain.sundries import Amount, Measure
from nesting.sundries.amounts import decimal, in_both, noun_of, shown
from nesting.sundries.cutting import Cutting, Least
from nesting.sundries.listing import SundryLine
from nesting.units import METRIC, format_length, format_money


@dataclass(frozen=True, slots=True, kw_only=True)
class SundryWords:
    """What a line says; empty where it is not known, `material` where it is for all of the job's materials."""

    material: str
    name: str
    need: str
    to_buy: str
    left_over: str
    cost: str
    how: str


def sundry_words(plan: Plan, line: SundryLine) -> SundryWords:
    """Return a line of the plan's list in words."""
    job = plan.job
    rooms = set(line.sundry.room_ids)
    of_rooms = {room.material_id for room in job.rooms if room.id in rooms or not rooms}
    mine = of_rooms.intersection(line.sundry.material_ids) or set(line.sundry.material_ids)
    names = [material.name for material in job.materials if material.id in mine]
    return SundryWords(
        material="" if len(names) == len(job.materials) > 1 else ", ".join(names),
        name=line.sundry.name,
        need=in_both(line.need, job.unit),
        to_buy=_to_buy(line, job.unit),
        left_over="" if line.left_over is None else shown(line.left_over, job.unit, "down"),
        cost="" if line.cost is None else format_money(line.cost, job.currency, job.coin_per_unit),
        how="; ".join([*_how(line, job.unit), *_where(plan, line)]),
    )


def cutting_words(plan: Plan, line: SundryLine) -> tuple[str, ...]:
    """Return how each stock length of a line is cut: `3 x 3.000 m: 1.800 m + 1.150 m, 0.050 m left over`."""
    unit = plan.job.unit
    out = []
    for way in line.cutting.lengths if line.cutting else ():
        pieces = " + ".join(format_length(nm, unit, rounding="up", with_unit=True) for nm in way.pieces_nm)
        left = f", {format_length(way.left_nm, unit, rounding='down', with_unit=True)} left over" if way.left_nm else ""
        out.append(f"{way.count} x {format_length(way.stock_nm, unit, with_unit=True)}: {pieces}{left}")
    return tuple(out)


def _where(plan: Plan, line: SundryLine) -> list[str]:
    """Return the rooms that a product is for, if it is not for all."""
    names = [room.name for room in plan.job.rooms if room.id in line.sundry.room_ids]
    return [f"in {', '.join(names)} only"] if names else []


def _to_buy(line: SundryLine, unit: str) -> str:
    if line.cutting is not None:
        lengths = [f"{count} x {format_length(nm, unit, with_unit=True)}" for nm, count in line.cutting.bought]
        return ", ".join(lengths) or "none"
    pack = line.sundry.pack
    if line.packs is None or pack is None:
        return ""
    if not line.packs:
        return "none"
    if pack.measure is Measure.PIECES and pack.quantity == 1:
        count = Fraction(line.packs)
        return f"{line.packs} {noun_of(replace(pack, quantity=count))}"
    return f"{line.packs} x {shown(pack, unit)}"


def _how(line: SundryLine, unit: str) -> list[str]:
    """Return how the need was reckoned, step by step."""
    sundry = line.sundry
    steps = [steps for steps in (line.basis.measured, line.basis.parts) if steps]
    out = [" + ".join(f"{part.what} {_counted(part.amount, unit)}" for part in parts) for parts in steps]
    if sundry.gap_nm is not None:
        depth = sundry.gap_nm if sundry.depth_nm is None else sundry.depth_nm
        out.append(f"{_length(sundry.gap_nm, unit)} wide, {_length(depth, unit)} deep")
    if sundry.band_nm is not None and line.basis.measured:
        out.append(f"a band of {_length(sundry.band_nm, unit)}")
    if sundry.rate is not None:
        out.append(sundry.rate.text)
    if sundry.waste:
        out.append(f"{decimal(sundry.waste * 100, 1, 'nearest').removesuffix('.0')} % waste")
    if sundry.width_nm is not None:
        out.append(f"{_length(sundry.width_nm, unit)} wide")
    if line.cutting is not None:
        out.append(_least(line.cutting))
        if sundry.kerf_nm:
            out.append(f"the saw takes {_length(sundry.kerf_nm, unit)}")
    out += line.basis.notes
    if not line.given:
        out.append("no rate given")
    return out


def _counted(amount: Amount, unit: str) -> str:
    """Return an amount that the plan counted: of pieces the number alone."""
    return shown(amount, unit).split()[0] if amount.measure is Measure.PIECES else shown(amount, unit)


def _least(cutting: Cutting) -> str:
    """Return what is least about a cutting, and how far that is proved."""
    what = "cost" if cutting.least is Least.COST else "length of stock"
    if cutting.proved:
        return f"the least {what}, proved"
    above = decimal(Fraction(cutting.value - cutting.bound, cutting.bound) * 100, 1, "up")
    return f"little {what}, at most {above} % above the least possible"


def _length(nm: int, unit: str) -> str:
    small = "mm" if unit in METRIC else "in"
    return format_length(nm, small, with_unit=True)
