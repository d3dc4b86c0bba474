"""The one way in which functions of the search are compiled."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

_P = ParamSpec("_P")
_R = TypeVar("_R")


def compiled(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return `function` compiled at its first call, the machine code kept on disk where that can be written.

    Whole numbers wrap and nothing checks an index: callers hand in arrays that are large enough.
    """
    return cast(Callable[_P, _R], numba.njit(cache=True)(function))
