"""The ways in which functions of the search are compiled.

Whole numbers wrap, divisors are not 0 and nothing checks an index: callers see to that. The machine code is kept on
disk where that can be written, and holds as long as neither the function's module nor what went into it has changed.
"""

from __future__ import annotations

import inspect
import threading
from collections.abc import Callable
from hashlib import sha256
from typing import Any, ParamSpec, TypeVar, cast

import numba
from numba.core.options import DefaultOptions

from nesting.progress import Stop, never_stop
from nesting.search import arrays, state

_P = ParamSpec("_P")
_R = TypeVar("_R")

_TYPES = {
    "Whole": numba.int64[:, ::1],
    "Real": numba.float64[::1],
    "int": numba.int64,
    "float": numba.float64,
    "bool": numba.boolean,
}
"""What an annotation of a compiled function stands for."""


def compiled(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return `function` as one that `make_ready` compiles."""
    return cast(Callable[_P, _R], _stamped(numba.njit(cache=True, error_model="numpy")(function)))


def inner(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return `function` as one that is compiled for calls from other compiled functions alone, which is quicker."""
    bare: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    made = numba.njit(cache=True, error_model="numpy", **bare)(function)
    return cast(Callable[_P, _R], _stamped(made))


_LEAN: dict[str, Any] = {"_nrt": False} if hasattr(DefaultOptions, "_nrt") else {}
"""Leaves out the counting of references to arrays, a third of the time of short functions."""


def lean(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return `function` like `compiled`; it makes no array and keeps none."""
    return cast(Callable[_P, _R], _stamped(numba.njit(cache=True, error_model="numpy", **_LEAN)(function)))


def lean_inner(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Return `function` like `inner`; it makes no array and keeps none."""
    bare: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True, **_LEAN}
    return cast(Callable[_P, _R], _stamped(numba.njit(cache=True, error_model="numpy", **bare)(function)))


_one_at_a_time = threading.RLock()
"""Threads that search side by side wait for one another instead of compiling the same twice."""


def make_ready(function: Callable[..., object], stop: Stop = never_stop) -> bool:
    """Compile a function and all those that it calls, each once, for the types that it is annotated with.

    Left to itself numba compiles a function again for every constant that is handed to it. `stop` is asked from one
    function to the next; False: it was stopped, and the function must not be called.
    """
    made: Any = function
    with _one_at_a_time:
        if made.signatures:
            return True
        if not all(make_ready(called, stop) for called in _called(made)) or stop():
            return False
        names = inspect.get_annotations(made.py_func)
        made.compile(tuple(_TYPES[kind] for name, kind in names.items() if name != "return"))
        made.disable_compile()
    return True


def _called(made: Any) -> list[Any]:
    """Return the compiled functions that a compiled function names."""
    code = made.py_func
    named = (code.__globals__.get(name) for name in sorted(code.__code__.co_names))
    return [value for value in named if hasattr(value, "stamp")]


def _stamped(made: Any) -> Any:
    """Let what is kept on disk also depend on the functions and constants of other modules that are compiled in.

    numba looks at the time of the function's own file only, so that a change elsewhere would leave old code in use.
    """
    parts = [inspect.getsource(module) for module in (arrays, state, inspect.getmodule(made.py_func)) if module]
    parts += [called.stamp for called in _called(made)]
    made.stamp = sha256("\0".join(parts).encode()).hexdigest()
    kept = getattr(getattr(made, "_cache", None), "_cache_file", None)
    if kept is not None:
        kept._source_stamp = made.stamp
    return made
