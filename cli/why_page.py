"""What `why` says: one page of text, or plain data with exact whole numbers."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from nesting.domain.job import Job
from nesting.domain.plan import CutSource, MaterialPlan, Plan, SourceKind
from nesting.estimating.account import IN_PIECES, Part, Reason, SourceAccount, added_up
from nesting.estimating.shares import in_steps
from nesting.estimating.why import Answer, MaterialWhy
from nesting.units import Rounding, format_length

M2 = 10**18
MOST_TABLES = 6  # sources that have a table of their own
WIDTH = 100  # of a line of text, at most
MOST_OWNERS = 12  # rooms and pieces with a line of their own
SAID = {
    Reason.FLOOR: "floor covered",
    Reason.LOOSE: "loose pieces and strips",
    Reason.SEAM: "seam allowance",
    Reason.COVE: "cove",
    Reason.TRIM: "trim",
    Reason.OUT_OF_SQUARE: "out of square",
    Reason.CLOSING: "closed outlines",
    Reason.REPEAT: "lost to the repeat",
    Reason.BESIDE: "beside and between pieces",
    Reason.SELVEDGE: "selvedge",
    Reason.FLAWS: "flaws",
    Reason.SQUARING: "squaring the start",
    Reason.STARTING: "for the unknown phase",
    Reason.ROUNDING: "rounding of the order",
    Reason.MINIMUM: "minimum cut",
    Reason.WHOLE_ROLLS: "rest of whole rolls",
    Reason.REST: "rest of goods in hand",
}


def why_data(plan: Plan, found: Sequence[MaterialWhy], *, seed: int, effort: int) -> dict[str, Any]:
    """Return all of it as plain data: lengths in nm, areas in nm²; the parts of every account add up exactly.

    The goods of a source are its rectangle less what is gone from it.
    """
    return {
        "job": plan.job.name,
        "by_the_rules": plan.by_the_rules,
        "seed": seed,
        "effort": effort,
        "materials": [
            {
                "material": item.material_id,
                "roll_nm2": item.roll_nm2,
                "seams": item.seams,
                "goods_nm2": sum(account.goods_nm2 for account in item.accounts),
                "account": _parts_data(added_up(item.accounts)),
                "sources": [
                    {
                        "source": account.source_id,
                        "kind": account.kind.value,
                        "width_nm": account.width_nm,
                        "length_nm": account.length_nm,
                        "gone_nm2": account.gone_nm2,
                        "goods_nm2": account.goods_nm2,
                        "account": _parts_data(account.parts),
                    }
                    for account in item.accounts
                ],
                "as_it_is": None if item.as_it_is is None else _answer_data(item.as_it_is),
                "rules": [_answer_data(answer) for answer in item.rules],
                "rooms_and_pieces": [_answer_data(answer) for answer in item.owners],
                "not_asked": list(item.unasked),
            }
            for item in found
        ],
    }


def _parts_data(parts: Sequence[Part]) -> list[dict[str, Any]]:
    shares = in_steps([part.nm2 for part in parts], 1000)
    return [
        {"reason": part.reason.value, "nm2": part.nm2, "kept_nm2": part.kept_nm2, "per_mille": share}
        for part, share in zip(parts, shares, strict=True)
    ]


def _answer_data(answer: Answer) -> dict[str, Any]:
    return {
        "id": answer.id,
        "without": answer.words,
        "owners": list(answer.owners),
        "saves_at_least_nm2": answer.least_nm2,
        "saves_at_most_nm2": answer.most_nm2,
        "roll_nm2": answer.roll_nm2,
        "seams": answer.seams,
        "stopped": answer.stopped,
    }


def why_lines(plan: Plan, found: Sequence[MaterialWhy]) -> list[str]:
    """Return the page in the job's own unit."""
    lines = [plan.job.name, "=" * len(plan.job.name)]
    if not plan.by_the_rules:
        lines += ["", "NOT BY THE RULES: nothing is ordered, and no rule can be priced before this is accepted."]
    for item in found:
        part = next(one for one in plan.materials if one.material_id == item.material_id)
        lines += ["", *_material_lines(plan.job, part, item)]
    return lines


def _material_lines(job: Job, part: MaterialPlan, item: MaterialWhy) -> list[str]:
    name = next(material.name for material in job.materials if material.id == item.material_id)
    sizes = [
        f"{_length(job, length)} of {_length(job, width)} wide" for width, length in part.measures.ordered_nm if length
    ]
    seams = f"{item.seams} seam{'s' if item.seams != 1 else ''}"
    lines = [f"{name}: {' and '.join(sizes) + ' to order' if sizes else 'nothing to order'}, {seams}"]
    roll = _Roll(job, max((width for width, length in part.measures.ordered_nm if length), default=0))
    if item.as_it_is is not None:
        lines += ["", *_rule_lines(roll, item, item.as_it_is), *_owner_lines(roll, item)]
    stopped = sum(answer.stopped for answer in (*item.rules, *item.owners))
    if stopped:
        lines += ["", f"  The time was too short for {stopped} of these: with more of it they may say more."]
    if item.unasked:
        lines += ["", *_wrapped(", ".join(item.unasked), "  No time to ask: ", hang=4)]
    lines += ["", "  Where the goods go", *_table(job, item.accounts)]
    if len(item.accounts) > 1:
        sources = {source.id: source for source in part.sources}
        for account in item.accounts[:MOST_TABLES]:
            lines += ["", f"  {_source_text(job, sources[account.source_id])}", *_table(job, [account])]
        if len(item.accounts) > MOST_TABLES:
            lines += ["", f"  {len(item.accounts) - MOST_TABLES} more are in the output of --json"]
    return lines


def _length(job: Job, nm: int, rounding: Rounding = "nearest") -> str:
    return format_length(nm, job.unit.value, rounding=rounding, with_unit=True)


class _Roll:
    """Roll saved, in the job's own unit: as a length of the widest roll ordered."""

    def __init__(self, job: Job, width_nm: int) -> None:
        self.job, self.width_nm = job, width_nm

    def between(self, answer: Answer) -> tuple[str, str]:
        """Return what is saved at least, rounded down, and at most, rounded up."""
        least, most = answer.least_nm2 // self.width_nm, -(-answer.most_nm2 // self.width_nm)
        return _length(self.job, least, "down"), _length(self.job, most, "up")

    def row(self, words: str, answer: Answer, seams: int) -> tuple[str, str, str, str]:
        """Return an answer as a row of a table; `seams` is what the plan that it is measured from has."""
        least, most = self.between(answer)
        more = answer.seams - seams
        many = f"{abs(more)} seam{'s' if abs(more) > 1 else ''}"
        changed = "" if not more else f"{many} {'more' if more > 0 else 'fewer'}"
        return words, least, most, changed


def _rule_lines(roll: _Roll, item: MaterialWhy, as_it_is: Answer) -> list[str]:
    """Return what each rule costs; those that nothing was found to be saved without stand in one sentence."""
    rest = as_it_is.most_nm2 - as_it_is.least_nm2
    left = _length(roll.job, -(-rest // roll.width_nm), "up")
    lines = []
    if as_it_is.least_nm2:
        least, _ = roll.between(as_it_is)
        lines.append(
            f"  With every rule kept, looking again found a plan with {least} less: plan again with --earlier."
        )
    sure = f"no plan orders less by more than {left}" if rest else "no plan orders less: that is proved"
    lines.append(f"  With every rule kept, {sure}.")
    telling = [answer for answer in item.rules if answer.least_nm2]
    if telling:
        rows = [("Roll saved without", "at least", "at most", "")]
        rows += [roll.row(answer.words, answer, as_it_is.seams) for answer in telling]
        lines += ["", *_columns(rows)]
    return [*lines, *_silent_lines(roll, [answer for answer in item.rules if not answer.least_nm2])]


def _silent_lines(roll: _Roll, answers: Sequence[Answer]) -> list[str]:
    """Return the rules that nothing was found to be saved without, by what is not ruled out, and those ruled out."""
    open_, closed = [answer for answer in answers if answer.most_nm2], [item for item in answers if not item.most_nm2]
    groups: dict[str, list[str]] = {}
    for answer in open_:
        groups.setdefault(f"up to {roll.between(answer)[1]}", []).append(answer.words)
    width = max((len(most) for most in groups), default=0)
    lines = ["", "  No saving found, but not ruled out, without"] if groups else []
    for most, words in groups.items():
        lines += _wrapped(", ".join(words), f"  {most:{width}}  ")
    if closed:
        lines += [
            "",
            *_wrapped(", ".join(answer.words for answer in closed), "  Nothing can be saved without: ", hang=4),
        ]
    return lines


def _owner_lines(roll: _Roll, item: MaterialWhy) -> list[str]:
    """Return what each room and piece costs, the dearest only where there are many."""
    if item.as_it_is is None or not item.owners:
        return []
    rows = [("Roll saved if not in the job", "at least", "at most", "")]
    rows += [roll.row(answer.words, answer, item.as_it_is.seams) for answer in item.owners[:MOST_OWNERS]]
    more = len(item.owners) - MOST_OWNERS
    return ["", *_columns(rows), *([f"  and {more} that save less: see the output of --json"] if more > 0 else [])]


def _source_text(job: Job, source: CutSource) -> str:
    what = "" if source.kind is SourceKind.ORDER else f" ({source.kind.value} in hand)"
    size = f"{_length(job, source.length_nm)} of {_length(job, source.width_nm)} wide"
    return f"{source.id}{what}: {size}{gone_text(source)}"


def gone_text(source: CutSource) -> str:
    """Return how much of a source is gone, as more is said after its size; "" for nothing."""
    gone = sum(rect.area_nm2 for rect in source.gone)
    return f", {_hundredths(gone) / 100:.2f} m² of it gone" if gone else ""


def _table(job: Job, accounts: Sequence[SourceAccount]) -> list[str]:
    """Return an account as a table: length of roll where all is of one width, area, share, and what is kept of it."""
    parts = added_up(accounts)
    goods = sum(part.nm2 for part in parts)
    widths = {account.width_nm for account in accounts}
    width = widths.pop() if len(widths) == 1 else None
    hundredths = in_steps([part.nm2 for part in parts], _hundredths(goods))
    shares = in_steps([part.nm2 for part in parts], 1000)

    def row(words: str, nm2: int, area: int, share: int, kept: int) -> tuple[str, ...]:
        length = () if width is None else (_length(job, nm2 // width),)
        held = f"{_hundredths(kept) / 100:.2f} m² kept" if kept else ""
        return (words, *length, f"{area / 100:.2f} m²", f"{share / 10:.1f} %", held)

    rows = []
    for part, area, share in zip(parts, hundredths, shares, strict=True):
        if part.nm2:
            indent = "  " if part.reason in IN_PIECES and part.reason not in (Reason.FLOOR, Reason.LOOSE) else ""
            rows.append(row(indent + SAID[part.reason], part.nm2, area, share, part.kept_nm2))
    kept = sum(part.kept_nm2 for part in parts)
    rows.append(row("all goods", goods, _hundredths(goods), 1000 if goods else 0, kept))
    return _columns(rows)


def _hundredths(nm2: int) -> int:
    """Return an area in hundredths of a square metre, half up."""
    return (200 * nm2 + M2) // (2 * M2)


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return rows as aligned columns: the first and the last to the left, what is between to the right."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        middle = (text.rjust(width) for text, width in zip(row[1:-1], widths[1:-1], strict=True))
        lines.append("  ".join(["  " + row[0].ljust(widths[0]), *middle, row[-1]]).rstrip())
    return lines


def _wrapped(text: str, start: str, hang: int | None = None) -> list[str]:
    """Return a text in lines that begin with a start, or as far in as it is long."""
    indent = " " * (len(start) if hang is None else hang)
    return textwrap.wrap(text, WIDTH, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)
