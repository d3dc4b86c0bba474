"""Packing plain rectangles on one roll: the class of instances, a first packing, and the errand that improves it.

The compiled kernel (skyline_kernel.py) fills a strip of a given length, the *target*, shorter than what is best so
far, and anneals the order of the pieces until nothing is left over; then the target is lowered. The strip may be filled
from the roll's start upwards or from its side across: with the target given both are the same problem.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from nesting.model.ground import Ground
from nesting.model.instance import Solution, Spot
from nesting.model.shapes import Shape
from nesting.model.valuing import faults_of, value_of
from nesting.progress import Stop
from nesting.search.errands import Errand, Kind, Outcome, View, better
from nesting.search.improving import Found
from nesting.search.scheme import Ready, Scheme, fits
from nesting.search.windows import caps_of

SLOTS = 4
"""Errands of a round."""
WORK = 1_500_000
"""Looks at pieces that one hundredth of effort allows: about a hundredth of a second."""
FEW = 20
"""Fewer pieces than that get less effort: there is less to try."""
SLICE = 8_000_000
"""Looks at pieces between two questions whether to stop: about a twentieth of a second."""
EFFORT = 25
"""Of an errand in most rounds."""
MOST_EFFORT = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The rectangles of the options taken and the one source that they lie on, units.

    `ways[i]`: the shapes in which piece i may lie, upright first, a quarter turned second. Pieces lie from `low` to
    `high` along and from `left`, `width` wide, across.
    """

    pieces: tuple[tuple[int, int], ...]  # (choice, piece of its option)
    ways: tuple[tuple[Shape, ...], ...]
    left: int
    width: int
    low: int
    high: int

    @property
    def area(self) -> int:
        """Area of all pieces."""
        return sum(ways[0].width * ways[0].length for ways in self.ways)


def is_plain(ready: Ready) -> bool:
    """Tell whether all that can be chosen are plain rectangles without pattern for one source without flaws.

    All need the same distance from the source's edges, none comes in a fixed sequence.
    """
    instance = ready.instance
    if len(instance.sources) != 1 or instance.sources[0].blocked or instance.bench_cuts:
        return False
    insets = set()
    for choice, by_option in zip(instance.choices, ready.shapes, strict=True):
        for option, by_piece in zip(choice.options, by_option, strict=True):
            if option.order:
                return False
            for piece, ways in zip(option.pieces, by_piece, strict=True):
                if len(piece.boxes) > 1 or (piece.group is not None and instance.lattice is not None):
                    return False
                insets |= {(shape.inset_left, shape.inset_right) for shape in ways}
    return len(insets) <= 1


def is_settled(ready: Ready) -> bool:
    """Tell whether nothing but the packing of plain rectangles on one roll is open."""
    return all(len(usable) == 1 for usable in ready.usable) and is_plain(ready)


def job_of(ready: Ready, options: tuple[int, ...]) -> Job | None:
    """Return the job of packing the pieces of `options` on the one source; None when a piece goes in no way."""
    ground = ready.grounds((False,))[0]
    pieces, ways = [], []
    for number, taken in enumerate(options):
        for index, shapes in enumerate(ready.shapes[number][taken]):
            kept = _kept(shapes, ground)
            if not kept:
                return None
            pieces.append((number, index))
            ways.append(kept)
    left = ways[0][0].inset_left if ways else 0
    right = ways[0][0].inset_right if ways else 0
    return Job(
        pieces=tuple(pieces),
        ways=tuple(ways),
        left=left,
        width=ground.width - left - right,
        low=ground.low,
        high=ground.high,
    )


def _kept(shapes: tuple[Shape, ...], ground: Ground) -> tuple[Shape, ...]:
    """Return at most two of the ways of a rectangle, one of each size, that go into the ground."""
    by_size: dict[tuple[int, int], Shape] = {}
    for shape in shapes:
        if fits(shape, ground):
            by_size.setdefault((shape.width, shape.length), shape)
    return tuple(by_size.values())


def found_of(ready: Ready, scheme: Scheme, job: Job, places: list[tuple[int, int, int]]) -> Found | None:
    """Return the solution that has piece i of the job at `places[i]` = (x, y, way), counted from the job's corner.

    None when it is not lawful: it reaches beyond the source's end, or the options have more seams than may be.
    """
    spots: list[list[Spot]] = [[] for _ in ready.instance.choices]
    far = 0
    for (number, index), ways, (x, y, way) in zip(job.pieces, job.ways, places, strict=True):
        shape = ways[way]
        far = max(far, job.low + y + shape.length)
        spots[number].append(Spot(piece=index, source=0, x=job.left + x, y=job.low + y, turn=shape.turn))
    if far > job.high:
        return None
    solution = Solution(options=scheme.options, spots=tuple(tuple(own) for own in spots), anchored=scheme.anchored)
    if faults_of(ready.instance, solution):
        return None
    order = sorted(range(len(places)), key=lambda i: (places[i][1], places[i][0]))
    lots = tuple(ready.instance.sources[0].lot if c.lot_group is not None else None for c in ready.instance.choices)
    sequence = tuple(job.pieces[i] for i in order)
    made = Scheme(
        options=scheme.options,
        sequence=sequence,
        lots=lots,
        order_lot=scheme.order_lot,
        anchored=scheme.anchored,
    )
    return Found(solution, value_of(ready.instance, solution), made)


def packed_at_once(ready: Ready) -> Found | None:
    """Return a quick packing without anything compiled; None when more than the packing is open, or it is too long.

    Always the widest piece that fits goes on the lowest segment of the skyline, the longest among equals.
    """
    if not is_settled(ready):
        return None
    source = ready.instance.sources[0]
    scheme = Scheme(
        options=tuple(usable[0] for usable in ready.usable),
        sequence=(),
        lots=tuple(source.lot if choice.lot_group is not None else None for choice in ready.instance.choices),
        order_lot=source.lot if source.terms is not None and ready.instance.orders_of_one_lot else None,
        anchored=(False,),
    )
    job = job_of(ready, scheme.options)
    if job is None:
        return None
    upright = [ways[0] for ways in job.ways]
    rest = sorted((shape.width, shape.length, i) for i, shape in enumerate(upright))
    places = [(0, 0, 0)] * len(rest)
    skyline = [(0, 0)]  # (where a segment begins, its height)
    while rest:
        j = min(range(len(skyline)), key=lambda i: skyline[i][1])
        begin, height = skyline[j]
        end = skyline[j + 1][0] if j + 1 < len(skyline) else job.width
        at = bisect_right(rest, (end - begin, 1 << 62, 0)) - 1
        if at < 0:
            skyline[j] = (begin, min(skyline[i][1] for i in (j - 1, j + 1) if 0 <= i < len(skyline)))
        else:
            wide, long, i = rest.pop(at)
            places[i] = (begin, height, 0)
            skyline[j : j + 1] = [(begin, height + long)] + ([(begin + wide, height)] if begin + wide < end else [])
        skyline = [segment for k, segment in enumerate(skyline) if k == 0 or segment[1] != skyline[k - 1][1]]
    return found_of(ready, scheme, job, places)


def packs(view: View) -> Iterator[Errand]:
    """Yield the packing errands of a round, with most effort in rounds 1, 2, 4, 8, …, and slowly more in the others.

    Where more than the packing is open, half as many: what is best changes with the options taken.
    """
    if not is_plain(view.ready) or (view.proved and len(view.ready.instance.weights.levels) == 1):
        return
    rounds = view.number + 1
    effort = EFFORT * (rounds if rounds & view.number == 0 else 1 + rounds // 4)
    for k in range(SLOTS) if is_settled(view.ready) else range(0, SLOTS, 2):
        slot = f"pack {k}"
        yield Errand(
            kind=Kind.PACK,
            seed=view.seed_of(4 + k),
            effort=min(effort, MOST_EFFORT),
            bound=view.bound,
            slot=slot,
            scheme=view.handed_on.get(slot),
        )


def pack_errand(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Anneal the order of the pieces for shorter and shorter targets; the order reached is handed on."""
    from nesting.search.skyline_run import Run  # numba is loaded only where search goes on after a first plan

    scheme = best.scheme if best else base
    job = job_of(ready, scheme.options) if scheme is not None else None
    if scheme is None or job is None or not job.pieces:
        return Outcome(found=best)
    lead = best.scheme if best else scheme
    if errand.scheme is not None and errand.scheme.options == scheme.options:
        lead = errand.scheme
    cap = caps_of(ready.instance, errand.bound)[0] - job.low
    numbers = {who: i for i, who in enumerate(job.pieces)}
    run = Run(job, random.Random(errand.seed), least=cap, lead=[numbers[who] for who in lead.sequence])
    far = best.value.used[0] if best else job.high - job.low + 1
    work = errand.effort * WORK * min(len(job.pieces), FEW) // FEW
    run.search(errand.slot[-1:], far, work, SLICE, stop)
    found = found_of(ready, scheme, job, run.places) if run.places else None
    sequence = tuple(job.pieces[i] for i in run.order)
    handed_on = Scheme(
        options=scheme.options,
        sequence=sequence,
        lots=scheme.lots,
        order_lot=scheme.order_lot,
        anchored=scheme.anchored,
    )
    return Outcome(found=better(best, found), scheme=handed_on)
