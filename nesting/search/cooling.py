"""Annealing in rounds: in every slot the temperature falls over cycles of more and more rounds.

A slot hands its scheme on from round to round until its cycle ends; the next cycle begins with what is best then. So
a long run has long cycles, and a short one ends with a cycle that is over.

A long run has a slot more. It begins anew each time, from where the search began, hotter and for the same number of
rounds: what is best may lie in a valley that no warming up leads out of.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.progress import Stop
from nesting.search.errands import Errand, Kind, Outcome, View, better
from nesting.search.improving import Found
from nesting.search.scheme import Ready, Scheme

SLOTS = {"hot": (20_000, 150), "mild": (1_500, 30)}
"""Where the temperature of a cycle begins and ends, in millionths of what all pieces take of the goods."""
FRESH, FRESH_HEAT = "fresh", (60_000, 1_500)
FRESH_FROM, FRESH_ROUNDS = 10, 12
"""The round from which there is the slot that begins anew, and how many rounds it takes each time."""
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
    for k, (slot, heat) in enumerate(SLOTS.items()):
        yield _errand(view, slot, 10 + k, heat, place, length, view.handed_on.get(slot) if place else None)
    if view.number >= FRESH_FROM:
        place = (view.number - FRESH_FROM) % FRESH_ROUNDS
        scheme = view.handed_on.get(FRESH) if place else view.base
        yield _errand(view, FRESH, 10 + len(SLOTS), FRESH_HEAT, place, FRESH_ROUNDS, scheme)


def _errand(
    view: View, slot: str, number: int, heat: tuple[int, int], place: int, length: int, scheme: Scheme | None
) -> Errand:
    """Return the errand of a slot in the round at `place` of a cycle of `length` rounds."""
    hot, cold = heat
    start, end = (round(hot * (cold / hot) ** (step / length)) for step in (place, place + 1))
    return Errand(
        kind=Kind.ANNEAL, seed=view.seed_of(number), effort=EFFORT, slot=slot, scheme=scheme, heat=(start, end)
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
