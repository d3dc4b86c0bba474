"""What a room plan needs to know, and the way from the lay frame back to the floor and onto paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.domain.geometry import LayDirection, Point, bounding_rect
from nesting.domain.job import Room
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.material import Material
from nesting.domain.plan import CutSource, MaterialPlan, PhaseGroup, Plan
from nesting.drawing.pattern_lines import DrawnLattice, lattice_of
from nesting.drawing.scene import Polygon, Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomView:
    """One room with its layout, where it has one, and its pieces."""

    plan: Plan
    room: Room
    material: Material
    part: MaterialPlan | None
    layout: RoomLayout | None
    cuts: tuple[Cut, ...]
    lattice: DrawnLattice | None  # in the lay frame
    changed: frozenset[str] = frozenset()  # ids of the cuts that are not as in the plan before

    def source_of(self, cut: Cut) -> CutSource | None:
        """Return the goods that a cut lies on; None where the plan places it nowhere."""
        part = self.part
        spot = next((p for p in part.placements if p.cut_id == cut.id), None) if part else None
        return next((s for s in part.sources if s.id == spot.source_id), None) if part and spot else None


def room_view(plan: Plan, room_id: str, changed: frozenset[str] = frozenset()) -> RoomView:
    """Return what the plan of a room shows; a KeyError if there is no such room."""
    room = next((r for r in plan.job.rooms if r.id == room_id), None)
    if room is None:
        raise KeyError(f"the job has no room named {room_id!r}")
    material = next(m for m in plan.job.materials if m.id == room.material_id)
    part = next((p for p in plan.materials if p.material_id == material.id), None)
    layout = next((y for y in part.layouts if y.room_id == room_id), None) if part else None
    cuts = tuple(c for c in part.cuts if c.owner == room_id and c.kind.value == "drop") if part and layout else ()
    lattice = None
    group = next((g for g in part.phase_groups if room_id in g.room_ids), None) if part else None
    if part and group and cuts:
        lattice = _lattice(part, material, cuts, group)
    return RoomView(plan=plan, room=room, material=material, part=part, layout=layout, cuts=cuts, lattice=lattice,
                    changed=changed)  # fmt: skip


def _lattice(part: MaterialPlan, material: Material, cuts: tuple[Cut, ...], group: PhaseGroup) -> DrawnLattice | None:
    """Return the pattern on the floor: a mark lies where p + φ ≡ 0, as q + σ − o ≡ φ and a mark has q + σ ≡ 0."""
    sources = {s.id: s for s in part.sources}
    widths = [sources[p.source_id].width_nm for p in part.placements if p.cut_id == cuts[0].id]
    width = widths[0] if widths else material.widths_nm[0]
    return lattice_of(material, width, (-group.phase_nm[0], -group.phase_nm[1]))


def to_floor(direction: LayDirection, point: tuple[float, float]) -> Spot:
    """Return the floor coordinates of a point of the lay frame: the inverse of the turn, in floats."""
    n = (direction.dx**2 + direction.dy**2) ** 0.5
    u, v = point
    return ((u * direction.dy + v * direction.dx) / n, (v * direction.dy - u * direction.dx) / n)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """The floor on paper: north up, `k` millimetres a nanometre, the floor point `origin` at `at`."""

    k: float
    origin: Spot
    at: Spot
    direction: LayDirection | None

    def floor(self, point: tuple[float, float]) -> Spot:
        """Return the place on paper of a floor point."""
        return (self.at[0] + (point[0] - self.origin[0]) * self.k, self.at[1] - (point[1] - self.origin[1]) * self.k)

    def lay(self, point: tuple[float, float]) -> Spot:
        """Return the place on paper of a point of the lay frame."""
        assert self.direction is not None
        return self.floor(to_floor(self.direction, point))

    @property
    def heading(self) -> Spot:
        """The way on paper of the lay direction, a unit vector."""
        assert self.direction is not None
        n = (self.direction.dx**2 + self.direction.dy**2) ** 0.5
        return (self.direction.dx / n, -self.direction.dy / n)


def piece_floor(layout: RoomLayout, cut: Cut) -> list[tuple[float, float]]:
    """Return the part of the floor that a drop covers, lay frame; parts joined by a line of no width at a seam."""
    big = 10**16
    low_u = layout.seams[cut.breadth - 1].at_nm if cut.breadth > 0 else -big
    high_u = layout.seams[cut.breadth].at_nm if cut.breadth < len(layout.seams) else big
    low_v = layout.cross_seams[cut.low].at_nm if cut.low is not None else -big
    high_v = layout.cross_seams[cut.high].at_nm if cut.high is not None else big
    box = bounding_rect(cut.rects)
    ring: list[tuple[float, float]] = [(float(u), float(v)) for u, v in layout.floor]
    for axis, limit, keep_above in (
        (0, max(low_u, box.x0_nm), True),
        (0, min(high_u, box.x1_nm), False),
        (1, max(low_v, box.y0_nm), True),
        (1, min(high_v, box.y1_nm), False),
    ):
        ring = _clipped(ring, axis, float(limit), keep_above)
    return ring


def floors(view: RoomView, paper: Paper) -> Iterator[tuple[Cut, Polygon]]:
    """Yield every piece with its floor on paper."""
    for cut in view.cuts:
        assert view.layout is not None
        ring = tuple(paper.lay(p) for p in piece_floor(view.layout, cut))
        if len(ring) >= 3:
            yield cut, ring


def _clipped(ring: list[tuple[float, float]], axis: int, limit: float, keep_above: bool) -> list[tuple[float, float]]:
    """Return the part of a polygon on one side of an axis-parallel line (Sutherland and Hodgman, 1974)."""
    sign = 1.0 if keep_above else -1.0
    found: list[tuple[float, float]] = []
    for k, b in enumerate(ring):
        a = ring[k - 1]
        da, db = sign * (a[axis] - limit), sign * (b[axis] - limit)
        if (da < 0 < db) or (db < 0 < da):
            share = da / (da - db)
            found.append((a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))
        if db >= 0:
            found.append(b)
    return found


def inside(polygon: Polygon, point: Spot) -> bool:
    """Tell whether a point lies in a polygon (even-odd rule)."""
    x, y = point
    odd = False
    for k, (bx, by) in enumerate(polygon):
        ax, ay = polygon[k - 1]
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd


def lay_runs(floor: tuple[Point, ...], at: float, axis: int) -> list[tuple[float, float]]:
    """Return where the line u = at (axis 0) or v = at (axis 1) lies in the floor."""
    hits = []
    for k, b in enumerate(floor):
        a = floor[k - 1]
        if (a[axis] < at) != (b[axis] < at):
            hits.append(a[1 - axis] + (at - a[axis]) / (b[axis] - a[axis]) * (b[1 - axis] - a[1 - axis]))
    hits.sort()
    return list(zip(hits[::2], hits[1::2], strict=False))
