"""What a job file says of the site becomes domain data."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pydantic_core import PydanticCustomError

from nesting.domain.job import Room
from nesting.domain.site import (
    Range,
    ReadingKind,
    RoomSubstrate,
    Site,
    SiteLimits,
    SiteReading,
    Substrate,
)
from nesting.files.faults import Faults
from nesting.files.fields import nearest
from nesting.files.site_entries import (
    SiteEntry,
    SiteLimitsEntry,
    SiteReadingEntry,
    emission_g_m2,
    flatness_nm,
    hours,
    humidity_percent,
    ph,
    temperature_c,
)
from nesting.files.yaml_tree import Loc
from nesting.units import UnitError, parse_length

MOST_READINGS = 1_000
"""Readings of one job."""

_FIELDS = {
    "moisture_emission": "emission_g_m2",
    "relative_humidity": "humidity_percent",
    "ph": "ph",
    "temperature": "temperature_c",
    "acclimatizing": "acclimatizing_h",
    "flatness": "flatness_nm",
    "expansion_gap": "gap_nm",
    "bonded_wet_room": "bonded_wet_room",
}
_PARSERS = {
    ReadingKind.EMISSION: emission_g_m2,
    ReadingKind.HUMIDITY: humidity_percent,
    ReadingKind.PH: ph,
    ReadingKind.TEMPERATURE: temperature_c,
    ReadingKind.ACCLIMATIZING: hours,
}
NO_GAP = Range(low=Fraction(0), high=Fraction(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteReader:
    """Reads what stands under `site`, `site limits` and `site readings`.

    `rooms`: the sound ones; `listed`: the names of all.
    """

    rooms: tuple[Room, ...]
    listed: tuple[str, ...]
    unit: str
    faults: Faults

    def read(
        self,
        site: SiteEntry | None,
        of_job: SiteLimitsEntry | None,
        of_materials: Mapping[str, tuple[SiteLimitsEntry | None, Loc]],
        readings: Iterable[SiteReadingEntry],
    ) -> Site:
        """Return the site; what is wrong is noted. `of_materials`: by id, with where each stands."""
        if of_job is not None and of_job.bonded_wet_room:
            self._see_that_there_is_no_gap(of_job, ())
        limits = (self._limits(ident, of_job, own, loc) for ident, (own, loc) in of_materials.items())
        return Site(
            new_building=site is not None and site.building == "new",
            substrate=Substrate((site and site.substrate) or Substrate.UNKNOWN),
            other_substrates=self._other_substrates(site),
            limits=tuple(found for found in limits if found != SiteLimits(material_id=found.material_id)),
            readings=self._readings(readings),
        )

    def _limits(self, ident: str, of_job: SiteLimitsEntry | None, own: SiteLimitsEntry | None, loc: Loc) -> SiteLimits:
        """Return the limits of one material, key by key the nearest."""
        values: dict[str, Any] = {}
        for layer in (of_job, own):
            for name, target in _FIELDS.items():
                if layer is not None and getattr(layer, name) is not None:
                    values[target] = getattr(layer, name)
        if values.get("bonded_wet_room"):  # a gap that is stated further off does not count
            self._see_that_there_is_no_gap(own, loc)
            values.pop("gap_nm", None)
        return SiteLimits(material_id=ident, **values)

    def _see_that_there_is_no_gap(self, bonded: SiteLimitsEntry | None, loc: Loc) -> None:
        """Note a gap that stands where the work is fully bonded."""
        if bonded is not None and bonded.expansion_gap not in (None, NO_GAP):
            what = "fully bonded wet-room work has no expansion gap"
            hint = "leave it out, or write `bonded wet room: no`"
            self.faults.add((*loc, "site limits", "expansion gap"), "gap-on-bonded", what, hint)

    def _other_substrates(self, site: SiteEntry | None) -> tuple[RoomSubstrate, ...]:
        found: dict[str, RoomSubstrate] = {}
        for n, entry in enumerate((site and site.other_substrates) or ()):
            loc = ("site", "other substrates", n, "rooms")
            for name in entry.rooms:
                ident = self._room(name)
                if ident is None and not self._is_listed(name):
                    self.faults.add(loc, "unknown-name", f"there is no room {name!r}", nearest(name, self.listed))
                elif ident in found:
                    self.faults.add(loc, "given-twice", f"the substrate of {name} is given twice", "leave one out")
                elif ident is not None:
                    found[ident] = RoomSubstrate(room_id=ident, substrate=Substrate(entry.substrate))
        return tuple(found.values())

    def _room(self, name: str) -> str | None:
        """Return the id of the sound room called `name`; a name counts before an id."""
        plain = name.strip().lower()
        names = {room.id.lower(): room.id for room in self.rooms}
        names |= {room.name.lower(): room.id for room in self.rooms}
        return names.get(plain)

    def _is_listed(self, name: str) -> bool:
        return name.strip().lower() in (other.lower() for other in self.listed)

    def _readings(self, entries: Iterable[SiteReadingEntry]) -> tuple[SiteReading, ...]:
        out = []
        for n, entry in enumerate(entries):
            if n >= MOST_READINGS:
                what = f"more than {MOST_READINGS} readings stand here"
                self.faults.add(("site readings",), "too-large", what, "split the job")
                break
            loc = ("site readings", n)
            kind = ReadingKind(entry.kind)
            measured = self._measured(kind, entry.value, (*loc, "value"))
            if measured is None:
                continue
            room = self._room(entry.where)
            if room is None:
                self._see_that_it_is_no_room(entry.where)
            out.append(
                SiteReading(
                    kind=kind,
                    value=measured[0],
                    span_nm=measured[1],
                    room_id=room or "",
                    place=entry.where,
                    date=entry.date or "",
                    line=self.faults.line_at(loc),
                )
            )
        return tuple(out)

    def _see_that_it_is_no_room(self, where: str) -> None:
        """Say so where a place in words looks like a room's name with a slip in it."""
        close = difflib.get_close_matches(where.lower(), [name.lower() for name in self.listed], n=1, cutoff=0.75)
        if close and not self._is_listed(where):
            meant = next(name for name in self.listed if name.lower() == close[0])
            text = f"there is no room {where!r}: the reading counts for every material. Did you mean {meant!r}?"
            self.faults.notice("site-place", text)

    def _measured(self, kind: ReadingKind, text: str, loc: Loc) -> tuple[Fraction, int] | None:
        """Return what was measured and under how long a straightedge, or None with the fault noted."""
        plain = " ".join(text.split())
        try:
            if kind is ReadingKind.FLATNESS:
                hollow, span = flatness_nm(plain)
                return Fraction(hollow), span
            if kind is ReadingKind.GAP:
                nm = 0 if plain.lower() == "none" else parse_length(plain, self.unit)
                if nm < 0:
                    self.faults.add(loc, "negative-size", f"{plain!r} is negative", "gaps are measured without a sign")
                return Fraction(nm), 0
            return _PARSERS[kind](plain), 0
        except UnitError as error:
            self.faults.add_unit_error(loc, error)
        except PydanticCustomError as error:
            context = error.context or {}
            self.faults.add(loc, error.type, str(context["what"]), str(context.get("hint", "")))
        return None
