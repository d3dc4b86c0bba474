"""The site sheet and the cautions of plans."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given

from nesting.domain.geometry import Rect
from nesting.domain.plan import Plan
from nesting.domain.site import Range, ReadingKind, Site, SiteLimits, SiteReading, Substrate
from nesting.site import Verdict, cautions, site_sheet, site_warnings
from nesting.site.checks import Check
from tests.files.small_plan import CARPET, MM, small_plan
from tests.making import M, goods, job, planned_whole, rectangle, room
from tests.strategies import sites

TITLES = [
    "Substrate",
    "Moisture",
    "Temperature and acclimatizing",
    "Flatness",
    "Roll inspection before cutting",
    "Expansion gap",
    "Order of work",
    "Seams",
    "Protection",
]


def with_site(plan: Plan, site: Site) -> Plan:
    return replace(plan, job=replace(plan.job, site=site))


def checks(plan: Plan, title: str) -> tuple[Check, ...]:
    (sheet,) = site_sheet(plan).materials
    (section,) = (section for section in sheet.sections if section.title == title)
    return section.checks


def measured(plan: Plan, kind: ReadingKind) -> Check:
    (sheet,) = site_sheet(plan).materials
    (check,) = (check for section in sheet.sections for check in section.checks if check.kind is kind)
    return check


def titles(plan: Plan) -> list[str]:
    return [caution.title for caution in cautions(plan)]


def test_a_job_that_says_nothing_gives_a_sheet_that_is_all_to_fill_in() -> None:
    sheet = site_sheet(small_plan())
    assert "maker's instructions, local codes and licensed practice come first" in sheet.standing
    (material,) = sheet.materials
    assert (material.name, material.rooms) == ("=Carpet", ("Den",))
    assert [section.title for section in material.sections] == TITLES
    found = [check for section in material.sections for check in section.checks]
    assert {check.kind for check in found if check.kind} == set(ReadingKind)
    for check in found:
        assert check.verdict in (None, Verdict.NOT_MEASURED), "nothing passes that was not measured"
        assert (check.verdict is None) == (check.kind is None)
        assert check.blanks and not check.readings
        assert check.kind is None or check.notes[0] == "not measured"
    unknown = {ReadingKind.EMISSION, ReadingKind.HUMIDITY, ReadingKind.PH, ReadingKind.FLATNESS}
    assert {check.kind for check in found if check.kind and check.limit == "as the maker states"} == unknown


def test_what_is_common_practice_is_marked_so() -> None:
    for kind, limit in (
        (ReadingKind.TEMPERATURE, "at least 18.3 °C (65 °F)"),
        (ReadingKind.ACCLIMATIZING, "at least 48 h"),
        (ReadingKind.GAP, '3.2 mm (1/8") to 6.4 mm (1/4")'),
    ):
        check = measured(small_plan(), kind)
        assert (check.limit, check.source) == (limit, "common practice")


def test_readings_stand_with_their_verdicts_and_the_worst_is_that_of_the_check() -> None:
    limits = SiteLimits(material_id="carpet", humidity_percent=Fraction(75), ph=Range(high=Fraction(9)))
    values = (Fraction(70), Fraction(151, 2), Fraction(75))
    readings = tuple(
        SiteReading(kind=ReadingKind.HUMIDITY, value=value, room_id="den", place="Den", date="2 May")
        for value in values
    )
    plan = with_site(small_plan(), Site(substrate=Substrate.CONCRETE, limits=(limits,), readings=readings))
    check = measured(plan, ReadingKind.HUMIDITY)
    assert check.verdict is Verdict.FAILED and check.limit == "at most 75 % RH" and "F2170" in check.source
    assert [(line.text, line.words) for line in check.readings] == [
        ("Den, 2 May: 70 % RH", "within the limit"),
        ("Den, 2 May: 75.5 % RH", "failed, 0.5 % RH above the limit"),
        ("Den, 2 May: 75 % RH", "within the limit"),
    ]
    assert check.notes == ("3 tests for 7.5 m² (81 sq ft): 3 for the first 1000 sq ft, 1 for each further 1000 sq ft",)
    assert check.blanks == ()
    few = with_site(plan, replace(plan.job.site, readings=readings[:1]))
    check = measured(few, ReadingKind.HUMIDITY)
    assert check.verdict is Verdict.OK and check.notes[1] == "too few: 1 of 3 made, by this method"
    assert len(check.blanks) == 2


def test_moisture_methods_are_for_concrete() -> None:
    wood = with_site(small_plan(), Site(substrate=Substrate.WOOD))
    assert measured(wood, ReadingKind.EMISSION).notes[1].startswith("no room of it lies on concrete")
    assert measured(wood, ReadingKind.EMISSION).blanks == ()
    assert "if it is concrete" in measured(small_plan(), ReadingKind.EMISSION).notes[1]


def test_every_roll_is_inspected_with_its_lot_and_its_known_flaws() -> None:
    plan = small_plan()
    (part,) = plan.materials
    flaw = Rect(100 * MM, 700 * MM, 130 * MM, 750 * MM)
    sources = tuple(replace(one, flaws=(flaw,)) if one.id == "R-7" else one for one in part.sources)
    plan = replace(plan, materials=(replace(part, sources=sources),))
    _, ordered, remnant = checks(plan, "Roll inspection before cutting")
    assert ordered.limit.startswith("new lot, the same on every roll of it; 2.000 m (6' 6 3/4\") wide")
    assert remnant.what.startswith("R-7 (remnant)") and remnant.limit.startswith("lot A17;")
    assert remnant.notes == (
        'known flaw, 30 mm (1 3/16") across, 50 mm (1 15/16") along: 0.700 m (2\' 3 9/16") from the start, '
        '0.100 m (3 15/16") from the left edge',
    )


def test_a_bonded_wet_room_has_no_gap_and_no_line_for_one() -> None:
    bonded = with_site(small_plan(), Site(limits=(SiteLimits(material_id="carpet", bonded_wet_room=True),)))
    check = measured(bonded, ReadingKind.GAP)
    assert check.limit == "none" and not check.blanks
    assert "never on fully bonded wet-room work" in measured(small_plan(), ReadingKind.GAP).notes


@pytest.mark.parametrize(
    ("overlap", "said"), [(20 * MM, "Double cut: the breadths overlap by 20 mm"), (0, "Butted on")]
)
def test_seams_are_double_cut_where_they_overlap(overlap: int, said: str) -> None:
    plan = small_plan()
    plan = replace(plan, job=replace(plan.job, materials=(replace(CARPET, seam_overlap_nm=overlap),)))
    seams = checks(plan, "Seams")
    assert seams[0].limit == "1 seam, 2.500 m (8' 2 7/16\") in all"
    assert seams[1].what.startswith(said)
    assert any("sealed or welded" in check.what.lower() for check in seams)


def test_a_plan_without_seams_says_so() -> None:
    plan = planned_whole(job([room(rectangle(1 * M, 2 * M))], goods(2 * M)), effort=0)
    assert [check.what for check in checks(plan, "Seams")] == ["No seam in these rooms"]


def test_the_order_of_work_is_that_of_the_plan() -> None:
    steps = checks(small_plan(), "Order of work")
    assert [check.what[:2] for check in steps] == ["1.", "2.", "3.", "4.", "5.", "6."]
    assert steps[2].limit == "Den: 1-2; Mat\tby the door: 3"
    assert steps[3].limit == "Den: 2 breadths"


def test_names_with_markup_stay_plain_text() -> None:
    plan = small_plan()
    room_named = replace(plan.job.rooms[0], name="<script>Den</script> & {{ bath }}")
    plan = replace(plan, job=replace(plan.job, rooms=(room_named,)))
    (sheet,) = site_sheet(plan).materials
    assert sheet.rooms == ("<script>Den</script> & {{ bath }}",)
    assert "<script>Den</script> & {{ bath }}: 1-2" in checks(plan, "Order of work")[2].limit


@given(sites(small_plan().job))
def test_sheet_and_warnings_agree_whatever_is_known(site: Site) -> None:
    plan = with_site(small_plan(), site)
    (sheet,) = site_sheet(plan).materials
    found = [check for section in sheet.sections for check in section.checks]
    lines = [line for check in found for line in check.readings]
    assert len(lines) == len(site.readings), "every reading stands on the sheet"
    assert sum(line.verdict is Verdict.FAILED for line in lines) == len(site_warnings(plan))
    for check in found:
        verdicts = {line.verdict for line in check.readings}
        assert (check.verdict is Verdict.FAILED) == (Verdict.FAILED in verdicts)
        assert check.verdict is not Verdict.OK or verdicts == {Verdict.OK}
    assert titles(plan)[0] == "What comes first"


@cache
def heavy() -> Plan:
    return planned_whole(job([room(rectangle(2 * M, 5 * M))], goods(2 * M, weight_g_per_m2=Fraction(2_900))), effort=0)


def test_cautions_that_apply() -> None:
    always = ["What comes first", "Knives", "Adhesive vapour", "Wet floors"]
    assert [title for title in titles(small_plan()) if title in always] == always
    assert all(caution.text and caution.source for caution in cautions(small_plan()))


def test_asbestos_is_left_out_only_in_a_new_building() -> None:
    title = "Asbestos in old floors"
    assert title in titles(small_plan())
    assert title not in titles(with_site(small_plan(), Site(new_building=True)))
    old_floor = Site(new_building=True, substrate=Substrate.EXISTING_FLOOR)
    assert title in titles(with_site(small_plan(), old_floor))


@pytest.mark.parametrize("substrate", list(Substrate))
def test_silica_is_left_out_only_on_wood(substrate: Substrate) -> None:
    found = "Silica dust" in titles(with_site(small_plan(), Site(substrate=substrate)))
    assert found == (substrate is not Substrate.WOOD)


def test_heavy_cuts_are_named_and_unknown_weights_said() -> None:
    (caution,) = (one for one in cautions(heavy()) if one.title == "Heavy cuts and rolls")
    assert caution.text.startswith(
        "1 cut is too heavy for one person; the heaviest is no. 1, Room 1: 29.0 kg, 2 people."
    )
    assert "94-110" in caution.source and "HSE L23" in caution.source
    light = replace(heavy().job.materials[0], weight_g_per_m2=Fraction(500))
    assert "Heavy cuts and rolls" not in titles(replace(heavy(), job=replace(heavy().job, materials=(light,))))
    unknown = replace(light, weight_g_per_m2=None)
    plan = replace(heavy(), job=replace(heavy().job, materials=(unknown,)))
    (caution,) = (one for one in cautions(plan) if one.title == "Heavy cuts and rolls")
    assert caution.text.startswith("The weight of Goods is not known: ask the maker")
