"""Annealing in rounds: in every slot the temperature falls over cycles of more and more rounds.

A slot hands its scheme on from round to round until its cycle ends; the next cycle begins with what is best then. So
a long run has long cycles, and a short one ends with a cycle that is over.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.progress import Stop
from nesting.search.errands import Errand, Kind, Outcome, View, better
from nesting.search.improving import Found
from nesting.search.scheme import Ready, Scheme

SLOTS = {"hot": (20_000, 150), "mild": (1_500, 30)}
"""Where the temperature of a cycle begins and ends, in millionths of what all pieces take of the goods."""
EFFORT = 35
LOOKS_BY_PIECES = 300_000
"""What an errand spends at most, for the square of the pieces: few pieces need no long search."""


def cycle_of(number: int) -> tuple[int, int]:
    """Return the place of a round in its cycle and the cycle's length: 1, 3, 6, 12, 24, … rounds."""
    length = 1
    while number >= length:
        number -= length
        length = 3 if length == 1 else 2 * length
    return number, length


def annealings(view: View) -> Iterator[Errand]:
    """Yield one errand a slot."""
    place, length = cycle_of(view.number)
    for k, (slot, (hot, cold)) in enumerate(SLOTS.items()):
        heat = [round(hot * (cold / hot) ** (step / length)) for step in (place, place + 1)]
        yield Errand(
            kind=Kind.ANNEAL,
            seed=view.seed_of(10 + k),
            effort=EFFORT,
            slot=slot,
            scheme=view.handed_on.get(slot) if place else None,
            heat=(heat[0], heat[1]),
        )


def run_annealing(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Anneal from the scheme handed on, else from the best, else from the base."""
    from nesting.search.islands import LOOKS_PER_UNIT, Heat, annealed  # not waited for before a first plan

    scheme = errand.scheme or (best.scheme if best else base)
    if scheme is None:
        return Outcome(found=None)
    looks = min(LOOKS_PER_UNIT * errand.effort // 100, LOOKS_BY_PIECES * len(scheme.sequence) ** 2)
    heat = Heat(start=errand.heat[0], end=errand.heat[1])
    run = annealed(ready, scheme, errand.seed, looks, heat, stop)
    return Outcome(found=better(best, run.found), scheme=run.scheme)
