"""What a rule of the checker finds, before consents are taken into account."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from nesting.domain.plan import Plan, Violation
from nesting.domain.rules import RuleId


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing wrong.

    `breaks` and `owners`: the job's own rule and whose it is, where consent can excuse it; `breaks_too`: another rule
    whose consent excuses it just as well, where it depends on the point of view which of the two is broken.
    """

    rule: str
    where: str
    text: str
    breaks: RuleId | None = None
    breaks_too: RuleId | None = None
    owners: tuple[str, ...] = ()


def excused(finding: Finding, plan: Plan, material_id: str) -> bool:
    """Tell whether the plan lists the rule for every owner that the finding is about, or for the whole material."""
    if finding.breaks is None:
        return False
    rules = (finding.breaks, finding.breaks_too)
    listed = {consent.owner for consent in plan.consents if consent.rule in rules}
    return material_id in listed or (bool(finding.owners) and all(owner in listed for owner in finding.owners))


def violations(findings: Iterable[Finding]) -> tuple[Violation, ...]:
    """Return the findings as violations, each once, by rule, place and text."""
    kept = {(found.rule, found.where, found.text) for found in findings}
    return tuple(Violation(rule=rule, where=where, text=text) for rule, where, text in sorted(kept))


def guarded(rule: str, where: str, check: Callable[..., Iterator[Finding]], *subject: object) -> tuple[Finding, ...]:
    """Run a check; a plan so mad that it cannot be computed is a violation, never an exception."""
    try:
        return tuple(check(*subject))
    except (
        ArithmeticError,
        AssertionError,
        AttributeError,
        LookupError,
        RecursionError,
        TypeError,
        ValueError,
    ) as error:
        return (Finding(rule=rule, where=where, text=f"cannot be checked ({type(error).__name__}: {error})"),)
