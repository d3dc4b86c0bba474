"""What a job file says of its sundries becomes domain data; the nearest place that names a kind counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.sundries import (
    BASES,
    CALLED_FOR,
    IN_LENGTHS,
    Amount,
    Fixing,
    LaidHow,
    Measure,
    Rate,
    StockLength,
    Sundries,
    Sundry,
    SundryKind,
    Walls,
)
from nesting.files.faults import Faults
from nesting.files.fields import nearest
from nesting.files.job_entries import MaterialEntry
from nesting.files.sundry_entries import Per, ProductEntry, SundriesEntry
from nesting.files.yaml_tree import Loc

MOST_LENGTHS = 20
"""Stock lengths of one product."""

_RATE_HINT = {
    Measure.AREA: "write how far it goes, such as 8 m2 per l or 0.25 kg per m2",
    Measure.LENGTH: "write how far it goes, such as 45 m per tube or 20 ml per m",
}


@dataclass(slots=True)
class SundryReader:
    """Reads the sundries of a job. `listed` are the names of all rooms, those that could not be read too."""

    rooms: Sequence[Room]
    listed: Sequence[str]
    faults: Faults

    def read(
        self, of_job: SundriesEntry | None, of_materials: Mapping[str, tuple[Material, MaterialEntry, Loc]]
    ) -> Sundries:
        """Return what the job and its materials (by id) say."""
        laid, products = [], []
        free: dict[SundryKind, list[str]] = {kind: [] for kind in SundryKind}
        for ident, (_, entry, loc) in of_materials.items():
            how = self._laid(ident, entry, of_job)
            laid.append(how)
            own = entry.sundries
            for kind in SundryKind:
                given = own.products(kind) if own else []
                if kind in how.left_out and given:
                    self.faults.add((*loc, "sundries", "leave out"), "given-twice", f"{kind} is given and left out")
                for number, product in enumerate(given):
                    where = self._loc((*loc, "sundries"), kind, number)
                    products.append(self._sundry(kind, product, (ident,), where))
                welded = kind is SundryKind.SEAM_SEALER and own is not None and own.products(SundryKind.WELD_ROD)
                if not given and kind in CALLED_FOR[how.fixing] and kind not in how.left_out and not welded:
                    free[kind].append(ident)
            if entry.loose_up_to is not None and how.fixing is not Fixing.LOOSE_LAY:
                hint = "write `fixing: loose lay`, or leave it out"
                self.faults.add((*loc, "loose up to"), "not-loose", "the material is not laid loose", hint)
        for kind in SundryKind:
            for number, product in enumerate(of_job.products(kind) if of_job else []):
                where = self._loc(("sundries",), kind, number)
                sundry = self._sundry(kind, product, tuple(free[kind]), where)  # read in any case, for its faults
                products += [sundry] if free[kind] else []
        said = tuple(how for how in laid if how != LaidHow(material_id=how.material_id))
        return Sundries(laid=said, products=tuple(product for product in products if product is not None))

    def _laid(self, ident: str, entry: MaterialEntry, of_job: SundriesEntry | None) -> LaidHow:
        """Return how a material goes down; what stands at it is not left out by the job."""
        own = entry.sundries
        if own is not None and own.leave_out is not None:
            left_out = [SundryKind(kind) for kind in own.leave_out]
        else:
            by_job = (of_job.leave_out or []) if of_job else []
            left_out = [kind for kind in map(SundryKind, by_job) if not (own and own.products(kind))]
        return LaidHow(
            material_id=ident,
            fixing=Fixing(entry.fixing or Fixing.FULL_SPREAD),
            loose_up_to_nm2=entry.loose_up_to,
            left_out=tuple(kind for kind in SundryKind if kind in left_out),
        )

    def _loc(self, loc: Loc, kind: SundryKind, number: int) -> Loc:
        """Return the path of a product: one that stands alone has no number."""
        at = (*loc, kind.value.replace("-", " "))
        return (*at, number) if (*at, number) in self.faults.tree.lines else at

    # --- one product -------------------------------------------------------------------------------------------------

    def _sundry(self, kind: SundryKind, entry: Any, materials: tuple[str, ...], loc: Loc) -> Sundry | None:
        """Return one product, or None with its faults noted."""
        before = len(self.faults.found)
        rate = self._rate(kind, entry, loc)
        pack = self._pack(kind, entry, rate, loc)
        lengths = self._lengths(entry, loc) if kind in IN_LENGTHS else ()
        given: dict[str, Any] = {
            "band_nm": getattr(entry, "band", None),
            "gap_nm": getattr(entry, "gap", None),
            "depth_nm": getattr(entry, "depth", None),
            "width_nm": getattr(entry, "width", None),
            "least_joint_nm": getattr(entry, "least_joint", None),
            "kerf_nm": getattr(entry, "kerf", None),
            "joints": getattr(entry, "joints", None),
            "cove_joints": getattr(entry, "cove_joints", None),
        }
        around, walls = getattr(entry, "around", None), getattr(entry, "walls", None)
        sundry = Sundry(
            kind=kind,
            name=entry.name or kind.value.replace("-", " ").capitalize(),
            material_ids=materials,
            rate=rate,
            pack=pack,
            price=entry.price,
            waste=entry.waste or Fraction(0),
            room_ids=self._room_ids(entry.rooms or (), (*loc, "rooms")),
            walls=Walls(walls) if walls else None,
            without=self._without(getattr(entry, "without", None) or (), (*loc, "without")),
            around=None if around is None else tuple(around),
            lengths=lengths,
            line=self.faults.tree.line_of(loc),
            **{name: value for name, value in given.items() if value is not None},
        )
        return sundry if len(self.faults.found) == before else None

    def _rate(self, kind: SundryKind, entry: ProductEntry, loc: Loc) -> Rate | None:
        """Return the rate the right way round: so much of the product for so much of what it is reckoned from."""
        per: Per | None = entry.rate
        if per is None:
            return None
        for clash in ("gap", "width"):
            if getattr(entry, clash, None) is not None:
                what = f"`rate` and `{clash}` both say how much is needed"
                self.faults.add((*loc, "rate"), "given-twice", what, "leave one out; a pack says what is bought")
        if getattr(entry, "band", None) is not None and Measure.AREA not in (per.first.measure, per.second.measure):
            self.faults.add((*loc, "rate"), "bad-rate", "a band is spread by area", _RATE_HINT[Measure.AREA])
        for product, basis in ((per.first, per.second), (per.second, per.first)):
            if basis.measure in BASES[kind]:
                return Rate(product=product, basis=basis, text=per.text)
        bases = " or ".join(BASES[kind])
        what = f"{per.text!r} is no rate by {bases}"
        self.faults.add((*loc, "rate"), "bad-rate", what, _RATE_HINT[BASES[kind][0]])
        return None

    def _pack(self, kind: SundryKind, entry: ProductEntry, rate: Rate | None, loc: Loc) -> Amount | None:
        """Return what a pack holds; one piece where the product is counted in pieces and no pack is given."""
        fit = self._measures(kind, entry, rate)
        if entry.pack is not None:
            noun = rate.product.noun if rate else ""
            if entry.pack.measure not in fit or (noun and entry.pack.noun not in (noun, "piece")):
                needed = noun or " or ".join(fit)
                what = f"a pack of {entry.pack.text} does not hold what is needed, which is counted by {needed}"
                hint = "give a pack of the same kind of unit as the rate gives"
                self.faults.add((*loc, "pack"), "pack-differs", what, hint)
            return entry.pack
        if getattr(entry, "lengths", None) is None and fit[0] is Measure.PIECES and (rate or entry.price is not None):
            noun = rate.product.noun if rate else "piece"
            return Amount(measure=Measure.PIECES, quantity=Fraction(1), text=f"1 {noun}", noun=noun)
        if entry.price is not None:
            hint = "give `pack`: what one costs" if getattr(entry, "lengths", None) is None else "give `prices`"
            self.faults.add((*loc, "price"), "missing-key", "a price stands here, but no pack", hint)
        return None

    @staticmethod
    def _measures(kind: SundryKind, entry: ProductEntry, rate: Rate | None) -> tuple[Measure, ...]:
        """Return what a pack may be measured in."""
        if rate is not None:
            return (rate.product.measure,)
        if kind is SundryKind.CAULK and getattr(entry, "gap", None) is not None:
            return (Measure.VOLUME,)
        if kind is SundryKind.UNDERLAY and getattr(entry, "width", None) is not None:
            return (Measure.LENGTH, Measure.AREA)
        if kind is SundryKind.TRANSITION:
            return (Measure.PIECES, Measure.LENGTH)
        if kind is SundryKind.ADHESIVE and getattr(entry, "band", None) is not None:
            return (Measure.AREA,)
        return BASES[kind]

    def _lengths(self, entry: Any, loc: Loc) -> tuple[StockLength, ...]:
        """Return the stock lengths with their prices."""
        lengths = entry.lengths
        if lengths is None:
            for name in ("prices", "kerf", "joints", "least_joint"):
                if getattr(entry, name) is not None:
                    at = name.replace("_", " ")
                    self.faults.add((*loc, at), "missing-key", f"`{at}` stands here, but no `lengths`", "give them")
            return ()
        for name in ("rate", "pack", "waste"):
            if getattr(entry, name) is not None:
                what = f"`{name}` and `lengths` both say what is bought"
                self.faults.add((*loc, name), "given-twice", what, "runs cut from stock lengths need no more")
        if len(lengths) > MOST_LENGTHS:
            what = f"more than {MOST_LENGTHS} lengths stand here"
            self.faults.add((*loc, "lengths"), "too-large", what, "give those that are bought")
            return ()
        if not lengths or len(set(lengths)) < len(lengths):
            what = "a length stands twice" if lengths else "no length is given"
            self.faults.add((*loc, "lengths"), "given-twice" if lengths else "missing-key", what, "give each once")
            return ()
        prices = entry.prices
        if prices is not None and len(prices) != len(lengths):
            what = f"{len(prices)} prices stand for {len(lengths)} lengths"
            self.faults.add((*loc, "prices"), "bad-price", what, "give one for each length, in their order")
            return ()
        least = 300_000_000 if entry.least_joint is None else entry.least_joint
        if 2 * least > max(lengths):
            what = "two of the least pieces are longer than the longest length"
            self.faults.add((*loc, "lengths"), "too-large", what, "check `lengths` and `least joint`")
        both = zip(lengths, prices or [None] * len(lengths), strict=True)
        return tuple(StockLength(length_nm=length, price=price) for length, price in both)

    # --- rooms and walls ---------------------------------------------------------------------------------------------

    def _room(self, name: str, loc: Loc) -> Room | None:
        """Return the room called `name`."""
        by_name = {known.lower(): room for room in self.rooms for known in (room.id, room.name)}
        room = by_name.get(name.lower())
        if room is None and name.lower() not in (known.lower() for known in self.listed):
            self.faults.add(loc, "unknown-name", f"there is no room {name!r}", nearest(name, self.listed))
        return room

    def _room_ids(self, names: Sequence[str], loc: Loc) -> tuple[str, ...]:
        found = [self._room(name, loc) for name in names]
        return tuple(dict.fromkeys(room.id for room in found if room is not None))

    def _without(self, names: Sequence[str], loc: Loc) -> tuple[tuple[str, str], ...]:
        """Return (room id, wall) of walls written as `Kitchen / north`."""
        out = []
        for text in names:
            name, slash, wall = (part.strip() for part in text.rpartition("/"))
            if not slash or not name or not wall:
                hint = "write the room and its wall: Kitchen / north"
                self.faults.add(loc, "bad-name", f"{text!r} names no wall of a room", hint)
                continue
            room = self._room(name, loc)
            if room is None:
                continue
            walls = {edge.wall.lower(): edge.wall for edge in room.edges if edge.wall}
            if wall.lower() not in walls:
                what = f"{room.name} has no wall {wall!r}"
                self.faults.add(loc, "unknown-name", what, nearest(wall, walls.values()))
                continue
            out.append((room.id, walls[wall.lower()]))
        return tuple(dict.fromkeys(out))
