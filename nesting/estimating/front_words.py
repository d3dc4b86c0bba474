"""The trade-off in words and as a chart: what every step costs, what is proved, what was not looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from nesting.domain.front import Front, FrontRow, Known, TradeOff, one_seam_less, one_width
from nesting.domain.job import Job, Unit
from nesting.drawing.front_chart import FrontChart, Mark
from nesting.units import FOOT_NM, Rounding, format_length, format_money, half_up

METRE_NM = 1_000_000_000
M2_NM2 = METRE_NM**2


def roll_text(job: Job, material_id: str, nm2: Fraction | int, rounding: Rounding = "nearest") -> str:
    """Return an amount of roll: a length where one width is made, else an area."""
    width = one_width(job, material_id)
    if width is None:
        return f"{float(Fraction(nm2) / M2_NM2):.2f} m²"
    return format_length(half_up(Fraction(nm2) / width), job.unit.value, rounding=rounding, with_unit=True)


def seams_text(count: int) -> str:
    """Return so many seams."""
    return f"{count} seam{'s' if count != 1 else ''}"


def said_of(trade_off: TradeOff, front: Front) -> list[str]:
    """Return sentences: what every step costs, from the fewest seams on, and what is known beyond and between."""
    job = trade_off.job
    found = [_below(front)]
    found += [step_text(job, front.material_id, above, row) for above, row in pairwise(front.rows)]
    found.append(_beyond(job, front))
    found += _between(front)
    if front.by_hand is not None:
        roll = sum(width * length for width, length in front.by_hand.ordered_nm)
        text = f"By hand: {roll_text(job, front.material_id, roll)} with {seams_text(front.by_hand.seams)}"
        found.append(f"{text}{_against_hand(job, front, roll)}.")
    return found


def _below(front: Front) -> str:
    fewest = front.rows[0].seams
    if fewest == 0:
        return "No seam at all is needed."
    if front.has_proved_fewest:
        return f"No plan has fewer than {seams_text(fewest)}: proved."
    below = "that there is none is not proved"
    if front.fewest_seams > 0:
        below = f"that there is none with fewer than {front.fewest_seams} is proved"
    return f"No plan with fewer than {seams_text(fewest)} was found; {below}."


def step_text(job: Job, material_id: str, above: FrontRow, row: FrontRow) -> str:
    """Return what it costs to take the row above instead of a row."""
    each = one_seam_less(row, above)
    roll = roll_text(job, material_id, above.roll_nm2 - row.roll_nm2)
    text = f"{_instead(above.seams, row.seams)}: {roll} more roll"
    cost = above.part.measures.total_cost - row.part.measures.total_cost
    if cost:
        text += f", {_money(job, cost)} {'more' if cost > 0 else 'less'}"
    if row.seams - above.seams > 1:
        text += f"; {roll_text(job, material_id, each.roll_nm2)}"
        text += f" and {_money(job, half_up(each.cost))}" if cost else ""
        text += " for each seam less"
    return f"{text}."


def _money(job: Job, coins: int) -> str:
    return format_money(abs(coins), job.currency, job.coin_per_unit)


def _instead(few: int, many: int) -> str:
    if few == 0:
        return f"No seam instead of {many}"
    half = " (half as many)" if few * 2 == many else ""
    return f"{seams_text(few)} instead of {many}{half}"


def _beyond(job: Job, front: Front) -> str:
    most, least = front.rows[-1].seams, front.least_roll
    cap = job.goal.most_seams
    if cap is not None and cap <= most:
        return f"The job's goal allows no more than {seams_text(cap)}."
    beyond = f"more than {seams_text(most)}{'' if cap is None else f' and up to the {cap} that the goal allows'}"
    if least.proved:
        return f"With {beyond} no roll is saved: proved."
    amount = roll_text(job, front.material_id, least.value, "down")
    share = Fraction(least.attained - least.value, max(1, least.attained))
    at_all = f"no plan at all orders less than {amount} ({_percent(share)} less)"
    return f"With {beyond} nothing was found that saves roll; {at_all}."


def _percent(share: Fraction) -> str:
    return f"{float(share):.1%}"


def _between(front: Front) -> Iterator[str]:
    """Yield what is known of the numbers of seams that have no row."""
    words = {
        Known.SETTLED: "With {} no plan orders less than the row before: proved.",
        Known.SEARCHED: "With {} nothing was found that orders less than the row before.",
        Known.NOT_LOOKED_AT: "Plans with {} were not looked at: a greater effort, or more time, looks there as well.",
    }
    for known, text in words.items():
        runs = list(runs_of(item.seams for item in front.known if item.known is known))
        if runs:
            yield text.format(_runs_text(runs))


def runs_of(numbers: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Yield the runs of neighbouring numbers as (first, last)."""
    run: tuple[int, int] | None = None
    for number in numbers:
        if run is not None and number == run[1] + 1:
            run = (run[0], number)
            continue
        if run is not None:
            yield run
        run = (number, number)
    if run is not None:
        yield run


def _runs_text(runs: Sequence[tuple[int, int]]) -> str:
    texts = [str(first) if first == last else f"{first} to {last}" for first, last in runs]
    listed = texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} or {texts[-1]}"
    return f"{listed} seam{'s' if runs[-1][1] != 1 else ''}"


def _against_hand(job: Job, front: Front, roll_nm2: int) -> str:
    """Return what the front saves with no more seams than the hand method has."""
    row = front.with_at_most(front.by_hand.seams) if front.by_hand is not None else None
    if row is None or row.roll_nm2 >= roll_nm2:
        return ""
    saved = roll_text(job, front.material_id, roll_nm2 - row.roll_nm2)
    share = _percent(Fraction(roll_nm2 - row.roll_nm2, roll_nm2))
    return f"; the plan with {seams_text(row.seams)} here orders {saved} less ({share})"


def said_of_all(trade_off: TradeOff) -> list[str]:
    """Return what the ends cost together where there are several materials: their lengths are never added."""
    job, fronts = trade_off.job, trade_off.fronts
    if len(fronts) < 2 or trade_off.refusals:
        return []
    found = []
    for name, place in (("Fewest seams", 0), ("Least roll", -1)):
        rows = [front.rows[place] for front in fronts]
        cost = sum(row.part.measures.total_cost for row in rows)
        if cost:
            money = format_money(cost, job.currency, job.coin_per_unit)
            found.append(f"{name} of all materials: {seams_text(sum(row.seams for row in rows))}, {money}.")
    return found


def mark_of(job: Job, material_id: str, seams: int, nm2: int) -> Mark:
    """Return a plan as a mark on the chart."""
    return Mark(seams=seams, amount=nm2 / _axis(job, material_id)[0], text=roll_text(job, material_id, nm2))


def _axis(job: Job, material_id: str) -> tuple[int, str]:
    """Return the nm² of one unit of the axis, and the unit: a length where one width is made, else an area."""
    width = one_width(job, material_id)
    imperial = job.unit in (Unit.INCH, Unit.FOOT)
    per = M2_NM2 if width is None else width * (FOOT_NM if imperial else METRE_NM)
    return per, "m²" if width is None else "ft" if imperial else "m"


def chart_of(trade_off: TradeOff, front: Front) -> FrontChart:
    """Return the chart of a front: lengths where one width is made, else areas."""
    job = trade_off.job
    material = next(material for material in job.materials if material.id == front.material_id)
    per, unit = _axis(job, front.material_id)

    def mark(seams: int, nm2: int) -> Mark:
        return mark_of(job, front.material_id, seams, nm2)

    hand = front.by_hand
    lines = [f"{material.name}: what is ordered with at most so many seams"]
    lines += ["The run was stopped: there may be better plans."] if front.stopped else []
    return FrontChart(
        title=job.name,
        lines=tuple(lines),
        axis=f"roll ordered, {unit}",
        rows=tuple(mark(row.seams, row.roll_nm2) for row in front.rows),
        bounds=tuple((item.seams, item.bound_nm2 / per) for item in front.known),
        least=front.least_roll.value / per,
        by_hand=None if hand is None else mark(hand.seams, sum(w * length for w, length in hand.ordered_nm)),
        unseen=tuple(runs_of(item.seams for item in front.known if item.known is Known.NOT_LOOKED_AT)),
    )
