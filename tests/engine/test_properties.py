"""What holds of every run: no faults, bounds below values, and the same answer to the same question."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.model.instance import Choice, Instance, Lattice, Option, OrderTerms, Piece, Solution, Spot, Worth
from nesting.model.valuing import faults_of, value_of
from nesting.search.engine import solve
from tests.engine.making import LEAST_ROLL, boxes, hand, instance, one_way, order, rect


@st.composite
def instances(draw: st.DrawFn) -> Instance:
    """Tiny instances with everything in them that instances can have."""
    along = draw(st.integers(2, 8))
    across = draw(st.sampled_from([None, 3, 4, 7]))
    lattice = draw(
        st.sampled_from(
            [None, Lattice(along=along, across=across, drop=draw(st.integers(0, along - 1)) if across else 0)]
        )
    )
    choices = []
    for number in range(draw(st.integers(1, 4))):
        group = draw(st.sampled_from([None, number, 0]))
        options = []
        for _ in range(draw(st.integers(1, 3))):
            pieces: list[Piece] = []
            for k in range(draw(st.integers(1, 3))):
                w, h = draw(st.integers(1, 8)), draw(st.integers(1, 8))
                parts = ((0, 0, w, h),)
                if w > 1 and h > 1 and draw(st.booleans()):
                    parts = ((0, 0, w, 1), (0, 1, draw(st.integers(1, w - 1)), h))
                offset = (draw(st.integers(-9, 9)), draw(st.integers(-9, 9)))
                turns = (0,) if group is not None else draw(st.sampled_from([(0,), (0, 2), (0, 1, 2, 3)]))
                inset = draw(st.integers(0, 1)) if turns != (0, 1, 2, 3) else 0
                pieces.append(boxes(f"{number}-{k}", *parts, group=group, offset=offset, turns=turns, inset_left=inset))
            options.append(
                Option(
                    pieces=tuple(pieces),
                    seams=len(pieces) - 1,
                    order_width=draw(st.sampled_from([None, 8])),
                    order=((0, 1),) if len(pieces) == 2 and draw(st.booleans()) else (),
                )
            )
        choices.append(Choice(id=f"{number}", options=tuple(options), lot_group=draw(st.sampled_from([None, number]))))
    sources = [
        order(8, 90, f"order {k}", terms=OrderTerms(step=draw(st.sampled_from([1, 3])), start=1, anchor_along=along))
        for k in range(2)
    ]
    for k in range(draw(st.integers(0, 2))):
        flaw = ((2, 3, 4, 5),) if draw(st.booleans()) else ()
        phase = draw(st.sampled_from([None, (1, 1)]))
        sources.append(
            hand(
                f"hand {k}",
                draw(st.integers(4, 9)),
                draw(st.integers(5, 12)),
                blocked=flaw,
                phase=phase,
                loss=(across or 0, along),
                lot=draw(st.sampled_from(["", "new"])),
                worth=draw(st.sampled_from([None, Worth(keep_from=4, small=30), Worth(begun=2, small=12)])),
            )
        )
    if draw(st.integers(0, 2)) == 0:  # goods that are named
        names = [source.id for source in sources]
        choices = [
            replace(choice, sources=draw(st.sampled_from([None, frozenset(names[2:]), frozenset(names[-1:])])))
            for choice in choices
        ]
        choices = [
            choice if choice.sources is None or choice.sources else replace(choice, sources=None) for choice in choices
        ]
    levels = draw(
        st.sampled_from(
            [
                LEAST_ROLL,
                ((1, 0, 20, 0, 0, 0, 0), (0, 1, 0, 0, 0, 0, 1)),
                ((0, 0, 1, 0, 0, 0, 0), (1, 0, 0, 0, 0, 0, 0)),
            ]
        )
    )
    rack = draw(st.sampled_from([None, 0, len(levels) - 1]))
    return instance(choices, sources, lattice, levels, rack=rack, bench_cuts=draw(st.integers(0, 4)) == 0)


@settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(instances())
def test_a_solution_has_no_faults_and_keeps_its_bound(tried: Instance) -> None:
    result = solve(tried, seed=5, effort=1)
    if result.solution is None:
        assert result.value is None and result.unplaced
        return
    assert faults_of(tried, result.solution) == []
    assert result.value == value_of(tried, result.solution)
    assert result.bound_considered <= result.value.levels[0]
    assert result.proved == (result.bound_considered == result.value.levels[0])


def mixed() -> Instance:
    """An instance with options, a pattern, remnants and enough pieces to keep the search busy."""
    choices = []
    for number in range(6):
        options = []
        for cut in range(3):
            first, second = 60 + 7 * cut + number, 55 - 7 * cut + 3 * number
            length = 70 + 13 * number
            pieces = (
                rect(f"{number}a", first, length, group=number),
                rect(f"{number}b", second, length, group=number, offset=(first - 5, 0)),
            )
            options.append(Option(pieces=pieces, seams=1, seam_length=length))
        choices.append(Choice(id=f"{number}", options=tuple(options), lot_group=number))
    stock = [hand(f"h{k}", 90, 100 + 40 * k, loss=(0, 32)) for k in range(2)]
    return instance(choices, [*stock, order(100, 3000)], Lattice(along=32, across=5, drop=8), LEAST_ROLL)


def test_the_same_question_has_the_same_answer_in_any_process() -> None:
    script = (
        "from tests.engine.test_properties import mixed\n"
        "from nesting.search.engine import solve\n"
        "import sys\n"
        "sys.stdout.write(repr(solve(mixed(), seed=7, effort=1)))"
    )
    answers = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for hash_seed in ("0", "4711")
    }
    assert len(answers) == 1
    assert answers == {repr(solve(mixed(), seed=7, effort=1))}


def test_workers_change_nothing() -> None:
    with ProcessPoolExecutor(2) as executor:
        assert solve(mixed(), seed=7, effort=1, executor=executor) == solve(mixed(), seed=7, effort=1)


def test_a_run_can_be_stopped_and_goes_on_from_a_start() -> None:
    asked = iter(range(10**6))
    result = solve(mixed(), seed=7, effort=50, stop=lambda: next(asked) > 5)
    assert result.stop == "stopped"
    assert result.solution is not None and result.value is not None
    again = solve(mixed(), seed=7, effort=1, start=result.solution)
    assert again.value is not None and again.value.levels <= result.value.levels


def test_every_fault_is_seen() -> None:
    """The engine's own check fails when it should: one planted fault after another."""
    lattice = Lattice(along=4, across=3, drop=1)
    room = one_way("a", rect("a0", 4, 3, group=0), rect("a1", 4, 3, group=0, offset=(3, 0)), lot_group=0)
    plain = one_way("p", rect("p", 2, 2))
    tried = instance([room, plain], [order(8, 40), order(8, 40, "other", lot="other"), hand("h", 5, 5)], lattice)
    result = solve(tried, seed=1, effort=2)
    good = result.solution
    assert good is not None and faults_of(tried, good) == []

    def moved(choice: int, piece: int, **change: int) -> Solution:
        spots = [list(row) for row in good.spots]
        old = spots[choice][piece]
        new = {"piece": old.piece, "source": old.source, "x": old.x, "y": old.y, "turn": old.turn, **change}
        spots[choice][piece] = Spot(**new)
        return Solution(options=good.options, spots=tuple(map(tuple, spots)), anchored=good.anchored)

    a0, a1 = good.spots[0]
    for bad, word in (
        (moved(0, 1, y=a1.y + 1), "pattern"),
        (moved(0, 1, x=a1.x + 1), "pattern"),
        (moved(0, 1, x=a0.x, y=a0.y), "lies on"),
        (moved(0, 1, x=7), "over the side"),
        (moved(0, 1, y=38), "over the end"),
        (moved(0, 1, turn=2), "turn"),
        (moved(0, 1, source=1), "lots"),
    ):
        assert any(word in fault for fault in faults_of(tried, bad)), (word, faults_of(tried, bad))
