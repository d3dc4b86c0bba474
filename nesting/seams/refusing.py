"""Why a room cannot be laid: the rules in the way, in words, with how much is missing."""

from __future__ import annotations

from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.plan import Refusal
from nesting.domain.rules import RuleId
from nesting.seams.drafts import Faults
from nesting.seams.laid import Goods

_TEXTS = {
    RuleId.JOINT_CLEARANCE: "every seam would come too near a joint of the underlayment",
    RuleId.KEEP_OUT: "every seam or relief cut would run through a keep-out zone",
    RuleId.DOOR_OPENING: "every seam would end inside a door opening",
    RuleId.LEAST_BREADTH: "every layout has a breadth narrower than the least breadth",
    RuleId.CROSS_SEAMS: "the longest goods are too short, and no more cross seams are allowed",
    RuleId.LEAST_LENGTH: "every cross seam would leave a piece shorter than the least length",
    RuleId.CROSS_SEAM_STAGGER: "cross seams of neighbouring breadths would come too near each other",
    RuleId.SEAM_LINES: "no seam falls on the seam lines of the goods",
    RuleId.LAY_DIRECTION: "no lay direction is allowed",
    RuleId.ACCESS: "every layout has a piece that does not get into the room",
    RuleId.TRIM: "two coved walls of one piece would want the same goods",
    RuleId.STOCK: "no goods are large enough between places where a seam may run",
    RuleId.PATTERN: "the pattern cannot run through all breadths in these goods as it is placed",
}


def refusals_of(room: Room, material: Material, goods: Goods, faults: Faults) -> tuple[Refusal, ...]:
    """Return the refusals for a room without a layout; rules that could be waived come before the goods."""
    if not goods.widths_nm and not goods.stock_nm:
        text = f"{room.name}: there are no goods of {material.name}"
        return (Refusal(owner=room.id, rule=RuleId.STOCK, text=text, line=room.line),)
    missing = faults.missing_nm or {RuleId.STOCK: 0}
    rules = sorted(missing, key=lambda rule: (rule is RuleId.STOCK, list(RuleId).index(rule)))
    return tuple(
        Refusal(
            owner=room.id,
            rule=rule,
            text=f"{room.name}: {_TEXTS.get(rule, rule.value)}{_by(missing[rule])}",
            by_nm=missing[rule],
            line=room.line,
        )
        for rule in rules
    )


def _by(by_nm: int) -> str:
    """Return how much is missing, in millimetres rounded up."""
    return f" ({-(-by_nm // 1_000_000)} mm short)" if by_nm > 0 else ""
