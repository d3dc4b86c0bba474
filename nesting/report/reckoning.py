"""On what a plan rests: what was assumed, which rules held, how far the least possible may be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

from nesting.domain.job import Job, Room
from nesting.domain.material import Material, Turning
from nesting.domain.plan import Bound, MaterialPlan, Plan, SourceKind
from nesting.domain.rules import Goal, GoalKind, SeamRules
from nesting.report.sentences import NM2_PER_M2, length_of, money_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing that was assumed or set, with its value in words."""

    name: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """The rules that hold in some rooms alike."""

    rooms: tuple[str, ...]
    facts: tuple[Fact, ...]
    waived: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level of a material's goal: what the plan has, what no plan can beat, the gap between them."""

    name: str
    attained: str
    bound: str
    gap: str
    proof: str


def assumptions(plan: Plan, part: MaterialPlan) -> list[Fact]:
    """Return what was assumed of a material, its rolls and its rooms."""
    job = plan.job
    material = next(item for item in job.materials if item.id == part.material_id)
    rooms = [room for room in job.rooms if room.material_id == material.id]
    return [*_of_material(job, material), *_of_rolls(job, material, part), *_of_rooms(job, rooms)]


def _of_material(job: Job, material: Material) -> Iterator[Fact]:
    """Yield what the job says of the goods themselves."""
    yield Fact(name="widths made", value=", ".join(length_of(job, width) for width in material.widths_nm))
    longest = "no limit" if material.longest_nm is None else length_of(job, material.longest_nm)
    yield Fact(name="longest roll made", value=longest)
    if material.selvedge_nm:
        yield Fact(name="selvedge, each edge", value=length_of(job, material.selvedge_nm))
    overlap = material.seam_overlap_nm
    yield Fact(name="seam overlap", value=f"{length_of(job, overlap)}, double cut" if overlap else "none: butted")
    yield Fact(name="cutting step", value=f"rough cuts round up to {length_of(job, material.cutting_step_nm)}")
    words = {
        Turning.NEVER: "no drop is turned end for end",
        Turning.FREE: "any drop may be turned end for end",
        Turning.ALTERNATE: "every other drop is turned end for end",
    }
    arrow = "; joined rooms are laid one way" if material.directed else ""
    yield Fact(name="turning", value=words[material.turning] + arrow)
    if material.in_sequence:
        yield Fact(name="sequence", value="drops of a room are cut and laid in roll order")
    if material.pattern is not None:
        pattern = material.pattern
        across = "none" if pattern.across_nm is None else length_of(job, pattern.across_nm)
        across += " (the pitch of breadths)" if pattern.at_seam else ""
        yield Fact(name="repeat along, across", value=f"{length_of(job, pattern.along_nm)}, {across}")
        drop = length_of(job, int(pattern.drop_nm)) + ("" if pattern.drop_nm.denominator == 1 else " or a little more")
        value = f"up by {drop} one repeat to the right" if pattern.drop_nm else "straight"
        yield Fact(name="match", value=value)


def _of_rolls(job: Job, material: Material, part: MaterialPlan) -> Iterator[Fact]:
    """Yield what is taken for granted of rolls that nobody has unrolled yet."""
    ordered = [source for source in part.sources if source.kind is SourceKind.ORDER]
    if ordered:
        yield Fact(name="start of an ordered roll", value=f"{length_of(job, material.squaring_nm)} for squaring")
    if any(source.anchored for source in part.sources):
        yield Fact(
            name="pattern of goods not seen yet",
            value="unknown: a starting allowance up to the first mark is kept free, as the maps show",
        )
    if material.pattern is not None:
        share = f"{float(material.repeat_tolerance):.1%}"
        yield Fact(name="repeat of delivered goods", value=f"may be off by {share}; measure it before cutting")
    if ordered and material.sale.order_step_nm > 1:
        yield Fact(name="order step", value=length_of(job, material.sale.order_step_nm))
    if len({line.lot for line in part.order}) > 1:
        yield Fact(name="lots", value="more than one: a lot's supply is too short for the whole order")


def _of_rooms(job: Job, rooms: list[Room]) -> Iterator[Fact]:
    """Yield what is left on at walls."""
    if not rooms:
        return
    for name, values in (
        ("trim at walls", {length_of(job, room.trim_nm) for room in rooms}),
        ("out of square", {f"up to {length_of(job, room.out_of_square_nm)}" for room in rooms}),
    ):
        yield Fact(name=name, value=" or ".join(sorted(values)))
    less = sorted({length_of(job, room.least_trim_nm) for room in rooms if room.least_trim_nm is not None})
    if less:
        yield Fact(name="least trim at side walls", value=" or ".join(less))


_RULE_NAMES = {
    "joint_clearance_nm": "seams clear of joints below by",
    "least_breadth_nm": "least breadth",
    "cross_seams_per_breadth": "cross seams in a breadth, at most",
    "least_length_nm": "least length beside a cross seam",
    "cross_seam_stagger_nm": "neighbours' cross seams apart by",
    "forced_cross_seams": "cross seams where a breadth is longer than any roll",
    "step_nm": "oblique edges cut in steps of at least",
    "whole_rectangles": "whole rectangles only",
    "insert_factor": "cove inserts, times as long as wide",
}


def rule_sets(plan: Plan) -> list[RuleSet]:
    """Return the seam rules by the rooms that share them, in the order of the job."""
    found: dict[SeamRules, list[str]] = {}
    for room in plan.job.rooms:
        found.setdefault(room.rules, []).append(room.name)
    return [
        RuleSet(
            rooms=tuple(rooms),
            facts=tuple(_rule_facts(plan.job, rules)),
            waived=tuple(rule.value for rule in rules.waived),
        )
        for rules, rooms in found.items()
    ]


def _rule_facts(job: Job, rules: SeamRules) -> Iterator[Fact]:
    plain = SeamRules()
    for field in fields(SeamRules):
        if field.name not in _RULE_NAMES:
            continue
        value = getattr(rules, field.name)
        if isinstance(value, bool):
            text = "yes" if value else "no"
        else:
            text = length_of(job, value) if field.name.endswith("_nm") else str(value)
        usual = "" if value != getattr(plain, field.name) else " (common practice)"
        yield Fact(name=_RULE_NAMES[field.name], value=text + usual)
    notch = f"{length_of(job, rules.notch_width_nm)} × {length_of(job, rules.notch_length_nm)}"
    yield Fact(name="a notch is worth keeping from", value=notch)


def goal_text(job: Job) -> str:
    """Return the goal of the job in words."""
    goal = job.goal
    text = {
        GoalKind.BALANCED: f"balanced: the least roll, but one seam more only where it saves "
        f"{length_of(job, goal.seam_worth_nm)} of roll",
        GoalKind.LEAST_ROLL: "the least roll, then seams, then metres of seam",
        GoalKind.FEWEST_SEAMS: "the fewest seams, then the least roll",
        GoalKind.LEAST_COST: "the least cost" + _charges(job, goal),
    }[goal.kind]
    return text + ("" if goal.most_seams is None else f"; at most {goal.most_seams} seams")


def _charges(job: Job, goal: Goal) -> str:
    named = (
        (goal.charge_per_seam_m, "per m of seam"),
        (goal.charge_per_cross_seam, "per cross seam"),
        (goal.charge_per_cut, "per cut"),
    )
    charges = [f"{money_of(job, coins)} {what}" for coins, what in named if coins]
    return f", with {', '.join(charges)}" if charges else ""


_LEVELS = {
    "roll": "roll ordered",
    "used": "roll used",
    "seams": "seams, cross seams and relief cuts",
    "cost": "cost",
    "balanced-roll": "roll ordered and what the seams are worth",
    "ordered": "roll ordered",
    "seam-length": "length of seam",
    "cuts": "cuts",
}


def levels(job: Job, part: MaterialPlan) -> list[Level]:
    """Return the levels of the goal, each with the better levels at what the plan has."""
    return [_level(job, part, bound) for bound in part.bounds]


def _level(job: Job, part: MaterialPlan, bound: Bound) -> Level:
    gap = "none: proved" if bound.proved else f"{(bound.attained - bound.value) / max(1, bound.attained):.1%}"
    how = "by search" if bound.by_search else "recomputed by the checker"
    return Level(
        name=_LEVELS.get(bound.level, bound.level),
        attained=_amount(job, part, bound.level, bound.attained),
        bound=_amount(job, part, bound.level, bound.value),
        gap=gap,
        proof=f"{bound.cut}, {how}" if bound.cut else how,
    )


def _amount(job: Job, part: MaterialPlan, level: str, value: int) -> str:
    """Return the value of a measure in words."""
    if level in ("seams", "cuts"):
        return str(value)
    if level == "cost":
        return money_of(job, value)
    if level == "seam-length":
        return length_of(job, value)
    area = f"{value / NM2_PER_M2:.2f} m²"
    widths = [width for width, _ in part.measures.ordered_nm]
    return f"{length_of(job, value // widths[0])} ({area})" if len(widths) == 1 and level != "balanced-roll" else area
