"""The site: what the goods may be laid on and in, and what was measured there."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

INCH_NM = 25_400_000

G_M2_PER_LB = Fraction(45_359_237, 9_290_304)
"""One pound on 1000 sq ft in g/m²: 453.59237 g on 92.90304 m², exact by the international pound and foot of 1959."""

COMMON_LEAST_TEMPERATURE_C = Fraction(55, 3)
"""65 °F: room and goods are kept at that or above before, during and after laying. Common practice."""

COMMON_ACCLIMATIZING_H = Fraction(48)
"""Goods lie in the rooms so long before they are laid. Common practice."""

COMMON_GAP_NM = (INCH_NM // 8, INCH_NM // 4)
"""1/8 to 1/4 in are left at walls and fixtures, but on fully bonded wet-room work. Common practice."""


class ReadingKind(StrEnum):
    """What can be measured on the site; behind each the unit of its `SiteReading.value` and of its limit."""

    EMISSION = "moisture-emission"  # grams per m² in 24 hours (ASTM F1869)
    HUMIDITY = "relative-humidity"  # per cent, in the slab (ASTM F2170)
    PH = "ph"  # pH of the surface
    TEMPERATURE = "temperature"  # degrees Celsius
    ACCLIMATIZING = "acclimatizing"  # hours
    FLATNESS = "flatness"  # nm, under a straightedge of `span_nm`
    GAP = "expansion-gap"  # nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """From `low` to `high`, both included; None: open on that side."""

    low: Fraction | None = None
    high: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLimits:
    """What the maker of a material states, in the units of `ReadingKind`; None: nothing is stated.

    A limit is the most, or the least, that is allowed: exactly at it is within it.
    """

    material_id: str
    emission_g_m2: Fraction | None = None  # at most
    humidity_percent: Fraction | None = None  # at most
    ph: Range | None = None
    temperature_c: Range | None = None
    acclimatizing_h: Fraction | None = None  # at least
    flatness_nm: tuple[int, int] | None = None  # at most so deep, under a straightedge so long
    gap_nm: Range | None = None
    bonded_wet_room: bool = False  # fully bonded work: no gap at all


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteReading:
    """One thing that was measured. `room_id` "": a place in words, which may lie in any room."""

    kind: ReadingKind
    value: Fraction
    span_nm: int = 0  # flatness: the straightedge
    room_id: str = ""
    place: str = ""  # as it was typed
    date: str = ""  # as it was typed
    line: int = 0  # of the job file


class Substrate(StrEnum):
    """What the goods are laid on."""

    UNKNOWN = "unknown"
    CONCRETE = "concrete"
    GYPSUM = "gypsum"
    WOOD = "wood"
    EXISTING_FLOOR = "existing-floor"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSubstrate:
    """A room whose substrate is not that of the others."""

    room_id: str
    substrate: Substrate


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """All that is known of the site. `limits`: of the materials for which anything is stated."""

    new_building: bool = False
    substrate: Substrate = Substrate.UNKNOWN
    other_substrates: tuple[RoomSubstrate, ...] = ()
    limits: tuple[SiteLimits, ...] = ()
    readings: tuple[SiteReading, ...] = ()

    def substrate_of(self, room_id: str) -> Substrate:
        """Return what the goods of a room are laid on."""
        return next((one.substrate for one in self.other_substrates if one.room_id == room_id), self.substrate)

    def limits_of(self, material_id: str) -> SiteLimits:
        """Return what is stated for a material, which may be nothing."""
        found = (limits for limits in self.limits if limits.material_id == material_id)
        return next(found, SiteLimits(material_id=material_id))
