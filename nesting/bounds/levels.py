"""The bounds of a plan, level by level of its goal, each with how it was proved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, gcd

from nesting.bounds.facts import ItemFacts, RoomFacts
from nesting.bounds.in_hand import with_lots
from nesting.bounds.measuring import item_facts, room_facts
from nesting.bounds.remaining import done_areas, free_nm2, left_to_cut
from nesting.bounds.stacking import StackingModel, Supply
from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Bound, Certificate, MaterialPlan
from nesting.domain.rules import GoalKind, RuleId
from nesting.model.building import fraction_gcd, seam_worth, unit_of
from nesting.model.supplying import METRE_NM
from nesting.progress import Portion, Stop, never_stop
from nesting.seams.clusters import cluster_rooms, directions_of

LARGEST_SEARCH = 40  # rooms and items up to which the bound is searched as well as computed


class MaterialBounds:
    """The bounds of one material; they hold for every plan that the rules allow."""

    def __init__(self, job: Job, material: Material) -> None:
        self.job, self.material = job, material
        rooms = [room for room in job.rooms if room.material_id == material.id]
        groups = cluster_rooms(job, material, [room.id for room in rooms])
        lays = directions_of(job, material)
        self.stock = tuple(piece for piece in job.stock if piece.material_id == material.id)
        facts = (
            room_facts(job, material, room, lays[room.id], group=groups.lot[room.id], arrow=groups.arrow.get(room.id))
            for room in rooms
        )
        mixed = frozenset(room.id for room in rooms if not room.rules.holds(RuleId.ONE_LOT))
        self.rooms: tuple[RoomFacts, ...] = with_lots(tuple(facts), self.stock, mixed)
        self.items: tuple[ItemFacts, ...] = item_facts(job, material)

    def fewest_seams(self) -> int:
        """Return how many seams, cross seams included, every plan has at least."""
        groups: dict[int, list[RoomFacts]] = {}
        for number, room in enumerate(self.rooms):
            groups.setdefault(-1 - number if room.arrow is None else room.arrow, []).append(room)
        return sum(_fewest_seams(rooms) for rooms in groups.values())

    def area(self) -> Certificate:
        """Return the area bound on the roll ordered, nm²: rough cuts less what is in hand, rounded up as orders are.

        The order's rounding counts where one width is made: squaring allowance, order step, minimum cut.
        """
        terms = [(f"room:{room.room_id}", min(lay.area_nm2 for lay in room.lays)) for room in self.rooms]
        terms += [(f"item:{item.item_id}", item.area_nm2) for item in self.items]
        done = done_areas(self.job)
        terms = [(name, max(0, area - done.get(name, 0))) for name, area in terms]
        in_hand = sum(free_nm2(piece, self.job.done) for piece in self.stock)
        if in_hand:
            terms.append(("stock", -in_hand))
        return Certificate(kind="area", value=self.rounded(sum(value for _, value in terms)), terms=tuple(terms))

    def rounded(self, needed_nm2: int) -> int:
        """Return the least roll that can be ordered for an area, nm²."""
        material = self.material
        if needed_nm2 <= 0:
            return 0
        if len(material.widths_nm) > 1:
            return needed_nm2
        width = material.widths_nm[0]
        length = -(-needed_nm2 // width)
        return width * least_order_nm(material, length)

    def searched(self, *, effort: int, seed: int, stop: Stop = never_stop) -> int | None:
        """Return the bound by search on the first level of the goal, nm²; None where it does not apply."""
        kind = self.job.goal.kind
        if effort < 1 or kind not in (GoalKind.BALANCED, GoalKind.LEAST_ROLL):
            return None
        if not 0 < len(self.rooms) + len(self.items) <= LARGEST_SEARCH or not self.material.orders_allowed:
            return None
        supply = self._supply()
        value = StackingModel(self.rooms, self.items, supply).bound(
            deterministic_time=min(effort, 60) * 0.4, seed=seed, stop=stop
        )
        if value is None:
            return None
        measure = supply.unit_nm / supply.fine * gcd(*self.material.widths_nm)
        return floor(value * measure / supply.seam_worth.denominator)

    def _longest(self, unit: Fraction) -> int | None:
        """Return the longest piece that any goods give, units."""
        if self.material.longest_nm is None:
            return None
        return floor(max(self.material.longest_nm, *(piece.length_nm for piece in self.stock), 0) / unit)

    def _supply(self) -> Supply:
        material, sale, pattern = self.material, self.material.sale, self.material.pattern
        unit = fraction_gcd(material.cutting_step_nm, *((pattern.along_nm, pattern.drop_nm) if pattern else ()))
        fine = fraction_gcd(unit, sale.order_step_nm if sale.order_step_nm > 1 else unit, material.squaring_nm)
        fine = fraction_gcd(fine, sale.minimum_cut_nm)
        goal = self.job.goal
        worth = goal.seam_worth_nm if goal.kind is GoalKind.BALANCED else 0
        widths = tuple(floor(width / unit) for width in material.widths_nm)
        along = None
        if pattern is not None and material.longest_nm is None and len(widths) == 1:
            along = floor(fraction_gcd(pattern.along_nm / unit, pattern.drop_nm / unit))
        tall = [max(lay.core.along_nm if lay.core else 0 for lay in room.lays) for room in self.rooms]
        count = [max(lay.fewest_breadths for lay in room.lays) + 3 for room in self.rooms]
        items = [max(item.rectangle_nm) if item.rectangle_nm else 0 for item in self.items]
        area = sum(max(lay.area_nm2 for lay in room.lays) for room in self.rooms)
        area += sum(item.area_nm2 for item in self.items)
        length = sum(a * b for a, b in zip(tall, count, strict=True)) + sum(items) + 2 * area // min(material.widths_nm)
        repeats = 0 if pattern is None else pattern.along_nm * (sum(count) + len(items) + 2)
        return Supply(
            unit_nm=unit,
            step=floor(material.cutting_step_nm / unit),
            overlap_nm=material.seam_overlap_nm,
            widths=widths,
            prices=tuple(width // gcd(*material.widths_nm) for width in material.widths_nm),
            fine=int(unit / fine),
            stock=tuple((floor(piece.width_nm / unit), floor(piece.length_nm / unit)) for piece in self.stock),
            order_step=max(1, floor(sale.order_step_nm / fine)),
            start=floor(material.squaring_nm / fine),
            minimum=floor(sale.minimum_cut_nm / fine),
            along=along,
            seam_worth=worth / fine,
            longest=self._longest(unit),
            horizon=ceil((length + repeats) / unit) + 1,
            most_seams=self.job.goal.most_seams,
        )


def _fewest_seams(rooms: Sequence[RoomFacts]) -> int:
    """Return how many seams rooms have at least that share a lay direction."""
    by_axis = [{lay.direction.axis: lay.fewest_seams for lay in room.lays} for room in rooms]
    common = set(by_axis[0]).intersection(*by_axis)
    together = [sum(found[axis] for found in by_axis) for axis in common]
    return min(together, default=sum(min(found.values()) for found in by_axis))


def least_order_nm(material: Material, used_nm: int) -> int:
    """Return the least length that is ordered when `used_nm` is used, allowances not included."""
    sale = material.sale
    needed = used_nm + material.squaring_nm
    if sale.whole_rolls and material.longest_nm is not None:
        return -(-needed // material.longest_nm) * material.longest_nm
    return max(sale.minimum_cut_nm, -(-needed // sale.order_step_nm) * sale.order_step_nm)


def level_bounds(
    job: Job,
    material: Material,
    plan: MaterialPlan,
    *,
    considered: int,
    effort: int,
    seed: int,
    stop: Stop = never_stop,
) -> tuple[tuple[Bound, ...], int]:
    """Return the bounds of the plan's levels, and what the search proved over the layouts looked at, nm² or coins.

    The levels: the goal's first ("balanced-roll", "roll", "seams" or "cost"), then roll and seams where they are not
    the first, and what is used of the rolls. Every bound is at most what the plan attains, or planner and bound
    contradict each other. Only the search's own may be above by less than a unit a piece, where it left a unit for a
    drop or a placement off the grid.
    """
    left_job, there = left_to_cut(job, material, plan)
    found = MaterialBounds(job, material)
    left = found if left_job is job else MaterialBounds(left_job, material)
    certificate = found.area()
    roll = Bound(
        level="roll", value=certificate.value, attained=plan.measures.roll_nm2, certificate=certificate, cut="area"
    )
    seams = Bound(
        level="seams", value=left.fewest_seams() + there, attained=_seams(plan), by_search=True, cut="fewest breadths"
    )
    bounds: tuple[Bound, ...]
    match job.goal.kind:
        case GoalKind.BALANCED:
            price = job.goal.seam_worth_nm * max(material.widths_nm)
            computed = Bound(
                level="balanced-roll",
                value=certificate.value + price * seams.value,
                attained=roll.attained + price * seams.attained,
                by_search=True,
                cut="area and fewest seams",
            )
            bounds = (_bettered(computed, left, effort, seed, stop, settled_nm2=price * there), roll, seams)
        case GoalKind.LEAST_ROLL:
            bounds = (_bettered(roll, left, effort, seed, stop), seams)
        case GoalKind.FEWEST_SEAMS:
            bounds = (seams, roll)
        case GoalKind.LEAST_COST:
            value = _least_cost(found, certificate.value, seams.value)
            cost = Bound(level="cost", value=value, attained=plan.measures.total_cost, by_search=True, cut="area")
            bounds = (cost, roll, seams)
    bounds = (*bounds, _used(plan, certificate))
    known = max(_considered(job, material, considered), bounds[0].value)  # what holds for all holds for these too
    return bounds, min(known, bounds[0].attained)


def _used(plan: MaterialPlan, area: Certificate) -> Bound:
    """Return the area bound on what is used of ordered rolls, before allowances and the rounding of orders."""
    value = max(0, sum(term for _, term in area.terms))
    attained = sum(width * length for width, length in plan.measures.used_nm)
    certificate = Certificate(kind="area", value=value, terms=area.terms)
    return Bound(level="used", value=value, attained=attained, certificate=certificate, cut="area")


def _seams(plan: MaterialPlan) -> int:
    measures = plan.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a sharper bound on the first level of the goal, roll and seams, is made from."""

    found: MaterialBounds
    attained_nm2: int  # what the plan attains: no more is asked for
    effort: int
    seed: int
    stop: Stop


def _stacked(wanted: Wanted) -> tuple[int, str] | None:
    """Bound by what must lie one after another because it cannot lie side by side."""
    value = wanted.found.searched(effort=wanted.effort, seed=wanted.seed, stop=wanted.stop)
    return None if value is None else (value, "stacking")


def _by_width(wanted: Wanted) -> tuple[int, str] | None:
    """Bound by the widths side by side, each room laid as counts least under the best value of widths."""
    from nesting.bounds.by_width import bound_by_width  # compiles: not before there is a plan

    job, material = wanted.found.job, wanted.found.material
    return bound_by_width(
        job,
        material,
        seam_worth_nm=job.goal.seam_worth_nm if job.goal.kind is GoalKind.BALANCED else 0,
        effort=wanted.effort,
        seed=wanted.seed,
        attained_nm2=wanted.attained_nm2,
        stop=wanted.stop,
    )


SHARPER: tuple[tuple[Callable[[Wanted], tuple[int, str] | None], int], ...] = ((_stacked, 4), (_by_width, 1))
"""Bounds on roll and seams by search, nm², with what they come from; None: it does not apply. The best one is taken.

The number: under a limit, a bound has that part of the time that is left. What stacking proves it proves soon.
"""


def _bettered(
    computed: Bound, found: MaterialBounds, effort: int, seed: int, stop: Stop, *, settled_nm2: int = 0
) -> Bound:
    """Return the best of a computed bound on roll and seams and the sharper ones, sought only while one may gain.

    `settled_nm2`: what the seams that are there already count, in rooms that `found` leaves out.
    """
    best = computed
    if not found.rooms and not found.items:
        return best
    for bound, part in SHARPER:
        if best.value >= best.attained or effort < 1 or stop():
            break
        until = stop.next_of(part) if isinstance(stop, Portion) else stop
        wanted = Wanted(found=found, attained_nm2=best.attained - settled_nm2, effort=effort, seed=seed, stop=until)
        sharper = bound(wanted)
        if sharper is not None and sharper[0] + settled_nm2 > best.value:
            value, cut = sharper[0] + settled_nm2, sharper[1]
            best = Bound(level=best.level, value=value, attained=best.attained, by_search=True, cut=cut)
    return best


def _least_cost(found: MaterialBounds, roll_nm2: int, seams: int) -> int:
    """Return a bound on the cost: the cheapest goods by area, and the charges for the fewest cuts and cross seams.

    Every seam parts a piece in two, so there are at least as many cuts more than rooms.
    """
    goal = found.job.goal
    cross = sum(min(lay.fewest_cross_seams for lay in room.lays) for room in found.rooms)
    charges = goal.charge_per_cut * (len(found.rooms) + len(found.items) + seams) + goal.charge_per_cross_seam * cross
    return charges + (_least_price(found.material, roll_nm2) if roll_nm2 else 0)


def _least_price(material: Material, roll_nm2: int) -> int:
    """Return the least price of so much roll with its cut charge.

    Each order is rounded half up by itself, so that every one may cost half a coin less than its exact price. One
    order a width is the most where rolls are made in any length. Elsewhere more orders never pay if what each costs
    besides, cut charge and squaring, is worth that half coin; if it is not, only the charge is sure.
    """
    sale = material.sale
    rates = [Fraction(0)]
    if sale.price_per_m is not None:
        pairs = zip(sale.price_per_m, material.widths_nm, strict=True)
        rates = [Fraction(price) * METRE_NM / width for price, width in pairs]
    elif sale.price_per_m2 is not None:
        rates = [Fraction(sale.price_per_m2)]
    rate = min(rates) / METRE_NM**2
    exact = rate * roll_nm2
    half = Fraction(1, 2)
    if sale.cut_charge + rate * material.squaring_nm * min(material.widths_nm) >= half:
        return max(0, ceil(exact - half)) + sale.cut_charge
    if material.longest_nm is None and sale.lot_limit_nm is None:
        return max(0, ceil(exact - half * len(material.widths_nm))) + sale.cut_charge
    return sale.cut_charge


def _considered(job: Job, material: Material, value: int) -> int:
    """Return the engine's bound on its first level in nm², or as the count or money that it is."""
    if job.goal.kind in (GoalKind.BALANCED, GoalKind.LEAST_ROLL):
        return goods_nm2(job, material, value)
    return value


def goods_nm2(job: Job, material: Material, value: int) -> int:
    """Return a first level of roll, or of roll and seams, in nm²; `value` is in square units as the engine counts.

    With one width made it is first turned into a length: a width that is no whole number of units costs nothing.
    """
    unit = unit_of(material)
    scale = seam_worth(job.goal, unit).denominator
    if len(material.widths_nm) == 1:
        width = material.widths_nm[0]
        lengths = Fraction(value, scale * floor(width / unit))
        return floor(lengths * unit * width)
    return floor(value * unit**2 / scale)
