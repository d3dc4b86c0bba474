"""All rules in their order, and the one function that applies them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from nesting.checker import (
    account,
    asked,
    bounds,
    breadths,
    coverage,
    coves,
    done,
    goods,
    handling,
    holes,
    lattice,
    lay_frames,
    money,
    offcuts,
    pins,
    placing,
    rack,
    seam_rules,
    structure,
    supply,
)
from nesting.checker.facts import LaidFloor, View, laid_floor, view_of
from nesting.checker.findings import Finding, excused, guarded, violations
from nesting.domain.plan import MaterialPlan, Plan, Violation

CHECKS: tuple[tuple[str, Callable[[View], Iterator[Finding]]], ...] = (
    ("V1f", coverage.check_parts),
    ("V1g", coverage.check_allowances),
    ("V1h", coverage.check_sweeps),
    ("V1i", holes.check_relief_cuts),
    ("V1j", coverage.check_step),
    ("V1k", coves.check_inserts),
    ("V1l", coves.check_cove_goods),
    ("V1m", asked.check_loose),
    ("V1n", asked.check_strips),
    ("V2a", goods.check_inside),
    ("V2b", goods.check_apart),
    ("V2c", goods.check_flaws),
    ("V2d", goods.check_sources),
    ("V2e", goods.check_selvedge),
    ("V3a", lattice.check_seams),
    ("V3b", lattice.check_phases),
    ("V3c", lattice.check_anchoring),
    ("V3d", lattice.check_source_phases),
    ("V3e", placing.check_placement),
    ("V3f", lattice.check_seam_lines),
    ("V4a", handling.check_direction),
    ("V4b", seam_rules.check_joint_clearance),
    ("V4c", seam_rules.check_keep_outs),
    ("V4c", seam_rules.check_convex),
    ("V4d", seam_rules.check_doors),
    ("V4e", breadths.check_least_breadth),
    ("V4f", breadths.check_cross_seams),
    ("V4g", breadths.check_least_length),
    ("V4h", breadths.check_stagger),
    ("V4i", handling.check_access),
    ("V4j", handling.check_turning),
    ("V4k", handling.check_sequence),
    ("V4l", supply.check_one_width),
    ("V4m", supply.check_room_lots),
    ("V4n", supply.check_order_lots),
    ("V4o", supply.check_orders),
    ("V4p", supply.check_most_seams),
    ("V4q", supply.check_bench_cuts),
    ("V4s", pins.check_pinned_seams),
    ("V4t", pins.check_pinned_layout),
    ("V4u", pins.check_seams_of_room),
    ("V4v", pins.check_pinned_goods),
    ("V4w", pins.check_one_lot),
    ("V4x", done.check_done),
    ("V5a", money.check_used),
    ("V5b", money.check_ordered),
    ("V5c", money.check_costs),
    ("V5d", money.check_order),
    ("V5e", account.check_account),
    ("V5f", account.check_measures),
    ("V5g", offcuts.check_offcuts),
    ("V5h", offcuts.check_offcut_phases),
    ("V5i", rack.check_rack),
    ("V6a", bounds.check_bounds),
    ("V6b", bounds.check_attained),
    ("V6c", bounds.check_certificates),
    ("V6d", bounds.check_by_hand),
)


def check_plan(plan: Plan) -> tuple[Violation, ...]:
    """Return everything that is wrong with a plan, in a stable order; () proves it.

    Nothing is raised for a plan of the right types, however mad its values. Where the structure of a material's plan is
    broken, only that is reported of it: nothing else could be computed. Rules that the plan lists as needing consent
    are left out for the rooms and pieces listed.
    """
    found = list(guarded("V1a", "plan", structure.check_job, plan))
    if not found:
        for part in plan.materials:
            found += _material(plan, part)
        found += guarded("V4r", "plan", structure.check_consents, plan)
    return violations(found)


def _material(plan: Plan, part: MaterialPlan) -> list[Finding]:
    where = f"material {part.material_id}"
    scope = structure.Scope(plan, part)
    found = list(guarded("V1b", where, structure.check_references, scope))
    found += guarded("V1c", where, structure.check_sizes, scope)
    if found:
        return found
    floors = dict(_floors(plan, part, found))
    view = view_of(plan, part, floors)
    for rule, check in CHECKS:
        found += guarded(rule, where, check, view)
    return [finding for finding in found if not excused(finding, plan, part.material_id)]


def _floors(plan: Plan, part: MaterialPlan, found: list[Finding]) -> Iterator[tuple[str, LaidFloor]]:
    """Yield the rooms whose floor and seams are sound; what is wrong with the others is added to `found`."""
    rooms = {room.id: room for room in plan.job.rooms}
    for layout in part.layouts:
        room = rooms[layout.room_id]
        where = f"room {room.id}"
        wrong = [
            *guarded("V1d", where, lay_frames.check_lay_frame, room, layout),
            *guarded("V1e", where, lay_frames.check_seam_order, room, layout),
        ]
        if not wrong:
            try:
                floor = laid_floor(room, layout, part)
            except (ArithmeticError, LookupError, RecursionError, TypeError, ValueError) as error:
                text = f"cannot be cut by its seams ({type(error).__name__})"
                wrong = [Finding(rule="V1e", where=where, text=text)]
            else:
                found += guarded("V1e", where, lay_frames.check_runs, floor)
                yield room.id, floor
        found += wrong
