"""Why a room cannot be laid: the rule in the way, in words, with how much is missing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from nesting.domain.job import Access, Room
from nesting.domain.material import Material
from nesting.domain.plan import Refusal
from nesting.domain.rules import RuleId
from nesting.floor.frames import lay_directions
from nesting.floor.pinned import pinned_directions
from nesting.seams.drafts import Faults
from nesting.seams.laid import Goods

_TEXTS = {
    RuleId.LEAST_BREADTH: "every layout has a breadth narrower than the least breadth",
    RuleId.JOINT_CLEARANCE: "every seam would come too near a joint of the underlayment",
    RuleId.DOOR_OPENING: "every seam would end inside a door opening",
    RuleId.KEEP_OUT: "every seam or relief cut would run through a keep-out zone",
    RuleId.CROSS_SEAM_STAGGER: "cross seams of neighbouring breadths would come too near each other",
    RuleId.LEAST_LENGTH: "every cross seam would leave a piece shorter than the least length",
    RuleId.CROSS_SEAMS: "the longest goods are too short, and no more cross seams are allowed",
    RuleId.SEAM_LINES: "no seam falls on the seam lines of the goods",
    RuleId.TRIM: "two coved walls of one piece would want the same goods",
    RuleId.ACCESS: "every layout has a piece that does not get into the room",
    RuleId.PATTERN: "the pattern cannot run through all breadths in these goods as it is placed",
    RuleId.PINS: "no layout keeps what is pinned",
    RuleId.STOCK: "no goods are large enough between the places where a seam may run",
}
"""In the order in which a user would rather give a rule up."""

_WAIVABLE = tuple(rule for rule in _TEXTS if rule not in (RuleId.STOCK, RuleId.PATTERN))


def refusals_of(
    room: Room, material: Material, goods: Goods, faults: Faults, can_be_laid: Callable[[Room], bool]
) -> tuple[Refusal, ...]:
    """Return the refusals for a room without a layout.

    One rule that is in the way by itself, if there is one; else a least set that is; else all that was broken.
    """
    if not goods.widths_nm and not goods.stock_nm:
        return (_refusal(room, RuleId.STOCK, f"there are no goods of {material.name}", 0),)
    missing = dict(faults.missing_nm) or {RuleId.STOCK: 0}
    in_force = [rule for rule in _WAIVABLE if room.rules.holds(rule) and _can_matter(rule, room, material, goods)]
    if not can_be_laid(_without(room, in_force)):
        at_fault = [rule for rule in _TEXTS if rule in missing and rule is not RuleId.PINS] or [RuleId.STOCK]
        return tuple(_said(room, rule, missing.get(rule, 0)) for rule in at_fault)
    if RuleId.PINS in in_force and can_be_laid(_without(room, [RuleId.PINS])):
        others = [rule for rule in in_force if rule is not RuleId.PINS and can_be_laid(_without(room, [rule]))]
        return (_pinned(room, material, others),)
    for rule in in_force:
        if can_be_laid(_without(room, [rule])):
            return (_said(room, rule, missing.get(rule, 0) or missing.get(RuleId.STOCK, 0)),)
    waived = in_force
    for rule in reversed(in_force):
        fewer = [other for other in waived if other is not rule]
        if can_be_laid(_without(room, fewer)):
            waived = fewer
    return tuple(_said(room, rule, missing.get(rule, 0)) for rule in waived)


def _can_matter(rule: RuleId, room: Room, material: Material, goods: Goods) -> bool:
    """Tell whether the room has anything that a rule speaks of."""
    short = goods.longest_nm is not None or not goods.widths_nm
    matters: dict[RuleId, bool] = {
        RuleId.JOINT_CLEARANCE: bool(room.joints_below),
        RuleId.DOOR_OPENING: bool(room.doors),
        RuleId.KEEP_OUT: bool(room.keep_outs),
        RuleId.CROSS_SEAMS: short or room.access.longest_nm is not None,
        RuleId.CROSS_SEAM_STAGGER: short or room.rules.cross_seams_per_breadth > 0,
        RuleId.LEAST_LENGTH: short or room.rules.cross_seams_per_breadth > 0,
        RuleId.SEAM_LINES: bool(material.seam_lines_across_nm or material.seam_lines_along_nm),
        RuleId.TRIM: any(edge.cove_nm for edge in room.edges),
        RuleId.ACCESS: room.access != Access(),
        RuleId.PINS: room.pins.any,
    }
    return matters.get(rule, True)


def _pinned(room: Room, material: Material, others: Sequence[RuleId]) -> Refusal:
    """Return the refusal of what is pinned in a room, with the rule that is in its way if one is by itself."""
    text = f"what is pinned cannot be kept ({'; '.join(room.pins.said())})"
    if not pinned_directions(room, material, lay_directions(room, material)):
        text += ": none of the lay directions that the room may have goes with it"
    elif others:
        text += f": {_TEXTS[others[0]]}"
    return _refusal(room, RuleId.PINS, text, 0)


def _without(room: Room, rules: Sequence[RuleId]) -> Room:
    for rule in rules:
        room = replace(room, rules=room.rules.without(rule))
    return room


def _said(room: Room, rule: RuleId, by_nm: int) -> Refusal:
    """Return a refusal in words; what is missing in millimetres, rounded up."""
    by = f" (the goods are {-(-by_nm // 1_000_000)} mm too small without)" if by_nm > 0 else ""
    if rule is RuleId.STOCK:
        by = f" ({-(-by_nm // 1_000_000)} mm are missing)" if by_nm > 0 else ""
    return _refusal(room, rule, _TEXTS[rule] + by, by_nm)


def _refusal(room: Room, rule: RuleId, text: str, by_nm: int) -> Refusal:
    return Refusal(owner=room.id, rule=rule, text=f"{room.name}: {text}", by_nm=by_nm, line=room.line)
