"""A large plan is checked while the client waits."""

from __future__ import annotations

from dataclasses import replace
from time import process_time

from nesting.checker import check_plan
from nesting.domain.plan import PhaseGroup
from tests.checker.drafting import FULL, MM, M, box_room, boxed, goods, in_phase, job_of, ordered, plan_of
from tests.checker.plans import HALF_DROP

SECONDS = 3


def test_sixty_rooms_are_checked_in_seconds() -> None:
    material = goods(pattern=HALF_DROP)
    rooms = [box_room(f"room-{n}", 8_500 * MM + n * 10 * MM, 4 * M + n * 5 * MM) for n in range(60)]
    laid = [boxed(room, material, (2_500 * MM, 5 * M, 7_500 * MM)) for room in rooms]
    cuts = [cut for item in laid for cut in item.cuts]
    source = ordered(phase_nm=(0, -50 * MM))
    phase = (FULL, 0)
    groups = [PhaseGroup(room_ids=(room.id,), phase_nm=phase) for room in rooms]
    places = in_phase(cuts, source, HALF_DROP, phase, across=500 * MM)
    plan = plan_of(job_of(rooms, material), laid, [source], places, groups=groups)
    assert len(plan.materials[0].cuts) == 240
    begun = process_time()
    assert check_plan(plan) == ()
    assert process_time() - begun < SECONDS
    worse = replace(places[200], y_nm=places[200].y_nm + 1)
    plan = plan_of(job_of(rooms, material), laid, [source], [*places[:200], worse, *places[201:]], groups=groups)
    assert check_plan(plan) != ()
