"""Seams and cross seams of a room plan with their distances from a wall."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.domain.geometry import Point
from nesting.domain.job import EdgeKind
from nesting.drawing.labels import Taken
from nesting.drawing.lengths import figure
from nesting.drawing.metrics import LINE_HEIGHT, clean
from nesting.drawing.room_dims import centred, led, reading_angle, ticks
from nesting.drawing.room_view import Paper, RoomView
from nesting.drawing.scene import Item, Polygon, Shape, Spot
from nesting.drawing.style import SMALL


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamLine:
    """A seam (axis 0: u = at) or cross seam (axis 1: v = at) with its runs along the other axis."""

    axis: int
    at_nm: int
    runs: tuple[tuple[int, int], ...]

    def point(self, across: float, along: float) -> Spot:
        """Return the lay point at `across` the seam's axis and `along` the seam."""
        return (across, along) if self.axis == 0 else (along, across)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """What a seam is measured from: a parallel wall, or a corner where there is none. `from_to`: its reach along."""

    at_nm: int
    from_to: tuple[int, int]
    name: str


def seam_lines(view: RoomView) -> list[SeamLine]:
    """Return all seams, then all cross seams."""
    assert view.layout is not None
    seams = [SeamLine(axis=0, at_nm=s.at_nm, runs=s.runs) for s in view.layout.seams]
    return seams + [SeamLine(axis=1, at_nm=c.at_nm, runs=c.runs) for c in view.layout.cross_seams]


def seam_dimensions(taken: Taken, view: RoomView, paper: Paper, floor: Polygon, seam: SeamLine) -> tuple[Item, ...]:
    """Return the distance of a seam from the nearest parallel wall, else from the nearest corner."""
    unit = view.plan.job.unit
    for from_corner in (False, True):
        for reference, along in _ways(view, seam, from_corner):
            a = paper.lay(seam.point(reference.at_nm, along))
            b = paper.lay(seam.point(seam.at_nm, along))
            text = figure(abs(seam.at_nm - reference.at_nm), unit)
            words = f"{text} from corner" if from_corner else text
            items = _inner_dimension(taken, a, b, words)
            if items:
                return tuple(items)
    reference, along = next(_ways(view, seam, False), None) or next(_ways(view, seam, True))
    at = paper.lay(seam.point(seam.at_nm, along))
    where = f" from {reference.name}" if reference.name else " from the corner"
    text = ("seam " if seam.axis == 0 else "cross seam ") + figure(abs(seam.at_nm - reference.at_nm), unit) + where
    return tuple(led(taken, at, (1.0, 0.0), (text,), floor, role="seam-text") or ())


def _ways(view: RoomView, seam: SeamLine, from_corner: bool) -> Iterator[tuple[Reference, float]]:
    """Give places for the dimension: what it is measured from and where along the seam, the nearest wall first."""
    found = _corners(view, seam) if from_corner else _parallel(view, seam)
    for reference in found[:4]:
        low, high = reference.from_to
        for share in (0.5,) if from_corner else (0.12, 0.88, 0.2, 0.8, 0.3, 0.7, 0.4, 0.6, 0.5):
            yield reference, low + share * (high - low)


def _parallel(view: RoomView, seam: SeamLine) -> list[Reference]:
    """Return the walls parallel to a seam that lie beside one of its runs with open floor between, nearest first."""
    assert view.layout is not None
    floor, found = view.layout.floor, []
    axis = seam.axis
    for k, a in enumerate(floor):
        b = floor[(k + 1) % len(floor)]
        if abs(b[axis] - a[axis]) > abs(b[1 - axis] - a[1 - axis]) // 2000 or view.room.edges[k].kind is EdgeKind.JAMB:
            continue
        at = (a[axis] + b[axis]) // 2
        for run in seam.runs:
            low, high = max(min(a[1 - axis], b[1 - axis]), run[0]), min(max(a[1 - axis], b[1 - axis]), run[1])
            if high - low > 10_000_000 and _open(floor, axis, at, seam.at_nm, (low + high) / 2):
                name = clean(view.room.edges[k].wall) or view.room.edges[k].kind.value
                found.append(Reference(at_nm=at, from_to=(low, high), name=name))
    return sorted(found, key=lambda r: (_is_jog(r), abs(r.at_nm - seam.at_nm), r.from_to))


def _is_jog(reference: Reference) -> bool:
    """Tell whether a wall is too short to measure from while there is another."""
    return reference.from_to[1] - reference.from_to[0] < 500_000_000


def _corners(view: RoomView, seam: SeamLine) -> list[Reference]:
    """Return the corners beside a seam, nearest first."""
    assert view.layout is not None
    axis = seam.axis
    found = [
        Reference(at_nm=p[axis], from_to=(p[1 - axis], p[1 - axis]), name="")
        for p in view.layout.floor
        if abs(p[axis] - seam.at_nm) > 10_000_000
    ]
    return sorted(found, key=lambda r: (abs(r.at_nm - seam.at_nm), r.from_to))


def _open(floor: tuple[Point, ...], axis: int, wall: int, seam: int, along: float) -> bool:
    """Tell whether no wall lies between a wall and a seam on the line across at `along`."""
    low, high = sorted((wall, seam))
    for k, b in enumerate(floor):
        a = floor[k - 1]
        if (a[1 - axis] < along) != (b[1 - axis] < along):
            at = a[axis] + (along - a[1 - axis]) / (b[1 - axis] - a[1 - axis]) * (b[axis] - a[axis])
            if low + 1_000 < at < high - 1_000:
                return False
    return True


def _inner_dimension(taken: Taken, a: Spot, b: Spot, text: str) -> list[Item] | None:
    """Return a dimension line from a to b with its text beside it, if text and line are clear."""
    if not taken.line_is_clear(a, b) or not taken.runs_alone(a, b):
        return None
    angle = reading_angle(a, b)
    length = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
    if length < 1e-6:
        return None
    nx, ny = -(b[1] - a[1]) / length, (b[0] - a[0]) / length
    if ny > 0 or (abs(ny) < 1e-9 and nx > 0):
        nx, ny = -nx, -ny
    off = 0.5 * SMALL * LINE_HEIGHT + 0.3
    for share in (0.5, 0.3, 0.7, 0.85, 0.15):
        for side in (off, -off):
            x, y = a[0] + share * (b[0] - a[0]) + nx * side, a[1] + share * (b[1] - a[1]) + ny * side
            label = centred(text, (x, y), angle, "seam-text")
            if taken.is_free(label):
                taken.add((label,))
                taken.add_line(a, b)
                return [Shape(role="seam-dimension", rings=((a, b),)), *ticks(a, b, "seam-dimension"), label]
    return None
