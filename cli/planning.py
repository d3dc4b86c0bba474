"""The work behind the commands that plan, check and draw."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from cli.asked import Asked, Search, hands
from cli.pins import contradiction_data, contradiction_lines, costs_data, costs_lines
from cli.results import RECORDS, drawn, results_of
from cli.running import EXIT_NO_PLAN, EXIT_STOPPED, EXIT_VIOLATIONS, Stopper
from cli.summary import summary_data, summary_lines
from nesting.checker import check_plan
from nesting.domain.job import Job
from nesting.domain.plan import Notice, Outcome, Plan, Refusal
from nesting.drawing.drawings import sheets_of
from nesting.errors import Fault, JobError
from nesting.estimating.front_pages import quick_look
from nesting.estimating.pinned import Contradiction, PinCosts, contradictions, pin_costs
from nesting.files.job_file import read_job, starter_job
from nesting.files.names import slug
from nesting.files.plan_file import load_plan
from nesting.files.writing import write_new, write_whole
from nesting.pipeline import Settings, plan_job
from nesting.progress import Step


@contextmanager
def settings_of(asked: Search, stopper: Stopper) -> Iterator[Settings]:
    """Yield how a command searches, with whoever runs the errands, as long as they are there."""
    with hands(asked.workers, asked.scheduler) as executor:
        yield Settings(
            effort=asked.effort,
            seed=asked.seed,
            stop=stopper,
            spent=stopper.spent,
            progress=Reporter(quiet=asked.quiet),
            executor=executor,
        )


def plan_to_folder(asked: Asked, stopper: Stopper) -> int:
    """Plan the job and write everything that comes out; return the exit code."""
    out = asked.out or Path(asked.job.stem)
    see_that_it_can_be_a_folder(out)
    read = read_job(asked.job, asked.pins)
    say_notices(read.notices, quiet=asked.quiet)
    job = read.job if asked.rack is None else _with_rack(asked, read.job)
    earlier = load_plan(asked.earlier) if asked.earlier is not None else None
    say_notices(_begun(earlier), quiet=asked.quiet)
    with settings_of(asked, stopper) as settings:
        # A fixed lay is a pin, and the pins are asked about next.
        settings = replace(settings, start=earlier, least_gain=asked.gain, lay_costs=False)
        outcome = plan_job(job, settings)
        again = replace(settings, start=None)
        costs = pin_costs(outcome.plan, again) if outcome.plan is not None and not outcome.refusals else ()
        against = contradictions(job, again) if outcome.refusals and not stopper() else ()
        files = {} if outcome.plan is None else _files(outcome.plan, again)
    code = _written(asked, out, outcome, files, costs, against)
    return EXIT_STOPPED if code == 0 and stopper.by_hand else code


def _with_rack(asked: Asked, job: Job) -> Job:
    """Return the job with what is free on the shop's rack, and what the job holds already, beside its own stock."""
    from cli.racking import where_is
    from nesting.shop import open_rack
    from nesting.shop.offering import Money

    odd = [material.id for material in job.materials if material.id != slug(material.id)]
    if odd:
        what = f"the rack knows no ids like {', '.join(odd)}"
        hint = f"write lower-case letters, digits and hyphens: `id: {slug(odd[0])}`"
        raise JobError([Fault(code="bad-id", what=what, hint=hint, file=str(asked.job), where="materials")])
    with open_rack(where_is(asked.rack)) as rack:
        money = Money(currency=job.currency, coin_per_unit=job.coin_per_unit)
        offered = rack.stock_pieces(job.materials, job=job.name, sizes_nm=job.offcuts.sizes_nm, money=money)
    own = {piece.id.casefold() for piece in job.stock}
    twice = [piece.id for piece in offered if piece.id.casefold() in own]
    if twice:
        what = f"these stand in the job file and on the rack: {', '.join(twice)}"
        hint = "leave them out of `stock`: the rack offers them"
        raise JobError([Fault(code="id-twice", what=what, hint=hint, file=str(asked.job), where="stock")])
    if not asked.quiet:
        click.echo(f"rack: {len(offered)} piece{'s' if len(offered) != 1 else ''} of these materials free", err=True)
    return replace(job, stock=(*job.stock, *offered))


def is_rack(where: str) -> bool:
    """Tell whether a file or a URL is a rack rather than a plan."""
    if "://" in where:
        return True
    path = Path(where)
    try:
        with path.open("rb") as stream:
            return stream.read(16) == b"SQLite format 3\0"
    except OSError:
        return False


def _begun(earlier: Plan | None) -> Iterator[Notice]:
    """Yield that something of an earlier plan is cut, which planning anew knows nothing of."""
    done = 0 if earlier is None else len(earlier.job.done)
    if done:
        cuts = f"{done} cut{'s' if done > 1 else ''} of the earlier plan {'are' if done > 1 else 'is'} made"
        text = f"{cuts}, and here all is planned anew: `plan-again` plans what is left"
        yield Notice(code="has-begun", text=text)


def _files(plan: Plan, settings: Settings) -> dict[str, str]:
    """Return every file that a plan is written to, with a quick look at the trade-off on its page."""
    fronts, why_not = quick_look(plan, settings)
    return results_of(plan, fronts=fronts, no_front=why_not)


def _written(
    asked: Asked,
    out: Path,
    outcome: Outcome,
    files: Mapping[str, str],
    costs: Sequence[PinCosts],
    against: Sequence[Contradiction],
) -> int:
    """Write everything that comes out and say so; return the exit code."""
    say_refusals(asked.job, outcome.refusals)
    for line in contradiction_lines(asked.job, against):
        click.echo(line, err=True)
    if outcome.plan is not None:
        write_whole(out, files)
    if asked.as_json:
        pins = {
            "pins": {item.material_id: costs_data(item) for item in costs},
            "contradicting_pins": [contradiction_data(item) for item in against],
        }
        click.echo(json.dumps(_outcome_data(outcome) | pins, indent=2, ensure_ascii=False))
    elif outcome.plan is not None and not asked.quiet:
        said = {item.material_id: costs_lines(outcome.plan.job, item) for item in costs}
        click.echo("\n".join(summary_lines(outcome.plan, said)))
        click.echo(f"\nchecked; written to {out}")
    return EXIT_NO_PLAN if outcome.refusals or outcome.plan is None else 0


def say_notices(notices: Iterable[Notice], *, quiet: bool) -> None:
    """Say on stderr what the reader of the job has to say."""
    for notice in () if quiet else notices:
        click.echo(f"note: {notice.room_id + ': ' if notice.room_id else ''}{notice.text}", err=True)


def say_refusals(job: Path, refusals: Iterable[Refusal]) -> None:
    """Say on stderr why there is no plan by the rules."""
    for refusal in refusals:
        place = f"{job}:{refusal.line}" if refusal.line else str(job)
        click.echo(f"no plan by the rules: {place}: {refusal.owner}: {refusal.text} [{refusal.rule.value}]", err=True)


def see_that_it_can_be_a_folder(out: Path) -> None:
    """Refuse a file where the results are to go, before any time is spent."""
    for path in (out, *out.parents):
        if path.exists():
            if not path.is_dir():
                hint = "give the name of a folder with --out"
                raise JobError([Fault(code="not-a-folder", what="this is a file", file=str(path), hint=hint)])
            return


def _outcome_data(outcome: Outcome) -> dict[str, Any]:
    refusals = [
        {"owner": item.owner, "rule": item.rule.value, "text": item.text, "by_nm": item.by_nm, "line": item.line}
        for item in outcome.refusals
    ]
    return {"refusals": refusals, **(summary_data(outcome.plan) if outcome.plan is not None else {})}


class Reporter:
    """Says on stderr what is going on, one line a material and change."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet
        self._last: dict[str, str] = {}

    def __call__(self, step: Step) -> None:
        """Echo the step unless it says nothing new."""
        gap = ""
        if step.best is not None and step.bound is not None and step.best > 0:
            gap = f", within {max(0, step.best - step.bound) / step.best:.1%} of the bound so far"
        line = f"{step.material_id}: {step.what}{gap}"
        if not self._quiet and line != self._last.get(step.material_id):
            self._last[step.material_id] = line
            click.echo(line, err=True)


def check_file(plan_file: Path, *, as_json: bool, quiet: bool) -> int:
    """Prove a plan file again; return the exit code."""
    plan = load_plan(plan_file)
    violations = check_plan(plan)
    if as_json:
        rows = [{"rule": item.rule, "where": item.where, "text": item.text} for item in violations]
        click.echo(json.dumps({"violations": rows, "by_the_rules": plan.by_the_rules}, indent=2, ensure_ascii=False))
    elif violations:
        for item in violations:
            click.echo(f"{item.rule} {item.where}: {item.text}")
    elif not quiet:
        click.echo("sound" if plan.by_the_rules else "sound, but NOT BY THE RULES: see its consents")
    return EXIT_VIOLATIONS if violations else 0


def sound_plan(plan_file: Path) -> Plan | None:
    """Return the plan of a file if the checker passes it; else say what is wrong with it."""
    plan = load_plan(plan_file)
    violations = check_plan(plan)
    if violations:
        more = f" (and {len(violations) - 1} more)" if len(violations) > 1 else ""
        first = violations[0]
        click.echo(f"error: the plan is not sound: {first.rule} {first.where}: {first.text}{more}", err=True)
        return None
    return plan


def draw_file(plan_file: Path, out: Path, *, mirrored: bool = False, packet: bool = False, quiet: bool) -> int:
    """Draw a plan file again, after the checker has passed it; return the exit code.

    `packet`: everything else that a plan is written to as well.
    """
    see_that_it_can_be_a_folder(out)
    plan = sound_plan(plan_file)
    if plan is None:
        return EXIT_VIOLATIONS
    drawings = drawn(plan, sheets_of(plan, mirrored=mirrored), mirrored=mirrored)
    write_whole(out, results_of(plan) | drawings if packet else drawings, keep=RECORDS)
    if not quiet:
        more = ", with the packet, the labels and the lists" if packet else ""
        click.echo(f"{len(drawings)} drawings written to {out}{more}")
    return 0


def write_starter(job: Path | None, unit: str) -> int:
    """Write the starter job, or print it; return the exit code."""
    text = starter_job(unit)
    if job is None:
        click.echo(text, nl=False)
        return 0
    write_new(job, text)
    click.echo(f"written to {job}")
    return 0
