"""The work behind `why`: a plan's account of the goods, and what its rules and rooms cost."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import click

from cli.asked import Search
from cli.planning import see_that_it_can_be_a_folder, settings_of, sound_plan
from cli.running import EXIT_STOPPED, EXIT_VIOLATIONS, Stopper
from cli.why_maps import why_maps
from cli.why_page import why_data, why_lines
from nesting.estimating.why import why
from nesting.files.writing import write_whole


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedWhy(Search):
    """The argument and the options of `why`."""

    plan_file: Path


class _Everything:
    """What is not taken away: the maps are written beside what is there."""

    def __contains__(self, name: object) -> bool:
        """Tell that it is in."""
        return True


def say_why(asked: AskedWhy, stopper: Stopper) -> int:
    """Say why a plan costs the roll that it costs, after the checker has passed it; return the exit code."""
    if asked.out is not None:
        see_that_it_can_be_a_folder(asked.out)
    plan = sound_plan(asked.plan_file)
    if plan is None:
        return EXIT_VIOLATIONS
    with settings_of(asked, stopper) as settings:
        found = why(plan, settings)
    if asked.out is not None:
        write_whole(asked.out, why_maps(plan, found), keep=_Everything())
    if asked.as_json:
        data = why_data(plan, found, seed=asked.seed, effort=asked.effort)
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    elif not asked.quiet:
        click.echo("\n".join(why_lines(plan, found)))
    return EXIT_STOPPED if stopper.by_hand else 0
