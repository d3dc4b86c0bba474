"""Annealing in rounds: in every slot the temperature falls over cycles of more and more rounds.

A slot hands its scheme on from round to round until its cycle ends; the next cycle begins with what is best then. So
a long run has long cycles, and a short one ends with a cycle that is over.

A long run has slots more. They begin anew each time, from where the search began, for the same number of rounds: what
is best may lie in a valley that no warming up leads out of. With few pieces the options weigh more than the places; a
slot that stays hot to its end is what finds them, from the first round on.
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
FRESH = ("fresh", "anew")
FRESH_FROM = 10
"""The round from which there are the slots that begin anew."""
FEW_PIECES, FEW_HEAT, FEW_SOON = 12, (60_000, 1_500), (20_000, 2_000)
"""Up to so many pieces the first stays hot, and is there in the rounds before, too."""
SOME_PIECES, SOME_HEAT, SOME_ROUNDS, SOME_EFFORT = 40, (20_000, 150), 4, 105
"""Up to so many pieces they cool down as a cycle does, and there are two of them, as long as the models beside them."""
MOST_STARTS = 12
MANY_HEAT, MANY_ROUNDS = (60_000, 1_500), 12
EFFORT = 35
LOOKS_BY_PIECES = 1_000_000
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
    pieces = len(view.base.sequence) if view.base is not None else 0
    early, some = view.number < FRESH_FROM, pieces <= SOME_PIECES
    if early:
        heats, length = [FEW_SOON] if pieces <= FEW_PIECES else [], FRESH_FROM
    elif some:
        heats, length = [FEW_HEAT if pieces <= FEW_PIECES else SOME_HEAT, SOME_HEAT], SOME_ROUNDS
    else:
        heats, length = [MANY_HEAT], MANY_ROUNDS
    place = view.number if early else (view.number - FRESH_FROM) % length
    for k, (slot, heat) in enumerate(zip(FRESH, heats, strict=False), start=len(SLOTS)):
        scheme = view.handed_on.get(slot) if place else _begun_with(view, slot, length)
        errand = _errand(view, slot, 10 + k, heat, place, length, scheme)
        yield replace(errand, effort=SOME_EFFORT) if some and not early else errand


def _begun_with(view: View, slot: str, length: int) -> Scheme | None:
    """Return where a slot begins anew: the first where the search began, the second at starting schemes in turn.

    Which of these lies in the best valley shows only at the end.
    """
    if slot == FRESH[0]:
        return view.base
    schemes = list(islice(starting_schemes(view.ready), MOST_STARTS))
    return schemes[(view.number - FRESH_FROM) // length % len(schemes)] if schemes else view.base


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
