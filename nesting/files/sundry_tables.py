"""The list of sundries as CSV: what is needed, what to buy, what is left over, how it was reckoned.

What is needed rounds up, what is left over rounds down; both systems stand beside each other whatever the job's unit.
"""

from __future__ import annotations

import csv
import io
from fractions import Fraction

from nesting.domain.plan import Plan
from nesting.domain.sundries import Amount, Measure
from nesting.files.tables import cell
from nesting.sundries import SundryLine, SundryList, cutting_words, sundries_of, sundry_words
from nesting.sundries.amounts import noun_of, number_and_unit
from nesting.units import Rounding, format_money

SUNDRY_COLUMNS = (
    "kind",
    "name",
    "material",  # empty: for all of the job's materials
    "needed",  # waste included
    "unit",  # m2, m, l, kg, or what pieces are called
    "needed us",
    "unit us",  # sq ft, ft, gal, lb, or what pieces are called
    "pack",
    "price of a pack",
    "packs",  # whole packs; empty: no pack is given, or it is cut from stock lengths
    "to buy",
    "left over",  # in `unit`
    "left over us",
    "cost",
    "currency",
    "how",
    "cut",  # how each stock length is cut
)
"""Columns of the list of sundries."""


def sundries_csv(plan: Plan, sundries: SundryList | None = None) -> str:
    """Return the list of sundries: one line a product, in the order of the kinds, see `SUNDRY_COLUMNS`.

    `sundries`: those of the plan where they are there already; None: they are reckoned here.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(SUNDRY_COLUMNS)
    for line in (sundries or sundries_of(plan)).lines:
        writer.writerow([cell(text) for text in _row(plan, line)])
    return out.getvalue()


def _row(plan: Plan, line: SundryLine) -> list[str]:
    words, job, sundry = sundry_words(plan, line), plan.job, line.sundry
    return [
        sundry.kind.value,
        sundry.name,
        words.material,
        *_both(line.need, "up"),
        sundry.pack.text if sundry.pack else "",
        "" if sundry.price is None else format_money(sundry.price, "", job.coin_per_unit),
        "" if line.packs is None else str(line.packs),
        words.to_buy,
        *(("", "") if line.left_over is None else _both(line.left_over, "down")[::2]),
        "" if line.cost is None else format_money(line.cost, "", job.coin_per_unit),
        "" if line.cost is None else job.currency,
        words.how,
        "; ".join(cutting_words(plan, line)),
    ]


def _both(amount: Amount, rounding: Rounding) -> tuple[str, str, str, str]:
    """Return number and unit of an amount in the metric system, then in the other."""
    metric, us = number_and_unit(amount, True, rounding), number_and_unit(amount, False, rounding)
    if amount.measure is Measure.PIECES:
        noun = noun_of(Amount(measure=amount.measure, quantity=Fraction(2), noun=amount.noun))
        return metric[0], noun, us[0], noun
    return *metric, *us
