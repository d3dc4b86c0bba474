"""A suite of whole jobs of our own: rooms with doors, L shapes, zones and halls, remnants, loose pieces; seeded.

    python -m benchmarks.suite_jobs --write DIR [--kinds flat,house] [--patterns plain] [--seed K]

writes every job as a file that `rollwright plan` takes. A job is made as the text of its file and read like any other,
so that what is measured is what a user would get.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from random import Random

import click

from benchmarks.suite_kinds import KINDS, Drawn
from nesting.domain.job import Job
from nesting.files.job_file import parse_job
from nesting.files.writing import write_whole

PATTERNS = ("plain", "straight", "half-drop")


@dataclass(frozen=True, slots=True, kw_only=True)
class Goods:
    """The lines of a material: those of its kind, and what each pattern adds."""

    width: int
    lines: tuple[str, ...]
    plain: tuple[str, ...]
    straight: tuple[str, ...]
    half_drop: tuple[str, ...]

    def of(self, pattern: str) -> tuple[str, ...]:
        """Return all lines for goods with this pattern."""
        more = {"plain": self.plain, "straight": self.straight, "half-drop": self.half_drop}[pattern]
        return (f"width: {self.width}", *self.lines, *more)


def _repeat(across: int | None, along: int, match: str, *more: str) -> tuple[str, ...]:
    """Return the lines of a pattern; `across` None: known only by its match at the side seam."""
    across_lines = () if across is None else (f"repeat across: {across}",)
    return (*across_lines, f"repeat along: {along}", f"match: {match}", *more)


GOODS = {
    "cottage": Goods(
        width=4000,
        lines=("longest: 30 m", "order step: 10 cm", "price: 46.00 per m"),
        plain=("seam overlap: 20", "directed: no"),
        straight=_repeat(800, 480, "straight"),
        half_drop=_repeat(800, 640, "half-drop"),
    ),
    "flat": Goods(
        width=4000,
        lines=("longest: 30 m", "order step: 10 cm", "price: 46.00 per m"),
        plain=("seam overlap: 20", "directed: no"),
        straight=_repeat(500, 640, "straight"),
        half_drop=_repeat(800, 600, "half-drop"),
    ),
    "house": Goods(
        width=144,
        lines=("longest: 100 ft", "order step: 3 in", "price: 21.00 per ft"),
        plain=("directed: no",),
        straight=_repeat(18, 36, "straight"),
        half_drop=_repeat(18, 36, "half-drop", "drop counts: at the seam"),
    ),
    "clinic": Goods(
        width=2000,
        lines=("longest: 25 m", "order step: 10 cm", "price: 24.00 per m2", "weight: 2.9 kg/m2"),
        plain=("seam overlap: 20", "directed: no"),
        straight=_repeat(None, 500, "straight"),
        half_drop=_repeat(None, 640, "half-drop"),
    ),
    "school": Goods(
        width=2000,
        lines=("longest: 30 m", "order step: 10 cm", "price: 27.00 per m2", "directed: no"),
        plain=(),
        straight=_repeat(None, 500, "straight"),
        half_drop=_repeat(None, 500, "half-drop"),
    ),
    "hotel": Goods(
        width=4000,
        lines=("longest: 40 m", "order step: 10 cm", "price: 88.00 per m"),
        plain=(),
        straight=_repeat(1000, 980, "straight"),
        half_drop=_repeat(800, 640, "half-drop"),
    ),
    "tower": Goods(
        width=4000,
        lines=("longest: 40 m", "order step: 10 cm", "price: 41.00 per m"),
        plain=("seam overlap: 20", "directed: no"),
        straight=_repeat(400, 500, "straight"),
        half_drop=_repeat(800, 600, "half-drop"),
    ),
}


def job_text(kind: str, pattern: str, seed: int = 1, rooms: int | None = None) -> str:
    """Return the job file of a suite job; `rooms`: about so many instead of what the kind has."""
    chance = Random(f"{kind} {seed}")  # the same rooms with every pattern
    drawn = KINDS[kind](chance, rooms)
    goods = GOODS[kind]
    lines = [f"job: {title(kind, pattern, seed)}", f"unit: {drawn.unit}", f"trim: {drawn.trim}", "currency: EUR"]
    lines += ["materials:", "  - name: Sheet", "    id: sheet", *(f"    {line}" for line in goods.of(pattern))]
    if drawn.matches and pattern != "plain":
        lines += ["match:", *(f"  - [{', '.join(names)}]" for names in drawn.matches)]
    lines += ["stock:", *_stock(chance, drawn, goods, pattern)]
    lines += ["rooms:", *(line for room in drawn.rooms for line in room.text())]
    if drawn.loose:
        lines += ["loose pieces:", *(f"  - {{{entry}}}" for entry in drawn.loose)]
    return "\n".join(lines) + "\n"


def title(kind: str, pattern: str, seed: int) -> str:
    """Return what a suite job is called."""
    return f"{kind}, {pattern}, {seed}"


def suite_job(kind: str, pattern: str, seed: int = 1, rooms: int | None = None) -> Job:
    """Return a suite job as read from its file."""
    return parse_job(job_text(kind, pattern, seed, rooms), file=title(kind, pattern, seed)).job


def _stock(chance: Random, drawn: Drawn, goods: Goods, pattern: str) -> list[str]:
    """Return the remnants on the rack: one for every five or six rooms, but no more than a shop has room for."""
    count = max(1, min(24, len(drawn.rooms) // 5))
    metre = 1000 if drawn.unit == "mm" else 39
    lines = []
    for number in range(count):
        width = goods.width * chance.choice((2, 3, 4, 4)) // 4
        length = chance.randrange(3 * metre // 2, 5 * metre, metre // 20)
        entry = f"id: R-{number + 1}, width: {width}, length: {length}"
        entry += chance.choice(("", ", lot: K 12", ", lot: K 12", ", lot: M 7"))
        if chance.random() < 0.2:
            flaw = f"from start: {length // 3}, from left: {width // 4}, size: {metre // 10} x {metre // 20}"
            entry += f", flaws: [{{{flaw}}}]"
        elif pattern != "plain" and chance.random() < 0.5:
            entry += f', first mark: "{metre // 10} across, {metre // 5} along"'
        lines.append(f"  - {{{entry}}}")
    return lines


def job_names(kinds: tuple[str, ...] = (), patterns: tuple[str, ...] = ()) -> list[tuple[str, str]]:
    """Return the (kind, pattern) pairs of the suite, all or those asked for, in the suite's order."""
    return [(kind, pattern) for kind in kinds or tuple(KINDS) for pattern in patterns or PATTERNS]


def chosen(value: str, known: tuple[str, ...], what: str) -> tuple[str, ...]:
    """Return the names in a comma-separated list; click's usage error if one is unknown."""
    names = tuple(name.strip() for name in value.split(",") if name.strip())
    for name in names:
        if name not in known:
            raise click.UsageError(f"there is no {what} {name!r}: one of {', '.join(known)}")
    return names


@click.command()
@click.option("--write", "folder", type=click.Path(path_type=Path), required=True, help="Folder for the job files.")
@click.option("--kinds", default="", help="Only these kinds, separated by commas.")
@click.option("--patterns", default="", help="Only these patterns, separated by commas.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True)
def main(folder: Path, kinds: str, patterns: str, seed: int) -> None:
    """Write the jobs of the suite as job files."""
    names = job_names(chosen(kinds, tuple(KINDS), "kind"), chosen(patterns, PATTERNS, "pattern"))
    write_whole(folder, {f"{kind}-{pattern}.yaml": job_text(kind, pattern, seed) for kind, pattern in names})
    click.echo(f"{len(names)} jobs written to {folder}")


if __name__ == "__main__":
    main()
