"""V6: no bound exceeds the plan, what is attained is what the plan measures, certificates recompute."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import prod

from nesting.checker.done import in_hand_nm2, still_to_cut
from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.checker.least_goods import fewest_seams, least_items, least_rooms, rounded_order_nm2
from nesting.checker.structure import twice
from nesting.domain.plan import Bound, Certificate, Measures
from nesting.domain.rules import GoalKind

FIRST_LEVEL = {
    GoalKind.BALANCED: "balanced-roll",
    GoalKind.LEAST_ROLL: "roll",
    GoalKind.FEWEST_SEAMS: "seams",
    GoalKind.LEAST_COST: "cost",
}


def attained(view: View) -> Mapping[str, int]:
    """Return what the plan attains at every level that a goal can have."""
    measures = view.part.measures
    seams = seams_of(measures)
    return {
        "balanced-roll": measures.roll_nm2 + seam_price(view) * seams,
        "roll": measures.roll_nm2,
        "ordered": measures.roll_nm2,
        "used": sum(prod(pair) for pair in measures.used_nm),
        "seams": seams,
        "seam-length": measures.seam_length_nm,
        "cost": measures.total_cost,
        "cuts": measures.cuts,
    }


def seams_of(measures: Measures) -> int:
    """Return the joints that a goal counts: seams, cross seams, relief cuts and joins."""
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins


def seam_price(view: View) -> int:
    """Return what a seam must save under the balanced goal, as an area of the widest goods."""
    return view.job.goal.seam_worth_nm * max(view.material.widths_nm)


def check_bounds(view: View) -> Iterator[Finding]:
    """V6a: every bound is for a known level, beginning with the goal's first, and none exceeds what is attained."""
    where = f"material {view.material.id}"
    bounds, values = view.part.bounds, attained(view)
    first = FIRST_LEVEL[view.job.goal.kind]
    if bounds and bounds[0].level != first:
        yield Finding(rule="V6a", where=where, text=f"the first bound is for {bounds[0].level}, not {first}")
    if not bounds and not view.plan.consents:
        yield Finding(rule="V6a", where=where, text=f"has no bound for {first}")
    for name in twice(bound.level for bound in bounds):
        yield Finding(rule="V6a", where=where, text=f"has two bounds for {name}")
    for bound in bounds:
        if bound.level not in values:
            yield Finding(rule="V6a", where=where, text=f"has a bound for {bound.level}, which is no level")
        elif bound.value > bound.attained:
            yield Finding(rule="V6a", where=where, text=f"the bound for {bound.level} exceeds the plan")
    if view.part.bound_considered > values[first]:
        yield Finding(rule="V6a", where=where, text="the bound for the layouts looked at exceeds the plan")


def check_attained(view: View) -> Iterator[Finding]:
    """V6b: what a bound says the plan attains is what the plan measures."""
    values = attained(view)
    for bound in view.part.bounds:
        value = values.get(bound.level, bound.attained)
        if bound.attained != value:
            text = f"the plan attains {value} at {bound.level}, not {bound.attained}"
            yield Finding(rule="V6b", where=f"material {view.material.id}", text=text)


def check_certificates(view: View) -> Iterator[Finding]:
    """V6c: a bound that was not found by search has a certificate, and it recomputes."""
    for bound in view.part.bounds:
        for text in _wrong_certificate(view, bound):
            where = f"material {view.material.id}"
            yield Finding(rule="V6c", where=where, text=f"the bound for {bound.level} {text}")


def check_by_hand(view: View) -> Iterator[Finding]:
    """V6d: what the hand method would order is of made widths, and at the goal's first level not below the bound."""
    hand = view.part.by_hand
    if hand is None:
        return
    where = f"material {view.material.id}"
    widths = [width for width, _ in hand.ordered_nm]
    if not set(widths) <= set(view.material.widths_nm) or len(set(widths)) < len(widths):
        yield Finding(rule="V6d", where=where, text="the hand method's order is not one length for each made width")
    if hand.seams < 0 or hand.cost < 0 or any(length < 0 for _, length in hand.ordered_nm):
        yield Finding(rule="V6d", where=where, text="the hand method's order, seams or cost are less than nothing")
    roll = sum(prod(pair) for pair in hand.ordered_nm)
    first = {
        GoalKind.BALANCED: roll + seam_price(view) * hand.seams,
        GoalKind.LEAST_ROLL: roll,
        GoalKind.FEWEST_SEAMS: hand.seams,
        GoalKind.LEAST_COST: hand.cost,
    }[view.job.goal.kind]
    if view.part.bounds and first < view.part.bounds[0].value:
        yield Finding(rule="V6d", where=where, text="the hand method's order is below the bound")


def _wrong_certificate(view: View, bound: Bound) -> Iterator[str]:
    certificate = bound.certificate
    if certificate is None:
        if not bound.by_search:
            yield "was not found by search and has no certificate"
        return
    recompute = KINDS.get(certificate.kind)
    if recompute is None:
        yield f"has an unknown certificate {certificate.kind}"
        return
    if bound.value > certificate.value and not bound.by_search:
        yield "is more than its certificate proves"
    if twice(name for name, _ in certificate.terms):
        yield "counts a term of its certificate twice"
        return
    yield from recompute(view, bound, certificate)


def _area(view: View, bound: Bound, certificate: Certificate) -> Iterator[str]:
    """Recompute the area bound: least rough cuts still to make, less what is in hand, rounded up as orders are."""
    if bound.level not in ("roll", "ordered", "balanced-roll", "used"):
        yield "cannot be proved by area"
        return
    least = {f"room:{name}": value for name, value in least_rooms(view).items()} | least_items(view)
    limits = still_to_cut(view, least)
    goods = 0
    seams = 0
    for name, value in certificate.terms:
        if name.startswith("seams:") and bound.level == "balanced-roll":
            count = int(name.removeprefix("seams:"))
            if value != count * seam_price(view) or count > fewest_seams(view):
                yield f"counts {name} for {value}"
            seams += value
            continue
        goods += value
        if name == "stock":
            continue
        if name.startswith("room:") and name.removeprefix("room:") in view.rooms.keys() - view.floors.keys():
            continue  # its floor is wrong, which is reported as such
        if name not in limits:
            yield f"counts {name}, which is not there"
        elif value > limits[name]:
            yield f"counts {name} for {value} nm², of which only {limits[name]} are sure"
    in_hand = in_hand_nm2(view)
    if dict(certificate.terms).get("stock", 0) > -in_hand:
        yield f"counts too little in hand, there are {in_hand} nm²"
    rounded = max(0, goods) if bound.level == "used" else rounded_order_nm2(view.material, goods)
    most = rounded + seams
    if not max(0, goods) + seams <= certificate.value <= most:
        yield f"sums up to {most}, not {certificate.value}"


KINDS: Mapping[str, Callable[[View, Bound, Certificate], Iterator[str]]] = {"area": _area}
"""How every kind of certificate is recomputed."""
