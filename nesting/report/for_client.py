"""What the client is shown: the rooms, their seams, the price."""

from __future__ import annotations

from dataclasses import dataclass
from math import isqrt

from nesting.domain.layout import ReliefCut, RoomLayout
from nesting.domain.plan import Plan
from nesting.report.sentences import length_of, money_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientRoom:
    """One room: what is laid in it, and its seams in a sentence."""

    id: str
    name: str
    material: str
    seams: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What the goods and the sundries cost. `lines`: (what, amount); `total` "" where nothing has a price."""

    lines: tuple[tuple[str, str], ...]
    total: str
    missing: tuple[str, ...]


def client_rooms(plan: Plan) -> list[ClientRoom]:
    """Return all rooms in the order of the job."""
    names = {material.id: material.name for material in plan.job.materials}
    layouts = {layout.room_id: layout for part in plan.materials for layout in part.layouts}
    return [
        ClientRoom(
            id=room.id,
            name=room.name,
            material=names.get(room.material_id, room.material_id),
            seams=_seams(plan, layouts.get(room.id)),
        )
        for room in plan.job.rooms
    ]


def _seams(plan: Plan, layout: RoomLayout | None) -> str:
    """Return how many seams a room has, and how long they are on the floor."""
    if layout is None:
        return "not laid"
    counts = (
        (len(layout.seams), "seam"),
        (len(layout.cross_seams), "cross seam"),
        (len(layout.relief_cuts), "relief cut"),
    )
    said = [f"{count} {word}{'s' if count != 1 else ''}" for count, word in counts if count]
    if not said:
        return "no seam: one piece from wall to wall"
    runs = [run for seam in layout.seams for run in seam.runs]
    runs += [run for seam in layout.cross_seams for run in seam.runs]
    long = sum(high - low for low, high in runs)
    long += sum(_relief_nm(relief) for relief in layout.relief_cuts)
    return f"{' and '.join(said)}, {length_of(plan.job, long)} in all"


def _relief_nm(relief: ReliefCut) -> int:
    (u0, v0), (u1, v1) = relief.start, relief.end
    return (isqrt(4 * ((u1 - u0) ** 2 + (v1 - v0) ** 2)) + 1) // 2  # to the nearest nanometre


def price_of(plan: Plan, sundries_cost: int, unpriced_sundries: bool) -> Price:
    """Return what goods and sundries cost, and what has no price.

    Parameters
    ----------
    sundries_cost
        In the smallest coin.
    unpriced_sundries
        Whether any sundry that is needed has no price.
    """
    names = {material.id: material.name for material in plan.job.materials}
    lines, missing, total = [], [], 0
    for part in plan.materials:
        cost = part.measures.total_cost
        total += cost
        if cost or not any(part.order):
            lines.append((names[part.material_id], money_of(plan.job, cost)))
        if any(line.cost == 0 for line in part.order):
            missing.append(names[part.material_id])
    if sundries_cost:
        total += sundries_cost
        lines.append(("Sundries", money_of(plan.job, sundries_cost)))
    if unpriced_sundries:
        missing.append("some of the sundries" if sundries_cost else "sundries")
    return Price(lines=tuple(lines), total=money_of(plan.job, total) if total else "", missing=tuple(missing))
