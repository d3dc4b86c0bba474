"""Pieces, acts and plans in a few words for the tests of the rack."""

from __future__ import annotations

import datetime
from dataclasses import replace
from functools import cache
from typing import Any

from nesting.domain.geometry import Rect
from nesting.domain.job import Job
from nesting.domain.material import Material, Pattern, StockKind
from nesting.domain.plan import Plan
from nesting.domain.rack import Act, PhaseKnown, RackPiece
from nesting.domain.rules import OffcutRules
from nesting.shop import Rack
from tests.making import GOODS, MM, M, goods, job, pattern, planned_whole, rectangle, room

START = datetime.datetime(2024, 5, 2, 9, 30, tzinfo=datetime.UTC)
KEY = "key-of-the-plan"
JOB = "Miller, hall"
ELL = (Rect(0, 0, 2 * M, 1 * M), Rect(0, 1 * M, 1 * M, 3 * M))
"""2 × 3 m less its upper right 1 × 2 m."""


def act(why: str = "because", *, minutes: int = 0, who: str = "Ann") -> Act:
    """Return an act some minutes after the start."""
    return Act(who=who, why=why, now=START + datetime.timedelta(minutes=minutes))


def piece(label: str = "", width_nm: int = 2 * M, length_nm: int = 3 * M, **changes: Any) -> RackPiece:
    """Return a remnant of the goods."""
    settings: dict[str, Any] = {"material_id": GOODS, "kind": StockKind.REMNANT}
    return RackPiece(id=label, width_nm=width_nm, length_nm=length_nm, **(settings | changes))


def with_pieces(rack: Rack, *pieces: RackPiece) -> list[str]:
    """Put pieces on the rack."""
    return rack.receive(pieces, act("delivered"))


def goods_of(repeat: Pattern | None = None, **changes: Any) -> Material:
    """Return goods 2 m wide, with a pattern or without."""
    return goods(2 * M, pattern=repeat, **changes)


@cache
def plan_of(a_job: Job) -> Plan:
    """Return the plan of a job; the same for every test that asks."""
    return planned_whole(a_job, effort=0)


def job_for(rack: Rack, length_nm: int = 2 * M, *, width_nm: int = 2 * M, material: Material | None = None) -> Job:
    """Return a job of one room that what is free on the rack is offered to."""
    made = material or goods_of()
    return job(
        [room(rectangle(width_nm, length_nm))],
        made,
        stock=rack.stock_pieces([made]),
        offcuts=OffcutRules(sizes_nm=((300 * MM, 300 * MM),)),
    )


def planned_for(rack: Rack, length_nm: int = 2 * M, **changes: Any) -> Plan:
    """Return a plan of such a job."""
    return plan_of(job_for(rack, length_nm, **changes))


def exact(x_nm: int, y_nm: int) -> dict[str, Any]:
    """Return the fields of a phase that is known from a plan."""
    return {"phase_nm": (x_nm, y_nm), "phase_known": PhaseKnown.EXACT}


def half_metre() -> Pattern:
    """Return a pattern that repeats every half metre both ways."""
    return pattern(500 * MM, 500 * MM)


def sound(rack: Rack) -> bool:
    """Tell whether the audit finds nothing; says what it finds."""
    found = rack.audit()
    assert found == (), found
    return True


def without_versions(pieces: tuple[RackPiece, ...]) -> tuple[RackPiece, ...]:
    """Return pieces as they are but for how often they were changed."""
    return tuple(replace(item, version=0) for item in pieces)
