"""When there is no plan by the rules: the nearest one, with what needs the user's consent."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Consent, Refusal
from nesting.domain.rules import RuleId
from nesting.seams.candidates import Candidates, candidates_of

INSTEAD_OF_DIRECTION = (RuleId.LEAST_BREADTH, RuleId.DOOR_OPENING)
"""Rooms whose pattern runs through cannot differ in direction: what else may give way."""
MOST_WAIVED = 6  # rules waived in one room before giving up


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """A job with some rules waived or goods that do not exist, and the consents that its plan needs."""

    job: Job
    material: Material
    candidates: Candidates
    consents: tuple[Consent, ...]


def relaxed_candidates(job: Job, material: Material, refusals: tuple[Refusal, ...]) -> Iterator[Relaxed]:
    """Yield nearer and farther relaxations: first the rules that the refusals name, then goods without limits."""
    consents = {(refusal.rule, refusal.owner): _consent(refusal) for refusal in refusals}
    for refusal in refusals:
        if refusal.rule is RuleId.LAY_DIRECTION:
            consents |= {(rule, refusal.owner): _in_its_place(refusal, rule) for rule in INSTEAD_OF_DIRECTION}
    candidates: Candidates | None = None
    for _ in range(MOST_WAIVED):
        eased = _eased(job, material, consents)
        goods = _eased_goods(job, material, consents)
        candidates = candidates_of(eased, goods)
        yielded = Relaxed(job=eased, material=goods, candidates=candidates, consents=tuple(consents.values()))
        new = [item for item in candidates.refusals if (item.rule, item.owner) not in consents]
        if not candidates.refusals:
            yield yielded
            break
        if not new:
            break
        consents |= {(item.rule, item.owner): _consent(item) for item in new}
    whole = Refusal(owner=material.id, rule=RuleId.STOCK, text=f"goods of {material.name} as if without limits")
    if (whole.rule, whole.owner) not in consents:
        consents[whole.rule, whole.owner] = _consent(whole)
        goods = _eased_goods(job, material, consents)
        eased = _eased(job, material, consents)
        yield Relaxed(
            job=eased, material=goods, candidates=candidates_of(eased, goods), consents=tuple(consents.values())
        )


def _consent(refusal: Refusal) -> Consent:
    return Consent(rule=refusal.rule, owner=refusal.owner, text=refusal.text, by_nm=refusal.by_nm)


def _in_its_place(refusal: Refusal, rule: RuleId) -> Consent:
    return Consent(
        rule=rule, owner=refusal.owner, text=f"so that one lay direction serves all: {rule.value} is not kept"
    )


def _eased(job: Job, material: Material, consents: dict[tuple[RuleId, str], Consent]) -> Job:
    """Return the job with the rules of the consents waived in their rooms, and the eased goods in it."""
    rooms = []
    for room in job.rooms:
        rules = room.rules
        for rule, owner in consents:
            if owner == room.id and rule is not RuleId.STOCK:
                rules = rules.without(rule)
        rooms.append(replace(room, rules=rules))
    goods = _eased_goods(job, material, consents)
    materials = tuple(goods if item.id == material.id else item for item in job.materials)
    return replace(job, rooms=tuple(rooms), materials=materials)


def _eased_goods(job: Job, material: Material, consents: dict[tuple[RuleId, str], Consent]) -> Material:
    """Return the material without limits of length and supply, and wide enough, where a consent is about the goods."""
    if not any(rule in (RuleId.STOCK, RuleId.ONE_LOT, RuleId.PATTERN) for rule, _ in consents):
        return material
    sides = [item.width_nm for item in job.loose if item.material_id == material.id]
    sides += [item.width_nm for item in job.strips if item.material_id == material.id]
    wide = max((side + 2 * material.selvedge_nm for side in sides), default=0)
    widths = material.widths_nm if wide <= max(material.widths_nm) else (*material.widths_nm, wide)
    sale = replace(material.sale, lot_limit_nm=None, whole_rolls=False)
    prices = sale.price_per_m
    if prices is not None and len(prices) < len(widths):
        sale = replace(sale, price_per_m=(*prices, prices[-1]))
    starting = None if material.starting_allowance_nm == 0 else material.starting_allowance_nm
    return replace(
        material,
        widths_nm=widths,
        longest_nm=None,
        sale=sale,
        orders_allowed=True,
        starting_allowance_nm=starting,
    )
