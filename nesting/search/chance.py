"""Compiled random numbers: the same on every machine."""

from __future__ import annotations

from nesting.search.arrays import Whole
from nesting.search.compiling import lean_inner
from nesting.search.state import M_RANDOM

_HIGH_52, _HIGH_37, _HIGH_31 = (1 << 52) - 1, (1 << 37) - 1, (1 << 31) - 1
"""Masks that make an arithmetic shift a logical one."""


@lean_inner
def below(state: Whole, count: int) -> int:
    """Return a random whole number in 0 … count − 1 (xorshift64*: Vigna, ACM Trans. Math. Software 42, 2016)."""
    x = state[0, M_RANDOM]
    x ^= (x >> 12) & _HIGH_52
    x ^= x << 25
    x ^= (x >> 27) & _HIGH_37
    state[0, M_RANDOM] = x
    drawn: int = ((x * 2685821657736338717) >> 33 & _HIGH_31) % count
    return drawn
