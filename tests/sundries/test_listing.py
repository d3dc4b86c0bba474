"""The list of sundries: needs by hand, packs and money, what is listed where nothing is said, warnings."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import ceil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.job import Job
from nesting.domain.plan import Consent, Plan
from nesting.domain.rules import RuleId
from nesting.domain.sundries import Amount, Measure, SundryKind
from nesting.files.plan_file import load_plan
from nesting.pipeline import Settings, plan_job
from nesting.sundries import cutting_words, sundries_of
from nesting.sundries.amounts import decimal, in_both, number_and_unit, shown
from tests.making import CM, FT, MM, YD, M
from tests.strategies import amounts, jobs, with_sundries
from tests.sundries.plans import lines_of, plan_of, words_of

HEAD = "job: Flat\nunit: m\ncurrency: EUR\n"
SHEET = "materials:\n  - {name: Sheet, width: 4 m, seam overlap: 20 mm}\n"


def den(sundries: str = "", material: str = "", room: str = "", size: str = "3 x 2.5") -> Plan:
    """Return the plan of one room with sundries, more keys of its material and of the room."""
    goods = f"materials:\n  - {{name: Sheet, width: 4 m, seam overlap: 20 mm{material}}}\n"
    rooms = f"rooms:\n  - {{name: Den, rectangle: {size}{room}}}\n"
    return plan_of(HEAD + (f"sundries: {{{sundries}}}\n" if sundries else "") + goods + rooms)


DOOR = ", doors: [{wall: south, from left: 1, width: 80 cm}]"
SINK = ", cut out: [{kind: fixture, at: '1, 1', size: 0.5 x 0.6}]"


def need(plan: Plan, name: str) -> Fraction:
    return lines_of(plan)[name].need.quantity


# --- what is reckoned ------------------------------------------------------------------------------------------------


def test_primer_by_the_published_area() -> None:
    """Rooms of 2.74 x 1.75 and 2.63 x 3.92 m, 8 m² a litre: 15.11 m², 1.9 l.

    flooringtech.com.au, unit 4, section 3, lesson 6.
    """
    rooms = "rooms: [{name: A, rectangle: 2.74 x 1.75}, {name: B, rectangle: 2.63 x 3.92}]\n"
    plan = plan_of(HEAD + "sundries: {primer: {rate: 8 m2 per l, pack: 1 l}}\n" + SHEET + rooms)
    line = lines_of(plan)["Primer"]
    area, litres = line.basis.total.quantity / 10**18, line.need.quantity / 1000
    assert decimal(area, 2, "nearest") == "15.10"  # 4.795 + 10.3096; the source rounds each room up
    assert decimal(Fraction("4.80") + Fraction("10.31"), 2, "nearest") == "15.11"
    assert decimal(litres, 1, "nearest") == "1.9"
    assert line.packs == 2 and words_of(plan)["Primer"].to_buy == "2 x 1 l"


def test_adhesive_by_weight_and_by_coverage_is_the_same() -> None:
    by_weight = den("adhesive: {rate: 0.25 kg per m2, pack: 15 kg}")
    by_cover = den("adhesive: {rate: 4 m2 / kg, pack: 15 kg}")
    assert need(by_weight, "Adhesive") == need(by_cover, "Adhesive") == 1875
    assert words_of(by_weight)["Adhesive"].need == "1.88 kg (4.2 lb)"


def test_full_spread_goes_up_the_cove_but_primer_does_not() -> None:
    plan = den("adhesive: {rate: 1 kg per m2}, primer: {rate: 1 kg per m2}", room=", cove: 10 cm")
    assert need(plan, "Adhesive") == 7500 + 11 * 100
    assert need(plan, "Primer") == 7500


def test_perimeter_with_a_band_and_without() -> None:
    plan = den("adhesive: {rate: 1 kg per m2, band: 10 cm}", ", fixing: perimeter", DOOR)
    seams = plan.materials[0].measures.seam_length_nm
    assert seams == 0 and need(plan, "Adhesive") == 1100
    bare = den("", ", fixing: perimeter", DOOR)
    assert lines_of(bare)["Adhesive"].need == Amount(measure=Measure.LENGTH, quantity=Fraction(11 * M))
    off = den("adhesive: {rate: 1 kg per m2, pack: 5 kg}", ", fixing: perimeter", DOOR)
    assert lines_of(off)["Adhesive"].packs is None
    assert [warning.code for warning in sundries_of(off).warnings] == ["rate-does-not-fit"]
    by_length = den("adhesive: {rate: 4 m per tube, price: 5}", ", fixing: perimeter", DOOR)
    assert lines_of(by_length)["Adhesive"].packs == 3


def test_one_adhesive_for_goods_spread_and_goods_held_at_the_edge_is_two_lines() -> None:
    text = (
        HEAD + "sundries: {adhesive: {rate: 4 m per tube}}\n"
        "materials: [{name: A, width: 4 m}, {name: B, width: 4 m, fixing: perimeter}]\n"
        "rooms: [{name: A, material: A, rectangle: 2 x 2}, {name: B, material: B, rectangle: 2 x 2}]\n"
    )
    found = sundries_of(plan_of(text))
    lines = [line for line in found.lines if line.sundry.kind is SundryKind.ADHESIVE]
    assert [line.sundry.material_ids for line in lines] == [("a",), ("b",)]
    assert [line.packs for line in lines] == [None, 2]
    assert "spread over the floor" in found.warnings[0].text


def test_tape_at_doors_fixtures_and_seams() -> None:
    plan = den("tape: {pack: 25 m}", ", fixing: loose lay", DOOR + SINK, size="5 x 4.2")
    seams = plan.materials[0].measures.seam_length_nm
    assert seams and need(plan, "Tape") == seams + 80 * CM + 220 * CM


def test_caulk_by_gap_and_by_length() -> None:
    plan = den("caulk: {gap: 6 mm, depth: 10 mm, pack: 310 ml, waste: 10 %}", room=SINK)
    assert need(plan, "Caulk") == Fraction(2200 * 6 * 10, 1000) * Fraction(11, 10)
    assert lines_of(plan)["Caulk"].packs == 1
    square = den("caulk: {gap: 6 mm, pack: 310 ml}", room=SINK)
    assert need(square, "Caulk") == Fraction(2200 * 6 * 6, 1000)
    assert words_of(square)["Caulk"].how.endswith("as deep as the gap is wide (common practice)")
    assert need(den("caulk: {rate: 12 m per tube}", room=SINK), "Caulk") == Fraction(2200, 12000)
    column = SINK.replace("fixture", "column")
    assert need(den("caulk: {pack: 10 m}", room=column), "Caulk") == 0
    assert need(den("caulk: {pack: 10 m, around: [column, island]}", room=column), "Caulk") == 220 * CM


def test_weld_rod_by_seams_and_corners_and_by_the_foot_of_the_cove_if_asked() -> None:
    room = "rooms: [{name: Bath, cove: 10 cm, walk: [north 3, east 3, south 1, west 1, south 2, west 2]}]\n"
    lengths = []
    for rod in ("{}", "{cove joints: yes}"):
        plan = plan_of(HEAD + f"sundries: {{weld rod: {rod}}}\n" + SHEET + room)
        lengths.append(need(plan, "Weld rod") - plan.materials[0].measures.seam_length_nm)
        assert "Seam sealer" not in lines_of(plan)
    assert lengths == [5 * 10 * CM + 2 * 10 * CM, 5 * 10 * CM + 2 * 10 * CM + 12 * M]


def test_gripper_goes_round_all_but_the_doors() -> None:
    column = ", cut out: [{at: '1, 1', size: 0.5 x 0.6}]"
    plan = den("gripper: {rate: 1.2 m per strip, pack: 100 strips, price: 40}", ", fixing: stretched", DOOR + column)
    assert need(plan, "Gripper") == Fraction(11_000 - 800 + 2_200, 1_200)
    assert words_of(plan)["Gripper"].need == "10.4 strips"


def test_underlay_by_its_roll_by_its_area_and_by_the_floor() -> None:
    loose = ", fixing: stretched"
    by_width = den("underlay: {width: 1.5 m, pack: 11 m, price: 44}", loose)
    assert need(by_width, "Underlay") == 5 * M  # two runs of 2.5 m
    assert need(den("underlay: {width: 1.5 m, pack: 11 m2}", loose), "Underlay") == Fraction(75, 10) * 10**18
    assert need(den("underlay: {rate: 10 m2 per roll}", loose), "Underlay") == Fraction(3, 4)
    assert "Den, 2 runs 5.00 m" in words_of(by_width)["Underlay"].how


def test_transitions_by_piece_by_length_and_cut_from_stock() -> None:
    assert need(den("transition: {price: 8}", room=DOOR), "Transition") == 1
    assert words_of(den("transition: {price: 8}", room=DOOR))["Transition"].cost == "8.00 EUR"
    assert need(den("transition: {rate: 0.9 m per strip}", room=DOOR), "Transition") == Fraction(8, 9)
    cut = den("transition: {lengths: [0.9, 1.8], prices: [8, 14]}", room=DOOR)
    assert words_of(cut)["Transition"].to_buy == "1 x 0.900 m"


def test_skirting_leaves_doors_fixtures_coves_and_named_walls_out() -> None:
    sink = ", cut out: [{kind: fixture, wall: north, from left: 1, width: 60 cm, depth: 50 cm}]"
    assert need(den("skirting: {}", room=DOOR + sink), "Skirting") == 11 * M - 80 * CM - 60 * CM
    assert need(den("skirting: {around: fixture}", room=DOOR + sink), "Skirting") == 11 * M - 80 * CM + 100 * CM
    assert need(den("skirting: {without: Den / west}"), "Skirting") == 8_500 * MM
    coved = ", coves: [{walls: [west, east], height: 10 cm}]"
    assert need(den("skirting: {}", room=coved), "Skirting") == 6 * M
    assert need(den("skirting: {walls: all}", room=coved), "Skirting") == 11 * M
    assert need(den("cove: {}", room=coved), "Cove") == 5 * M
    assert need(den("cove: {}"), "Cove") == 11 * M
    column = ", cut out: [{at: '1, 1', size: 0.5 x 0.6}]"
    assert need(den("quarter round: {around: [column]}", room=column), "Quarter round") == 11 * M + 220 * CM


def test_skirting_cut_from_lengths() -> None:
    plan = den("skirting: {lengths: 2.4 m, prices: 4.10, kerf: 3 mm}", room=DOOR)
    line = lines_of(plan)["Skirting"]
    # 3 m west and east... the walls: 3, 2.5, 2.5 and the south wall in 1.0 and 1.2 m; runs over 2.4 m are joined
    assert sorted(line.basis.runs_nm) == [1 * M, 1_200 * MM, 2_500 * MM, 2_500 * MM, 3 * M]
    assert line.cutting is not None and line.cutting.proved
    assert words_of(plan)["Skirting"].to_buy == "5 x 2.400 m"
    assert line.cost == 5 * 410
    assert all("x 2.400 m: " in text for text in cutting_words(plan, line))
    whole = sum(piece * way.count for way in line.cutting.lengths for piece in (sum(way.pieces_nm),))
    assert whole == line.need.quantity


def test_runs_that_may_not_be_joined_are_said() -> None:
    plan = den("skirting: {lengths: 2.4 m, joints: no}")
    assert [warning.code for warning in sundries_of(plan).warnings] == ["run-too-long"]
    assert not sundries_of(den("skirting: {lengths: 3 m, joints: no}")).warnings


def test_only_the_rooms_named_get_it() -> None:
    rooms = "rooms: [{name: A, rectangle: 2 x 2}, {name: B, rectangle: 3 x 2}]\n"
    each = "skirting: [{name: Oak, rooms: A}, {name: Pine, rooms: B}]"
    plan = plan_of(HEAD + f"sundries: {{{each}}}\n" + SHEET + rooms)
    assert need(plan, "Oak") == 8 * M and need(plan, "Pine") == 10 * M
    assert words_of(plan)["Oak"].how == "walls less doors 8.00 m; in A only"


# --- what is listed --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fixing", "names"),
    [
        ("full spread", ["Adhesive", "Seam sealer", "Caulk", "Transition", "Skirting"]),
        ("perimeter", ["Adhesive", "Seam sealer", "Caulk", "Transition", "Skirting"]),
        ("loose lay", ["Tape", "Seam sealer", "Caulk", "Transition", "Skirting"]),
        ("stretched", ["Underlay", "Gripper", "Seaming tape", "Caulk", "Transition", "Skirting"]),
    ],
)
def test_a_job_that_says_nothing_gets_what_the_plan_needs_and_no_rate(fixing: str, names: list[str]) -> None:
    plan = den("", f", fixing: {fixing}", DOOR + SINK, size="5 x 4.2")
    found = sundries_of(plan)
    assert [line.sundry.name for line in found.lines] == names
    assert all(line.packs is None and line.cost is None and not line.given for line in found.lines)
    assert all("no rate given" in words.how for words in words_of(plan).values())
    assert found.cost == 0 and not found.priced


def test_what_is_not_needed_is_not_listed_unless_it_is_given() -> None:
    assert set(lines_of(den())) == {"Adhesive", "Skirting"}
    given_none = lines_of(den("seam sealer: {rate: 45 m per tube, price: 12}"))["Seam sealer"]
    assert given_none.packs == 0 and given_none.cost == 0
    assert words_of(den("seam sealer: {rate: 45 m per tube}"))["Seam sealer"].to_buy == "none"


def test_what_is_left_out_is_not_listed() -> None:
    assert set(lines_of(den("leave out: [skirting, adhesive]"))) == set()
    nearer = den("leave out: adhesive", ", sundries: {adhesive: {rate: 1 kg per m2}}")
    assert lines_of(nearer)["Adhesive"].given


def test_the_material_counts_before_the_job() -> None:
    text = (
        HEAD + "sundries: {adhesive: {name: General, rate: 1 kg per m2}}\n"
        "materials:\n  - {name: A, width: 4 m, sundries: {adhesive: {name: Own, rate: 2 kg per m2}}}\n"
        "  - {name: B, width: 4 m}\n"
        "rooms: [{name: A, material: A, rectangle: 2 x 2}, {name: B, material: B, rectangle: 2 x 2}]\n"
    )
    plan = plan_of(text)
    assert need(plan, "Own") == 8000 and need(plan, "General") == 4000
    words = words_of(plan)
    assert (words["Own"].material, words["General"].material, words["Skirting"].material) == ("A", "B", "")


def test_goods_that_are_welded_are_not_sealed_by_the_job() -> None:
    plan = den("seam sealer: {rate: 45 m per tube}", ", sundries: {weld rod: {pack: 50 m}}", size="5 x 4.2")
    assert "Seam sealer" not in lines_of(plan) and lines_of(plan)["Weld rod"].packs == 1


def test_a_rate_of_the_job_is_for_goods_that_go_down_so() -> None:
    assert "Gripper" not in lines_of(den("gripper: {pack: 50 m}"))
    assert lines_of(den("", ", sundries: {gripper: {pack: 50 m}}"))["Gripper"].packs == 1


# --- limits ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "limit", "warned"),
    [
        ("15 ft x 15 ft", "", True),  # 25 sq yd exactly: under 25 sq yd a room, common practice
        ("15 ft x 14.9 ft", "", False),
        ("15 ft x 15 ft", ", loose up to: 25 sq yd", False),
        ("15 ft x 15.1 ft", ", loose up to: 225 sq ft", True),
        ("3 m x 3 m", ", loose up to: 8.9 m2", True),
    ],
)
def test_goods_lie_loose_up_to_a_limit(size: str, limit: str, warned: bool) -> None:
    plan = den("", f", fixing: loose lay{limit}", size=size)
    found = [(warning.code, warning.room_id, warning.material_id) for warning in sundries_of(plan).warnings]
    assert found == ([("too-large-to-lie-loose", "den", "sheet")] if warned else [])


def test_no_limit_where_goods_do_not_lie_loose() -> None:
    assert sundries_of(den(size="8 x 8")).warnings == ()


# --- money, packs, every plan ----------------------------------------------------------------------------------------


def test_money_adds_up() -> None:
    sundries = "adhesive: {rate: 0.3 kg per m2, pack: 1 kg, price: 3.35}, skirting: {lengths: [2, 3], prices: [2, 2.9]}"
    plan = den(sundries, room=DOOR)
    found = sundries_of(plan)
    assert found.cost == sum(line.cost or 0 for line in found.lines)
    assert not found.priced  # transitions
    adhesive = lines_of(plan)["Adhesive"]
    assert adhesive.cost == 3 * 335 and adhesive.left_over is not None
    assert adhesive.left_over.quantity == 3000 - adhesive.need.quantity


def test_a_plan_that_is_not_by_the_rules_has_its_sundries() -> None:
    plan = den(room=DOOR)
    consent = Consent(rule=RuleId.KEEP_OUT, owner="den", text="a seam in the way")
    assert sundries_of(replace(plan, consents=(consent,))) == sundries_of(plan)


@settings(max_examples=30, deadline=None)
@given(job=jobs(doors=True, loose=True).flatmap(with_sundries))
def test_packs_hold_what_is_needed_and_no_pack_is_too_many(job: Job) -> None:
    plan = plan_job(job, Settings(effort=0)).plan
    if plan is None:
        return
    found = sundries_of(plan)
    assert found == sundries_of(plan)
    assert found.cost == sum(line.cost or 0 for line in found.lines)
    for line in found.lines:
        pack = line.sundry.pack
        if line.packs is None or pack is None or line.left_over is None:
            continue
        assert line.packs == ceil(line.need.quantity / pack.quantity)
        assert line.need.quantity + line.left_over.quantity == line.packs * pack.quantity
        assert 0 <= line.left_over.quantity < pack.quantity


# --- amounts in words ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measure", "quantity", "metric", "feet"),
    [
        (Measure.AREA, Fraction(25 * YD**2), "20.91 m²", "225.0 sq ft"),
        (Measure.LENGTH, Fraction(10 * FT), "3.05 m", "10'"),
        (Measure.VOLUME, Fraction(3_785_411_784, 10**6), "3.79 l", "1.00 gal"),
        (Measure.VOLUME, Fraction(310), "310 ml", "10.5 fl oz"),
        (Measure.WEIGHT, Fraction(45_359_237, 10**5), "454 g", "1.0 lb"),
        (Measure.PIECES, Fraction(5, 2), "2.5 pieces", "2.5 pieces"),
        (Measure.PIECES, Fraction(1), "1 piece", "1 piece"),
    ],
)
def test_amounts_in_both_systems(measure: Measure, quantity: Fraction, metric: str, feet: str) -> None:
    amount = Amount(measure=measure, quantity=quantity)
    assert (shown(amount, "m"), shown(amount, "ft")) == (metric, feet)
    assert in_both(amount, "ft") == (feet if measure is Measure.PIECES else f"{feet} ({metric})")


@given(amount=amounts(), metric=st.booleans())
def test_needs_round_up_and_what_is_left_rounds_down(amount: Amount, metric: bool) -> None:
    up, down = (Fraction(number_and_unit(amount, metric, way)[0]) for way in ("up", "down"))
    assert down <= up <= down + Fraction(1)


def test_a_plan_that_has_begun_has_the_sundries_of_the_whole_job() -> None:
    path = Path(__file__).parents[2] / "examples" / "second-delivery" / "again" / "plan.json"
    plan = load_plan(path)
    assert plan.job.done
    assert lines_of(plan)["Adhesive"].need.quantity >= sum(part.account.floor_nm2 for part in plan.materials)
