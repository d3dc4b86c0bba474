"""The rounds: which errands a round has, and who runs them.

A part of the search joins in with a `Kind` (errands.py), a planner in `PLANNERS` and a runner in `RUNNERS`.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.progress import Stop, never_stop
from nesting.search.cooling import annealings, run_annealing
from nesting.search.deciding import decide_errand, decisions
from nesting.search.errands import Errand, Kind, Outcome, Planner, Runner, View, better
from nesting.search.improving import Found, improve
from nesting.search.parts import is_big
from nesting.search.regions import regions, run_region
from nesting.search.scheme import Ready, Scheme
from nesting.search.skyline import is_settled, pack_errand, packs
from nesting.search.windows import run_whole, run_window, slots_in, whole_menu

MOST_PIECES = 40
"""Up to so many pieces to place, all choices are looked at in one model."""
MOST_SLOTS = 130
"""… as long as the options that are left have no more pieces than this in all."""


def run_errand(
    ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop = never_stop
) -> Outcome:
    """Run one errand from `best`; `base` is the scheme that changes start from when there is no solution yet."""
    return RUNNERS[errand.kind](ready, errand, best, base, stop)


def errands_of(view: View) -> list[Errand]:
    """Return the errands of a round: always the same for the same view."""
    if view.best is not None and is_big(view.ready) and not is_settled(view.ready):
        return list(regions(view))
    return [errand for planner in PLANNERS for errand in planner(view)]


def _models(view: View) -> Iterator[Errand]:
    """Yield the model over all choices in rounds 1, 2, 4, 8, …, each time with twice the effort, while it is small."""
    rounds = view.number + 1
    if is_settled(view.ready) and not view.proved:
        return  # packing finds more, and questions prove it
    if rounds & view.number == 0:
        menu = whole_menu(view.ready, view.prices, view.best)
        if is_small(view, menu):
            kind = Kind.LATER if view.proved else Kind.WHOLE
            yield Errand(kind=kind, seed=view.seed_of(0), effort=30 * rounds, menu=menu, bound=view.bound)


def is_small(view: View, menu: tuple[tuple[int, ...], ...]) -> bool:
    """Tell whether all choices with the options of `menu` go into one model."""
    pieces = len(view.base.sequence) if view.base else 0
    return pieces <= MOST_PIECES and slots_in(view.ready, menu) <= MOST_SLOTS


def _changes(view: View) -> Iterator[Errand]:
    """Yield the errands that change and improve what is best."""
    if is_settled(view.ready):
        return  # only the packing is open, which has errands of its own
    small = is_small(view, whole_menu(view.ready, view.prices, view.best))
    if view.proved and view.number == 0 and small:
        return
    if view.ready.instance.bench_cuts:
        yield Errand(kind=Kind.IMPROVE, seed=view.seed_of(1), effort=50)
    else:
        yield from annealings(view)
    if view.best is not None and len(view.ready.instance.choices) > 2:
        yield Errand(kind=Kind.WINDOW, seed=view.seed_of(2), effort=20)


def _run_improve(ready: Ready, errand: Errand, best: Found | None, base: Scheme | None, stop: Stop) -> Outcome:
    """Change the best scheme step by step."""
    scheme = best.scheme if best else base
    if scheme is None:
        return Outcome(found=None)
    found = improve(ready, scheme, errand.seed, steps_of(ready, errand.effort), stop)
    return Outcome(found=better(best, found))


def steps_of(ready: Ready, effort: int) -> int:
    """Return how many changes `effort` allows; each costs about the square of the pieces to place."""
    pieces = sum(
        min(len(c.options[o].pieces) for o in usable)
        for c, usable in zip(ready.instance.choices, ready.usable, strict=True)
    )
    return max(10, 1200 * effort // (10 + pieces * (4 + len(ready.instance.sources))))


PLANNERS: tuple[Planner, ...] = (_models, _changes, packs, decisions)
"""Asked in this order for the errands of a round; with equal costs the earlier errand's solution is taken."""

RUNNERS: dict[Kind, Runner] = {
    Kind.IMPROVE: _run_improve,
    Kind.ANNEAL: run_annealing,
    Kind.REGION: run_region,
    Kind.WINDOW: run_window,
    Kind.WHOLE: run_whole,
    Kind.LATER: run_whole,
    Kind.PACK: pack_errand,
    Kind.DECIDE: decide_errand,
}
