"""Errands that ask whether a first level below the best is possible: their answers raise the bound, or beat the best.

Two questions are asked in a round. The *top* one asks for the least improvement of what is best: "no" is the proof.
The *middle* one halves the gap between the bound and the best, and goes down when its question stays open.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.model.deciding import FIRST, SECOND, decide
from nesting.model.menus import sparing
from nesting.model.variables import Task
from nesting.progress import Stop
from nesting.search.errands import Errand, Kind, Outcome, View, better
from nesting.search.improving import Found, scheme_of
from nesting.search.least import attainable, worthwhile
from nesting.search.scheme import Ready, Scheme
from nesting.search.skyline import is_settled
from nesting.search.windows import caps_of, limit_of, slots_in

MOST_PIECES = 60
"""Up to so many pieces to place the questions are asked …"""
MOST_SLOTS = 160
"""… as long as the options that are left have no more pieces than this in all."""
SHORT, SHORT_ROUNDS, LONG = 25, 8, 150
"""Effort of a question for each round so far: a run of the usual effort has none that outlasts the rest of it."""
TOP, MIDDLE = "top question", "middle question"


def decisions(view: View) -> Iterator[Errand]:
    """Yield the questions in rounds 1, 2, 4, 8, …, each time with twice the effort, while the first level is open."""
    rounds = view.number + 1
    if view.best is None or view.proved or rounds & view.number:
        return
    if sum(len(spots) for spots in view.best.solution.spots) > MOST_PIECES:
        return
    level = view.best.value.levels[0] - 1
    menu = sparing(view.ready.instance, worthwhile(view.ready, view.prices, level))
    if slots_in(view.ready, menu) > MOST_SLOTS:
        return
    # Where only the packing is open, packing finds more than asking: one question at a time, and shorter.
    settled = is_settled(view.ready)
    for place, slot in enumerate((TOP, MIDDLE)):
        if settled and place != rounds.bit_length() % 2:
            continue
        yield Errand(
            kind=Kind.DECIDE,
            seed=view.seed_of(20 + 2 * place),
            effort=(50 if settled else SHORT if rounds <= SHORT_ROUNDS else LONG) * rounds,
            menu=menu,
            bound=view.bound,
            slot=slot,
        )


def decide_errand(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Ask the questions of one slot until its effort is spent, or bound and best meet."""
    del base
    if best is None:
        return Outcome(found=None)
    instance = ready.instance
    low, open_from, limit = errand.bound, best.value.levels[0], limit_of(errand)
    found = best
    left = limit
    while low < found.value.levels[0] and left > limit / 50 and not stop():
        level = _asked(errand.slot, low, found.value.levels[0], open_from)
        task = Task(menu=errand.menu, caps=caps_of(instance, level))
        way, second = (FIRST, SECOND) if errand.slot == TOP else (SECOND, FIRST)
        share = left if errand.slot == TOP else left / 2
        verdict = decide(
            instance, task, level, way=way, second=second, seed=errand.seed, limit=max(share, limit / 8), stop=stop
        )
        left -= verdict.spent
        if verdict.possible is False:
            low = max(low, attainable(ready, level + 1))
        elif verdict.solution is not None and verdict.value is not None:
            found = better(found, Found(verdict.solution, verdict.value, scheme_of(ready, verdict.solution))) or found
            open_from = min(open_from, found.value.levels[0])
        elif errand.slot == TOP or level <= low:
            break
        else:
            open_from = level
    return Outcome(found=found, bound=low if low > errand.bound else None)


def _asked(slot: str, low: int, high: int, open_from: int) -> int:
    """Return the level that is asked for: one below the best, or halfway up to what is open."""
    return high - 1 if slot == TOP else max(low, min((low + open_from) // 2, high - 1))
