"""The drafts of a room in one direction: every width of goods, trim and phase with its seams and cross seams."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from nesting.domain.geometry import LayDirection, Point
from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.rules import RuleId
from nesting.floor.outlines import lay_floor
from nesting.seams.crossings import Levels, on_lattice
from nesting.seams.drafts import Draft, Faults, Trial, bounds_of, drafted, too_wide_nm
from nesting.seams.family import Family, Interval, last_allowed
from nesting.seams.laid import Goods
from nesting.seams.phases import Phase, placed_phases, repeat_across_nm
from nesting.seams.pieces import Bench, bench_of
from nesting.seams.pinned import pinned_places, pinned_sets
from nesting.seams.positions import Line, Seams, Wishes, fills, missing_width_nm, seam_sets
from nesting.seams.splitting import splits_of

MOST_TRIED = 140
"""Seam sets looked at for one goods width and phase, all directions together."""

MOST_TRIED_OBLIQUE = 60
"""The same for floors with oblique sides, whose pieces take longer to work out."""

MOST_PHASES = 8
"""Phases tried where the goods have seam lines across, and half as many along."""

MOST_CELLS = 2400
"""Parts of a floor worked out for one direction and trim before the tries end; an oblique floor's count eight times."""

MOST_NARROWED = 4
"""So often goods are taken as narrower by what pieces at jogs and oblique ends come out too wide."""

MOST_MISFITS = 8
"""Seam sets whose pieces all come out too wide before goods are taken as narrower."""

LEAST_CELLS = 40
"""So many may be worked out at least for every width of goods, trim and phase."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker:
    """Makes the drafts of a room in one direction."""

    room: Room
    material: Material
    goods: Goods
    family: Family
    useful_nm: tuple[int, int] | None
    anchor: Point | None
    faults: Faults
    lays: int  # how many directions are looked at in all
    tries: int = MOST_TRIED  # seam sets looked at, all directions together

    def drafts(self) -> Iterator[Draft]:
        """Yield all drafts worth comparing."""
        bench = self.bench()
        tasks = []
        for width, order_width in self.widths():
            less = self.less_trim(bench, width)
            benches = [bench, self.bench(less_sides_nm=less)] if less else [bench]
            benches += [self.bench(less_sides_nm=less, less_ends_nm=ends) for ends in self.less_ends(bench)]
            tasks += [(each, width, order_width, phase) for phase in self.phases(width) for each in benches]
        cells = MOST_CELLS // (max(1, len(tasks)) * (8 if _is_oblique(bench) else 1))
        for each, width, order_width, phase in tasks:
            yield from self.of_bench(each, width, order_width, phase, max(LEAST_CELLS, cells))

    def bench(self, *, less_sides_nm: int = 0, less_ends_nm: int = 0) -> Bench:
        """Return the bench for full trim, or for less."""
        floor = self.family.ground.floor
        if less_sides_nm or less_ends_nm:
            direction = floor.direction
            floor = lay_floor(
                self.room, self.material, direction, less_sides_nm=less_sides_nm, less_ends_nm=less_ends_nm
            )
        return bench_of(
            self.room, self.material, self.family.ground, floor, anchor=self.anchor, useful_nm=self.useful_nm
        )

    def widths(self) -> list[tuple[int, int | None]]:
        """Return the widths to lay out for, each with the made width that would be ordered (None: stock alone)."""
        made = sorted(self.goods.widths_nm, reverse=True)
        in_hand = sorted({w for w, _ in self.goods.stock_nm}, reverse=True)
        if not made:
            return [(w, None) for w in in_hand[:4]]
        wider = [w for w in in_hand if w > made[0]][:3]
        out: list[tuple[int, int | None]] = [(w, w) for w in made]
        return out + [(w, m) for w in wider for m in made]

    def phases(self, width_nm: int) -> tuple[Phase, ...]:
        """Return the phases that the room's placement asks for, or that what is cut of its group has."""
        pattern = self.material.pattern
        if pattern is None:
            return ((None, None),)
        repeat = repeat_across_nm(self.material, width_nm)
        cut = self.room.pinned.phase_nm
        if cut is not None:
            return ((None if repeat is None else cut[0], cut[1]),)
        phases = placed_phases(self.room, self.family.ground.floor, repeat, pattern.along_nm)
        if isinstance(phases, str):
            self.faults.add(RuleId.PATTERN)
            return ()
        return phases

    def line(self, bench: Bench, width_nm: int) -> Line:
        """Return the floor's extent across with what binds its breadths."""
        whole = bench.pieces((None, None))
        return Line(
            low_nm=bench.low_nm,
            high_nm=bench.high_nm,
            allowed=self.family.allowed,
            step_nm=bench.grid.step_nm,
            half_nm=bench.seam_nm,
            left_nm=max(piece.inset_nm[0] for piece in whole),
            right_nm=max(piece.inset_nm[1] for piece in whole),
            selvedge_nm=self.material.selvedge_nm,
            repeat_nm=repeat_across_nm(self.material, width_nm),
            widest_nm=self.room.access.widest_nm if self.room.rules.holds(RuleId.ACCESS) else None,
        )

    def on_seam_lines(self, line: Line, width_nm: int, phase: Phase) -> list[tuple[Line, Phase]]:
        """Return the line with its allowed seams bound to the material's seam lines, for the phases worth trying."""
        offsets, repeat = self.material.seam_lines_across_nm, line.repeat_nm
        if not offsets or repeat is None or not self.room.rules.holds(RuleId.SEAM_LINES):
            return [(line, phase)]
        if phase[0] is not None:
            return [(replace(line, allowed=on_lattice(line.allowed, phase[0], offsets, repeat)), phase)]
        mirrored = line.mirrored(width_nm).farthest(None, width_nm)
        places = [line.farthest(None, width_nm), None if mirrored is None else -mirrored]
        pinned = [place for found in pinned_places(self.room, self.material, self.direction, line) for place in found]
        places = [*pinned, *places]
        found = [(offset - place) % repeat for place in places if place is not None for offset in offsets]
        # rooms that share a phase must be able to meet in one
        found += [repeat * i // 4 for i in range(4)] if self.anchor is not None else []
        return [
            (replace(line, allowed=on_lattice(line.allowed, across, offsets, repeat)), (across, phase[1]))
            for across in dict.fromkeys(found[:MOST_PHASES])
        ] or [(line, phase)]

    def of_bench(
        self, bench: Bench, width_nm: int, order_width: int | None, phase: Phase, cells: int
    ) -> Iterator[Draft]:
        """Yield the drafts for goods of one width, until so many parts more of the floor have been worked out.

        Twice as many layouts may be held against the rules.
        """
        trial = Trial(
            room=self.room,
            material=self.material,
            goods=self.goods,
            family=self.family,
            bench=bench,
            faults=self.faults,
        )
        whole = self.line(bench, width_nm)
        missing = missing_width_nm(whole, width_nm)
        if missing:
            self.faults.add(RuleId.STOCK, missing)
        lines = self.on_seam_lines(whole, width_nm, phase)
        most = len(bench.done) + cells
        tried = 0
        for line, bound in lines:
            for rank, seams in enumerate(self.seam_sets(trial, line, width_nm, len(lines))):
                for crossings, fixed in self.crossings(trial, seams, bound if seams else phase):
                    tried += 1
                    if len(bench.done) > most or tried > 2 * cells:
                        return
                    draft = drafted(trial, seams, crossings, order_width, fixed, rank)
                    if draft is not None:
                        yield draft

    def crossings(self, trial: Trial, seams: Seams, phase: Phase) -> Iterator[tuple[tuple[Levels, ...], Phase]]:
        """Yield cross seams worth trying with the phase they are bound to where the goods have seam lines along."""
        pattern, offsets = self.material.pattern, self.material.seam_lines_along_nm
        if pattern is None or not offsets or not self.room.rules.holds(RuleId.SEAM_LINES):
            for crossings in splits_of(trial, seams):
                yield crossings, phase
            return
        found = [] if phase[1] is None else [phase[1]]
        for crossings in splits_of(trial, seams):
            if not any(crossings):
                yield crossings, phase
            elif phase[1] is None:
                level = next(level for levels in crossings for level in levels)
                found += [(offset - level) % pattern.along_nm for offset in offsets]
        for along in list(dict.fromkeys(found))[: MOST_PHASES // 2]:
            for crossings in splits_of(replace(trial, along_phase_nm=along), seams):
                if any(crossings):
                    yield crossings, (phase[0], along)

    def seam_sets(self, trial: Trial, line: Line, width_nm: int, lines: int) -> Iterator[Seams]:
        """Yield distinct seam sets; where pieces come out too wide at a jog, those for goods narrower by as much."""
        seen: set[Seams] = set()
        wishes = self.wishes(line, width_nm)
        most = (min(self.tries, MOST_TRIED_OBLIQUE) if _is_oblique(trial.bench) else self.tries) // (self.lays * lines)
        widest = max([width_nm, *(w for w, _ in self.goods.stock_nm)])
        most_seams = self.room.pinned.most_seams
        base, fitted = width_nm, False
        for turn in range(1, MOST_NARROWED + 1):
            excess, tried = 0, 0
            wide: Seams = ()
            for seams in self.sets(line, base, wishes):
                lawful = all(a < b for a, b in pairwise(seams)) and all(_is_in(line.allowed, seam) for seam in seams)
                if seams in seen or len(seen) >= most or not lawful:
                    continue
                if most_seams is not None and len(seams) > most_seams:
                    self.faults.add(RuleId.PINS)
                    continue
                if not fitted and tried >= MOST_MISFITS and turn < MOST_NARROWED:
                    break
                seen.add(seams)
                tried += 1
                pieces = [piece for across in bounds_of(seams) for piece in trial.bench.pieces(across)]
                over = too_wide_nm(pieces, widest)
                fitted = fitted or over <= 0
                if over > 0 and excess == 0:
                    excess, wide = over, seams
                yield seams
            if not excess or (fitted and base < width_nm):
                return
            base -= excess
            shifted = {seam + by for seam in wide for by in (-excess, excess)}
            wishes = replace(wishes, places_nm=tuple(sorted(shifted)) + wishes.places_nm)

    def sets(self, line: Line, width_nm: int, wishes: Wishes) -> Iterator[Seams]:
        """Yield seam sets worth trying, with the pinned seams among them where some are."""
        places = pinned_places(self.room, self.material, self.direction, line)
        if not self.room.pinned.seams:
            yield from seam_sets(line, width_nm, wishes)
        for pinned in places:
            yield from pinned_sets(line, width_nm, wishes, pinned)

    @property
    def direction(self) -> LayDirection:
        """The lay direction."""
        return self.family.ground.floor.direction

    def wishes(self, line: Line, width_nm: int) -> Wishes:
        """Return widths and places worth trying."""
        margins = 2 * self.material.selvedge_nm
        rests = [width_nm - beside + margins for beside in self.goods.beside_nm if beside < width_nm]
        halves = [width_nm // 2, width_nm // 3]
        in_hand = [w for w, _ in self.goods.stock_nm]
        widths = [w for w in dict.fromkeys([*in_hand, *rests, *halves]) if w > 0 and w != width_nm]
        floor = self.family.ground.floor
        places = {u for u, _ in floor.outline} | {u for hole in floor.holes for u, _ in hole}
        for hole in floor.holes:
            low, high = min(u for u, _ in hole), max(u for u, _ in hole)
            places.add((low + high) // 2)
        places |= {end for interval in line.allowed for end in interval}
        span = (line.low_nm, line.high_nm)
        return Wishes(
            widths_nm=tuple(widths),
            places_nm=tuple(sorted(p for p in places if span[0] < p < span[1])),
            stock_nm=tuple(w for w, _ in self.goods.stock_nm),
        )

    def less_trim(self, bench: Bench, width_nm: int) -> int:
        """Return how much less side trim saves a breadth: the least, to a millimetre, that does (0: none does)."""
        least = self.room.least_trim_nm
        if least is None:
            return 0
        most = max(side.full_nm - side.cove_nm - least for side in bench.floor.sides)
        before = self._breadths(bench, width_nm)
        after = self._breadths(self.bench(less_sides_nm=most), width_nm) if most > 0 else before
        if after is None or (before is not None and after >= before):
            return 0
        low, high = 0, -(-most // 1_000_000)
        while high - low > 1:
            middle = (low + high) // 2
            if self._breadths(self.bench(less_sides_nm=middle * 1_000_000), width_nm) == after:
                high = middle
            else:
                low = middle
        return min(most, high * 1_000_000)

    def _breadths(self, bench: Bench, width_nm: int) -> int | None:
        line = self.line(bench, width_nm)
        found = [fills(view, width_nm, None, None) for view in (line, line.mirrored(width_nm))]
        counts = [len(seams) for seams in found if seams is not None]
        return min(counts) if counts else None

    def less_ends(self, bench: Bench) -> tuple[int, ...]:
        """Return by how much to go below the trim at drop ends where the goods are only just too short."""
        least = self.room.least_end_trim_nm
        if least is None:
            return ()
        most = max(side.full_nm - side.cove_nm - least for side in bench.floor.sides)
        whole = bench.pieces((None, None))
        length = max(piece.box.length_nm for piece in whole)
        lengths = {n for _, n in self.goods.stock_nm}
        if self.goods.longest_nm is not None and self.goods.widths_nm:
            lengths.add(self.goods.longest_nm - self.material.squaring_nm)
        found = {self._least_cut(goods, most) for goods in lengths if length > goods >= length - 2 * most}
        return tuple(sorted(less for less in found if less))[:3]

    def _least_cut(self, goods_nm: int, most: int) -> int:
        """Return the least, to a millimetre, to take off the trim at drop ends for goods of a length (0: too short)."""
        low, high = 0, -(-most // 1_000_000)
        if self._longest(min(most, high * 1_000_000)) > goods_nm:
            return 0
        while high - low > 1:
            middle = (low + high) // 2
            if self._longest(middle * 1_000_000) <= goods_nm:
                high = middle
            else:
                low = middle
        return min(most, high * 1_000_000)

    def _longest(self, less_nm: int) -> int:
        """Return the rough length of the whole floor with so much less trim at its drop ends."""
        return max(piece.box.length_nm for piece in self.bench(less_ends_nm=less_nm).pieces((None, None)))


def _is_in(allowed: tuple[Interval, ...], place: int) -> bool:
    return last_allowed(allowed, place) == place


def _is_oblique(bench: Bench) -> bool:
    return any(not side.straight for side in bench.floor.sides)
