"""Failed readings stand on the summary as warnings, and in its data."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from cli.summary import summary_data, summary_lines
from nesting.domain.plan import Plan
from nesting.domain.site import ReadingKind, Site, SiteLimits, SiteReading
from tests.files.small_plan import small_plan


def plan_with(site: Site) -> Plan:
    plan = small_plan()
    parts = tuple(replace(part, bounds=()) for part in plan.materials)
    return replace(plan, job=replace(plan.job, site=site), materials=parts)


def test_a_failed_reading_is_a_warning_below_its_material() -> None:
    dry, wet = (
        SiteReading(kind=ReadingKind.HUMIDITY, value=Fraction(value), room_id="den", place="Den") for value in (70, 80)
    )
    limits = SiteLimits(material_id="carpet", humidity_percent=Fraction(75))
    plan = plan_with(Site(limits=(limits,), readings=(dry, wet)))
    (line,) = (line for line in summary_lines(plan) if line.startswith("  warning  "))
    assert "Den: 80 % RH: failed, 5 % RH above the limit for =Carpet" in line
    (data,) = summary_data(plan)["site_warnings"]
    assert data == {"material": "carpet", "room": "den", "text": line.removeprefix("  warning  ")}


def test_without_readings_there_is_no_warning() -> None:
    assert summary_data(plan_with(Site()))["site_warnings"] == []
    assert not [line for line in summary_lines(plan_with(Site())) if "warning" in line]
