"""From the engine's solution back to the plan of a material: places in nanometres, sources, offcuts, account, order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import Cut, CutKind, RoomLayout
from nesting.domain.material import Material, Pattern, StockKind
from nesting.domain.plan import (
    Account,
    Bound,
    ByHand,
    CutSource,
    MaterialPlan,
    Measures,
    Notice,
    Offcut,
    OffcutUse,
    OrderLine,
    PhaseGroup,
    Placement,
    SourceKind,
)
from nesting.domain.rules import Goal, GoalKind
from nesting.domain.worth import begun_nm, used_up_nm2
from nesting.floor.outlines import twice_area
from nesting.model.building import Built, BuiltOption, Part, at_phase
from nesting.model.finishing import rects_made, turned_rects, with_notches_filled
from nesting.model.instance import Solution
from nesting.model.offcuts import best_rectangles, empty_rectangles, keepable
from nesting.model.supplying import METRE_NM
from nesting.seams.laid import LaidRoom

MOST_REPEATS = 1_000  # looked at for a phase that holds on goods of several pitches
REPAIR_NM = 300_000_000  # a repair piece of plain goods is at least this square (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A cut in its place, nanometres; `rects` on the goods."""

    cut: Cut
    source: int
    x_nm: int
    y_nm: int
    turn: int

    def rects(self) -> tuple[Rect, ...]:
        return turned_rects(self.cut.rects, self.turn, self.x_nm, self.y_nm)


def material_plan(
    job: Job,
    built: Built,
    solution: Solution,
    *,
    first_number: int = 1,
    source_prefix: str = "",
    bounds: tuple[Bound, ...] = (),
    bound_considered: int = 0,
    stop: str = "effort spent",
    notices: tuple[Notice, ...] = (),
) -> MaterialPlan:
    """Return the plan of one material.

    Cuts are numbered from `first_number` in cutting order: source by source, then along, then across. Everything that
    the checker recomputes is computed here from nanometres, not from the solver's numbers.
    """
    chosen = _chosen(built, solution)
    phases = _phases(job, built, solution, chosen)
    placed = _simplified(job, built, _placed(built, solution, chosen, phases))
    used = sorted({item.source for item in placed})
    names = _names(job, built, used, source_prefix)
    sources = {index: _source(built, solution, placed, index, names[index]) for index in used}
    sources = _of_one_lot(built, solution, sources)
    placed.sort(key=lambda item: (item.source, item.y_nm, item.x_nm))
    numbers = {item.cut.id: number for number, item in enumerate(placed, start=first_number)}
    offcuts = _offcuts(job, built, placed, sources)
    laid = tuple(option.laid for option in chosen if option.laid is not None)
    cuts = tuple(replace(item.cut, number=numbers[item.cut.id]) for item in placed)
    ordered = tuple(source for source in sources.values() if source.kind is SourceKind.ORDER)
    return MaterialPlan(
        material_id=built.material.id,
        layouts=tuple(item.layout for item in laid),
        cuts=cuts,
        sources=tuple(sources.values()),
        placements=tuple(
            Placement(cut_id=item.cut.id, source_id=names[item.source], x_nm=item.x_nm, y_nm=item.y_nm, turn=item.turn)
            for item in placed
        ),
        phase_groups=tuple(phases.values()),
        offcuts=offcuts,
        order=tuple(_order_line(source, built.material) for source in ordered),
        account=_account(placed, tuple(sources.values()), offcuts, tuple(item.layout for item in laid)),
        measures=_measures(job, built.material, laid, chosen, cuts, tuple(sources.values()), offcuts),
        bounds=bounds,
        bound_considered=bound_considered,
        notices=notices,
        stop=stop,
    )


def _chosen(built: Built, solution: Solution) -> list[BuiltOption]:
    """Return what the solution takes for every choice, in their order, and then what is finished.

    Options that fix no phase are moved to the one that another room of their group fixes.
    """
    taken = [built.options[index][option] for index, option in enumerate(solution.options)]
    fixed: dict[int | None, tuple[int | None, int | None]] = {}
    for option in (*taken, *built.finished):
        if option.laid is not None:
            x, y = fixed.get(option.group, (None, None))
            own_x, own_y = option.laid.phase_nm
            fixed[option.group] = (own_x if x is None else x, own_y if y is None else y)
    moved = [at_phase(option, built.groups, fixed.get(option.group, (None, None))) for option in taken]
    return [*moved, *built.finished]


def what_it_orders(job: Job, built: Built, solution: Solution) -> ByHand:
    """Return what a solution would order, its seams and its cost, as its plan would have them."""
    chosen = _chosen(built, solution)
    placed = _placed(built, solution, chosen, _phases(job, built, solution, chosen))
    used = sorted({item.source for item in placed})
    by_source: dict[int, list[_Placed]] = defaultdict(list)
    for item in placed:
        by_source[item.source].append(item)
    measures = _measures(
        job,
        built.material,
        tuple(option.laid for option in chosen if option.laid is not None),
        chosen,
        tuple(item.cut for item in placed),
        tuple(_source(built, solution, by_source[index], index, str(index)) for index in used),
        (),
    )
    seams = measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
    return ByHand(ordered_nm=measures.ordered_nm, seams=seams, cost=measures.total_cost)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Member:
    """A piece of a phase group: where it lies in the pattern (q + σ), its corner, the repeat across of its goods."""

    mark_nm: tuple[Fraction, Fraction]
    corner_nm: Point
    across_nm: int | None
    fixed_nm: tuple[int | None, int | None]


def _phases(job: Job, built: Built, solution: Solution, chosen: list[BuiltOption]) -> dict[int, PhaseGroup]:
    """Return the phase of every group, as fixed or as its pieces lie."""
    if built.material.pattern is None:
        return {}
    members: dict[int, list[_Member]] = defaultdict(list)
    for option in chosen:
        for cut in option.held:
            if option.group is not None and option.laid is not None and cut.kind is CutKind.DROP:
                members[option.group].append(_held_member(built, option.laid, cut))
    for index, option in enumerate(chosen[: len(solution.options)]):
        taken = built.instance.choices[index].options[solution.options[index]]
        for spot in solution.spots[index]:
            group = taken.pieces[spot.piece].group
            if group is None or option.laid is None:
                continue
            part = option.parts[spot.piece]
            corner = bounding_rect(part.cut.rects)
            member = _Member(
                mark_nm=_pattern_place(built, solution, part, spot.source, spot.x, spot.y),
                corner_nm=(corner.x0_nm, corner.y0_nm),
                across_nm=built.sources[spot.source].across_nm,
                fixed_nm=option.laid.phase_nm,
            )
            members[group].append(member)
    return {
        group: PhaseGroup(
            room_ids=built.groups[group].room_ids,
            phase_nm=_phase_of(built, of_group),
            placed=any(member.fixed_nm != (None, None) for member in of_group),
        )
        for group, of_group in sorted(members.items())
    }


def _held_member(built: Built, laid: LaidRoom, cut: Cut) -> _Member:
    """Return a cut that was made as a piece of its phase group: its goods are in hand, their phase is known."""
    index, done = built.held[cut.id]
    item = built.sources[index]
    known = item.stock.phase_nm if item.stock is not None else None
    sigma = known if known is not None else (0, 0)
    corner = bounding_rect(cut.rects)
    return _Member(
        mark_nm=(Fraction(done.x_nm + sigma[0]), Fraction(done.y_nm + sigma[1])),
        corner_nm=(corner.x0_nm, corner.y0_nm),
        across_nm=item.across_nm,
        fixed_nm=laid.phase_nm,
    )


def _phase_of(built: Built, members: list[_Member]) -> Point:
    """Return φ as fixed, else as the first piece lies, reduced to the fundamental domain where one repeat holds."""
    pattern = built.material.pattern
    assert pattern is not None
    first = next((member for member in members if member.fixed_nm != (None, None)), members[0])
    fixed = first.fixed_nm
    across = first.across_nm
    phase_x = first.mark_nm[0] - first.corner_nm[0]
    phase_y = first.mark_nm[1] - first.corner_nm[1]
    if across is None:
        phase_x = Fraction(0)
    else:
        repeats = (phase_x - (fixed[0] or 0)) // across
        phase_x, phase_y = phase_x - repeats * across, phase_y - repeats * pattern.drop_nm
        if fixed[0] is None and len({member.across_nm for member in members}) > 1:
            times = _repeats_to_agree(members, (phase_x, phase_y), across, pattern)
            phase_x, phase_y = phase_x + times * across, phase_y + times * pattern.drop_nm
    phase_y %= pattern.along_nm
    whole = pattern.drop_nm.denominator == 1
    rounded_y = ceil(phase_y) if whole else ceil(phase_y) + 1
    return (
        fixed[0] if fixed[0] is not None else floor(phase_x),
        fixed[1] if fixed[1] is not None else rounded_y,
    )


def _repeats_to_agree(
    members: list[_Member], phase_nm: tuple[Fraction, Fraction], across_nm: int, pattern: Pattern
) -> int:
    """Return by how many repeats to move φ so that it also holds on goods of other widths, whose repeat is another."""

    def agrees(times: int) -> bool:
        x, y = phase_nm[0] + times * across_nm, phase_nm[1] + times * pattern.drop_nm
        for member in members:
            repeats, rest = divmod(member.mark_nm[0] - member.corner_nm[0] - x, member.across_nm or 1)
            down = member.mark_nm[1] - member.corner_nm[1] - y - repeats * pattern.drop_nm
            if rest or down % pattern.along_nm:
                return False
        return True

    nearest_first = (times for far in range(MOST_REPEATS) for times in (far, -far))
    return next((times for times in nearest_first if agrees(times)), 0)


def _pattern_place(
    built: Built, solution: Solution, part: Part, source: int, x: int, y: int
) -> tuple[Fraction, Fraction]:
    """Return q + σ of a piece in exact nanometres."""
    unit = built.instance.unit_nm
    item, engine = built.sources[source], built.instance.sources[source]
    if engine.terms is not None:
        lost = engine.terms.start + ((engine.terms.anchor_along or 0) if solution.anchored[source] else 0)
        return unit * x + part.residue_nm[0], unit * (y - lost) + part.residue_nm[1]
    known = item.stock.phase_nm if item.stock is not None else None
    sigma = known if known is not None else (0, 0)
    return (
        item.origin_nm[0] + unit * x + sigma[0] + part.residue_nm[0],
        item.origin_nm[1] + unit * y + sigma[1] + part.residue_nm[1],
    )


def _placed(
    built: Built, solution: Solution, chosen: list[BuiltOption], phases: dict[int, PhaseGroup]
) -> list[_Placed]:
    """Return every cut in its place, in nanometres."""
    placed = []
    for option in chosen:
        for cut in option.held:
            source, done = built.held[cut.id]
            placed.append(_Placed(cut=cut, source=source, x_nm=done.x_nm, y_nm=done.y_nm, turn=done.turn))
    for index, option in enumerate(chosen[: len(solution.options)]):
        taken = built.instance.choices[index].options[solution.options[index]]
        for spot in solution.spots[index]:
            part = option.parts[spot.piece]
            group = taken.pieces[spot.piece].group
            mark_x, mark_y = _pattern_place(built, solution, part, spot.source, spot.x, spot.y)
            if group is not None:
                mark_y = _on_lattice(built, part, spot.source, mark_x, mark_y, phases[group])
            start_nm = _start_nm(built, solution, spot.source)
            stock = built.sources[spot.source].stock
            known = stock.phase_nm if stock is not None and built.material.pattern is not None else None
            sigma = known if known is not None else (0, -start_nm)
            placed.append(
                _Placed(
                    cut=part.cut,
                    source=spot.source,
                    x_nm=floor(mark_x - (sigma[0] if known is not None else 0)),
                    y_nm=floor(mark_y - sigma[1]),
                    turn=spot.turn,
                )
            )
    return placed


def _simplified(job: Job, built: Built, placed: list[_Placed]) -> list[_Placed]:
    """Return the cuts with the notches filled that nothing uses; a cut near its weight limit stays as it is."""
    limited = {room.id for room in job.rooms if room.access.heaviest_g is not None}
    done = list(placed)
    taken = [item.rects() for item in done]
    for number, item in enumerate(done):
        if len(item.cut.rects) == 1 or item.cut.owner in limited or item.cut.id in built.held:
            continue
        stock = built.sources[item.source].stock
        others = [*stock.flaws, *stock.gone] if stock is not None else []
        for other, rects in zip(done, taken, strict=True):
            if other is not item and other.source == item.source:
                others += rects
        cut = with_notches_filled(item.cut, item.turn, item.x_nm, item.y_nm, others, job.offcuts.sizes_nm)
        done[number] = replace(item, cut=cut)
        taken[number] = done[number].rects()
    return done


def _on_lattice(
    built: Built, part: Part, source: int, mark_x: Fraction, mark_y: Fraction, group: PhaseGroup
) -> Fraction:
    """Return q_y + σ_y recomputed from the whole-number phase: o + φ + ⌊m·D⌋ + n·Ry with the solver's m and n."""
    pattern = built.material.pattern
    assert pattern is not None
    corner = bounding_rect(part.cut.rects)
    across = built.sources[source].across_nm
    m = 0 if across is None else round((mark_x - corner.x0_nm - group.phase_nm[0]) / across)
    base = corner.y0_nm + group.phase_nm[1] + floor(m * pattern.drop_nm)
    return Fraction(base + round((mark_y - base) / pattern.along_nm) * pattern.along_nm)


def _start_nm(built: Built, solution: Solution, source: int) -> int:
    """Return the start allowance of an ordered roll in nanometres, 0 for goods in hand."""
    material = built.material
    if built.sources[source].stock is not None:
        return 0
    if not solution.anchored[source] or material.pattern is None:
        return material.squaring_nm
    given = material.starting_allowance_nm
    return material.squaring_nm + (material.pattern.along_nm if given is None else given)


def _names(job: Job, built: Built, used: list[int], prefix: str) -> dict[int, str]:
    """Return the names of the sources used: stock keeps its own, ordered rolls count from 1."""
    taken = {piece.id for piece in job.stock if piece.material_id == built.material.id}
    names: dict[int, str] = {}
    number = 0
    for index in used:
        stock = built.sources[index].stock
        if stock is not None:
            names[index] = stock.id
            continue
        while number == 0 or f"{prefix}order-{number}" in taken:
            number += 1
        names[index] = f"{prefix}order-{number}"
        taken.add(names[index])
    return names


def _source(built: Built, solution: Solution, placed: list[_Placed], index: int, name: str) -> CutSource:
    material, item = built.material, built.sources[index]
    pattern = material.pattern
    far = max(rect.y1_nm for cut in placed if cut.source == index for rect in cut.rects())
    anchored = solution.anchored[index] and pattern is not None
    if item.stock is not None:
        stock = item.stock
        loss = (0, 0)
        if anchored and pattern is not None and stock.phase_nm is None:
            bound = pattern.across_nm is not None and not pattern.at_seam
            loss = ((item.across_nm or 0) if bound else 0, pattern.along_nm)
        return CutSource(
            id=name,
            kind=SourceKind.ROLL if stock.kind is StockKind.ROLL else SourceKind.REMNANT,
            width_nm=stock.width_nm,
            length_nm=stock.length_nm,
            lot=item.lot,
            used_nm=far,
            phase_nm=None if pattern is None else (stock.phase_nm or (0, 0)),
            phase_known=pattern is not None and stock.phase_nm is not None,
            anchored=anchored and stock.phase_nm is None,
            phase_loss_nm=loss,
            flaws=stock.flaws,
            gone=stock.gone,
            stock_id=stock.id,
            cost=stock.book_value,
        )
    start = _start_nm(built, solution, index)
    length = ordered_length_nm(material, far)
    bound_across = pattern is not None and pattern.across_nm is not None and not pattern.at_seam
    return CutSource(
        id=name,
        kind=SourceKind.ORDER,
        width_nm=item.width_nm,
        length_nm=length,
        lot=item.lot,
        start_allowance_nm=start,
        used_nm=far - start,
        phase_nm=None if pattern is None else (0, -start),
        anchored=anchored,
        phase_loss_nm=((item.across_nm or 0) if anchored and bound_across else 0, 0),
        cost=order_cost(material, item.width_nm, length),
    )


def _of_one_lot(built: Built, solution: Solution, sources: dict[int, CutSource]) -> dict[int, CutSource]:
    """Return the sources with all orders of one lot if that can supply them: several are for what it cannot.

    The engine knows a lot as rolls of fixed lengths; others that add up to no more it takes from several lots.
    """
    limit = built.material.sale.lot_limit_nm
    orders = {index: source for index, source in sources.items() if source.kind is SourceKind.ORDER}
    lots = sorted({source.lot for source in orders.values()})
    if limit is None or len(lots) < 2:
        return sources
    totals: dict[int, int] = defaultdict(int)
    for source in orders.values():
        totals[source.width_nm] += source.length_nm
    held = _lots_held(built, solution, orders)
    if max(totals.values()) > limit or len(held) > 1:
        return sources
    lot = next(iter(held), lots[0])
    return sources | {index: replace(source, lot=lot) for index, source in orders.items()}


def _lots_held(built: Built, solution: Solution, orders: dict[int, CutSource]) -> set[str]:
    """Return the lots that must be ordered because rooms that need one lot have goods in hand of them."""
    held: set[str] = set()
    by_group: dict[int, set[int]] = defaultdict(set)
    for choice, spots in zip(built.instance.choices, solution.spots, strict=True):
        used = {spot.source for spot in spots}
        if choice.sources is not None:
            held |= {orders[index].lot for index in used if index in orders}
        if choice.lot_group is not None:
            by_group[choice.lot_group] |= used
    for used in by_group.values():
        if not used <= orders.keys():
            held |= {orders[index].lot for index in used if index in orders}
    return held


def ordered_length_nm(material: Material, needed_nm: int) -> int:
    """Return what is ordered when `needed_nm` (allowances included) is used: whole roll, or step and minimum cut."""
    if material.sale.whole_rolls and material.longest_nm is not None:
        return material.longest_nm
    step = material.sale.order_step_nm
    rounded = max(material.sale.minimum_cut_nm, -(-needed_nm // step) * step)
    return rounded if material.longest_nm is None else min(rounded, max(material.longest_nm, needed_nm))


def order_cost(material: Material, width_nm: int, length_nm: int) -> int:
    """Return the price of an ordered roll in the smallest coin, rounded half up, with the cut charge."""
    sale = material.sale
    if sale.price_per_m is not None:
        exact = sale.price_per_m[material.widths_nm.index(width_nm)] * length_nm / METRE_NM
    elif sale.price_per_m2 is not None:
        exact = sale.price_per_m2 * length_nm * width_nm / METRE_NM**2
    else:
        exact = Fraction(0)
    return floor(exact + Fraction(1, 2)) + sale.cut_charge


def _order_line(source: CutSource, material: Material) -> OrderLine:
    tolerance = 0 if material.pattern is None else ceil(material.repeat_tolerance * source.used_nm)
    return OrderLine(
        source_id=source.id,
        width_nm=source.width_nm,
        length_nm=source.length_nm,
        lot=source.lot,
        cost=source.cost,
        repeat_tolerance_nm=tolerance,
    )


def _offcuts(job: Job, built: Built, placed: list[_Placed], sources: dict[int, CutSource]) -> tuple[Offcut, ...]:
    """Return the offcuts worth keeping, the one for repairs marked, ids by source and place."""
    found: list[tuple[int, Rect]] = []
    scraps: list[tuple[int, Rect]] = []
    sizes = job.offcuts.sizes_nm
    for index, source in sources.items():
        right = source.width_nm - source.phase_loss_nm[0]
        region = Rect(0, source.start_allowance_nm, right, source.length_nm - source.phase_loss_nm[1])
        taken = [rect for cut in placed if cut.source == index for rect in cut.rects()]
        taken += [*source.flaws, *source.gone]
        kept = best_rectangles(region, taken, lambda rect: keepable(rect, sizes))
        found += [(index, rect) for rect in kept]
        scraps += [(index, rect) for rect in empty_rectangles(region, [*taken, *kept])]
    repair = _repair_piece(built.material, scraps, found)
    if repair is not None and repair not in found:
        found.append(repair)
    found.sort(key=lambda item: (item[0], item[1].y0_nm, item[1].x0_nm))
    names = _offcut_names([sources[index].id for index, _ in found], {piece.id for piece in job.stock})
    return tuple(
        Offcut(
            id=name,
            source_id=sources[index].id,
            rect=rect,
            use=OffcutUse.CLIENT if (index, rect) == repair else OffcutUse.SHOP,
            lot=sources[index].lot,
            phase_nm=offcut_phase(built, index, sources[index], rect),
        )
        for name, (index, rect) in zip(names, found, strict=True)
    )


def _offcut_names(sources: list[str], taken: set[str]) -> list[str]:
    """Return a name for every offcut: its source and a number, from 1, that no goods in hand have."""
    counts: dict[str, int] = defaultdict(int)
    names = []
    for source in sources:
        counts[source] += 1
        while f"{source}-offcut-{counts[source]}" in taken:
            counts[source] += 1
        names.append(f"{source}-offcut-{counts[source]}")
    return names


def _repair_piece(
    material: Material, scraps: list[tuple[int, Rect]], kept: list[tuple[int, Rect]]
) -> tuple[int, Rect] | None:
    """Return the smallest rectangle that holds a full repeat: of what is waste first, else of what would be kept."""
    pattern = material.pattern
    least = (REPAIR_NM, REPAIR_NM)
    if pattern is not None:
        across = REPAIR_NM if pattern.across_nm is None or pattern.at_seam else pattern.across_nm
        least = (max(REPAIR_NM, across), max(REPAIR_NM, pattern.along_nm))
    for group in (scraps, kept):
        fitting = [item for item in group if item[1].width_nm >= least[0] and item[1].length_nm >= least[1]]
        if fitting:
            return min(fitting, key=lambda item: (item[1].area_nm2, item[0], item[1].y0_nm, item[1].x0_nm))
    return None


def offcut_phase(built: Built, index: int, source: CutSource, rect: Rect) -> Point | None:
    """Return σ at the offcut's corner, reduced to the fundamental domain; None where it stays unknown.

    An ordered roll's phase is assumed; its offcuts carry the phase in the same assumed frame only once it has been
    unrolled, so what counts is the shift against the plan.
    """
    pattern = built.material.pattern
    if pattern is None or source.phase_nm is None:
        return None
    across = built.sources[index].across_nm
    x, y = Fraction(source.phase_nm[0] + rect.x0_nm), Fraction(source.phase_nm[1] + rect.y0_nm)
    if across is None:
        return (0, int(y % pattern.along_nm))
    repeats = x // across
    # The motif m repeats to the right sits ⌊m·D⌋ further along, so moving back by m repeats takes as much off y.
    return (int(x - repeats * across), int((y - floor(repeats * pattern.drop_nm)) % pattern.along_nm))


def _account(
    placed: list[_Placed],
    sources: tuple[CutSource, ...],
    offcuts: tuple[Offcut, ...],
    layouts: tuple[RoomLayout, ...],
) -> Account:
    goods = sum(source.width_nm * source.length_nm for source in sources)
    goods -= sum(rect.area_nm2 for source in sources for rect in source.gone)
    pieces = sum(rect.area_nm2 for item in placed for rect in item.cut.rects)
    kept = sum(offcut.rect.area_nm2 for offcut in offcuts)
    start = sum(source.width_nm * source.start_allowance_nm for source in sources)
    floor_nm2 = sum(twice_area(item.floor) - sum(twice_area(hole) for hole in item.holes) for item in layouts) // 2
    return Account(
        goods_nm2=goods,
        pieces_nm2=pieces,
        offcuts_nm2=kept,
        start_nm2=start,
        waste_nm2=goods - pieces - kept - start,
        floor_nm2=floor_nm2,
    )


def _measures(
    job: Job,
    material: Material,
    laid: tuple[LaidRoom, ...],
    chosen: list[BuiltOption],
    cuts: tuple[Cut, ...],
    sources: tuple[CutSource, ...],
    offcuts: tuple[Offcut, ...],
) -> Measures:
    ordered: dict[int, int] = dict.fromkeys(sorted(material.widths_nm), 0)
    used = dict(ordered)
    for source in sources:
        if source.kind is SourceKind.ORDER:
            ordered[source.width_nm] += source.length_nm
            used[source.width_nm] += source.used_nm
    seams = sum(len(item.layout.seams) for item in laid)
    cross = sum(len(item.layout.cross_seams) for item in laid)
    relief = sum(len(item.layout.relief_cuts) for item in laid)
    length = sum(item.seam_length_nm for item in laid)
    goods = sum(source.cost for source in sources)
    return Measures(
        ordered_nm=tuple(ordered.items()),
        used_nm=tuple(used.items()),
        roll_nm2=sum(width * value for width, value in ordered.items()),
        seams=seams,
        cross_seams=cross,
        relief_cuts=relief,
        seam_length_nm=length,
        joins=sum(len(option.parts) + len(option.held) - 1 for option in chosen if option.laid is None),
        cuts=len(cuts),
        goods_cost=goods,
        total_cost=goods + goal_charges(job.goal, length, cross, len(cuts)),
        leftover_nm2=sum(offcut.rect.area_nm2 for offcut in offcuts),
        rack_nm2=rack_nm2(job, sources),
    )


def rack_nm2(job: Job, sources: Iterable[CutSource]) -> int:
    """Return the value of goods in hand that a plan of `job` uses up, nm²: see `domain.worth`."""
    return sum(
        used_up_nm2(job.offcuts, source, begun_nm(rects_made(job.done, source.stock_id), source.gone))
        for source in sources
        if source.kind is not SourceKind.ORDER
    )


def goal_charges(goal: Goal, seam_length_nm: int, cross_seams: int, cuts: int) -> int:
    """Return the charges that the goal least cost adds, in the smallest coin; 0 for the other goals."""
    if goal.kind is not GoalKind.LEAST_COST:
        return 0
    per_length = Fraction(goal.charge_per_seam_m * seam_length_nm, METRE_NM)
    return floor(per_length + Fraction(1, 2)) + goal.charge_per_cross_seam * cross_seams + goal.charge_per_cut * cuts
