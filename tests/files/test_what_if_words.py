"""Changes in words: what they make of a job, and what is said of those that are none or do not apply."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Job
from nesting.domain.material import Pattern
from nesting.domain.rules import GoalKind, RuleId
from nesting.errors import Fault, JobError
from nesting.files.job_file import ReadVariant, parse_job, parse_variants
from tests.making import CM, INCH, MM, M

JOB = """\
job: Two floors
unit: m
currency: EUR
trim: 50 mm
rules: {waive: [cross seams]}
materials:
  - {name: Sheet, width: 2, price: 12.50 per m}
  - name: Carpet
    widths: [3, 4]
    prices: [20 per m, 26 per m]
    repeat along: 640 mm
    repeat across: 500 mm
    match: drop 160 mm
    drop counts: per repeat
    trim: 60 mm
stock:
  - {id: R-17, material: Sheet, width: 2, length: 3}
  - {id: R-18, material: Carpet, width: 3, length: 2, first mark: "0.3 across, 0.3 along"}
  - {id: Roll 4, material: Carpet, width: 4, length: 9, kind: roll}
rooms:
  - {name: Den, material: Sheet, rectangle: 3.0 x 2.5, rules: {cross seams: 2}}
  - {name: Nook, material: Carpet, rectangle: 3.2 x 2.5, trim: 70 mm, lay: towards north}
  - {name: Bay, material: Carpet, rectangle: 3.2 x 2.5, lay: [from 30°, east-west]}
"""
BASE = parse_job(JOB).job


def changed(change: str, text: str = JOB) -> ReadVariant:
    (found,) = parse_variants(text, [f"Other: {change}"])
    assert found.name == "Other"
    return found


def faults(*changes: str, text: str = JOB) -> tuple[Fault, ...]:
    with pytest.raises(JobError) as caught:
        parse_variants(text, changes, ["as it is"], file="job.yaml")
    return caught.value.faults


def trims(job: Job) -> list[int]:
    return [room.trim_nm // MM for room in job.rooms]


def crossings(job: Job) -> list[tuple[int, bool]]:
    return [(room.rules.cross_seams_per_breadth, room.rules.holds(RuleId.CROSS_SEAMS)) for room in job.rooms]


def lattice(job: Job) -> Pattern:
    pattern = job.materials[1].pattern
    assert pattern is not None
    return pattern


def labels(job: Job) -> list[str]:
    return [piece.id for piece in job.stock]


MADE: list[tuple[str, Callable[[Job], object], object]] = [
    ("rolls 3 m wide for Sheet", lambda job: job.materials[0].widths_nm, (3 * M,)),
    ("3 m or 4 m wide for Sheet; price 3 per m2 for Sheet", lambda job: job.materials[0].widths_nm, (3 * M, 4 * M)),
    ("width 4 m for Carpet", lambda job: job.materials[1].widths_nm, (4 * M,)),
    ("width 4 for carpet", lambda job: job.materials[1].sale.price_per_m, (Fraction(2600),)),  # that width's price
    ("rolls 4 or 3 wide for Carpet", lambda job: job.materials[1].sale.price_per_m, (Fraction(2600), Fraction(2000))),
    ("trim 3 in", trims, [76, 76, 76]),  # in rooms and materials with a trim of their own too
    ("trim 2 in for Carpet", trims, [50, 50, 50]),
    ("trim 80 mm for Sheet", trims, [80, 70, 60]),
    ("no cross seams", crossings, [(0, True)] * 3),
    ("cross seams allowed", crossings, [(1, True)] * 3),
    ("3 cross seams a breadth", crossings, [(3, True)] * 3),
    ("without stock", labels, []),
    ("without goods in hand for Carpet", labels, ["R-17"]),
    ("without the remnants", labels, ["Roll 4"]),
    ("without R-18 and roll 4", labels, ["R-17"]),
    ("only R-17, Roll 4 in hand", labels, ["R-17", "Roll 4"]),
    ("without rule least-breadth", lambda job: job.rooms[1].rules.holds(RuleId.LEAST_BREADTH), False),
    ("without rule least breadth", lambda job: job.rooms[1].rules.holds(RuleId.CROSS_SEAMS), False),  # as it was
    ("repeat 638 mm along for Carpet", lambda job: lattice(job).along_nm, 638 * MM),
    ("repeat 502 mm across for Carpet", lambda job: lattice(job).across_nm, 502 * MM),
    ("repeat 638 mm along for Carpet", lambda job: lattice(job).drop_nm, 160 * MM),
    ("drop the other way for Carpet", lambda job: lattice(job).drop_nm, 480 * MM),  # 640 - 160
    ("goal fewest seams", lambda job: job.goal.kind, GoalKind.FEWEST_SEAMS),
    ("seam worth 80 cm", lambda job: job.goal.seam_worth_nm, 80 * CM),
    ("at most 3 seams", lambda job: job.goal.most_seams, 3),
    ("no seams", lambda job: job.goal.most_seams, 0),
    ("at most 3 seams; Any number of seams", lambda job: job.goal.most_seams, None),
    ("order step 10 in for Sheet", lambda job: job.materials[0].sale.order_step_nm, 10 * INCH),
    ("longest roll 25 m for Sheet", lambda job: job.materials[0].longest_nm, 25 * M),
    ("price 9.5 per m for Sheet", lambda job: job.materials[0].sale.price_per_m, (Fraction(950),)),
    ("price 9.5 per m2 for Carpet", lambda job: job.materials[1].sale.price_per_m2, Fraction(950)),
]


@pytest.mark.parametrize(("change", "seen", "wanted"), MADE, ids=[change for change, _, _ in MADE])
def test_a_change_is_made(change: str, seen: Callable[[Job], object], wanted: object) -> None:
    assert seen(changed(change).read.job) == wanted


def test_nothing_else_is_changed_nor_the_job_itself() -> None:
    found = changed("order step 10 cm for Sheet; goal least roll").read.job
    assert found.goal.kind is GoalKind.LEAST_ROLL and BASE.goal.kind is GoalKind.BALANCED
    sale = replace(BASE.materials[0].sale, order_step_nm=10 * CM)
    materials = (replace(BASE.materials[0], sale=sale), BASE.materials[1])
    assert found == replace(BASE, materials=materials, goal=replace(BASE.goal, kind=GoalKind.LEAST_ROLL))
    assert parse_job(JOB).job == BASE


def test_a_goal_in_a_word_keeps_its_word() -> None:
    text = JOB.replace("unit: m", "unit: m\ngoal: fewest seams", 1)
    goal = changed("at most 2 seams", text).read.job.goal
    assert (goal.kind, goal.most_seams) == (GoalKind.FEWEST_SEAMS, 2)


def test_wound_the_other_way_turns_what_is_laid_one_way() -> None:
    variant = changed("wound the other way for Carpet")
    job = variant.read.job
    assert job.rooms[1].lays == (LayDirection(0, -1),)
    had, now = BASE.rooms[2].lays, job.rooms[2].lays
    assert now[0] == had[0].quarter_turned(2) and set(now[1:]) == set(had[1:])
    # (-Rx, -D) = -1 · (Rx, D): the same lattice. Marks on goods in hand were measured and stay.
    assert job.materials == BASE.materials and job.stock == BASE.stock
    (notice,) = variant.read.notices
    assert notice.text == (
        "Carpet wound the other way: Nook and Bay laid the other way round; the match is the same after half a turn"
    )
    (notice,) = changed("wound the other way for Sheet").read.notices
    assert notice.text == "Sheet wound the other way: no room is laid one way only"


def test_marks_are_read_anew_under_another_drop() -> None:
    # The first mark lies at (300, 300), so the origin's phase is (-300, -300). One repeat to the right of that stands
    # (500 - 300, D - 300): with D = 160 (200, -140 + 640), with D = 480 (200, 180).
    had, now = (job.stock[1].phase_nm for job in (BASE, changed("drop the other way for Carpet").read.job))
    assert had == (200 * MM, 500 * MM)
    assert now == (200 * MM, 180 * MM)


@pytest.mark.parametrize(
    ("was", "now"),
    [("up by 160 mm", 480), ("down by 160 mm", 160), ("at the right the motif sits up by 1/4", 480), ("drop 1/4", 480)],
)
def test_every_way_to_say_a_drop_has_another_way(was: str, now: int) -> None:
    text = JOB.replace("match: drop 160 mm", f"match: {was}")
    pattern = changed("drop the other way for Carpet", text).read.job.materials[1].pattern
    assert pattern is not None and pattern.drop_nm == now * MM


def test_a_price_that_stays_is_said() -> None:
    (notice,) = changed("rolls 3 m wide for Sheet").read.notices
    assert notice.text == "Sheet: the price stays 12.50 per m, whatever the width; give `price` with the width"
    assert changed("rolls 2 m wide for Sheet").read.notices == ()
    assert changed("rolls 3 m wide for Sheet; price 15 per m for Sheet").read.notices == ()


REFUSED = [
    ("Other: paint it blue", "bad-change", "paint it blue: this is not a change that is known"),
    ("Other", "bad-change", "a name, a colon and at least one change are expected"),
    ("Other: ;", "bad-change", "a name, a colon and at least one change are expected"),
    (": trim 2 in", "bad-change", "a name, a colon and at least one change are expected"),
    (f"{'o' * 61}: trim 2 in", "bad-name", "the name is too long, or cannot be printed"),
    ("As it is: trim 2 in", "name-twice", "two variants are called 'As it is'"),
    ("Other: rolls 3 m wide", "missing-key", "rolls 3 m wide: which material is missing"),
    ("Other: trim 2 in for Lino", "unknown-name", "trim 2 in for Lino: there is no material 'Lino'"),
    ("Other: rolls wide wide for Sheet", "bad-length", "'wide' is not a length"),
    ("Other: rolls 0 m wide for Sheet", "zero-size", "'0 m' is zero"),
    ("Other: trim 2 inches too many", "bad-length", "'2 inches too many' is not a length"),
    ("Other: many cross seams", "wrong-type", "'many' is not a whole number"),
    ("Other: no cross seams for Sheet", "rule-waived", "no cross seams for Sheet: the rule on cross seams is waived for"
     " the whole job"),
    ("Other: without R-19", "unknown-name", "without R-19: no piece in hand is labelled 'R-19'"),
    ("Other: without R-17 for Carpet", "unknown-name", "without R-17 for Carpet: no piece in hand is labelled 'R-17'"),
    ("Other: without stock; without stock", "no-stock", "without stock: the job has no such goods in hand"),
    ("Other: without remnants for Sheet; without remnants for Sheet", "no-stock", "without remnants for Sheet: the job"
     " has no such goods in hand"),
    ("Other: without rule gravity", "unknown-name", "'gravity' is no rule"),
    ("Other: repeat 638 mm along for Sheet", "no-repeat", "repeat 638 mm along for Sheet: Sheet has no pattern"),
    ("Other: drop the other way for Sheet", "no-repeat", "drop the other way for Sheet: Sheet has no pattern"),
    ("Other: goal cheapest", "unknown-name", "'cheapest' is no goal"),
    ("Other: seam worth 1 m for Sheet", "bad-change", "seam worth 1 m for Sheet: this holds for the whole job, not for"
     " a material"),
    ("Other: price nothing for Sheet", "bad-price", "'nothing' is not a price"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "what"), REFUSED)
def test_what_is_no_change_or_does_not_apply_is_said(text: str, code: str, what: str) -> None:
    (fault,) = faults(text)
    assert (fault.code, fault.what, fault.file, fault.line) == (code, what, f'--if "{text}"', 0)
    assert code in ("bad-length", "zero-size", "wrong-type", "unknown-name", "bad-price") or fault.hint


def test_all_faults_of_all_variants_are_said_at_once() -> None:
    found = faults("One: paint it; without R-19", "one: trim much", "Two: trim 2 in", "Two: trim 2 in")
    assert sorted(fault.code for fault in found) == ["bad-change", "bad-length", "name-twice", "name-twice",
                                                     "unknown-name"]  # fmt: skip


def test_what_no_longer_fits_in_the_file_is_a_fault_of_the_change() -> None:
    (fault,) = faults("Wide: rolls 5 m wide for Carpet")
    assert (fault.code, fault.where) == ("bad-price", "materials[1].prices")
    assert fault.what.endswith(', with --if "Wide: rolls 5 m wide for Carpet"') and fault.file == "job.yaml"
    # Two widths that are not made at these prices: none is taken for another's.
    assert [fault.code for fault in faults("Wide: rolls 5 m or 3 m wide for Carpet")] == ["bad-price"]
    pinned = JOB.replace("{name: Den,", "{name: Den, pins: {cut from: [R-17]},")
    assert [fault.code for fault in faults("Bare: without R-17", text=pinned)] == ["unknown-name"]


@pytest.mark.parametrize(
    ("was", "now", "change", "code"),
    [
        ("match: drop 160 mm", "match: half-drop", "drop the other way for Carpet", "bad-drop"),
        ("match: drop 160 mm", "match: straight", "drop the other way for Carpet", "bad-drop"),
        ("    repeat across: 500 mm\n    match: drop 160 mm\n    drop counts: per repeat\n", "    match: straight\n",
         "repeat 502 mm across for Carpet", "no-repeat"),
        ("{name: Sheet,", "{name: Sheet, directed: no,", "wound the other way for Sheet", "no-arrow"),
    ],
)  # fmt: skip
def test_what_would_change_nothing_is_said(was: str, now: str, change: str, code: str) -> None:
    assert was in JOB
    (fault,) = faults(f"Other: {change}", text=JOB.replace(was, now))
    assert fault.code == code and fault.hint
