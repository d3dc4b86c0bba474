"""Readings held against limits: exactly at it, by how much beyond, whatever the units, however many."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.job import Job, Unit
from nesting.domain.site import G_M2_PER_LB, Range, ReadingKind, Site, SiteLimits, SiteReading
from nesting.site import Verdict, site_warnings
from nesting.site.judging import Limit, judged, limit_of, missed_by
from tests.making import GOODS, INCH, MM, M, goods, job, rectangle, room
from tests.strategies import plain_jobs, site_limits, site_readings, sites

NOTHING = SiteLimits(material_id=GOODS)
STATED = replace(
    NOTHING,
    emission_g_m2=3 * G_M2_PER_LB,
    humidity_percent=Fraction(75),
    ph=Range(low=Fraction(7), high=Fraction(9)),
    temperature_c=Range(low=Fraction(18), high=Fraction(27)),
    acclimatizing_h=Fraction(24),
    flatness_nm=(3 * MM, 2 * M),
    gap_nm=Range(low=Fraction(3 * MM), high=Fraction(6 * MM)),
)


def reading(kind: ReadingKind, value: Fraction | int, span_nm: int = 0, room_id: str = "room") -> SiteReading:
    return SiteReading(kind=kind, value=Fraction(value), span_nm=span_nm, room_id=room_id, place=room_id or "a place")


def verdict(limits: SiteLimits, one: SiteReading) -> Verdict:
    return judged(one, limit_of(limits, one.kind))


def measured(*readings: SiteReading, limits: SiteLimits = STATED, unit: Unit = Unit.MM) -> Job:
    site = Site(limits=(limits,), readings=readings)
    return job([room(rectangle(3 * M, 2 * M))], goods(2 * M), site=site, unit=unit)


ENDS = [
    (ReadingKind.EMISSION, None, 3 * G_M2_PER_LB),
    (ReadingKind.HUMIDITY, None, Fraction(75)),
    (ReadingKind.PH, Fraction(7), Fraction(9)),
    (ReadingKind.TEMPERATURE, Fraction(18), Fraction(27)),
    (ReadingKind.ACCLIMATIZING, Fraction(24), None),
    (ReadingKind.FLATNESS, None, Fraction(3 * MM)),
    (ReadingKind.GAP, Fraction(3 * MM), Fraction(6 * MM)),
]


@pytest.mark.parametrize(("kind", "low", "high"), ENDS, ids=[kind.value for kind, _, _ in ENDS])
def test_exactly_at_the_limit_is_within_it_and_a_billionth_beyond_is_not(
    kind: ReadingKind, low: Fraction | None, high: Fraction | None
) -> None:
    span = 2 * M if kind is ReadingKind.FLATNESS else 0
    tiny = Fraction(1, 10**9)
    for end, sign in ((low, -1), (high, 1)):
        if end is not None:
            assert verdict(STATED, reading(kind, end, span)) is Verdict.OK
            assert verdict(STATED, reading(kind, end + sign * tiny, span)) is Verdict.FAILED
            (warning,) = site_warnings(measured(reading(kind, end + sign * tiny, span)))
            assert f"slightly {'above' if sign > 0 else 'below'} the limit" in warning.text


def test_what_the_maker_does_not_state_is_common_practice_or_unknown() -> None:
    practice = {ReadingKind.TEMPERATURE, ReadingKind.ACCLIMATIZING, ReadingKind.GAP}
    for kind in ReadingKind:
        limit = limit_of(NOTHING, kind)
        assert (limit is not None) == (kind in practice)
        assert limit is None or limit.source == "common practice"
        assert verdict(NOTHING, reading(kind, 5)) is not Verdict.OK or kind in practice
    # 48 h, 65 °F, 1/8 to 1/4 in: common practice
    assert verdict(NOTHING, reading(ReadingKind.ACCLIMATIZING, 48)) is Verdict.OK
    assert verdict(NOTHING, reading(ReadingKind.ACCLIMATIZING, Fraction(479, 10))) is Verdict.FAILED
    assert verdict(NOTHING, reading(ReadingKind.TEMPERATURE, Fraction(5, 9) * (65 - 32))) is Verdict.OK
    assert verdict(NOTHING, reading(ReadingKind.TEMPERATURE, Fraction(5, 9) * (64 - 32))) is Verdict.FAILED
    for sixteenths, right in ((1, False), (2, True), (4, True), (5, False)):
        found = verdict(NOTHING, reading(ReadingKind.GAP, Fraction(sixteenths * INCH, 16)))
        assert (found is Verdict.OK) == right


def test_a_bonded_wet_room_has_no_gap() -> None:
    bonded = replace(NOTHING, bonded_wet_room=True)
    assert verdict(bonded, reading(ReadingKind.GAP, 0)) is Verdict.OK
    assert verdict(bonded, reading(ReadingKind.GAP, 4 * MM)) is Verdict.FAILED


@pytest.mark.parametrize(
    ("depth", "span", "found"),
    [
        (3 * MM, 2 * M, Verdict.OK),
        (4 * MM, 2 * M, Verdict.FAILED),
        (3 * MM, 3 * M, Verdict.OK),  # a longer straightedge finds no less
        (4 * MM, 3 * M, Verdict.OTHER_SPAN),
        (3 * MM, 1 * M, Verdict.OTHER_SPAN),
        (4 * MM, 1 * M, Verdict.FAILED),  # a shorter one finds no more
    ],
)
def test_hollows_under_another_straightedge(depth: int, span: int, found: Verdict) -> None:
    assert verdict(STATED, reading(ReadingKind.FLATNESS, depth, span)) is found


def test_a_place_that_is_no_room_counts_for_every_material() -> None:
    other = replace(goods(2 * M), id="other", name="Other")
    wet = reading(ReadingKind.HUMIDITY, 80, room_id="")
    rooms = (room(rectangle(3 * M, 2 * M)), room(rectangle(3 * M, 2 * M), "hall", material_id="other"))
    limits = (replace(STATED, humidity_percent=Fraction(90)), replace(STATED, material_id="other"))
    two = replace(
        measured(wet), materials=(goods(2 * M), other), rooms=rooms, site=Site(limits=limits, readings=(wet,))
    )
    assert [warning.material_id for warning in site_warnings(two)] == ["other"]
    in_hall = replace(two, site=replace(two.site, readings=(replace(wet, room_id="room"),)))
    assert site_warnings(in_hall) == ()


def test_a_warning_says_where_when_how_much_and_by_what_limit() -> None:
    one = replace(reading(ReadingKind.HUMIDITY, 78), date="2 May")
    (warning,) = site_warnings(measured(one))
    assert warning.room_id == "room" and warning.material_id == GOODS
    assert warning.text == (
        "relative humidity of the slab in Room, 2 May: 78 % RH: failed, 3 % RH above the limit for Goods: at most "
        "75 % RH (as the maker states); do not lay Goods before it is put right"
    )


def test_names_stay_plain_text() -> None:
    one = replace(reading(ReadingKind.HUMIDITY, 78, room_id=""), place="<b>bay</b> & {{ hall }}", date="<i>")
    (warning,) = site_warnings(measured(one))
    assert "in <b>bay</b> & {{ hall }}, <i>: 78 % RH" in warning.text


@given(site_readings(), site_limits(), st.sampled_from(list(Unit)))
def test_a_verdict_is_never_a_pass_beyond_the_limit(one: SiteReading, limits: SiteLimits, unit: Unit) -> None:
    limit = limit_of(limits, one.kind)
    found = judged(one, limit)
    if limit is None:
        assert found is Verdict.NO_LIMIT
    elif missed_by(one.value, limit.allowed):
        assert found in (Verdict.FAILED, Verdict.OTHER_SPAN)
    # The job's own unit changes words, no verdict.
    said = site_warnings(measured(replace(one, room_id="room"), limits=replace(limits, material_id=GOODS), unit=unit))
    assert len(said) == (found is Verdict.FAILED)


@given(st.data())
def test_more_readings_never_hide_a_failed_one(data: st.DataObject) -> None:
    a_job = data.draw(plain_jobs())
    a_job = replace(a_job, site=data.draw(sites(a_job)))
    more = data.draw(site_readings(tuple(one.id for one in a_job.rooms)))
    place = data.draw(st.integers(0, len(a_job.site.readings)))
    readings = (*a_job.site.readings[:place], more, *a_job.site.readings[place:])
    fuller = replace(a_job, site=replace(a_job.site, readings=readings))
    left = list(site_warnings(fuller))
    for warning in site_warnings(a_job):
        left.remove(warning)  # a ValueError where it is hidden
    assert len(left) <= 1


@given(st.fractions(0, 100, max_denominator=90), st.fractions(0, 100, max_denominator=90))
def test_what_is_worse_is_not_judged_better(value: Fraction, more: Fraction) -> None:
    limit = Limit(allowed=Range(high=Fraction(50)))
    ranks = {Verdict.OK: 0, Verdict.FAILED: 1}
    better = judged(reading(ReadingKind.HUMIDITY, value), limit)
    assert ranks[better] <= ranks[judged(reading(ReadingKind.HUMIDITY, value + more), limit)]
