"""Damage of any kind never raises: the checker answers with violations, or finds that nothing that counts was hit."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from enum import Enum
from fractions import Fraction
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.checker import check_plan
from nesting.domain.geometry import Rect
from nesting.domain.plan import Plan, Violation
from tests.checker.plans import PLANS

GOOD = {name: build() for name, build in PLANS.items()}
NUMBERS = (0, 1, -1, 2, 7, -(10**9), 10**9, 10**30, -(10**30))


def _spots(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the paths to everything inside a value, tuples and their members too."""
    found = [path] if path else []
    if is_dataclass(value):
        for field in fields(value):
            found += _spots(getattr(value, field.name), (*path, field.name))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            found += _spots(item, (*path, index))
    return found


def _at(value: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        value = getattr(value, step) if isinstance(step, str) else value[step]
    return value


def _put(value: Any, path: tuple[Any, ...], new: Any) -> Any:
    if not path:
        return new
    step, rest = path[0], path[1:]
    if isinstance(step, str):
        return replace(value, **{step: _put(getattr(value, step), rest, new)})
    items = [*value]
    items[step] = _put(items[step], rest, new)
    return type(value)(*items) if isinstance(value, Rect) else tuple(items)


def _damaged(draw: st.DrawFn, value: Any) -> Any:
    """Return another value of the kind that a plan file may hold at the same place."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, Enum):
        return draw(st.sampled_from(list(type(value))))
    if isinstance(value, int):
        return draw(st.sampled_from(NUMBERS) | st.integers(value - 3, value + 3))
    if isinstance(value, Fraction):
        return draw(st.sampled_from((Fraction(0), Fraction(-7, 3), Fraction(10**12, 7))))
    if isinstance(value, str):
        return draw(st.sampled_from(("", "hall", "nobody", value + "x")))
    if isinstance(value, Rect):
        return Rect(*draw(st.tuples(*[st.sampled_from(NUMBERS)] * 4)))
    if isinstance(value, tuple) and value and not all(isinstance(item, int) for item in value):
        keep = draw(st.integers(0, len(value)))
        return draw(st.sampled_from(((), value[:keep], value[keep:], value + value, value[::-1])))
    if isinstance(value, tuple) and value:
        return value[::-1]
    return value


@st.composite
def mad_plans(draw: st.DrawFn) -> Plan:
    plan = GOOD[draw(st.sampled_from(sorted(GOOD)))]
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(_spots(plan)))
        plan = _put(plan, path, _damaged(draw, _at(plan, path)))
    return plan


@settings(max_examples=400, suppress_health_check=list(HealthCheck), deadline=2_000)
@given(mad_plans())
def test_no_damage_raises(plan: Plan) -> None:
    found = check_plan(plan)
    assert all(isinstance(item, Violation) for item in found)
    assert list(found) == sorted(found, key=lambda item: (item.rule, item.where, item.text))
