"""Annealing in rounds: in every slot the temperature falls over cycles of more and more rounds.

A slot hands its scheme on from round to round until its cycle ends; the next cycle begins with what is best then. So
a long run has long cycles, and a short one ends with a cycle that is over.

A long run has slots more. They begin anew each time, from where the search began or where it might have, for the same
number of rounds: what is best may lie in a valley that no warming up leads out of. With few pieces the options weigh
more than the places; a slot that stays hot is what finds them, from the first round on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from nesting.progress import Stop
from nesting.search.errands import Errand, Kind, Outcome, View, better
from nesting.search.improving import Found
from nesting.search.scheme import Ready, Scheme
from nesting.search.starting import starting_schemes

SLOTS = {"hot": (20_000, 150), "mild": (1_500, 30)}
"""Where the temperature of a cycle begins and ends, in millionths of what all pieces take of the goods."""
FRESH, FRESH_HEAT = "fresh", (60_000, 1_500)
FRESH_FROM, FRESH_ROUNDS = 10, 12
"""The round from which there are the slots that begin anew, and how many rounds the first takes each time."""
FEW_PIECES, FEW_HEAT = 12, (20_000, 2_000)
"""Up to so many pieces that one is there in the rounds before, too, with this heat."""
ANEW, ANEW_PIECES, ANEW_ROUNDS, ANEW_EFFORT = "anew", 40, 4, 105
"""With more, up to so many, there is a second, which cools down as a cycle does, in fewer rounds that do more."""
MOST_STARTS = 12
EFFORT = 35
LOOKS_BY_PIECES = 300_000
"""What an errand from the best spends at most, for the square of the pieces: few pieces need no long search."""


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
    pieces = len(view.base.sequence) if view.base is not None else 0
    if view.number < FRESH_FROM:
        if pieces <= FEW_PIECES:
            scheme = view.handed_on.get(FRESH) if view.number else view.base
            yield _errand(view, FRESH, 10 + len(SLOTS), FEW_HEAT, view.number, FRESH_FROM, scheme)
        return
    number = view.number - FRESH_FROM
    scheme = view.handed_on.get(FRESH) if number % FRESH_ROUNDS else view.base
    yield _errand(view, FRESH, 10 + len(SLOTS), FRESH_HEAT, number % FRESH_ROUNDS, FRESH_ROUNDS, scheme)
    if FEW_PIECES < pieces <= ANEW_PIECES:
        epoch, place = divmod(number, ANEW_ROUNDS)
        scheme = view.handed_on.get(ANEW) if place else _start(view, epoch)
        errand = _errand(view, ANEW, 11 + len(SLOTS), SLOTS["hot"], place, ANEW_ROUNDS, scheme)
        yield replace(errand, effort=ANEW_EFFORT)


def _start(view: View, number: int) -> Scheme | None:
    """Return one starting scheme after another: which of them lies in the best valley shows only at the end."""
    schemes = list(islice(starting_schemes(view.ready), MOST_STARTS))
    return schemes[number % len(schemes)] if schemes else view.base


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
    looks = LOOKS_PER_UNIT * errand.effort // 100
    if errand.slot in SLOTS:
        looks = min(looks, LOOKS_BY_PIECES * len(scheme.sequence) ** 2)
    heat = Heat(start=errand.heat[0], end=errand.heat[1])
    run = annealed(ready, scheme, errand.seed, looks, heat, stop)
    return Outcome(found=better(best, run.found), scheme=run.scheme)
