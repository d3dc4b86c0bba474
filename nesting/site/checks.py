"""What a section of the site sheet is made of."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.domain.job import Job
from nesting.domain.material import Material
from nesting.domain.site import ReadingKind
from nesting.site.judging import Verdict, judged, limit_of, reading_words, readings_for, verdict_words
from nesting.site.sources import MAKER
from nesting.site.words import NAMES, range_words

_WORST_FIRST = (Verdict.FAILED, Verdict.OTHER_SPAN, Verdict.NO_LIMIT, Verdict.OK)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """One reading on the sheet: `text` says where, when and what, `words` what the limit says of it."""

    text: str
    words: str
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing to look at. `limit` in words, "" where there is none; `blanks`: what each line to fill in asks for.

    `verdict` None: nothing that is measured, somebody looks and signs. A check without a reading is NOT_MEASURED; with
    several it is as bad as the worst of them. `notes`: what should be known beside it, such as too few readings.
    """

    what: str
    limit: str = ""
    source: str = ""
    kind: ReadingKind | None = None
    readings: tuple[ReadingLine, ...] = ()
    verdict: Verdict | None = None
    blanks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Checks of one subject."""

    title: str
    checks: tuple[Check, ...]


def measured_check(
    job: Job,
    material: Material,
    kind: ReadingKind,
    *,
    what: str = "",
    method: str = "",
    blanks: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> Check:
    """Return the check of what is measured, with the readings of a material's rooms held against its limit."""
    limit = limit_of(job.site.limits_of(material.id), kind)
    unit = job.unit.value
    names = {room.id: room.name for room in job.rooms}
    readings = tuple(
        ReadingLine(
            text=reading_words(reading, names.get(reading.room_id, reading.place), unit),
            words=verdict_words(reading, limit, unit),
            verdict=judged(reading, limit),
        )
        for reading in readings_for(job, material)
        if reading.kind is kind
    )
    found = {line.verdict for line in readings}
    source = method if limit is None or limit.source == MAKER else limit.source
    return Check(
        what=what or NAMES[kind][:1].upper() + NAMES[kind][1:],
        limit=MAKER if limit is None else range_words(kind, limit.allowed, unit, limit.span_nm),
        source=source or MAKER,
        kind=kind,
        readings=readings,
        verdict=next((verdict for verdict in _WORST_FIRST if verdict in found), Verdict.NOT_MEASURED),
        blanks=blanks,
        notes=notes if readings else (Verdict.NOT_MEASURED.words, *notes),
    )
