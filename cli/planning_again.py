"""The work behind `plan-again`: what to do now, and the plan of what is left, with what changed marked."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import click

from cli.asked import Search
from cli.planning import say_notices, say_refusals, see_that_it_can_be_a_folder, settings_of, sound_plan
from cli.results import results_of
from cli.running import EXIT_NO_PLAN, EXIT_STOPPED, EXIT_VIOLATIONS, Stopper
from cli.summary import summary_data, summary_lines
from nesting.domain.job import Job
from nesting.domain.plan import Plan
from nesting.domain.state import State
from nesting.errors import JobError
from nesting.estimating.again import Again, plan_again
from nesting.estimating.change_words import Step, step_lines, steps_of
from nesting.estimating.changes import changes_of
from nesting.estimating.front_pages import HAS_BEGUN
from nesting.files.job_file import read_job
from nesting.files.state_file import read_state
from nesting.files.writing import write_whole

STEPS = "what-now.txt"


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedAgain(Search):
    """The argument and the options of `plan-again`."""

    plan_file: Path
    state: Path | None
    job: Path | None


def plan_again_to_folder(asked: AskedAgain, stopper: Stopper) -> int:
    """Plan what is left of a job that has begun and write everything that comes out; return the exit code."""
    out = asked.out or asked.plan_file.parent.with_name(f"{asked.plan_file.absolute().parent.name}-again")
    see_that_it_can_be_a_folder(out)
    plan = sound_plan(asked.plan_file)
    if plan is None:
        return EXIT_VIOLATIONS
    state = State() if asked.state is None else read_state(asked.state, plan)
    with settings_of(asked, stopper) as settings:
        try:
            found = plan_again(plan, state, _job(asked), settings)
        except JobError as error:
            file = str(asked.state or asked.plan_file)
            raise JobError([fault if fault.file else replace(fault, file=file) for fault in error.faults]) from None
    say_notices(found.notices, quiet=asked.quiet)
    say_refusals(asked.job or asked.plan_file, found.refusals)
    if found.plan is None:
        return EXIT_NO_PLAN
    _write(asked, out, found, found.plan)
    return EXIT_STOPPED if stopper.by_hand else 0


def _job(asked: AskedAgain) -> Job | None:
    """Return the job as it is now, if it is given."""
    if asked.job is None:
        return None
    read = read_job(asked.job)
    say_notices(read.notices, quiet=asked.quiet)
    return read.job


def _write(asked: AskedAgain, out: Path, found: Again, plan: Plan) -> None:
    """Write the plan, with what changed marked, and say what to do now."""
    changes = changes_of(found.before, plan, found.remade)
    steps = steps_of(plan.job, changes)
    lines = step_lines(steps)
    files = results_of(plan, changed=changes.changed, change=changes.column(), now=lines, no_front=HAS_BEGUN)
    write_whole(out, {STEPS: "\n".join(lines) + "\n"} | files)
    if asked.as_json:
        data = {"steps": [_step_data(step) for step in steps], **summary_data(plan)}
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    elif not asked.quiet:
        click.echo("\n".join(["What to do now", *(f"  {line}" for line in step_lines(steps)), ""]))
        click.echo("\n".join(summary_lines(plan)))
        click.echo(f"\nchecked; written to {out}")


def _step_data(step: Step) -> dict[str, object]:
    """Return a step as plain data: cuts by id, goods by id."""
    data = asdict(step)
    return data | {"kind": step.kind.value, "cuts": list(step.cuts)}
