"""Why a plan costs the roll that it costs: where the goods go, and which rules and rooms cost the most roll.

A rule, a room or a piece costs what could be saved of the roll ordered if it were not there. The eased job is solved
anew with the plan as its start, under the job's own goal. What is saved lies between two numbers that are sure: at
least what a checked plan of the eased job saves, and nothing is lost where none was found, since the plan at hand will
do; at most the roll ordered less what no plan of the eased job can order less than.

*At most* is meant as the goal means it. Balanced: with no more seams than the plan found; every seam more could save
what a seam is worth besides, which the goal does not want. Fewest seams: with no more seams. Else with any seams.

The first question eases nothing. A better plan that it finds is no rule's fault: all other questions begin with it and
are measured from it. What it says at most is in all other answers too: so far the plan may be from the least possible.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.bounds.levels import level_bounds
from nesting.domain.job import Job
from nesting.domain.plan import Bound, MaterialPlan, Plan
from nesting.domain.rules import GoalKind
from nesting.estimating.account import SourceAccount, account_of
from nesting.estimating.parting import part_of
from nesting.estimating.questions import Question, questions_about
from nesting.model.extracting import material_plan
from nesting.model.ordering import in_fixed_order
from nesting.pipeline import SEARCH_SHARE, Settings, proved, versions, with_layouts_as_listed
from nesting.progress import Portion, Step
from nesting.rule_costs import look_again


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What is saved of the roll ordered, nm², if a rule, room or piece were not there: at least, and at most.

    `roll_nm2`, `seams`: of the plan found without it; where that orders more, of the plan that it is measured from.
    `stopped`: there was no time to look as long as was asked.
    """

    id: str
    words: str
    least_nm2: int
    most_nm2: int
    roll_nm2: int
    seams: int
    owners: tuple[str, ...] = ()
    stopped: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialWhy:
    """Why the plan of one material costs what it costs.

    `as_it_is`: what looking again saves with every rule kept, and what it may save at most. `rules` and `owners`: what
    each costs, the most first, measured from the plan found with every rule kept. `unasked`: the words of what there
    was no time to ask.
    """

    material_id: str
    roll_nm2: int
    seams: int
    accounts: tuple[SourceAccount, ...]
    as_it_is: Answer | None = None
    rules: tuple[Answer, ...] = ()
    owners: tuple[Answer, ...] = ()
    unasked: tuple[str, ...] = ()


def why(plan: Plan, settings: Settings) -> tuple[MaterialWhy, ...]:
    """Return why each material of a sound plan costs what it costs.

    The effort is shared among the questions of a material, one at least for each; 0 asks them of the first plan that
    comes. A plan that is not by the rules orders nothing: it has an account only.
    """
    portion = Portion(stop=settings.stop, spent=settings.spent, end=1.0)
    found = []
    for number, part in enumerate(plan.materials):
        turn = portion.next_of(len(plan.materials) - number)
        found.append(_why_material(plan, part, settings, turn))
    return tuple(found)


def _why_material(plan: Plan, part: MaterialPlan, settings: Settings, turn: Portion) -> MaterialWhy:
    whole = MaterialWhy(
        material_id=part.material_id,
        roll_nm2=part.measures.roll_nm2,
        seams=_seams(part),
        accounts=account_of(plan.job, part),
    )
    if not part.measures.roll_nm2 or not plan.by_the_rules:
        return whole
    job = part_of(plan.job, part.material_id)
    questions = (Question(id="as-it-is", words="as it is", job=job), *questions_about(job))
    answers: list[Answer] = []
    base = part
    for question, effort in zip(questions, _shares(settings.effort, len(questions)), strict=True):
        if turn():
            break
        left = len(questions) - len(answers)
        what = f"{question.words} ({len(answers) + 1} of {len(questions)})"
        settings.progress(Step(material_id=part.material_id, what=what))
        known = () if answers else part.bounds
        answer, best = _answered(question, base, replace(settings, effort=effort), turn.next_of(left), known)
        base = base if answers else best
        answers.append(answer)
    return replace(
        whole,
        as_it_is=next(iter(answers), None),
        rules=_dearest_first([answer for answer in answers[1:] if not answer.owners]),
        owners=_dearest_first([answer for answer in answers if answer.owners]),
        unasked=tuple(question.words for question in questions[len(answers) :]),
    )


def _shares(effort: int, count: int) -> list[int]:
    """Return the effort of each of so many questions."""
    each, over = divmod(effort, count)
    return [max(min(1, effort), each + (number < over)) for number in range(count)]


def _dearest_first(answers: list[Answer]) -> tuple[Answer, ...]:
    return tuple(sorted(answers, key=lambda answer: (-answer.least_nm2, -answer.most_nm2)))


def _answered(
    question: Question, base: MaterialPlan, settings: Settings, turn: Portion, known: tuple[Bound, ...]
) -> tuple[Answer, MaterialPlan]:
    """Return what is saved without what the question names, and the plan that saves it.

    `base` is the plan at hand; `known` are bounds that hold for the question's job.
    """
    had, best = base.measures.roll_nm2, base
    roll, seams, bound, stopped = 0, 0, 0, False  # where nothing is left to cover
    if question.material is not None:
        now = turn.spent()
        searching = replace(turn, end=now + SEARCH_SHARE * (turn.end - now))
        found = _found(question, base, settings, searching)
        best = base if found is None or found.measures.roll_nm2 > had else found
        roll, seams = best.measures.roll_nm2, _seams(best)
        sought = _bounds(question.job, best, settings, turn, is_plan=best is found)
        bound = max(_least_roll_nm2(question.job, best, bounds) for bounds in (sought, known))
        stopped = turn()
    answer = Answer(
        id=question.id,
        words=question.words,
        least_nm2=had - roll,
        most_nm2=had - min(bound, roll),
        roll_nm2=roll,
        seams=seams,
        owners=question.owners,
        stopped=stopped,
    )
    return answer, best


def _found(question: Question, base: MaterialPlan, settings: Settings, turn: Portion) -> MaterialPlan | None:
    """Return the best plan of the eased job that is found from the plan at hand on."""
    material = question.material
    assert material is not None
    look = look_again(
        in_fixed_order(question.job),
        material,
        seed=settings.seed,
        effort=settings.effort,
        stop=turn,
        start=base,
        executor=settings.executor,
    )
    # No charges are in the cost of a plan for roll.
    return None if look is None else material_plan(_for_roll(question.job), look.built, look.solution)


def _bounds(job: Job, best: MaterialPlan, settings: Settings, turn: Portion, *, is_plan: bool) -> tuple[Bound, ...]:
    """Return the bounds of a job, as its goal counts roll.

    `is_plan`: `best` is a plan of this very job; the checker proves it with its bounds.
    """
    job = _for_roll(job, most_seams=_seams(best))
    bounds, considered = level_bounds(
        in_fixed_order(job),
        job.materials[0],
        best,
        considered=0,
        effort=0 if turn() else settings.effort,
        seed=settings.seed,
        stop=turn,
    )
    if is_plan:
        part = with_layouts_as_listed(job, replace(best, bounds=bounds, bound_considered=considered))
        proved(Plan(job=job, materials=(part,), seed=settings.seed, effort=settings.effort, versions=versions()))
    return bounds


def _least_roll_nm2(job: Job, best: MaterialPlan, bounds: tuple[Bound, ...]) -> int:
    """Return what bounds say that no plan orders less than, nm²; balanced: none with no more seams than the best."""
    values = {bound.level: bound.value for bound in bounds}
    seams_nm2 = job.goal.seam_worth_nm * max(job.materials[0].widths_nm) * _seams(best)
    return max(values.get("roll", 0), values.get("balanced-roll", 0) - seams_nm2)


def _for_roll(job: Job, most_seams: int | None = None) -> Job:
    """Return the job with a goal that counts roll first, as far as its own goal would let roll grow for seams."""
    goal = job.goal
    if goal.kind is GoalKind.FEWEST_SEAMS and most_seams is not None:
        most = most_seams if goal.most_seams is None else min(most_seams, goal.most_seams)
        goal = replace(goal, most_seams=most)
    kind = GoalKind.BALANCED if goal.kind is GoalKind.BALANCED else GoalKind.LEAST_ROLL
    return replace(job, goal=replace(goal, kind=kind))


def _seams(part: MaterialPlan) -> int:
    measures = part.measures
    return measures.seams + measures.cross_seams + measures.relief_cuts + measures.joins
