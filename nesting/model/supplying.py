"""What pieces can be cut from, in whole units: goods in hand, and the rolls that can be worth ordering."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from nesting.domain.geometry import Rect
from nesting.domain.job import Job
from nesting.domain.material import Material, StockPiece
from nesting.domain.rules import ValueRule
from nesting.domain.worth import begun_nm, least_length_nm
from nesting.model.finishing import rects_made
from nesting.model.instance import Box, Choice, OrderTerms, Source, Worth
from nesting.seams.phases import repeat_across_nm

NEW_LOT = "new lot"
METRE_NM = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltSource:
    """What the engine's source `id` stands for: the nanometre place of its origin, and what it is."""

    stock: StockPiece | None  # None: a roll to order
    origin_nm: tuple[Fraction, Fraction]
    width_nm: int
    across_nm: int | None  # the repeat across on this source
    lot: str


class SourceBuilder:
    """Builds the sources of one material; `sources` is the only entry."""

    def __init__(self, job: Job, material: Material, unit_nm: Fraction) -> None:
        self.job, self.material, self.unit_nm = job, material, unit_nm

    def sources(self, choices: list[Choice], *, one_lot: bool) -> tuple[tuple[Source, ...], tuple[BuiltSource, ...]]:
        """Return goods in hand and rolls to order, as the engine sees them and as what they stand for."""
        pairs = [self._stock_source(piece) for piece in self.job.stock if piece.material_id == self.material.id]
        if self.material.orders_allowed:
            pairs += self._order_sources(choices, one_lot=one_lot)
        return tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs)

    def _stock_source(self, piece: StockPiece) -> tuple[Source, BuiltSource]:
        unit, pattern = self.unit_nm, self.material.pattern
        across = repeat_across_nm(self.material, piece.width_nm)
        phase = piece.phase_nm if pattern is not None else None
        origin_x = -Fraction(phase[0]) % unit if phase is not None and across is not None else Fraction(0)
        origin_y = -Fraction(phase[1]) % unit if phase is not None else self._start_of_grid(piece)
        lot = piece.lot if piece.lot is not None else f"lot of {piece.id}"
        loss_x = 0 if across is None or pattern is None or pattern.at_seam else ceil(across / unit)
        source = Source(
            id=piece.id,
            width=floor((piece.width_nm - origin_x) / unit),
            length=floor((piece.length_nm - origin_y) / unit),
            made_width=floor(piece.width_nm / unit),
            lot=lot,
            blocked=tuple(self._blocked(rect, origin_x, origin_y) for rect in self._not_free(piece)),
            phase=None
            if phase is None
            else (int((phase[0] + origin_x) / unit) if across is not None else 0, int((phase[1] + origin_y) / unit)),
            loss=self._loss(piece, loss_x),
            across=self._across(across),
            cost=piece.book_value,
            worth=self._worth(piece),
        )
        built = BuiltSource(
            stock=piece, origin_nm=(origin_x, origin_y), width_nm=piece.width_nm, across_nm=across, lot=lot
        )
        return source, built

    def _worth(self, piece: StockPiece) -> Worth | None:
        """Return how a piece is valued by the job's rule; None: it is not spared."""
        rules, unit = self.job.offcuts, self.unit_nm
        if rules.value is ValueRule.NONE:
            return None
        least = least_length_nm(rules, piece.width_nm)
        small = rules.small_nm2 if rules.value is ValueRule.BY_SIZE else 0
        return Worth(
            begun=ceil(begun_nm(rects_made(self.job.done, piece.id), piece.gone) / unit),
            keep_from=ceil((piece.length_nm + 1 if least is None else least) / unit),
            small=round(small / unit**2),
        )

    def _start_of_grid(self, piece: StockPiece) -> Fraction:
        """Return where places along plain goods count from: as on the roll when it was planned as an order.

        What was cut of it shows that; where nothing is cut, its squaring is gone.
        """
        if self.material.pattern is not None:
            return Fraction(0)
        cut = [item.y_nm for item in self.job.done if item.source_id == piece.id]
        squared = [rect.y1_nm for rect in piece.gone if rect.y0_nm == 0 and rect.width_nm == piece.width_nm]
        return Fraction(min(cut or squared, default=0)) % self.unit_nm

    def _not_free(self, piece: StockPiece) -> list[Rect]:
        """Return what no piece may lie on: flaws, what is gone, and cuts that were made.

        With bench cuts the goods are cut across their whole width beyond the last of these, and nothing goes before it.
        """
        made = rects_made(self.job.done, piece.id)
        if made and self.job.offcuts.bench_cuts:
            far = max(rect.y1_nm for rect in made)
            return [*piece.flaws, *(r for r in piece.gone if r.y1_nm > far), Rect(0, 0, piece.width_nm, far)]
        return [*piece.flaws, *piece.gone, *made]

    def _loss(self, piece: StockPiece, across: int) -> tuple[int, int]:
        """Return what a piece in hand loses when its unknown phase is bound, across and along.

        All cuts on it shift together by up to a repeat once it is unrolled, but its flaws stay where they are: a piece
        with flaws loses everything, so that it only ever serves a group alone. What is gone from its corner is behind
        every shift.
        """
        pattern = self.material.pattern
        if pattern is None:
            return 0, 0
        if any(rect.y0_nm > 0 or rect.x0_nm > 0 for rect in self._not_free(piece)):
            return floor(piece.width_nm / self.unit_nm), floor(piece.length_nm / self.unit_nm)
        return across, ceil(pattern.along_nm / self.unit_nm)

    def _across(self, across_nm: int | None) -> int | None:
        """Return the pitch in units where it depends on the source's width, else None."""
        pattern = self.material.pattern
        return (
            int(across_nm / self.unit_nm) if across_nm is not None and pattern is not None and pattern.at_seam else None
        )

    def _blocked(self, flaw: Rect, origin_x: Fraction, origin_y: Fraction) -> Box:
        unit = self.unit_nm
        return (
            floor((flaw.x0_nm - origin_x) / unit),
            floor((flaw.y0_nm - origin_y) / unit),
            ceil((flaw.x1_nm - origin_x) / unit),
            ceil((flaw.y1_nm - origin_y) / unit),
        )

    def _order_sources(self, choices: list[Choice], *, one_lot: bool) -> list[tuple[Source, BuiltSource]]:
        material, unit = self.material, self.unit_nm
        stacked = sum(
            max(sum(piece.length for piece in option.pieces) for option in choice.options) for choice in choices
        )
        count = sum(max(len(option.pieces) for option in choice.options) for choice in choices)
        along = 0 if material.pattern is None else ceil(material.pattern.along_nm / unit)
        needed = stacked + along * (count + 2) + 1
        pairs = []
        for index, width in enumerate(material.widths_nm):
            terms = self._terms(width)
            spare = terms.start + (terms.anchor_along or 0)
            longest = (
                needed + spare + terms.step + terms.minimum
                if material.longest_nm is None
                else floor(material.longest_nm / unit)
            )
            rolls = self._rolls_without_limit(choices)
            if material.longest_nm is not None:
                rolls = max(rolls, min(count, 2 * ceil(needed / max(1, longest - spare)) + 1))
            for lot, lengths in self._lots(longest, rolls, one_lot=one_lot):
                for number, length in enumerate(lengths, start=1):
                    source = Source(
                        id=f"{material.id}/{lot}/{index + 1}/{number}",
                        width=floor(width / unit),
                        length=length,
                        made_width=floor(width / unit),
                        lot=lot,
                        terms=terms,
                        across=self._across(repeat_across_nm(material, width)),
                        cost_per_unit=self._price_per_unit(index),
                        cost=material.sale.cut_charge,
                    )
                    built = BuiltSource(
                        stock=None,
                        origin_nm=(Fraction(0), Fraction(0)),
                        width_nm=width,
                        across_nm=repeat_across_nm(material, width),
                        lot=lot,
                    )
                    pairs.append((source, built))
        return pairs

    def _rolls_without_limit(self, choices: list[Choice]) -> int:
        """Return how many rolls of a width can be worth ordering though one would be long enough.

        Where a phase is placed, or shared with goods in hand, its roll loses a repeat along and across; what is too
        wide for that goes on a second roll, of free phase.
        """
        placed = any(option.phase != (None, None) for choice in choices for option in choice.options)
        in_hand = any(piece.material_id == self.material.id for piece in self.job.stock)
        return 2 if self.material.pattern is not None and (placed or in_hand) else 1

    def _lots(self, longest: int, rolls: int, *, one_lot: bool) -> list[tuple[str, list[int]]]:
        """Return the lots that can be ordered with the longest lengths of their rolls."""
        stock = [piece for piece in self.job.stock if piece.material_id == self.material.id]
        names = sorted({piece.lot for piece in stock if piece.lot_orderable and piece.lot is not None}) or [NEW_LOT]
        sale, roll_nm = self.material.sale, self.material.longest_nm or longest * self.unit_nm
        if sale.lot_limit_nm is None:
            return [(name, [longest] * rolls) for name in names]
        lengths = [self._ordered_within(roll_nm)] * min(rolls, int(sale.lot_limit_nm // roll_nm))
        rest = self._ordered_within(sale.lot_limit_nm % roll_nm)
        if rest and not sale.whole_rolls and len(lengths) < rolls:
            lengths.append(rest)
        if not one_lot:
            extra = max(1, ceil(rolls * longest / max(1, sum(lengths))))
            names = [*names, *(f"{NEW_LOT} {number}" for number in range(2, min(extra, 8) + 2))]
        return [(name, list(lengths)) for name in names]

    def _ordered_within(self, length_nm: Fraction | int) -> int:
        """Return the units of a roll of which no more than a length is ever ordered: as far as its last whole step."""
        sale, unit = self.material.sale, self.unit_nm
        if sale.whole_rolls:
            return floor(length_nm / unit)
        steps, step = length_nm // sale.order_step_nm, max(1, floor(sale.order_step_nm / unit))
        usable = min(floor(steps * sale.order_step_nm / unit), steps * step)
        return min(floor(length_nm / unit), usable + step - 1)

    def _terms(self, width_nm: int) -> OrderTerms:
        material, unit = self.material, self.unit_nm
        pattern = material.pattern
        anchor_along: int | None = 0
        anchor_across = 0
        if pattern is not None:
            allowance = material.starting_allowance_nm
            anchor_along = (
                None if allowance == 0 else ceil((pattern.along_nm if allowance is None else allowance) / unit)
            )
            if pattern.across_nm is not None and not pattern.at_seam:
                anchor_across = ceil(pattern.across_nm / unit)
        return OrderTerms(
            step=max(1, floor(material.sale.order_step_nm / unit)),
            minimum=ceil(material.sale.minimum_cut_nm / unit),
            start=ceil(material.squaring_nm / unit),
            anchor_along=anchor_along,
            anchor_across=anchor_across,
            whole=material.sale.whole_rolls,
        )

    def _price_per_unit(self, index: int) -> Fraction:
        sale = self.material.sale
        per_m = Fraction(0)
        if sale.price_per_m is not None:
            per_m = sale.price_per_m[index]
        elif sale.price_per_m2 is not None:
            per_m = sale.price_per_m2 * self.material.widths_nm[index] / METRE_NM
        return per_m * self.unit_nm / METRE_NM
