"""One job of the suite measured in a process of its own: `python -m benchmarks.suite_run` with the question on stdin.

The question and the answer are JSON. A process of its own, so that its memory is its own and what one run compiles or
caches does not help the next.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from dataclasses import asdict, dataclass
from typing import Any

from benchmarks.baselines import METHODS, bare_of, plan_of
from benchmarks.suite_jobs import suite_job
from cli.asked import hands
from cli.running import Stopper
from nesting.bounds.levels import MaterialBounds
from nesting.domain.plan import Bound, Plan
from nesting.files.plan_file import dump_plan
from nesting.pipeline import Settings, plan_job
from nesting.progress import Step

MOST_EFFORT = 1_000
OURS = "ours"
FIRST = "first plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What to measure. `method`: "first plan", "ours" or a baseline; `seed`: the job's, `search_seed`: the search's."""

    kind: str
    pattern: str
    seed: int
    method: str
    seconds: float
    workers: int
    search_seed: int = 0
    rooms: int | None = None
    keep_plan: bool = False


class _Clock:
    """Notes when the first solution was there."""

    def __init__(self) -> None:
        self.begun, self.first = time.monotonic(), float("nan")

    def __call__(self, step: Step) -> None:
        if step.best is not None and self.first != self.first:
            self.first = time.monotonic() - self.begun


def answer(question: Question) -> dict[str, Any]:
    """Return what came of it: times, memory, plan, bounds."""
    job = suite_job(question.kind, question.pattern, question.seed, question.rooms)
    clock = _Clock()
    cpu = time.process_time()
    said = ""
    plan: Plan | None
    if question.method in METHODS:
        bare = bare_of(job)
        ready_s = time.monotonic() - clock.begun
        left = max(1.0, question.seconds - ready_s)
        solution, said = METHODS[question.method](bare, left, question.workers, question.search_seed)
        plan = None if solution is None else plan_of(bare, solution)
    else:
        first = question.method == FIRST
        stop = Stopper(None if first else question.seconds)
        with hands(1 if first else question.workers, None) as executor:
            settings = Settings(
                seed=question.search_seed,
                effort=0 if first else MOST_EFFORT,
                stop=stop,
                spent=stop.spent,
                progress=clock,
                executor=executor,
            )
            outcome = plan_job(job, settings)
        plan = outcome.plan
        if outcome.refusals:
            said = "; ".join(refusal.text for refusal in outcome.refusals[:3])
    seconds, cpu = time.monotonic() - clock.begun, time.process_time() - cpu
    row: dict[str, Any] = {
        **{key: value for key, value in asdict(question).items() if key != "keep_plan"},
        "rooms": len(job.rooms),
        "seconds": round(seconds, 2),
        "cpu_seconds": round(cpu, 2),
        "first_seconds": None if clock.first != clock.first else round(clock.first, 2),
        "peak_mib": round(_peak_kib() / 1024),
        "said": said,
    }
    if plan is not None and plan.by_the_rules:
        row |= figures(plan)
        if question.keep_plan:
            row["plan"] = dump_plan(plan)
    return row


def _peak_kib() -> int:
    """Return the peak memory of this process plus that of the largest of its workers, KiB (Linux)."""
    kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    return sum(resource.getrusage(kind).ru_maxrss for kind in kinds)


def figures(plan: Plan) -> dict[str, Any]:
    """Return what is compared of a plan of one material; roll in metres of its width, gaps as shares of the plan."""
    (part,) = plan.materials
    (material,) = plan.job.materials
    width = material.widths_nm[0]
    levels = {bound.level: bound for bound in part.bounds}
    first = part.bounds[0]
    area = MaterialBounds(plan.job, material).area()
    hand = part.by_hand
    return {
        "ordered_m": round(part.measures.roll_nm2 / width / 1e9, 3),
        "used_m": round(levels["used"].attained / width / 1e9, 3),
        "seams": part.measures.seams + part.measures.cross_seams + part.measures.relief_cuts + part.measures.joins,
        "cuts": part.measures.cuts,
        "level": first.level,
        "value_m": round(first.attained / width / 1e9, 3),
        "bound_m": round(first.value / width / 1e9, 3),
        "gap": _gap(first),
        "gap_ordered": _gap(levels["roll"]),
        "gap_used": _gap(levels["used"]),
        "area_below": round(1 - area.value / max(1, part.measures.roll_nm2), 4),
        "active": first.cut or ("search" if first.certificate is None else first.certificate.kind),
        "considered_m": round(part.bound_considered / width / 1e9, 3),
        "proved": first.proved,
        "stop": part.stop,
        "hand_m": None if hand is None else round(sum(n for _, n in hand.ordered_nm) / 1e9, 3),
        "hand_seams": None if hand is None else hand.seams,
    }


def _gap(bound: Bound) -> float:
    return round((bound.attained - bound.value) / max(1, bound.attained), 4)


if __name__ == "__main__":
    asked = Question(**json.load(sys.stdin))
    sys.stdout.write(json.dumps(answer(asked)) + "\n")
