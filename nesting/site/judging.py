"""Readings held against the limits of the materials."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.plan import Plan
from nesting.domain.site import (
    COMMON_ACCLIMATIZING_H,
    COMMON_GAP_NM,
    COMMON_LEAST_TEMPERATURE_C,
    Range,
    ReadingKind,
    SiteLimits,
    SiteReading,
)
from nesting.site.sources import COMMON_PRACTICE, MAKER
from nesting.site.words import NAMES, excess_words, range_words, value_words


class Verdict(StrEnum):
    """What a reading says; a check without one was not measured, which is never a pass."""

    OK = "ok"
    FAILED = "failed"
    NO_LIMIT = "no-limit"
    OTHER_SPAN = "other-span"  # flatness under a straightedge of another length: cannot be compared
    NOT_MEASURED = "not-measured"

    @property
    def words(self) -> str:
        """Return the verdict as people say it."""
        said = {"ok": "within the limit", "no-limit": "no limit known", "other-span": "cannot be compared"}
        return said.get(self.value, self.value.replace("-", " "))


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What is allowed, in the unit of the kind of reading; exactly at either end is within it."""

    allowed: Range
    span_nm: int = 0  # flatness: the straightedge
    source: str = MAKER


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteWarning:
    """A reading that failed."""

    text: str
    room_id: str  # "": a place in words
    material_id: str


def limit_of(limits: SiteLimits, kind: ReadingKind) -> Limit | None:
    """Return the limit on a kind of reading, None where none is known.

    What the maker does not state is common practice where there is one (48 h, 65 °F, 1/8 to 1/4 in), else unknown.
    """
    stated: dict[ReadingKind, Range | None] = {
        ReadingKind.EMISSION: _at_most(limits.emission_g_m2),
        ReadingKind.HUMIDITY: _at_most(limits.humidity_percent),
        ReadingKind.PH: limits.ph,
        ReadingKind.TEMPERATURE: limits.temperature_c,
        ReadingKind.ACCLIMATIZING: None if limits.acclimatizing_h is None else Range(low=limits.acclimatizing_h),
        ReadingKind.FLATNESS: None if limits.flatness_nm is None else _at_most(Fraction(limits.flatness_nm[0])),
        ReadingKind.GAP: Range(low=Fraction(0), high=Fraction(0)) if limits.bonded_wet_room else limits.gap_nm,
    }
    allowed = stated[kind]
    if allowed is not None:
        span = limits.flatness_nm[1] if kind is ReadingKind.FLATNESS and limits.flatness_nm else 0
        bonded = kind is ReadingKind.GAP and limits.bonded_wet_room
        return Limit(allowed=allowed, span_nm=span, source=COMMON_PRACTICE if bonded else MAKER)
    practice = {
        ReadingKind.TEMPERATURE: Range(low=COMMON_LEAST_TEMPERATURE_C),
        ReadingKind.ACCLIMATIZING: Range(low=COMMON_ACCLIMATIZING_H),
        ReadingKind.GAP: Range(low=Fraction(COMMON_GAP_NM[0]), high=Fraction(COMMON_GAP_NM[1])),
    }
    return Limit(allowed=practice[kind], source=COMMON_PRACTICE) if kind in practice else None


def _at_most(value: Fraction | None) -> Range | None:
    return None if value is None else Range(high=value)


def missed_by(value: Fraction, allowed: Range) -> Fraction:
    """Return how far a value lies above what is allowed, below it as a negative number, 0 within."""
    if allowed.high is not None and value > allowed.high:
        return value - allowed.high
    if allowed.low is not None and value < allowed.low:
        return value - allowed.low
    return Fraction(0)


def judged(reading: SiteReading, limit: Limit | None) -> Verdict:
    """Return what a reading says under a limit.

    The deepest hollow under a longer straightedge is never less than under a shorter one, since the longer one rests
    on points as high or higher. So a hollow within the limit under a longer one is within it, one beyond it under a
    shorter one is beyond; the two other cases say nothing.
    """
    if limit is None:
        return Verdict.NO_LIMIT
    inside = missed_by(reading.value, limit.allowed) == 0
    longer = reading.span_nm - limit.span_nm
    if (inside and longer < 0) or (not inside and longer > 0):
        return Verdict.OTHER_SPAN
    return Verdict.OK if inside else Verdict.FAILED


def readings_for(job: Job, material: Material) -> tuple[SiteReading, ...]:
    """Return the readings that count for a material: in its rooms, and at places that are no room."""
    rooms = {room.id: room.material_id for room in job.rooms}
    return tuple(one for one in job.site.readings if not one.room_id or rooms.get(one.room_id) == material.id)


def reading_words(reading: SiteReading, place: str, unit: str) -> str:
    """Return where, when and what was measured."""
    when = f", {reading.date}" if reading.date else ""
    return f"{place}{when}: {value_words(reading.kind, reading.value, unit, reading.span_nm)}"


def verdict_words(reading: SiteReading, limit: Limit | None, unit: str) -> str:
    """Return what a limit says of a reading, and by how much it is missed."""
    verdict = judged(reading, limit)
    if verdict is Verdict.FAILED and limit is not None:
        return f"{verdict.words}, {excess_words(reading.kind, missed_by(reading.value, limit.allowed), unit)}"
    more = {
        Verdict.NO_LIMIT: ", hold it against what the maker states",
        Verdict.OTHER_SPAN: ", measure under a straightedge as long as the limit's",
    }
    return verdict.words + more.get(verdict, "")


def site_warnings(of: Plan | Job) -> tuple[SiteWarning, ...]:
    """Return a warning for every reading that fails the limit of a material, by material in the order of the job.

    A reading at a place that is no room is held against every material that has rooms.
    """
    job = of.job if isinstance(of, Plan) else of
    names = {room.id: room.name for room in job.rooms}
    out = []
    for material in job.materials:
        if all(room.material_id != material.id for room in job.rooms):
            continue
        limits = job.site.limits_of(material.id)
        for reading in readings_for(job, material):
            limit = limit_of(limits, reading.kind)
            if limit is not None and judged(reading, limit) is Verdict.FAILED:
                place = names.get(reading.room_id, reading.place)
                text = _warning_words(reading, limit, place, material.name, job.unit.value)
                out.append(SiteWarning(text=text, room_id=reading.room_id, material_id=material.id))
    return tuple(out)


def _warning_words(reading: SiteReading, limit: Limit, place: str, material: str, unit: str) -> str:
    allowed = range_words(reading.kind, limit.allowed, unit, limit.span_nm)
    todo = "put it right" if reading.kind is ReadingKind.GAP else f"do not lay {material} before it is put right"
    return (
        f"{NAMES[reading.kind]} in {reading_words(reading, place, unit)}: {verdict_words(reading, limit, unit)} for "
        f"{material}: {allowed} ({limit.source}); {todo}"
    )
