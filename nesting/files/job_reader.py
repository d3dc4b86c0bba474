"""From the values of a job file to the `Job`, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from nesting.domain.job import Job, LoosePiece, Room, Strip, Unit
from nesting.domain.material import Material, StockPiece
from nesting.domain.rules import Goal, GoalKind, OffcutRules, ValueRule
from nesting.domain.site import Site
from nesting.domain.sundries import Sundries
from nesting.files.faults import Faults
from nesting.files.fields import Reading, nearest
from nesting.files.job_entries import (
    PARTS,
    JobEntry,
    JobHeader,
    LooseEntry,
    MaterialEntry,
    StockEntry,
    StripEntry,
)
from nesting.files.joining import DoorBook, Placing
from nesting.files.materials import material_of
from nesting.files.names import slug, unique
from nesting.files.pieces import loose_of, strip_of, wall_runs
from nesting.files.pins import one_lot, with_layout, with_sources
from nesting.files.room_entries import RoomEntry
from nesting.files.rooms import TOLERANCE_NM, RoomReader
from nesting.files.site_reader import SiteReader
from nesting.files.stock import stock_of
from nesting.files.sundry_reader import SundryReader
from nesting.files.yaml_tree import Loc, Tree
from nesting.units import half_up

MOST_ITEMS = 1_000
"""Rooms, materials, pieces in hand … of one job."""


class JobReader:
    """Reads one job; what is wrong in one part does not keep the others from being read."""

    def __init__(self, tree: Tree, faults: Faults, folder: Path = Path()) -> None:
        self.data: dict[str, Any] = tree.data
        self.faults = faults
        self.folder = folder  # where other files that the job names are looked for
        unit = str(self.data.get("unit", "")).strip().lower()
        self.unit = unit if unit in list(Unit) else "mm"
        coins = str(self.data.get("coins", "100")).strip()
        self.reading = Reading(self.unit, int(coins) if coins.isdecimal() and int(coins[:9]) > 0 else 100)
        self.materials: dict[int, Material] = {}
        self.material_entries: dict[str, MaterialEntry] = {}
        self.known: dict[str, int] = {}  # name or id of a material, lower case -> its number, broken ones too

    def job(self) -> Job | None:
        """Return the job, or None with the faults noted."""
        header = self._header()
        if header and header.coins not in (None, 1, 10, 100, 1000):
            what = f"{header.coins} coins do not make a decimal amount"
            self.faults.add(("coins",), "bad-money", what, "write 1, 10, 100 or 1000")
        parts = {name: self._entries(name, model) for name, model in PARTS.items()}
        header = header or JobHeader.model_construct(job="", unit=self.unit)
        materials: dict[int, MaterialEntry] = parts["materials"]
        rooms: dict[int, RoomEntry] = parts["rooms"]
        self._read_materials(materials)
        stock = self._read_stock(parts["stock"])
        owners: set[str] = set()
        read = self._pinned(rooms, self._read_rooms(header, rooms, owners), stock)
        loose = self._read_loose(parts["loose pieces"], owners)
        strips = self._read_strips(parts["strips"], owners, read)
        matches = self._matches(header, rooms, read)
        lots = [one_lot(found, loc, self.faults) for found, loc in self._named_rooms(header, rooms, read)]
        site = self._site(header, read)
        sundries = self._sundries(header, read)
        if not any(self.data.get(name) for name in ("rooms", "loose pieces", "strips")):
            self.faults.add((), "missing-key", "there is nothing to cut: the key `rooms` is missing", "give a room")
        if self.faults.found:
            return None
        return Job(
            name=header.job,
            unit=Unit(self.unit),
            materials=tuple(self.materials.values()),
            rooms=tuple(read.values()),
            stock=stock,
            loose=loose,
            strips=strips,
            matches=matches,
            one_lot=tuple(lot for lot in lots if lot is not None),
            goal=self._goal(header),
            offcuts=self._offcuts(header),
            sundries=sundries,
            site=site,
            currency=header.currency or "",
            coin_per_unit=self.reading.coins,
        )

    def _goal(self, header: JobHeader) -> Goal:
        """Return the goal."""
        entry = header.goal
        if entry is None:
            return Goal()
        if entry.charge_per_seam and entry.charge_per_seam.per_m is None:
            self.faults.add(("goal", "charge per seam"), "bad-price", "seams are charged by length", "write 4.00 per m")
        goal = Goal(
            kind=GoalKind(entry.kind or GoalKind.BALANCED),
            charge_per_seam_m=half_up((entry.charge_per_seam and entry.charge_per_seam.per_m) or Fraction(0)),
            charge_per_cross_seam=entry.charge_per_cross_seam or 0,
            charge_per_cut=entry.charge_per_cut or 0,
            most_seams=entry.most_seams,
        )
        return goal if entry.seam_worth is None else replace(goal, seam_worth_nm=entry.seam_worth)

    # --- entries -----------------------------------------------------------------------------------------------------

    def _header(self) -> JobHeader | None:
        """Return the job's own keys; a key that no job has is measured against all of them."""
        known = [str(info.alias) for info in JobEntry.model_fields.values()]
        own = {}
        for name, value in self.data.items():
            if name not in known:
                self.faults.add((name,), "unknown-key", f"`{name}` is not a key of a job", nearest(name, known))
            elif name not in PARTS:
                own[name] = value
        if "materials" not in self.data:
            self.faults.add(
                (), "missing-key", "the key `materials` is missing", "list what can be ordered or is in hand"
            )
        return self.faults.validate(JobHeader, own, (), self.reading)

    def _raw(self, name: str) -> list[Any]:
        """Return the items of one list as they stand in the file."""
        items = self.data.get(name)
        return items if isinstance(items, list) else []

    def _entries(self, name: str, model: type[BaseModel]) -> dict[int, Any]:
        """Return the sound entries of one list by their number."""
        items = self.data.get(name, [])
        if not isinstance(items, list):
            self.faults.add((name,), "wrong-type", "a list is expected here", "begin each item with `- `")
            return {}
        if len(items) > MOST_ITEMS:
            self.faults.add((name,), "too-large", f"more than {MOST_ITEMS} items stand here", "split the job")
            return {}
        out = {}
        for i, item in enumerate(items):
            entry = self.faults.validate(model, item, (name, i), self.reading)
            if entry is not None:
                out[i] = entry
        return out

    def _ident(self, entry: Any, loc: Loc, taken: set[str], what: str) -> str:
        """Return the entry's id: as given, or made from its name."""
        if entry.id is None:
            ident = unique(slug(entry.name, f"{what}-{int(loc[-1]) + 1}"), taken)
        else:
            ident = entry.id
            if ident in taken:
                self.faults.add(
                    (*loc, "id"), "id-twice", f"the id {ident!r} is used twice", "give each an id of its own"
                )
        taken.add(ident)
        return ident

    def _named_once(self, entries: dict[int, Any], key: str, what: str) -> None:
        """See that no two entries have one name."""
        seen: dict[str, int] = {}
        for i, entry in entries.items():
            name = entry.name.lower()
            if name in seen:
                text = f"two {what} are called {entry.name!r}; the other is on line {seen[name]}"
                self.faults.add((key, i, "name"), "name-twice", text, "give each a name of its own")
            seen.setdefault(name, self.faults.tree.line_of((key, i, "name")))

    def _offcuts(self, header: JobHeader) -> OffcutRules:
        """Return which offcuts are worth keeping and what goods in hand are worth."""
        entry, rules = header.offcuts, OffcutRules()
        if entry is None:
            return rules
        value = ValueRule(entry.value or rules.value)
        if entry.small_up_to is not None and value is not ValueRule.BY_SIZE:
            what = f"goods in hand are valued {value.replace('-', ' ')}: no area of theirs counts as small"
            hint = "leave `small up to` out, or write `value: by size`"
            self.faults.add(("offcuts", "small up to"), "value-unused", what, hint)
        return OffcutRules(
            bench_cuts=bool(entry.bench_cuts),
            sizes_nm=tuple(entry.worth_keeping or rules.sizes_nm),
            value=value,
            small_nm2=rules.small_nm2 if entry.small_up_to is None else half_up(entry.small_up_to),
        )

    # --- materials and stock -----------------------------------------------------------------------------------------

    def _read_materials(self, entries: dict[int, MaterialEntry]) -> None:
        taken: set[str] = set()
        self._named_once(entries, "materials", "materials")
        for i, item in enumerate(
            self.data.get("materials", []) if isinstance(self.data.get("materials"), list) else []
        ):
            if isinstance(item, dict):  # so that a broken material is not also called unknown
                for name in ("name", "id"):
                    if isinstance(item.get(name), str):
                        self.known.setdefault(item[name].strip().lower(), i)
        for i, entry in entries.items():
            loc = ("materials", i)
            ident = self._ident(entry, loc, taken, "material")
            self.known.setdefault(ident.lower(), i)
            self.material_entries[ident] = entry
            material = material_of(entry, loc, self.faults, unit=self.unit, ident=ident)
            if material is not None:
                self.materials[i] = material

    def _material(self, name: str | None, loc: Loc) -> Material | None:
        """Return the material called `name`, or the only one."""
        count = len(self._raw("materials"))
        if name is None:
            if count > 1:
                hint = "give `material: …`, one of: " + ", ".join(
                    entry.name for entry in self.material_entries.values()
                )
                self.faults.add(loc, "missing-key", "which material is missing: the job has several", hint)
            return self.materials.get(0) if count == 1 else None
        number = self.known.get(name.strip().lower())
        if number is None and count:
            raw = (item.get("name") for item in self._raw("materials") if isinstance(item, dict))
            names = [name for name in raw if isinstance(name, str)]
            self.faults.add((*loc, "material"), "unknown-name", f"there is no material {name!r}", nearest(name, names))
        return self.materials.get(number) if number is not None else None

    def _read_stock(self, entries: dict[int, StockEntry]) -> tuple[StockPiece, ...]:
        out = []
        seen: set[str] = set()
        for i, entry in entries.items():
            loc = ("stock", i)
            if entry.id.lower() in seen:
                self.faults.add((*loc, "id"), "id-twice", f"two pieces are labelled {entry.id!r}", "give each its own")
            seen.add(entry.id.lower())
            material = self._material(entry.material, loc)
            piece = stock_of(entry, material, loc, self.faults, unit=self.unit) if material else None
            if piece is not None:
                out.append(piece)
        return tuple(out)

    # --- rooms -------------------------------------------------------------------------------------------------------

    def _read_rooms(self, header: JobHeader, entries: dict[int, RoomEntry], owners: set[str]) -> dict[int, Room]:
        self._named_once(entries, "rooms", "rooms")
        ids = {i: self._ident(entry, ("rooms", i), owners, "room") for i, entry in entries.items()}
        materials = {i: self._material(entry.material, ("rooms", i)) for i, entry in entries.items()}
        book = DoorBook(entries, ids, {i: m.id for i, m in materials.items() if m is not None}, self.unit, self.faults)
        plans, links = book.pair()
        tolerance = TOLERANCE_NM if header.closing_tolerance is None else header.closing_tolerance
        reader = RoomReader(unit=self.unit, tolerance_nm=tolerance, job=header, faults=self.faults)
        rooms: dict[int, Room] = {}
        stand_in = Material(id="", name="", widths_nm=(10**15,))
        for i, entry in entries.items():
            material = materials[i] or stand_in
            settings = self.material_entries.get(material.id) or header
            room = reader.read(
                entry,
                ("rooms", i),
                ident=ids[i],
                material=material,
                of_material=settings,
                doors={j: plan for (k, j), plan in plans.items() if k == i},
            )
            if room is not None:
                rooms[i] = room
        at = {i: entry.at for i, entry in entries.items() if entry.at is not None}
        names = {side: plan.id for side, plan in plans.items()}
        return Placing(rooms, at, links, names, self.unit, tolerance, self.faults).placed()

    def _pinned(
        self, entries: dict[int, RoomEntry], rooms: dict[int, Room], stock: tuple[StockPiece, ...]
    ) -> dict[int, Room]:
        """Return the rooms with what is pinned of goods in hand and of earlier plans."""
        raw_ids = [str(item["id"]) for item in self._raw("stock") if isinstance(item, dict) and "id" in item]
        out = dict(rooms)
        for i in rooms:
            pins, loc = entries[i].pins, ("rooms", i, "pins")
            if pins is not None and pins.layout_from is not None:
                at = (*loc, "layout from")
                folder = Path() if self.faults.tree.origin_of(at) else self.folder
                out[i] = with_layout(out[i], pins.layout_from, folder, at, self.faults)
            if pins is not None and pins.cut_from:
                at = (*loc, "cut from")
                out[i] = with_sources(out[i], pins.cut_from, stock, raw_ids, at, self.faults)
        return out

    def _named_rooms(
        self, header: JobHeader, entries: dict[int, RoomEntry], rooms: dict[int, Room]
    ) -> Iterator[tuple[list[Room], Loc]]:
        """Yield the rooms of every list that is wanted of one lot, all of them sound."""
        names = {room.id.lower(): room for room in rooms.values()}
        names |= {room.name.lower(): room for room in rooms.values()}
        raw = [entry.name for entry in entries.values()]
        for n, group in enumerate(header.one_lot or ()):
            loc = ("one lot", n)
            for name in group:
                if name.lower() not in names and name.lower() not in (other.lower() for other in raw):
                    self.faults.add(loc, "unknown-name", f"there is no room {name!r}", nearest(name, raw))
            found = [names[name.lower()] for name in group if name.lower() in names]
            if len(found) == len(group):
                yield found, loc

    def _matches(
        self, header: JobHeader, entries: dict[int, RoomEntry], rooms: dict[int, Room]
    ) -> tuple[tuple[str, ...], ...]:
        """Return the ids of rooms that match, each in one group."""
        names = {name.lower(): i for i, entry in entries.items() for name in (entry.name, entry.id or entry.name)}
        names.update({room.id.lower(): i for i, room in rooms.items()})
        out: list[tuple[str, ...]] = []
        used: set[int] = set()
        for n, group in enumerate(header.match or ()):
            loc = ("match", n)
            numbers = []
            for name in group:
                if name.lower() not in names:
                    raw = [entry.name for entry in entries.values()]
                    self.faults.add(loc, "unknown-name", f"there is no room {name!r}", nearest(name, raw))
                else:
                    numbers.append(names[name.lower()])
            if used & set(numbers) or len(set(numbers)) < len(numbers):
                self.faults.add(loc, "given-twice", "a room stands in two matches", "put all of them into one list")
            used.update(numbers)
            if len(group) < 2:
                self.faults.add(loc, "match-of-one", "rooms that match are two or more", "write [[Lounge, Hall]]")
            members = [rooms[i] for i in numbers if i in rooms]
            self._see_that_they_match(members, loc)
            out.append(tuple(room.id for room in members))
        return tuple(out)

    def _see_that_they_match(self, rooms: Sequence[Room], loc: Loc) -> None:
        if len({room.material_id for room in rooms}) > 1:
            self.faults.add(loc, "match-differs", "rooms that match have one material", "give them the same material")
        elif len({room.plan_id for room in rooms}) > 1:
            what = "rooms that match must stand in one plan"
            self.faults.add(loc, "match-differs", what, "join their doors (`joins`), or place them with `at`")

    def _site(self, header: JobHeader, rooms: dict[int, Room]) -> Site:
        """Return what is known of the site."""
        listed = [item.get("name") for item in self._raw("rooms") if isinstance(item, dict)]
        reader = SiteReader(
            rooms=tuple(rooms.values()),
            listed=tuple(name for name in listed if isinstance(name, str)),
            unit=self.unit,
            faults=self.faults,
        )
        of_materials = {
            material.id: (self.material_entries[material.id].site_limits, ("materials", i))
            for i, material in self.materials.items()
        }
        return reader.read(header.site, header.site_limits, of_materials, header.site_readings or ())

    def _sundries(self, header: JobHeader, rooms: dict[int, Room]) -> Sundries:
        """Return what goes down with the goods."""
        listed = [item.get("name") for item in self._raw("rooms") if isinstance(item, dict)]
        names = tuple(name for name in listed if isinstance(name, str))
        of_materials = {
            material.id: (material, self.material_entries[material.id], ("materials", i))
            for i, material in self.materials.items()
        }
        return SundryReader(tuple(rooms.values()), names, self.faults).read(header.sundries, of_materials)

    # --- loose pieces and strips -------------------------------------------------------------------------------------

    def _read_loose(self, entries: dict[int, LooseEntry], owners: set[str]) -> tuple[LoosePiece, ...]:
        self._named_once(entries, "loose pieces", "loose pieces")
        out = []
        for i, entry in entries.items():
            loc = ("loose pieces", i)
            ident = self._ident(entry, loc, owners, "piece")
            material = self._material(entry.material, loc)
            if material is not None:
                out.append(loose_of(entry, material, loc, self.faults, ident=ident))
        return tuple(out)

    def _read_strips(
        self, entries: dict[int, StripEntry], owners: set[str], rooms: dict[int, Room]
    ) -> tuple[Strip, ...]:
        self._named_once(entries, "strips", "strips")
        listed = [str(item.get("name", "")) for item in self._raw("rooms") if isinstance(item, dict)]
        out = []
        for i, entry in entries.items():
            loc = ("strips", i)
            ident = self._ident(entry, loc, owners, "strip")
            material = self._material(entry.material, loc)
            runs = wall_runs(entry, loc, self.faults, rooms=tuple(rooms.values()), listed=listed)
            if material is not None:
                out.append(strip_of(entry, material, runs, loc, self.faults, ident=ident))
        return tuple(out)
