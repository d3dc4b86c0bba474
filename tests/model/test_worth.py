"""The value rule of goods in hand: a piece in two is never worth more, and the engine counts as the plan does."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.plan import CutSource, SourceKind
from nesting.domain.rules import OffcutRules, ValueRule
from nesting.domain.worth import begun_nm, least_length_nm, used_up_nm2, worth_nm2
from nesting.model.ground import used_up
from nesting.model.supplying import SourceBuilder
from tests.making import CM, MM, M, goods, job, rectangle, remnant, room

lengths = st.integers(1, 12_000).map(lambda mm: mm * MM)
rules = st.builds(
    OffcutRules,
    sizes_nm=st.lists(st.tuples(lengths, lengths), min_size=1, max_size=3).map(tuple),
    value=st.sampled_from(ValueRule),
    small_nm2=st.integers(0, 30).map(lambda area: area * M * M + 7),
)


@given(rules, lengths, lengths, st.integers(1, 99))
def test_cutting_a_piece_in_two_never_raises_the_sum(rule: OffcutRules, width: int, length: int, share: int) -> None:
    across, along = width * share // 100, length * share // 100
    whole = worth_nm2(rule, width, length)
    assert worth_nm2(rule, across, length) + worth_nm2(rule, width - across, length) <= whole
    assert worth_nm2(rule, width, along) + worth_nm2(rule, width, length - along) <= whole


@given(rules, lengths, lengths)
def test_the_value_is_that_of_the_formula(rule: OffcutRules, width: int, length: int) -> None:
    """Worth keeping: one size fits, either way round. Then a quarter up to the small area and all beyond it."""
    fits = any((width >= a and length >= b) or (width >= b and length >= a) for a, b in rule.sizes_nm)
    area = width * length
    by_size = Fraction(min(area, rule.small_nm2), 4) + max(0, area - rule.small_nm2)
    expected = {ValueRule.NONE: Fraction(0), ValueRule.BY_AREA: Fraction(area), ValueRule.BY_SIZE: by_size}[rule.value]
    assert worth_nm2(rule, width, length) == (int(expected) if fits else 0)
    assert worth_nm2(rule, width, length) == worth_nm2(rule, length, width)


def test_a_narrow_piece_is_worth_nothing_at_any_length() -> None:
    assert least_length_nm(OffcutRules(), 299 * MM) is None
    assert least_length_nm(OffcutRules(), 300 * MM) == 2 * M
    assert least_length_nm(OffcutRules(), 600 * MM) == 600 * MM
    assert least_length_nm(OffcutRules(), 2 * M) == 300 * MM


@given(st.sampled_from(ValueRule), st.integers(20, 400), st.integers(20, 900), st.integers(1, 900), st.integers(0, 300))
def test_the_engine_values_as_the_plan_does(rule: ValueRule, width: int, length: int, far: int, gone: int) -> None:
    """In units that go into all sizes: what the engine counts, quarters of a square unit, is what the plan measures."""
    far, gone = min(far, length), min(gone, length)
    piece = remnant("A", width * CM, length * CM, gone=(Rect(0, 0, width * CM, gone * CM),) if gone else ())
    a_job = job([room(rectangle(M, M))], goods(4 * M, cutting_step_nm=1 * CM), stock=(piece,))
    a_job = job(a_job.rooms, a_job.materials[0], stock=(piece,), offcuts=OffcutRules(value=rule))
    sources, _ = SourceBuilder(a_job, a_job.materials[0], Fraction(CM)).sources([], one_lot=True)
    used = CutSource(
        id="A",
        kind=SourceKind.REMNANT,
        width_nm=piece.width_nm,
        length_nm=piece.length_nm,
        lot="A",
        used_nm=far * CM,
        gone=piece.gone,
        stock_id="A",
    )
    lost = used_up_nm2(a_job.offcuts, used, begun_nm([], piece.gone))
    assert used_up(sources[0], far) * CM * CM == 4 * lost
