"""What a rule of the checker finds, before consents are taken into account."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from nesting.domain.plan import Plan, Violation
from nesting.domain.rules import RuleId


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing wrong. `breaks` and `owners`: the job's own rule and whose it is, where consent can excuse it."""

    rule: str
    where: str
    text: str
    breaks: RuleId | None = None
    owners: tuple[str, ...] = ()


def excused(finding: Finding, plan: Plan) -> bool:
    """Tell whether the plan lists every (rule, owner) pair that the finding is about."""
    if finding.breaks is None or not finding.owners:
        return False
    listed = {consent.owner for consent in plan.consents if consent.rule == finding.breaks}
    return all(owner in listed for owner in finding.owners)


def violations(findings: Iterable[Finding], plan: Plan) -> tuple[Violation, ...]:
    """Return what is left after the consents, each once, by rule, place and text."""
    kept = {(found.rule, found.where, found.text) for found in findings if not excused(found, plan)}
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
