"""The comparison as lines for people: the measures down the page, the variants side by side."""

from __future__ import annotations

from collections.abc import Callable

from nesting.domain.plan import MaterialPlan
from nesting.domain.what_if import Tried, WhatIf
from nesting.files.what_if_tables import gap_of, roll_bound_nm2, waste_nm2
from nesting.units import format_length, format_money

M2 = 10**18
SIDE_BY_SIDE = 4
"""Variants beside one another, the first among them; more stand in blocks below, each with the first again."""

NO_PLAN = "no plan"
Cell = Callable[[WhatIf, Tried, MaterialPlan], str]


def what_if_lines(found: WhatIf) -> list[str]:
    """Return a table for every material, then the money of all together, then why a variant has no plan."""
    lines: list[str] = []
    for ident in found.materials:
        having = [one for one in found.tried if one.uses(ident)]
        lines += ["", _name_of(having[0], ident), ""]
        for block in _blocks(having):
            lines += [*_table(found, ident, block), ""]
        lines.pop()
    if len(found.materials) > 1:
        money = [(block, _money_rows(found, block)) for block in _blocks(list(found.tried))]
        lines += ["", "All materials"] if any(rows for _, rows in money) else []
        for block, rows in money:
            lines += ["", *_laid_out([("", *(one.variant.name for one in block)), *rows])] if rows else []
    reasons = [
        f"{one.variant.name}: no plan by the rules: {refusal.owner}: {refusal.text} [{refusal.rule.value}]"
        for one in found.tried
        for refusal in one.outcome.refusals
    ]
    stopped = [
        f"{one.variant.name}: {ident} was stopped: a longer run may find less"
        for one in found.tried
        for ident in found.materials
        if (part := one.part(ident)) is not None and part.stop.startswith("stopped")
    ]
    last = [*reasons, *stopped]
    return [*lines, *(["", *last] if last else [])][1:]


def _name_of(one: Tried, material_id: str) -> str:
    return next(material.name for material in one.variant.job.materials if material.id == material_id)


def _blocks(variants: list[Tried]) -> list[list[Tried]]:
    first, rest = variants[0], variants[1:]
    many = SIDE_BY_SIDE - 1
    return [[first, *rest[start : start + many]] for start in range(0, max(1, len(rest)), many)]


def _table(found: WhatIf, material_id: str, block: list[Tried]) -> list[str]:
    """Return the measures of one material; those that are nothing for every variant are left out."""
    rows: list[tuple[str, ...]] = [("", *(one.variant.name for one in block))]
    for head, cell in MEASURES:
        cells = []
        for one in block:
            part = one.part(material_id)
            nothing = NO_PLAN if head == "ordered" else ""
            cells.append(nothing if part is None else cell(found, one, part))
        if any(text not in ("", "0") for text in cells):
            rows.append((head, *cells))
    return _laid_out(rows)


def _laid_out(rows: list[tuple[str, ...]]) -> list[str]:
    wide = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    return [
        ("  " + f"{row[0]:<{wide[0]}}" + "".join(f"  {text:>{w}}" for text, w in zip(row[1:], wide[1:], strict=True)))
        .rstrip()
        for row in rows
    ]  # fmt: skip


def _money_rows(found: WhatIf, block: list[Tried]) -> list[tuple[str, ...]]:
    costs = tuple("" if not one.cost else _money(one, one.cost) for one in block)
    more = tuple(_more_money(one, found.cost_more(one)) if one is not found.tried[0] else "" for one in block)
    return [row for row in (("cost", *costs), ("costs more", *more)) if any(row[1:])]


# --- the measures ----------------------------------------------------------------------------------------------------


def _length(one: Tried, nm: int) -> str:
    return format_length(nm, one.variant.job.unit.value, with_unit=True)


def _money(one: Tried, coins: int) -> str:
    return format_money(coins, one.variant.job.currency, one.variant.job.coin_per_unit)


def _more_money(one: Tried, coins: int | None) -> str:
    return "" if coins is None else f"{'+' if coins > 0 else ''}{_money(one, coins)}"


def _lengths(one: Tried, lengths: tuple[tuple[int, int], ...]) -> str:
    texts = [f"{_length(one, length)} of {_length(one, width)}" for width, length in lengths if length]
    return " + ".join(texts) or "nothing"


def _m2(nm2: int) -> str:
    return f"{nm2 / M2:.2f} m²"


def _waste(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    return f"{_m2(waste_nm2(part))} ({waste_nm2(part) / max(1, part.account.goods_nm2):.1%})"


def _bound(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    if part.bounds[0].proved:
        return ""  # by the goal; a plan that it does not want might order less
    ordered = [width for width, length in part.measures.ordered_nm if length]
    nm2 = roll_bound_nm2(part)
    if len(part.measures.ordered_nm) > 1 or not ordered:
        return _m2(nm2)
    return format_length(nm2 // ordered[0], one.variant.job.unit.value, rounding="down", with_unit=True)


def _gap(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    bound = part.bounds[0]
    return "0 (proved)" if bound.proved else f"{gap_of(bound):.1%}"


def _offcuts(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    return f"{len(part.offcuts)}, {_m2(part.measures.leftover_nm2)}" if part.offcuts else "0"


def _by_hand(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    return "none found" if part.by_hand is None else _lengths(one, part.by_hand.ordered_nm)


def _by_hand_seams(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    return "" if part.by_hand is None else str(part.by_hand.seams)


def _roll_more(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    more = found.roll_more(one, part.material_id)
    if more is None or one is found.tried[0]:
        return ""
    area = f"{more.roll_nm2 / M2:+.2f} m²" if more.roll_nm2 else "0"
    if more.length_nm is None or not more.roll_nm2:
        return area
    return f"{'+' if more.length_nm > 0 else ''}{_length(one, more.length_nm)}, {area}"


def _cost_more(found: WhatIf, one: Tried, part: MaterialPlan) -> str:
    more = found.cost_more(one, part.material_id)
    if one is found.tried[0]:
        return ""
    return "0" if more == 0 else _more_money(one, more)


MEASURES: tuple[tuple[str, Cell], ...] = (
    ("ordered", lambda found, one, part: _lengths(one, part.measures.ordered_nm)),
    ("roll", lambda found, one, part: _m2(part.measures.roll_nm2)),
    ("used", lambda found, one, part: _lengths(one, part.measures.used_nm)),
    ("waste", _waste),
    ("seams", lambda found, one, part: str(part.measures.seams)),
    ("cross seams", lambda found, one, part: str(part.measures.cross_seams)),
    ("relief cuts", lambda found, one, part: str(part.measures.relief_cuts)),
    ("joins", lambda found, one, part: str(part.measures.joins)),
    ("seam length", lambda found, one, part: _length(one, part.measures.seam_length_nm)),
    ("cuts", lambda found, one, part: str(part.measures.cuts)),
    ("cost", lambda found, one, part: _money(one, part.measures.total_cost) if part.measures.total_cost else ""),
    ("none orders less than", _bound),
    ("could be better by", _gap),
    ("offcuts kept", _offcuts),
    ("by hand", _by_hand),
    ("seams by hand", _by_hand_seams),
    ("more roll", _roll_more),
    ("costs more", _cost_more),
)
"""What stands in the table, from top to bottom; more is meant against the first variant."""
