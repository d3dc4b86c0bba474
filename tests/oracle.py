"""A brute-force oracle for tiny jobs, written independently of the planner.

It tries every lay direction, every set of seams on the cutting step, every lot, every source, every pattern phase and
every place of every piece, in whole units, on sets of unit cells. A piece's place along the roll is tried only where
it cannot move towards the roll's start by one repeat: among all plans that use the same length, the one with the
least sum of places has no piece that can, so nothing is lost.

Words as in the planner's own text: φ the phase of a room's pattern, σ that of a source at its origin.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import combinations, pairwise, product

Cell = tuple[int, int]
Box = tuple[int, int, int, int]  # x0, y0, x1, y1

LAYS = ((0, 1), (-1, 0), (0, -1), (1, 0))
"""The directions, as vectors in the floor frame, that a room may be laid in."""


@dataclass(frozen=True, kw_only=True)
class TinyRoom:
    """A rectilinear room in units, counter-clockwise. `lays` are indexes into LAYS; `name` is its id."""

    name: str
    outline: tuple[Cell, ...]
    lays: tuple[int, ...] = (0, 1, 2, 3)
    trim: int = 0
    least_trim: int | None = None
    cross_seams: int = 0  # most per breadth
    least_length: int = 1


@dataclass(frozen=True, kw_only=True)
class TinyStock:
    """A remnant in units; `phase` σ at its origin, None: unknown. `lot` "": a lot of its own."""

    name: str
    width: int
    length: int
    lot: str = ""
    phase: Cell | None = None


@dataclass(frozen=True, kw_only=True)
class TinyPattern:
    """The lattice (across, drop), (0, along) in units; `across` None: goods that do not vary across."""

    along: int
    across: int | None = None
    drop: int = 0


@dataclass(frozen=True, kw_only=True)
class TinyJob:
    """A tiny job in units; `step` is the cutting step, `overlap` the seam overlap (even, a multiple of the step).

    The goal is the least roll, or with `seam_worth` the roll and so much length of the widest goods for every seam.
    """

    rooms: tuple[TinyRoom, ...]
    widths: tuple[int, ...]
    step: int = 1
    overlap: int = 0
    pattern: TinyPattern | None = None
    stock: tuple[TinyStock, ...] = ()
    order_step: int = 1
    minimum_cut: int = 0
    squaring: int = 0
    most_seams: int = 2
    seam_worth: int = 0
    turning_free: bool = False


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A rough cut: boxes from its own corner, and that corner's place in the lay frame."""

    boxes: tuple[Box, ...]
    corner: Cell

    @property
    def width(self) -> int:
        return max(box[2] for box in self.boxes)

    @property
    def length(self) -> int:
        return max(box[3] for box in self.boxes)

    @property
    def area(self) -> int:
        return sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in self.boxes)


@dataclass(frozen=True, kw_only=True)
class Laying:
    """One way to lay a room."""

    seams: int
    shapes: tuple[Shape, ...]

    @property
    def area(self) -> int:
        return sum(shape.area for shape in self.shapes)


def turned(cells: set[Cell], lay: int) -> set[Cell]:
    """Return floor cells in the lay frame: u = X·dy − Y·dx, v = X·dx + Y·dy (cells are named by lower corners)."""
    dx, dy = LAYS[lay]
    out = set()
    for x, y in cells:
        us = [a * dy - b * dx for a in (x, x + 1) for b in (y, y + 1)]
        vs = [a * dx + b * dy for a in (x, x + 1) for b in (y, y + 1)]
        out.add((min(us), min(vs)))
    return out


def cells_of(outline: Sequence[Cell]) -> set[Cell]:
    """Return the unit cells inside a rectilinear outline, by crossings to the left of their middles."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    uprights = [
        (x0, min(y0, y1), max(y0, y1))
        for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True)
        if x0 == x1
    ]
    return {
        (x, y)
        for x in range(min(xs), max(xs))
        for y in range(min(ys), max(ys))
        if sum(1 for at, low, high in uprights if at <= x and low <= y < high) % 2
    }


def components(cells: set[Cell]) -> list[set[Cell]]:
    """Return the parts connected through cell sides."""
    left, out = set(cells), []
    while left:
        todo = [min(left)]
        part = {todo[0]}
        left.discard(todo[0])
        while todo:
            x, y = todo.pop()
            for near in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)):
                if near in left:
                    left.discard(near)
                    part.add(near)
                    todo.append(near)
        out.append(part)
    return out


def swept(part: set[Cell], depths: dict[tuple[Cell, str], int]) -> set[Cell]:
    """Return the part with what is left on: rectangles beside its sides, fills at its convex corners.

    `depths` says what is left on beside a cell's side ("l", "r", "b", "t").
    """
    out = set(part)
    for x, y in part:
        beside = {"l": (x - 1, y), "r": (x + 1, y), "b": (x, y - 1), "t": (x, y + 1)}
        open_ = {side: depths[(x, y), side] for side, near in beside.items() if near not in part}
        left, right, below, above = (open_.get(side) for side in "lrbt")
        out |= {(x - n, y) for n in range(1, (left or 0) + 1)} | {(x + n, y) for n in range(1, (right or 0) + 1)}
        out |= {(x, y - n) for n in range(1, (below or 0) + 1)} | {(x, y + n) for n in range(1, (above or 0) + 1)}
        for across, sign_x in ((left, -1), (right, 1)):
            for along, sign_y in ((below, -1), (above, 1)):
                if across is not None and along is not None:
                    out |= {(x + sign_x * i, y + sign_y * j) for i in range(across + 1) for j in range(along + 1)}
    return out


def boxes_of(cells: set[Cell]) -> tuple[Box, ...]:
    """Return disjoint boxes that make up the cells: equal runs of neighbouring rows merged."""
    rows: dict[int, list[tuple[int, int]]] = {}
    for y in sorted({y for _, y in cells}):
        xs = sorted(x for x, row in cells if row == y)
        runs: list[list[int]] = []
        for x in xs:
            if runs and runs[-1][1] == x:
                runs[-1][1] = x + 1
            else:
                runs.append([x, x + 1])
        rows[y] = [(low, high) for low, high in runs]
    boxes: list[Box] = []
    growing: dict[tuple[int, int], int] = {}
    for y in range(min(rows), max(rows) + 2):
        here = rows.get(y, [])
        for run in [run for run in growing if run not in here]:
            boxes.append((run[0], growing.pop(run), run[1], y))
        for run in here:
            growing.setdefault(run, y)
    return tuple(sorted(boxes))


@cache
def layings(job: TinyJob, room: TinyRoom, widest: int, longest: int) -> tuple[Laying, ...]:
    """Return every way to lay the room in which each piece is no wider or longer than that."""
    found: dict[tuple[int, tuple[Shape, ...]], Laying] = {}
    floor = cells_of(room.outline)
    side_trim = room.trim if room.least_trim is None else room.least_trim
    for lay in room.lays:
        cells = turned(floor, lay)
        for seams in seam_sets(job, room, cells):
            for laying in pieces_of(job, room, cells, seams, side_trim):
                if all(shape.width <= widest and shape.length <= longest for shape in laying.shapes):
                    found.setdefault((laying.seams, laying.shapes), laying)
    return tuple(found.values())


def seam_sets(job: TinyJob, room: TinyRoom, cells: set[Cell]) -> Iterator[tuple[int, ...]]:
    """Yield every set of seams such that the pieces' sides lie on the cutting step from the swept floor's corner."""
    us = sorted({u for u, _ in cells})
    low, high = us[0], us[-1] + 1
    places = [u for u in range(low + 1, high) if (u + job.overlap // 2 - (low - room.trim)) % job.step == 0]
    for count in range(job.most_seams + 1):
        yield from combinations(places, count)


def pieces_of(
    job: TinyJob, room: TinyRoom, cells: set[Cell], seams: tuple[int, ...], side_trim: int
) -> Iterator[Laying]:
    """Yield the room cut along the seams, with every set of cross seams that is allowed."""
    us, vs = sorted({u for u, _ in cells}), sorted({v for _, v in cells})
    edges = [us[0], *seams, us[-1] + 1]
    low_v = vs[0] - room.trim
    places = [v for v in range(vs[0] + 1, vs[-1] + 1) if (v + job.overlap // 2 - low_v) % job.step == 0]
    left = job.most_seams - len(seams)
    per_breadth = [
        [cross for count in range(min(room.cross_seams, left) + 1) for cross in combinations(places, count)]
        for _ in edges[1:]
    ]
    for crossing in product(*per_breadth):
        if len(seams) + sum(map(len, crossing)) > job.most_seams:
            continue
        shapes: list[Shape] = []
        lawful = True
        for (low, high), cross in zip(pairwise(edges), crossing, strict=True):
            levels = [vs[0], *cross, vs[-1] + 1]
            for bottom, top in pairwise(levels):
                field_ = {(u, v) for u, v in cells if low <= u < high and bottom <= v < top}
                for part in components(field_):
                    extent = max(v for _, v in part) + 1 - min(v for _, v in part)
                    if cross and extent < room.least_length:
                        lawful = False
                    shapes.append(shape_of(job, room, cells, part, side_trim))
        if lawful:
            yield Laying(seams=len(seams) + sum(map(len, crossing)), shapes=tuple(shapes))


def shape_of(job: TinyJob, room: TinyRoom, cells: set[Cell], part: set[Cell], side_trim: int) -> Shape:
    """Return the rough cut of one part: seam allowance beside floor that goes on, trim beside walls."""
    half = job.overlap // 2
    depths: dict[tuple[Cell, str], int] = {}
    for x, y in part:
        for side, near in (("l", (x - 1, y)), ("r", (x + 1, y)), ("b", (x, y - 1)), ("t", (x, y + 1))):
            wall = side_trim if side in "lr" else room.trim
            depths[(x, y), side] = half if near in cells else wall
    covered = swept(part, depths)
    x0, y0 = min(x for x, _ in covered), min(y for _, y in covered)
    # A side on the cutting step lies where it is; others (less trim) are rounded outward.
    anchor_u, anchor_v = min(u for u, _ in cells) - room.trim, min(v for _, v in cells) - room.trim
    if job.step > 1:
        rounded = {((x - anchor_u) // job.step, (y - anchor_v) // job.step) for x, y in covered}
        covered = {
            (anchor_u + i * job.step + a, anchor_v + j * job.step + b)
            for i, j in rounded
            for a in range(job.step)
            for b in range(job.step)
        }
        x0, y0 = min(x for x, _ in covered), min(y for _, y in covered)
    return Shape(boxes=boxes_of({(x - x0, y - y0) for x, y in covered}), corner=(x0, y0))


@dataclass(frozen=True, kw_only=True)
class Ground:
    """A source as the packing sees it: its width, where pieces lie along it, its phase; `loose`: no phase bound.

    `order`: its length is what is minimized.
    """

    width: int
    low: int
    high: int
    sigma: Cell = (0, 0)
    loose: bool = True
    order: bool = False


@dataclass(kw_only=True)
class Packing:
    """Packs shapes of several phase groups onto grounds; `best` is the least length ordered so far (less one)."""

    pattern: TinyPattern | None
    grounds: tuple[Ground, ...]
    groups: tuple[tuple[Shape, ...], ...]
    turning_free: bool
    cap: int
    found: int | None = None
    laid: list[tuple[int, int, int, Shape, int]] = field(default_factory=list)

    def least(self) -> int | None:
        """Return the least end of the last piece on the ground to order (0: none is used), None if above the cap."""
        pattern = self.pattern
        shapes = [shape for group in self.groups for shape in group]
        self.rectangles = all(len(shape.boxes) == 1 for shape in shapes)
        self.sums = {0}
        for shape in shapes:
            self.sums |= {done + shape.width for done in self.sums}
        if pattern is None:
            phases: Iterator[tuple[Cell, ...]] = iter([tuple((0, 0) for _ in self.groups)])
        else:
            one = list(product(range(pattern.across or 1), range(pattern.along)))
            phases = product(*(one for _ in self.groups))
        for phi in phases:
            if self.found == 0:
                break
            self.phi = phi
            self._next([(g, shape) for g, group in enumerate(self.groups) for shape in group], 0)
        return self.found

    def _limit(self, ground: Ground) -> int:
        if not ground.order:
            return ground.high
        return min(ground.high, self.cap if self.found is None else self.found - 1)

    def _next(self, left: list[tuple[int, Shape]], reached: int) -> None:
        if self.found == 0:
            return
        if not left:
            self.found = reached
            return
        room_left = sum(
            ground.width * (self._limit(ground) - ground.low) - sum(s.area for g, _, _, s, _ in self.laid if g == index)
            for index, ground in enumerate(self.grounds)
        )
        if sum(shape.area for _, shape in left) > room_left:
            return
        tried: set[tuple[int, Shape]] = set()
        for number, (group, shape) in enumerate(left):
            if (group, shape) in tried:
                continue
            tried.add((group, shape))
            rest = left[:number] + left[number + 1 :]
            for way in self._ways(shape):
                for index, x, y in self._places(group, way):
                    ground = self.grounds[index]
                    end = y + way.length
                    if end > self._limit(ground):
                        continue
                    self.laid.append((index, x, y, way, group))
                    self._next(rest, max(reached, end) if ground.order else reached)
                    self.laid.pop()

    def _ways(self, shape: Shape) -> tuple[Shape, ...]:
        if not self.turning_free or self.pattern is not None or len(shape.boxes) == 1:
            return (shape,)
        w, h = shape.width, shape.length
        half = tuple(sorted((w - x1, h - y1, w - x0, h - y0) for x0, y0, x1, y1 in shape.boxes))
        return (shape, Shape(boxes=half, corner=shape.corner))

    def _places(self, group: int, shape: Shape) -> Iterator[tuple[int, int, int]]:
        """Yield where the shape touches the source's start or another piece, as low as its pattern allows."""
        for index, ground in enumerate(self.grounds):
            mine = [g for g, _, _, _, other in self.laid if other == group]
            if any(g != index and (ground.loose or self.grounds[g].loose) for g in mine) and self.pattern is not None:
                continue
            here = [(x, y, s) for g, x, y, s, _ in self.laid if g == index]
            highest = max((y for _, y, _ in here), default=ground.low) if self.rectangles else ground.low
            bottoms = {box[1] for box in shape.boxes}
            contacts = {ground.low}
            contacts |= {y + box[3] - bottom for _, y, s in here for box in s.boxes for bottom in bottoms}
            free_across = self.pattern is None or self.pattern.across is None
            for x in range(ground.width - shape.width + 1):
                if self.rectangles and free_across and x not in self.sums:
                    continue  # rectangles can be moved left until each touches the edge or another one
                residue = self._residue(group, shape, ground, x)
                if residue is None:
                    continue
                done = set()
                for contact in contacts:
                    start = max(contact, ground.low)
                    along = self.pattern.along if self.pattern is not None else 1
                    y = start + (residue - start) % along
                    # Rectangles are laid in the order of their places: what a piece touches lies below it.
                    if y in done or y < highest:
                        continue
                    done.add(y)
                    if not any(overlap(shape, x, y, s, a, b) for a, b, s in here):
                        yield index, x, y

    def _residue(self, group: int, shape: Shape, ground: Ground, x: int) -> int | None:
        """Return y modulo the repeat along where the pattern agrees, None where it cannot at this x."""
        pattern = self.pattern
        if pattern is None:
            return 0
        phi_x, phi_y = self.phi[group]
        times = 0
        if pattern.across is not None:
            times, rest = divmod(x + ground.sigma[0] - shape.corner[0] - phi_x, pattern.across)
            if rest:
                return None
        return (shape.corner[1] + phi_y + times * pattern.drop - ground.sigma[1]) % pattern.along


def overlap(one: Shape, x: int, y: int, other: Shape, a: int, b: int) -> bool:
    """Tell whether two shapes in their places share any goods."""
    return any(
        x + p[0] < a + q[2] and a + q[0] < x + p[2] and y + p[1] < b + q[3] and b + q[1] < y + p[3]
        for p in one.boxes
        for q in other.boxes
    )


def ordered(job: TinyJob, end: int) -> int:
    """Return what is ordered when the last piece ends at `end` of the roll: 0 for none."""
    return 0 if end == 0 else max(job.minimum_cut, -(-end // job.order_step) * job.order_step)


def least(job: TinyJob) -> int | None:
    """Return the least first level of the goal in square units, None if the job cannot be done."""
    widest = max((*job.widths, *(piece.width for piece in job.stock)))
    longest = 10**6 if job.widths else max(piece.length for piece in job.stock)
    ways = [layings(job, room, widest, longest) for room in job.rooms]
    lots: dict[str, list[TinyStock]] = {}
    for piece in job.stock:
        lots.setdefault(piece.lot or f"of {piece.name}", []).append(piece)
    best: int | None = None
    for chosen in sorted(product(*ways), key=lambda taken: _floor_of(job, taken)):
        if best is not None and _floor_of(job, chosen) >= best:
            continue
        if sum(laying.seams for laying in chosen) > job.most_seams:
            continue
        for served in product([*job.widths, *lots], repeat=len(chosen)):
            value = _value(job, chosen, served, lots, best)
            if value is not None and (best is None or value < best):
                best = value
    return best


def front(job: TinyJob) -> list[tuple[int, int]]:
    """Return the whole trade-off as (seams, least roll in square units) of all plans that no other beats.

    Every number of seams up to the job's cap is counted out by itself.
    """
    rows: list[tuple[int, int]] = []
    for seams in range(job.most_seams + 1):
        roll = least(replace(job, most_seams=seams, seam_worth=0))
        if roll is not None and (not rows or roll < rows[-1][1]):
            rows.append((seams, roll))
    return rows


def _price(job: TinyJob) -> int:
    return job.seam_worth * max(job.widths, default=0)


def _floor_of(job: TinyJob, chosen: tuple[Laying, ...]) -> int:
    """Return what these layings cost at least: their seams, and their area less all goods in hand."""
    in_hand = sum(piece.width * piece.length for piece in job.stock)
    area = max(0, sum(laying.area for laying in chosen) - in_hand)
    return area + _price(job) * sum(laying.seams for laying in chosen)


def _value(
    job: TinyJob,
    chosen: tuple[Laying, ...],
    served: tuple[int | str, ...],
    lots: dict[str, list[TinyStock]],
    best: int | None,
) -> int | None:
    """Return the value of rooms laid so and cut from those widths and lots, None if impossible or no better."""
    value = _price(job) * sum(laying.seams for laying in chosen)
    for width in job.widths:
        shapes = tuple(laying.shapes for laying, by in zip(chosen, served, strict=True) if by == width)
        if not shapes:
            continue
        if any(shape.width > width for group in shapes for shape in group):
            return None
        cap = 10**6 if best is None else (best - 1 - value) // width
        end = packed_on_order(job, width, shapes, cap)
        if end is None:
            return None
        value += ordered(job, end) * width
        if best is not None and value >= best:
            return None
    for lot, stock in lots.items():
        shapes = tuple(laying.shapes for laying, by in zip(chosen, served, strict=True) if by == lot)
        if shapes and not fits_in_stock(job, tuple(stock), shapes):
            return None
    return value


def _alike(job: TinyJob, groups: tuple[tuple[Shape, ...], ...]) -> tuple[tuple[Shape, ...], ...]:
    """Return the groups with everything left out that does not matter, so that more of them are alike."""
    pattern = job.pattern
    out = []
    for group in groups:
        u0, v0 = group[0].corner
        shapes = []
        for shape in group:
            u, v = shape.corner[0] - u0, shape.corner[1] - v0
            if pattern is None:
                corner = (0, 0)
            elif pattern.across is None:
                corner = (0, v % pattern.along)
            else:
                times, rest = divmod(u, pattern.across)
                corner = (rest, (v - times * pattern.drop) % pattern.along)
            shapes.append(Shape(boxes=shape.boxes, corner=corner))
        out.append(tuple(sorted(shapes, key=lambda s: (-s.area, s.boxes, s.corner))))
    return tuple(sorted(out, key=lambda g: [(-s.area, s.boxes, s.corner) for s in g]))


_ENDS: dict[object, tuple[int, int | None]] = {}


def packed_on_order(job: TinyJob, width: int, groups: tuple[tuple[Shape, ...], ...], cap: int) -> int | None:
    """Return the least end on one ordered roll, squaring included, None if it is above the cap.

    The phase of a roll to order is free and every group lies on it alone, so φ of each is free too.
    """
    groups = _alike(job, groups)
    key = (job.pattern, job.turning_free, job.squaring, width, groups)
    known = _ENDS.get(key)
    if known is not None:
        known_cap, end = known
        if end is not None:
            return end if end <= cap else None
        if cap <= known_cap:
            return None
    ground = Ground(width=width, low=job.squaring, high=10**6, order=True)
    packing = Packing(pattern=job.pattern, grounds=(ground,), groups=groups, turning_free=job.turning_free, cap=cap)
    end = packing.least()
    _ENDS[key] = (cap, end)
    return end


_FITS: dict[object, bool] = {}


def fits_in_stock(job: TinyJob, stock: tuple[TinyStock, ...], groups: tuple[tuple[Shape, ...], ...]) -> bool:
    """Tell whether the groups can be cut from the pieces of one lot, whatever phases are bound."""
    groups = _alike(job, groups)
    key = (job.pattern, job.turning_free, stock, groups)
    if key not in _FITS:
        _FITS[key] = _fits(job, stock, groups)
    return _FITS[key]


def _fits(job: TinyJob, stock: tuple[TinyStock, ...], groups: tuple[tuple[Shape, ...], ...]) -> bool:
    pattern = job.pattern
    unknown = [piece for piece in stock if piece.phase is None] if pattern is not None else []
    for bound in product((False, True), repeat=len(unknown)):
        anchored = {piece.name for piece, is_bound in zip(unknown, bound, strict=True) if is_bound}
        grounds = []
        for piece in stock:
            loss = (pattern.across or 0, pattern.along) if pattern is not None and piece.name in anchored else (0, 0)
            grounds.append(
                Ground(
                    width=piece.width - loss[0],
                    low=0,
                    high=piece.length - loss[1],
                    sigma=piece.phase or (0, 0),
                    loose=piece.phase is None and piece.name not in anchored,
                )
            )
        packing = Packing(pattern=pattern, grounds=tuple(grounds), groups=groups, turning_free=job.turning_free, cap=0)
        if packing.least() is not None:
            return True
    return False
